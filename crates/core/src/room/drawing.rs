//! The room as drawings: plan, section, and the view from a seat, from one geometry, in metres on the sheet. Screen, paper and the SVG
//! file draw the same shapes.

use super::sight::{Eye, fabric_pane, named_eyes, performer_pane, screen_pane, seen_from};
use super::solid::{Cuboid, Pane};
use super::words::length;
use crate::show::room::{FabricPlace, FreeKind, ObstacleKind, Room, SeatBlock, Spot};
use crate::show::{FallKind, Hang, Show};

/// What a shape shows. It decides how it is drawn.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Draws {
    /// Floor that stays free.
    Free,
    /// The stage.
    Stage,
    /// Walls, ceiling and floor.
    Wall,
    /// Seats of a block.
    Row,
    /// A projector's beam.
    Beam,
    /// What stays free round something.
    Keep,
    /// Something in the way.
    Obstacle,
    /// A bar.
    Bar,
    /// A wished hanging point.
    Point,
    /// A screen.
    Screen,
    /// A hung fabric.
    Fabric,
    /// A lamp behind the fabric.
    Lamp,
    /// Somebody behind the fabric.
    Performer,
    /// A projector.
    Projector,
    /// A line of sight to the head that comes into view last.
    Sight,
    /// A seat that is looked from.
    Seat,
    /// A dimension.
    Dimension,
}

/// A thing of the room, by its place in its list.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Thing {
    /// Of [`Room::bars`].
    Bar(usize),
    /// Of [`Room::points`].
    Point(usize),
    /// Of [`Room::obstacles`].
    Obstacle(usize),
    /// Of [`Room::fabrics`].
    Fabric(usize),
    /// Of [`Room::screens`].
    Screen(usize),
    /// Of [`Room::projectors`].
    Projector(usize),
    /// Of [`Room::seats`].
    Seat(usize),
    /// Of [`Room::blocks`].
    Block(usize),
    /// Of [`Room::performers`].
    Performer(usize),
    /// Of [`Room::lamps`].
    Lamp(usize),
    /// Of [`Room::keep_free`].
    Free(usize),
}

/// A line or an area, and perhaps words beside it.
#[derive(Debug, Clone, PartialEq)]
pub struct Shape {
    /// What it shows.
    pub draws: Draws,
    /// Its corners, in metres to the right and down.
    pub points: Vec<[f64; 2]>,
    /// Whether the last corner joins the first.
    pub closed: bool,
    /// What it is called; empty for no words.
    pub label: String,
    /// What it belongs to, if it can be moved.
    pub thing: Option<Thing>,
}

/// A drawing.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Drawing {
    /// Left, top, right, bottom, in metres.
    pub frame: [f64; 4],
    /// The shapes, those beneath first.
    pub shapes: Vec<Shape>,
}

/// Which way the room is looked at.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Look {
    /// From above: the stage at the top, the audience below it.
    Plan,
    /// The same turned, for wide pictures: the audience on the left and the stage on the right, as in the section; what the audience sees
    /// on the right is at the bottom.
    PlanTurned,
    /// Cut along the middle, seen from the right: the audience on the left, the stage on the right.
    Section,
}

impl Look {
    /// Where a place is on the drawing, metres to the right and down.
    pub fn onto(self, at: Spot) -> [f64; 2] {
        match self {
            Look::Plan => [at.across, -at.deep],
            Look::PlanTurned => [at.deep, at.across],
            Look::Section => [at.deep, -at.high],
        }
    }

    /// Whether it is from above.
    pub const fn is_plan(self) -> bool {
        matches!(self, Look::Plan | Look::PlanTurned)
    }

    /// How a place changes when its point on the drawing is moved by so many metres.
    pub fn moved(self, at: Spot, by: [f64; 2]) -> Spot {
        match self {
            Look::Plan => Spot { across: at.across + by[0], deep: at.deep - by[1], ..at },
            Look::PlanTurned => Spot { across: at.across + by[1], deep: at.deep + by[0], ..at },
            Look::Section => Spot { deep: at.deep + by[0], high: at.high - by[1], ..at },
        }
    }

    fn outline(self, solid: &Cuboid) -> Vec<[f64; 2]> {
        let ([x0, y0], [x1, y1]) = (self.onto(solid.from), self.onto(solid.to));
        vec![[x0, y0], [x1, y0], [x1, y1], [x0, y1]]
    }
}

struct Pen {
    look: Look,
    shapes: Vec<Shape>,
}

