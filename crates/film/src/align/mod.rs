//! Where a film lies against a song, by its sound and the song's guide.
//!
//! First, places at which sounds begin alike in both; they are many where a song repeats itself. Then each is looked at closely: stretches
//! of two seconds are compared to a part of a millisecond, and a place counts if enough of them agree on one straight line, which two
//! clocks follow. What fits at two places equally well is refused: nobody could say which is right.

mod candidates;
mod key;
mod line;
mod onsets;
mod phase;
mod timecode;

pub use timecode::by_timecode;

use crate::sound::{RATE, at_comparing_rate};
use line::{AGREES, Line};
use onsets::Onsets;
use phase::{Heard, Phases, STRETCH};

/// From one stretch to the next, in samples: half a stretch.
const HOP: usize = STRETCH / 2;
/// How many stretches give a first idea of a place.
const FIRST: usize = 16;
/// How many of those must agree for a closer look.
const FIRST_AGREE: usize = 4;
/// How many stretches must agree for a place to count.
const LEAST_AGREE: usize = 6;
/// Which share of a run's stretches must agree. Of 160 films with known truth the least was 0.82 (a church, far away); of 500 wrong pairs one
/// came to 0.73, later bars of a song whose drums are the same from sample to sample.
const LEAST_SHARE: f64 = 0.78;
/// From which share on another place speaks against the first: where a loop goes round and round, many places fit nearly as well.
const RIVAL_SHARE: f64 = 0.6;
/// A gap longer than this between stretches that agree ends a run, in samples: 12 s.
const GAP: f64 = 12.0 * RATE as f64;
/// How clear a stretch must be to speak for a place.
const CLEAR: f32 = 1.15;

/// By what a run was laid against the song.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum LaidBy {
    /// The guide is heard in the film.
    Sound,
    /// A person has said one place.
    Hand,
    /// The timecode is written in the film's sound. It came by wire, and not through the air.
    Timecode,
}

/// Whether runs were laid by what came by wire.
pub fn by_wire(runs: &[Run]) -> bool {
    runs.iter().any(|run| run.by == LaidBy::Timecode)
}

/// One time that the song, or a part of it, is heard in the film.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Run {
    /// Its beginning in the film, seconds.
    pub from: f64,
    /// Its end in the film, seconds.
    pub to: f64,
    /// The song's place at the beginning of the film, seconds. It may lie before the song, or after it.
    pub offset: f64,
    /// How much faster the song goes by the film's clock than by its own, as a share: 50e-6 is 50 millionths.
    pub drift: f64,
    /// How many times slower the film plays than it was filmed: 1, or 2, 4 or 8 for slow motion whose sound is slow too.
    pub slow: f64,
    /// The standard uncertainty of a place in the song, seconds.
    pub standard: f64,
    /// How many stretches agree, or frames of the timecode were read.
    pub agree: usize,
    /// How many could have.
    pub of: usize,
    /// By what it was laid there.
    pub by: LaidBy,
}

impl Run {
    /// What of the song is heard at a time of the film, both in seconds.
    pub fn song(&self, film: f64) -> f64 {
        self.offset + film * (1.0 + self.drift) / self.slow
    }

    /// When in the film a place of the song is heard, both in seconds.
    pub fn film(&self, song: f64) -> f64 {
        (song - self.offset) * self.slow / (1.0 + self.drift)
    }

    /// A run of which a person says one place, both in seconds: nobody knows where it ends. The film plays `slow` times slower than it was
    /// filmed.
    pub fn by_hand(film: f64, song: f64, slow: f64) -> Run {
        // A hand is exact to a tenth of a second or so (common practice, no source).
        Run::through(film, song, slow, 0.05)
    }

    /// The same by the beginning of a clap, a click or a drum, which is found to a few milliseconds.
    pub fn by_sudden(film: f64, song: f64, slow: f64) -> Run {
        Run::through(film, song, slow, 0.003)
    }

    fn through(film: f64, song: f64, slow: f64, standard: f64) -> Run {
        let (from, to, offset) = (0.0, f64::MAX, song - film / slow);
        Run { from, to, offset, drift: 0.0, slow, standard, agree: 0, of: 0, by: LaidBy::Hand }
    }

    /// The share of stretches that agree, 0 to 1.
    pub fn trust(&self) -> f64 {
        self.agree as f64 / self.of.max(1) as f64
    }
}

/// Why a film could not be laid against a song.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum Refusal {
    /// There is no sound.
    #[error("{0} is silent, so it cannot be laid against the song by its sound")]
    Silent(&'static str),
    /// It is too short.
    #[error("{0} has less than {1} s of sound, which is too little to find its place in the song")]
    Short(&'static str, u32),
    /// It is another song.
    #[error(
        "the guide is not heard in the film: it may be another song, another version or speed, or too far away; say one place by hand"
    )]
    NotHeard,
    /// It is the same song, higher or lower.
    #[error(
        "what is heard in the film is the guide {} semitone{} {}: another version of the song, which may be played otherwise; take the guide \
         that is played, or say one place by hand",
        .0.abs(), if .0.abs() == 1 { "" } else { "s" }, if *.0 > 0 { "higher" } else { "lower" }
    )]
    AnotherKey(i32),
    /// It fits at several places.
    #[error(
        "the song repeats itself, and the film fits it equally well at {}; film more of the song, or say one place by hand",
        .0.iter().map(|s| format!("{s:.1} s")).collect::<Vec<_>>().join(" and ")
    )]
    Repeats(Vec<f64>),
    /// Somebody stopped it.
    #[error("it was stopped")]
    Stopped,
}

