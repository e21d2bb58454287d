//! Everything that a show's people need, in one folder or one zip file: for each service all sheets, MIDI file, click, timecode and table;
//! the show itself; and an index with the fingerprint of each.

use super::export::fonts_for;
use super::job::{ExportStep, Progress, Silent};
use super::{Export, Product};
use crate::disk;
use crate::failure::Failure;
use letfall_core::file;
use letfall_core::prepared::{Prepared, PreparedShow};
use letfall_export::fingerprints;
use letfall_export::midi::{MidiOptions, Resolution};
use letfall_paper::{EarlierVersion, PaperOptions, Sheet, Size};
use std::fs;
use std::io::{Seek, Write};
use std::path::{Path, PathBuf};
use std::sync::Arc;

/// What goes into a bundle, and how.
#[derive(Debug, Clone, Default)]
pub struct BundleOptions {
    /// Paper.
    pub size: Size,
    /// The date of printing; empty for none.
    pub printed: String,
    /// Whether release messages stand in the MIDI files. An exported file has no hold.
    pub with_releases: bool,
    /// Whether the guide recordings go along.
    pub with_guides: bool,
    /// Samples a second of click and timecode.
    pub sample_rate: u32,
    /// An earlier version of the show, to mark changes against.
    pub previous: Option<Arc<letfall_core::show::Show>>,
    /// Font files for scripts that the built-in typeface lacks.
    pub fonts: Vec<Arc<Vec<u8>>>,
}

/// What was put together.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Bundled {
    /// How many files.
    pub files: usize,
    /// What the user should know, one sentence each.
    pub remarks: Vec<String>,
}

/// A file of the bundle.
struct Entry {
    /// Its path in the bundle, with slashes.
    path: String,
    what: String,
    fingerprint: String,
}

/// A name as it can stand in any file system: letters and digits as they are, anything else a hyphen.
fn plain(name: &str) -> String {
    let mut out = String::new();
    for c in name.trim().chars() {
        let c = if c.is_alphanumeric() { c } else { '-' };
        if c != '-' || !out.ends_with('-') {
            out.push(c);
        }
    }
    let out = out.trim_matches('-');
    if out.is_empty() { "service".to_owned() } else { out.to_lowercase() }
}

/// Names of folders for the services, no two alike whatever the file system takes for the same.
fn folders(names: &[String]) -> Vec<String> {
    let mut taken: Vec<String> = Vec::new();
    for name in names {
        let base = plain(name);
        let all = std::iter::once(base.clone()).chain((2..).map(|n| format!("{base}-{n}")));
        let free = all.into_iter().find(|name| !taken.contains(name)).unwrap_or(base);
        taken.push(free);
    }
    taken
}

/// Puts a bundle together: a folder that must not hold anything yet, or, if the name ends in `.zip`, one file. It is complete or not there.
///
/// # Errors
/// [`Failure`]: what cannot be made, read or written, or [`Failure::Stopped`].
pub fn bundle(
    prepared: &Arc<PreparedShow>,
    folder: Option<&Path>,
    to: &Path,
    options: &BundleOptions,
    progress: &mut dyn Progress,
) -> Result<Bundled, Failure> {
    let cannot = |why: std::io::Error| Failure::Use(format!("{} cannot be written: {why}", to.display()));
    let zipped = to.extension().is_some_and(|end| end.eq_ignore_ascii_case("zip"));
    if !zipped && to.exists() && fs::read_dir(to).map_err(cannot)?.next().is_some() {
        return Err(Failure::Use(format!(
            "{} already holds something; give the bundle a folder of its own",
            to.display()
        )));
    }
    let beside = match to.parent() {
        Some(parent) if !parent.as_os_str().is_empty() => parent.to_owned(),
        _ => PathBuf::from("."),
    };
    // Everything is made in a folder beside the target and moved there whole.
    let work = tempfile::Builder::new().prefix(".letfall-bundle").tempdir_in(&beside).map_err(cannot)?;
    let inside = work.path().join("bundle");
    fs::create_dir(&inside).map_err(cannot)?;
    let made = make(prepared, folder, &inside, options, progress)?;
    if zipped {
        disk::write_with(to, |file| zip(&made.0, &inside, file))?;
    } else {
        if to.exists() {
            fs::remove_dir(to).map_err(cannot)?;
        }
        fs::rename(&inside, to).map_err(cannot)?;
    }
    Ok(Bundled { files: made.0.len(), remarks: made.1 })
}

