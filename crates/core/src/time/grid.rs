//! The grid: ticks to song time and back, in O(log n), monotone, exact to a tick both ways.
//!
//! A plan's marks become segments. In each, the tempo is either constant or a ramp whose BPM is linear in beats. A ramp cut in
//! two gives two ramps of the same law, so pins can split segments anywhere. Between two pins all segments are scaled evenly.
//!
//! Formulas: 60 N ln(b1/b0)/(b1−b0) and its inverse, written with log1p and expm1 so that a ramp between nearly equal tempos
//! loses no precision (derived; see J. Rogers and J. Rockstroh, "Score-Time and Real-Time", ICMC 1978, for tempo as the
//! derivative of score time).

use crate::fnv::Fnv;
use std::hash::Hasher as _;

use super::{BarBeat, GridPlan, Metre, PPQ, SongTime, Tempo, Tick, TickSpan, TimeError, round};

/// Bars, beats and tempo laid over song time. Built from a [`GridPlan`]; never changed.
#[derive(Debug, Clone)]
pub struct Grid {
    bars: Vec<BarSegment>,
    segments: Vec<GridSegment>,
    digest: u64,
}

/// A run of bars of one metre and one length.
#[derive(Debug, Clone)]
struct BarSegment {
    bar: i32,
    tick: i64,
    bar_ticks: i64,
    metre: Metre,
}

/// A stretch with one tempo law.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct GridSegment {
    /// Where it starts.
    pub tick: Tick,
    /// Song time of its start in microseconds, unrounded.
    pub micros: f64,
    /// Microseconds of song per microsecond of marked tempo: 1 unless pins stretch it.
    pub scale: f64,
    /// How the tempo behaves in it.
    pub law: SegmentLaw,
}

/// How the tempo behaves in a segment, before scaling.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum SegmentLaw {
    /// Constant tempo.
    Steady {
        /// Microseconds for one quarter note.
        quarter_micros: f64,
    },
    /// BPM (quarter notes a minute) linear in beats.
    Ramp {
        /// At the segment's start.
        bpm: f64,
        /// Change for each quarter note.
        slope: f64,
    },
}

/// ln(1+x)/x, 1 at 0.
fn log1p_over(x: f64) -> f64 {
    if x == 0.0 { 1.0 } else { libm::log1p(x) / x }
}

/// (eˣ−1)/x, 1 at 0.
fn expm1_over(x: f64) -> f64 {
    if x == 0.0 { 1.0 } else { libm::expm1(x) / x }
}

impl SegmentLaw {
    /// Microseconds from the segment's start to `quarters` later.
    fn elapsed(self, quarters: f64) -> f64 {
        match self {
            SegmentLaw::Steady { quarter_micros } => quarters * quarter_micros,
            SegmentLaw::Ramp { bpm, slope } => 60e6 * quarters / bpm * log1p_over(slope * quarters / bpm),
        }
    }

    /// Quarter notes from the segment's start to `micros` later.
    fn quarters(self, micros: f64) -> f64 {
        match self {
            SegmentLaw::Steady { quarter_micros } => micros / quarter_micros,
            SegmentLaw::Ramp { bpm, slope } => bpm * micros / 60e6 * expm1_over(slope * micros / 60e6),
        }
    }

    /// The same law, starting `quarters` later.
    fn moved(self, quarters: f64) -> SegmentLaw {
        match self {
            SegmentLaw::Steady { .. } => self,
            SegmentLaw::Ramp { bpm, slope } => SegmentLaw::Ramp { bpm: bpm + slope * quarters, slope },
        }
    }

    /// Microseconds for one quarter note at the segment's start.
    fn quarter_micros(self) -> f64 {
        match self {
            SegmentLaw::Steady { quarter_micros } => quarter_micros,
            SegmentLaw::Ramp { bpm, .. } => 60e6 / bpm,
        }
    }

    fn steady_at_start(self) -> SegmentLaw {
        SegmentLaw::Steady { quarter_micros: self.quarter_micros() }
    }
}

