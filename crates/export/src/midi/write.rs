//! A service as a format 1 Standard MIDI File.
//!
//! Track 1 is the conductor: name, SMPTE offset, a text that says which plan the file is of (FF 01), metre, tempo, sections as markers (FF 06), cues as cue points (FF 07) at their
//! land. Then comes one track for each receiver with its messages at their send, and last, if asked for, one with the releases.
//!
//! Text is UTF-8. SMF 1.1 asks for printable ASCII "for maximum interchange" and names no encoding beyond it; RP-026's
//! tags are for lyrics only. UTF-8 leaves ASCII as it is and loses no name.

use super::MidiError;
use super::clock::{Cursor, FileClock};
use super::encode::{self, TrackWriter};
use crate::fingerprints;
use letfall_core::prepared::Prepared;
use letfall_core::schedule::{ReleaseTriggers, Schedule, describe};
use letfall_core::show::{BendMark, Kind, Service, Show};
use letfall_core::time::{Metre, PPQ, SongTime, Tick, round};

/// The time resolution of the file.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Resolution {
    /// 960 ticks a quarter.
    #[default]
    Quarter960,
    /// 4800 ticks a quarter.
    Quarter4800,
    /// Milliseconds: 25 frames of 40 ticks a second (division E728), whatever the tempo.
    Millis,
}

/// How to write the file.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct MidiOptions {
    /// Its time resolution.
    pub resolution: Resolution,
    /// Whether release messages are in it, on a track of their own. Needs a complete safety sheet.
    pub with_releases: bool,
}

/// A written file.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct MidiFile {
    /// Its bytes.
    pub bytes: Vec<u8>,
    /// Song time of its first tick: start playing it this much before (or, if positive, after) song time 0.
    pub starts_at: SongTime,
    /// How many messages it has, not counting note offs.
    pub messages: usize,
    /// Release cues that were left out because they were not asked for.
    pub releases_left_out: usize,
}

/// Writes a service.
///
/// # Errors
/// [`MidiError`].
pub fn write(plan: &Prepared, options: MidiOptions) -> Result<MidiFile, MidiError> {
    let (show, service, schedule) = (plan.show(), plan.service(), plan.schedule());
    if options.with_releases {
        may_hold_releases(show, service)?;
    }
    if let Some((cue, release, doubt)) = ReleaseTriggers::new(show).first_in(schedule) {
        return Err(MidiError::FiresRelease { cue, release: release.name.clone(), why: doubt.words() });
    }
    let grid = &schedule.grid;
    let origin = schedule.opens_at();
    let end = grid.bar_tick(service.song.end_bar());
    let division = if options.resolution == Resolution::Quarter4800 { 4800 } else { 960 };
    let placer = Placer {
        clock: FileClock::new(grid, origin, end, division),
        millis: options.resolution == Resolution::Millis,
        origin: grid.time_at(origin),
    };
    let mut releases = None;
    let mut by_receiver: Vec<Option<TrackWriter>> = show.receivers.iter().map(|_| None).collect();
    let (mut messages, mut left_out) = (0, 0);
    let (mut cursor, mut off_cursor) = (Cursor::default(), Cursor::default());
    for row in &schedule.rows {
        let (Some(receiver), Some(wire)) = (row.receiver, schedule.wire(row)) else { continue };
        let slot = match row.label.kind {
            Kind::Release if !options.with_releases => {
                left_out += 1;
                continue;
            }
            Kind::Release => releases.get_or_insert_with(|| TrackWriter::new("Releases", 0)),
            _ => by_receiver[receiver as usize].get_or_insert_with(|| {
                TrackWriter::new(&one_line(&show.receivers[receiver as usize].name), 8 * schedule.rows.len())
            }),
        };
        messages += 1;
        let tick = placer.at_time(row.send, &mut cursor);
        match &wire.off {
            Some((off, after)) if off.len() == 3 => {
                let end = placer.at_time(row.send + *after, &mut off_cursor);
                slot.note(tick, &wire.on, [off[0], off[1], off[2]], end);
            }
            _ => slot.messages(tick, &wire.on),
        }
    }
    let others: Vec<TrackWriter> = by_receiver.into_iter().flatten().chain(releases).collect();
    let last = others.iter().map(|t| t.tick().max(t.last_off())).max().unwrap_or(0);
    // The conductor is as long as the longest track, so that the file ends where the plan does.
    let mut tracks =
        vec![conductor(plan, options.with_releases, &placer, (origin, end)).finish(last.max(placer.at_tick(end)))?];
    for track in others {
        tracks.push(track.finish(0)?);
    }
    // 25 frames of 40 ticks a second: one tick a millisecond (SMF 1.1, 2.1: the high byte is −25).
    let bytes = encode::file(if placer.millis { 0xe728 } else { division }, tracks)?;
    Ok(MidiFile { bytes, starts_at: placer.origin, messages, releases_left_out: left_out })
}

