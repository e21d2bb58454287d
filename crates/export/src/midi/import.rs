//! Reads the tempo map of any Standard MIDI File as a grid plan.
//!
//! Reading is lenient, as the standard asks ("expect alien chunks and treat them as if they weren't there"), and streamed, so
//! that a hostile file cannot fill memory. Defaults if a file says nothing: 4/4 and 120 (SMF 1.1, 2.2).

use letfall_core::show::Section;
use letfall_core::time::{
    BarBeat, Grid, GridPlan, Metre, MetreMark, PPQ, SongTime, Tempo, TempoMark, Tick, TickSpan, TimeError, round,
};
use midly::{Format, MetaMessage, Timing, TrackEventKind};

/// What a MIDI file says about time.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Imported {
    /// Metre and tempo.
    pub plan: GridPlan,
    /// Bars until the last event of any track.
    pub bars: u32,
    /// Markers as sections; each lasts until the next.
    pub sections: Vec<Section>,
    /// Ticks a quarter in the file.
    pub division: u16,
    /// What could not be imported as it is, in words.
    pub notes: Vec<String>,
}

impl Imported {
    /// The grid of the file.
    ///
    /// # Errors
    /// [`ImportError::Grid`] if its marks make no valid grid.
    pub fn grid(&self) -> Result<Grid, ImportError> {
        Ok(self.plan.build()?)
    }
}

/// Why a file gives no grid.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum ImportError {
    /// Not a MIDI file, or broken beyond its header.
    #[error("it cannot be read as a Standard MIDI File: {0}; choose another file")]
    Broken(String),
    /// The division is in frames, so there are no bars.
    #[error("it counts in timecode frames, so it has no bars or tempo; choose a file that counts in ticks a quarter")]
    Frames,
    /// Division 0.
    #[error("its header says 0 ticks a quarter, which no file can; choose another file")]
    NoDivision,
    /// Format 2.
    #[error("it is of format 2 (independent patterns), which has no one tempo map; choose a format 0 or 1 file")]
    Patterns,
    /// Longer than 24 hours.
    #[error("it is over 24 hours long; choose a shorter file")]
    TooLong,
    /// A tempo or metre we cannot use.
    #[error("at tick {tick}: {why}")]
    Mark {
        /// Where in the file.
        tick: u64,
        /// Why.
        why: TimeError,
    },
    /// The whole map cannot be used.
    #[error(transparent)]
    Grid(#[from] TimeError),
}

/// Marks as they are in the file, by absolute tick.
#[derive(Default)]
struct Marks {
    tempos: Vec<(u64, u32)>,
    metres: Vec<(u64, u8, u8, u8)>,
    markers: Vec<(u64, String)>,
    end: u64,
    notes: Vec<String>,
}

/// The most marks of one kind that are read: far more than any real file has, far fewer than fill memory.
const MOST_MARKS: usize = 2_000_000;

/// Reads a MIDI file's tempo map.
///
/// # Errors
/// [`ImportError`].
pub fn import(bytes: &[u8]) -> Result<Imported, ImportError> {
    if has_impossible_rate(bytes) {
        return Err(ImportError::Frames);
    }
    let (header, tracks) = midly::parse(bytes).map_err(|e| ImportError::Broken(e.to_string()))?;
    let division = match header.timing {
        Timing::Timecode(..) => return Err(ImportError::Frames),
        Timing::Metrical(ticks) => ticks.as_int(),
    };
    if division == 0 {
        return Err(ImportError::NoDivision);
    }
    if header.format == Format::Sequential {
        return Err(ImportError::Patterns);
    }
    let mut marks = Marks::default();
    let mut count = 0usize;
    for (number, track) in tracks.enumerate() {
        count += 1;
        match track {
            Ok(events) => marks.track(number, events),
            Err(why) => {
                marks.notes.push(format!("track {} cannot be read ({why}); it was passed over", number + 1));
            }
        }
    }
    if count == 0 {
        return Err(ImportError::Broken("it has no track".to_owned()));
    }
    marks.tempos.sort_by_key(|m| m.0); // stable: at one tick the later event wins
    marks.metres.sort_by_key(|m| m.0);
    marks.markers.sort_by_key(|m| m.0);
    marks.into_imported(division)
}