impl Pen {
    fn area(&mut self, draws: Draws, solid: &Cuboid, label: &str, thing: Option<Thing>) {
        let points = self.look.outline(solid);
        self.shapes.push(Shape { draws, points, closed: true, label: label.to_owned(), thing });
    }

    fn line(&mut self, draws: Draws, from: Spot, to: Spot, label: &str, thing: Option<Thing>) {
        let points = vec![self.look.onto(from), self.look.onto(to)];
        self.shapes.push(Shape { draws, points, closed: false, label: label.to_owned(), thing });
    }

    /// A mark of a few centimetres round a place.
    fn mark(&mut self, draws: Draws, at: Spot, half: f64, label: &str, thing: Option<Thing>) {
        let solid = Cuboid {
            from: Spot { across: at.across - half, deep: at.deep - half, high: at.high - half },
            to: Spot { across: at.across + half, deep: at.deep + half, high: at.high + half },
        };
        self.area(draws, &solid, label, thing);
    }
}

/// The plan or section of a show's room. `None` if it has none.
pub fn drawing(show: &Show, look: Look) -> Option<Drawing> {
    let room = show.room.as_ref()?;
    let mut pen = Pen { look, shapes: Vec::new() };
    floor(room, &mut pen);
    hung(show, room, &mut pen);
    people(room, &mut pen);
    sight_lines(show, room, &mut pen);
    dimensions(show, room, &mut pen);
    let half = room.width_m / 2.0;
    let margin = 1.2;
    let frame = match look {
        Look::Plan => [-half - margin, -room.stage.depth_m - margin, half + margin, room.house_m + margin],
        Look::PlanTurned => [-room.house_m - margin, -half - margin, room.stage.depth_m + margin, half + margin],
        Look::Section => [-room.house_m - margin, -room.ceiling_m - margin, room.stage.depth_m + margin, margin],
    };
    let mut shapes = pen.shapes;
    // What lies under something else is drawn first; the order within a kind is that of its list.
    shapes.sort_by_key(|shape| shape.draws);
    Some(Drawing { frame, shapes })
}

fn floor(room: &Room, pen: &mut Pen) {
    let half = room.width_m / 2.0;
    let whole = Cuboid {
        from: Spot { across: -half, deep: -room.house_m, high: 0.0 },
        to: Spot { across: half, deep: room.stage.depth_m, high: room.ceiling_m },
    };
    pen.area(Draws::Wall, &whole, "", None);
    let stage = &room.stage;
    let middle = Spot { across: 0.0, deep: stage.depth_m / 2.0, high: 0.0 };
    // A stage without height is a line in the section.
    pen.area(Draws::Stage, &Cuboid::on(middle, stage.width_m, stage.depth_m, stage.height_m), "stage", None);
    for (at, area) in room.keep_free.iter().enumerate() {
        let floor = room.floor_at(area.across_m, area.deep_m);
        let middle = Spot { across: area.across_m, deep: area.deep_m, high: floor };
        let solid = Cuboid::on(middle, area.width_m, area.depth_m, 0.05);
        let label = if area.kind == FreeKind::DropZone && pen.look == Look::Section { "" } else { area.name.as_str() };
        pen.area(Draws::Free, &solid, label, Some(Thing::Free(at)));
    }
}

