//! A service as a format 1 Standard MIDI File.
//!
//! Track 1 is the conductor: name, SMPTE offset, metre, tempo, sections as markers (FF 06), cues as cue points (FF 07) at
//! their land. Then one track a receiver with the messages at their send, and last, if asked for, one with the releases.
//!
//! Text is UTF-8. SMF 1.1 asks for printable ASCII "for maximum interchange" and names no encoding beyond it; RP-026's
//! tags are for lyrics only. UTF-8 leaves ASCII as it is and loses no name.

use super::clock::FileClock;
use letfall_core::schedule::{Row, Schedule, describe};
use letfall_core::show::{Kind, Service, Show};
use letfall_core::time::{FrameRate, Metre, PPQ, SongSpan, SongTime, Tick, round};
use midly::num::{u4, u7, u15, u24, u28};
use midly::{Format, Fps, Header, MetaMessage, MidiMessage, Smf, SmpteTime, Timing, TrackEvent, TrackEventKind};
use std::collections::BTreeMap;

/// How finely the file counts.
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
    /// How finely it counts.
    pub resolution: Resolution,
    /// Whether release messages are in it, on a track of their own. Needs a complete safety sheet.
    pub with_releases: bool,
}

/// A written file.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct MidiFile {
    /// Its bytes.
    pub bytes: Vec<u8>,
    /// Song time of its first tick: start playing it so much before (or, if positive, after) song time 0.
    pub starts_at: SongTime,
    /// Messages in it, note offs apart.
    pub messages: usize,
    /// Release cues that were left out because they were not asked for.
    pub releases_left_out: usize,
}

/// Why a service cannot be written.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum MidiError {
    /// Releases were asked for and the safety sheet is not filled in.
    #[error(
        "release messages need a complete safety sheet, and it does not say {0}; fill it in, or leave --with-releases out"
    )]
    SafetySheet(String),
    /// A release whose kind nobody has said.
    #[error("release {0} does not say whether power opens or holds it; record its kind, or leave --with-releases out")]
    ReleaseKind(String),
    /// Longer than a file can count.
    #[error(
        "the song is too long for a MIDI file at this resolution (at most 2^28 ticks between events); choose a coarser one"
    )]
    TooLong,
    /// More tracks than a header can count.
    #[error("a MIDI file can have 65535 tracks at most and this show has more receivers; split the show")]
    TooManyTracks,
}

/// An event with its place; sorted by tick, then rank, then order of schedule.
struct Placed<'a> {
    tick: u32,
    rank: u8,
    kind: TrackEventKind<'a>,
}

/// Ranks at one tick: what ends leaves before what begins.
const OFF: u8 = 0;
const ON: u8 = 1;

