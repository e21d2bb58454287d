//! Ports, receivers, lighting presets.

use super::drawings;
use super::message;
use super::rows::{add, empty, fill_down, named, next, take_out, usual_receiver};
use crate::widgets::fields::{Fields, free_key, heading, heads};
use egui::{Grid, RichText, Ui};
use letfall_core::limits;
use letfall_core::prepared::Prepared;
use letfall_core::schedule::{is_unsaid, usual_latency};
use letfall_core::show::{Channel, Combine, Data7, Kind, Latency, Link, Port, Preset, Receiver, Show};
use letfall_core::time::SongSpan;
use std::collections::BTreeSet;

/// Ports and receivers.
pub fn devices(ui: &mut Ui, show: &mut Show, fields: &mut Fields, plan: Option<&Prepared>) {
    heading(ui, "Ports");
    ui.label("One wire each. Messages that are due together wait for one another on the same port.");
    let mut gone = None;
    Grid::new("ports").striped(true).spacing([12.0, 6.0]).show(ui, |ui| {
        if !show.ports.is_empty() {
            heads(ui, &["Name", "Link", "Bytes a second", ""]);
        }
        for (at, port) in show.ports.iter_mut().enumerate() {
            let whose = port.name.clone();
            fields.text(ui, &mut port.name, 190.0, "Port name");
            let mut din = port.link == Link::Din;
            let links = [(true, "5-pin, 31.25 kbaud".to_owned()), (false, "another speed".to_owned())];
            fields.choice(ui, &mut din, &links, 170.0, &format!("Link of {whose}"));
            let mut rate = if let Link::BytesPerSecond(rate) = port.link { rate } else { 3125 };
            if din {
                ui.label("3125");
                port.link = Link::Din;
            } else {
                fields.whole(ui, &mut rate, &limits::BYTES_PER_SECOND, &format!("Bytes a second of {whose}"));
                port.link = Link::BytesPerSecond(rate);
            }
            if fields.remove(ui, &whose) {
                gone = Some(at);
            }
            ui.end_row();
        }
    });
    take_out(&mut show.ports, gone);
    if fields.add(ui, "Add a port")
        && let Some(key) = free_key("port", show.ports.iter().map(|p| p.key.as_str()))
    {
        show.ports.push(Port {
            key,
            name: format!("Port {}", show.ports.len() + 1),
            link: Link::Din,
            sync_confirmed_by: String::new(),
            shared_with: String::new(),
        });
    }
    if let Some(plan) = plan {
        traffic(ui, plan);
    }
    ui.add_space(14.0);
    receivers(ui, show, fields);
}

/// The traffic on each port in the service on screen, and its busiest moment.
fn traffic(ui: &mut Ui, plan: &Prepared) {
    let grid = &plan.grid();
    for (port, used) in plan.show().ports.iter().zip(&plan.schedule().ports) {
        let worst = used.worst.filter(|w| w.waits > SongSpan::ZERO).map_or_else(
            || "no message waits for another".to_owned(),
            |w| {
                let place = grid.place_text(grid.tick_at(w.due));
                format!("worst moment {place}: {} waits {:.2} ms", w.label, w.waits.micros() as f64 / 1000.0)
            },
        );
        let name = &plan.service().name;
        let messages = if used.messages == 1 { "message" } else { "messages" };
        ui.label(format!("{}: {} {messages}, {} bytes in {name}; {worst}", port.name, used.messages, used.bytes));
    }
}

