//! Where in the picture something of the show is seen: what changes whenever its cues land. Rectangles are proposed, and a person accepts them.

use super::series::mean_colour;
use super::{Frame, HIGH, Region, WIDE};
use std::collections::BTreeSet;

/// How a thing of the show is seen.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Kind {
    /// A fabric that falls.
    Falls,
    /// An output's screen.
    Screen,
    /// A receiver's lights.
    Light,
    /// A player, which is seen on screens.
    Player,
}

/// A moment at which something should change in the picture.
#[derive(Debug, Clone, PartialEq)]
pub struct Sighting {
    /// The name of the receiver, output or fabric.
    pub shows: String,
    /// How it is seen.
    pub kind: Kind,
    /// When the change should begin, and when it should be over, seconds of the film's clock.
    pub from: f64,
    /// See `from`.
    pub to: f64,
    /// How many times slower the film plays than it was filmed.
    pub slow: f64,
    /// For a fabric: where the sightline is, as a share of its height from the top.
    pub sightline: Option<f64>,
}

const POINTS: usize = WIDE * HIGH;
/// Levels are taken over so long, seconds.
const LEVEL: f64 = 1.0;
/// And so much away from the change, because devices are late, seconds.
const EARLY: f64 = 0.2;
const LATE: f64 = 0.9;
/// The most moments that are looked at for one thing.
const MOST: usize = 6;
/// The least change, levels of 255.
const LEAST_CHANGE: f64 = 6.0;
/// The least width and height of what is proposed, as a share of the picture.
const LEAST_SIDE: f64 = 0.05;
/// How much of a rectangle must change.
const LEAST_FULL: f64 = 0.6;
/// Columns and rows of the coarse picture in which falling is told from changing at once.
const COLUMNS: usize = 24;
const LINES: usize = 18;
/// What falls takes at least so long from top to bottom, seconds.
const LEAST_FALL: f64 = 0.3;

/// The mean of some frames.
#[derive(Debug, Clone)]
struct Level {
    from: f64,
    to: f64,
    sums: Vec<f32>,
    count: u32,
}

impl Level {
    fn over(from: f64, to: f64) -> Level {
        Level { from, to, sums: Vec::new(), count: 0 }
    }

    fn take(&mut self, frame: Frame<'_>) {
        if !(self.from..=self.to).contains(&frame.at) {
            return;
        }
        self.sums.resize(POINTS * 3, 0.0);
        self.sums.iter_mut().zip(frame.rgb).for_each(|(sum, value)| *sum += f32::from(*value));
        self.count += 1;
    }
}

/// What changes at nearly the same time as something else, from what says most of a moment to what says least.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
enum Beside {
    Nothing,
    Something,
    AFall,
}

struct Moment {
    of: Sighting,
    /// What else changes at nearly the same time.
    beside: Beside,
    before: Level,
    after: Level,
    /// For a fall: coarse pictures from before to after.
    course: Vec<(f64, Vec<f32>)>,
}

impl Moment {
    fn new(of: Sighting) -> Moment {
        let [level, early, late] = [LEVEL, EARLY, LATE].map(|secs| secs * of.slow);
        let before = Level::over(of.from - early - level, of.from - early);
        let after = Level::over(of.to + late, of.to + late + level);
        Moment { of, beside: Beside::Nothing, before, after, course: Vec::new() }
    }

    fn touches(&self, other: &Sighting) -> bool {
        other.shows != self.of.shows && other.from < self.after.to && other.to > self.before.from
    }

    /// How much every point changes, 0 to 1 of what is usual where anything does. `None` if nothing does.
    fn changed(&self) -> Option<Vec<f64>> {
        if self.before.count < 3 || self.after.count < 3 {
            return None;
        }
        let mean = |level: &Level, n: usize| f64::from(level.sums[n]) / f64::from(level.count);
        let apart = |n: usize| mean(&self.after, n) - mean(&self.before, n);
        let size = |point: usize| ((0..3).map(|c| apart(point * 3 + c).powi(2)).sum::<f64>() / 3.0).sqrt();
        let sizes = smoothed(&(0..POINTS).map(size).collect::<Vec<f64>>());
        let mut some: Vec<f64> = sizes.iter().copied().filter(|size| *size > LEAST_CHANGE).collect();
        some.sort_by(f64::total_cmp);
        let usual = *some.get(some.len() * 3 / 4)?;
        Some(sizes.iter().map(|size| (size / usual).min(1.0)).collect())
    }

