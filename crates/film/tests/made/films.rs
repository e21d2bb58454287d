//! Films of a made-up stage with known truth: a wash of light, a screen, and a fabric that falls, as a camera sees them.

#![allow(dead_code, missing_docs, clippy::cast_possible_truncation, clippy::cast_sign_loss)]

use super::songs::Dice;
use letfall_film::picture::Region;
use letfall_film::sound::RATE;
use std::io::Write as _;
use std::path::{Path, PathBuf};
use std::process::{Command, Stdio};

const WIDE: usize = 192;
const HIGH: usize = 144;

/// What happens on the stage, by the film's clock, seconds.
#[derive(Clone, Debug)]
pub struct Stage {
    pub secs: f64,
    /// Lights: when each begins, how long it takes, and the level that it goes to, 0 to 1.
    pub washes: Vec<(f64, f64, f64)>,
    /// When the screen goes from dark to a picture.
    pub screen: f64,
    /// When the left and the right end of the fabric let go.
    pub falls: (f64, f64),
    /// Drag of its fall: g · height / terminal speed², 0 for a free fall.
    pub drag: f64,
}

/// How a camera sees it.
#[derive(Clone, Copy, Debug)]
pub struct Camera {
    pub rate: f64,
    /// Noise of each point, levels of 255.
    pub noise: f64,
    /// How far it shakes, points.
    pub shake: f64,
    /// From a frame's first row to its last, seconds.
    pub rolling: f64,
    /// How strongly exposure follows the light, 0 to 1.
    pub pumping: f64,
    /// How strongly lamps flicker at twice the mains' 50 Hz, 0 to 1.
    pub flicker: f64,
    /// Which share of a frame's time it is exposed.
    pub shutter: f64,
}

impl Camera {
    pub const fn of(rate: f64) -> Camera {
        Camera { rate, noise: 2.0, shake: 0.0, rolling: 0.0, pumping: 0.0, flicker: 0.0, shutter: 0.0 }
    }
}

/// How long the fabric takes to the floor, seconds: 4 m from rest, slowed by the air so that it takes as long as 5 m without.
pub const FALL: f64 = 1.01;
/// Where the sightline is, as a share of the fabric's height.
pub const SIGHTLINE: f64 = 0.75;

pub fn regions() -> Vec<Region> {
    let region = |name: &str, x: f64, y: f64, w: f64, h: f64, shows: &str| Region {
        name: name.into(),
        x,
        y,
        w,
        h,
        shows: vec![shows.into()],
        sightline: (shows == "fabric").then_some(SIGHTLINE),
    };
    vec![
        region("Wash", 0.05, 0.75, 0.9, 0.2, "light"),
        region("Screen", 0.7, 0.1, 0.25, 0.3, "screen"),
        region("Fabric", 0.1, 0.1, 0.5, 0.6, "fabric"),
    ]
}

impl Stage {
    /// Everything so much later.
    pub fn later(mut self, secs: f64) -> Stage {
        self.washes.iter_mut().for_each(|wash| wash.0 += secs);
        self.screen += secs;
        self.falls = (self.falls.0 + secs, self.falls.1 + secs);
        self
    }

    /// The way that the top edge has gone, as a share of the height: check-values section 7.2, ln cosh.
    fn way(&self, since: f64) -> f64 {
        let share = since.max(0.0) / FALL;
        if self.drag <= 0.0 {
            return share.powi(2).min(1.0);
        }
        let whole = libm::acosh(libm::exp(self.drag));
        (libm::log(libm::cosh(whole * share)) / self.drag).min(1.0)
    }

    /// How long the edge takes to a share of the height, seconds.
    pub fn takes(&self, to: f64) -> f64 {
        if self.drag <= 0.0 {
            return FALL * to.sqrt();
        }
        FALL * libm::acosh(libm::exp(self.drag * to)) / libm::acosh(libm::exp(self.drag))
    }

    fn wash(&self, t: f64) -> f64 {
        let mut level = 0.1;
        for (begins, fade, to) in &self.washes {
            let share =
                if *fade > 0.0 { ((t - begins) / fade).clamp(0.0, 1.0) } else { f64::from(u8::from(t >= *begins)) };
            level += (to - level) * share;
        }
        level
    }

    /// The light of a point, x and y in shares of the picture.
    fn light(&self, x: f64, y: f64, t: f64) -> [f64; 3] {
        let inside = |left: f64, top: f64, w: f64, h: f64| (left..left + w).contains(&x) && (top..top + h).contains(&y);
        if inside(0.7, 0.1, 0.25, 0.3) {
            return if t >= self.screen { [40.0, 90.0 + 80.0 * x, 160.0] } else { [6.0, 6.0, 8.0] };
        }
        if inside(0.1, 0.1, 0.5, 0.6) {
            let (fx, fy) = ((x - 0.1) / 0.5, (y - 0.1) / 0.6);
            let begins = self.falls.0 + (self.falls.1 - self.falls.0) * if fx > 0.5 { 1.0 } else { 0.0 };
            // A camera's point sees the mean of its height, so the edge passes it by and by.
            let high = 1.0 / (HIGH as f64 * 0.6);
            let hidden = ((fy + high / 2.0 - self.way(t - begins)) / high).clamp(0.0, 1.0);
            let fabric = [120.0 + 40.0 * libm::sin(fx * 9.0), 110.0, 60.0 + 30.0 * libm::cos(fy * 7.0)];
            let behind = [14.0, 12.0, 22.0];
            return std::array::from_fn(|c| behind[c] + (fabric[c] - behind[c]) * hidden);
        }
        let level = self.wash(t);
        if y > 0.72 { [200.0 * level, 150.0 * level, 90.0 * level] } else { [12.0, 12.0, 14.0] }
    }

