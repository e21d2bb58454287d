//! Where something is seen, proposed from what changes: against a made-up stage, whose places are known.

#![allow(clippy::unwrap_used, clippy::cast_possible_truncation, clippy::cast_sign_loss, missing_docs)]

#[path = "made/films.rs"]
mod films;
#[path = "made/songs.rs"]
mod songs;

use films::{Camera, SIGHTLINE, Stage, regions};
use letfall_film::picture::{Frame, Kind, Proposed, Region, Sighting, Watcher};

const SECS: f64 = 16.0;

fn sighting(shows: &str, kind: Kind, from: f64, to: f64) -> Sighting {
    let sightline = (kind == Kind::Falls).then_some(SIGHTLINE);
    Sighting { shows: shows.into(), kind, from, to, slow: 1.0, sightline }
}

fn seen(stage: &Stage, camera: &Camera, sightings: &[Sighting]) -> Proposed {
    let mut watcher = Watcher::new(sightings);
    stage.frames(camera, 3, |at, rgb| watcher.take(Frame { at, rgb }));
    assert!(watcher.ends() < SECS);
    watcher.proposed()
}

/// How much two regions have in common, as a share of what either covers.
fn alike(a: &Region, b: &Region) -> f64 {
    let along = |a: f64, aw: f64, b: f64, bw: f64| ((a + aw).min(b + bw) - a.max(b)).max(0.0);
    let both = along(a.x, a.w, b.x, b.w) * along(a.y, a.h, b.y, b.h);
    both / (a.w * a.h + b.w * b.h - both)
}

fn check(name: &str, proposed: &Proposed, least: f64) {
    for (n, shows) in ["Lighting", "House screen", "Front fabric"].into_iter().enumerate() {
        let mut truth = regions().remove(n);
        if n == 0 {
            // The wash reaches over the whole width from 0.72 down.
            (truth.x, truth.y, truth.w, truth.h) = (0.0, 0.72, 1.0, 0.28);
        }
        let found = proposed.regions.iter().find(|region| region.name == shows);
        let found = found.unwrap_or_else(|| panic!("{name}: no {shows} in {proposed:?}"));
        let alike = alike(found, &truth);
        println!("{name}: {shows} {alike:.3} {found:?}");
        assert!(alike > least, "{name}: {shows} {found:?} for {truth:?}");
        assert_eq!(found.sightline.is_some(), shows == "Front fabric");
        // The top of a fabric is what its let-go hangs on.
        assert!(n != 2 || (found.y - truth.y).abs() < 0.04 * truth.h, "{name}: {found:?}");
    }
}

/// Devices are late by up to 0.6 s; the screen and the fabric change on one beat.
#[test]
fn what_is_seen_where() {
    let stage = Stage {
        secs: SECS,
        washes: vec![(3.4, 0.0, 0.6), (13.2, 1.0, 0.2)],
        screen: 8.1,
        falls: (7.5, 7.5),
        drag: 0.5,
    };
    let sightings = || {
        vec![
            sighting("Lighting", Kind::Light, 3.0, 3.0),
            sighting("Lighting", Kind::Light, 13.0, 14.0),
            sighting("Front fabric", Kind::Falls, 6.5, 9.5),
            sighting("Front fabric", Kind::Screen, 8.0, 8.0),
            sighting("House screen", Kind::Screen, 8.0, 8.0),
            sighting("Player", Kind::Player, 8.0, 8.0),
            sighting("Follow spot", Kind::Light, 5.3, 5.3),
        ]
    };
    let plain = Camera::of(30.0);
    for (name, camera, least) in [
        ("plain", plain, 0.93),
        ("noise", Camera { noise: 20.0, ..plain }, 0.9),
        ("shake", Camera { shake: 1.5, ..plain }, 0.85),
        ("exposure", Camera { pumping: 0.5, ..plain }, 0.85),
        ("flicker", Camera { flicker: 0.05, ..plain }, 0.85),
    ] {
        let proposed = seen(&stage, &camera, &sightings());
        check(name, &proposed, least);
        assert_eq!(proposed.unseen, ["Follow spot"], "{name}");
        let screen = proposed.regions.iter().find(|region| region.name == "House screen").unwrap();
        assert_eq!(screen.shows, ["House screen", "Player"], "{name}: a player is seen on its screen");
    }
}

/// Where nothing happens nothing is proposed, and it is said what was looked for.
#[test]
fn nothing_is_made_up() {
    let still = Stage { secs: SECS, washes: Vec::new(), screen: 99.0, falls: (99.0, 99.0), drag: 0.0 };
    let sightings = vec![
        sighting("Lighting", Kind::Light, 3.0, 3.0),
        sighting("Front fabric", Kind::Falls, 6.5, 9.5),
        sighting("House screen", Kind::Screen, 8.0, 8.0),
    ];
    let proposed = seen(&still, &Camera { noise: 20.0, ..Camera::of(25.0) }, &sightings);
    assert!(proposed.regions.is_empty(), "{proposed:?}");
    assert_eq!(proposed.unseen.len(), 3);
    // A film that ends before.
    assert!(Watcher::new(&sightings).proposed().regions.is_empty());
    assert_eq!(Watcher::new(&[]).proposed(), Proposed::default());
}
