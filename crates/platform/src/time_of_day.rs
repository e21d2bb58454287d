//! The time of day where the machine stands.

use jiff::tz::TimeZone;
use jiff::{Timestamp, Zoned};

/// Microseconds after midnight, by the machine's wall clock and its own time zone.
pub fn time_of_day() -> i64 {
    of_day(&Zoned::now())
}

/// The same for a moment that is given in microseconds since 1970. A moment that no calendar has counts as 1970 began.
pub fn time_of_day_at(unix_us: i64) -> i64 {
    let at = Timestamp::from_microsecond(unix_us).unwrap_or(Timestamp::UNIX_EPOCH);
    of_day(&at.to_zoned(TimeZone::system()))
}

/// Now in UTC, as calendar files write it (RFC 5545, 3.3.5, form 2): `20261128T120000Z`.
pub fn utc_stamp() -> String {
    Timestamp::now().strftime("%Y%m%dT%H%M%SZ").to_string()
}

fn of_day(at: &Zoned) -> i64 {
    let at = at.time();
    let seconds = i64::from(at.hour()) * 3600 + i64::from(at.minute()) * 60 + i64::from(at.second());
    seconds * 1_000_000 + i64::from(at.subsec_nanosecond()) / 1000
}

#[cfg(test)]
mod tests {
    use super::{time_of_day, time_of_day_at, utc_stamp};

    #[test]
    fn a_stamp_has_its_form() {
        let stamp = utc_stamp();
        assert!(stamp.len() == 16 && stamp.ends_with('Z') && stamp.as_bytes()[8] == b'T', "{stamp}");
        assert!(stamp.bytes().filter(u8::is_ascii_digit).count() == 14 && stamp.as_str() > "20260101T000000Z");
    }

    /// It lies within a day, and goes on.
    #[test]
    fn it_lies_within_a_day() {
        let (one, other) = (time_of_day(), time_of_day());
        assert!((0..86_400_000_000).contains(&one));
        // At midnight it begins anew.
        assert!(other >= one || other < 1_000_000);
    }

    /// Now, by both ways.
    #[test]
    fn a_moment_has_its_time_of_day() {
        let since = std::time::SystemTime::now().duration_since(std::time::UNIX_EPOCH).unwrap_or_default();
        let at = time_of_day_at(i64::try_from(since.as_micros()).unwrap_or(0));
        let off = (time_of_day() - at).rem_euclid(86_400_000_000);
        assert!(off < 5_000_000, "{off}");
        assert!((0..86_400_000_000).contains(&time_of_day_at(i64::MAX)));
    }
}
