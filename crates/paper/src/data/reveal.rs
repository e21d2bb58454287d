//! A reveal on the call sheet: in the order in which it is said, from the zone to “off, key out”, then what if it goes otherwise.

use super::words::{beat_words, cue_place_words, elapsed, is_uncounted, latest_beat, seconds_left};
use letfall_core::prepared::Prepared;
use letfall_core::schedule::{CallKind, describe, describe_instead, message_words, release_land_words};
use letfall_core::show::{Action, Course, Kind, Label, Show};
use letfall_core::time::{BarBeat, SongSpan, SongTime, Tick};
use serde::Serialize;
use std::ops::RangeInclusive;

/// Releases that land close together, with everything said for them.
#[derive(Serialize)]
pub struct Reveal {
    labels: Vec<String>,
    /// What falls, and which moment of it lands.
    title: String,
    lands: String,
    place: String,
    time: String,
    /// What is asked before its own page begins: the lines are repeated there, so that all of it stands in one place.
    earlier: Vec<Said>,
    counts: Vec<CountDown>,
    /// What is said once it is over.
    after: Vec<Said>,
    what_if: Vec<CourseWords>,
    hang_ups: Vec<HangUpWords>,
    /// From the standby, or eight bars before, to the land: no page turns there.
    #[serde(skip)]
    pub span: RangeInclusive<SongTime>,
    #[serde(skip)]
    land: SongTime,
}

impl Reveal {
    /// What is left to its land.
    pub fn left(&self, at: SongTime) -> String {
        if at >= self.land { String::new() } else { seconds_left(self.land - at) }
    }
}

/// A line of a reveal: who says what, and who answers.
#[derive(Serialize)]
struct Said {
    left: String,
    place: String,
    who: String,
    words: String,
    answers: String,
    reply: String,
}

/// The last four bars before a release, beat by beat.
#[derive(Serialize)]
struct CountDown {
    label: String,
    what: String,
    lands: &'static str,
    place: String,
    time: String,
    bars: Vec<Bar>,
}

#[derive(Serialize)]
struct Bar {
    number: i32,
    beats: Vec<Beat>,
}

#[derive(Serialize)]
struct Beat {
    number: u16,
    /// Whole seconds to the land where they change; empty on the other beats, because nobody can say decimals.
    to_land: String,
    /// What is said or happens in it.
    events: Vec<String>,
    strong: bool,
}

/// What is said and done if a unit stays shut.
#[derive(Serialize, Clone)]
pub struct HangUpWords {
    caller: String,
    words: String,
    then: String,
    hold: String,
    outputs: Vec<String>,
    /// How long after the first send it may be tried again; empty for never.
    wait: String,
    /// Lights and media that are sent at once.
    lights: String,
    /// Who tells those without a headset.
    told_by: String,
}

/// What is said, done and sent if a release takes another course than falling when planned.
#[derive(Serialize, Clone)]
pub struct CourseWords {
    case: String,
    /// The case in a word or two.
    short: &'static str,
    who: String,
    words: String,
    then: String,
}

