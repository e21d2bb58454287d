//! What to make from a service, and making it.

use super::job::{ExportStep, Progress};
use super::watched::{Watched, is_stopped};
use crate::failure::Failure;
use crate::{disk, guides};
use letfall_core::prepared::Prepared;
#[cfg(feature = "paper")]
use letfall_core::show::Show;
use letfall_core::time::{FrameRate, SongTime, Timecode};
use letfall_export::audio::{self, AudioError, ClickOptions, TimecodeOptions};
use letfall_export::fingerprints;
use letfall_export::midi::{self, MidiOptions};
#[cfg(feature = "paper")]
use letfall_paper::PaperOptions;
use letfall_sound::Decoder;
use std::fs::File;
use std::io::BufWriter;
use std::path::{Path, PathBuf};
use std::sync::Arc;

/// What to make.
#[derive(Debug, Clone)]
pub enum Product {
    /// A Standard MIDI File.
    Midi(MidiOptions),
    /// Sheets as PDF. Fonts for the show's scripts are looked up on this machine unless some are given.
    #[cfg(feature = "paper")]
    Paper(Box<PaperOptions>),
    /// The cues as CSV.
    Table,
    /// A click, as a sound file.
    Click {
        /// Samples a second.
        sample_rate: u32,
        /// Two short pips before each section.
        section_pips: bool,
    },
    /// Linear timecode, as a sound file. The service must define the timecode at its song time 0.
    Timecode {
        /// Frame rate; `None` uses the service's own.
        rate: Option<FrameRate>,
        /// Samples a second; ignored with the guide, whose own rate is used.
        sample_rate: u32,
        /// The guide recording on the left channel, the timecode on the right.
        with_guide: bool,
    },
}

/// An export of one service to a file.
#[derive(Debug, Clone)]
pub struct Export {
    /// What to make.
    pub product: Product,
    /// The prepared service to make it from.
    pub plan: Arc<Prepared>,
    /// The folder that holds the show file: paths of guide recordings are relative to it.
    pub folder: Option<PathBuf>,
    /// The file to write.
    pub to: PathBuf,
}

/// What was written.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Exported {
    /// What the file contains, in words: "12 messages, its start is the song's".
    pub words: String,
    /// What the user should know, one sentence each.
    pub remarks: Vec<String>,
}

/// "1 cue", "2 cues".
fn count(n: usize, thing: &str) -> String {
    format!("{n} {thing}{}", if n == 1 { "" } else { "s" })
}

/// Where the file begins in the song, for whoever starts playback.
fn starts(at: SongTime) -> String {
    if at == SongTime::ZERO { "its start is the song's".to_owned() } else { format!("it starts at song time {at:.6}") }
}

/// The file beside a table that holds its fingerprint: "cues.csv" has "cues.csv.fingerprint.txt".
fn beside(table: &Path) -> PathBuf {
    let mut name = table.as_os_str().to_owned();
    name.push(".fingerprint.txt");
    PathBuf::from(name)
}

/// Fonts of this machine for the characters of a show that the house typeface lacks, and a sentence that names them.
#[cfg(feature = "paper")]
pub(super) fn fonts_for(show: &Show) -> (Vec<Arc<Vec<u8>>>, Option<String>) {
    let unusual = crate::fonts::lacking_in(show);
    let (fonts, _) = crate::fonts::from_system(&unusual);
    let names: Vec<&str> = fonts.iter().map(|f| f.family.as_str()).collect();
    let some: String = unusual.iter().take(20).collect();
    let remark = (!names.is_empty()).then(|| {
        format!(
            "characters that the house typeface lacks ({some}) are set in fonts of this machine: {}",
            names.join(", ")
        )
    });
    (fonts.into_iter().map(|f| f.data).collect(), remark)
}

