//! Finds which beats begin bars: the numbering that sounds most like downbeats and changes metre least. The search is exact.

use super::net::{About, Activations, STRETCH};
use super::spectrum::FRAME_RATE;

/// The most beats in a bar.
pub const MOST: u8 = 7;
/// What it costs to change the number of beats from one bar to the next.
const CHANGE: f32 = 15.0;
/// The same when the user gave a bar.
const CHANGE_AS_SAID: f32 = 25.0;
/// Weight of the metre that the music around a beat sounds like.
const METRE: f32 = 0.1;
/// How likely each metre is before anything was heard, as log odds relative to four beats.
const PRIOR: [f32; MOST as usize + 1] = [-99.0, -9.0, -1.2, -0.4, 0.0, -4.0, -3.5, -5.0];

/// How much one beat sounds like a beat and a downbeat, 0 to 1.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Sounds {
    /// Like a beat.
    pub beat: f32,
    /// Like a downbeat.
    pub downbeat: f32,
    /// What the music around it is like.
    pub about: About,
}

/// What is heard at each beat.
#[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)] // places in the recording
pub fn sounds(heard: &Activations, beats: &[f64]) -> Vec<Sounds> {
    let most = |of: &[f32], at: usize| of.iter().skip(at.saturating_sub(1)).take(3).copied().fold(0.0f32, f32::max);
    let sound = |secs: &f64| {
        let at = libm::round(secs * FRAME_RATE).max(0.0) as usize;
        let about = heard.about.get(at / STRETCH).or(heard.about.last()).copied().unwrap_or(About::NONE);
        Sounds { beat: most(&heard.beat, at), downbeat: most(&heard.downbeat, at), about }
    };
    beats.iter().map(sound).collect()
}

/// What is known about the numbering beforehand.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Known {
    /// The number of beats in every bar.
    pub beats: Option<u8>,
    /// The index of a beat that begins a bar, and of the one that begins the next bar.
    pub bar: Option<(usize, usize)>,
    /// Whether the first beat begins a bar.
    pub begins: bool,
}

/// Each beat's number in its bar, from 1, and how many beats its bar has.
pub fn number(sounds: &[Sounds], known: Known) -> Vec<(u8, u8)> {
    // A state is a number in the bar and a metre.
    let metres: Vec<u8> = known.beats.map_or_else(|| (2..=MOST).collect(), |b| vec![b.clamp(1, MOST)]);
    let states: Vec<(u8, u8)> = metres.iter().flat_map(|m| (1..=*m).map(move |n| (n, *m))).collect();
    let change = if known.bar.is_some() { CHANGE_AS_SAID } else { CHANGE };
    let value = |at: usize, (n, m): (u8, u8)| {
        if known.begins && at == 0 && n != 1 {
            return -1e6;
        }
        if let Some((first, next)) = known.bar {
            let inside = at > first && at < next;
            if (at == first || at == next) && n != 1 || inside && (n == 1 || usize::from(m) != next - first) {
                return -1e6;
            }
            if at == first && usize::from(m) != next - first {
                return -1e6;
            }
        }
        // The chance of a downbeat, given that it is a beat.
        let p = (sounds[at].downbeat / sounds[at].beat.max(0.05)).clamp(0.02, 0.98);
        let metre = METRE * sounds[at].about.of_metre(m);
        metre + if n == 1 { libm::logf(p) } else { libm::logf(1.0 - p) }
    };
    let mut worth: Vec<f32> = Vec::new();
    let mut came: Vec<Vec<u8>> = Vec::with_capacity(sounds.len());
    for at in 0..sounds.len() {
        let mut from = vec![0u8; states.len()];
        let now = (0..states.len()).map(|s| {
            let (n, m) = states[s];
            let before = if at == 0 {
                PRIOR[usize::from(m)]
            } else if n > 1 {
                from[s] = u8::try_from(s - 1).unwrap_or(0);
                worth[s - 1]
            } else {
                // A bar begins after the last beat of a bar in any metre.
                let ends = (0..states.len()).filter(|e| states[*e].0 == states[*e].1);
                let cost = |e: usize| {
                    if states[e].1 == m {
                        0.0
                    } else {
                        change + PRIOR[usize::from(states[e].1)].min(0.0) - PRIOR[usize::from(m)]
                    }
                };
                let best = ends.max_by(|a, b| (worth[*a] - cost(*a)).total_cmp(&(worth[*b] - cost(*b)))).unwrap_or(0);
                from[s] = u8::try_from(best).unwrap_or(0);
                worth[best] - cost(best)
            };
            before + value(at, states[s])
        });
        worth = now.collect::<Vec<f32>>();
        came.push(from);
    }
    let mut state =
        (0..states.len()).max_by(|a, b| worth.get(*a).unwrap_or(&0.0).total_cmp(worth.get(*b).unwrap_or(&0.0)));
    let mut out = Vec::with_capacity(sounds.len());
    for from in came.iter().rev() {
        let Some(at) = state else { break };
        out.push(states[at]);
        state = Some(usize::from(from[at]));
    }
    out.reverse();
    out
}
