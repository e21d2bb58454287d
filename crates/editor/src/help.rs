//! Help: a page for each screen, and for each field of Rig what it is, where to read it off, and what happens if it is wrong.

use std::sync::LazyLock;

/// A page about a screen.
pub struct Page {
    /// The screen's name.
    pub title: &'static str,
    /// Its paragraphs.
    pub paragraphs: Vec<&'static str>,
}

/// What is known about a field of Rig.
pub struct FieldHelp {
    /// The table that it stands in; “Messages” are in several.
    pub table: &'static str,
    /// How its name begins, or what stands in it.
    pub field: &'static str,
    /// What it is.
    pub what: &'static str,
    /// Where to read it off.
    pub source: &'static str,
    /// What happens if it is wrong.
    pub wrong: &'static str,
}

impl FieldHelp {
    /// What it is, where to read it off, and what happens if it is wrong: a line each.
    pub fn lines(&self) -> [String; 3] {
        [
            self.what.to_owned(),
            format!("Where to read it off: {}", self.source),
            format!("If it is wrong: {}", self.wrong),
        ]
    }
}

static PAGES: LazyLock<Vec<Page>> = LazyLock::new(|| {
    let text = include_str!("../../../assets/help/screens.txt");
    let parts = text.split("# ").filter(|part| !part.trim().is_empty());
    parts
        .map(|part| {
            let mut lines = part.lines().filter(|line| !line.trim().is_empty());
            Page { title: lines.next().unwrap_or_default(), paragraphs: lines.collect() }
        })
        .collect()
});

static FIELDS: LazyLock<Vec<FieldHelp>> = LazyLock::new(|| {
    let lines = include_str!("../../../assets/help/rig.txt").lines().filter(|line| !line.starts_with('#'));
    let fields = lines.filter_map(|line| {
        let mut parts = line.split(" | ").map(str::trim);
        let mut next = || parts.next();
        Some(FieldHelp { table: next()?, field: next()?, what: next()?, source: next()?, wrong: next()? })
    });
    fields.collect()
});

/// All pages.
pub fn pages() -> &'static [Page] {
    &PAGES
}

/// The page of a screen.
pub fn page(title: &str) -> Option<&'static Page> {
    PAGES.iter().find(|page| page.title == title)
}

/// All fields of Rig that are explained.
pub fn fields() -> &'static [FieldHelp] {
    &FIELDS
}

/// What is known about a field with this name in a table of Rig: the entry that says most about it.
pub fn field(table: &str, name: &str) -> Option<&'static FieldHelp> {
    let here = FIELDS.iter().filter(|help| help.table == table || help.table == "Messages");
    let fits = here.filter(|help| name.contains(help.field));
    fits.max_by_key(|help| (name.starts_with(help.field), help.field.len()))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::screens::Screen;

    #[test]
    fn every_line_is_whole_and_every_screen_has_a_page() {
        let lines = include_str!("../../../assets/help/rig.txt").lines().filter(|line| !line.starts_with('#')).count();
        assert_eq!(fields().len(), lines, "each line has five parts");
        for help in fields() {
            for sentence in [help.what, help.source, help.wrong] {
                assert!(sentence.ends_with('.'), "{}: “{sentence}” is a sentence", help.field);
            }
        }
        for (_, name) in Screen::ALL {
            assert!(page(name).is_some_and(|page| !page.paragraphs.is_empty()), "{name}");
        }
        assert_eq!(pages().len(), Screen::ALL.len());
    }

    #[test]
    fn the_entry_that_says_most_is_found() {
        let found = |table, name| field(table, name).map(|help| help.field);
        assert_eq!(found("Releases", "Contact delay spread of Front"), Some("Contact delay spread of"));
        assert_eq!(found("Releases", "Contact delay of Front"), Some("Contact delay of"));
        assert_eq!(found("Media", "Velocity of Boats"), Some("Velocity of"));
        assert_eq!(found("Media", "Contact delay of Front"), None);
    }
}
