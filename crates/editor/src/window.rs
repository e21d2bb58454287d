//! The editor in a window of the operating system.

use crate::drawing_backend::{backends_to_try, drawn_by, words};
use crate::editor::Editor;
use crate::widgets::theme;
use eframe::wgpu::Backends;
use letfall_core::show::Show;
use std::cell::RefCell;
use std::io::Write as _;
use std::path::{Path, PathBuf};
use std::rc::Rc;

impl eframe::App for Editor {
    fn clear_color(&self, _: &egui::Visuals) -> [f32; 4] {
        self.theme.palette().panel.to_normalized_gamma_f32()
    }

    fn ui(&mut self, ui: &mut egui::Ui, _: &mut eframe::Frame) {
        self.draw(ui, true);
        if std::mem::take(&mut self.full_screen) {
            let is = ui.input(|i| i.viewport().fullscreen.unwrap_or(false));
            ui.ctx().send_viewport_cmd(egui::ViewportCommand::Fullscreen(!is));
        }
        // Each command to the window asks for another frame, so send one only if the title has changed.
        let title = self.document.title();
        if title != self.titled {
            ui.ctx().send_viewport_cmd(egui::ViewportCommand::Title(title.clone()));
            self.titled = title;
        }
        if ui.input(|i| i.viewport().close_requested()) {
            if !self.may_close() {
                ui.ctx().send_viewport_cmd(egui::ViewportCommand::CancelClose);
            }
        } else if self.close {
            ui.ctx().send_viewport_cmd(egui::ViewportCommand::Close);
        }
    }
}

/// Runs as the keeper of contacts that another process of this program has started, until that one is gone.
///
/// # Errors
/// How many contacts could not be opened, in words.
pub fn keep_contacts() -> Result<(), String> {
    let (_, closed) = letfall_live::keep_contacts(std::io::stdin().lock(), &mut letfall_live::SystemPorts);
    if closed == 0 { Ok(()) } else { Err(format!("{closed} contacts could not be opened")) }
}

/// Options for opening the window.
pub fn window() -> eframe::NativeOptions {
    eframe::NativeOptions {
        viewport: egui::ViewportBuilder::default()
            .with_title("Letfall")
            .with_inner_size([1440.0, 900.0])
            .with_min_inner_size([960.0, 600.0]),
        ..eframe::NativeOptions::default()
    }
}

/// Opens the editor in a window, with the first way of drawing that works. The log in the program's folder says which one it was.
///
/// # Errors
/// Why no window can be opened, in one sentence.
pub fn open(show: &Show, path: Option<&Path>) -> Result<(), String> {
    let unread = letfall_platform::leave_own_console();
    let mut failed: Vec<String> = Vec::new();
    for backends in backends_to_try() {
        let begun: Rc<RefCell<Option<egui::Context>>> = Rc::default();
        let Err(why) = open_by(backends, &begun, show.clone(), path.map(Path::to_owned)) else { return Ok(()) };
        log_drawing(&format!("not drawn by {backends:?}: {why}"));
        failed.push(why.to_string());
        // Without a display no way of drawing helps. A window that was there and went on for a while may hold work, which is put by; no
        // other is opened in its place.
        let went_on = begun.borrow().as_ref().is_some_and(|context| context.cumulative_frame_nr() > FIRST_FRAMES);
        if went_on || !matches!(why, eframe::Error::Wgpu(_)) {
            break;
        }
    }
    failed.dedup();
    let why = format!(
        "no window can be opened here ({}); every export can be had from the command line, see letfall --help",
        failed.join("; ")
    );
    if unread {
        // Without a console only a message box can say it.
        rfd::MessageDialog::new().set_title("Letfall").set_description(&why).show();
    }
    Err(why)
}

/// A way of drawing that cannot draw fails within so many frames.
const FIRST_FRAMES: u64 = 3;

fn open_by(
    backends: Backends,
    begun: &Rc<RefCell<Option<egui::Context>>>,
    show: Show,
    path: Option<PathBuf>,
) -> eframe::Result {
    let begun = Rc::clone(begun);
    let make: eframe::AppCreator<'_> = Box::new(move |cc| {
        *begun.borrow_mut() = Some(cc.egui_ctx.clone());
        let by = cc.wgpu_render_state.as_ref().map(|state| words(&state.adapter.get_info()));
        log_drawing(&format!("drawn by {}", by.unwrap_or_else(|| "something unknown".to_owned())));
        cc.egui_ctx.set_fonts(theme::fonts());
        let mut editor = Editor::new(show, path);
        editor.rehearsal.keeper = std::env::current_exe().ok();
        Ok(Box::new(editor))
    });
    let options = eframe::NativeOptions { wgpu_options: drawn_by(backends), ..window() };
    eframe::run_native("letfall", options, make)
}

/// The name of the log of how windows were drawn.
const LOG: &str = "window.log";

/// Notes in the program's folder how the window is drawn: for whoever asks why it looks odd, or why there is none. That it cannot be
/// written is no reason not to open the window.
fn log_drawing(words: &str) {
    let folder = letfall_platform::program_folder();
    let line = format!("{} {words}\n", letfall_platform::utc_stamp());
    let kept = std::fs::create_dir_all(&folder).and_then(|()| {
        let path = folder.join(LOG);
        // A few hundred starts; after that it begins anew.
        let begins_anew = std::fs::metadata(&path).is_ok_and(|file| file.len() > 50_000);
        let mut options = std::fs::OpenOptions::new();
        let file = if begins_anew { options.write(true).truncate(true) } else { options.append(true) };
        file.create(true).open(path)?.write_all(line.as_bytes())
    });
    drop(kept);
}
