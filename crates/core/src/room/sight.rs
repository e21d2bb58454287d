//! What a seat sees: past what is in the way, over the row in front, and over the edge of a falling fabric.

use super::solid::{Cuboid, Pane};
use crate::reveal::{FallTime, FallsPast};
use crate::show::room::{FabricPlace, Performer, Room, ScreenPlace, SeatBlock, SeatKind, Spot};
use crate::show::{FallKind, Hang, HangKey, Show};

/// From the eye to the top of the same head, metres: EN 13200-1 counts with 0.12 m (check-values 16 has its C-value).
pub const EYE_TO_TOP_M: f64 = 0.12;
/// Width and depth of a head, metres. Common practice, no source.
const HEAD_M: f64 = 0.2;
/// Heads this far to either side of a seat's own line are looked at, metres.
const BESIDE_M: f64 = 1.6;

/// Heads this far before a named seat are those of the row in front, metres: rows stand up to so far apart.
const FRONT_M: f64 = 1.3;

/// An eye that looks.
#[derive(Debug, Clone, PartialEq)]
pub struct Eye {
    /// The seat, such as "row A, middle" or "stalls, row 3, seat 5".
    pub seat: String,
    /// Which of the named seats it is; `None` for one in a block.
    pub kind: Option<SeatKind>,
    /// Where it is.
    pub at: Spot,
    /// The heads of the row in front.
    pub heads: Vec<Cuboid>,
}

/// The C-value: how far the line from an eye to the focal point passes over the eye in front, metres; negative if below.
/// C = D (N + R)/(D + T) − R, with `d` from the eye in front to the focal point, `r` that eye above it, `n` the rise to the next row and
/// `t` the depth of a row (EN 13200-1 names it; formula in check-values 16). `None` if nobody sits there: d + t is not above 0.
pub fn c_value(d: f64, r: f64, n: f64, t: f64) -> Option<f64> {
    (d + t > 0.0).then(|| d * (n + r) / (d + t) - r)
}

/// Where the line from an eye to a head crosses the plane at a depth: across and high (check-values 16). `None` unless the plane is
/// between them.
pub fn crossing(eye: Spot, head: Spot, plane: f64) -> Option<(f64, f64)> {
    let share = (plane - eye.deep) / (head.deep - eye.deep);
    let between = (eye.deep < plane && plane < head.deep) || (head.deep < plane && plane < eye.deep);
    between.then_some((eye.across + (head.across - eye.across) * share, eye.high + (head.high - eye.high) * share))
}

impl Pane {
    /// How high the line from an eye to a head goes through the pane, metres. `None` if it passes beside, over or under it, or if the pane
    /// is not between the two.
    pub fn covers(&self, eye: Spot, head: Spot) -> Option<f64> {
        let (across, high) = crossing(eye, head, self.deep)?;
        ((self.left..=self.right).contains(&across) && (self.low..=self.high).contains(&high)).then_some(high)
    }
}

impl Cuboid {
    /// Whether the straight line between two places goes through the box. Touching it does not count.
    pub fn cuts(&self, from: Spot, to: Spot) -> bool {
        let axes = [
            (from.across, to.across, self.from.across, self.to.across),
            (from.deep, to.deep, self.from.deep, self.to.deep),
            (from.high, to.high, self.from.high, self.to.high),
        ];
        let mut way = (0.0f64, 1.0f64);
        for (a, b, low, high) in axes {
            let step = b - a;
            if step == 0.0 {
                if a <= low || a >= high {
                    return false;
                }
                continue;
            }
            let (one, other) = ((low - a) / step, (high - a) / step);
            way = (way.0.max(one.min(other)), way.1.min(one.max(other)));
        }
        way.1 - way.0 > 1e-9
    }
}

/// The eyes of one row of a block; the first row is 0.
fn row(block: &SeatBlock, row: u16) -> impl Iterator<Item = Spot> + '_ {
    let back = f64::from(row);
    let aside = if block.staggered && row % 2 == 1 { block.seat_m / 2.0 } else { 0.0 };
    let left = block.across_m + aside - block.seat_m * f64::from(block.seats.saturating_sub(1)) / 2.0;
    (0..block.seats).map(move |seat| Spot {
        across: left + block.seat_m * f64::from(seat),
        deep: -(block.first_m + block.row_m * back),
        high: block.floor_m + block.rise_m * back + block.eye_m,
    })
}

