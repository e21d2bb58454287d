//! A tour of eight steps on a demo show. Each step is something to do, and goes on by itself once it is done.

use crate::widgets::pick_list::title;
use egui::Ui;

/// A step: its title, and what to do.
const STEPS: [(&str, &str); 8] = [
    (
        "The song",
        "Time runs from left to right, under sections, bars and the wall clock. Press the space bar: the song plays, and above you \
         see the stage as the audience would. Press it again to stop.",
    ),
    (
        "A cue and its lead",
        "Click the orange cue L4. Its body begins where it lands. The small flag before it is where its message leaves, because \
         lamps, players and fabrics take their time. At the right you see what its lead is made of.",
    ),
    (
        "The reveal",
        "Click R1, the release. Its body is the fall itself: the fabric passes the sightline on the beat. Everything round it is \
         worked back from there.",
    ),
    (
        "Paper to call from",
        "Choose Paper at the top, then Call sheet. These are the real pages. The caller reads them in the dark.",
    ),
    (
        "Rehearse",
        "Choose Rehearse at the top. Started from here the plan is sent over MIDI. In a rehearsal no release leaves, only its \
         stand-in. Esc once locks every release, twice stops all.",
    ),
    (
        "Shift",
        "Choose Score at the top, click L4 again and hold Shift while you press the right arrow: it moves one bar later, and so does \
         its message. Ctrl+Z takes that back.",
    ),
    (
        "Copy to another service",
        "Choose Services at the top. Tick Early behind “Carry from Late to” and choose “replace theirs”: you read what would happen \
         before it does. Then press Carry. Dragging a cue onto the other row does the same.",
    ),
    (
        "Export",
        "Press Ctrl+E: the MIDI file for the playback machine. Releases stay out of it unless the safety sheet is filled in and you ask \
         for them. Choose a place for it, and the tour is done.",
    ),
];

/// What the tour looks at to know whether a step is done.
pub struct TourLook<'a> {
    /// The name of the screen that is shown.
    pub screen: &'static str,
    /// Whether the song plays.
    pub plays: bool,
    /// The selected cues, in words.
    pub selected: &'a [String],
    /// The last step that can be undone.
    pub undo: Option<&'a str>,
    /// What was said last.
    pub said: &'a str,
}

/// The state of the tour.
#[derive(Debug, Default, Clone, Copy, PartialEq, Eq)]
pub struct Tour {
    step: usize,
}

impl Tour {
    /// Whether the step is done.
    fn is_done(self, look: &TourLook<'_>) -> bool {
        let only = |label: &str| look.selected.len() == 1 && look.selected[0] == label;
        match self.step {
            0 => look.plays,
            1 => only("L4"),
            2 => only("R1"),
            3 => look.screen == "Paper",
            4 => look.screen == "Rehearse",
            5 => look.undo.is_some_and(|name| name.starts_with("Shift")),
            6 => look.undo.is_some_and(|name| name.starts_with("Carry to")),
            _ => look.said.starts_with("Wrote"),
        }
    }

    /// Shows the step; `false` once the tour is over.
    pub fn show(&mut self, ctx: &egui::Context, look: &TourLook<'_>) -> bool {
        if self.is_done(look) {
            self.step += 1;
        }
        let mut open = true;
        let window = egui::Window::new("Tour").title_bar(false).collapsible(false).resizable(false);
        window.anchor(egui::Align2::LEFT_BOTTOM, egui::vec2(16.0, -44.0)).show(ctx, |ui| {
            ui.set_width(400.0);
            let Some((name, words)) = STEPS.get(self.step) else {
                title(ui, "That was the tour");
                ui.label("Now a show of your own: New at the top asks a few questions and makes it.");
                open = !ui.button("Close").clicked();
                return;
            };
            title(ui, &format!("{} of {}: {name}", self.step + 1, STEPS.len()));
            ui.label(words.replace("Ctrl", letfall_platform::COMMAND_KEY));
            open = self.buttons(ui);
        });
        open
    }

    fn buttons(&mut self, ui: &mut Ui) -> bool {
        let mut open = true;
        ui.horizontal(|ui| {
            if ui.add_enabled(self.step > 0, egui::Button::new("Back")).clicked() {
                self.step -= 1;
            }
            if ui.button("Next step").clicked() {
                self.step += 1;
            }
            ui.with_layout(egui::Layout::right_to_left(egui::Align::Center), |ui| {
                open = !ui.button("End the tour").clicked();
            });
        });
        open
    }
}
