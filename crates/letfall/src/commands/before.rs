//! What comes before the first cue: `letfall drawing`, `calendar`, `offers`, `take-offers`, `next-year`.

use super::common::count;
use crate::cli;
use crate::output::Answer;
use crate::streams;
use letfall_core::edit::for_next_year;
use letfall_core::file;
use letfall_core::room::drawing::Look;
use letfall_export::{calendar, drawing as svg, offers as table};
use letfall_files::Failure;

pub fn drawing(args: &cli::Drawing) -> Answer {
    streams::not_over(&args.show, &args.output)?;
    let show = streams::read_show(&args.show)?;
    let look = match args.view {
        cli::View::Plan => Look::Plan,
        cli::View::Section => Look::Section,
    };
    let Some(text) = svg::write(&show, look) else {
        let why = "the show describes no room; describe it on the editor's Room screen, or in the file's “room”";
        return Err(Failure::Use(why.to_owned()));
    };
    streams::write(&args.output, text.as_bytes())?;
    Ok(streams::told(&args.output, format!("Wrote {}: 1 : 100.\n", args.output.display()), Vec::new()))
}

pub fn calendar(args: &cli::Calendar) -> Answer {
    streams::not_over(&args.show, &args.output)?;
    let show = streams::read_show(&args.show)?;
    if let Some(role) = &args.role
        && !show.week.calls.iter().any(|call| call.needs(role))
    {
        let mut roles: Vec<&str> = show.week.calls.iter().flat_map(|c| &c.who).map(|who| who.trim()).collect();
        roles.sort_unstable();
        roles.dedup();
        let there = if roles.is_empty() {
            "no call names a role".to_owned()
        } else {
            format!("there are: {}", roles.join("; "))
        };
        return Err(Failure::Use(format!("no call needs \"{role}\"; {there}")));
    }
    let made = calendar::write(&show, args.role.as_deref(), &letfall_platform::utc_stamp());
    if made.events == 0 {
        let why = "there is nothing with a day to write; give the calls their dates, as 2026-12-05";
        return Err(Failure::Use(why.to_owned()));
    }
    streams::write(&args.output, made.text.as_bytes())?;
    let text =
        format!("Wrote {}: {}.\n", args.output.display(), count(made.events, "entry").replace("entrys", "entries"));
    let mut remarks = Vec::new();
    if made.without_day > 0 {
        remarks.push(format!("{} without a day left out; give each its date", count(made.without_day, "call")));
    }
    Ok(streams::told(&args.output, text, remarks))
}

pub fn offers(args: &cli::Offers) -> Answer {
    streams::not_over(&args.show, &args.output)?;
    let show = streams::read_show(&args.show)?;
    streams::write(&args.output, &table::write(&show))?;
    let text = format!("Wrote {}: {}.\n", args.output.display(), count(show.offers.len(), "offer"));
    Ok(streams::told(&args.output, text, Vec::new()))
}

pub fn take_offers(args: &cli::TakeOffers) -> Answer {
    let output = streams::target(&args.show, &args.target)?;
    let mut show = streams::read_show(&args.show)?;
    let bytes = streams::read("the table", &args.table)?;
    let in_file = |why: &dyn std::fmt::Display| Failure::Use(format!("{}: {why}", args.table.display()));
    let text = String::from_utf8(bytes).map_err(|_| in_file(&"its letters are not UTF-8; save it as CSV in UTF-8"))?;
    show.offers = table::read(&text).map_err(|why| in_file(&why))?;
    show.validate().map_err(|why| in_file(&why))?;
    streams::write(&output, &file::write(&show))?;
    let text = format!("Took over {}; wrote {}.\n", count(show.offers.len(), "offer"), output.display());
    Ok(streams::told(&output, text, Vec::new()))
}

pub fn next_year(args: &cli::NextYear) -> Answer {
    streams::not_over(&args.show, &args.output)?;
    let next = for_next_year(&streams::read_show(&args.show)?, args.timed_in);
    streams::write(&args.output, &file::write(&next))?;
    let text = format!(
        "Wrote {}: no names, dates or signatures are in it, and every measured drop says \"{}, time again\".\n",
        args.output.display(),
        args.timed_in
    );
    Ok(streams::told(&args.output, text, Vec::new()))
}
