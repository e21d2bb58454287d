//! The week as an iCalendar file (RFC 5545), for everybody or for one role. Hours are those of the house's wall clock, without a time zone
//! (RFC 5545, 3.3.5, form 1), so that they stay the same wherever a telephone thinks it is.
//!
//! Written here and not by a library: the one without dependencies folds its lines an octet too late.

use letfall_core::fingerprint::FingerprintMaker;
use letfall_core::show::{Show, WeekCall};
use letfall_core::time::{WallTime, day_of};

/// What was written.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct CalendarFile {
    /// The file.
    pub text: String,
    /// How many calls and services are in it.
    pub events: usize,
    /// Calls without a day, which are not in it.
    pub without_day: usize,
}

/// Writes the calls of the week and the services; with a role, only the calls that need it, and all services. `made` is when it is
/// written, in UTC, as `20261128T120000Z`: RFC 5545 asks for it.
pub fn write(show: &Show, role: Option<&str>, made: &str) -> CalendarFile {
    let mut file = CalendarFile { text: String::new(), events: 0, without_day: 0 };
    for (name, value) in [("BEGIN", "VCALENDAR"), ("VERSION", "2.0"), ("PRODID", "-//Letfall//Letfall//EN")] {
        line(&mut file.text, name, value);
    }
    let wanted = |call: &&WeekCall| role.is_none_or(|role| call.needs(role));
    for call in show.week.in_order().into_iter().filter(wanted) {
        match day_of(&call.date) {
            None => file.without_day += 1,
            Some(day) => {
                let number = same_before(show, call);
                let event =
                    Event { what: &call.what, number, day, from: call.from, until: call.until, about: about(call) };
                event.write(show, made, &mut file.text);
                file.events += 1;
            }
        }
    }
    for service in &show.services {
        let Some(day) = day_of(&service.date) else { continue };
        let what = format!("Service “{}”", service.name);
        let event = Event { what: &what, number: 0, day, from: service.starts, until: None, about: String::new() };
        event.write(show, made, &mut file.text);
        file.events += 1;
    }
    line(&mut file.text, "END", "VCALENDAR");
    file
}

/// Text as a value (RFC 5545, 3.3.11).
fn escaped(text: &str) -> String {
    let text = text.replace("\r\n", "\n");
    let mut out = String::with_capacity(text.len());
    for c in text.chars() {
        match c {
            '\\' | ';' | ',' => out.extend(['\\', c]),
            '\n' => out.push_str("\\n"),
            // No other control character may stand in a text.
            c if c.is_control() && c != '\t' => {}
            c => out.push(c),
        }
    }
    out
}

/// Writes a content line, folded so that no line has more than 75 octets besides its line break (RFC 5545, 3.1).
fn line(to: &mut String, name: &str, value: &str) {
    const MOST: usize = 75;
    let mut room = MOST;
    for c in name.chars().chain([':']).chain(value.chars()) {
        if c.len_utf8() > room {
            to.push_str("\r\n ");
            room = MOST - 1;
        }
        to.push(c);
        room -= c.len_utf8();
    }
    to.push_str("\r\n");
}

/// How many calls of the same name stand before a call in the show.
fn same_before(show: &Show, call: &WeekCall) -> i64 {
    let before = show.week.calls.iter().take_while(|other| !std::ptr::eq(*other, call));
    i64::try_from(before.filter(|other| other.what == call.what).count()).unwrap_or(0)
}

/// What a call is about, a line each.
fn about(call: &WeekCall) -> String {
    let mut lines = Vec::new();
    if let Some(step) = call.step {
        lines.push(format!(
            "{}. Hung: {}. Release: {}. Behind: {}.",
            step.name(),
            step.hung(),
            step.mode(),
            step.behind()
        ));
    }
    let who: Vec<&str> = call.who.iter().map(|who| who.trim()).filter(|who| !who.is_empty()).collect();
    if !who.is_empty() {
        lines.push(format!("Needed: {}", who.join("; ")));
    }
    if let (None, Some(until)) = (call.from, call.until) {
        lines.push(format!("Until {until}"));
    }
    if call.overhead {
        lines.push("Overhead work: nobody alone, nobody under 18; local rules come first.".to_owned());
    }
    if !call.note.trim().is_empty() {
        lines.push(call.note.trim().to_owned());
    }
    lines.join("\n")
}

