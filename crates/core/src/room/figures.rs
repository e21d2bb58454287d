//! All figures of a show's room, worked out once for screen, paper and the command line.

use super::beam::{Beam, beam, passes_on};
use super::shadow::{Shadow, doubled, shadow};
use super::sight::{
    Eye, Reveal, all_eyes, block_eyes, boxes, fabric_pane, feet, named_eyes, performer_pane, reveal, screen_pane,
};
use super::solid::{Cuboid, Pane};
use super::words::percent;
use crate::reveal::light_figures;
use crate::show::room::{BackLamp, Room, SeatKind, Spot};
use crate::show::{HangKey, Output, OutputKey, Preset, Show, Surface};

/// What a seat sees, each as a share of its area, 0 to 1, past what is in the way and the row in front.
#[derive(Debug, Clone, PartialEq)]
pub struct SeatView {
    /// The seat.
    pub seat: String,
    /// Which of the named seats it is.
    pub kind: Option<SeatKind>,
    /// Each hung fabric.
    pub fabrics: Vec<(HangKey, f64)>,
    /// Each screen.
    pub screens: Vec<(OutputKey, f64)>,
    /// Each performer, by name, once the fabric is gone.
    pub performers: Vec<(String, f64)>,
}

impl SeatView {
    /// What it sees in words, such as "fabric 100 %", "screen 92 %", "people 88 %": the mean over all of a kind. Nothing of what there is none.
    pub fn words(&self) -> Vec<String> {
        let mean = |shares: Vec<f64>| (!shares.is_empty()).then(|| shares.iter().sum::<f64>() / shares.len() as f64);
        let kinds = [
            ("fabric", mean(self.fabrics.iter().map(|f| f.1).collect())),
            ("screen", mean(self.screens.iter().map(|s| s.1).collect())),
            ("people", mean(self.performers.iter().map(|p| p.1).collect())),
        ];
        kinds.into_iter().filter_map(|(what, share)| Some(format!("{what} {}", percent(share?)))).collect()
    }
}

/// A projector's figures.
#[derive(Debug, Clone, PartialEq)]
pub struct BeamFigures {
    /// The projector's name.
    pub projector: String,
    /// The output that it shines on.
    pub output: OutputKey,
    /// Its geometry.
    pub beam: Beam,
    /// Names of what cuts the picture, with the share that each cuts by itself.
    pub in_the_way: Vec<(String, f64)>,
    /// Names of people before the surface whom the beam meets, and the share of the picture that each cuts.
    pub people: Vec<(String, f64)>,
    /// Light that passes through the fabric on to each performer in the beam behind it, lux. Empty where it is not known.
    pub passes_on: Vec<(String, f64)>,
}

/// The silhouette of a performer by a lamp.
#[derive(Debug, Clone, PartialEq)]
pub struct ShadowFigures {
    /// The lamp's name.
    pub lamp: String,
    /// The performer's name.
    pub performer: String,
    /// The fabric.
    pub hang: HangKey,
    /// How far the lamp is behind the fabric, metres.
    pub lamp_m: f64,
    /// How far the performer is behind the fabric, metres.
    pub person_m: f64,
    /// The shadow.
    pub shadow: Shadow,
    /// How many times as bright the fabric round the shadow is as the shadow itself, where a white picture lies over both: 1 + the light that
    /// shines through from behind, E τ/π, by the picture's own luminance. `None` where either is not known.
    pub against_white: Option<f64>,
    /// Whether head and sides fall on the fabric. Feet may be below its hem.
    pub on_fabric: bool,
}

/// All figures of a room.
#[derive(Debug, Clone, PartialEq)]
pub struct RoomFigures {
    /// What the named seats see.
    pub named: Vec<SeatView>,
    /// Seats that see nothing of the reveal: neither fabric nor anybody behind it nor a screen.
    pub blind: Vec<String>,
    /// When seats see what is behind each fabric.
    pub reveals: Vec<Reveal>,
    /// The projectors.
    pub beams: Vec<BeamFigures>,
    /// The silhouettes.
    pub shadows: Vec<ShadowFigures>,
    /// Silhouettes that two lamps double.
    pub doubles: Vec<DoubleShadow>,
}

/// All figures of a show's room. `None` if the show has none.
pub fn room_figures(show: &Show) -> Option<RoomFigures> {
    let room = show.room.as_ref()?;
    let boxes = boxes(room);
    let view = |eye: &Eye| seat_view(show, room, eye, &boxes);
    let named: Vec<SeatView> = named_eyes(room).iter().map(view).collect();
    Some(RoomFigures {
        named,
        blind: blind(show, room, &boxes),
        reveals: show.hangs.iter().filter_map(|hang| reveal(show, &hang.key)).collect(),
        beams: beams(show, room),
        shadows: shadows(show, room),
        doubles: doubles(show, room),
    })
}

/// What all seats see: of the blocks, or without blocks the named ones. Thousands of seats take a while, so nobody works this out who only
/// wants to know whether one sees nothing.
pub fn seat_views(show: &Show) -> Vec<SeatView> {
    let Some(room) = &show.room else { return Vec::new() };
    let boxes = boxes(room);
    all_eyes(room).iter().map(|eye| seat_view(show, room, eye, &boxes)).collect()
}

