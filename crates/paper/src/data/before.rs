//! What comes before the first cue: what is known and what must be asked, the survey, the request to a hire company, offers side by side,
//! the week.

use letfall_core::room::{Settled, facts_and_questions, hang_load, length, mass};
use letfall_core::show::room::{SurveyPart, SurveyQuestion};
use letfall_core::show::{Offer, Show, Source, WeekCall, money};
use letfall_core::time::WallTime;
use serde::Serialize;

#[derive(Serialize)]
struct Known {
    what: String,
    figure: String,
    by: String,
}

#[derive(Serialize)]
struct Ask {
    ask: String,
    questions: Vec<String>,
}

/// What we know, what we must ask.
#[derive(Serialize)]
pub struct KnownSheet {
    known: Vec<Known>,
    ask: Vec<Ask>,
}

/// Works out what is known and what must be asked, by whom it is asked.
pub fn known(show: &Show) -> KnownSheet {
    let Settled { known, ask } = facts_and_questions(show);
    let mut groups: Vec<Ask> = Vec::new();
    for question in ask {
        match groups.iter_mut().find(|group| group.ask == question.ask) {
            Some(group) => group.questions.push(question.what),
            None => groups.push(Ask { ask: question.ask, questions: vec![question.what] }),
        }
    }
    let known = known.into_iter().map(|fact| Known { what: fact.what, figure: fact.figure, by: fact.by });
    KnownSheet { known: known.collect(), ask: groups }
}

/// The survey, to take along.
#[derive(Serialize)]
pub struct Survey {
    parts: Vec<SurveyGroup>,
    services: Vec<String>,
}

#[derive(Serialize)]
struct SurveyGroup {
    name: &'static str,
    rows: Vec<SurveyRow>,
}

#[derive(Serialize)]
struct SurveyRow {
    question: &'static str,
    ask: &'static str,
    answer: String,
    by: String,
}

/// Works out the survey, with what has been answered.
pub fn survey(show: &Show) -> Survey {
    let row = |question: SurveyQuestion| {
        let answer = show.room.as_ref().and_then(|room| room.answer(question));
        SurveyRow {
            question: question.text(),
            ask: question.ask(),
            answer: answer.map_or_else(String::new, |answer| answer.answer.trim().to_owned()),
            by: answer.map_or_else(String::new, |answer| answer.known.words()),
        }
    };
    let group = |part: SurveyPart| SurveyGroup {
        name: part.name(),
        rows: SurveyQuestion::ALL.iter().filter(|q| q.part() == part).map(|q| row(*q)).collect(),
    };
    let hour = |service: &letfall_core::show::Service| {
        let at = service.starts.map_or_else(|| "no hour yet".to_owned(), hour_of);
        format!("{}: {at}", service.name)
    };
    Survey { parts: SurveyPart::ALL.map(group).into(), services: show.services.iter().map(hour).collect() }
}

/// A wall clock's hour and minute.
fn hour_of(at: WallTime) -> String {
    at.to_string().chars().take(5).collect()
}

/// The request to a hire company.
#[derive(Serialize)]
pub struct Request {
    rows: Vec<Wanted>,
    dates: Vec<String>,
    facts: Vec<String>,
    access: String,
    power: String,
    lift: String,
    questions: Vec<&'static str>,
}

#[derive(Serialize)]
struct Wanted {
    what: String,
    quantity: u32,
    note: String,
}

/// What a hire company is asked.
const ASKED: [&str; 8] = [
    "Price for a day and for a week, labour, transport and deposit, each by itself?",
    "Makers' sheets of each unit and lens: loads, direction of pull, delays, throw ratios?",
    "Masses of each piece, and the longest piece?",
    "Power: plugs, watts, and what must not share a circuit?",
    "Certificates of cloth and of lifting gear, with their dates?",
    "Who puts it up, who may use it, what training is asked for?",
    "Tried before it leaves, and a spare of what can fail?",
    "When can it be fetched and brought back, and what if a day is lost?",
];

