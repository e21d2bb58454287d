//! Which cues a command applies to.

use crate::cli;
use letfall_core::edit::{Clash, Match, Pick};
use letfall_core::show::{Kind, Label, Service};
use letfall_files::Failure;

impl From<cli::Kind> for Kind {
    fn from(kind: cli::Kind) -> Kind {
        match kind {
            cli::Kind::Media => Kind::Media,
            cli::Kind::Lighting => Kind::Lighting,
            cli::Kind::Release => Kind::Release,
            cli::Kind::Output => Kind::Output,
        }
    }
}

/// The labels of the cues that match every option given.
pub fn labels(which: &cli::Which, service: &Service) -> Result<Vec<Label>, Failure> {
    let mut picks = Vec::new();
    if let Some(text) = &which.cues {
        picks.push(Pick::labels(text).map_err(Failure::Use)?);
    }
    if let Some(kind) = which.kind {
        picks.push(Pick::Kind(kind.into()));
    }
    if let Some(text) = &which.bars {
        picks.push(Pick::bars(text).map_err(Failure::Use)?);
    }
    if let Some(name) = &which.section {
        if !service.song.sections.iter().any(|s| s.name == *name) {
            return Err(Failure::Use(format!(
                "service \"{}\" has no section \"{name}\"; choose one that it has",
                service.name
            )));
        }
        picks.push(Pick::Section(name.clone()));
    }
    let mut chosen = Pick::All.of(service);
    for pick in picks {
        let these = pick.of(service);
        chosen.retain(|label| these.binary_search(label).is_ok());
    }
    if chosen.is_empty() {
        return Err(Failure::Use(format!("no cue of service \"{}\" is meant by that; choose others", service.name)));
    }
    Ok(chosen)
}

/// Converts the command line's way of matching positions to the core's.
pub const fn matching(given: cli::Match) -> Match {
    match given {
        cli::Match::Bars => Match::Bars,
        cli::Match::Sections => Match::Sections,
        cli::Match::Clock => Match::Clock,
    }
}

/// Converts the command line's way of settling clashes to the core's.
pub const fn clash(given: cli::Clash) -> Clash {
    match given {
        cli::Clash::Keep => Clash::Keep,
        cli::Clash::Replace => Clash::Replace,
        cli::Clash::Both => Clash::Both,
    }
}
