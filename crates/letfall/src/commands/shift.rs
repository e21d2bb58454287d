//! `letfall shift`

use super::{count, service, which};
use crate::failure::Failure;
use crate::{Answer, Told, cli, disk};
use letfall_core::edit::{By, History, Selection, shift};
use letfall_core::file;
use letfall_core::show::{Label, Show};

pub fn run(args: &cli::Shift) -> Answer {
    let by: By = args.by.parse().map_err(Failure::Use)?;
    let mut show = disk::read_show(&args.show)?;
    let service = service(&show, args.service.as_deref())?;
    let name = service.name.clone();
    let labels = which::labels(&args.which, service)?;
    let edit = shift(&show, &name, &labels, by)?;
    History::new().commit(&mut show, "Shift", edit, Selection::none())?;
    disk::write(&args.output, &file::write(&show))?;
    let text =
        format!("Shifted {} of \"{name}\" by {by}; wrote {}.\n", count(labels.len(), "cue"), args.output.display());
    let outside = outside(&show, &name, &labels);
    let mut told = Told::text(text);
    if outside > 0 {
        told.remarks.push(format!(
            "{} now outside the song; letfall check names them",
            if outside == 1 { "1 of them lands".to_owned() } else { format!("{outside} of them land") }
        ));
    }
    Ok(told)
}

/// How many of these cues land before the count-in or after the song.
fn outside(show: &Show, name: &str, labels: &[Label]) -> usize {
    let Some((service, grid)) = show.service(name).and_then(|s| Some((s, s.song.grid.build().ok()?))) else { return 0 };
    let song = grid.bar_time(1 - i32::from(show.settings.count_in_bars))..=grid.bar_time(service.song.end_bar());
    let lands = labels.iter().filter_map(|label| service.cues.get(*label)).map(|cue| cue.at.time(&grid));
    lands.filter(|land| !song.contains(land)).count()
}
