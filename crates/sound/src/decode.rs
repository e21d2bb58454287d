//! Decodes WAV, FLAC, MP3, Ogg Vorbis and AAC in M4A block by block, mixed to one channel. A recording of hours needs no more
//! memory than one of seconds.

use crate::edit_list;
use std::panic::{AssertUnwindSafe, catch_unwind};
use symphonia::core::audio::SampleBuffer;
use symphonia::core::codecs::{CODEC_TYPE_NULL, DecoderOptions};
use symphonia::core::errors::Error;
use symphonia::core::formats::{FormatOptions, FormatReader};
use symphonia::core::io::{MediaSource, MediaSourceStream};
use symphonia::core::meta::{Limit, MetadataOptions};
use symphonia::core::probe::{Hint, Probe};

/// Why a recording cannot be opened.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum SoundError {
    /// The file is in none of the formats we read.
    #[error("it is no sound file that can be read here ({0}); use WAV, FLAC, MP3, Ogg Vorbis or AAC in M4A")]
    Format(String),
    /// A sound file without sound, a sample rate or channels.
    #[error("{0}; export the recording again")]
    Empty(&'static str),
}

/// What a recording's file says about it.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Facts {
    /// Samples a second in each channel.
    pub sample_rate: u32,
    /// How many channels; they are mixed to one.
    pub channels: u16,
    /// Number of samples in each channel, without encoder padding; `None` if the file does not say.
    pub frames: Option<u64>,
}

/// A recording being decoded.
pub struct Decoder {
    format: Box<dyn FormatReader>,
    codec: Box<dyn symphonia::core::codecs::Decoder>,
    track: u32,
    facts: Facts,
    buffer: Option<SampleBuffer<f32>>,
    mono: Vec<f32>,
    /// The block that was returned last.
    lent: Vec<f32>,
    /// Sound after the stated end that may be padding.
    held: Vec<f32>,
    decoded: u64,
    /// Samples still to skip at the beginning.
    skip: u64,
    broken: u32,
    ended: bool,
    notes: Vec<String>,
}

/// Runs the decoding library, which panics on some damaged files (found by fuzzing: arithmetic overflow). In that case it
/// returns `None`: what was read so far is kept, and the file is reported as damaged.
fn guarded<T>(work: impl FnOnce() -> T) -> Option<T> {
    catch_unwind(AssertUnwindSafe(work)).ok()
}

/// A probe for the formats we read, and no others.
fn probe() -> Probe {
    let mut probe = Probe::default();
    probe.register_all::<symphonia::default::formats::WavReader>();
    probe.register_all::<symphonia::default::formats::FlacReader>();
    probe.register_all::<symphonia::default::formats::MpaReader>();
    probe.register_all::<symphonia::default::formats::OggReader>();
    probe.register_all::<symphonia::default::formats::IsoMp4Reader>();
    // Tags before the sound in an MP3 file.
    probe.register_all::<symphonia_metadata::id3v2::Id3v2Reader>();
    probe
}

/// The largest text or picture that a file may carry before its sound, in bytes.
const MOST_METADATA: usize = 16 * 1024 * 1024;

impl Decoder {
    /// Opens a recording. `ending` is the file extension, such as "mp3"; it is only a hint.
    ///
    /// # Errors
    /// [`SoundError`].
    pub fn open(mut source: Box<dyn MediaSource>, ending: Option<&str>) -> Result<Decoder, SoundError> {
        let edits = if source.is_seekable() { edit_list::read(&mut *source) } else { None };
        if source.is_seekable() {
            source.rewind().map_err(|why| SoundError::Format(why.to_string()))?;
        }
        let mut hint = Hint::new();
        if let Some(ending) = ending {
            hint.with_extension(ending);
        }
        let stream = MediaSourceStream::new(source, symphonia::core::io::MediaSourceStreamOptions::default());
        let metadata = MetadataOptions {
            limit_metadata_bytes: Limit::Maximum(MOST_METADATA),
            limit_visual_bytes: Limit::Maximum(MOST_METADATA),
        };
        let options = FormatOptions { enable_gapless: true, ..FormatOptions::default() };
        let hostile = || SoundError::Format("its head is damaged".to_owned());
        let found = guarded(|| probe().format(&hint, stream, &options, &metadata))
            .ok_or_else(hostile)?
            .map_err(|why| SoundError::Format(why.to_string()))?;
        let format = found.format;
        let playable = |t: &&symphonia::core::formats::Track| t.codec_params.codec != CODEC_TYPE_NULL;
        let track = format.default_track().filter(playable).or_else(|| format.tracks().iter().find(playable));
        let track = track.ok_or(SoundError::Empty("there is no sound in it"))?;
        let params = &track.codec_params;
        let codec = guarded(|| symphonia::default::get_codecs().make(params, &DecoderOptions::default()))
            .ok_or_else(hostile)?
            .map_err(|why| SoundError::Format(why.to_string()))?;
        let mut opened = Decoder {
            track: track.id,
            facts: Facts {
                sample_rate: params.sample_rate.unwrap_or(0),
                channels: params.channels.map_or(0, |c| u16::try_from(c.count()).unwrap_or(u16::MAX)),
                // An edit list that leaves out the whole recording is ignored.
                frames: edits.map(|e| e.length).filter(|l| *l > 0).or(params.n_frames),
            },
            format,
            codec,
            buffer: None,
            mono: Vec::new(),
            lent: Vec::new(),
            held: Vec::new(),
            decoded: 0,
            skip: edits.map_or(0, |e| e.skip),
            broken: 0,
            ended: false,
            notes: Vec::new(),
        };
        if opened.facts.sample_rate == 0 || opened.facts.channels == 0 {
            // Some formats give these only with the first packet, which is then kept for the first block.
            opened.decode();
            if opened.facts.sample_rate == 0 || opened.facts.channels == 0 {
                return Err(SoundError::Empty("it has no sample rate or no channels"));
            }
        }
        Ok(opened)
    }

