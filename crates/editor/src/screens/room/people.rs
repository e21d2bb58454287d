//! Tables of who looks, who is looked at, and the lamps behind them.

use super::things::spot;
use crate::screens::rig::rows::{empty, named, take_out};
use crate::widgets::fields::{Fields, free_name, heading, heads};
use egui::{Grid, Ui};
use letfall_core::limits;
use letfall_core::room::length;
use letfall_core::room::shadow::{magnification, stand_for};
use letfall_core::room::sight::{c_word, row_c_values};
use letfall_core::show::Show;
use letfall_core::show::room::{BackLamp, Performer, Seat, SeatBlock, SeatKind, Spot};

/// Seats that are looked from, and blocks of rows.
pub fn seats(ui: &mut Ui, show: &mut Show, fields: &mut Fields) {
    let units = show.settings.units;
    let Some(room) = show.room.as_mut() else { return };
    heading(ui, "Seats that are looked from");
    empty(ui, room.seats.is_empty(), "At least three: one in front, one in the centre, and the worst that is sold.");
    let kinds: Vec<_> = SeatKind::ALL.into_iter().map(|kind| (kind, kind.name().to_owned())).collect();
    let mut gone = None;
    Grid::new("seats").striped(true).spacing([10.0, 6.0]).show(ui, |ui| {
        if !room.seats.is_empty() {
            heads(ui, &["Name", "Which", "Eye across", "Eye deep", "Eye high", ""]);
        }
        for (at, seat) in room.seats.iter_mut().enumerate() {
            let whose = format!("seat {}", at + 1);
            fields.text(ui, &mut seat.name, 220.0, &format!("Name, {whose}"));
            fields.choice(ui, &mut seat.kind, &kinds, 90.0, &format!("Which, {whose}"));
            spot(ui, fields, &mut seat.eye, units, &whose);
            if fields.remove(ui, &whose) {
                gone = Some(at);
            }
            ui.end_row();
        }
    });
    take_out(&mut room.seats, gone);
    if fields.add(ui, "Add a seat") {
        let name = free_name("seat", room.seats.iter().map(|seat| seat.name.as_str()));
        // The first three are those that a show needs.
        let (kind, deep) = match room.seats.len() {
            0 => (SeatKind::Front, -2.5),
            1 => (SeatKind::Centre, -room.house_m / 2.0),
            _ => (SeatKind::Worst, -room.house_m + 1.0),
        };
        room.seats.push(Seat { name, kind, eye: Spot { across: 0.0, deep, high: 1.2 } });
    }
    ui.add_space(10.0);
    heading(ui, "Blocks of rows");
    empty(ui, room.blocks.is_empty(), "If wished: then shares of seats are worked out over all of them.");
    let worst: Vec<String> = room
        .blocks
        .iter()
        .map(|block| {
            let values = row_c_values(room, block);
            let least = values.into_iter().flatten().min_by(f64::total_cmp);
            least.map_or_else(String::new, |c| format!("{} over the heads in front: {}", length(c, units), c_word(c)))
        })
        .collect();
    let mut gone = None;
    Grid::new("blocks").striped(true).spacing([10.0, 6.0]).show(ui, |ui| {
        if !room.blocks.is_empty() {
            heads(
                ui,
                &[
                    "Name",
                    "Rows",
                    "Seats",
                    "Across",
                    "Seat to seat",
                    "First row",
                    "Row to row",
                    "Rise",
                    "Floor",
                    "Eye",
                    "In the gaps",
                    "C-value",
                    "",
                ],
            );
        }
        for (at, block) in room.blocks.iter_mut().enumerate() {
            let whose = format!("block {}", at + 1);
            let name = |part: &str| format!("{part}, {whose}");
            fields.text(ui, &mut block.name, 120.0, &name("Name"));
            fields.whole(ui, &mut block.rows, &limits::ROWS, &name("Rows"));
            fields.whole(ui, &mut block.seats, &limits::SEATS_IN_ROW, &name("Seats in a row"));
            fields.length(ui, &mut block.across_m, units, &limits::BLOCK_ACROSS, &name("Across"));
            fields.length(ui, &mut block.seat_m, units, &limits::SEAT_TO_SEAT, &name("Seat to seat"));
            fields.length(ui, &mut block.first_m, units, &limits::FIRST_ROW, &name("First row before the stage"));
            fields.length(ui, &mut block.row_m, units, &limits::ROW_TO_ROW, &name("Row to row"));
            fields.length(ui, &mut block.rise_m, units, &limits::ROW_RISE, &name("Rise"));
            fields.length(ui, &mut block.floor_m, units, &limits::BLOCK_FLOOR, &name("Floor of the first row"));
            fields.length(ui, &mut block.eye_m, units, &limits::EYE, &name("Eye above its floor"));
            fields.tick(ui, &mut block.staggered, "", &name("Rows sit in the gaps of the row in front"));
            ui.label(worst.get(at).map_or("", String::as_str));
            if fields.remove(ui, &whose) {
                gone = Some(at);
            }
            ui.end_row();
        }
    });
    take_out(&mut room.blocks, gone);
    if fields.add(ui, "Add a block of rows") {
        let name = free_name("block", room.blocks.iter().map(|block| block.name.as_str()));
        room.blocks.push(SeatBlock {
            name,
            rows: 8,
            seats: 12,
            across_m: 0.0,
            seat_m: 0.5,
            first_m: 3.0,
            row_m: 0.9,
            rise_m: 0.0,
            floor_m: 0.0,
            eye_m: 1.2,
            staggered: false,
        });
    }
}

