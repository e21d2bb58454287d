//! Beats at one tempo for the whole song, where one explains it: which of its multiples people count, and at which moment of the period the
//! beat is. Both are decided over the whole song, so that no stretch of it jumps by half a beat.

use super::given::GivenBar;
use super::hearing::{COUNTED, Hearing, RATIOS};
use super::steady::{Folded, Rhythm, Steady, row, steady};
use super::tempo_range::TempoRange;

/// How far the tempo of beats that were tracked may be off, as a factor.
const TRACKED: f64 = 1.04;
/// The same for a bar that a person gave: each end is some hundredths of a second off.
const SAID: f64 = 0.085;
/// How many moments of a period are tried as the beat.
const MOMENTS: usize = 6;
/// How far a beat that a person gave may lie from where it is meant to be, seconds, and as a share of a beat.
const MEANT: f64 = 0.070;
const MEANT_IN_BEAT: f64 = 0.2;
/// How far it usually does, seconds.
const USUAL: f64 = 0.025;

/// Tracked beats are compared with one tempo in runs of so many intervals.
const RUN: usize = 8;
/// A run is of another tempo if its middle interval is off by more than this share from every simple ratio.
const ANOTHER: f64 = 0.02;
/// Simple ratios of intervals: beats counted otherwise.
const SIMPLE: [f64; 9] = [1.0 / 4.0, 1.0 / 3.0, 1.0 / 2.0, 2.0 / 3.0, 1.0, 3.0 / 2.0, 2.0, 3.0, 4.0];
/// How much its beats must sound like beats to speak against one tempo.
const SOUNDS: f32 = 0.5;

/// If more than this share of the runs is of another tempo, it does not matter how alike they are: two tempos in a simple ratio are.
const OTHERS: f64 = 0.15;
/// How closely tracked beats must keep to parts of the one beat, 0 to 1.
const TOGETHER: f64 = 0.8;

/// Clear beats are looked at in windows of so many; their phase counts if they keep to it so closely, 0 to 1.
const WINDOW: usize = 12;
const STEADY_PHASE: f64 = 0.7;
/// Windows that lie off beats and halves by more than this, in turns, are on another row.
const AWAY: f64 = 0.08;

/// So many windows in a row, 48 beats, leave the row also where it comes back: tracking errs for less. At the end two are enough.
const AWAY_FOR: usize = 7;

/// Weight of drums and bass that begin on beats rather than between them, and the most that counts of it. (Set on the songs of
/// tests/beats/real_songs.py, on one of which the net hears the beat half a beat late.)
const BASS: f32 = 1.0;
const MOST_BASS: f64 = 0.35;

/// How closely beats keep to halves, thirds or quarters of a steady beat throughout, 0 to 1: those of another tempo, however near, do not.
fn together(beats: &[f64], found: &Steady) -> f64 {
    let on = |parts: f64| {
        let (mut x, mut y, mut count) = (0.0, 0.0, 0.0f64);
        for at in beats {
            let turn = std::f64::consts::TAU * parts * (at - found.at) / found.period;
            (x, y, count) = (x + libm::cos(turn), y + libm::sin(turn), count + 1.0);
        }
        // Too few to say anything.
        if count < 16.0 { 1.0 } else { libm::hypot(x, y) / count }
    };
    [1.0, 2.0, 3.0, 4.0].into_iter().map(on).fold(0.0, f64::max)
}

/// How much more drums and bass begin on beats than halfway between them, -0.35 to 0.35.
fn on_beats(bass: &Folded, steady: &Steady, phase: f64) -> f32 {
    let (on, between) = (bass.strength(phase).max(0.0), bass.strength(phase + steady.period / 2.0).max(0.0));
    #[allow(clippy::cast_possible_truncation)] // a share
    if on + between > 1e-6 { ((on - between) / (on + between)).clamp(-MOST_BASS, MOST_BASS) as f32 } else { 0.0 }
}

