//! Finds the bar grid of a recording: how much each moment sounds like a beat, the row of beats, which of them begin bars, and
//! as few marks as explain them. A [`Hearing`] is made once, so that the user's choices can be tried on it at once.

use super::attacks::{AttackListener, Attacks};
use super::bar_error::BarError;
use super::beats;
use super::downbeats::{self, Known, Sounds};
use super::fit::{Placed, plan};
use super::follow;
use super::gaps::middle_gap;
use super::given::GivenBar;
use super::net::{self, Activations, Net};
use super::spectrum::{Bands, FRAME_RATE, Listener};
use super::steady::Rhythm;
use super::tempo_range::TempoRange;
use crate::Decoder;
use letfall_core::time::{Grid, GridPlan, TimeError};

/// How far a beat that was heard lies from where it is meant to be, in seconds.
const HEARD_SIGMA: f64 = 0.010;
/// Bars with a confidence below this are weak spots.
pub const WEAK: f32 = 0.45;

/// Ratios to the tempo found first at which the real tempo may be.
pub(super) const RATIOS: [f64; 6] = [2.0, 0.5, 1.5, 2.0 / 3.0, 3.0, 1.0 / 3.0];
/// Tempos at which people count.
pub(super) const COUNTED: std::ops::Range<f64> = 38.0..230.0;
/// The tempo at which people count most often, and the weight of being near it. (This weight and the four after it were chosen
/// on the held-out pieces in tests/beats.)
const USUAL_TEMPO: f64 = 105.0;
const TEMPO: f32 = 0.2;
/// Weights of how much the beats sound like beats, and of clear downbeats.
const BEATS: f32 = 0.5;
const DOWNBEATS: f32 = 0.3;
/// Weights of the tempo and the metre that the music around a beat sounds like.
const TEMPO_HEARD: f32 = 0.6;
const METRE_HEARD: f32 = 0.3;
/// These replace `METRE_HEARD` and `TEMPO` when the user gave a bar: its length leaves few tempos, none of them very unusual.
const METRE_IN_BAR: f32 = 0.4;
const TEMPO_IN_BAR: f32 = 0.4;
/// The numbers of beats that are tried for a bar that the user gave.
const COUNTS: [u8; 5] = [4, 3, 2, 6, 5];

/// Evidence for a row of beats, not counting its bars. Each figure is the logarithm of something like a chance; `unusual`
/// counts against the row.
struct Merits {
    /// What is heard at each beat.
    sounds: Vec<Sounds>,
    /// How much it sounds like beats throughout, and how little that does it leaves out.
    beats: f32,
    /// How well its tempo matches what the music around each beat sounds like.
    tempo: f32,
    /// How far its tempo is from what people usually count.
    unusual: f32,
}

/// What was heard in a recording.
#[derive(Debug, Clone, PartialEq)]
pub struct Hearing {
    pub(super) heard: Activations,
    /// How much begins to sound in every frame.
    pub(super) onset: Vec<f32>,
    /// The same ten times as finely; empty if only the bands are known.
    pub(super) attacks: Attacks,
    /// Where the music starts and ends, in seconds.
    pub(super) music: (f64, f64),
}

/// What the user chose. Everything is optional.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Choice {
    /// A known bar, from its downbeat to the next; its ends may be slightly off.
    pub given_bar: Option<GivenBar>,
    /// Seconds of the first downbeat.
    pub first_downbeat: Option<f64>,
    /// Beats in every bar.
    pub beats_per_bar: Option<u8>,
    /// The slowest and fastest tempo, in beats a minute.
    pub tempo: Option<TempoRange>,
}

/// Why no grid was found.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum BarsError {
    /// The user stopped it.
    #[error("it was stopped")]
    Stopped,
    /// Not enough beats.
    #[error("no beats could be heard in it; tap along, or type tempo and metre")]
    Nothing,
    /// The bar that the user gave cannot be used.
    #[error(transparent)]
    Given(#[from] BarError),
    /// The beats make no valid grid.
    #[error("the beats make no grid: {0}")]
    Grid(#[from] TimeError),
}

/// A bar that was found.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct FoundBar {
    /// Seconds of its bar line.
    pub at: f64,
    /// How sure we are, 0 to 1; a bar below [`WEAK`] should be checked.
    pub confidence: f32,
}

