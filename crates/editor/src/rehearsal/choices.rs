//! What a person can choose when the evening does not go as planned. Each choice says what will happen before it is made.

use super::run::Run;
use egui::Key;
use letfall_core::show::{Course, Label};
use letfall_core::time::{Grid, SongSpan, SongTime, Tick, round};
use letfall_live::{Bend, Fate, MarkDoes, Mode, Moves, Part, ReleaseIndex};

/// A choice: its key, its word, and what comes of it.
#[derive(Debug, Clone, PartialEq)]
pub struct Choice {
    /// Its key on the Rehearse screen.
    pub key: Key,
    /// Its word.
    pub word: String,
    /// What will happen.
    pub then: String,
    /// The bend of the run.
    pub bend: Bend,
    /// It is about people: a release.
    pub alarm: bool,
}

/// The keys, each with its use. They count on the Rehearse screen during a run.
pub mod keys {
    use egui::Key;

    /// Wait, and resume.
    pub const WAIT: Key = Key::W;
    /// Vamp, and leave it at its end.
    pub const VAMP: Key = Key::V;
    /// Leave a vamp at the next bar.
    pub const LEAVE: Key = Key::B;
    /// Cut.
    pub const CUT: Key = Key::C;
    /// Take back what was chosen.
    pub const BACK: Key = Key::U;
    /// The fabric stays.
    pub const STAYS: Key = Key::F;
    /// Stuck.
    pub const STUCK: Key = Key::S;
    /// Stuck on the left.
    pub const LEFT: Key = Key::L;
    /// Stuck on the right.
    pub const RIGHT: Key = Key::R;
    /// It fell early.
    pub const EARLY: Key = Key::E;
    /// It is down.
    pub const DOWN: Key = Key::D;
    /// A second try.
    pub const AGAIN: Key = Key::Num2;
    /// By hand.
    pub const BY_HAND: Key = Key::H;
    /// The next group by hand.
    pub const NEXT: Key = Key::N;
}

/// All that can be chosen now, in the order in which it is shown: what is about people first.
pub fn choices(run: &Run) -> Vec<Choice> {
    let mut all = Vec::new();
    if run.runs() || run.bends.pictures.is_some() {
        releases(run, &mut all);
    }
    match run.place.moves {
        Moves::Runs => ways(run, &mut all),
        Moves::Waits => resume(run, &mut all),
        Moves::ByHand => group(run, &mut all),
        Moves::Stopped => {}
    }
    if matches!(run.place.moves, Moves::Runs | Moves::Waits) {
        let then = "the clock stands, and one key sends each group of cues".to_owned();
        all.push(Choice { key: keys::BY_HAND, word: "By hand".to_owned(), then, bend: Bend::ByHand, alarm: false });
    }
    all
}

/// The release that a choice is about: the first that is not over.
fn release_now(run: &Run) -> Option<ReleaseIndex> {
    let here = run.song();
    let by_hand = run.place.moves == Moves::ByHand;
    let near = |at: ReleaseIndex| {
        let Some(release) = run.plan.release(at) else { return false };
        let window = release.from - NEAR <= here && here <= release.to + AFTER;
        window || by_hand && run.release_at_hand() == Some(at) || run.bends.fate(at) != Fate::Open
    };
    let all = (0..run.plan.releases.len()).map(ReleaseIndex::at);
    // Of those whose time is near or that took a course already, the last one that has begun.
    all.filter(|at| near(*at)).max_by_key(|at| run.plan.release(*at).map(|release| release.from))
}

/// So long before the window of a release its choices are shown: two minutes, as the zone is asked for. Common practice, no source.
const NEAR: SongSpan = SongSpan::from_millis(120_000);
/// And so long after it.
const AFTER: SongSpan = SongSpan::from_millis(60_000);

