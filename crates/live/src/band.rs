//! Following a live band by taps: where it is, how fast it goes, and how sure that is.
//!
//! Somebody says once "here is bar n", on its downbeat, and taps beats from then on: with a key, a pad or a pedal. Taps come early, as people
//! tap, shake, are missed and doubled. A band drifts in tempo, and now and then stretches a bar and goes on as before. So a few suppositions
//! of how the present bar is stretched are followed beside each other, each by a Kalman filter over phase, tempo and how the tempo changes,
//! and weighed by how well the taps fit; at a bar line they are joined, and the stretch is forgotten. (R. E. Kalman, "A New Approach to Linear Filtering and
//! Prediction Problems", 1960; joining filters at a switch as in H. A. P. Blom and Y. Bar-Shalom, "The interacting multiple model
//! algorithm", 1988; both from memory.)

use crate::bend::{BandPlace, Rate};
use crate::units::MachineTime;
use letfall_core::time::{Grid, SongTime, Tick, TickSpan};
use std::ops::Range;

/// How early people tap, in seconds. Common finding of tapping studies, 20 to 50 ms; no source at hand.
const EARLY: f64 = 0.030;
/// The spread of taps, in seconds. Our own figure, by the bench.
const SHAKES: f64 = 0.028;
/// How much the tempo drifts from beat to beat, as a share. Our own figure, by the bench.
const DRIFTS: f64 = 0.0015;
/// How much the tempo may be changing when nothing is known of it, as a share in a second of the song. Our own figure, by the bench.
const SLOPES: f64 = 0.003;
/// It never changes faster than this: twice what a drift of 6 % in a minute's wave needs. Our own figure.
const STEEPEST: f64 = 0.012;
/// How much that changes from beat to beat. Our own figure, by the bench.
const TURNS: f64 = 0.0007;
/// How much a beat lies beside the tempo, in seconds. Our own figure.
const BESIDE: f64 = 0.001;
/// By how much a bar may be stretched, as suppositions: not at all, which is likely, or by these shares.
const STRETCHES: [f64; SUPPOSED] = [0.0, 0.02, 0.04, 0.06, 0.08, 0.10, 0.12, 0.14, 0.16];
const SUPPOSED: usize = 9;
/// How likely it is that a bar is not stretched, if nobody has said which bars are played freely; and if somebody has, in those and in all
/// others. Our own figures.
const STEADY: f64 = 0.875;
const STEADY_WHERE_FREE: f64 = 0.05;
const STEADY_ELSEWHERE: f64 = 0.99;
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
/// A turn of the song that lies more beats than this from where the band is does not concern it: somebody has said that it is elsewhere.
const ELSEWHERE: usize = 3;
/// How many of the last taps count for that.
const LAST_TAPS: usize = 4;

/// Phase and tempo of the band under one supposition.
#[derive(Debug, Clone, Copy)]
struct Filter {
    /// When the last beat was, in seconds of the machine's clock.
    phase: f64,
    /// How long a beat lasts, as a multiple of the planned length.
    tempo: f64,
    /// How much that changes in a second of the song.
    slope: f64,
    /// Their covariance.
    spread: [[f64; 3]; 3],
    weight: f64,
}

/// A beat of the song.
#[derive(Debug, Clone, Copy)]
struct Beat {
    /// When it is planned, in seconds of the song.
    at: f64,
    /// Whether it begins a bar.
    line: bool,
    /// How likely it is that its bar is not stretched.
    steady: f64,
}

/// A band that is followed by taps.
#[derive(Debug, Clone)]
pub struct Band {
    beats: Vec<Beat>,
    /// The first beat of each bar, from the first bar on.
    bars: Vec<usize>,
    first_bar: i32,
    filters: [Filter; SUPPOSED],
    /// The beat that the phase is of, by its number on the way that the song has taken. `None` until somebody has said where the band is.
    beat: Option<usize>,
    /// The stretches of that way: the number of the first beat of each, and which beat of the song that is. The last one has no end.
    way: Vec<(usize, usize)>,
    /// It stands with the song until that goes on.
    stands: bool,
    tapped: f64,
    taps: u32,
    astray: [f64; LAST_TAPS],
}