/// Beats and bars that were found.
#[derive(Debug, Clone, PartialEq)]
pub struct Found {
    /// Beats in order of time.
    pub beats: Vec<Placed>,
    sounds: Vec<Sounds>,
    /// Whether a beat has three notes (6/8, 9/8, 12/8).
    pub compound: bool,
    /// The marks that explain the beats; bar 1 is the first complete bar.
    pub plan: GridPlan,
    /// How many bars there are.
    pub bars: u32,
    /// Each bar of the song, from bar 1.
    pub confidence: Vec<FoundBar>,
}

impl Hearing {
    /// Listens to a recording. `go_on` is called with the share done, and returns whether to continue.
    ///
    /// # Errors
    /// [`BarsError::Stopped`].
    pub fn of(decoder: &mut Decoder, mut go_on: impl FnMut(f32) -> bool) -> Result<Hearing, BarsError> {
        let mut listener = Listener::new(decoder.facts().sample_rate);
        let mut attacks = AttackListener::new(decoder.facts().sample_rate);
        let whole = decoder.facts().frames.unwrap_or(u64::from(decoder.facts().sample_rate) * 300).max(1) as f32;
        let mut done = 0;
        while let Some(block) = decoder.next_block() {
            listener.hear(block);
            attacks.hear(block);
            done += block.len();
            if !go_on((done as f32 / whole).min(1.0) / 2.0) {
                return Err(BarsError::Stopped);
            }
        }
        let hearing =
            Hearing::from_bands(&listener.end(), |share| go_on(0.5 + share / 2.0)).ok_or(BarsError::Stopped)?;
        Ok(Hearing { attacks: attacks.end(), ..hearing })
    }

    /// Listens to a recording given as bands of pitch.
    pub fn from_bands(bands: &Bands, go_on: impl FnMut(f32) -> bool) -> Option<Hearing> {
        let onset = net::onset(bands);
        Some(Hearing {
            heard: Net::taught().hear(bands, go_on)?,
            music: music(&onset),
            onset,
            attacks: Attacks::default(),
        })
    }

