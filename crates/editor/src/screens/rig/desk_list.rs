//! A desk's cue list pasted into presets, and numbers given anew.

use crate::document::Document;
use crate::request::Requests;
use crate::widgets::fields::heading;
use egui::{Grid, Ui};
use letfall_core::edit::{renumber, take_desk_list};
use letfall_core::show::ReceiverKey;
use letfall_export::desk_list;

/// What is being typed.
pub struct DeskListPanel {
    receiver: Option<ReceiverKey>,
    text: String,
    from: String,
    step: String,
}

impl Default for DeskListPanel {
    fn default() -> DeskListPanel {
        DeskListPanel { receiver: None, text: String::new(), from: "1".into(), step: "1".into() }
    }
}

impl DeskListPanel {
    /// Shows the panel below the presets.
    pub fn show(&mut self, ui: &mut Ui, document: &Document, requests: &mut Requests) {
        let show = &document.show;
        if show.receivers.is_empty() {
            return;
        }
        ui.add_space(14.0);
        heading(ui, "From the desk");
        ui.label("Paste the desk's cue list: number, name, fade, one row for each cue. Presets with that number or name are changed, others are new.");
        let known = self.receiver.as_ref().and_then(|key| show.receiver(key));
        let usual = || show.presets.first().and_then(|preset| show.receiver(&preset.receiver));
        let Some(chosen) = known.or_else(usual).or(show.receivers.first()).map(|r| (r.key.clone(), r.name.clone()))
        else {
            return;
        };
        Grid::new("desk list").num_columns(2).spacing([12.0, 6.0]).show(ui, |ui| {
            let label = ui.label("Desk");
            let combo = egui::ComboBox::from_id_salt("desk").selected_text(&chosen.1).width(180.0);
            let combo = combo.show_ui(ui, |ui| {
                for receiver in &show.receivers {
                    if ui.selectable_label(receiver.key == chosen.0, &receiver.name).clicked() {
                        self.receiver = Some(receiver.key.clone());
                    }
                }
            });
            combo.response.labelled_by(label.id);
            ui.end_row();
            let label = ui.label("Its list");
            let text = egui::TextEdit::multiline(&mut self.text).desired_rows(4).desired_width(420.0);
            ui.add(text.hint_text("1, Blackout, 1.5")).labelled_by(label.id);
            ui.end_row();
            ui.label("");
            if ui.add_enabled(!self.text.trim().is_empty(), egui::Button::new("Take the list over")).clicked() {
                let lines = desk_list::read(&self.text).map_err(|why| why.to_string());
                let taken =
                    lines.and_then(|lines| take_desk_list(show, &chosen.0, &lines).map_err(|why| why.to_string()));
                match taken {
                    Err(why) => requests.fail(why),
                    Ok((edit, taken)) => {
                        self.text.clear();
                        let words = format!("Take over a desk's list: {} changed, {} new", taken.changed, taken.new);
                        requests.commit(words, Ok(edit));
                        if !taken.without_message.is_empty() {
                            requests.fail(format!(
                                "No message could be worked out for {}: program 0 stands there, enter the right one.",
                                taken.without_message.join(", ")
                            ));
                        }
                    }
                }
            }
            ui.end_row();
            let label = ui.label("New numbers from");
            ui.horizontal(|ui| {
                let from = egui::TextEdit::singleline(&mut self.from).desired_width(60.0);
                ui.add(from).labelled_by(label.id);
                let label = ui.label("in steps of");
                let step = egui::TextEdit::singleline(&mut self.step).desired_width(44.0);
                ui.add(step).labelled_by(label.id);
                if ui.button("Renumber its presets").clicked() {
                    let number = |text: &str| {
                        text.trim().parse::<u32>().map_err(|_| format!("\"{text}\" is no whole number; write 1 or 101"))
                    };
                    let numbered = number(&self.from)
                        .and_then(|from| Ok((from, number(&self.step)?)))
                        .and_then(|(from, step)| renumber(show, &chosen.0, from, step).map_err(|why| why.to_string()));
                    match numbered {
                        Err(why) => requests.fail(why),
                        Ok((edit, _)) => requests.commit("Renumber presets".to_owned(), Ok(edit)),
                    }
                }
            });
            ui.end_row();
        });
        ui.label("A message that calls up the old number follows the new one.");
    }
}
