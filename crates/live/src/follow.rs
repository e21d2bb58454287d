//! Following an external clock. Turns MIDI time code, or MIDI clock with start and song position, into a place in our song.

use crate::units::{MachineSpan, MachineTime};
use letfall_core::midi::{CLOCK_TICKS, MidiInput, SONG_POSITION_TICKS};
use letfall_core::time::{Grid, SongSpan, SongTime, Tick, Timecode, round};
use std::sync::Arc;

/// Which external clock the run follows.
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

/// What the external clock tells us.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum FollowerEvent {
    /// It started to run from here.
    Start(SongTime),
    /// It is here now.
    At(SongTime),
    /// It is stopped and was moved to here.
    Locate(SongTime),
    /// It stopped.
    Stop,
}

/// A clock that stays silent for longer than this counts as stopped. Our own figure.
const SILENCE: MachineSpan = MachineSpan::from_millis(500);

/// Reads the clock messages of one port.
#[derive(Debug, Clone)]
pub struct Follower {
    follow: Follow,
    grid: Arc<Grid>,
    /// The house timecode at song time 0.
    zero: Option<Timecode>,
    pieces: [Option<u8>; 8],
    /// The piece that was received last.
    piece: Option<usize>,
    /// The place that the last complete timecode gave.
    said: Option<SongTime>,
    runs: bool,
    /// MIDI clocks since the song's beginning.
    clocks: i64,
    last: Option<MachineTime>,
}

impl Follower {
    /// A follower for a song with this grid and with this timecode at song time 0.
    pub fn new(follow: Follow, grid: Arc<Grid>, zero: Option<Timecode>) -> Follower {
        Follower { follow, grid, zero, pieces: [None; 8], piece: None, said: None, runs: false, clocks: 0, last: None }
    }

    /// Takes one message. `now` is when it arrived, by the machine's clock.
    pub fn hear(&mut self, bytes: &[u8], now: MachineTime) -> Option<FollowerEvent> {
        match (self.follow, MidiInput::read(bytes)) {
            (Follow::Timecode, MidiInput::QuarterFrame { piece, nibble }) => self.quarter_frame(piece, nibble, now),
            (Follow::Timecode, MidiInput::FullFrame { fields }) => {
                self.pieces = [None; 8];
                self.runs = false;
                Some(FollowerEvent::Locate(self.song_of(fields)?))
            }
            (Follow::Clock, MidiInput::SongPosition { sixteenths }) => {
                self.clocks = i64::from(sixteenths) * (SONG_POSITION_TICKS / CLOCK_TICKS);
                Some(FollowerEvent::Locate(self.clock_place()))
            }
            (Follow::Clock, MidiInput::Start) => {
                (self.clocks, self.runs) = (-1, true);
                None
            }
            (Follow::Clock, MidiInput::Continue) => {
                // The next clock falls on the place that song position pointed to (MIDI 1.0, system real time).
                self.clocks -= 1;
                self.runs = true;
                None
            }
            (Follow::Clock, MidiInput::Stop) => {
                self.runs = false;
                self.last = None;
                Some(FollowerEvent::Stop)
            }
            (Follow::Clock, MidiInput::TimingClock) if self.runs => {
                self.clocks += 1;
                let first = self.last.is_none();
                self.last = Some(now);
                let at = self.clock_place();
                Some(if first { FollowerEvent::Start(at) } else { FollowerEvent::At(at) })
            }
            _ => None,
        }
    }

    /// Whether the clock that we follow has fallen silent and so counts as stopped.
    pub fn is_silent(&mut self, now: MachineTime) -> bool {
        let silent = self.runs && self.last.is_some_and(|last| now - last > SILENCE);
        if silent {
            (self.runs, self.last) = (false, None);
            self.pieces = [None; 8];
        }
        silent
    }

    fn clock_place(&self) -> SongTime {
        self.grid.time_at(Tick::new(self.clocks.max(0) * CLOCK_TICKS))
    }

    fn song_of(&self, [h, m, s, f]: [u8; 4]) -> Option<SongTime> {
        let zero = self.zero?;
        let text = format!("{h:02}:{m:02}:{s:02}:{f:02}");
        let there = Timecode::parse(&text, zero.rate()).ok()?;
        let (micros, over) = zero.rate().frame_micros();
        let frames = i128::from(there.frames() - zero.frames());
        i64::try_from(round::div_nearest(frames * micros, over)).ok().map(SongTime::saturating)
    }

    fn quarter_frame(&mut self, piece: u8, nibble: u8, now: MachineTime) -> Option<FollowerEvent> {
        let piece = usize::from(piece & 7);
        let in_order = self.piece.is_none_or(|before| piece == (before + 1) % 8);
        self.piece = Some(piece);
        if piece == 0 || !in_order {
            self.pieces = [None; 8];
        }
        if !in_order {
            // Timecode that runs backwards, or with missing or repeated pieces, gives no place.
            // If this continues, it counts as silence.
            return None;
        }
        self.pieces[piece] = Some(nibble);
        if !self.runs {
            self.last = Some(now);
        }
        if piece != 7 {
            return None;
        }
        let mut fields = [0u8; 4];
        for (at, pair) in self.pieces.chunks_exact(2).enumerate() {
            fields[at] = pair[0]? | pair[1]? << 4;
        }
        let [f, s, m, h] = fields;
        // A set gives the time at which its first piece was sent. Seven quarter frames have passed since then.
        let (micros, over) = self.zero?.rate().frame_micros();
        let gone = i64::try_from(round::div_nearest(micros * 7, over * 4)).ok()?;
        let song = self.song_of([h & 31, m, s, f])? + SongSpan::from_micros(gone);
        let before = self.said.replace(song);
        if self.runs && before == Some(song) {
            // The same time again means that the timecode is paused. If this continues, it counts as silence.
            return None;
        }
        self.last = Some(now);
        let first = !self.runs;
        self.runs = true;
        Some(if first { FollowerEvent::Start(song) } else { FollowerEvent::At(song) })
    }
}
