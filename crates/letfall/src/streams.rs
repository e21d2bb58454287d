//! Standard input and output as files: `-` reads a show or MIDI file from the one and writes to the other. What is read and what is written
//! must not be one file, unless that was said.

use crate::cli;
use crate::output::CommandOutput;
use letfall_core::show::Show;
use letfall_files::{Failure, disk};
use std::fs;
use std::io::Write as _;
use std::path::{Path, PathBuf};

/// Whether a path means standard input or output.
pub fn is_stream(path: &Path) -> bool {
    path.as_os_str() == "-"
}

/// Reads a whole file, or standard input.
pub fn read(what: &'static str, path: &Path) -> Result<Vec<u8>, Failure> {
    if !is_stream(path) {
        return disk::read(what, path);
    }
    disk::read_from(what, Path::new("standard input"), std::io::stdin().lock())
}

/// Reads a show from a file or from standard input.
pub fn read_show(path: &Path) -> Result<Show, Failure> {
    let bytes = read("the show", path)?;
    letfall_core::file::read(&bytes).map_err(|why| Failure::Show {
        why,
        path: if is_stream(path) { PathBuf::from("standard input") } else { path.to_owned() },
    })
}

/// Writes a whole file, or to standard output.
pub fn write(path: &Path, bytes: &[u8]) -> Result<(), Failure> {
    if !is_stream(path) {
        return disk::write(path, bytes);
    }
    let mut out = std::io::stdout().lock();
    let written = out.write_all(bytes).and_then(|()| out.flush());
    written.map_err(|why| Failure::Write { why: why.to_string(), path: PathBuf::from("standard output") })
}

/// Where a command writes a show: `-o`, or the show itself where `--in-place` is said. Refuses to write over what is read otherwise.
pub fn target(input: &Path, target: &cli::Target) -> Result<PathBuf, Failure> {
    match &target.output {
        None => Ok(input.to_owned()),
        Some(output) => {
            if !target.in_place {
                not_over(input, output)?;
            }
            Ok(output.to_owned())
        }
    }
}

/// Refuses to write a file over the show that it is made from.
pub fn not_over(input: &Path, output: &Path) -> Result<(), Failure> {
    let whole = |path: &Path| fs::canonicalize(path).ok();
    let same = !is_stream(input) && !is_stream(output) && whole(input).is_some_and(|one| whole(output) == Some(one));
    if same {
        let name = output.display();
        return Err(Failure::Use(format!(
            "{name} is what is read: nothing was written, so that it is not lost; name another file after -o (a show can be changed \
             where it is with --in-place)"
        )));
    }
    Ok(())
}

/// What a command says once a file is written: on standard output, or as a remark where that holds the file itself.
pub fn told(output: &Path, text: String, mut remarks: Vec<String>) -> CommandOutput {
    if is_stream(output) {
        remarks.insert(0, text.trim_end().to_owned());
        return CommandOutput::report(String::new(), remarks);
    }
    CommandOutput::report(text, remarks)
}
