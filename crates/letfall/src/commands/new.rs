//! `letfall new`

use crate::cli;
use crate::output::{Answer, CommandOutput};
use letfall_core::file;
use letfall_core::show::Service;
use letfall_files::{disk, new_show};

pub fn run(args: &cli::New) -> Answer {
    let mut show = new_show::fresh()?;
    if let Some(name) = args.file.file_stem() {
        show.title = name.to_string_lossy().into_owned();
    }
    let mut remarks = Vec::new();
    if let Some(path) = &args.song {
        let (song, notes) = new_show::song_of_midi(path)?;
        show.services = vec![Service::new("First service", song)];
        remarks = notes;
    }
    disk::write_new(&args.file, &file::write(&show))?;
    let text = format!("Made {}: a show with usual tracks, a rig to fill in and one service.\n", args.file.display());
    Ok(CommandOutput::report(text, remarks))
}
