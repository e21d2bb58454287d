//! Facts about files outside the show that checking the show needs.

use crate::guides;
use letfall_core::prepared::{OutsideFacts, PreparedShow};
use letfall_core::show::Show;
use std::path::Path;
use std::sync::Arc;

/// Looks for a show's guide recordings, relative to the folder that holds the show. The first call reads whole recordings, so
/// do not call it on a thread that must respond at once.
pub fn outside_facts(show: &Show, folder: Option<&Path>) -> OutsideFacts {
    let mut facts = OutsideFacts::none();
    for guide in show.services.iter().filter_map(|service| service.song.guide.as_ref()) {
        if facts.guide(guide).is_none() {
            facts.note_guide(guide, guides::sum(folder, guide));
        }
    }
    facts
}

/// A show together with the facts about its recordings.
pub fn prepared_show(show: Arc<Show>, folder: Option<&Path>) -> Arc<PreparedShow> {
    let facts = outside_facts(&show, folder);
    PreparedShow::new(show, facts)
}
