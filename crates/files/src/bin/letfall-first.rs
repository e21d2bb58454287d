//! The first results of a fresh build, available before the typesetting and the window are built: checks a show and writes the
//! MIDI file and the table of every service. `letfall` does the same and everything else.

use letfall_export::midi::MidiOptions;
use letfall_files::exports::{Export, Product, Silent};
use letfall_files::{Failure, demo_shows, disk, prepared_show};
use std::path::{Path, PathBuf};
use std::process::ExitCode;
use std::sync::Arc;

fn main() -> ExitCode {
    let args: Vec<PathBuf> = std::env::args_os().skip(1).map(PathBuf::from).collect();
    let [show, out] = args.as_slice() else {
        eprintln!("usage: letfall-first SHOW FOLDER");
        return ExitCode::from(2);
    };
    match first(show, out) {
        Ok(()) => ExitCode::SUCCESS,
        Err(why) => {
            eprintln!("{why}");
            ExitCode::FAILURE
        }
    }
}

fn first(path: &Path, out: &Path) -> Result<(), Failure> {
    let folder = path.parent();
    // The demo shows' recordings are rendered, not committed.
    if let Some(folder) = folder {
        demo_shows::write(folder)?;
    }
    let show = prepared_show(Arc::new(disk::read_show(path)?), folder);
    let problems = show.problems();
    for problem in &problems {
        println!("{problem}");
    }
    println!("{} problems found", problems.len());
    let stem = path.file_stem().unwrap_or_default().to_string_lossy();
    for at in 0..show.show().services.len() {
        let plan = show.prepare(at)?;
        let name = plan.service().name.to_lowercase();
        for (product, ending) in [(Product::Midi(MidiOptions::default()), "mid"), (Product::Table, "csv")] {
            let to = out.join(format!("{stem}-{name}.{ending}"));
            let export = Export { product, plan: plan.clone(), folder: folder.map(Path::to_owned), to: to.clone() };
            println!("Wrote {}: {}", to.display(), export.run(&mut Silent)?.words);
        }
    }
    Ok(())
}