fn releases(run: &Run, all: &mut Vec<Choice>) {
    let Some(at) = release_now(run) else { return };
    let Some(release) = run.plan.release(at) else { return };
    let label = release.label;
    let fate = run.bends.fate(at);
    let mut add = |key, word: &str, then: String, bend| {
        all.push(Choice { key, word: word.to_owned(), then, bend, alarm: true });
    };
    let sends = |course: Course| {
        let names: Vec<&str> = release.sent_instead(course).iter().filter_map(|item| run.plan.instead(*item)).collect();
        let names: Vec<&str> =
            names.into_iter().map(|name| name.split_once(": ").map_or(name, |(_, name)| name)).collect();
        if names.is_empty() { "nothing else is sent".to_owned() } else { format!("sends {}", names.join(", ")) }
    };
    let depend = labels(release.dependents.iter().filter_map(|item| run.plan.label(*item)));
    let without = if depend.is_empty() { String::new() } else { format!(", and {depend} with it") };
    match fate {
        Fate::Open => {
            add(
                keys::STAYS,
                "FABRIC STAYS",
                format!("{label} is not sent{without}; {}", sends(Course::Stays)),
                Bend::Stays { release: at },
            );
            let early = format!("if it comes down before its time: all stops, light first; {}", sends(Course::Early));
            add(keys::EARLY, "EARLY", early, Bend::Early { release: at });
        }
        Fate::Given | Fate::Gone | Fate::Stuck(_) => {
            let held = labels(
                run.plan
                    .timed()
                    .iter()
                    .filter(|item| {
                        item.ends.is_none() && item.due >= run.song() && run.plan.releases_of(item.held).contains(&at)
                    })
                    .map(|item| item.label),
            );
            let held = if held.is_empty() { String::new() } else { format!("{held} wait; ") };
            add(
                keys::STUCK,
                "STUCK, all",
                format!("{held}{}", sends(Course::Stuck)),
                Bend::Stuck { release: at, part: Part::All },
            );
            add(
                keys::LEFT,
                "STUCK left",
                "the same, and the left is written down".to_owned(),
                Bend::Stuck { release: at, part: Part::Left },
            );
            add(
                keys::RIGHT,
                "STUCK right",
                "the same, and the right is written down".to_owned(),
                Bend::Stuck { release: at, part: Part::Right },
            );
            if matches!(fate, Fate::Stuck(_)) {
                add(
                    keys::DOWN,
                    "Fabric is down",
                    "a person saw it: what waits is sent".to_owned(),
                    Bend::Down { release: at },
                );
            }
        }
        Fate::Stays => {
            if let Some((bar, land)) = second_try_bar(run, at) {
                let then = format!("at bar {bar}: arm off, zone clear anew, arm anew; the last try");
                add(keys::AGAIN, "Second try", then, Bend::TryAt { release: at, land });
            }
            let down = format!("a person saw that it is down: {depend} sent as far as due");
            add(keys::DOWN, "Fabric is down", down, Bend::Down { release: at });
            let early = format!("if it comes down all the same: all stops, light first; {}", sends(Course::Early));
            add(keys::EARLY, "EARLY", early, Bend::Early { release: at });
        }
        Fate::Early => {
            if run.bends.pictures == Some(at) {
                let then = format!("when people are looked after; {}", sends(Course::Early));
                add(keys::NEXT, "Pictures", then, Bend::Next);
            }
        }
    }
}

/// The first bar in which a release can be tried once more: its land keeps its place within the bar.
pub fn second_try_bar(run: &Run, at: ReleaseIndex) -> Option<(i32, SongTime)> {
    if run.mode != Mode::Perform || run.tried_twice.contains(&at) || run.place.moves != Moves::Runs {
        return None;
    }
    let release = run.plan.release(at)?;
    let grid = &run.plan.grid;
    let here = run.song();
    let own = bar_at(grid, release.land);
    let within = release.land - grid.bar_time(own);
    (bar_at(grid, here) + 1..run.plan.prepared.service().song.end_bar()).find_map(|bar| {
        let land = grid.bar_time(bar) + within;
        let shift = land - release.land;
        // The window opens three seconds before the decision at least, and a person needs some more to call it.
        let decided = release.decision + shift;
        (decided - here >= CALL_IT + ARM && decided - (release.from + shift) >= ARM).then_some((bar, land))
    })
}

/// What it takes to call a second try: arm off, zone, clear, standby. Common practice, no source.
const CALL_IT: SongSpan = SongSpan::from_millis(15_000);
/// What it takes to arm.
const ARM: SongSpan = SongSpan::from_millis(3_000);