fn head(eye: Spot) -> Cuboid {
    Cuboid::on(Spot { high: eye.high - HEAD_M / 2.0, ..eye }, HEAD_M, HEAD_M, HEAD_M / 2.0 + EYE_TO_TOP_M)
}

/// The seats that were named, with the heads of whoever sits in a block right in front of them.
pub fn named_eyes(room: &Room) -> Vec<Eye> {
    let sitting: Vec<Spot> = rows(room).flat_map(|(block, number)| row(block, number)).collect();
    let in_front = |at: Spot| {
        let near = |eye: &&Spot| {
            let before = eye.deep - at.deep;
            before > HEAD_M && before <= FRONT_M && (eye.across - at.across).abs() <= BESIDE_M
        };
        sitting.iter().filter(near).map(|eye| head(*eye)).collect()
    };
    let named = room.seats.iter();
    named
        .map(|seat| Eye { seat: seat.name.clone(), kind: Some(seat.kind), at: seat.eye, heads: in_front(seat.eye) })
        .collect()
}

/// The name of a row of a block.
fn row_name(block: &SeatBlock, number: u16) -> String {
    format!("{}, row {}", block.name, number + 1)
}

/// The eyes in a row of a block, with the heads of the row before.
fn row_eyes(block: &SeatBlock, number: u16) -> impl Iterator<Item = Eye> + '_ {
    let in_front: Vec<Spot> = if number > 0 { row(block, number - 1).collect() } else { Vec::new() };
    row(block, number).enumerate().map(move |(seat, at)| Eye {
        seat: format!("{}, seat {}", row_name(block, number), seat + 1),
        kind: None,
        at,
        heads: in_front.iter().filter(|h| (h.across - at.across).abs() <= BESIDE_M).map(|h| head(*h)).collect(),
    })
}

/// Each row of each block.
fn rows(room: &Room) -> impl Iterator<Item = (&SeatBlock, u16)> {
    room.blocks.iter().flat_map(|block| (0..block.rows).map(move |number| (block, number)))
}

/// All seats of the blocks, row by row.
pub fn block_eyes(room: &Room) -> Vec<Eye> {
    rows(room).flat_map(|(block, number)| row_eyes(block, number)).collect()
}

/// The eye at a seat by its name: of those that are named, or in a block, of which only its own row is gone through.
pub fn eye_at(room: &Room, name: &str) -> Option<Eye> {
    let of_row = |(block, number): &(&SeatBlock, u16)| {
        name.strip_prefix(row_name(block, *number).as_str()).is_some_and(|rest| rest.starts_with(", seat "))
    };
    let in_blocks =
        || rows(room).filter(of_row).find_map(|(block, number)| row_eyes(block, number).find(|eye| eye.seat == name));
    named_eyes(room).into_iter().find(|eye| eye.seat == name).or_else(in_blocks)
}

/// The seats that shares are counted over: those of the blocks, or where there are none the named ones.
pub fn all_eyes(room: &Room) -> Vec<Eye> {
    let eyes = block_eyes(room);
    if eyes.is_empty() { named_eyes(room) } else { eyes }
}

/// The C-value of each row of a block but the first, to the front edge of the stage's floor, metres.
pub fn row_c_values(room: &Room, block: &SeatBlock) -> Vec<Option<f64>> {
    (1..block.rows)
        .map(|number| {
            let before = f64::from(number - 1);
            let distance = block.first_m + block.row_m * before;
            let above = block.floor_m + block.rise_m * before + block.eye_m - room.stage.height_m;
            c_value(distance, above, block.rise_m, block.row_m)
        })
        .collect()
}

/// What a C-value is called. Common practice: 60 mm poor, 90 fair, 120 good (check-values 16).
pub fn c_word(c: f64) -> &'static str {
    match c {
        c if c < 0.06 - 1e-9 => "heads in front are in the way",
        c if c < 0.09 - 1e-9 => "poor",
        c if c < 0.12 - 1e-9 => "fair",
        _ => "good",
    }
}

/// The boxes in the room, the stage's own floor among them.
pub fn boxes(room: &Room) -> Vec<Cuboid> {
    let mut boxes: Vec<Cuboid> = room.obstacles.iter().map(Cuboid::of).collect();
    if room.stage.height_m > 0.0 {
        let middle = Spot { across: 0.0, deep: room.stage.depth_m / 2.0, high: 0.0 };
        boxes.push(Cuboid::on(middle, room.stage.width_m, room.stage.depth_m, room.stage.height_m));
    }
    boxes
}

