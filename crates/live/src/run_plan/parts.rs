//! What a run is made of: its messages, its releases, its marks.

use crate::command::Mode;
use crate::units::{ItemIndex, MachineSpan, ReleaseIndex, ShowPort};
use letfall_core::midi::ReleaseTrigger;
use letfall_core::show::{Course, Label, ReleaseKey};
use letfall_core::time::{SongSpan, SongTime};
use std::sync::Arc;

/// A release of the run.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct RunRelease {
    /// Its cue.
    pub label: Label,
    /// Its name.
    pub name: String,
    /// The port by which its message leaves.
    pub port: ShowPort,
    /// Song time from which it can be armed.
    pub from: SongTime,
    /// Song time until which it can be armed and sent.
    pub to: SongTime,
    /// When its message is planned to leave.
    pub send: SongTime,
    /// When it is to land.
    pub land: SongTime,
    /// How long its contact stays closed before the port's thread opens it. `None` where the box opens it by itself.
    pub pulse: Option<MachineSpan>,
    /// Its index in [`super::RunPlan::guards`].
    pub guard: usize,
    /// The show's ports that it needs: its own, and those of its handover.
    pub needs: Vec<ShowPort>,
    /// By when it must be armed: a second before the first message that depends on it.
    pub decision: SongTime,
    /// What depends on it, in the order in which it is due.
    pub dependents: Vec<ItemIndex>,
    /// What is sent at once if it takes another course, in the order of [`Course::ALL`].
    pub instead: [Vec<ItemIndex>; 3],
}

impl RunRelease {
    /// What is sent at once if it takes another course.
    pub fn sent_instead(&self, course: Course) -> &[ItemIndex] {
        Course::ALL.iter().position(|of| *of == course).map_or(&[], |at| &self.instead[at])
    }
}

/// A bend of the song that the plan marks.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct RunMark {
    /// Where.
    pub at: SongTime,
    /// What the song does there.
    pub does: MarkDoes,
    /// Its name in words.
    pub name: String,
    /// What the caller says for it.
    pub words: String,
}

/// What the song does at a mark.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum MarkDoes {
    /// It waits until somebody goes on.
    Wait,
    /// It goes round, from its place to this one.
    Vamp(SongTime),
    /// It may go on at this place.
    Cut(SongTime),
}

/// Cues that land together: what one key sends when a run goes by hand.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct HandGroup {
    /// When they land.
    pub land: SongTime,
    /// Their messages, in the order in which they are due.
    pub items: Vec<ItemIndex>,
    /// The releases among them.
    pub releases: Vec<ReleaseIndex>,
}

/// A set of releases, as an index into a run's list of such sets. The first is empty.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct ReleaseSet(pub(super) u32);

/// What might fire a release of the show. It covers releases without a cue in this service too, because their contact is still
/// connected to the port.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct ReleaseGuard {
    /// The port by which its message leaves.
    pub port: ShowPort,
    /// What might fire it.
    pub trigger: ReleaseTrigger,
    /// The bytes of its message.
    pub row: Arc<[u8]>,
    /// The release.
    pub release: ReleaseKey,
}

/// A range among the bytes of a run: where it starts, and how many bytes it has.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct ByteRange {
    pub(super) from: u32,
    pub(super) length: u32,
}

/// One message.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct RunItem {
    /// When it is due.
    pub due: SongTime,
    /// Its cue.
    pub label: Label,
    /// Its port.
    pub port: ShowPort,
    /// Where its bytes are.
    pub bytes: ByteRange,
    /// For the end of a note: the message that begins the note.
    pub ends: Option<ItemIndex>,
    /// The message that ends the note which this one begins. For a release, the end of its own message, not of its stand-in's.
    pub ended_by: Option<ItemIndex>,
    /// The message that ends the note of a release's stand-in.
    pub stand_in_ended_by: Option<ItemIndex>,
    /// The only mode in which it is sent. Set for the ends of a release's note and of its stand-in's note.
    pub only: Option<Mode>,
    /// The release that it fires.
    pub release: Option<ReleaseIndex>,
    /// For a release: what is sent instead of it in rehearsal. `None` sends nothing.
    pub stand_in: Option<ByteRange>,
    /// The row of the stage that it sets. A row keeps what was last sent for it. `None` sets no row.
    pub sets: Option<u32>,
    /// Its order among messages that are due at the same time. The lowest rank leaves first.
    pub rank: u8,
    /// When it is to land.
    pub land: SongTime,
    /// The releases without which it makes no sense.
    pub depends: ReleaseSet,
    /// The releases that it waits for if they are stuck.
    pub held: ReleaseSet,
    /// It is sent in the first round of a vamp only.
    pub once: bool,
}

impl RunItem {
    /// How long before its land it is due.
    pub fn lead(&self) -> SongSpan {
        self.land - self.due
    }
}

/// A row of the stage that an operator or a desk sets by itself.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct ByHand {
    /// When.
    pub due: SongTime,
    /// Which row, by its number.
    pub row: u32,
}
