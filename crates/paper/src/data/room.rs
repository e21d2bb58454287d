//! The room on paper: drawings to scale, and the figures beside them, with lines for the answers.

use letfall_core::prepared::Prepared;
use letfall_core::room::drawing::{Drawing, Draws, Look, drawing, view_from};
use letfall_core::room::sight::{all_eyes, c_word, named_eyes, row_c_values};
use letfall_core::room::{
    RoomFigures, SeatView, across, bar_loads, hang_load, length, mass, mass_along, percent, seat_views,
};
use letfall_core::show::room::Room;
use letfall_core::show::{Hem, Show, Units};
use serde::Serialize;

/// The sheet of the room.
#[derive(Serialize)]
pub struct RoomSheet {
    plan: Picture,
    section: Picture,
    views: Vec<View>,
    /// Where the sizes come from.
    measured: String,
    loads: Vec<Load>,
    units: Vec<Row>,
    points: Vec<Point>,
    seats: Vec<Row>,
    seats_words: Vec<String>,
    beams: Vec<Row>,
    shadows: Vec<Row>,
    things: Vec<Row>,
    others: Vec<Row>,
}

#[derive(Serialize)]
struct Picture {
    /// In metres.
    width: f64,
    height: f64,
    shapes: Vec<Shape>,
    /// What the scale bar shows: metres and words.
    bar: (f64, String),
}

#[derive(Serialize)]
struct Shape {
    is: &'static str,
    points: Vec<[f64; 2]>,
    closed: bool,
    label: String,
}

#[derive(Serialize)]
struct View {
    seat: String,
    up: Picture,
    down: Picture,
}

#[derive(Serialize)]
struct Load {
    bar: String,
    hangs: String,
    hung: String,
    per_metre: String,
    own: String,
    points: String,
}

#[derive(Serialize)]
struct Point {
    name: String,
    place: String,
    above: String,
    limit: String,
    by: String,
    reach: String,
}

#[derive(Serialize)]
struct Row {
    name: String,
    words: Vec<String>,
}

/// Works out the sheet of the room. `None` if the show describes none.
pub fn room(prepared: &Prepared) -> Option<RoomSheet> {
    let show: &Show = prepared.show();
    let (room, figures) = show.room.as_ref().zip(prepared.prepared_show().room())?;
    let units = show.settings.units;
    let known = room.known.words();
    Some(RoomSheet {
        plan: picture(&drawing(show, Look::Plan)?, units),
        section: picture(&drawing(show, Look::Section)?, units),
        views: views(show, room),
        measured: if known.is_empty() {
            "nobody stands for these sizes yet".to_owned()
        } else {
            format!("measured by {known}")
        },
        loads: loads(show),
        units: unit_rows(show),
        points: points(room, units),
        seats: figures.named.iter().map(|view| seat_row(show, view, figures)).collect(),
        seats_words: seats_words(show, room, figures),
        beams: beams(room, figures, units),
        shadows: shadows(figures, units),
        things: things(room, units),
        others: others(show, room),
    })
}

const fn name_of(draws: Draws) -> &'static str {
    match draws {
        Draws::Free => "free",
        Draws::Stage => "stage",
        Draws::Wall => "wall",
        Draws::Row => "row",
        Draws::Beam => "beam",
        Draws::Keep => "keep",
        Draws::Obstacle => "obstacle",
        Draws::Bar => "bar",
        Draws::Point => "point",
        Draws::Screen => "screen",
        Draws::Fabric => "fabric",
        Draws::Lamp => "lamp",
        Draws::Performer => "performer",
        Draws::Projector => "projector",
        Draws::Sight => "sight",
        Draws::Seat => "seat",
        Draws::Dimension => "dimension",
    }
}

