//! How long the machine has slept.

use std::time::Duration;

/// How long the machine has slept since it started, where the system tells; elsewhere never. Setting the wall clock is no sleep.
/// On Linux it is the difference of two clocks that both run since the start, of which one stands still while the machine sleeps
/// (`clock_gettime`(2): `CLOCK_BOOTTIME` and `CLOCK_MONOTONIC`).
pub fn time_asleep() -> Duration {
    #[cfg(target_os = "linux")]
    {
        use rustix::time::{ClockId, clock_gettime};
        let read = |clock| {
            let now = clock_gettime(clock);
            Duration::new(u64::try_from(now.tv_sec).unwrap_or(0), u32::try_from(now.tv_nsec).unwrap_or(0))
        };
        read(ClockId::Boottime).saturating_sub(read(ClockId::Monotonic))
    }
    #[cfg(any(windows, target_os = "macos"))]
    {
        #[cfg(target_os = "macos")]
        use crate::system_calls::macos::since_start;
        #[cfg(windows)]
        use crate::system_calls::windows::since_start;
        let (all, awake) = since_start();
        all.saturating_sub(awake)
    }
    #[cfg(not(any(windows, target_os = "linux", target_os = "macos")))]
    Duration::ZERO
}

#[cfg(test)]
mod tests {
    use super::time_asleep;
    use std::time::Duration;

    /// It sleeps no longer than it has been up, and not while this test runs. The two clocks are read one after the other and may step by a
    /// sixtieth of a second.
    #[test]
    fn no_sleep_while_awake() {
        let first = time_asleep();
        std::thread::sleep(Duration::from_millis(60));
        assert!(time_asleep().abs_diff(first) < Duration::from_millis(50), "{first:?} and {:?}", time_asleep());
    }
}
