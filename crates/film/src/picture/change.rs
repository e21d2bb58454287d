//! When a light or a picture changed: the moment from which the frames are best explained by what was there before going over into what
//! was there afterwards.

use super::series::{PER_ROW, ROWS, Still};
use crate::peak;
use letfall_core::time::round;

/// Rows are put together into so many, which is enough for a light and less noisy.
const GROUPS: usize = 12;
const VALUES: usize = GROUPS * PER_ROW;

/// A change that is looked for. Times are seconds of the film's clock.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Wanted {
    /// When it should land.
    pub lands: f64,
    /// How long it takes, seconds; 0 for what changes at once.
    pub fade: f64,
    /// Which share of it is done at the land, 0 to 1.
    pub share: f64,
    /// How much earlier and later it is looked for, seconds: up to the neighbours of the cue.
    pub reach: (f64, f64),
    /// From one frame to the next, seconds.
    pub step: f64,
}

/// How much before and after it is looked at, seconds.
pub const AROUND: f64 = 0.4;

impl Wanted {
    /// When it should begin.
    fn begins(&self) -> f64 {
        self.lands - self.share * self.fade
    }

    /// The stretch of the film that is needed.
    pub fn stretch(&self) -> (f64, f64) {
        let begins = self.begins();
        (begins - self.reach.0 - AROUND, begins + self.fade + self.reach.1 + AROUND)
    }
}

/// A change that was found.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Seen {
    /// When it landed, seconds of the film's clock.
    pub at: f64,
    /// It lies within this of it, either way: half a frame, twice what the noise leaves open, and what levels leave open of a fade.
    pub within: f64,
    /// Which share of what happens in the region it explains, 0 to 1.
    pub trust: f64,
    /// How large it is: levels of 255, the mean over the region.
    pub size: f64,
}

/// Why a change cannot be told.
#[derive(Debug, Clone, Copy, PartialEq, Eq, thiserror::Error)]
pub enum Unseen {
    /// The film does not show that time.
    #[error("the film does not show that time")]
    NotFilmed,
    /// Nothing changed.
    #[error("nothing changes in its region")]
    Still,
    /// Too much else changes.
    #[error("too much else changes in its region at that time")]
    Unsteady,
    /// There are several changes.
    #[error("its region changes more than once at that time, and nobody can say which is the cue's")]
    Several,
    /// It may be earlier or later than what was looked at.
    #[error("it changes at the edge of what was looked at; its cue may be planned at a wrong time")]
    Edge,
    /// The region says no sightline.
    #[error("it lands on the sightline, and its region does not say where that is")]
    NoSightline,
    /// Another cue changes the same region.
    #[error("another cue changes the same region at nearly the same time")]
    Crowded,
    /// A person left it out.
    #[error("left out by hand")]
    LeftOut,
    /// The marks of a fall are in no order in which anything falls.
    #[error("its marks are out of order: let-go comes first, then the sightline, then the floor")]
    OutOfOrder,
}

/// The least size of a change.
const LEAST_SIZE: f64 = 1.5;
/// How many times larger than the noise it must be.
const LEAST_CLEAR: f64 = 4.0;
const LEAST_TRUST: f64 = 0.6;
/// How exactly a film has a level, of 255: packing leaves small changes out until they are larger, the more so the smaller they are from one
/// picture to the next (found on films of known fades at 25 to 240 pictures a second: up to 1.2).
const LEVEL: f64 = 1.5;
/// How much of what it explains may be explained by a second change: one nearly half as large makes it unclear which is meant.
const RIVAL: f64 = 0.2;

/// Finds a change among the frames of a region, which cover its [`Wanted::stretch`].
///
/// # Errors
/// [`Unseen`].
pub fn change(stills: &[Still], wanted: &Wanted) -> Result<Seen, Unseen> {
    let (from, to) = wanted.stretch();
    let (Some(first), Some(last)) = (stills.first(), stills.last()) else { return Err(Unseen::NotFilmed) };
    let missing = 2.5 * wanted.step;
    if stills.len() < 8 || first.at > from + missing || last.at < to - missing {
        return Err(Unseen::NotFilmed);
    }
    let times: Vec<f64> = stills.iter().map(|s| s.at).collect();
    let values: Vec<Vec<f64>> = stills.iter().map(|s| grouped(&s.cells)).collect();
    search(&times, &values, wanted)
}

