//! Choosing a colour: a small palette with names, and any other by its hexadecimal figure or by eye.

use super::fields::{Fields, name_it};
use egui::accesskit::Role;
use egui::{Color32, Sense, Stroke, StrokeKind, TextEdit, Ui, vec2};

/// Colours of light as people name them. Chosen to be told apart in the stage picture, on the dark and on the paper look.
pub const PALETTE: [(&str, &str); 14] = [
    ("white", "ffffff"),
    ("warm white", "ffd9a0"),
    ("cold white", "d6e6ff"),
    ("straw", "ffe48a"),
    ("amber", "ffb000"),
    ("orange", "ff7a1a"),
    ("red", "e02020"),
    ("rose", "ff8aa8"),
    ("magenta", "d02090"),
    ("lavender", "b79cff"),
    ("deep blue", "2438c8"),
    ("blue", "3f8cff"),
    ("turquoise", "20c8c0"),
    ("green", "30b050"),
];

/// The name of a colour if it is in the palette, or else its figure.
pub fn colour_name(hex: &str) -> String {
    let named = PALETTE.iter().find(|(_, colour)| colour.eq_ignore_ascii_case(hex));
    named.map_or_else(|| format!("#{hex}"), |(name, _)| (*name).to_owned())
}

/// Red, green and blue of six hexadecimal digits.
fn rgb(hex: &str) -> Option<[u8; 3]> {
    let whole = hex.len() == 6 && hex.bytes().all(|b| b.is_ascii_hexdigit());
    let [_, red, green, blue] = u32::from_str_radix(hex, 16).ok().filter(|_| whole)?.to_be_bytes();
    Some([red, green, blue])
}

/// The digits that people mean, who write them with # in front, in capitals, or as three.
fn digits(text: &str) -> Option<String> {
    let text = text.trim().trim_start_matches('#').to_lowercase();
    let text = if text.len() == 3 { text.chars().flat_map(|c| [c, c]).collect() } else { text };
    rgb(&text).map(|_| text)
}

fn swatch(ui: &mut Ui, hex: &str) {
    let (rect, _) = ui.allocate_exact_size(vec2(18.0, 18.0), Sense::hover());
    let [red, green, blue] = rgb(hex).unwrap_or([255; 3]);
    ui.painter().rect_filled(rect, 3.0, Color32::from_rgb(red, green, blue));
    let edge = Stroke::new(1.0, ui.visuals().weak_text_color());
    ui.painter().rect_stroke(rect, 3.0, edge, StrokeKind::Inside);
}

impl Fields {
    /// A field for a colour as six hexadecimal digits.
    pub fn colour(&mut self, ui: &mut Ui, hex: &mut String, name: &str) {
        ui.horizontal(|ui| {
            swatch(ui, hex);
            let id = ui.next_auto_id();
            let combo = egui::ComboBox::from_id_salt(("colour", id)).selected_text(colour_name(hex)).width(106.0);
            let combo = combo.height(480.0).truncate().show_ui(ui, |ui| {
                egui::Grid::new("palette").num_columns(4).spacing([6.0, 4.0]).show(ui, |ui| {
                    for (at, (words, colour)) in PALETTE.into_iter().enumerate() {
                        swatch(ui, colour);
                        if ui.selectable_label(hex.eq_ignore_ascii_case(colour), words).clicked() {
                            colour.clone_into(hex);
                            self.done = true;
                            ui.close();
                        }
                        if at % 2 == 1 {
                            ui.end_row();
                        }
                    }
                });
                ui.separator();
                self.own_colour(ui, hex);
            });
            name_it(&combo.response, Role::ComboBox, name);
        });
    }

    /// Any colour: by its figure, or by eye.
    fn own_colour(&mut self, ui: &mut Ui, hex: &mut String) {
        ui.horizontal(|ui| {
            let label = ui.label("Own #");
            let id = ui.next_auto_id().with("own colour");
            let mut text = ui.data(|d| d.get_temp::<String>(id)).unwrap_or_else(|| hex.clone());
            let field = ui.add(TextEdit::singleline(&mut text).desired_width(74.0)).labelled_by(label.id);
            if field.changed() {
                ui.data_mut(|d| d.insert_temp(id, text.clone()));
            }
            if field.lost_focus() {
                ui.data_mut(|d| d.remove::<String>(id));
                match digits(&text) {
                    Some(read) if read != *hex => {
                        *hex = read;
                        self.done = true;
                    }
                    Some(_) => {}
                    None => self.refused = Some(format!("\"{text}\" is no colour; write six digits such as ffb000")),
                }
            }
            let mut own = rgb(hex).unwrap_or([255; 3]);
            let response = ui.color_edit_button_srgb(&mut own);
            if response.changed() {
                *hex = format!("{:02x}{:02x}{:02x}", own[0], own[1], own[2]);
            }
            self.look(&response);
        });
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::collections::BTreeSet;

    #[test]
    fn colours_have_names_of_their_own_and_people_write_figures_in_many_ways() {
        let names: BTreeSet<&str> = PALETTE.iter().map(|(name, _)| *name).collect();
        let colours: BTreeSet<&str> = PALETTE.iter().map(|(_, colour)| *colour).collect();
        assert_eq!((names.len(), colours.len()), (PALETTE.len(), PALETTE.len()));
        assert!(PALETTE.iter().all(|(_, colour)| rgb(colour).is_some()));
        for (text, read) in [("#FFB000", "ffb000"), ("ffb000", "ffb000"), (" #fa0 ", "ffaa00")] {
            assert_eq!(digits(text).as_deref(), Some(read));
        }
        for text in ["", "#", "ffb00", "ffb0000", "amber", "+fb000", "ffb00é"] {
            assert_eq!(digits(text), None, "{text}");
        }
        assert_eq!((colour_name("FFB000"), colour_name("123456")), ("amber".into(), "#123456".into()));
    }
}
