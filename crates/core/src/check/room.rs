//! The room and what is in it: what is in the way of beams and eyes, what stands where it must not, and sightlines that have moved. Plain
//! geometry; what holds and what may be hung is for the competent person to say.

use super::problem::{Code, Problem};
use crate::room::beam::Lens;
use crate::room::sight::{Eye, all_eyes, fabric_pane, named_eyes};
use crate::room::solid::{Cuboid, Pane};
use crate::room::{RoomFigures, length};
use crate::show::room::{Obstacle, ObstacleKind, Room, Spot};
use crate::show::{FallKind, Hang, Show};

/// Places are given to the centimetre, so a millimetre more is no more.
const ROUNDING_M: f64 = 0.001;
/// A cut of a picture or a view smaller than this is not seen: our own figure.
const SEEN: f64 = 0.002;
/// A sightline that differs from what the room gives by more than this has moved, metres: our own figure.
const MOVED_M: f64 = 0.05;

pub(super) fn run(show: &Show, figures: Option<&RoomFigures>) -> Vec<Problem> {
    let Some((room, figures)) = show.room.as_ref().zip(figures) else { return Vec::new() };
    let mut found = Vec::new();
    hung(show, room, &mut found);
    beams(show, figures, &mut found);
    oblique(show, figures, &mut found);
    seats(show, room, figures, &mut found);
    crossing(show, room, &mut found);
    kept_free(show, room, &mut found);
    sightlines(show, figures, &mut found);
    found
}

fn hung(show: &Show, room: &Room, found: &mut Vec<Problem>) {
    let m = |metres| length(metres, show.settings.units);
    let hung = room.fabrics.iter().map(|place| (format!("the fabric \"{}\"", place.hang), &place.bar));
    let wished = room.points.iter().map(|point| (format!("the wished point \"{}\"", point.name), &point.bar));
    for (what, bar) in hung.chain(wished).filter(|(_, bar)| !bar.is_empty() && room.bar(bar).is_none()) {
        let what = format!("{what} names \"{bar}\", and the room has no such bar");
        found.push(Problem::of_rig(
            Code::CarrierMissing,
            what,
            "choose the bar anew: until then nothing is worked out for it",
        ));
    }
    for place in &room.fabrics {
        let Some(hang) = show.hang(&place.hang) else { continue };
        let name = &hang.name;
        let has_units = show.releases.iter().any(|release| release.hang == hang.key && release.units > 0);
        if has_units && !room.points.iter().any(|point| !place.bar.is_empty() && point.bar == place.bar) {
            let what = format!("no wished point is named for what carries \"{name}\" and its units");
            let remedy = "name the points on the Room screen, and ask the competent person about each";
            found.push(Problem::of_rig(Code::PointsMissing, what, remedy));
        }
        let Some(bar) = room.bar(&place.bar) else { continue };
        if (place.deep_m - bar.deep_m).abs() > MOVED_M {
            let what = format!(
                "\"{name}\" is at a depth of {}, and \"{}\", from which it hangs, at {}",
                m(place.deep_m),
                bar.name,
                m(bar.deep_m)
            );
            found.push(Problem::of_rig(Code::RoomOdd, what, "measure both again, or say from what it hangs"));
        }
        let clearance = place.clearance_m.unwrap_or(0.0);
        // Each is given above its own floor: the stage's, or that of the hall.
        let floors = room.floor_at(place.across_m, place.deep_m) - room.floor_at(bar.across_m, bar.deep_m);
        let over = hang.top_m + floors + clearance - bar.trim_m;
        if over > ROUNDING_M {
            let wanted = match place.clearance_m {
                Some(metres) => format!("{} and {} over it as the competent person asks", m(hang.top_m), m(metres)),
                None => m(hang.top_m),
            };
            let what =
                format!("\"{}\" hangs at {}, and the top edge of \"{name}\" needs {wanted}", bar.name, m(bar.trim_m));
            let remedy = "raise the trim, or hang the fabric lower; ask the competent person before either";
            found.push(Problem::of_rig(Code::TrimLow, what, remedy));
        }
        if hang.drop_m + floors + clearance > bar.trim_m + ROUNDING_M {
            let what =
                format!("\"{name}\" is {} long, and \"{}\" hangs at {}", m(hang.drop_m), bar.name, m(bar.trim_m));
            found.push(Problem::of_rig(Code::TrimLow, what, "a shorter fabric, or a higher trim"));
        }
        let sticks_out = (place.across_m - bar.across_m).abs() + hang.width_m / 2.0 - bar.length_m / 2.0;
        if sticks_out > ROUNDING_M {
            let what = format!("\"{name}\" reaches {} beyond the end of \"{}\"", m(sticks_out), bar.name);
            found.push(Problem::of_rig(Code::ClothTooLarge, what, "check both places and both lengths"));
        }
    }
}