/// Works out the request.
pub fn request(show: &Show) -> Request {
    let hired = show.kit.iter().filter(|item| item.source == Source::Hired);
    let rows = hired.map(|item| Wanted { what: item.name.clone(), quantity: item.quantity, note: item.note.clone() });
    let mut days: Vec<String> = show.week.calls.iter().map(|call| call.date.trim().to_owned()).collect();
    days.extend(show.services.iter().map(|service| service.date.trim().to_owned()));
    days.retain(|day| !day.is_empty());
    days.sort_unstable();
    days.dedup();
    let units = show.settings.units;
    let mut facts = Vec::new();
    for hang in &show.hangs {
        let load = hang_load(hang, None);
        facts.push(format!(
            "{}: {} wide, {} long, cloth {}, hardware {}, top edge {} above the floor",
            hang.name,
            length(hang.width_m, units),
            length(hang.drop_m, units),
            mass(load.cloth_kg, units),
            mass(load.hardware_kg, units),
            length(hang.top_m, units)
        ));
    }
    for release in &show.releases {
        let circuit = release
            .circuit
            .as_ref()
            .map_or_else(String::new, |c| format!(", {:.0}\u{a0}V supply, {:.1}\u{a0}W a unit", c.supply_v, c.unit_w));
        facts.push(format!("{}: {} units{circuit}", release.name, release.units));
    }
    if let Some(room) = &show.room {
        for projector in &room.projectors {
            let output = show.output(&projector.output).and_then(|output| output.projection.as_ref());
            if let Some(p) = output {
                facts.push(format!(
                    "{}: picture {} × {}, {:.0}\u{a0}lm, throw ratio {:.2} to {:.2}",
                    projector.name,
                    length(p.width_m, units),
                    length(p.height_m, units),
                    p.lumens,
                    projector.throw_least,
                    projector.throw_most
                ));
            }
        }
    }
    Request {
        rows: rows.collect(),
        dates: days,
        facts,
        access: show.week.access.clone(),
        power: show.week.power.clone(),
        lift: show.week.lift.clone(),
        questions: ASKED.to_vec(),
    }
}

/// Offers side by side.
#[derive(Serialize)]
pub struct Offers {
    columns: Vec<OfferColumn>,
    lines: Vec<OfferLine>,
    budget: String,
    currency: String,
}

#[derive(Serialize)]
struct OfferColumn {
    name: String,
    source: &'static str,
    days: u16,
    lines: String,
    extra: String,
    kept_percent: u8,
    kept: String,
    total: String,
    per_day: String,
    deposit: String,
    /// What drops out under the budget.
    out: String,
    note: String,
}

#[derive(Serialize)]
struct OfferLine {
    what: String,
    cells: Vec<String>,
}

/// Works out offers side by side.
pub fn offers(show: &Show) -> Offers {
    let mut names: Vec<&str> = Vec::new();
    for line in show.offers.iter().flat_map(|offer| &offer.lines) {
        if !names.contains(&line.what.as_str()) {
            names.push(&line.what);
        }
    }
    let cell = |offer: &Offer, what: &str| {
        let own: Vec<_> = offer.lines.iter().filter(|line| line.what == what).collect();
        if own.is_empty() {
            return String::new();
        }
        let cost: u128 = own.iter().map(|line| line.cost_cents(offer.days)).sum();
        let quantity: u64 = own.iter().map(|line| u64::from(line.quantity)).sum();
        format!("{quantity} for {}", money(cost))
    };
    let lines = names.iter().map(|what| OfferLine {
        what: (*what).to_owned(),
        cells: show.offers.iter().map(|offer| cell(offer, what)).collect(),
    });
    let budget = show.budget.as_ref();
    Offers {
        columns: show.offers.iter().map(|offer| column(offer, budget.map(|b| u128::from(b.cents)))).collect(),
        lines: lines.collect(),
        budget: budget.map_or_else(String::new, |b| money(u128::from(b.cents))),
        currency: budget.map_or_else(String::new, |b| b.currency.clone()),
    }
}

