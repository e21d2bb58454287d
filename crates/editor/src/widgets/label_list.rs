//! A field for labels of cues, such as "L12 M5".

use super::fields::Fields;
use egui::Ui;
use letfall_core::show::Label;
use std::fmt;
use std::str::FromStr;

/// A field for labels of cues.
pub fn labels(ui: &mut Ui, fields: &mut Fields, list: &mut Vec<Label>, width: f32, name: &str) {
    let mut of = Labels(list.clone());
    fields.parsed(ui, &mut of, width, "L12 M5", name);
    *list = of.0;
}

/// A list of labels as text.
#[derive(Clone, PartialEq)]
struct Labels(Vec<Label>);

impl fmt::Display for Labels {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let words: Vec<String> = self.0.iter().map(ToString::to_string).collect();
        f.write_str(&words.join(" "))
    }
}

impl FromStr for Labels {
    type Err = <Label as FromStr>::Err;

    fn from_str(text: &str) -> Result<Labels, Self::Err> {
        let words = text.split([' ', ',']).filter(|word| !word.is_empty());
        words.map(str::parse).collect::<Result<_, _>>().map(Labels)
    }
}
