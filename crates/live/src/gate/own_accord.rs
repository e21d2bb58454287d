//! What the thread of a port may send without the engine. The thread asks right before it sends, because the sending thread may be
//! gone by then, and stop-all must not wait for it. The ends of notes and contacts are not asked about here: the gate judged them
//! together with what began them, and what was begun must end.

use crate::run_plan::RunPlan;
use crate::units::ShowPort;
use letfall_core::midi::silence;

/// How many messages silence a port: two for each of 16 channels.
pub const SILENCES: u8 = 32;

/// One of the messages that silence a port, with the given number. `None` if a device on the port, which the given ports of the show
/// use, might take it for a release's message.
pub fn may_silence(plan: &RunPlan, shows: &[ShowPort], number: u8) -> Option<[u8; 3]> {
    let bytes = silence(number / 2)[usize::from(number % 2)];
    let doubt = plan.doubt(&bytes, None, |port| shows.contains(&port));
    (doubt.is_none() || crate::planted!(SilenceReleases)).then_some(bytes)
}

/// Whether active sensing may be sent: when it stops, a device that supports it switches everything off, which must let go of no
/// fabric.
pub fn may_sense(plan: &RunPlan, shows: &[ShowPort]) -> bool {
    plan.guards.iter().filter(|guard| shows.contains(&guard.port)).all(|guard| guard.trigger.may_be_sensed())
}
