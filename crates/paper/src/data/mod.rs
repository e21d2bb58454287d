//! The data for a template. Everything is already worked out and put into words, so that a template only does layout.

mod before;
mod calls;
mod changes;
mod checklist;
mod crew;
mod day;
mod department;
mod facts;
mod kit;
mod order;
mod patch;
mod release;
mod reveal;
mod room;
mod wall;
mod words;

use super::options::{PaperOptions, Sheet};
use changes::{Changes, Marks};
use facts::FactChange;
use letfall_core::filmed::FilmPage;
use letfall_core::fingerprint::Fingerprint;
use letfall_core::prepared::Prepared;
use letfall_core::show::{HandOut, Kind, STANDARDS, Show, cautions};
use letfall_core::time::{SongTime, WallTime, round};
use serde::Serialize;
use serde_json::Value;
use std::collections::BTreeMap;
use unicode_segmentation::UnicodeSegmentation;

/// What all sheets need to know about the show and the service, then each sheet's own data.
#[derive(Serialize)]
pub struct Plan {
    paper: &'static str,
    language: String,
    title: String,
    venue: String,
    version: String,
    date: String,
    printed: String,
    service: String,
    song: String,
    starts: String,
    ends: String,
    length: String,
    bars: u32,
    tempo: String,
    /// When to start the file that plays the song, in words; empty if at song time 0.
    press_start: String,
    has_release: bool,
    /// What the safety sheet still lacks.
    safety_lacks: Vec<&'static str>,
    competent: String,
    drop_zone: String,
    clear_signal: String,
    caller: String,
    arm_holder: String,
    spotter: String,
    key_switch: String,
    /// What must be said wherever a release is.
    cautions: Vec<&'static str>,
    abort_words: String,
    local_rule: String,
    /// Documents to ask about, by number and title.
    standards: Vec<Document>,
    stay_words: String,
    /// Who tells band and choir, who wear no headset.
    tells_band: String,
    /// What changed since the previous version; absent if there is none.
    changes: Option<Changes>,
    /// What else has changed since then of what each sheet says, by the sheet's name.
    facts: BTreeMap<&'static str, Vec<FactChange>>,
    /// The fingerprint of each sheet that is printed, by its name.
    fingerprints: BTreeMap<&'static str, String>,
    /// The running order.
    sections: Vec<order::Group>,
    calls: Option<calls::CallSheet>,
    media: Option<department::Department>,
    lighting: Option<department::Department>,
    outputs: Option<department::Department>,
    releases: Vec<release::ReleasePage>,
    wall: Option<wall::Wall>,
    kit: Option<kit::Kit>,
    checklist: Vec<checklist::Group>,
    crew: Option<crew::Crew>,
    stand_ins: Vec<crew::StandIn>,
    patch: Vec<patch::Device>,
    between: Option<day::Between>,
    papers: Option<day::Papers>,
    risk: Option<day::Risk>,
    stop_card: Option<day::StopCard>,
    report: Option<day::Report>,
    strike: Option<day::Strike>,
    /// The room; absent if none is described.
    room: Option<room::RoomSheet>,
    known: Option<before::KnownSheet>,
    survey: Option<before::Survey>,
    request: Option<before::Request>,
    offers: Option<before::Offers>,
    week: Option<before::WeekSheet>,
    filmed: Option<FilmPage>,
    /// Who was given what.
    hand_outs: Vec<HandOut>,
}

/// What the safety sheet lacks, including the stop words.
fn lacks(show: &Show) -> Vec<&'static str> {
    let mut missing = show.safety.missing();
    if show.safety.abort_words.trim().is_empty() {
        missing.push("the words that stop everything");
    }
    missing
}

/// All files of a service begin together, some bars before bar 1. Whoever starts them must know when.
fn press_start(prepared: &Prepared, start: Option<WallTime>) -> String {
    let (service, grid, first) = (prepared.service(), prepared.grid(), prepared.schedule().opens_at());
    let (opens, bars) = (grid.time_at(first), 1 - grid.place_of(first).bar);
    if opens >= SongTime::ZERO || bars < 1 {
        return String::new();
    }
    let early = (grid.bar_time(1) - opens).secs_f64();
    let bars = if bars == 1 { "1 bar".to_owned() } else { format!("{bars} bars") };
    let clock = match words::clock(service, start, opens) {
        clock if clock.is_empty() => clock,
        clock => format!(" at {clock}"),
    };
    let file_bar = prepared.schedule().bar_1_in_file();
    format!(
        "start all files (MIDI, click, timecode) together{clock}, {early:.2}\u{a0}s before bar 1: each begins with {bars}, and bar 1 of the song is bar {file_bar} of the file"
    )
}

