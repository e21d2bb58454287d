//! `letfall shift`

use super::{count, service, which};
use crate::failure::Failure;
use crate::{Answer, Told, cli, disk};
use letfall_core::edit::{By, History, Selection, shift};
use letfall_core::file;

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
    Ok(Told::text(text))
}
