//! What must be true of a room in memory: numbers in range, names unique. What is unwise belongs in [`crate::check`].

use super::super::validity::{ValidationResult, ensure_unique, maybe, number, refuse};
use super::{Room, Spot};
use crate::limits;

fn spot(place: &str, at: Spot) -> ValidationResult {
    number(&place, at.across, &limits::SPOT_ACROSS)?;
    number(&place, at.deep, &limits::SPOT_DEEP)?;
    number(&place, at.high, &limits::SPOT_HIGH)
}

/// Checks a room.
pub(in crate::show) fn room(room: &Room) -> ValidationResult {
    let place = "room";
    number(&place, room.width_m, &limits::ROOM_WIDTH)?;
    number(&place, room.house_m, &limits::ROOM_HOUSE)?;
    number(&place, room.ceiling_m, &limits::CEILING)?;
    number(&place, room.stage.width_m, &limits::STAGE_WIDTH)?;
    number(&place, room.stage.depth_m, &limits::STAGE_DEPTH)?;
    number(&place, room.stage.height_m, &limits::STAGE_HEIGHT)?;
    names(room)?;
    hung(room)?;
    people(room)
}

fn names(room: &Room) -> ValidationResult {
    ensure_unique("bars of the room", room.bars.iter().map(|bar| bar.name.as_str()))?;
    ensure_unique("hanging points", room.points.iter().map(|point| point.name.as_str()))?;
    ensure_unique("things in the way", room.obstacles.iter().map(|thing| thing.name.as_str()))?;
    ensure_unique("fabrics in the room", room.fabrics.iter().map(|fabric| fabric.hang.as_str()))?;
    ensure_unique("screens in the room", room.screens.iter().map(|screen| screen.output.as_str()))?;
    ensure_unique("projectors", room.projectors.iter().map(|projector| projector.name.as_str()))?;
    ensure_unique("blocks of seats", room.blocks.iter().map(|block| block.name.as_str()))?;
    ensure_unique("seats", room.seats.iter().map(|seat| seat.name.as_str()))?;
    ensure_unique("performers", room.performers.iter().map(|performer| performer.name.as_str()))?;
    ensure_unique("lamps behind the fabric", room.lamps.iter().map(|lamp| lamp.name.as_str()))?;
    let mut asked: Vec<_> = room.survey.iter().map(|answer| answer.question).collect();
    asked.sort_unstable();
    if let Some(twice) = asked.windows(2).find(|pair| pair[0] == pair[1]) {
        return refuse("survey", format!("“{}” is answered twice; keep one answer", twice[0].text()));
    }
    Ok(())
}

fn hung(room: &Room) -> ValidationResult {
    for bar in &room.bars {
        let place = format!("bar \"{}\"", bar.name);
        number(&place, bar.deep_m, &limits::BAR_DEEP)?;
        number(&place, bar.across_m, &limits::BAR_ACROSS)?;
        number(&place, bar.length_m, &limits::BAR_LENGTH)?;
        number(&place, bar.trim_m, &limits::TRIM)?;
        maybe(&place, bar.mass_kg, &limits::BAR_MASS)?;
    }
    for point in &room.points {
        spot(&format!("hanging point \"{}\"", point.name), point.at)?;
    }
    for thing in &room.obstacles {
        let place = format!("\"{}\" in the room", thing.name);
        spot(&place, thing.at)?;
        number(&place, thing.width_m, &limits::OBSTACLE_WIDTH)?;
        number(&place, thing.depth_m, &limits::OBSTACLE_DEPTH)?;
        number(&place, thing.height_m, &limits::OBSTACLE_HEIGHT)?;
        maybe(&place, thing.keep_m, &limits::KEEP)?;
    }
    for fabric in &room.fabrics {
        let place = format!("fabric \"{}\" in the room", fabric.hang);
        number(&place, fabric.across_m, &limits::FABRIC_ACROSS)?;
        number(&place, fabric.deep_m, &limits::FABRIC_DEEP)?;
        maybe(&place, fabric.clearance_m, &limits::CLEARANCE)?;
    }
    for screen in &room.screens {
        let place = format!("screen \"{}\" in the room", screen.output);
        spot(&place, screen.at)?;
        number(&place, screen.width_m, &limits::SCREEN_WIDTH)?;
        number(&place, screen.height_m, &limits::SCREEN_HEIGHT)?;
    }
    for projector in &room.projectors {
        let place = format!("projector \"{}\"", projector.name);
        spot(&place, projector.at)?;
        number(&place, projector.throw_least, &limits::THROW_LEAST)?;
        number(&place, projector.throw_most, &limits::THROW_MOST)?;
        if projector.throw_most < projector.throw_least {
            return refuse(place, "its greatest throw ratio is less than its smallest; swap them");
        }
        number(&place, projector.shift_percent, &limits::LENS_SHIFT)?;
        number(&place, f64::from(projector.pixels), &limits::PIXELS)?;
    }
    Ok(())
}

fn people(room: &Room) -> ValidationResult {
    for seat in &room.seats {
        spot(&format!("seat \"{}\"", seat.name), seat.eye)?;
    }
    let mut seats = 0;
    for block in &room.blocks {
        let place = format!("seats \"{}\"", block.name);
        number(&place, f64::from(block.rows), &limits::ROWS)?;
        number(&place, f64::from(block.seats), &limits::SEATS_IN_ROW)?;
        number(&place, block.across_m, &limits::BLOCK_ACROSS)?;
        number(&place, block.seat_m, &limits::SEAT_TO_SEAT)?;
        number(&place, block.first_m, &limits::FIRST_ROW)?;
        number(&place, block.row_m, &limits::ROW_TO_ROW)?;
        number(&place, block.rise_m, &limits::ROW_RISE)?;
        number(&place, block.floor_m, &limits::BLOCK_FLOOR)?;
        number(&place, block.eye_m, &limits::EYE)?;
        seats += usize::from(block.rows) * usize::from(block.seats);
    }
    if seats > MOST_SEATS {
        return refuse("room", format!("it has {seats} seats in blocks, and {MOST_SEATS} is the most"));
    }
    for performer in &room.performers {
        let place = format!("performer \"{}\"", performer.name);
        number(&place, performer.across_m, &limits::PERFORMER_ACROSS)?;
        number(&place, performer.deep_m, &limits::PERFORMER_DEEP)?;
        number(&place, performer.head_m, &limits::HEAD)?;
        number(&place, performer.raised_m, &limits::RAISED)?;
        number(&place, performer.width_m, &limits::PERSON_WIDTH)?;
    }
    for lamp in &room.lamps {
        let place = format!("lamp \"{}\"", lamp.name);
        spot(&place, lamp.at)?;
        number(&place, lamp.source_m, &limits::SOURCE)?;
    }
    for area in &room.keep_free {
        let place = format!("free floor \"{}\"", area.name);
        number(&place, area.across_m, &limits::FREE_ACROSS)?;
        number(&place, area.deep_m, &limits::FREE_DEEP)?;
        number(&place, area.width_m, &limits::FREE_WIDTH)?;
        number(&place, area.depth_m, &limits::FREE_DEPTH)?;
    }
    Ok(())
}

/// The most seats in blocks: as many as the largest theatre has, and few enough to look from each.
const MOST_SEATS: usize = 6000;
