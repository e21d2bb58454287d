//! What the gate refuses. On a machine port that leads to a release, a message passes only if it provably cannot fire it.

use super::packet::Task;
use crate::run_plan::RunPlan;
use crate::units::{PhysicalPort, ShowPort};
use letfall_core::midi::Doubt;

/// Which machine port each port of the show leaves by.
#[derive(Debug, Clone)]
pub(super) struct PortMap(pub Vec<Option<PhysicalPort>>);

impl PortMap {
    /// The machine port that a port of the show leaves by. `None` if it has none.
    pub fn of(&self, port: ShowPort) -> Option<PhysicalPort> {
        self.0.get(port.index()).copied().flatten()
    }

    /// Whether two ports of the show use the same machine port. A port without a machine port matches only itself.
    pub fn are_one(&self, a: ShowPort, b: ShowPort) -> bool {
        a == b || self.of(a).is_some() && self.of(a) == self.of(b)
    }

    /// The ports of the show that leave by a machine port.
    pub fn shows(&self, physical: PhysicalPort) -> impl Iterator<Item = ShowPort> {
        let leaves = move |(_, of): &(usize, &Option<PhysicalPort>)| **of == Some(physical);
        self.0.iter().enumerate().filter(leaves).map(|(at, _)| ShowPort::at(at))
    }
}

/// Why a message must not leave by a port of the show. `None` where it may.
pub(super) fn refusal(plan: &RunPlan, map: &PortMap, port: ShowPort, bytes: &[u8], task: &Task) -> Option<Doubt> {
    // The guard of the release that this message is meant to fire.
    let own = match task {
        Task::Release { release, .. } => plan.release(*release).map(|r| r.guard),
        _ => None,
    };
    let here = |of| map.are_one(of, port);
    if crate::planted!(OneMessageTwoReleases) && own.is_some()
        || crate::planted!(WholeRowsOnly) && !plan.guards.iter().any(|g| here(g.port) && bytes == g.row.as_ref())
        || crate::planted!(SyncOnReleasePort) && matches!(task, Task::Sync)
        || crate::planted!(ChaseUnguarded) && matches!(task, Task::Cue { outcome: crate::SendOutcome::Chased, .. })
    {
        return None;
    }
    let doubt = plan.doubt(bytes, own, here);
    doubt.filter(|doubt| !(crate::planted!(EveryBoxKeepsItsChannel) && *doubt == Doubt::OtherChannel))
}