impl Export {
    /// Makes the file. It is either complete or left as it was before.
    ///
    /// # Errors
    /// [`Failure`]: what this service cannot be made into, what cannot be written, or [`Failure::Stopped`].
    pub fn run(&self, progress: &mut dyn Progress) -> Result<Exported, Failure> {
        if !progress.go_on(ExportStep::Making) {
            return Err(Failure::Stopped);
        }
        match &self.product {
            Product::Midi(options) => self.midi(*options, progress),
            #[cfg(feature = "paper")]
            Product::Paper(options) => self.paper(options, progress),
            Product::Table => {
                self.write(&letfall_export::table::write(&self.plan), progress)?;
                // A table has no place for its fingerprint, so that stands in a small file beside it.
                let about = fingerprints::origin(&self.plan, fingerprints::of_table(&self.plan));
                disk::write(&beside(&self.to), format!("{about}\n").as_bytes())?;
                let words = count(self.plan.schedule().rows.len(), "cue");
                Ok(Exported { words, remarks: Vec::new() })
            }
            Product::Click { sample_rate, section_pips } => self.click(*sample_rate, *section_pips, progress),
            Product::Timecode { rate, sample_rate, with_guide } => {
                self.timecode(*rate, *sample_rate, *with_guide, progress)
            }
        }
    }

    /// Writes a whole file, unless the export was stopped first.
    fn write(&self, bytes: &[u8], progress: &mut dyn Progress) -> Result<(), Failure> {
        if !progress.go_on(ExportStep::Writing) {
            return Err(Failure::Stopped);
        }
        disk::write(&self.to, bytes)
    }

    fn midi(&self, options: MidiOptions, progress: &mut dyn Progress) -> Result<Exported, Failure> {
        let file = midi::write(&self.plan, options)?;
        self.write(&file.bytes, progress)?;
        let missing = self.plan.schedule().rows.iter().filter(|r| r.fault.is_some()).count();
        let mut remarks = Vec::new();
        if missing > 0 {
            remarks.push(format!("{} could not be made and left out; see letfall check", count(missing, "message")));
        }
        let left_out = match file.releases_left_out {
            0 => String::new(),
            n => format!("; {} left out (see --with-releases)", count(n, "release")),
        };
        let cues = self.plan.service().cues.as_slice();
        let rows = &self.plan.schedule().rows;
        let by_hand = rows.iter().filter(|r| !r.goes.by_machine() && !cues[r.cue as usize].resting).count();
        let by_hand = match by_hand {
            0 => String::new(),
            n => format!("; {} set off by hand and not in it", count(n, "cue")),
        };
        let words = format!("{}, {}{left_out}{by_hand}", count(file.messages, "message"), starts(file.starts_at));
        Ok(Exported { words, remarks })
    }

    #[cfg(feature = "paper")]
    fn paper(&self, options: &PaperOptions, progress: &mut dyn Progress) -> Result<Exported, Failure> {
        let mut remarks = Vec::new();
        let mut options = options.clone();
        if options.fonts.is_empty() {
            let (fonts, remark) = fonts_for(self.plan.show());
            options.fonts = fonts;
            remarks.extend(remark);
        }
        let paper = letfall_paper::print(&self.plan, &options)?;
        self.write(&paper.pdf, progress)?;
        remarks.extend(paper.warnings);
        Ok(Exported { words: count(paper.pages, "page"), remarks })
    }

    fn click(&self, sample_rate: u32, section_pips: bool, progress: &mut dyn Progress) -> Result<Exported, Failure> {
        let options = ClickOptions { sample_rate, section_pips };
        let written = self.stream(progress, |to| audio::click(&self.plan, options, to))?;
        Ok(sound("a click", written, Vec::new()))
    }