    /// Which points belong to what falls: in its columns, lower lines change later.
    fn falling(&self) -> Vec<bool> {
        let mut falls = vec![false; COLUMNS * LINES];
        let shown = |from: f64, to: f64| self.course.iter().filter(move |(at, _)| (from..=to).contains(at));
        let mean = |level: &Level| {
            let mut sums = vec![0.0; COLUMNS * LINES * 3];
            let count = shown(level.from, level.to).count().max(1) as f64;
            for (_, cells) in shown(level.from, level.to) {
                sums.iter_mut().zip(cells).for_each(|(sum, value)| *sum += f64::from(*value) / count);
            }
            sums
        };
        let (before, after) = (mean(&self.before), mean(&self.after));
        // When a cell is half way; `None` if it does not change.
        let half = |cell: usize| {
            let span = cell * 3..cell * 3 + 3;
            let square: f64 = span.clone().map(|n| (after[n] - before[n]).powi(2)).sum();
            if (square / 3.0).sqrt() < LEAST_CHANGE {
                return None;
            }
            let along = |cells: &[f32]| {
                span.clone().map(|n| (f64::from(cells[n]) - before[n]) * (after[n] - before[n])).sum::<f64>() / square
            };
            self.course.iter().find(|(_, cells)| along(cells) > 0.5).map(|(at, _)| *at)
        };
        for column in 0..COLUMNS {
            let times: Vec<Option<f64>> = (0..LINES).map(|line| half(line * COLUMNS + column)).collect();
            let mut line = 0;
            while line < LINES {
                let begins = line;
                while line + 1 < LINES && times[line].zip(times[line + 1]).is_some_and(|(a, b)| b >= a) {
                    line += 1;
                }
                let took = times[begins].zip(times[line]).map_or(0.0, |(a, b)| b - a);
                if took > LEAST_FALL * self.of.slow && line - begins >= 2 {
                    (begins..=line).for_each(|line| falls[line * COLUMNS + column] = true);
                }
                line += 1;
            }
        }
        // Its edges lie somewhere in the cells beside.
        let there = |x: usize, y: usize| {
            let near = |v: usize, most: usize| v.saturating_sub(1)..(v + 2).min(most);
            near(y, LINES).any(|line| near(x, COLUMNS).any(|column| falls[line * COLUMNS + column]))
        };
        (0..POINTS).map(|point| there(point % WIDE * COLUMNS / WIDE, point / WIDE * LINES / HIGH)).collect()
    }
}

/// Means over five by five points: what is left of the noise does not look like a change, and edges stay where they are.
fn smoothed(values: &[f64]) -> Vec<f64> {
    const REACH: usize = 2;
    let along = |values: &[f64], length: usize, stride: usize, start: usize| -> Vec<f64> {
        let at = |n: usize| values[start + n * stride];
        (0..length)
            .map(|n| {
                let (from, to) = (n.saturating_sub(REACH), (n + REACH + 1).min(length));
                (from..to).map(at).sum::<f64>() / (to - from) as f64
            })
            .collect()
    };
    let mut across = Vec::with_capacity(POINTS);
    (0..HIGH).for_each(|y| across.extend(along(values, WIDE, 1, y * WIDE)));
    let mut both = vec![0.0; POINTS];
    for x in 0..WIDE {
        for (y, value) in along(&across, HIGH, WIDE, x).into_iter().enumerate() {
            both[y * WIDE + x] = value;
        }
    }
    both
}