    /// For each frame, how much it sounds like a beat and like a downbeat, and how much begins to sound in it.
    pub fn frames(&self) -> impl Iterator<Item = (f32, f32, f32)> + '_ {
        let sounds = self.heard.beat.iter().zip(&self.heard.downbeat);
        sounds.zip(&self.onset).map(|((beat, down), onset)| (*beat, *down, *onset))
    }

    /// Finds beats and bars.
    ///
    /// # Errors
    /// [`BarsError`].
    pub fn find(&self, choice: &Choice, go_on: &mut dyn FnMut() -> bool) -> Result<Found, BarsError> {
        let first = choice.given_bar.map(|b| GivenBar { beats: choice.beats_per_bar.or(b.beats), ..b });
        if let Some(bar) = first {
            bar.check(self.heard.beat.len() as f64 / FRAME_RATE)?;
        }
        let mut times = if let Some(bar) = first {
            self.in_given_bar(bar, go_on)?
        } else {
            let tracked = self.in_best_tempo(choice.tempo, go_on)?;
            let bpm = beats_a_minute(&tracked);
            self.at_one_tempo(&tracked, bpm, choice.tempo).unwrap_or(tracked)
        };
        if let Some(from) = choice.first_downbeat {
            // The beat nearest to the given time becomes the first downbeat.
            let near = |secs: &f64| (secs - from).abs();
            if let Some(at) = (0..times.len()).min_by(|a, b| near(&times[*a]).total_cmp(&near(&times[*b]))) {
                times.drain(..at);
            }
        }
        let place = |secs: f64| {
            let off = |at: usize| (times[at] - secs).abs();
            (0..times.len()).min_by(|a, b| off(*a).total_cmp(&off(*b)))
        };
        let bar = match (first, choice.first_downbeat) {
            (Some(b), _) => place(b.from).zip(place(b.to)).filter(|(a, b)| a < b),
            _ => None,
        };
        let known =
            Known { beats: choice.beats_per_bar, bar, begins: first.is_none() && choice.first_downbeat.is_some() };
        self.numbered(&times, known)
    }

    fn beats(
        &self,
        range: TempoRange,
        first: Option<GivenBar>,
        go_on: &mut dyn FnMut() -> bool,
    ) -> Result<Vec<f64>, BarsError> {
        beats::find(&self.heard, self.music, range, first, go_on).ok_or(BarsError::Stopped)
    }

    /// Beats at the tempo that people would most likely count: the one found first, or one in a simple ratio to it.
    fn in_best_tempo(&self, asked: Option<TempoRange>, go_on: &mut dyn FnMut() -> bool) -> Result<Vec<f64>, BarsError> {
        let first = self.beats(asked.unwrap_or_default(), None, go_on)?;
        if asked.is_some() || first.len() < 4 {
            return Ok(first);
        }
        let bpm = beats_a_minute(&first);
        let mut best = (self.likely(&first, bpm), first);
        for ratio in RATIOS {
            let range = |within: f64| TempoRange { from: bpm * ratio / within, to: bpm * ratio * within };
            if !COUNTED.contains(&(bpm * ratio)) {
                continue;
            }
            let tried = self.beats(range(1.18), None, go_on)?;
            let likely = self.likely(&tried, bpm * ratio);
            if likely > best.0 {
                best = (likely, self.beats(range(1.5), None, go_on)?);
            }
        }
        Ok(best.1)
    }

    /// Beats from a bar that the user gave. If the number of beats in it is not known, several are tried.
    fn in_given_bar(&self, bar: GivenBar, go_on: &mut dyn FnMut() -> bool) -> Result<Vec<f64>, BarsError> {
        let heard = self.in_best_tempo(None, go_on)?;
        let rhythm = Rhythm::of(&self.attacks.all);
        if let Some(count) = bar.beats {
            return self.counted(&heard, &rhythm, bar, count, go_on);
        }
        let mut best = (f32::NEG_INFINITY, Vec::new());
        for count in COUNTS {
            let tried = self.counted(&heard, &rhythm, bar, count, go_on)?;
            let bpm = 60.0 * f64::from(count) / (bar.to - bar.from);
            let Some(m) = self.merits(&tried, bpm) else { continue };
            let metre = mean(m.sounds.iter().map(|s| s.about.of_metre(count)));
            let likely = BEATS * m.beats + TEMPO_HEARD * m.tempo + METRE_IN_BAR * metre - TEMPO_IN_BAR * m.unusual;
            if likely > best.0 {
                best = (likely, tried);
            }
        }
        Ok(best.1)
    }

    /// Beats from a given bar with this many beats: either the row that sounds most like beats from there, or one that follows
    /// what was heard without the bar, if that is clearly steadier. The first of these may drift from the bar's count to
    /// something that sounds stronger.
    fn counted(
        &self,
        heard: &[f64],
        rhythm: &Rhythm,
        bar: GivenBar,
        count: u8,
        go_on: &mut dyn FnMut() -> bool,
    ) -> Result<Vec<f64>, BarsError> {
        if let Some(row) = self.through(heard, rhythm, bar, count) {
            return Ok(row);
        }
        let bar = bar.settled(&self.heard, count);
        let own = self.beats(TempoRange::default(), Some(bar), go_on)?;
        let along = follow::follow(heard, bar, count, self.music);
        Ok(along.filter(|row| follow::steadier(row, &own)).unwrap_or(own))
    }

    /// How likely it is that people count a row of beats: its merits, whether its bars begin at what sounds like a downbeat,
    /// and whether they have as many beats as the music around them suggests.
    pub(super) fn likely(&self, times: &[f64], bpm: f64) -> f32 {
        let Some(m) = self.merits(times, bpm) else { return f32::NEG_INFINITY };
        let numbers = downbeats::number(&m.sounds, Known::default());
        let numbered = || m.sounds.iter().zip(&numbers);
        let down = mean(numbered().filter(|(_, n)| n.0 == 1).map(|(s, _)| s.downbeat));
        let metre = mean(numbered().map(|(s, (_, of))| s.about.of_metre(*of)));
        BEATS * m.beats + DOWNBEATS * libm::logf(down + 0.05) + TEMPO_HEARD * m.tempo + METRE_HEARD * metre
            - TEMPO * m.unusual
    }

    /// The evidence for a row of beats at a tempo.
    fn merits(&self, times: &[f64], bpm: f64) -> Option<Merits> {
        if times.len() < 4 {
            return None;
        }
        let sounds = downbeats::sounds(&self.heard, times);
        let hit: f32 = sounds.iter().map(|s| s.beat).sum();
        let beat = &self.heard.beat;
        let peaks = beat.windows(3).filter(|w| w[1] >= w[0] && w[1] > w[2] && w[1] > 0.05);
        let mass: f32 = peaks.map(|w| w[1]).sum();
        let (right, whole) = (hit / sounds.len() as f32, (hit / mass.max(1e-6)).min(1.0));
        #[allow(clippy::cast_possible_truncation)] // a few octaves
        let octaves = libm::log2(bpm / USUAL_TEMPO) as f32 / 0.8;
        let both = 2.0 * right * whole / (right + whole + 1e-6);
        let intervals = times.windows(2).map(|w| w[1] - w[0]);
        let tempo: f32 = sounds.iter().zip(intervals).map(|(s, secs)| s.about.of_tempo(60.0 / secs)).sum();
        let tempo = tempo / sounds.len() as f32;
        Some(Merits { beats: libm::logf(both + 1e-3), tempo, unusual: octaves * octaves / 2.0, sounds })
    }

    /// Numbers the beats and fits the marks.
    fn numbered(&self, times: &[f64], known: Known) -> Result<Found, BarsError> {
        if times.len() < 4 {
            return Err(BarsError::Nothing);
        }
        let sounds = downbeats::sounds(&self.heard, times);
        let numbers = downbeats::number(&sounds, known);
        let compound = self.compound(times);
        let placed = times.iter().zip(numbers).map(|(at, (number, of))| Placed { at: *at, number, of }).collect();
        Found::of(placed, sounds, compound)
    }

    /// Whether beats divide into three: much begins to sound at both thirds of them, and less at their halves.
    #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)] // places in the recording
    fn compound(&self, times: &[f64]) -> bool {
        let strength = |secs: f64| {
            let at = libm::round(secs * FRAME_RATE).max(0.0) as usize;
            self.onset.iter().skip(at.saturating_sub(1)).take(3).copied().fold(0.0f32, f32::max)
        };
        let mean = |share: f64| {
            let sum: f32 = times.windows(2).map(|w| strength(w[0] + (w[1] - w[0]) * share)).sum();
            sum / times.len().max(1) as f32
        };
        let (halves, thirds) = (mean(0.5), mean(1.0 / 3.0).min(mean(2.0 / 3.0)));
        thirds > 1.25 * halves
    }
}

