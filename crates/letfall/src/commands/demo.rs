//! `letfall demo`: writes the demo shows and their recordings into a folder.

use super::common::line;
use crate::cli;
use crate::output::{Answer, CommandOutput};
use letfall_files::demo_shows;

pub fn run(args: &cli::Demo) -> Answer {
    let written = demo_shows::write(&args.folder)?;
    let mut text = String::new();
    for path in &written.files {
        line!(text, "{}", path.display());
    }
    let remarks = written
        .left_alone
        .iter()
        .map(|path| format!("{} is there and was changed; it is left as it is", path.display()))
        .collect();
    Ok(CommandOutput::report(text, remarks))
}
