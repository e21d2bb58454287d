//! A song that begins later or earlier than planned: cues at clock times may move with it, or keep their time of day.

use super::dependents;
use crate::show::{Anchor, Kind, Label, Service, Show};
use crate::time::SongSpan;

/// The cues at clock times that can keep their time of day, in the order of their labels. A release and what depends on it always go with the
/// song: the crew counts bars for them.
pub fn clock_cues(show: &Show, service: &Service) -> Vec<Label> {
    let releases = service.cues.iter().map(|cue| cue.label).filter(|label| label.kind == Kind::Release);
    let bound: Vec<Label> = releases.flat_map(|release| dependents(show, service, release)).collect();
    let keeps = |label: &Label| label.kind != Kind::Release && !bound.contains(label);
    let at_times = service.cues.iter().filter(|cue| !cue.resting && matches!(cue.at, Anchor::Clock(_)));
    let mut labels: Vec<Label> = at_times.map(|cue| cue.label).filter(keeps).collect();
    labels.sort_unstable();
    labels
}

/// The show as it goes if the song of a service begins later by `late` and its cues at clock times keep their time of day: in the song they
/// come earlier by as much. A service that is not there changes nothing.
pub fn keeping_time_of_day(show: &Show, service: usize, late: SongSpan) -> Show {
    let mut show = show.clone();
    let Some(of) = show.services.get(service) else { return show };
    let labels = clock_cues(&show, of);
    let moved = labels.iter().filter_map(|label| of.cues.get(*label)).cloned().map(|mut cue| {
        if let Anchor::Clock(at) = &mut cue.at {
            *at = *at - late;
        }
        cue
    });
    let moved: Vec<_> = moved.collect();
    show.services[service].cues.put(moved);
    show
}
