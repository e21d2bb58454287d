//! Types that all parts of the engine share.

use crate::event::{Event, EventSink, SendOutcome};
use crate::units::{HolderId, ItemIndex, MachineTime, PhysicalPort};

/// When a message was due, and the present time.
#[derive(Debug, Clone, Copy)]
pub(super) struct Timing {
    /// When it was due.
    pub due: MachineTime,
    /// Now.
    pub now: MachineTime,
}

/// Reports what became of a message.
pub(super) fn say(
    tell: EventSink<'_>,
    item: ItemIndex,
    outcome: SendOutcome,
    Timing { due, now }: Timing,
    holder: Option<HolderId>,
) {
    tell(Event::Message { item, outcome, due, at: now, holder });
}

/// Which rows are chased.
#[derive(Debug, Clone, Copy)]
pub(super) enum Chase {
    /// All of them.
    All,
    /// Those whose receiver differs from the plan, as far as is known.
    Changed,
    /// Those of one machine port.
    Port(PhysicalPort),
}