    fn timecode(
        &self,
        rate: Option<FrameRate>,
        sample_rate: u32,
        with_guide: bool,
        progress: &mut dyn Progress,
    ) -> Result<Exported, Failure> {
        let service = self.plan.service();
        let own = service.timecode.as_ref().ok_or_else(|| {
            Failure::Use(format!(
                "service \"{}\" has no timecode start: say what the timecode is at song time 0, on the Services screen \
                 or under \"timecode\" in the show file",
                service.name
            ))
        })?;
        let start = Timecode::parse(&own.at, rate.unwrap_or(own.rate)).map_err(|why| Failure::Use(why.to_string()))?;
        let options = TimecodeOptions { sample_rate, ..TimecodeOptions::new(start) };
        let what = format!("timecode, {start} at song time 0");
        if !with_guide {
            let written = self.stream(progress, |to| audio::timecode(&self.plan, options, to))?;
            return Ok(sound(&what, written, Vec::new()));
        }
        let mut guide = self.open_guide()?;
        let options = TimecodeOptions { sample_rate: guide.facts().sample_rate, ..options };
        let written =
            self.stream(progress, |to| audio::timecode_with_guide(&self.plan, options, to, &mut samples(&mut guide)))?;
        Ok(sound(&what, written, guide.notes().iter().map(|note| format!("the guide: {note}")).collect()))
    }

    /// Opens the guide of the service's song.
    fn open_guide(&self) -> Result<Decoder, Failure> {
        let service = self.plan.service();
        let none = || Failure::Use(format!("\"{}\" has no guide recording; choose one in the editor", service.name));
        let guide = service.song.guide.as_ref().ok_or_else(none)?;
        let path = guides::place(self.folder.as_deref(), guide);
        guides::open(&path).map_err(|why| Failure::Read { what: "the guide", why, path })
    }

    /// Writes a sound file while it is being made, so that memory use does not grow with its length.
    fn stream(
        &self,
        progress: &mut dyn Progress,
        make: impl FnOnce(&mut BufWriter<Watched<'_, &mut File>>) -> Result<audio::Written, AudioError>,
    ) -> Result<audio::Written, Failure> {
        let mut made = None;
        let done = disk::write_with(&self.to, |file| {
            let mut to = BufWriter::with_capacity(1 << 16, Watched::new(file, progress));
            match make(&mut to) {
                Ok(written) => {
                    made = Some(Ok(written));
                    Ok(())
                }
                Err(AudioError::Write(hound::Error::IoError(io))) => {
                    if is_stopped(&io) {
                        made = Some(Err(Failure::Stopped));
                    }
                    Err(io)
                }
                Err(other) => {
                    made = Some(Err(Failure::Use(other.to_string())));
                    Err(std::io::Error::other("not made"))
                }
            }
        });
        match (made, done) {
            (Some(Err(why)), _) | (_, Err(why)) => Err(why),
            (Some(Ok(written)), Ok(())) => Ok(written),
            (None, Ok(())) => Err(Failure::Use("nothing was written".to_owned())),
        }
    }
}

/// What a sound file contains, in words.
fn sound(what: &str, written: audio::Written, remarks: Vec<String>) -> Exported {
    let secs = written.samples as f64 / f64::from(written.sample_rate);
    Exported { words: format!("{what}, {secs:.1} s, {}", starts(written.starts_at)), remarks }
}

/// A recording's samples, one after another.
fn samples(decoder: &mut Decoder) -> impl Iterator<Item = f32> + '_ {
    let (mut block, mut at) = (Vec::new(), 0);
    std::iter::from_fn(move || {
        if at == block.len() {
            block.clear();
            block.extend_from_slice(decoder.next_block()?);
            at = 0;
        }
        at += 1;
        block.get(at - 1).copied()
    })
}

impl Product {
    /// The file extension for this product, without the dot.
    pub const fn ending(&self) -> &'static str {
        match self {
            Product::Midi(_) => "mid",
            #[cfg(feature = "paper")]
            Product::Paper(_) => "pdf",
            Product::Table => "csv",
            Product::Click { .. } | Product::Timecode { .. } => "wav",
        }
    }
}

/// The folder of a show file, where its guides are looked up. For a bare file name, this is the current folder.
pub fn folder_of(show: &Path) -> Option<PathBuf> {
    let folder = show.parent()?;
    Some(if folder.as_os_str().is_empty() { PathBuf::from(".") } else { folder.to_owned() })
}