fn percent(share: f64) -> String {
    let percent = share * 100.0;
    if percent < 1.0 { "under 1 %".to_owned() } else { format!("{percent:.0} %") }
}

fn beams(show: &Show, figures: &RoomFigures, found: &mut Vec<Problem>) {
    let m = |metres| length(metres, show.settings.units);
    let Some(room) = &show.room else { return };
    for figure in &figures.beams {
        let name = &figure.projector;
        let Some(projector) = room.projectors.iter().find(|p| p.name == *name) else { continue };
        let beam = &figure.beam;
        let (least, most) = beam.widths_m;
        let wide = m(beam.distance_m / beam.ratio);
        let makes = if projector.throw_least < projector.throw_most {
            format!("{} to {}", m(least), m(most))
        } else {
            m(least)
        };
        let what = format!(
            "from {} away the lens of \"{name}\" makes a picture {makes} wide, and {wide} is planned",
            m(beam.distance_m)
        );
        match beam.lens(projector) {
            Lens::Within => {}
            Lens::TooNear => found.push(Problem::of_rig(
                Code::ThrowOutside,
                what,
                "move it farther away, or take a lens with a smaller throw ratio",
            )),
            Lens::TooFar => found.push(Problem::of_rig(
                Code::ThrowOutside,
                what,
                "move it nearer, or take a lens with a greater throw ratio",
            )),
        }
        for (thing, share) in figure.in_the_way.iter().filter(|(_, share)| *share > SEEN) {
            let what =
                format!("\"{thing}\" stands in the beam of \"{name}\" and cuts {} of its picture", percent(*share));
            found.push(Problem::of_rig(Code::BeamCut, what, "move one of them, and look at the picture's edges"));
        }
        for (who, share) in figure.people.iter().filter(|(_, share)| *share > SEEN) {
            let what =
                format!("\"{who}\" stands in the beam of \"{name}\" and cuts {} of its picture", percent(*share));
            found.push(Problem::of_rig(Code::BeamCut, what, "move the person or the projector"));
        }
    }
}

/// An oblique angle that was typed against that from the projector's place. It counts only with the size of a straight throw.
fn oblique(show: &Show, figures: &RoomFigures, found: &mut Vec<Problem>) {
    const APART_DEG: f64 = 2.0;
    for figure in &figures.beams {
        let projection = show.output(&figure.output).and_then(|output| output.projection.as_ref());
        let Some(p) = projection.filter(|p| p.straight_size) else { continue };
        let given = figure.beam.oblique_deg;
        if (p.oblique_deg - given).abs() > APART_DEG {
            let what = format!(
                "the oblique angle of \"{}\" is typed as {:.1}°, and from the place of \"{}\" it is {given:.1}°",
                figure.output, p.oblique_deg, figure.projector
            );
            found.push(Problem::of_rig(
                Code::ObliqueDiffers,
                what,
                "take it over on the Room screen, or check the places",
            ));
        }
    }
}

