//! Small drawings worked from the facts beside them: the hang from the front, the voltage at each unit, how long each receiver takes.

use crate::widgets::fields::{FOOT, POUND, name_it};
use crate::widgets::points::points;
use egui::accesskit::Role;
use egui::{Align2, Color32, FontId, Painter, Pos2, Rect, Sense, Stroke, StrokeKind, Ui, vec2};
use letfall_core::reveal::{unit_places, unit_volts, weight_figures, worst_case};
use letfall_core::schedule::{is_unsaid, usual_latency};
use letfall_core::show::{Hang, Kind, Receiver, ReceiverKey, Release, Show, Units};

/// The colours of a drawing.
struct Ink {
    line: Color32,
    quiet: Color32,
    fabric: Color32,
    alarm: Color32,
}

fn ink(ui: &Ui) -> Ink {
    let visuals = ui.visuals();
    Ink {
        line: visuals.text_color(),
        quiet: visuals.weak_text_color(),
        fabric: visuals.selection.bg_fill.gamma_multiply(0.25),
        alarm: visuals.error_fg_color,
    }
}

/// Room for a drawing, with a name that says what it shows.
fn room(ui: &mut Ui, height: f32, name: &str) -> (Painter, Rect) {
    let width = ui.available_width().clamp(320.0, 620.0);
    let (rect, response) = ui.allocate_exact_size(vec2(width, height), Sense::hover());
    name_it(&response, Role::Image, name);
    let painter = ui.painter_at(rect);
    painter.rect_stroke(rect.shrink(0.5), 4.0, Stroke::new(1.0, ink(ui).quiet.gamma_multiply(0.5)), StrokeKind::Inside);
    (painter, rect.shrink(10.0))
}

fn words(painter: &Painter, at: Pos2, align: Align2, text: impl ToString, colour: Color32) {
    painter.text(at, align, text, FontId::proportional(12.5), colour);
}

/// The hang from the front, as the audience sees it: bar, fabric, sightline, units with the share of cloth that each carries.
pub fn hang(ui: &mut Ui, hang: &Hang, release: Option<&Release>, units: Units) {
    let ink = ink(ui);
    let (length, length_unit, mass, mass_unit) =
        if units == Units::Metric { (1.0, "m", 1.0, "kg") } else { (FOOT, "ft", POUND, "lb") };
    let (painter, area) = room(ui, 230.0, &format!("{} from the front", hang.name));
    // The floor at the bottom, the top edge at the top; as many metres to a point across as down.
    let (ground, head) = (area.bottom() - 14.0, area.top() + 34.0);
    let high = hang.top_m.max(hang.drop_m).max(0.1);
    let wide = hang.width_m.max(hang.bar_m.unwrap_or(0.0)).max(0.1);
    let scale = f64::from(ground - head).min(f64::from(area.width() - 150.0) * high / wide) / high;
    let (middle, y) = (area.center().x, |metres: f64| ground - points(metres * scale));
    let x = |from_left: f64| middle + points((from_left - hang.width_m / 2.0) * scale);
    let bar = hang.bar_m.unwrap_or(hang.width_m);
    let over = points((bar - hang.width_m) / 2.0 * scale).max(0.0);
    painter.line_segment([Pos2::new(area.left(), ground), Pos2::new(area.right(), ground)], Stroke::new(1.5, ink.line));
    let cloth =
        Rect::from_min_max(Pos2::new(x(0.0), y(hang.top_m)), Pos2::new(x(hang.width_m), y(hang.top_m - hang.drop_m)));
    painter.rect(cloth, 0.0, ink.fabric, Stroke::new(1.5, ink.line), StrokeKind::Inside);
    let top = y(hang.top_m) - 6.0;
    painter.line_segment(
        [Pos2::new(x(0.0) - over, top), Pos2::new(x(hang.width_m) + over, top)],
        Stroke::new(4.0, ink.line),
    );
    let sight = y(hang.sightline_m);
    for dash in 0..40u8 {
        let from = area.left() + f32::from(dash) * area.width() / 40.0;
        painter.line_segment(
            [Pos2::new(from, sight), Pos2::new(from + area.width() / 80.0, sight)],
            Stroke::new(1.0, ink.quiet),
        );
    }
    let at = Pos2::new(area.left() + 2.0, sight - 2.0);
    words(
        &painter,
        at,
        Align2::LEFT_BOTTOM,
        format!("sightline {:.2} {length_unit}", hang.sightline_m / length),
        ink.quiet,
    );
    let size = format!("{:.2} × {:.2} {length_unit}", hang.width_m / length, hang.drop_m / length);
    words(&painter, cloth.center(), Align2::CENTER_CENTER, size, ink.line);
    let Some(release) = release else {
        return words(&painter, area.center_top(), Align2::CENTER_TOP, "no release on it yet", ink.quiet);
    };
    let figures = weight_figures(hang, release);
    let places = unit_places(hang, release);
    for (at, share) in places.iter().zip(&figures.units_kg) {
        painter.circle_filled(Pos2::new(x(*at), top), 4.5, ink.line);
        if places.len() <= 16 {
            let at = Pos2::new(x(*at), top - 8.0);
            words(&painter, at, Align2::CENTER_BOTTOM, format!("{:.2}", share / mass), ink.line);
        }
    }
    let text = format!("{mass_unit} of cloth on each of {} units", places.len());
    words(&painter, area.right_bottom(), Align2::RIGHT_BOTTOM, text, ink.quiet);
}

