//! `letfall check`

use super::{count, json_line, service};
use crate::{Answer, Told, cli, disk, guides};
use letfall_core::check::{self, Problem, Severity};
use serde::Serialize;

#[derive(Serialize)]
struct Line<'a> {
    severity: String,
    code: &'a str,
    service: Option<&'a str>,
    cues: Vec<String>,
    what: &'a str,
    remedy: &'a str,
}

pub fn run(args: &cli::Check) -> Answer {
    let show = disk::read_show(&args.show)?;
    let mut problems = match &args.service {
        None => check::show(&show),
        Some(name) => {
            let mut found = check::rig(&show);
            found.extend(check::service(&show, service(&show, Some(name))?));
            found
        }
    };
    let folder = args.show.parent();
    let mut guides = check::guides(&show, |guide| guides::sum(folder, guide));
    guides.retain(|p| args.service.is_none() || p.service == args.service);
    problems.extend(guides);
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
    Ok(Told { text, remarks: Vec::new(), found_stop: stops > 0 })
}

fn as_line(problem: &Problem) -> Line<'_> {
    Line {
        severity: problem.severity().to_string(),
        code: problem.code.text(),
        service: problem.service.as_deref(),
        cues: problem.cues.iter().map(ToString::to_string).collect(),
        what: &problem.what,
        remedy: &problem.remedy,
    }
}
