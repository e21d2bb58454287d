//! The file's own clock: tempo events a MIDI file can hold, and the tick nearest a song time *by that clock*.
//!
//! A file holds whole microseconds per quarter and a constant tempo between events. So a ramp becomes steps of 1/24 quarter
//! (where MIDI clocks fall, as SMF 1.1 FF 51 recommends). Each step gets the mean tempo that brings the written clock back to
//! the true one at its end, so rounding errors never accumulate. Cues are then placed by the written clock, so they do not
//! drift even where the tempo itself had to be rounded.

use letfall_core::time::{Grid, GridSegment, PPQ, SegmentLaw, Tick, TickSpan, round};

/// Ticks of 1/960 quarter between MIDI clocks.
const MIDI_CLOCK: i64 = PPQ / 24;
/// Longest quarter note that 24 bits of microseconds hold.
const SLOWEST: i64 = 0x00ff_ffff;

/// A tempo event.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct TempoEvent {
    /// File ticks.
    pub tick: u32,
    /// Microseconds a quarter.
    pub quarter_micros: u32,
}

/// A file's tempo events and the exact time each one starts.
#[derive(Debug, Clone)]
pub(super) struct FileClock {
    pub events: Vec<TempoEvent>,
    /// File time at which each event starts, in microseconds times `division`: a whole number, so nothing is rounded away.
    starts: Vec<i64>,
    division: i128,
    /// Song time of file tick 0, microseconds.
    origin_micros: f64,
    origin: Tick,
    /// File ticks for one grid tick.
    factor: i64,
}

impl FileClock {
    /// The clock of a file with `division` ticks a quarter (a multiple of 960) whose tick 0 is at `origin` and whose
    /// content ends at `end`.
    pub fn new(grid: &Grid, origin: Tick, end: Tick, division: u16) -> FileClock {
        let mut clock = FileClock {
            events: Vec::new(),
            starts: Vec::new(),
            division: i128::from(division),
            origin_micros: grid.micros_at(origin),
            origin,
            factor: i64::from(division) / PPQ,
        };
        let segments = grid.segments();
        for (at, segment) in segments.iter().enumerate() {
            let next = segments.get(at + 1).map(|s| s.tick);
            // The first segment applies to everything before it too.
            let from = if at == 0 { origin } else { segment.tick.max(origin) };
            if next.is_some_and(|next| next <= from) {
                continue; // wholly before the file
            }
            // After the song's end the last tempo continues; marks there are left out.
            let to = next.unwrap_or(end).min(end).max(from + TickSpan::new(1));
            if at > 0 && from >= end {
                break;
            }
            clock.segment(segment, from, to);
        }
        clock
    }

    fn segment(&mut self, segment: &GridSegment, from: Tick, to: Tick) {
        let steady_head = segment.tick.min(to);
        match segment.law {
            SegmentLaw::Steady { .. } => self.step(segment, from, to),
            SegmentLaw::Ramp { .. } => {
                // Before its first mark a ramp's tempo is constant.
                let mut now = from;
                if now < steady_head {
                    self.step(segment, now, steady_head);
                    now = steady_head;
                }
                // A ramp of over 100 000 clocks (half an hour or more) uses steps of several clocks.
                let step = MIDI_CLOCK * (1 + (to - now).get() / (MIDI_CLOCK * 100_000));
                while now < to {
                    let next = Tick::new((now.get().div_euclid(step) + 1) * step).min(to);
                    self.step(segment, now, next);
                    now = next;
                }
            }
        }
    }

    /// One constant tempo from `from` to `to`, chosen so that the written clock is correct again at `to`.
    fn step(&mut self, segment: &GridSegment, from: Tick, to: Tick) {
        let (tick, length) = (self.file_tick(from), (to - from).get());
        let written = self.micros_at_tick(i64::from(tick));
        let wanted = segment.micros_at(to.get() as f64) - self.origin_micros - written;
        let quarter = round::nearest(wanted * PPQ as f64 / length as f64).clamp(1, SLOWEST);
        let quarter_micros = u32::try_from(quarter).unwrap_or(500_000);
        if self.events.last().is_some_and(|e| e.quarter_micros == quarter_micros) {
            return; // the tempo continues
        }
        let start = self.scaled_at_tick(i64::from(tick));
        self.events.push(TempoEvent { tick, quarter_micros });
        self.starts.push(start);
    }

    /// The file tick of a grid tick; 0 for anything before the file.
    pub fn file_tick(&self, tick: Tick) -> u32 {
        u32::try_from((tick - self.origin).get() * self.factor).unwrap_or(if tick < self.origin { 0 } else { u32::MAX })
    }

    /// Written file time of a file tick, in microseconds times division.
    fn scaled_at_tick(&self, tick: i64) -> i64 {
        // Only called for ticks at or after the last event, because the clock is built forwards.
        let Some(at) = self.events.len().checked_sub(1) else { return 0 };
        self.starts[at] + (tick - i64::from(self.events[at].tick)) * i64::from(self.events[at].quarter_micros)
    }

    fn micros_at_tick(&self, tick: i64) -> f64 {
        self.scaled_at_tick(tick) as f64 / self.division as f64
    }

    /// The file tick at which the written clock is nearest to a song time in microseconds; 0 for anything before the file.
    pub fn tick_at(&self, song_micros: i64, cursor: &mut Cursor) -> u32 {
        // In 1/1024 µs times division, so that a fractional origin is kept. 24 h of it fit in 63 bits.
        let wanted = round::nearest((song_micros as f64 - self.origin_micros) * 1024.0);
        let Ok(scaled) = i64::try_from(i128::from(wanted) * self.division) else { return 0 };
        let begun = |at: usize| self.starts.get(at).is_some_and(|s| s.saturating_mul(1024) <= scaled);
        // Times mostly come in order: walk a little before searching.
        let mut at = if begun(cursor.0) { cursor.0 } else { 0 };
        let walk = (0..16).take_while(|n| begun(at + n + 1)).count();
        at = if walk < 16 { at + walk } else { self.starts.partition_point(|s| s.saturating_mul(1024) <= scaled) - 1 };
        cursor.0 = at;
        let Some(event) = self.events.get(at) else { return 0 };
        let tick = 1024 * i64::from(event.quarter_micros);
        let into = (scaled - self.starts[at].saturating_mul(1024) + tick / 2).div_euclid(tick);
        u32::try_from(i64::from(event.tick) + into).unwrap_or(0)
    }
}

/// Where the last look-up ended. Times that come in order are found without a search.
#[derive(Debug, Clone, Default)]
pub(super) struct Cursor(usize);
