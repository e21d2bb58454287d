//! Fields that edit a draft in place. A change is committed when the field loses the focus, so that typing makes a single undo
//! step. Input that cannot be read is reported while the user types.

use super::quantity::{self, plain};
use super::theme::bold;
use crate::help;
use egui::accesskit::Role;
use egui::{DragValue, FontId, RichText, Ui, WidgetInfo};
use letfall_core::limits::Limit;
use letfall_core::show::Units;
use letfall_core::time::{SongSpan, round};
use std::cell::RefCell;
use std::fmt::Display;
use std::ops::RangeInclusive;
use std::str::FromStr;

/// Metres in a foot, by the exact foot of 0.3048 m.
pub const FOOT: f64 = 0.3048;
/// Kilograms in a pound, exact.
pub const POUND: f64 = 0.453_592_37;

/// The fields of one frame.
#[derive(Default)]
pub struct Fields {
    /// Whether a field was left, or a row was added or removed, so that the draft must be committed.
    pub done: bool,
    /// Why the typed text was refused, if it cannot be read.
    pub refused: Option<String>,
}

/// Where it is kept which table of Rig is being drawn; empty for fields elsewhere.
pub const TABLE_ON_SCREEN: &str = "table of rig";
/// Where it is kept which table of Rig was drawn last.
pub const LAST_TABLE: &str = "last table of rig";
/// Where it is kept which field of Rig has the focus.
const FOCUSED: &str = "focused field of rig";

/// Gives a control an accessible name, for screen readers and tests. A field of Rig explains itself under the pointer.
pub fn name_it(response: &egui::Response, role: Role, name: &str) {
    response.widget_info(|| WidgetInfo::labeled(role, true, name));
    explain(response, name);
}

/// Shows what a field of Rig is, where to read it off, and what happens if it is wrong, while the pointer rests on it.
fn explain(response: &egui::Response, name: &str) {
    if !response.hovered() && !response.has_focus() {
        return;
    }
    let Some(table) = response.ctx.data(|d| d.get_temp::<&'static str>(egui::Id::unique(TABLE_ON_SCREEN))) else {
        return;
    };
    if response.has_focus() {
        response.ctx.data_mut(|d| d.insert_temp(egui::Id::unique(FOCUSED), (table, name.to_owned())));
    }
    if let Some(field) = help::field(table, name) {
        response.clone().on_hover_ui(|ui| {
            ui.set_max_width(380.0);
            for line in field.lines() {
                ui.label(line);
            }
        });
    }
}

/// The table and name of the field of Rig that had the focus last.
pub fn focused_field(ctx: &egui::Context) -> Option<(&'static str, String)> {
    ctx.memory(egui::Memory::focused)?;
    ctx.data(|d| d.get_temp(egui::Id::unique(FOCUSED)))
}

impl Fields {
    /// Notes whether a response completes a change.
    pub fn look(&mut self, response: &egui::Response) {
        self.done |= response.lost_focus()
            || response.drag_stopped()
            || (response.changed() && !response.has_focus() && !response.dragged());
    }

    /// A field for a line of text.
    pub fn text(&mut self, ui: &mut Ui, text: &mut String, width: f32, name: &str) {
        let response = ui.add_sized([width, 26.0], egui::TextEdit::singleline(text).desired_width(width));
        name_it(&response, Role::TextInput, name);
        self.look(&response);
    }

    /// A field for a text that may take two lines on screen. It is one line all the same: a line break becomes a space.
    pub fn long_text(&mut self, ui: &mut Ui, text: &mut String, width: f32, name: &str) {
        let response = ui.add(egui::TextEdit::multiline(text).desired_rows(2).desired_width(width));
        if text.contains(['\n', '\r']) {
            *text = text.replace(['\n', '\r'], " ");
        }
        name_it(&response, Role::TextInput, name);
        self.look(&response);
    }