fn picture(drawing: &Drawing, units: Units) -> Picture {
    let [left, top, right, bottom] = drawing.frame;
    let shapes = drawing.shapes.iter().map(|shape| Shape {
        is: name_of(shape.draws),
        points: shape.points.iter().map(|[x, y]| [x - left, y - top]).collect(),
        closed: shape.closed,
        label: shape.label.clone(),
    });
    let bar = match units {
        Units::Metric => (5.0, "5\u{a0}m".to_owned()),
        Units::Imperial => (20.0 * 0.3048, "20\u{a0}ft".to_owned()),
    };
    Picture { width: right - left, height: bottom - top, shapes: shapes.collect(), bar }
}

fn views(show: &Show, room: &Room) -> Vec<View> {
    let units = show.settings.units;
    let both = |eye: &_| Some((view_from(show, eye, |_| 0.0)?, view_from(show, eye, |_| f64::INFINITY)?));
    let eyes = named_eyes(room);
    let seen = eyes.iter().filter_map(|eye| {
        let (up, down) = both(eye)?;
        Some(View { seat: eye.seat.clone(), up: picture(&up, units), down: picture(&down, units) })
    });
    seen.collect()
}

fn loads(show: &Show) -> Vec<Load> {
    let units = show.settings.units;
    let of = |load: letfall_core::room::BarLoad| Load {
        bar: load.bar,
        hangs: load.hangs.join(", "),
        hung: mass(load.hung_kg, units),
        per_metre: format!("{} of bar where it hangs", mass_along(load.per_metre_kg, units)),
        own: load.own_kg.map_or_else(String::new, |own| mass(own, units)),
        points: load.points.join(", "),
    };
    bar_loads(show).into_iter().filter(|load| !load.hangs.is_empty()).map(of).collect()
}

fn unit_rows(show: &Show) -> Vec<Row> {
    let units = show.settings.units;
    let of = |hang: &letfall_core::show::Hang| {
        let releases: Vec<_> = show.releases.iter().filter(|release| release.hang == hang.key).collect();
        let load = hang_load(hang, None);
        let kg = |value: Option<f64>| value.map_or_else(|| "not stated".to_owned(), |value| mass(value, units));
        let mut words = vec![
            format!(
                "cloth {}, counted flat and without what weighs its hem; also when it is folded and carried",
                mass(load.cloth_kg, units)
            ),
            format!("hardware {}", mass(load.hardware_kg, units)),
            format!("hem: {}", hang.hem.name()),
        ];
        if hang.hem == Hem::Rod {
            words.push("a rod falls on whoever stands beneath".to_owned());
        }
        for release in releases {
            let Some((most, least)) = hang_load(hang, Some(release)).unit_kg else { continue };
            words.push(format!(
                "{}: cloth on one of {} units by the width it holds: {} to {}",
                release.name,
                release.units,
                mass(least, units),
                mass(most, units)
            ));
            words.push(format!(
                "the maker states for a unit: at least {}, at most {}, pull {}",
                kg(release.unit_least_kg),
                kg(release.unit_most_kg),
                if release.unit_pull.trim().is_empty() { "not stated" } else { release.unit_pull.trim() }
            ));
        }
        if !hang.folded.trim().is_empty() {
            words.push(format!("folded {}", hang.folded.trim()));
        }
        if !hang.pile.trim().is_empty() {
            words.push(format!("carried away by {}", hang.pile.trim()));
        }
        Row { name: hang.name.clone(), words }
    };
    show.hangs.iter().map(of).collect()
}

fn points(room: &Room, units: Units) -> Vec<Point> {
    let of = |point: &letfall_core::show::room::HangingPoint| Point {
        name: point.name.clone(),
        place: format!(
            "{}, {} deep, {} high",
            across(point.at.across, units),
            length(point.at.deep, units),
            length(point.at.high, units)
        ),
        above: point.above.trim().to_owned(),
        // A limit holds only as stated by somebody.
        limit: if point.known.is_stated() { point.limit.trim().to_owned() } else { String::new() },
        by: point.known.words(),
        reach: point.reach.trim().to_owned(),
    };
    room.points.iter().map(of).collect()
}