fn hung(show: &Show, room: &Room, pen: &mut Pen) {
    for (at, thing) in room.obstacles.iter().enumerate() {
        let solid = Cuboid::of(thing);
        if let Some((keep, _)) = thing.keeps() {
            let mut round = solid;
            let under = if thing.kind == ObstacleKind::Sprinkler { 0.0 } else { keep };
            round.from =
                Spot { across: solid.from.across - under, deep: solid.from.deep - under, high: solid.from.high - keep };
            round.to =
                Spot { across: solid.to.across + under, deep: solid.to.deep + under, high: solid.to.high + under };
            pen.area(Draws::Keep, &round, "", None);
        }
        pen.area(Draws::Obstacle, &solid, &thing.name, Some(Thing::Obstacle(at)));
    }
    for (at, bar) in room.bars.iter().enumerate() {
        let high = room.floor_at(bar.across_m, bar.deep_m) + bar.trim_m;
        let middle = Spot { across: bar.across_m, deep: bar.deep_m, high };
        pen.area(Draws::Bar, &Cuboid::on(middle, bar.length_m, 0.1, 0.1), &bar.name, Some(Thing::Bar(at)));
    }
    for (at, point) in room.points.iter().enumerate() {
        // In the section the points of a bar stand one behind the other.
        let label = if pen.look.is_plan() { point.name.as_str() } else { "" };
        pen.mark(Draws::Point, point.at, 0.09, label, Some(Thing::Point(at)));
    }
    for (at, place) in room.fabrics.iter().enumerate() {
        let Some(hang) = show.hang(&place.hang) else { continue };
        let pane = fabric_pane(room, hang, place);
        pen.area(Draws::Fabric, &sheet_of(&pane), &hang.name, Some(Thing::Fabric(at)));
    }
    for (at, screen) in room.screens.iter().enumerate() {
        let name = show.output(&screen.output).map_or("", |output| output.name.as_str());
        pen.area(Draws::Screen, &sheet_of(&screen_pane(screen)), name, Some(Thing::Screen(at)));
    }
    for (at, projector) in room.projectors.iter().enumerate() {
        if let Some(pane) = super::figures::output_pane(show, room, &projector.output) {
            let corners = match pen.look {
                Look::Plan | Look::PlanTurned => [(pane.left, pane.low), (pane.right, pane.low)],
                Look::Section => [(pane.left, pane.low), (pane.left, pane.high)],
            };
            let far = corners.map(|(across, high)| pen.look.onto(Spot { across, deep: pane.deep, high }));
            let points = vec![pen.look.onto(projector.at), far[0], far[1]];
            pen.shapes.push(Shape { draws: Draws::Beam, points, closed: true, label: String::new(), thing: None });
        }
        pen.mark(Draws::Projector, projector.at, 0.2, &projector.name, Some(Thing::Projector(at)));
    }
    for (at, lamp) in room.lamps.iter().enumerate() {
        pen.mark(Draws::Lamp, lamp.at, 0.12, &lamp.name, Some(Thing::Lamp(at)));
    }
}

/// A pane as a box two centimetres thick.
fn sheet_of(pane: &Pane) -> Cuboid {
    Cuboid {
        from: Spot { across: pane.left, deep: pane.deep - 0.01, high: pane.low },
        to: Spot { across: pane.right, deep: pane.deep + 0.01, high: pane.high },
    }
}

fn people(room: &Room, pen: &mut Pen) {
    for (at, block) in room.blocks.iter().enumerate() {
        rows(block, at, pen);
    }
    for (at, seat) in room.seats.iter().enumerate() {
        pen.mark(Draws::Seat, seat.eye, 0.14, &seat.name, Some(Thing::Seat(at)));
    }
    for (at, performer) in room.performers.iter().enumerate() {
        let pane = performer_pane(room, performer);
        let solid = Cuboid {
            from: Spot { across: pane.left, deep: pane.deep - 0.15, high: pane.low },
            to: Spot { across: pane.right, deep: pane.deep + 0.15, high: pane.high },
        };
        pen.area(Draws::Performer, &solid, &performer.name, Some(Thing::Performer(at)));
    }
}

fn rows(block: &SeatBlock, at: usize, pen: &mut Pen) {
    let half = block.seat_m * f64::from(block.seats) / 2.0;
    for row in 0..block.rows {
        let back = f64::from(row);
        let floor = block.floor_m + block.rise_m * back;
        let aside = if block.staggered && row % 2 == 1 { block.seat_m / 2.0 } else { 0.0 };
        let middle = Spot { across: block.across_m + aside, deep: -(block.first_m + block.row_m * back), high: floor };
        let label = if row == 0 { block.name.as_str() } else { "" };
        let seat = Cuboid::on(middle, half * 2.0, 0.45_f64.min(block.row_m * 0.6), block.eye_m);
        pen.area(Draws::Row, &seat, label, Some(Thing::Block(at)));
    }
}

