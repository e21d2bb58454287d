//! What the rig offers for cues to call up, by name.

use crate::schedule::release_land_words;
use crate::show::{Action, FadeShare, Instant, Kind, Show};

/// Something in the rig that a cue can call up.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Choice {
    /// What a cue does that calls it up.
    pub does: Action,
    /// Its name.
    pub name: String,
    /// Other texts that mean it: its key, its desk number, a shorter name.
    pub also: Vec<String>,
}

impl Choice {
    /// Whether a cue that does this calls it up. A lighting cue may have a fade of its own.
    pub fn is(&self, does: &Action) -> bool {
        match (&self.does, does) {
            (Action::Lighting { preset, .. }, Action::Lighting { preset: other, .. }) => preset == other,
            (own, does) => own == does,
        }
    }
}

/// Everything that cues of a kind can call up, in the order of the rig.
pub fn choices(show: &Show, kind: Kind) -> Vec<Choice> {
    let also = |key: &str, desk: &str| {
        let desk = desk.trim();
        let number = (!desk.is_empty()).then(|| desk.to_owned());
        number.into_iter().chain([key.to_owned()]).collect::<Vec<String>>()
    };
    match kind {
        Kind::Lighting => {
            let presets = show.presets.iter().map(|p| Choice {
                does: Action::Lighting { preset: p.key.clone(), fade: None, share: FadeShare::Start },
                name: p.name.clone(),
                also: also(p.key.as_str(), &p.desk),
            });
            presets.collect()
        }
        Kind::Media => {
            let media = show.media.iter().map(|m| Choice {
                does: Action::Media { item: m.key.clone() },
                name: m.name.clone(),
                also: also(m.key.as_str(), &m.desk),
            });
            media.collect()
        }
        Kind::Release => {
            let moments = [Instant::Sightline, Instant::LetGo, Instant::Floor];
            let releases = show.releases.iter().flat_map(|r| {
                moments.map(|lands| Choice {
                    does: Action::Release { release: r.key.clone(), lands },
                    name: format!("{}: {}", r.name, release_land_words(lands)),
                    // The name alone means the moment that is usual.
                    also: if lands == moments[0] { vec![r.name.clone(), r.key.to_string()] } else { Vec::new() },
                })
            });
            releases.collect()
        }
        Kind::Output => {
            let routes = show.routes.iter().map(|r| {
                let output = show.output(&r.output).map_or(r.output.as_str(), |o| o.name.as_str());
                Choice {
                    does: Action::Output { route: r.key.clone() },
                    name: format!("{output}: {}", r.name),
                    also: also(r.key.as_str(), &r.desk).into_iter().chain([r.name.clone()]).collect(),
                }
            });
            routes.collect()
        }
    }
}

/// The name of what a cue calls up; `None` if the rig does not have it.
pub fn action_name(show: &Show, does: &Action) -> Option<String> {
    choices(show, does.kind()).into_iter().find(|choice| choice.is(does)).map(|choice| choice.name)
}
