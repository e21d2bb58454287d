//! What all cues of a receiver, and all falls of a fabric, say together.

use super::{CueSeen, Report};
use letfall_core::prepared::Prepared;
use letfall_core::show::{Action, HangKey, Instant, Label, Latency, ReceiverKey, TimedBy};
use letfall_core::time::SongSpan;
use std::collections::BTreeMap;

/// A receiver as the film shows it.
#[derive(Debug, Clone, PartialEq)]
pub struct ReceiverSeen {
    /// Which.
    pub key: ReceiverKey,
    /// Its name.
    pub name: String,
    /// How many of its changes were seen.
    pub count: usize,
    /// How much later than planned they were, the mean, seconds.
    pub late: f64,
    /// Their deviation, seconds. `None` for a single one.
    pub deviation: Option<f64>,
    /// Its delay as the show has it.
    pub before: Latency,
    /// Its delay as the film shows it: mean, spread with what the whole film may be off, and the count.
    pub after: Latency,
    /// Whether it was seen earlier than its message can have come: then the film lies wrongly, or its sound, and nothing is taken over.
    pub impossible: bool,
    /// Cues that lie far from the others. They count all the same.
    pub odd: Vec<Label>,
}

/// A fall as the film shows it.
#[derive(Debug, Clone, PartialEq)]
pub struct DropSeen {
    /// Which fabric.
    pub hang: HangKey,
    /// Its name.
    pub name: String,
    /// The cue.
    pub label: Label,
    /// Which run, from 0.
    pub run: usize,
    /// From let-go to this moment.
    pub to: Instant,
    /// Seconds.
    pub seconds: f64,
    /// Within this, either way, seconds.
    pub within: f64,
    /// How it counts as timed.
    pub by: TimedBy,
    /// How much later the right side falls, seconds.
    pub right_later: f64,
}

/// Delays of receivers as they were when a film was made, where they are not as the plan has them now.
pub type Delays = BTreeMap<ReceiverKey, SongSpan>;

/// Every receiver of which something was seen, in the show's order. A cue that is seen in two regions counts once, as it is surest.
/// `filmed` are delays as they were when the film was made: what was late of those is not added to what was taken over since.
pub fn receivers(plan: &Prepared, report: &Report, filmed: &Delays) -> Vec<ReceiverSeen> {
    let show = plan.show();
    let mut all = Vec::new();
    for (at, receiver) in show.receivers.iter().enumerate() {
        let mut seen: Vec<(usize, Label, f64, f64)> = Vec::new();
        for cue in &report.cues {
            let Some(row) = plan.row(cue.label) else { continue };
            let Ok(what) = cue.seen else { continue };
            // What a hand sets off says nothing of a device; a fall says how long the fabric takes.
            let by_device = row.goes.by_machine() && what.fall.is_none();
            if !by_device || row.receiver != u32::try_from(at).ok() {
                continue;
            }
            match seen.iter_mut().find(|(run, label, ..)| (*run, *label) == (cue.run, cue.label)) {
                Some(same) if what.within < same.3 => (same.2, same.3) = (what.late, what.within),
                Some(_) => {}
                None => seen.push((cue.run, cue.label, what.late, what.within)),
            }
        }
        if seen.is_empty() {
            continue;
        }
        let lates: Vec<f64> = seen.iter().map(|s| s.2).collect();
        let (late, deviation) = mean_and_deviation(&lates);
        // Each reading is known to its own resolution, so that equal readings do not give zero (JCGM 100 F.2.2.1).
        let resolution = seen.iter().map(|s| s.3 * s.3 / 3.0).sum::<f64>() / seen.len() as f64;
        let own = deviation.unwrap_or(0.0);
        let spread = libm::sqrt(own * own + resolution + report.common * report.common);
        let sent_with = filmed.get(&receiver.key).copied().unwrap_or(receiver.latency.mean);
        let mean = sent_with + SongSpan::from_secs_f64(late);
        let count = u32::try_from(seen.len()).unwrap_or(u32::MAX);
        all.push(ReceiverSeen {
            key: receiver.key.clone(),
            name: receiver.name.clone(),
            count: seen.len(),
            late,
            deviation,
            before: receiver.latency,
            after: Latency { mean: mean.max(SongSpan::ZERO), spread: SongSpan::from_secs_f64(spread), measured: count },
            impossible: mean < SongSpan::ZERO,
            odd: odd(&seen),
        });
    }
    all
}

fn mean_and_deviation(values: &[f64]) -> (f64, Option<f64>) {
    let n = values.len() as f64;
    let mean = values.iter().sum::<f64>() / n;
    let squares: f64 = values.iter().map(|v| (v - mean).powi(2)).sum();
    (mean, (values.len() > 1).then(|| libm::sqrt(squares / (n - 1.0))))
}

/// Further from the median than 3.5 times what is usual, and than can be told apart (NIST/SEMATECH e-Handbook 1.3.5.17: modified z-scores).
fn odd(seen: &[(usize, Label, f64, f64)]) -> Vec<Label> {
    if seen.len() < 4 {
        return Vec::new();
    }
    let median = |mut values: Vec<f64>| {
        values.sort_by(f64::total_cmp);
        values[values.len() / 2]
    };
    let middle = median(seen.iter().map(|s| s.2).collect());
    let usual = median(seen.iter().map(|s| (s.2 - middle).abs()).collect());
    let mut odd: Vec<Label> = seen
        .iter()
        .filter(|s| 0.6745 * (s.2 - middle).abs() > 3.5 * usual && (s.2 - middle).abs() > 2.0 * s.3)
        .map(|s| s.1)
        .collect();
    odd.dedup();
    odd
}

/// Every fall that was seen: to the sightline, where the region has one, and to the floor.
pub fn drops(plan: &Prepared, report: &Report) -> Vec<DropSeen> {
    let show = plan.show();
    // Slow motion has more pictures a second than it says.
    let slow = |cue: &CueSeen| cue.seen.map_or(1.0, |what| what.slow);
    let by = |cue: &CueSeen| if report.step / slow(cue) < 0.023 { TimedBy::Film50 } else { TimedBy::Film25 };
    let fall = |cue: &CueSeen| {
        let what = cue.seen.ok()?;
        let fall = what.fall?;
        let Action::Release { release, .. } = &plan.cue(plan.row(cue.label)?).does else { return None };
        let hang = show.hang(&show.release(release)?.hang)?;
        let drop = |to, at: f64, within: f64| DropSeen {
            hang: hang.key.clone(),
            name: hang.name.clone(),
            label: cue.label,
            run: cue.run,
            to,
            seconds: (at - fall.let_go) / what.slow,
            within: within / what.slow,
            by: by(cue),
            right_later: fall.right_later / what.slow,
        };
        let sightline =
            fall.sightline.zip(fall.to_sightline_within).map(|(at, within)| drop(Instant::Sightline, at, within));
        Some(sightline.into_iter().chain([drop(Instant::Floor, fall.floor, fall.to_floor_within)]))
    };
    // In two regions it is still one fall: the surest counts.
    let mut surest: BTreeMap<(usize, Label), &CueSeen> = BTreeMap::new();
    let within = |cue: &CueSeen| cue.seen.map_or(f64::MAX, |what| what.within);
    for cue in report.cues.iter().filter(|cue| cue.seen.is_ok_and(|what| what.fall.is_some())) {
        let best = surest.entry((cue.run, cue.label)).or_insert(cue);
        if within(cue) < within(best) {
            *best = cue;
        }
    }
    surest.into_values().filter_map(fall).flatten().collect()
}