/// A standard, by number and title.
#[derive(Serialize, Clone)]
struct Document {
    number: &'static str,
    about: &'static str,
}

/// The data for a template, with the fingerprints of its sheets and what has changed since an earlier version.
pub fn for_template(prepared: &Prepared, options: &PaperOptions) -> Value {
    let mut plan = plan(prepared, options);
    // What a sheet says does not depend on what it is compared with: the marks of its rows are no part of it.
    let alone = PaperOptions { previous: None, performed: None, ..options.clone() };
    let now = if options.previous.is_some() || options.performed.is_some() {
        value(&self::plan(prepared, &alone))
    } else {
        value(&plan)
    };
    let printed = |sheet: &Sheet| options.sheet == Sheet::All || options.template.is_some() || *sheet == options.sheet;
    plan.fingerprints =
        Sheet::all().filter(printed).map(|sheet| (sheet.name(), facts::fingerprint(sheet, &now).to_string())).collect();
    if let Some(before) = options.previous.as_ref().and_then(|previous| previous.plan.as_ref()) {
        plan.facts = facts::changes(&value(&self::plan(before, &alone)), &now);
        // What a row says of itself that it was is not said twice; but of a release everything is said.
        let marked = plan.changes.as_ref().map_or_else(Vec::new, Changes::labels);
        let whole = [Sheet::Kit, Sheet::Checklist, Sheet::Release].map(Sheet::name);
        for facts in plan.facts.iter_mut().filter(|(sheet, _)| !whole.contains(sheet)).map(|(_, facts)| facts) {
            facts.retain(|fact| !fact.is_in_a_mark() || !marked.iter().any(|label| fact.is_of(label)));
        }
    }
    let mut data = value(&plan);
    breakable(&mut data);
    data
}

/// A word of at least this many characters may break anywhere: that is better than running over the edge of its column. (A rule of the
/// template would look at every word of every page, and take as long as setting it.)
pub const LONG_WORD: usize = 24;

/// Lets long words break, with spaces that have no width.
fn breakable(data: &mut Value) {
    match data {
        Value::String(text) => {
            let long = |word: &str| word.chars().count() >= LONG_WORD;
            if text.len() >= LONG_WORD && text.split_whitespace().any(long) {
                let parts = text.split_inclusive(char::is_whitespace);
                let broken = parts.map(|part| {
                    if long(part.trim_end()) {
                        part.graphemes(true).collect::<Vec<_>>().join("\u{200b}")
                    } else {
                        part.to_owned()
                    }
                });
                *text = broken.collect();
            }
        }
        Value::Array(items) => items.iter_mut().for_each(breakable),
        Value::Object(fields) => fields.values_mut().for_each(breakable),
        _ => {}
    }
}

/// The fingerprint of each sheet of a service.
pub fn fingerprints(prepared: &Prepared) -> Vec<(Sheet, Fingerprint)> {
    let all = PaperOptions { sheet: Sheet::All, ..PaperOptions::default() };
    let now = value(&plan(prepared, &all));
    Sheet::all().map(|sheet| (sheet, facts::fingerprint(sheet, &now))).collect()
}

fn value(plan: &Plan) -> Value {
    serde_json::to_value(plan).unwrap_or_default()
}

