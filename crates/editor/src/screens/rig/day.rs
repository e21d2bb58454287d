//! The day of the show: crew, work between services, papers, open notes, how the show is stopped.

use super::rows::{empty, take_out};
use crate::widgets::fields::{Fields, heading, heads};
use egui::{Grid, Ui};
use letfall_core::limits;
use letfall_core::show::{
    BetweenStep, BetweenTask, CrewMember, DayPaper, OpenNote, Show, between_lines, between_total,
};

/// The crew: a row for each role, and the sentences of its stand-in page below.
pub fn crew(ui: &mut Ui, show: &mut Show, fields: &mut Fields) {
    heading(ui, "Crew");
    empty(ui, show.crew.is_empty(), "Roles, and who stands in for whom. Names are optional and stay in this file.");
    let mut gone = None;
    Grid::new("crew").striped(true).spacing([12.0, 6.0]).show(ui, |ui| {
        if !show.crew.is_empty() {
            heads(ui, &["Role", "Name, if wished", "Headset", "Stands", "Stood in for by", "Under 18", ""]);
        }
        for (at, one) in show.crew.iter_mut().enumerate() {
            let number = at + 1;
            let name = |part: &str| format!("{part} of crew row {number}");
            fields.text(ui, &mut one.role, 210.0, &name("Role"));
            fields.text(ui, &mut one.name, 140.0, &name("Name"));
            fields.text(ui, &mut one.headset, 70.0, &name("Headset channel"));
            fields.text(ui, &mut one.stands, 260.0, &name("Place"));
            fields.text(ui, &mut one.stand_in, 190.0, &name("Stand-in"));
            fields.tick(ui, &mut one.under_18, "", &name("Under 18"));
            if fields.remove(ui, &format!("crew row {number}")) {
                gone = Some(at);
            }
            ui.end_row();
        }
    });
    take_out(&mut show.crew, gone);
    if fields.add(ui, "Add a role") {
        show.crew.push(CrewMember::default());
    }
    if show.crew.is_empty() {
        return;
    }
    ui.add_space(10.0);
    heading(ui, "For a stand-in: one page for each role");
    Grid::new("stand-ins").striped(true).spacing([12.0, 6.0]).show(ui, |ui| {
        heads(ui, &["Role", "What it does tonight", "What it says", "When it goes wrong"]);
        for (at, one) in show.crew.iter_mut().enumerate() {
            let name = |part: &str| format!("{part} of crew row {}", at + 1);
            ui.label(if one.role.is_empty() { "no role yet" } else { one.role.as_str() });
            fields.text(ui, &mut one.does, 260.0, &name("Task"));
            fields.text(ui, &mut one.says, 260.0, &name("Words"));
            fields.text(ui, &mut one.if_wrong, 260.0, &name("When it goes wrong, task"));
            ui.end_row();
        }
    });
}

/// What is done between two services.
pub fn between(ui: &mut Ui, show: &mut Show, fields: &mut Fields) {
    heading(ui, "Between two services");
    ui.label("The order is fixed, because in another order people can get hurt. Say how long each step takes here and who does it.");
    let lines = between_lines(&show.between);
    Grid::new("between").striped(true).spacing([12.0, 6.0]).show(ui, |ui| {
        heads(ui, &["Step", "Minutes", "People", "Who", ""]);
        for step in BetweenStep::ALL {
            let said = show.between.iter().position(|task| task.step == step && task.what.trim().is_empty());
            ui.label(step.name());
            if let Some(at) = said {
                let name = |part: &str| format!("{part} for {}", step.name());
                let task = &mut show.between[at];
                fields.whole(ui, &mut task.minutes, &limits::BETWEEN_MINUTES, &name("Minutes"));
                fields.whole(ui, &mut task.people, &limits::BETWEEN_PEOPLE, &name("People"));
                fields.text(ui, &mut task.who, 300.0, &name("Who"));
                if fields.remove(ui, &format!("what was said for {}", step.name())) {
                    show.between.remove(at);
                }
            } else {
                let (minutes, people) = step.usual();
                ui.label(format!("{minutes}, assumed"));
                ui.label(format!("{people}, assumed"));
                if fields.add(ui, &format!("Say it for {}", step.name())) {
                    show.between.push(BetweenTask { step, minutes, people, ..BetweenTask::default() });
                }
            }
            ui.end_row();
        }
    });
    ui.add_space(8.0);
    heading(ui, "Tasks of the house's own");
    let steps: Vec<_> = BetweenStep::ALL.into_iter().map(|step| (step, format!("after {}", step.name()))).collect();
    let mut gone = None;
    Grid::new("own tasks").striped(true).spacing([12.0, 6.0]).show(ui, |ui| {
        let own = show.between.iter_mut().enumerate().filter(|(_, task)| !task.what.trim().is_empty());
        for (number, (at, task)) in own.enumerate() {
            let name = |part: &str| format!("{part} of own task {}", number + 1);
            fields.choice(ui, &mut task.step, &steps, 230.0, &name("Place"));
            // An own task without words would be the step itself.
            let before = task.what.clone();
            fields.text(ui, &mut task.what, 260.0, &name("Words"));
            if task.what.trim().is_empty() && fields.done {
                task.what = before;
            }
            fields.whole(ui, &mut task.minutes, &limits::BETWEEN_MINUTES, &name("Minutes"));
            fields.whole(ui, &mut task.people, &limits::BETWEEN_PEOPLE, &name("People"));
            fields.text(ui, &mut task.who, 200.0, &name("Who"));
            if fields.remove(ui, &format!("own task {}", number + 1)) {
                gone = Some(at);
            }
            ui.end_row();
        }
    });
    take_out(&mut show.between, gone);
    if fields.add(ui, "Add a task") {
        show.between.push(BetweenTask { what: "Task".into(), minutes: 5, people: 1, ..BetweenTask::default() });
    }
    ui.label(format!(
        "All of it, one after another: {} minutes, done {} minutes before the doors open.",
        between_total(&show.between).micros() / 60_000_000,
        show.settings.before_doors_min
    ));
    if lines.iter().any(|line| line.assumed) {
        ui.label("What is assumed is common practice and no measurement: time your own.");
    }
}

