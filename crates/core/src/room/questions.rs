//! What is known, by which figure and from whom, and what must still be asked, and of whom.

use super::load::{bar_loads, hang_load};
use super::sight::reveal;
use super::words::{length, mass, mass_along};
use crate::reveal::{FallTime, fall_time};
use crate::show::room::{Known, Room, SurveyQuestion};
use crate::show::{Hang, Hem, Instant, Lies, Release, ReleaseKind, Show};

/// Something that is known.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Fact {
    /// What.
    pub what: String,
    /// The figure, or the answer.
    pub figure: String,
    /// Who found it out or stated it, and when.
    pub by: String,
}

/// Something that must be asked.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Question {
    /// What.
    pub what: String,
    /// Whom.
    pub ask: String,
}

/// What is known and what is not.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Settled {
    /// What is known.
    pub known: Vec<Fact>,
    /// What must be asked.
    pub ask: Vec<Question>,
}

/// Who decides about everything overhead.
const COMPETENT: &str = "the competent person";
/// Who knows a unit.
const MAKER: &str = "the units' maker";
/// Who knows the house.
const HOUSE: &str = "whoever runs the house";

impl Settled {
    fn fact(&mut self, what: impl Into<String>, figure: impl Into<String>, by: impl Into<String>) {
        self.known.push(Fact { what: what.into(), figure: figure.into(), by: by.into() });
    }

    fn ask(&mut self, what: impl Into<String>, ask: impl Into<String>) {
        self.ask.push(Question { what: what.into(), ask: ask.into() });
    }

    /// A figure that counts as known only if somebody stands for it.
    fn stated(&mut self, what: &str, figure: String, known: &Known, ask: &str) {
        if known.is_stated() {
            self.fact(what, figure, known.words());
        } else {
            self.ask(format!("{what}: {figure} is written down, and nobody stands for it"), ask);
        }
    }

    /// A figure that is there or not.
    fn given(&mut self, what: &str, figure: Option<String>, ask: &str) {
        match figure {
            Some(figure) => self.fact(what, figure, "as entered"),
            None => self.ask(what, ask),
        }
    }
}

/// What is known of a show's room, fabrics and units, and what must be asked.
pub fn facts_and_questions(show: &Show) -> Settled {
    let mut settled = Settled::default();
    match &show.room {
        Some(room) => of_room(show, room, &mut settled),
        None => settled.ask("the room: width, depth, ceiling, stage, seats", HOUSE),
    }
    for hang in &show.hangs {
        of_hang(show, hang, &mut settled);
    }
    for release in &show.releases {
        of_release(show, release, &mut settled);
    }
    if let Some(room) = &show.room {
        for question in SurveyQuestion::ALL {
            match room.answer(*question) {
                Some(answer) if !answer.known.is_stated() => {
                    let what = format!(
                        "{} “{}” is written down, and nobody stands for it",
                        question.text(),
                        answer.answer.trim()
                    );
                    settled.ask(what, question.ask());
                }
                Some(answer) => settled.fact(question.text(), answer.answer.trim(), answer.known.words()),
                None => settled.ask(question.text(), question.ask()),
            }
        }
    }
    settled
}

fn of_room(show: &Show, room: &Room, settled: &mut Settled) {
    let units = show.settings.units;
    let m = |metres| length(metres, units);
    let size =
        format!("{} wide, {} from stage to back wall, {} high", m(room.width_m), m(room.house_m), m(room.ceiling_m));
    settled.stated("the room", size, &room.known, HOUSE);
    let stage = &room.stage;
    let size = format!("{} wide, {} deep, {} high", m(stage.width_m), m(stage.depth_m), m(stage.height_m));
    settled.stated("the stage", size, &stage.known, HOUSE);
    for bar in &room.bars {
        let figure = format!("{} long, trim {}", m(bar.length_m), m(bar.trim_m));
        settled.stated(&format!("{} “{}”", bar.kind.name(), bar.name), figure, &bar.known, HOUSE);
    }
    for load in bar_loads(show).iter().filter(|load| !load.hangs.is_empty()) {
        let own = load.own_kg.map_or_else(String::new, |own| format!("; its own {}", mass(own, units)));
        let metre = mass_along(load.per_metre_kg, units);
        let figure = format!("{} of cloth and hardware, {metre} of bar where it hangs{own}", mass(load.hung_kg, units));
        settled.fact(
            format!("what “{}” is to carry", load.bar),
            figure,
            "worked out from the cloth’s mass and the hardware",
        );
        settled.ask(format!("what “{}” may carry, where and how", load.bar), COMPETENT);
    }
    for point in &room.points {
        let what = format!("limit at wished point “{}”", point.name);
        if point.limit.trim().is_empty() || !point.known.is_stated() {
            settled.ask(what, COMPETENT);
        } else {
            settled.fact(what, point.limit.trim(), point.known.words());
        }
        let above = format!("what is above “{}”", point.name);
        settled.given(&above, Some(point.above.trim().to_owned()).filter(|text| !text.is_empty()), COMPETENT);
    }
    for thing in &room.obstacles {
        if let Some((metres, true)) = thing.keeps() {
            settled.ask(format!("distance to keep from “{}” (assumed: {})", thing.name, m(metres)), HOUSE);
        }
    }
    for thing in room.obstacles.iter().filter(|thing| !thing.known.is_stated()) {
        settled.ask(format!("where “{}” is and how large: nobody stands for it", thing.name), "measure it");
    }
    for projector in &room.projectors {
        let figure = format!("throw ratio {:.2} to {:.2}", projector.throw_least, projector.throw_most);
        settled.stated(&format!("lens of “{}”", projector.name), figure, &projector.known, "its maker’s sheet");
    }
    for place in &room.fabrics {
        if let (Some(hang), None) = (show.hang(&place.hang), place.clearance_m) {
            settled.ask(format!("room between the top edge of “{}” and what carries it", hang.name), COMPETENT);
        }
    }
}

