//! Bars by ear: found in the guide recording, or tapped along to it; tried before they are taken.

use super::document::Document;
use super::theme::bold;
use super::work::{Desk, Work};
use egui::{FontId, RichText, Ui};
use letfall_core::edit::Edit;
use letfall_core::show::{CueList, Service};
use letfall_core::time::GridPlan;
use letfall_sound::Decoder;
use letfall_sound::bars::{BarsError, Choice, Found, Hearing, Taps};
use std::fs::File;
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
    /// Forget the taps.
    ForgetTaps,
}

type Heard = (Hearing, Result<Found, BarsError>);

/// What was heard in a recording.
#[derive(Default)]
pub struct ByEar {
    hearing: Option<(PathBuf, Hearing)>,
    coming: Option<(PathBuf, Work<Result<Heard, String>>)>,
    /// Bars that are tried.
    pub found: Option<Found>,
    /// Beats in a bar for what is tapped.
    pub beats: u8,
}

fn hear(path: &Path, desk: &Desk<Result<Heard, String>>) -> Result<Heard, String> {
    let fail = |why: String| format!("{}: {why}", path.display());
    let file = File::open(path).map_err(|e| fail(crate::failure::io_words(&e)))?;
    let ending = path.extension().map(|e| e.to_string_lossy().to_lowercase());
    let mut decoder = Decoder::open(Box::new(file), ending.as_deref()).map_err(|e| fail(e.to_string()))?;
    let listened = Hearing::of(&mut decoder, |share| desk.step(u8::from(share > 0.5), "listening"));
    let hearing = listened.map_err(|e| fail(e.to_string()))?;
    let found = hearing.find(&Choice::default(), &mut || desk.step(2, "finding the beats"));
    Ok((hearing, found))
}

impl ByEar {
    /// Once a frame: takes over what was heard beside the screen.
    pub fn poll(&mut self, document: &mut Document) {
        let Some((path, work)) = &mut self.coming else { return };
        let Some(done) = work.poll() else { return };
        let path = path.clone();
        self.coming = None;
        match done.and_then(|heard| heard) {
            Ok((hearing, found)) => {
                self.hearing = Some((path, hearing));
                self.took(document, found);
            }
            Err(why) => document.fail(why),
        }
    }

    fn took(&mut self, document: &mut Document, found: Result<Found, BarsError>) {
        match found {
            Ok(found) => {
                document.say(format!("Found {} bars; nothing is changed until you use them", found.bars));
                self.found = Some(found);
            }
            Err(why) => document.fail(why.to_string()),
        }
    }

    /// Does what was asked.
    pub fn run(&mut self, deed: Deed, document: &mut Document, taps: &mut Taps, wake: Arc<dyn Fn() + Send + Sync>) {
        let guide = document.current().and_then(|s| s.song.guide.as_ref()).map(|g| g.path.clone());
        let path = guide.map(|g| document.folder().unwrap_or_else(|| Path::new(".")).join(g));
        let hearing = self.hearing.as_ref().filter(|(of, _)| Some(of) == path.as_ref()).map(|h| &h.1);
        match deed {
            Deed::Find => {
                let Some(path) = path else {
                    return document.fail("choose the song's guide recording first");
                };
                let own = path.clone();
                match Work::start("Finding the bars", 3, wake, move |desk| hear(&own, desk)) {
                    Ok(work) => self.coming = Some((path, work)),
                    Err(why) => document.fail(why),
                }
            }
            Deed::Half | Deed::Double | Deed::Shift(_) | Deed::Bars(_) => {
                let (Some(found), Some(hearing)) = (&self.found, hearing) else { return };
                let tried = match deed {
                    Deed::Half => found.halved(hearing),
                    Deed::Double => found.doubled(hearing),
                    Deed::Shift(by) => found.shifted(by),
                    Deed::Bars(beats) => found.in_bars_of(beats, hearing),
                    _ => return,
                };
                self.took(document, tried);
            }
            Deed::Use => {
                if let Some(found) = &self.found {
                    take(document, "Take the bars found in the recording", found.plan.clone(), found.bars);
                }
            }
            Deed::Leave => self.found = None,
            Deed::UseTaps => match taps.plan(self.beats.max(2), false, hearing) {
                Ok((plan, bars)) => {
                    if take(document, "Take the bars that were tapped", plan, bars) {
                        *taps = Taps::default();
                    }
                }
                Err(why) => document.fail(why.to_string()),
            },
            Deed::ForgetTaps => *taps = Taps::default(),
        }
    }

