//! The start panel: a few questions about the song and the room make a show in which cues can be laid; or an earlier show, the rig of one, or
//! a demo show is opened.

use crate::jobs::FilePurpose;
use crate::request::{Requests, StartChoice, UiRequest};
use crate::widgets::fields::{Fields, heading, name_it};
use crate::widgets::quantity;
use crate::widgets::theme::bold;
use egui::accesskit::Role;
use egui::{Button, FontId, Grid, RichText, TextEdit, Ui, vec2};
use letfall_core::limits;
use letfall_core::outline::{self, DeskTakes, FabricOutline, Outline, SongLength};
use letfall_core::show::{ReleaseKind, Show, Song, Units};
use letfall_core::time::{Metre, SongSpan, Tempo};
use std::path::{Path, PathBuf};

/// The demo shows: file names and what is in them.
const DEMOS: [(&str, &str); 3] = [
    ("Lantern Night", "two performances of one song: fabric, silhouettes, handover"),
    ("First opener", "one performance, six cues: the smallest whole show"),
    ("Three houses", "six performances in three halls, matinees without the choir"),
];

/// The panel's state.
pub struct Start {
    outline: Outline,
    tempo: String,
    metre: String,
    length: String,
    /// The song of a MIDI file, and the file's name.
    song: Option<(Song, String)>,
    /// A recording, whose bars are looked for once the show is made.
    guide: Option<PathBuf>,
    /// The rig of an earlier show, and its title.
    rig: Option<(Box<Show>, String)>,
    fabric: FabricOutline,
    has_fabric: bool,
    recent: Vec<PathBuf>,
}

impl Start {
    /// A panel that offers these shows to be opened again.
    pub fn new(recent: Vec<PathBuf>) -> Start {
        let fabric = FabricOutline { width_m: 6.0, drop_m: 4.0, kind: ReleaseKind::Unknown };
        Start {
            outline: Outline::default(),
            tempo: "120".to_owned(),
            metre: "4/4".to_owned(),
            length: "4:00".to_owned(),
            song: None,
            guide: None,
            rig: None,
            fabric,
            has_fabric: true,
            recent,
        }
    }

    /// Takes over the song of a MIDI file.
    pub fn set_song(&mut self, song: Song, name: String) {
        self.song = Some((song, name));
        self.guide = None;
    }

    /// Takes a recording for the song.
    pub fn set_guide(&mut self, path: PathBuf) {
        self.guide = Some(path);
        self.song = None;
    }

    /// Takes the rig of an earlier show.
    pub fn set_rig(&mut self, show: Box<Show>, title: String) {
        self.rig = Some((show, title));
    }

    /// Shows it; `false` once something was chosen or it was closed.
    pub fn show(&mut self, ctx: &egui::Context, requests: &mut Requests) -> bool {
        let mut open = true;
        let mut choice = None;
        let room = ctx.content_rect().size() - vec2(60.0, 60.0);
        // Nothing behind it can be changed meanwhile: what was asked about unsaved work still holds when a new show takes its place.
        egui::Modal::new(egui::Id::unique("start panel")).show(ctx, |ui| {
            ui.set_width(room.x.min(1000.0));
            let scroll = egui::ScrollArea::vertical().max_height(room.y).min_scrolled_height(room.y.min(620.0));
            scroll.show(ui, |ui| {
                ui.horizontal_top(|ui| {
                    ui.vertical(|ui| {
                        ui.set_width((room.x.min(1000.0) - 330.0).max(420.0));
                        choice = self.a_new_show(ui, requests);
                    });
                    ui.separator();
                    ui.vertical(|ui| {
                        if let Some(other) = self.another(ui, requests) {
                            choice = Some(other);
                        }
                        ui.add_space(12.0);
                        open &= !ui.button("Back to the show that is open").clicked();
                    });
                });
            });
        });
        let chosen = choice.is_some();
        if let Some(choice) = choice {
            requests.push(UiRequest::Start(choice));
        }
        open && !chosen
    }

