//! The crew: who, on which headset, where, the calls of the day; and one page for whoever stands in for a role.

use super::words::{cue_place_words, is_uncounted, seconds_left, spoken_place};
use letfall_core::prepared::Prepared;
use letfall_core::schedule::{CallKind, describe};
use letfall_core::show::{CrewMember, Show};
use letfall_core::time::{SongSpan, SongTime};
use serde::Serialize;

/// The crew sheet.
#[derive(Serialize)]
pub struct Crew {
    rows: Vec<CrewMember>,
    /// Whether the roles were taken from the plan, because nobody has entered a crew.
    derived: bool,
    calls: Vec<DayCall>,
}

/// One call of the day.
#[derive(Serialize)]
struct DayCall {
    words: &'static str,
    minutes: i64,
    /// Wall-clock time; empty if the service has no start.
    clock: String,
}

/// The page of one role.
#[derive(Serialize)]
pub struct StandIn {
    role: String,
    name: String,
    headset: String,
    stands: String,
    by: String,
    does: String,
    says: String,
    if_wrong: String,
    /// The first three cues, or what is said to this role.
    first: Vec<FirstCue>,
}

#[derive(Serialize)]
struct FirstCue {
    place: String,
    label: String,
    desk: String,
    words: String,
}

/// The roles as they were entered; or those that the plan names.
fn roles(show: &Show) -> (Vec<CrewMember>, bool) {
    if !show.crew.is_empty() {
        return (show.crew.clone(), false);
    }
    let sheet = &show.safety;
    let named = [&sheet.caller, &sheet.spotter, &sheet.arm_holder, &sheet.competent];
    let mut rows: Vec<CrewMember> = Vec::new();
    for role in named.into_iter().chain(show.receivers.iter().map(|r| &r.answers)) {
        let role = role.trim();
        if !role.is_empty() && !rows.iter().any(|one| one.role == role) {
            rows.push(CrewMember { role: role.to_owned(), ..CrewMember::default() });
        }
    }
    (rows, true)
}

/// Works out the crew sheet.
pub fn crew(prepared: &Prepared) -> Crew {
    let (show, service) = (prepared.show(), prepared.service());
    let (rows, derived) = roles(show);
    let calls = show.settings.day_calls.calls().map(|(words, minutes)| {
        let before = SongTime::ZERO - SongSpan::from_millis(minutes * 60_000);
        DayCall { words, minutes, clock: service.wall(before).map_or_else(String::new, |time| time.to_string()) }
    });
    Crew { rows, derived, calls: calls.into() }
}

/// How many cues stand on a role's page.
const FIRST: usize = 3;

/// Works out a page for each role.
pub fn stand_ins(prepared: &Prepared) -> Vec<StandIn> {
    let show = prepared.show();
    let page = |one: CrewMember| {
        let role = one.role.trim().to_owned();
        let is = |text: &str| !role.is_empty() && text.trim() == role;
        let mut first = Vec::new();
        let grid = prepared.grid();
        let here = |at| {
            if is_uncounted(prepared, at) {
                return format!("{} before bar 1", seconds_left(grid.bar_time(1) - at));
            }
            let (bar, beyond) = spoken_place(grid, at);
            if beyond.is_empty() { bar } else { format!("{bar}, {beyond}") }
        };
        // Who calls has calls; everybody else has what is said to them, and what comes by itself at their desk.
        let caller = is(&show.safety.caller);
        for group in prepared.call_groups().iter().filter(|group| group.is_said()) {
            if caller || group.answers.iter().any(|who| is(who)) {
                let reply = if group.reply.is_empty() { String::new() } else { format!(" – “{}”", group.reply) };
                let labels: Vec<String> = group.labels.iter().map(ToString::to_string).collect();
                let own = matches!(group.kind, CallKind::Go | CallKind::Standby);
                first.push((
                    group.at,
                    FirstCue {
                        place: here(group.at),
                        label: if own { labels.join(", ") } else { String::new() },
                        desk: String::new(),
                        words: format!("“{}”{reply}", group.words),
                    },
                ));
            }
        }
        for row in &prepared.schedule().rows {
            let cue = prepared.cue(row);
            let answers = row.receiver.is_some_and(|at| is(&show.receivers[at as usize].answers));
            if caller || !answers || cue.resting || prepared.calls().iter().any(|call| call.label == row.label) {
                continue;
            }
            first.push((
                row.land,
                FirstCue {
                    place: cue_place_words(cue, prepared.grid()),
                    label: row.label.to_string(),
                    desk: show.desk_number(cue).to_owned(),
                    words: format!("{}: {}", describe(show, cue), super::order::goes_words(show, cue)),
                },
            ));
        }
        first.sort_by_key(|(at, _)| *at);
        first.truncate(FIRST);
        StandIn {
            name: one.name,
            headset: one.headset,
            stands: one.stands,
            by: one.stand_in,
            does: one.does,
            says: one.says,
            if_wrong: one.if_wrong,
            first: first.into_iter().map(|(_, cue)| cue).collect(),
            role,
        }
    };
    roles(show).0.into_iter().map(page).collect()
}