    /// A field for a number in the show's own unit.
    pub fn number(&mut self, ui: &mut Ui, value: &mut f64, limit: &Limit, name: &str) {
        self.converted(ui, value, limit, (limit.unit, 1.0), name);
    }

    /// A field for a number that is shown in another unit; `size` is that unit in the show's own.
    fn converted(&mut self, ui: &mut Ui, value: &mut f64, limit: &Limit, (unit, size): (&str, f64), name: &str) {
        let mut shown = *value / size;
        let range = limit.low / size..=limit.high / size;
        self.shown(ui, &mut shown, range, (unit, limit.step / size), (false, true), name);
        // Viewing a value must not change it.
        if (shown - *value / size).abs() > 1e-9 {
            *value = (shown * size).clamp(limit.low, limit.high);
        }
    }

    fn shown(
        &mut self,
        ui: &mut Ui,
        value: &mut f64,
        range: RangeInclusive<f64>,
        (unit, step): (&str, f64),
        (whole, with_unit): (bool, bool),
        name: &str,
    ) {
        let before = *value;
        let refused = RefCell::new(None);
        let read = |text: &str| match quantity::read(text, unit, &range, whole) {
            Ok(number) => Some(number),
            Err(why) => {
                *refused.borrow_mut() = Some(format!("{name}: {why}"));
                None
            }
        };
        let tight = unit.is_empty() || unit == "°" || unit.starts_with(':');
        let suffix = match tight {
            _ if !with_unit => String::new(),
            true => unit.to_owned(),
            false => format!(" {unit}"),
        };
        let text = format!("{}{suffix}", plain(before));
        let drag = DragValue::new(value)
            .range(range.clone())
            // Do not clamp values from the show: they are in range, but at the limits the conversion of units may round them
            // slightly outside.
            .clamp_existing_to_range(false)
            .speed(step)
            .max_decimals(3)
            .custom_formatter(|n, _| plain(n))
            .custom_parser(read)
            .suffix(suffix);
        let response = as_wide_as(ui, &text, drag);
        if let Some(why) = refused.into_inner() {
            self.refused = Some(why);
        }
        name_it(&response, Role::SpinButton, name);
        self.look(&response);
        // A field that was visited reads back the rounded value it shows. That is not a change.
        let said = |number: f64| plain(number).trim_start_matches('≈').to_owned();
        if said(*value) == said(before) {
            *value = before;
        }
    }

    /// A field for a whole number.
    pub fn whole<N: egui::emath::Numeric>(&mut self, ui: &mut Ui, value: &mut N, limit: &Limit, name: &str) {
        let mut exact = value.to_f64();
        let with_unit = matches!(limit.unit, "%" | "words a minute");
        self.shown(ui, &mut exact, limit.range(), (limit.unit, limit.step), (true, with_unit), name);
        *value = N::from_f64(libm::round(exact));
    }

    /// A field for a whole number in a message, whose range is set by MIDI.
    pub fn data<N: egui::emath::Numeric>(&mut self, ui: &mut Ui, value: &mut N, range: RangeInclusive<N>, name: &str) {
        let text = value.to_f64().to_string();
        let response = as_wide_as(ui, &text, DragValue::new(value).range(range).clamp_existing_to_range(false));
        name_it(&response, Role::SpinButton, name);
        self.look(&response);
    }

    /// A field for an optional whole number of a type with its own range; an empty value is shown as "none".
    pub fn small<T: Copy>(
        &mut self,
        ui: &mut Ui,
        value: &mut Option<T>,
        (get, new): (impl Fn(T) -> u16, impl Fn(u16) -> Option<T>),
        range: RangeInclusive<u16>,
        name: &str,
    ) {
        // One below the range means none.
        let none = i32::from(*range.start()) - 1;
        let mut number = value.map_or(none, |v| i32::from(get(v)));
        let drag = DragValue::new(&mut number)
            .range(none..=i32::from(*range.end()))
            .speed(0.1)
            .custom_formatter(move |n, _| if n <= f64::from(none) { "none".into() } else { format!("{n:.0}") })
            .custom_parser(move |t| if t.trim() == "none" { Some(f64::from(none)) } else { t.trim().parse().ok() });
        let response = as_wide_as(ui, "none", drag);
        name_it(&response, Role::SpinButton, name);
        self.look(&response);
        *value = u16::try_from(number).ok().filter(|n| range.contains(n)).and_then(new);
    }