fn seat_row(show: &Show, view: &SeatView, figures: &RoomFigures) -> Row {
    let mut words = view.words();
    for reveal in &figures.reveals {
        let Some(seat) = reveal.named.iter().find(|seat| seat.seat == view.seat) else { continue };
        if let Some((_, fall)) = seat.all {
            words.push(format!("sees them {:.2}\u{a0}s after let-go ({})", fall.expected, fall.source()));
        }
        words.extend(Some(seat.also_words(show)).filter(|words| !words.is_empty()));
        if !seat.before.is_empty() {
            words.push(format!("sees {} before the fall", seat.before.join(", ")));
        }
        if !seat.never.is_empty() {
            words.push(format!("never sees {}", seat.never.join(", ")));
        }
    }
    Row { name: view.seat.clone(), words }
}

fn seats_words(show: &Show, room: &Room, figures: &RoomFigures) -> Vec<String> {
    let mut words = Vec::new();
    if !room.blocks.is_empty() {
        let seats = seat_views(show);
        let least = |of: &dyn Fn(&SeatView) -> f64| seats.iter().map(of).fold(1.0, f64::min);
        let fabric = least(&|view| view.fabrics.iter().map(|f| f.1).fold(1.0, f64::min));
        let screen = least(&|view| view.screens.iter().map(|s| s.1).fold(1.0, f64::min));
        let mut parts = Vec::new();
        if !room.fabrics.is_empty() {
            parts.push(format!("{} of each fabric", percent(fabric)));
        }
        if !room.screens.is_empty() {
            parts.push(format!("{} of each screen", percent(screen)));
        }
        if !parts.is_empty() {
            words.push(format!("{} seats in blocks see at least {}.", all_eyes(room).len(), parts.join(" and ")));
        }
    }
    for block in &room.blocks {
        let values: Vec<f64> = row_c_values(room, block).into_iter().flatten().collect();
        if let Some(least) = values.iter().copied().min_by(f64::total_cmp) {
            // Sizes of the trade, in millimetres with either set of units but on imperial paper.
            let c = match show.settings.units {
                Units::Metric => format!("{:.0}\u{a0}mm", least * 1000.0),
                Units::Imperial => format!("{:.1}\u{a0}in", least / 0.0254),
            };
            words.push(format!("{}: over the heads in front {c} at least: {}.", block.name, c_word(least)));
        }
    }
    for reveal in &figures.reveals {
        let name = show.hang(&reveal.hang).map_or("", |hang| hang.name.as_str());
        if !reveal.words().is_empty() {
            words.push(format!("{name}: {}.", reveal.words()));
        }
    }
    words
}

fn beams(room: &Room, figures: &RoomFigures, units: Units) -> Vec<Row> {
    let of = |figure: &letfall_core::room::BeamFigures| {
        let beam = &figure.beam;
        let projector = room.projectors.iter().find(|p| p.name == figure.projector);
        let lens = projector.map_or("", |p| beam.lens(p).words());
        let mut words = vec![
            format!("{} away, throw ratio {:.2}: {lens}", length(beam.distance_m, units), beam.ratio),
            format!("{}, {} of the picture cut", beam.aim_words(), percent(beam.cut)),
        ];
        if let Some(pixel) = beam.pixel_mm {
            let size = match units {
                Units::Metric => format!("{pixel:.1}\u{a0}mm"),
                Units::Imperial => format!("{:.2}\u{a0}in", pixel / 25.4),
            };
            words.push(format!("a pixel is {size}"));
        }
        words.extend(
            figure
                .in_the_way
                .iter()
                .chain(&figure.people)
                .map(|(what, share)| format!("{what} cuts {}", percent(*share))),
        );
        let most = figure.passes_on.iter().map(|(_, lux)| *lux).fold(0.0, f64::max);
        if most > 0.0 {
            words.push(format!("up to {most:.0}\u{a0}lx pass through on to people"));
        }
        Row { name: figure.projector.clone(), words }
    };
    figures.beams.iter().map(of).collect()
}