impl GridSegment {
    /// Song time of a tick in microseconds, unrounded, by this segment's law; before the segment starts, its first tempo
    /// applies.
    pub fn micros_at(&self, tick: f64) -> f64 {
        let into = (tick - self.tick.get() as f64) / PPQ as f64;
        let law = if into < 0.0 { self.law.steady_at_start() } else { self.law };
        self.micros + self.scale * law.elapsed(into)
    }
}

fn quarters(ticks: i64) -> f64 {
    ticks as f64 / PPQ as f64
}

impl GridPlan {
    /// Checks that a grid can be built.
    ///
    /// # Errors
    /// As [`GridPlan::build`].
    pub fn check(&self) -> Result<(), TimeError> {
        self.build().map(drop)
    }

    /// Builds the grid.
    ///
    /// # Errors
    /// The first mark that is out of order, out of range or impossible, see [`TimeError`].
    pub fn build(&self) -> Result<Grid, TimeError> {
        Grid::new(self)
    }
}

impl Grid {
    pub(super) fn new(plan: &GridPlan) -> Result<Grid, TimeError> {
        let bars = bar_segments(plan)?;
        let mut grid = Grid { bars, segments: Vec::new(), digest: digest(plan) };
        let marked = marked_segments(plan, &grid)?;
        grid.segments = pinned_segments(plan, &grid, &marked)?;
        Ok(grid)
    }

    /// Song time of a tick in microseconds, unrounded.
    pub fn micros_at(&self, tick: Tick) -> f64 {
        self.micros_at_fraction(tick.get() as f64)
    }

    /// Song time in microseconds of a position in ticks, which may be fractional.
    pub fn micros_at_fraction(&self, tick: f64) -> f64 {
        self.segment_where(|s| s.tick.get() as f64 <= tick).micros_at(tick)
    }

    /// Song time of a tick, to the microsecond.
    pub fn time_at(&self, tick: Tick) -> SongTime {
        SongTime::saturating(round::nearest(self.micros_at(tick)))
    }

    /// The position of a song time in ticks, unrounded. `micros` is microseconds of song time.
    pub fn ticks_at(&self, micros: f64) -> f64 {
        let segment = self.segment_where(|s| s.micros <= micros);
        let into = (micros - segment.micros) / segment.scale;
        let law = if into < 0.0 { segment.law.steady_at_start() } else { segment.law };
        segment.tick.get() as f64 + law.quarters(into) * PPQ as f64
    }

    /// The tick nearest to a song time.
    pub fn tick_at(&self, time: SongTime) -> Tick {
        Tick::new(round::nearest(self.ticks_at(time.micros() as f64)))
    }

    /// The last segment for which `before` is true, or else the first.
    fn segment_where(&self, before: impl Fn(&GridSegment) -> bool) -> &GridSegment {
        &self.segments[self.segments.partition_point(before).saturating_sub(1)]
    }

    /// The tempo segments, in order. The first tempo also applies to everything before it.
    pub fn segments(&self) -> &[GridSegment] {
        &self.segments
    }

    fn bar_segment(&self, bar: i32) -> &BarSegment {
        &self.bars[self.bars.partition_point(|s| s.bar <= bar).saturating_sub(1)]
    }

    /// The tick of a bar line. Bars before 1 have the first metre, and its whole length even if bar 1 is cut.
    pub fn bar_tick(&self, bar: i32) -> Tick {
        let segment = self.bar_segment(bar);
        Tick::new(segment.tick + (i64::from(bar) - i64::from(segment.bar)) * segment.bar_ticks)
    }

    /// When a song opens, given its first counted bar: song time 0 may be before that, if the guide has a lead-in.
    pub fn opens(&self, first_bar: i32) -> SongTime {
        self.bar_time(first_bar).min(SongTime::ZERO)
    }

    /// Song time of a bar line.
    pub fn bar_time(&self, bar: i32) -> SongTime {
        self.time_at(self.bar_tick(bar))
    }

    /// The metre of a bar.
    pub fn metre_at(&self, bar: i32) -> &Metre {
        &self.bar_segment(bar).metre
    }

    /// Length of a bar.
    pub fn bar_length(&self, bar: i32) -> TickSpan {
        TickSpan::new(self.bar_segment(bar).bar_ticks)
    }

