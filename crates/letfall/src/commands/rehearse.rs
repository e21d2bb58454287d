//! `letfall rehearse`

use super::common::{count, from_json, prepared};
use crate::cli;
use crate::output::{Answer, CommandOutput};
use crate::streams;
use letfall_files::Failure;
use letfall_live::{LogRecord, RunPlan, Script, rehearse};
use std::sync::Arc;

pub fn run(args: &cli::Rehearse) -> Answer {
    streams::not_over(&args.show, &args.output)?;
    streams::not_over(&args.script, &args.output)?;
    let prepared = prepared(&args.show, args.service.as_deref())?;
    let in_file = |why: &dyn std::fmt::Display| Failure::Use(format!("{}: {why}", args.script.display()));
    let bytes = streams::read("the script", &args.script)?;
    let script: Script = from_json(&args.script, &bytes)?;
    let plan = Arc::new(RunPlan::new(prepared));
    let log = rehearse(&plan, &script).map_err(|why| in_file(&why))?;
    let mut text = String::new();
    for record in &log {
        super::common::json_line(&mut text, record);
    }
    let refused =
        log.iter().filter(|line| matches!(line, LogRecord::Bend { answer, .. } if answer == "refused")).count();
    let mut remarks = Vec::new();
    if refused > 0 {
        remarks.push(format!("{} of the script changed nothing; the log says why", count(refused, "choice")));
    }
    if streams::is_stream(&args.output) {
        return Ok(CommandOutput { text, remarks, found_stop: false, is_report: false });
    }
    streams::write(&args.output, text.as_bytes())?;
    let said = format!(
        "Rehearsed \"{}\" without devices; wrote {} of log to {}.\n",
        plan.service,
        count(log.len(), "line"),
        args.output.display()
    );
    Ok(streams::told(&args.output, said, remarks))
}
