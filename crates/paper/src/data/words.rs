//! Places, times and distances as people say them on a page.

use letfall_core::schedule::place_numbers;
use letfall_core::show::{Cue, Service};
use letfall_core::time::{BarBeat, Grid, SongSpan, SongTime, round};

/// A bar and beat as people say them: "bar 33, beat 2", and "bar 33" for its first beat.
pub fn bar_and_beat(place: BarBeat) -> String {
    let bar = format!("bar\u{a0}{}", place.bar);
    if place.beat == 1 { bar } else { format!("{bar}, beat\u{a0}{}", place.beat) }
}

/// Where a cue lands: "bar 33", and on a second line what is beyond its first beat, such as "beat 2", "the and of 2" or
/// "beat 2 and a third", with a nudge as "+100 ms".
pub fn cue_place(cue: &Cue, grid: &Grid) -> (String, String) {
    let (place, nudge) = place_numbers(cue, grid);
    let mut beyond = Vec::new();
    let beat = i64::from(place.beat);
    let length = grid.beat_length(place).get();
    let part = |over: i64, under: i64| i64::from(place.tick) * under == length * over;
    let of_beat = match () {
        () if place.tick == 0 && beat == 1 => String::new(),
        () if place.tick == 0 => format!("beat\u{a0}{beat}"),
        () if part(1, 2) => format!("the\u{a0}and of\u{a0}{beat}"),
        () if part(1, 3) => format!("beat\u{a0}{beat} and a\u{a0}third"),
        () if part(2, 3) => format!("beat\u{a0}{beat} and two\u{a0}thirds"),
        () if part(1, 4) => format!("beat\u{a0}{beat} and a\u{a0}quarter"),
        () if part(3, 4) => format!("beat\u{a0}{beat} and three\u{a0}quarters"),
        () => format!("beat\u{a0}{beat} and {:.2} of a\u{a0}beat", f64::from(place.tick) / length as f64),
    };
    if !of_beat.is_empty() {
        beyond.push(of_beat);
    }
    let millis = round::div_nearest(i128::from(nudge.micros()), 1000);
    if millis != 0 {
        beyond.push(format!("{}{}\u{a0}ms", if millis < 0 { '−' } else { '+' }, millis.abs()));
    }
    (format!("bar\u{a0}{}", place.bar), beyond.join(", "))
}

/// The same in one line: "bar 33, beat 2".
pub fn cue_place_words(cue: &Cue, grid: &Grid) -> String {
    let (bar, beyond) = cue_place(cue, grid);
    if beyond.is_empty() { bar } else { format!("{bar}, {beyond}") }
}

/// The counted beat at or before a time, and how much later the time is, such as `+0.6 s`. The second part is empty
/// within a twentieth of a second of the beat. Otherwise we never round to the next beat: a go on the wrong beat is late.
pub fn beat_and_more(grid: &Grid, time: SongTime) -> (BarBeat, String) {
    let slack = SongSpan::from_millis(50);
    let place = grid.place_of(grid.tick_at(time + slack));
    let beat = grid.time_at(grid.tick_of(BarBeat { tick: 0, ..place }));
    let more = (time - beat).secs_f64();
    let more = if more < 0.05 { String::new() } else { format!("+{more:.1}\u{a0}s") };
    (BarBeat { tick: 0, ..place }, more)
}

/// Both in one string: `bar 56 +0.6 s`.
pub fn beat_words(grid: &Grid, time: SongTime) -> String {
    let (place, more) = beat_and_more(grid, time);
    let beat = bar_and_beat(place);
    if more.is_empty() { beat } else { format!("{beat}\u{a0}{more}") }
}

/// The same on two lines: "bar 56", and "beat 3 +0.6 s" or what of it there is.
pub fn beat_lines(grid: &Grid, time: SongTime) -> (String, String) {
    let (place, more) = beat_and_more(grid, time);
    let beat = if place.beat == 1 { String::new() } else { format!("beat\u{a0}{}", place.beat) };
    let beyond = [beat, more].into_iter().filter(|part| !part.is_empty()).collect::<Vec<_>>().join(" ");
    (format!("bar\u{a0}{}", place.bar), beyond)
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
