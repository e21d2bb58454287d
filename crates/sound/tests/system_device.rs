//! The system's own sound device.

#![cfg(feature = "device")]

use letfall_sound::play::{Player, Request, Sound, System};
use std::thread;
use std::time::Duration;

/// Ten seconds of a quiet tone with corners.
struct Steps;

impl Sound for Steps {
    fn sample_rate(&self) -> f64 {
        48_000.0
    }

    fn frames(&self) -> i64 {
        480_000
    }

    fn read(&mut self, from: i64, out: &mut [f32]) {
        for (at, sample) in (from..).zip(out) {
            *sample = if at.rem_euclid(100) < 50 { 0.1 } else { -0.1 };
        }
    }
}

/// Whatever system and machine this is: the guide is heard, or a sentence says why not; the playhead moves either way.
#[test]
fn the_systems_own_device_plays_or_says_why_not() {
    let mut player = Player::new(Box::<System>::default());
    let (from, until) = (0.5, 60.0);
    player.play(Request { sound: Some(Box::new(Steps)), from, until, speed: 1.0, looped: None, clicks: Vec::new() });
    let said = player.event().map(|event| event.0);
    println!("heard: {}; {said:?}", player.is_heard());
    let must = std::env::var_os("LETFALL_HAS_SOUND").is_some();
    assert!(player.is_heard() || !must, "this machine has sound: {said:?}");
    if let Some(said) = &said {
        assert!(!player.is_heard());
        assert!(said.starts_with("Playing in silence: ") && said.contains("sound device"), "{said}");
    } else {
        assert!(player.is_heard());
    }
    let moved = (0..300).any(|_| {
        thread::sleep(Duration::from_millis(10));
        player.position().is_some_and(|at| at > 0.6)
    });
    assert!(moved, "{:?}", player.event());
    player.stop();
}