    /// The questions.
    fn a_new_show(&mut self, ui: &mut Ui, requests: &mut Requests) -> Option<StartChoice> {
        heading(ui, "A new show");
        let mut wrong = None;
        Grid::new("new show").num_columns(2).spacing([12.0, 6.0]).show(ui, |ui| {
            text(ui, "Title of the show", &mut self.outline.title, "Harvest evening", 300.0);
            ui.end_row();
        });
        self.song_of_it(ui, requests, &mut wrong);
        if let Some((_, title)) = &self.rig {
            ui.add_space(6.0);
            ui.label(format!(
                "Rig of “{title}”, without its cues. The safety sheet is empty: it is signed for each show anew."
            ));
            if ui.button("Answer the questions about the room instead").clicked() {
                self.rig = None;
            }
        } else {
            self.room(ui);
        }
        ui.add_space(8.0);
        let song = self.the_song().ok();
        let room = Outline { fabric: self.has_fabric.then_some(self.fabric), ..self.outline.clone() };
        if let Some(why) = room.trouble().filter(|_| self.rig.is_none()) {
            wrong.get_or_insert(why);
        }
        if let Some(why) = &wrong {
            ui.colored_label(ui.visuals().error_fg_color, why);
        }
        let make =
            Button::new(RichText::new("Make the show").font(FontId::new(15.5, bold()))).min_size(vec2(200.0, 32.0));
        if ui.add_enabled(song.is_some() && wrong.is_none(), make).clicked()
            && let Some(song) = song
        {
            let show = match &self.rig {
                Some((rig, _)) => outline::rig_of(rig, &self.outline.title, song),
                None => Outline { song, ..room }.show(),
            };
            return Some(StartChoice::Make(Box::new(show), self.guide.clone()));
        }
        None
    }

    fn song_of_it(&mut self, ui: &mut Ui, requests: &mut Requests, wrong: &mut Option<String>) {
        ui.add_space(4.0);
        part(ui, "Song");
        if let Some((song, name)) = &self.song {
            ui.label(format!("{}: {} bars and their tempo, from {name}", song.title, song.bars));
        } else {
            Grid::new("song").num_columns(6).spacing([10.0, 6.0]).show(ui, |ui| {
                text(ui, "Tempo", &mut self.tempo, "120", 70.0);
                text(ui, "Metre", &mut self.metre, "4/4", 70.0);
                text(ui, "Length", &mut self.length, "4:00 or 96 bars", 120.0);
                ui.end_row();
            });
            if let Some(path) = &self.guide {
                let name = path.file_name().map_or_else(String::new, |name| name.to_string_lossy().into_owned());
                ui.label(format!(
                    "{name}: its bars are looked for once the show is made, and offered beside the score."
                ));
            }
        }
        ui.horizontal_wrapped(|ui| {
            if ui.button("Bars from a MIDI file…").clicked() {
                requests.push(UiRequest::File(FilePurpose::StartSong));
            }
            if ui.button("A recording, bars by ear…").clicked() {
                requests.push(UiRequest::File(FilePurpose::StartGuide));
            }
            if (self.song.is_some() || self.guide.is_some()) && ui.button("Neither").clicked() {
                (self.song, self.guide) = (None, None);
            }
        });
        if self.song.is_none()
            && let Err(why) = self.the_song()
        {
            *wrong = Some(why);
        }
    }

    /// The song as it is answered.
    fn the_song(&self) -> Result<Song, String> {
        if let Some((song, _)) = &self.song {
            return Ok(song.clone());
        }
        let tempo: Tempo = self.tempo.trim().replace(',', ".").parse().map_err(|e| format!("Tempo: {e}"))?;
        let metre: Metre = self.metre.parse().map_err(|e| format!("Metre: {e}"))?;
        let text = self.length.trim();
        let length = if let Some(bars) = text.strip_suffix("bars").or_else(|| text.strip_suffix("bar")) {
            let range = limits::SONG_BARS.range();
            let bars = bars.trim().parse::<u32>().ok().filter(|bars| range.contains(&f64::from(*bars)));
            SongLength::Bars(bars.ok_or_else(|| format!("Length: \"{text}\" is no number of bars, such as 96 bars"))?)
        } else {
            let seconds = quantity::read(text, "s", &(1.0..=7200.0), false).map_err(|why| format!("Length: {why}"))?;
            SongLength::Time(SongSpan::from_secs_f64(seconds))
        };
        Ok(outline::steady_song("", tempo, metre, length))
    }