    /// Draws every frame, with its stamp.
    pub fn frames(&self, camera: &Camera, seed: u64, mut take: impl FnMut(f64, &mut [u8])) {
        let (mut dice, mut gain) = (Dice::new(seed), 1.0 / (1.0 + camera.pumping * 0.4));
        let mut rgb = vec![0u8; WIDE * HIGH * 3];
        for n in 0..(self.secs * camera.rate) as usize {
            self.frame(n, camera, &mut dice, &mut gain, &mut rgb);
            take(n as f64 / camera.rate, &mut rgb);
        }
    }

    /// Draws a frame.
    fn frame(&self, n: usize, camera: &Camera, dice: &mut Dice, gain: &mut f64, rgb: &mut [u8]) {
        let at = n as f64 / camera.rate;
        let (dx, dy) = (camera.shake * dice.between(-1.0, 1.0), camera.shake * dice.between(-1.0, 1.0));
        // Exposure goes after the mean light with a time constant of 0.4 s.
        let light = 0.3 + self.wash(at) + if at >= self.screen { 0.2 } else { 0.0 };
        let wanted = 1.0 / (1.0 + camera.pumping * light);
        *gain += (wanted - *gain) * (1.0 - libm::exp(-1.0 / (0.4 * camera.rate)));
        for y in 0..HIGH {
            let row = at + camera.rolling * y as f64 / HIGH as f64;
            let flicker = 1.0 + camera.flicker * libm::sin(row * 100.0 * std::f64::consts::TAU);
            for x in 0..WIDE {
                let (px, py) = ((x as f64 + 0.5 + dx) / WIDE as f64, (y as f64 + 0.5 + dy) / HIGH as f64);
                let mut light = self.light(px, py, row);
                if camera.shutter > 0.0 {
                    let open = camera.shutter / camera.rate;
                    for part in 1..4 {
                        let more = self.light(px, py, row + open * f64::from(part) / 3.0);
                        light = std::array::from_fn(|c| light[c] + more[c]);
                    }
                    light = light.map(|c| c / 4.0);
                }
                for (channel, light) in light.into_iter().enumerate() {
                    let noise = camera.noise * (dice.share() + dice.share() - 1.0);
                    let value = light * *gain * flicker + noise;
                    rgb[(y * WIDE + x) * 3 + channel] = value.clamp(0.0, 255.0) as u8;
                }
            }
        }
    }

    /// Films it: `codec` are ffmpeg's options for pictures and sound, the last of which is the file's ending.
    pub fn film(&self, folder: &Path, camera: &Camera, sound: &[f32], codec: &[&str], seed: u64) -> PathBuf {
        let (ending, options) = codec.split_last().expect("an ending");
        let wav = folder.join("sound.wav");
        std::fs::write(&wav, wave(sound)).unwrap();
        let film = folder.join(format!("film-{seed}.{ending}"));
        let mut command = Command::new("ffmpeg");
        command.args(["-y", "-loglevel", "error", "-f", "rawvideo", "-pix_fmt", "rgb24"]);
        command.args(["-s", &format!("{WIDE}x{HIGH}"), "-r", &camera.rate.to_string(), "-i", "pipe:0", "-i"]);
        command.arg(&wav).args(options).arg(&film).stdin(Stdio::piped());
        let mut child = command.spawn().expect("ffmpeg; cargo xtask test installs it");
        let mut to = child.stdin.take().unwrap();
        self.frames(camera, seed, |_, rgb| to.write_all(rgb).unwrap());
        drop(to);
        assert!(child.wait().unwrap().success(), "{codec:?}");
        film
    }
}

/// A WAV file of 16 bits.
pub fn wave(sound: &[f32]) -> Vec<u8> {
    let bytes = sound.len() as u32 * 2;
    let mut wav = Vec::new();
    wav.extend(b"RIFF");
    wav.extend((36 + bytes).to_le_bytes());
    wav.extend(b"WAVEfmt ");
    wav.extend(16u32.to_le_bytes());
    wav.extend([1, 0, 1, 0]);
    wav.extend(RATE.to_le_bytes());
    wav.extend((RATE * 2).to_le_bytes());
    wav.extend([2, 0, 16, 0]);
    wav.extend(b"data");
    wav.extend(bytes.to_le_bytes());
    for sample in sound {
        wav.extend(((sample * 32_000.0).clamp(-32_000.0, 32_000.0) as i16).to_le_bytes());
    }
    wav
}
