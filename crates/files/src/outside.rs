//! What a show needs to know from outside, looked up.

use crate::guides;
use letfall_core::prepared::{OutsideFacts, PreparedShow};
use letfall_core::show::Show;
use std::path::Path;
use std::sync::Arc;

/// Looks for a show's guide recordings, as seen from the folder that it is kept in. Reads whole recordings the first time: not for
/// a thread that must answer at once.
pub fn outside_facts(show: &Show, folder: Option<&Path>) -> OutsideFacts {
    let mut facts = OutsideFacts::none();
    for guide in show.services.iter().filter_map(|service| service.song.guide.as_ref()) {
        if facts.guide(guide).is_none() {
            facts.note_guide(guide, guides::sum(folder, guide));
        }
    }
    facts
}

/// A show with its recordings looked for.
pub fn prepared_show(show: Arc<Show>, folder: Option<&Path>) -> Arc<PreparedShow> {
    let facts = outside_facts(&show, folder);
    PreparedShow::new(show, facts)
}
