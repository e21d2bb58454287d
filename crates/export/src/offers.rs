//! Offers as a table (CSV by RFC 4180): one row for each line of each offer, prices as people write them.

use crate::rows::{self, guarded, unguarded};
use letfall_core::show::{Offer, OfferLine, Show, Source, money};

/// The columns, in order. Their names are stable.
pub const COLUMNS: [&str; 13] = [
    "offer",
    "source",
    "days",
    "what",
    "quantity",
    "per day",
    "per week",
    "leave out",
    "labour",
    "transport",
    "deposit",
    "contingency percent",
    "note",
];

/// Why a table cannot be read as offers.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error("line {line}: {why}")]
pub struct OffersUnread {
    /// Line, from 1.
    pub line: usize,
    /// What is wrong and what to do.
    pub why: String,
}

const fn source_name(source: Source) -> &'static str {
    match source {
        Source::Hired => "hired",
        Source::Owned => "owned",
        Source::Bought => "bought",
        Source::Borrowed => "borrowed",
    }
}

/// Writes a show's offers. What belongs to a whole offer stands in its first row.
pub fn write(show: &Show) -> Vec<u8> {
    let mut to = csv::WriterBuilder::new().terminator(csv::Terminator::CRLF).from_writer(Vec::new());
    let mut row = |cells: [String; 13]| match to.write_record(cells.iter().map(|cell| guarded(cell))) {
        Ok(()) => {}
        Err(why) => unreachable!("writing to memory cannot fail, and every row has as many cells: {why}"),
    };
    row(COLUMNS.map(str::to_owned));
    let cents = |cents: u64| money(u128::from(cents));
    for offer in &show.offers {
        let none = OfferLine::default();
        let lines = if offer.lines.is_empty() { std::slice::from_ref(&none) } else { &offer.lines[..] };
        for (at, line) in lines.iter().enumerate() {
            let first = |words: String| if at == 0 { words } else { String::new() };
            row([
                offer.name.clone(),
                first(source_name(offer.source).to_owned()),
                first(offer.days.to_string()),
                line.what.clone(),
                line.quantity.to_string(),
                cents(line.day_cents),
                line.week_cents.map_or_else(String::new, cents),
                line.leave_out.to_string(),
                first(cents(offer.labour_cents)),
                first(cents(offer.transport_cents)),
                first(cents(offer.deposit_cents)),
                first(offer.contingency_percent.to_string()),
                first(offer.note.clone()),
            ]);
        }
    }
    to.into_inner().unwrap_or_default()
}

/// A price in hundredths: "1260", "1260.5", "1260,50", "1 260.00".
fn price(text: &str) -> Option<u64> {
    let text: String = text.chars().filter(|c| !c.is_whitespace()).collect::<String>().replace(',', ".");
    let (whole, part) = text.split_once('.').unwrap_or((&text, ""));
    let digits = |t: &str| t.bytes().all(|b| b.is_ascii_digit());
    if whole.is_empty() || !digits(whole) || !digits(part) || part.len() > 2 {
        return None;
    }
    let hundredths: u64 = format!("{part:0<2}").parse().ok()?;
    whole.parse::<u64>().ok()?.checked_mul(100)?.checked_add(hundredths)
}

