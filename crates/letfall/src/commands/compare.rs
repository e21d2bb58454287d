//! `letfall compare`

use super::common::{count, json_line, line, service};
use super::which::matching;
use crate::cli;
use crate::output::{Answer, CommandOutput};
use letfall_core::edit::{Difference, compare};
use letfall_core::schedule::describe;
use letfall_core::show::Label;
use serde::Serialize;

#[derive(Serialize)]
struct JsonLine<'a> {
    label: String,
    difference: &'a str,
    #[serde(skip_serializing_if = "Option::is_none")]
    field: Option<&'a str>,
    #[serde(skip_serializing_if = "Option::is_none")]
    first: Option<&'a str>,
    #[serde(skip_serializing_if = "Option::is_none")]
    second: Option<&'a str>,
}

pub fn run(args: &cli::Compare) -> Answer {
    let show = crate::streams::read_show(&args.show)?;
    let (a, b) = (service(&show, Some(&args.first))?, service(&show, Some(&args.second))?);
    let found = compare(&show, &a.name, &b.name, matching(args.matching))?;
    let mut text = String::new();
    for difference in &found {
        let (label, word, only) = match difference {
            Difference::OnlyFirst(label) => (*label, "only-first", Some(a)),
            Difference::OnlySecond(label) => (*label, "only-second", Some(b)),
            Difference::Differs(label, fields) => {
                for field in fields {
                    if args.json {
                        json_line(
                            &mut text,
                            &as_line(*label, "differs", Some((field.name, &field.first, &field.second))),
                        );
                    } else {
                        line!(text, "{label:<8}{}: {} | {}", field.name, shown(&field.first), shown(&field.second));
                    }
                }
                continue;
            }
        };
        if args.json {
            json_line(&mut text, &as_line(label, word, None));
        } else if let Some(service) = only {
            let what = service.cues.get(label).map_or_else(String::new, |c| describe(&show, c));
            line!(text, "{label:<8}only in \"{}\": {what}", service.name);
        }
    }
    if !args.json {
        match found.len() {
            0 => line!(text, "No differences between \"{}\" and \"{}\".", a.name, b.name),
            n => line!(text, "{} differ or stand in one only.", count(n, "cue")),
        }
    }
    Ok(CommandOutput::text(text))
}

fn shown(text: &str) -> &str {
    if text.is_empty() { "nothing" } else { text }
}

fn as_line<'a>(label: Label, difference: &'a str, field: Option<(&'a str, &'a str, &'a str)>) -> JsonLine<'a> {
    JsonLine {
        label: label.to_string(),
        difference,
        field: field.map(|f| f.0),
        first: field.map(|f| f.1),
        second: field.map(|f| f.2),
    }
}
