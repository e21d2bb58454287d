//! Tables of the room: its sizes, what hangs, what is in the way, projectors and screens, what stays free.

use crate::screens::rig::rows::{empty, named, take_out};
use crate::widgets::fields::{Fields, free_name, heading, heads};
use egui::{Grid, Ui};
use letfall_core::limits;
use letfall_core::show::room::{
    Bar, BarKind, FabricPlace, FreeArea, FreeKind, HangingPoint, Known, Obstacle, ObstacleKind, Projector, ScreenPlace,
    Spot,
};
use letfall_core::show::{Show, Surface, Units};

/// Who stands for a fact, and since when.
pub fn known(ui: &mut Ui, fields: &mut Fields, known: &mut Known, whose: &str) {
    fields.text(ui, &mut known.by, 190.0, &format!("Who says so, {whose}"));
    fields.text(ui, &mut known.on, 96.0, &format!("On which day, {whose}"));
}

/// The three numbers of a place.
pub fn spot(ui: &mut Ui, fields: &mut Fields, at: &mut Spot, units: Units, whose: &str) {
    fields.length(ui, &mut at.across, units, &limits::SPOT_ACROSS, &format!("Across, {whose}"));
    fields.length(ui, &mut at.deep, units, &limits::SPOT_DEEP, &format!("Deep, {whose}"));
    fields.length(ui, &mut at.high, units, &limits::SPOT_HIGH, &format!("High, {whose}"));
}

/// The sizes of room and stage.
pub fn sizes(ui: &mut Ui, show: &mut Show, fields: &mut Fields) {
    let units = show.settings.units;
    let Some(room) = show.room.as_mut() else { return };
    heading(ui, "Room and stage");
    ui.label("Across is counted from the middle of the stage's front edge, to the right as the audience sees it; deep from that edge upstage, so that seats are at negative depths; high from the floor of the hall.");
    Grid::new("sizes").spacing([12.0, 6.0]).show(ui, |ui| {
        heads(ui, &["", "Width", "Depth", "Height", "Who measured it", "Day"]);
        ui.label("House");
        fields.length(ui, &mut room.width_m, units, &limits::ROOM_WIDTH, "Width of the room");
        fields.length(ui, &mut room.house_m, units, &limits::ROOM_HOUSE, "From the stage to the back wall");
        fields.length(ui, &mut room.ceiling_m, units, &limits::CEILING, "Height of the ceiling");
        known(ui, fields, &mut room.known, "room");
        ui.end_row();
        ui.label("Stage");
        fields.length(ui, &mut room.stage.width_m, units, &limits::STAGE_WIDTH, "Width of the stage");
        fields.length(ui, &mut room.stage.depth_m, units, &limits::STAGE_DEPTH, "Depth of the stage");
        fields.length(ui, &mut room.stage.height_m, units, &limits::STAGE_HEIGHT, "Height of the stage");
        known(ui, fields, &mut room.stage.known, "stage");
        ui.end_row();
    });
}