/// Writes a service.
///
/// # Errors
/// [`MidiError`].
pub fn write(show: &Show, service: &Service, schedule: &Schedule, options: MidiOptions) -> Result<MidiFile, MidiError> {
    if options.with_releases {
        may_hold_releases(show, service)?;
    }
    let grid = &schedule.grid;
    let first = schedule.rows.first().map_or(SongTime::ZERO, |row| row.send).min(SongTime::ZERO);
    let origin = bar_line_before(schedule, first.min(grid.bar_time(1)));
    let end = grid.bar_tick(service.song.end_bar());
    let division = if options.resolution == Resolution::Quarter4800 { 4800 } else { 960 };
    let placer = Placer {
        clock: FileClock::new(grid, origin, end, division),
        millis: options.resolution == Resolution::Millis,
        origin: grid.time_at(origin),
    };
    let texts = Texts::new(show, service, schedule);
    let mut tracks = vec![conductor(service, schedule, &placer, &texts, origin, end)];
    let mut by_track: BTreeMap<u32, Vec<Placed<'_>>> = BTreeMap::new();
    let (mut messages, mut left_out) = (0, 0);
    for row in &schedule.rows {
        let (Some(receiver), Some(_)) = (row.receiver, &row.wire) else { continue };
        let release = row.label.kind == Kind::Release;
        if release && !options.with_releases {
            left_out += 1;
            continue;
        }
        messages += 1;
        place_row(row, &placer, by_track.entry(if release { u32::MAX } else { receiver }).or_default());
    }
    for (key, mut events) in by_track {
        let name = if key == u32::MAX { &texts.releases } else { &texts.receivers[key as usize] };
        end_before_restart(&mut events);
        events.insert(0, Placed { tick: 0, rank: OFF, kind: meta(MetaMessage::TrackName(name.as_bytes())) });
        tracks.push(events);
    }
    if tracks.len() > usize::from(u16::MAX) {
        return Err(MidiError::TooManyTracks);
    }
    let last = tracks.iter().flatten().map(|e| e.tick).max().unwrap_or(0);
    let timing = if placer.millis { Timing::Timecode(Fps::Fps25, 40) } else { Timing::Metrical(u15::new(division)) };
    let mut smf = Smf::new(Header::new(Format::Parallel, timing));
    for (at, events) in tracks.into_iter().enumerate() {
        // The conductor lasts as long as the longest track, so that the file ends where the plan does.
        smf.tracks.push(finish(events, if at == 0 { last.max(placer.at_tick(end)) } else { 0 })?);
    }
    let mut bytes = Vec::with_capacity(64 + 8 * schedule.rows.len());
    match smf.write_std(&mut bytes) {
        Ok(()) => {}
        Err(why) => unreachable!("writing to memory cannot fail, and every length was checked: {why}"),
    }
    Ok(MidiFile { bytes, starts_at: placer.origin, messages, releases_left_out: left_out })
}

/// Release messages leave the program only when people have said who is competent, clear and holding the arm.
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

/// The last bar line at or before a time.
fn bar_line_before(schedule: &Schedule, time: SongTime) -> Tick {
    let grid = &schedule.grid;
    let mut bar = grid.place_of(grid.tick_at(time)).bar;
    while grid.bar_time(bar) > time {
        bar -= 1;
    }
    grid.bar_tick(bar)
}

/// Puts song times and grid ticks into the file.
struct Placer {
    clock: FileClock,
    millis: bool,
    origin: SongTime,
}

impl Placer {
    fn at_time(&self, time: SongTime) -> u32 {
        if self.millis {
            let millis = round::div_nearest(i128::from((time - self.origin).micros()), 1000);
            return u32::try_from(millis).unwrap_or(0);
        }
        self.clock.tick_at(time.micros())
    }

    /// A bar line or mark: exactly on its tick where the file counts in ticks.
    fn at_tick(&self, tick: Tick) -> u32 {
        self.clock.file_tick(tick)
    }
}

/// Text that events borrow.
struct Texts {
    title: String,
    receivers: Vec<String>,
    releases: String,
    sections: Vec<String>,
    cues: Vec<String>,
}

impl Texts {
    fn new(show: &Show, service: &Service, schedule: &Schedule) -> Texts {
        let cue_text = |row: &Row| {
            let cue = &service.cues.as_slice()[row.cue as usize];
            one_line(&format!("{} {}", row.label, describe(show, cue)))
        };
        Texts {
            title: one_line(&format!("{} – {} – {}", show.title, service.name, service.song.title)),
            receivers: show.receivers.iter().map(|r| one_line(&r.name)).collect(),
            releases: "Releases".to_owned(),
            sections: service.song.sections.iter().map(|s| one_line(&s.name)).collect(),
            cues: schedule.rows.iter().map(cue_text).collect(),
        }
    }
}

/// Control characters have no place in a text event.
fn one_line(text: &str) -> String {
    if text.contains(char::is_control) { text.replace(char::is_control, " ") } else { text.to_owned() }
}