fn ways(run: &Run, all: &mut Vec<Choice>) {
    let grid = &run.plan.grid;
    let here = run.song();
    let mut add = |key, word: &str, then: String, bend| {
        all.push(Choice { key, word: word.to_owned(), then, bend, alarm: false });
    };
    if let Some((from, to)) = vamp_here(run) {
        if run.bends.leaving.is_none() {
            let lead =
                run.lead_into(to).max(if run.bends.round.is_some() { run.lead_into(from) } else { SongSpan::ZERO });
            let (last, next) = (bar_at(grid, to) - 1, bar_at(grid, to));
            let then = if here + lead <= to {
                format!("after bar {last} it goes on with bar {next}")
            } else {
                format!("once more round first, because a message must leave {lead} ahead; then on with bar {next}")
            };
            add(keys::VAMP, "Leave the vamp", then, Bend::Leave { at: None });
            let lead = run.lead_into(to);
            if let Some(bar) = next_bar(run, lead).filter(|bar| grid.bar_time(*bar) < to) {
                let then = format!("at bar {bar} it goes on with bar {next}");
                add(keys::LEAVE, "Leave at the next bar", then, Bend::Leave { at: Some(grid.bar_time(bar)) });
            }
        }
    } else if let Some((from, to, name)) = section_here(run) {
        let then = format!("{name} goes round until it is left");
        add(keys::VAMP, "Vamp", then, Bend::Vamp { from, to });
    }
    if run.bends.wait.is_none()
        && let Some(bar) = waits_at(run)
    {
        let then = format!("time stands at bar {bar} until you resume");
        add(keys::WAIT, "Wait", then, Bend::Wait { at: grid.bar_time(bar) });
    }
    let cut = run.plan.marks.iter().find_map(|mark| match mark.does {
        MarkDoes::Cut(to) if here + run.lead_into(to).max(run.lead_into(mark.at)) < mark.at => Some((mark.at, to)),
        _ => None,
    });
    if let Some((from, to)) = cut.filter(|_| run.bends.cut.is_none()) {
        let then = format!("from bar {} it goes on with bar {}", bar_at(grid, from), bar_at(grid, to));
        add(keys::CUT, "Cut", then, Bend::Cut { from, to });
    }
    let chosen =
        run.bends.wait.is_some() || run.bends.cut.is_some() || run.bends.vamp.is_some() || run.bends.leaving.is_some();
    if chosen {
        add(keys::BACK, "Take back", "what was chosen for ahead does not come".to_owned(), Bend::TakeBack);
    }
}

fn resume(run: &Run, all: &mut Vec<Choice>) {
    let lead = run.lead_into(run.place.song);
    let bar = bar_at(&run.plan.grid, run.place.song);
    let then = if lead > SongSpan::ZERO {
        format!("bar {bar} comes {lead} after the key, because a message must leave ahead")
    } else {
        format!("bar {bar} comes with the key")
    };
    all.push(Choice { key: keys::WAIT, word: "RESUME".to_owned(), then, bend: Bend::GoOn, alarm: false });
    let cut = run.plan.marks.iter().find_map(|mark| match mark.does {
        MarkDoes::Cut(to) if mark.at == run.place.song => Some(to),
        _ => None,
    });
    if let Some(to) = cut {
        let then = format!("it will go on with bar {}", bar_at(&run.plan.grid, to));
        let bend = Bend::Cut { from: run.place.song, to };
        all.push(Choice { key: keys::CUT, word: "Cut".to_owned(), then, bend, alarm: false });
    }
}

fn group(run: &Run, all: &mut Vec<Choice>) {
    let Some(group) = run.bends.next_group.and_then(|at| run.plan.groups.get(at)) else { return };
    let names = labels(group.items.iter().filter_map(|item| run.plan.label(*item)));
    let grid = &run.plan.grid;
    let place = grid.place_of(Tick::new(round::nearest(grid.ticks_at(group.land.micros() as f64))));
    let armed =
        if group.releases.is_empty() { "" } else { "; a release only if it is armed, or else the fabric stays" };
    let then = format!("{names}, planned for bar {}, beat {}{armed}", place.bar, place.beat);
    let alarm = !group.releases.is_empty();
    all.push(Choice { key: keys::NEXT, word: "Next group".to_owned(), then, bend: Bend::Next, alarm });
}

/// Labels in words, each once, the first few of many.
fn labels(all: impl Iterator<Item = Label>) -> String {
    let mut all: Vec<Label> = all.collect();
    all.sort_unstable();
    all.dedup();
    let names: Vec<String> = all.iter().take(6).map(ToString::to_string).collect();
    let more = if all.len() > 6 { format!(" and {} more", all.len() - 6) } else { String::new() };
    format!("{}{more}", names.join(", "))
}

/// The bar that a song time is in.
pub fn bar_at(grid: &Grid, at: SongTime) -> i32 {
    grid.place_of(Tick::new(round::nearest(grid.ticks_at(at.micros() as f64)))).bar
}

/// The first bar line ahead that leaves this much time.
fn next_bar(run: &Run, lead: SongSpan) -> Option<i32> {
    let grid = &run.plan.grid;
    let here = run.song();
    let first = bar_at(grid, here) + 1;
    // Some time for the key itself.
    (first..first + 64).find(|bar| grid.bar_time(*bar) - lead > here + HAND)
}

/// What a hand needs to press a key once it has read what it does, at the least. Our own figure.
const HAND: SongSpan = SongSpan::from_millis(150);

