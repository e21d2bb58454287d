//! Which seats see a reveal in time. A release that lands as its fabric passes the sightline lands for each seat when the edge passes
//! that seat's own line to whoever stands behind.

use super::Row;
use super::certainty::certainty_moved;
use crate::reveal::fall_time;
use crate::room::sight::{Reveal, SeatReveal};
use crate::show::{Action, Cue, Instant, Show};
use crate::time::SongSpan;

/// In how many seats a release is expected in time.
#[derive(Debug, Clone, PartialEq)]
pub struct SeatsInTime {
    /// Seats that see somebody come into view as the fabric falls.
    pub seats: usize,
    /// Those of them in which the last of the people behind comes into view within the show's tolerance, as expected.
    pub in_time: usize,
    /// The chance, 0 to 1, that this is so for a seat taken at random, as far as timing goes.
    pub chance: f64,
    /// Seats that never see any of them: heads or things are in the way.
    pub unseen: usize,
    /// When the first and when the last seat sees them, after let-go.
    pub sees: (SongSpan, SongSpan),
}

impl SeatsInTime {
    /// In words, such as "in time in 212 of 240 seats: first seats see them 0.62 s after let-go, last at 0.81 s".
    pub fn words(&self) -> String {
        let (first, last) = self.sees;
        let all = if self.seats == 1 { "seat" } else { "seats" };
        let see = if first == last {
            format!("they see them {:.2} s after let-go", first.secs_f64())
        } else {
            format!("first seats see them {:.2} s after let-go, last at {:.2} s", first.secs_f64(), last.secs_f64())
        };
        let unseen = match self.unseen {
            0 => String::new(),
            1 => "; one seat more does not see them for heads or things in the way".to_owned(),
            n => format!("; {n} seats more do not see them for heads or things in the way"),
        };
        format!("in time in {} of {} {all}, as expected: {see}{unseen}", self.in_time, self.seats)
    }
}

/// In how many seats a release is in time. `None` for a cue that does not land as a fabric passes the sightline, or if no seat sees anybody
/// come into view.
pub fn seats_in_time(show: &Show, cue: &Cue, row: &Row, reveal: &Reveal) -> Option<SeatsInTime> {
    let Action::Release { release, lands: Instant::Sightline } = &cue.does else { return None };
    let hang = show.hang(&show.release(release)?.hang).filter(|hang| hang.key == reveal.hang)?;
    let planned = fall_time(hang, Instant::Sightline).expected;
    let (early, late) = (show.settings.early.secs_f64(), show.settings.late.secs_f64());
    let waits = row.waits.secs_f64();
    let sees: Vec<&SeatReveal> = reveal.seats.iter().filter(|seat| seat.all.is_some()).collect();
    let moved: Vec<f64> = sees.iter().filter_map(|seat| Some(seat.all?.1.expected - planned)).collect();
    let (first, last) = reveal.range()?;
    let chances: f64 = moved.iter().map(|moved| certainty_moved(show, cue, row, *moved).chance).sum();
    Some(SeatsInTime {
        seats: moved.len(),
        in_time: moved.iter().filter(|moved| (-early..=late).contains(&(**moved + waits))).count(),
        unseen: reveal
            .seats
            .iter()
            .filter(|seat| seat.all.is_none() && seat.before.is_empty() && !seat.never.is_empty())
            .count(),
        chance: chances / moved.len() as f64,
        sees: (SongSpan::from_secs_f64(first), SongSpan::from_secs_f64(last)),
    })
}
