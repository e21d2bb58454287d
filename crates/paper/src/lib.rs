//! Prints a finished schedule as PDF, through a typesetting engine, from templates in `assets/paper`.
//!
//! It is pure: fonts and templates are built in, the date comes with the options, and the same input gives the same bytes.

mod complete;
mod data;
#[cfg(test)]
mod legible;
mod options;
#[cfg(test)]
mod sentences;
#[cfg(test)]
mod turns;
mod world;

pub use options::{EarlierVersion, PaperOptions, Sheet, Size};

use letfall_core::fingerprint::Fingerprint;
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
    /// What may not print as intended, one sentence each.
    pub warnings: Vec<String>,
}

/// Why nothing was printed.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum PaperError {
    /// The template cannot be typeset.
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
        /// What to do, if the engine knows.
        hint: String,
    },
    /// Something that people say or do would not be on the pages.
    #[error("nothing was printed, because these would be missing on the pages: {}; shorten long texts, or print on larger paper", .0.join(", "))]
    Lost(Vec<String>),
    /// The pages were typeset but cannot be written as an accessible PDF.
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

/// Typeset pages, and the warnings about them.
struct Typeset {
    document: PagedDocument,
    warnings: Vec<String>,
    /// Whether a character is used that no font here has.
    lacks_characters: bool,
}

/// How many documents the engine keeps cached results for after their last use. Enough that a sheet is quick to set again after
/// a small change, and few enough that memory does not grow with every page ever looked at.
const KEPT_FOR: usize = 2;

fn typeset(prepared: &Prepared, options: &PaperOptions) -> Result<Typeset, PaperError> {
    typst::comemo::evict(KEPT_FOR);
    let data = data::for_template(prepared, options);
    let json = serde_json::to_vec(&data).unwrap_or_default();
    let (name, template) = match &options.template {
        Some((name, text)) => (name.as_str(), text.clone()),
        None => ("main.typ", world::main(options.sheet, prepared.show())),
    };
    let world = world::TypesetWorld::new(template, json.clone(), &options.fonts);
    let compiled = typst::compile::<PagedDocument>(&world);
    let document = compiled.output.map_err(|errors| template_error(&world, name, errors.first()))?;
    if options.template.is_none() {
        let lost = complete::lost(prepared, options.sheet, &complete::text_of(&document));
        if !lost.is_empty() {
            return Err(PaperError::Lost(lost));
        }
    }
    let mut warnings = world.uncovered(&json);
    let lacks_characters = !warnings.is_empty();
    let said = compiled.warnings.iter().filter(|w| w.severity == Severity::Warning);
    warnings.extend(said.map(|w| format!("{name}: {}", w.message)));
    Ok(Typeset { document, warnings, lacks_characters })
}

/// The fingerprint of each sheet of a service as it would be printed now, whatever the paper, the date or the earlier version.
pub fn fingerprints(prepared: &Prepared) -> Vec<(Sheet, Fingerprint)> {
    data::fingerprints(prepared)
}

/// Prints a service.
///
/// # Errors
/// [`PaperError`] if a custom template does not work. The built-in ones are tested.
pub fn print(prepared: &Prepared, options: &PaperOptions) -> Result<Paper, PaperError> {
    let Typeset { document, warnings, lacks_characters } = typeset(prepared, options)?;
    // PDF/UA-1 allows no character without a glyph. Tagged pages with a box and a warning are better than no pages.
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

/// The same pages as pictures, at `scale` pixels per point of 1/72 inch. `take` gets them one by one: the page, its index from
/// 0, and how many there are. It returns `false` to stop.
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
