//! A desk's cue list, as desks write it or as people paste it from a table: number, name, fade.

use crate::rows;
use letfall_core::edit::DeskLine;
use letfall_core::limits;
use letfall_core::time::SongSpan;

/// Why a list cannot be read.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum DeskListUnread {
    /// A row without a number.
    #[error("row {0} has no number: the first column is the number that the desk shows, then name and fade")]
    NoNumber(usize),
    /// A fade that is no time.
    #[error("row {row}: \"{text}\" is no fade; write seconds, such as 2.5, or minutes and seconds, such as 1:30")]
    Fade {
        /// Row, from 1.
        row: usize,
        /// What stands there.
        text: String,
    },
    /// Not a table.
    #[error("row {row} cannot be read: {why}")]
    Row {
        /// Row, from 1.
        row: usize,
        /// Why not.
        why: String,
    },
    /// No rows.
    #[error("the list is empty: give one row for each cue, with number, name and fade")]
    Empty,
}

/// The columns of number, name and fade, from a row that names them.
fn named_columns(row: &csv::StringRecord) -> Option<[Option<usize>; 3]> {
    let find = |words: &[&str]| rows::column(row, words);
    let number = find(&["number", "no", "no.", "nr", "nr.", "cue", "cue number", "#", "preset"])?;
    let name = find(&["name", "label", "title", "text", "description"]);
    let fade = find(&["fade", "time", "fade time", "in", "up", "seconds"]);
    Some([Some(number), name, fade])
}

/// Seconds as "2", "2.5", "2,5", "2 s" or "1:30".
fn fade(text: &str) -> Option<SongSpan> {
    let text = text.trim_end_matches(['s', 'S']).trim_end().replace(',', ".");
    let (minutes, seconds) = match text.split_once(':') {
        Some((minutes, seconds)) => (minutes.parse::<u16>().ok()?, seconds),
        None => (0, text.as_str()),
    };
    let plain = !seconds.is_empty() && seconds.bytes().all(|b| b.is_ascii_digit() || b == b'.');
    let seconds = seconds.parse::<f64>().ok().filter(|_| plain)?;
    let span = SongSpan::from_secs_f64(f64::from(minutes) * 60.0 + seconds);
    limits::PRESET_FADE.check_span(span).ok()?;
    Some(span)
}

/// Reads a list. Columns are parted by tabs, semicolons or commas; a first row that names them is understood, in any order.
///
/// # Errors
/// [`DeskListUnread`], with the row. Nothing is guessed: one row that cannot be read refuses the list.
pub fn read(text: &str) -> Result<Vec<DeskLine>, DeskListUnread> {
    let mut columns = [Some(0), Some(1), Some(2)];
    let mut lines = Vec::new();
    for (number, row) in rows::read(text) {
        let row = row.map_err(|why| DeskListUnread::Row { row: number, why })?;
        if lines.is_empty()
            && let Some(named) = named_columns(&row)
        {
            columns = named;
            continue;
        }
        let cell = |column: Option<usize>| column.and_then(|column| row.get(column)).unwrap_or_default();
        let desk = cell(columns[0]);
        if desk.is_empty() {
            return Err(DeskListUnread::NoNumber(number));
        }
        let said = cell(columns[2]);
        let fade = match said {
            "" => None,
            said => Some(fade(said).ok_or_else(|| DeskListUnread::Fade { row: number, text: said.to_owned() })?),
        };
        lines.push(DeskLine { number: desk.to_owned(), name: cell(columns[1]).to_owned(), fade });
    }
    if lines.is_empty() { Err(DeskListUnread::Empty) } else { Ok(lines) }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn line(number: &str, name: &str, millis: Option<i64>) -> DeskLine {
        DeskLine { number: number.into(), name: name.into(), fade: millis.map(SongSpan::from_millis) }
    }

    #[test]
    fn lists_as_people_have_them() {
        let wanted =
            vec![line("1", "House, half", Some(3000)), line("2.5", "Verse", Some(90_000)), line("7", "", None)];
        for text in [
            "1,\"House, half\",3\n2.5,Verse,1:30\n7\n",
            "\u{feff}Number;Name;Fade\r\n1;House, half;3 s\r\n2.5;Verse;90,0\r\n7;;\r\n",
            "Name\tNo.\tTime\nHouse, half\t1\t3.0\nVerse\t2.5\t1:30s\n\n\t7\t",
        ] {
            assert_eq!(read(text), Ok(wanted.clone()), "{text:?}");
        }
    }

    #[test]
    fn what_cannot_be_read_is_said_with_its_row() {
        for (text, why) in [
            ("", DeskListUnread::Empty),
            ("number,name\n", DeskListUnread::Empty),
            ("1,a,2\n,b,3", DeskListUnread::NoNumber(2)),
            ("1,a,soon", DeskListUnread::Fade { row: 1, text: "soon".into() }),
            ("1,a,-2", DeskListUnread::Fade { row: 1, text: "-2".into() }),
            ("1,a,1e9", DeskListUnread::Fade { row: 1, text: "1e9".into() }),
            ("1,a,99999999", DeskListUnread::Fade { row: 1, text: "99999999".into() }),
        ] {
            assert_eq!(read(text), Err(why), "{text:?}");
        }
    }
}
