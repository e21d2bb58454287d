//! `letfall film`: what a film of a rehearsal shows of every delay and drop.

use super::common::{count, from_json, prepared};
use super::film_placed::{Placed, of_film, placed};
use super::film_proposed;
use super::film_told::{Pictures, Shown, as_json, as_words};
use crate::cli;
use crate::output::{Answer, CommandOutput};
use crate::streams;
use letfall_core::edit::{History, Selection};
use letfall_core::prepared::{OutsideFacts, Prepared, PreparedShow};
use letfall_core::show::Show;
use letfall_files::Failure;
use letfall_film::measure::{
    Delays, DropSeen, Filmed, ReceiverSeen, Report, SentLate, Taken, drops, known, look, measure, receivers, taken,
};
use letfall_film::page::page;
use letfall_film::picture::{Recorder, Regions};
use letfall_film::study;
use letfall_paper::{PaperOptions, Sheet};
use std::path::Path;
use std::sync::Arc;

pub fn run(args: &cli::Film) -> Answer {
    for output in args.output.iter().chain(&args.paper).chain(&args.propose) {
        streams::not_over(&args.show, output)?;
        streams::not_over(&args.file, output)?;
    }
    if args.paper.is_some() && args.paper == args.output {
        let why = "the sheet and the show cannot both be written to one place: name another file after --paper";
        return Err(Failure::Use(why.to_owned()));
    }
    let plan = prepared(&args.show, args.service.as_deref())?;
    let regions = args.regions.as_deref().map(read_regions).transpose()?;
    if let Some(regions) = &regions {
        known(plan.show(), regions).map_err(|why| Failure::Use(why.to_string()))?;
    }
    if let Some(to) = &args.propose {
        return film_proposed::run(args, &plan, to);
    }
    let shown = shown(args, &plan, regions)?;
    let (delays, falls) = shown.pictures.as_ref().map_or_else(Default::default, |pictures| {
        (receivers(&plan, &pictures.report, &Delays::new()), drops(&plan, &pictures.report))
    });
    if let Some((paper, pictures)) = args.paper.as_ref().zip(shown.pictures.as_ref()) {
        print(args, &pictures.filmed(&plan, &shown.filming), &pictures.report, (&delays, &falls), paper)?;
    }
    let what = Taken {
        delays: args.take.contains(&cli::TakeFromFilm::Delays),
        drops: args.take.contains(&cli::TakeFromFilm::Drops),
    };
    let mut text = String::new();
    if args.json {
        as_json(&mut text, &plan, &shown, &delays, &falls, what);
    } else {
        as_words(&mut text, &plan, &shown, &delays, &falls);
    }
    let Some(output) = &args.output else {
        return Ok(match &args.paper {
            Some(paper) if streams::is_stream(paper) => streams::told(paper, text, Vec::new()),
            _ => CommandOutput { text, remarks: Vec::new(), found_stop: false, is_report: false },
        });
    };
    let mut show = (**plan.show()).clone();
    let film = args.file.file_name().unwrap_or_default().to_string_lossy();
    let edit = taken(&show, &delays, &falls, what, &film);
    if edit.is_nothing() {
        return Err(Failure::Use("nothing was written: the film shows nothing that --take names".to_owned()));
    }
    History::new().commit(&mut show, "Take what the film shows", edit, Selection::none())?;
    streams::write(output, &letfall_core::file::write(&show))?;
    let remarks = vec![format!("{}; wrote {}", moved(&plan, show, what, &delays, &falls)?, output.display())];
    let on_stream = args.paper.as_ref().filter(|paper| streams::is_stream(paper));
    Ok(streams::told(on_stream.unwrap_or(output), text, remarks))
}

fn read_regions(path: &Path) -> Result<Regions, Failure> {
    let bytes = streams::read("the regions", path)?;
    let regions: Regions = from_json(path, &bytes)?;
    regions.validate().map_err(|why| Failure::Use(format!("{}: {why}", path.display())))?;
    Ok(regions)
}

fn shown(args: &cli::Film, plan: &Prepared, regions: Option<Regions>) -> Result<Shown, Failure> {
    let Placed { runs, begins, filming } = placed(args, plan, regions.as_ref().map(|_| "--regions"))?;
    let Some(regions) = regions else { return Ok(Shown { runs, begins, filming, pictures: None }) };
    let look = look(plan, &regions, runs.clone(), begins, &filming).map_err(|why| Failure::Use(why.to_string()))?;
    let mut recorder = Recorder::new(&regions.regions, look.stretches());
    study::pictures(&args.file, &mut recorder, &mut |_| true).map_err(|why| of_film(args, &why))?;
    let sent = sent_late(args, runs.len())?;
    let report = measure(&Filmed { plan, regions: &regions, look: &look, filming: &filming, sent: &sent }, &recorder);
    Ok(Shown { runs, begins, filming, pictures: Some(Pictures { regions, look, sent, report }) })
}

/// Prints the sheet.
fn print(
    args: &cli::Film,
    filmed: &Filmed<'_>,
    report: &Report,
    seen: (&[ReceiverSeen], &[DropSeen]),
    to: &Path,
) -> Result<(), Failure> {
    let clapped = args.clap.is_some() || args.sound_late.is_some() || args.sound_late_within.is_some();
    let name = args.file.file_name().unwrap_or_default().to_string_lossy();
    // Whoever takes drops says that they were looked at.
    let confirmed = args.take.contains(&cli::TakeFromFilm::Drops);
    let page = page(&name, filmed, report, clapped, seen, |_, _| confirmed);
    let options = PaperOptions { sheet: Sheet::Filmed, filmed: Some(Arc::new(page)), ..PaperOptions::default() };
    let paper = letfall_paper::print(filmed.plan, &options).map_err(|why| Failure::Use(why.to_string()))?;
    streams::write(to, &paper.pdf)
}

/// How late each message was sent, by the log of the run.
fn sent_late(args: &cli::Film, runs: usize) -> Result<SentLate, Failure> {
    let Some(path) = &args.log else { return Ok(SentLate::new()) };
    if runs > 1 {
        return Err(Failure::Use(format!(
            "the film has {runs} runs, and {} is the log of one; cut the film, or leave --log out",
            path.display()
        )));
    }
    let bytes = streams::read("the log", path)?;
    let (records, _) = letfall_live::read_log(&String::from_utf8_lossy(&bytes));
    let sent = letfall_live::sent_late(&records);
    if sent.is_empty() {
        return Err(Failure::Use(format!("{} is no log of a run in which anything was sent", path.display())));
    }
    Ok(sent)
}

/// What was taken over, and how many cues leave at another time by it.
fn moved(
    plan: &Prepared,
    show: Show,
    what: Taken,
    delays: &[ReceiverSeen],
    falls: &[DropSeen],
) -> Result<String, Failure> {
    let after = PreparedShow::new(Arc::new(show), OutsideFacts::none()).prepare_named(&plan.service().name)?;
    let moved =
        plan.schedule().rows.iter().filter(|row| after.row(row.label).is_some_and(|new| new.send != row.send)).count();
    let mut words = Vec::new();
    if what.delays {
        words.push(count(delays.iter().filter(|seen| !seen.impossible).count(), "delay"));
    }
    if what.drops {
        words.push(count(falls.len(), "drop"));
    }
    Ok(format!(
        "took {}; {} now sent at another time",
        words.join(" and "),
        match moved {
            0 => "no cue is".to_owned(),
            1 => "1 cue is".to_owned(),
            n => format!("{n} cues are"),
        }
    ))
}