/// Where a fabric hangs, as a pane.
pub fn fabric_pane(room: &Room, hang: &Hang, place: &FabricPlace) -> Pane {
    let top = room.floor_at(place.across_m, place.deep_m) + hang.top_m;
    Pane {
        left: place.across_m - hang.width_m / 2.0,
        right: place.across_m + hang.width_m / 2.0,
        low: top - hang.drop_m,
        high: top,
        deep: place.deep_m,
    }
}

/// A screen's picture as a pane.
pub fn screen_pane(screen: &ScreenPlace) -> Pane {
    Pane {
        left: screen.at.across - screen.width_m / 2.0,
        right: screen.at.across + screen.width_m / 2.0,
        low: screen.at.high,
        high: screen.at.high + screen.height_m,
        deep: screen.at.deep,
    }
}

/// Where somebody's feet are.
pub fn feet(room: &Room, performer: &Performer) -> Spot {
    let floor = room.floor_at(performer.across_m, performer.deep_m) + performer.raised_m;
    Spot { across: performer.across_m, deep: performer.deep_m, high: floor }
}

/// The top of somebody's head.
pub fn head_top(room: &Room, performer: &Performer) -> Spot {
    let feet = feet(room, performer);
    Spot { high: feet.high + performer.head_m, ..feet }
}

/// Somebody as a pane, from feet to the top of the head.
pub fn performer_pane(room: &Room, performer: &Performer) -> Pane {
    let feet = feet(room, performer);
    Pane {
        left: feet.across - performer.width_m / 2.0,
        right: feet.across + performer.width_m / 2.0,
        low: feet.high,
        high: feet.high + performer.head_m,
        deep: feet.deep,
    }
}

/// When a seat sees somebody behind a fabric.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Sees {
    /// Before the fall already: past its side, over its top or under its hem.
    Before,
    /// Once its edge passes this height above the floor beneath it, metres.
    Past(f64),
    /// Not at all: something stands in the way.
    Never,
}

/// When an eye sees a head behind a fabric, past whatever stands in the way: things, heads, screens. Other fabrics do not count here.
pub fn sees(room: &Room, hang: &Hang, place: &FabricPlace, eye: &Eye, head: Spot, boxes: &[Cuboid]) -> Option<Sees> {
    crossing(eye.at, head, place.deep_m)?;
    let solid = || boxes.iter().chain(&eye.heads).any(|solid| solid.cuts(eye.at, head));
    if room.screens.iter().any(|screen| screen_pane(screen).covers(eye.at, head).is_some()) || solid() {
        return Some(Sees::Never);
    }
    let floor = room.floor_at(place.across_m, place.deep_m);
    let high = fabric_pane(room, hang, place).covers(eye.at, head);
    Some(high.map_or(Sees::Before, |high| Sees::Past(high - floor)))
}

/// When one seat sees whoever is behind a fabric.
#[derive(Debug, Clone, PartialEq)]
pub struct SeatReveal {
    /// The seat.
    pub seat: String,
    /// Which of the named seats it is.
    pub kind: Option<SeatKind>,
    /// Names of those that it sees before the fall.
    pub before: Vec<String>,
    /// Names of those that it never sees.
    pub never: Vec<String>,
    /// The height above the floor beneath the fabric that its edge passes when the last of the others comes into view, metres, and
    /// how long that takes from let-go. `None` if there are no others.
    pub all: Option<(f64, FallTime)>,
    /// Other fabrics that hide the same people from this seat, beside or before this one, and how long each takes from its own let-go until
    /// its edge has passed the last of them.
    pub also: Vec<(HangKey, FallTime)>,
}

impl SeatReveal {
    /// Which other fabrics hide the same people from this seat, in words, such as `also behind "Side cloth" from here`. Empty if none does.
    pub fn also_words(&self, show: &Show) -> String {
        let name = |key: &HangKey| show.hang(key).map_or_else(|| key.to_string(), |hang| hang.name.clone());
        let names: Vec<String> = self.also.iter().map(|(key, _)| format!("“{}”", name(key))).collect();
        if names.is_empty() { String::new() } else { format!("also behind {} from here", names.join(" and ")) }
    }
}

