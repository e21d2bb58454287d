//! The time of day where the machine stands.

use jiff::Zoned;

/// Microseconds after midnight, by the machine's wall clock and its own time zone.
pub fn time_of_day() -> i64 {
    let now = Zoned::now().time();
    let seconds = i64::from(now.hour()) * 3600 + i64::from(now.minute()) * 60 + i64::from(now.second());
    seconds * 1_000_000 + i64::from(now.subsec_nanosecond()) / 1000
}

#[cfg(test)]
mod tests {
    use super::time_of_day;

    /// It lies within a day, and goes on.
    #[test]
    fn it_lies_within_a_day() {
        let (one, other) = (time_of_day(), time_of_day());
        assert!((0..86_400_000_000).contains(&one));
        // At midnight it begins anew.
        assert!(other >= one || other < 1_000_000);
    }
}
