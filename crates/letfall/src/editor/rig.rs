//! The rig: tables that edit in place, with the worked figures beside the facts and the caution beside the figure.

use super::document::Document;
use super::theme::bold;
use egui::{DragValue, FontId, Grid, RichText, Ui};
use letfall_core::edit::{Edit, Part};
use letfall_core::reveal::{FOOT_LAMBERT, circuit_figures, fall_time, light_figures, weight_figures};
use letfall_core::show::{Channel, Data7, Instant, ReleaseKind, Show, Units};
use letfall_core::time::SongSpan;

/// The screen's state: what is being typed, before it is committed.
#[derive(Default)]
pub struct Rig {
    draft: Option<(u64, Show)>,
}

/// Feet in a metre, by the exact foot of 0.3048 m.
const FOOT: f64 = 0.3048;
/// Kilograms in a pound, exact.
const POUND: f64 = 0.453_592_37;

impl Rig {
    /// Shows the screen.
    pub fn show(&mut self, ui: &mut Ui, document: &mut Document) {
        if self.draft.as_ref().is_none_or(|(revision, _)| *revision != document.revision) {
            self.draft = Some((document.revision, document.show.clone()));
        }
        let Some((_, draft)) = &mut self.draft else { return };
        let mut done = false;
        egui::ScrollArea::both().auto_shrink(false).show(ui, |ui| {
            let mut taken = Taken(false);
            receivers(ui, draft, &mut taken);
            presets(ui, draft, &mut taken);
            media(ui, draft, &mut taken);
            outputs(ui, draft, &mut taken);
            hangs(ui, draft, &mut taken);
            releases(ui, draft, &mut taken);
            safety(ui, draft, &mut taken);
            kit(ui, draft, &mut taken);
            done = taken.0;
        });
        if let Err(why) = draft.validate() {
            ui.colored_label(ui.visuals().error_fg_color, why.to_string());
        }
        if done {
            let edits = changes(&document.show, draft);
            if !document.commit("Change the rig", Ok(Edit::All(edits))) {
                self.draft = None; // refused: what stands in the show is shown again
            }
        }
    }
}

/// Whether a field has been left or dragged to its end, so that what was typed is taken as one step.
struct Taken(bool);

impl Taken {
    fn look(&mut self, response: &egui::Response) {
        self.0 |= response.lost_focus()
            || response.drag_stopped()
            || (response.changed() && !response.has_focus() && !response.dragged());
    }

    fn text(&mut self, ui: &mut Ui, text: &mut String, width: f32, name: &str) {
        let response = ui.add_sized([width, 26.0], egui::TextEdit::singleline(text).desired_width(width));
        response.widget_info(|| egui::WidgetInfo::labeled(egui::accesskit::Role::TextInput, true, name));
        self.look(&response);
    }

    fn number(&mut self, ui: &mut Ui, value: &mut f64, unit: &str, range: std::ops::RangeInclusive<f64>, name: &str) {
        let speed = (*range.end() - *range.start()) / 4000.0;
        let drag = DragValue::new(value)
            .range(range)
            .speed(speed.clamp(0.005, 10.0))
            .max_decimals(3)
            .suffix(format!(" {unit}"));
        let response = ui.add(drag);
        response.widget_info(|| egui::WidgetInfo::labeled(egui::accesskit::Role::SpinButton, true, name));
        self.look(&response);
    }

    fn span(&mut self, ui: &mut Ui, span: &mut SongSpan, name: &str) {
        let mut millis = span.micros() as f64 / 1000.0;
        self.number(ui, &mut millis, "ms", 0.0..=600_000.0, name);
        *span = SongSpan::from_micros(letfall_core::time::round::nearest(millis * 1000.0));
    }

    /// A length in metres, shown in the show's units.
    fn length(&mut self, ui: &mut Ui, metres: &mut f64, units: Units, name: &str) {
        match units {
            Units::Metric => self.number(ui, metres, "m", 0.0..=200.0, name),
            Units::Imperial => {
                let mut feet = *metres / FOOT;
                self.number(ui, &mut feet, "ft", 0.0..=656.0, name);
                if (feet - *metres / FOOT).abs() > 1e-9 {
                    *metres = feet * FOOT;
                }
            }
        }
    }
}

fn heading(ui: &mut Ui, words: &str) {
    ui.add_space(10.0);
    ui.label(RichText::new(words).font(FontId::new(19.0, bold())));
}

fn heads(ui: &mut Ui, names: &[&str]) {
    for name in names {
        ui.label(RichText::new(*name).font(FontId::new(13.5, bold())));
    }
    ui.end_row();
}

fn empty(ui: &mut Ui, is: bool, what: &str) {
    if is {
        ui.label(format!("No {what} yet. They stand in the show file; see “letfall schema”."));
    }
}

