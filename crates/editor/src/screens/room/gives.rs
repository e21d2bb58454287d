//! What the room gives: what seats see and when, what a projector's beam meets, how large silhouettes are. Worked out from what is committed.

use crate::document::Document;
use crate::widgets::fields::{Fields, heading};
use egui::Ui;
use letfall_core::room::sight::Reveal;
use letfall_core::room::{RoomFigures, bar_loads, length, mass, percent};
use letfall_core::show::{Instant, MeasuredDrop, Show};

/// Shows it.
pub fn show(ui: &mut Ui, document: &Document, draft: &mut Show, fields: &mut Fields) {
    let Ok(plan) = document.plan() else {
        ui.label("The song's marks must be mended before anything is worked out.");
        return;
    };
    let Some(figures) = plan.prepared_show().room() else { return };
    ui.add_space(6.0);
    heading(ui, "What the room gives");
    for reveal in &figures.reveals {
        seats(ui, reveal, draft, fields);
    }
    if figures.reveals.is_empty() {
        ui.label(
            "Say where a fabric hangs, who stands behind it and who sits before it: then this says who sees them when.",
        );
    }
    for view in &figures.named {
        let words = view.words();
        if !words.is_empty() {
            ui.label(format!("{}: sees {}", view.seat, words.join(", ")));
        }
    }
    beams(ui, document, figures);
    oblique(ui, figures, draft, fields);
    shadows(ui, document, figures);
    let units = document.show.settings.units;
    for load in bar_loads(&document.show).into_iter().filter(|load| !load.hangs.is_empty()) {
        ui.add_space(6.0);
        ui.label(format!(
            "{} is to carry {} of cloth and hardware. Ask the competent person whether it may.",
            load.bar,
            mass(load.hung_kg, units)
        ));
    }
}

fn seats(ui: &mut Ui, reveal: &Reveal, draft: &mut Show, fields: &mut Fields) {
    let units = draft.settings.units;
    let also: Vec<String> = reveal.named.iter().map(|seat| seat.also_words(draft)).collect();
    let Some(hang) = draft.hangs.iter_mut().find(|hang| hang.key == reveal.hang) else { return };
    let words = reveal.words();
    if !words.is_empty() {
        ui.label(format!("{}: {words}.", hang.name));
    }
    for (seat, also) in reveal.named.iter().zip(also) {
        if let Some((height, fall)) = seat.all {
            ui.label(format!("{}: past {}, {:.2} s after let-go", seat.seat, length(height, units), fall.expected));
            let taken = hang.sightline_from == seat.seat && (hang.sightline_m - height).abs() < 1e-9;
            let may = height > 0.0 && height <= hang.top_m;
            if taken {
                ui.label("This is the sightline that cues are timed by.");
            } else if may {
                // Drops were timed to a height: for another they say nothing.
                let was = hang.sightline_m;
                let moves = (was - height).abs() > 0.005;
                let is_timed = |drop: &&mut MeasuredDrop| drop.to == Instant::Sightline && drop.counts();
                let timed = if moves { hang.measured.iter_mut().filter(is_timed).count() } else { 0 };
                let strikes = match timed {
                    0 => String::new(),
                    1 => format!(", and strike 1 drop that was timed to {}", length(was, units)),
                    n => format!(", and strike {n} drops that were timed to {}", length(was, units)),
                };
                if fields.add(ui, &format!("Time cues of {} by what {} sees{strikes}", hang.name, seat.seat)) {
                    if moves {
                        for drop in hang.measured.iter_mut().filter(is_timed) {
                            drop.struck = format!("timed to a sightline of {}", length(was, units));
                        }
                    }
                    hang.sightline_m = height;
                    hang.sightline_from.clone_from(&seat.seat);
                }
            }
        }
        if !also.is_empty() {
            ui.label(format!("{}: {also}", seat.seat));
        }
        for (who, how) in [(&seat.before, "before it falls"), (&seat.never, "never: something is in the way")] {
            if !who.is_empty() {
                ui.label(format!("{}: sees {} {how}", seat.seat, who.join(", ")));
            }
        }
    }
    let from =
        if hang.sightline_from.is_empty() { "typed".to_owned() } else { format!("from {}", hang.sightline_from) };
    ui.label(format!("Cues are timed by a sightline of {} ({from}).", length(hang.sightline_m, units)));
    ui.add_space(6.0);
}

fn beams(ui: &mut Ui, document: &Document, figures: &RoomFigures) {
    let units = document.show.settings.units;
    let Some(room) = &document.show.room else { return };
    for figure in &figures.beams {
        let beam = &figure.beam;
        let lens = room.projectors.iter().find(|p| p.name == figure.projector).map_or("", |p| beam.lens(p).words());
        ui.add_space(6.0);
        ui.label(format!(
            "{}: {} away, throw ratio {:.2}, {lens}; {}",
            figure.projector,
            length(beam.distance_m, units),
            beam.ratio,
            beam.aim_words()
        ));
        for (what, share) in figure.in_the_way.iter().chain(&figure.people) {
            ui.label(format!("{what} cuts {} of its picture", percent(*share)));
        }
        let most = figure.passes_on.iter().map(|(_, lux)| *lux).fold(0.0, f64::max);
        if most > 0.0 {
            ui.label(format!("up to {most:.0} lx pass through on to people"));
        }
    }
}

/// Taking the oblique angle over from the projector's place, where it counts.
fn oblique(ui: &mut Ui, figures: &RoomFigures, draft: &mut Show, fields: &mut Fields) {
    for figure in &figures.beams {
        let output = draft.outputs.iter_mut().find(|output| output.key == figure.output);
        let Some((name, p)) = output.and_then(|output| Some((output.name.clone(), output.projection.as_mut()?))) else {
            continue;
        };
        let given = figure.beam.oblique_deg;
        if p.straight_size
            && (p.oblique_deg - given).abs() > 0.05
            && fields.add(ui, &format!("Take {given:.1}° over as the oblique angle of {name}"))
        {
            p.oblique_deg = given.clamp(letfall_core::limits::OBLIQUE.low, letfall_core::limits::OBLIQUE.high);
        }
    }
}

fn shadows(ui: &mut Ui, document: &Document, figures: &RoomFigures) {
    let units = document.show.settings.units;
    if !figures.shadows.is_empty() {
        ui.add_space(6.0);
    }
    for s in &figures.shadows {
        let off = if s.on_fabric { "" } else { ", head or sides beyond the fabric" };
        ui.label(format!(
            "{} by {}: {:.1} times as large, edge blurred over {}{off}{}",
            s.performer,
            s.lamp,
            s.shadow.times,
            length(s.shadow.edge_m, units),
            s.against_white.map_or_else(String::new, |times| format!(", {times:.1} : 1 against a white picture"))
        ));
    }
    for double in &figures.doubles {
        ui.label(format!(
            "{}: {} and {} throw two shadows, {} apart",
            double.performer,
            double.lamps.0,
            double.lamps.1,
            length(double.apart_m.0, units)
        ));
    }
}
