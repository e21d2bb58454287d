//! Places, times and distances as people say them on a page.

use letfall_core::prepared::Prepared;
use letfall_core::schedule::place_numbers;
use letfall_core::show::{Cue, Service};
use letfall_core::time::{BarBeat, Grid, SongSpan, SongTime, Tick, WallTime, round};

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

/// The last beat that can be called before a time is over: a limit is never said later than it is (but for a twentieth of a second).
pub fn latest_beat(grid: &Grid, time: SongTime) -> String {
    bar_and_beat(beat_and_more(grid, time).0)
}

/// Whether a time is before the count-in, where nobody counts bars.
pub fn is_uncounted(prepared: &Prepared, time: SongTime) -> bool {
    let grid = prepared.grid();
    grid.place_of(grid.tick_at(time)).bar < prepared.show().settings.first_bar()
}

/// A place as it is spoken while people count, on two lines: "bar 56", and "beat 3" or "the and of 3", the nearest that can be said. What
/// lies more than 0.08 s off is "just before" or "just after" it; nobody says it more finely. 0.08 s is our own figure.
pub fn spoken_place(grid: &Grid, time: SongTime) -> (String, String) {
    let tick = grid.tick_at(time);
    let place = grid.place_of(tick);
    let beat = BarBeat { tick: 0, ..place };
    let group = usize::from(place.beat).checked_sub(1).and_then(|at| grid.metre_at(place.bar).groups().get(at));
    // A beat of three units has thirds, any other halves.
    let parts: i64 = if group == Some(&3) { 3 } else { 2 };
    let length = grid.beat_length(place).get();
    let part = (2 * i64::from(place.tick) * parts + length).div_euclid(2 * length);
    let near = Tick::new(grid.tick_of(beat).get() + part * length / parts);
    let off = (time - grid.time_at(near)).secs_f64();
    let near = grid.place_of(near);
    let of_beat = match (part % parts, parts) {
        (0, _) if near.beat == 1 => String::new(),
        (0, _) => format!("beat\u{a0}{}", near.beat),
        (1, 2) => format!("the\u{a0}and of\u{a0}{}", near.beat),
        (1, _) => format!("beat\u{a0}{} and a\u{a0}third", near.beat),
        _ => format!("beat\u{a0}{} and two\u{a0}thirds", near.beat),
    };
    let beyond = match off {
        _ if off.abs() < 0.08 => of_beat,
        _ => {
            let side = if off < 0.0 { "just\u{a0}before" } else { "just\u{a0}after" };
            if of_beat.is_empty() { format!("{side} beat\u{a0}1") } else { format!("{side} {of_beat}") }
        }
    };
    (format!("bar\u{a0}{}", near.bar), beyond)
}

/// A time of the song as it stands on every page: rounded down to tenths of a second, because a clock shows no time before it is there.
pub fn song_clock(time: SongTime) -> String {
    const TENTH: i64 = 100_000;
    let down = SongTime::saturating(time.micros().div_euclid(TENTH) * TENTH);
    format!("{down:.1}")
}

/// A time of the song in whole minutes and seconds, as a clock shows it: rounded down.
pub fn elapsed(time: SongTime) -> String {
    let secs = time.micros().div_euclid(1_000_000);
    let (sign, secs) = (if secs < 0 { "−" } else { "" }, secs.abs());
    let (hours, mins, secs) = (secs / 3600, secs / 60 % 60, secs % 60);
    if hours > 0 { format!("{sign}{hours}:{mins:02}:{secs:02}") } else { format!("{sign}{mins}:{secs:02}") }
}

/// What is left in whole seconds, as people count down: rounded down.
pub fn seconds_left(span: SongSpan) -> String {
    let secs = span.micros().div_euclid(1_000_000).max(0);
    if secs < 60 { format!("{secs}\u{a0}s") } else { format!("{}:{:02}\u{a0}min", secs / 60, secs % 60) }
}

/// When a go is said: its place, since it seldom falls on the beat it lands on.
pub fn go_place(grid: &Grid, go: SongTime) -> String {
    let (bar, beyond) = spoken_place(grid, go);
    if beyond.is_empty() { format!("at {bar}") } else { format!("at {bar}, {beyond}") }
}