fn receivers(ui: &mut Ui, show: &mut Show, fields: &mut Fields) {
    heading(ui, "Receivers");
    empty(ui, show.receivers.is_empty(), "Devices that get messages: lighting, media, screens, the release box.");
    let ports = named!(show.ports);
    let mut gone = None;
    Grid::new("receivers").striped(true).spacing([10.0, 6.0]).show(ui, |ui| {
        if !show.receivers.is_empty() {
            let names = [
                "Name",
                "Port",
                "Channel",
                "Device",
                "Format",
                "Latency",
                "Spread",
                "Measured, times",
                "Shortest gap",
                "Who answers",
                "",
            ];
            heads(ui, &names);
        }
        for (at, receiver) in show.receivers.iter_mut().enumerate() {
            let whose = receiver.name.clone();
            let name = |part: &str| format!("{part} of {whose}");
            fields.text(ui, &mut receiver.name, 120.0, "Receiver name");
            fields.choice(ui, &mut receiver.port, &ports, 150.0, &name("Port"));
            let channel = (|c: Channel| u16::from(c.get()), |n| u8::try_from(n).ok().and_then(Channel::new));
            fields.small(ui, &mut receiver.channel, channel, 1..=16, &name("Channel"));
            let data = || (|d: Data7| u16::from(d.get()), |n| u8::try_from(n).ok().and_then(Data7::new));
            fields.small(ui, &mut receiver.device, data(), 0..=127, &name("Show-control device"));
            fields.small(ui, &mut receiver.format, data(), 1..=127, &name("Show-control command format"));
            fields.span(ui, &mut receiver.latency.mean, &limits::LATENCY, &name("Latency"));
            fields.span(ui, &mut receiver.latency.spread, &limits::LATENCY_SPREAD, &name("Latency spread"));
            fields.whole(ui, &mut receiver.latency.measured, &limits::LATENCY_TIMES, &name("Times measured"));
            fields.span(ui, &mut receiver.gap, &limits::SHORTEST_GAP, &name("Shortest gap"));
            fields.text(ui, &mut receiver.answers, 130.0, &name("Who answers"));
            if fields.remove(ui, &whose) {
                gone = Some(at);
            }
            ui.end_row();
        }
    });
    take_out(&mut show.receivers, gone);
    if fields.add(ui, "Add a receiver")
        && let Some(key) = free_key("receiver", show.receivers.iter().map(|r| r.key.as_str()))
        && let Some(port) = show.ports.first().map(|p| p.key.clone()).or_else(|| "port".parse().ok())
    {
        show.receivers.push(Receiver {
            key,
            name: format!("Receiver {}", show.receivers.len() + 1),
            port,
            channel: Channel::new(1),
            device: None,
            format: None,
            channel_confirmed_by: String::new(),
            latency: Latency::default(),
            warm_up: None,
            combines: Combine::Highest,
            gap: SongSpan::ZERO,
            answers: String::new(),
        });
    }
    unsaid(ui, show, fields);
    ui.add_space(6.0);
    lamps(ui, show, fields);
    release_boxes(ui, show, fields);
    ui.label(
        "Channel: for notes, programs, controllers. Device and format: for show control (MIDI Show Control 1.1.1), such as format 1 for lighting. \
         Latency: measure it from message to what is seen, ten times; the spread is one standard deviation. 0 times: only stated, so it counts for less.",
    );
}

/// Receivers of which nobody has said how long they take: what is assumed, and what could be taken for it until it is measured.
fn unsaid(ui: &mut Ui, show: &mut Show, fields: &mut Fields) {
    drawings::latencies(ui, show);
    let kinds: Vec<Option<Kind>> = show.receivers.iter().map(|r| drawings::used_for(show, &r.key)).collect();
    for (receiver, kind) in show.receivers.iter_mut().zip(kinds) {
        let Some(kind) = kind.filter(|_| is_unsaid(receiver.latency)) else { continue };
        let [least, usual, most] = usual_latency(kind).map(|span| span.micros() / 1000);
        ui.horizontal_wrapped(|ui| {
            let words = format!(
                "{}: nobody has said how long it takes. {least} to {most} ms are assumed, and nothing is sent earlier for it.",
                receiver.name
            );
            ui.label(RichText::new(words).italics());
            if fields.add(ui, &format!("Count on {usual} ms until {} is measured", receiver.name)) {
                receiver.latency.mean = SongSpan::from_millis(usual);
            }
        });
    }
}

/// What the lamps of lighting receivers do: how they come up, and what becomes of a preset when another track recalls one.
fn lamps(ui: &mut Ui, show: &mut Show, fields: &mut Fields) {
    let lighting: BTreeSet<_> = show.presets.iter().map(|preset| preset.receiver.clone()).collect();
    if lighting.is_empty() {
        return;
    }
    heading(ui, "Lamps");
    let rules = [
        (Combine::Highest, "each track keeps its state, the highest level counts".to_owned()),
        (Combine::Latest, "the newest preset replaces all others".to_owned()),
    ];
    Grid::new("lamps").striped(true).spacing([12.0, 6.0]).show(ui, |ui| {
        heads(ui, &["Receiver", "Warm-up of its lamps", "", "When two tracks recall presets"]);
        for receiver in show.receivers.iter_mut().filter(|receiver| lighting.contains(&receiver.key)) {
            let whose = receiver.name.clone();
            ui.label(&whose);
            fields.maybe_span(ui, &mut receiver.warm_up, &limits::WARM_UP, &format!("Warm-up of {whose}"));
            let assumed = receiver.warm_up.is_none();
            ui.label(if assumed { "not tried: 0 to 300 ms are assumed" } else { "0: they come at once, as LEDs do" });
            fields.choice(ui, &mut receiver.combines, &rules, 380.0, &format!("How presets add up on {whose}"));
            ui.end_row();
        }
    });
    ui.add_space(6.0);
}

/// What people have tried about the boxes that fire releases, and about the ports that lead to them. Without it Letfall counts on the
/// worst: a box that answers every channel, and devices that start at timecode.
fn release_boxes(ui: &mut Ui, show: &mut Show, fields: &mut Fields) {
    let boxes: Vec<_> = show.releases.iter().map(|release| release.receiver.clone()).collect();
    if boxes.is_empty() {
        return;
    }
    heading(ui, "Where releases hang");
    Grid::new("release boxes").num_columns(2).spacing([12.0, 6.0]).show(ui, |ui| {
        let mut ports = Vec::new();
        for receiver in show.receivers.iter_mut().filter(|r| boxes.contains(&r.key)) {
            ports.push(receiver.port.clone());
            let words = format!("{} answers its own channel only: tried by", receiver.name);
            ui.label(&words);
            fields.text(ui, &mut receiver.channel_confirmed_by, 380.0, &words);
            ui.end_row();
        }
        for port in show.ports.iter_mut().filter(|p| ports.contains(&p.key)) {
            let words = format!("Nothing on {} answers to timecode or clock: tried by", port.name);
            ui.label(&words);
            fields.text(ui, &mut port.sync_confirmed_by, 380.0, &words);
            ui.end_row();
            let words = format!("What else can send to {}", port.name);
            ui.label(&words);
            fields.text(ui, &mut port.shared_with, 380.0, &words);
            ui.end_row();
        }
    });
    ui.label(
        "While nobody has tried it, a box counts as one that answers every channel, and no timecode or clock is sent to its port.",
    );
    ui.add_space(6.0);
}