impl Band {
    /// For a song from one bar to the end of another. `free` are the bars that are played freely, if somebody has said which: then all
    /// others are expected to be steady.
    pub fn new(grid: &Grid, first_bar: i32, end_bar: i32, free: &[Range<i32>]) -> Band {
        let (mut beats, mut bars) = (Vec::new(), Vec::new());
        for bar in first_bar..=end_bar {
            bars.push(beats.len());
            let steady = match free {
                [] => STEADY,
                free if free.iter().any(|bars| bars.contains(&bar)) => STEADY_WHERE_FREE,
                _ => STEADY_ELSEWHERE,
            };
            let (metre, start) = (grid.metre_at(bar), grid.bar_tick(bar));
            for beat in 1..=grid.beats_in(bar) {
                let tick: Tick = start + TickSpan::new(metre.beat_offset(beat));
                beats.push(Beat { at: grid.time_at(tick).secs_f64(), line: beat == 1, steady });
            }
        }
        let filter = Filter { phase: 0.0, tempo: 1.0, slope: 0.0, spread: [[0.0; 3]; 3], weight: 0.0 };
        let astray = [0.0; LAST_TAPS];
        let filters = [filter; SUPPOSED];
        let way = vec![(0, 0)];
        Band { beats, bars, first_bar, filters, beat: None, way, stands: false, tapped: 0.0, taps: 0, astray }
    }

    /// Somebody says, on its downbeat, that the band is at a bar. Returns whether the song has it.
    pub fn here(&mut self, bar: i32, at: MachineTime) -> bool {
        let index = bar.checked_sub(self.first_bar).and_then(|at| usize::try_from(at).ok());
        let Some(beat) = index.and_then(|at| self.bars.get(at)).copied() else { return false };
        self.begin(beat, seconds(at) + EARLY, 1);
        true
    }

    /// Begins at a beat of the song that is played at a time.
    fn begin(&mut self, beat: usize, at: f64, taps: u32) {
        // The tempo that is known already stays, with less trust.
        let tempo = if self.beat.is_some() { self.tempo() } else { 1.0 };
        let mut spread = [[0.0; 3]; 3];
        for (at, known) in [0.03, 0.03, SLOPES].into_iter().enumerate() {
            spread[at][at] = known * known;
        }
        let steady = self.steady(beat);
        self.filters =
            std::array::from_fn(|n| Filter { phase: at, tempo, slope: 0.0, spread, weight: prior(n, steady) });
        (self.beat, self.tapped, self.taps) = (Some(beat), at - EARLY, taps);
        self.way = vec![(0, 0)];
        (self.astray, self.stands) = ([0.0; LAST_TAPS], false);
    }

    /// The song went on elsewhere: it went round or left out a part, at a time. The band is taken to go along, unless somebody has said since
    /// that it is elsewhere.
    pub fn turned(&mut self, from: SongTime, to: SongTime, at: MachineTime) {
        let (Some(beat), Some((first, of))) = (self.beat, self.way.last().copied()) else { return };
        let [from, to] = [from, to].map(|place| self.beat_at(place));
        let Some(turn) = (first + from).checked_sub(of) else { return };
        let here = self.beat_by(beat, seconds(at));
        if self.stands || here.abs_diff(turn) > ELSEWHERE {
            return;
        }
        self.way.push((turn, to));
    }

    /// The song stands, and the band with it. Taps count for nothing meanwhile.
    pub fn waits(&mut self) {
        self.stands = true;
    }

    /// The song goes on after a wait, from a place at a time. Unless somebody has said since where the band is, it is there; it is not sure of
    /// that before some taps agree.
    pub fn goes_on(&mut self, song: SongTime, at: MachineTime) {
        if self.stands && self.beat.is_some() {
            self.begin(self.beat_at(song), seconds(at), 0);
        }
    }

    /// How likely it is that the bar of a beat of the song is not stretched.
    fn steady(&self, beat: usize) -> f64 {
        self.beats.get(beat).map_or(STEADY, |beat| beat.steady)
    }

    /// The beat of the song that is nearest to a place.
    fn beat_at(&self, place: SongTime) -> usize {
        let place = place.secs_f64();
        let after = self.beats.partition_point(|beat| beat.at < place);
        let near = |at: &usize| self.beats.get(*at).map_or(f64::MAX, |beat| (beat.at - place).abs());
        [after, after.saturating_sub(1)].into_iter().min_by(|a, b| near(a).total_cmp(&near(b))).unwrap_or(0)
    }

