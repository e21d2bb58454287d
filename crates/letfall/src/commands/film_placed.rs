//! Where a film lies against the song, and how it was made.

use crate::cli;
use letfall_core::prepared::Prepared;
use letfall_core::time::BarBeat;
use letfall_files::{Failure, guides, recordings};
use letfall_film::align::Run;
use letfall_film::measure::Filming;
use letfall_film::open::FilmSound;
use letfall_film::study;
use std::path::Path;

/// Where a film lies, and how it was made.
pub struct Placed {
    pub runs: Vec<Run>,
    pub begins: f64,
    pub filming: Filming,
}

/// Lays a film against the song. `option` is what needs its pictures, if anything does.
pub fn placed(args: &cli::Film, plan: &Prepared, option: Option<&str>) -> Result<Placed, Failure> {
    if let Err(why) = std::fs::metadata(&args.file) {
        return Err(of_film(args, &letfall_files::io_words(&why)));
    }
    let is_sound = recordings::is_sound(&args.file);
    if let Some(option) = option.filter(|_| is_sound) {
        return Err(Failure::Use(format!(
            "{} is sound alone, in which nothing is seen; leave {option} out",
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
        // Timecode came by wire and says it to the frame; then nobody needs to be heard.
        None => match by_timecode(args, plan, is_sound.then_some(&sound))? {
            none if none.is_empty() => by_guide(args, plan, &sound)?,
            runs => runs,
        },
    };
    Ok(Placed { runs, begins: sound.begins, filming })
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

fn by_guide(args: &cli::Film, plan: &Prepared, sound: &FilmSound) -> Result<Vec<Run>, Failure> {
    study::runs(sound, &guide(args, plan)?, &mut |_| true)
        .map_err(|why| Failure::Use(format!("{}: {why}", args.file.display())))
}

/// By the timecode in its sound, if the service runs on timecode.
fn by_timecode(args: &cli::Film, plan: &Prepared, recorded: Option<&FilmSound>) -> Result<Vec<Run>, Failure> {
    let Some(zero) = plan.service().zero() else { return Ok(Vec::new()) };
    study::timecode(&args.file, recorded, zero, &mut |_| true).map_err(|why| of_film(args, &why))
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

pub fn of_film(args: &cli::Film, why: &dyn std::fmt::Display) -> Failure {
    Failure::Read { what: "the film", why: why.to_string(), path: args.file.clone() }
}

fn recorded(path: &Path) -> Result<Vec<f32>, String> {
    // Nobody stops it here.
    recordings::compared(path, || true).map(Option::unwrap_or_default)
}
