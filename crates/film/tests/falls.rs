//! Falls as a camera sees them, of known let-go, with what goes wrong about a film: a hand that draws its region a little off, drag, one side
//! late, long exposure, noise. Made in memory, without packing; tests/films.rs has packed ones.

#![allow(clippy::unwrap_used, clippy::cast_possible_truncation, clippy::cast_sign_loss, missing_docs)]

#[path = "made/films.rs"]
mod films;
#[path = "made/songs.rs"]
mod songs;

use films::{Camera, FALL, SIGHTLINE, Stage, regions};
use letfall_film::picture::{Fall, Frame, Recorder, Region, Unseen, WIDE, fall};
use songs::Dice;

const SECS: f64 = 4.4;

/// The fabric's region, drawn so much of its height too high, and its lower edge where it is.
fn drawn(off: f64) -> Region {
    let mut region = regions().remove(2);
    region.y -= off * region.h;
    region.h *= 1.0 + off;
    region.sightline = Some((SIGHTLINE + off) / (1.0 + off));
    region
}

fn stage(begins: f64, right_later: f64, drag: f64) -> Stage {
    Stage { secs: SECS, washes: Vec::new(), screen: 99.0, falls: (begins, begins + right_later), drag }
}

fn seen(stage: &Stage, camera: &Camera, region: &Region, seed: u64) -> Result<Fall, Unseen> {
    let mut recorder = Recorder::new(std::slice::from_ref(region), vec![(0.0, SECS)]);
    stage.frames(camera, seed, |at, rgb| recorder.take(Frame { at, rgb }));
    fall(recorder.stills(0, 0.0, SECS), stage.falls.0 + 0.5, recorder.step().unwrap(), 1.0, camera.rolling, region)
}

/// How far off the marks are, in order: let-go, sightline, floor, the right side's lateness, seconds.
fn off(fall: &Fall, stage: &Stage) -> [f64; 4] {
    let begins = f64::midpoint(stage.falls.0, stage.falls.1);
    [
        fall.let_go - begins,
        fall.sightline.unwrap() - begins - stage.takes(SIGHTLINE),
        fall.floor - begins - FALL,
        fall.right_later - (stage.falls.1 - stage.falls.0),
    ]
}

/// Every mark within one frame where the region is drawn on the fabric, with any drag.
#[test]
fn marks_of_a_fall_lie_within_one_frame() {
    for (seed, rate, drag) in [(1, 25.0, 0.0), (2, 30.0, 1.5), (3, 60.0, 4.0), (4, 120.0, 0.5), (5, 240.0, 2.0)] {
        let stage = stage(1.5345, 0.0, drag);
        let fall = seen(&stage, &Camera::of(rate), &drawn(0.0), seed).unwrap();
        let off = off(&fall, &stage);
        println!(
            "{rate} a second, drag {drag}: off by {:.2?} ms, within {:.1}",
            off.map(|o| o * 1e3),
            fall.within * 1e3
        );
        assert!(off.iter().all(|off| off.abs() < 1.0 / rate), "{rate}: {off:?}");
        assert!(fall.within < 1.3 / rate + 0.022, "{}", fall.within);
    }
}

/// What is stated holds, whatever comes together. A straight edge of the region that was drawn 4 % off would move let-go by a tenth of a second
/// if it were believed.
#[test]
fn what_is_stated_of_a_fall_holds() {
    let mut dice = Dice::new(11);
    let (mut worst, count) = (0.0f64, 24);
    for n in 0..count {
        let rate = [25.0, 30.0, 50.0, 60.0, 100.0][n % 5];
        let camera = Camera {
            noise: dice.between(0.0, 8.0),
            shutter: dice.between(0.0, 0.9),
            rolling: dice.between(0.0, 0.015),
            ..Camera::of(rate)
        };
        let stage = stage(dice.between(1.5, 1.7), dice.between(-0.1, 0.1), dice.between(0.0, 4.0));
        let by = dice.between(-0.04, 0.04);
        let fall = seen(&stage, &camera, &drawn(by), n as u64).unwrap();
        let off = off(&fall, &stage);
        println!(
            "{rate} a second, drawn {by:.3} off, shutter {:.2}, drag {:.1}: off by {:.1?} ms, within {:.1}",
            camera.shutter,
            stage.drag,
            off.map(|o| o * 1e3),
            fall.within * 1e3
        );
        worst = worst.max(off[0].abs() / fall.within);
        assert!(off[1].abs() < 1.0 / rate && off[2].abs() < 1.0 / rate + 0.003, "{off:?}");
        assert!(off[3].abs() < 0.5 / rate, "{off:?}");
        assert!(fall.within < 2.0 / rate + 0.03, "{}", fall.within);
    }
    assert!(worst < 1.0, "let-go lies {worst} times what is stated off");
}

/// A hand or a head before the lower part of the fabric, for half a second in the middle of the fall, and one that stays: the rows behind it
/// say nothing, and the others do.
#[test]
fn a_hand_in_front() {
    let (stage, region, camera) = (stage(1.5, 0.0, 0.5), drawn(0.0), Camera::of(50.0));
    for (name, from, to) in [("passes", 2.0, 2.5), ("stays", 0.0, SECS)] {
        let mut recorder = Recorder::new(std::slice::from_ref(&region), vec![(0.0, SECS)]);
        stage.frames(&camera, 5, |at, rgb| {
            if (from..to).contains(&at) {
                // From the left edge to beyond the middle, over a quarter of its height.
                for y in 70..92 {
                    rgb[(y * WIDE + 10) * 3..(y * WIDE + 80) * 3].fill(90);
                }
            }
            recorder.take(Frame { at, rgb });
        });
        let fall = fall(recorder.stills(0, 0.0, SECS), 2.0, 0.02, 1.0, 0.0, &region).unwrap();
        let off = off(&fall, &stage);
        println!("a hand {name}: off by {:.2?} ms, within {:.1}", off.map(|o| o * 1e3), fall.within * 1e3);
        assert!(off.iter().all(|off| off.abs() < 0.02) && off[0].abs() < fall.within, "{name}: {off:?}");
    }
}

/// What is no fall is not taken for one: a fabric that stays, and one that is only lit.
#[test]
fn what_does_not_fall_has_no_marks() {
    let stays = stage(99.0, 0.0, 0.0);
    let told = seen(&Stage { falls: (99.0, 99.0), ..stays }, &Camera::of(50.0), &drawn(0.0), 1);
    assert!(told.is_err(), "{told:?}");
    let lit = Stage { screen: 2.0, ..stage(99.0, 0.0, 0.0) };
    let screen = Region { sightline: Some(SIGHTLINE), ..regions().remove(1) };
    assert!(seen(&lit, &Camera::of(50.0), &screen, 2).is_err());
}