/// Whether a header gives −128 frames a second. No such rate exists, and midly 0.5.3 cannot negate it (found by fuzzing).
fn has_impossible_rate(bytes: &[u8]) -> bool {
    // The header need not come first: files may be wrapped in another container.
    bytes.windows(13).any(|w| w.starts_with(b"MThd") && w[12] == 0x80)
}

impl Marks {
    fn track(&mut self, number: usize, events: midly::EventIter<'_>) {
        let mut tick = 0u64;
        for event in events {
            let event = match event {
                Ok(event) => event,
                Err(why) => {
                    self.notes.push(format!(
                        "track {} is broken after tick {tick} ({why}); the rest was passed over",
                        number + 1
                    ));
                    return;
                }
            };
            tick += u64::from(event.delta.as_int());
            self.end = self.end.max(tick);
            let TrackEventKind::Meta(meta) = event.kind else { continue };
            match meta {
                MetaMessage::Tempo(us) if self.tempos.len() < MOST_MARKS => self.tempos.push((tick, us.as_int())),
                MetaMessage::TimeSignature(units, power, clocks, _) if self.metres.len() < MOST_MARKS => {
                    self.metres.push((tick, units, power, clocks));
                }
                MetaMessage::Marker(text) if self.markers.len() < 10_000 => {
                    let name = self.marker_name(text, tick);
                    self.markers.push((tick, name));
                }
                _ => {}
            }
        }
    }

    /// The name of a marker. Files do not say how their texts are encoded: UTF-8 and UTF-16 are recognized, anything else is read as Windows
    /// code page 1252, which Western programs write, and told. Line ends, zeros and spaces round it are no part of it.
    fn marker_name(&mut self, bytes: &[u8], tick: u64) -> String {
        let (text, told, broken) = if let Some((encoding, mark)) = encoding_rs::Encoding::for_bom(bytes) {
            let (text, broken) = encoding.decode_without_bom_handling(&bytes[mark..]);
            (text, true, broken)
        } else if let Ok(text) = std::str::from_utf8(bytes) {
            (text.into(), true, false)
        } else {
            let (text, broken) = encoding_rs::WINDOWS_1252.decode_without_bom_handling(bytes);
            (text, false, broken)
        };
        let is_edge = |c: char| c.is_whitespace() || c.is_control() || c == '\u{feff}';
        let plain: String =
            text.trim_matches(is_edge).chars().map(|c| if is_edge(c) { ' ' } else { c }).take(200).collect();
        if (broken || !told) && self.notes.len() < 100 {
            let how = if broken { "cannot be read in full" } else { "is not UTF-8; it was read as Windows-1252" };
            self.notes.push(format!("the name of the marker at tick {tick} {how}: \"{plain}\""));
        }
        if plain.is_empty() { format!("Marker {}", self.markers.len() + 1) } else { plain }
    }

    fn into_imported(mut self, division: u16) -> Result<Imported, ImportError> {
        if u128::from(self.end) * u128::from(PPQ.unsigned_abs()) / u128::from(division) > 1 << 36 {
            return Err(ImportError::TooLong);
        }
        let (metres, bars_grid) = self.metre_marks(division)?;
        let tempos = self.tempo_marks(division, &bars_grid)?;
        drop(bars_grid);
        let plan = GridPlan { origin: SongTime::ZERO, metres, tempos, pins: Vec::new() };
        let grid = plan.build()?;
        let end = grid_tick(self.end, division);
        if grid.micros_at(end) > SongTime::MAX.micros() as f64 {
            return Err(ImportError::TooLong);
        }
        let last = grid.place_of(end);
        let on_line = grid.bar_tick(last.bar) == end;
        let bars = if on_line && last.bar > 1 { last.bar - 1 } else { last.bar };
        let bars = u32::try_from(bars).unwrap_or(1).clamp(1, 1_000_000);
        let sections = self.sections(&grid, division, bars);
        Ok(Imported { plan, bars, sections, division, notes: self.notes })
    }

