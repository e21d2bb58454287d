//! Regions that are proposed: found by what changes, and nothing before a person accepts them.

use super::reading::Opened;
use letfall_core::prepared::Prepared;
use letfall_film::measure::{Filming, sightings};
use letfall_film::picture::{Proposed, Region, Regions, Sighting};
use letfall_film::study::{Step, propose};
use std::path::Path;

/// What is to be looked for: every moment at which something changes that no region shows yet.
pub fn wanted(plan: &Prepared, opened: &Opened, regions: &Regions, filming: &Filming) -> Vec<Sighting> {
    let mut wanted = sightings(plan, opened.placed.runs(), opened.sound.begins, filming);
    wanted.retain(|one| regions.regions.iter().all(|region| !region.shows.contains(&one.shows)));
    wanted
}

/// Looks through the film.
pub fn look_through(path: &Path, wanted: &[Sighting], go_on: &mut dyn FnMut(f64) -> bool) -> Result<Proposed, String> {
    let ends = wanted.iter().map(|one| one.to).fold(0.1, f64::max);
    let read = propose(path, wanted, &mut |step| match step {
        Step::Pictures(at) => go_on(at / ends),
        _ => true,
    });
    read.map_err(|why| format!("{}: {why}", path.display()))
}

/// What was found, in a sentence.
pub fn words(proposed: &Proposed) -> String {
    let found = match proposed.regions.len() {
        0 => "Nothing is seen to change when its cues should be seen; draw what is seen where".to_owned(),
        1 => "1 place is proposed; accept it if it is right".to_owned(),
        n => format!("{n} places are proposed; accept those that are right"),
    };
    if proposed.unseen.is_empty() || proposed.regions.is_empty() {
        return found;
    }
    format!("{found}. Not seen to change: {}", proposed.unseen.join(", "))
}

/// A region under a name that no other has.
pub fn named(mut region: Region, regions: &Regions) -> Region {
    let taken = |name: &str| regions.regions.iter().any(|other| other.name == name);
    let own = region.name.clone();
    let free = (2..100).map(|n| format!("{own} {n}")).find(|name| !taken(name));
    if taken(&own)
        && let Some(free) = free
    {
        region.name = free;
    }
    region
}