/// Performers and the lamps behind them.
pub fn people(ui: &mut Ui, show: &mut Show, fields: &mut Fields) {
    let units = show.settings.units;
    let hangs = named!(show.hangs);
    let mut presets = vec![(None, "each that lights it from behind".to_owned())];
    presets.extend(show.presets.iter().filter(|p| p.behind.is_some()).map(|p| (Some(p.key.clone()), p.name.clone())));
    let Some(room) = show.room.as_mut() else { return };
    heading(ui, "People behind the fabric");
    empty(
        ui,
        room.performers.is_empty(),
        "Who stands where at the big moment. The head is counted from where they stand.",
    );
    let mut gone = None;
    Grid::new("performers").striped(true).spacing([10.0, 6.0]).show(ui, |ui| {
        if !room.performers.is_empty() {
            heads(ui, &["Who", "Across", "Deep", "Top of the head", "Stands on", "Width", ""]);
        }
        for (at, one) in room.performers.iter_mut().enumerate() {
            let whose = format!("performer {}", at + 1);
            let name = |part: &str| format!("{part}, {whose}");
            fields.text(ui, &mut one.name, 170.0, &name("Who"));
            fields.length(ui, &mut one.across_m, units, &limits::PERFORMER_ACROSS, &name("Across"));
            fields.length(ui, &mut one.deep_m, units, &limits::PERFORMER_DEEP, &name("Deep"));
            fields.length(ui, &mut one.head_m, units, &limits::HEAD, &name("Top of the head"));
            fields.length(ui, &mut one.raised_m, units, &limits::RAISED, &name("Stands on"));
            fields.length(ui, &mut one.width_m, units, &limits::PERSON_WIDTH, &name("Width"));
            if fields.remove(ui, &whose) {
                gone = Some(at);
            }
            ui.end_row();
        }
    });
    take_out(&mut room.performers, gone);
    if fields.add(ui, "Add a performer") {
        let name = free_name("performer", room.performers.iter().map(|one| one.name.as_str()));
        let deep = room.fabrics.first().map_or(3.0, |fabric| fabric.deep_m + 1.5);
        room.performers.push(Performer { name, across_m: 0.0, deep_m: deep, head_m: 1.7, raised_m: 0.0, width_m: 0.5 });
    }
    ui.add_space(10.0);
    heading(ui, "Lamps that throw silhouettes");
    empty(ui, room.lamps.is_empty(), "A lamp behind the people. The smaller what shines, the sharper the shadow.");
    let depths: Vec<_> = room.fabrics.iter().map(|fabric| (fabric.hang.clone(), fabric.deep_m)).collect();
    let mut gone = None;
    Grid::new("lamps").striped(true).spacing([10.0, 6.0]).show(ui, |ui| {
        if !room.lamps.is_empty() {
            heads(
                ui,
                &["Name", "Shines on", "Across", "Deep", "High", "Width of the light", "On with", "Where to stand", ""],
            );
        }
        for (at, lamp) in room.lamps.iter_mut().enumerate() {
            let whose = format!("lamp {}", at + 1);
            let name = |part: &str| format!("{part}, {whose}");
            fields.text(ui, &mut lamp.name, 130.0, &name("Name"));
            fields.choice(ui, &mut lamp.hang, &hangs, 130.0, &name("Shines on"));
            spot(ui, fields, &mut lamp.at, units, &whose);
            fields.length(ui, &mut lamp.source_m, units, &limits::SOURCE, &name("Width of the light"));
            fields.choice(ui, &mut lamp.preset, &presets, 170.0, &name("On with"));
            let behind = depths.iter().find(|(key, _)| *key == lamp.hang).map(|(_, deep)| lamp.at.deep - deep);
            ui.label(behind.map_or_else(String::new, |behind| where_to_stand(behind, units)));
            if fields.remove(ui, &whose) {
                gone = Some(at);
            }
            ui.end_row();
        }
    });
    take_out(&mut room.lamps, gone);
    if let Some((hang, _)) = hangs.first()
        && fields.add(ui, "Add a lamp")
    {
        let name = free_name("lamp", room.lamps.iter().map(|lamp| lamp.name.as_str()));
        let at = Spot { across: 0.0, deep: room.stage.depth_m - 0.5, high: room.stage.height_m + 0.6 };
        room.lamps.push(BackLamp { name, hang: hang.clone(), at, source_m: 0.1, preset: None });
    }
}

/// How far behind the fabric to stand for shadows of some sizes.
fn where_to_stand(lamp_m: f64, units: letfall_core::show::Units) -> String {
    if magnification(lamp_m, 0.0).is_none() {
        return "it is not behind the fabric".to_owned();
    }
    let of =
        |times: f64| stand_for(lamp_m, times).map(|metres| format!("{times:.1} times at {}", length(metres, units)));
    [1.5, 2.0, 3.0].into_iter().filter_map(of).collect::<Vec<_>>().join(", ")
}