fn mean(of: impl Iterator<Item = f32>) -> f32 {
    let (sum, count) = of.fold((0.0, 0usize), |(sum, count), x| (sum + x, count + 1));
    sum / count.max(1) as f32
}

/// The median tempo in beats a minute.
fn beats_a_minute(times: &[f64]) -> f64 {
    middle_gap(times).map_or(0.0, |gap| 60.0 / gap)
}

/// Where the music starts and ends, in seconds: the first and last place where at least a fifth as much begins to sound as at
/// the stronger places. A last note may ring long after that.
fn music(onset: &[f32]) -> (f64, f64) {
    let mut sorted = onset.to_vec();
    sorted.sort_by(f32::total_cmp);
    let strong = sorted.get(sorted.len() * 19 / 20).copied().unwrap_or(0.0) * 0.2;
    let begins = |o: &f32| *o > strong;
    let (first, last) = (onset.iter().position(begins), onset.iter().rposition(begins));
    (first.unwrap_or(0) as f64 / FRAME_RATE, last.unwrap_or(0) as f64 / FRAME_RATE)
}

impl Found {
    /// The grid of these bars.
    ///
    /// # Errors
    /// If the marks make no grid. Marks that were found here always do.
    pub fn grid(&self) -> Result<Grid, TimeError> {
        self.plan.build()
    }

    fn of(beats: Vec<Placed>, sounds: Vec<Sounds>, compound: bool) -> Result<Found, BarsError> {
        let (plan, bars) = plan(&beats, compound, HEARD_SIGMA)?;
        let grid = plan.build()?;
        // The confidence of each bar: how much its beats sound like beats, how much its first one sounds like a downbeat, and
        // how close the grid comes to it.
        let mut confidence = Vec::new();
        let first = beats.iter().position(|b| b.number == 1).unwrap_or(0);
        let mut at = first;
        for bar in 1i32.. {
            let Some(line) = beats.get(at) else { break };
            let count = beats[at + 1..].iter().position(|b| b.number == 1).map_or(beats.len() - at, |n| n + 1);
            let here = &sounds[at..at + count];
            let beat = here.iter().map(|s| s.beat.min(1.0)).sum::<f32>() / count as f32;
            let down = (here[0].downbeat / here[0].beat.max(0.1)).min(1.0);
            let off = (line.at - grid.bar_time(bar).micros() as f64 / 1e6) / 0.05;
            #[allow(clippy::cast_possible_truncation)] // 0 to 1
            let near = libm::exp(-off * off) as f32;
            confidence.push(FoundBar { at: line.at, confidence: (0.65 * beat + 0.35 * down) * near });
            at += count;
        }
        Ok(Found { beats, sounds, compound, plan, bars, confidence })
    }

