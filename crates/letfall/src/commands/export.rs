//! `letfall midi`, `paper`, `table`, `click`, `timecode`: export one service to one file.

use super::common::prepared;
use crate::cli;
use crate::output::{Answer, CommandOutput};
use crate::streams;
use letfall_core::prepared::{OutsideFacts, PreparedShow};
use letfall_core::time::{FrameRate, WallTime};
use letfall_export::midi::{MidiOptions, Resolution};
use letfall_files::exports::{BundleOptions, Export, Product, Silent, folder_of};
use letfall_files::{Failure, disk};
use letfall_paper::{EarlierVersion, PaperOptions, Sheet, Size};
use std::sync::Arc;

/// Exports a service to a file, or to standard output.
fn write(to: &cli::ToFile, product: Product) -> Answer {
    write_and_say(to, product, Vec::new())
}

/// Writes a file, with something to say of what it was made from.
fn write_and_say(to: &cli::ToFile, product: Product, mut remarks: Vec<String>) -> Answer {
    streams::not_over(&to.show, &to.output)?;
    let plan = prepared(&to.show, to.service.as_deref())?;
    let folder = folder_of(&to.show);
    let stream = streams::is_stream(&to.output);
    // Whatever is made whole in a file is made so first, and then written out.
    let made = if stream { Some(tempfile::tempdir().map_err(|why| Failure::Use(why.to_string()))?) } else { None };
    let file = made.as_ref().map_or_else(|| to.output.clone(), |folder| folder.path().join("made"));
    let exported = Export { product, plan, folder, to: file.clone() }.run(&mut Silent)?;
    remarks.extend(exported.remarks);
    if stream {
        streams::write(&to.output, &disk::read("what was made", &file)?)?;
        return Ok(streams::told(&to.output, exported.words, remarks));
    }
    let text = format!("Wrote {}: {}.\n", to.output.display(), exported.words);
    Ok(streams::told(&to.output, text, remarks))
}

pub fn midi(args: &cli::Midi) -> Answer {
    let resolution = match args.resolution {
        cli::Resolution::Quarter960 => Resolution::Quarter960,
        cli::Resolution::Quarter4800 => Resolution::Quarter4800,
        cli::Resolution::Millis => Resolution::Millis,
    };
    write(&args.to, Product::Midi(MidiOptions { resolution, with_releases: args.with_releases }))
}

pub fn paper(args: &cli::Paper) -> Answer {
    // Report errors in the show itself before errors in a file beside it.
    let plan = prepared(&args.to.show, args.to.service.as_deref())?;
    let template = match &args.template {
        None => None,
        Some(path) => {
            let bytes = disk::read("the template", path)?;
            Some((path.display().to_string(), String::from_utf8_lossy(&bytes).into_owned()))
        }
    };
    let previous = match &args.previous {
        None => None,
        Some(path) => Some(EarlierVersion::of(Arc::new(disk::read_show(path)?), &plan.service().name)),
    };
    let mut remarks = Vec::new();
    let performed = match &args.run {
        None => None,
        Some(path) => {
            let bytes = disk::read("the log", path)?;
            let (records, broken) = letfall_live::read_log(&String::from_utf8_lossy(&bytes));
            if records.is_empty() {
                return Err(Failure::Use(format!(
                    "{}: there is no line of a run in it; give the file that \"letfall rehearse\" or the Rehearse screen wrote",
                    path.display()
                )));
            }
            if broken > 0 {
                remarks.push(format!("{broken} lines of the log cannot be read and are left out"));
            }
            let time_of_day = |at| WallTime::from_secs(letfall_platform::time_of_day_at(at) / 1_000_000);
            Some(Arc::new(letfall_live::performed(&records, plan.grid(), &time_of_day)))
        }
    };
    let options = PaperOptions {
        performed,
        filmed: None,
        size: size(args.size),
        sheet: match args.sheet {
            cli::Sheet::All => Sheet::All,
            cli::Sheet::Order => Sheet::Order,
            cli::Sheet::Calls => Sheet::Calls,
            cli::Sheet::Media => Sheet::Media,
            cli::Sheet::Lighting => Sheet::Lighting,
            cli::Sheet::Release => Sheet::Release,
            cli::Sheet::Outputs => Sheet::Outputs,
            cli::Sheet::Wall => Sheet::Wall,
            cli::Sheet::Checklist => Sheet::Checklist,
            cli::Sheet::Kit => Sheet::Kit,
            cli::Sheet::Crew => Sheet::Crew,
            cli::Sheet::StandIn => Sheet::StandIn,
            cli::Sheet::Patch => Sheet::Patch,
            cli::Sheet::Between => Sheet::Between,
            cli::Sheet::Papers => Sheet::Papers,
            cli::Sheet::Facts => Sheet::Facts,
            cli::Sheet::ShowStop => Sheet::ShowStop,
            cli::Sheet::Report => Sheet::Report,
            cli::Sheet::Strike => Sheet::Strike,
            cli::Sheet::Room => Sheet::Room,
            cli::Sheet::Known => Sheet::Known,
            cli::Sheet::Survey => Sheet::Survey,
            cli::Sheet::Request => Sheet::Request,
            cli::Sheet::Offers => Sheet::Offers,
            cli::Sheet::Week => Sheet::Week,
            cli::Sheet::Filming => Sheet::Filming,
        },
        start: args.start,
        printed: args.printed.clone(),
        previous,
        template,
        fonts: Vec::new(),
    };
    write_and_say(&args.to, Product::Paper(Box::new(options)), remarks)
}

const fn size(size: cli::Size) -> Size {
    match size {
        cli::Size::A4 => Size::A4,
        cli::Size::Letter => Size::Letter,
        cli::Size::A3 => Size::A3,
        cli::Size::Tabloid => Size::Tabloid,
    }
}

pub fn bundle(args: &cli::Bundle) -> Answer {
    if streams::is_stream(&args.output) {
        return Err(Failure::Use(
            "a bundle is a folder or a zip file and goes through no pipe; name one after -o".to_owned(),
        ));
    }
    streams::not_over(&args.show, &args.output)?;
    let show = streams::read_show(&args.show)?;
    let folder = folder_of(&args.show);
    let prepared = PreparedShow::new(Arc::new(show), OutsideFacts::none());
    let options = BundleOptions {
        size: size(args.size),
        printed: args.printed.clone(),
        with_releases: args.with_releases,
        with_guides: args.with_guides,
        sample_rate: args.samples,
        previous: args.previous.as_deref().map(disk::read_show).transpose()?.map(Arc::new),
        fonts: Vec::new(),
    };
    let bundled = letfall_files::exports::bundle(&prepared, folder.as_deref(), &args.output, &options, &mut Silent)?;
    let text = format!("Wrote {}: {} files, with index.html to begin from.\n", args.output.display(), bundled.files);
    Ok(CommandOutput::report(text, bundled.remarks))
}

pub fn table(args: &cli::ToFile) -> Answer {
    write(args, Product::Table)
}

pub fn click(args: &cli::Click) -> Answer {
    write(&args.to, Product::Click { sample_rate: args.samples, section_pips: args.sections })
}

pub fn timecode(args: &cli::LinearTimecode) -> Answer {
    let rate = args.rate.map(|rate| match rate {
        cli::Rate::F24 => FrameRate::F24,
        cli::Rate::F25 => FrameRate::F25,
        cli::Rate::F2997Drop => FrameRate::F2997Drop,
        cli::Rate::F30 => FrameRate::F30,
    });
    write(&args.to, Product::Timecode { rate, sample_rate: args.samples, with_guide: args.with_guide })
}
