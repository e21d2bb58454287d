//! The offer: bars found in a recording, which the user can try in different ways before the song uses them.

use super::known_bar::KnownBar;
use super::request::EarRequest;
use super::take_over::{moves, pin_tapped, take};
use crate::document::{Document, Waker};
use crate::jobs::{Job, JobContext};
use letfall_sound::bars::{BarsError, Choice, Found, GivenBar, Hearing, Taps, TempoRange};
use std::path::{Path, PathBuf};

/// Tempos that an offer may have, in beats a minute.
const COUNTED: std::ops::Range<f64> = 20.0..300.0;

/// A bar that is faster or slower than its neighbours by more than this factor is questioned. Tapping errors are smaller.
const ODD: f64 = 1.08;

type HeardBars = (Hearing, Result<Found, BarsError>);

type Listening = Job<Result<HeardBars, String>>;

/// What was found in a recording.
#[derive(Default)]
pub struct ByEar {
    hearing: Option<(PathBuf, Hearing)>,
    coming: Option<(String, PathBuf, Listening)>,
    /// The bars on offer, with their service and recording.
    tried: Option<(String, PathBuf, Found)>,
    /// What was on offer before the tempo was halved or doubled, so that going back is exact.
    before: Option<(EarRequest, Found)>,
    /// Beats in a bar for tapping.
    beats: u8,
    known: KnownBar,
    /// What the user should know before using the offer: cues that it moves, or a known bar that does not match.
    remarks: Vec<String>,
    /// Whether bars are to be looked for as soon as the guide that is being read is there.
    pub find_when_read: bool,
    /// Whether the offer is new and has not been on screen yet.
    fresh: bool,
    /// The service and recording that all of this belongs to.
    of: Option<(String, PathBuf)>,
}

fn hear(path: &Path, choice: &Choice, job: &JobContext<Result<HeardBars, String>>) -> Result<HeardBars, String> {
    let fail = |why: String| format!("{}: {why}", path.display());
    let mut decoder = letfall_files::guides::open(path).map_err(fail)?;
    let listened = Hearing::of(&mut decoder, |share| job.step(u8::from(share > 0.5), "listening"));
    let hearing = listened.map_err(|e| fail(e.to_string()))?;
    let found = hearing.find(choice, &mut || job.step(2, "finding the beats"));
    Ok((hearing, found))
}

impl ByEar {
    /// Called once a frame: takes over what the background job found.
    pub fn poll(&mut self, document: &mut Document) {
        // An offer, and a known bar, belong to one song and one recording.
        let now = guide(document);
        if now != self.of {
            (self.tried, self.before, self.known, self.of) = (None, None, KnownBar::default(), now);
        }
        let Some((service, path, job)) = &mut self.coming else { return };
        let Some(done) = job.poll() else { return };
        let (service, path) = (service.clone(), path.clone());
        self.coming = None;
        match done.and_then(|heard| heard) {
            Ok(_) if self.of.as_ref().is_none_or(|of| *of != (service.clone(), path.clone())) => {
                document
                    .say(format!("Bars were found for {service}, which is not on screen; look for them there again"));
            }
            Ok((hearing, found)) => {
                self.hearing = Some((path.clone(), hearing));
                self.before = None;
                let odd = found.as_ref().ok().zip(self.known.bar()).and_then(|(found, bar)| odd(found, &bar));
                self.took(document, service, path, found);
                self.remarks.extend(odd);
            }
            Err(why) => document.fail(why),
        }
    }

    /// The bar that the user knows, if one was given.
    pub fn known(&self) -> Option<GivenBar> {
        self.known.bar()
    }

    /// The bar at a given time as it is offered; `None` if no bars are on offer.
    pub fn offered(&self, at: f64) -> Option<GivenBar> {
        let found = self.found()?;
        let pair = found.confidence.windows(2).find(|w| (w[0].at..w[1].at).contains(&at))?;
        let (from, to) = (pair[0].at, pair[1].at);
        let beats = found.beats.iter().find(|b| b.number == 1 && (b.at - from).abs() < 0.1).map(|b| b.of);
        Some(GivenBar { from, to, beats })
    }

    /// What the user says about one bar.
    pub const fn known_bar(&self) -> &KnownBar {
        &self.known
    }

    /// The progress of listening, 0 to 1, and its current step; `None` if nothing is being listened to.
    pub fn listening(&self) -> Option<(f32, &'static str)> {
        self.coming.as_ref().map(|(_, _, job)| (job.share(), job.step()))
    }

    /// Beats in a bar for tapping.
    pub const fn beats(&self) -> u8 {
        if self.beats < 2 { 4 } else { self.beats }
    }

    /// What the user should know before using the offer.
    pub fn remarks(&self) -> &[String] {
        &self.remarks
    }

    /// Whether the offer has not been on screen yet.
    pub const fn is_fresh(&self) -> bool {
        self.fresh
    }

    /// The bars on offer.
    pub fn found(&self) -> Option<&Found> {
        self.tried.as_ref().map(|t| &t.2)
    }

