//! Decides when the sending thread sleeps until something is due, and when it spins.
//!
//! Systems wake threads a little late, and busy systems wake them later. So the thread spins for the last part of a wait. How
//! long it spins depends on how late this system's recent wake-ups were. But a real-time thread must not spin all the time.
//! The system would take it off its core for a while (Linux allows 950 ms of each second and then nothing for 50 ms: sched(7),
//! `sched_rt_runtime_us`), which is worse than any late wake-up. So the thread owes some sleep for its time awake. While it
//! owes too much, it spins less and is a little less exact.

use crate::units::{MachineSpan, MachineTime};

/// The shortest margin before something is due.
const LEAST_MARGIN: MachineSpan = MachineSpan::from_micros(120);
/// The longest margin.
const MOST_MARGIN: MachineSpan = MachineSpan::from_micros(3_000);
/// How many parts of time awake owe one part of sleep. That makes a ninth of the time, where a twentieth would do.
const SHARE: i64 = 8;
/// Owed sleep up to this is ignored. It corresponds to eight times as much time awake.
const FREE: MachineSpan = MachineSpan::from_micros(500);
/// The most sleep that can be owed.
const MOST_OWED: MachineSpan = MachineSpan::from_micros(20_000);

/// How late recent wake-ups were, and how long the thread has been awake.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct SpinBudget {
    /// How much earlier than the due time the thread asks to be woken.
    pub margin: MachineSpan,
    /// When it last woke.
    pub woke: MachineTime,
    /// How much sleep it owed when it last woke.
    pub owed: MachineSpan,
}

impl SpinBudget {
    /// Nothing known yet.
    pub const NEW: SpinBudget =
        SpinBudget { margin: LEAST_MARGIN, woke: MachineTime::from_micros(0), owed: MachineSpan::ZERO };

    fn owes(&self, now: MachineTime) -> MachineSpan {
        let earned = MachineSpan::from_micros((now - self.woke).micros() / SHARE);
        (self.owed + earned).clamp(MachineSpan::ZERO, MOST_OWED)
    }

    /// When to be woken for something that is due `at` a time. `None` if it is too close to sleep.
    pub fn sleep_until(&self, at: MachineTime, now: MachineTime) -> Option<MachineTime> {
        let margin = if self.owes(now) > FREE { LEAST_MARGIN } else { self.margin };
        Some(at - margin).filter(|wanted| *wanted > now)
    }

    /// The budget after a sleep that began at one time and should have ended at `wanted`. `None` if the end did not matter.
    #[must_use]
    pub fn after(self, began: MachineTime, wanted: Option<MachineTime>, now: MachineTime) -> SpinBudget {
        let owed = (self.owes(began) - (now - began)).max(MachineSpan::ZERO);
        let margin = match wanted.map(|wanted| now - wanted) {
            Some(late) if late >= MachineSpan::ZERO => {
                // Raise the margin at once and lower it slowly: even one late wake-up in a hundred is too many.
                let calmer = self.margin - MachineSpan::from_micros((self.margin - LEAST_MARGIN).micros() / 512);
                calmer.max(MachineSpan::from_micros(late.micros() * 3 / 2).min(MOST_MARGIN))
            }
            _ => self.margin,
        };
        SpinBudget { margin, woke: now, owed }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Simulates ten seconds with something due every `gap` µs, on a system that wakes `late` µs late. Returns the share of
    /// time awake, the worst lateness in µs, and the budget at the end.
    fn run(gap: i64, late: i64, mut budget: SpinBudget) -> (f64, i64, SpinBudget) {
        let (gap, late) = (MachineSpan::from_micros(gap), MachineSpan::from_micros(late));
        let (mut now, mut asleep, mut worst) = (budget.woke, MachineSpan::ZERO, MachineSpan::ZERO);
        let begin = now;
        let mut due = now + gap;
        while due < begin + MachineSpan::from_micros(10_000_000) {
            while now < due {
                if let Some(wanted) = budget.sleep_until(due, now) {
                    let began = now;
                    now = wanted + late;
                    asleep = asleep + (now - began);
                    budget = budget.after(began, Some(wanted), now);
                } else {
                    now = due;
                }
            }
            worst = worst.max(now - due);
            due = due + gap;
        }
        (1.0 - asleep.micros() as f64 / (now - begin).micros() as f64, worst.micros(), budget)
    }

    /// The limit of sched(7) is 0.95. The gaps go down to where hardly any time is left to sleep.
    #[test]
    fn it_never_stays_awake_for_good() {
        let nervous = SpinBudget { margin: MOST_MARGIN, ..SpinBudget::NEW };
        for gap in [200, 500, 1000, 2500, 8333] {
            for budget in [SpinBudget::NEW, nervous] {
                let (awake, worst, after) = run(gap, 60, budget);
                assert!(awake < 0.92, "every {gap} µs: awake {awake:.3}");
                assert!(worst < 200, "every {gap} µs: {worst} µs late");
                assert!(after.margin <= budget.margin);
            }
        }
    }

    /// After one wake-up that is 2 ms late it is woken earlier, and then gradually later again.
    #[test]
    fn a_late_waking_makes_it_careful_for_a_while() {
        let at = MachineTime::from_micros;
        let late = SpinBudget::NEW.after(at(0), Some(at(1_000)), at(3_000));
        assert_eq!(late.margin, MOST_MARGIN);
        assert_eq!(late.sleep_until(at(13_000), at(3_000)), Some(at(10_000)));
        let (_, worst, after) = run(8_333, 50, late);
        assert!(worst == 0 && after.margin < MachineSpan::from_micros(MOST_MARGIN.micros() / 2), "{worst} {after:?}");
    }
}
