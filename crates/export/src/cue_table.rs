//! Cues as a table for people: read from what they pasted or saved from a spreadsheet, and written for copying into one.
//!
//! Without headings the columns are bar, label, kind, what, text. With headings they may stand in any order, be fewer, or be those of
//! [`crate::table`].

use crate::rows::{self, guarded, unguarded};
use letfall_core::edit::{CueRow, action_name};
use letfall_core::prepared::Prepared;
use letfall_core::show::Label;
use std::collections::BTreeSet;

/// Why a table cannot be read as cues.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum CueTableUnread {
    /// Not a table.
    #[error("line {line} cannot be read: {why}")]
    Line {
        /// Line, from 1.
        line: usize,
        /// Why not.
        why: String,
    },
    /// No rows.
    #[error("the table is empty: give one row for each cue, with bar, label, kind, what, text")]
    Empty,
}

/// The headings of the columns that are written.
const HEADINGS: [&str; 5] = ["bar", "label", "kind", "what", "text"];

/// Where each thing stands in a row.
struct Columns {
    place: Option<usize>,
    beat: Option<usize>,
    ticks: Option<usize>,
    nudge: Option<usize>,
    label: Option<usize>,
    kind: Option<usize>,
    track: Option<usize>,
    what: Option<usize>,
    text: Option<usize>,
    note: Option<usize>,
}

impl Columns {
    /// The columns in the order of the headings that are written.
    const USUAL: Columns = Columns {
        place: Some(0),
        label: Some(1),
        kind: Some(2),
        what: Some(3),
        text: Some(4),
        beat: None,
        ticks: None,
        nudge: None,
        track: None,
        note: None,
    };

    /// The columns that are read.
    fn used(&self) -> impl Iterator<Item = usize> {
        let all = [
            self.place, self.beat, self.ticks, self.nudge, self.label, self.kind, self.track, self.what, self.text,
            self.note,
        ];
        all.into_iter().flatten()
    }

    /// The columns as a row of headings names them; `None` if it is no such row. It takes two headings to be one, so that a cue named
    /// "Light" is not taken for headings.
    fn named(row: &csv::StringRecord) -> Option<Columns> {
        let find = |words: &[&str]| rows::column(row, words);
        let columns = Columns {
            place: find(&["bar", "place", "at", "lands at", "where", "measure", "time", "song time"]),
            beat: find(&["beat"]),
            ticks: find(&["ticks"]),
            nudge: find(&["nudge_us"]),
            label: find(&["label", "cue", "cue label"]),
            kind: find(&["kind", "type", "department"]),
            track: find(&["track"]),
            what: find(&["what", "does", "preset", "calls up", "item", "look"]),
            text: find(&["text", "what happens", "description", "words"]),
            note: find(&["note", "notes", "remark", "remarks"]),
        };
        let known = [columns.place, columns.label, columns.kind, columns.what, columns.text, columns.track];
        (known.iter().flatten().count() >= 2).then_some(columns)
    }

    fn row(&self, line: usize, row: &csv::StringRecord) -> CueRow {
        let maybe = |at: Option<usize>| at.and_then(|at| row.get(at)).map(unguarded);
        let cell = |at: Option<usize>| maybe(at).unwrap_or_default();
        CueRow {
            line,
            place: self.place_of(&cell),
            label: cell(self.label).to_owned(),
            kind: cell(self.kind).to_owned(),
            track: cell(self.track).to_owned(),
            what: cell(self.what).to_owned(),
            text: maybe(self.text).map(str::to_owned),
            note: maybe(self.note).map(str::to_owned),
        }
    }

    /// The place as one text, where bar, beat, ticks and nudge have columns of their own.
    fn place_of<'a>(&self, cell: &impl Fn(Option<usize>) -> &'a str) -> String {
        let mut place = cell(self.place).to_owned();
        let beat = cell(self.beat);
        if place.bytes().all(|b| b.is_ascii_digit() || b == b'-') && !place.is_empty() && !beat.is_empty() {
            place = format!("{place} b{beat}");
            let ticks = cell(self.ticks);
            if !matches!(ticks, "" | "0") {
                place = format!("{place} +{ticks}t");
            }
            let nudge = cell(self.nudge);
            if !matches!(nudge, "" | "0") {
                // What is no number is kept as it stands, so that it is refused with its line.
                let nudge =
                    nudge.parse::<i32>().map_or_else(|_| nudge.to_owned(), |us| format!("{:+.6}", f64::from(us) / 1e6));
                place = format!("{place} {nudge}s");
            }
        }
        place
    }
}

/// A table that was read.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct CueTableRead {
    /// Its rows.
    pub rows: Vec<CueRow>,
    /// Headings of columns that mean nothing for a cue.
    pub unused: Vec<String>,
}

/// Reads a table. Rows are only split here; what they mean is found out by [`letfall_core::edit::take_cue_table`].
///
/// # Errors
/// [`CueTableUnread`], with the line.
pub fn read(text: &str) -> Result<CueTableRead, CueTableUnread> {
    let mut columns = Columns::USUAL;
    // Cells beyond the columns mean that a comma within a text was taken for the end of a cell.
    let mut width = HEADINGS.len();
    let mut unused = Vec::new();
    let mut found = Vec::new();
    for (at, (line, row)) in rows::read(text).into_iter().enumerate() {
        let row = row.map_err(|why| CueTableUnread::Line { line, why })?;
        if at == 0
            && let Some(named) = Columns::named(&row)
        {
            let used: Vec<usize> = named.used().collect();
            let others = row.iter().enumerate().filter(|(at, heading)| !used.contains(at) && !heading.is_empty());
            unused = others.map(|(_, heading)| heading.to_owned()).collect();
            columns = named;
            width = row.len();
            continue;
        }
        let cells = (0..row.len()).rev().find(|at| !row[*at].is_empty()).map_or(0, |last| last + 1);
        if cells > width {
            let why =
                format!("it has {cells} cells, and there are {width} columns; put text with commas in quotation marks");
            return Err(CueTableUnread::Line { line, why });
        }
        found.push(columns.row(line, &row));
    }
    if found.is_empty() { Err(CueTableUnread::Empty) } else { Ok(CueTableRead { rows: found, unused }) }
}

