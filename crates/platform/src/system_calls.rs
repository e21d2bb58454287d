//! The few calls of a system that no library wraps. Nowhere else in Letfall is code that the compiler cannot vouch for.
#![allow(unsafe_code)]

/// What Windows gives.
#[cfg(windows)]
pub mod windows {
    use std::time::Duration;
    use windows_sys::Win32::System::Console::{FreeConsole, GetConsoleProcessList};
    use windows_sys::Win32::System::SystemInformation::GetTickCount64;
    use windows_sys::Win32::System::WindowsProgramming::QueryUnbiasedInterruptTime;

    /// How many programs share this one's console; 0 if it has none.
    pub fn sharing_console() -> u32 {
        let mut list = [0u32; 2];
        // SAFETY: the list has room for as many numbers as is said; the call writes no more (consoleapi3.h).
        unsafe { GetConsoleProcessList(list.as_mut_ptr(), 2) }
    }

    /// Leaves the console; if nobody else has it, it goes away.
    pub fn leave_console() {
        // SAFETY: it takes nothing and may be called at any time (consoleapi.h). That it fails without a console is no harm.
        unsafe { FreeConsole() };
    }

    /// Time since the start with that asleep, and without it. `GetTickCount64` counts on while the machine sleeps;
    /// `QueryUnbiasedInterruptTime` does not, in steps of 100 ns (sysinfoapi.h, realtimeapiset.h).
    pub fn since_start() -> (Duration, Duration) {
        let mut awake = 0u64;
        // SAFETY: the pointer is to a number of its own, which lives through the call.
        let (all, told) = unsafe { (GetTickCount64(), QueryUnbiasedInterruptTime(&raw mut awake)) };
        let all = Duration::from_millis(all);
        (all, if told == 0 { all } else { Duration::from_nanos(awake.saturating_mul(100)) })
    }
}

/// What macOS gives.
#[cfg(target_os = "macos")]
pub mod macos {
    use std::time::Duration;

    fn read(clock: libc::clockid_t) -> Duration {
        let mut now = libc::timespec { tv_sec: 0, tv_nsec: 0 };
        // SAFETY: the pointer is to a value of its own, which lives through the call.
        let done = unsafe { libc::clock_gettime(clock, &raw mut now) };
        if done != 0 {
            return Duration::ZERO;
        }
        Duration::new(u64::try_from(now.tv_sec).unwrap_or(0), u32::try_from(now.tv_nsec).unwrap_or(0))
    }

    /// Time since the start with that asleep, and without it (`clock_gettime`(3) of macOS: `CLOCK_MONOTONIC_RAW` goes on while the machine
    /// sleeps, `CLOCK_UPTIME_RAW` does not).
    pub fn since_start() -> (Duration, Duration) {
        (read(libc::CLOCK_MONOTONIC_RAW), read(libc::CLOCK_UPTIME_RAW))
    }
}