fn column(offer: &Offer, budget: Option<u128>) -> OfferColumn {
    let cost = offer.cost();
    let out = budget.map_or_else(String::new, |budget| {
        let (out, missing) = offer.left_out(budget);
        let names: Vec<&str> = out.iter().map(|at| offer.lines[*at].what.as_str()).collect();
        match (names.is_empty(), missing) {
            (true, 0) => "nothing".to_owned(),
            (false, 0) => names.join(", "),
            (true, missing) => format!("nothing can, and {} are missing", money(missing)),
            (false, missing) => format!("{}; {} are missing still", names.join(", "), money(missing)),
        }
    });
    OfferColumn {
        name: offer.name.clone(),
        source: match offer.source {
            Source::Hired => "hired",
            Source::Owned => "the house's own",
            Source::Bought => "bought",
            Source::Borrowed => "borrowed",
        },
        days: offer.days,
        lines: money(cost.lines),
        extra: money(cost.extra),
        kept_percent: offer.contingency_percent,
        kept: money(cost.contingency),
        total: money(cost.total),
        per_day: if offer.days > 0 { money(cost.total / u128::from(offer.days)) } else { String::new() },
        deposit: money(cost.deposit),
        out,
        note: offer.note.clone(),
    }
}

/// The week.
#[derive(Serialize)]
pub struct WeekSheet {
    days: Vec<Day>,
    access: String,
    curfew: String,
    lift: String,
    power: String,
    roles: Vec<String>,
}

#[derive(Serialize)]
struct Day {
    date: String,
    calls: Vec<Call>,
}

#[derive(Serialize)]
struct Call {
    hours: String,
    what: String,
    step: &'static str,
    hung: &'static str,
    mode: &'static str,
    behind: &'static str,
    who: String,
    overhead: bool,
    note: String,
}

/// Works out the week: the calls by day, and the services among them.
pub fn week(show: &Show) -> WeekSheet {
    let hours = |call: &WeekCall| match (call.from, call.until) {
        (None, None) => String::new(),
        (Some(from), None) => hour_of(from),
        (None, Some(until)) => format!("until {}", hour_of(until)),
        (Some(from), Some(until)) => format!("{}–{}", hour_of(from), hour_of(until)),
    };
    let mut all: Vec<(String, Option<i64>, Call)> = Vec::new();
    for call in &show.week.calls {
        let step = call.step;
        let made = Call {
            hours: hours(call),
            what: call.what.clone(),
            step: step.map_or("", |step| step.name()),
            hung: step.map_or("", |step| step.hung()),
            mode: step.map_or("", |step| step.mode()),
            behind: step.map_or("", |step| step.behind()),
            who: call.who.iter().map(|role| role.trim()).filter(|role| !role.is_empty()).collect::<Vec<_>>().join("; "),
            overhead: call.overhead,
            note: call.note.clone(),
        };
        all.push((call.date.trim().to_owned(), call.from.map(WallTime::micros), made));
    }
    for service in show.services.iter().filter(|service| !service.date.trim().is_empty()) {
        let made = Call {
            hours: service.starts.map_or_else(String::new, hour_of),
            what: format!("Service “{}”", service.name),
            step: "",
            hung: "",
            mode: "",
            behind: "",
            who: String::new(),
            overhead: false,
            note: service.doors.map_or_else(String::new, |doors| format!("doors {}", hour_of(doors))),
        };
        all.push((service.date.trim().to_owned(), service.starts.map(WallTime::micros), made));
    }
    // Days in order, those that are open last.
    all.sort_by(|a, b| (a.0.is_empty(), &a.0, a.1).cmp(&(b.0.is_empty(), &b.0, b.1)));
    let mut days: Vec<Day> = Vec::new();
    for (date, _, call) in all {
        match days.last_mut() {
            Some(day) if day.date == date => day.calls.push(call),
            _ => days.push(Day { date, calls: vec![call] }),
        }
    }
    WeekSheet {
        days,
        access: show.week.access.clone(),
        curfew: show.week.curfew.clone(),
        lift: show.week.lift.clone(),
        power: show.week.power.clone(),
        roles: show.crew.iter().map(|member| member.role.trim().to_owned()).filter(|role| !role.is_empty()).collect(),
    }
}