/// Makes all files in a folder. Returns their paths in the bundle, and remarks.
fn make(
    prepared: &Arc<PreparedShow>,
    folder: Option<&Path>,
    inside: &Path,
    options: &BundleOptions,
    progress: &mut dyn Progress,
) -> Result<(Vec<String>, Vec<String>), Failure> {
    let show = prepared.show();
    let mut entries = Vec::new();
    let mut remarks: Vec<String> = Vec::new();
    // Looked for once: every sheet of every service needs the same.
    let mut options = options.clone();
    if options.fonts.is_empty() {
        let (fonts, remark) = fonts_for(show);
        options.fonts = fonts;
        remarks.extend(remark);
    }
    let names: Vec<String> = show.services.iter().map(|service| service.name.clone()).collect();
    for (at, own) in folders(&names).iter().enumerate() {
        let plan = prepared.prepare(at).map_err(|why| Failure::Use(why.to_string()))?;
        fs::create_dir(inside.join(own)).map_err(|why| Failure::Use(format!("{own} cannot be made: {why}")))?;
        of_service(&plan, own, folder, inside, &options, &mut entries, &mut remarks, progress)?;
    }
    disk::write(&inside.join("show.letfall"), &file::write(show))?;
    entries.push(Entry { path: "show.letfall".into(), what: "The show".into(), fingerprint: String::new() });
    disk::write(&inside.join("index.html"), index(show, &entries).as_bytes())?;
    let mut paths: Vec<String> = entries.into_iter().map(|entry| entry.path).collect();
    paths.push("index.html".into());
    remarks.sort();
    remarks.dedup();
    Ok((paths, remarks))
}

#[allow(clippy::too_many_arguments)]
fn of_service(
    plan: &Arc<Prepared>,
    own: &str,
    folder: Option<&Path>,
    inside: &Path,
    options: &BundleOptions,
    entries: &mut Vec<Entry>,
    remarks: &mut Vec<String>,
    progress: &mut dyn Progress,
) -> Result<(), Failure> {
    let service = plan.service();
    let previous = options.previous.as_ref().map(|show| EarlierVersion::of(show.clone(), &service.name));
    let sheets = letfall_paper::fingerprints(plan);
    let mut products: Vec<(String, String, String, Product)> = Sheet::EACH
        .into_iter()
        .filter(|(sheet, _)| sheet.is_planned(plan.show()))
        .map(|(sheet, name)| {
            let print =
                sheets.iter().find(|(of, _)| *of == sheet).map_or_else(String::new, |(_, print)| print.to_string());
            let paper = PaperOptions {
                size: options.size,
                sheet,
                printed: options.printed.clone(),
                previous: previous.clone(),
                fonts: options.fonts.clone(),
                ..PaperOptions::default()
            };
            (
                format!("{}.pdf", name.to_lowercase().replace(' ', "-")),
                name.to_owned(),
                print,
                Product::Paper(Box::new(paper)),
            )
        })
        .collect();
    let midi = MidiOptions { resolution: Resolution::Quarter960, with_releases: options.with_releases };
    let what =
        if options.with_releases { "MIDI file, with releases: it has no hold" } else { "MIDI file, without releases" };
    let print = fingerprints::of_midi(plan, options.with_releases).to_string();
    products.push(("cues.mid".into(), what.into(), print, Product::Midi(midi)));
    let print = fingerprints::of_table(plan).to_string();
    products.push(("cues.csv".into(), "Cues as a table".into(), print, Product::Table));
    let print = fingerprints::of_click(plan, true).to_string();
    let click = Product::Click { sample_rate: options.sample_rate, section_pips: true };
    products.push(("click.wav".into(), "Click, with pips before sections".into(), print, click));
    if let Some(start) = &service.timecode {
        let start = start.parse().map_err(|why| Failure::Use(why.to_string()))?;
        let print = fingerprints::of_timecode(plan, start, false).to_string();
        let timecode = Product::Timecode { rate: None, sample_rate: options.sample_rate, with_guide: false };
        products.push(("timecode.wav".into(), "Timecode".into(), print, timecode));
    }
    for (name, what, fingerprint, product) in products {
        if !progress.go_on(ExportStep::Making) {
            return Err(Failure::Stopped);
        }
        let with_table = matches!(product, Product::Table);
        let to = inside.join(own).join(&name);
        let export = Export { product, plan: plan.clone(), folder: folder.map(Path::to_owned), to };
        let exported = export.run(&mut Silent)?;
        remarks.extend(exported.remarks.into_iter().map(|remark| format!("{}, {name}: {remark}", service.name)));
        if with_table {
            let path = format!("{own}/{name}.fingerprint.txt");
            entries.push(Entry { path, what: "The table's fingerprint".into(), fingerprint: fingerprint.clone() });
        }
        entries.push(Entry { path: format!("{own}/{name}"), what, fingerprint });
    }
    if let Some(guide) = service.song.guide.as_ref().filter(|_| options.with_guides) {
        let from = folder.map_or_else(|| PathBuf::from(&guide.path), |folder| folder.join(&guide.path));
        let end = from.extension().map_or_else(String::new, |end| format!(".{}", end.to_string_lossy()));
        let path = format!("{own}/guide{end}");
        fs::copy(&from, inside.join(&path))
            .map_err(|why| Failure::Use(format!("the guide {} cannot be copied: {why}", from.display())))?;
        entries.push(Entry { path, what: "The guide recording".into(), fingerprint: String::new() });
    }
    Ok(())
}

