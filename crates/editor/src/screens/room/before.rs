//! What comes before the first cue: the survey, offers side by side, the week.

use crate::screens::rig::costs::price;
use crate::screens::rig::rows::{empty, take_out};
use crate::widgets::fields::{Fields, free_name, heading, heads};
use egui::{Grid, Ui};
use letfall_core::limits;
use letfall_core::show::room::{Known, SurveyAnswer, SurveyPart, SurveyQuestion};
use letfall_core::show::{Offer, OfferLine, RehearsalStep, Show, Source, WeekCall, money};

/// The survey.
pub fn survey(ui: &mut Ui, show: &mut Show, fields: &mut Fields) {
    let Some(room) = show.room.as_mut() else { return };
    ui.label("Questions for a walk round the room, at the hour of a service. The Paper screen prints them as a form, with what is answered already.");
    for part in SurveyPart::ALL {
        ui.add_space(6.0);
        heading(ui, part.name());
        Grid::new(part.name()).striped(true).spacing([12.0, 6.0]).show(ui, |ui| {
            heads(ui, &["Question", "Answer", "From whom", "Day"]);
            for question in SurveyQuestion::ALL.iter().copied().filter(|q| q.part() == part) {
                let at = room.survey.iter().position(|answer| answer.question == question);
                let mut answer = at.map_or_else(
                    || SurveyAnswer { question, answer: String::new(), known: Known::default() },
                    |at| room.survey[at].clone(),
                );
                ui.add_sized([330.0, 20.0], egui::Label::new(question.text()).wrap());
                fields.long_text(ui, &mut answer.answer, 330.0, &format!("Answer: {}", question.text()));
                fields.text(ui, &mut answer.known.by, 160.0, &format!("From whom: {}", question.text()));
                fields.text(ui, &mut answer.known.on, 96.0, &format!("Day: {}", question.text()));
                ui.end_row();
                let said = !answer.answer.is_empty() || answer.known != Known::default();
                match (at, said) {
                    (Some(at), true) => room.survey[at] = answer,
                    (Some(at), false) => {
                        room.survey.remove(at);
                    }
                    (None, true) => room.survey.push(answer),
                    (None, false) => {}
                }
            }
        });
    }
}

/// Roles in one field, parted by semicolons.
#[derive(Clone, PartialEq)]
struct Roles(Vec<String>);

impl std::fmt::Display for Roles {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.write_str(&self.0.join("; "))
    }
}

impl std::str::FromStr for Roles {
    type Err = std::convert::Infallible;

    fn from_str(text: &str) -> Result<Roles, Self::Err> {
        let roles = text.split(';').map(str::trim).filter(|role| !role.is_empty());
        Ok(Roles(roles.map(str::to_owned).collect()))
    }
}

/// The week.
pub fn week(ui: &mut Ui, show: &mut Show, fields: &mut Fields) {
    heading(ui, "Week");
    let week = &mut show.week;
    Grid::new("week facts").num_columns(2).spacing([12.0, 6.0]).show(ui, |ui| {
        for (words, text) in [
            ("When the house is open to the crew", &mut week.access),
            ("When it must be quiet or empty", &mut week.curfew),
            ("Lift or tower: from whom, when, who may drive it", &mut week.lift),
            ("Power: who connects it, and when", &mut week.power),
        ] {
            ui.label(words);
            fields.text(ui, text, 520.0, words);
            ui.end_row();
        }
    });
    ui.add_space(8.0);
    heading(ui, "Calls");
    empty(
        ui,
        week.calls.is_empty(),
        "From load-in to return: who comes when, to do what. Rehearsals are steps of one ladder, each of which makes the next one possible.",
    );
    let mut steps: Vec<(Option<RehearsalStep>, String)> = vec![(None, "no rehearsal".to_owned())];
    steps.extend(RehearsalStep::ALL.into_iter().map(|step| (Some(step), step.name().to_owned())));
    let mut gone = None;
    Grid::new("calls").striped(true).spacing([10.0, 6.0]).show(ui, |ui| {
        if !week.calls.is_empty() {
            heads(
                ui,
                &["Day", "From", "Until", "What", "Step", "Who, as roles with ; between", "Overhead", "Remarks", ""],
            );
        }
        for (at, call) in week.calls.iter_mut().enumerate() {
            let whose = format!("call {}", at + 1);
            let name = |part: &str| format!("{part}, {whose}");
            fields.text(ui, &mut call.date, 96.0, &name("Day"));
            fields.parsed_or_none(ui, &mut call.from, 84.0, "10:00", &name("From"));
            fields.parsed_or_none(ui, &mut call.until, 84.0, "12:00", &name("Until"));
            fields.text(ui, &mut call.what, 150.0, &name("What"));
            fields.choice(ui, &mut call.step, &steps, 170.0, &name("Step"));
            let mut who = Roles(call.who.clone());
            fields.parsed(ui, &mut who, 300.0, "caller; spotter", &name("Who"));
            call.who = who.0;
            fields.tick(ui, &mut call.overhead, "", &name("Overhead work"));
            fields.text(ui, &mut call.note, 200.0, &name("Remarks"));
            if fields.remove(ui, &whose) {
                gone = Some(at);
            }
            ui.end_row();
        }
    });
    take_out(&mut week.calls, gone);
    if fields.add(ui, "Add a call") {
        let date = week.calls.last().map_or_else(String::new, |call| call.date.clone());
        week.calls.push(WeekCall { date, what: "Call".to_owned(), ..WeekCall::default() });
    }
    // The next step of the ladder that is not planned yet.
    let next = RehearsalStep::ALL.into_iter().find(|step| !week.calls.iter().any(|call| call.step == Some(*step)));
    if let Some(step) = next
        && fields.add(ui, &format!("Add the next step: {}", step.name()))
    {
        week.calls.push(WeekCall { what: step.name().to_owned(), step: Some(step), ..WeekCall::default() });
    }
    ui.label("Days as 2026-12-19. Nobody works overhead alone, and nobody under 18 (common practice); local rules come first.");
}