/// Bars, and where fabrics hang.
pub fn bars(ui: &mut Ui, show: &mut Show, fields: &mut Fields) {
    let units = show.settings.units;
    let hangs = named!(show.hangs);
    let Some(room) = show.room.as_mut() else { return };
    heading(ui, "Bars, battens, trusses");
    empty(ui, room.bars.is_empty(), "What fabrics hang from. The trim is the height above the floor beneath it.");
    let kinds: Vec<_> = BarKind::ALL.into_iter().map(|kind| (kind, kind.name().to_owned())).collect();
    let (mut gone, mut renamed) = (None, None);
    Grid::new("bars").striped(true).spacing([10.0, 6.0]).show(ui, |ui| {
        if !room.bars.is_empty() {
            heads(ui, &["Name", "Kind", "Across", "Deep", "Length", "Trim", "Own mass", "Who says so", "Day", ""]);
        }
        for (at, bar) in room.bars.iter_mut().enumerate() {
            let whose = format!("bar {}", at + 1);
            let name = |part: &str| format!("{part}, {whose}");
            let was = bar.name.clone();
            fields.text(ui, &mut bar.name, 110.0, &name("Name"));
            if bar.name != was {
                renamed = Some((was, bar.name.clone()));
            }
            fields.choice(ui, &mut bar.kind, &kinds, 80.0, &name("Kind"));
            fields.length(ui, &mut bar.across_m, units, &limits::BAR_ACROSS, &name("Across"));
            fields.length(ui, &mut bar.deep_m, units, &limits::BAR_DEEP, &name("Deep"));
            fields.length(ui, &mut bar.length_m, units, &limits::BAR_LENGTH, &name("Length"));
            fields.length(ui, &mut bar.trim_m, units, &limits::TRIM, &name("Trim"));
            ui.horizontal(|ui| {
                fields.maybe_mass(ui, &mut bar.mass_kg, (0.0, &limits::BAR_MASS), units, &name("Own mass"));
            });
            known(ui, fields, &mut bar.known, &whose);
            if fields.remove(ui, &whose) {
                gone = Some(at);
            }
            ui.end_row();
        }
    });
    // What hangs from it goes on hanging from it.
    if let Some(at) = gone {
        renamed = Some((room.bars[at].name.clone(), String::new()));
    }
    take_out(&mut room.bars, gone);
    if let Some((was, is)) = renamed {
        let hung = room.fabrics.iter_mut().map(|place| &mut place.bar);
        let named = hung.chain(room.points.iter_mut().map(|point| &mut point.bar));
        named.filter(|bar| **bar == was).for_each(|bar| bar.clone_from(&is));
    }
    if fields.add(ui, "Add a bar") {
        let name = free_name("bar", room.bars.iter().map(|bar| bar.name.as_str()));
        room.bars.push(Bar {
            name,
            kind: BarKind::default(),
            deep_m: 1.5,
            across_m: 0.0,
            length_m: 10.0,
            trim_m: 6.0,
            mass_kg: None,
            known: Known::default(),
        });
    }
    ui.add_space(10.0);
    heading(ui, "Where fabrics hang");
    let mut choices: Vec<(String, String)> = vec![(String::new(), "nothing yet".to_owned())];
    choices.extend(room.bars.iter().map(|bar| (bar.name.clone(), bar.name.clone())));
    let mut gone = None;
    Grid::new("fabrics").striped(true).spacing([10.0, 6.0]).show(ui, |ui| {
        if !room.fabrics.is_empty() {
            heads(ui, &["Fabric", "Across", "Deep", "Hangs from", "Room over its top edge, as asked for", ""]);
        }
        for (at, place) in room.fabrics.iter_mut().enumerate() {
            let whose = format!("fabric {}", at + 1);
            let name = |part: &str| format!("{part}, {whose}");
            fields.choice(ui, &mut place.hang, &hangs, 160.0, &name("Fabric"));
            fields.length(ui, &mut place.across_m, units, &limits::FABRIC_ACROSS, &name("Across"));
            fields.length(ui, &mut place.deep_m, units, &limits::FABRIC_DEEP, &name("Deep"));
            fields.choice(ui, &mut place.bar, &choices, 120.0, &name("Hangs from"));
            ui.horizontal(|ui| {
                fields.maybe_length(
                    ui,
                    &mut place.clearance_m,
                    (0.2, &limits::CLEARANCE),
                    units,
                    &name("Room over the top edge"),
                );
            });
            if fields.remove(ui, &whose) {
                gone = Some(at);
            }
            ui.end_row();
        }
    });
    take_out(&mut room.fabrics, gone);
    let free = hangs.iter().find(|(key, _)| !room.fabrics.iter().any(|place| place.hang == *key));
    if let Some((key, words)) = free
        && fields.add(ui, &format!("Hang {words} in the room"))
    {
        let bar = room.bars.first();
        room.fabrics.push(FabricPlace {
            hang: key.clone(),
            across_m: bar.map_or(0.0, |bar| bar.across_m),
            deep_m: bar.map_or(1.5, |bar| bar.deep_m),
            bar: bar.map_or_else(String::new, |bar| bar.name.clone()),
            clearance_m: None,
        });
    }
    empty(ui, hangs.is_empty(), "There is no fabric yet: describe it on the Rig screen, under Hang.");
}