    /// What the recording's file says about it.
    pub const fn facts(&self) -> Facts {
        self.facts
    }

    /// How many samples have been decoded.
    pub const fn decoded(&self) -> u64 {
        self.decoded
    }

    /// What was wrong, one sentence each. The list is complete once the last block has been taken.
    pub fn notes(&self) -> &[String] {
        &self.notes
    }

    /// The next block, one channel, full scale ±1; `None` at the end. Damaged parts are left out and noted.
    pub fn next_block(&mut self) -> Option<&[f32]> {
        if self.mono.is_empty() {
            self.decode();
        }
        if self.mono.is_empty() {
            return None;
        }
        self.decoded += self.mono.len() as u64;
        std::mem::swap(&mut self.mono, &mut self.lent);
        self.mono.clear();
        Some(&self.lent)
    }

    /// Decodes packets until one gives samples or the file ends.
    fn decode(&mut self) {
        while !self.ended {
            let format = &mut self.format;
            let packet = match guarded(|| format.next_packet()) {
                Some(Ok(packet)) => packet,
                Some(Err(why)) => return self.end(&why),
                None => return self.end(&Error::DecodeError("damaged beyond reading")),
            };
            if packet.track_id() != self.track {
                continue;
            }
            let codec = &mut self.codec;
            let Some(decoded) = guarded(|| codec.decode(&packet)) else {
                return self.end(&Error::DecodeError("damaged beyond reading"));
            };
            match decoded {
                Ok(sound) => {
                    let spec = *sound.spec();
                    let channels = spec.channels.count();
                    if channels == 0 || sound.frames() == 0 {
                        continue;
                    }
                    if self.facts.sample_rate == 0 || self.facts.channels == 0 {
                        self.facts.sample_rate = spec.rate;
                        self.facts.channels = u16::try_from(channels).unwrap_or(u16::MAX);
                    }
                    if spec.rate != self.facts.sample_rate {
                        self.notes.push("the sample rate changes within the file; it is read up to there".to_owned());
                        self.ended = true;
                        return;
                    }
                    let needed = sound.capacity() as u64;
                    let fits = |b: &SampleBuffer<f32>| b.capacity() >= sound.capacity() * channels;
                    if !self.buffer.as_ref().is_some_and(fits) {
                        self.buffer = Some(SampleBuffer::new(needed, spec));
                    }
                    let Some(buffer) = self.buffer.as_mut() else { continue };
                    buffer.copy_interleaved_ref(sound);
                    let share = 1.0 / channels as f32;
                    let mix = |frame: &[f32]| {
                        let sum: f32 = frame.iter().map(|s| if s.is_finite() { s.clamp(-4.0, 4.0) } else { 0.0 }).sum();
                        sum * share
                    };
                    self.mono.extend(buffer.samples().chunks_exact(channels).map(mix));
                    if self.skip > 0 {
                        let gone = usize::try_from(self.skip).unwrap_or(usize::MAX).min(self.mono.len());
                        self.mono.drain(..gone);
                        self.skip -= gone as u64;
                    }
                    self.hold_surplus();
                    if !self.mono.is_empty() {
                        return;
                    }
                }
                Err(Error::DecodeError(_)) => {
                    self.broken += 1;
                    // A file that is damaged throughout must still come to an end.
                    if self.broken > 10_000 {
                        self.notes.push("it is damaged from end to end; what could be read is kept".to_owned());
                        self.ended = true;
                    }
                }
                Err(why) => return self.end(&why),
            }
        }
    }

    /// Sound after the stated end is encoder padding, unless more follows; it is held back until that is known. If more does
    /// follow, the file is longer than it says.
    fn hold_surplus(&mut self) {
        if !self.held.is_empty() {
            self.held.append(&mut self.mono);
            std::mem::swap(&mut self.held, &mut self.mono);
            self.facts.frames = None;
        }
        let Some(frames) = self.facts.frames else { return };
        let until = usize::try_from(frames.saturating_sub(self.decoded)).unwrap_or(usize::MAX);
        if self.mono.len() > until {
            self.held = self.mono.split_off(until);
        }
    }

    /// Records what was wrong when reading ends.
    fn end(&mut self, why: &Error) {
        self.ended = true;
        let rate = f64::from(self.facts.sample_rate.max(1));
        let read = self.decoded as f64 / rate;
        if self.broken > 0 {
            self.notes.push(format!("{} damaged places were left out; later sound may stand too early", self.broken));
        }
        match why {
            Error::IoError(io) if io.kind() == std::io::ErrorKind::UnexpectedEof => {}
            Error::ResetRequired => {
                self.notes.push("another recording begins within the file; it is read up to there".to_owned());
            }
            other => self.notes.push(format!("reading stopped at {read:.1} s: {other}")),
        }
        if let Some(frames) = self.facts.frames
            && self.decoded + u64::from(self.facts.sample_rate) / 2 < frames
        {
            self.notes.push(format!("the file ends early: {read:.1} s of {:.1} s are there", frames as f64 / rate));
        }
    }
}