/// The panes of the reveal: fabrics, screens, people.
fn panes(show: &Show, room: &Room) -> Vec<Pane> {
    let hung = room.fabrics.iter().filter_map(|place| Some(fabric_pane(room, show.hang(&place.hang)?, place)));
    let screens = room.screens.iter().map(screen_pane);
    hung.chain(screens).chain(room.performers.iter().map(|p| performer_pane(room, p))).collect()
}

fn blind(show: &Show, room: &Room, boxes: &[Cuboid]) -> Vec<String> {
    let panes = panes(show, room);
    let mut eyes = named_eyes(room);
    eyes.extend(block_eyes(room));
    let sees = |eye: &Eye, pane: &Pane| {
        let all: Vec<Cuboid> = boxes.iter().chain(&eye.heads).copied().collect();
        seen(eye, pane, &all) > 1e-9
    };
    // Who sits behind all of it, such as a choir on the stage, is no audience of it.
    let before = |eye: &Eye| panes.iter().any(|pane| eye.at.deep < pane.deep);
    let blind = eyes.into_iter().filter(|eye| before(eye) && !panes.iter().any(|pane| sees(eye, pane)));
    blind.map(|eye| eye.seat).collect()
}

/// The share of a pane that an eye sees past boxes. From behind or in the plane of a pane nothing of it is seen.
fn seen(eye: &Eye, pane: &Pane, boxes: &[Cuboid]) -> f64 {
    if eye.at.deep < pane.deep { 1.0 - pane.hidden(eye.at, boxes).unwrap_or(1.0) } else { 0.0 }
}

/// A screen as a box a millimetre thick: nobody looks through it.
fn solid_screen(screen: Pane) -> Cuboid {
    let at = |across, deep, high| Spot { across, deep, high };
    Cuboid { from: at(screen.left, screen.deep - 0.001, screen.low), to: at(screen.right, screen.deep, screen.high) }
}

fn seat_view(show: &Show, room: &Room, eye: &Eye, boxes: &[Cuboid]) -> SeatView {
    let all: Vec<Cuboid> = boxes.iter().chain(&eye.heads).copied().collect();
    let seen = |pane: &Pane| {
        let nearer = room.screens.iter().map(screen_pane).filter(|screen| screen.deep < pane.deep);
        let all: Vec<Cuboid> = all.iter().copied().chain(nearer.map(solid_screen)).collect();
        seen(eye, pane, &all)
    };
    let hung = room.fabrics.iter().filter_map(|place| Some((place, show.hang(&place.hang)?)));
    SeatView {
        seat: eye.seat.clone(),
        kind: eye.kind,
        fabrics: hung.map(|(place, hang)| (hang.key.clone(), seen(&fabric_pane(room, hang, place)))).collect(),
        screens: room.screens.iter().map(|s| (s.output.clone(), seen(&screen_pane(s)))).collect(),
        performers: room.performers.iter().map(|p| (p.name.clone(), seen(&performer_pane(room, p)))).collect(),
    }
}

/// The pane that an output's picture falls on. The picture on a fabric stands in its middle, as large as its projection says.
pub(super) fn output_pane(show: &Show, room: &Room, output: &OutputKey) -> Option<Pane> {
    if let Some(screen) = room.screens.iter().find(|screen| screen.output == *output) {
        return Some(screen_pane(screen));
    }
    let output = show.output(output)?;
    let Surface::Fabric(hang) = &output.surface else { return None };
    let fabric = fabric_pane(room, show.hang(hang)?, room.fabric(hang)?);
    let Some(p) = &output.projection else { return Some(fabric) };
    let middle = fabric.middle();
    Some(Pane {
        left: middle.across - p.width_m / 2.0,
        right: middle.across + p.width_m / 2.0,
        low: middle.high - p.height_m / 2.0,
        high: middle.high + p.height_m / 2.0,
        deep: fabric.deep,
    })
}

/// Somebody as a box, as deep as a person is.
fn body(pane: Pane) -> Cuboid {
    const DEPTH_M: f64 = 0.3;
    let mut solid = Cuboid { from: pane.middle(), to: pane.middle() };
    (solid.from.across, solid.to.across) = (pane.left, pane.right);
    (solid.from.high, solid.to.high) = (pane.low, pane.high);
    (solid.from.deep, solid.to.deep) = (pane.deep - DEPTH_M / 2.0, pane.deep + DEPTH_M / 2.0);
    solid
}

