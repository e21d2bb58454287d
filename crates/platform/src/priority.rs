//! Raising the priority of a thread.

/// Whether a thread's priority was raised.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Priority {
    /// It was raised.
    Raised,
    /// It was not; the reason why.
    Usual(String),
}

/// What a thread is for, among those that run ahead of all others.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Urgency {
    /// Decides what is sent. It waits awake just before something is due.
    Deciding,
    /// Hands one message to a driver and sleeps again: it goes before a thread that waits awake, or it would wait for that one.
    HandingOver,
}

/// Asks the system to run the calling thread ahead of others.
pub fn raise_thread_priority(urgency: Urgency) -> Priority {
    #[cfg(unix)]
    {
        use thread_priority::{
            RealtimeThreadSchedulePolicy, ThreadPriority, ThreadPriorityValue, ThreadSchedulePolicy,
            set_thread_priority_and_policy, thread_native_id,
        };
        let value =
            ThreadPriorityValue::try_from(if urgency == Urgency::HandingOver { 62u8 } else { 60 }).unwrap_or_default();
        let policy = ThreadSchedulePolicy::Realtime(RealtimeThreadSchedulePolicy::Fifo);
        match set_thread_priority_and_policy(thread_native_id(), ThreadPriority::Crossplatform(value), policy) {
            Ok(()) => Priority::Raised,
            Err(why) => Priority::Usual(format!("{why:?}")),
        }
    }
    #[cfg(not(unix))]
    let _ = urgency;
    #[cfg(not(unix))]
    match thread_priority::set_current_thread_priority(thread_priority::ThreadPriority::Max) {
        Ok(()) => Priority::Raised,
        Err(why) => Priority::Usual(format!("{why:?}")),
    }
}
