//! Following a live band by taps: where it is, how fast it goes, and how sure that is.
//!
//! Somebody says once "here is bar n", on its downbeat, and taps beats from then on: with a key, a pad or a pedal. Taps come early, as people
//! tap, shake, are missed and doubled. A band drifts in tempo, and now and then stretches a bar and goes on as before. So a few suppositions
//! of how the present bar is stretched are followed beside each other, each by a Kalman filter over phase and tempo, and weighed by how well
//! the taps fit; at a bar line they are joined, and the stretch is forgotten. (R. E. Kalman, "A New Approach to Linear Filtering and
//! Prediction Problems", 1960; joining filters at a switch as in H. A. P. Blom and Y. Bar-Shalom, "The interacting multiple model
//! algorithm", 1988; both from memory.)

use crate::bend::{BandPlace, Rate};
use crate::units::MachineTime;
use letfall_core::time::{Grid, SongTime, Tick, TickSpan};

/// How early people tap, in seconds. Common finding of tapping studies, 20 to 50 ms; no source at hand.
const EARLY: f64 = 0.030;
/// The spread of taps, in seconds. Our own figure, as for the bench.
const SHAKES: f64 = 0.025;
/// How much the tempo drifts from beat to beat, as a share. Our own figure, by the bench.
const DRIFTS: f64 = 0.006;
/// How much a beat lies beside the tempo, in seconds. Our own figure.
const BESIDE: f64 = 0.001;
/// By how much a bar may be stretched, as suppositions: not at all, which is likely, or by these shares.
const STRETCHES: [f64; SUPPOSED] = [0.0, 0.02, 0.04, 0.06, 0.08, 0.10, 0.12, 0.14, 0.16];
const SUPPOSED: usize = 9;
/// How likely it is that a bar is not stretched.
const STEADY: f64 = 0.85;
/// A tap farther than this share of a beat from any beat may be of another one.
const BETWEEN: f64 = 0.3;
/// The spread of such taps, in seconds. Our own figure, by the bench.
const WILD: f64 = 0.10;
/// So many beats without a tap, and it is not sure any more where the band is.
const SILENT_BEATS: f64 = 4.5;
/// So many taps are needed before it is sure.
const FIRST_TAPS: u32 = 4;
/// If the last taps lie farther than this from where they were expected, in seconds, it is not sure. Our own figure: three times the spread
/// of good taps, which a stretched bar does not reach.
const ASTRAY: f64 = 0.090;
/// How many of the last taps count for that.
const LAST_TAPS: usize = 4;

/// Phase and tempo of the band under one supposition.
#[derive(Debug, Clone, Copy)]
struct Filter {
    /// When the last beat was, in seconds of the machine's clock.
    phase: f64,
    /// How long a beat lasts, as a multiple of the planned length.
    tempo: f64,
    /// Their covariance: phase, both, tempo.
    spread: [f64; 3],
    weight: f64,
}

/// A band that is followed by taps.
#[derive(Debug, Clone)]
pub struct Band {
    /// The planned time of each beat, in seconds of the song, and whether it begins a bar.
    beats: Vec<(f64, bool)>,
    /// The first beat of each bar, from the first bar on.
    bars: Vec<usize>,
    first_bar: i32,
    filters: [Filter; SUPPOSED],
    /// The beat that the phase is of. `None` until somebody has said where the band is.
    beat: Option<usize>,
    tapped: f64,
    taps: u32,
    astray: [f64; LAST_TAPS],
}

impl Band {
    /// For a song from one bar to the end of another.
    pub fn new(grid: &Grid, first_bar: i32, end_bar: i32) -> Band {
        let (mut beats, mut bars) = (Vec::new(), Vec::new());
        for bar in first_bar..=end_bar {
            bars.push(beats.len());
            let (metre, start) = (grid.metre_at(bar), grid.bar_tick(bar));
            for beat in 1..=grid.beats_in(bar) {
                let tick: Tick = start + TickSpan::new(metre.beat_offset(beat));
                beats.push((grid.time_at(tick).secs_f64(), beat == 1));
            }
        }
        let filter = Filter { phase: 0.0, tempo: 1.0, spread: [0.0; 3], weight: 0.0 };
        let astray = [0.0; LAST_TAPS];
        Band { beats, bars, first_bar, filters: [filter; SUPPOSED], beat: None, tapped: 0.0, taps: 0, astray }
    }

