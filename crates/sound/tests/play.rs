//! Playing on fake devices: where the playhead is, what is heard, and what happens without a device.

#![allow(clippy::unwrap_used, clippy::cast_possible_truncation, clippy::cast_sign_loss)]

use letfall_sound::play::{
    Click, Device, DeviceClock, Fill, NoDevice, Part, Player, Renderer, Request, Running, Sound, place,
};
use std::sync::{Arc, Mutex};
use std::thread;
use std::time::Duration;

/// A tone, or a constant level (at 0 Hz).
#[derive(Clone, Copy)]
struct Tone {
    rate: f64,
    hertz: f64,
    frames: i64,
}

impl Sound for Tone {
    fn sample_rate(&self) -> f64 {
        self.rate
    }

    fn frames(&self) -> i64 {
        self.frames
    }

    fn read(&mut self, from: i64, out: &mut [f32]) {
        for (at, sample) in (from..).zip(out) {
            let turn = at as f64 * self.hertz / self.rate * std::f64::consts::TAU;
            let inside = (0..self.frames).contains(&at);
            *sample = if inside { (0.5 * libm::cos(turn)) as f32 } else { 0.0 };
        }
    }
}

#[derive(Default)]
struct Shared {
    fill: Option<Fill>,
    now: f64,
    broken: bool,
}

/// A device whose time advances only when the test says so.
#[derive(Clone, Default)]
struct Fake(Arc<Mutex<Shared>>);

struct Runs(Arc<Mutex<Shared>>);

impl Running for Runs {
    fn failure(&self) -> Option<String> {
        self.0.lock().unwrap().broken.then(|| "its plug was pulled".to_owned())
    }
}

const RATE: f64 = 4000.0;

impl Device for Fake {
    fn sample_rate(&mut self) -> Result<f64, String> {
        Ok(RATE)
    }

    fn start(&mut self, fill: Fill) -> Result<Box<dyn Running>, String> {
        self.0.lock().unwrap().fill = Some(fill);
        Ok(Box::new(Runs(self.0.clone())))
    }

    fn now(&self) -> f64 {
        self.0.lock().unwrap().now
    }
}

/// A repeatable pseudo-random sequence from -1 to 1 (a linear congruential generator).
fn noise(seed: &mut u32) -> f64 {
    *seed = seed.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
    f64::from(*seed >> 8) / 8_388_608.0 - 1.0
}

fn request(sound: Tone, from: f64) -> Request {
    Request { sound: Some(Box::new(sound)), from, until: 3600.0, speed: 1.0, looped: None, clicks: Vec::new() }
}

/// A device that runs 150 millionths fast, with callbacks up to 3 ms early or late: over ten minutes the playhead stays within
/// 1 ms of what the device really plays.
#[test]
fn the_playhead_follows_the_devices_own_clock() {
    let fake = Fake::default();
    let mut player = Player::new(Box::new(fake.clone()));
    let sound = Tone { rate: RATE, hertz: 0.0, frames: 4_000_000 };
    player.play(request(sound, 2.0));
    let real_rate = RATE * 1.000_150;
    let (mut given, mut seed, mut worst) = (0u64, 7u32, 0.0f64);
    let mut block = [0.0f32; 64];
    while given < (RATE * 600.0) as u64 {
        let heard = |sample: u64| sample as f64 / real_rate * 1e6;
        let mut done = 0;
        while done < block.len() {
            // Each callback is late in its own way, also where the block comes in parts.
            let late = 3000.0 * noise(&mut seed);
            let mut fill = fake.0.lock().unwrap().fill.take().unwrap();
            fill(&mut block[done..], heard(given + done as u64) + late);
            fake.0.lock().unwrap().fill = Some(fill);
            let there = block[done..].iter().take_while(|s| **s != 0.0).count();
            done += there;
            if done < block.len() {
                thread::sleep(Duration::from_micros(300));
            }
        }
        given += block.len() as u64;
        // A random moment close to the end of what was given.
        let sample = given as f64 - 32.0 + 20.0 * noise(&mut seed);
        fake.0.lock().unwrap().now = sample / real_rate * 1e6;
        let at = player.position().unwrap();
        if given > (RATE * 5.0) as u64 {
            worst = worst.max((at - 2.0 - sample / RATE).abs());
        }
    }
    assert!(worst < 0.001, "{:.3} ms", worst * 1e3);
}

/// Callbacks of one size and of any size, each up to 3 ms early or late, twenty devices of each: what is stated for one holds for all.
#[test]
fn the_clock_holds_whatever_a_callback_asks_for() {
    for (least, most) in [(64, 64), (1, 64), (1, 2), (16, 480)] {
        for seed in 1..=20u32 {
            let (mut seed, mut given, mut worst) = (seed * 7919, 0u64, 0.0f64);
            let mut clock = DeviceClock::new(RATE);
            let real_rate = RATE * (1.0 + 300e-6 * noise(&mut seed));
            let time = |sample: f64| sample / real_rate * 1e6;
            while given < (RATE * 120.0) as u64 {
                clock.event(given as f64, time(given as f64) + 3000.0 * noise(&mut seed));
                if given > (RATE * 20.0) as u64 {
                    let off = clock.sample_at(time(given as f64)).unwrap() - given as f64;
                    worst = worst.max(off.abs() / RATE);
                }
                given += least + (f64::midpoint(noise(&mut seed), 1.0) * (most - least) as f64) as u64;
            }
            println!("{least} to {most}: {:.2} ms", worst * 1e3);
            assert!(worst < 0.001, "{least} to {most}: {:.2} ms", worst * 1e3);
        }
    }
}

