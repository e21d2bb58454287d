//! Explains the beats with as few tempo marks and pins as possible.
//!
//! Beats are cut at bar lines into stretches of constant or evenly changing tempo. Of all ways to cut, we take the one with the
//! lowest total cost of deviations and number of stretches (optimal partitioning with a penalty for each stretch). Where two
//! stretches meet, and at the end, a pin holds the bar line where the beats say it is.

use letfall_core::time::{
    BarBeat, GridPlan, Metre, MetreMark, NoteValue, Pin, Ramp, RampLaw, SongTime, Tempo, TempoMark, TimeError, round,
};

/// A beat as it was found or tapped.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Placed {
    /// Seconds of song time.
    pub at: f64,
    /// Its number in its bar, from 1.
    pub number: u8,
    /// Beats in its bar.
    pub of: u8,
}

/// The cost of one more stretch, in squared deviations of one sigma.
const STRETCH: f64 = 22.0;
/// The extra cost of a tempo that changes.
const MOVING: f64 = 7.0;
/// A deviation counts for at most this many sigma, so that one misheard beat does not make a new tempo.
const MOST_SIGMA: f64 = 3.0;
/// A tempo is rounded as far as possible without moving a bar line by more than this, in seconds.
const ROUND_BY: f64 = 0.004;

/// Running sums over beats, enough to compute the best line or parabola through any run of them.
#[derive(Clone, Copy, Default)]
struct Sums {
    n: f64,
    x: [f64; 4],
    y: [f64; 3],
}

impl Sums {
    fn add(&mut self, x: f64, y: f64) {
        self.n += 1.0;
        let mut power = x;
        for sum in &mut self.x {
            *sum += power;
            power *= x;
        }
        for (sum, power) in self.y.iter_mut().zip([1.0, x, x * x]) {
            *sum += y * power;
        }
    }
}

/// Time as a function of the beat `x` counted from the stretch's start: `at + per·x + bend·x²`.
#[derive(Debug, Clone, Copy, PartialEq)]
struct Law {
    at: f64,
    per: f64,
    bend: f64,
}

impl Law {
    fn time(self, x: f64) -> f64 {
        self.at + x * (self.per + x * self.bend)
    }

    /// The length of a beat at `x`.
    fn beat(self, x: f64) -> f64 {
        self.per + 2.0 * self.bend * x
    }

    /// The line (or parabola) with the least squared error.
    fn nearest(sums: &Sums, moving: bool) -> Option<Law> {
        let [x1, x2, x3, x4] = sums.x;
        let [y0, y1, y2] = sums.y;
        let n = sums.n;
        if moving {
            let det3 = |a: [f64; 9]| {
                a[0] * (a[4] * a[8] - a[5] * a[7]) - a[1] * (a[3] * a[8] - a[5] * a[6])
                    + a[2] * (a[3] * a[7] - a[4] * a[6])
            };
            let det = det3([n, x1, x2, x1, x2, x3, x2, x3, x4]);
            if det.abs() < 1e-9 {
                return None;
            }
            Some(Law {
                at: det3([y0, x1, x2, y1, x2, x3, y2, x3, x4]) / det,
                per: det3([n, y0, x2, x1, y1, x3, x2, y2, x4]) / det,
                bend: det3([n, x1, y0, x1, x2, y1, x2, x3, y2]) / det,
            })
        } else {
            let det = n * x2 - x1 * x1;
            (det.abs() > 1e-9).then(|| Law { at: (y0 * x2 - y1 * x1) / det, per: (n * y1 - x1 * y0) / det, bend: 0.0 })
        }
    }
}