/// The dimensions that people ask for first, each along what it measures.
fn dimensions(show: &Show, room: &Room, pen: &mut Pen) {
    let units = show.settings.units;
    let stage = &room.stage;
    let half = room.width_m / 2.0;
    let at = |across: f64, deep: f64, high: f64| Spot { across, deep, high };
    let mut lines: Vec<(Spot, Spot, f64)> = Vec::new();
    match pen.look {
        Look::Plan | Look::PlanTurned => {
            let below = -room.house_m - 0.5;
            lines.push((at(-half, below, 0.0), at(half, below, 0.0), room.width_m));
            let left = -half - 0.5;
            lines.push((at(left, -room.house_m, 0.0), at(left, 0.0, 0.0), room.house_m));
            lines.push((at(left, 0.0, 0.0), at(left, stage.depth_m, 0.0), stage.depth_m));
            let above = stage.depth_m + 0.5;
            lines.push((at(-stage.width_m / 2.0, above, 0.0), at(stage.width_m / 2.0, above, 0.0), stage.width_m));
            for place in &room.fabrics {
                let Some(hang) = show.hang(&place.hang) else { continue };
                let (from, to) = (place.across_m - hang.width_m / 2.0, place.across_m + hang.width_m / 2.0);
                lines.push((at(from, place.deep_m - 0.35, 0.0), at(to, place.deep_m - 0.35, 0.0), hang.width_m));
            }
        }
        Look::Section => {
            let right = stage.depth_m + 0.5;
            lines.push((at(0.0, right, 0.0), at(0.0, right, room.ceiling_m), room.ceiling_m));
            if stage.height_m > 0.0 {
                let deep = stage.depth_m * 0.85;
                lines.push((at(0.0, deep, 0.0), at(0.0, deep, stage.height_m), stage.height_m));
            }
            for place in &room.fabrics {
                let Some(hang) = show.hang(&place.hang) else { continue };
                let floor = room.floor_at(place.across_m, place.deep_m);
                let deep = place.deep_m - 0.4;
                lines.push((at(0.0, deep, floor), at(0.0, deep, floor + hang.top_m), hang.top_m));
            }
            for (at_line, projector) in room.projectors.iter().enumerate() {
                let Some(pane) = super::figures::output_pane(show, room, &projector.output) else { continue };
                let high = projector.at.high + 0.6 + 0.6 * at_line as f64;
                let away = (pane.deep - projector.at.deep).abs();
                lines.push((at(0.0, projector.at.deep, high), at(0.0, pane.deep, high), away));
            }
        }
    }
    for (from, to, metres) in lines {
        pen.line(Draws::Dimension, from, to, &length(metres, units), None);
    }
}

/// From each named seat to the head that comes into view last, in the section only: in the plan they say nothing.
fn sight_lines(show: &Show, room: &Room, pen: &mut Pen) {
    if pen.look.is_plan() {
        return;
    }
    for place in &room.fabrics {
        let Some(hang) = show.hang(&place.hang) else { continue };
        let floor = room.floor_at(place.across_m, place.deep_m);
        let Some(named) = seen_from(show, &hang.key, &named_eyes(room)) else { continue };
        for (seat, eye) in named.iter().zip(&room.seats) {
            let Some((height, _)) = seat.all else { continue };
            let at = Spot { across: eye.eye.across, deep: place.deep_m, high: floor + height };
            pen.line(Draws::Sight, eye.eye, at, "", None);
        }
    }
}

/// Takes the names off people whose middle lies behind a fabric: a name over cloth says that they are seen.
fn hide_names(faces: &mut [(f64, Shape)]) {
    let range = |shape: &Shape, axis: usize| {
        let values = || shape.points.iter().map(|p| p[axis]);
        (values().fold(f64::INFINITY, f64::min), values().fold(f64::NEG_INFINITY, f64::max))
    };
    let cloths: Vec<(f64, [(f64, f64); 2])> = faces
        .iter()
        .filter(|(_, shape)| shape.draws == Draws::Fabric)
        .map(|(near, shape)| (*near, [range(shape, 0), range(shape, 1)]))
        .collect();
    for (near, shape) in faces.iter_mut().filter(|(_, shape)| shape.draws == Draws::Performer) {
        let middle = [0, 1].map(|axis| {
            let (low, high) = range(shape, axis);
            f64::midpoint(low, high)
        });
        let behind = |(cloth, sides): &(f64, [(f64, f64); 2])| {
            cloth < near && sides.iter().zip(middle).all(|((low, high), at)| (*low..=*high).contains(&at))
        };
        if cloths.iter().any(behind) {
            shape.label.clear();
        }
    }
}

/// What still hangs of a fabric whose edge has travelled so many metres; `None` once it lies on the floor.
fn hanging(room: &Room, place: &FabricPlace, pane: Pane, kind: FallKind, travelled: f64) -> Option<Pane> {
    let floor = room.floor_at(place.across_m, place.deep_m);
    match kind {
        FallKind::Falls => {
            let high = pane.high - travelled;
            // A heap of so little height is no picture any more.
            (high > floor + 0.1).then_some(Pane { low: (pane.low - travelled).max(floor), high, ..pane })
        }
        FallKind::Unfurls => {
            let low = (pane.high - travelled.max(0.15)).max(pane.low);
            Some(Pane { low, ..pane })
        }
    }
}

