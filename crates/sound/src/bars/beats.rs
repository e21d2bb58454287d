//! Finds the beats of a whole recording at once: the row of times that sounds most like beats and has the steadiest tempo.
//!
//! A row's score is the sum of its beats' own scores (the log odds of being a beat) minus the cost of its tempo changes. The
//! best row is found exactly, by dynamic programming over the position of a beat and the length of the interval before it. The
//! idea of weighing beat intervals instead of single frames comes from Krebs, Böck and Widmer, "An efficient state-space model
//! for joint tempo and meter tracking", ISMIR 2015; this form of it is ours.

use super::gaps::middle_gap;
use super::given::GivenBar;
use super::net::{About, Activations, STRETCH, log_odds, logistic};
use super::search_limits::{LONGEST, SHORTEST, STEPS};
use super::tempo_range::{TempoRange, around};

/// How many steps there are to a frame of the network's output.
const STEPS_A_FRAME: usize = 2;
const INTERVALS: usize = LONGEST - SHORTEST + 1;
/// From these log odds on, it is better to count a moment as a beat than to leave it out.
const BEAT_BONUS: f32 = 0.8;
/// What a change of tempo by a factor of e would cost.
const TEMPO_COST: f32 = 60.0;
/// Log odds of what the user said. What is heard is never this certain.
const SURE: f32 = 40.0;
/// Two intervals may differ by this many steps at no cost, because real beats fall between steps.
const FREE: f32 = 0.6;
/// The most that a sudden change of tempo can cost.
const JUMP: f32 = 18.0;
/// How far a beat may come before the start of the music, as a share of a beat: players rush, and a file may be cut tight.
const NEAR_BEGIN: f64 = 0.15;
/// A song's tempo stays within this factor of its usual tempo. Anything further away is a different way of counting it.
const STAYS: f64 = 1.55;
/// The same around the tempo of a bar that the user gave.
const STAYS_AS_SAID: f64 = 1.45;

/// The log odds of a beat at every step.
fn odds(heard: &Activations) -> Vec<f32> {
    let own: Vec<f32> = heard.beat.iter().map(|p| log_odds(*p)).collect();
    let mut out = Vec::with_capacity(own.len() * 2);
    for (at, here) in own.iter().enumerate() {
        let next = own.get(at + 1).unwrap_or(here);
        out.push(*here);
        out.push(f32::midpoint(*here, *next));
    }
    out
}

/// How a row reached a beat: an index into the list of intervals, or one of these two.
const BEGINS: u8 = 255;
const JUMPED: u8 = 254;

/// Constraints on a row.
#[derive(Clone, Copy)]
struct Terms<'a> {
    /// The allowed tempos.
    range: TempoRange,
    /// The first and last step of the music. A row covers all of it, however faint the beats are.
    music: (usize, usize),
    /// The step the row must begin at.
    begin: Option<usize>,
    /// What the music is like, stretch by stretch.
    about: &'a [About],
    /// If set, steps count backwards from this one.
    backwards: Option<usize>,
    /// The odds as heard, for when what sounds like beats lies halfway between the beats that are counted.
    between: Option<&'a [f32]>,
}

impl Terms<'_> {
    /// The log odds of a beat at a step after an interval.
    fn odds(&self, own: f32, at: usize, k: usize) -> f32 {
        let Some(heard) = self.between.filter(|_| own.abs() < SURE) else { return own };
        let half = usize::midpoint(k, SHORTEST);
        let odds = |at: usize| heard.get(at).copied().unwrap_or(own);
        f32::midpoint(odds(at.saturating_sub(half)), odds(at + half))
    }

    /// For every interval that ends at a step, the score of its tempo.
    #[allow(clippy::cast_possible_truncation)] // beats a minute
    fn pace(&self, step: usize) -> [f32; INTERVALS] {
        let step = self.backwards.map_or(step, |from| from.saturating_sub(step));
        let stretch = step / STEPS_A_FRAME / STRETCH;
        let about = self.about.get(stretch).or(self.about.last());
        std::array::from_fn(|k| {
            let bpm = 60.0 * STEPS / (k + SHORTEST) as f64;
            about.map_or(0.0, |about| 60.0 / bpm as f32 * about.of_tempo(bpm))
        })
    }
}