    /// How many counted beats a bar really has: fewer than its metre says if it is cut.
    pub fn beats_in(&self, bar: i32) -> u16 {
        let segment = self.bar_segment(bar);
        segment.metre.beat_at(segment.bar_ticks - 1).0
    }

    /// The tick of a place in the bars. A beat or tick past the end of the bar falls in a later one.
    pub fn tick_of(&self, place: BarBeat) -> Tick {
        let segment = self.bar_segment(place.bar);
        self.bar_tick(place.bar) + TickSpan::new(segment.metre.beat_offset(place.beat) + i64::from(place.tick))
    }

    /// The bar, counted beat and remaining ticks of a tick.
    pub fn place_of(&self, tick: Tick) -> BarBeat {
        let tick = tick.get();
        let at = self.bars.partition_point(|s| s.tick <= tick).saturating_sub(1);
        let segment = &self.bars[at];
        let bars = (tick - segment.tick).div_euclid(segment.bar_ticks);
        let inside = (tick - segment.tick).rem_euclid(segment.bar_ticks);
        let bar = i64::from(segment.bar) + bars;
        let (beat, ticks) = segment.metre.beat_at(inside);
        BarBeat {
            bar: i32::try_from(bar).unwrap_or(if bar < 0 { i32::MIN } else { i32::MAX }),
            beat,
            tick: u32::try_from(ticks).unwrap_or(0),
        }
    }

    /// For display: a place with a simple fraction of the beat, such as `33 b2 +1/3`.
    pub fn place_text(&self, tick: Tick) -> String {
        let place = self.place_of(tick);
        place.plain(self.beat_length(place).get())
    }

    /// For display: the last beat at or before a time, such as `55 b2`. Whoever must be done by a time is told this beat.
    pub fn beat_text(&self, time: SongTime) -> String {
        let place = self.place_of(self.tick_at(time));
        BarBeat { tick: 0, ..place }.plain(self.beat_length(place).get())
    }

    /// How long the counted beat at `place` lasts.
    pub fn beat_length(&self, place: BarBeat) -> TickSpan {
        let metre = self.metre_at(place.bar);
        TickSpan::new(metre.beat_offset(place.beat + 1) - metre.beat_offset(place.beat))
    }

    /// The beat index at which the first bar segment begins: before a pick-up bar there is one for the count-in.
    fn first_beat_index(&self) -> i64 {
        self.bars.first().map_or(0, |first| i64::from(first.bar - 1) * i64::from(self.beats_in(first.bar)))
    }

    /// Counts beats through all bars: 0 is 1|1, negative in the count-in. A beat past the end of its bar keeps counting.
    pub fn beat_index(&self, bar: i32, beat: u16) -> i64 {
        let mut index = self.first_beat_index();
        for (at, segment) in self.bars.iter().enumerate() {
            let next = self.bars.get(at + 1).map_or(i32::MAX, |s| s.bar);
            let beats = i64::from(self.beats_in(segment.bar));
            if bar < next {
                return index + (i64::from(bar) - i64::from(segment.bar)) * beats + i64::from(beat) - 1;
            }
            index += (i64::from(next) - i64::from(segment.bar)) * beats;
        }
        index
    }

    /// The bar and beat of a beat index, see [`Grid::beat_index`].
    pub fn beat_place(&self, index: i64) -> (i32, u16) {
        let mut start = self.first_beat_index();
        for (at, segment) in self.bars.iter().enumerate() {
            let beats = i64::from(self.beats_in(segment.bar));
            let length = self.bars.get(at + 1).map(|next| (i64::from(next.bar) - i64::from(segment.bar)) * beats);
            if length.is_none_or(|length| index < start + length) {
                let bar = i64::from(segment.bar) + (index - start).div_euclid(beats);
                let beat = (index - start).rem_euclid(beats) + 1;
                return (i32::try_from(bar).unwrap_or(i32::MAX), u16::try_from(beat).unwrap_or(1));
            }
            start += length.unwrap_or(0);
        }
        (1, 1)
    }

    /// The bars at which a metre starts, with the length of a bar and the metre. The first is bar 1, or bar 0 if bar 1 is cut. What
    /// is before it has its metre and length.
    pub fn metre_changes(&self) -> impl Iterator<Item = (i32, Tick, TickSpan, &Metre)> {
        self.bars.iter().map(|s| (s.bar, Tick::new(s.tick), TickSpan::new(s.bar_ticks), &s.metre))
    }

