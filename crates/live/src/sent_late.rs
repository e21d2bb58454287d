//! How late each message of a run was sent.

use crate::log::LogRecord;
use letfall_core::show::Label;
use std::collections::BTreeMap;

/// How late each cue's message was sent, seconds. A cue that was sent more than once is left out: nobody can say which was seen.
pub fn sent_late(records: &[LogRecord]) -> BTreeMap<Label, f64> {
    let mut sent: BTreeMap<Label, Vec<f64>> = BTreeMap::new();
    for record in records {
        if let LogRecord::Message { label, late_us, what, .. } = record
            && (what == "sent" || what == "stand-in")
            && let Ok(label) = label.parse()
        {
            sent.entry(label).or_default().push(*late_us as f64 / 1e6);
        }
    }
    let once = |(label, late): (Label, Vec<f64>)| (late.len() == 1).then(|| (label, late[0]));
    sent.into_iter().filter_map(once).collect()
}
