//! A film against the plan: which cues should be seen where and when, when they were seen, and what follows for receivers and fabrics.

mod by_hand;
mod edit;
mod look;
mod sightings;
mod sums;

pub use by_hand::{Mark, Marks, stamps_of, with_marks};
pub use edit::{Taken, taken};
pub use look::{Look, LookError, known, look, planned_at, sent};
pub use sightings::sightings;
pub use sums::{Delays, DropSeen, ReceiverSeen, drops, receivers};

use crate::align::{LaidBy, Run};
use crate::picture::{Fall, Recorder, Regions, Unseen, change, fall};
use letfall_core::prepared::Prepared;
use letfall_core::reveal::speed_of_sound;
use letfall_core::show::{Action, Instant, Label};
use letfall_core::time::SongSpan;
use serde::Serialize;
use std::collections::BTreeMap;

/// What is known of how it was filmed.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Filming {
    /// From the loudspeaker to the camera, metres. `None`: it stood at the seat for which the show plans.
    pub distance_m: Option<f64>,
    /// How much later the film has a sound than the picture of what made it, seconds, without the way through the air.
    pub sound_late: f64,
    /// That lies within so much, either way, seconds.
    pub sound_late_within: f64,
    /// How long the camera takes from the first row of a frame to its last, seconds.
    pub rolling: f64,
}

impl Filming {
    /// The same by the clock of a film that plays `slow` times slower than it was filmed: its rows come so much further apart too.
    #[must_use]
    pub fn slowed(self, slow: f64) -> Filming {
        Filming { rolling: self.rolling * slow, ..self }
    }
}

impl Default for Filming {
    /// A telephone whose sound and picture lie within 40 ms of each other, at the planned seat (common practice, no source).
    fn default() -> Filming {
        Filming { distance_m: None, sound_late: 0.0, sound_late_within: 0.04, rolling: 0.0 }
    }
}

/// One cue in one run.
#[derive(Debug, Clone, PartialEq)]
pub struct CueSeen {
    /// Which run of the film, from 0.
    pub run: usize,
    /// The cue.
    pub label: Label,
    /// The region it was looked for in. `None` if a person marked it without one.
    pub region: Option<usize>,
    /// When it should be seen, seconds of the film's clock.
    pub planned: f64,
    /// What was seen.
    pub seen: Result<What, Unseen>,
}

/// How it was seen.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum SeenBy {
    /// It was found in the pictures.
    Looking,
    /// A person marked it.
    Hand,
}

/// What was seen of a cue.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
#[serde(rename_all = "kebab-case")]
pub struct What {
    /// When, seconds of the film's clock.
    pub at: f64,
    /// How much later than planned, seconds; negative: earlier. Without what its message was late, if the log of the run says that.
    pub late: f64,
    /// How late its message was sent, seconds, by the log of the run.
    pub sent_late: Option<f64>,
    /// By the picture alone it lies within this, either way, seconds. What the whole film may be off is not in it.
    pub within: f64,
    /// How surely it is this change, 0 to 1.
    pub trust: f64,
    /// The fall, if it is one.
    #[serde(skip)]
    pub fall: Option<Fall>,
    /// How many times slower the film plays than it was filmed.
    #[serde(skip)]
    pub slow: f64,
    /// Whether it was found or marked.
    pub by: SeenBy,
}

/// A film, measured.
#[derive(Debug, Clone, PartialEq)]
pub struct Report {
    /// Every cue that was looked for, by run and time.
    pub cues: Vec<CueSeen>,
    /// Cues that no region shows.
    pub nowhere: Vec<Label>,
    /// What the whole film may be off, seconds, as a standard uncertainty: its place in the song, sound against picture.
    pub common: f64,
    /// From one frame to the next, seconds.
    pub step: f64,
}

/// How late what a run was laid by comes to the camera, seconds: through the air, or by wire.
fn away(run: &Run, filming: &Filming, air_c: f64, seat: f64) -> f64 {
    match run.by {
        LaidBy::Timecode => 0.0,
        LaidBy::Sound | LaidBy::Hand => filming.distance_m.map_or(seat, |metres| metres / speed_of_sound(air_c)),
    }
}

/// The song's place, seconds, at which a camera sees what the film has at a time; `run` is by the sound's clock, which begins at `begins`
/// of the film's. At the planned seat, sound is heard `seat` seconds late, and so is a picture on purpose.
fn place(run: &Run, begins: f64, filming: &Filming, air_c: f64, seat: f64, film: f64) -> f64 {
    let away = away(run, filming, air_c, seat);
    run.song(film + filming.sound_late - begins) + away - seat
}

