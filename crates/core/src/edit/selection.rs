//! Which cues an edit applies to.

use crate::show::{Kind, Label, Service};
use std::collections::BTreeSet;
use std::str::FromStr;

/// Selected cues of one service, by label.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Selection {
    /// Their labels, in order.
    pub labels: BTreeSet<Label>,
}

impl Selection {
    /// Nothing selected.
    pub fn none() -> Selection {
        Selection::default()
    }

    /// The labels, in order.
    pub fn to_vec(&self) -> Vec<Label> {
        self.labels.iter().copied().collect()
    }
}

impl FromIterator<Label> for Selection {
    fn from_iter<T: IntoIterator<Item = Label>>(labels: T) -> Selection {
        Selection { labels: labels.into_iter().collect() }
    }
}

/// A way to choose cues, as the command line and the select commands do.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Pick {
    /// All of them.
    All,
    /// These ranges of labels, such as `L1..L20,R1`; each within one kind, ends included.
    Labels(Vec<(Label, Label)>),
    /// All of a kind.
    Kind(Kind),
    /// Those that land in these bars, ends included.
    Bars(i32, i32),
    /// Those that land in the section of this name.
    Section(String),
}

impl Pick {
    /// Reads `L1..L20,R1`.
    ///
    /// # Errors
    /// A sentence that says what is wrong.
    pub fn labels(text: &str) -> Result<Pick, String> {
        let mut ranges = Vec::new();
        for part in text.split(',').map(str::trim).filter(|p| !p.is_empty()) {
            let (from, to) = part.split_once("..").unwrap_or((part, part));
            let from = Label::from_str(from).map_err(|e| e.to_string())?;
            let to = Label::from_str(to).map_err(|e| e.to_string())?;
            if from.kind != to.kind || from > to {
                return Err(format!(
                    "\"{part}\" is no range of labels; write the lower one first and keep to one kind, such as L1..L20"
                ));
            }
            ranges.push((from, to));
        }
        if ranges.is_empty() {
            return Err("no cue is named; write labels such as L1..L20,R1".to_owned());
        }
        Ok(Pick::Labels(ranges))
    }

    /// Reads `33..48` or `33`.
    ///
    /// # Errors
    /// A sentence that says what is wrong.
    pub fn bars(text: &str) -> Result<Pick, String> {
        let fail = || format!("\"{text}\" is no range of bars; write the lower one first, such as 33..48");
        let (from, to) = text.split_once("..").unwrap_or((text, text));
        let (from, to): (i32, i32) = (from.trim().parse().map_err(|_| fail())?, to.trim().parse().map_err(|_| fail())?);
        if from > to { Err(fail()) } else { Ok(Pick::Bars(from, to)) }
    }

    /// The labels that it picks from a service, in label order. Missing labels are not an error here.
    pub fn of(&self, service: &Service) -> Vec<Label> {
        let all = service.cues.iter();
        let in_bars = |from: i32, to: i32| {
            let Ok(grid) = service.song.grid.build() else { return Vec::new() };
            let bar_of = |cue: &crate::show::Cue| grid.place_of(grid.tick_at(cue.at.time(&grid))).bar;
            service.cues.iter().filter(|c| (from..=to).contains(&bar_of(c))).map(|c| c.label).collect()
        };
        match self {
            Pick::All => all.map(|c| c.label).collect(),
            Pick::Labels(ranges) => {
                all.map(|c| c.label).filter(|l| ranges.iter().any(|(from, to)| (from..=to).contains(&l))).collect()
            }
            Pick::Kind(kind) => all.map(|c| c.label).filter(|l| l.kind == *kind).collect(),
            Pick::Bars(from, to) => in_bars(*from, *to),
            Pick::Section(name) => service
                .song
                .sections
                .iter()
                .filter(|s| s.name == *name)
                .flat_map(|s| in_bars(s.bar, s.bar.saturating_add(i32::try_from(s.bars).unwrap_or(i32::MAX) - 1)))
                .collect::<BTreeSet<_>>()
                .into_iter()
                .collect(),
        }
    }
}
