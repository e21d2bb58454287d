//! How late lands are that follow a live band by taps, beside the plain way of the last two taps. Reach: median 15 ms, 95 of 100
//! within 45. "And told where": with the bars marked that the band plays freely, though not by how much it stretches them.

#![allow(clippy::unwrap_used, missing_docs)]

#[path = "../tests/made_up/players.rs"]
mod players;

use players::{Follows, LastTwo, Predicts, Random, lateness, percentile};

fn main() {
    println!("{:<16}{:>8}{:>8}{:>8}{:>8}   of ms", "", "median", "90 %", "95 %", "99 %");
    for who in ["followed", "and told where", "last two taps"] {
        let mut all = Vec::new();
        for seed in 0..40 {
            let mut with: Box<dyn Predicts> = match who {
                "followed" => Box::new(Follows::new(false)),
                "and told where" => Box::new(Follows::new(true)),
                _ => Box::new(LastTwo::new()),
            };
            all.extend(lateness(&mut Random(seed), &mut *with));
        }
        let [half, ninety, more, most] = [0.5, 0.9, 0.95, 0.99].map(|share| percentile(&all, share));
        println!("{who:<16}{half:>8.1}{ninety:>8.1}{more:>8.1}{most:>8.1}");
    }
}