fn of_hang(show: &Show, hang: &Hang, settled: &mut Settled) {
    let units = show.settings.units;
    let load = hang_load(hang, None);
    let name = &hang.name;
    let size = format!(
        "{} wide, {} long, {} of cloth",
        length(hang.width_m, units),
        length(hang.drop_m, units),
        mass(load.cloth_kg, units)
    );
    settled.fact(format!("“{name}”"), size, "");
    if hang.lies != Lies::Flat || !matches!(hang.hem, Hem::Soft) {
        let what = format!(
            "mass of “{name}” with its folds and what weighs its hem; {} is counted flat and without",
            mass(load.cloth_kg, units)
        );
        settled.ask(what, "weigh it");
    }
    settled.given(&format!("eyelets of “{name}”"), hang.eyelets.map(|n| n.to_string()), "whoever made the cloth");
    let lies = Some(hang.lies).filter(|lies| *lies != Lies::Unknown).map(|lies| lies.name().to_owned());
    settled.given(&format!("how “{name}” hangs: flat, as pictures need it, or in folds"), lies, "whoever hangs it");
    let hem = Some(hang.hem).filter(|hem| *hem != Hem::Unknown).map(|hem| hem.name().to_owned());
    settled.given(&format!("hem of “{name}”: soft, chain or rod"), hem, "whoever made the cloth");
    let certificate = Some(hang.certificate.number.trim().to_owned()).filter(|text| !text.is_empty());
    settled.given(&format!("flame certificate of “{name}”"), certificate, "whoever made or hires out the cloth");
    let pile = Some(hang.pile.trim().to_owned()).filter(|text| !text.is_empty());
    settled.given(&format!("who carries “{name}” away after the fall"), pile, "settle it among the crew");
    let fall: FallTime = fall_time(hang, Instant::Floor);
    if fall.drops == 0 {
        settled.ask(format!("how long “{name}” falls: time three drops of the real fabric"), "time it");
    } else {
        settled.fact(format!("fall of “{name}” to the floor"), format!("{:.2}\u{a0}s", fall.expected), fall.source());
    }
    // By model alone it is no fact.
    let timed = hang.measured.iter().any(crate::show::MeasuredDrop::counts);
    let words = reveal(show, &hang.key).map(|reveal| reveal.words());
    if let Some(words) = words.filter(|words| timed && !words.is_empty()) {
        settled.fact(format!("what seats see past “{name}”"), words, "worked out from the room and the timed drops");
    }
}

fn of_release(show: &Show, release: &Release, settled: &mut Settled) {
    let units = show.settings.units;
    let name = &release.name;
    if release.kind == ReleaseKind::Unknown {
        settled.ask(format!("“{name}”: does power let go, or hold?"), MAKER);
    }
    let kg = |value: Option<f64>| value.map(|value| mass(value, units));
    settled.given(&format!("least load of a unit of “{name}”"), kg(release.unit_least_kg), MAKER);
    settled.given(&format!("greatest load of a unit of “{name}”"), kg(release.unit_most_kg), MAKER);
    let pull = Some(release.unit_pull.trim().to_owned()).filter(|text| !text.is_empty());
    settled.given(&format!("direction of pull of a unit of “{name}”"), pull, MAKER);
}
