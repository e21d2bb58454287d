//! `letfall check`

use super::common::{count, json_line, line, service};
use crate::cli;
use crate::output::{Answer, CommandOutput};
use letfall_core::check::{Problem, Severity, not_checked};
use letfall_core::fingerprint::{Fingerprint, NoFingerprint};
use letfall_core::prepared::PreparedShow;
use letfall_export::fingerprints;
use letfall_files::Failure;
use letfall_files::exports::folder_of;
use letfall_files::prepared_show;
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
    let show = Arc::new(crate::streams::read_show(&args.show)?);
    let prepared = prepared_show(show.clone(), folder_of(&args.show).as_deref());
    if let Some(printed) = &args.printed {
        return is_of_now(printed, &prepared, args.service.as_deref());
    }
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
        line!(text, "Not checked: {}.", not_checked(&show).join("; "));
    }
    Ok(CommandOutput { text, remarks: Vec::new(), found_stop: stops > 0, is_report: false })
}

/// Whether a fingerprint is of a sheet or file of the plan as it is now.
fn is_of_now(printed: &str, prepared: &Arc<PreparedShow>, service: Option<&str>) -> Answer {
    let print: Fingerprint = printed.parse().map_err(|why: NoFingerprint| Failure::Use(why.to_string()))?;
    let mut text = String::new();
    let mut found = false;
    for (at, of) in prepared.show().services.iter().enumerate() {
        if service.is_some_and(|name| name != of.name) {
            continue;
        }
        let Ok(plan) = prepared.prepare(at) else { continue };
        let mut all: Vec<(String, Fingerprint)> =
            fingerprints::all(&plan).into_iter().map(|(name, print)| (name.to_owned(), print)).collect();
        all.extend(
            letfall_paper::fingerprints(&plan)
                .into_iter()
                .map(|(sheet, print)| (format!("the {}", sheet.name().to_lowercase()), print)),
        );
        for (name, _) in all.iter().filter(|(_, of)| *of == print) {
            line!(text, "{print} is {name} of \"{}\", as it is planned now.", of.name);
            found = true;
        }
    }
    if !found {
        line!(
            text,
            "{print} is of no sheet or file as it is planned now: what is in the hand is of another version, or of another show."
        );
    }
    Ok(CommandOutput { text, remarks: Vec::new(), found_stop: !found, is_report: false })
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