/// A release's circuit: the supply, the cable, and what reaches each unit at the worst, beside what a hot unit needs.
pub fn circuit(ui: &mut Ui, release: &Release) {
    let Some(circuit) = &release.circuit else { return };
    let (Ok(volts), Ok(worst)) = (unit_volts(circuit, release.units), worst_case(circuit, release.units)) else {
        return;
    };
    let ink = ink(ui);
    let (painter, area) = room(ui, 128.0, &format!("Voltage at each unit of {}", release.name));
    let supply = Rect::from_min_size(Pos2::new(area.left(), area.center().y - 20.0), vec2(74.0, 40.0));
    painter.rect_stroke(supply, 3.0, Stroke::new(1.5, ink.line), StrokeKind::Inside);
    words(&painter, supply.center(), Align2::CENTER_CENTER, format!("{:.1} V", worst.supply_v), ink.line);
    words(&painter, supply.center_bottom() + vec2(0.0, 3.0), Align2::CENTER_TOP, "at worst", ink.quiet);
    // As many as have room for their figure; the farthest is always shown.
    let from = supply.right() + 40.0;
    let each = 52.0;
    #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)]
    let fits = ((area.right() - from) / each).floor().max(2.0) as usize;
    let shown: Vec<usize> =
        if volts.len() <= fits { (0..volts.len()).collect() } else { (0..fits - 1).chain([volts.len() - 1]).collect() };
    let y = area.center().y;
    let mut before = supply.right();
    for (nth, unit) in shown.iter().enumerate() {
        let centre = Pos2::new(from + each * (nth as f32 + 0.5), y);
        let short = volts[*unit] < worst.needed_v;
        let colour = if short { ink.alarm } else { ink.line };
        let skipped = nth > 0 && *unit > shown[nth - 1] + 1;
        let stroke = Stroke::new(if skipped { 1.0 } else { 2.0 }, if skipped { ink.quiet } else { ink.line });
        painter.line_segment([Pos2::new(before, y), Pos2::new(centre.x - 9.0, y)], stroke);
        if skipped {
            words(&painter, Pos2::new(centre.x - each / 2.0, y - 4.0), Align2::CENTER_BOTTOM, "…", ink.quiet);
        }
        let unit_box = Rect::from_center_size(centre, vec2(18.0, 18.0));
        painter.rect_filled(unit_box, 2.0, colour);
        words(
            &painter,
            unit_box.center_top() - vec2(0.0, 3.0),
            Align2::CENTER_BOTTOM,
            format!("{:.2} V", volts[*unit]),
            colour,
        );
        words(&painter, unit_box.center_bottom() + vec2(0.0, 3.0), Align2::CENTER_TOP, unit + 1, ink.quiet);
        before = centre.x + 9.0;
    }
    let need =
        format!("a hot unit needs {:.2} V; the farthest has {:+.2} V to spare", worst.needed_v, worst.margin_v());
    let colour = if worst.margin_v() < 0.0 { ink.alarm } else { ink.quiet };
    words(&painter, area.right_top(), Align2::RIGHT_TOP, need, colour);
    words(&painter, area.right_bottom(), Align2::RIGHT_BOTTOM, "hot cable, hot coils, lowest supply", ink.quiet);
}