/// The same for any values of each frame.
pub fn search(times: &[f64], values: &[Vec<f64>], wanted: &Wanted) -> Result<Seen, Unseen> {
    let width = wanted.fade.max(wanted.step);
    // What changes at once is told from the slow answer of the camera's exposure; a fade is itself slow.
    let basis = Basis::new(times, wanted.fade < 0.5);
    let centred = centred(values, &basis);
    let fine = wanted.step / 4.0;
    let count = ((wanted.reach.0 + wanted.reach.1) / fine).ceil() as usize;
    let shapes: &[f64] = if wanted.fade > 3.0 * wanted.step { &[1.0, 0.45, 2.2] } else { &[1.0] };
    let mut best = Best { gain: 0.0, begins: 0.0, shape: 1.0 };
    let mut gains = vec![0.0f64; count + 1];
    for (n, gain) in gains.iter_mut().enumerate() {
        let begins = wanted.begins() - wanted.reach.0 + n as f64 * fine;
        for shape in shapes {
            let fit = fit(times, &centred, &basis, |t| ramp(t, begins, width, *shape));
            *gain = gain.max(fit);
            if fit > best.gain {
                best = Best { gain: fit, begins, shape: *shape };
            }
        }
    }
    let all: f64 = centred.iter().flatten().map(|v| v * v).sum();
    if all <= 0.0 || best.gain <= 0.0 {
        return Err(Unseen::Still);
    }
    let begins = finer(&gains, wanted.begins() - wanted.reach.0, fine, best.begins);
    let told = told(times, &centred, &basis, &Best { begins, ..best }, width);
    let dims = centred.first().map_or(1, Vec::len) as f64;
    let size = told.size / dims.sqrt();
    if size < LEAST_SIZE || told.size < LEAST_CLEAR * told.noise {
        return Err(if size < LEAST_SIZE { Unseen::Still } else { Unseen::Unsteady });
    }
    if told.trust < LEAST_TRUST {
        return Err(Unseen::Unsteady);
    }
    let edge = 1.5 * wanted.step;
    if begins < wanted.begins() - wanted.reach.0 + edge || begins > wanted.begins() + wanted.reach.1 - edge {
        return Err(Unseen::Edge);
    }
    let left = told.left;
    let rival = (0..=count).step_by(2).any(|n| {
        let begins = wanted.begins() - wanted.reach.0 + n as f64 * fine;
        fit(times, &left, &basis, |t| ramp(t, begins, width, best.shape)) > RIVAL * best.gain
    });
    if rival {
        return Err(Unseen::Several);
    }
    // A change at once lies between two frames: the middle is stated, and half a frame on either side.
    let at = if wanted.fade < wanted.step { begins + wanted.step / 2.0 } else { begins + wanted.share * wanted.fade };
    let noise = told.noise * (width * wanted.step).sqrt() / told.size;
    // A film has whole levels, and packing it leaves small changes out for a while: a slow fade is read to so many levels.
    let level = wanted.fade * LEVEL / size;
    Ok(Seen { at, within: wanted.step / 2.0 + 2.0 * noise + level, trust: told.trust, size })
}

struct Best {
    gain: f64,
    begins: f64,
    shape: f64,
}

/// How much of a change is done at a time: lamps and cameras bend it, so it need not be straight.
fn ramp(t: f64, begins: f64, width: f64, shape: f64) -> f64 {
    let share = ((t - begins) / width).clamp(0.0, 1.0);
    if shape == 1.0 { share } else { libm::pow(share, shape) }
}

fn grouped(cells: &[f32]) -> Vec<f64> {
    let mut values = vec![0.0; VALUES];
    let per = ROWS / GROUPS;
    for (n, value) in cells.iter().enumerate() {
        let (row, at) = (n / PER_ROW, n % PER_ROW);
        values[row / per * PER_ROW + at] += f64::from(*value) / per as f64;
    }
    values
}

/// What is taken out of everything: the mean, and a steady drift where that is wanted.
struct Basis {
    times: Vec<f64>,
    square: f64,
}

impl Basis {
    fn new(times: &[f64], drift: bool) -> Basis {
        let mean = times.iter().sum::<f64>() / times.len().max(1) as f64;
        let times: Vec<f64> = times.iter().map(|t| if drift { t - mean } else { 0.0 }).collect();
        let square = times.iter().map(|t| t * t).sum();
        Basis { times, square }
    }

