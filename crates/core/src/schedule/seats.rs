//! Which seats see a reveal in time. A release that lands as its fabric passes the sightline lands for each seat when the edge passes
//! that seat's own line to whoever stands behind.

use super::Row;
use super::certainty::certainty_moved;
use crate::reveal::fall_time;
use crate::room::sight::{Reveal, SeatReveal, ends};
use crate::show::{Action, Cue, Instant, Show};
use crate::stage::Stage;
use crate::time::{SongSpan, SongTime};

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
    /// Seats from which another fabric, which does not fall in this service, still hides some of them.
    pub covered: usize,
    /// When the first and when the last seat sees them, after let-go. `None` if no seat ever does.
    pub sees: Option<(SongSpan, SongSpan)>,
}

impl SeatsInTime {
    /// In words, such as "in time in 212 of 240 seats: first seats see them 0.62 s after let-go, last at 0.81 s".
    pub fn words(&self) -> String {
        let all = if self.seats == 1 { "seat" } else { "seats" };
        let see = match self.sees {
            None => "nobody sees all of them".to_owned(),
            Some((first, last)) if first == last => format!("they see them {:.2} s after let-go", first.secs_f64()),
            Some((first, last)) => {
                format!("first seats see them {:.2} s after let-go, last at {:.2} s", first.secs_f64(), last.secs_f64())
            }
        };
        let unseen = match self.unseen {
            0 => String::new(),
            1 => "; one seat more does not see them for heads or things in the way".to_owned(),
            n => format!("; {n} seats more do not see them for heads or things in the way"),
        };
        let covered = match self.covered {
            0 => String::new(),
            1 => "; in one another fabric, which stays, still hides somebody".to_owned(),
            n => format!("; in {n} another fabric, which stays, still hides somebody"),
        };
        format!("in time in {} of {} {all}, as expected: {see}{covered}{unseen}", self.in_time, self.seats)
    }
}

/// When a seat sees the last of those whom a fabric hides, in seconds from its let-go as expected: when its edge has passed the seat's own
/// line, and that of every other fabric that hides them. `None` if one of those does not fall.
fn sees_all(seat: &SeatReveal, show: &Show, stage: &Stage, let_go: SongTime) -> Option<f64> {
    let own = seat.all.as_ref()?.1.expected;
    seat.also.iter().try_fold(own, |latest, (key, fall)| {
        let other = stage.falls_of(show, key).next()?;
        Some(latest.max((other.let_go - let_go).secs_f64() + fall.expected))
    })
}

/// In how many seats a release is in time. `None` for a cue that does not land as a fabric passes the sightline, or if no seat sees anybody
/// come into view.
pub fn seats_in_time(show: &Show, stage: &Stage, cue: &Cue, row: &Row, reveal: &Reveal) -> Option<SeatsInTime> {
    let Action::Release { release, lands: Instant::Sightline } = &cue.does else { return None };
    let hang = show.hang(&show.release(release)?.hang).filter(|hang| hang.key == reveal.hang)?;
    let planned = fall_time(hang, Instant::Sightline).expected;
    let (early, late) = (show.settings.early.secs_f64(), show.settings.late.secs_f64());
    let waits = row.waits.secs_f64();
    let let_go = row.land - row.lead.action;
    let hidden: Vec<&SeatReveal> = reveal.seats.iter().filter(|seat| seat.all.is_some()).collect();
    if hidden.is_empty() {
        return None;
    }
    let sees: Vec<f64> = hidden.iter().filter_map(|seat| sees_all(seat, show, stage, let_go)).collect();
    let moved: Vec<f64> = sees.iter().map(|seen| seen - planned).collect();
    // A seat that never sees them all is not in time, whatever the timing.
    let chances: f64 = moved.iter().map(|moved| certainty_moved(show, cue, row, *moved).chance).sum();
    Some(SeatsInTime {
        seats: hidden.len(),
        in_time: moved.iter().filter(|moved| (-early..=late).contains(&(**moved + waits))).count(),
        unseen: reveal
            .seats
            .iter()
            .filter(|seat| seat.all.is_none() && seat.before.is_empty() && !seat.never.is_empty())
            .count(),
        covered: hidden.len() - sees.len(),
        chance: chances / hidden.len() as f64,
        sees: ends(sees.iter().copied())
            .map(|(first, last)| (SongSpan::from_secs_f64(first), SongSpan::from_secs_f64(last))),
    })
}