/// Text as it stands in a web page.
fn escaped(text: &str) -> String {
    text.replace('&', "&amp;").replace('<', "&lt;").replace('>', "&gt;").replace('"', "&quot;")
}

/// The index: a page that any browser shows, without scripts and without anything from elsewhere.
fn index(show: &letfall_core::show::Show, entries: &[Entry]) -> String {
    let mut parts: Vec<String> = Vec::new();
    let title = escaped(&show.title);
    let version = if show.version.is_empty() { String::new() } else { format!(", version {}", escaped(&show.version)) };
    parts.push(format!(
        "<!doctype html>\n<html lang=\"{}\">\n<head>\n<meta charset=\"utf-8\">\n<title>{title}</title>\n<style>\nbody {{ font: 16px/1.5 \
         sans-serif; margin: 2rem auto; max-width: 60rem; padding: 0 1rem; color: #111; background: #fff }}\ntable {{ \
         border-collapse: collapse; width: 100% }}\nth, td {{ text-align: left; padding: .3rem .6rem .3rem 0; border-bottom: 1px \
         solid #767676 }}\ncode {{ font-weight: bold }}\n</style>\n</head>\n<body>\n<h1>{title}</h1>\n<p>{}{version}. Each file has \
         the fingerprint of the plan that it was made from; it stands on the file itself too. <code>letfall check</code> with \
         <code>--printed</code> and a fingerprint says whether it is still that of the show.</p>\n",
        escaped(&show.language),
        escaped(&show.venue)
    ));
    let mut part = "";
    for entry in entries {
        let own = entry.path.split_once('/').map_or("", |(own, _)| own);
        if own != part || entry.path == entries[0].path {
            if !part.is_empty() {
                parts.push("</table>\n".to_owned());
            }
            let heading = if own.is_empty() { "The show" } else { own };
            parts.push(format!(
                "<h2>{}</h2>\n<table>\n<tr><th>File</th><th>What</th><th>Fingerprint</th></tr>\n",
                escaped(heading)
            ));
            part = own;
        }
        let path = escaped(&entry.path);
        let name = escaped(entry.path.rsplit('/').next().unwrap_or_default());
        parts.push(format!(
            "<tr><td><a href=\"{path}\">{name}</a></td><td>{}</td><td><code>{}</code></td></tr>\n",
            escaped(&entry.what),
            escaped(&entry.fingerprint)
        ));
    }
    parts.push(
        "</table>\n<p>Figures are planning estimates. A message that was sent does not show that the fabric fell: look. Local codes \
         and the person competent for the rig come first.</p>\n</body>\n</html>\n"
            .to_owned(),
    );
    parts.concat()
}

/// Writes the files of a folder into a zip file, in their order and without times, so that the same show gives the same bytes.
fn zip(paths: &[String], inside: &Path, to: &mut (impl Write + Seek)) -> std::io::Result<()> {
    let mut writer = zip::ZipWriter::new(to);
    for path in paths {
        let options = zip::write::SimpleFileOptions::default()
            .compression_method(zip::CompressionMethod::Stored)
            .last_modified_time(zip::DateTime::default());
        writer.start_file(path.as_str(), options).map_err(std::io::Error::other)?;
        let mut from = fs::File::open(inside.join(path))?;
        std::io::copy(&mut from, &mut writer)?;
    }
    writer.finish().map_err(std::io::Error::other)?;
    Ok(())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn folders_are_plain_and_never_alike() {
        let names = ["Early", "early", "Früh / spät", "…", "Early!"].map(str::to_owned);
        assert_eq!(folders(&names), ["early", "early-2", "früh-spät", "service", "early-3"]);
    }
}
