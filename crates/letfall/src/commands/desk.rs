//! `letfall desk-list` and `letfall renumber`

use super::common::count;
use crate::cli;
use crate::output::Answer;
use crate::streams;
use letfall_core::edit::{self, Edit, History, Selection};
use letfall_core::file;
use letfall_core::show::{ReceiverKey, Show};
use letfall_export::desk_list;
use letfall_files::Failure;
use std::path::Path;

/// The receiver with this key or name.
fn receiver(show: &Show, named: &str) -> Result<ReceiverKey, Failure> {
    let found = show.receivers.iter().find(|r| r.key.as_str() == named || r.name == named);
    found.map(|r| r.key.clone()).ok_or_else(|| {
        let all: Vec<String> = show.receivers.iter().map(|r| format!("{} ({})", r.key, r.name)).collect();
        Failure::Use(format!("there is no receiver \"{named}\"; there are: {}", all.join(", ")))
    })
}

fn write(show: &mut Show, what: &str, edit: Edit, to: &Path) -> Result<(), Failure> {
    History::new().commit(show, what, edit, Selection::none())?;
    streams::write(to, &file::write(show))
}

pub fn list(args: &cli::DeskList) -> Answer {
    let output = streams::target(&args.show, &args.target)?;
    let mut show = streams::read_show(&args.show)?;
    let receiver = receiver(&show, &args.receiver)?;
    let bytes = streams::read("the list", &args.list)?;
    let in_file = |why: &dyn std::fmt::Display| Failure::Use(format!("{}: {why}", args.list.display()));
    let lines = desk_list::read(&String::from_utf8_lossy(&bytes)).map_err(|why| in_file(&why))?;
    let (edit, taken) = edit::take_desk_list(&show, &receiver, &lines).map_err(|why| in_file(&why))?;
    write(&mut show, "Take over a desk's list", edit, &output)?;
    let text = format!(
        "Took over {} of {receiver}: {} changed, {} new; wrote {}.\n",
        count(lines.len(), "row"),
        taken.changed,
        taken.new,
        output.display()
    );
    let mut remarks = Vec::new();
    if !taken.without_message.is_empty() {
        let numbers = taken.without_message.join(", ");
        remarks
            .push(format!("no message could be worked out for {numbers}: program 0 stands there, enter the right one"));
    }
    Ok(streams::told(&output, text, remarks))
}

pub fn renumber(args: &cli::Renumber) -> Answer {
    let output = streams::target(&args.show, &args.target)?;
    let mut show = streams::read_show(&args.show)?;
    let receiver = receiver(&show, &args.receiver)?;
    let (edit, presets) =
        edit::renumber(&show, &receiver, args.from, args.step).map_err(|why| Failure::Use(why.to_string()))?;
    write(&mut show, "Renumber presets", edit, &output)?;
    let text = format!("Renumbered {} of {receiver}; wrote {}.\n", count(presets, "preset"), output.display());
    Ok(streams::told(&output, text, Vec::new()))
}