/// What is done if a fabric stays, or falls early: as the show says, or else what is always right.
pub fn courses(prepared: &Prepared, label: Label, release: &letfall_core::show::Release, by: &str) -> Vec<CourseWords> {
    let show = prepared.show();
    let sheet = &show.safety;
    let or =
        |text: &str, other: &str| if text.trim().is_empty() { other.trim().to_owned() } else { text.trim().to_owned() };
    let told = |by: &str| {
        if by.trim().is_empty() {
            String::new()
        } else {
            format!(" Those without a headset: {}.", by.trim().trim_end_matches('.'))
        }
    };
    let sends = |course: Course| {
        let sent = describe_instead(show, release, course);
        if sent.is_empty() { String::new() } else { format!(" Letfall sends at once: {sent}.") }
    };
    let depends: Vec<String> = prepared.dependents(label).iter().map(ToString::to_string).collect();
    let not_sent = if depends.is_empty() { String::new() } else { format!(" Not sent: {}.", depends.join(", ")) };
    let own = release.stays.as_ref().map(|branch| branch.words.trim()).filter(|words| !words.is_empty());
    // Whoever knows the sheet's words alone must find them here too.
    let agreed = own.filter(|own| !sheet.stay_words.trim().is_empty() && *own != sheet.stay_words.trim());
    let agreed =
        agreed.map_or_else(String::new, |_| format!(" On the safety sheet it is “{}”.", sheet.stay_words.trim()));
    let stays = release.stays.clone().unwrap_or_default();
    let early = release.early.clone().unwrap_or_default();
    let and = |then: &str| if then.trim().is_empty() { String::new() } else { format!(" {}", then.trim()) };
    // What stops everything is said in its own words too.
    let differs = !early.words.trim().is_empty() && early.words.trim() != sheet.abort_words.trim();
    let stop = if differs && !sheet.abort_words.trim().is_empty() {
        format!(" What stops everything: “{}”.", sheet.abort_words.trim())
    } else {
        String::new()
    };
    vec![
        CourseWords {
            case: format!("Not armed {by}, or let go"),
            short: "not armed",
            who: or(&stays.caller, &or(&sheet.caller, "caller")),
            words: or(&stays.words, &sheet.stay_words),
            then: format!(
                "Nobody arms it any more or lets it go otherwise. Arm off, key out. The zone stays shut.{agreed}{not_sent}{}{}{}",
                sends(Course::Stays),
                told(&stays.told_by),
                and(&stays.then)
            ),
        },
        CourseWords {
            case: "It falls early".to_owned(),
            short: "early",
            who: format!("whoever sees it, first the {}", or(&early.caller, &or(&sheet.spotter, "spotter"))),
            words: or(&early.words, &or(&sheet.abort_words, "STOP")),
            then: format!(
                "{}{}{}",
                or(
                    &early.then,
                    "Music out, working light, everybody accounted for, first aid; then blank the fabric's projector."
                ),
                if describe_instead(show, release, Course::Early).is_empty() {
                    String::new()
                } else {
                    format!(
                        " On its key Letfall stops and sends light first, pictures on a second key: {}.",
                        describe_instead(show, release, Course::Early)
                    )
                },
                told(&early.told_by)
            ) + &stop,
        },
    ]
}

/// The hang-up plan of a release, in words.
pub fn hang_up(show: &Show, release: &letfall_core::show::Release) -> Option<HangUpWords> {
    let plan = release.hang_up.as_ref()?;
    let outputs = plan.show.iter().filter_map(|key| {
        let route = show.route(key)?;
        let output = show.output(&route.output).map_or(route.output.as_str(), |o| o.name.as_str());
        Some(format!("{output}: {} ({})", route.name, message_words(&route.message)))
    });
    Some(HangUpWords {
        caller: plan.caller.clone(),
        words: plan.words.clone(),
        then: plan.then.clone(),
        hold: plan.hold.iter().map(ToString::to_string).collect::<Vec<_>>().join(", "),
        outputs: outputs.collect(),
        wait: if plan.wait.micros() > 0 { seconds_left(plan.wait) } else { String::new() },
        lights: {
            let named = plan.lights.iter().filter_map(|key| show.preset(key)).map(|preset| preset.name.clone());
            let media = plan.media.iter().filter_map(|key| show.media_item(key)).map(|item| item.name.clone());
            named.chain(media).collect::<Vec<_>>().join(", ")
        },
        told_by: plan.told_by.trim().trim_end_matches('.').to_owned(),
    })
}

/// How many bars before a release no page turns. Common practice, no source.
const BARS_BEFORE: i32 = 8;
/// Releases that land within this are one reveal.
const ONE_REVEAL: SongSpan = SongSpan::from_millis(10_000);

/// The reveals of a service, in order.
pub fn reveals(prepared: &Prepared) -> Vec<Reveal> {
    let (service, schedule) = (prepared.service(), prepared.schedule());
    let awake = |row: &&letfall_core::schedule::Row| {
        row.label.kind == Kind::Release && !service.cues.as_slice()[row.cue as usize].resting
    };
    let mut groups: Vec<Vec<(Label, SongTime)>> = Vec::new();
    for row in schedule.by_land().into_iter().filter(awake) {
        match groups.last_mut() {
            Some(group) if group.last().is_some_and(|(_, land)| row.land - *land <= ONE_REVEAL) => {
                group.push((row.label, row.land));
            }
            _ => groups.push(vec![(row.label, row.land)]),
        }
    }
    let mut reveals: Vec<Reveal> = groups.into_iter().map(|releases| reveal(prepared, &releases)).collect();
    // Where two come close, the page of the second begins after the land of the first.
    for at in 1..reveals.len() {
        let land = reveals[at - 1].land;
        let span = &reveals[at].span;
        if *span.start() <= land {
            reveals[at].span = land + SongSpan::from_micros(1)..=*span.end();
        }
    }
    reveals
}