/// The row with the best score for these log odds per step: the steps of its beats, and its score.
fn best_row(odds: &[f32], terms: Terms<'_>, go_on: &mut dyn FnMut() -> bool) -> Option<(Vec<usize>, f32)> {
    let Terms { range, music, begin, .. } = terms;
    let interval = |bpm: f64| 60.0 * STEPS / bpm.clamp(1.0, 10_000.0);
    let allowed: Vec<bool> = (SHORTEST..=LONGEST)
        .map(|d| d as f64 >= interval(range.to) - 0.5 && d as f64 <= interval(range.from) + 0.5)
        .collect();
    // For each interval, those close enough that changing to them costs less than a jump, and what the change costs.
    let costs: Vec<(usize, Vec<f32>)> = (SHORTEST..=LONGEST)
        .map(|d| {
            let cost = |e: usize| {
                let off = (d.abs_diff(e) as f32 - FREE).max(0.0) / d as f32;
                TEMPO_COST * off
            };
            let near: Vec<usize> = (SHORTEST..=LONGEST).filter(|e| cost(*e) < JUMP).collect();
            let first = near.first().copied().unwrap_or(d);
            (first - SHORTEST, near.iter().map(|e| cost(*e)).collect())
        })
        .collect();
    let kept = LONGEST + 1;
    // The score of the best row that ends with a beat at a given step after a given interval. Only the last `kept` steps are
    // kept.
    let mut worth = vec![f32::NEG_INFINITY; kept * INTERVALS];
    let mut from = vec![BEGINS; odds.len() * INTERVALS];
    // The best score at each step over all intervals.
    let mut top = vec![(f32::NEG_INFINITY, 0u8); odds.len()];
    let mut best = (f32::NEG_INFINITY, 0usize, 0usize);
    let mut pace = [0.0; INTERVALS];
    for (at, own) in odds.iter().enumerate() {
        if at % 4096 == 0 && !go_on() {
            return None;
        }
        if at % (STRETCH * STEPS_A_FRAME) == 0 {
            pace = terms.pace(at);
        }
        let (mut here_top, row) = ((f32::NEG_INFINITY, 0u8), at % kept * INTERVALS);
        for k in 0..INTERVALS {
            let mut value = f32::NEG_INFINITY;
            let mut came = BEGINS;
            if allowed[k] {
                value = match begin {
                    Some(b) if b == at => 0.0,
                    Some(_) => f32::NEG_INFINITY,
                    None if at > music.0 + LONGEST => f32::NEG_INFINITY,
                    None => 0.0,
                };
                if let Some(before) = at.checked_sub(k + SHORTEST) {
                    let past = &worth[before % kept * INTERVALS..][..INTERVALS];
                    let (first, costs) = &costs[k];
                    let (mut most, mut whence) = (top[before].0 - JUMP, JUMPED);
                    for ((place, worth), cost) in (*first..).zip(&past[*first..]).zip(costs) {
                        if worth - cost > most {
                            most = worth - cost;
                            whence = u8::try_from(place).unwrap_or(JUMPED);
                        }
                    }
                    if most + pace[k] > value {
                        (value, came) = (most + pace[k], whence);
                    }
                }
            }
            value += terms.odds(*own, at, k) + BEAT_BONUS;
            worth[row + k] = value;
            from[at * INTERVALS + k] = came;
            if value > here_top.0 {
                here_top = (value, u8::try_from(k).unwrap_or(0));
            }
        }
        top[at] = here_top;
        if here_top.0 > best.0 && at + LONGEST > music.1 {
            best = (here_top.0, at, usize::from(here_top.1));
        }
    }
    let (value, mut at, mut k) = best;
    if !value.is_finite() {
        return Some((Vec::new(), value));
    }
    let mut row = vec![at];
    loop {
        let came = from[at * INTERVALS + k];
        if came == BEGINS {
            break;
        }
        at -= k + SHORTEST;
        k = usize::from(if came == JUMPED { top[at].1 } else { came });
        row.push(at);
    }
    row.reverse();
    Some((row, value))
}

