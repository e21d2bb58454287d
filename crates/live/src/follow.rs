//! Following another's clock: MIDI time code, or start, song position and clock, to a place in our song.

use letfall_core::time::{Grid, Tick, Timecode};
use std::sync::Arc;

/// What is followed.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Follow {
    /// Nothing.
    #[default]
    Nothing,
    /// MIDI time code.
    Timecode,
    /// MIDI clock, start, continue, stop and song position.
    Clock,
}

/// What the other's clock says.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Says {
    /// It runs from here, song time in µs.
    Start(i64),
    /// It is here now.
    At(i64),
    /// It stands here.
    Locate(i64),
    /// It stopped.
    Stop,
}

/// Reads one port's messages.
#[derive(Debug, Clone)]
pub struct Follower {
    follow: Follow,
    grid: Arc<Grid>,
    /// The house's timecode of song time 0.
    zero: Option<Timecode>,
    pieces: [Option<u8>; 8],
    runs: bool,
    /// MIDI clocks since the song's begin.
    clocks: i64,
    last: Option<i64>,
}

impl Follower {
    /// Follows by a song's own grid and timecode.
    pub fn new(follow: Follow, grid: Arc<Grid>, zero: Option<Timecode>) -> Follower {
        Follower { follow, grid, zero, pieces: [None; 8], runs: false, clocks: 0, last: None }
    }

    /// Takes one message that came at `now`, µs of the machine's clock.
    pub fn hear(&mut self, bytes: &[u8], now: i64) -> Option<Says> {
        match (self.follow, bytes) {
            (Follow::Timecode, [0xf1, data]) => self.quarter_frame(*data, now),
            (Follow::Timecode, [0xf0, 0x7f, _, 0x01, 0x01, h, m, s, f, 0xf7]) => {
                self.pieces = [None; 8];
                self.runs = false;
                Some(Says::Locate(self.song_of([h & 31, *m, *s, *f])?))
            }
            (Follow::Clock, [0xf2, low, high]) => {
                self.clocks = (i64::from(*low & 127) | i64::from(*high & 127) << 7) * 6;
                Some(Says::Locate(self.clock_place()))
            }
            (Follow::Clock, [0xfa]) => {
                (self.clocks, self.runs) = (-1, true);
                None
            }
            (Follow::Clock, [0xfb]) => {
                // The clock that comes next is the place that was pointed to (MIDI 1.0, system real time).
                self.clocks -= 1;
                self.runs = true;
                None
            }
            (Follow::Clock, [0xfc]) => {
                self.runs = false;
                self.last = None;
                Some(Says::Stop)
            }
            (Follow::Clock, [0xf8]) if self.runs => {
                self.clocks += 1;
                let first = self.last.is_none();
                self.last = Some(now);
                let at = self.clock_place();
                Some(if first { Says::Start(at) } else { Says::At(at) })
            }
            _ => None,
        }
    }

    /// Whether what was followed has fallen silent: it stopped.
    pub fn is_silent(&mut self, now: i64) -> bool {
        let silent = self.runs && self.last.is_some_and(|last| now - last > 500_000);
        if silent {
            (self.runs, self.last) = (false, None);
            self.pieces = [None; 8];
        }
        silent
    }

    fn clock_place(&self) -> i64 {
        self.grid.time_at(Tick::new(self.clocks.max(0) * crate::sync::CLOCK_TICKS)).micros()
    }

    fn song_of(&self, [h, m, s, f]: [u8; 4]) -> Option<i64> {
        let zero = self.zero?;
        let text = format!("{h:02}:{m:02}:{s:02}:{f:02}");
        let there = Timecode::parse(&text, zero.rate()).ok()?;
        let (micros, over) = zero.rate().frame_micros();
        let frames = i128::from(there.frames() - zero.frames());
        i64::try_from(letfall_core::time::round::div_nearest(frames * micros, over)).ok()
    }

    fn quarter_frame(&mut self, data: u8, now: i64) -> Option<Says> {
        let piece = usize::from(data >> 4 & 7);
        if piece == 0 {
            self.pieces = [None; 8];
        }
        self.pieces[piece] = Some(data & 15);
        self.last = Some(now);
        if piece != 7 {
            return None;
        }
        let mut fields = [0u8; 4];
        for (at, pair) in self.pieces.chunks_exact(2).enumerate() {
            fields[at] = pair[0]? | pair[1]? << 4;
        }
        let [f, s, m, h] = fields;
        // What the set says was true as its first piece was sent; seven quarter frames have gone since.
        let (micros, over) = self.zero?.rate().frame_micros();
        let gone = i64::try_from(letfall_core::time::round::div_nearest(micros * 7, over * 4)).ok()?;
        let song = self.song_of([h & 31, m, s, f])? + gone;
        let first = !self.runs;
        self.runs = true;
        Some(if first { Says::Start(song) } else { Says::At(song) })
    }
}
