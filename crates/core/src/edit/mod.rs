//! Changes to a show, as values: made by pure functions, applied in one place, and exactly undoable.
//!
//! Every verb ([`shift`], [`quantize`], [`carry()`] …) looks at a show and *returns* an [`Edit`]; nothing changes until a
//! [`History`] commits it. An edit stores only what it changes, so undo costs no more than the change itself.

mod carry;
mod choices;
mod clipboard;
mod compare;
mod cue_table;
mod desk_list;
mod handover;
mod history;
mod next_year;
mod placing;
mod selection;
mod step;
mod verbs;

pub use carry::{Carried, Clash, Match, carry};
pub use choices::{Choice, action_name, choices};
pub use clipboard::{Clipboard, PasteAt, copy, paste, repeat};
pub(crate) use compare::differing;
pub use compare::{Difference, Field, compare, compare_services};
pub use cue_table::{CueRow, CueTable, RowOutcome, read_place, take_cue_table};
pub use desk_list::{DeskLine, DeskListError, DeskListTaken, renumber, take_desk_list};
pub use handover::{handover_places, plan_handover};
pub use history::{History, Step};
pub use next_year::for_next_year;
pub use placing::By;
pub use selection::{Pick, Selection};
pub use step::{Edit, EditError, Moved, Part, part_changes};
pub use verbs::{change, delete, quantize, shift, slide, snap, stretch, to_track};