#[test]
fn a_clock_that_was_lost_is_found_again() {
    let mut clock = DeviceClock::new(1000.0);
    assert_eq!(clock.sample_at(0.0), None);
    clock.event(0.0, 0.0);
    clock.event(100.0, 100_000.0);
    assert!((clock.sample_at(150_000.0).unwrap() - 150.0).abs() < 1e-6);
    // The device stopped for two seconds.
    clock.event(200.0, 2_200_000.0);
    assert!((clock.sample_at(2_300_000.0).unwrap() - 300.0).abs() < 1e-6);
}

/// Upward zero crossings a second.
fn pitch(samples: &[f32], rate: f64) -> f64 {
    let ups = samples.windows(2).filter(|w| w[0] < 0.0 && w[1] >= 0.0).count();
    ups as f64 / samples.len() as f64 * rate
}

#[test]
fn half_speed_keeps_the_pitch() {
    let sound = Tone { rate: 44_100.0, hertz: 440.0, frames: 441_000 };
    let mut renderer = Renderer::new(Box::new(sound), 48_000.0, 1.0, 0.5, None, Vec::new());
    let mut out = vec![0.0f32; 96_000];
    renderer.fill(&mut out);
    assert!((pitch(&out[4800..], 48_000.0) - 440.0).abs() < 3.0, "{}", pitch(&out[4800..], 48_000.0));
    // If grains did not join smoothly, the sound would swell and fade. Its strength stays within a few hundredths of a sine's.
    for part in out[4800..].chunks_exact(4800) {
        let power = part.iter().map(|s| f64::from(s * s)).sum::<f64>() / 4800.0;
        assert!((power - 0.125).abs() < 0.02, "{power}");
    }
    let marks = renderer.take_marks();
    assert!((place(&marks, 96_000.0).unwrap() - 2.0).abs() < 1e-9);
}

#[test]
fn a_section_goes_round_without_a_gap() {
    let sound = Tone { rate: 8000.0, hertz: 0.0, frames: 80_000 };
    let part = Part { from: 2.0, to: 2.5 };
    let mut renderer = Renderer::new(Box::new(sound), 16_000.0, 1.0, 1.0, Some(part), Vec::new());
    let mut out = vec![0.0f32; 16_000 * 4];
    renderer.fill(&mut out);
    assert!(out.iter().all(|s| (s - 0.5).abs() < 1e-3));
    let marks = renderer.take_marks();
    assert!((place(&marks, 16_000.0).unwrap() - 2.0).abs() < 1e-3);
    for sample in [25_000.0f64, 30_000.0, 41_234.0, 60_000.0] {
        let gone = sample / 16_000.0 - 1.5;
        let expected = 2.0 + gone.rem_euclid(0.5);
        assert!((place(&marks, sample).unwrap() - expected).abs() < 2e-3, "{sample}");
    }
}

#[test]
fn clicks_are_heard_where_their_beats_are() {
    let silence = Tone { rate: 48_000.0, hertz: 0.0, frames: 0 };
    let clicks = vec![Click { at: -0.5, accent: true }, Click { at: 0.25, accent: false }];
    let mut renderer = Renderer::new(Box::new(silence), 48_000.0, -1.0, 1.0, None, clicks);
    let mut out = vec![0.0f32; 96_000];
    renderer.fill(&mut out);
    let heard: Vec<usize> = (1..out.len())
        .filter(|at| out[*at] != 0.0 && out[at.saturating_sub(400)..*at].iter().all(|s| *s == 0.0))
        .collect();
    assert_eq!(heard.len(), 2);
    for (heard, written) in heard.iter().zip([24_000usize, 60_000]) {
        assert!(heard.abs_diff(written) <= 2, "{heard} for {written}");
    }
}

#[test]
fn without_a_device_it_plays_in_silence_and_says_so() {
    let mut player = Player::new(Box::new(NoDevice::default()));
    player.play(request(Tone { rate: 8000.0, hertz: 1.0, frames: 8000 }, 0.5));
    let event = player.event().unwrap().0;
    assert!(event.contains("in silence"), "{event}");
    let first = player.position().unwrap();
    thread::sleep(Duration::from_millis(20));
    let later = player.position().unwrap();
    assert!(first >= 0.5 && later > first && later < 60.0);
    player.stop();
    assert_eq!(player.position(), None);
}

#[test]
fn a_device_that_is_pulled_is_told_and_ends_the_playing() {
    let fake = Fake::default();
    let mut player = Player::new(Box::new(fake.clone()));
    player.play(request(Tone { rate: RATE, hertz: 1.0, frames: 80_000 }, 0.0));
    assert!(player.is_playing());
    fake.0.lock().unwrap().broken = true;
    assert_eq!(player.position(), None);
    assert!(player.event().unwrap().0.contains("its plug was pulled"));
    assert!(!player.is_playing());
}