/// Wished hanging points.
pub fn points(ui: &mut Ui, show: &mut Show, fields: &mut Fields) {
    let units = show.settings.units;
    let Some(room) = show.room.as_mut() else { return };
    heading(ui, "Wished points");
    ui.label("Where you would like to hang from. A limit is one only as somebody states it, with name and day: ask the competent person. Letfall works out none.");
    let mut bars: Vec<(String, String)> = vec![(String::new(), "nothing yet".to_owned())];
    bars.extend(room.bars.iter().map(|bar| (bar.name.clone(), bar.name.clone())));
    let mut gone = None;
    Grid::new("points").striped(true).spacing([10.0, 6.0]).show(ui, |ui| {
        if !room.points.is_empty() {
            heads(
                ui,
                &[
                    "Name",
                    "Across",
                    "Deep",
                    "High",
                    "For",
                    "What is above it",
                    "Limit, as stated",
                    "Who states it",
                    "Day",
                    "Reached by",
                    "",
                ],
            );
        }
        for (at, point) in room.points.iter_mut().enumerate() {
            let whose = format!("point {}", at + 1);
            let name = |part: &str| format!("{part}, {whose}");
            fields.text(ui, &mut point.name, 60.0, &name("Name"));
            spot(ui, fields, &mut point.at, units, &whose);
            fields.choice(ui, &mut point.bar, &bars, 90.0, &name("For which bar"));
            fields.text(ui, &mut point.above, 190.0, &name("What is above it"));
            fields.text(ui, &mut point.limit, 150.0, &name("Limit as stated"));
            known(ui, fields, &mut point.known, &whose);
            fields.text(ui, &mut point.reach, 170.0, &name("Reached by"));
            if fields.remove(ui, &whose) {
                gone = Some(at);
            }
            ui.end_row();
        }
    });
    take_out(&mut room.points, gone);
    if fields.add(ui, "Add a wished point") {
        let name = free_name("P", room.points.iter().map(|point| point.name.as_str())).replace(' ', "");
        let bar = room.bars.first();
        let at = Spot { across: 0.0, deep: bar.map_or(1.5, |bar| bar.deep_m), high: room.ceiling_m };
        let name = if room.points.iter().any(|point| point.name == name) {
            free_name("P", room.points.iter().map(|point| point.name.as_str()))
        } else {
            name
        };
        room.points.push(HangingPoint {
            name,
            at,
            bar: bar.map_or_else(String::new, |bar| bar.name.clone()),
            above: String::new(),
            limit: String::new(),
            known: Known::default(),
            reach: String::new(),
        });
    }
}