/// The least sound that is laid against a song, seconds.
const LEAST: u32 = 8;

/// A place of which enough stretches speak.
struct Found {
    line: Line,
    /// Where the stretches that agree lie, and how near the line, in samples.
    agree: Vec<Heard>,
    /// Where all stretches lie that could have agreed.
    could: Vec<f64>,
    /// Which share of the stretches within it agree, 0 to 1.
    share: f64,
}

impl Found {
    fn could_at(&self, at: f64) -> bool {
        self.could.iter().any(|other| (other - at).abs() < 1.0)
    }

    fn agrees_at(&self, at: f64) -> bool {
        self.agree.iter().any(|h| (h.at - at).abs() < 1.0)
    }
}

/// Finds every run of a song in a film. Both are mono at [`RATE`]. `go_on` is called with how far it is, 0 to 1, and says whether to.
///
/// # Errors
/// [`Refusal`].
pub fn align(film: &[f32], guide: &[f32], mut go_on: impl FnMut(f64) -> bool) -> Result<Vec<Run>, Refusal> {
    for (what, sound) in [("the film", film), ("the guide", guide)] {
        if sound.len() < (LEAST * RATE) as usize {
            return Err(Refusal::Short(what, LEAST));
        }
        if sound.iter().all(|s| s.abs() < 1e-4) {
            return Err(Refusal::Silent(what));
        }
    }
    let places = candidates::candidates(&Onsets::of(film), &Onsets::of(guide));
    let mut phases = Phases::new(film, guide);
    let mut found: Vec<Found> = Vec::new();
    for (n, place) in places.iter().enumerate() {
        if !go_on((n as f64 + 1.0) / (places.len() as f64 + 1.0)) {
            return Err(Refusal::Stopped);
        }
        let known = |f: &Found| f.agree.iter().any(|h| (f.line.at(h.at) - *place as f64).abs() < 2.0 * AGREES);
        if !found.iter().any(known) {
            found.extend(looked_at(&mut phases, *place));
        }
    }
    let runs = runs(found)?;
    for run in &runs {
        let higher = key::higher(film, guide, (run.from, run.to), |at| run.song(at));
        if higher != 0 {
            return Err(Refusal::AnotherKey(higher));
        }
    }
    Ok(runs)
}

/// The same for a film that may play slower than it was filmed, 2, 4 or 8 times, with its sound.
///
/// # Errors
/// [`Refusal`].
pub fn align_slowed(film: &[f32], guide: &[f32], mut go_on: impl FnMut(f64) -> bool) -> Result<Vec<Run>, Refusal> {
    let first = align(film, guide, &mut go_on);
    if first != Err(Refusal::NotHeard) {
        return first;
    }
    for slow in [2u32, 4, 8] {
        let fast = at_comparing_rate(RATE * slow, |take| take(film));
        let slow = f64::from(slow);
        match align(&fast, guide, &mut go_on) {
            Ok(runs) => {
                let stretched = |run: &Run| Run { from: run.from * slow, to: run.to * slow, slow, ..*run };
                return Ok(runs.iter().map(stretched).collect());
            }
            Err(Refusal::NotHeard | Refusal::Short(..)) => {}
            Err(why) => return Err(why),
        }
    }
    first
}

/// What speaks for a place: first a few stretches, then all.
fn looked_at(phases: &mut Phases<'_>, place: i64) -> Vec<Found> {
    let all: Vec<usize> = phases.stretches(place, HOP).collect();
    // By powers of two and from the film's beginning, so that different places are tried with the same stretches.
    let every = HOP * all.len().div_ceil(FIRST).max(1).next_power_of_two();
    let few = all.iter().filter(|from| **from % every == 0);
    let first: Vec<Heard> = few.filter_map(|from| phases.heard(*from, place)).collect();
    let clear: Vec<Heard> = first.iter().copied().filter(|h| h.clear >= CLEAR).collect();
    let agree = line::line(&clear).map_or(0, |line| clear.iter().filter(|h| line.agrees(h)).count());
    // A run may be a small part of a long film: of stretches that lie apart few fall into it.
    if agree < FIRST_AGREE.min(all.len() / 4).max(2) {
        return Vec::new();
    }
    let heard: Vec<Heard> = all.iter().filter_map(|from| phases.heard(*from, place)).collect();
    parts(&heard)
}