    /// A field for a duration in milliseconds.
    pub fn span(&mut self, ui: &mut Ui, span: &mut SongSpan, limit: &Limit, name: &str) {
        self.time(ui, span, limit, ("ms", 1e3), name);
    }

    /// A field for a duration in seconds.
    pub fn seconds(&mut self, ui: &mut Ui, span: &mut SongSpan, limit: &Limit, name: &str) {
        self.time(ui, span, limit, ("s", 1e6), name);
    }

    fn time(&mut self, ui: &mut Ui, span: &mut SongSpan, limit: &Limit, unit: (&str, f64), name: &str) {
        let mut micros = span.micros() as f64;
        self.converted(ui, &mut micros, limit, unit, name);
        *span = SongSpan::from_micros(round::nearest(micros));
    }

    /// A field for a length in metres, shown in the show's units.
    pub fn length(&mut self, ui: &mut Ui, metres: &mut f64, units: Units, limit: &Limit, name: &str) {
        self.converted(ui, metres, limit, if units == Units::Metric { ("m", 1.0) } else { ("ft", FOOT) }, name);
    }

    /// A field for a mass in kilograms, shown in the show's units.
    pub fn mass(&mut self, ui: &mut Ui, kilograms: &mut f64, units: Units, limit: &Limit, name: &str) {
        self.converted(ui, kilograms, limit, if units == Units::Metric { ("kg", 1.0) } else { ("lb", POUND) }, name);
    }

    /// A field for a mass per square metre, shown in the show's units.
    pub fn areal_mass(&mut self, ui: &mut Ui, value: &mut f64, units: Units, limit: &Limit, name: &str) {
        let unit = if units == Units::Metric { ("kg/m²", 1.0) } else { ("lb/sq ft", POUND / (FOOT * FOOT)) };
        self.converted(ui, value, limit, unit, name);
    }

    /// A field for something that may be unknown: a tick, and the field itself if it is known. `usual` is what it begins with.
    fn optional<T: Copy>(
        &mut self,
        ui: &mut Ui,
        value: &mut Option<T>,
        usual: T,
        name: &str,
        field: impl FnOnce(&mut Fields, &mut Ui, &mut T),
    ) {
        let mut known = value.is_some();
        self.tick(ui, &mut known, "", &format!("{name} is known"));
        *value = if known {
            let mut inner = value.unwrap_or(usual);
            field(self, ui, &mut inner);
            Some(inner)
        } else {
            ui.label("open");
            None
        };
    }

    /// A field for a number that may be unknown.
    pub fn maybe(&mut self, ui: &mut Ui, value: &mut Option<f64>, usual: f64, limit: &Limit, name: &str) {
        self.optional(ui, value, usual, name, |fields, ui, number| fields.number(ui, number, limit, name));
    }

    /// A field for a length that may be unknown; `usual` is what it begins with, in metres.
    pub fn maybe_length(
        &mut self,
        ui: &mut Ui,
        value: &mut Option<f64>,
        (usual, limit): (f64, &Limit),
        units: Units,
        name: &str,
    ) {
        self.optional(ui, value, usual, name, |fields, ui, metres| fields.length(ui, metres, units, limit, name));
    }

