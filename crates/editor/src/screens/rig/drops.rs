//! The measured drops of a hang: when, how they were timed, and which a person struck.

use super::rows::take_out;
use crate::widgets::fields::{Fields, heads};
use egui::{Grid, Ui};
use letfall_core::limits;
use letfall_core::reveal::fall_time;
use letfall_core::show::{Hang, Instant, MeasuredDrop, TimedBy};

/// The drops.
pub fn drops(ui: &mut Ui, hang: &mut Hang, fields: &mut Fields) {
    let instants = [(Instant::Sightline, "to the sightline".to_owned()), (Instant::Floor, "to the floor".to_owned())];
    let methods: Vec<(Option<TimedBy>, String)> = std::iter::once((None, "not said how".to_owned()))
        .chain(TimedBy::ALL.map(|by| (Some(by), by.name().to_owned())))
        .collect();
    let (whose, mut gone) = (hang.name.clone(), None);
    Grid::new(("drops", hang.key.as_str())).spacing([10.0, 6.0]).show(ui, |ui| {
        if !hang.measured.is_empty() {
            heads(ui, &["Measured drops", "Timed", "Time", "How it was timed", "Note", "Struck, because", ""]);
        }
        for (at, drop) in hang.measured.iter_mut().enumerate() {
            let name = |part: &str| format!("{part} of drop {} of {whose}", at + 1);
            ui.label(format!("Drop {}", at + 1));
            fields.choice(ui, &mut drop.to, &instants, 140.0, &name("End"));
            fields.number(ui, &mut drop.seconds, &limits::MEASURED_DROP, &name("Time"));
            fields.choice(ui, &mut drop.by, &methods, 200.0, &name("How it was timed"));
            fields.text(ui, &mut drop.note, 200.0, &name("Note"));
            fields.text(ui, &mut drop.struck, 200.0, &name("Why it is struck"));
            if fields.remove(ui, &format!("drop {} of {whose}", at + 1)) {
                gone = Some(at);
            }
            ui.end_row();
        }
    });
    take_out(&mut hang.measured, gone);
    if !hang.measured.is_empty() {
        ui.label("Every drop counts. One that was timed wrongly is struck by writing why; it stays here and on paper.");
    }
    if fields.add(ui, "Add a measured drop") {
        let seconds = libm::round(fall_time(hang, Instant::Floor).expected * 100.0) / 100.0;
        hang.measured.push(MeasuredDrop {
            to: Instant::Floor,
            seconds,
            by: None,
            note: String::new(),
            struck: String::new(),
        });
    }
}