/// The runs of one place: where in the film stretches agree, without long gaps.
fn parts(heard: &[Heard]) -> Vec<Found> {
    let Some(line) = line::line(heard) else { return Vec::new() };
    let agree: Vec<Heard> = heard.iter().copied().filter(|h| line.agrees(h) && h.clear >= CLEAR).collect();
    let mut parts: Vec<Vec<Heard>> = Vec::new();
    for one in agree {
        match parts.last_mut() {
            Some(part) if part.last().is_some_and(|last| one.at - last.at <= GAP) => part.push(one),
            _ => parts.push(vec![one]),
        }
    }
    parts
        .into_iter()
        .filter_map(|agree| {
            let (from, to) = (agree.first()?.at, agree.last()?.at);
            let could: Vec<f64> = heard.iter().map(|h| h.at).filter(|at| (from..=to).contains(at)).collect();
            let enough = agree.len() >= LEAST_AGREE && agree.len() as f64 >= RIVAL_SHARE * could.len() as f64;
            let share = agree.len() as f64 / could.len().max(1) as f64;
            let could = heard.iter().map(|h| h.at).collect();
            enough.then_some(Found { line, agree, could, share })
        })
        .collect()
}

/// Places that speak for different parts of the film are different runs. Of two that speak for the same part the better one counts, if the
/// other is contradicted by stretches that would have to agree with it; if not, nobody can tell.
fn runs(mut found: Vec<Found>) -> Result<Vec<Run>, Refusal> {
    found.sort_by_key(|f| std::cmp::Reverse(f.agree.len()));
    let mut kept: Vec<Found> = Vec::new();
    let mut unclear: Option<(f64, f64)> = None;
    for one in found {
        let rival = kept.iter().find(|better| {
            let shared = one.agree.iter().filter(|h| better.agrees_at(h.at)).count();
            shared * 3 >= one.agree.len()
        });
        let Some(better) = rival else {
            kept.push(one);
            continue;
        };
        let same = better.agree.iter().any(|h| (one.line.at(h.at) - better.line.at(h.at)).abs() < 2.0 * AGREES);
        if same {
            continue;
        }
        // Where both could agree: what speaks for one and against the other. A right place is never contradicted by what speaks for a
        // wrong one; two wrong ones contradict each other.
        let for_better = better.agree.iter().filter(|h| one.could_at(h.at) && !one.agrees_at(h.at)).count();
        let for_one = one.agree.iter().filter(|h| better.could_at(h.at) && !better.agrees_at(h.at)).count();
        if for_better < 4 + 3 * for_one || for_better * 5 < one.agree.len() {
            let song = |f: &Found| (f.line.at(f.agree[0].at) + f.agree[0].at) / f64::from(RATE);
            unclear = unclear.or(Some((song(better), song(&one))));
        }
    }
    if let Some((one, other)) = unclear {
        return Err(Refusal::Repeats(vec![one, other]));
    }
    kept.retain(|found| found.share >= LEAST_SHARE);
    if kept.is_empty() {
        return Err(Refusal::NotHeard);
    }
    let mut runs: Vec<Run> = kept.iter().map(run).collect();
    runs.sort_by(|a, b| a.from.total_cmp(&b.from));
    Ok(apart(runs))
}

/// Where two runs claim one part of the film, as they do where the song repeats itself before a cut, neither has it, nor what lies so near that
/// it was heard in the same stretch.
fn apart(mut runs: Vec<Run>) -> Vec<Run> {
    let near = STRETCH as f64 / f64::from(RATE);
    for n in 1..runs.len() {
        let (from, to) = (runs[n].from, runs[n - 1].to);
        if from < to {
            runs[n - 1].to = from - near;
            runs[n].from = to + near;
        }
    }
    runs.retain(|run| run.from < run.to);
    runs
}

fn run(found: &Found) -> Run {
    let rate = f64::from(RATE);
    let (first, last) = (found.agree[0].at, found.agree[found.agree.len() - 1].at);
    let half = STRETCH as f64 / 2.0;
    let squares: f64 = found.agree.iter().map(|h| (h.place - found.line.at(h.at)).powi(2)).sum();
    let count = found.agree.len() as f64;
    // Each stretch overlaps the next by half, so half as many say something of their own. A tenth of a millisecond is what the sampling
    // leaves open.
    let standard = libm::sqrt(squares / count / (count / 2.0) + (1e-4 * rate).powi(2)) / rate;
    Run {
        from: (first - half) / rate,
        to: (last + half) / rate,
        offset: found.line.offset / rate,
        drift: found.line.drift,
        slow: 1.0,
        standard,
        agree: found.agree.len(),
        of: found.could.iter().filter(|at| (first..=last).contains(*at)).count(),
        by: LaidBy::Sound,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// As the demo show's song gives them, whose second verse is cut in one service.
    #[test]
    fn two_runs_do_not_claim_one_part_of_the_film() {
        let run = |from, to| Run { from, to, ..Run::by_hand(0.0, 0.0, 1.0) };
        let parted = apart(vec![run(0.0, 98.0), run(82.0, 172.0), run(180.0, 200.0)]);
        let claims: Vec<(f64, f64)> = parted.iter().map(|run| (run.from, run.to)).collect();
        assert_eq!(claims, [(0.0, 82.0 - 2.048), (98.0 + 2.048, 172.0), (180.0, 200.0)]);
        assert_eq!(apart(vec![run(0.0, 5.0), run(1.0, 30.0)]).len(), 1, "nothing is left of the first");
    }
}
