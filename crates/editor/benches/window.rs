//! The editor in a real window: its first frame compared with an empty window's, and the longest frame while a large show
//! opens.
//!
//! Needs a display; if there is none, Xvfb provides one. Each start is a process of its own.

#![allow(clippy::unwrap_used, missing_docs)]

#[path = "../tests/editor/display.rs"]
mod display;

use letfall_editor::{Editor, widgets::theme, window};
use std::io::{BufRead as _, BufReader};
use std::path::{Path, PathBuf};
use std::process::{Child, Command, Stdio};
use std::time::{Duration, Instant};

const ROUNDS: usize = 7;
const CUES: u32 = 100_000;

/// Reports when the first frame has been shown, then exits.
struct First<A> {
    app: A,
    frames: u32,
}

impl<A: eframe::App> eframe::App for First<A> {
    fn ui(&mut self, ui: &mut egui::Ui, frame: &mut eframe::Frame) {
        self.frames += 1;
        if self.frames == 2 {
            // egui asks for a second frame only once the first is on the screen.
            println!("shown");
            std::process::exit(0);
        }
        self.app.ui(ui, frame);
        ui.ctx().request_repaint();
    }
}

/// An empty window: one panel with nothing on it. Without even that nothing would be drawn, and the cost of any program's first
/// drawing (shaders, which this machine compiles for the CPU) would be counted only against the editor.
struct Empty;

impl eframe::App for Empty {
    fn ui(&mut self, ui: &mut egui::Ui, _: &mut eframe::Frame) {
        egui::CentralPanel::default().show(ui, |_| {});
    }
}

/// Opens a large show in the background, draws continuously, and reports how long the longest frame took.
struct Opens {
    editor: Editor,
    path: PathBuf,
    frames: u32,
    longest: Duration,
}

impl eframe::App for Opens {
    fn ui(&mut self, ui: &mut egui::Ui, frame: &mut eframe::Frame) {
        self.frames += 1;
        if self.frames == 20 {
            self.editor.open_file(self.path.clone());
        }
        let start = Instant::now();
        self.editor.ui(ui, frame);
        if self.frames >= 20 {
            self.longest = self.longest.max(start.elapsed());
        }
        if self.editor.document.path.as_deref() == Some(&self.path) && self.frames > 30 {
            println!("{}", self.longest.as_secs_f64() * 1e3);
            std::process::exit(0);
        }
        ui.ctx().request_repaint();
    }
}

fn child(what: &str, path: &Path) {
    let demo = Path::new(env!("CARGO_MANIFEST_DIR")).join("../../demo-shows/lantern-night.letfall");
    let read = move || letfall_core::file::read(&std::fs::read(demo).unwrap()).unwrap();
    let (what, path) = (what.to_owned(), path.to_owned());
    let make: eframe::AppCreator<'_> = Box::new(move |cc| {
        if what == "empty" {
            return Ok(Box::new(First { app: Empty, frames: 0 }));
        }
        cc.egui_ctx.set_fonts(theme::fonts());
        let editor = Editor::with_recovery(read(), None, path.parent().unwrap().to_owned());
        if what == "editor" {
            return Ok(Box::new(First { app: editor, frames: 0 }));
        }
        Ok(Box::new(Opens { editor, path, frames: 0, longest: Duration::ZERO }))
    });
    eframe::run_native("letfall", window(), make).unwrap();
}

/// Starts a display if there is none.
fn display_if_none() -> Option<(Child, String)> {
    if std::env::var_os("DISPLAY").is_some() || std::env::var_os("WAYLAND_DISPLAY").is_some() {
        return None;
    }
    Some(display::start(None))
}

fn main() {
    let args: Vec<String> = std::env::args().collect();
    if let [_, what, path] = args.as_slice()
        && what != "--bench"
    {
        return child(what, Path::new(path));
    }
    let folder = tempfile::tempdir().unwrap();
    let large = folder.path().join("large.letfall");
    std::fs::write(&large, letfall_core::file::write(&letfall_core::stress::show(CUES, 500).unwrap())).unwrap();
    let server = display_if_none();
    let start = |what: &str| {
        let mut command = Command::new(std::env::current_exe().unwrap());
        command.arg(what).arg(&large).stdout(Stdio::piped()).stderr(Stdio::null());
        if let Some((_, display)) = &server {
            command.env("DISPLAY", display);
        }
        let begun = Instant::now();
        let mut child = command.spawn().unwrap();
        let mut line = String::new();
        BufReader::new(child.stdout.take().unwrap()).read_line(&mut line).unwrap();
        let took = begun.elapsed();
        child.wait().unwrap();
        (took, line)
    };
    // Alternate between the two, so that other load on the machine affects both alike, and take the median of each.
    let (mut empty, mut editor) = (Vec::new(), Vec::new());
    for _ in 0..ROUNDS {
        empty.push(start("empty").0);
        editor.push(start("editor").0);
    }
    empty.sort();
    editor.sort();
    let (base, own) = (empty[ROUNDS / 2], editor[ROUNDS / 2]);
    let ratio = own.as_secs_f64() / base.as_secs_f64();
    println!(
        "first frame, from the start of the program {:>8.0} ms   {ratio:>6.2} × an empty window's {:.0} ms   (at most 1.5: {})",
        own.as_secs_f64() * 1e3,
        base.as_secs_f64() * 1e3,
        if ratio <= 1.5 { "reached" } else { "NOT REACHED" }
    );
    let longest: f64 = start("opens").1.trim().parse().unwrap();
    println!(
        "longest frame while {CUES} cues are opened   {longest:>8.1} ms   (at most 100: {})",
        if longest <= 100.0 { "reached" } else { "NOT REACHED" }
    );
    if let Some((mut server, _)) = server {
        server.kill().unwrap();
        server.wait().unwrap();
    }
}
