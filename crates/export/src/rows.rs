//! Rows of a table that people pasted or saved from a spreadsheet.

/// The rows with something in them, each with its line from 1. Columns are parted by tabs, semicolons or commas, whichever of them stands
/// first in this order in the first row.
pub fn read(text: &str) -> Vec<(usize, Result<csv::StringRecord, String>)> {
    let text = text.trim_start_matches('\u{feff}');
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
