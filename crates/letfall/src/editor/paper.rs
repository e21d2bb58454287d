//! The real pages, as they will print: set beside the screen, shown page by page.

use super::document::Document;
use egui::{ColorImage, TextureHandle, TextureOptions, Ui};
use letfall_core::schedule::Schedule;
use letfall_paper::{Page, PaperOptions, Size};
use std::sync::mpsc::{Receiver, TryRecvError, channel};
use std::thread;

/// Points of the screen for a point of paper.
const SCALE: f32 = 1.2;

/// The screen's state.
#[derive(Default)]
pub struct PaperScreen {
    size: Size,
    /// What is shown: of which show, service and size.
    shown: Option<(u64, usize, Size)>,
    pages: Vec<TextureHandle>,
    coming: Option<Receiver<Result<Vec<Page>, String>>>,
    failure: Option<String>,
}

impl PaperScreen {
    /// Whether pages are being set, so that the screen must look again soon.
    pub fn is_busy(&self) -> bool {
        self.coming.is_some()
    }

    /// Shows the screen.
    pub fn show(&mut self, ui: &mut Ui, document: &Document) {
        ui.horizontal(|ui| {
            ui.label("Paper");
            ui.radio_value(&mut self.size, Size::A4, "A4");
            ui.radio_value(&mut self.size, Size::Letter, "Letter");
            if self.is_busy() {
                ui.label("setting the pages…");
                if ui.button("Stop").clicked() {
                    self.coming = None;
                }
            } else {
                ui.label(format!("{} pages. Print them with “Export this service's running order”.", self.pages.len()));
            }
        });
        ui.separator();
        self.set(ui, document);
        if let Some(why) = &self.failure {
            ui.colored_label(ui.visuals().error_fg_color, why);
        }
        egui::ScrollArea::both().auto_shrink(false).show(ui, |ui| {
            for (at, page) in self.pages.iter().enumerate() {
                let [w, h] = page.size();
                #[allow(clippy::cast_precision_loss)] // pixels
                let size = egui::vec2(w as f32, h as f32) / 2.0 * SCALE;
                let image =
                    egui::Image::new((page.id(), size)).alt_text(format!("Page {} of {}", at + 1, self.pages.len()));
                ui.add(image);
                ui.add_space(12.0);
            }
        });
    }

    fn set(&mut self, ui: &Ui, document: &Document) {
        let wanted = (document.revision, document.service, self.size);
        if self.shown != Some(wanted) && self.coming.is_none() {
            self.shown = Some(wanted);
            let (to, from) = channel();
            let (show, at, size) = (document.show.clone(), document.service, self.size);
            let ctx = ui.ctx().clone();
            let work = move || {
                drop(to.send(render(&show, at, size)));
                ctx.request_repaint();
            };
            if thread::Builder::new().name("pages".into()).spawn(work).is_ok() {
                self.coming = Some(from);
            }
        }
        let Some(from) = &self.coming else { return };
        match from.try_recv() {
            Ok(Ok(pages)) => {
                self.failure = None;
                self.pages = pages
                    .iter()
                    .enumerate()
                    .map(|(at, page)| {
                        let image = ColorImage::from_rgba_premultiplied([page.width, page.height], &page.rgba);
                        ui.ctx().load_texture(format!("page {at}"), image, TextureOptions::LINEAR)
                    })
                    .collect();
                self.coming = None;
            }
            Ok(Err(why)) => {
                self.failure = Some(why);
                self.pages.clear();
                self.coming = None;
            }
            Err(TryRecvError::Disconnected) => self.coming = None,
            Err(TryRecvError::Empty) => {}
        }
    }
}

fn render(show: &letfall_core::show::Show, at: usize, size: Size) -> Result<Vec<Page>, String> {
    let service = show.services.get(at).ok_or("This show has no service yet.")?;
    let schedule = Schedule::build(show, service).map_err(|e| e.to_string())?;
    let options = PaperOptions { size, ..PaperOptions::default() };
    letfall_paper::pages(show, service, &schedule, &options, 2.0 * SCALE).map_err(|e| e.to_string())
}