fn receivers(ui: &mut Ui, show: &mut Show, taken: &mut Taken) {
    heading(ui, "Receivers");
    empty(ui, show.receivers.is_empty(), "receivers");
    Grid::new("receivers").striped(true).spacing([12.0, 6.0]).show(ui, |ui| {
        heads(ui, &["Name", "Port", "Channel", "Device", "Latency", "Spread", "Shortest gap", "Who answers"]);
        for receiver in &mut show.receivers {
            taken.text(ui, &mut receiver.name, 130.0, "Receiver name");
            ui.label(show.ports.iter().find(|p| p.key == receiver.port).map_or("no such port", |p| &p.name));
            let mut channel = receiver.channel.map_or(0, Channel::get);
            let response = ui.add(
                DragValue::new(&mut channel)
                    .range(0..=16)
                    .custom_formatter(|n, _| if n < 1.0 { "none".into() } else { format!("{n:.0}") }),
            );
            response.widget_info(|| egui::WidgetInfo::labeled(egui::accesskit::Role::SpinButton, true, "Channel"));
            taken.look(&response);
            receiver.channel = Channel::new(channel);
            ui.label(receiver.device.map_or_else(|| "none".to_owned(), |d: Data7| d.get().to_string()));
            taken.span(ui, &mut receiver.latency.mean, "Latency");
            taken.span(ui, &mut receiver.latency.spread, "Latency spread");
            taken.span(ui, &mut receiver.gap, "Shortest gap");
            taken.text(ui, &mut receiver.answers, 150.0, "Who answers");
            ui.end_row();
        }
    });
}

fn presets(ui: &mut Ui, show: &mut Show, taken: &mut Taken) {
    heading(ui, "Presets");
    empty(ui, show.presets.is_empty(), "presets");
    Grid::new("presets").striped(true).spacing([12.0, 6.0]).show(ui, |ui| {
        heads(ui, &["Name", "Receiver", "Message", "Fade", "Colour", "Level"]);
        for preset in &mut show.presets {
            taken.text(ui, &mut preset.name, 240.0, "Preset name");
            ui.label(show.receivers.iter().find(|r| r.key == preset.receiver).map_or("no such receiver", |r| &r.name));
            ui.label(letfall_core::schedule::message_words(&preset.message));
            taken.span(ui, &mut preset.fade, "Fade");
            let number = u32::from_str_radix(&preset.colour, 16).unwrap_or(0xff_ffff).to_be_bytes();
            let mut rgb = [number[1], number[2], number[3]];
            let response = ui.color_edit_button_srgb(&mut rgb);
            if response.changed() {
                preset.colour = format!("{:02x}{:02x}{:02x}", rgb[0], rgb[1], rgb[2]);
            }
            taken.look(&response);
            let response = ui.add(DragValue::new(&mut preset.level).range(0..=100).suffix(" %"));
            response.widget_info(|| egui::WidgetInfo::labeled(egui::accesskit::Role::SpinButton, true, "Level"));
            taken.look(&response);
            ui.end_row();
        }
    });
}

fn media(ui: &mut Ui, show: &mut Show, taken: &mut Taken) {
    heading(ui, "Media");
    empty(ui, show.media.is_empty(), "pictures or films");
    Grid::new("media").striped(true).spacing([12.0, 6.0]).show(ui, |ui| {
        heads(ui, &["Name", "Layer", "Message", "Pre-roll", "Plays for"]);
        for item in &mut show.media {
            taken.text(ui, &mut item.name, 240.0, "Media name");
            ui.label(item.layer.as_str());
            ui.label(letfall_core::schedule::message_words(&item.message));
            taken.span(ui, &mut item.pre_roll, "Pre-roll");
            taken.span(ui, &mut item.length, "Plays for");
            ui.end_row();
        }
    });
}

fn outputs(ui: &mut Ui, show: &mut Show, taken: &mut Taken) {
    heading(ui, "Outputs and routes");
    empty(ui, show.outputs.is_empty(), "outputs");
    let units = show.settings.units;
    Grid::new("outputs").striped(true).spacing([12.0, 6.0]).show(ui, |ui| {
        heads(ui, &["Name", "Switch time", "Light", "Width", "Height", "Gain", "Other light", "Worked out (estimate)"]);
        for output in &mut show.outputs {
            taken.text(ui, &mut output.name, 150.0, "Output name");
            taken.span(ui, &mut output.switch, "Switch time");
            if let Some(p) = &mut output.projection {
                taken.number(ui, &mut p.lumens, "lm", 1.0..=100_000.0, "Projector light");
                taken.length(ui, &mut p.width_m, units, "Picture width");
                taken.length(ui, &mut p.height_m, units, "Picture height");
                taken.number(ui, &mut p.gain, "", 0.01..=5.0, "Gain");
                taken.number(ui, &mut p.ambient_lux, "lx", 0.0..=2000.0, "Other light on it");
                let f = light_figures(p);
                ui.label(format!(
                    "{:.0} cd/m² ({:.1} fL), contrast {:.0}:1 (wants {:.0}:1)",
                    f.cd_m2,
                    f.cd_m2 / FOOT_LAMBERT,
                    f.contrast,
                    p.viewing.contrast()
                ));
            }
            ui.end_row();
        }
    });
    for route in &show.routes {
        let output = show.outputs.iter().find(|o| o.key == route.output).map_or("no such output", |o| &o.name);
        ui.label(format!("{output}: {} by {}", route.name, letfall_core::schedule::message_words(&route.message)));
    }
    ui.label("Projector light can hurt eyes at short distance: follow the maker's hazard distance.");
}