    /// Somebody says, on its downbeat, that the band is at a bar. Returns whether the song has it.
    pub fn here(&mut self, bar: i32, at: MachineTime) -> bool {
        let index = bar.checked_sub(self.first_bar).and_then(|at| usize::try_from(at).ok());
        let Some(beat) = index.and_then(|at| self.bars.get(at)).copied() else { return false };
        let at = seconds(at);
        // The tempo that is known already stays, with less trust.
        let tempo = if self.beat.is_some() { self.tempo() } else { 1.0 };
        let spread = [0.03 * 0.03, 0.0, 0.03 * 0.03];
        self.filters = std::array::from_fn(|n| Filter { phase: at + EARLY, tempo, spread, weight: prior(n) });
        (self.beat, self.tapped, self.taps) = (Some(beat), at, 1);
        self.astray = [0.0; LAST_TAPS];
        true
    }

    /// The band is so many beats further than supposed.
    pub fn nudge(&mut self, beats: i32) {
        let Some(beat) = self.beat else { return };
        let moved = i64::try_from(beat).unwrap_or(0) + i64::from(beats);
        self.beat = Some(usize::try_from(moved).unwrap_or(0).min(self.beats.len().saturating_sub(1)));
    }

    /// A tap on a beat.
    pub fn tap(&mut self, at: MachineTime) {
        let Some(beat) = self.beat else { return };
        let seen = seconds(at) + EARLY;
        // The beat whose time is nearest.
        let near = |beat: usize| (self.expected(beat) - seen).abs();
        let mut nearest = beat;
        while nearest + 1 < self.beats.len() && near(nearest + 1) <= near(nearest) {
            nearest += 1;
        }
        // A second tap on the same beat is one too many.
        if nearest == beat {
            return;
        }
        let off = seen - self.expected(nearest);
        self.astray.rotate_left(1);
        self.astray[LAST_TAPS - 1] = off;
        // One that lies between two beats may be of either: it says little.
        let shakes = if off.abs() > BETWEEN * self.length(nearest) { WILD } else { SHAKES };
        for _ in beat..nearest {
            self.advance();
        }
        self.weigh(seen, shakes);
        (self.tapped, self.taps) = (seconds(at), self.taps.saturating_add(1));
    }

    /// Where the band is at a time, as far as the taps tell. `None` until somebody has said where.
    pub fn place(&self, now: MachineTime) -> Option<BandPlace> {
        let mut beat = self.beat?;
        let now_s = seconds(now);
        while beat + 2 < self.beats.len() && self.expected(beat + 1) <= now_s {
            beat += 1;
        }
        let (song, at) = (self.beats[beat].0, self.expected(beat));
        let (next, then) = (self.beats.get(beat + 1)?.0, self.expected(beat + 1));
        #[allow(clippy::cast_possible_truncation)] // a ratio within the range of rates
        let rate = Rate::per_million(((next - song) / (then - at) * 1e6) as i64);
        Some(BandPlace { song: song_time(song), at: machine_time(at), rate, sure: self.is_sure(now) })
    }

    /// Whether the taps say clearly enough where the band is.
    pub fn is_sure(&self, now: MachineTime) -> bool {
        let Some(beat) = self.beat else { return false };
        let counted = LAST_TAPS as f64;
        let astray = (self.astray.iter().map(|off| off * off).sum::<f64>() / counted).sqrt();
        let silent = seconds(now) - self.tapped > SILENT_BEATS * self.length(beat);
        self.taps >= FIRST_TAPS && astray < ASTRAY && !silent
    }

    /// How long a beat lasts, as a multiple of the planned length.
    pub fn tempo(&self) -> f64 {
        self.filters.iter().map(|filter| filter.weight * filter.tempo).sum()
    }

    /// The bar that the band is in, or comes to next if that is nearer.
    pub fn nearest_bar(&self, now: MachineTime) -> Option<i32> {
        let place = self.place(now)?;
        let here = place.song.secs_f64() + place.rate.song((now - place.at).micros()) as f64 / 1e6;
        let near = |at: &usize| (self.beats[self.bars[*at]].0 - here).abs();
        let nearest = (0..self.bars.len()).min_by(|a, b| near(a).total_cmp(&near(b)))?;
        i32::try_from(nearest).ok().map(|at| self.first_bar + at)
    }