/// Reads offers. The first row names the columns, in any order; "offer", "what", "quantity" and "per day" must be there. Rows with the same
/// offer belong together.
///
/// # Errors
/// [`OffersUnread`], with the line. Nothing is guessed: one row that cannot be read refuses the table.
pub fn read(text: &str) -> Result<Vec<Offer>, OffersUnread> {
    let mut rows = rows::read(text).into_iter();
    let fault = |line: usize, why: String| OffersUnread { line, why };
    let empty = || fault(1, "the table is empty: give a row of headings, then one row for each line".to_owned());
    let (line, heads) = rows.next().ok_or_else(empty)?;
    let heads = heads.map_err(|why| fault(line, why))?;
    let places = COLUMNS.map(|name| rows::column(&heads, &[name]));
    if let Some(missing) = [0, 3, 4, 5].into_iter().find(|at| places[*at].is_none()) {
        return Err(fault(
            line,
            format!("there is no column \"{}\"; name the columns {}", COLUMNS[missing], COLUMNS.join(", ")),
        ));
    }
    let mut offers: Vec<Offer> = Vec::new();
    for (line, row) in rows {
        let row = row.map_err(|why| fault(line, why))?;
        let cell = |at: usize| places[at].and_then(|place| row.get(place)).map(unguarded).unwrap_or_default().trim();
        let name = cell(0);
        if name.is_empty() {
            return Err(fault(line, "it names no offer; write from whom it is".to_owned()));
        }
        let whole = |at: usize, most: u64| match cell(at) {
            "" => Ok(None),
            text => text.parse::<u64>().ok().filter(|n| *n <= most).map(Some).ok_or_else(|| {
                fault(line, format!("\"{text}\" in \"{}\" is no whole number up to {most}", COLUMNS[at]))
            }),
        };
        let cents = |at: usize| match cell(at) {
            "" => Ok(None),
            text => price(text).map(Some).ok_or_else(|| {
                fault(line, format!("\"{text}\" in \"{}\" is no price; write it as 12.50", COLUMNS[at]))
            }),
        };
        let at = offers.iter().position(|offer| offer.name == name).unwrap_or_else(|| {
            offers.push(Offer { name: name.to_owned(), ..Offer::default() });
            offers.len() - 1
        });
        let offer = &mut offers[at];
        match cell(1).to_lowercase().as_str() {
            "" => {}
            word => {
                let known = [Source::Hired, Source::Owned, Source::Bought, Source::Borrowed];
                offer.source = known.into_iter().find(|source| source_name(*source) == word).ok_or_else(|| {
                    fault(line, format!("\"{word}\" is no source; write hired, owned, bought or borrowed"))
                })?;
            }
        }
        // Limits of the show file are checked when the show is; here only what the types hold.
        let small = |n: u64| u16::try_from(n).unwrap_or(u16::MAX);
        offer.days = whole(2, 10_000)?.map_or(offer.days, small);
        offer.labour_cents = cents(8)?.unwrap_or(offer.labour_cents);
        offer.transport_cents = cents(9)?.unwrap_or(offer.transport_cents);
        offer.deposit_cents = cents(10)?.unwrap_or(offer.deposit_cents);
        offer.contingency_percent =
            whole(11, 255)?.map_or(offer.contingency_percent, |n| u8::try_from(n).unwrap_or(u8::MAX));
        if !cell(12).is_empty() {
            cell(12).clone_into(&mut offer.note);
        }
        let what = cell(3);
        if what.is_empty() && cents(5)?.unwrap_or(0) == 0 {
            continue;
        }
        if what.is_empty() {
            return Err(fault(line, "it has a price and does not say for what".to_owned()));
        }
        offer.lines.push(OfferLine {
            what: what.to_owned(),
            quantity: whole(4, 1_000_000)?.map_or(1, |n| u32::try_from(n).unwrap_or(u32::MAX)),
            day_cents: cents(5)?.unwrap_or(0),
            week_cents: cents(6)?,
            leave_out: whole(7, 9)?.map_or(0, |n| u8::try_from(n).unwrap_or(u8::MAX)),
        });
    }
    Ok(offers)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn show(offers: Vec<Offer>) -> Show {
        Show { offers, ..Show::empty("T") }
    }

    #[test]
    fn what_is_written_is_read() {
        let line = |what: &str, day, week| OfferLine {
            what: what.into(),
            quantity: 3,
            day_cents: day,
            week_cents: week,
            leave_out: 2,
        };
        let offers = vec![
            Offer {
                name: "=hire, \"A\"".into(),
                lines: vec![line("lamp; red", 1250, Some(4999)), line("units", 5, None)],
                labour_cents: 10,
                deposit_cents: 50_000,
                contingency_percent: 12,
                days: 4,
                note: "back by Monday".into(),
                ..Offer::default()
            },
            Offer { name: "B".into(), source: Source::Borrowed, ..Offer::default() },
        ];
        let bytes = write(&show(offers.clone()));
        let text = String::from_utf8(bytes).expect("UTF-8");
        assert_eq!(read(&text), Ok(offers));
    }

    #[test]
    fn prices_as_people_write_them() {
        for (text, cents) in [("1260", 126_000), ("1 260,5", 126_050), ("0.07", 7), ("12.50", 1250)] {
            assert_eq!(price(text), Some(cents), "{text}");
        }
        for text in ["", "abc", "1.234", "-5", "1.2.3", ".5", "99999999999999999999"] {
            assert_eq!(price(text), None, "{text}");
        }
    }

    #[test]
    fn what_cannot_be_read_says_where_and_why() {
        for (text, line, why) in [
            ("", 1, "empty"),
            ("a,b\n", 1, "no column \"offer\""),
            ("offer,what,quantity,per day\n,x,1,2\n", 2, "names no offer"),
            ("offer,what,quantity,per day\nA,x,1,2\nA,x,one,2\n", 3, "\"one\" in \"quantity\""),
            ("offer,what,quantity,per day\nA,x,1,two\n", 2, "\"two\" in \"per day\""),
            ("offer,what,quantity,per day\nA,,1,2\n", 2, "does not say for what"),
            ("offer,what,quantity,per day,source\nA,x,1,2,stolen\n", 2, "\"stolen\" is no source"),
        ] {
            let fault = read(text).expect_err(text);
            assert!(fault.line == line && fault.why.contains(why), "{fault}");
        }
    }
}