/// The first bar at which the song can be made to wait.
fn waits_at(run: &Run) -> Option<i32> {
    let grid = &run.plan.grid;
    let here = run.song();
    let first = bar_at(grid, here) + 1;
    let end = run.plan.prepared.service().song.end_bar();
    (first..end.min(first.saturating_add(64))).find(|bar| {
        let at = grid.bar_time(*bar);
        at - run.lead_into(at) > here + HAND
    })
}

/// The vamp that the song is in.
pub fn vamp_here(run: &Run) -> Option<(SongTime, SongTime)> {
    let here = run.song();
    let marked = run.plan.marks.iter().filter_map(|mark| match mark.does {
        MarkDoes::Vamp(to) => Some((mark.at, to)),
        _ => None,
    });
    marked.chain(run.bends.vamp).find(|(from, to)| *from <= here && here < *to)
}

/// The section that the song is in.
fn section_here(run: &Run) -> Option<(SongTime, SongTime, String)> {
    let grid = &run.plan.grid;
    let song = &run.plan.prepared.service().song;
    let section = song.section_at(bar_at(grid, run.song()))?;
    let end = section.bar.saturating_add(i32::try_from(section.bars).unwrap_or(1));
    let (from, to) = (grid.bar_time(section.bar), grid.bar_time(end));
    let ahead = run.lead_into(to).max(run.lead_into(from));
    let meets = run.plan.releases.iter().any(|r| r.decision.min(r.from) < to && from <= r.send.max(r.land));
    (run.song() + ahead + HAND < to && !meets)
        .then(|| (from, to, format!("{} (bars {} to {})", section.name, section.bar, end - 1)))
}

/// The state of the run in large words for the board, with a sign of its own for each: not by colour alone.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Sign {
    /// Nothing runs: a square.
    Stopped,
    /// It runs: a triangle.
    Runs,
    /// It waits: two bars.
    Waits,
    /// It goes round: a ring.
    Vamp,
    /// By hand: steps.
    ByHand,
    /// The fabric stays: a bar above a line.
    Stays,
    /// Stuck: a slanted bar.
    Stuck,
    /// Early: a cross.
    Early,
    /// It is not sure where the band is: a broken ring.
    Unsure,
    /// It follows the band: dots.
    Follows,
}

/// What the board says of the run.
pub fn state(run: &Run) -> (Sign, String) {
    let grid = &run.plan.grid;
    let fates = (0..run.plan.releases.len()).map(ReleaseIndex::at).map(|at| (at, run.bends.fate(at)));
    let label = |at: ReleaseIndex| run.plan.release(at).map(|r| r.label.to_string()).unwrap_or_default();
    let early = fates.clone().find(|(_, fate)| *fate == Fate::Early);
    if let Some((at, _)) = early {
        return (Sign::Early, format!("EARLY  {}: people first", label(at)));
    }
    match run.place.moves {
        Moves::Stopped => return (Sign::Stopped, "STOPPED".to_owned()),
        Moves::Waits => return (Sign::Waits, format!("WAITING at bar {}", bar_at(grid, run.place.song))),
        Moves::ByHand => return (Sign::ByHand, "BY HAND: one key sends each group".to_owned()),
        Moves::Runs => {}
    }
    if let Some((_, wait)) = run.begins_in() {
        let seconds = wait.micros().div_euclid(1_000_000);
        return (Sign::Waits, format!("BEGINS in {}:{:02}", seconds / 60, seconds % 60));
    }
    let now = release_now(run).map(|at| (at, run.bends.fate(at)));
    match now {
        Some((at, Fate::Stuck(part))) => return (Sign::Stuck, format!("STUCK {}  {}", part.word(), label(at))),
        Some((at, Fate::Stays)) => return (Sign::Stays, format!("FABRIC STAYS  {}", label(at))),
        _ => {}
    }
    if let Some((from, to)) = vamp_here(run) {
        let round = run.bends.round.map_or(1, |(_, _, round)| round);
        let leaves = if run.bends.leaving.is_some() { ", leaving" } else { "" };
        let words = format!("VAMP  bars {} to {}, round {round}{leaves}", bar_at(grid, from), bar_at(grid, to) - 1);
        return (Sign::Vamp, words);
    }
    if let Some((sure, words)) = &run.band {
        return (if *sure { Sign::Follows } else { Sign::Unsure }, words.clone());
    }
    let words = if run.mode == Mode::Perform { "PERFORMING" } else { "REHEARSING: stand-ins only" };
    (Sign::Runs, words.to_owned())
}