/// A step moved to the weighted centre of the odds around it, in seconds.
fn refined(odds: &[f32], step: usize) -> f64 {
    let (mut sum, mut weight) = (0.0, 0.0);
    for (at, odds) in odds.iter().enumerate().take(step + 4).skip(step.saturating_sub(3)) {
        let p = f64::from(logistic(*odds));
        sum += p * at as f64;
        weight += p;
    }
    if weight > 0.05 { sum / weight / STEPS } else { step as f64 / STEPS }
}

/// Extends a row back evenly to the start of the music, because the first beats may be too faint to be found and the first bar
/// would be lost.
fn from_begin(mut row: Vec<f64>, begin: f64) -> Vec<f64> {
    let Some(gap) = middle_gap(&row[..row.len().min(5)]) else { return row };
    let first = row[0];
    let lacks = (1..).map(|n| first - gap * f64::from(n)).take_while(|at| *at > begin - NEAR_BEGIN * gap);
    let lacks: Vec<f64> = lacks.map(|at| at.max(0.0)).take(8).collect();
    row.splice(0..0, lacks.into_iter().rev());
    row
}

#[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)] // clamped
fn step(secs: f64, odds: &[f32]) -> usize {
    libm::round(secs * STEPS).clamp(0.0, odds.len().saturating_sub(1) as f64) as usize
}

/// Finds the beats, in seconds. `go_on` is called now and then; returns `None` once it returns false.
///
/// `music` is where the music starts and ends, in seconds.
pub fn find(
    heard: &Activations,
    music: (f64, f64),
    range: TempoRange,
    first: Option<GivenBar>,
    go_on: &mut dyn FnMut() -> bool,
) -> Option<Vec<f64>> {
    let odds = odds(heard);
    let begin = music.0;
    let music = (step(music.0, &odds), step(music.1, &odds));
    let open = Terms { range, music, begin: None, about: &heard.about, backwards: None, between: None };
    let Some(bar) = first.filter(|b| b.length().is_some()) else {
        let (row, _) = best_row(&odds, open, go_on)?;
        let mut gaps: Vec<usize> = row.windows(2).map(|w| w[1] - w[0]).collect();
        gaps.sort_unstable();
        let row = match gaps.get(gaps.len() / 2) {
            Some(gap) => best_row(&odds, Terms { range: around(*gap as f64, STAYS, range), ..open }, go_on)?.0,
            None => row,
        };
        return Some(from_begin(row.into_iter().map(|at| refined(&odds, at)).collect(), begin));
    };
    let count = bar.beats.unwrap_or(4);
    let length = (bar.to - bar.from) / f64::from(count.max(1));
    if !(SHORTEST as f64..=LONGEST as f64).contains(&(length * STEPS)) {
        return Some(Vec::new());
    }
    // What the user said is certain: beats there, and none between them.
    let mut sure = odds.clone();
    let (from, to) = (step(bar.from, &odds), step(bar.to, &odds));
    sure[from..=to].fill(-SURE);
    for beat in 0..=count {
        sure[step(bar.from + length * f64::from(beat), &odds)] = SURE;
    }
    let range = around(length * STEPS, STAYS_AS_SAID, range);
    // Beats before the given bar are found backwards from it.
    let (mirrored, heard_back): (Vec<f32>, Vec<f32>) = (0..=to).rev().map(|at| (sure[at], odds[at])).unzip();
    let music_back = (0, to.saturating_sub(music.0));
    // The user decides which of two rows is the beat, even where the other one sounds more like it throughout. So both are
    // tried.
    let mut best: Option<(f32, Vec<usize>)> = None;
    for off in [false, true] {
        let between = |heard| Some(heard).filter(|_| off);
        let on = Terms { range, begin: Some(from), between: between(&odds[..]), ..open };
        let back =
            Terms { begin: Some(0), music: music_back, backwards: Some(to), between: between(&heard_back[..]), ..on };
        let (after, worth) = best_row(&sure, on, go_on)?;
        let (before, worth_before) = best_row(&mirrored, back, go_on)?;
        let worth = worth + worth_before;
        if best.as_ref().is_none_or(|best| worth > best.0) {
            let before = before.into_iter().map(|at| to - at).filter(|at| *at < from).rev();
            best = Some((worth, before.chain(after).collect()));
        }
    }
    Some(from_begin(best?.1.into_iter().map(|at| refined(&odds, at)).collect(), begin))
}