const fn meta(message: MetaMessage<'_>) -> TrackEventKind<'_> {
    TrackEventKind::Meta(message)
}

/// The conductor track.
fn conductor<'a>(
    service: &Service,
    schedule: &Schedule,
    placer: &Placer,
    texts: &'a Texts,
    origin: Tick,
    end: Tick,
) -> Vec<Placed<'a>> {
    let grid = &schedule.grid;
    let mut events = vec![Placed { tick: 0, rank: 0, kind: meta(MetaMessage::TrackName(texts.title.as_bytes())) }];
    if let Some(offset) = service.timecode.as_ref().and_then(|t| t.parse().ok()).and_then(|start| {
        let (code, hundredths) = start.plus(placer.origin - SongTime::ZERO);
        let [h, m, s, f] = code.fields();
        SmpteTime::new(h, m, s, f, hundredths, fps(code.rate()))
    }) {
        events.push(Placed { tick: 0, rank: 0, kind: meta(MetaMessage::SmpteOffset(offset)) });
    }
    let in_file = |tick: Tick| if placer.millis { placer.at_time(grid.time_at(tick)) } else { placer.at_tick(tick) };
    let mut last_metre: Option<&Metre> = None;
    let mut metres: Vec<_> = grid.metre_changes().collect();
    if let Some(first) = metres.first_mut() {
        first.1 = origin.min(first.1); // the first metre rules the count-in too
    }
    for (_, tick, bar, metre) in metres {
        if tick > end {
            break;
        }
        let whole = bar.get() == metre.bar_ticks();
        // A cut bar is written as a metre of its own length where a MIDI file can say it.
        let written = if whole { Some(metre.clone()) } else { cut_metre(bar.get()) };
        if let Some(written) = written.filter(|w| last_metre != Some(w) || !whole) {
            events.push(Placed { tick: in_file(tick), rank: 1, kind: time_signature(&written) });
        }
        last_metre = whole.then_some(metre);
    }
    if placer.millis {
        for segment in grid.segments().iter().filter(|s| s.tick <= end) {
            let quarter = SongSpan::from_micros(round::nearest(
                grid.micros_at_fraction(segment.tick.get() as f64 + 1.0) * PPQ as f64
                    - grid.micros_at(segment.tick) * PPQ as f64,
            ));
            let quarter = u32::try_from(quarter.micros()).unwrap_or(500_000).min(0x00ff_ffff);
            let tick = in_file(segment.tick.max(origin));
            events.push(Placed { tick, rank: 2, kind: meta(MetaMessage::Tempo(u24::new(quarter))) });
        }
    } else {
        for event in &placer.clock.events {
            let kind = meta(MetaMessage::Tempo(u24::new(event.quarter_micros)));
            events.push(Placed { tick: event.tick, rank: 2, kind });
        }
    }
    for (section, text) in service.song.sections.iter().zip(&texts.sections) {
        let tick = grid.bar_tick(section.bar);
        if tick >= origin {
            events.push(Placed { tick: in_file(tick), rank: 3, kind: meta(MetaMessage::Marker(text.as_bytes())) });
        }
    }
    for (row, text) in schedule.rows.iter().zip(&texts.cues) {
        let at = row.land.max(placer.origin);
        events.push(Placed { tick: placer.at_time(at), rank: 4, kind: meta(MetaMessage::CuePoint(text.as_bytes())) });
    }
    events
}

/// The metre of a bar of odd length, if 64ths can say it.
fn cut_metre(ticks: i64) -> Option<Metre> {
    [4u8, 8, 16, 32, 64].into_iter().find_map(|unit| {
        let unit_ticks = 4 * PPQ / i64::from(unit);
        let units = u8::try_from(ticks / unit_ticks).ok()?;
        (ticks % unit_ticks == 0).then(|| Metre::new(units, unit).ok()).flatten()
    })
}

/// FF 58: figures, MIDI clocks for a counted beat, 32nds a quarter.
fn time_signature(metre: &Metre) -> TrackEventKind<'static> {
    let power = u8::try_from(metre.unit().trailing_zeros()).unwrap_or(2);
    let first_beat = metre.beat_offset(2);
    let clocks = u8::try_from(round::div_nearest(i128::from(first_beat * 24), i128::from(PPQ))).unwrap_or(24).max(1);
    meta(MetaMessage::TimeSignature(metre.units(), power, clocks, 8))
}

