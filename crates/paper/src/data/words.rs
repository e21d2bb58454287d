//! Places, times and distances as people say them on a page.

use letfall_core::show::Service;
use letfall_core::time::{BarBeat, Grid, SongSpan, SongTime, round};

/// Splits a place into bar and beat, and what follows (`+1/2`, `+100 ms`), which is printed smaller.
pub fn split_place(words: &str) -> (String, String) {
    let at = words.find([' ', '+']).unwrap_or(words.len());
    (words[..at].to_owned(), words[at..].trim().replace(' ', "\u{a0}"))
}

/// The counted beat at or before a time, and how much later the time is, such as `56|1` and `+0.6 s`. The second part is empty
/// within a twentieth of a second of the beat. Otherwise we never round to the next beat: a go on the wrong beat is late.
pub fn beat_and_more(grid: &Grid, time: SongTime) -> (String, String) {
    let slack = SongSpan::from_millis(50);
    let place = grid.place_of(grid.tick_at(time + slack));
    let beat = grid.time_at(grid.tick_of(BarBeat { tick: 0, ..place }));
    let more = (time - beat).secs_f64();
    let more = if more < 0.05 { String::new() } else { format!("+{more:.1}\u{a0}s") };
    (format!("{}|{}", place.bar, place.beat), more)
}

/// Both in one string: `56|1 +0.6 s`.
pub fn beat_words(grid: &Grid, time: SongTime) -> String {
    let (beat, more) = beat_and_more(grid, time);
    if more.is_empty() { beat } else { format!("{beat}\u{a0}{more}") }
}

/// When a go is said: beat and song time, since it seldom falls on the beat it lands on.
pub fn go_place(grid: &Grid, go: SongTime) -> String {
    format!("at {}, {go:.1}", beat_words(grid, go))
}

/// The wall clock, rounded to the second because the song time beside it is rounded too; empty if the service has no start.
pub fn clock(service: &Service, time: SongTime) -> String {
    service.wall(time + SongSpan::from_millis(500)).map_or_else(String::new, |w| w.to_string())
}

/// Time to the next cue, as people say it.
pub fn gap(span: SongSpan) -> String {
    let tenths = round::div_nearest(i128::from(span.micros()), 100_000);
    if tenths == 0 {
        return "at once".to_owned();
    }
    if tenths < 600 {
        format!("{}.{}\u{a0}s", tenths / 10, tenths % 10)
    } else {
        format!("{}:{:02}\u{a0}min", tenths / 600, tenths / 10 % 60)
    }
}

/// How early the message leaves.
pub fn lead(span: SongSpan) -> String {
    let millis = round::div_nearest(i128::from(span.micros()), 1000);
    match millis {
        0 => "no lead".to_owned(),
        m if m < 0 => format!("sent\u{a0}{}\u{a0}ms after", -m),
        m if m < 1000 => format!("lead\u{a0}{m}\u{a0}ms"),
        _ => {
            let hundredths = round::div_nearest(i128::from(span.micros()), 10_000);
            format!("lead\u{a0}{}.{:02}\u{a0}s", hundredths / 100, hundredths % 100)
        }
    }
}

/// Keeps a number and its unit on one line: `fade 2 s`, `100 ms`.
pub fn bound(words: &str) -> String {
    let mut out = String::with_capacity(words.len());
    let mut last_digit = false;
    let all: Vec<char> = words.chars().collect();
    for (at, c) in all.iter().enumerate() {
        let unit = |text: &str| {
            let end = at + 1 + text.chars().count();
            all[at + 1..].iter().collect::<String>().starts_with(text)
                && all.get(end).is_none_or(|next| !next.is_alphanumeric())
        };
        let tied =
            *c == ' ' && last_digit && ["s", "ms", "%", "m", "kg", "min", "°C", "V", "A", "W"].into_iter().any(unit);
        out.push(if tied { '\u{a0}' } else { *c });
        last_digit = c.is_ascii_digit();
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn figures_keep_their_units() {
        assert_eq!(bound("Verse, fade 2 s, done"), "Verse, fade 2\u{a0}s, done");
        assert_eq!(bound("at 10 % of 2 songs"), "at 10\u{a0}% of 2 songs");
    }
}