/// The wall clock at a time of the song, for a service that starts when it is planned or, if given, at another time. Rounded down, as a
/// clock shows it; empty if it has no start.
pub fn clock(service: &Service, start: Option<WallTime>, time: SongTime) -> String {
    start.or(service.starts).map_or_else(String::new, |start| start.at(time).to_string())
}

/// Time to the next cue, as people say it: rounded down, so that nobody waits too long.
pub fn gap(span: SongSpan) -> String {
    let tenths = span.micros().div_euclid(100_000);
    if tenths <= 0 {
        return "at once".to_owned();
    }
    if tenths < 600 {
        format!("{}.{}\u{a0}s", tenths / 10, tenths % 10)
    } else {
        format!("{}:{:02}\u{a0}min", tenths / 600, tenths / 10 % 60)
    }
}

/// Seconds without trailing zeros: `2 s`, `0.5 s`.
pub fn seconds(span: SongSpan) -> String {
    let text = format!("{:.3}", span.secs_f64());
    format!("{}\u{a0}s", text.trim_end_matches('0').trim_end_matches('.'))
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
    fn clocks_never_run_ahead() {
        let at = |millis: i64| SongTime::saturating(millis * 1000);
        assert_eq!([59_999, 60_000, -1].map(|n| song_clock(at(n))), ["0:59.9", "1:00.0", "-0:00.1"]);
        assert_eq!([59_999, 60_000, -1, -61_000].map(|n| elapsed(at(n))), ["0:59", "1:00", "−0:01", "−1:01"]);
        let left = |millis| seconds_left(SongSpan::from_millis(millis));
        assert_eq!([4_999, 59_999, 60_000, -5].map(left), ["4\u{a0}s", "59\u{a0}s", "1:00\u{a0}min", "0\u{a0}s"]);
        assert_eq!(
            [99, 199, 59_999, 61_999].map(|n| gap(SongSpan::from_millis(n))),
            ["at once", "0.1\u{a0}s", "59.9\u{a0}s", "1:01\u{a0}min"]
        );
    }

    #[test]
    fn places_as_people_count() {
        let plan = r#"{"metres":[{"bar":1,"metre":"4/4"},{"bar":3,"metre":"6/8"}],"tempos":[{"at":{"bar":1,"beat":1},"tempo":"120"}]}"#;
        let plan: letfall_core::time::GridPlan = serde_json::from_str(plan).expect("a grid");
        let grid = plan.build().expect("a grid");
        let say = |millis: i64| {
            let (bar, beyond) = spoken_place(&grid, SongTime::saturating(millis * 1000));
            format!("{bar}, {beyond}").replace('\u{a0}', " ")
        };
        // 4/4 at 120: a bar is 2 s and a beat 0.5 s. From bar 3 on 6/8: an eighth is 0.25 s, a counted beat 0.75 s.
        for (millis, said) in [
            (0, "bar 1, "),
            (70, "bar 1, "),
            (100, "bar 1, just after beat 1"),
            (250, "bar 1, the and of 1"),
            (500, "bar 1, beat 2"),
            (1900, "bar 2, just before beat 1"),
            (1990, "bar 2, "),
            (4250, "bar 3, beat 1 and a third"),
            (4500, "bar 3, beat 1 and two thirds"),
            (4750, "bar 3, beat 2"),
        ] {
            assert_eq!(say(millis), said, "{millis}");
        }
    }

    #[test]
    fn figures_keep_their_units() {
        assert_eq!(bound("Verse, fade 2 s, done"), "Verse, fade 2\u{a0}s, done");
        assert_eq!(bound("at 10 % of 2 songs"), "at 10\u{a0}% of 2 songs");
    }

    #[test]
    fn a_limit_is_called_on_the_beat_before_it() {
        let path = concat!(env!("CARGO_MANIFEST_DIR"), "/../../demo-shows/lantern-night.letfall");
        let show = letfall_core::file::read(&std::fs::read(path).expect("the demo show")).expect("a show");
        let grid = show.services[0].song.grid.build().expect("a grid");
        let beat = grid.time_at(grid.tick_of(BarBeat { bar: 5, beat: 3, tick: 0 }));
        let off = |millis| latest_beat(&grid, beat + SongSpan::from_millis(millis));
        assert_eq!(
            [-100, -40, 0, 200].map(off).map(|words| words.replace('\u{a0}', " ")),
            ["bar 5, beat 2", "bar 5, beat 3", "bar 5, beat 3", "bar 5, beat 3"]
        );
    }
}