/// The best law for a run of beats, and its cost.
fn judged(beats: &[(f64, f64)], sigma: f64) -> Option<(Law, f64)> {
    let begin = beats.first()?.0;
    let mut best: Option<(Law, f64)> = None;
    for moving in [false, true] {
        if moving && beats.len() < 6 {
            continue;
        }
        // Fitted three times: beats far off the previous law are left out of the next fit.
        let mut law: Option<Law> = None;
        for _ in 0..3 {
            let mut sums = Sums::default();
            for (x, y) in beats {
                let far = law.is_some_and(|l| (y - l.time(x - begin)).abs() > MOST_SIGMA * sigma);
                if !far {
                    sums.add(x - begin, *y);
                }
            }
            law = if sums.n * 2.0 >= beats.len() as f64 { Law::nearest(&sums, moving).or(law) } else { law };
        }
        let Some(law) = law else { continue };
        let length = beats.last()?.0 - begin;
        // The tempos at both ends must be playable, and at most a factor of two apart.
        let (first, last) = (law.beat(0.0), law.beat(length));
        if first.min(last) < 0.12 || first.max(last) > 4.0 || first.max(last) > 2.0 * first.min(last) {
            continue;
        }
        let off = |(x, y): &(f64, f64)| ((y - law.time(x - begin)) / sigma).powi(2).min(MOST_SIGMA * MOST_SIGMA);
        let cost = beats.iter().map(off).sum::<f64>() + STRETCH + if moving { MOVING } else { 0.0 };
        if best.is_none_or(|b| cost < b.1) {
            best = Some((law, cost));
        }
    }
    best
}

/// The longest stretch that is tried, in bars. A longer steady passage is found in pieces, which are joined at the end.
const MOST_BARS: usize = 64;

/// Cuts the bars into stretches: the bar line each one starts at, and its law.
fn stretches(lines: &[usize], beats: &[(f64, f64)], sigma: f64) -> Vec<(usize, Law)> {
    let bars = lines.len().saturating_sub(1);
    let run = |from: usize, to: usize| &beats[lines[from]..=lines[to].min(beats.len() - 1)];
    let mut best: Vec<(f64, usize)> = vec![(0.0, 0)];
    for to in 1..=bars {
        let mut here = (f64::INFINITY, to - 1);
        let nearest = to.saturating_sub(MOST_BARS);
        for (from, before) in (nearest..to).zip(&best[nearest..]) {
            // The beat where two stretches meet belongs to both.
            if let Some((_, cost)) = judged(run(from, to), sigma)
                && before.0 + cost < here.0
            {
                here = (before.0 + cost, from);
            }
        }
        if !here.0.is_finite() {
            here = (best[to - 1].0 + 1e3, to - 1);
        }
        best.push(here);
    }
    let mut cuts = vec![bars];
    while let Some(&at) = cuts.last()
        && at > 0
    {
        cuts.push(best[at].1);
    }
    cuts.reverse();
    // Join neighbouring stretches that one law explains as well as two, however long they are.
    let mut at = 1;
    while at + 1 < cuts.len() {
        let cost = |from, to| judged(run(from, to), sigma).map_or(1e3, |j| j.1);
        if cost(cuts[at - 1], cuts[at + 1]) <= cost(cuts[at - 1], cuts[at]) + cost(cuts[at], cuts[at + 1]) {
            cuts.remove(at);
            at = at.saturating_sub(1).max(1);
        } else {
            at += 1;
        }
    }
    let law = |from: usize, to: usize| {
        let part = run(from, to);
        let plain = || {
            let ((x0, y0), (x1, y1)) = (part[0], part[part.len() - 1]);
            Law { at: y0, per: (y1 - y0) / (x1 - x0).max(1.0), bend: 0.0 }
        };
        judged(part, sigma).map_or_else(plain, |j| j.0)
    };
    cuts.windows(2).map(|w| (w[0], law(w[0], w[1]))).chain([(bars, Law { at: 0.0, per: 0.0, bend: 0.0 })]).collect()
}

