//! Which of the delays behind a lead were measured, which were only stated, and which nobody has said anything about.
//!
//! For the last, Letfall assumes a range from common practice. It is shown as an assumption, makes the stated range wider, and moves
//! no send: only what a person has entered does.

use crate::reveal::fall_time;
use crate::show::{Action, Instant, Kind, Latency, Output, Receiver, Release, Show, UnitKind};
use crate::time::SongSpan;

/// How a delay is known.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Known {
    /// Measured here this many times.
    Measured(u32),
    /// Stated by somebody, such as the maker.
    Stated,
    /// Worked out by a model, which says how far it may be off.
    Modelled,
    /// Nobody has said anything: assumed to lie between these.
    Assumed(SongSpan, SongSpan),
}

/// One delay behind a lead.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct LeadTerm {
    /// Its name.
    pub name: &'static str,
    /// How it is known.
    pub known: Known,
    /// What to do to know it, if it was assumed.
    pub remedy: &'static str,
}

const fn millis(low: i64, high: i64) -> Known {
    Known::Assumed(SongSpan::from_millis(low), SongSpan::from_millis(high))
}

/// A display that has to lock on to another picture: 0.5 to 5 s. Common practice, no source.
const RESYNC: Known = millis(500, 5000);
/// Lamps of which nobody has said whether they glow up: from none at all to a large incandescent lamp's 300 ms. Common practice, no
/// source.
const WARM_UP: Known = millis(0, 300);
/// A player begins with its next frame: up to 40 ms at 25 frames a second (derived).
const FRAME: Known = millis(0, 40);
/// A relay or contactor. Common practice, no source.
const CONTACT: Known = millis(5, 20);
/// The rise of the current in a coil. Common practice, no source.
const COIL: Known = millis(5, 50);

/// How long a unit takes to let go once the current is there, or gone. Common practice, no source.
const fn unit(kind: UnitKind) -> Known {
    match kind {
        UnitKind::Unknown => millis(10, 200),
        UnitKind::Latch => millis(10, 100),
        // A magnet lets go late if a diode keeps its current going round (check-values 8.2).
        UnitKind::Magnet => millis(20, 200),
    }
}

const fn of_latency(latency: Latency) -> Known {
    match latency.measured {
        0 => Known::Stated,
        times => Known::Measured(times),
    }
}

/// Whether nobody has said anything about a delay. Every device and contact takes some time, so 0 is no answer unless it was measured.
pub fn is_unsaid(latency: Latency) -> bool {
    latency.mean == SongSpan::ZERO && latency.measured == 0
}

/// How long a device that acts on cues of this kind may take, of which nobody has said anything: at least, usually and at most. Common
/// practice, no source.
pub const fn usual_latency(kind: Kind) -> [SongSpan; 3] {
    let [least, usual, most] = match kind {
        Kind::Lighting => [10, 30, 80],
        Kind::Media => [30, 80, 200],
        Kind::Output => [20, 60, 150],
        Kind::Release => [2, 10, 30],
    };
    [SongSpan::from_millis(least), SongSpan::from_millis(usual), SongSpan::from_millis(most)]
}

/// A receiver's own delay, for cues of this kind.
pub(super) fn receiver_term(receiver: &Receiver, kind: Kind) -> LeadTerm {
    let [least, _, most] = usual_latency(kind);
    let (known, remedy) = if is_unsaid(receiver.latency) {
        (Known::Assumed(least, most), "measure its latency from message to what is seen, ten times, and enter it")
    } else {
        (of_latency(receiver.latency), "")
    };
    LeadTerm { name: "receiver", known, remedy }
}

/// The delay behind a picture or film, besides its receiver's. What was measured at the picture holds its frames too.
pub(super) fn media_term(receiver: &Receiver) -> Option<LeadTerm> {
    let remedy = "measure the media receiver's latency at the picture";
    (receiver.latency.measured == 0).then_some(LeadTerm { name: "frame of the player", known: FRAME, remedy })
}