    fn room(&mut self, ui: &mut Ui) {
        ui.add_space(4.0);
        part(ui, "What is in the room");
        let mut fields = Fields::default();
        let outline = &mut self.outline;
        ui.horizontal_wrapped(|ui| {
            ui.checkbox(&mut self.has_fabric, "A fabric that falls");
            if self.has_fabric {
                ui.label("width");
                fields.length(ui, &mut self.fabric.width_m, outline.units, &limits::HANG_WIDTH, "Width of the fabric");
                ui.label("height");
                fields.length(ui, &mut self.fabric.drop_m, outline.units, &limits::DROP, "Height of the fabric");
            }
            let units = [(Units::Metric, "metres".to_owned()), (Units::Imperial, "feet".to_owned())];
            fields.choice(ui, &mut outline.units, &units, 90.0, "Lengths in");
        });
        if self.has_fabric {
            ui.horizontal_wrapped(|ui| {
                ui.label("Its release units open");
                for (kind, words) in [
                    (ReleaseKind::Unknown, "nobody has said yet"),
                    (ReleaseKind::Energise, "when they get power"),
                    (ReleaseKind::Deenergise, "when power is taken away"),
                ] {
                    ui.radio_value(&mut self.fabric.kind, kind, words);
                }
            });
        }
        ui.columns(3, |columns| {
            list(
                &mut columns[0],
                "Lighting presets, one a line",
                &mut outline.presets,
                "Blackout\nWarm front\nSilhouettes",
            );
            if columns[0]
                .button("Fill in ten")
                .on_hover_text("Ten presets with numbers for names, to be named later.")
                .clicked()
            {
                let from = outline::names(&outline.presets).count();
                let more: Vec<String> = (from + 1..=from + 10).map(|n| format!("{n} Preset {n}")).collect();
                let kept = outline.presets.trim_end();
                outline.presets = [kept, &more.join("\n")].join(if kept.is_empty() { "" } else { "\n" });
            }
            list(&mut columns[1], "Pictures and films, one a line", &mut outline.pictures, "Harbour at dusk\nBoats");
            list(&mut columns[2], "Screens that stay, one a line", &mut outline.screens, "Main screen");
        });
        ui.horizontal_wrapped(|ui| {
            ui.label("The lighting desk takes");
            ui.radio_value(&mut outline.desk, DeskTakes::Programs, "program changes");
            ui.radio_value(&mut outline.desk, DeskTakes::ShowControl, "MIDI Show Control");
        });
        ui.label(
            "Delays stay open until somebody has measured or stated them. The safety sheet stays empty: the people who answer for it fill \
             it in, on the Rig screen.",
        );
    }

    /// What can be opened instead.
    fn another(&mut self, ui: &mut Ui, requests: &mut Requests) -> Option<StartChoice> {
        let mut choice = None;
        heading(ui, "Or open one");
        if ui.button("Open a show…").clicked() {
            requests.push(UiRequest::File(FilePurpose::Open));
        }
        if ui
            .button("The rig of an earlier show…")
            .on_hover_text("Its devices, presets, pictures and fabrics, without its cues.")
            .clicked()
        {
            requests.push(UiRequest::File(FilePurpose::StartRig));
        }
        if !self.recent.is_empty() {
            ui.add_space(8.0);
            part(ui, "Open before");
            for path in &self.recent {
                let name = stem(path);
                let folder = path.parent().map_or_else(String::new, |folder| folder.display().to_string());
                let button = ui.add(Button::new(name).truncate().min_size(vec2(260.0, 0.0)));
                if button.on_hover_text(folder).clicked() {
                    choice = Some(StartChoice::Open(path.clone()));
                }
            }
        }
        ui.add_space(8.0);
        part(ui, "Demo shows");
        if ui.add(Button::new("Tour in eight steps").min_size(vec2(260.0, 0.0))).clicked() {
            choice = Some(StartChoice::Tour);
        }
        for (at, (name, words)) in DEMOS.iter().enumerate() {
            if ui.add(Button::new(*name).min_size(vec2(260.0, 0.0))).clicked() {
                choice = Some(StartChoice::Demo(at));
            }
            ui.label(RichText::new(*words).weak());
        }
        choice
    }
}

/// A heading within a column.
fn part(ui: &mut Ui, words: &str) {
    ui.label(RichText::new(words).font(FontId::new(15.5, bold())));
}

/// A labelled field for a line of text.
fn text(ui: &mut Ui, words: &str, value: &mut String, hint: &str, width: f32) {
    let label = ui.label(words);
    let edit = TextEdit::singleline(value).hint_text(hint).desired_width(width);
    ui.add_sized([width, 26.0], edit).labelled_by(label.id);
}

/// A field for a list with one name a line.
fn list(ui: &mut Ui, words: &str, value: &mut String, hint: &str) {
    ui.label(words);
    egui::ScrollArea::vertical().id_salt(words).max_height(132.0).show(ui, |ui| {
        let edit = TextEdit::multiline(value).hint_text(hint).desired_rows(6).desired_width(f32::INFINITY);
        let response = ui.add(edit);
        name_it(&response, Role::MultilineTextInput, words);
    });
}

/// A recording's or show's name without folder and ending.
pub fn stem(path: &Path) -> String {
    path.file_stem().map_or_else(String::new, |name| name.to_string_lossy().into_owned())
}
