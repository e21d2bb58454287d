//! Cloth, papers, people and days: what a look at the facts shows before the first cue. Common practice, no source, where nothing else is
//! said; local rules come first.

use super::problem::{Code, Problem};
use crate::room::{hang_load, length, mass};
use crate::show::{CrewMember, Lies, Output, Show, Surface, is_same_role};
use crate::time::day_of;

/// Eyelets stand this far apart at most, metres. Common practice, no source.
const EYELETS_M: f64 = 0.3;

pub(super) fn run(show: &Show) -> Vec<Problem> {
    let mut found = Vec::new();
    cloth(show, &mut found);
    folds(show, &mut found);
    unit_loads(show, &mut found);
    papers(show, &mut found);
    roles(show, &mut found);
    overhead(show, &mut found);
    found
}

fn cloth(show: &Show, found: &mut Vec<Problem>) {
    for hang in &show.hangs {
        let Some(eyelets) = hang.eyelets else { continue };
        let units: u32 = show.releases.iter().filter(|r| r.hang == hang.key).map(|r| r.units).max().unwrap_or(0);
        if eyelets < units {
            let what = format!("\"{}\" has {eyelets} eyelets, and {units} units hold it", hang.name);
            found.push(Problem::of_rig(
                Code::EyeletsFew,
                what,
                "count both again; more eyelets, or fewer units as their maker allows",
            ));
        } else if eyelets > 1 && hang.width_m / f64::from(eyelets - 1) > EYELETS_M + 0.001 {
            let what = format!(
                "the eyelets of \"{}\" stand {} apart, and {} at most is usual",
                hang.name,
                length(hang.width_m / f64::from(eyelets - 1), show.settings.units),
                length(EYELETS_M, show.settings.units)
            );
            found.push(Problem::of_rig(
                Code::EyeletsFew,
                what,
                "look whether the top edge sags between them, and ask its maker",
            ));
        }
    }
}

/// Pictures fall on folds.
fn folds(show: &Show, found: &mut Vec<Problem>) {
    for hang in show.hangs.iter().filter(|hang| hang.lies == Lies::Gathered) {
        let on_it = |output: &&Output| output.surface == Surface::Fabric(hang.key.clone());
        if let Some(output) = show.outputs.iter().find(on_it) {
            let what = format!("\"{}\" hangs in folds, and \"{}\" shows pictures on it", hang.name, output.name);
            found.push(Problem::of_rig(
                Code::FabricInFolds,
                what,
                "hang it flat, or try how the pictures look on folds",
            ));
        }
    }
}

fn unit_loads(show: &Show, found: &mut Vec<Problem>) {
    let kg = |kilograms| mass(kilograms, show.settings.units);
    for release in &show.releases {
        let Some(hang) = show.hang(&release.hang) else { continue };
        let Some((most, least)) = hang_load(hang, Some(release)).unit_kg else { continue };
        if let Some(limit) = release.unit_most_kg.filter(|limit| most > limit + 1e-9) {
            let what = format!(
                "a unit of \"{}\" holds {} of cloth, and its maker states {} at most",
                release.name,
                kg(most),
                kg(limit)
            );
            found.push(Problem::of_rig(
                Code::UnitOverloaded,
                what,
                "ask the competent person and the maker before anything is hung",
            ));
        }
        if let Some(limit) = release.unit_least_kg.filter(|limit| least < limit - 1e-9) {
            let what = format!(
                "a unit of \"{}\" holds {} of cloth, and its maker states {} at least",
                release.name,
                kg(least),
                kg(limit)
            );
            found.push(Problem::of_rig(Code::UnitLight, what, "too little pull may leave it shut: ask the maker"));
        }
    }
}

/// The last day on which anything is played or called, as text.
fn last_day(show: &Show) -> Option<&str> {
    let services = show.services.iter().map(|service| service.date.trim());
    let calls = show.week.calls.iter().map(|call| call.date.trim());
    services.chain(calls).filter(|day| day_of(day).is_some()).max()
}