/// What is in the way.
pub fn in_the_way(ui: &mut Ui, show: &mut Show, fields: &mut Fields) {
    let units = show.settings.units;
    let Some(room) = show.room.as_mut() else { return };
    heading(ui, "In the way");
    empty(
        ui,
        room.obstacles.is_empty(),
        "Loudspeakers, beams, sprinklers, hot lamps, railings: upright boxes, each by the middle of its underside.",
    );
    let kinds: Vec<_> = ObstacleKind::ALL.into_iter().map(|kind| (kind, kind.name().to_owned())).collect();
    let mut gone = None;
    Grid::new("obstacles").striped(true).spacing([10.0, 6.0]).show(ui, |ui| {
        if !room.obstacles.is_empty() {
            heads(
                ui,
                &[
                    "Name",
                    "What",
                    "Across",
                    "Deep",
                    "Underside",
                    "Width",
                    "Depth",
                    "Height",
                    "Keep away",
                    "Who says so",
                    "Day",
                    "",
                ],
            );
        }
        for (at, thing) in room.obstacles.iter_mut().enumerate() {
            let whose = format!("thing {}", at + 1);
            let name = |part: &str| format!("{part}, {whose}");
            fields.text(ui, &mut thing.name, 150.0, &name("Name"));
            fields.choice(ui, &mut thing.kind, &kinds, 130.0, &name("What"));
            spot(ui, fields, &mut thing.at, units, &whose);
            fields.length(ui, &mut thing.width_m, units, &limits::OBSTACLE_WIDTH, &name("Width"));
            fields.length(ui, &mut thing.depth_m, units, &limits::OBSTACLE_DEPTH, &name("Depth"));
            fields.length(ui, &mut thing.height_m, units, &limits::OBSTACLE_HEIGHT, &name("Height"));
            ui.horizontal(|ui| {
                fields.maybe_length(ui, &mut thing.keep_m, (1.0, &limits::KEEP), units, &name("Distance to keep"));
            });
            known(ui, fields, &mut thing.known, &whose);
            if fields.remove(ui, &whose) {
                gone = Some(at);
            }
            ui.end_row();
        }
    });
    take_out(&mut room.obstacles, gone);
    if fields.add(ui, "Add something in the way") {
        let name = free_name("thing", room.obstacles.iter().map(|thing| thing.name.as_str()));
        room.obstacles.push(Obstacle {
            name,
            kind: ObstacleKind::Speakers,
            at: Spot { across: 4.0, deep: -0.5, high: 3.5 },
            width_m: 0.8,
            depth_m: 0.7,
            height_m: 1.5,
            keep_m: None,
            known: Known::default(),
        });
    }
    ui.label(format!(
        "Under a sprinkler {} is assumed (common practice, no source) until somebody states another.",
        letfall_core::room::length(Obstacle::UNDER_SPRINKLER_M, units)
    ));
}

/// Screens and projectors.
pub fn pictures(ui: &mut Ui, show: &mut Show, fields: &mut Fields) {
    let units = show.settings.units;
    let outputs = named!(show.outputs);
    let screens: Vec<_> = show
        .outputs
        .iter()
        .filter(|o| matches!(o.surface, Surface::Screen {}))
        .map(|o| (o.key.clone(), o.name.clone()))
        .collect();
    let Some(room) = show.room.as_mut() else { return };
    heading(ui, "Projectors");
    empty(
        ui,
        room.projectors.is_empty(),
        "Where each lens is. The throw ratio is distance divided by the picture's width; the maker's sheet has it.",
    );
    let mut gone = None;
    Grid::new("projectors").striped(true).spacing([10.0, 6.0]).show(ui, |ui| {
        if !room.projectors.is_empty() {
            heads(
                ui,
                &[
                    "Name",
                    "Shines on",
                    "Across",
                    "Deep",
                    "High",
                    "Throw, least",
                    "most",
                    "Lens shift",
                    "Pixels across",
                    "Who says so",
                    "Day",
                    "",
                ],
            );
        }
        for (at, projector) in room.projectors.iter_mut().enumerate() {
            let whose = format!("projector {}", at + 1);
            let name = |part: &str| format!("{part}, {whose}");
            fields.text(ui, &mut projector.name, 140.0, &name("Name"));
            fields.choice(ui, &mut projector.output, &outputs, 120.0, &name("Shines on"));
            spot(ui, fields, &mut projector.at, units, &whose);
            fields.number(ui, &mut projector.throw_least, &limits::THROW_LEAST, &name("Smallest throw ratio"));
            fields.number(ui, &mut projector.throw_most, &limits::THROW_MOST, &name("Greatest throw ratio"));
            fields.number(ui, &mut projector.shift_percent, &limits::LENS_SHIFT, &name("Lens shift"));
            fields.whole(ui, &mut projector.pixels, &limits::PIXELS, &name("Pixels across"));
            known(ui, fields, &mut projector.known, &whose);
            if fields.remove(ui, &whose) {
                gone = Some(at);
            }
            ui.end_row();
        }
    });
    take_out(&mut room.projectors, gone);
    if let Some((output, _)) = outputs.first()
        && fields.add(ui, "Add a projector")
    {
        let name = free_name("projector", room.projectors.iter().map(|p| p.name.as_str()));
        room.projectors.push(Projector {
            name,
            output: output.clone(),
            at: Spot { across: 0.0, deep: -10.0, high: 3.0 },
            throw_least: 1.5,
            throw_most: 1.5,
            shift_percent: 0.0,
            pixels: 0,
            known: Known::default(),
        });
    }
    ui.add_space(10.0);
    heading(ui, "Screens");
    empty(ui, screens.is_empty(), "No output of the show falls on a screen that stays.");
    let mut gone = None;
    Grid::new("screens").striped(true).spacing([10.0, 6.0]).show(ui, |ui| {
        if !room.screens.is_empty() {
            heads(ui, &["Output", "Across", "Deep", "Lower edge", "Width", "Height", ""]);
        }
        for (at, screen) in room.screens.iter_mut().enumerate() {
            let whose = format!("screen {}", at + 1);
            let name = |part: &str| format!("{part}, {whose}");
            fields.choice(ui, &mut screen.output, &screens, 140.0, &name("Output"));
            spot(ui, fields, &mut screen.at, units, &whose);
            fields.length(ui, &mut screen.width_m, units, &limits::SCREEN_WIDTH, &name("Width"));
            fields.length(ui, &mut screen.height_m, units, &limits::SCREEN_HEIGHT, &name("Height"));
            if fields.remove(ui, &whose) {
                gone = Some(at);
            }
            ui.end_row();
        }
    });
    take_out(&mut room.screens, gone);
    let free = screens.iter().find(|(key, _)| !room.screens.iter().any(|screen| screen.output == *key));
    if let Some((key, words)) = free
        && fields.add(ui, &format!("Put {words} into the room"))
    {
        let p = show.outputs.iter().find(|o| o.key == *key).and_then(|o| o.projection.as_ref());
        room.screens.push(ScreenPlace {
            output: key.clone(),
            at: Spot { across: 0.0, deep: room.stage.depth_m, high: 2.5 },
            width_m: p.map_or(4.0, |p| p.width_m),
            height_m: p.map_or(2.25, |p| p.height_m),
        });
    }
}

