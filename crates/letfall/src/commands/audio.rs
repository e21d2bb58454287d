//! `letfall click`, `letfall timecode`: one service to one sound file.

use super::service;
use crate::failure::Failure;
use crate::{Answer, Told, cli, disk, guides};
use letfall_core::show::Service;
use letfall_core::time::{FrameRate, SongTime, Timecode};
use letfall_export::audio::{AudioError, ClickOptions, TimecodeOptions, Written, timecode_with_guide};
use letfall_sound::Decoder;
use std::fs::File;
use std::io::{BufWriter, Error};
use std::path::Path;

/// Writes a sound file as it is made; gives what was written.
fn write(
    path: &Path,
    make: impl FnOnce(&mut BufWriter<&mut File>) -> Result<Written, AudioError>,
) -> Result<Written, Failure> {
    let (mut written, mut why) = (None, None);
    let done = disk::write_with(path, |file| match make(&mut BufWriter::new(file)) {
        Ok(made) => {
            written = Some(made);
            Ok(())
        }
        Err(AudioError::Write(hound::Error::IoError(io))) => Err(io),
        Err(other) => {
            why = Some(other.to_string());
            Err(Error::other("not made"))
        }
    });
    match (why, done) {
        (Some(why), _) => Err(Failure::Use(why)),
        (None, Err(failure)) => Err(failure),
        (None, Ok(())) => written.ok_or_else(|| Failure::Use("nothing was written".to_owned())),
    }
}

fn told(path: &Path, what: &str, written: Written) -> Told {
    let secs = written.samples as f64 / f64::from(written.sample_rate);
    let starts = if written.starts_at == SongTime::ZERO {
        "its start is the song's".to_owned()
    } else {
        format!("it starts at song time {}", written.starts_at)
    };
    Told::text(format!("Wrote {}: {what}, {secs:.1} s, {starts}.\n", path.display()))
}

/// Opens the guide of a service's song.
fn open_guide(show: &Path, service: &Service) -> Result<Decoder, Failure> {
    let none = || Failure::Use(format!("\"{}\" has no guide recording; choose one in the editor", service.name));
    let guide = service.song.guide.as_ref().ok_or_else(none)?;
    let path = guides::place(show.parent(), guide);
    guides::open(&path).map_err(|why| Failure::Read { what: "the guide", why, path })
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

pub fn click(args: &cli::Click) -> Answer {
    let show = disk::read_show(&args.to.show)?;
    let service = service(&show, args.to.service.as_deref())?;
    let options = ClickOptions {
        sample_rate: args.samples,
        count_in_bars: show.settings.count_in_bars,
        section_pips: args.sections,
    };
    let written = write(&args.to.output, |to| letfall_export::audio::click(service, options, to))?;
    Ok(told(&args.to.output, "a click", written))
}

pub fn timecode(args: &cli::LinearTimecode) -> Answer {
    let show = disk::read_show(&args.to.show)?;
    let service = service(&show, args.to.service.as_deref())?;
    let own = service.timecode.as_ref();
    let rate = match args.rate {
        Some(cli::Rate::F24) => FrameRate::F24,
        Some(cli::Rate::F25) => FrameRate::F25,
        Some(cli::Rate::F2997Drop) => FrameRate::F2997Drop,
        Some(cli::Rate::F30) => FrameRate::F30,
        None => own.map_or(FrameRate::F25, |t| t.rate),
    };
    let text = own.map_or("01:00:00:00", |t| t.at.as_str());
    let start = Timecode::parse(text, rate).map_err(|why| Failure::Use(why.to_string()))?;
    let options = TimecodeOptions {
        sample_rate: args.samples,
        count_in_bars: show.settings.count_in_bars,
        ..TimecodeOptions::new(start)
    };
    let mut notes = Vec::new();
    let written = if args.with_guide {
        let mut guide = open_guide(&args.to.show, service)?;
        let options = TimecodeOptions { sample_rate: guide.facts().sample_rate, ..options };
        let written = write(&args.to.output, |to| timecode_with_guide(service, options, to, &mut samples(&mut guide)))?;
        notes.extend(guide.notes().iter().map(|note| format!("the guide: {note}")));
        written
    } else {
        write(&args.to.output, |to| letfall_export::audio::timecode(service, options, to))?
    };
    let mut told = told(&args.to.output, &format!("timecode, {start} at song time 0"), written);
    told.remarks.extend(notes);
    if own.is_none() {
        told.remarks
            .push(format!("service \"{}\" has no timecode start; {text} is taken for song time 0", service.name));
    }
    Ok(told)
}
