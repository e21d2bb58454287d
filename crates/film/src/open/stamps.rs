//! The stamps that ffmpeg's `showinfo` and `ashowinfo` filters write.

/// Whether a line is a stamp, or says why a film is none.
pub fn wanted(line: &str) -> bool {
    line.contains("pts_time:") || is_complaint(line)
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

/// The stamp of a line, seconds. `None` if it has none, or none that is a time.
pub fn stamp(line: &str) -> Option<f64> {
    let after = line.split("pts_time:").nth(1)?;
    after.split_whitespace().next()?.parse().ok().filter(|at: &f64| at.is_finite())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn stamps_are_read_from_the_filters_lines() {
        let video = "[Parsed_showinfo_0 @ 0x5581] n:   1 pts:    512 pts_time:0.0333333 duration:    512 pos:     48 fmt:yuv420p";
        assert_eq!(stamp(video), Some(0.033_333_3));
        let audio = "[Parsed_ashowinfo_2 @ 0x5581] n:0 pts:-1024 pts_time:-0.0213333 fmt:flt channels:1 rate:16000 nb_samples:1024";
        assert_eq!(stamp(audio), Some(-0.021_333_3));
        for none in ["", "pts_time:", "pts_time:NOPTS duration", "pts_time:inf", "n: 1 pts: 2"] {
            assert_eq!(stamp(none), None, "{none}");
        }
        assert!(wanted(video) && wanted("x.mp4: Invalid data found when processing input") && !wanted("Stream #0:0"));
    }
}
