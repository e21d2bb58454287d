//! Bars by ear: found in the guide recording, or tapped along to it; tried before they are taken.

use super::document::Document;
use super::known_bar::{KnownBar, Places};
use super::theme::bold;
use super::work::{Desk, Work};
use egui::{FontId, RichText, Ui};
use letfall_core::schedule::Schedule;
use letfall_core::show::{Kind, Label, Song};
use letfall_core::time::{GridPlan, Pin, SongTime};
use letfall_sound::bars::{BarsError, Choice, Found, GivenBar, Hearing, Taps, TempoRange};
use std::collections::HashMap;
use std::fmt::Write as _;
use std::path::{Path, PathBuf};
use std::sync::Arc;

/// What a person does with what was heard.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Deed {
    /// Look for bars.
    Find,
    /// Half the tempo.
    Half,
    /// Twice the tempo.
    Double,
    /// So many beats for as many others: three for two, two for three.
    Recount(u8, u8),
    /// Bar lines one beat earlier or later.
    Shift(i32),
    /// So many beats in a bar.
    Bars(u8),
    /// Take the bars that were found.
    Use,
    /// Forget them.
    Leave,
    /// Take the bars that were tapped.
    UseTaps,
    /// Pin the bars that were tapped; the others stay.
    PinTaps,
    /// Let pads or keys on a MIDI port tap too, or no longer.
    Pads,
    /// Forget the taps.
    ForgetTaps,
}

/// Tempos that an offer may have, in beats a minute.
const COUNTED: std::ops::Range<f64> = 20.0..300.0;

/// Microseconds by which a cue may move unseen.
const UNSEEN: i64 = 10_000;
/// By what factor a bar may be faster or slower than its neighbours before it is asked about: more than a bar is tapped astray.
const ODD: f64 = 1.08;

type Heard = (Hearing, Result<Found, BarsError>);

type Listening = Work<Result<Heard, String>>;

/// What was heard in a recording.
#[derive(Default)]
pub struct ByEar {
    hearing: Option<(PathBuf, Hearing)>,
    coming: Option<(String, PathBuf, Listening)>,
    /// Bars that are tried, and the service and recording that they are of.
    tried: Option<(String, PathBuf, Found)>,
    /// What was tried before the tempo was halved or doubled: the way back is exact.
    before: Option<(Deed, Found)>,
    /// Beats in a bar for what is tapped.
    pub beats: u8,
    known: KnownBar,
    /// What should be known before what is tried is used: cues that it moves, a known bar that does not go with it.
    remarks: Vec<String>,
    /// What is tried is new, and not yet on screen.
    fresh: bool,
    /// The service and recording that are heard and said of.
    of: Option<(String, PathBuf)>,
}

/// The song that bars are looked for in.
pub struct About {
    /// Seconds of its recording, where it has one.
    pub recording: Option<f64>,
    /// Seconds at the playhead.
    pub playhead: f64,
    /// The bar of its grid there.
    pub here: Option<GivenBar>,
}

fn hear(path: &Path, choice: &Choice, desk: &Desk<Result<Heard, String>>) -> Result<Heard, String> {
    let fail = |why: String| format!("{}: {why}", path.display());
    let mut decoder = crate::guides::open(path).map_err(fail)?;
    let listened = Hearing::of(&mut decoder, |share| desk.step(u8::from(share > 0.5), "listening"));
    let hearing = listened.map_err(|e| fail(e.to_string()))?;
    let found = hearing.find(choice, &mut || desk.step(2, "finding the beats"));
    Ok((hearing, found))
}

