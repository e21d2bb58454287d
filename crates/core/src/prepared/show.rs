//! A show, and what all its services share: the rig's problems, found once.

use super::OutsideFacts;
use crate::check::{Problem, rig_problems};
use crate::room::{RoomFigures, room_figures};
use crate::show::Show;
use std::sync::{Arc, OnceLock};

/// A snapshot of a show, with the facts looked up for it.
#[derive(Debug)]
pub struct PreparedShow {
    show: Arc<Show>,
    facts: OutsideFacts,
    rig_problems: OnceLock<Vec<Problem>>,
    room: OnceLock<Option<RoomFigures>>,
}

impl PreparedShow {
    /// Takes a snapshot of a show.
    pub fn new(show: Arc<Show>, facts: OutsideFacts) -> Arc<PreparedShow> {
        Arc::new(PreparedShow { show, facts, rig_problems: OnceLock::new(), room: OnceLock::new() })
    }

    /// The show.
    pub const fn show(&self) -> &Arc<Show> {
        &self.show
    }

    /// What was looked up for it.
    pub const fn facts(&self) -> &OutsideFacts {
        &self.facts
    }

    /// What is wrong with the rig and the kit, whichever service plays; worst first.
    pub fn rig_problems(&self) -> &[Problem] {
        self.rig_problems.get_or_init(|| rig_problems(&self.show, self.room()))
    }

    /// The figures of the room; `None` if nobody has described one.
    pub fn room(&self) -> Option<&RoomFigures> {
        self.room.get_or_init(|| room_figures(&self.show)).as_ref()
    }
}