fn hangs(ui: &mut Ui, show: &mut Show, taken: &mut Taken) {
    heading(ui, "Hang");
    ui.horizontal(|ui| {
        ui.label("Units");
        for (units, words) in [(Units::Metric, "metric"), (Units::Imperial, "imperial")] {
            let response = ui.radio_value(&mut show.settings.units, units, words);
            taken.look(&response);
        }
    });
    empty(ui, show.hangs.is_empty(), "hung fabrics");
    let units = show.settings.units;
    for hang in &mut show.hangs {
        Grid::new(("hang", hang.key.as_str())).spacing([12.0, 6.0]).show(ui, |ui| {
            heads(ui, &["Name", "Width", "Drop", "Top edge", "Sightline", "Cloth", "Hardware"]);
            taken.text(ui, &mut hang.name, 150.0, "Hang name");
            taken.length(ui, &mut hang.width_m, units, "Hang width");
            taken.length(ui, &mut hang.drop_m, units, "Drop");
            taken.length(ui, &mut hang.top_m, units, "Height of the top edge");
            taken.length(ui, &mut hang.sightline_m, units, "Sightline height");
            taken.number(ui, &mut hang.areal_mass_kg_m2, "kg/m²", 0.001..=5.0, "Cloth mass for a square metre");
            match units {
                Units::Metric => taken.number(ui, &mut hang.hardware_kg, "kg", 0.0..=2000.0, "Hardware mass"),
                Units::Imperial => {
                    let mut pounds = hang.hardware_kg / POUND;
                    taken.number(ui, &mut pounds, "lb", 0.0..=4400.0, "Hardware mass");
                    if (pounds - hang.hardware_kg / POUND).abs() > 1e-9 {
                        hang.hardware_kg = pounds * POUND;
                    }
                }
            }
            ui.end_row();
        });
        let fall = |to| {
            let t = fall_time(hang, to);
            let source = if t.drops == 0 {
                "by model alone: time three drops of the real fabric".to_owned()
            } else {
                format!("from {} measured drops", t.drops)
            };
            format!("{:.2} s, not before {:.2}, hardly after {:.2} ({source})", t.expected, t.earliest, t.latest)
        };
        ui.label(format!("To the sightline {}", fall(Instant::Sightline)));
        ui.label(format!("To the floor {}", fall(Instant::Floor)));
        ui.label("Weights and loads are figures for the conversation with the competent person, who decides.");
    }
}

fn releases(ui: &mut Ui, show: &mut Show, taken: &mut Taken) {
    heading(ui, "Releases");
    empty(ui, show.releases.is_empty(), "releases");
    for release in &mut show.releases {
        let hang = show.hangs.iter().find(|h| h.key == release.hang);
        Grid::new(("release", release.key.as_str())).spacing([12.0, 6.0]).show(ui, |ui| {
            heads(ui, &["Name", "Units", "What opens it", "Contact delay", "Spread", "Pulse"]);
            taken.text(ui, &mut release.name, 180.0, "Release name");
            let response = ui.add(DragValue::new(&mut release.units).range(0..=200));
            response
                .widget_info(|| egui::WidgetInfo::labeled(egui::accesskit::Role::SpinButton, true, "Release units"));
            taken.look(&response);
            let before = release.kind;
            let combo = egui::ComboBox::from_id_salt(("kind", release.key.as_str())).width(210.0);
            let combo = combo.selected_text(kind_words(release.kind)).show_ui(ui, |ui| {
                for kind in [ReleaseKind::Unknown, ReleaseKind::Energise, ReleaseKind::Deenergise] {
                    ui.selectable_value(&mut release.kind, kind, kind_words(kind));
                }
            });
            let name = "What opens the release";
            combo.response.widget_info(|| egui::WidgetInfo::labeled(egui::accesskit::Role::ComboBox, true, name));
            taken.0 |= before != release.kind;
            taken.span(ui, &mut release.contact.mean, "Contact delay");
            taken.span(ui, &mut release.contact.spread, "Contact delay spread");
            taken.span(ui, &mut release.pulse, "Pulse");
            ui.end_row();
        });
        if let Some(hang) = hang {
            let w = weight_figures(hang, release.units);
            ui.label(format!(
                "Cloth {:.1} kg, all {:.1} kg, {:.2} kg on each unit if even, {:.1} kg a metre, units {:.3} m apart",
                w.fabric_kg, w.total_kg, w.per_unit_kg, w.per_metre_kg, w.spacing_m
            ));
        }
        if let Some(c) = &release.circuit {
            let low = c.supply_low_v.unwrap_or(c.supply_v);
            if let (Ok(cold), Ok(hot)) = (
                circuit_figures(c, release.units, c.supply_v, 20.0, 20.0),
                circuit_figures(c, release.units, low, c.cable_c, c.coil_c),
            ) {
                ui.label(format!(
                    "{:.2} A and {:.0} W cold; {:.1} V at the farthest unit hot and at low supply (acts from {:.1} V)",
                    cold.current_a, cold.power_w, hot.far_v, c.pull_in_v
                ));
            }
        }
        ui.label("Electricity is for qualified people under local codes. A release that opens with power stays shut without it; one held by power opens without it.");
    }
}

