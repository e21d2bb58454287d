//! Marks on the song where an evening may bend: where time stands until somebody goes on, where a stretch goes round, where a stretch
//! may be left out, where a band plays freely. Files and paper follow the straight line and carry the marks.

use super::Label;
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

/// A planned bend of the song, at the beginning of a bar.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct BendMark {
    /// The bar.
    pub bar: i32,
    /// What the song does there.
    pub does: SongBend,
    /// What the caller says for it.
    #[serde(default, skip_serializing_if = "String::is_empty")]
    pub words: String,
}

/// What a song does at a mark.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case", deny_unknown_fields)]
pub enum SongBend {
    /// Time stands at the bar line until somebody goes on.
    Wait {},
    /// A stretch goes round until somebody leaves it, at its end or at the next bar.
    Vamp {
        /// How many bars it has.
        bars: u32,
        /// Cues in it that are sent in the first round only. All others are sent in each round.
        #[serde(default, skip_serializing_if = "Vec::is_empty")]
        once: Vec<Label>,
    },
    /// These bars are played freely: a live band may stretch them. Whoever follows its taps expects that. Nothing else changes.
    Free {
        /// How many bars it has.
        bars: u32,
    },
    /// The bars from here to another bar may be left out: on a key, the song goes on there.
    Cut {
        /// The bar at which it goes on.
        to: i32,
    },
}

impl BendMark {
    /// Its name in words, such as "wait at bar 41".
    pub fn name(&self) -> String {
        let bar = self.bar;
        match &self.does {
            SongBend::Wait {} => format!("wait at bar {bar}"),
            SongBend::Vamp { bars: 1, .. } => format!("vamp, bar {bar}"),
            SongBend::Vamp { .. } => format!("vamp, bars {bar} to {}", self.end_bar() - 1),
            SongBend::Free { bars: 1 } => format!("played freely, bar {bar}"),
            SongBend::Free { .. } => format!("played freely, bars {bar} to {}", self.end_bar() - 1),
            SongBend::Cut { to } => format!("cut from bar {bar} to bar {to}"),
        }
    }

    /// The first bar after it: for a wait its own, for a cut the bar at which the song goes on.
    pub fn end_bar(&self) -> i32 {
        match &self.does {
            SongBend::Wait {} => self.bar,
            SongBend::Vamp { bars, .. } | SongBend::Free { bars } => {
                self.bar.saturating_add(i32::try_from(*bars).unwrap_or(i32::MAX))
            }
            SongBend::Cut { to } => *to,
        }
    }
}