/// Whether text is most likely a table of cues and not something else that was copied.
pub fn is_likely(text: &str) -> bool {
    let first = text.lines().find(|line| !line.trim().is_empty()).unwrap_or_default();
    first.contains(['\t', ';']) || (first.matches(',').count() >= 2 && text.lines().count() > 1)
}

/// Writes cues of a plan's service with headings, tab-separated, in order of landing: for copying into a spreadsheet and back.
pub fn write(plan: &Prepared, labels: &[Label]) -> String {
    let mut to = csv::WriterBuilder::new().delimiter(b'\t').from_writer(Vec::new());
    let mut rows = vec![HEADINGS.map(str::to_owned)];
    let wanted: BTreeSet<Label> = labels.iter().copied().collect();
    let cues = plan.schedule().by_land().into_iter().map(|row| &plan.service().cues.as_slice()[row.cue as usize]);
    for cue in cues.filter(|cue| wanted.contains(&cue.label)) {
        let what = action_name(plan.show(), &cue.does).unwrap_or_default();
        let place = guarded(&cue.at.to_string());
        rows.push([place, cue.label.to_string(), cue.label.kind.to_string(), guarded(&what), guarded(&cue.text)]);
    }
    for row in &rows {
        match to.write_record(row) {
            Ok(()) => {}
            Err(why) => unreachable!("writing to memory cannot fail, and every row has as many cells: {why}"),
        }
    }
    String::from_utf8(to.into_inner().unwrap_or_default()).unwrap_or_default()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn row(line: usize, cells: [&str; 5]) -> CueRow {
        let [place, label, kind, what, text] = cells.map(str::to_owned);
        CueRow { line, place, label, kind, what, text: Some(text), ..CueRow::default() }
    }

    #[test]
    fn tables_as_people_have_them() {
        let wanted = |from| {
            vec![
                row(from, ["33", "L3", "lighting", "Warm, low", "as she turns"]),
                row(from + 1, ["34 b2", "", "", "Cold", ""]),
            ]
        };
        // Pasted as it is, saved with commas, and with headings.
        let rows = |text| read(text).map(|table| table.rows);
        assert_eq!(rows("33\tL3\tlighting\tWarm, low\tas she turns\n34 b2\t\t\tCold\t\n"), Ok(wanted(1)));
        assert_eq!(rows("33,L3,lighting,\"Warm, low\",as she turns\r\n34 b2,,,Cold,\r\n"), Ok(wanted(1)));
        assert_eq!(
            rows("\u{feff}Kind;Bar;What;Label;Text\nlighting;33;Warm, low;L3;as she turns\n;34 b2;Cold;;\n"),
            Ok(wanted(2))
        );
        // Columns that are missing are told from empty ones.
        assert_eq!(rows("bar\twhat\n1\tWarm\n").unwrap()[0].text, None);
        // A quoted cell of two lines moves the lines below it.
        let lines: Vec<usize> =
            rows("1\tL1\t\tA\t\"two\nlines\"\n\n2\tL2\t\tB\t\n").unwrap().iter().map(|r| r.line).collect();
        assert_eq!(lines, [1, 4]);
    }

    #[test]
    fn columns_of_our_own_table() {
        let text = "label,kind,bar,beat,ticks,nudge_us,what,note\nL1,lighting,33,2,480,-120000,Warm,'=mine\nL2,lighting,34,1,0,x,Warm,\n";
        let CueTableRead { rows, unused } = read(text).unwrap();
        assert!(unused.is_empty());
        let odd = read("bar\tlabel\tWho\n1\tL1\tMaria\n").unwrap();
        assert_eq!(odd.unused, ["Who"]);
        assert_eq!(rows[0].place, "33 b2 +480t -0.120000s");
        assert_eq!(rows[0].note.as_deref(), Some("=mine"));
        assert_eq!(rows[1].place, "34 b1 xs", "what is no number is refused later, with its line");
    }

    #[test]
    fn no_cell_is_dropped() {
        for text in
            ["bar,what,text\n5,Blackout,lights out, slowly\n", "bar,what\n5,Verse, amber\n", "1,L1,,A,text,more\n"]
        {
            let why = read(text).unwrap_err().to_string();
            assert!(why.contains("quotation marks"), "{why}");
        }
        assert!(read("bar,what\n5,A,,,\n").is_ok(), "empty cells say nothing");
    }

    #[test]
    fn what_is_no_table() {
        assert_eq!(read(""), Err(CueTableUnread::Empty));
        assert_eq!(read("bar\tlabel\n"), Err(CueTableUnread::Empty));
        for (text, likely) in [
            ("L3", false),
            ("12 cues", false),
            ("one, two, three", false),
            ("1\tL1", true),
            ("1;L1", true),
            ("1,L1,x\n2,L2,y", true),
        ] {
            assert_eq!(is_likely(text), likely, "{text}");
        }
    }
}