    /// A field for a mass that may be unknown; `usual` is what it begins with, in kilograms.
    pub fn maybe_mass(
        &mut self,
        ui: &mut Ui,
        value: &mut Option<f64>,
        (usual, limit): (f64, &Limit),
        units: Units,
        name: &str,
    ) {
        self.optional(ui, value, usual, name, |fields, ui, mass| fields.mass(ui, mass, units, limit, name));
    }

    /// A field for a duration in milliseconds that may be unknown.
    pub fn maybe_span(&mut self, ui: &mut Ui, value: &mut Option<SongSpan>, limit: &Limit, name: &str) {
        ui.horizontal(|ui| {
            self.optional(ui, value, SongSpan::ZERO, name, |fields, ui, span| fields.span(ui, span, limit, name));
        });
    }

    /// A choice of one from several.
    pub fn choice<T: PartialEq + Clone>(
        &mut self,
        ui: &mut Ui,
        value: &mut T,
        all: &[(T, String)],
        width: f32,
        name: &str,
    ) {
        let shown = all.iter().find(|(one, _)| one == value).map_or("not in the rig", |(_, words)| words);
        let id = ui.next_auto_id();
        let combo = egui::ComboBox::from_id_salt(("choice", id)).selected_text(shown).width(width).truncate();
        let mut changed = false;
        let combo = combo.show_ui(ui, |ui| {
            for (one, words) in all {
                changed |= ui.selectable_value(value, one.clone(), words).changed();
            }
        });
        name_it(&combo.response, Role::ComboBox, name);
        self.done |= changed;
    }

    /// A checkbox.
    pub fn tick(&mut self, ui: &mut Ui, value: &mut bool, words: &str, name: &str) {
        let response = ui.checkbox(value, words);
        name_it(&response, Role::CheckBox, name);
        self.look(&response);
    }

    /// A text field for another type, such as a metre or a cue number; `hint` shows an example.
    pub fn parsed<T: FromStr + Display + PartialEq + Clone>(
        &mut self,
        ui: &mut Ui,
        value: &mut T,
        width: f32,
        hint: &str,
        name: &str,
    ) where
        T::Err: Display,
    {
        let mut some = Some(value.clone());
        self.read(ui, &mut some, width, hint, name, false);
        if let Some(new) = some {
            *value = new;
        }
    }

    /// Like [`Fields::parsed`], but the field may be empty.
    pub fn parsed_or_none<T: FromStr + Display + PartialEq>(
        &mut self,
        ui: &mut Ui,
        value: &mut Option<T>,
        width: f32,
        hint: &str,
        name: &str,
    ) where
        T::Err: Display,
    {
        self.read(ui, value, width, hint, name, true);
    }

    fn read<T: FromStr + Display + PartialEq>(
        &mut self,
        ui: &mut Ui,
        value: &mut Option<T>,
        width: f32,
        hint: &str,
        name: &str,
        may_lack: bool,
    ) where
        T::Err: Display,
    {
        let id = ui.next_auto_id().with(name);
        let kept = ui.data_mut(|d| d.get_temp::<String>(id));
        let mut text = kept.unwrap_or_else(|| value.as_ref().map_or_else(String::new, ToString::to_string));
        let new = match text.trim() {
            "" if may_lack => Ok(None),
            text => text.parse::<T>().map(Some).map_err(|e| e.to_string()),
        };
        let mut edit = egui::TextEdit::singleline(&mut text).desired_width(width).hint_text(hint);
        if new.is_err() {
            edit = edit.text_color(ui.visuals().error_fg_color);
        }
        let response = ui.add_sized([width, 26.0], edit);
        name_it(&response, Role::TextInput, name);
        match new {
            Ok(new) if new != *value => *value = new,
            Ok(_) => {}
            Err(why) => self.refused = Some(format!("{name}: {why}")),
        }
        if response.has_focus() {
            ui.data_mut(|d| d.insert_temp(id, text));
        } else {
            // Text typed in the frame in which the field loses the focus still counts.
            if response.lost_focus() {
                match text.trim() {
                    "" if may_lack => *value = None,
                    text => {
                        if let Ok(new) = text.parse().map(Some)
                            && new != *value
                        {
                            *value = new;
                        }
                    }
                }
            }
            ui.data_mut(|d| d.remove::<String>(id));
        }
        self.look(&response);
    }

