//! The stamps that ffmpeg's `showinfo` and `ashowinfo` filters write.

/// Whether a line is a stamp, the unit of stamps, or says why a film is none.
pub fn wanted(line: &str) -> bool {
    line.contains("pts_time:")
        || line.contains(UNIT)
        || length(line).is_some()
        || begins(line).is_some()
        || is_complaint(line)
}

/// How long the film is, seconds, if a line says it.
pub fn length(line: &str) -> Option<f64> {
    let clock = line.trim().strip_prefix("Duration:")?.split(',').next()?.trim();
    let mut parts = clock.split(':').map(str::parse::<f64>);
    let mut part = || parts.next()?.ok();
    let secs = part()? * 3600.0 + part()? * 60.0 + part()?;
    Some(secs).filter(|secs| secs.is_finite() && *secs > 0.0)
}

/// Points of a picture, across and down, if a line says them.
pub fn size(line: &str) -> Option<(usize, usize)> {
    let (wide, high) = line.split(" s:").nth(1)?.split_whitespace().next()?.split_once('x')?;
    Some((wide.parse().ok()?, high.parse().ok()?)).filter(|(w, h)| *w > 0 && *h > 0)
}

/// When the film begins by its own stamps, seconds, if a line says it. Players count from there, and so do people.
pub fn begins(line: &str) -> Option<f64> {
    let after = line.trim().strip_prefix("Duration:")?.split(", start: ").nth(1)?;
    after.split(',').next()?.trim().parse().ok().filter(|at: &f64| at.is_finite())
}

/// What stands before the unit.
const UNIT: &str = "config in time_base:";

/// The unit of stamps, seconds, if a line says it.
pub fn unit(line: &str) -> Option<f64> {
    let (above, below) = line.split(UNIT).nth(1)?.split(',').next()?.trim().split_once('/')?;
    let (above, below): (f64, f64) = (above.parse().ok()?, below.parse().ok()?);
    Some(above / below).filter(|unit| unit.is_finite() && *unit > 0.0)
}

/// Whether a line says what is wrong with a film.
pub fn is_complaint(line: &str) -> bool {
    const WORDS: [&str; 7] = [
        "Invalid data",
        "Invalid argument",
        "not match any streams",
        "matches no streams",
        "No such file",
        "not on whitelist",
        "whitelist",
    ];
    !line.contains("pts_time:") && WORDS.iter().any(|words| line.contains(words))
}

/// The stamp of a line, seconds, by a whole number of units: the line has seconds too, but only six digits of them, which is too little after
/// a quarter of an hour. `None` if it has none, or none that is a time.
pub fn stamp(line: &str, unit: f64) -> Option<f64> {
    let word = |name: &str| line.split(name).nth(1)?.split_whitespace().next();
    let count: i64 = word(" pts:")?.parse().ok()?;
    let told: f64 = word("pts_time:")?.parse().ok()?;
    let at = count as f64 * unit;
    // Both say the same, or the unit is another one.
    (told.is_finite() && (at - told).abs() <= 1e-5 * told.abs() + 1e-5).then_some(at)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn stamps_are_read_from_the_filters_lines() {
        let video = "[Parsed_showinfo_0 @ 0x5581] n:   1 pts:    512 pts_time:0.0333333 duration:    512 pos:     48 fmt:yuv420p";
        let base = "[Parsed_showinfo_0 @ 0x5581] config in time_base: 1/15360, frame_rate: 30/1";
        assert_eq!(unit(base), Some(1.0 / 15_360.0));
        assert_eq!(stamp(video, 1.0 / 15_360.0), Some(512.0 / 15_360.0));
        let audio = "[Parsed_ashowinfo_2 @ 0x5581] n:0 pts:-341 pts_time:-0.0213125 fmt:flt channels:1 rate:16000 nb_samples:1024";
        assert_eq!(stamp(audio, 1.0 / 16_000.0), Some(-341.0 / 16_000.0));
        // After more than an hour, to a part of a millisecond.
        let late = "n: 9 pts:76804097 pts_time:5000.27 duration: 1";
        assert!(stamp(late, 1.0 / 15_360.0).is_some_and(|at| (at - 76_804_097.0 / 15_360.0).abs() < 1e-9));
        // Another unit, or no time.
        assert_eq!(stamp(video, 1.0 / 16_000.0), None);
        for none in ["", "pts_time:", " pts:NOPTS pts_time:NOPTS duration", " pts:1 pts_time:inf", "n: 1 pts: 2"] {
            assert_eq!(stamp(none, 0.1), None, "{none}");
        }
        for none in
            ["config in time_base: 1/0, x", "config in time_base: 0/1", "config in time_base: x", "time_base: 1/2"]
        {
            assert_eq!(unit(none), None, "{none}");
        }
        assert_eq!(begins("  Duration: 00:00:20.09, start: 1.443444, bitrate: 5601 kb/s"), Some(1.443_444));
        for none in ["  Duration: N/A, bitrate: N/A", "title: x, start: 9, y", "  Duration: 1, start: N/A, bitrate: 1"]
        {
            assert_eq!(begins(none), None, "{none}");
        }
        assert_eq!(length("  Duration: 01:02:03.25, start: 1.443444, bitrate: 5601 kb/s"), Some(3723.25));
        for none in ["  Duration: N/A, start: 0", "Duration: 00:00:00.00, start", "title: Duration: 00:00:01", ""] {
            assert_eq!(length(none), None, "{none}");
        }
        assert_eq!(size("n:   1 pts: 5 pts_time:0.1 fmt:rgb24 sar:1/1 s:480x270 i:P iskey:1"), Some((480, 270)));
        for none in ["s:480x270", " s:x", " s:0x5", " s:480"] {
            assert_eq!(size(none), None, "{none}");
        }
        assert!(wanted(video) && wanted(base) && wanted("x.mp4: Invalid data found when processing input"));
        assert!(!wanted("Stream #0:0"));
    }
}