fn shadows(figures: &RoomFigures, units: Units) -> Vec<Row> {
    let of = |s: &letfall_core::room::ShadowFigures| {
        let mut words = vec![
            format!("{:.2} times as large", s.shadow.times),
            format!("edge blurred over {}", length(s.shadow.edge_m, units)),
        ];
        words.extend(s.against_white.map(|times| format!("{times:.1}\u{a0}:\u{a0}1 against a white picture")));
        if !s.on_fabric {
            words.push("head or sides beyond the fabric".to_owned());
        }
        Row { name: format!("{}, {}", s.performer, s.lamp), words }
    };
    let mut rows: Vec<Row> = figures.shadows.iter().map(of).collect();
    rows.extend(figures.doubles.iter().map(|double| Row {
        name: format!("{}, {} and {}", double.performer, double.lamps.0, double.lamps.1),
        words: vec![format!(
            "two shadows, {} apart across and {} up",
            length(double.apart_m.0, units),
            length(double.apart_m.1, units)
        )],
    }));
    rows
}

/// Whatever stands in no other list.
fn others(show: &Show, room: &Room) -> Vec<Row> {
    let units = show.settings.units;
    let m = |metres| length(metres, units);
    let at = |x: f64, deep: f64| format!("{}, {} deep", across(x, units), m(deep));
    let row = |name: &str, words: Vec<String>| Row { name: name.to_owned(), words };
    let screens = room.screens.iter().map(|screen| {
        let name = show.output(&screen.output).map_or_else(|| screen.output.to_string(), |output| output.name.clone());
        let size = format!("{} × {}, lower edge {} high", m(screen.width_m), m(screen.height_m), m(screen.at.high));
        row(&name, vec![at(screen.at.across, screen.at.deep), size])
    });
    let bars = room.bars.iter().map(|bar| {
        let size = format!("{}, {} long, trim {}", bar.kind.name(), m(bar.length_m), m(bar.trim_m));
        row(&bar.name, vec![at(bar.across_m, bar.deep_m), size, bar.known.words()])
    });
    let blocks = room.blocks.iter().map(|block| {
        row(
            &block.name,
            vec![format!("{} rows of {}, the first {} before the stage", block.rows, block.seats, m(block.first_m))],
        )
    });
    let people = room.performers.iter().map(|one| {
        let head = format!("head at {} above where they stand", m(one.head_m));
        row(&one.name, vec![at(one.across_m, one.deep_m), head])
    });
    let lamps = room.lamps.iter().map(|lamp| {
        row(
            &lamp.name,
            vec![
                at(lamp.at.across, lamp.at.deep),
                format!("{} high, its light {} wide", m(lamp.at.high), m(lamp.source_m)),
            ],
        )
    });
    let free = room.keep_free.iter().map(|area| {
        let size = format!("{}: {} × {} stay free", area.kind.name(), m(area.width_m), m(area.depth_m));
        row(&area.name, vec![at(area.across_m, area.deep_m), size])
    });
    let mut rows: Vec<Row> = bars.chain(screens).chain(blocks).chain(people).chain(lamps).chain(free).collect();
    for row in &mut rows {
        row.words.retain(|words| !words.is_empty());
    }
    rows
}

fn things(room: &Room, units: Units) -> Vec<Row> {
    let of = |thing: &letfall_core::show::room::Obstacle| {
        let mut words = vec![format!(
            "{}, {} high to {}",
            thing.kind.name(),
            length(thing.at.high, units),
            length(thing.at.high + thing.height_m, units)
        )];
        if let Some((keep, assumed)) = thing.keeps() {
            let how = thing.keep_words(assumed);
            words.push(format!("keep {} free ({how})", length(keep, units)));
        }
        let by = thing.known.words();
        words.push(if by.is_empty() { "nobody stands for it yet".to_owned() } else { by });
        Row { name: thing.name.clone(), words }
    };
    room.obstacles.iter().map(of).collect()
}
