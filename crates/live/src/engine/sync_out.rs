//! Sending sync to other devices: MIDI time code, MIDI clock and song position.

use super::state::Engine;
use crate::gate::{Gate, Payload, Task};
use crate::sync;
use crate::units::MachineTime;
use letfall_core::midi::{self, CLOCK_TICKS, SONG_POSITION_TICKS};
use letfall_core::time::{SongTime, Timecode};

/// Timecode and clock go after the plan's messages that are due at the same time.
const SYNC_RANK: u8 = u8::MAX;

impl Engine {
    /// When the next quarter frame is due, if any are sent.
    pub(super) fn frame_due(&self) -> Option<SongTime> {
        let at = self.plan.timecode.filter(|_| !self.sync.timecode.is_empty())?;
        let due = sync::quarter_frame_due(self.quarter_frame, at);
        (due <= self.plan.end).then_some(due)
    }

    /// Tells followers where the song is, with a full frame and song position.
    pub(super) fn announce(&mut self, song: SongTime, now: MachineTime, gate: &mut Gate) {
        if let Some(at) = self.plan.timecode {
            let frame = midi::full_frame(at.plus(song - SongTime::ZERO).0);
            self.timecode_bytes(&frame, now, gate);
        }
        if let Some(first) = self.clock {
            let sixteenth = first * CLOCK_TICKS / SONG_POSITION_TICKS;
            let pointer = midi::song_position(u16::try_from(sixteenth.clamp(0, 16_383)).unwrap_or(0));
            self.clock_bytes(&pointer, now, gate);
        }
    }

    /// Start from the song's beginning, Continue from anywhere else (MIDI 1.0, system real time).
    pub(super) fn send_start(&mut self, now: MachineTime, gate: &mut Gate) {
        let bytes = if self.clock == Some(0) { midi::START } else { midi::CONTINUE };
        self.clock_bytes(&bytes, now, gate);
    }

    pub(super) fn send_stop(&mut self, now: MachineTime, gate: &mut Gate) {
        self.clock_bytes(&midi::STOP, now, gate);
    }

    /// Sends the clock with this number and prepares the next one, up to the song's end.
    pub(super) fn send_clock(&mut self, number: i64, now: MachineTime, gate: &mut Gate) {
        let end = self.plan.grid.ticks_at(self.plan.end.micros() as f64);
        let last = ((number + 1) * CLOCK_TICKS) as f64 > end;
        self.clock = (!last).then_some(number + 1);
        self.clock_bytes(&midi::TIMING_CLOCK, now, gate);
    }

    pub(super) fn send_quarter_frame(&mut self, now: MachineTime, gate: &mut Gate) {
        let Some(start) = self.plan.timecode else { return };
        let absolute = self.quarter_frame + start.frames() * 4;
        let piece = u8::try_from(absolute.rem_euclid(8)).unwrap_or(0);
        if piece == 0 || self.saying.is_none() {
            self.saying = Some(Timecode::from_frames(absolute.div_euclid(8) * 2, start.rate()));
        }
        let saying = self.saying.unwrap_or(start);
        self.quarter_frame += 1;
        self.timecode_bytes(&midi::quarter_frame(saying, piece), now, gate);
    }

    fn timecode_bytes(&mut self, bytes: &[u8], now: MachineTime, gate: &mut Gate) {
        for to in 0..self.sync.timecode.len() {
            let _refused = gate.offer(self.sync.timecode[to], Payload::made(bytes), Task::Sync, SYNC_RANK, now);
        }
    }

    fn clock_bytes(&mut self, bytes: &[u8], now: MachineTime, gate: &mut Gate) {
        for to in 0..self.sync.clock.len() {
            let _refused = gate.offer(self.sync.clock[to], Payload::made(bytes), Task::Sync, SYNC_RANK, now);
        }
    }
}