    /// The median tempo in beats a minute.
    pub fn tempo(&self) -> f64 {
        beats_a_minute(&self.beats.iter().map(|b| b.at).collect::<Vec<f64>>())
    }

    /// Drops every other beat, keeping the first downbeat.
    ///
    /// # Errors
    /// [`BarsError`].
    pub fn halved(&self, hearing: &Hearing) -> Result<Found, BarsError> {
        let first = self.beats.iter().position(|b| b.number == 1).unwrap_or(0) % 2;
        let times: Vec<f64> = self.beats.iter().skip(first).step_by(2).map(|b| b.at).collect();
        hearing.numbered(&times, Known::default())
    }

    /// Counts halfway between the beats: half a beat later, throughout.
    ///
    /// # Errors
    /// [`BarsError`].
    pub fn half_a_beat_later(&self, hearing: &Hearing) -> Result<Found, BarsError> {
        let times: Vec<f64> = self.beats.windows(2).map(|w| f64::midpoint(w[0].at, w[1].at)).collect();
        hearing.numbered(&times, Known::default())
    }

    /// Adds a beat halfway between every two.
    ///
    /// # Errors
    /// [`BarsError`].
    pub fn doubled(&self, hearing: &Hearing) -> Result<Found, BarsError> {
        let between = self.beats.windows(2).flat_map(|w| [w[0].at, f64::midpoint(w[0].at, w[1].at)]);
        let times: Vec<f64> = between.chain(self.beats.last().map(|b| b.at)).collect();
        let sounds = downbeats::sounds(&hearing.heard, &times);
        // Bar lines stay where they are: each bar gets twice as many beats. If that is too many, each bar becomes two with the
        // old number of beats.
        let of = |b: &Placed| if b.of <= downbeats::MOST / 2 { b.of * 2 } else { b.of };
        let mut placed = Vec::with_capacity(times.len());
        let mut number = 0;
        for (at, secs) in times.iter().enumerate() {
            let beat = &self.beats[(at / 2).min(self.beats.len() - 1)];
            number = if at % 2 == 0 && beat.number == 1 || number >= of(beat) { 1 } else { number + 1 };
            placed.push(Placed { at: *secs, number, of: of(beat) });
        }
        Found::of(placed, sounds, false)
    }

    /// Moves bar lines by whole beats: later, or earlier if `by` is below 0.
    ///
    /// # Errors
    /// [`BarsError`].
    pub fn shifted(&self, by: i32) -> Result<Found, BarsError> {
        let mut beats = self.beats.clone();
        for beat in &mut beats {
            let of = i32::from(beat.of.max(1));
            beat.number = u8::try_from((i32::from(beat.number) - 1 - by).rem_euclid(of) + 1).unwrap_or(1);
        }
        // A bar whose length differs from its neighbours would be torn apart, so beats are numbered again from each change of
        // metre.
        let first = beats.iter().position(|b| b.number == 1).unwrap_or(0);
        let mut number = 1;
        let mut of = beats.get(first).map_or(4, |b| b.of);
        for beat in beats.iter_mut().skip(first) {
            if number > of {
                (number, of) = (1, beat.of);
            }
            (beat.number, beat.of) = (number, of);
            number += 1;
        }
        Found::of(beats, self.sounds.clone(), self.compound)
    }

    /// The same beats, in bars of this many beats.
    ///
    /// # Errors
    /// [`BarsError`].
    pub fn in_bars_of(&self, beats: u8, hearing: &Hearing) -> Result<Found, BarsError> {
        let times: Vec<f64> = self.beats.iter().map(|b| b.at).collect();
        hearing.numbered(&times, Known { beats: Some(beats), ..Known::default() })
    }

    /// Runs of weak bars, each as its first and last bar.
    pub fn weak_spots(&self) -> Vec<(i32, i32)> {
        let mut spots: Vec<(i32, i32)> = Vec::new();
        for (bar, found) in (1i32..).zip(&self.confidence) {
            if found.confidence < WEAK {
                match spots.last_mut() {
                    Some(spot) if spot.1 == bar - 1 => spot.1 = bar,
                    _ => spots.push((bar, bar)),
                }
            }
        }
        spots
    }
}
