//! What all tables of the rig do with their rows.

use crate::widgets::fields::{Fields, name_it};
use egui::Ui;
use egui::accesskit::Role;
use letfall_core::show::{CuePath, Data7, Kind, Message, ReceiverKey, Show, ShowCommand};

/// Keys and names of a list, for a choice field.
macro_rules! named {
    ($list:expr) => {
        $list.iter().map(|one| (one.key.clone(), one.name.clone())).collect::<Vec<_>>()
    };
}
pub(crate) use named;

/// Shows a hint if a table is empty.
pub fn empty(ui: &mut Ui, is: bool, words: &str) {
    if is {
        ui.label(words);
    }
}

/// The receiver for a new item: that of the last item of its kind, otherwise a free one (preferably the one that a new show has
/// for this kind), otherwise the first. Free means that no other kind uses it, so a release shares another kind's receiver only
/// if none is free.
pub fn usual_receiver(show: &Show, kind: Kind) -> Option<ReceiverKey> {
    let of = |kind: Kind| -> Vec<&ReceiverKey> {
        match kind {
            Kind::Lighting => show.presets.iter().map(|p| &p.receiver).collect(),
            Kind::Media => show.media.iter().map(|m| &m.receiver).collect(),
            Kind::Output => show.routes.iter().map(|r| &r.receiver).collect(),
            Kind::Release => show.releases.iter().map(|r| &r.receiver).collect(),
        }
    };
    let others: Vec<&ReceiverKey> = Kind::ALL.into_iter().filter(|k| *k != kind).flat_map(of).collect();
    let fresh = match kind {
        Kind::Lighting => "lights",
        Kind::Media => "pictures",
        Kind::Output => "screens",
        Kind::Release => "contact",
    };
    let free = || show.receivers.iter().map(|r| &r.key).filter(|key| !others.contains(key));
    let named = || free().find(|key| key.as_str() == fresh);
    let last = if kind == Kind::Release { free().next_back() } else { free().next() };
    let any = || show.receivers.first().map(|r| &r.key);
    of(kind).last().copied().or_else(named).or(last).or_else(any).cloned().or_else(|| fresh.parse().ok())
}

/// The same message with its number increased by one.
pub fn next(message: &Message) -> Message {
    let up = |n: Data7| Data7::new(n.get() + 1).unwrap_or(n);
    match message {
        Message::Note { key, velocity, length } => {
            Message::Note { key: up(*key), velocity: *velocity, length: *length }
        }
        Message::Program { number, bank } => Message::Program { number: up(*number), bank: *bank },
        Message::ShowControl(ShowCommand::Go(path)) => {
            let cue = path.cue.as_ref().and_then(|c| c.as_str().parse::<u32>().ok());
            let cue = cue.and_then(|n| n.checked_add(1)?.to_string().parse().ok());
            Message::ShowControl(ShowCommand::Go(CuePath { cue: cue.or_else(|| path.cue.clone()), ..path.clone() }))
        }
        other => other.clone(),
    }
}

/// Buttons that add one row or six. Returns how many were asked for.
pub fn add(ui: &mut Ui, fields: &mut Fields, one: &str) -> usize {
    ui.horizontal(|ui| {
        let (single, six) = (fields.add(ui, one), fields.add(ui, "Add six"));
        if six { 6 } else { usize::from(single) }
    })
    .inner
}

/// A button that gives the rows below what this row has. It does not stand beside what removes a row.
pub fn fill_down(ui: &mut Ui, fields: &mut Fields, name: &str, help: &str) -> bool {
    let response = ui.small_button("Fill down").on_hover_text(help);
    name_it(&response, Role::Button, &format!("Fill down from {name}"));
    fields.done |= response.clicked();
    response.clicked()
}

/// Removes a row from a list.
pub fn take_out<T>(list: &mut Vec<T>, at: Option<usize>) {
    if let Some(at) = at {
        list.remove(at);
    }
}