impl ByEar {
    /// Once a frame: takes over what was heard beside the screen.
    pub fn poll(&mut self, document: &mut Document) {
        // An offer is for one song and one recording, and so is a bar that is known.
        let now = guide(document);
        if now != self.of {
            (self.tried, self.before, self.known, self.of) = (None, None, KnownBar::default(), now);
        }
        let Some((service, path, work)) = &mut self.coming else { return };
        let Some(done) = work.poll() else { return };
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

    /// The bar that a person knows, where they say one.
    pub fn known(&self) -> Option<GivenBar> {
        self.known.bar()
    }

    /// The bar at a moment as it is offered, where bars are tried.
    fn offered(&self, at: f64) -> Option<GivenBar> {
        let found = self.found()?;
        let pair = found.confidence.windows(2).find(|w| (w[0].at..w[1].at).contains(&at))?;
        let (from, to) = (pair[0].at, pair[1].at);
        let beats = found.beats.iter().find(|b| b.number == 1 && (b.at - from).abs() < 0.1).map(|b| b.of);
        Some(GivenBar { from, to, beats })
    }

    /// Bars that are tried.
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

    /// Does what was asked.
    pub fn run(&mut self, deed: Deed, document: &mut Document, taps: &mut Taps, wake: Arc<dyn Fn() + Send + Sync>) {
        let now = guide(document);
        let hearing = self.hearing.as_ref().filter(|(of, _)| now.as_ref().is_some_and(|n| n.1 == *of)).map(|h| &h.1);
        match deed {
            Deed::Find | Deed::Recount(..) => {
                let Some((service, path)) = now else {
                    return document.fail("choose the song's guide recording first");
                };
                let choice = match (deed, self.found()) {
                    (Deed::Recount(beats, others), Some(found)) => {
                        let bpm = found.tempo() * f64::from(beats) / f64::from(others);
                        match TempoRange::near(bpm) {
                            Ok(tempo) => Choice { tempo: Some(tempo), ..Choice::default() },
                            Err(why) => return document.fail(why.to_string()),
                        }
                    }
                    _ => Choice { given_bar: self.known.bar(), ..Choice::default() },
                };
                let own = path.clone();
                match Work::start("Finding the bars", 3, wake, move |desk| hear(&own, &choice, desk)) {
                    Ok(work) => self.coming = Some((service, path, work)),
                    Err(why) => document.fail(why),
                }
            }
            Deed::Half | Deed::Double | Deed::Shift(_) | Deed::Bars(_) => {
                let (Some((service, path, found)), Some(hearing)) = (self.tried.clone(), hearing) else { return };
                let back = if deed == Deed::Half { Deed::Double } else { Deed::Half };
                let tried = match (deed, self.before.take()) {
                    (Deed::Half | Deed::Double, Some((done, was))) if done == back => Ok(was),
                    (Deed::Half, _) => found.halved(hearing),
                    (Deed::Double, _) => found.doubled(hearing),
                    (Deed::Shift(by), _) => found.shifted(by),
                    (Deed::Bars(beats), _) => found.in_bars_of(beats, hearing),
                    _ => return,
                };
                if matches!(deed, Deed::Half | Deed::Double) {
                    self.before = Some((deed, found));
                }
                self.took(document, service, path, tried);
            }
            Deed::Use => {
                if let Some((_, _, found)) = self.tried.clone()
                    && take(document, "Take the bars found in the recording", found.plan, found.bars)
                {
                    self.tried = None;
                }
            }
            Deed::Leave => self.tried = None,
            Deed::UseTaps | Deed::PinTaps => match taps.plan(self.beats.max(2), false, hearing) {
                Ok((plan, bars)) => {
                    let done = if deed == Deed::UseTaps {
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
            // Done where the ports are.
            Deed::Pads => {}
            Deed::ForgetTaps => *taps = Taps::default(),
        }
    }

    /// Shows what was heard and tapped; gives what is asked.
    pub fn show(&mut self, ui: &mut Ui, song: &About, (taps, mut pads): (&Taps, bool)) -> Option<Deed> {
        let mut deed = None;
        ui.add_space(8.0);
        ui.label(RichText::new("Bars by ear").font(FontId::new(15.5, bold())));
        if let Some((_, _, work)) = &self.coming {
            ui.horizontal(|ui| {
                ui.add(egui::ProgressBar::new(work.share()).desired_width(140.0));
                ui.label(work.step());
            });
            if ui.button("Stop listening").clicked() {
                self.coming = None;
            }
        } else if let Some(ends) = song.recording {
            let drawn = self.offered(song.playhead).or(song.here);
            let tapped = taps.bar(None).or_else(|| taps.bar(Some(self.beats)));
            let can = self.known.show(ui, &Places { playhead: song.playhead, drawn, tapped, ends });
            let words =
                if self.known().is_some() { "Find the others from this one" } else { "Find the bars in the recording" };
            if ui.add_enabled(can, egui::Button::new(words)).clicked() {
                deed = Some(Deed::Find);
            }
        } else {
            ui.label("Choose a recording, and its bars can be found in it.");
        }
        let fresh = std::mem::take(&mut self.fresh);
        if let Some(found) = self.found() {
            deed = tried(ui, found, &self.remarks, fresh).or(deed);
        }
        ui.add_space(4.0);
        ui.label("Or tap: play the song and press T on every beat, the first time on a downbeat.");
        if self.beats == 0 {
            self.beats = 4;
        }
        ui.horizontal(|ui| {
            let label = ui.label("Beats in a bar");
            let combo = egui::ComboBox::from_id_salt("tapped beats").width(56.0).selected_text(self.beats.to_string());
            let shown = combo.show_ui(ui, |ui| {
                for beats in 2..=7 {
                    ui.selectable_value(&mut self.beats, beats, beats.to_string());
                }
            });
            shown.response.labelled_by(label.id);
        });
        if ui.checkbox(&mut pads, "Pads or keys on a MIDI port tap too").clicked() {
            deed = Some(Deed::Pads);
        }
        if !taps.is_empty() {
            let about = taps.tempo().map_or_else(String::new, |bpm| format!(", about {bpm:.0} a minute"));
            ui.label(format!("{}{about}", many(taps.len(), "tap")));
            if ui.button("Pin the bars tapped, keep the others").clicked() {
                deed = Some(Deed::PinTaps);
            }
            ui.horizontal(|ui| {
                if ui.button("Use them for the whole song").clicked() {
                    deed = Some(Deed::UseTaps);
                }
                if ui.button("Forget them").clicked() {
                    deed = Some(Deed::ForgetTaps);
                }
            });
        }
        deed
    }
}

/// So many of something, in words.
fn many(n: usize, what: &str) -> String {
    format!("{n} {what}{}", if n == 1 { "" } else { "s" })
}

/// What was found, and what can be done with it.
fn tried(ui: &mut Ui, found: &Found, remarks: &[String], fresh: bool) -> Option<Deed> {
    let mut deed = None;
    let metres: Vec<String> = found.plan.metres.iter().map(|m| m.metre.to_string()).collect();
    let beat = if found.compound { "dotted quarters" } else { "beats" };
    let head = ui.label(format!(
        "Found {} in {}, {:.1} {beat} a minute: {}, {}.",
        many(found.bars as usize, "bar"),
        metres.join(", "),
        found.tempo(),
        many(found.plan.tempos.len(), "tempo mark"),
        many(found.plan.pins.len(), "pin")
    ));
    if fresh {
        // All of it is brought into view, down to the last button.
        let below = egui::vec2(head.rect.width(), 260.0);
        ui.scroll_to_rect(egui::Rect::from_min_size(head.rect.min, below), None);
    }
    for words in remarks {
        ui.colored_label(ui.visuals().warn_fg_color, words);
    }
    let mut row = |ui: &mut Ui, buttons: &[(&str, Deed)]| {
        ui.horizontal(|ui| {
            for (words, what) in buttons {
                if ui.button(*words).clicked() {
                    deed = Some(*what);
                }
            }
        });
    };
    row(ui, &[("Half the tempo", Deed::Half), ("Twice the tempo", Deed::Double)]);
    row(ui, &[("3 beats for 2", Deed::Recount(3, 2)), ("2 beats for 3", Deed::Recount(2, 3))]);
    row(ui, &[("Bars a beat earlier", Deed::Shift(-1)), ("A beat later", Deed::Shift(1))]);
    row(ui, &[("Use these bars", Deed::Use), ("Leave them", Deed::Leave)]);
    ui.horizontal_wrapped(|ui| {
        ui.label("Beats in a bar");
        for beats in 2..=7u8 {
            let chosen = found.beats.iter().filter(|b| b.of == beats).count() * 2 > found.beats.len();
            if ui.add(egui::Button::new(beats.to_string()).selected(chosen)).clicked() {
                deed = Some(Deed::Bars(beats));
            }
        }
    });
    let spots = found.weak_spots();
    let spot = |(from, to): &(i32, i32)| if from == to { from.to_string() } else { format!("{from} to {to}") };
    let mut words: Vec<String> = spots.iter().take(5).map(spot).collect();
    if spots.len() > words.len() {
        words.push("and others".to_owned());
    }
    if !words.is_empty() {
        let words = format!("Hard to hear, look at them: bars {}.", words.join(", "));
        ui.colored_label(ui.visuals().warn_fg_color, words);
    }
    deed
}

/// The service on screen and its guide recording.
fn guide(document: &Document) -> Option<(String, PathBuf)> {
    Some((document.current()?.name.clone(), document.guide_path()?))
}

/// Pins the bar lines that were tapped, the first being the song's bar line nearest to it; the rest of the song stays.
fn pin_tapped(document: &mut Document, plan: &GridPlan, bars: u32) -> bool {
    let (Ok(derived), Ok(tapped)) = (document.derived(), plan.build()) else { return false };
    let Some(service) = document.current() else { return false };
    let grid = &derived.schedule.grid;
    let begin = tapped.bar_time(1);
    let off = |bar: &i32| (grid.bar_time(*bar) - begin).micros().abs();
    let Some(first) = (1..=service.song.end_bar()).min_by_key(off) else { return false };
    let count = i32::try_from(bars).unwrap_or(1);
    let (last, one) = (first + count - 1, grid.bar_time(1));
    document.change_song(&format!("Pin bars {first} to {last} as tapped"), |song| {
        let pins = &mut song.grid.pins;
        pins.retain(|p| p.bar < first || p.bar > last);
        if pins.is_empty() && first > 1 {
            pins.push(Pin { bar: 1, at: one });
        }
        pins.extend((0..count).map(|n| Pin { bar: first + n, at: tapped.bar_time(1 + n) }));
        pins.sort_by_key(|p| p.bar);
    })
}

/// The song takes over a grid; cues stay at their bars.
fn take(document: &mut Document, name: &str, plan: GridPlan, bars: u32) -> bool {
    document.change_song(name, |song| take_over(song, plan, bars))
}

fn take_over(song: &mut Song, plan: GridPlan, bars: u32) {
    song.grid = plan;
    let sections = song.sections.iter().map(|s| i64::from(s.bar) + i64::from(s.bars) - 1).max().unwrap_or(1);
    song.bars = bars.max(u32::try_from(sections).unwrap_or(1));
}

/// Which cues would land at another time with the bars that are tried, releases by name.
fn moves(document: &Document, found: &Found) -> Option<String> {
    let derived = document.derived().ok()?;
    let mut after = derived.service().clone();
    take_over(&mut after.song, found.plan.clone(), found.bars);
    let schedule = Schedule::build(&derived.show, &after).ok()?;
    let mut lands: HashMap<Label, SongTime> = derived.schedule.rows.iter().map(|r| (r.label, r.land)).collect();
    let moved: Vec<(Label, SongTime, SongTime)> = (schedule.rows.iter())
        .filter_map(|row| Some((row.label, lands.remove(&row.label)?, row.land)))
        .filter(|(_, was, is)| (*is - *was).micros().abs() >= UNSEEN)
        .collect();
    let most = moved.iter().map(|(_, was, is)| (*is - *was).secs_f64().abs()).fold(0.0, f64::max);
    let mut words = match moved.len() {
        0 => return None,
        1 => format!("Cues keep their bars: 1 moves, by {most:.2} s."),
        n => format!("Cues keep their bars: {n} move, by up to {most:.2} s."),
    };
    for (label, was, is) in moved.iter().filter(|(label, ..)| label.kind == Kind::Release) {
        write!(words, " {label} from {was} to {is}.").ok()?;
    }
    Some(words)
}

/// What to say of a bar that a person gave and that goes much faster or slower than the music beside it.
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
