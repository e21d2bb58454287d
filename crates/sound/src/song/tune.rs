//! The tune of the demo shows: our own score, played by our own small band on whatever grid a show has. The same score and grid
//! give the same samples on every machine.

use super::band::{Band, Voice};
use super::score::{self, Score, ScoreError};
use letfall_core::show::Song;
use letfall_core::time::{Grid, Tick, TickSpan, TimeError};

/// The score that is built into the program.
const LANTERNS_OUT: &str = include_str!("../../../../assets/song/lanterns-out.txt");

/// Ticks in an eighth note.
const EIGHTH: i64 = 480;

impl Score {
    /// The tune of the demo shows.
    ///
    /// # Errors
    /// [`ScoreError`] if the score cannot be read.
    pub fn lanterns_out() -> Result<Score, ScoreError> {
        Score::read(LANTERNS_OUT)
    }

    /// Plays a song's sections on the song's own grid, from song time 0 to a second after its end; one channel, full scale ±1.
    ///
    /// # Errors
    /// [`TimeError`] if the song's grid cannot be built.
    pub fn render(&self, song: &Song) -> Result<Vec<f32>, TimeError> {
        let grid = song.grid.build()?;
        let secs = |tick: Tick| grid.micros_at(tick) / 1e6;
        let mut band = Band::new(secs(grid.bar_tick(song.end_bar())) + 1.0);
        for section in &song.sections {
            let Some(part) = self.section(&section.name) else { continue };
            for into in 0..section.bars.min(song.bars) {
                let bar = section.bar.saturating_add(i32::try_from(into).unwrap_or(i32::MAX));
                let into = usize::try_from(into).unwrap_or(0);
                let start = grid.bar_tick(bar);
                let length = grid.bar_length(bar).get();
                let at = |ticks: i64| secs(start + TickSpan::new(ticks));
                let root = part.chord(into);
                let has = |player: &str| part.players.iter().any(|p| p == player);
                accompany(&mut band, &grid, bar, self.key, root, &has, into == 0);
                for note in part.notes(into, length / EIGHTH) {
                    let key = self.key + note.key;
                    let (from, to) = (at(note.from * EIGHTH), at((note.to * EIGHTH).min(length)));
                    if has("brass") {
                        band.play(Voice::Brass, from, to, key, 0.5);
                    }
                    if has("choir") {
                        band.play(Voice::Choir, from, to, key, if has("brass") { 0.3 } else { 0.5 });
                    }
                    if has("bells") {
                        band.play(Voice::Bell, from, to, key + 12, 0.22);
                    }
                }
            }
        }
        Ok(band.end())
    }
}

/// Plays the bass, chords and drums of one bar, on the beats of its metre.
fn accompany(band: &mut Band, grid: &Grid, bar: i32, tonic: i32, root: i32, has: &dyn Fn(&str) -> bool, first: bool) {
    let metre = grid.metre_at(bar);
    let start = grid.bar_tick(bar);
    let length = grid.bar_length(bar).get();
    let at = |ticks: i64| grid.micros_at(start + TickSpan::new(ticks)) / 1e6;
    let beats = grid.beats_in(bar);
    let degree = |steps: i32| tonic + score::interval(root + steps);
    for beat in 1..=beats {
        let offset = metre.beat_offset(beat);
        let next = if beat < beats { metre.beat_offset(beat + 1) } else { length };
        if has("bass") {
            // The root at the start of the bar, its fifth half way through.
            let fifth = beats > 1 && beat == beats / 2 + 1;
            if beat == 1 || fifth {
                let until = if beat == 1 && beats > 1 { metre.beat_offset(beats / 2 + 1) } else { length };
                band.play(Voice::Bass, at(offset), at(until), degree(if fifth { 4 } else { 0 }) - 24, 0.55);
            }
        }
        if beat > 1 || beats == 1 {
            for steps in [0, 2, 4] {
                band.play(Voice::Horn, at(offset), at(offset + (next - offset) * 3 / 4), degree(steps), 0.13);
            }
        }
        let back = beat % 2 == 0 || (beats == 3 && beat == 3);
        if has("drums") {
            if back {
                band.play(Voice::Snare, at(offset), at(next), 0, 0.5);
            } else {
                band.play(Voice::Kick, at(offset), at(next), 0, 0.8);
            }
        } else if has("soft") {
            band.play(if beat == 1 { Voice::Kick } else { Voice::Brush }, at(offset), at(next), 0, 0.32);
        }
        if has("drums") || has("soft") {
            let units = ((next - offset) / EIGHTH).max(1);
            for unit in 0..units {
                band.play(Voice::Hat, at(offset + unit * EIGHTH), at(next), 0, if unit == 0 { 0.16 } else { 0.1 });
            }
        }
    }
    if first && has("crash") {
        band.play(Voice::Crash, at(0), at(length), 0, 0.5);
    }
}
