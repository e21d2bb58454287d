//! Facts from outside the show: whether its recordings are there.

use crate::show::Guide;
use std::collections::BTreeMap;

/// Facts looked up for a show: which guide recordings were found.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct OutsideFacts {
    guides: BTreeMap<String, Option<String>>,
}

impl OutsideFacts {
    /// Nothing was looked up, so nothing is reported about recordings. For hypothetical shows.
    pub fn none() -> OutsideFacts {
        OutsideFacts::default()
    }

    /// Records what was found at a guide's path: its SHA-256 in hexadecimal, or `None` if there is no such file.
    pub fn note_guide(&mut self, guide: &Guide, sum: Option<String>) {
        self.guides.insert(guide.path.clone(), sum);
    }

    /// What was found at a guide's path; `None` if nobody looked.
    pub fn guide(&self, guide: &Guide) -> Option<Option<&str>> {
        self.guides.get(&guide.path).map(Option::as_deref)
    }
}
