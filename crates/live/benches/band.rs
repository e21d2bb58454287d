//! How late lands are that follow a live band by taps, beside the plain way of the last two taps. Reach: median 15 ms, 95 of 100 within 45.

#![allow(clippy::unwrap_used, missing_docs)]

#[path = "../tests/made_up/players.rs"]
mod players;

use letfall_live::Band;
use players::{Follows, LastTwo, Predicts, Random, grid, lateness, percentile};

fn main() {
    let (grid, end) = grid();
    println!("{:<16}{:>8}{:>8}{:>8}{:>8}   of ms", "", "median", "90 %", "95 %", "99 %");
    for follows in [true, false] {
        let mut all = Vec::new();
        for seed in 0..40 {
            let mut with: Box<dyn Predicts> =
                if follows { Box::new(Follows(Band::new(&grid, 1, end))) } else { Box::new(LastTwo::new()) };
            all.extend(lateness(&mut Random(seed), &mut *with));
        }
        let [half, ninety, more, most] = [0.5, 0.9, 0.95, 0.99].map(|share| percentile(&all, share));
        let who = if follows { "followed" } else { "last two taps" };
        println!("{who:<16}{half:>8.1}{ninety:>8.1}{more:>8.1}{most:>8.1}");
    }
}
