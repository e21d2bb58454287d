//! What the gate refuses. On a machine port that leads to a release, a message passes only if it provably cannot fire it.

use super::packet::Task;
use crate::run_plan::RunPlan;
use crate::units::{PhysicalPort, ShowPort};
use letfall_core::midi::{Doubt, EXCLUSIVE_MAX};

/// Which machine port each port of the show leaves by.
#[derive(Debug, Clone)]
pub(super) struct PortMap(pub Vec<Option<PhysicalPort>>);

impl PortMap {
    /// Whether two ports of the show use the same machine port. A port without a machine port matches only itself.
    pub fn are_one(&self, a: ShowPort, b: ShowPort) -> bool {
        let of = |port: ShowPort| self.0.get(port.index()).copied().flatten();
        a == b || of(a).is_some() && of(a) == of(b)
    }
}

/// Why a message must not leave by a port of the show. `None` where it may.
pub(super) fn refusal(plan: &RunPlan, map: &PortMap, port: ShowPort, bytes: &[u8], task: &Task) -> Option<Doubt> {
    if bytes.len() > EXCLUSIVE_MAX {
        return Some(Doubt::Broken);
    }
    // The guard of the release that this message is meant to fire.
    let own = match task {
        Task::Release { release, .. } => plan.release(*release).map(|r| r.guard),
        _ => None,
    };
    let sync_confirmed = plan
        .sync_confirmed
        .iter()
        .enumerate()
        .all(|(at, confirmed)| *confirmed || !map.are_one(ShowPort::at(at), port));
    let here = plan.guards.iter().enumerate().filter(|(_, guard)| map.are_one(guard.port, port));
    here.filter(|(at, _)| own != Some(*at)).find_map(|(_, guard)| {
        if crate::planted!(OneMessageTwoReleases) && own.is_some() {
            return None;
        }
        if crate::planted!(WholeRowsOnly) && bytes != guard.row.as_ref() {
            return None;
        }
        if crate::planted!(SyncOnReleasePort) && matches!(task, Task::Sync) {
            return None;
        }
        if crate::planted!(ChaseUnguarded) && matches!(task, Task::Cue { outcome: crate::SendOutcome::Chased, .. }) {
            return None;
        }
        let doubt = guard.trigger.doubt_in_row(bytes, sync_confirmed);
        if crate::planted!(EveryBoxKeepsItsChannel) && doubt == Some(Doubt::OtherChannel) { None } else { doubt }
    })
}
