//! The screen without a film: how to film a rehearsal, and how to open the film.

use crate::commands::Command;
use crate::request::Requests;
use crate::widgets::theme::bold;
use egui::{FontId, RichText, Ui};

/// The filming guide in short; the Paper screen prints it.
const GUIDE: [&str; 6] = [
    "The phone stands at the seat that counts, on a stand. It sees the whole fall, from the bar to the floor, the screens and the stage wash.",
    "50 pictures a second or more. Exposure and focus locked. No zoom while it films, nobody in front.",
    "The loudspeaker is heard at the phone: the song says when is when.",
    "Somebody claps once in the picture, close to the phone, before and after: it tells how much later the phone has its sound.",
    "An indicator lamp on the release contact, if there is one, is in the picture.",
    "Film stand-ins, or people who have agreed. No children without recorded consent.",
];

/// Shows it.
pub fn show(ui: &mut Ui, requests: &mut Requests) {
    ui.vertical_centered(|ui| {
        ui.set_max_width(680.0);
        ui.add_space((ui.available_height() * 0.12).min(90.0));
        ui.label(RichText::new("A film of a rehearsal shows every delay and drop").font(FontId::new(22.0, bold())));
        ui.add_space(8.0);
        ui.label("Film the rehearsal from the seats with a phone. Drop the file on this window, or");
        ui.add_space(6.0);
        if ui.button(RichText::new("Open a film…").font(FontId::new(16.0, bold()))).clicked() {
            requests.command(Command::OpenFilm);
        }
        ui.add_space(14.0);
        ui.with_layout(egui::Layout::top_down(egui::Align::LEFT), |ui| {
            for line in GUIDE {
                ui.horizontal_top(|ui| {
                    ui.label("•");
                    ui.add(egui::Label::new(line).wrap());
                });
            }
            ui.add_space(10.0);
            ui.label(
                "Films are read with the program “ffmpeg”, which your system may have to install; a sound file is read without it. \
                 A film of people is private: nothing of it is copied, kept or sent.",
            );
        });
    });
}