    /// A button that removes a row; the name tells which row.
    pub fn remove(&mut self, ui: &mut Ui, name: &str) -> bool {
        let response = ui.small_button("Remove");
        name_it(&response, Role::Button, &format!("Remove {name}"));
        self.done |= response.clicked();
        response.clicked()
    }

    /// A button with its own label that removes something larger than a row.
    pub fn remove_row(&mut self, ui: &mut Ui, words: &str) -> bool {
        let clicked = ui.button(words).clicked();
        self.done |= clicked;
        clicked
    }

    /// A button that adds a row.
    pub fn add(&mut self, ui: &mut Ui, words: &str) -> bool {
        let clicked = ui.button(words).clicked();
        self.done |= clicked;
        clicked
    }
}

/// Adds a number field as wide as what it shows, also while it is edited, so that no column shifts under a hand.
fn as_wide_as(ui: &mut Ui, text: &str, field: DragValue<'_>) -> egui::Response {
    let font = egui::TextStyle::Button.resolve(ui.style());
    let shown = ui.painter().layout_no_wrap(text.to_owned(), font, egui::Color32::WHITE).size().x;
    let fits = (shown + 2.0 * ui.spacing().button_padding.x + 4.0).max(52.0);
    let key = ui.next_auto_id().with("width");
    let width = ui.data(|d| d.get_temp::<f32>(key)).unwrap_or(fits);
    let response = ui.add_sized([width, ui.spacing().interact_size.y], field);
    // What is typed changes the value at once; the width follows when the field is left.
    let has_focus = response.has_focus();
    ui.data_mut(|d| {
        if has_focus {
            d.insert_temp(key, width);
        } else {
            d.remove::<f32>(key);
        }
    });
    response
}

/// A heading over a table.
pub fn heading(ui: &mut Ui, words: &str) {
    ui.label(RichText::new(words).font(FontId::new(19.0, bold())));
    ui.add_space(2.0);
}

/// The column headings of a table.
pub fn heads(ui: &mut Ui, names: &[&str]) {
    for name in names {
        ui.label(RichText::new(*name).font(FontId::new(13.5, bold())));
    }
    ui.end_row();
}

/// A name that no other thing of a list has.
pub fn free_name<'a>(word: &str, taken: impl Iterator<Item = &'a str>) -> String {
    let taken: Vec<&str> = taken.collect();
    let mut names = (1..).map(|n| format!("{word} {n}"));
    names.find(|name| !taken.contains(&name.as_str())).unwrap_or_default()
}

/// A key that no row uses yet: the word, or the word with a number.
pub fn free_key<'a, K: FromStr>(word: &str, taken: impl Iterator<Item = &'a str>) -> Option<K> {
    let taken: Vec<&str> = taken.collect();
    (1..10_000)
        .map(|n| if n == 1 { word.to_owned() } else { format!("{word}-{n}") })
        .find(|key| !taken.contains(&key.as_str()))
        .and_then(|key| key.parse().ok())
}

#[cfg(test)]
mod tests {
    use super::*;
    use letfall_core::show::PortKey;

    #[test]
    fn numbers_are_plain() {
        assert_eq!([24.0, 0.8, 1.524, 230.0, -0.5, 0.0].map(plain), ["24", "0.8", "1.524", "230", "-0.5", "0"]);
    }

    #[test]
    fn keys_are_free() {
        let key = |taken: &[&str]| free_key::<PortKey>("port", taken.iter().copied()).unwrap().to_string();
        assert_eq!(key(&[]), "port");
        assert_eq!(key(&["port", "port-2"]), "port-3");
    }
}
