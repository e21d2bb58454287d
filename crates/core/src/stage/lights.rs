//! The light at an instant. Each lighting track keeps its own state, as each person at a desk keeps their own fader; on a receiver
//! whose newest preset replaces all others there is only one state.

use super::{LightSlot, Lit, Stage};
use crate::show::Show;
use crate::time::SongTime;

/// What one track, or one receiver, shows at an instant.
#[derive(Debug, Clone, PartialEq)]
pub struct Light {
    /// Whose state it is.
    pub slot: LightSlot,
    /// The preset that was recalled last, by its index in the show's list.
    pub preset: usize,
    /// The cue that recalled it, by its index in [`Stage::lit`].
    pub lit: usize,
    /// How bright it is now, 0 to 1. Within a fade it lies between what was there and what comes.
    pub level: f64,
    /// How bright the fade's new preset is in full, 0 to 1.
    pub aim: f64,
    /// Its colour now, red, green and blue from 0 to 255. It goes over in the fade, and is the new one's at once if it was dark.
    pub colour: [f64; 3],
    /// Light that it puts on the side of the pictures that the audience sees, lux.
    pub front_lux: f64,
    /// What it puts on fabrics from behind. In a fade from one to another there are two.
    pub behind: Vec<BehindLight>,
}

/// Light from behind a fabric, towards the audience.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct BehindLight {
    /// The hang's index in the show's list.
    pub hang: usize,
    /// How bright it is, 0 to 1.
    pub level: f64,
    /// How much falls on the fabric's back, lux.
    pub lux: f64,
}

impl Lit {
    /// How much of the fade is done, 0 to 1.
    pub fn share(&self, at: SongTime) -> f64 {
        if self.full <= self.from {
            return if at < self.from { 0.0 } else { 1.0 };
        }
        ((at - self.from).secs_f64() / (self.full - self.from).secs_f64()).clamp(0.0, 1.0)
    }
}

impl Stage {
    /// The light at an instant: one state for each track and receiver that has had a cue by then, in their order. It is dark before
    /// the first.
    pub fn lights_at(&self, show: &Show, at: SongTime) -> Vec<Light> {
        LightWalk::new(self, show).at(at)
    }

    /// Where the fade of a cue is at an instant, from what its slot showed before it.
    fn light(&self, show: &Show, before: Option<&Light>, index: usize, at: SongTime) -> Light {
        let lit = &self.lit[index];
        let share = lit.share(at);
        let preset = &show.presets[lit.preset];
        let (aim, colour) = (f64::from(preset.level) / 100.0, preset.rgb().map(f64::from));
        let (level, from) = before.map_or((0.0, colour), |light| (light.level, light.colour));
        let from = if level > 0.0 { from } else { colour };
        let aimed = if aim > 0.0 { colour } else { from };
        let mix = |a: f64, b: f64| a + (b - a) * share;
        let mut behind: Vec<BehindLight> = before.map_or_else(Vec::new, |light| light.behind.clone());
        for part in &mut behind {
            part.level *= 1.0 - share;
            part.lux *= 1.0 - share;
        }
        let hang = preset.behind.as_ref().and_then(|key| show.hangs.iter().position(|hang| hang.key == *key));
        behind.extend(hang.map(|hang| BehindLight { hang, level: aim * share, lux: preset.back_lux * share }));
        behind.retain(|part| part.level > 0.0 || part.lux > 0.0);
        Light {
            front_lux: mix(before.map_or(0.0, |light| light.front_lux), preset.front_lux),
            behind,
            slot: lit.slot,
            preset: lit.preset,
            lit: index,
            level: mix(level, aim),
            aim,
            colour: [0, 1, 2].map(|part| mix(from[part], aimed[part])),
        }
    }
}

/// A walk through the light of a service, for looking at many instants in order of time.
pub(crate) struct LightWalk<'a> {
    stage: &'a Stage,
    show: &'a Show,
    /// The first cue, by its index in [`Stage::lit`], that has not begun.
    next: usize,
    /// For each slot what it showed before its newest cue, and that cue.
    slots: Vec<(Option<Light>, usize)>,
}

impl<'a> LightWalk<'a> {
    /// A walk that begins in the dark.
    pub fn new(stage: &'a Stage, show: &'a Show) -> LightWalk<'a> {
        LightWalk { stage, show, next: 0, slots: Vec::new() }
    }

    /// As [`Stage::lights_at`]. No instant may lie before the one that was asked for last.
    pub fn at(&mut self, at: SongTime) -> Vec<Light> {
        let lits = &self.stage.lit;
        while let Some(lit) = lits.get(self.next).filter(|lit| lit.from <= at) {
            match self.slots.iter_mut().find(|(_, newest)| lits[*newest].slot == lit.slot) {
                // It takes over where the fade before it is by now.
                Some((before, newest)) => {
                    *before = Some(self.stage.light(self.show, before.as_ref(), *newest, lit.from));
                    *newest = self.next;
                }
                None => self.slots.push((None, self.next)),
            }
            self.next += 1;
        }
        let light =
            |(before, newest): &(Option<Light>, usize)| self.stage.light(self.show, before.as_ref(), *newest, at);
        let mut now: Vec<Light> = self.slots.iter().map(light).collect();
        now.sort_by_key(|light| light.slot);
        now
    }
}
