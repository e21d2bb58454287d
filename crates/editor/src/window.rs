//! The editor in a window of the operating system.

use crate::editor::Editor;
use crate::widgets::theme;
use letfall_core::show::Show;
use std::path::PathBuf;

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

/// Opens the editor in a window.
///
/// # Errors
/// Why no window can be opened, in one sentence.
pub fn open(show: Show, path: Option<PathBuf>) -> Result<(), String> {
    let make: eframe::AppCreator<'_> = Box::new(move |cc| {
        cc.egui_ctx.set_fonts(theme::fonts());
        let mut editor = Editor::new(show, path);
        editor.rehearsal.keeper = std::env::current_exe().ok();
        Ok(Box::new(editor))
    });
    eframe::run_native("letfall", window(), make).map_err(|e| {
        format!("no window can be opened here ({e}); every export can be had from the command line, see letfall --help")
    })
}
