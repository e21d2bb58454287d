//! `letfall midi`, `letfall paper`, `letfall table`: one service to one file.

use super::{count, service};
use crate::{Answer, Told, cli, disk, scripts};
use letfall_core::schedule::Schedule;
use letfall_core::time::SongTime;
use letfall_export::midi::{self, MidiOptions, Resolution};
use letfall_export::table as csv;
use letfall_paper::{PaperOptions, Sheet, Size};
use std::sync::Arc;

pub fn midi(args: &cli::Midi) -> Answer {
    let show = disk::read_show(&args.to.show)?;
    let service = service(&show, args.to.service.as_deref())?;
    let schedule = Schedule::build(&show, service)?;
    let options = MidiOptions {
        resolution: match args.resolution {
            cli::Resolution::Quarter960 => Resolution::Quarter960,
            cli::Resolution::Quarter4800 => Resolution::Quarter4800,
            cli::Resolution::Millis => Resolution::Millis,
        },
        with_releases: args.with_releases,
    };
    let file = midi::write(&show, service, &schedule, options)?;
    disk::write(&args.to.output, &file.bytes)?;
    let starts = if file.starts_at == SongTime::ZERO {
        "its start is the song's".to_owned()
    } else {
        format!("it starts at song time {}", file.starts_at)
    };
    let mut remarks = Vec::new();
    let missing = schedule.rows.iter().filter(|r| r.fault.is_some()).count();
    if missing > 0 {
        remarks.push(format!("{} could not be made and left out; see letfall check", count(missing, "message")));
    }
    let left_out = match file.releases_left_out {
        0 => String::new(),
        n => format!("; {} left out (see --with-releases)", count(n, "release")),
    };
    let text =
        format!("Wrote {}: {}, {starts}{left_out}.\n", args.to.output.display(), count(file.messages, "message"));
    Ok(Told { text, remarks, found_stop: false })
}

pub fn paper(args: &cli::Paper) -> Answer {
    let show = disk::read_show(&args.to.show)?;
    let service = service(&show, args.to.service.as_deref())?;
    let schedule = Schedule::build(&show, service)?;
    let template = match &args.template {
        None => None,
        Some(path) => {
            let bytes = disk::read("the template", path)?;
            Some((path.display().to_string(), String::from_utf8_lossy(&bytes).into_owned()))
        }
    };
    let previous = match &args.previous {
        None => None,
        Some(path) => Some(Arc::new(disk::read_show(path)?)),
    };
    let unusual = scripts::of_show(&show);
    let (fonts, _) = scripts::from_system(&unusual);
    let mut remarks: Vec<String> = Vec::new();
    if !fonts.is_empty() {
        let names: Vec<&str> = fonts.iter().map(|f| f.family.as_str()).collect();
        let some: String = unusual.iter().take(20).collect();
        remarks.push(format!(
            "characters that the house typeface lacks ({some}) are set in fonts of this machine: {}",
            names.join(", ")
        ));
    }
    let options = PaperOptions {
        size: match args.size {
            cli::Size::A4 => Size::A4,
            cli::Size::Letter => Size::Letter,
            cli::Size::A3 => Size::A3,
            cli::Size::Tabloid => Size::Tabloid,
        },
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
        },
        printed: args.printed.clone(),
        previous,
        template,
        fonts: fonts.into_iter().map(|f| f.data).collect(),
    };
    let paper = letfall_paper::print(&show, service, &schedule, &options)?;
    disk::write(&args.to.output, &paper.pdf)?;
    let text = format!("Wrote {}: {}.\n", args.to.output.display(), count(paper.pages, "page"));
    remarks.extend(paper.warnings);
    Ok(Told { text, remarks, found_stop: false })
}

pub fn table(args: &cli::ToFile) -> Answer {
    let show = disk::read_show(&args.show)?;
    let service = service(&show, args.service.as_deref())?;
    let schedule = Schedule::build(&show, service)?;
    disk::write(&args.output, &csv::write(&show, service, &schedule))?;
    Ok(Told::text(format!("Wrote {}: {}.\n", args.output.display(), count(schedule.rows.len(), "cue"))))
}