    fn took(&mut self, document: &mut Document, service: String, path: PathBuf, found: Result<Found, BarsError>) {
        match found {
            Ok(found) if !COUNTED.contains(&found.tempo()) => {
                document.fail(format!("{:.0} beats a minute are more or fewer than anybody counts", found.tempo()));
            }
            Ok(found) => {
                let has = document.current().map_or(0, |s| s.song.bars);
                let words = if has == found.bars { String::new() } else { format!(", the song has {has}") };
                document.say(format!("Found {} bars{words}; nothing is changed until you use them", found.bars));
                self.remarks = moves(document, &found).into_iter().collect();
                self.fresh = true;
                self.tried = Some((service, path, found));
            }
            Err(why) => document.fail(why.to_string()),
        }
    }

    /// Carries out what the user asked for.
    pub fn request(&mut self, action: EarRequest, document: &mut Document, taps: &mut Taps, wake: Waker) {
        let now = guide(document);
        let hearing = self.hearing.as_ref().filter(|(of, _)| now.as_ref().is_some_and(|n| n.1 == *of)).map(|h| &h.1);
        match action {
            EarRequest::Find | EarRequest::Recount(..) => {
                let Some((service, path)) = now else {
                    return document.fail("choose the song's guide recording first");
                };
                let choice = match (action, self.found()) {
                    (EarRequest::Recount(beats, others), Some(found)) => {
                        let bpm = found.tempo() * f64::from(beats) / f64::from(others);
                        match TempoRange::near(bpm) {
                            Ok(tempo) => Choice { tempo: Some(tempo), ..Choice::default() },
                            Err(why) => return document.fail(why.to_string()),
                        }
                    }
                    _ => Choice { given_bar: self.known.bar(), ..Choice::default() },
                };
                let own = path.clone();
                match Job::start("Finding the bars", 3, wake, move |job| hear(&own, &choice, job)) {
                    Ok(job) => self.coming = Some((service, path, job)),
                    Err(why) => document.fail(why),
                }
            }
            EarRequest::Half
            | EarRequest::Double
            | EarRequest::HalfBeat
            | EarRequest::Shift(_)
            | EarRequest::Bars(_) => {
                let (Some((service, path, found)), Some(hearing)) = (self.tried.clone(), hearing) else { return };
                let back = if action == EarRequest::Half { EarRequest::Double } else { EarRequest::Half };
                let tried = match (action, self.before.take()) {
                    (EarRequest::Half | EarRequest::Double, Some((done, was))) if done == back => Ok(was),
                    (EarRequest::Half, _) => found.halved(hearing),
                    (EarRequest::Double, _) => found.doubled(hearing),
                    (EarRequest::HalfBeat, _) => found.half_a_beat_later(hearing),
                    (EarRequest::Shift(by), _) => found.shifted(by),
                    (EarRequest::Bars(beats), _) => found.in_bars_of(beats, hearing),
                    _ => return,
                };
                if matches!(action, EarRequest::Half | EarRequest::Double) {
                    self.before = Some((action, found));
                }
                self.took(document, service, path, tried);
            }
            EarRequest::Use => {
                if let Some((_, _, found)) = self.tried.clone()
                    && take(document, "Take the bars found in the recording", found.plan, found.bars)
                {
                    self.tried = None;
                }
            }
            EarRequest::Leave => self.tried = None,
            EarRequest::UseTaps | EarRequest::PinTaps => match taps.plan(self.beats(), false, hearing) {
                Ok((plan, bars)) => {
                    let done = if action == EarRequest::UseTaps {
                        take(document, "Take the bars that were tapped", plan, bars)
                    } else {
                        pin_tapped(document, &plan, bars)
                    };
                    if done {
                        *taps = Taps::default();
                    }
                }
                Err(why) => document.fail(why.to_string()),
            },
            EarRequest::StopListening => self.coming = None,
            EarRequest::Shown => self.fresh = false,
            EarRequest::Known(known) => self.known = known,
            EarRequest::TappedBeats(beats) => self.beats = beats,
            // Handled by the editor, which has access to the ports.
            EarRequest::Pads => {}
            EarRequest::ForgetTaps => *taps = Taps::default(),
        }
    }
}

/// The service on screen and its guide recording.
fn guide(document: &Document) -> Option<(String, PathBuf)> {
    Some((document.current()?.name.clone(), document.guide_path()?))
}

/// A remark if the bar that the user gave goes much faster or slower than the music beside it.
fn odd(found: &Found, bar: &GivenBar) -> Option<String> {
    let length = bar.to - bar.from;
    let said = 60.0 * f64::from(bar.beats?) / length;
    let near =
        |at: &f64| (bar.from - 2.0 * length < *at && *at <= bar.from) || (bar.to <= *at && *at < bar.to + 2.0 * length);
    let beside: Vec<f64> = found.beats.iter().map(|b| b.at).filter(near).collect();
    let inside = |gap: &f64| *gap < 0.9 * length;
    let mut gaps: Vec<f64> = beside.windows(2).map(|w| w[1] - w[0]).filter(inside).collect();
    gaps.sort_by(f64::total_cmp);
    let heard = 60.0 / gaps.get(gaps.len() / 2)?;
    ((said / heard).max(heard / said) > ODD).then(|| {
        format!("The bar you gave goes at {said:.0} a minute, the music beside it at {heard:.0}: is it right?")
    })
}