/// Release messages may be exported only if the safety sheet is filled in and the kind of every release used is known.
fn may_hold_releases(show: &Show, service: &Service) -> Result<(), MidiError> {
    use letfall_core::show::{Action, ReleaseKind};
    let missing = show.safety.missing();
    if !missing.is_empty() {
        return Err(MidiError::SafetySheet(missing.join(", ")));
    }
    for cue in &service.cues {
        let Action::Release { release, .. } = &cue.does else { continue };
        if show.release(release).is_some_and(|r| r.kind == ReleaseKind::Unknown) {
            return Err(MidiError::ReleaseKind(cue.label.to_string()));
        }
    }
    Ok(())
}

/// Converts song times and grid ticks to ticks of the file.
struct Placer {
    clock: FileClock,
    millis: bool,
    origin: SongTime,
}

impl Placer {
    /// The nearest tick to a song time. Fast for times in order, correct for any.
    fn at_time(&self, time: SongTime, cursor: &mut Cursor) -> u32 {
        if self.millis {
            let millis = round::div_nearest(i128::from((time - self.origin).micros()), 1000);
            return u32::try_from(millis).unwrap_or(0);
        }
        self.clock.tick_at(time.micros(), cursor)
    }

    /// A bar line or mark: exactly on its tick if the file counts in ticks.
    fn at_tick(&self, tick: Tick) -> u32 {
        self.clock.file_tick(tick)
    }
}

/// Replaces control characters, which do not belong in a text event.
fn one_line(text: &str) -> String {
    if text.contains(char::is_control) { text.replace(char::is_control, " ") } else { text.to_owned() }
}

/// An event of the conductor other than a cue. At the same tick, metre comes before tempo, and tempo before markers.
struct Mark {
    tick: u32,
    kind: u8,
    data: Vec<u8>,
}

/// The conductor track.
fn conductor(plan: &Prepared, with_releases: bool, placer: &Placer, (origin, end): (Tick, Tick)) -> TrackWriter {
    let (show, service, schedule) = (plan.show(), plan.service(), plan.schedule());
    let name = one_line(&format!("{} – {} – {}", show.title, service.name, service.song.title));
    let mut track = TrackWriter::new(&name, 40 * schedule.rows.len());
    if let Some(start) = service.zero() {
        let (code, hundredths) = start.plus(placer.origin - SongTime::ZERO);
        let [_, minutes, seconds, frames] = code.fields();
        track.meta(0, 0x54, &[code.midi_hours(), minutes, seconds, frames, hundredths]);
    }
    let about = fingerprints::words(plan, fingerprints::of_midi(plan, with_releases));
    track.meta(0, 0x01, one_line(&about).as_bytes());
    let mut marks = metres(schedule, placer, origin, end);
    marks.extend(tempos(schedule, placer, origin, end));
    marks.extend(sections(service, schedule, placer, origin));
    marks.extend(bends(service, schedule, placer, origin));
    marks.sort_by_key(|m| m.tick); // stable: metre, tempo, markers
    let mut marks = marks.into_iter().peekable();
    let texts = CueTexts::new(show, service);
    let mut cursor = Cursor::default();
    for (land, _, cue) in in_landing_order(schedule) {
        let tick = placer.at_time(land.max(placer.origin), &mut cursor);
        while let Some(mark) = marks.next_if(|m| m.tick <= tick) {
            track.meta(mark.tick, mark.kind, &mark.data);
        }
        track.meta(tick, 0x07, texts.of(cue).as_bytes());
    }
    for mark in marks {
        track.meta(mark.tick, mark.kind, &mark.data);
    }
    track
}

/// Land and cue of each row, by land; rows that land together stay in sending order. Sorting small keys keeps memory access
/// local.
fn in_landing_order(schedule: &Schedule) -> Vec<(SongTime, u32, u32)> {
    let mut keys: Vec<(SongTime, u32, u32)> =
        (0u32..).zip(&schedule.rows).map(|(at, row)| (row.land, at, row.cue)).collect();
    keys.sort(); // the stable sort is fast here, because the keys are nearly in order
    keys
}

/// Every cue's text, such as `L12 Warm front`, on one line. In the order of the cue list, so that memory is read in sequence.
struct CueTexts {
    text: String,
    ends: Vec<usize>,
}

impl CueTexts {
    fn new(show: &Show, service: &Service) -> CueTexts {
        let cues = service.cues.as_slice();
        let mut texts = CueTexts { text: String::with_capacity(32 * cues.len()), ends: Vec::with_capacity(cues.len()) };
        for cue in cues {
            let start = texts.text.len();
            cue.label.push_to(&mut texts.text);
            texts.text.push(' ');
            match cue.text.trim() {
                "" => texts.text.push_str(&describe(show, cue)),
                own => texts.text.push_str(own),
            }
            if texts.text[start..].bytes().any(|b| !(0x20..0x7f).contains(&b)) {
                let plain = one_line(&texts.text[start..]);
                texts.text.truncate(start);
                texts.text.push_str(&plain);
            }
            texts.ends.push(texts.text.len());
        }
        texts
    }