/// Floor that stays free.
pub fn free(ui: &mut Ui, show: &mut Show, fields: &mut Fields) {
    let units = show.settings.units;
    let Some(room) = show.room.as_mut() else { return };
    heading(ui, "Kept free");
    empty(ui, room.keep_free.is_empty(), "Ways out, aisles, the drop zone: nothing stands, lies or falls there.");
    let kinds: Vec<_> = FreeKind::ALL.into_iter().map(|kind| (kind, kind.name().to_owned())).collect();
    let mut gone = None;
    Grid::new("free").striped(true).spacing([10.0, 6.0]).show(ui, |ui| {
        if !room.keep_free.is_empty() {
            heads(ui, &["Name", "What", "Across", "Deep", "Width", "Depth", ""]);
        }
        for (at, area) in room.keep_free.iter_mut().enumerate() {
            let whose = format!("free floor {}", at + 1);
            let name = |part: &str| format!("{part}, {whose}");
            fields.text(ui, &mut area.name, 150.0, &name("Name"));
            fields.choice(ui, &mut area.kind, &kinds, 110.0, &name("What"));
            fields.length(ui, &mut area.across_m, units, &limits::FREE_ACROSS, &name("Across"));
            fields.length(ui, &mut area.deep_m, units, &limits::FREE_DEEP, &name("Deep"));
            fields.length(ui, &mut area.width_m, units, &limits::FREE_WIDTH, &name("Width"));
            fields.length(ui, &mut area.depth_m, units, &limits::FREE_DEPTH, &name("Depth"));
            if fields.remove(ui, &whose) {
                gone = Some(at);
            }
            ui.end_row();
        }
    });
    take_out(&mut room.keep_free, gone);
    if fields.add(ui, "Add floor that stays free") {
        room.keep_free.push(FreeArea {
            name: "way out".to_owned(),
            kind: FreeKind::Exit,
            across_m: 0.0,
            deep_m: -room.house_m + 1.0,
            width_m: 1.5,
            depth_m: 1.5,
        });
    }
}