    /// Shows what was heard and tapped; gives what is asked.
    pub fn show(&mut self, ui: &mut Ui, has_guide: bool, taps: &Taps) -> Option<Deed> {
        let mut deed = None;
        ui.add_space(8.0);
        ui.label(RichText::new("Bars by ear").font(FontId::new(15.5, bold())));
        if let Some((_, work)) = &self.coming {
            ui.horizontal(|ui| {
                ui.add(egui::ProgressBar::new(work.share()).desired_width(140.0));
                ui.label(work.step());
            });
            if ui.button("Stop listening").clicked() {
                self.coming = None;
            }
        } else if has_guide {
            if ui.button("Find the bars in the recording").clicked() {
                deed = Some(Deed::Find);
            }
        } else {
            ui.label("Choose a recording, and its bars can be found in it.");
        }
        if let Some(found) = &self.found {
            deed = tried(ui, found).or(deed);
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
        if !taps.is_empty() {
            ui.label(format!("{} taps", taps.len()));
            ui.horizontal(|ui| {
                if ui.button("Use the taps").clicked() {
                    deed = Some(Deed::UseTaps);
                }
                if ui.button("Forget the taps").clicked() {
                    deed = Some(Deed::ForgetTaps);
                }
            });
        }
        deed
    }
}

/// What was found, and what can be done with it.
fn tried(ui: &mut Ui, found: &Found) -> Option<Deed> {
    let mut deed = None;
    let (tempos, pins) = (found.plan.tempos.len(), found.plan.pins.len());
    let many = |n: usize, what: &str| format!("{n} {what}{}", if n == 1 { "" } else { "s" });
    let metres: Vec<String> = found.plan.metres.iter().map(|m| m.metre.to_string()).collect();
    ui.label(format!(
        "Found {} in {}, {:.1} beats a minute: {}, {}.",
        many(found.bars as usize, "bar"),
        metres.join(", "),
        found.tempo(),
        many(tempos, "tempo mark"),
        many(pins, "pin")
    ));
    let spots: Vec<String> = found
        .weak_spots()
        .iter()
        .map(|(from, to)| if from == to { from.to_string() } else { format!("{from} to {to}") })
        .collect();
    if !spots.is_empty() {
        let words = format!("Hard to hear, look at them: bars {}.", spots.join(", "));
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
    row(ui, &[("Bars a beat earlier", Deed::Shift(-1)), ("A beat later", Deed::Shift(1))]);
    ui.horizontal_wrapped(|ui| {
        ui.label("Beats in a bar");
        for beats in 2..=7u8 {
            let chosen = found.beats.iter().filter(|b| b.of == beats).count() * 2 > found.beats.len();
            if ui.selectable_label(chosen, beats.to_string()).clicked() {
                deed = Some(Deed::Bars(beats));
            }
        }
    });
    let mut row = |ui: &mut Ui, buttons: &[(&str, Deed)]| {
        ui.horizontal(|ui| {
            for (words, what) in buttons {
                if ui.button(*words).clicked() {
                    deed = Some(*what);
                }
            }
        });
    };
    row(ui, &[("Use these bars", Deed::Use), ("Leave them", Deed::Leave)]);
    deed
}

/// The song takes over a grid; cues stay at their bars.
fn take(document: &mut Document, name: &str, plan: GridPlan, bars: u32) -> bool {
    let Some(service) = document.current() else { return false };
    let before = Service { cues: CueList::default(), ..service.clone() };
    let mut after = before.clone();
    after.song.grid = plan;
    let sections = after.song.sections.iter().map(|s| i64::from(s.bar) + i64::from(s.bars) - 1).max().unwrap_or(1);
    after.song.bars = bars.max(u32::try_from(sections).unwrap_or(1));
    document.commit(name, Ok(Edit::Facts { before: Box::new(before), after: Box::new(after) }))
}