/// Which kind of cue a receiver is for, if any.
pub fn used_for(show: &Show, receiver: &ReceiverKey) -> Option<Kind> {
    Kind::ALL.into_iter().find(|kind| match kind {
        Kind::Lighting => show.presets.iter().any(|p| p.receiver == *receiver),
        Kind::Media => show.media.iter().any(|m| m.receiver == *receiver),
        Kind::Output => show.routes.iter().any(|r| r.receiver == *receiver),
        Kind::Release => show.releases.iter().any(|r| r.receiver == *receiver),
    })
}

/// How long each receiver takes: what was stated or measured as a bar with its spread, what is assumed as an open range.
pub fn latencies(ui: &mut Ui, show: &Show) {
    let receivers: Vec<(&Receiver, Option<Kind>)> =
        show.receivers.iter().map(|r| (r, used_for(show, &r.key))).collect();
    if receivers.is_empty() {
        return;
    }
    let ink = ink(ui);
    let height = 22.0 * receivers.len() as f32 + 40.0;
    let (painter, area) = room(ui, height, "How long each receiver takes");
    let ms = |span: letfall_core::time::SongSpan| span.micros() as f64 / 1000.0;
    let range = |(receiver, kind): &(&Receiver, Option<Kind>)| {
        if is_unsaid(receiver.latency) {
            kind.map(|kind| usual_latency(kind).map(ms)).map(|[least, _, most]| (least, most))
        } else {
            Some((0.0, ms(receiver.latency.mean) + 2.0 * ms(receiver.latency.spread)))
        }
    };
    let most = receivers.iter().filter_map(range).map(|(_, most)| most).fold(50.0, f64::max);
    let left = area.left() + 130.0;
    let x = |millis: f64| left + points(millis / most) * (area.right() - left - 150.0);
    for (nth, one) in receivers.iter().enumerate() {
        let y = area.top() + 22.0 * (nth as f32 + 0.5);
        let name = painter.with_clip_rect(Rect::from_min_max(area.min, Pos2::new(left - 6.0, area.bottom())));
        words(&name, Pos2::new(area.left(), y), Align2::LEFT_CENTER, &one.0.name, ink.line);
        let text = match range(one) {
            None => "no cue uses it".to_owned(),
            Some((least, most)) if is_unsaid(one.0.latency) => {
                let rect = Rect::from_min_max(Pos2::new(x(least), y - 6.0), Pos2::new(x(most), y + 6.0));
                painter.rect_stroke(rect, 2.0, Stroke::new(1.5, ink.quiet), StrokeKind::Inside);
                format!("assumed {least:.0} to {most:.0} ms")
            }
            Some((_, end)) => {
                let (mean, spread) = (ms(one.0.latency.mean), ms(one.0.latency.spread));
                let bar = Rect::from_min_max(Pos2::new(x(0.0), y - 6.0), Pos2::new(x(mean), y + 6.0));
                painter.rect_filled(bar, 2.0, ink.line);
                painter.line_segment(
                    [Pos2::new(x(mean - 2.0 * spread), y), Pos2::new(x(end), y)],
                    Stroke::new(2.0, ink.alarm),
                );
                let how = match one.0.latency.measured {
                    0 => "stated".to_owned(),
                    times => format!("measured {times} times"),
                };
                format!("{mean:.0} ms, {how}")
            }
        };
        words(&painter, Pos2::new(area.right(), y), Align2::RIGHT_CENTER, text, ink.quiet);
    }
    let foot = format!("0 to {most:.0} ms; the thin line is twice the spread to both sides; an open bar is assumed");
    words(&painter, area.left_bottom(), Align2::LEFT_BOTTOM, foot, ink.quiet);
}