const fn kind_words(kind: ReleaseKind) -> &'static str {
    match kind {
        ReleaseKind::Unknown => "nobody has said yet",
        ReleaseKind::Energise => "power opens it",
        ReleaseKind::Deenergise => "power holds it shut",
    }
}

fn safety(ui: &mut Ui, show: &mut Show, taken: &mut Taken) {
    heading(ui, "Safety sheet");
    let sheet = &mut show.safety;
    Grid::new("safety").num_columns(2).spacing([12.0, 6.0]).show(ui, |ui| {
        for (words, text) in [
            ("Who is competent for the rig", &mut sheet.competent),
            ("Drop zone", &mut sheet.drop_zone),
            ("Clear signal: who and how", &mut sheet.clear_signal),
            ("Who holds the arm", &mut sheet.arm_holder),
            ("Words that stop everything", &mut sheet.abort_words),
            ("Local rule that comes first", &mut sheet.local_rule),
        ] {
            ui.label(words);
            taken.text(ui, text, 520.0, words);
            ui.end_row();
        }
    });
}

fn kit(ui: &mut Ui, show: &mut Show, taken: &mut Taken) {
    heading(ui, "Kit");
    empty(ui, show.kit.is_empty(), "kit");
    let services = show.services.len();
    let mut total = 0u128;
    Grid::new("kit").striped(true).spacing([12.0, 6.0]).show(ui, |ui| {
        heads(ui, &["What", "How many", "Price of one", "Days", "Who brings it", "Comes to"]);
        for item in &mut show.kit {
            taken.text(ui, &mut item.name, 280.0, "Kit name");
            let price = DragValue::new(&mut item.cents)
                .range(0..=100_000_000)
                .custom_formatter(|n, _| format!("{:.2}", n / 100.0))
                .custom_parser(|t| t.parse::<f64>().ok().map(|n| n * 100.0));
            for (drag, name) in [
                (DragValue::new(&mut item.quantity).range(0..=10_000), "How many"),
                (price, "Price of one"),
                (DragValue::new(&mut item.days).range(1..=365), "Days"),
            ] {
                let response = ui.add(drag);
                response.widget_info(|| egui::WidgetInfo::labeled(egui::accesskit::Role::SpinButton, true, name));
                taken.look(&response);
            }
            taken.text(ui, &mut item.brings, 160.0, "Who brings it");
            let cost = item.cost_cents(services);
            total += cost;
            ui.monospace(money(cost));
            ui.end_row();
        }
    });
    if let Some(budget) = &show.budget {
        let kept = total * u128::from(budget.contingency_percent) / 100;
        ui.label(format!(
            "{} and {} kept back ({} %) of {} {}",
            money(total),
            money(kept),
            budget.contingency_percent,
            money(u128::from(budget.cents)),
            budget.currency
        ));
    }
}

fn money(cents: u128) -> String {
    format!("{}.{:02}", cents / 100, cents % 100)
}

/// What the draft changes, part by part.
fn changes(show: &Show, draft: &Show) -> Vec<Edit> {
    let part = |before: Part, after: Part| Edit::Part { before: Box::new(before), after: Box::new(after) };
    let mut edits = Vec::new();
    macro_rules! compare {
        ($($field:ident => $part:ident),*) => {$(
            if show.$field != draft.$field {
                edits.push(part(Part::$part(show.$field.clone()), Part::$part(draft.$field.clone())));
            }
        )*};
    }
    compare!(settings => Settings, receivers => Receivers, presets => Presets, media => Media, outputs => Outputs,
        hangs => Hangs, releases => Releases, safety => Safety, kit => Kit);
    edits
}
