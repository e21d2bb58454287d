//! `letfall import`

use super::common::{count, line, listed, service};
use super::which;
use crate::cli;
use crate::output::Answer;
use crate::streams;
use letfall_core::edit::{History, RowOutcome, Selection, take_cue_table};
use letfall_core::file;
use letfall_core::show::Label;
use letfall_export::cue_table;
use letfall_files::Failure;

/// How many lines that cannot be read are listed.
const LISTED: usize = 20;

pub fn run(args: &cli::Import) -> Answer {
    let output = streams::target(&args.show, &args.target)?;
    let mut show = streams::read_show(&args.show)?;
    let name = service(&show, args.service.as_deref())?.name.clone();
    let bytes = streams::read("the table", &args.table)?;
    let source =
        if streams::is_stream(&args.table) { "standard input".into() } else { args.table.display().to_string() };
    let text = std::str::from_utf8(&bytes).map_err(|why| {
        let line = bytes[..why.valid_up_to()].split(|byte| *byte == b'\n').count();
        Failure::Use(format!("{source}, line {line}: this is not UTF-8 text; save the table as CSV in UTF-8"))
    })?;
    let read = cue_table::read(text).map_err(|why| Failure::Use(format!("{source}: {why}")))?;
    let table = take_cue_table(&show, &name, &read.rows, which::clash(args.on_clash))?;
    let unreadable: Vec<_> = table.unreadable().collect();
    if !unreadable.is_empty() {
        let mut why =
            vec![format!("{source}: {} cannot be read; nothing was written", count(unreadable.len(), "line"))];
        for (line, reason) in unreadable.iter().take(LISTED) {
            why.push(format!("  line {line}: {reason}"));
        }
        if unreadable.len() > LISTED {
            why.push(format!("  and {} more", unreadable.len() - LISTED));
        }
        return Err(Failure::Use(why.join("\n")));
    }
    History::new().commit(&mut show, "Take over a table", table.edit(), Selection::none())?;
    streams::write(&output, &file::write(&show))?;
    let labels = |like: fn(&RowOutcome) -> Option<Label>| -> Vec<Label> {
        table.rows.iter().filter_map(|(_, row)| like(row)).collect()
    };
    let (new, changed, kept) = (labels(new), labels(changed), labels(kept));
    let same = table.rows.len() - new.len() - changed.len() - kept.len();
    let mut text = String::new();
    line!(
        text,
        "Read {} for \"{name}\": {} new, {} changed, {same} there already, {} not taken over.",
        count(table.rows.len(), "row"),
        new.len(),
        changed.len(),
        kept.len()
    );
    for (labels, what) in [(&new, "new"), (&changed, "changed"), (&kept, "not taken over, the service keeps its own")] {
        if !labels.is_empty() {
            line!(text, "  {what}: {}", listed(labels, 12));
        }
    }
    line!(text, "Wrote {}.", output.display());
    let mut remarks = Vec::new();
    if !read.unused.is_empty() {
        let names: Vec<String> = read.unused.iter().map(|heading| format!("\"{heading}\"")).collect();
        let columns = if names.len() == 1 { "the column" } else { "the columns" };
        remarks.push(format!("nothing was taken from {columns} {}", names.join(", ")));
    }
    Ok(streams::told(&output, text, remarks))
}

fn new(row: &RowOutcome) -> Option<Label> {
    if let RowOutcome::New(label) = row { Some(*label) } else { None }
}

fn changed(row: &RowOutcome) -> Option<Label> {
    if let RowOutcome::Changes(label) = row { Some(*label) } else { None }
}

fn kept(row: &RowOutcome) -> Option<Label> {
    if let RowOutcome::Kept(label) = row { Some(*label) } else { None }
}
