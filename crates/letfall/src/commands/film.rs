//! `letfall film`: what a film of a rehearsal shows of every delay and drop.

use super::common::{count, from_json, prepared};
use super::film_told::{Pictures, Shown, as_json, as_words};
use crate::cli;
use crate::output::{Answer, CommandOutput};
use crate::streams;
use letfall_core::edit::{History, Selection};
use letfall_core::prepared::{OutsideFacts, Prepared, PreparedShow};
use letfall_core::show::Show;
use letfall_core::time::BarBeat;
use letfall_files::{Failure, guides, recordings};
use letfall_film::measure::{
    Delays, DropSeen, Filmed, Filming, ReceiverSeen, Report, SentLate, Taken, drops, known, look, measure, receivers,
    taken,
};
use letfall_film::open::FilmSound;
use letfall_film::page::page;
use letfall_film::picture::{Recorder, Regions};
use letfall_film::study;
use letfall_paper::{PaperOptions, Sheet};
use std::path::Path;
use std::sync::Arc;

pub fn run(args: &cli::Film) -> Answer {
    for output in args.output.iter().chain(&args.paper) {
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

fn of_film(args: &cli::Film, why: &dyn std::fmt::Display) -> Failure {
    Failure::Read { what: "the film", why: why.to_string(), path: args.file.clone() }
}

fn shown(args: &cli::Film, plan: &Prepared, regions: Option<Regions>) -> Result<Shown, Failure> {
    if let Err(why) = std::fs::metadata(&args.file) {
        return Err(of_film(args, &letfall_files::io_words(&why)));
    }
    let is_sound = recordings::is_sound(&args.file);
    if is_sound && regions.is_some() {
        return Err(Failure::Use(format!(
            "{} is sound alone, in which nothing is seen; leave --regions out",
            args.file.display()
        )));
    }
    let by_hand = args.at.as_deref().map(|at| by_hand(plan, at)).transpose()?;
    if !(1.0..=32.0).contains(&args.slow) {
        return Err(Failure::Use(format!("--slow {} is not believed; it is 1 to 32", args.slow)));
    }
    let sound = if by_hand.is_some() && args.clap.is_none() && !args.sudden {
        FilmSound { begins: 0.0, samples: Vec::new() }
    } else if is_sound {
        FilmSound { begins: 0.0, samples: recorded(&args.file).map_err(|why| of_film(args, &why))? }
    } else {
        study::film_sound(&args.file, &mut |_| true).map_err(|why| of_film(args, &why))?
    };
    let filming = filming(args, &sound)?;
    let runs = match by_hand {
        Some((film, song)) => {
            let run = study::by_hand(&sound, film, song, args.slow, args.sudden).ok_or_else(|| {
                Failure::Use(format!("nothing sudden is heard within 0.15 s of {film} s; say --at nearer to it"))
            })?;
            vec![run]
        }
        None => study::runs(&sound, &guide(args, plan)?, &mut |_| true)
            .map_err(|why| Failure::Use(format!("{}: {why}", args.file.display())))?,
    };
    let begins = sound.begins;
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

/// "12.4=33" or "12.4=33 b2": a time of the film and what is heard then, both in seconds.
fn by_hand(plan: &Prepared, at: &str) -> Result<(f64, f64), Failure> {
    let wrong = || {
        Failure::Use(format!(
            "--at {at}: say a time of the film in seconds and the bar that begins then, such as --at 12.4=33 (or \"12.4=33 b2\" for its second beat)"
        ))
    };
    let (film, place) = at.split_once('=').ok_or_else(wrong)?;
    let film: f64 = film.trim().parse().map_err(|_| wrong())?;
    let place: BarBeat = place.trim().parse().map_err(|_| wrong())?;
    if !film.is_finite() || film < 0.0 {
        return Err(wrong());
    }
    let grid = plan.grid();
    Ok((film, grid.time_at(grid.tick_of(place)).micros() as f64 / 1e6))
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

fn recorded(path: &Path) -> Result<Vec<f32>, String> {
    // Nobody stops it here.
    recordings::compared(path, || true).map(Option::unwrap_or_default)
}

fn guide(args: &cli::Film, plan: &Prepared) -> Result<Vec<f32>, Failure> {
    let Some(guide) = plan.service().song.guide.as_ref() else {
        return Err(Failure::Use(
            "the song has no guide recording, so the film cannot be laid against it by its sound; say one place by hand, such as --at 12.4=33"
                .to_owned(),
        ));
    };
    let path = guides::place(args.show.parent(), guide);
    recorded(&path).map_err(|why| Failure::Read { what: "the guide", why, path })
}

fn filming(args: &cli::Film, sound: &FilmSound) -> Result<Filming, Failure> {
    let mut filming = Filming { distance_m: args.distance, ..Filming::default() };
    let millis = |value: f64, what: &str, most: f64| {
        if value.is_finite() && value.abs() <= most {
            return Ok(value / 1000.0);
        }
        Err(Failure::Use(format!("{what} {value} is not believed; it is at most {most} ms")))
    };
    filming.rolling = millis(args.rolling, "--rolling", 100.0)?.max(0.0);
    if let Some(metres) = args.distance.filter(|m| !(0.0..=300.0).contains(m)) {
        return Err(Failure::Use(format!("--distance {metres} is not believed; it is 0 to 300 metres")));
    }
    if let Some(late) = args.sound_late {
        filming.sound_late = millis(late, "--sound-late", 500.0)?;
        filming.sound_late_within = millis(args.sound_late_within.unwrap_or(10.0), "--sound-late-within", 500.0)?.abs();
    } else if let Some(within) = args.sound_late_within {
        filming.sound_late_within = millis(within, "--sound-late-within", 500.0)?.abs();
    }
    if let Some(seen) = args.clap {
        let Some(late) = study::clap(sound, seen) else {
            return Err(Failure::Use(format!(
                "no clap is heard within 0.3 s of --clap {seen}: say the time at which the hands meet in the picture, in seconds"
            )));
        };
        // Half a picture of 25 a second, and the clap's own beginning.
        (filming.sound_late, filming.sound_late_within) = (late, 0.022);
    }
    Ok(filming)
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