/// Certificates and permits, and what is still to be settled.
pub fn papers(ui: &mut Ui, show: &mut Show, fields: &mut Fields) {
    heading(ui, "Papers of the day");
    empty(
        ui,
        show.papers.is_empty(),
        "Certificates, permits, permissions and inspections that you were given: a list, no advice.",
    );
    let mut gone = None;
    Grid::new("papers").striped(true).spacing([12.0, 6.0]).show(ui, |ui| {
        if !show.papers.is_empty() {
            heads(ui, &["What", "Number or giver", "Dated", "Holds until", "Remarks", ""]);
        }
        for (at, paper) in show.papers.iter_mut().enumerate() {
            let number = at + 1;
            let name = |part: &str| format!("{part} of paper {number}");
            fields.text(ui, &mut paper.what, 280.0, &name("What"));
            fields.text(ui, &mut paper.number, 170.0, &name("Number"));
            fields.text(ui, &mut paper.dated, 100.0, &name("Date"));
            fields.text(ui, &mut paper.expires, 100.0, &name("Last day"));
            fields.text(ui, &mut paper.note, 180.0, &name("Remarks"));
            if fields.remove(ui, &format!("paper {number}")) {
                gone = Some(at);
            }
            ui.end_row();
        }
    });
    take_out(&mut show.papers, gone);
    if fields.add(ui, "Add a paper") {
        show.papers.push(DayPaper::default());
    }
    ui.label("Days as 2026-12-19.");
    ui.add_space(14.0);
    heading(ui, "Open notes");
    empty(ui, show.notes.is_empty(), "What is still to be settled, who settles it, and when it was closed.");
    let mut gone = None;
    Grid::new("notes").striped(true).spacing([12.0, 6.0]).show(ui, |ui| {
        if !show.notes.is_empty() {
            heads(ui, &["What", "Owner", "Closed", ""]);
        }
        for (at, note) in show.notes.iter_mut().enumerate() {
            let number = at + 1;
            let name = |part: &str| format!("{part} of note {number}");
            fields.text(ui, &mut note.what, 380.0, &name("What"));
            fields.text(ui, &mut note.owner, 200.0, &name("Owner"));
            fields.text(ui, &mut note.closed, 100.0, &name("Day of closing"));
            if fields.remove(ui, &format!("note {number}")) {
                gone = Some(at);
            }
            ui.end_row();
        }
    });
    take_out(&mut show.notes, gone);
    if fields.add(ui, "Add a note") {
        show.notes.push(OpenNote::default());
    }
}

/// How the show is stopped: the card that everybody carries.
pub fn stop(ui: &mut Ui, show: &mut Show, fields: &mut Fields) {
    heading(ui, "Show-stop card");
    ui.label("What people do when the show must stop. The words that stop everything are on the safety sheet.");
    let card = &mut show.stop;
    Grid::new("stop").num_columns(2).spacing([12.0, 6.0]).show(ui, |ui| {
        for (words, text) in [
            ("Who may say it", &mut card.said_by),
            ("Working light: who, and where its switch is", &mut card.working_light),
            ("Music out: who, and how", &mut card.music_out),
            ("Who tells band and choir, who wear no headset", &mut card.tells_band),
            ("Announcement: who, where, which words", &mut card.announcement),
            ("Ways out, not under the fabric nor over it", &mut card.routes),
            ("Assembly point", &mut card.assembly),
            ("Head count: who, and how many", &mut card.head_count),
        ] {
            ui.label(words);
            fields.text(ui, text, 560.0, words);
            ui.end_row();
        }
    });
    ui.label("Stop-all in Letfall stops messages. It stops no music, raises no light and blanks no projector.");
}
