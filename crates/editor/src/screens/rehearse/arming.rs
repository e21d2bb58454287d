//! The name of the person who holds a release, and the button to hold.

use super::rehearsing::Rehearsing;
use crate::rehearsal::{RehearsalRequest, ReleaseStatus};
use crate::request::{Requests, UiRequest};
use crate::widgets::theme::bold;
use egui::{FontId, RichText, Ui};
use letfall_live::{Fate, Mode, Moves, ReleaseIndex};

/// Shows them. Returns whether the button is held down.
pub fn show(ui: &mut Ui, what: &Rehearsing<'_>, requests: &mut Requests) -> bool {
    let (rehearsal, safety) = (what.rehearsal, &what.document.show.safety);
    if rehearsal.mode() == Mode::Rehearse {
        return false;
    }
    let missing = safety.missing();
    if !missing.is_empty() {
        let words = format!("No release is ever sent while the safety sheet leaves open {}.", missing.join(", "));
        ui.colored_label(ui.visuals().error_fg_color, words);
        return false;
    }
    ui.horizontal(|ui| {
        let label = ui.label("Held by");
        let hint = format!("name of the {}", safety.arm_holder);
        let mut holder = rehearsal.holder.clone();
        let edit = egui::TextEdit::singleline(&mut holder)
            .desired_width((ui.available_width() - 16.0).min(210.0))
            .hint_text(hint);
        if ui.add(edit).labelled_by(label.id).changed() {
            requests.push(UiRequest::Rehearsal(RehearsalRequest::Holder(holder)));
        }
    });
    let within = rehearsal.run.as_ref().zip(rehearsal.next_release()).is_some_and(|(run, at)| {
        let release = &run.plan.releases[at.index()];
        let second = run.second_try == Some(at);
        let at_hand = run.place.moves == Moves::ByHand && run.release_at_hand() == Some(at);
        let open = run.bends.fate(at) == Fate::Open;
        run.runs() && open && (second || at_hand || release.from <= run.song() && run.song() <= release.send)
    });
    second_try(ui, what, requests);
    let (words, size) = if within { ("HOLD to arm  (A)", 22.0) } else { ("Arming: only within its window", 14.5) };
    // Drags count too, because a hold lasts longer than a click and the hand may move.
    let button = egui::Button::new(RichText::new(words).font(FontId::new(size, bold())))
        .sense(egui::Sense::click_and_drag())
        .fill(if within { ui.visuals().warn_fg_color.gamma_multiply(0.35) } else { ui.visuals().faint_bg_color });
    let width = ui.available_width() - 8.0;
    let response = ui.add_enabled_ui(within, |ui| ui.add_sized([width, 64.0], button)).inner;
    ui.label("Look first: zone clear, clear signal given. Held for a second it is armed; let go and it is locked. Letfall cannot see whether it is safe.");
    response.is_pointer_button_down_on()
}

/// Offers a second try of a release whose message has left: one of its own, held anew, and the last of this run.
fn second_try(ui: &mut Ui, what: &Rehearsing<'_>, requests: &mut Requests) {
    let Some(run) = what.rehearsal.run.as_ref().filter(|run| run.runs()) else { return };
    if let Some(release) = run.second_try.and_then(|at| run.plan.release(at)) {
        let words = format!("{}: second try. It leaves as soon as it has been held for a second.", release.label);
        ui.colored_label(ui.visuals().warn_fg_color, words);
        return;
    }
    for (at, lock) in run.locks.iter().enumerate() {
        let release = ReleaseIndex::at(at);
        let may = matches!(lock, ReleaseStatus::Sent(_)) && !run.tried_twice.contains(&release);
        let Some(of) = run.plan.release(release).filter(|_| may) else { continue };
        let words = format!("{} hangs: try once more", of.label);
        if ui.add(egui::Button::new(words).wrap()).clicked() {
            requests.push(UiRequest::Rehearsal(RehearsalRequest::SecondTry(release)));
        }
    }
}
