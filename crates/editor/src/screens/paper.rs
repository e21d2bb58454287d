//! The real pages, as they will print: typeset in the background, shown one by one as they are finished, and exported from
//! here.

use crate::commands::Command;
use crate::document::Document;
use crate::jobs::FilePurpose;
use crate::request::{Requests, UiRequest};
use egui::{ColorImage, TextureHandle, TextureOptions, Ui};
use letfall_core::filmed::FilmPage;
use letfall_core::performed::Performed;
use letfall_core::prepared::Prepared;
use letfall_core::show::Show;
use letfall_files::exports::BundleOptions;
use letfall_paper::{EarlierVersion, Page, PaperOptions, Sheet, Size};
use std::sync::Arc;
use std::sync::mpsc::{Receiver, SyncSender, TryRecvError, sync_channel};
use std::thread;

/// Screen points per point on paper.
const SCALE: f32 = 1.15;
/// The most pages that are shown; a page is a 3 MB image.
const MOST: usize = 60;

const SIZES: [(Size, &str); 4] =
    [(Size::A4, "A4"), (Size::Letter, "Letter"), (Size::A3, "A3 (wall)"), (Size::Tabloid, "Tabloid (wall)")];

/// What the worker sends: a page, its index and the number of pages; or why there are none.
type Sent = Result<(Page, usize, usize), String>;

/// What the pages depend on: revision of the show, service, sheet, size and earlier version.
type Of = (u64, usize, Sheet, Size, usize);

/// The chosen way to print. The earlier version is prepared later, on a background thread.
pub struct PaperChoice {
    size: Size,
    sheet: Sheet,
    previous: Option<(Arc<Show>, String)>,
    fonts: Vec<Arc<Vec<u8>>>,
    performed: Option<Arc<Performed>>,
    filmed: Option<Arc<FilmPage>>,
}

impl PaperChoice {
    /// How everything is put together in one bundle.
    pub fn bundle(self, sample_rate: u32) -> BundleOptions {
        BundleOptions {
            size: self.size,
            sample_rate,
            previous: self.previous.map(|(show, _)| show),
            fonts: self.fonts,
            ..BundleOptions::default()
        }
    }

    /// The options that `letfall_paper` takes.
    pub fn options(self) -> PaperOptions {
        PaperOptions {
            size: self.size,
            sheet: self.sheet,
            previous: self.previous.map(|(show, service)| EarlierVersion::of(show, &service)),
            fonts: self.fonts,
            performed: self.performed,
            filmed: self.filmed,
            ..PaperOptions::default()
        }
    }
}

/// The screen's state.
#[derive(Default)]
pub struct PaperScreen {
    size: Size,
    sheet: Sheet,
    previous: Option<(String, Arc<Show>)>,
    /// What is known of a performance, to fill in its report.
    performed: Option<Arc<Performed>>,
    /// What a film shows, for its sheet.
    filmed: Option<Arc<FilmPage>>,
    /// Counts changes of the earlier version, and of what is known of a performance or a film.
    compared: usize,
    /// System fonts for scripts that our own typeface lacks.
    fonts: Vec<Arc<Vec<u8>>>,
    shown: Option<Of>,
    pages: Vec<TextureHandle>,
    count: usize,
    coming: Option<Receiver<Sent>>,
    failure: Option<String>,
}

impl PaperScreen {
    /// How the pages on screen are printed, for the service with this name.
    pub fn choice(&self, service: &str) -> PaperChoice {
        PaperChoice {
            size: self.size,
            sheet: self.sheet,
            previous: self.previous.as_ref().map(|(_, show)| (show.clone(), service.to_owned())),
            fonts: self.fonts.clone(),
            performed: self.performed.clone(),
            filmed: self.filmed.clone().filter(|page| page.service == service),
        }
    }

    /// The sheet's name for use in a file name, such as "call-sheet".
    pub fn file_word(&self) -> String {
        self.sheet.name().to_lowercase().replace(' ', "-")
    }

    /// Sets system fonts for scripts that our own typeface lacks, and typesets the pages again.
    pub fn set_fonts(&mut self, fonts: Vec<Arc<Vec<u8>>>) {
        self.fonts = fonts;
        self.shown = None;
    }

    /// Marks what differs from an earlier version of the show.
    pub fn compare(&mut self, name: String, show: Show) {
        self.previous = Some((name, Arc::new(show)));
        self.compared += 1;
    }

    /// Shows the report of a performance, filled in with what is known.
    pub fn fill_in(&mut self, performed: Performed) {
        self.performed = Some(Arc::new(performed));
        self.sheet = Sheet::Report;
        self.compared += 1;
    }

    /// Shows what a film shows.
    pub fn show_film(&mut self, page: FilmPage) {
        self.filmed = Some(Arc::new(page));
        self.sheet = Sheet::Filmed;
        self.compared += 1;
    }

    /// Shows the screen.
    pub fn show(&mut self, ui: &mut Ui, document: &Document, requests: &mut Requests) {
        self.controls(ui, document, requests);
        ui.separator();
        self.set(ui, document);
        if let Some(why) = &self.failure {
            ui.colored_label(ui.visuals().error_fg_color, why);
        }
        egui::ScrollArea::both().auto_shrink(false).show(ui, |ui| {
            ui.spacing_mut().item_spacing = egui::vec2(14.0, 14.0);
            ui.horizontal_wrapped(|ui| self.pictures(ui));
            if self.count > MOST {
                ui.label(format!("{} more pages are in the file; export it to see them.", self.count - MOST));
            }
        });
    }