    /// Metre marks at bar lines. A time signature always starts a bar; if it comes in mid-bar, that bar is cut.
    fn metre_marks(&mut self, division: u16) -> Result<(Vec<MetreMark>, Grid), ImportError> {
        let mut marks = vec![MetreMark { bar: 1, metre: Metre::common(), cut: None }];
        // The bar line that the current metre started on.
        let mut start = (1i32, Tick::ZERO);
        for at in 0..self.metres.len() {
            let (file_tick, units, power, clocks) = self.metres[at];
            if self.metres.get(at + 1).is_some_and(|next| next.0 == file_tick) {
                continue; // a later one at this tick wins
            }
            let Some(metre) = read_metre(units, power, clocks) else {
                if self.notes.len() < 100 {
                    self.notes.push(format!(
                        "the time signature {units}/2^{power} at tick {file_tick} cannot be counted; it was passed over"
                    ));
                }
                continue;
            };
            let tick = grid_tick(file_tick, division);
            let current = marks.last().map_or_else(Metre::common, |m| m.metre.clone());
            let into = (tick - start.1).get();
            let whole_bars = into / current.bar_ticks();
            let rest = into % current.bar_ticks();
            let bar = i32::try_from(i64::from(start.0) + whole_bars).ok().filter(|b| *b < BarBeat::MAX_BAR);
            let bar = bar.ok_or(ImportError::TooLong)?;
            if into == 0 {
                // At the start, or twice on one bar line after rounding.
                if let Some(last) = marks.last_mut() {
                    last.metre = metre;
                }
                continue;
            }
            if rest == 0 {
                if metre != current {
                    marks.push(MetreMark { bar, metre, cut: None });
                    start = (bar, tick);
                }
                continue;
            }
            let cut = MetreMark { bar, metre: current, cut: Some(TickSpan::new(rest)) };
            match marks.last_mut() {
                Some(last) if last.bar == bar => *last = cut,
                _ => marks.push(cut),
            }
            marks.push(MetreMark { bar: bar + 1, metre, cut: None });
            start = (bar + 1, tick);
        }
        let plan = GridPlan {
            origin: SongTime::ZERO,
            metres: marks,
            tempos: vec![TempoMark { at: BarBeat::downbeat(1), tempo: usual_tempo()?, ramp: None }],
            pins: Vec::new(),
        };
        let grid = plan.build()?;
        // A file may hold very many, so they are kept once.
        Ok((plan.metres, grid))
    }