/// Works out what a sheet needs, or everything for [`Sheet::All`] and for a custom template.
fn plan(prepared: &Prepared, options: &PaperOptions) -> Plan {
    let (show, service, grid) = (prepared.show(), prepared.service(), prepared.grid());
    let wants = |sheet: Sheet| options.template.is_some() || [Sheet::All, sheet].contains(&options.sheet);
    let marks = Marks::new(prepared, options.previous.as_ref());
    let end = prepared.end();
    let bpm = 60e6 / ((grid.bar_time(2) - grid.bar_time(1)).micros() as f64 / f64::from(grid.beats_in(1)));
    let kind = |kind| department::department(prepared, &marks, kind);
    Plan {
        paper: options.size.template_name(),
        language: show.language.clone(),
        title: show.title.clone(),
        venue: show.venue.clone(),
        version: show.version.clone(),
        date: service.date.clone(),
        printed: options.printed.clone(),
        service: service.name.clone(),
        song: service.song.title.clone(),
        starts: words::clock(service, options.start, SongTime::ZERO),
        ends: words::clock(service, options.start, end),
        length: words::song_clock(end),
        bars: service.song.bars,
        tempo: format!("{} in {}", round::nearest(bpm), grid.metre_at(1)),
        press_start: press_start(prepared, options.start),
        safety_lacks: lacks(show),
        has_release: service.cues.iter().any(|c| c.label.kind == Kind::Release && !c.resting),
        competent: show.safety.competent.clone(),
        drop_zone: show.safety.drop_zone.clone(),
        clear_signal: show.safety.clear_signal.clone(),
        caller: show.safety.caller.clone(),
        arm_holder: show.safety.arm_holder.clone(),
        spotter: show.safety.spotter.clone(),
        key_switch: show.safety.key_switch.clone(),
        cautions: [
            &cautions::KEY_SWITCH[..],
            &[
                cautions::STOP_ALL,
                cautions::FILE,
                cautions::DESK,
                cautions::POWER_LOSS,
                cautions::NOT_AN_EMERGENCY_STOP,
            ],
        ]
        .concat(),
        abort_words: show.safety.abort_words.clone(),
        stay_words: show.safety.stay_words.clone(),
        tells_band: show.stop.tells_band.clone(),
        facts: BTreeMap::new(),
        fingerprints: BTreeMap::new(),
        local_rule: show.safety.local_rule.clone(),
        standards: STANDARDS.map(|s| Document { number: s.number, about: s.about }).to_vec(),
        sections: if wants(Sheet::Order) { order::order(prepared, &marks, options.start) } else { Vec::new() },
        calls: wants(Sheet::Calls).then(|| calls::calls(prepared, &marks)),
        media: wants(Sheet::Media).then(|| kind(Kind::Media)),
        lighting: wants(Sheet::Lighting).then(|| kind(Kind::Lighting)),
        outputs: wants(Sheet::Outputs).then(|| kind(Kind::Output)),
        releases: if wants(Sheet::Release) { release::releases(prepared, &marks) } else { Vec::new() },
        wall: wants(Sheet::Wall).then(|| wall::wall(prepared, &marks)),
        kit: wants(Sheet::Kit).then(|| kit::kit(show)),
        checklist: if wants(Sheet::Checklist) { checklist::checklist(prepared) } else { Vec::new() },
        crew: wants(Sheet::Crew).then(|| crew::crew(prepared)),
        stand_ins: if wants(Sheet::StandIn) { crew::stand_ins(prepared) } else { Vec::new() },
        patch: if wants(Sheet::Patch) { patch::patch(prepared) } else { Vec::new() },
        between: wants(Sheet::Between).then(|| day::between(prepared)),
        papers: wants(Sheet::Papers).then(|| day::papers(prepared)),
        risk: wants(Sheet::Facts).then(|| day::risk(prepared)),
        stop_card: wants(Sheet::ShowStop).then(|| day::stop_card(prepared)),
        report: wants(Sheet::Report).then(|| day::report(prepared, options.performed.as_deref())),
        strike: wants(Sheet::Strike).then(|| day::strike(prepared)),
        room: if wants(Sheet::Room) { room::room(prepared) } else { None },
        known: wants(Sheet::Known).then(|| before::known(show)),
        survey: wants(Sheet::Survey).then(|| before::survey(show)),
        request: wants(Sheet::Request).then(|| before::request(show)),
        offers: wants(Sheet::Offers).then(|| before::offers(show)),
        week: wants(Sheet::Week).then(|| before::week(show)),
        filmed: if wants(Sheet::Filmed) { options.filmed.as_deref().cloned() } else { None },
        hand_outs: show.hand_outs.clone(),
        changes: marks.into_changes(),
    }
}