/// The grid that explains the beats, and how many bars it has. `sigma` is how far, in seconds, a beat typically lies from where
/// it is meant to be. With `compound`, a beat is a dotted quarter.
///
/// # Errors
/// [`TimeError`] if the beats are at no playable tempo.
pub fn plan(beats: &[Placed], compound: bool, sigma: f64) -> Result<(GridPlan, u32), TimeError> {
    let value = if compound { NoteValue::new(3, 8)? } else { NoteValue::QUARTER };
    let first = beats.iter().position(|b| b.number == 1).unwrap_or(0);
    let beats = &beats[first.min(beats.len())..];
    let xy: Vec<(f64, f64)> = beats.iter().enumerate().map(|(x, b)| (x as f64, b.at)).collect();
    let mut lines: Vec<usize> = beats.iter().enumerate().filter(|(_, b)| b.number == 1).map(|(at, _)| at).collect();
    let bars = u32::try_from(lines.len()).unwrap_or(u32::MAX).max(1);
    // The beats of an incomplete last bar still tell us its tempo.
    let tail = beats.len().saturating_sub(1);
    if lines.last().is_some_and(|l| *l < tail) {
        lines.push(tail);
    }
    if lines.len() < 2 {
        return Err(TimeError::unreadable(&format!("{} beats", beats.len()), "enough for a grid", "two bars at least"));
    }
    let metre =
        |of: u8| if compound && of > 1 { Metre::new(of.saturating_mul(3), 8) } else { Metre::new(of.max(1), 4) };
    let mut metres: Vec<MetreMark> = Vec::new();
    for (bar, beat) in (1i32..).zip(beats.iter().filter(|b| b.number == 1)) {
        let here = metre(beat.of)?;
        if metres.last().is_none_or(|m| m.metre != here) {
            metres.push(MetreMark { bar, metre: here, cut: None });
        }
    }
    let parts = stretches(&lines, &xy, sigma);
    // The bar line between two stretches is placed halfway between what their laws say.
    let line_time = |part: usize| {
        let line = xy[lines[parts[part].0]].0;
        let told = |p: usize| parts[p].1.time(line - xy[lines[parts[p].0]].0);
        match part {
            0 => told(0),
            p if p + 1 == parts.len() => told(p - 1),
            p => f64::midpoint(told(p - 1), told(p)),
        }
    };
    let bar_of = |line: usize| i32::try_from(line).unwrap_or(i32::MAX).saturating_add(1);
    let song = |secs: f64| SongTime::saturating(round::nearest(secs * 1e6));
    let (mut tempos, mut pins): (Vec<TempoMark>, Vec<Pin>) = (Vec::new(), Vec::new());
    let single = parts.len() == 2;
    for (at, (line, law)) in parts.iter().enumerate() {
        let last = at + 1 == parts.len();
        // The last line may be a beat within a bar, and only bar lines can be pinned.
        let is_bar = beats[lines[*line]].number == 1;
        if !last {
            let beats_in = (lines[parts[at + 1].0] - lines[*line]) as f64;
            let tempo = |x: f64| Tempo::beats_per_minute(value, 60.0 / law.beat(x));
            let moves = law.bend != 0.0 && is_bar && beats[lines[parts[at + 1].0]].number == 1;
            let (tempo, ramp) = if moves {
                (tempo(0.0)?, Some(Ramp { to: tempo(beats_in)?, law: RampLaw::BpmLinearInBeats }))
            } else {
                (Tempo::beats_per_minute(value, rounded(60.0 / law.beat(beats_in / 2.0), beats_in))?, None)
            };
            tempos.push(TempoMark { at: BarBeat::downbeat(bar_of(*line)), tempo, ramp });
        } else if let Some(before) = tempos.last()
            && let Some(ramp) = before.ramp
        {
            tempos.push(TempoMark { at: BarBeat::downbeat(bar_of(*line)), tempo: ramp.to, ramp: None });
        }
        if !single && is_bar {
            pins.push(Pin { bar: bar_of(*line), at: song(line_time(at)) });
        }
    }
    let origin = song(line_time(0));
    // The outer stretches continue at their neighbours' tempo. If the last line is not a bar line, pin the last bar line too.
    if !single && pins.last().is_some_and(|p| p.bar < i32::try_from(bars).unwrap_or(0)) {
        let (line, law) = parts[parts.len() - 2];
        let last = lines.iter().rposition(|l| beats[*l].number == 1).unwrap_or(0);
        if last > line {
            pins.push(Pin { bar: bar_of(last), at: song(law.time(xy[lines[last]].0 - xy[lines[line]].0)) });
        }
    }
    let plan = GridPlan { origin, metres, tempos, pins };
    // Beats that fit no tempo lead to marks that are not valid. Report that here rather than later.
    plan.build()?;
    Ok((plan, bars))
}

/// A tempo rounded as far as possible without moving a bar line by more than [`ROUND_BY`] over this many beats.
fn rounded(bpm: f64, beats: f64) -> f64 {
    let secs = |bpm: f64| 60.0 / bpm * beats;
    let step = |digits: i32| {
        let unit = 10f64.powi(digits);
        libm::round(bpm * unit) / unit
    };
    (0..6).map(step).find(|round| *round > 0.0 && (secs(*round) - secs(bpm)).abs() <= ROUND_BY).unwrap_or(bpm)
}