    /// A fingerprint of the marks, the same for equal plans on every machine. Clock-anchored cues store the fingerprint of the
    /// grid they were placed on, so that a later tempo change can be detected.
    pub fn digest(&self) -> u64 {
        self.digest
    }
}

fn bar_segments(plan: &GridPlan) -> Result<Vec<BarSegment>, TimeError> {
    let mut out: Vec<BarSegment> = Vec::with_capacity(plan.metres.len());
    let first = plan.metres.first().map(|m| m.bar);
    if first != Some(1) {
        let place = first.map_or_else(|| "no bar at all".to_owned(), |bar| format!("bar {bar}"));
        return Err(TimeError::FirstMark { what: "metre", place });
    }
    for (at, mark) in plan.metres.iter().enumerate() {
        let whole = mark.metre.bar_ticks();
        let tick = match out.last() {
            None => 0,
            Some(last) if last.bar < mark.bar => {
                last.tick + (i64::from(mark.bar) - i64::from(last.bar)) * last.bar_ticks
            }
            // A mark right after a cut bar is in order: that bar got no segment of its own.
            Some(_) => return Err(TimeError::Order { what: "metre", place: format!("bar {}", mark.bar) }),
        };
        if mark.bar > BarBeat::MAX_BAR {
            return Err(TimeError::Order { what: "metre", place: format!("bar {}", mark.bar) });
        }
        let Some(cut) = mark.cut else {
            out.push(BarSegment { bar: mark.bar, tick, bar_ticks: whole, metre: mark.metre.clone() });
            continue;
        };
        if !(1..=whole).contains(&cut.get()) {
            return Err(TimeError::Metre {
                text: format!("{} at bar {}", mark.metre, mark.bar),
                why: "a cut bar must keep at least one tick and be no longer than the whole bar",
            });
        }
        if at == 0 {
            // A pick-up bar keeps its own length; the bars of a count-in before it are whole.
            out.push(BarSegment { bar: 0, tick: -whole, bar_ticks: whole, metre: mark.metre.clone() });
        }
        out.push(BarSegment { bar: mark.bar, tick, bar_ticks: cut.get(), metre: mark.metre.clone() });
        if plan.metres.get(at + 1).is_none_or(|next| next.bar != mark.bar + 1) {
            out.push(BarSegment {
                bar: mark.bar + 1,
                tick: tick + cut.get(),
                bar_ticks: whole,
                metre: mark.metre.clone(),
            });
        }
    }
    Ok(out)
}

/// The tempo marks as segments in marked time, that is without pins; tick 0 is at 0 µs.
fn marked_segments(plan: &GridPlan, grid: &Grid) -> Result<Vec<GridSegment>, TimeError> {
    let mut out: Vec<GridSegment> = Vec::with_capacity(plan.tempos.len());
    if plan.tempos.first().map(|m| grid.tick_of(m.at)) != Some(Tick::ZERO) {
        let place = plan.tempos.first().map_or_else(|| "no place at all".to_owned(), |m| m.at.to_string());
        return Err(TimeError::FirstMark { what: "tempo", place });
    }
    for (mark, next) in plan.tempos.iter().zip(plan.tempos.iter().skip(1).map(Some).chain([None])) {
        let tick = grid.tick_of(mark.at);
        let micros = match out.last() {
            None => 0.0,
            Some(last) if last.tick < tick => last.micros + last.law.elapsed(quarters((tick - last.tick).get())),
            Some(_) => return Err(TimeError::Order { what: "tempo", place: mark.at.to_string() }),
        };
        let law = match mark.ramp {
            None => SegmentLaw::Steady { quarter_micros: mark.tempo.quarter_micros() },
            Some(ramp) => {
                let next = next.ok_or(TimeError::RampEnd { place: mark.at.to_string() })?;
                let length = quarters((grid.tick_of(next.at) - tick).get());
                if length <= 0.0 {
                    return Err(TimeError::Order { what: "tempo", place: next.at.to_string() });
                }
                let bpm = mark.tempo.quarter_bpm();
                SegmentLaw::Ramp { bpm, slope: (ramp.to.quarter_bpm() - bpm) / length }
            }
        };
        out.push(GridSegment { tick, micros, scale: 1.0, law });
    }
    Ok(out)
}