fn beams(show: &Show, room: &Room) -> Vec<BeamFigures> {
    let mut found = Vec::new();
    for projector in &room.projectors {
        let Some(pane) = output_pane(show, room, &projector.output) else { continue };
        let things: Vec<Cuboid> = room.obstacles.iter().map(Cuboid::of).collect();
        let Some(beam) = beam(projector, &pane, &things) else { continue };
        let cuts = |solid: Cuboid| pane.hidden(projector.at, &[solid]).filter(|share| *share > 1e-9);
        let in_the_way = room.obstacles.iter().filter_map(|t| Some((t.name.clone(), cuts(Cuboid::of(t))?))).collect();
        let bodies = room.performers.iter().map(|p| (p, body(performer_pane(room, p))));
        let people = bodies.clone().filter_map(|(p, body)| Some((p.name.clone(), cuts(body)?))).collect();
        let output = show.output(&projector.output);
        let projection = output.and_then(|output| output.projection.as_ref());
        let passed_on = projection.filter(|p| p.transmission > 0.0).map_or_else(Vec::new, |p| {
            let lux = light_figures(p).lux;
            // Behind the pane as the beam goes, and within its spread.
            let beyond = |deep: f64| (deep - pane.deep) * (pane.deep - projector.at.deep) > 0.0;
            let lit = room.performers.iter().filter(|p| beyond(p.deep_m));
            lit.filter_map(|p| {
                let body = performer_pane(room, p).middle();
                let share = (pane.deep - projector.at.deep) / (body.deep - projector.at.deep);
                let across = projector.at.across + (body.across - projector.at.across) * share;
                let high = projector.at.high + (body.high - projector.at.high) * share;
                let met = (pane.left..=pane.right).contains(&across) && (pane.low..=pane.high).contains(&high);
                let to_person = (body.deep - projector.at.deep).abs();
                let passed = passes_on(lux, projection?.transmission, beam.distance_m, to_person);
                met.then(|| (p.name.clone(), passed))
            })
            .collect()
        });
        found.push(BeamFigures {
            projector: projector.name.clone(),
            output: projector.output.clone(),
            beam,
            in_the_way,
            people,
            passes_on: passed_on,
        });
    }
    found
}

/// How a lamp's silhouettes stand against a white picture on their fabric.
fn against_white(show: &Show, lamp: &BackLamp) -> Option<f64> {
    let lit = |preset: &&Preset| preset.behind.as_ref() == Some(&lamp.hang) && preset.back_lux > 0.0;
    let preset = match &lamp.preset {
        Some(key) => show.preset(key).filter(lit),
        // With whichever is brightest.
        None => show.presets.iter().filter(lit).max_by(|a, b| a.back_lux.total_cmp(&b.back_lux)),
    }?;
    let on_it = |output: &&Output| output.surface == Surface::Fabric(lamp.hang.clone());
    let picture = show.outputs.iter().find(on_it)?.projection.as_ref()?;
    let white = light_figures(picture).cd_m2;
    (white > 0.0 && picture.transmission > 0.0)
        .then(|| 1.0 + preset.back_lux * picture.transmission / std::f64::consts::PI / white)
}

/// Two lamps that may be on together, and how far apart they throw the shadows of one performer.
#[derive(Debug, Clone, PartialEq)]
pub struct DoubleShadow {
    /// The lamps' names.
    pub lamps: (String, String),
    /// The performer's name.
    pub performer: String,
    /// Metres across and up between the two shadows.
    pub apart_m: (f64, f64),
}

fn doubles(show: &Show, room: &Room) -> Vec<DoubleShadow> {
    let mut found = Vec::new();
    for (at, first) in room.lamps.iter().enumerate() {
        let Some(plane) = room.fabric(&first.hang).filter(|_| show.hang(&first.hang).is_some()) else { continue };
        let together = |second: &&BackLamp| {
            let same = first.preset.is_none() || second.preset.is_none() || first.preset == second.preset;
            same && first.hang == second.hang
        };
        for second in room.lamps[at + 1..].iter().filter(together) {
            found.extend(room.performers.iter().filter_map(|performer| {
                let feet = feet(room, performer);
                let apart_m = doubled(plane.deep_m, first.at, second.at, feet).filter(|_| feet.deep >= plane.deep_m)?;
                let lamps = (first.name.clone(), second.name.clone());
                Some(DoubleShadow { lamps, performer: performer.name.clone(), apart_m })
            }));
        }
    }
    found
}

fn shadows(show: &Show, room: &Room) -> Vec<ShadowFigures> {
    let mut found = Vec::new();
    for lamp in &room.lamps {
        let Some((hang, place)) = show.hang(&lamp.hang).zip(room.fabric(&lamp.hang)) else { continue };
        let pane = fabric_pane(room, hang, place);
        for performer in &room.performers {
            let feet = feet(room, performer);
            let thrown = shadow(pane.deep, lamp.at, lamp.source_m, feet, performer.head_m, performer.width_m);
            let Some(shadow) = thrown.filter(|_| feet.deep >= pane.deep) else { continue };
            // With the outer half of the blurred edge.
            let edge = shadow.edge_m / 2.0;
            let half = shadow.width_m / 2.0 + edge;
            found.push(ShadowFigures {
                lamp: lamp.name.clone(),
                performer: performer.name.clone(),
                hang: hang.key.clone(),
                lamp_m: lamp.at.deep - pane.deep,
                person_m: feet.deep - pane.deep,
                on_fabric: shadow.across - half >= pane.left
                    && shadow.across + half <= pane.right
                    && shadow.top + edge <= pane.high
                    && shadow.top >= pane.low,
                against_white: against_white(show, lamp),
                shadow,
            });
        }
    }
    found
}
