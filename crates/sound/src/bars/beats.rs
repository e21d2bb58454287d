//! The beats of a whole recording at once: the row of moments that sounds most like beats and whose tempo jumps least.
//!
//! A row's worth is the sum of its beats' own (log odds of being one) less what its changes of tempo cost. The best row is
//! found exactly, by dynamic programming over the place of a beat and the length of the interval before it. The thought of
//! weighing beat intervals instead of single frames is that of Krebs, Böck and Widmer, "An efficient state-space model for
//! joint tempo and meter tracking", ISMIR 2015; the form is ours.

use super::gaps::middle_gap;
use super::given::GivenBar;
use super::net::{About, Activations, STRETCH, log_odds, logistic};
use super::search_limits::{LONGEST, SHORTEST, STEPS};
use super::tempo_range::{TempoRange, around};

/// So many stand for a frame of what is heard.
const STEPS_A_FRAME: usize = 2;
const INTERVALS: usize = LONGEST - SHORTEST + 1;
/// A moment is better taken as a beat than left out from these log odds on.
const BEAT_BONUS: f32 = 0.8;
/// What a change of tempo by the factor e would cost.
const TEMPO_COST: f32 = 60.0;
/// Log odds of what a person said; what is heard is never as sure.
const SURE: f32 = 40.0;
/// Steps by which an interval may differ for nothing: beats stand between steps too.
const FREE: f32 = 0.6;
/// What any sudden change of tempo costs at most.
const JUMP: f32 = 18.0;
/// How far before the music a beat of it may stand, as a share of a beat: hands hurry, and a file may be cut close.
const NEAR_BEGIN: f64 = 0.15;
/// A song's tempo stays within this factor of what it is most of the time: what goes further is another way to count it.
const STAYS: f64 = 1.55;
/// The same, of the tempo of a bar that a person gave.
const STAYS_AS_SAID: f64 = 1.45;

/// Log odds of a beat at every step.
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

/// Where a row came from: a place in the list of intervals, or one of these.
const BEGINS: u8 = 255;
const JUMPED: u8 = 254;

/// What a row must be.
#[derive(Clone, Copy)]
struct Terms<'a> {
    /// How fast.
    range: TempoRange,
    /// Steps between which there is music: a row goes from its begin to its end, however faint the beats.
    music: (usize, usize),
    /// The step that it must begin at.
    begin: Option<usize>,
    /// What the music is like, by stretches.
    about: &'a [About],
    /// The steps go backwards from this one.
    backwards: Option<usize>,
    /// The odds as they were heard, where what sounds like beats stands halfway between the beats that are counted.
    between: Option<&'a [f32]>,
}

impl Terms<'_> {
    /// How much a beat sounds so at a step after an interval.
    fn odds(&self, own: f32, at: usize, k: usize) -> f32 {
        let Some(heard) = self.between.filter(|_| own.abs() < SURE) else { return own };
        let half = usize::midpoint(k, SHORTEST);
        let odds = |at: usize| heard.get(at).copied().unwrap_or(own);
        f32::midpoint(odds(at.saturating_sub(half)), odds(at + half))
    }

    /// What an interval that ends at a step is worth for its tempo, by interval.
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

/// The best row over log odds by step: places of beats, in steps, and what the row is worth.
fn best_row(odds: &[f32], terms: Terms<'_>, go_on: &mut dyn FnMut() -> bool) -> Option<(Vec<usize>, f32)> {
    let Terms { range, music, begin, .. } = terms;
    let interval = |bpm: f64| 60.0 * STEPS / bpm.clamp(1.0, 10_000.0);
    let allowed: Vec<bool> = (SHORTEST..=LONGEST)
        .map(|d| d as f64 >= interval(range.to) - 0.5 && d as f64 <= interval(range.from) + 0.5)
        .collect();
    // Intervals near enough that a change costs less than a jump, and what it costs.
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
    // Worth of the best row that ends with a beat at a step after an interval: the last `kept` steps of it.
    let mut worth = vec![f32::NEG_INFINITY; kept * INTERVALS];
    let mut from = vec![BEGINS; odds.len() * INTERVALS];
    // The best of each step whatever its interval.
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

/// A step moved to where the odds near it have their weight, in seconds.
fn refined(odds: &[f32], step: usize) -> f64 {
    let (mut sum, mut weight) = (0.0, 0.0);
    for (at, odds) in odds.iter().enumerate().take(step + 4).skip(step.saturating_sub(3)) {
        let p = f64::from(logistic(*odds));
        sum += p * at as f64;
        weight += p;
    }
    if weight > 0.05 { sum / weight / STEPS } else { step as f64 / STEPS }
}

/// A row begun with the music, evenly, where its first beats were too faint to count: without them the first bar would be lost.
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

/// The beats in seconds. `go_on` is asked now and then; `None` when it says no.
///
/// `music` is where the music is, in seconds.
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
    // What was said is certain: beats there, and none between them.
    let mut sure = odds.clone();
    let (from, to) = (step(bar.from, &odds), step(bar.to, &odds));
    sure[from..=to].fill(-SURE);
    for beat in 0..=count {
        sure[step(bar.from + length * f64::from(beat), &odds)] = SURE;
    }
    let range = around(length * STEPS, STAYS_AS_SAID, range);
    // What comes before is found backwards, from the same bar.
    let (mirrored, heard_back): (Vec<f32>, Vec<f32>) = (0..=to).rev().map(|at| (sure[at], odds[at])).unzip();
    let music_back = (0, to.saturating_sub(music.0));
    // Where a person said which of two rows is the beat, the other may sound more like it all through, and they are right.
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