impl Hearing {
    /// Whether beats that were tracked say that a stretch of the song has another tempo: they sound like beats, and what is heard there is
    /// not what is heard elsewhere at the one tempo.
    fn contradicts(&self, tracked: &[f64], found: &Steady) -> bool {
        if tracked.len() <= RUN {
            return false;
        }
        let sounds = super::downbeats::sounds(&self.heard, tracked);
        let clear: Vec<f64> =
            tracked.iter().zip(&sounds).filter(|(_, s)| s.beat >= SOUNDS).map(|(at, _)| *at).collect();
        if together(&clear, found) < TOGETHER || self.leaves(&clear, found) {
            return true;
        }
        let whole = self.folded(found);
        let (mut at, mut runs, mut others) = (0, 0u32, 0u32);
        while at + RUN < tracked.len() {
            let run = &tracked[at..=at + RUN];
            let middle = super::gaps::middle_gap(run).unwrap_or(found.period);
            let another = SIMPLE.iter().all(|ratio| (middle / (found.period * ratio) - 1.0).abs() > ANOTHER);
            let beats: f32 = sounds[at..=at + RUN].iter().map(|s| s.beat).sum::<f32>() / (RUN + 1) as f32;
            runs += 1;
            if another && beats >= SOUNDS {
                others += 1;
                let (off, alike) = Folded::of(&self.attacks.all, (run[0], run[RUN]), found).off(&whole);
                if alike < 0.5 || off.abs() > 0.02 {
                    return true;
                }
            }
            at += RUN / 2;
        }
        f64::from(others) > OTHERS * f64::from(runs)
    }

    /// Whether beats leave the one row for good: after a pause, or because the last part is a little faster. What goes half a beat away and
    /// comes back is how tracking errs; what stays half a beat away leaves it only if drums and bass go along.
    fn leaves(&self, clear: &[f64], found: &Steady) -> bool {
        let turn = |at: f64, parts: f64| std::f64::consts::TAU * parts * (at - found.at) / found.period;
        let mean = |beats: &[f64], parts: f64| {
            let sum =
                |of: fn(f64) -> f64| beats.iter().map(|at| of(turn(*at, parts))).sum::<f64>() / beats.len() as f64;
            (sum(libm::cos), sum(libm::sin))
        };
        let (x, y) = mean(clear, 2.0);
        // The phase of the beat or of half a beat, in turns, below a half.
        let usual = (libm::atan2(y, x) / std::f64::consts::TAU / 2.0).rem_euclid(0.5);
        // For every window of clear beats: when it begins, how far it lies off beats and halves, and whether it stands on the second of both.
        let mut windows = Vec::new();
        let mut at = 0;
        while at + WINDOW <= clear.len() {
            let beats = &clear[at..at + WINDOW];
            let (x, y) = mean(beats, 1.0);
            if libm::hypot(x, y) >= STEADY_PHASE {
                let phase = (libm::atan2(y, x) / std::f64::consts::TAU).rem_euclid(1.0);
                let off = (phase - usual + 0.25).rem_euclid(0.5) - 0.25;
                let second = ((phase - usual - off) * 2.0 + 0.5).rem_euclid(2.0) >= 1.0;
                windows.push((beats[0], off.abs(), second));
            }
            at += WINDOW / 2;
        }
        let away = |some: &[(f64, f64, bool)]| some.iter().all(|(_, off, _)| *off >= AWAY);
        // At the end there is no time for it to come back.
        let ends_away = windows.len() >= 2 && away(&windows[windows.len() - 2..]);
        if ends_away || windows.windows(AWAY_FOR).any(away) {
            return true;
        }
        let Some((.., last)) = windows.last().copied() else { return false };
        let stays = windows.iter().rev().take_while(|(.., second)| *second == last).count();
        let before = &windows[..windows.len() - stays];
        let others = before.iter().filter(|(.., second)| *second != last).count();
        if stays < 3 || before.len() < 3 || others * 4 < before.len() * 3 {
            return false;
        }
        let cut = windows[before.len()].0;
        let phase = usual * found.period;
        let bass = |stretch: (f64, f64)| {
            let bass = Folded::of(&self.attacks.bass, stretch, found);
            bass.strength(phase) - bass.strength(phase + found.period / 2.0)
        };
        bass((self.music.0, cut)) * bass((cut, self.music.1)) < 0.0
    }

