//! `letfall room`

use super::common::{count, json_line, line};
use crate::cli;
use crate::output::{Answer, CommandOutput};
use letfall_core::prepared::{OutsideFacts, PreparedShow};
use letfall_core::room::beam::Lens;
use letfall_core::room::sight::{c_word, row_c_values};
use letfall_core::room::{
    RoomFigures, SeatView, Settled, bar_loads, facts_and_questions, length, mass, percent, seat_views,
};
use letfall_core::show::room::{Projector, Room};
use letfall_core::show::{Show, Units};
use letfall_files::Failure;
use serde_json::json;
use std::sync::Arc;

/// About all figures here.
const CAUTION: &str = "Plain geometry and figures to talk over. What may be hung, where and how, is for the competent person to say; local rules come first.";

pub fn run(args: &cli::Room) -> Answer {
    let show = Arc::new(crate::streams::read_show(&args.show)?);
    let prepared = PreparedShow::new(show.clone(), OutsideFacts::none());
    let settled = facts_and_questions(&show);
    let Some((room, figures)) = show.room.as_ref().zip(prepared.room()) else {
        let why = "the show describes no room; describe it on the editor's Room screen, or in the file's “room”";
        return Err(Failure::Use(why.to_owned()));
    };
    let text =
        if args.json { as_json(&show, room, figures, &settled) } else { as_text(&show, room, figures, &settled) };
    Ok(CommandOutput { text, remarks: Vec::new(), found_stop: false, is_report: false })
}

fn as_text(show: &Show, room: &Room, figures: &RoomFigures, settled: &Settled) -> String {
    let units = show.settings.units;
    let m = |metres: f64| length(metres, units);
    let mut text = String::new();
    line!(text, "{CAUTION}");
    line!(text, "\nWhat hangs");
    for load in bar_loads(show).iter().filter(|load| !load.hangs.is_empty()) {
        line!(text, "  {}: {} of cloth and hardware ({})", load.bar, mass(load.hung_kg, units), load.hangs.join(", "));
    }
    line!(text, "\nWhat seats see");
    for view in &figures.named {
        line!(text, "  {:<32}{}", view.seat, view.words().join(", "));
    }
    if !room.blocks.is_empty() {
        let seats = seat_views(show);
        let least = |of: &dyn Fn(&SeatView) -> f64| seats.iter().map(of).fold(1.0, f64::min);
        let fabric = least(&|view| view.fabrics.iter().map(|f| f.1).fold(1.0, f64::min));
        let screen = least(&|view| view.screens.iter().map(|s| s.1).fold(1.0, f64::min));
        let all = count(seats.len(), "seat");
        let mut parts = Vec::new();
        if !room.fabrics.is_empty() {
            parts.push(format!("{} of fabric", percent(fabric)));
        }
        if !room.screens.is_empty() {
            parts.push(format!("{} of screen", percent(screen)));
        }
        if !parts.is_empty() {
            line!(text, "  {all} in blocks: at least {}", parts.join(", "));
        }
    }
    for block in &room.blocks {
        let values: Vec<f64> = row_c_values(room, block).into_iter().flatten().collect();
        if let Some(least) = values.iter().copied().min_by(f64::total_cmp) {
            line!(text, "  {}: C-value {} at least ({})", block.name, length(least, units), c_word(least));
        }
    }
    for reveal in &figures.reveals {
        let name = show.hang(&reveal.hang).map_or("", |hang| hang.name.as_str());
        let words = reveal.words();
        if !words.is_empty() {
            line!(text, "  {name}: {words}");
        }
        for seat in &reveal.named {
            if let Some((height, fall)) = seat.all {
                let also = seat.also_words(show);
                let also = if also.is_empty() { also } else { format!("; {also}") };
                line!(
                    text,
                    "    {:<30}past {} above the floor, {:.2} s after let-go ({}){also}",
                    seat.seat,
                    m(height),
                    fall.expected,
                    fall.source()
                );
            }
            for (who, how) in [(&seat.before, "before it falls"), (&seat.never, "not at all: something is in the way")]
            {
                if !who.is_empty() {
                    line!(text, "    {:<30}{} {how}", seat.seat, who.join(", "));
                }
            }
        }
    }
    beams(&mut text, room, figures, units);
    if !figures.shadows.is_empty() {
        line!(text, "\nSilhouettes");
    }
    for s in &figures.shadows {
        let off = if s.on_fabric { "" } else { ", head or sides beyond the fabric" };
        line!(
            text,
            "  {} by {}: {:.2} times as large, edge blurred over {}{off}{}",
            s.performer,
            s.lamp,
            s.shadow.times,
            m(s.shadow.edge_m),
            s.against_white.map_or_else(String::new, |times| format!(", {times:.1} : 1 against a white picture"))
        );
    }
    for double in &figures.doubles {
        line!(
            text,
            "  {}: {} and {} throw two shadows, {} apart across and {} up",
            double.performer,
            double.lamps.0,
            double.lamps.1,
            m(double.apart_m.0),
            m(double.apart_m.1)
        );
    }
    line!(text, "\nKnown");
    for fact in &settled.known {
        let by = if fact.by.is_empty() { String::new() } else { format!(" ({})", fact.by) };
        line!(text, "  {}: {}{by}", fact.what, fact.figure);
    }
    line!(text, "\nTo ask");
    for question in &settled.ask {
        line!(text, "  {} – {}", question.what, question.ask);
    }
    text
}