    fn of(&self, cue: u32) -> &str {
        let at = cue as usize;
        let start = at.checked_sub(1).map_or(0, |before| self.ends[before]);
        &self.text[start..self.ends[at]]
    }
}

fn metres(schedule: &Schedule, placer: &Placer, origin: Tick, end: Tick) -> Vec<Mark> {
    let mut out = Vec::new();
    let mut last: Option<&Metre> = None;
    let changes: Vec<_> = schedule.grid.metre_changes().collect();
    for (at, &(_, tick, bar, metre)) in changes.iter().enumerate() {
        if tick > end {
            break;
        }
        if changes.get(at + 1).is_some_and(|(_, next, ..)| *next <= origin) {
            continue;
        }
        // The first metre applies to the count-in too.
        let tick = if at == 0 { origin } else { tick.max(origin) };
        let whole = bar.get() == metre.bar_ticks();
        // A cut bar is written as a metre of its own length, if a MIDI file can express it.
        let written = if whole { Some(metre.clone()) } else { cut_metre(bar.get()) };
        if let Some(written) = written.filter(|w| last != Some(w) || !whole) {
            out.push(Mark {
                tick: placed(placer, schedule, tick),
                kind: 0x58,
                data: time_signature(&written).to_vec(),
            });
        }
        last = whole.then_some(metre);
    }
    out
}

fn tempos(schedule: &Schedule, placer: &Placer, origin: Tick, end: Tick) -> Vec<Mark> {
    let mark = |tick, quarter: u32| Mark { tick, kind: 0x51, data: quarter.to_be_bytes()[1..].to_vec() };
    if !placer.millis {
        return placer.clock.events.iter().map(|e| mark(e.tick, e.quarter_micros)).collect();
    }
    // In a file that counts milliseconds the tempo has no effect and is only for people to read: one event for each segment.
    let grid = &schedule.grid;
    let segments = grid.segments().iter().filter(|s| s.tick <= end);
    segments
        .map(|segment| {
            let start = segment.tick.get() as f64;
            let tick_micros = grid.micros_at_fraction(start + 1.0) - grid.micros_at_fraction(start);
            let quarter = round::nearest(tick_micros * PPQ as f64).clamp(1, 0x00ff_ffff);
            mark(placed(placer, schedule, segment.tick.max(origin)), u32::try_from(quarter).unwrap_or(500_000))
        })
        .collect()
}

fn sections(service: &Service, schedule: &Schedule, placer: &Placer, origin: Tick) -> Vec<Mark> {
    let sections = service.song.sections.iter();
    sections
        .map(|section| (schedule.grid.bar_tick(section.bar), section))
        .filter(|(tick, _)| *tick >= origin)
        .map(|(tick, section)| Mark {
            tick: placed(placer, schedule, tick),
            kind: 0x06,
            data: one_line(&section.name).into_bytes(),
        })
        .collect()
}

/// Where the song may bend. The file follows the straight line, so that these are only said.
fn bends(service: &Service, schedule: &Schedule, placer: &Placer, origin: Tick) -> Vec<Mark> {
    let at = |mark: &BendMark| schedule.grid.bar_tick(mark.bar);
    let ahead = service.song.bends.iter().filter(|mark| at(mark) >= origin);
    ahead
        .map(|mark| {
            let words = if mark.words.trim().is_empty() { String::new() } else { format!(": {}", mark.words.trim()) };
            let data = one_line(&format!("{}{words}", mark.name())).into_bytes();
            // A cue point and no marker: readers take markers for sections.
            Mark { tick: placed(placer, schedule, at(mark)), kind: 0x07, data }
        })
        .collect()
}

fn placed(placer: &Placer, schedule: &Schedule, tick: Tick) -> u32 {
    if placer.millis {
        placer.at_time(schedule.grid.time_at(tick), &mut Cursor::default())
    } else {
        placer.at_tick(tick)
    }
}

/// The metre of a bar of odd length, if it can be expressed in 64ths or longer notes.
fn cut_metre(ticks: i64) -> Option<Metre> {
    [4u8, 8, 16, 32, 64].into_iter().find_map(|unit| {
        let unit_ticks = 4 * PPQ / i64::from(unit);
        let units = u8::try_from(ticks / unit_ticks).ok()?;
        (ticks % unit_ticks == 0).then(|| Metre::new(units, unit).ok()).flatten()
    })
}

/// FF 58: upper figure, power of two of the lower one, MIDI clocks in a counted beat, 32nds in a quarter.
fn time_signature(metre: &Metre) -> [u8; 4] {
    let power = u8::try_from(metre.unit().trailing_zeros()).unwrap_or(2);
    let clocks = round::div_nearest(i128::from(metre.beat_offset(2) * 24), i128::from(PPQ));
    [metre.units(), power, u8::try_from(clocks).unwrap_or(24).max(1), 8]
}
