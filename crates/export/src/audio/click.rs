//! A click on every counted beat, from the count-in to the song's end. Where the file begins earlier, it is silent until then.

use super::{AudioError, SAMPLE_RATE, Written, add_info, pcm, sample_of, samples, stretch, writer};
use crate::fingerprints;
use letfall_core::prepared::Prepared;
use letfall_core::time::{BarBeat, SongTime};
use std::f64::consts::PI;
use std::io::{Seek, Write};

/// How the click sounds.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct ClickOptions {
    /// Samples a second.
    pub sample_rate: u32,
    /// Two short pips, half a beat and a quarter beat before the first bar of each section.
    pub section_pips: bool,
}

impl Default for ClickOptions {
    fn default() -> ClickOptions {
        ClickOptions { sample_rate: SAMPLE_RATE, section_pips: false }
    }
}

/// One burst: where it starts, its pitch in hertz, its loudness and its length in seconds.
#[derive(Debug, Clone, Copy)]
struct Burst {
    at: i64,
    hertz: f64,
    level: f64,
    secs: f64,
}

/// Writes a service's click. Bar lines are higher and louder; the first sample of a burst is its loudest, and it is the
/// sample nearest to the beat.
///
/// # Errors
/// [`AudioError`].
pub fn click<W: Write + Seek>(plan: &Prepared, options: ClickOptions, mut to: W) -> Result<Written, AudioError> {
    let rate = options.sample_rate;
    let (service, grid) = (plan.service(), plan.grid());
    let (from, until) = stretch(plan);
    // Leave time for the last beat to sound.
    let count = samples(until - from, rate)? + u64::from(rate / 4);
    let at = |time: SongTime| sample_of(time - from, rate);
    let mut bursts = Vec::new();
    for bar in plan.show().settings.first_bar()..service.song.end_bar() {
        for beat in 1..=grid.beats_in(bar) {
            let time = grid.time_at(grid.tick_of(BarBeat { bar, beat, tick: 0 }));
            let (hertz, level) = if beat == 1 { (1500.0, 0.9) } else { (1000.0, 0.55) };
            bursts.push(Burst { at: at(time), hertz, level, secs: 0.030 });
        }
    }
    if options.section_pips {
        for section in service.song.sections.iter().filter(|s| s.bar > 1) {
            let tick = grid.bar_tick(section.bar);
            let before =
                grid.place_of(grid.tick_at(grid.bar_time(section.bar) - letfall_core::time::SongSpan::from_millis(1)));
            let beat = (grid.time_at(tick) - grid.time_at(tick - grid.beat_length(before))).micros();
            for part in [2, 1] {
                let time = grid.time_at(tick) - letfall_core::time::SongSpan::from_micros(beat * part / 4);
                bursts.push(Burst { at: at(time), hertz: 2400.0, level: 0.35, secs: 0.015 });
            }
        }
    }
    bursts.sort_by_key(|b| b.at);
    let mut out = writer(&mut to, rate, 1)?;
    let mut next = 0;
    let mut sounding: Vec<Burst> = Vec::new();
    for n in 0..i64::try_from(count).unwrap_or(i64::MAX) {
        while bursts.get(next).is_some_and(|b| b.at <= n) {
            sounding.push(bursts[next]);
            next += 1;
        }
        sounding.retain(|b| ((n - b.at) as f64) < b.secs * f64::from(rate));
        let value: f64 = sounding
            .iter()
            .map(|b| {
                let secs = (n - b.at) as f64 / f64::from(rate);
                b.level * libm::exp(-secs * 5.0 / b.secs) * libm::cos(2.0 * PI * b.hertz * secs)
            })
            .sum();
        out.write_sample(pcm(value))?;
    }
    out.finalize()?;
    add_info(&mut to, &fingerprints::words(plan, fingerprints::of_click(plan, options.section_pips)))?;
    Ok(Written { starts_at: from, samples: count, sample_rate: rate })
}