/// The rectangle with the largest sum, from and to: across, then down.
fn richest(scores: &[f64]) -> Option<([usize; 2], [usize; 2])> {
    let mut best = (0.0, None);
    for top in 0..HIGH {
        let mut columns = [0.0; WIDE];
        for bottom in top..HIGH {
            columns.iter_mut().zip(&scores[bottom * WIDE..]).for_each(|(sum, score)| *sum += score);
            // The best stretch of columns (Kadane).
            let (mut sum, mut from) = (0.0, 0);
            for (x, column) in columns.iter().enumerate() {
                if sum <= 0.0 {
                    (sum, from) = (0.0, x);
                }
                sum += column;
                if sum > best.0 {
                    best = (sum, Some(([from, x + 1], [top, bottom + 1])));
                }
            }
        }
    }
    best.1
}

/// Watches a film for where something changes.
pub struct Watcher {
    moments: Vec<Moment>,
    /// Every name that is looked for, in the order of its kind.
    names: BTreeSet<(Kind, String)>,
}

/// What is proposed.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Proposed {
    /// A region for each thing that was seen to change.
    pub regions: Vec<Region>,
    /// What was not seen to change.
    pub unseen: Vec<String>,
}

impl Watcher {
    /// For these moments.
    pub fn new(sightings: &[Sighting]) -> Watcher {
        let names = sightings.iter().map(|one| (one.kind, one.shows.clone())).collect();
        let mut moments: Vec<Moment> = sightings.iter().cloned().map(Moment::new).collect();
        // In order, so that each looks only at those near it, however many runs a film has.
        let mut others: Vec<&Sighting> = sightings.iter().collect();
        others.sort_by(|a, b| a.from.total_cmp(&b.from));
        let longest = others.iter().map(|other| other.to - other.from).fold(0.0, f64::max);
        for moment in &mut moments {
            let first = others.partition_point(|other| other.from < moment.before.from - longest);
            let near = others[first..].iter().take_while(|other| other.from < moment.after.to);
            let beside = near.filter(|other| moment.touches(other)).map(|other| match other.kind {
                Kind::Falls => Beside::AFall,
                _ => Beside::Something,
            });
            moment.beside = beside.max().unwrap_or(Beside::Nothing);
        }
        moments.sort_by(|a, b| a.beside.cmp(&b.beside).then(a.of.from.total_cmp(&b.of.from)));
        let mut kept: Vec<Moment> = Vec::new();
        for moment in moments {
            let mut same = kept.iter().filter(|one| (one.of.kind, &one.of.shows) == (moment.of.kind, &moment.of.shows));
            // Only those that say most of it.
            if same.clone().count() < MOST && same.all(|one| one.beside == moment.beside) {
                kept.push(moment);
            }
        }
        Watcher { moments: kept, names }
    }

    /// When the last moment is over, seconds of the film's clock: later frames are not needed.
    pub fn ends(&self) -> f64 {
        self.moments.iter().map(|moment| moment.after.to).fold(0.0, f64::max)
    }

    /// Takes a frame.
    pub fn take(&mut self, frame: Frame<'_>) {
        for moment in &mut self.moments {
            moment.before.take(frame);
            moment.after.take(frame);
            if moment.of.kind == Kind::Falls && (moment.before.from..=moment.after.to).contains(&frame.at) {
                moment.course.push((frame.at, coarse(frame.rgb)));
            }
        }
    }