    fn take_out(&self, values: &mut [f64]) {
        let mean = values.iter().sum::<f64>() / values.len().max(1) as f64;
        let slope = if self.square > 0.0 {
            values.iter().zip(&self.times).map(|(v, t)| v * t).sum::<f64>() / self.square
        } else {
            0.0
        };
        for (value, time) in values.iter_mut().zip(&self.times) {
            *value -= mean + slope * time;
        }
    }
}

/// Frame by frame, without mean and drift.
fn centred(values: &[Vec<f64>], basis: &Basis) -> Vec<Vec<f64>> {
    let dims = values.first().map_or(0, Vec::len);
    let mut out = vec![vec![0.0; dims]; values.len()];
    for dim in 0..dims {
        let mut column: Vec<f64> = values.iter().map(|v| v[dim]).collect();
        basis.take_out(&mut column);
        for (row, value) in out.iter_mut().zip(column) {
            row[dim] = value;
        }
    }
    out
}

/// How much of the squares a course of the change explains.
fn fit(times: &[f64], centred: &[Vec<f64>], basis: &Basis, course: impl Fn(f64) -> f64) -> f64 {
    let (sums, _, square) = along(times, centred, basis, course);
    if square > 1e-9 { sums.iter().map(|s| s * s).sum::<f64>() / square } else { 0.0 }
}

/// What goes along with a course: the sums for each value, the course's own shares without mean and drift, and their squares.
fn along(times: &[f64], centred: &[Vec<f64>], basis: &Basis, course: impl Fn(f64) -> f64) -> (Vec<f64>, Vec<f64>, f64) {
    let mut shares: Vec<f64> = times.iter().map(|t| course(*t)).collect();
    basis.take_out(&mut shares);
    let square: f64 = shares.iter().map(|s| s * s).sum();
    let mut sums = vec![0.0; centred.first().map_or(0, Vec::len)];
    for (row, share) in centred.iter().zip(&shares) {
        for (sum, value) in sums.iter_mut().zip(row) {
            *sum += value * share;
        }
    }
    (sums, shares, square)
}

/// The top of the gains around the best one, by a parabola.
fn finer(gains: &[f64], from: f64, fine: f64, best: f64) -> f64 {
    let n = round::nearest((best - from) / fine) as usize;
    if n == 0 || n + 1 >= gains.len() {
        return best;
    }
    // A change at once is equally well explained from anywhere between two frames: the middle of all that explain it.
    let top = gains[n];
    let alike = |n: usize| gains.get(n).is_some_and(|g| *g > top * (1.0 - 1e-9));
    let (mut low, mut high) = (n, n);
    while low > 0 && alike(low - 1) {
        low -= 1;
    }
    while alike(high + 1) {
        high += 1;
    }
    if high > low {
        return from + f64::midpoint(low as f64, high as f64) * fine;
    }
    best + peak::part(gains[n - 1], gains[n], gains[n + 1]) * fine
}

struct Told {
    size: f64,
    noise: f64,
    trust: f64,
    /// The frames without it.
    left: Vec<Vec<f64>>,
}

/// Along the direction in which it changes: how far, how noisy, and how much of what happens it explains.
fn told(times: &[f64], centred: &[Vec<f64>], basis: &Basis, best: &Best, width: f64) -> Told {
    let course = |t: f64| ramp(t, best.begins, width, best.shape);
    let (sums, shares, square) = along(times, centred, basis, course);
    let change: Vec<f64> = sums.iter().map(|s| s / square.max(1e-9)).collect();
    let size = change.iter().map(|c| c * c).sum::<f64>().sqrt();
    let (mut all, mut unexplained) = (0.0, 0.0);
    let mut left = centred.to_vec();
    for (row, share) in left.iter_mut().zip(&shares) {
        let y = row.iter().zip(&change).map(|(v, c)| v * c).sum::<f64>() / size.max(1e-9);
        all += y * y;
        unexplained += (y - size * share).powi(2);
        for (value, change) in row.iter_mut().zip(&change) {
            *value -= change * share;
        }
    }
    let freedom = (times.len() as f64 - 3.0).max(1.0);
    let trust = if all > 0.0 { 1.0 - unexplained / all } else { 0.0 };
    Told { size, noise: (unexplained / freedom).sqrt(), trust, left }
}
