//! Rows of a table that people pasted or saved from a spreadsheet.

/// The rows with something in them, each with its line from 1. Columns are parted by tabs, semicolons or commas, whichever of them stands
/// first in this order in the first row.
pub fn read(text: &str) -> Vec<(usize, Result<csv::StringRecord, String>)> {
    let text = text.trim_start_matches('\u{feff}');
    if let Some((line, why)) = misquoted(text, parted_by(text)) {
        return vec![(line, Err(why.to_owned()))];
    }
    let mut reader = csv::ReaderBuilder::new()
        .has_headers(false)
        .flexible(true)
        .delimiter(parted_by(text))
        .trim(csv::Trim::All)
        .from_reader(text.as_bytes());
    let mut rows = Vec::new();
    // The reader's own count of lines stands before the line break that ends the row above, so lines are counted here.
    let (mut line, mut counted) = (1, 0);
    for row in reader.records() {
        let place = match &row {
            Ok(row) => row.position(),
            Err(why) => why.position(),
        };
        let start = place.and_then(|place| usize::try_from(place.byte()).ok()).unwrap_or(counted).min(text.len());
        let breaks = text.bytes().skip(start).take_while(|byte| matches!(byte, b'\r' | b'\n')).count();
        let begins = (start + breaks).max(counted);
        line += text.bytes().skip(counted).take(begins - counted).filter(|byte| *byte == b'\n').count();
        counted = begins;
        match row {
            Ok(row) if row.iter().all(str::is_empty) => {}
            Ok(row) => rows.push((line, Ok(row))),
            Err(why) => rows.push((line, Err(why.to_string()))),
        }
    }
    rows
}

/// The column whose heading is one of these words, in small letters.
pub fn column(headings: &csv::StringRecord, words: &[&str]) -> Option<usize> {
    headings.iter().position(|cell| {
        let cell = cell.trim().to_lowercase();
        words.iter().any(|word| cell == *word)
    })
}

/// The line in which a quotation mark stands wrongly, and how (RFC 4180): one that is never closed would swallow all rows below it, and text
/// after a closing one would lose its marks.
fn misquoted(text: &str, parted_by: u8) -> Option<(usize, &'static str)> {
    let (mut line, mut opened) = (1, 0);
    let mut bytes = text.bytes().peekable();
    // At the beginning of a cell a mark opens it; elsewhere in a cell without one it is a mark like any other.
    let (mut begins, mut inside) = (true, false);
    while let Some(byte) = bytes.next() {
        line += usize::from(byte == b'\n');
        if inside {
            if byte != b'"' {
                continue;
            }
            if bytes.peek() == Some(&b'"') {
                bytes.next();
                continue;
            }
            inside = false;
            while matches!(bytes.peek(), Some(b' ')) {
                bytes.next();
            }
            if !bytes.peek().is_none_or(|next| *next == parted_by || matches!(next, b'\r' | b'\n')) {
                return Some((
                    line,
                    "text stands after a closing quotation mark; write marks within a cell twice, or leave them out",
                ));
            }
        } else if byte == b'"' && begins {
            (inside, opened) = (true, line);
        } else {
            begins = byte == parted_by || matches!(byte, b'\r' | b'\n') || begins && byte == b' ';
        }
    }
    inside.then_some((opened, "a quotation mark opens a cell and is never closed; close it, or leave it out"))
}

fn parted_by(text: &str) -> u8 {
    let first = text.lines().find(|line| !line.trim().is_empty()).unwrap_or_default();
    [b'\t', b';', b','].into_iter().find(|c| first.bytes().any(|b| b == *c)).unwrap_or(b',')
}

/// Text that begins like a formula, or that hides one behind a tab or return, gets an apostrophe in front, so that a spreadsheet does not
/// run it (the usual guard, common practice, no source).
pub fn guarded(text: &str) -> String {
    if text.starts_with(GUARDED) { format!("'{text}") } else { text.to_owned() }
}

/// Text without the apostrophe that guards it.
pub fn unguarded(text: &str) -> &str {
    text.strip_prefix('\'').filter(|rest| rest.starts_with(GUARDED)).unwrap_or(text)
}

/// What a formula begins with.
const GUARDED: [char; 11] = ['=', '+', '-', '@', '\t', '\r', '\n', '＝', '＋', '－', '＠'];

#[cfg(test)]
mod tests {
    use super::*;

    /// RFC 4180, rules 5 to 7.
    #[test]
    fn a_mark_that_is_never_closed_swallows_nothing() {
        let lines =
            |text: &str| -> Vec<(usize, bool)> { read(text).iter().map(|(line, row)| (*line, row.is_ok())).collect() };
        assert_eq!(lines("a,\"open\nb,c\nd,e"), [(1, false)]);
        assert_eq!(lines("a,b\nc,\"open\nd,e"), [(2, false)]);
        assert_eq!(lines("a\t\"Lanterns\" come on\n"), [(1, false)]);
        for text in
            ["a,\"b, c\"\n", "a,\"b \"\"c\"\" d\"\n", "a,\"two\nlines\"\n", "a, 5\" wide\n", "\"a\"", "a,\"\"\n"]
        {
            assert_eq!(lines(text), [(1, true)], "{text}");
        }
    }

    #[test]
    fn formulas_are_neutralised() {
        for text in ["=1+1", "+1", "-1", "@SUM(A1)", "\t=1", "\r=1"] {
            assert_eq!(guarded(text), format!("'{text}"));
            assert_eq!(unguarded(&guarded(text)), text);
        }
        for text in ["Warm front", "'tis", "'", ""] {
            assert_eq!((guarded(text).as_str(), unguarded(text)), (text, text));
        }
    }
}
