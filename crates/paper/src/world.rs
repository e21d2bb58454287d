//! Everything the typesetting engine can see: templates, one data file, fonts. No disk, no network, no date.

use super::options::Sheet;
use letfall_core::show::Show;
use std::collections::BTreeSet;
use std::sync::Arc;
use typst::diag::{FileError, FileResult, SourceDiagnostic};
use typst::foundations::{Bytes, Datetime, Duration};
use typst::syntax::{FileId, RootedPath, Source, VirtualPath, VirtualRoot};
use typst::text::{Font, FontBook};
use typst::utils::LazyHash;
use typst::{Library, LibraryExt, World};

/// The templates, by the names they import each other by.
const TEMPLATES: [(&str, &str); 16] = [
    ("house.typ", include_str!("../../../assets/paper/house.typ")),
    ("order.typ", include_str!("../../../assets/paper/order.typ")),
    ("calls.typ", include_str!("../../../assets/paper/calls.typ")),
    ("department.typ", include_str!("../../../assets/paper/department.typ")),
    ("release.typ", include_str!("../../../assets/paper/release.typ")),
    ("wall.typ", include_str!("../../../assets/paper/wall.typ")),
    ("filming.typ", include_str!("../../../assets/paper/filming.typ")),
    ("filmed.typ", include_str!("../../../assets/paper/filmed.typ")),
    ("checklist.typ", include_str!("../../../assets/paper/checklist.typ")),
    ("kit.typ", include_str!("../../../assets/paper/kit.typ")),
    ("crew.typ", include_str!("../../../assets/paper/crew.typ")),
    ("patch.typ", include_str!("../../../assets/paper/patch.typ")),
    ("day.typ", include_str!("../../../assets/paper/day.typ")),
    ("room.typ", include_str!("../../../assets/paper/room.typ")),
    ("before.typ", include_str!("../../../assets/paper/before.typ")),
    ("cover.typ", include_str!("../../../assets/paper/cover.typ")),
];

/// The built-in main template of a sheet of a show.
pub fn main(sheet: Sheet, show: &Show) -> String {
    let one = |sheet: Sheet| match sheet {
        Sheet::Order => "order.typ\": order",
        Sheet::Calls => "calls.typ\": calls",
        Sheet::Media => "department.typ\": media",
        Sheet::Lighting => "department.typ\": lighting",
        Sheet::Release => "release.typ\": release",
        Sheet::Outputs => "department.typ\": outputs",
        Sheet::Wall => "wall.typ\": wall",
        Sheet::Kit => "kit.typ\": kit",
        Sheet::Checklist => "checklist.typ\": checklist",
        Sheet::Crew => "crew.typ\": crew",
        Sheet::StandIn => "crew.typ\": stand_in",
        Sheet::Patch => "patch.typ\": patch",
        Sheet::Between => "day.typ\": between",
        Sheet::Papers => "day.typ\": papers",
        Sheet::Facts => "day.typ\": risk_facts",
        Sheet::ShowStop => "day.typ\": show_stop",
        Sheet::Report => "day.typ\": report",
        Sheet::Strike => "day.typ\": strike_sheet",
        Sheet::Room => "room.typ\": room",
        Sheet::Known => "before.typ\": known",
        Sheet::Survey => "before.typ\": survey",
        Sheet::Request => "before.typ\": request",
        Sheet::Offers => "before.typ\": offers",
        Sheet::Week => "before.typ\": week",
        Sheet::Filming => "filming.typ\": filming",
        Sheet::Filmed => "filmed.typ\": filmed",
        Sheet::All => "cover.typ\": cover",
    };
    let function = |sheet: Sheet| one(sheet).rsplit(' ').next().unwrap_or_default().to_owned();
    let name = sheet.name();
    let mut sheets: Vec<Sheet> = vec![sheet];
    if sheet == Sheet::All {
        sheets.extend(Sheet::EACH.iter().map(|s| s.0).filter(|sheet| sheet.is_planned(show)));
    }
    let mut text = String::from("#import \"house.typ\": facts\n");
    for sheet in &sheets {
        text += "#import \"";
        text += one(*sheet);
        text += "\n";
    }
    text += "#let plan = json(\"plan.json\")\n";
    let calls: String = sheets.into_iter().map(|sheet| ["#", &function(sheet), "(plan)\n"].concat()).collect();
    [&text, "#show: facts.with(plan, \"", name, "\")\n", &calls].concat()
}