/// Offers side by side.
pub fn offers(ui: &mut Ui, show: &mut Show, fields: &mut Fields) {
    heading(ui, "Offers");
    empty(
        ui,
        show.offers.is_empty(),
        "What the same things cost hired, owned or borrowed. letfall offers and letfall take-offers write and read them as a table.",
    );
    let budget = show.budget.as_ref().map(|budget| u128::from(budget.cents));
    let sources: Vec<_> = [Source::Hired, Source::Borrowed, Source::Owned, Source::Bought]
        .into_iter()
        .zip(["hired", "borrowed", "owned", "bought"].map(str::to_owned))
        .collect();
    let mut gone = None;
    for (at, offer) in show.offers.iter_mut().enumerate() {
        ui.separator();
        let whose = format!("offer {}", at + 1);
        let name = |part: &str| format!("{part}, {whose}");
        ui.horizontal_wrapped(|ui| {
            ui.label("From");
            fields.text(ui, &mut offer.name, 180.0, &name("Name"));
            fields.choice(ui, &mut offer.source, &sources, 96.0, &name("Source"));
            ui.label("for days");
            fields.whole(ui, &mut offer.days, &limits::OFFER_DAYS, &name("Days"));
            ui.label("labour");
            price(ui, fields, &mut offer.labour_cents, &limits::OFFER_LABOUR, &name("Labour"));
            ui.label("transport");
            price(ui, fields, &mut offer.transport_cents, &limits::OFFER_TRANSPORT, &name("Transport"));
            ui.label("deposit");
            price(ui, fields, &mut offer.deposit_cents, &limits::OFFER_DEPOSIT, &name("Deposit"));
            ui.label("kept back");
            fields.whole(ui, &mut offer.contingency_percent, &limits::OFFER_CONTINGENCY, &name("Contingency"));
        });
        lines(ui, offer, &whose, fields);
        let cost = offer.cost();
        let out = budget.map_or_else(String::new, |budget| {
            let (out, missing) = offer.left_out(budget);
            let names: Vec<&str> = out.iter().map(|at| offer.lines[*at].what.as_str()).collect();
            let short = if missing > 0 { format!("; {} are missing still", money(missing)) } else { String::new() };
            let names = if names.is_empty() { "nothing".to_owned() } else { names.join(", ") };
            format!(" Under the budget drops out: {names}{short}.")
        });
        ui.label(format!(
            "Lines {}, labour and transport {}, kept back {}: together {}. Deposit besides {}.{out}",
            money(cost.lines),
            money(cost.extra),
            money(cost.contingency),
            money(cost.total),
            money(cost.deposit)
        ));
        if fields.remove_row(ui, &format!("Remove {whose}")) {
            gone = Some(at);
        }
    }
    take_out(&mut show.offers, gone);
    if fields.add(ui, "Add an offer") {
        let name = free_name("offer", show.offers.iter().map(|offer| offer.name.as_str()));
        // The same things as in the kit, so that offers can be compared.
        let hired = show.kit.iter().filter(|item| item.source == Source::Hired);
        let lines =
            hired.map(|item| OfferLine { what: item.name.clone(), quantity: item.quantity, ..OfferLine::default() });
        show.offers.push(Offer { name, lines: lines.collect(), contingency_percent: 10, days: 1, ..Offer::default() });
    }
}

fn lines(ui: &mut Ui, offer: &mut Offer, whose: &str, fields: &mut Fields) {
    let days = offer.days;
    let mut gone = None;
    Grid::new(("offer lines", whose)).striped(true).spacing([10.0, 6.0]).show(ui, |ui| {
        if !offer.lines.is_empty() {
            heads(ui, &["What", "How many", "One a day", "One a week", "Left out (9 first, 0 never)", "Comes to", ""]);
        }
        for (at, line) in offer.lines.iter_mut().enumerate() {
            let row = format!("{whose}, line {}", at + 1);
            let name = |part: &str| format!("{part}, {row}");
            fields.text(ui, &mut line.what, 240.0, &name("What"));
            fields.whole(ui, &mut line.quantity, &limits::OFFER_QUANTITY, &name("How many"));
            price(ui, fields, &mut line.day_cents, &limits::OFFER_DAY, &name("Price a day"));
            ui.horizontal(|ui| {
                let mut known = line.week_cents.is_some();
                fields.tick(ui, &mut known, "", &name("There is a price a week"));
                line.week_cents = known.then(|| {
                    let mut cents = line.week_cents.unwrap_or(line.day_cents.saturating_mul(3));
                    price(ui, fields, &mut cents, &limits::OFFER_WEEK, &name("Price a week"));
                    cents
                });
            });
            fields.whole(ui, &mut line.leave_out, &limits::LEAVE_OUT, &name("Left out"));
            ui.label(money(line.cost_cents(days)));
            if fields.remove(ui, &row) {
                gone = Some(at);
            }
            ui.end_row();
        }
    });
    take_out(&mut offer.lines, gone);
    if fields.add(ui, &format!("Add a line to {whose}")) {
        offer.lines.push(OfferLine { what: "thing".to_owned(), quantity: 1, ..OfferLine::default() });
    }
}