    /// What it has seen.
    pub fn proposed(&self) -> Proposed {
        let mut proposed = Proposed::default();
        // Points that fall, and points that are taken.
        let mut falls = vec![false; POINTS];
        let falling = self.moments.iter().filter(|moment| moment.of.kind == Kind::Falls).map(Moment::falling);
        falling.for_each(|of| falls.iter_mut().zip(of).for_each(|(to, falls)| *to |= falls));
        let mut taken = vec![false; POINTS];
        for (kind, name) in &self.names {
            let of = || self.moments.iter().filter(|moment| moment.of.shows == *name && moment.of.kind == *kind);
            let found = found(&of().collect::<Vec<_>>(), &taken, &falls).filter(|_| proposed.regions.len() < 24);
            if proposed.regions.iter().any(|region| region.name == *name) {
                // A fabric and what is shown on it may have one name.
                continue;
            }
            let Some((across, down)) = found else {
                proposed.unseen.push(name.clone());
                continue;
            };
            let region = Region {
                name: name.clone(),
                x: across[0] as f64 / WIDE as f64,
                y: down[0] as f64 / HIGH as f64,
                w: (across[1] - across[0]) as f64 / WIDE as f64,
                h: (down[1] - down[0]) as f64 / HIGH as f64,
                shows: vec![name.clone()],
                sightline: of().find_map(|moment| moment.of.sightline),
            };
            if *kind == Kind::Player {
                // A player is seen on a screen, and nowhere else.
                let screens =
                    proposed.regions.iter_mut().filter(|on| self.names.contains(&(Kind::Screen, on.name.clone())));
                let on = screens.max_by(|a, b| common(a, &region).total_cmp(&common(b, &region)));
                match on.filter(|on| common(on, &region) > 0.6 * region.w * region.h) {
                    Some(on) if !on.shows.contains(name) => on.shows.push(name.clone()),
                    Some(_) => {}
                    None => proposed.unseen.push(name.clone()),
                }
                continue;
            }
            for y in down[0]..down[1] {
                taken[y * WIDE + across[0]..y * WIDE + across[1]].fill(true);
            }
            proposed.regions.push(region);
        }
        proposed.unseen.retain(|name| proposed.regions.iter().all(|region| !region.shows.contains(name)));
        proposed.unseen.dedup();
        proposed
    }
}

/// Where a thing is seen.
fn found(moments: &[&Moment], taken: &[bool], falls: &[bool]) -> Option<([usize; 2], [usize; 2])> {
    let kind = moments.first()?.of.kind;
    let mut scores = vec![0.0; POINTS];
    let mut count = 0.0;
    for moment in moments {
        let Some(changed) = moment.changed() else { continue };
        scores.iter_mut().zip(changed).for_each(|(sum, share)| *sum += share);
        count += 1.0;
    }
    if count < 1.0 {
        return None;
    }
    let falls_beside = moments.iter().any(|moment| moment.beside == Beside::AFall);
    for (point, score) in scores.iter_mut().enumerate() {
        let other = match kind {
            Kind::Falls => !falls[point],
            Kind::Screen => taken[point] || falls_beside && falls[point],
            Kind::Light => taken[point],
            Kind::Player => falls_beside && falls[point],
        };
        *score = if other { -1.0 } else { *score / count - 0.5 };
    }
    let (across, down) = richest(&scores)?;
    let sum: f64 =
        (down[0]..down[1]).map(|y| scores[y * WIDE + across[0]..y * WIDE + across[1]].iter().sum::<f64>()).sum();
    let (wide, high) = (across[1] - across[0], down[1] - down[0]);
    let full = sum / (wide * high) as f64 + 0.5 >= LEAST_FULL;
    let large = wide as f64 >= LEAST_SIDE * WIDE as f64 && high as f64 >= LEAST_SIDE * HIGH as f64;
    (full && large).then_some((across, down))
}

/// The size of what two regions have in common, as a share of the picture.
fn common(a: &Region, b: &Region) -> f64 {
    let along = |a: f64, aw: f64, b: f64, bw: f64| ((a + aw).min(b + bw) - a.max(b)).max(0.0);
    along(a.x, a.w, b.x, b.w) * along(a.y, a.h, b.y, b.h)
}

/// The mean colours of a coarse picture.
fn coarse(rgb: &[u8]) -> Vec<f32> {
    let (wide, high) = (WIDE / COLUMNS, HIGH / LINES);
    let cell = |n: usize| {
        let (left, top) = (n % COLUMNS * wide, n / COLUMNS * high);
        mean_colour(rgb, left..left + wide, top..top + high)
    };
    (0..COLUMNS * LINES).flat_map(cell).collect()
}