/// One entry.
struct Event<'a> {
    what: &'a str,
    /// How many calls of the same name stand before it.
    number: i64,
    day: (u16, u8, u8),
    from: Option<WallTime>,
    until: Option<WallTime>,
    about: String,
}

impl Event<'_> {
    fn write(&self, show: &Show, made: &str, to: &mut String) {
        let date = |(year, month, day): (u16, u8, u8)| format!("{year:04}{month:02}{day:02}");
        let hour = |at: WallTime| at.to_string().replace(':', "");
        // The same call has the same name in every file that is written of it, whatever its day and hour, so that a calendar that takes a
        // new file moves it.
        let mut maker = FingerprintMaker::new("calendar");
        for part in [&show.title, self.what] {
            maker.text(part);
        }
        maker.number(self.number);
        line(to, "BEGIN", "VEVENT");
        line(to, "UID", &format!("{}@letfall.invalid", maker.finish()));
        line(to, "DTSTAMP", made);
        match self.from {
            None => line(to, "DTSTART;VALUE=DATE", &date(self.day)),
            Some(from) => {
                line(to, "DTSTART", &format!("{}T{}", date(self.day), hour(from)));
                if let Some(until) = self.until.filter(|until| *until != from) {
                    // Past midnight it ends on the next day.
                    let end = if until < from { next(self.day) } else { self.day };
                    line(to, "DTEND", &format!("{}T{}", date(end), hour(until)));
                }
            }
        }
        line(to, "SUMMARY", &escaped(&format!("{}: {}", show.title, self.what)));
        for (name, words) in [("LOCATION", show.venue.trim()), ("DESCRIPTION", self.about.as_str())] {
            if !words.is_empty() {
                line(to, name, &escaped(words));
            }
        }
        line(to, "END", "VEVENT");
    }
}

/// The day after.
fn next((year, month, day): (u16, u8, u8)) -> (u16, u8, u8) {
    let is_day = |(y, m, d): (u16, u8, u8)| day_of(&format!("{y:04}-{m:02}-{d:02}")).is_some();
    let after = [(year, month, day + 1), (year, month + 1, 1), (year + 1, 1, 1)];
    after.into_iter().find(|day| is_day(*day)).unwrap_or((year, month, day))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn lines_are_folded_and_texts_escaped() {
        let mut to = String::new();
        line(&mut to, "SUMMARY", &escaped(&"ü; a\\b, “c”\nd".repeat(12)));
        for part in to.trim_end().split("\r\n") {
            assert!(part.len() <= 75, "{} octets", part.len());
        }
        assert!(to.replace("\r\n ", "").starts_with("SUMMARY:ü\\; a\\\\b\\, “c”\\nd"));
    }

    #[test]
    fn a_call_past_midnight_ends_on_the_next_day() {
        for (day, after) in
            [((2026, 12, 31), (2027, 1, 1)), ((2024, 2, 28), (2024, 2, 29)), ((2026, 4, 30), (2026, 5, 1))]
        {
            assert_eq!(next(day), after);
        }
        let call = WeekCall {
            date: "2026-12-31".into(),
            from: "22:00".parse().ok(),
            until: "01:30".parse().ok(),
            what: "Strike".into(),
            ..WeekCall::default()
        };
        let undated = WeekCall { what: "Some day".into(), ..WeekCall::default() };
        let mut show = Show::empty("T");
        show.week.calls = vec![undated, call];
        let made = write(&show, None, "20261128T120000Z");
        assert_eq!((made.events, made.without_day), (1, 1));
        assert!(made.text.contains("DTSTART:20261231T220000\r\nDTEND:20270101T013000\r\n"), "{}", made.text);
        assert_eq!(write(&show, Some("nobody"), "20261128T120000Z").events, 0);
    }
}