fn seats(show: &Show, room: &Room, figures: &RoomFigures, found: &mut Vec<Problem>) {
    if let Some(first) = figures.blind.first() {
        let more = match figures.blind.len() - 1 {
            0 => String::new(),
            n => format!(" and {n} more"),
        };
        let what = format!("\"{first}\"{more} sees nothing of the reveal: neither fabric nor people nor screen");
        found.push(Problem::of_rig(
            Code::SeatBlind,
            what,
            "move what is in the way, add a screen, or do not sell these seats",
        ));
    }
    let walled = |eye: &Eye| {
        let beyond = eye.at.across.abs() > room.width_m / 2.0 + ROUNDING_M
            || -eye.at.deep > room.house_m + ROUNDING_M
            || eye.at.deep > room.stage.depth_m + ROUNDING_M;
        let thing = room.obstacles.iter().find(|thing| Cuboid::of(thing).holds(eye.at));
        thing
            .map(|thing| format!("is inside \"{}\"", thing.name))
            .or_else(|| beyond.then(|| "is outside the room".to_owned()))
    };
    for (eye, why) in named_eyes(room).iter().chain(&all_eyes(room)).filter_map(|e| Some((e, walled(e)?))).take(1) {
        let what = format!("the eye at \"{}\" {why}", eye.seat);
        found.push(Problem::of_rig(Code::RoomOdd, what, "check its place, and the room's size"));
    }
    for reveal in &figures.reveals {
        let Some(hang) = show.hang(&reveal.hang) else { continue };
        let early: Vec<_> = reveal.seats.iter().filter(|seat| !seat.before.is_empty()).collect();
        if let Some(first) = early.first() {
            let what = format!(
                "{} of {} seats see somebody behind \"{}\" before it falls, past its side, over its top or under its hem; the first is \"{}\", who sees {}",
                early.len(),
                reveal.seats.len(),
                hang.name,
                first.seat,
                first.before.join(", ")
            );
            found.push(Problem::of_rig(
                Code::SeenEarly,
                what,
                "mask the sides, move the people, or let them come in late",
            ));
        }
    }
}

/// What is where nothing else can be, or nearer to something than it may.
fn crossing(show: &Show, room: &Room, found: &mut Vec<Problem>) {
    let m = |metres| length(metres, show.settings.units);
    for (at, thing) in room.obstacles.iter().enumerate() {
        let solid = Cuboid::of(thing);
        // A beam goes into its wall, and a railing into its column.
        let built = |kind| matches!(kind, ObstacleKind::Beam | ObstacleKind::Wall | ObstacleKind::Railing);
        let crosses = |other: &&Obstacle| !(built(thing.kind) && built(other.kind)) && solid.meets(&Cuboid::of(other));
        for other in room.obstacles[at + 1..].iter().filter(crosses) {
            let what = format!("\"{}\" and \"{}\" are in the same place", thing.name, other.name);
            found.push(Problem::of_rig(Code::RoomOdd, what, "measure both again"));
        }
        for place in &room.fabrics {
            let Some(hang) = show.hang(&place.hang) else { continue };
            let cloth = of_cloth(fabric_pane(room, hang, place));
            if solid.meets(&cloth) {
                let what = format!("\"{}\" is where \"{}\" hangs", thing.name, hang.name);
                found.push(Problem::of_rig(
                    Code::RoomOdd,
                    what,
                    "measure both again; what touches a fabric catches it",
                ));
            } else if let Some((keep, assumed)) = thing.keeps()
                && near(thing, &solid, &cloth) + ROUNDING_M < keep
            {
                let how = thing.keep_words(assumed);
                let what = format!(
                    "\"{}\" hangs {} from \"{}\", and {} is to stay free ({how})",
                    hang.name,
                    m(near(thing, &solid, &cloth)),
                    thing.name,
                    m(keep)
                );
                found.push(Problem::of_rig(
                    Code::TooNear,
                    what,
                    "hang it farther away; the local code and the marking on it decide",
                ));
            }
        }
    }
}