    /// All attacks of the song, folded at a steady beat.
    fn folded(&self, steady: &Steady) -> Folded {
        Folded::of(&self.attacks.all, self.music, steady)
    }

    /// The beats at one tempo that people would most likely count, if one explains the song; `tracked` is what was found without that.
    pub(super) fn at_one_tempo(&self, tracked: &[f64], bpm: f64, asked: Option<TempoRange>) -> Option<Vec<f64>> {
        // Beats that are few say nothing of the rest.
        if tracked.len() < 4 {
            return None;
        }
        let rhythm = Rhythm::of(&self.attacks.all);
        let found = steady(&self.attacks.all, &rhythm, self.music, 60.0 / bpm, TRACKED)?;
        if self.contradicts(tracked, &found) {
            return None;
        }
        let mut best = (f32::NEG_INFINITY, Vec::new());
        let mut consider = |steady: &Steady, ratio: f64| {
            let bass = Folded::of(&self.attacks.bass, self.music, steady);
            for (phase, _) in self.folded(steady).moments(MOMENTS) {
                let tried = row(steady, phase, self.music);
                let likely = self.likely(&tried, bpm * ratio) + BASS * on_beats(&bass, steady, phase);
                if likely > best.0 {
                    best = (likely, tried);
                }
            }
        };
        consider(&found, 1.0);
        for ratio in RATIOS {
            let allowed = asked.is_none_or(|range| range.has(bpm * ratio)) && COUNTED.contains(&(bpm * ratio));
            if !allowed {
                continue;
            }
            if let Some(other) = steady(&self.attacks.all, &rhythm, self.music, found.period / ratio, 1.002) {
                consider(&other, ratio);
            }
        }
        best.0.is_finite().then_some(best.1)
    }

    /// The beats at one tempo that go through a bar that a person gave, if one explains the song and goes through it.
    pub(super) fn through(&self, tracked: &[f64], rhythm: &Rhythm, bar: GivenBar, count: u8) -> Option<Vec<f64>> {
        let length = bar.length()?;
        let beat = length / f64::from(count);
        let found = steady(&self.attacks.all, rhythm, self.music, beat, 1.0 + SAID / length)?;
        if self.contradicts(tracked, &found) {
            return None;
        }
        // By the beats of the bar, each as far off as a hand is.
        let off = |phase: f64, given: f64| {
            let turn = (given - found.at - phase) / found.period;
            (turn - libm::round(turn)) * found.period
        };
        let given = || (0..=count).map(|k| bar.from + beat * f64::from(k));
        let most = MEANT.min(MEANT_IN_BEAT * found.period);
        let apart = |phase: f64| given().map(|at| off(phase, at).abs()).fold(0.0, f64::max);
        let tops = self.folded(&found).moments(MOMENTS);
        let loudest = tops.iter().map(|(_, value)| *value).fold(1e-9, f64::max);
        let worth = |(phase, value): &(f64, f64)| {
            let mean = given().map(|at| off(*phase, at)).sum::<f64>() / f64::from(count + 1);
            value / loudest - (mean / USUAL).powi(2) / 2.0
        };
        // Where nothing begins to sound near the given beats, they themselves are the beat: what a person says is law.
        let own = {
            let turn = (bar.from - found.at) / found.period;
            (turn - libm::floor(turn)) * found.period
        };
        let phase = tops
            .iter()
            .filter(|(phase, _)| apart(*phase) <= most)
            .max_by(|a, b| worth(a).total_cmp(&worth(b)))
            .map_or(own, |(phase, _)| *phase);
        (apart(phase) <= most).then(|| row(&found, phase, self.music))
    }
}
