//! What the typesetting engine may see: one template, one file of data, our fonts. No disk, no network, no date.

use std::collections::BTreeSet;
use typst::diag::{FileError, FileResult};
use typst::foundations::{Bytes, Datetime, Duration};
use typst::syntax::{FileId, RootedPath, Source, VirtualPath, VirtualRoot};
use typst::text::{Font, FontBook};
use typst::utils::LazyHash;
use typst::{Library, LibraryExt, World};

/// The running order's template.
pub const ORDER: &str = include_str!("../../../assets/paper/order.typ");
/// What all templates share.
const HOUSE: &str = include_str!("../../../assets/paper/house.typ");

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

/// One compilation's desk.
pub struct Desk {
    library: LazyHash<Library>,
    book: LazyHash<FontBook>,
    fonts: Vec<Font>,
    main: Source,
    house: Source,
    data: (FileId, Bytes),
}

fn id(path: &str) -> FileId {
    // The three paths are our own and plain.
    let path = VirtualPath::new(path).unwrap_or_else(|e| unreachable!("{path} is a plain path: {e}"));
    RootedPath::new(VirtualRoot::Project, path).intern()
}

impl Desk {
    pub fn new(template: String, data: Vec<u8>) -> Desk {
        let fonts: Vec<Font> = FONTS.iter().flat_map(|data| Font::iter(Bytes::new(*data))).collect();
        Desk {
            library: LazyHash::new(Library::default()),
            book: LazyHash::new(FontBook::from_fonts(&fonts)),
            fonts,
            main: Source::new(id("main.typ"), template),
            house: Source::new(id("house.typ"), HOUSE.to_owned()),
            data: (id("plan.json"), Bytes::new(data)),
        }
    }

    /// A sentence for characters that no font here can print.
    pub fn uncovered(&self, text: &[u8]) -> Vec<String> {
        let text = String::from_utf8_lossy(text);
        let infos: Vec<_> = (0..self.fonts.len()).filter_map(|at| self.book.info(at)).collect();
        let missing: BTreeSet<char> = text
            .chars()
            .filter(|c| !c.is_control() && !c.is_whitespace())
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

impl World for Desk {
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
        [&self.main, &self.house]
            .into_iter()
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