const fn fps(rate: FrameRate) -> Fps {
    match rate {
        FrameRate::F24 => Fps::Fps24,
        FrameRate::F25 => Fps::Fps25,
        FrameRate::F2997Drop => Fps::Fps29,
        FrameRate::F30 => Fps::Fps30,
    }
}

/// A row's messages, on and off.
fn place_row<'a>(row: &'a Row, placer: &Placer, to: &mut Vec<Placed<'a>>) {
    let Some(wire) = &row.wire else { return };
    let tick = placer.at_time(row.send);
    for kind in messages(&wire.on) {
        to.push(Placed { tick, rank: ON, kind });
    }
    if let Some((off, after)) = &wire.off {
        // A note is at least a tick long.
        let tick = placer.at_time(row.send + *after).max(tick.saturating_add(1));
        to.extend(messages(off).map(|kind| Placed { tick, rank: OFF, kind }));
    }
}

/// The messages in a row of bytes made by `core::schedule::wire`: channel messages with status, or one sysex.
fn messages(bytes: &[u8]) -> impl Iterator<Item = TrackEventKind<'_>> {
    let mut rest = bytes;
    std::iter::from_fn(move || {
        let (&status, data) = rest.split_first()?;
        let at = |i: usize| u7::from_int_lossy(data.get(i).copied().unwrap_or(0));
        let channel = u4::from_int_lossy(status & 0x0f);
        let (length, message) = match status & 0xf0 {
            0x80 => (2, MidiMessage::NoteOff { key: at(0), vel: at(1) }),
            0x90 => (2, MidiMessage::NoteOn { key: at(0), vel: at(1) }),
            0xb0 => (2, MidiMessage::Controller { controller: at(0), value: at(1) }),
            0xc0 => (1, MidiMessage::ProgramChange { program: at(0) }),
            _ => {
                rest = &[];
                // F0 stands in the event's own kind; F7 is part of its data (SMF 1.1, 2.3).
                return Some(TrackEventKind::SysEx(data));
            }
        };
        rest = data.get(length..).unwrap_or(&[]);
        Some(TrackEventKind::Midi { channel, message })
    })
}

/// A note that starts again before it has ended ends where it starts again: one off for each on, in order.
fn end_before_restart(events: &mut [Placed<'_>]) {
    sort(events);
    // Walking back: the last off after an on is its own, and it waits for no later on of the same key.
    let mut next: BTreeMap<(u8, u8), u32> = BTreeMap::new();
    let mut ends: BTreeMap<(u8, u8), Vec<usize>> = BTreeMap::new();
    for at in (0..events.len()).rev() {
        let TrackEventKind::Midi { channel, message } = events[at].kind else { continue };
        match message {
            MidiMessage::NoteOff { key, .. } => ends.entry((channel.as_int(), key.as_int())).or_default().push(at),
            MidiMessage::NoteOn { key, .. } => {
                let note = (channel.as_int(), key.as_int());
                let off = ends.get_mut(&note).filter(|offs| !offs.is_empty()).map(|offs| offs.remove(0));
                if let (Some(off), Some(&restart)) = (off, next.get(&note)) {
                    events[off].tick = events[off].tick.min(restart);
                }
                next.insert(note, events[at].tick);
            }
            _ => {}
        }
    }
    sort(events);
}

fn sort(events: &mut [Placed<'_>]) {
    events.sort_by_key(|e| (e.tick, e.rank)); // stable: the schedule's order stays within a tick
}

/// Ticks to deltas, from absolute places, and the end of the track.
fn finish(mut events: Vec<Placed<'_>>, at_least: u32) -> Result<Vec<TrackEvent<'_>>, MidiError> {
    sort(&mut events);
    let end = events.last().map_or(0, |e| e.tick).max(at_least);
    events.push(Placed { tick: end, rank: u8::MAX, kind: meta(MetaMessage::EndOfTrack) });
    let mut last = 0;
    events
        .into_iter()
        .map(|event| {
            let delta = u28::try_from(event.tick - last).ok_or(MidiError::TooLong)?;
            last = event.tick;
            Ok(TrackEvent { delta, kind: event.kind })
        })
        .collect()
}
