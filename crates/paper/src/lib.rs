//! A finished schedule as pages: PDF through a typesetting engine, from templates in `assets/paper`.
//!
//! Pure: fonts and templates are built in, the date comes with the options, the same input gives the same bytes.

mod data;
mod options;
mod world;

pub use options::{EarlierVersion, PaperOptions, Sheet, Size};

use letfall_core::prepared::Prepared;
use typst::WorldExt;
use typst::diag::{Severity, SourceDiagnostic};
use typst::foundations::Smart;
use typst_layout::PagedDocument;
use typst_pdf::{PdfOptions, PdfStandard, PdfStandards};
use typst_render::RenderOptions;

/// Printed pages.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Paper {
    /// The PDF file.
    pub pdf: Vec<u8>,
    /// How many pages.
    pub pages: usize,
    /// What may not print as meant, one sentence each.
    pub warnings: Vec<String>,
}

/// Why nothing was printed.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum PaperError {
    /// The template cannot be set.
    #[error("template {file}, line {line}, column {column}: {why}{}", if hint.is_empty() { String::new() } else { format!("; {hint}") })]
    Template {
        /// The template's name.
        file: String,
        /// Line, from 1; 0 if the place is not known.
        line: usize,
        /// Column, from 1.
        column: usize,
        /// What is wrong.
        why: String,
        /// What to do, where the engine knows.
        hint: String,
    },
    /// The pages were set and cannot be written as an accessible PDF.
    #[error("the pages cannot be written as tagged PDF/UA-1: {0}")]
    Pdf(String),
}

/// A page as a picture.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Page {
    /// Pixels across.
    pub width: usize,
    /// Pixels down.
    pub height: usize,
    /// Red, green, blue and alpha (premultiplied), row by row.
    pub rgba: Vec<u8>,
}

/// Pages that have been set, and what they were set from.
struct Typeset {
    document: PagedDocument,
    warnings: Vec<String>,
    /// Whether something is used that no font here has.
    lacks_characters: bool,
}

/// Documents that what was worked out for typesetting is kept for after it was last used: the one before, so that a sheet set again
/// after a small change is set quickly, and memory does not grow with every page that was ever looked at.
const KEPT_FOR: usize = 2;

fn typeset(prepared: &Prepared, options: &PaperOptions) -> Result<Typeset, PaperError> {
    typst::comemo::evict(KEPT_FOR);
    let data = data::plan(prepared, options);
    let json = serde_json::to_vec(&data).unwrap_or_default();
    let (name, template) = match &options.template {
        Some((name, text)) => (name.as_str(), text.clone()),
        None => ("main.typ", world::main(options.sheet)),
    };
    let world = world::TypesetWorld::new(template, json.clone(), &options.fonts);
    let compiled = typst::compile::<PagedDocument>(&world);
    let document = compiled.output.map_err(|errors| template_error(&world, name, errors.first()))?;
    let mut warnings = world.uncovered(&json);
    let lacks_characters = !warnings.is_empty();
    let said = compiled.warnings.iter().filter(|w| w.severity == Severity::Warning);
    warnings.extend(said.map(|w| format!("{name}: {}", w.message)));
    Ok(Typeset { document, warnings, lacks_characters })
}

/// Prints a service.
///
/// # Errors
/// [`PaperError`]: a template of one's own that does not work. The built-in ones are tested.
pub fn print(prepared: &Prepared, options: &PaperOptions) -> Result<Paper, PaperError> {
    let Typeset { document, warnings, lacks_characters } = typeset(prepared, options)?;
    // PDF/UA-1 allows no character without a form. Better tagged pages with a box and a warning than no pages.
    let wanted: &[PdfStandard] = if lacks_characters { &[] } else { &[PdfStandard::Ua_1] };
    let standards = PdfStandards::new(wanted).map_err(|e| PaperError::Pdf(e.message().to_string()))?;
    let options = PdfOptions {
        ident: Smart::Custom(format!("{} / {}", prepared.show().title, prepared.service().name)),
        creator: Smart::Custom(Some("Letfall".into())),
        standards,
        ..PdfOptions::default()
    };
    let pdf = typst_pdf::pdf(&document, &options).map_err(|errors| {
        let why = errors.first().map_or_else(String::new, |e| e.message.to_string());
        PaperError::Pdf(if why.contains("document title") {
            "they have no title; begin the template with #show: facts.with(plan, \"My sheet\")".to_owned()
        } else {
            why
        })
    })?;
    Ok(Paper { pdf, pages: document.pages().len(), warnings })
}

/// The same pages as pictures, `scale` pixels to a point of 1/72 inch, handed over one by one: the page, its place from 0,
/// and how many there are. A receiver that answers `false` wants no more.
///
/// # Errors
/// As [`print()`].
pub fn pages(
    prepared: &Prepared,
    options: &PaperOptions,
    scale: f32,
    mut take: impl FnMut(Page, usize, usize) -> bool,
) -> Result<(), PaperError> {
    let Typeset { document, .. } = typeset(prepared, options)?;
    let render = RenderOptions { pixel_per_pt: f64::from(scale).into(), ..RenderOptions::default() };
    let all = document.pages();
    for (at, page) in all.iter().enumerate() {
        let pixels = typst_render::render(page, &render);
        let page = Page { width: pixels.width() as usize, height: pixels.height() as usize, rgba: pixels.take() };
        if !take(page, at, all.len()) {
            break;
        }
    }
    Ok(())
}

fn template_error(world: &world::TypesetWorld, name: &str, error: Option<&SourceDiagnostic>) -> PaperError {
    let Some(error) = error else {
        return PaperError::Pdf("the typesetting engine gave no reason".to_owned());
    };
    let (file, source) = world.file_of(error, name);
    let place = world.range(error.span).and_then(|range| source?.lines().byte_to_line_column(range.start));
    let (line, column) = place.map_or((0, 0), |(line, column)| (line + 1, column + 1));
    PaperError::Template {
        file,
        line,
        column,
        why: error.message.to_string(),
        hint: error.hints.first().map_or_else(String::new, |h| h.v.to_string()),
    }
}
