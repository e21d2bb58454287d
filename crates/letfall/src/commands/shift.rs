//! `letfall shift`

use super::common::{count, service};
use super::which;
use crate::cli;
use crate::output::Answer;
use crate::streams;
use letfall_core::edit::{By, History, Selection, shift};
use letfall_core::file;
use letfall_core::prepared::{OutsideFacts, PreparedShow};
use letfall_core::show::{Label, Show};
use letfall_files::Failure;
use std::sync::Arc;

pub fn run(args: &cli::Shift) -> Answer {
    let by: By = args.by.parse().map_err(Failure::Use)?;
    let output = streams::target(&args.show, &args.target)?;
    let mut show = streams::read_show(&args.show)?;
    let service = service(&show, args.service.as_deref())?;
    let name = service.name.clone();
    let labels = which::labels(&args.which, service)?;
    let edit = shift(&show, &name, &labels, by)?;
    History::new().commit(&mut show, "Shift", edit, Selection::none())?;
    streams::write(&output, &file::write(&show))?;
    let text = format!("Shifted {} of \"{name}\" by {by}; wrote {}.\n", count(labels.len(), "cue"), output.display());
    let outside = outside(show, &name, &labels);
    let mut remarks = Vec::new();
    if outside > 0 {
        remarks.push(format!(
            "{} now outside the song; letfall check names them",
            if outside == 1 { "1 of them lands".to_owned() } else { format!("{outside} of them land") }
        ));
    }
    Ok(streams::told(&output, text, remarks))
}

/// How many of these cues land before the count-in or after the end of the song.
fn outside(show: Show, name: &str, labels: &[Label]) -> usize {
    let first = show.settings.first_bar();
    let Ok(plan) = PreparedShow::new(Arc::new(show), OutsideFacts::none()).prepare_named(name) else { return 0 };
    let song = plan.grid().bar_time(first)..=plan.end();
    labels.iter().filter_map(|label| plan.row(*label)).filter(|row| !song.contains(&row.land)).count()
}