/// Nearer to the eye than this, metres, nothing is drawn.
const NEAR_M: f64 = 0.2;

/// What is seen from an eye that looks straight at the stage: every length divided by how deep it lies before the eye. `fallen` says how
/// far each fabric's edge has fallen, metres.
pub fn view_from(show: &Show, eye: &Eye, fallen: impl Fn(&Hang) -> f64) -> Option<Drawing> {
    let room = show.room.as_ref()?;
    let mut faces: Vec<(f64, Shape)> = Vec::new();
    let mut add = |draws: Draws, solid: &Cuboid, label: &str, thing: Option<Thing>| {
        let near = solid.from.deep.max(eye.at.deep + NEAR_M);
        if near > solid.to.deep {
            return;
        }
        let mut points = Vec::new();
        for deep in [near, solid.to.deep] {
            for across in [solid.from.across, solid.to.across] {
                for high in [solid.from.high, solid.to.high] {
                    let away = deep - eye.at.deep;
                    points.push([(across - eye.at.across) / away, -(high - eye.at.high) / away]);
                }
            }
        }
        let points = super::solid::hull(points);
        // Wall and stage are beneath whatever stands before the one and on the other.
        let near = if matches!(draws, Draws::Wall | Draws::Stage) { f64::INFINITY } else { near };
        faces.push((near, Shape { draws, points, closed: true, label: label.to_owned(), thing }));
    };
    let stage = &room.stage;
    let back = Cuboid {
        from: Spot { across: -room.width_m / 2.0, deep: stage.depth_m, high: 0.0 },
        to: Spot { across: room.width_m / 2.0, deep: stage.depth_m, high: room.ceiling_m },
    };
    add(Draws::Wall, &back, "", None);
    let middle = Spot { across: 0.0, deep: stage.depth_m / 2.0, high: 0.0 };
    add(Draws::Stage, &Cuboid::on(middle, stage.width_m, stage.depth_m, stage.height_m), "", None);
    for (at, screen) in room.screens.iter().enumerate() {
        add(Draws::Screen, &sheet_of(&screen_pane(screen)), "", Some(Thing::Screen(at)));
    }
    for (at, performer) in room.performers.iter().enumerate() {
        add(Draws::Performer, &sheet_of(&performer_pane(room, performer)), &performer.name, Some(Thing::Performer(at)));
    }
    for (at, place) in room.fabrics.iter().enumerate() {
        let Some(hang) = show.hang(&place.hang) else { continue };
        let pane = hanging(room, place, fabric_pane(room, hang, place), hang.kind, fallen(hang));
        if let Some(pane) = pane {
            add(Draws::Fabric, &sheet_of(&pane), &hang.name, Some(Thing::Fabric(at)));
        }
    }
    for (at, thing) in room.obstacles.iter().enumerate() {
        add(Draws::Obstacle, &Cuboid::of(thing), &thing.name, Some(Thing::Obstacle(at)));
    }
    for head in &eye.heads {
        add(Draws::Row, head, "", None);
    }
    faces.sort_by(|a, b| b.0.total_cmp(&a.0));
    hide_names(&mut faces);
    // As wide as the stage and half as much again, and from the floor to the ceiling over the stage's front edge.
    let away = (-eye.at.deep).max(1.0);
    let half = stage.width_m * 0.6 / away;
    let aside = -eye.at.across / away;
    let frame = [aside - half, -(room.ceiling_m - eye.at.high) / away, aside + half, eye.at.high / away];
    Some(Drawing { frame, shapes: faces.into_iter().map(|(_, shape)| shape).collect() })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn moving_on_a_drawing_moves_the_place() {
        let at = Spot { across: 1.0, deep: -2.0, high: 3.0 };
        for (look, moved) in [
            (Look::Plan, Spot { across: 1.5, deep: -2.25, high: 3.0 }),
            (Look::PlanTurned, Spot { across: 1.25, deep: -1.5, high: 3.0 }),
            (Look::Section, Spot { across: 1.0, deep: -1.5, high: 2.75 }),
        ] {
            let there = look.moved(at, [0.5, 0.25]);
            assert_eq!(there, moved);
            let (a, b) = (look.onto(at), look.onto(there));
            assert_eq!([b[0] - a[0], b[1] - a[1]], [0.5, 0.25]);
        }
    }
}
