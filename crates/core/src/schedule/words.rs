//! What a cue does, in the crew's words.

use crate::show::{Action, Anchor, Carries, Course, Cue, FadeShare, Instant, Message, Release, Show, ShowCommand};
use crate::time::{BarBeat, Grid, SongSpan, round};

/// What happens at a cue: its own text, or else words made from its action.
pub fn describe(show: &Show, cue: &Cue) -> String {
    if !cue.text.trim().is_empty() {
        return cue.text.trim().to_owned();
    }
    match &cue.does {
        Action::Media { item } => {
            show.media_item(item).map_or_else(|| format!("Start {item}"), |m| format!("Start {}", m.name))
        }
        Action::Lighting { preset, fade, share } => {
            let found = show.preset(preset);
            let name = found.map_or(preset.as_str(), |p| p.name.as_str());
            let fade = fade.or(found.map(|p| p.fade)).unwrap_or(SongSpan::ZERO);
            if fade == SongSpan::ZERO {
                return format!("{name}, at once");
            }
            let when = match share {
                FadeShare::Start => "from the beat",
                FadeShare::Half => "half way on the beat",
                FadeShare::Done => "done on the beat",
            };
            format!("{name}, fade {}, {when}", short_secs(fade))
        }
        Action::Release { release, lands } => {
            let name = show.release(release).map_or(release.as_str(), |r| r.name.as_str());
            format!("{name}: {} on the beat", release_land_words(*lands))
        }
        Action::Output { route } => match show.route(route) {
            None => format!("Switch to {route}"),
            Some(route) => {
                let output = show.output(&route.output).map_or(route.output.as_str(), |o| o.name.as_str());
                match route.carries {
                    Carries::Blank {} => format!("{output} goes blank"),
                    _ => format!("{output} shows {}", route.name),
                }
            }
        },
    }
}

/// What is sent at once when a release takes another course, in words: lights first. Empty for nothing.
pub fn describe_instead(show: &Show, release: &Release, course: Course) -> String {
    let sent = release.sent_instead(course);
    let lights = sent.lights.iter().filter_map(|key| show.preset(key)).map(|preset| preset.name.clone());
    let media = sent.media.iter().filter_map(|key| show.media_item(key)).map(|item| item.name.clone());
    let routes = sent.routes.iter().filter_map(|key| {
        let route = show.route(key)?;
        let output = show.output(&route.output).map_or(route.output.as_str(), |o| o.name.as_str());
        Some(format!("{output}: {}", route.name))
    });
    lights.chain(media).chain(routes).collect::<Vec<_>>().join(", ")
}

/// Where a cue lands, in the short form of the screen: `57 b1 +1/3`, with a nudge `57 b1 +100 ms`, for a clock anchor the nearest
/// place.
pub fn place_words(cue: &Cue, grid: &Grid) -> String {
    match cue.at {
        Anchor::Clock(time) => grid.place_text(grid.tick_at(time)),
        Anchor::Grid { place, nudge } => {
            let text = grid.place_text(grid.tick_of(place));
            match round::div_nearest(i128::from(nudge.micros()), 1000) {
                0 => text,
                millis => format!("{text} {}{} ms", if millis < 0 { '-' } else { '+' }, millis.abs()),
            }
        }
    }
}

/// Where a cue lands, as numbers: bar, counted beat and ticks of 1/960 quarter after it, within the bar, and how much later (or earlier)
/// than that the cue lands. For a clock anchor the nearest place, without a remainder.
pub fn place_numbers(cue: &Cue, grid: &Grid) -> (BarBeat, SongSpan) {
    match cue.at {
        Anchor::Clock(time) => (grid.place_of(grid.tick_at(time)), SongSpan::ZERO),
        Anchor::Grid { place, nudge } => (grid.place_of(grid.tick_of(place)), nudge),
    }
}

/// The moment of the fall that counts as the land, in words for a running order.
pub const fn release_land_words(lands: Instant) -> &'static str {
    match lands {
        Instant::LetGo => "let go",
        Instant::Sightline => "top edge past the sightline",
        Instant::Floor => "on the floor",
    }
}

/// Seconds without trailing zeros: `2 s`, `0.5 s`.
fn short_secs(span: SongSpan) -> String {
    let text = format!("{:.3}", span.secs_f64());
    format!("{} s", text.trim_end_matches('0').trim_end_matches('.'))
}

/// A message in words.
pub fn message_words(message: &Message) -> String {
    match message {
        Message::Note { key, velocity, .. } => format!("note {} at {}", key.get(), velocity.get()),
        Message::Program { number, bank: None } => format!("program {}", number.get()),
        Message::Program { number, bank: Some(bank) } => format!("program {} in bank {}", number.get(), bank.get()),
        Message::Control { controller, value } => format!("controller {} to {}", controller.get(), value.get()),
        Message::Sysex(bytes) => format!("sysex, {} bytes", bytes.as_slice().len()),
        Message::ShowControl(command) => {
            use ShowCommand as C;
            let named = |name: &str, path: &crate::show::CuePath| {
                let cue = path.cue.as_ref().map_or(String::new(), |c| format!(" cue {c}"));
                let list = path.list.as_ref().map_or(String::new(), |l| format!(" list {l}"));
                let way = path.path.as_ref().map_or(String::new(), |p| format!(" path {p}"));
                format!("{name}{cue}{list}{way}")
            };
            match command {
                C::Go(path) => named("GO", path),
                C::Stop(path) => named("STOP", path),
                C::Resume(path) => named("RESUME", path),
                C::TimedGo { time, of, .. } => format!("{} in {time}", named("TIMED_GO", of)),
                C::Load(path) => named("LOAD", path),
                C::Set { control, value } => format!("SET {} to {}", control.get(), value.get()),
                C::Fire { number } => format!("FIRE {}", number.get()),
                C::AllOff {} => "ALL_OFF".to_owned(),
                C::Restore {} => "RESTORE".to_owned(),
                C::Reset {} => "RESET".to_owned(),
                C::GoOff(path) => named("GO_OFF", path),
            }
        }
    }
}
