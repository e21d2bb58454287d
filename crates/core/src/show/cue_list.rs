//! The cues of one service, by label.

use super::{Anchor, Cue, Kind, Label};
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

/// Cues in label order, each label once. Lookup is O(log n); many cues are added or removed in one pass.
#[derive(Debug, Clone, PartialEq, Eq, Default, Serialize, JsonSchema)]
#[serde(transparent)]
pub struct CueList {
    cues: Vec<Cue>,
}

impl<'de> Deserialize<'de> for CueList {
    fn deserialize<D: serde::Deserializer<'de>>(from: D) -> Result<CueList, D::Error> {
        let mut cues = Vec::<Cue>::deserialize(from)?;
        cues.sort_by_key(|c| c.label); // people may order the file as they like; only labels count
        if let Some(pair) = cues.windows(2).find(|pair| pair[0].label == pair[1].label) {
            return Err(serde::de::Error::custom(format!(
                "two cues are labelled {}; give one of them a free number",
                pair[0].label
            )));
        }
        Ok(CueList { cues })
    }
}

impl CueList {
    /// The cues, in label order.
    pub fn as_slice(&self) -> &[Cue] {
        &self.cues
    }

    /// The cues, in label order.
    pub fn iter(&self) -> std::slice::Iter<'_, Cue> {
        self.cues.iter()
    }

    /// How many.
    pub fn len(&self) -> usize {
        self.cues.len()
    }

    /// Whether there are none.
    pub fn is_empty(&self) -> bool {
        self.cues.is_empty()
    }

    fn find(&self, label: Label) -> Result<usize, usize> {
        self.cues.binary_search_by_key(&label, |c| c.label)
    }

    /// The index of a label in the list.
    pub fn index_of(&self, label: Label) -> Option<usize> {
        self.find(label).ok()
    }

    /// The cue with this label.
    pub fn get(&self, label: Label) -> Option<&Cue> {
        self.find(label).ok().map(|at| &self.cues[at])
    }

    /// The cue with this label, mutable. Do not change its label.
    pub(crate) fn get_mut(&mut self, label: Label) -> Option<&mut Cue> {
        self.find(label).ok().map(|at| &mut self.cues[at])
    }

    /// The cues for labels given in label order, in one pass.
    pub(crate) fn matching(&self, labels: impl Iterator<Item = Label>) -> impl Iterator<Item = Option<&Cue>> {
        let mut rest = self.cues.as_slice();
        labels.map(move |label| {
            // Look at close neighbours first: a batch is often a consecutive run.
            let near = rest.iter().take(8).position(|c| c.label >= label);
            let at = near.unwrap_or_else(|| rest.partition_point(|c| c.label < label));
            rest = &rest[at..];
            rest.first().filter(|c| c.label == label)
        })
    }

    /// Gives cues new anchors, in label order, in one pass. Labels that are not in the list are skipped.
    pub(crate) fn re_anchor(&mut self, anchors: impl Iterator<Item = (Label, Anchor)>) {
        let mut rest = self.cues.as_mut_slice();
        for (label, anchor) in anchors {
            let near = rest.iter().take(8).position(|c| c.label >= label);
            let at = near.unwrap_or_else(|| rest.partition_point(|c| c.label < label));
            rest = &mut rest[at..];
            if let Some(cue) = rest.first_mut().filter(|c| c.label == label) {
                cue.at = anchor;
            }
        }
    }

    /// Adds cues, replacing any with the same label; returns the replaced ones.
    pub fn put(&mut self, new: Vec<Cue>) -> Vec<Cue> {
        let mut replaced = Vec::new();
        let mut fresh = Vec::new();
        for cue in new {
            match self.get_mut(cue.label) {
                Some(slot) => replaced.push(std::mem::replace(slot, cue)),
                None => fresh.push(cue),
            }
        }
        if !fresh.is_empty() {
            // Two sorted runs: the stable sort merges them in O(n).
            fresh.sort_by_key(|c| c.label);
            fresh.dedup_by_key(|c| c.label);
            self.cues.append(&mut fresh);
            self.cues.sort_by_key(|c| c.label);
        }
        replaced
    }

    /// Removes cues; returns those that were there, in label order.
    pub fn take(&mut self, labels: &[Label]) -> Vec<Cue> {
        let mut wanted = labels.to_vec();
        wanted.sort_unstable();
        self.cues.extract_if(.., |cue| wanted.binary_search(&cue.label).is_ok()).collect()
    }

    /// The number after the highest of this kind, or the lowest free one if the highest number is taken.
    ///
    /// Returns `None` when all 999 999 are taken.
    pub fn free_label(&self, kind: Kind) -> Option<Label> {
        self.free_labels(kind).next()
    }

    /// Free labels of a kind: first those above all existing ones, then the gaps.
    pub fn free_labels(&self, kind: Kind) -> impl Iterator<Item = Label> + '_ {
        let last = self.cues.iter().rev().find(|c| c.label.kind == kind).map_or(0, |c| c.label.number);
        let gaps = (1..last).filter(move |&number| self.find(Label { kind, number }).is_err());
        (last + 1..=Label::MAX).chain(gaps).map(move |number| Label { kind, number })
    }
}

impl<'a> IntoIterator for &'a CueList {
    type Item = &'a Cue;
    type IntoIter = std::slice::Iter<'a, Cue>;
    fn into_iter(self) -> Self::IntoIter {
        self.cues.iter()
    }
}

impl FromIterator<Cue> for CueList {
    /// Collects cues; of two with the same label the later one stays.
    fn from_iter<T: IntoIterator<Item = Cue>>(cues: T) -> CueList {
        let mut list = CueList::default();
        let mut all: Vec<Cue> = cues.into_iter().collect();
        all.reverse();
        list.put(all);
        list
    }
}
