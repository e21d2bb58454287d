//! Days of the calendar, as people and files write them: YYYY-MM-DD (ISO 8601). So written, days sort as text.

/// Year, month and day of a text such as "2026-12-05"; `None` if it is no day of the Gregorian calendar.
pub fn day_of(text: &str) -> Option<(u16, u8, u8)> {
    let text = text.trim();
    let digits = |part: &str| part.bytes().all(|b| b.is_ascii_digit());
    let mut parts = text.split('-');
    let (year, month, day) = (parts.next()?, parts.next()?, parts.next()?);
    let whole = (year.len(), month.len(), day.len()) == (4, 2, 2) && parts.next().is_none();
    if !whole || ![year, month, day].into_iter().all(digits) {
        return None;
    }
    let (year, month, day): (u16, u8, u8) = (year.parse().ok()?, month.parse().ok()?, day.parse().ok()?);
    let leap = year % 4 == 0 && (year % 100 != 0 || year % 400 == 0);
    let days = match month {
        2 => 28 + u8::from(leap),
        4 | 6 | 9 | 11 => 30,
        1..=12 => 31,
        _ => return None,
    };
    (1..=days).contains(&day).then_some((year, month, day))
}

#[cfg(test)]
mod tests {
    use super::day_of;

    /// ISO 8601 dates; leap years by the Gregorian rule (1900 was none, 2000 was one).
    #[test]
    fn days_of_the_calendar() {
        for text in ["2026-12-05", "2024-02-29", "2000-02-29", "2026-04-30", " 2026-01-31 "] {
            assert!(day_of(text).is_some(), "{text}");
        }
        for text in [
            "",
            "2026-2-05",
            "2026-02-29",
            "1900-02-29",
            "2026-04-31",
            "2026-13-01",
            "2026-00-10",
            "2026-01-00",
            "05.12.2026",
            "2026-12-05-1",
            "+026-12-05",
        ] {
            assert_eq!(day_of(text), None, "{text}");
        }
        assert_eq!(day_of("2026-12-05"), Some((2026, 12, 5)));
    }
}
