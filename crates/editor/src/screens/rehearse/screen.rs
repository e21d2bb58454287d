//! The Rehearse screen itself.

use super::after::After;
use super::arm_key::{ARM, ArmKey, Held};
use super::board;
use super::board_state::BoardState;
use super::desk;
use super::rehearsing::Rehearsing;
use crate::rehearsal::RehearsalRequest;
use crate::request::{Requests, UiRequest};
use egui::{Key, Ui};
use letfall_core::prepared::Prepared;
use std::sync::Arc;

/// The screen's state.
#[derive(Default)]
pub struct RehearseScreen {
    /// Whether the board is also shown in a window of its own.
    pub second_window: bool,
    /// The page after the run, if it is open.
    after: Option<After>,
    /// The key that is held to arm.
    arm_key: ArmKey,
    /// Whether what is set up once is shown during a run too.
    set_up: bool,
}

impl RehearseScreen {
    /// Back to the board.
    pub fn close_page(&mut self) {
        self.after = None;
    }

    /// Clears the page, because what was written down is now in the show.
    pub fn written_down(&mut self) {
        if self.after.is_some() {
            self.after = Some(After::default());
        }
    }

    /// Shows the screen.
    pub fn show(&mut self, ui: &mut Ui, what: &Rehearsing<'_>, requests: &mut Requests) {
        let ctx = ui.ctx().clone();
        let Ok(plan) = what.document.plan() else {
            ui.label("There is nothing to rehearse yet: add a service on the Services screen.");
            return;
        };
        if what.rehearsal.looked().is_none() {
            requests.push(UiRequest::Rehearsal(RehearsalRequest::LookForPorts));
        }
        // A window that nobody looks at holds nothing: it lost the focus, or was put away.
        let in_sight = ctx.input(|i| i.focused && i.viewport().minimized != Some(true));
        let key = ctx.input(|i| self.arm_key.look(i.key_down(ARM), &i.events, i.time));
        if key == Held::FellSilent && what.rehearsal.is_holding() {
            let words = "The key that holds the release stopped repeating, as if its keyboard were gone. Lift it and press anew";
            requests.push(UiRequest::Fail(words.to_owned()));
        }
        let mut held = !ctx.egui_wants_keyboard_input() && key == Held::Yes;
        let frame = egui::Frame::side_top_panel(ui.style()).fill(egui::Color32::TRANSPARENT);
        // During a run the board has the window.
        let width = if what.rehearsal.runs() && !self.set_up { 248.0 } else { 320.0 };
        egui::Panel::left("rehearse desk").frame(frame).exact_size(width).show(ui, |ui| {
            egui::ScrollArea::vertical().auto_shrink(false).show(ui, |ui| {
                let state = (self.second_window, &mut self.set_up, &mut self.after);
                held |= desk::show(ui, what, state, requests);
            });
        });
        held &= in_sight;
        if held || what.rehearsal.is_holding() {
            // Sent in every frame, because a hold that is not renewed ends.
            requests.push(UiRequest::Rehearsal(RehearsalRequest::Hold(held)));
        }
        let (run, at) = (what.rehearsal.run.as_ref(), what.document.playhead);
        // A run goes on with the plan that it was started with, whatever is edited meanwhile.
        let own = run.filter(|run| run.runs()).map(|run| run.plan.prepared.clone());
        let changed = own.as_ref().filter(|own| !Arc::ptr_eq(own, &plan)).and_then(|own| changes(own, &plan));
        let shown = own.unwrap_or_else(|| plan.clone());
        let state = BoardState { plan: &shown, run, at, theme: what.theme, sound: what.sound, changed };
        let frame = egui::Frame::central_panel(ui.style()).fill(egui::Color32::TRANSPARENT);
        egui::CentralPanel::default().frame(frame).show(ui, |ui| match &mut self.after {
            Some(after) => after.show(ui, what.document, run, requests),
            None => board::show(ui, &state),
        });
        if self.second_window && !second_window(&ctx, &state, requests) {
            requests.push(UiRequest::SecondWindow(false));
        }
    }
}

/// What was edited since a run began, in words; `None` if it makes no difference to the service.
fn changes(own: &Prepared, now: &Prepared) -> Option<String> {
    if own.show() == now.show() {
        return None;
    }
    let matching = letfall_core::edit::Match::Clock;
    let differ =
        letfall_core::edit::compare_services(own.service(), now.service(), matching).map_or(0, |list| list.len());
    let what = match differ {
        0 => "the song or the rig".to_owned(),
        1 => "1 cue".to_owned(),
        n => format!("{n} cues"),
    };
    Some(format!(
        "The plan was edited since this run began ({what}). The run goes on with the plan that it was started with."
    ))
}

/// Shows the board in a window of its own, for the stage manager's display. Returns whether it stays open.
fn second_window(ctx: &egui::Context, state: &BoardState<'_>, requests: &mut Requests) -> bool {
    let id = egui::ViewportId::from_hash_of("stage manager");
    let builder =
        egui::ViewportBuilder::default().with_title("Letfall: stage manager").with_inner_size([1280.0, 720.0]);
    ctx.show_viewport_immediate(id, builder, |ui, _| {
        let ground = state.theme.palette().panel;
        egui::CentralPanel::default().frame(egui::Frame::central_panel(ui.style()).fill(ground)).show(ui, |ui| {
            board::show(ui, state);
        });
        if ui.input(|i| i.key_pressed(Key::F11)) {
            let full = ui.input(|i| i.viewport().fullscreen.unwrap_or(false));
            ui.ctx().send_viewport_cmd(egui::ViewportCommand::Fullscreen(!full));
        }
        if ui.input_mut(|i| i.consume_key(egui::Modifiers::NONE, Key::Escape)) {
            let now = ui.input(|i| i.time);
            requests.push(UiRequest::Rehearsal(RehearsalRequest::Escape(now)));
        }
        !ui.input(|i| i.viewport().close_requested())
    })
}