/// Fonts in assets/fonts, under the SIL Open Font License.
const FONTS: [&[u8]; 7] = [
    include_bytes!("../../../assets/fonts/AtkinsonHyperlegibleNext_400Regular.ttf"),
    include_bytes!("../../../assets/fonts/AtkinsonHyperlegibleNext_400Regular_Italic.ttf"),
    include_bytes!("../../../assets/fonts/AtkinsonHyperlegibleNext_600SemiBold.ttf"),
    include_bytes!("../../../assets/fonts/AtkinsonHyperlegibleNext_700Bold.ttf"),
    include_bytes!("../../../assets/fonts/AtkinsonHyperlegibleMono_400Regular.ttf"),
    include_bytes!("../../../assets/fonts/AtkinsonHyperlegibleMono_600SemiBold.ttf"),
    include_bytes!("../../../assets/fonts/AtkinsonHyperlegibleMono_700Bold.ttf"),
];

/// Everything that one typesetting run can see.
pub struct TypesetWorld {
    library: LazyHash<Library>,
    book: LazyHash<FontBook>,
    fonts: Vec<Font>,
    main: Source,
    templates: Vec<Source>,
    data: (FileId, Bytes),
}

fn id(path: &str) -> FileId {
    // All these paths are our own and simple.
    let path = VirtualPath::new(path).unwrap_or_else(|e| unreachable!("{path} is a plain path: {e}"));
    RootedPath::new(VirtualRoot::Project, path).intern()
}

impl TypesetWorld {
    pub fn new(template: String, data: Vec<u8>, more: &[Arc<Vec<u8>>]) -> TypesetWorld {
        let mut fonts: Vec<Font> = FONTS.iter().flat_map(|data| Font::iter(Bytes::new(*data))).collect();
        fonts.extend(more.iter().flat_map(|data| Font::iter(Bytes::new(data.to_vec()))));
        TypesetWorld {
            library: LazyHash::new(Library::default()),
            book: LazyHash::new(FontBook::from_fonts(&fonts)),
            fonts,
            main: Source::new(id("main.typ"), template),
            templates: TEMPLATES.map(|(name, text)| Source::new(id(name), text.to_owned())).to_vec(),
            data: (id("plan.json"), Bytes::new(data)),
        }
    }

    /// The file that an error is in: its name for display, and its text.
    pub fn file_of(&self, error: &SourceDiagnostic, main: &str) -> (String, Option<Source>) {
        match error.span.id() {
            Some(id) if id != self.main.id() => {
                let source = self.templates.iter().find(|s| s.id() == id);
                (id.get().vpath().get_without_slash().to_owned(), source.cloned())
            }
            _ => (main.to_owned(), Some(self.main.clone())),
        }
    }

    /// A warning, if there are characters that no font here can print.
    pub fn uncovered(&self, text: &[u8]) -> Vec<String> {
        let text = String::from_utf8_lossy(text);
        let infos: Vec<_> = (0..self.fonts.len()).filter_map(|at| self.book.info(at)).collect();
        let missing: BTreeSet<char> = text
            .chars()
            .filter(|c| !c.is_control() && !c.is_whitespace() && !is_unseen(*c))
            .filter(|c| !infos.iter().any(|info| info.coverage.contains(u32::from(*c))))
            .collect();
        if missing.is_empty() {
            return Vec::new();
        }
        let some: String = missing.iter().take(20).collect();
        vec![format!(
            "no font here has {} of the characters used ({some}); they print as empty boxes, and the file is tagged but not PDF/UA",
            missing.len()
        )]
    }
}

/// Characters that are never drawn: places where a word may break, joiners, marks of direction.
pub const fn is_unseen(c: char) -> bool {
    matches!(c, '\u{200b}'..='\u{200f}' | '\u{202a}'..='\u{202e}' | '\u{2060}'..='\u{2069}' | '\u{ad}' | '\u{feff}')
}

impl World for TypesetWorld {
    fn library(&self) -> &LazyHash<Library> {
        &self.library
    }

    fn book(&self) -> &LazyHash<FontBook> {
        &self.book
    }

    fn main(&self) -> FileId {
        self.main.id()
    }

    fn source(&self, id: FileId) -> FileResult<Source> {
        std::iter::once(&self.main)
            .chain(&self.templates)
            .find(|s| s.id() == id)
            .cloned()
            .ok_or_else(|| FileError::NotFound(id.get().vpath().get_without_slash().into()))
    }

    fn file(&self, id: FileId) -> FileResult<Bytes> {
        if id == self.data.0 {
            return Ok(self.data.1.clone());
        }
        Err(FileError::NotFound(id.get().vpath().get_without_slash().into()))
    }

    fn font(&self, index: usize) -> Option<Font> {
        self.fonts.get(index).cloned()
    }

    fn today(&self, _: Option<Duration>) -> Option<Datetime> {
        None
    }
}