    /// Tempo marks on our ticks. If the file's ticks do not fall on ours, each mark's tempo is the mean that makes the next
    /// mark's time exact, so errors do not accumulate.
    fn tempo_marks(&self, division: u16, bars: &Grid) -> Result<Vec<TempoMark>, ImportError> {
        let mut events: Vec<(u64, u32)> = vec![(0, 500_000)];
        for &(tick, us) in &self.tempos {
            match events.last_mut() {
                Some(last) if last.0 == tick => last.1 = us,
                Some(last) if last.1 == us => {}
                _ => events.push((tick, us)),
            }
        }
        let ratio = f64::from(division) / PPQ as f64;
        // Exact file time at each event, in microseconds times division.
        let mut starts = Vec::with_capacity(events.len());
        let mut now = 0i128;
        for (at, event) in events.iter().enumerate() {
            if at > 0 {
                let before = events[at - 1];
                now += i128::from(event.0 - before.0) * i128::from(before.1);
            }
            starts.push(now);
        }
        let micros_at = |grid_tick: Tick| {
            let file = grid_tick.get() as f64 * ratio;
            let at = events.partition_point(|e| e.0 as f64 <= file + 1e-9).saturating_sub(1);
            (starts[at] as f64 + (file - events[at].0 as f64) * f64::from(events[at].1)) / f64::from(division)
        };
        let mut marks: Vec<(Tick, u64, u32)> = Vec::with_capacity(events.len());
        for &(tick, us) in &events {
            let ours = grid_tick(tick, division);
            match marks.last_mut() {
                Some(last) if last.0 == ours => *last = (ours, tick, us),
                _ => marks.push((ours, tick, us)),
            }
        }
        let mut out = Vec::with_capacity(marks.len());
        for (at, &(tick, file_tick, us)) in marks.iter().enumerate() {
            let on_tick = |tick: Tick, file: u64| tick.get() as f64 * ratio == file as f64;
            let quarter = match marks.get(at + 1) {
                Some(&(next, next_file, _)) if !(on_tick(tick, file_tick) && on_tick(next, next_file)) => {
                    (micros_at(next) - micros_at(tick)) * PPQ as f64 / (next - tick).get() as f64
                }
                _ => f64::from(us),
            };
            let tempo = Tempo::quarter_lasts(quarter).map_err(|why| ImportError::Mark { tick: file_tick, why })?;
            out.push(TempoMark { at: bars.place_of(tick), tempo, ramp: None });
        }
        Ok(out)
    }

    fn sections(&self, grid: &Grid, division: u16, bars: u32) -> Vec<Section> {
        let mut starts: Vec<(i32, String)> = Vec::new();
        for (tick, name) in &self.markers {
            let place = grid.place_of(grid_tick(*tick, division));
            let late = place.beat > 1 && u32::from(place.beat) * 2 > u32::from(grid.beats_in(place.bar)) + 1;
            let bar = place.bar + i32::from(late);
            match starts.last_mut() {
                Some(last) if last.0 == bar => last.1.clone_from(name),
                _ => starts.push((bar, name.clone())),
            }
        }
        let end = i32::try_from(bars).unwrap_or(i32::MAX - 1) + 1;
        let ends: Vec<i32> = starts.iter().skip(1).map(|s| s.0).chain([end]).collect();
        starts
            .into_iter()
            .zip(ends)
            .filter_map(|((bar, name), next)| {
                let bars = u32::try_from(next - bar).ok().filter(|n| *n > 0)?;
                Some(Section { name, bar, bars, heard: String::new() })
            })
            .collect()
    }
}

fn usual_tempo() -> Result<Tempo, TimeError> {
    Tempo::quarter_lasts(500_000.0)
}

/// The grid tick nearest a file tick.
fn grid_tick(file_tick: u64, division: u16) -> Tick {
    let ticks = round::div_nearest(i128::from(file_tick) * i128::from(PPQ), i128::from(division));
    Tick::new(i64::try_from(ticks).unwrap_or(i64::MAX))
}

/// A time signature, counted as its clocks say if they divide the bar sensibly, otherwise the usual way.
fn read_metre(units: u8, power: u8, clocks: u8) -> Option<Metre> {
    let unit = 1u8.checked_shl(u32::from(power)).filter(|_| power <= 6)?;
    let usual = Metre::new(units, unit).ok()?;
    let unit_clocks = 96 / u32::from(unit);
    if unit_clocks == 0 || !u32::from(clocks).is_multiple_of(unit_clocks) {
        return Some(usual);
    }
    let group = u8::try_from(u32::from(clocks) / unit_clocks).ok()?;
    // 6/8 with 12 clocks counts six; 6/8 with 36 counts two. Anything else is some program's habit, so count the usual way.
    let fits = group == 1 || (group == 3 && usual.groups().first() == Some(&3));
    if fits && units.is_multiple_of(group.max(1)) && group > 0 {
        return Metre::counted(units, unit, vec![group; usize::from(units / group)]).ok();
    }
    Some(usual)
}
