//! `letfall check`

use super::common::{count, json_line, line, service};
use crate::cli;
use crate::output::{Answer, CommandOutput};
use letfall_core::check::{Problem, Severity};
use letfall_files::exports::folder_of;
use letfall_files::{disk, prepared_show};
use serde::Serialize;
use std::sync::Arc;

#[derive(Serialize)]
struct JsonLine<'a> {
    severity: String,
    code: &'a str,
    service: Option<&'a str>,
    cues: Vec<String>,
    what: &'a str,
    remedy: &'a str,
}

pub fn run(args: &cli::Check) -> Answer {
    let show = Arc::new(disk::read_show(&args.show)?);
    let prepared = prepared_show(show.clone(), folder_of(&args.show).as_deref());
    let problems = match &args.service {
        None => prepared.problems(),
        Some(name) => {
            let plan = prepared.prepare_named(&service(&show, Some(name))?.name)?;
            plan.all_problems().cloned().collect()
        }
    };
    let mut text = String::new();
    for problem in &problems {
        if args.json {
            json_line(&mut text, &as_line(problem));
        } else {
            let place = problem.service.as_deref().unwrap_or("rig");
            line!(text, "{:<5}{place}: {problem} [{}]", problem.severity(), problem.code.text());
        }
    }
    let of = |severity| problems.iter().filter(|p| p.severity() == severity).count();
    let stops = of(Severity::Stop);
    if !args.json {
        match problems.len() {
            0 if show.services.iter().all(|s| s.cues.is_empty()) => {
                line!(text, "There are no cues yet: nothing to check.");
            }
            0 => line!(text, "No problems found in {}.", count(show.services.len(), "service")),
            n => line!(
                text,
                "{}: {stops} stop, {} fix, {} note.",
                count(n, "problem"),
                of(Severity::Fix),
                of(Severity::Note)
            ),
        }
    }
    Ok(CommandOutput { text, remarks: Vec::new(), found_stop: stops > 0 })
}

fn as_line(problem: &Problem) -> JsonLine<'_> {
    JsonLine {
        severity: problem.severity().to_string(),
        code: problem.code.text(),
        service: problem.service.as_deref(),
        cues: problem.cues.iter().map(ToString::to_string).collect(),
        what: &problem.what,
        remedy: &problem.remedy,
    }
}