/// The delay behind a lighting cue, besides its receiver's.
pub(super) fn lighting_term(receiver: &Receiver) -> LeadTerm {
    let known = receiver.warm_up.map_or(WARM_UP, |_| Known::Stated);
    let remedy = "try the lamps and enter their warm-up at the receiver, 0 if there is none";
    LeadTerm { name: "warm-up of the lamps", known, remedy }
}

/// The delay behind a change of an output, besides its receiver's.
pub(super) fn output_term(output: Option<&Output>) -> LeadTerm {
    let known = output.and_then(|o| o.resync).map_or(RESYNC, |_| Known::Stated);
    let remedy = "try a change of route and enter how long the display takes, 0 if there is no gap";
    LeadTerm { name: "display after a change of route", known, remedy }
}

/// The delays from a release's message to the let-go, besides its receiver's. A contact's delay, if it is known, counts from the
/// contact to the let-go, coil and unit included.
pub(super) fn release_terms(release: &Release) -> [LeadTerm; 3] {
    let remedy = "time contact to let-go ten times with the units loaded, and enter it at the release";
    let said = |assumed| if is_unsaid(release.contact) { assumed } else { of_latency(release.contact) };
    let term = |name, assumed| LeadTerm { name, known: said(assumed), remedy };
    [term("contact", CONTACT), term("rise of the coil's current", COIL), term("holding unit", unit(release.unit_kind))]
}

/// How much later than planned something may come, by what was assumed: at least and at most.
pub(super) fn assumed(terms: impl IntoIterator<Item = LeadTerm>) -> (SongSpan, SongSpan) {
    terms.into_iter().fold((SongSpan::ZERO, SongSpan::ZERO), |(low, high), term| match term.known {
        Known::Assumed(least, most) => (low + least, high + most),
        _ => (low, high),
    })
}

/// The delays behind a cue's lead.
pub fn lead_terms(show: &Show, does: &Action) -> Vec<LeadTerm> {
    let receiver = |key| show.receiver(key);
    let (receiver, more) = match does {
        Action::Media { item } => {
            let receiver = show.media_item(item).and_then(|m| receiver(&m.receiver));
            (receiver, receiver.and_then(media_term).into_iter().collect())
        }
        Action::Lighting { preset, .. } => {
            let receiver = show.preset(preset).and_then(|p| receiver(&p.receiver));
            (receiver, receiver.map(lighting_term).into_iter().collect())
        }
        Action::Output { route } => {
            let route = show.route(route);
            let output = route.and_then(|r| show.output(&r.output));
            (route.and_then(|r| receiver(&r.receiver)), vec![output_term(output)])
        }
        Action::Release { release, lands } => {
            let release = show.release(release);
            let mut more: Vec<LeadTerm> = release.map_or_else(Vec::new, |r| release_terms(r).to_vec());
            let hang = release.and_then(|r| show.hang(&r.hang)).filter(|_| *lands != Instant::LetGo);
            more.extend(hang.map(|hang| {
                let fall = fall_time(hang, *lands);
                let times = u32::try_from(fall.drops).unwrap_or(u32::MAX);
                let known = if fall.timed_to == Some(*lands) { Known::Measured(times) } else { Known::Modelled };
                LeadTerm { name: "fall", known, remedy: "time three or more drops of the real fabric and enter them" }
            }));
            (release.and_then(|r| receiver(&r.receiver)), more)
        }
    };
    receiver.map(|receiver| receiver_term(receiver, does.kind())).into_iter().chain(more).collect()
}

/// The assumptions behind a cue's range, as a sentence: "2 of 5 delays measured; assumed: ...". Empty if nothing was assumed.
pub fn assumption_words(terms: &[LeadTerm]) -> String {
    let assumed: Vec<String> = terms
        .iter()
        .filter_map(|term| match term.known {
            Known::Assumed(least, most) => {
                let ms = |span: SongSpan| span.micros() / 1000;
                Some(format!("{} {} to {} ms", term.name, ms(least), ms(most)))
            }
            _ => None,
        })
        .collect();
    if assumed.is_empty() {
        return String::new();
    }
    let measured = terms.iter().filter(|term| matches!(term.known, Known::Measured(_))).count();
    format!("{measured} of {} delays measured; assumed: {}", terms.len(), assumed.join(", "))
}
