//! Films laid against songs by their sound: made-up songs, rooms and telephones, with known truth. `cargo bench -p letfall-film` does the
//! same with hundreds and against a plain cross-correlation.

#![allow(clippy::unwrap_used, clippy::cast_possible_truncation, clippy::cast_sign_loss, missing_docs)]

#[path = "made/songs.rs"]
mod songs;

use letfall_film::align::{Refusal, align, align_slowed};
use letfall_film::sound::RATE;
use songs::{Hall, Song};

const HALL: Hall = Hall { echo: 1.2, direct: 0.0, noise: 10.0, singer: false, drift: 50.0 };

/// What is wrong with a place by these runs, seconds, at a time of the film.
fn off(runs: &[letfall_film::align::Run], film: f64, song: f64) -> f64 {
    let run = runs.iter().find(|run| (run.from..=run.to).contains(&film)).unwrap();
    run.song(film) - song
}

#[test]
fn in_a_hall_with_an_audience_and_another_clock() {
    let song = Song::new(11, 60.0).play();
    for (from, to, before) in [(0.0, 50.0, 5.0), (20.0, 45.0, 0.0)] {
        let film = HALL.film(&song, from, to, before, 1);
        let runs = align(&film, &song, |_| true).unwrap();
        assert_eq!(runs.len(), 1);
        for at in [before + 4.0, before + 12.0, before + 20.0] {
            let truth = from + (at - before) * (1.0 + HALL.drift * 1e-6);
            assert!(off(&runs, at, truth).abs() < 0.003, "{at}: {}", off(&runs, at, truth));
        }
        assert!((runs[0].drift - 50e-6).abs() < 20e-6 && runs[0].trust() > 0.8, "{:?}", runs[0]);
    }
}

#[test]
fn a_singer_over_it() {
    let song = Song::new(12, 60.0).play();
    let film = Hall { singer: true, noise: 15.0, ..HALL }.film(&song, 10.0, 50.0, 3.0, 1);
    let runs = align(&film, &song, |_| true).unwrap();
    assert!((runs.len(), off(&runs, 23.0, 30.0 + 20.0 * 50e-6).abs() < 0.003) == (1, true), "{runs:?}");
}

#[test]
fn every_run_in_one_film_is_found() {
    let song = Song::new(13, 50.0).play();
    let mut film = HALL.film(&song, 0.0, 40.0, 2.0, 1);
    film.extend(HALL.film(&song, 15.0, 45.0, 7.0, 2));
    let second = 2.0 + 40.0 / (1.0 + 50e-6) + 1.0 + 7.0;
    let runs = align(&film, &song, |_| true).unwrap();
    assert_eq!(runs.len(), 2, "{runs:?}");
    assert!(off(&runs, 20.0, 18.0).abs() < 0.005 && off(&runs, second + 10.0, 25.0).abs() < 0.005, "{runs:?}");
}

#[test]
fn slow_motion_with_slow_sound() {
    let song = Song::new(14, 50.0).play();
    let quick = Hall { drift: 0.0, noise: 20.0, ..HALL }.film(&song, 5.0, 40.0, 0.0, 1);
    // Four times slower: every sample is stretched.
    let slow = songs::resampled(&quick, RATE / 4);
    let runs = align_slowed(&slow, &song, |_| true).unwrap();
    assert_eq!((runs.len(), runs[0].slow.to_bits()), (1, 4.0f64.to_bits()));
    assert!((runs[0].song(40.0) - 15.0).abs() < 0.003 && (runs[0].film(15.0) - 40.0).abs() < 0.012, "{runs:?}");
}

/// No wrong pair is laid together; each is refused in a sentence that says what it is.
#[test]
fn what_is_not_the_guide_is_refused() {
    let song = Song::new(15, 50.0);
    let guide = song.play();
    let heard = |other: &Song| align(&HALL.film(&other.play(), 0.0, other.secs.min(40.0), 2.0, 3), &guide, |_| true);
    assert_eq!(heard(&Song::new(16, 40.0)), Err(Refusal::NotHeard));
    assert_eq!(heard(&Song { speed: 1.01, ..song.clone() }), Err(Refusal::NotHeard));
    for higher in [1, -2, 5] {
        let told = heard(&Song { higher, ..song.clone() });
        assert!(
            matches!(told, Err(Refusal::AnotherKey(by)) if by == higher) || told == Err(Refusal::NotHeard),
            "{told:?}"
        );
    }
    assert!(heard(&Song { first_bar: 300, ..song.clone() }).is_err());
    assert!(matches!(align(&vec![0.0; 400_000], &guide, |_| true), Err(Refusal::Silent("the film"))));
    assert!(matches!(align(&guide, &[], |_| true), Err(Refusal::Short("the guide", 8))));
    assert_eq!(align(&guide, &guide, |_| false), Err(Refusal::Stopped));
}

/// A machine that plays two bars round and round: a film of some of it fits at many places, and none of them is taken.
#[test]
fn what_repeats_itself_is_refused() {
    let round = Song { round: Some(2), secs: 40.0, ..Song::new(17, 40.0) };
    let guide = round.play();
    let film = HALL.film(&guide, 12.0, 34.0, 1.0, 3);
    let told = align(&film, &guide, |_| true);
    assert!(matches!(told, Err(Refusal::Repeats(_))), "{told:?}");
    assert!(told.unwrap_err().to_string().contains("fits it equally well at"));
}