/// Where the presets' light falls: it washes out pictures, and from behind it makes the silhouettes.
fn light_of_presets(ui: &mut Ui, show: &mut Show, fields: &mut Fields) {
    if show.presets.is_empty() || show.hangs.is_empty() && show.outputs.iter().all(|o| o.projection.is_none()) {
        return;
    }
    ui.add_space(10.0);
    heading(ui, "Where their light falls, as measured with the preset alone");
    let mut behind = vec![(None, "not from behind".to_owned())];
    behind.extend(show.hangs.iter().map(|hang| (Some(hang.key.clone()), format!("from behind “{}”", hang.name))));
    Grid::new("light of presets").striped(true).spacing([10.0, 6.0]).show(ui, |ui| {
        heads(ui, &["Preset", "On the pictures' front", "From behind", "On the fabric's back"]);
        for preset in &mut show.presets {
            let whose = preset.name.clone();
            let name = |part: &str| format!("{part} of {whose}");
            ui.label(&whose);
            fields.number(ui, &mut preset.front_lux, &limits::FRONT_LIGHT, &name("Light on the front"));
            fields.choice(ui, &mut preset.behind, &behind, 220.0, &name("Fabric lit from behind"));
            fields.number(ui, &mut preset.back_lux, &limits::BACK_LIGHT, &name("Light on the back"));
            ui.end_row();
        }
    });
    ui.add_space(6.0);
}

/// Lighting presets.
pub fn presets(ui: &mut Ui, show: &mut Show, fields: &mut Fields) {
    heading(ui, "Presets");
    empty(ui, show.presets.is_empty(), "Lighting states that a receiver holds, each with the message that recalls it.");
    let receivers = named!(show.receivers);
    let (all, mut gone, mut filled) = (show.receivers.clone(), None, None);
    Grid::new("presets").striped(true).spacing([10.0, 6.0]).show(ui, |ui| {
        if !show.presets.is_empty() {
            heads(ui, &["Name", "Desk", "Receiver", "Fade", "Colour", "Level", "", "Message", ""]);
        }
        for (at, preset) in show.presets.iter_mut().enumerate() {
            let whose = preset.name.clone();
            let name = |part: &str| format!("{part} of {whose}");
            fields.text(ui, &mut preset.name, 200.0, "Preset name");
            fields.text(ui, &mut preset.desk, 52.0, &name("Desk number"));
            fields.choice(ui, &mut preset.receiver, &receivers, 110.0, &name("Receiver"));
            fields.seconds(ui, &mut preset.fade, &limits::PRESET_FADE, &name("Fade"));
            fields.colour(ui, &mut preset.colour, &name("Colour"));
            fields.whole(ui, &mut preset.level, &limits::LEVEL, &name("Level"));
            if fill_down(
                ui,
                fields,
                &whose,
                "Gives every preset below this receiver, fade, colour and level, and the message numbers that follow.",
            ) {
                filled = Some(at);
            }
            let receiver = all.iter().find(|r| r.key == preset.receiver);
            message::message(ui, fields, &mut preset.message, receiver, &whose);
            if fields.remove(ui, &whose) {
                gone = Some(at);
            }
            ui.end_row();
        }
    });
    if let Some(from) = filled {
        for at in from + 1..show.presets.len() {
            let above = show.presets[at - 1].clone();
            let preset = &mut show.presets[at];
            (preset.fade, preset.colour, preset.level) = (above.fade, above.colour, above.level);
            (preset.receiver, preset.message) = (above.receiver, next(&above.message));
        }
    }
    take_out(&mut show.presets, gone);
    light_of_presets(ui, show, fields);
    for _ in 0..add(ui, fields, "Add a preset") {
        let Some(key) = free_key("preset", show.presets.iter().map(|p| p.key.as_str())) else { return };
        // Start from the last preset with the next number, because presets are mostly consecutive cue numbers.
        let last = show.presets.last();
        let Some(receiver) = usual_receiver(show, Kind::Lighting) else { return };
        let message = last.map_or_else(|| message::note(0), |p| next(&p.message));
        show.presets.push(Preset {
            key,
            name: format!("Preset {}", show.presets.len() + 1),
            receiver,
            desk: String::new(),
            message,
            fade: SongSpan::from_millis(1000),
            colour: "ffffff".to_owned(),
            level: 100,
            behind: None,
            front_lux: 0.0,
            back_lux: 0.0,
        });
    }
}
