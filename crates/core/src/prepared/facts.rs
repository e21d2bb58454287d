//! What only somebody outside the show can know: whether its recordings are there.

use crate::show::Guide;
use std::collections::BTreeMap;

/// Facts that were looked up for a show: which guide recordings were found.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct OutsideFacts {
    guides: BTreeMap<String, Option<String>>,
}

impl OutsideFacts {
    /// Nothing was looked up: nothing is said of recordings. For hypothetical shows.
    pub fn none() -> OutsideFacts {
        OutsideFacts::default()
    }

    /// Notes what was found where a guide should be: its SHA-256 in hexadecimal, or `None` where there is no such file.
    pub fn note_guide(&mut self, guide: &Guide, sum: Option<String>) {
        self.guides.insert(guide.path.clone(), sum);
    }

    /// What was found where a guide should be; `None` where nobody looked.
    pub fn guide(&self, guide: &Guide) -> Option<Option<&str>> {
        self.guides.get(&guide.path).map(Option::as_deref)
    }
}