fn reveal(prepared: &Prepared, releases: &[(Label, SongTime)]) -> Reveal {
    let (show, service, grid) = (prepared.show(), prepared.service(), prepared.grid());
    let sheet = &show.safety;
    let (caller, spotter, operator) = (sheet.caller_role(), sheet.spotter_role(), sheet.operator_role());
    let first = releases.first().map_or(SongTime::ZERO, |(_, land)| *land);
    let land = releases.last().map_or(first, |(_, land)| *land);
    let of = |label: &Label| releases.iter().any(|(own, _)| own == label);
    let standby = prepared
        .call_groups()
        .iter()
        .filter(|group| group.kind == CallKind::Standby && group.labels.iter().any(of))
        .map(|group| group.at)
        .min();
    let bar = grid.place_of(grid.tick_at(first)).bar;
    let from = standby.unwrap_or(first).min(grid.bar_time(bar - BARS_BEFORE)).min(first);
    let earlier = prepared
        .call_groups()
        .iter()
        .filter(|group| group.kind == CallKind::Ask && group.labels.iter().any(of) && group.at < from)
        .map(|group| Said {
            left: seconds_left(first - group.at),
            place: if is_uncounted(prepared, group.at) { String::new() } else { beat_words(grid, group.at) },
            who: caller.to_owned(),
            words: group.words.clone(),
            answers: group.answers.join(", "),
            reply: group.reply.to_owned(),
        });
    let cues: Vec<_> = releases.iter().filter_map(|(label, _)| service.cues.get(*label)).collect();
    let facts = cues.iter().filter_map(|cue| match &cue.does {
        Action::Release { release, .. } => show.release(release),
        _ => None,
    });
    let moments: Vec<&str> = cues
        .iter()
        .map(|cue| match &cue.does {
            Action::Release { lands, .. } => release_land_words(*lands),
            _ => "",
        })
        .collect();
    let said = |who: &str, words: &str, answers: &str, reply: &str| Said {
        left: String::new(),
        place: String::new(),
        who: who.to_owned(),
        words: words.to_owned(),
        answers: answers.to_owned(),
        reply: reply.to_owned(),
    };
    Reveal {
        labels: releases.iter().map(|(label, _)| label.to_string()).collect(),
        title: cues.iter().map(|cue| describe(show, cue)).collect::<Vec<_>>().join("; "),
        lands: moments.first().map_or_else(String::new, ToString::to_string),
        place: cues.first().map_or_else(String::new, |cue| cue_place_words(cue, grid)),
        time: elapsed(first),
        earlier: earlier.collect(),
        counts: releases.iter().filter_map(|(label, land)| count_down(prepared, *label, *land)).collect(),
        after: vec![
            said(spotter, "Down, all of it” or “Stuck left / right / all", caller, "repeats it"),
            said(caller, "Arm off", operator, "off, key out"),
        ],
        what_if: what_if(prepared, releases, caller),
        hang_ups: facts.filter_map(|release| hang_up(show, release)).collect(),
        span: from..=land,
        land,
    }
}

/// By when a release must be armed: after that, messages that presume its fall are on their way.
pub fn settled_by(prepared: &Prepared, label: Label) -> String {
    prepared.decision(label).map_or_else(
        || "in time".to_owned(),
        |decision| format!("by {} ({})", latest_beat(prepared.grid(), decision.at), elapsed(decision.at)),
    )
}

/// What is said and done if it goes otherwise, but for what is stuck: that is each release's own plan.
fn what_if(prepared: &Prepared, releases: &[(Label, SongTime)], caller: &str) -> Vec<CourseWords> {
    let show = prepared.show();
    let mut all = Vec::new();
    for (label, _) in releases {
        let Some(Action::Release { release, .. }) = prepared.service().cues.get(*label).map(|cue| &cue.does) else {
            continue;
        };
        let Some(facts) = show.release(release) else { continue };
        let own = courses(prepared, *label, facts, &settled_by(prepared, *label));
        all.extend(own.into_iter().map(|mut words| {
            if releases.len() > 1 {
                words.case = format!("{label}: {}", words.case);
            }
            words
        }));
    }
    all.push(CourseWords {
        case: "The music stops before the beat".to_owned(),
        short: "music stops",
        who: caller.to_owned(),
        words: show.safety.stay_words.trim().to_owned(),
        then: "Lamp down, arm off, key out. The song goes on only from a place that has been said to everybody."
            .to_owned(),
    });
    all
}

fn count_down(prepared: &Prepared, label: Label, land: SongTime) -> Option<CountDown> {
    let cue = prepared.service().cues.get(label)?;
    Some(CountDown {
        label: label.to_string(),
        what: describe(prepared.show(), cue),
        lands: match &cue.does {
            Action::Release { lands, .. } => release_land_words(*lands),
            _ => "",
        },
        place: cue_place_words(cue, prepared.grid()),
        time: elapsed(land),
        bars: bars(prepared, label, land),
    })
}