/// When in the film a place of the song is seen, both in seconds: the other way round.
fn film_time(run: &Run, begins: f64, filming: &Filming, air_c: f64, seat: f64, song: f64) -> f64 {
    let away = away(run, filming, air_c, seat);
    run.film(song - away + seat) - filming.sound_late + begins
}

/// How late each cue's message was sent, seconds, by the log of a run.
pub type SentLate = BTreeMap<Label, f64>;

/// A film and the plan that it is measured against.
#[derive(Debug, Clone, Copy)]
pub struct Filmed<'a> {
    /// The plan.
    pub plan: &'a Prepared,
    /// What is seen where.
    pub regions: &'a Regions,
    /// What is looked for.
    pub look: &'a Look,
    /// How it was filmed.
    pub filming: &'a Filming,
    /// What was sent late.
    pub sent: &'a SentLate,
}

/// Measures what was looked for.
pub fn measure(filmed: &Filmed<'_>, recorder: &Recorder) -> Report {
    let Filmed { plan, regions, look, filming, sent } = *filmed;
    let step = recorder.step().unwrap_or(0.04);
    let mut cues = Vec::new();
    for one in &look.cues {
        let region = &regions.regions[one.region];
        let mut wanted = one.wanted;
        wanted.step = step;
        let (from, to) = wanted.stretch();
        let run = &look.runs[one.run];
        let seat = one.seat;
        let sent_late = sent.get(&one.label).copied();
        let late = |at: f64| {
            let place = place(run, look.begins, filming, plan.show().settings.air_c, seat, at);
            place - one.lands - sent_late.unwrap_or(0.0)
        };
        let seen = match one.does {
            Seek::Change => change(recorder.stills(one.region, from, to), &wanted).map(|seen| {
                let at = seen.at + filming.slowed(run.slow).rolling * region.middle();
                What {
                    at,
                    late: late(at),
                    sent_late,
                    within: seen.within / run.slow,
                    trust: seen.trust,
                    fall: None,
                    slow: run.slow,
                    by: SeenBy::Looking,
                }
            }),
            Seek::Fall(instant) => fall(
                recorder.stills(one.region, from, to),
                one.planned,
                step,
                run.slow,
                filming.slowed(run.slow).rolling,
                region,
            )
            .and_then(|fall| {
                let at = match instant {
                    Instant::LetGo => fall.let_go,
                    Instant::Sightline => fall.sightline.ok_or(Unseen::NoSightline)?,
                    Instant::Floor => fall.floor,
                };
                Ok(What {
                    at,
                    late: late(at),
                    sent_late,
                    within: fall.within / run.slow,
                    trust: fall.trust,
                    fall: Some(fall),
                    slow: run.slow,
                    by: SeenBy::Looking,
                })
            }),
            Seek::Nothing(why) => Err(why),
        };
        cues.push(CueSeen { run: one.run, label: one.label, region: Some(one.region), planned: one.planned, seen });
    }
    Report { cues, ..Report::empty(look, filming, step) }
}

impl Report {
    /// A film of which nothing has been measured yet, with `step` seconds from one picture to the next.
    pub fn empty(look: &Look, filming: &Filming, step: f64) -> Report {
        // Anywhere within a range with equal chance (JCGM 100 F.2.3.3).
        let spread = filming.sound_late_within / 3.0f64.sqrt();
        let place = look.runs.iter().map(|run| run.standard).fold(0.0, f64::max);
        let common = libm::sqrt(spread * spread + place * place);
        Report { cues: Vec::new(), nowhere: look.nowhere.clone(), common, step }
    }
}

/// How a cue is looked for.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Seek {
    /// A light or a picture changes.
    Change,
    /// A fabric falls; which moment of it is the cue's land.
    Fall(Instant),
    /// Not at all.
    Nothing(Unseen),
}

/// The fade that a cue shows, seconds, and the share of it that is done at its land.
fn course(plan: &Prepared, does: &Action) -> (f64, f64) {
    let Action::Lighting { preset, fade, share } = does else { return (0.0, 0.0) };
    let own = plan.show().preset(preset).map_or(SongSpan::ZERO, |preset| preset.fade);
    let share = match share {
        letfall_core::show::FadeShare::Start => 0.0,
        letfall_core::show::FadeShare::Half => 0.5,
        letfall_core::show::FadeShare::Done => 1.0,
    };
    (fade.unwrap_or(own).micros() as f64 / 1e6, share)
}