fn papers(show: &Show, found: &mut Vec<Problem>) {
    let certificates = show
        .hangs
        .iter()
        .map(|hang| (format!("the flame certificate of \"{}\"", hang.name), &hang.certificate.expires));
    let others = show.papers.iter().map(|paper| (format!("\"{}\"", paper.what), &paper.expires));
    for (what, expires) in certificates.chain(others) {
        let expires = expires.trim();
        if expires.is_empty() {
            continue;
        }
        if day_of(expires).is_none() {
            let what = format!("{what} ends on \"{expires}\", which is no day");
            found.push(Problem::of_rig(Code::DayUnread, what, "write it as 2026-12-05: year, month, day"));
        } else if let Some(day) = last_day(show).filter(|day| *day > expires) {
            let what = format!("{what} ends on {expires}, and the show goes on until {day}");
            found.push(Problem::of_rig(Code::PaperExpired, what, "ask for a new one, and take it along"));
        }
    }
    let services = show.services.iter().map(|service| (format!("service \"{}\"", service.name), &service.date));
    let calls = show.week.calls.iter().map(|call| (format!("the call \"{}\"", call.what), &call.date));
    for (what, date) in services.chain(calls).filter(|(_, date)| !date.trim().is_empty() && day_of(date).is_none()) {
        let what = format!("{what} is on \"{}\", which is no day", date.trim());
        found.push(Problem::of_rig(Code::DayUnread, what, "write it as 2026-12-05: year, month, day"));
    }
}

fn roles(show: &Show, found: &mut Vec<Problem>) {
    // Without a list of the crew nobody has said who there is.
    if show.crew.is_empty() {
        return;
    }
    let has = |role: &str| show.crew.iter().any(|member| is_same_role(&member.role, role));
    let mut asked: Vec<(&str, String)> = Vec::new();
    let settled = |role: &str| !role.trim().is_empty();
    let safety = [
        (&show.safety.caller, "the caller"),
        (&show.safety.arm_holder, "the release operator"),
        (&show.safety.spotter, "the spotter"),
        (&show.safety.competent, "who is competent for the rig"),
    ];
    asked.extend(
        safety
            .into_iter()
            .filter(|(role, _)| settled(role))
            .map(|(role, what)| (role.as_str(), format!("the safety sheet, for {what},"))),
    );
    for call in &show.week.calls {
        asked.extend(call.who.iter().map(|role| (role.as_str(), format!("the call \"{}\"", call.what))));
    }
    let mut told: Vec<String> = Vec::new();
    for (role, whence) in asked {
        let plain = role.trim().to_lowercase();
        if plain.is_empty() || has(role) || told.contains(&plain) {
            continue;
        }
        let what = format!("{whence} needs \"{}\", and nobody on the crew has that role", role.trim());
        found.push(Problem::of_rig(Code::RoleEmpty, what, "add the role to the crew, or name the one who does it"));
        told.push(plain);
    }
}

fn overhead(show: &Show, found: &mut Vec<Problem>) {
    for call in show.week.calls.iter().filter(|call| call.overhead) {
        if call.who.iter().filter(|role| !role.trim().is_empty()).count() < 2 {
            let what =
                format!("the call \"{}\" is overhead work, and fewer than two people are named for it", call.what);
            found.push(Problem::of_rig(
                Code::AloneOverhead,
                what,
                "nobody works overhead alone; local rules come first",
            ));
        }
        let young = |member: &&CrewMember| member.under_18 && call.needs(&member.role);
        for member in show.crew.iter().filter(young) {
            let what =
                format!("\"{}\" is under 18, and is named for the overhead work of \"{}\"", member.role, call.what);
            found.push(Problem::of_rig(Code::YoungOverhead, what, "name somebody else; local rules come first"));
        }
    }
}