/// The four bars before the land and the bar of the land, beat by beat.
fn bars(prepared: &Prepared, label: Label, land: SongTime) -> Vec<Bar> {
    let (grid, said) = (prepared.grid(), prepared.call_groups());
    let end = grid.place_of(grid.tick_at(land));
    let mut events: Vec<(SongTime, String)> = Vec::new();
    // Every call in these bars is shown, because whoever counts them makes the other calls too.
    for group in said.iter().filter(|group| group.is_said()) {
        events.push((group.at, format!("“{}”", group.words)));
    }
    if let Some(row) = prepared.row(label) {
        events.push((row.send, "sent".to_owned()));
    }
    if let Some(fall) = prepared.stage().falling.iter().find(|f| f.by == label) {
        events.push((fall.let_go, "let go".to_owned()));
        events.push((fall.sightline(), "passes the sightline".to_owned()));
        events.push((fall.floor(), "on the floor".to_owned()));
    }
    // At the same instant, the land comes first.
    events.push((land, "LAND".to_owned()));
    events.sort_by_key(|(at, word)| (*at, word != "LAND"));
    let start_of = |bar: i32, beat: u16| grid.tick_of(BarBeat { bar, beat, tick: 0 });
    let mut last_left = i64::MAX;
    (end.bar - 4..=end.bar)
        .map(|bar| {
            let count = grid.beats_in(bar);
            let beats = (1..=count).map(|beat| {
                let from = start_of(bar, beat);
                let until: Tick = if beat < count { start_of(bar, beat + 1) } else { grid.bar_tick(bar + 1) };
                let (from, until) = (grid.time_at(from), grid.time_at(until));
                // An event up to a twentieth of a second before a beat counts as on it.
                let slack = SongSpan::from_millis(50);
                let within = |at: SongTime| (from..until).contains(&(at + slack));
                let left = (land + slack - from).micros().div_euclid(1_000_000);
                // The last second is the land itself, and nobody counts nought.
                let changes = left < last_left && left >= 1;
                last_left = left.min(last_left);
                Beat {
                    number: beat,
                    to_land: if changes { left.to_string() } else { String::new() },
                    events: events
                        .iter()
                        .filter(|(at, _)| within(*at))
                        .map(|(at, word)| {
                            // What is said between two beats is said on the half; what happens by itself is only seen.
                            let later = (*at - from).secs_f64() / (until - from).secs_f64();
                            let (low, high) = (0.25, 0.75);
                            if later < low {
                                word.clone()
                            } else if later < high {
                                format!("and: {word}")
                            } else {
                                format!("just before the next: {word}")
                            }
                        })
                        .collect(),
                    strong: within(land),
                }
            });
            Bar { number: bar, beats: beats.collect() }
        })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::sync::Arc;

    /// Worked out again by hand: a second before the first send of the release and of what its handover does, and the beat before that.
    #[test]
    fn the_sheet_says_by_when_it_is_armed() {
        let path = concat!(env!("CARGO_MANIFEST_DIR"), "/../../demo-shows/lantern-night.letfall");
        let show: Show = letfall_core::file::read(&std::fs::read(path).expect("the demo show")).expect("a show");
        let prepared = Prepared::hypothetical(Arc::new(show), 1).expect("a plan");
        let reveals = reveals(&prepared);
        let case = reveals[0].what_if[0].case.replace('\u{a0}', " ");
        let (service, grid) = (prepared.service(), prepared.grid());
        let handover = &service.handovers[0];
        let depends = |label: Label| label == handover.release || handover.cues.contains(&label);
        let rows = prepared.schedule().by_land();
        let first = rows.iter().filter(|row| depends(row.label)).map(|row| row.send.micros()).min().expect("a send");
        let limit = SongTime::saturating(first - 1_000_000);
        let words = case.strip_prefix("Not armed by bar ").expect("a place");
        let (bar, beat) = words.split_once(", beat ").expect("a beat");
        let place = BarBeat {
            bar: bar.parse().expect("a bar"),
            beat: beat.split(' ').next().and_then(|beat| beat.parse().ok()).expect("a beat"),
            tick: 0,
        };
        let called = grid.time_at(grid.tick_of(place));
        let next = grid.time_at(grid.tick_of(BarBeat { beat: place.beat + 1, ..place }));
        assert!(called <= limit + SongSpan::from_millis(50) && limit < next, "{case}: {called}, {limit}");
    }
}