    /// Which beat of the song the way has at a number. `None` after the end of the song.
    fn of_song(&self, beat: usize) -> Option<usize> {
        let (first, of) = self.way.iter().rev().find(|(first, _)| *first <= beat)?;
        Some(of + beat - first).filter(|at| *at < self.beats.len())
    }

    /// The last beat that has been played by a time, as far as the taps tell.
    fn beat_by(&self, mut beat: usize, at: f64) -> usize {
        while self.of_song(beat + 2).is_some() && self.expected(beat + 1) <= at {
            beat += 1;
        }
        beat
    }

    /// The band is so many beats further than supposed.
    pub fn nudge(&mut self, beats: i32) {
        let Some(beat) = self.beat else { return };
        let moved = usize::try_from(i64::try_from(beat).unwrap_or(0) + i64::from(beats)).unwrap_or(0);
        self.beat = Some(if self.of_song(moved).is_some() { moved } else { beat });
    }

    /// A tap on a beat.
    pub fn tap(&mut self, at: MachineTime) {
        let Some(beat) = self.beat.filter(|_| !self.stands) else { return };
        let seen = seconds(at) + EARLY;
        // The beat whose time is nearest.
        let near = |beat: usize| (self.expected(beat) - seen).abs();
        let mut nearest = beat;
        while self.of_song(nearest + 1).is_some() && near(nearest + 1) <= near(nearest) {
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

    /// Where the band is at a time, as far as the taps tell. `None` until somebody has said where, and while it stands. `turns` is how many
    /// turns of the song it has heard of. Before the last of them it is told as if the song had always been on that stretch, as the engine
    /// sees it.
    pub fn place(&self, now: MachineTime, turns: u32) -> Option<BandPlace> {
        let beat = self.beat_by(self.beat.filter(|_| !self.stands)?, seconds(now));
        let (at, then) = (self.expected(beat), self.expected(beat + 1));
        let (first, of) = self.way.last().copied().unwrap_or_default();
        let song = match beat.checked_sub(first) {
            Some(on) => self.beats.get(of + on)?.at,
            None => self.beats.get(of)?.at - (beat..first).map(|beat| self.planned(beat)).sum::<f64>(),
        };
        #[allow(clippy::cast_possible_truncation)] // a ratio within the range of rates
        let rate = Rate::per_million((self.planned(beat) / (then - at) * 1e6) as i64);
        Some(BandPlace { song: song_time(song), at: machine_time(at), rate, sure: self.is_sure(now), turns })
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
        let place = self.place(now, 0)?;
        let here = place.song.secs_f64() + place.rate.song((now - place.at).micros()) as f64 / 1e6;
        let near = |at: &usize| (self.beats[self.bars[*at]].at - here).abs();
        let nearest = (0..self.bars.len()).min_by(|a, b| near(a).total_cmp(&near(b)))?;
        i32::try_from(nearest).ok().map(|at| self.first_bar + at)
    }

    /// The length of a beat as it is played now, in seconds.
    fn length(&self, beat: usize) -> f64 {
        self.planned(beat) * self.tempo()
    }

    /// How long a beat of the way is planned to last, in seconds.
    fn planned(&self, beat: usize) -> f64 {
        let last = self.beats.len().saturating_sub(2);
        let beat = self.of_song(beat).map_or(last, |beat| beat.min(last));
        self.beats.get(beat + 1).map_or(0.5, |next| next.at - self.beats[beat].at)
    }

    /// When a beat comes, in seconds of the machine's clock: the mean over all suppositions. Only the present bar is stretched.
    fn expected(&self, beat: usize) -> f64 {
        let (mut in_bar, mut after, mut line) = (0.0, 0.0, false);
        for beat in self.beat.unwrap_or(0)..beat {
            *(if line { &mut after } else { &mut in_bar }) += self.planned(beat);
            line |= self.begins_bar(beat + 1);
        }
        let of = |(filter, stretch): (&Filter, f64)| {
            let ahead = in_bar * (1.0 + stretch) + after;
            filter.weight * (filter.phase + ahead * (filter.tempo + 0.5 * filter.slope * (in_bar + after)))
        };
        self.filters.iter().zip(STRETCHES).map(of).sum()
    }

    fn begins_bar(&self, beat: usize) -> bool {
        self.of_song(beat).and_then(|beat| self.beats.get(beat)).is_some_and(|beat| beat.line)
    }

    /// One beat goes by.
    fn advance(&mut self) {
        let Some(beat) = self.beat else { return };
        let planned = self.planned(beat);
        for (filter, stretch) in self.filters.iter_mut().zip(STRETCHES) {
            let step = planned * (1.0 + stretch);
            filter.phase += step * (filter.tempo + 0.5 * planned * filter.slope);
            filter.tempo += planned * filter.slope;
            let goes = [[1.0, step, 0.5 * step * planned], [0.0, 1.0, planned], [0.0, 0.0, 1.0]];
            filter.spread = moved(&goes, &filter.spread);
            for (at, more) in [BESIDE, DRIFTS, TURNS].into_iter().enumerate() {
                filter.spread[at][at] += more * more;
            }
        }
        self.beat = Some(beat + 1);
        if self.begins_bar(beat + 1) {
            self.join();
        }
    }

    /// A bar line: the suppositions are joined to one, and each begins anew from it.
    fn join(&mut self) {
        let mean = |value: fn(&Filter) -> f64| self.filters.iter().map(|f| f.weight * value(f)).sum::<f64>();
        let [phase, tempo, slope] = [mean(|f| f.phase), mean(|f| f.tempo), mean(|f| f.slope)];
        let mut spread = [[0.0; 3]; 3];
        for filter in &self.filters {
            let off = [filter.phase - phase, filter.tempo - tempo, filter.slope - slope];
            for (a, row) in spread.iter_mut().enumerate() {
                for (b, sum) in row.iter_mut().enumerate() {
                    *sum += filter.weight * (off[a] * off[b] + filter.spread[a][b]);
                }
            }
        }
        let steady = self.beat.and_then(|beat| self.of_song(beat)).map_or(STEADY, |beat| self.steady(beat));
        self.filters = std::array::from_fn(|n| Filter { phase, tempo, slope, spread, weight: prior(n, steady) });
    }

    /// A tap was seen on the present beat: each supposition takes it in, and is weighed by how well it fits.
    fn weigh(&mut self, seen: f64, shakes: f64) {
        for filter in &mut self.filters {
            let total = filter.spread[0][0] + shakes * shakes;
            let off = seen - filter.phase;
            // A single wild tap does not decide.
            filter.weight *= libm::exp(-0.5 * (off * off / total).min(25.0)) / total.sqrt();
            let seen = filter.spread[0];
            let gain = seen.map(|of| of / total);
            filter.phase += gain[0] * off;
            filter.tempo = (filter.tempo + gain[1] * off).clamp(0.5, 2.0);
            filter.slope = (filter.slope + gain[2] * off).clamp(-STEEPEST, STEEPEST);
            for (row, gain) in filter.spread.iter_mut().zip(gain) {
                for (of, seen) in row.iter_mut().zip(seen) {
                    *of -= gain * seen;
                }
            }
        }
        let sum: f64 = self.filters.iter().map(|filter| filter.weight).sum();
        for (n, filter) in self.filters.iter_mut().enumerate() {
            filter.weight = if sum > 0.0 { filter.weight / sum } else { prior(n, STEADY) };
        }
    }
}

/// The covariance of what a linear step makes of a state.
fn moved(goes: &[[f64; 3]; 3], spread: &[[f64; 3]; 3]) -> [[f64; 3]; 3] {
    let times = |a: &[[f64; 3]; 3], b: &dyn Fn(usize, usize) -> f64| {
        std::array::from_fn(|row| std::array::from_fn(|column| (0..3).map(|at| a[row][at] * b(at, column)).sum()))
    };
    let half: [[f64; 3]; 3] = times(goes, &|at, column| spread[at][column]);
    times(&half, &|at, column| goes[column][at])
}

fn prior(supposition: usize, steady: f64) -> f64 {
    if supposition == 0 { steady } else { (1.0 - steady) / (SUPPOSED - 1) as f64 }
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
