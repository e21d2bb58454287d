//! A show to begin next year's from: the room, the rig, the song and the cues, without names, dates and signatures.

use crate::show::room::{Known, Room};
use crate::show::{FlameCertificate, SafetySheet, Show, ShowStop, Week};

/// What a drop of an earlier year says after the year.
const AGAIN: &str = ", time again";

/// A copy for another year. What people signed, confirmed or settled by name is empty again, dates are gone, and every measured drop says
/// the year in which it was timed and that it is to be timed again. Figures of the room stay, and say that nobody stands for them.
pub fn for_next_year(show: &Show, year: u16) -> Show {
    let mut next = show.clone();
    next.version.clear();
    next.hand_outs.clear();
    next.papers.clear();
    next.notes.retain(|note| note.closed.trim().is_empty());
    next.safety = SafetySheet {
        abort_words: show.safety.abort_words.clone(),
        stay_words: show.safety.stay_words.clone(),
        ..SafetySheet::default()
    };
    for member in &mut next.crew {
        member.name.clear();
        member.under_18 = false;
    }
    for service in &mut next.services {
        service.date.clear();
    }
    for call in &mut next.week.calls {
        call.date.clear();
        call.note.clear();
    }
    // Who drives the lift, who connects power, when the house is open: all of that is this year's.
    next.week = Week { calls: next.week.calls, ..Week::default() };
    next.offers.clear();
    next.stop =
        ShowStop { routes: show.stop.routes.clone(), assembly: show.stop.assembly.clone(), ..ShowStop::default() };
    for port in &mut next.ports {
        port.sync_confirmed_by.clear();
    }
    for receiver in &mut next.receivers {
        receiver.channel_confirmed_by.clear();
    }
    for hang in &mut next.hangs {
        hang.certificate = FlameCertificate::default();
        hang.pile.clear();
        for drop in &mut hang.measured {
            // What the note said of when and by whom is this year's; a drop that was not timed again keeps the year of its timing.
            if !drop.note.ends_with(AGAIN) {
                drop.note = format!("{year}{AGAIN}");
            }
        }
    }
    if let Some(room) = &mut next.room {
        forget(room);
    }
    next
}

fn forget(room: &mut Room) {
    room.survey.clear();
    room.known = Known::default();
    room.stage.known = Known::default();
    for bar in &mut room.bars {
        bar.known = Known::default();
    }
    for point in &mut room.points {
        // A limit holds only as stated by somebody on a day.
        point.limit.clear();
        point.known = Known::default();
    }
    for thing in &mut room.obstacles {
        thing.keep_m = None;
        thing.known = Known::default();
    }
    for projector in &mut room.projectors {
        projector.known = Known::default();
    }
    for place in &mut room.fabrics {
        place.clearance_m = None;
    }
}
