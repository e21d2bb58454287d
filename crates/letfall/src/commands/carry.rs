//! `letfall copy`

use super::common::{count, line, listed, service};
use super::which::{self, matching};
use crate::cli;
use crate::output::Answer;
use crate::streams;
use letfall_core::edit::{Carried, Edit, History, Selection, carry};
use letfall_core::file;
use letfall_core::show::Show;
use letfall_files::Failure;

pub fn run(args: &cli::Copy) -> Answer {
    let output = streams::target(&args.show, &args.target)?;
    let mut show = streams::read_show(&args.show)?;
    let from = service(&show, Some(&args.from))?;
    let labels = which::labels(&args.which, from)?;
    let matching = matching(args.matching);
    let clash = which::clash(args.on_clash);
    let mut edits = Vec::new();
    let mut text = String::new();
    for to in targets(&args.to, &show)? {
        if to == args.from {
            return Err(Failure::Use(format!("service \"{to}\" cannot be carried to itself; name others after --to")));
        }
        let (edit, told) = carry(&show, &args.from, &to, &labels, matching, clash)?;
        edits.push(edit);
        describe(&mut text, &to, &told);
    }
    History::new().commit(&mut show, "Carry", Edit::All(edits), Selection::none())?;
    streams::write(&output, &file::write(&show))?;
    line!(text, "Wrote {}.", output.display());
    Ok(streams::told(&output, text, Vec::new()))
}

/// Names separated by commas. If the whole text is the name of a service, commas in it do not separate.
fn targets(text: &str, show: &Show) -> Result<Vec<String>, Failure> {
    if show.service(text).is_some() {
        return Ok(vec![text.to_owned()]);
    }
    let mut names: Vec<String> = Vec::new();
    for name in text.split(',').map(str::trim).filter(|n| !n.is_empty()) {
        service(show, Some(name))?;
        if !names.iter().any(|n| n == name) {
            names.push(name.to_owned());
        }
    }
    if names.is_empty() {
        Err(Failure::Use("no service is named after --to; name one or more".to_owned()))
    } else {
        Ok(names)
    }
}

fn describe(text: &mut String, to: &str, told: &Carried) {
    line!(text, "To \"{to}\": {} carried.", count(told.carried.len() + told.relabelled.len(), "cue"));
    for (labels, what) in [
        (&told.replaced, "took the place of"),
        (&told.kept, "not carried, the service keeps its own"),
        (&told.no_section, "not carried, the song has no such section"),
        (&told.no_bar, "not carried, the song has no such bar"),
    ] {
        if !labels.is_empty() {
            line!(text, "  {}: {what}: {}", labels.len(), listed(labels, 8));
        }
    }
    for (old, new) in told.relabelled.iter().take(8) {
        line!(text, "  {old} stands there as {new}");
    }
    if told.relabelled.len() > 8 {
        line!(text, "  and {} more under new numbers", told.relabelled.len() - 8);
    }
}