    fn pictures(&self, ui: &mut Ui) {
        for (at, page) in self.pages.iter().enumerate() {
            let [w, h] = page.size();
            let density = ui.pixels_per_point();
            #[allow(clippy::cast_precision_loss)] // pixels
            let size = egui::vec2(w as f32, h as f32) / density;
            let image = egui::Image::new((page.id(), size)).alt_text(format!("Page {} of {}", at + 1, self.count));
            ui.add(image);
        }
    }

    fn controls(&mut self, ui: &mut Ui, document: &Document, requests: &mut Requests) {
        ui.horizontal_wrapped(|ui| {
            ui.selectable_value(&mut self.sheet, Sheet::All, "All sheets");
            let service = document.current().map_or("", |service| &service.name);
            let has_film = self.filmed.as_ref().is_some_and(|page| page.service == service);
            for (sheet, name) in Sheet::EACH.into_iter().filter(|(sheet, _)| *sheet != Sheet::Filmed || has_film) {
                ui.selectable_value(&mut self.sheet, sheet, name);
            }
        });
        ui.horizontal_wrapped(|ui| {
            let label = ui.label("Paper");
            let shown = SIZES.iter().find(|s| s.0 == self.size).map_or("", |s| s.1);
            let combo = egui::ComboBox::from_id_salt("paper size").selected_text(shown).width(130.0);
            let combo = combo.show_ui(ui, |ui| {
                for (size, words) in SIZES {
                    ui.selectable_value(&mut self.size, size, words);
                }
            });
            combo.response.labelled_by(label.id);
            if ui.button("Mark changes since…").clicked() {
                requests.push(UiRequest::File(FilePurpose::Previous));
            }
            if let Some((name, _)) = &self.previous {
                ui.label(format!("since {name}"));
                if ui.button("No marks").clicked() {
                    self.previous = None;
                    self.compared += 1;
                }
            }
            if let Some(performed) = &self.performed {
                let began = performed.began.map_or_else(String::new, |at| format!(" that began at {at}"));
                ui.label(format!("the report holds the run{began}"));
                if ui.button("Empty form").clicked() {
                    self.performed = None;
                    self.compared += 1;
                }
            }
            if ui.button("Export these pages…").clicked() {
                requests.command(Command::ExportPaper);
            }
            if ui.button("Export everything as one bundle…").clicked() {
                requests.command(Command::ExportBundle);
            }
            if self.coming.is_some() {
                ui.label(if self.count == 0 {
                    "setting the pages…".to_owned()
                } else {
                    format!("page {} of {}…", self.pages.len(), self.count)
                });
                if ui.button("Stop").clicked() {
                    self.coming = None;
                }
            } else {
                ui.label(format!("{} page{}", self.count, if self.count == 1 { "" } else { "s" }));
            }
        });
    }

    fn set(&mut self, ui: &Ui, document: &Document) {
        let wanted = (document.revision, document.service, self.sheet, self.size, self.compared);
        if self.shown != Some(wanted) {
            // A worker still typesetting the old pages sees that nobody receives them, and stops.
            self.coming = None;
            self.shown = Some(wanted);
            (self.count, self.failure) = (0, None);
            self.pages.clear();
            let (to, from) = sync_channel(2);
            let service = document.current().map_or("", |service| &service.name);
            let (plan, options) = (document.plan(), self.choice(service));
            let (ctx, scale) = (ui.ctx().clone(), SCALE * ui.pixels_per_point());
            let work = move || {
                if let Err(why) = render(plan, &options.options(), scale, &to, &ctx) {
                    drop(to.send(Err(why)));
                }
                drop(to);
                ctx.request_repaint();
            };
            if thread::Builder::new().name("pages".into()).spawn(work).is_ok() {
                self.coming = Some(from);
            }
        }
        // Take one page per frame: making a texture takes a few milliseconds, and sixty at once would be noticeable.
        let Some(from) = &self.coming else { return };
        match from.try_recv() {
            Ok(Ok((page, at, count))) => {
                let image = ColorImage::from_rgba_premultiplied([page.width, page.height], &page.rgba);
                self.pages.push(ui.ctx().load_texture(format!("page {at}"), image, TextureOptions::LINEAR));
                self.count = count;
                ui.ctx().request_repaint();
            }
            Ok(Err(why)) => (self.failure, self.coming) = (Some(why), None),
            Err(TryRecvError::Disconnected) => self.coming = None,
            Err(TryRecvError::Empty) => {}
        }
    }
}

fn render(
    plan: Result<Arc<Prepared>, String>,
    options: &PaperOptions,
    scale: f32,
    to: &SyncSender<Sent>,
    ctx: &egui::Context,
) -> Result<(), String> {
    letfall_paper::pages(&*plan?, options, scale, |page, at, count| {
        let taken = to.send(Ok((page, at, count))).is_ok();
        ctx.request_repaint();
        taken && at + 1 < MOST
    })
    .map_err(|e| e.to_string())
}
