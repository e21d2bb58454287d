//! A band that does not keep time, and somebody who taps along: what a follower of taps is measured with. Shares no code with it.
//!
//! The tempo drifts by ±6 % over a minute or two; one bar in eight is stretched by up to 15 %; one tap in ten is missed, one in twenty comes
//! twice; taps shake by 25 ms and come 30 ms early.

use letfall_core::show::Song;
use letfall_core::time::{Grid, GridPlan, Metre, Tempo};
use letfall_live::{Band, MachineTime};
use std::ops::Range;

/// A random number from 0 to 1 (SplitMix64, public domain, from memory).
pub struct Random(pub u64);

impl Random {
    pub fn share(&mut self) -> f64 {
        self.0 = self.0.wrapping_add(0x9e37_79b9_7f4a_7c15);
        let mut z = self.0;
        z = (z ^ (z >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
        ((z ^ (z >> 31)) >> 11) as f64 / (1u64 << 53) as f64
    }

    /// About normal: the sum of twelve.
    fn normal(&mut self) -> f64 {
        (0..12).map(|_| self.share()).sum::<f64>() - 6.0
    }
}

/// A hundred and twenty bars of four beats at 120 a minute.
pub fn grid() -> (Grid, i32) {
    let plan = GridPlan::steady(Metre::common(), Tempo::quarters_per_minute(120.0).unwrap());
    let song = Song::new("Song".to_owned(), 120, plan);
    (song.grid.build().unwrap(), song.end_bar())
}

/// When the band plays each beat, in seconds, and which bars it stretches, counted from 1.
pub fn played(random: &mut Random, beats: usize) -> (Vec<f64>, Vec<Range<i32>>) {
    let (turn, begins) = (60.0 + 60.0 * random.share(), random.share() * std::f64::consts::TAU);
    let mut at = 10.0;
    let mut times = vec![at];
    let (mut by, mut free) = (0.0, Vec::new());
    for beat in 0..beats {
        if beat % 4 == 0 {
            by = if random.share() < 0.125 { 0.15 * random.share() } else { 0.0 };
            let bar = i32::try_from(beat / 4).unwrap() + 1;
            if by > 0.0 {
                free.push(bar..bar + 1);
            }
        }
        let drift = 1.0 + 0.06 * libm::sin(std::f64::consts::TAU * at / turn + begins);
        at += 0.5 * drift * (1.0 + by);
        times.push(at);
    }
    (times, free)
}

/// When somebody taps along, from the first beat on, which is never missed.
pub fn tapped(random: &mut Random, beats: &[f64]) -> Vec<f64> {
    let mut taps = Vec::new();
    for (at, beat) in beats.iter().enumerate() {
        if at > 0 && random.share() < 0.10 {
            continue;
        }
        let tap = beat - 0.030 + 0.025 * random.normal();
        taps.push(tap);
        if random.share() < 0.05 {
            taps.push(tap + 0.05 + 0.15 * random.share());
        }
    }
    taps.sort_by(f64::total_cmp);
    taps
}

/// Something that says when a beat will come.
pub trait Predicts {
    /// The first beat; `free` are the bars that will be stretched.
    fn first(&mut self, beat: usize, at: f64, free: &[Range<i32>]);
    fn tap(&mut self, at: f64);
    fn expects(&self, beat: usize, now: f64) -> f64;
}

/// The plain way: the next beat is as far from the last tap as that was from the one before.
pub struct LastTwo {
    beat: usize,
    at: f64,
    step: f64,
}

impl LastTwo {
    pub fn new() -> LastTwo {
        LastTwo { beat: 0, at: 0.0, step: 0.5 }
    }
}

impl Predicts for LastTwo {
    fn first(&mut self, beat: usize, at: f64, _: &[Range<i32>]) {
        (self.beat, self.at) = (beat, at);
    }
    fn tap(&mut self, at: f64) {
        // At least as good as it can be: missed taps are bridged, doubled ones left out.
        let beats = libm::round((at - self.at) / self.step);
        if beats < 1.0 {
            return;
        }
        self.step = ((at - self.at) / beats).clamp(0.4, 0.65);
        #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)] // few beats
        let beats = beats as usize;
        (self.beat, self.at) = (self.beat + beats, at);
    }
    fn expects(&self, beat: usize, _: f64) -> f64 {
        self.at + self.step * (beat as f64 - self.beat as f64)
    }
}

/// The follower, asked in the way in which the engine uses it.
pub struct Follows {
    band: Option<Band>,
    /// Whether it is told which bars are played freely, though not by how much they are stretched.
    is_told: bool,
}

impl Follows {
    pub fn new(is_told: bool) -> Follows {
        Follows { band: None, is_told }
    }
}

impl Predicts for Follows {
    fn first(&mut self, beat: usize, at: f64, free: &[Range<i32>]) {
        let (grid, end) = grid();
        let mut band = Band::new(&grid, 1, end, if self.is_told { free } else { &[] });
        let bar = i32::try_from(beat / 4).unwrap() + 1;
        assert!(beat.is_multiple_of(4) && band.here(bar, machine(at)));
        self.band = Some(band);
    }
    fn tap(&mut self, at: f64) {
        self.band.as_mut().unwrap().tap(machine(at));
    }
    fn expects(&self, beat: usize, now: f64) -> f64 {
        let place = self.band.as_ref().unwrap().place(machine(now), 0).unwrap();
        let song = beat as f64 * 0.5 - place.song.secs_f64();
        #[allow(clippy::cast_possible_truncation)] // minutes
        let song = (song * 1e6) as i64;
        place.at.micros() as f64 / 1e6 + place.rate.machine(song) as f64 / 1e6
    }
}

#[allow(clippy::cast_possible_truncation)] // minutes
pub fn machine(seconds: f64) -> MachineTime {
    MachineTime::from_micros((seconds * 1e6) as i64)
}

/// How late each beat lands, in milliseconds, if a message leaves for it up to half a second ahead, by what is expected then.
pub fn lateness(random: &mut Random, with: &mut dyn Predicts) -> Vec<f64> {
    let (beats, free) = played(random, 400);
    let taps = tapped(random, &beats[4..]);
    let leads: Vec<f64> = beats.iter().map(|_| 0.5 * random.share()).collect();
    with.first(4, taps[0], &free);
    let mut late = Vec::new();
    let mut sent = vec![false; beats.len()];
    for (at, tap) in taps.iter().enumerate() {
        if at > 0 {
            with.tap(*tap);
        }
        let until = taps.get(at + 1).copied().unwrap_or(*tap);
        // Between two taps the clock goes on in small steps, as the engine's does.
        let mut now = *tap;
        while now < until {
            for beat in 5..beats.len() {
                if sent[beat] {
                    continue;
                }
                let leaves = with.expects(beat, now) - leads[beat];
                if leaves > now + 1.5 {
                    break;
                }
                if leaves <= now {
                    sent[beat] = true;
                    if beat > 16 {
                        late.push((now + leads[beat] - beats[beat]) * 1e3);
                    }
                }
            }
            now += 0.005;
        }
    }
    late
}

/// The absolute value that this share of some values does not pass.
pub fn percentile(values: &[f64], share: f64) -> f64 {
    let mut all: Vec<f64> = values.iter().map(|value| value.abs()).collect();
    all.sort_by(f64::total_cmp);
    #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)] // an index
    all[((all.len() - 1) as f64 * share) as usize]
}
