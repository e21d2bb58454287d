//! Looking through a film in the background: what is seen where, and what changed when.

use super::proposals;
use super::reading::{Opened, Placed};
use crate::document::Waker;
use crate::jobs::Job;
use letfall_core::prepared::Prepared;
use letfall_film::measure::{Filmed, Filming, Look, Report, SentLate, look, measure as measure_film};
use letfall_film::picture::{Proposed, Recorder, Regions};
use letfall_film::study::{Step, pictures};
use std::path::Path;
use std::sync::Arc;

/// What background work gives.
pub enum Coming {
    /// A film that was opened, of this service.
    Opened(String, Box<Opened>),
    /// Another place of it.
    Placed(Placed),
    /// What is seen where in it.
    Proposed(Proposed),
    /// What was looked for in it, and found.
    Measured(Arc<Prepared>, Box<Look>, Box<Report>),
}

/// A job of the film.
pub type FilmJob = Job<Result<Coming, String>>;

/// Finds out what is seen where, as far as no region says that yet.
pub fn propose(
    plan: &Prepared,
    opened: &Opened,
    regions: &Regions,
    filming: &Filming,
    wake: Waker,
) -> Result<FilmJob, String> {
    let wanted = proposals::wanted(plan, opened, regions, filming);
    if wanted.is_empty() {
        return Err("everything that this film may show has a region already".to_owned());
    }
    let path = opened.path.clone();
    Job::start("Looking for what is seen where", 100, wake, move |job| {
        let mut go_on = |share| job.step(hundredths(share), "picture by picture");
        Ok(Coming::Proposed(proposals::look_through(&path, &wanted, &mut go_on)?))
    })
}

/// Finds out what changed when, where regions say what is seen.
pub fn measure(
    plan: Arc<Prepared>,
    opened: &Opened,
    regions: &Regions,
    (filming, sent): (&Filming, &SentLate),
    wake: Waker,
) -> Result<FilmJob, String> {
    if regions.regions.is_empty() {
        return Err("say first what is seen where: draw a region on the picture, and say what it shows".to_owned());
    }
    regions.validate().map_err(|why| why.to_string())?;
    let runs = opened.placed.runs().to_vec();
    let look = look(&plan, regions, runs, opened.sound.begins, filming).map_err(|why| why.to_string())?;
    if look.stretches().is_empty() {
        return Err("no region shows any cue of this service that the film covers".to_owned());
    }
    let (path, regions) = (opened.path.clone(), regions.clone());
    let (filming, sent) = (*filming, sent.clone());
    Job::start("Looking for what changed", 100, wake, move |job| {
        let filmed = Filmed { plan: &plan, regions: &regions, look: &look, filming: &filming, sent: &sent };
        let report = measured(&path, &filmed, &mut |share| job.step(hundredths(share), "picture by picture"))?;
        Ok(Coming::Measured(plan, Box::new(look), Box::new(report)))
    })
}

/// How far a job of a hundred parts is.
#[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)] // 0 to 99
fn hundredths(share: f64) -> u8 {
    (share.clamp(0.0, 0.99) * 100.0) as u8
}

/// Looks at every picture that is needed.
fn measured(path: &Path, filmed: &Filmed<'_>, go_on: &mut dyn FnMut(f64) -> bool) -> Result<Report, String> {
    let mut recorder = Recorder::new(&filmed.regions.regions, filmed.look.stretches());
    let ends = recorder.ends().max(0.1);
    let read = pictures(path, &mut recorder, &mut |step| match step {
        Step::Pictures(at) => go_on(at / ends),
        _ => true,
    });
    read.map_err(|why| format!("{}: {why}", path.display()))?;
    Ok(measure_film(filmed, &recorder))
}
