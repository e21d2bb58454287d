//! The machine's clocks, behind a trait, so that a test can use its own.

use super::spin_budget::SpinBudget;
use crate::units::{MachineSpan, MachineTime, UnixTime};
use std::sync::Arc;
use std::sync::atomic::{AtomicI64, Ordering};
use std::thread;
use std::time::{Duration, Instant, SystemTime, UNIX_EPOCH};

/// The machine's clocks.
pub trait Clocks: Send + Sync {
    /// The monotonic clock.
    fn now(&self) -> MachineTime;
    /// The wall clock.
    fn wall(&self) -> UnixTime;
    /// How long the machine has slept since it started, as far as the system tells. Setting the wall clock does not count.
    fn asleep(&self) -> MachineSpan;
    /// Waits until a time of [`Clocks::now`] as exactly as it can. Returns earlier if the thread is woken.
    fn wait_until(&self, at: MachineTime);
    /// Waits roughly until a time of [`Clocks::now`]. Returns earlier if the thread is woken.
    fn rest_until(&self, at: MachineTime);
}

/// The shared clocks.
pub type Clock = Arc<dyn Clocks>;

/// The system's own clocks.
pub struct SystemClocks {
    begin: Instant,
    /// The fields of the [`SpinBudget`]. Only the one thread that waits uses them.
    margin: AtomicI64,
    woke: AtomicI64,
    owed: AtomicI64,
}

impl Default for SystemClocks {
    fn default() -> SystemClocks {
        let SpinBudget { margin, woke, owed } = SpinBudget::NEW;
        let begin = Instant::now();
        let (margin, woke, owed) = (margin.micros().into(), woke.micros().into(), owed.micros().into());
        SystemClocks { begin, margin, woke, owed }
    }
}

impl SystemClocks {
    /// Sleeps until a time. `exact` says whether a late wake-up counts for the [`SpinBudget`].
    fn sleep(&self, budget: SpinBudget, until: MachineTime, exact: bool) {
        let began = self.now();
        let left = until - began;
        if left > MachineSpan::ZERO {
            thread::park_timeout(Duration::from_micros(left.micros().unsigned_abs()));
        }
        let SpinBudget { margin, woke, owed } = budget.after(began, exact.then_some(until), self.now());
        self.margin.store(margin.micros(), Ordering::Relaxed);
        self.woke.store(woke.micros(), Ordering::Relaxed);
        self.owed.store(owed.micros(), Ordering::Relaxed);
    }

    fn budget(&self) -> SpinBudget {
        let of = |atomic: &AtomicI64| atomic.load(Ordering::Relaxed);
        SpinBudget {
            margin: MachineSpan::from_micros(of(&self.margin)),
            woke: MachineTime::from_micros(of(&self.woke)),
            owed: MachineSpan::from_micros(of(&self.owed)),
        }
    }
}

impl Clocks for SystemClocks {
    fn now(&self) -> MachineTime {
        MachineTime::from_micros(i64::try_from(self.begin.elapsed().as_micros()).unwrap_or(i64::MAX))
    }

    fn wall(&self) -> UnixTime {
        let since = SystemTime::now().duration_since(UNIX_EPOCH).unwrap_or_default();
        UnixTime::from_micros(i64::try_from(since.as_micros()).unwrap_or(i64::MAX))
    }

    fn asleep(&self) -> MachineSpan {
        let asleep = letfall_platform::time_asleep();
        MachineSpan::from_micros(i64::try_from(asleep.as_micros()).unwrap_or(i64::MAX))
    }

    fn wait_until(&self, at: MachineTime) {
        let budget = self.budget();
        if let Some(wanted) = budget.sleep_until(at, self.now()) {
            return self.sleep(budget, wanted, true);
        }
        while self.now() < at {
            std::hint::spin_loop();
        }
    }

    fn rest_until(&self, at: MachineTime) {
        self.sleep(self.budget(), at, false);
    }
}