/// What every seat sees of a fabric's fall.
#[derive(Debug, Clone, PartialEq)]
pub struct Reveal {
    /// The fabric.
    pub hang: HangKey,
    /// The named seats.
    pub named: Vec<SeatReveal>,
    /// The seats that shares are counted over.
    pub seats: Vec<SeatReveal>,
}

impl Reveal {
    /// The first and the last time at which a seat sees all that the fabric hid from it, in seconds from let-go. `None` if no seat does.
    pub fn range(&self) -> Option<(f64, f64)> {
        ends(self.seats.iter().filter_map(|seat| seat.all.map(|(_, fall)| fall.expected)))
    }

    /// The lowest and the highest of the seats' own lines above the floor beneath the fabric, metres. `None` if no seat has one.
    pub fn lines(&self) -> Option<(f64, f64)> {
        ends(self.seats.iter().filter_map(|seat| seat.all.map(|(height, _)| height)))
    }

    /// The range in words, such as "first seats see them 0.62 s after let-go, last at 0.81 s", and how many seats look past another fabric
    /// too. Empty if no seat does.
    pub fn words(&self) -> String {
        let Some((first, last)) = self.range() else { return String::new() };
        let past = match self.seats.iter().filter(|seat| !seat.also.is_empty()).count() {
            0 => String::new(),
            1 => "; one of them only when another fabric is gone too".to_owned(),
            n => format!("; {n} of them only when another fabric is gone too"),
        };
        format!("first seats see them {first:.2} s after let-go, last at {last:.2} s{past}")
    }
}

/// The least and the greatest of some figures. `None` if there are none.
pub(crate) fn ends(figures: impl Iterator<Item = f64>) -> Option<(f64, f64)> {
    figures.fold(None, |ends, figure| {
        let (least, most) = ends.unwrap_or((figure, figure));
        Some((figure.min(least), figure.max(most)))
    })
}

/// What every seat sees of the fall of a fabric. `None` if the room does not say where it hangs, or nobody stands behind it, or there are
/// no seats.
///
/// Of a fabric that unfurls there is none: it hides people as it opens.
pub fn reveal(show: &Show, hang: &HangKey) -> Option<Reveal> {
    let room = show.room.as_ref()?;
    let seats = seen_from(show, hang, &all_eyes(room))?;
    let named = seen_from(show, hang, &named_eyes(room))?;
    (!seats.is_empty()).then(|| Reveal { hang: hang.clone(), named, seats })
}

/// What some eyes see of the fall of a fabric; see [`reveal`].
pub fn seen_from(show: &Show, hang: &HangKey, eyes: &[Eye]) -> Option<Vec<SeatReveal>> {
    let room = show.room.as_ref()?;
    let (hang, place) = (show.hang(hang)?, room.fabric(hang)?);
    if hang.kind == FallKind::Unfurls {
        return None;
    }
    let boxes = boxes(room);
    let behind: Vec<&Performer> = room.performers.iter().filter(|p| p.deep_m > place.deep_m).collect();
    if behind.is_empty() {
        return None;
    }
    let falls = FallsPast::of(hang);
    let others = others(show, room, &hang.key);
    let of = |eye: &Eye| {
        let mut lowest: Option<f64> = None;
        // The same for each of the others.
        let mut also: Vec<Option<f64>> = vec![None; others.len()];
        let (mut before, mut never) = (Vec::new(), Vec::new());
        let lower = |low: &mut Option<f64>, height: f64| *low = Some(low.map_or(height, |low| low.min(height)));
        for performer in &behind {
            let head = head_top(room, performer);
            let past = others.iter().map(|other| other.covers(eye.at, head)).collect::<Vec<_>>();
            match sees(room, hang, place, eye, head, &boxes) {
                Some(Sees::Past(height)) => {
                    lower(&mut lowest, height);
                    also.iter_mut().zip(past).for_each(|(low, past)| past.into_iter().for_each(|h| lower(low, h)));
                }
                // Whom another fabric hides belongs to the fall of that one.
                Some(Sees::Before) if past.iter().all(Option::is_none) => before.push(performer.name.clone()),
                Some(Sees::Never) => never.push(performer.name.clone()),
                Some(Sees::Before) | None => {}
            }
        }
        let also = others.iter().zip(also);
        SeatReveal {
            seat: eye.seat.clone(),
            kind: eye.kind,
            before,
            never,
            all: lowest.map(|height| (height, falls.height(height))),
            also: also.filter_map(|(other, low)| Some((other.key.clone(), other.falls.height(low?)))).collect(),
        }
    };
    Some(eyes.iter().map(of).collect())
}

