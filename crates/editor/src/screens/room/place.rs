//! Where a thing of the room is, and putting it somewhere else.

use letfall_core::room::drawing::Thing;
use letfall_core::show::room::{Room, Spot};

/// Where a thing is; `None` if it is gone. What has no height of its own is given that of its floor.
pub fn place_of(room: &Room, thing: Thing) -> Option<Spot> {
    let flat = |across: f64, deep: f64| Spot { across, deep, high: 0.0 };
    match thing {
        Thing::Bar(at) => {
            room.bars.get(at).map(|bar| Spot { across: bar.across_m, deep: bar.deep_m, high: bar.trim_m })
        }
        Thing::Point(at) => room.points.get(at).map(|point| point.at),
        Thing::Obstacle(at) => room.obstacles.get(at).map(|thing| thing.at),
        Thing::Fabric(at) => room.fabrics.get(at).map(|fabric| flat(fabric.across_m, fabric.deep_m)),
        Thing::Screen(at) => room.screens.get(at).map(|screen| screen.at),
        Thing::Projector(at) => room.projectors.get(at).map(|projector| projector.at),
        Thing::Seat(at) => room.seats.get(at).map(|seat| seat.eye),
        Thing::Block(at) => room.blocks.get(at).map(|block| flat(block.across_m, -block.first_m)),
        Thing::Performer(at) => room.performers.get(at).map(|one| flat(one.across_m, one.deep_m)),
        Thing::Lamp(at) => room.lamps.get(at).map(|lamp| lamp.at),
        Thing::Free(at) => room.keep_free.get(at).map(|area| flat(area.across_m, area.deep_m)),
    }
}

/// Puts a thing somewhere. What stands on the floor or hangs at a fabric's own height keeps its height.
pub fn put(room: &mut Room, thing: Thing, to: Spot) {
    match thing {
        Thing::Bar(at) => {
            if let Some(bar) = room.bars.get_mut(at) {
                let (across, deep) = (to.across - bar.across_m, to.deep - bar.deep_m);
                (bar.across_m, bar.deep_m, bar.trim_m) = (to.across, to.deep, to.high.max(0.01));
                // What hangs from it goes along.
                let tidy = |x: f64| libm::round(x * 1e4) / 1e4;
                for place in room.fabrics.iter_mut().filter(|place| place.bar == bar.name) {
                    (place.across_m, place.deep_m) = (tidy(place.across_m + across), tidy(place.deep_m + deep));
                }
            }
        }
        Thing::Point(at) => set(room.points.get_mut(at).map(|point| &mut point.at), to),
        Thing::Obstacle(at) => set(room.obstacles.get_mut(at).map(|thing| &mut thing.at), to),
        Thing::Screen(at) => set(room.screens.get_mut(at).map(|screen| &mut screen.at), to),
        Thing::Projector(at) => set(room.projectors.get_mut(at).map(|projector| &mut projector.at), to),
        Thing::Seat(at) => set(room.seats.get_mut(at).map(|seat| &mut seat.eye), to),
        Thing::Lamp(at) => set(room.lamps.get_mut(at).map(|lamp| &mut lamp.at), to),
        Thing::Fabric(at) => {
            if let Some(fabric) = room.fabrics.get_mut(at) {
                (fabric.across_m, fabric.deep_m) = (to.across, to.deep);
            }
        }
        Thing::Block(at) => {
            if let Some(block) = room.blocks.get_mut(at) {
                (block.across_m, block.first_m) = (to.across, -to.deep);
            }
        }
        Thing::Performer(at) => {
            if let Some(one) = room.performers.get_mut(at) {
                (one.across_m, one.deep_m) = (to.across, to.deep);
            }
        }
        Thing::Free(at) => {
            if let Some(area) = room.keep_free.get_mut(at) {
                (area.across_m, area.deep_m) = (to.across, to.deep);
            }
        }
    }
}

fn set(place: Option<&mut Spot>, to: Spot) {
    if let Some(place) = place {
        *place = to;
    }
}

/// A place in whole steps of so many metres; only what has moved is rounded.
pub fn in_steps(from: Spot, to: Spot, step: f64) -> Spot {
    let round = |a: f64, b: f64| if (a - b).abs() < 1e-12 { a } else { libm::round(b / step) * step };
    // Sums of steps are written as people write them: no 1.2000000000000002.
    let tidy = |x: f64| libm::round(x * 1e4) / 1e4;
    Spot {
        across: tidy(round(from.across, to.across)),
        deep: tidy(round(from.deep, to.deep)),
        high: tidy(round(from.high, to.high)),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_bar_takes_along_what_hangs_from_it() {
        let mut room = Room::usual();
        let bar = r#"{"name":"bar 1","deep_m":1.5,"length_m":9,"trim_m":5}"#;
        room.bars.push(serde_json::from_str(bar).expect("a bar"));
        for (hang, bar) in [("on", "bar 1"), ("off", "")] {
            let place = format!(r#"{{"hang":"{hang}","across_m":0.2,"deep_m":1.5,"bar":"{bar}"}}"#);
            room.fabrics.push(serde_json::from_str(&place).expect("a place"));
        }
        put(&mut room, Thing::Bar(0), Spot { across: 0.5, deep: 2.25, high: 6.0 });
        assert_eq!((room.fabrics[0].across_m, room.fabrics[0].deep_m), (0.7, 2.25));
        assert_eq!((room.fabrics[1].across_m, room.fabrics[1].deep_m), (0.2, 1.5));
    }

    #[test]
    fn steps_round_only_what_moved() {
        let from = Spot { across: 1.234, deep: 2.0, high: 0.333 };
        let to = in_steps(from, Spot { across: 1.234, deep: 2.17, high: 0.333 }, 0.1);
        assert_eq!(to, Spot { across: 1.234, deep: 2.2, high: 0.333 });
    }
}