/// Splits marked segments at pins and scales the part between two pins to fit.
fn pinned_segments(plan: &GridPlan, grid: &Grid, marked: &[GridSegment]) -> Result<Vec<GridSegment>, TimeError> {
    let anchor = if plan.pins.is_empty() { vec![(Tick::ZERO, plan.origin, 1)] } else { Vec::new() };
    let mut pins = anchor;
    for pin in &plan.pins {
        let tick = grid.bar_tick(pin.bar);
        if !BarBeat::downbeat(pin.bar).is_sane()
            || pins.last().is_some_and(|&(last, at, _)| last >= tick || at >= pin.at)
        {
            return Err(TimeError::Order { what: "pin", place: format!("bar {} at {}", pin.bar, pin.at) });
        }
        pins.push((tick, pin.at, pin.bar));
    }
    let nominal = |tick: Tick| {
        let at = marked.partition_point(|s| s.tick <= tick).saturating_sub(1);
        let s = &marked[at];
        let into = quarters((tick - s.tick).get());
        let law = if into < 0.0 { s.law.steady_at_start() } else { s.law };
        s.micros + law.elapsed(into)
    };
    // One scale for each interval between pins. Before the first and after the last pin, the nearest scale applies.
    let mut scales = Vec::with_capacity(pins.len());
    for pair in pins.windows(2) {
        let ((t0, at0, _), (t1, at1, bar)) = (pair[0], pair[1]);
        let scale = (at1 - at0).micros() as f64 / (nominal(t1) - nominal(t0));
        if !(0.25..=4.0).contains(&scale) {
            return Err(TimeError::Pin { bar, time: at1.to_string(), ratio: format!("{:.3}", 1.0 / scale) });
        }
        scales.push(scale);
    }
    let outer = (scales.first().copied().unwrap_or(1.0), scales.last().copied().unwrap_or(1.0));
    // Every tick where something changes: marks, and pins (a law continues across a pin, its scale does not).
    let mut starts: Vec<Tick> = marked.iter().map(|s| s.tick).chain(pins.iter().map(|p| p.0)).collect();
    starts.sort_unstable();
    starts.dedup();
    let mut out = Vec::with_capacity(starts.len());
    for tick in starts {
        let after = pins.partition_point(|p| p.0 <= tick);
        let (pin, scale) = match after {
            0 => (pins[0], outer.0),
            n => (pins[n - 1], scales.get(n - 1).copied().unwrap_or(outer.1)),
        };
        let source = &marked[marked.partition_point(|s| s.tick <= tick).saturating_sub(1)];
        let into = quarters((tick - source.tick).get());
        let law = if into < 0.0 { source.law.steady_at_start() } else { source.law.moved(into) };
        if !Tempo::usable(law.quarter_micros() * scale) {
            return Err(TimeError::Pin { bar: pin.2, time: pin.1.to_string(), ratio: format!("{:.3}", 1.0 / scale) });
        }
        let micros = pin.1.micros() as f64 + scale * (nominal(tick) - nominal(pin.0));
        out.push(GridSegment { tick, micros, scale, law });
    }
    Ok(out)
}

/// A hash of the marks in their text form.
fn digest(plan: &GridPlan) -> u64 {
    let mut hash = Fnv::default();
    let mut eat = |text: &str| {
        hash.write(text.as_bytes());
        hash.write(&[0x1f]);
    };
    eat(&plan.origin.micros().to_string());
    for mark in &plan.metres {
        eat(&format!("m{} {} {:?}", mark.bar, mark.metre, mark.cut.map(TickSpan::get)));
    }
    for mark in &plan.tempos {
        eat(&format!("t{} {} {}", mark.at, mark.tempo, mark.ramp.map_or(String::new(), |r| r.to.to_string())));
    }
    for pin in &plan.pins {
        eat(&format!("p{} {}", pin.bar, pin.at.micros()));
    }
    hash.finish()
}
