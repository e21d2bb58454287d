//! When the sending thread sleeps towards something that is due, and when it waits awake.
//!
//! Systems wake threads a little late, busy ones by more: the last stretch is not slept through. How long that stretch is goes by
//! how late this system woke lately. But a thread that goes before all others may not stay awake for ever: a system takes one
//! that does off its core for a while (Linux lets it have 950 ms of each second and then none for 50 ms: sched(7),
//! `sched_rt_runtime_us`), which is worse than any late waking. So it sleeps off what it owes, a little less exactly.

use crate::units::{MachineSpan, MachineTime};

/// The last stretch before something is due is at least so long.
const LEAST_MARGIN: MachineSpan = MachineSpan::from_micros(120);
/// And at most so long.
const MOST_MARGIN: MachineSpan = MachineSpan::from_micros(3_000);
/// For so much time awake one part is owed asleep: a ninth of the time, where a twentieth would do.
const SHARE: i64 = 8;
/// What is owed before it matters: a stretch awake of eight times that is nobody's business.
const FREE: MachineSpan = MachineSpan::from_micros(500);
/// What is owed at most.
const MOST_OWED: MachineSpan = MachineSpan::from_micros(20_000);

/// How late wakings were, and how long the thread has been awake.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct SpinBudget {
    /// How much earlier than due the thread is woken.
    pub margin: MachineSpan,
    /// When it last woke.
    pub woke: MachineTime,
    /// Sleep that it owed then.
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

    /// The time to be woken at for something due, where there is one to sleep until.
    pub fn sleep_until(&self, at: MachineTime, now: MachineTime) -> Option<MachineTime> {
        let margin = if self.owes(now) > FREE { LEAST_MARGIN } else { self.margin };
        Some(at - margin).filter(|wanted| *wanted > now)
    }

    /// After a sleep that began at a time and was to end at another, `None` where it was of no matter when.
    #[must_use]
    pub fn after(self, began: MachineTime, wanted: Option<MachineTime>, now: MachineTime) -> SpinBudget {
        let owed = (self.owes(began) - (now - began)).max(MachineSpan::ZERO);
        let margin = match wanted.map(|wanted| now - wanted) {
            Some(late) if late >= MachineSpan::ZERO => {
                // Up at once, down slowly: one late waking in a hundred is one too many.
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

    /// Ten seconds of something due every `gap` µs, on a system that wakes `late` µs late: the share of the time awake, the worst
    /// lateness in µs, and the wakes at the end.
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

    /// The limit of sched(7) is 0.95; gaps down to where there is nothing left to sleep in.
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

    /// Woken 2 ms late once, it is woken earlier from then on, and by and by later again.
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