/// The distance from what must keep away. Under a sprinkler it is the room beneath that counts, if the cloth is beneath it.
fn near(thing: &Obstacle, solid: &Cuboid, cloth: &Cuboid) -> f64 {
    let keep = thing.keeps().map_or(0.0, |(metres, _)| metres);
    let beneath = cloth.from.across - keep < solid.to.across
        && solid.from.across < cloth.to.across + keep
        && cloth.from.deep - keep < solid.to.deep
        && solid.from.deep < cloth.to.deep + keep;
    if thing.kind == ObstacleKind::Sprinkler && beneath && cloth.to.high <= solid.from.high {
        return solid.from.high - cloth.to.high;
    }
    solid.apart(cloth)
}

/// A hung fabric as a box a centimetre thick.
fn of_cloth(pane: Pane) -> Cuboid {
    Cuboid {
        from: Spot { across: pane.left, deep: pane.deep - 0.005, high: pane.low },
        to: Spot { across: pane.right, deep: pane.deep + 0.005, high: pane.high },
    }
}

fn kept_free(show: &Show, room: &Room, found: &mut Vec<Problem>) {
    for area in &room.keep_free {
        // Whatever is lower than two metres above the floor there is in people's way.
        let floor = room.floor_at(area.across_m, area.deep_m);
        let at = Spot { across: area.across_m, deep: area.deep_m, high: floor };
        let way = Cuboid::on(at, area.width_m, area.depth_m, 2.0);
        let things =
            room.obstacles.iter().filter(|thing| Cuboid::of(thing).meets(&way)).map(|thing| thing.name.as_str());
        let projectors = room.projectors.iter().filter(|p| way.holds(p.at)).map(|p| p.name.as_str());
        let falls = room.fabrics.iter().filter_map(|place| Some((show.hang(&place.hang)?, place)));
        let cloths = falls
            .filter(|(hang, place)| {
                area.kind != crate::show::room::FreeKind::DropZone && lies_on(room, hang, place, &way)
            })
            .map(|(hang, _)| hang.name.as_str());
        for name in things.chain(projectors).chain(cloths) {
            let what = format!(
                "\"{name}\" stands, lies or falls on \"{}\", a {} that stays free",
                area.name,
                area.kind.name()
            );
            found.push(Problem::of_rig(
                Code::WayBlocked,
                what,
                "move it; ways out and extinguishers stay free at all times",
            ));
        }
    }
}

/// Whether the fallen fabric lies in a way: a strip a metre deep under it.
fn lies_on(room: &Room, hang: &Hang, place: &crate::show::room::FabricPlace, way: &Cuboid) -> bool {
    if hang.kind == FallKind::Unfurls {
        // Its top edge stays up: open it hangs where it hangs.
        return of_cloth(fabric_pane(room, hang, place)).meets(way);
    }
    let floor = room.floor_at(place.across_m, place.deep_m);
    let at = Spot { across: place.across_m, deep: place.deep_m, high: floor };
    Cuboid::on(at, hang.width_m, 1.0, 0.3).meets(way)
}

/// Sightlines that were taken from a seat which now has another.
fn sightlines(show: &Show, figures: &RoomFigures, found: &mut Vec<Problem>) {
    let m = |metres| length(metres, show.settings.units);
    for hang in show.hangs.iter().filter(|hang| !hang.sightline_from.trim().is_empty()) {
        let from = hang.sightline_from.trim();
        let reveal = figures.reveals.iter().find(|reveal| reveal.hang == hang.key);
        let seat = reveal.and_then(|reveal| reveal.named.iter().chain(&reveal.seats).find(|seat| seat.seat == from));
        let what = match seat.and_then(|seat| seat.all) {
            Some((height, _)) if (height - hang.sightline_m).abs() <= MOVED_M => continue,
            Some((height, _)) => format!(
                "the sightline of \"{}\" is {}, taken from \"{from}\", and from there the room now gives {}",
                hang.name,
                m(hang.sightline_m),
                m(height)
            ),
            None => format!(
                "the sightline of \"{}\" was taken from \"{from}\", and the room no longer gives one from there",
                hang.name
            ),
        };
        found.push(Problem::of_rig(Code::SightlineMoved, what, "take it again on the Room screen, or type it"));
    }
}