    /// The length of a beat as it is played now, in seconds.
    fn length(&self, beat: usize) -> f64 {
        self.planned(beat) * self.tempo()
    }

    fn planned(&self, beat: usize) -> f64 {
        let last = self.beats.len().saturating_sub(1);
        let beat = beat.min(last.saturating_sub(1));
        self.beats.get(beat + 1).map_or(0.5, |next| next.0 - self.beats[beat].0)
    }

    /// When a beat comes, in seconds of the machine's clock: the mean over all suppositions. Only the present bar is stretched.
    fn expected(&self, beat: usize) -> f64 {
        let from = self.beat.unwrap_or(0);
        let line = (from + 1..self.beats.len()).find(|at| self.beats[*at].1).unwrap_or(self.beats.len() - 1);
        let (start, end) = (self.beats[from].0, self.beats[beat.min(self.beats.len() - 1)].0);
        let split = self.beats[line.min(beat.max(from))].0;
        let of = |(filter, stretch): (&Filter, f64)| {
            filter.weight * (filter.phase + filter.tempo * ((split - start) * (1.0 + stretch) + (end - split)))
        };
        self.filters.iter().zip(STRETCHES).map(of).sum()
    }

    /// One beat goes by.
    fn advance(&mut self) {
        let Some(beat) = self.beat else { return };
        let planned = self.planned(beat);
        for (filter, stretch) in self.filters.iter_mut().zip(STRETCHES) {
            let step = planned * (1.0 + stretch);
            let [phase, both, tempo] = filter.spread;
            filter.phase += filter.tempo * step;
            filter.spread = [
                phase + 2.0 * step * both + step * step * tempo + BESIDE * BESIDE,
                both + step * tempo,
                tempo + DRIFTS * DRIFTS,
            ];
        }
        self.beat = Some(beat + 1);
        if self.beats.get(beat + 1).is_some_and(|(_, line)| *line) {
            self.join();
        }
    }

    /// A bar line: the suppositions are joined to one, and each begins anew from it.
    fn join(&mut self) {
        let mean = |value: fn(&Filter) -> f64| self.filters.iter().map(|f| f.weight * value(f)).sum::<f64>();
        let (phase, tempo) = (mean(|f| f.phase), mean(|f| f.tempo));
        let mut spread = [0.0; 3];
        for filter in &self.filters {
            let (p, t) = (filter.phase - phase, filter.tempo - tempo);
            for (sum, part) in spread.iter_mut().zip([p * p, p * t, t * t].iter().zip(filter.spread)) {
                *sum += filter.weight * (part.0 + part.1);
            }
        }
        self.filters = std::array::from_fn(|n| Filter { phase, tempo, spread, weight: prior(n) });
    }

    /// A tap was seen on the present beat: each supposition takes it in, and is weighed by how well it fits.
    fn weigh(&mut self, seen: f64, shakes: f64) {
        for filter in &mut self.filters {
            let [phase, both, tempo] = filter.spread;
            let total = phase + shakes * shakes;
            let off = seen - filter.phase;
            // A single wild tap does not decide.
            filter.weight *= libm::exp(-0.5 * (off * off / total).min(25.0)) / total.sqrt();
            let gain = [phase / total, both / total];
            filter.phase += gain[0] * off;
            filter.tempo = (filter.tempo + gain[1] * off).clamp(0.5, 2.0);
            filter.spread = [phase * (1.0 - gain[0]), both * (1.0 - gain[0]), tempo - gain[1] * both];
        }
        let sum: f64 = self.filters.iter().map(|filter| filter.weight).sum();
        for (n, filter) in self.filters.iter_mut().enumerate() {
            filter.weight = if sum > 0.0 { filter.weight / sum } else { prior(n) };
        }
    }
}

fn prior(supposition: usize) -> f64 {
    if supposition == 0 { STEADY } else { (1.0 - STEADY) / (SUPPOSED - 1) as f64 }
}

fn seconds(at: MachineTime) -> f64 {
    at.micros() as f64 / 1e6
}

fn song_time(seconds: f64) -> SongTime {
    SongTime::saturating(letfall_core::time::round::nearest(seconds * 1e6))
}

fn machine_time(seconds: f64) -> MachineTime {
    MachineTime::from_micros(letfall_core::time::round::nearest(seconds * 1e6))
}