/// A fabric that hangs in the same room and falls.
struct Other<'a> {
    key: HangKey,
    pane: Pane,
    /// How high the floor beneath it is, metres.
    floor: f64,
    falls: FallsPast<'a>,
}

impl Other<'_> {
    /// How high above the floor beneath it the line from an eye to a head goes through it; `None` if it hides nothing of it.
    fn covers(&self, eye: Spot, head: Spot) -> Option<f64> {
        self.pane.covers(eye, head).map(|high| high - self.floor)
    }
}

/// The other fabrics of a room that fall. One that unfurls is rolled up before it does.
fn others<'a>(show: &'a Show, room: &Room, but: &HangKey) -> Vec<Other<'a>> {
    let hung = room.fabrics.iter().filter_map(|place| Some((place, show.hang(&place.hang)?)));
    hung.filter(|(_, hang)| hang.key != *but && hang.kind == FallKind::Falls)
        .map(|(place, hang)| Other {
            key: hang.key.clone(),
            pane: fabric_pane(room, hang, place),
            floor: room.floor_at(place.across_m, place.deep_m),
            falls: FallsPast::of(hang),
        })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    /// check-values 16: EN 13200-1 names the value; the formula was seen in three public texts.
    #[test]
    fn published_c_values() {
        for (d, n, r, t, c) in [
            (30.0, 0.40, 10.0, 1.0, 0.0645),
            (12.0, 0.35, 2.0, 0.9, 0.1860),
            (18.0, 0.30, 1.2, 0.8, 0.2362),
            (10.0, 0.0, 0.2, 0.9, -0.0165),
        ] {
            assert!((c_value(d, r, n, t).expect("a seat") - c).abs() < 5e-5, "{d} {n} {r} {t}");
        }
        assert_eq!(c_value(-1.0, 1.0, 0.0, 1.0), None);
        for (c, word) in [
            (-0.1, "heads in front are in the way"),
            (0.059, "heads in front are in the way"),
            (0.06, "poor"),
            (0.09, "fair"),
            (0.12, "good"),
        ] {
            assert_eq!(c_word(c), word, "{c}");
        }
    }

    /// check-values 16: eye 1.2, 10 m before the fabric, head 2.3, 3 m behind it: 2.046 m; from a balcony (3.5 m, 22 m) 2.444 m.
    #[test]
    fn published_crossings() {
        for (eye, d, high) in [(1.2, 10.0, 2.046), (3.5, 22.0, 2.444)] {
            let eye = Spot { across: 1.0, deep: -d, high: eye };
            let head = Spot { across: 1.0, deep: 3.0, high: 2.3 };
            let found = crossing(eye, head, 0.0).expect("between");
            assert!((found.1 - high).abs() < 5e-4 && found.0 == 1.0, "{found:?}");
            assert_eq!(crossing(eye, head, 3.0), None);
            assert_eq!(crossing(eye, head, -d), None);
        }
    }

    #[test]
    fn a_line_through_a_box() {
        let solid = Cuboid::on(Spot { across: 0.0, deep: 0.0, high: 0.0 }, 2.0, 2.0, 2.0);
        let at = |across, deep, high| Spot { across, deep, high };
        assert!(solid.cuts(at(0.0, -5.0, 1.0), at(0.0, 5.0, 1.0)));
        // Along a face, short of it, beyond it, over it.
        assert!(!solid.cuts(at(1.0, -5.0, 1.0), at(1.0, 5.0, 1.0)));
        assert!(!solid.cuts(at(0.0, -5.0, 1.0), at(0.0, -1.0, 1.0)));
        assert!(!solid.cuts(at(0.0, 2.0, 1.0), at(0.0, 5.0, 1.0)));
        assert!(!solid.cuts(at(0.0, -5.0, 2.1), at(0.0, 5.0, 2.1)));
        assert!(solid.cuts(at(0.0, -5.0, 4.0), at(0.0, 5.0, -1.0)));
    }
}