fn beams(text: &mut String, room: &Room, figures: &RoomFigures, units: Units) {
    let m = |metres: f64| length(metres, units);
    if !figures.beams.is_empty() {
        line!(text, "\nProjectors");
    }
    for figure in &figures.beams {
        let beam = &figure.beam;
        let lens =
            room.projectors.iter().find(|p| p.name == figure.projector).map_or("", |p| lens_words(p, beam.lens(p)));
        line!(
            text,
            "  {}: {} away, throw ratio {:.2} ({lens}), {}, {} of the picture cut",
            figure.projector,
            m(beam.distance_m),
            beam.ratio,
            beam.aim_words(),
            percent(beam.cut)
        );
        for (what, share) in figure.in_the_way.iter().chain(&figure.people) {
            line!(text, "    {what} cuts {} of it", percent(*share));
        }
        for (who, lux) in &figure.passes_on {
            line!(text, "    {lux:.0} lx pass on to {who}");
        }
    }
}

fn lens_words(projector: &Projector, lens: Lens) -> &'static str {
    match lens {
        Lens::Within if projector.throw_least < projector.throw_most => "within the lens's zoom",
        Lens::Within => "the lens's own",
        Lens::TooNear => "too near for the lens",
        Lens::TooFar => "too far for the lens",
    }
}

fn as_json(show: &Show, room: &Room, figures: &RoomFigures, settled: &Settled) -> String {
    let mut text = String::new();
    for load in bar_loads(show) {
        let value = json!({"is": "bar", "bar": load.bar, "own_kg": load.own_kg, "hung_kg": load.hung_kg,
            "per_metre_kg": load.per_metre_kg, "hangs": load.hangs, "points": load.points});
        json_line(&mut text, &value);
    }
    let shares =
        |list: Vec<(&str, f64)>| list.into_iter().map(|(of, seen)| json!({"of": of, "seen": seen})).collect::<Vec<_>>();
    let from_blocks = if room.blocks.is_empty() { Vec::new() } else { seat_views(show) };
    for view in figures.named.iter().chain(&from_blocks) {
        let value = json!({"is": "seat", "seat": view.seat, "which": view.kind,
            "fabrics": shares(view.fabrics.iter().map(|f| (f.0.as_str(), f.1)).collect()),
            "screens": shares(view.screens.iter().map(|s| (s.0.as_str(), s.1)).collect()),
            "performers": shares(view.performers.iter().map(|p| (p.0.as_str(), p.1)).collect())});
        json_line(&mut text, &value);
    }
    for reveal in &figures.reveals {
        let from_blocks = if room.blocks.is_empty() { [].iter() } else { reveal.seats.iter() };
        for seat in reveal.named.iter().chain(from_blocks) {
            let value = json!({"is": "reveal", "fabric": reveal.hang.as_str(), "seat": seat.seat,
                "sightline_m": seat.all.map(|all| all.0),
                "after_us": seat.all.map(|all| letfall_core::time::SongSpan::from_secs_f64(all.1.expected).micros()),
                "before": seat.before, "never": seat.never,
                "also_behind": seat.also.iter().map(|(hang, _)| hang.as_str()).collect::<Vec<_>>()});
            json_line(&mut text, &value);
        }
    }
    for figure in &figures.beams {
        let beam = &figure.beam;
        let lens = room.projectors.iter().find(|p| p.name == figure.projector).map(|p| match beam.lens(p) {
            Lens::Within => "within",
            Lens::TooNear => "too-near",
            Lens::TooFar => "too-far",
        });
        let cuts = |list: &[(String, f64)]| {
            list.iter().map(|(what, share)| json!({"what": what, "cuts": share})).collect::<Vec<_>>()
        };
        let passes: Vec<_> = figure.passes_on.iter().map(|(who, lux)| json!({"who": who, "lux": lux})).collect();
        let value = json!({"is": "projector", "projector": figure.projector, "output": figure.output.as_str(),
            "distance_m": beam.distance_m, "throw_ratio": beam.ratio, "lens": lens,
            "offset_percent": beam.offset_percent, "tilt_deg": beam.tilt_deg, "turn_deg": beam.turn_deg,
            "oblique_deg": beam.oblique_deg, "pixel_mm": beam.pixel_mm, "cut": beam.cut,
            "in_the_way": cuts(&figure.in_the_way), "people": cuts(&figure.people), "passes_on": passes});
        json_line(&mut text, &value);
    }
    for s in &figures.shadows {
        let value = json!({"is": "silhouette", "lamp": s.lamp, "performer": s.performer, "fabric": s.hang.as_str(),
            "lamp_m": s.lamp_m, "person_m": s.person_m, "times": s.shadow.times, "edge_m": s.shadow.edge_m,
            "across_m": s.shadow.across, "width_m": s.shadow.width_m, "top_m": s.shadow.top, "feet_m": s.shadow.feet,
            "on_fabric": s.on_fabric, "against_white": s.against_white});
        json_line(&mut text, &value);
    }
    for double in &figures.doubles {
        let value = json!({"is": "double", "performer": double.performer, "lamps": [double.lamps.0, double.lamps.1],
            "across_m": double.apart_m.0, "up_m": double.apart_m.1});
        json_line(&mut text, &value);
    }
    for fact in &settled.known {
        json_line(&mut text, &json!({"is": "known", "what": fact.what, "figure": fact.figure, "by": fact.by}));
    }
    for question in &settled.ask {
        json_line(&mut text, &json!({"is": "ask", "what": question.what, "ask": question.ask}));
    }
    text
}
