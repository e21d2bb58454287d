//! Plans a handover: the picture leaves the fabric's output and arrives on another, each at its own moment of the fall.
//! Planning makes the two output cues, or updates the ones it made before.

use super::step::{Edit, EditError, service};
use crate::schedule::Schedule;
use crate::show::{
    Action, Anchor, Cue, CueList, Handover, HandoverStep, Instant, Kind, Label, Service, Show, TrackKey,
};
use crate::stage::Stage;
use crate::time::{SongSpan, SongTime};

/// When one side of a handover is to land, relative to the release's own land.
fn after_land(schedule: &Schedule, stage: &Stage, release: Label, step: &HandoverStep) -> Option<SongSpan> {
    let land = schedule.rows.iter().find(|row| row.label == release)?.land;
    let fall = stage.falling.iter().find(|f| f.by == release)?;
    let moment: SongTime = match step.after {
        Instant::LetGo => fall.let_go,
        Instant::Sightline => fall.sightline(),
        Instant::Floor => fall.floor(),
    };
    Some(moment + step.offset - land)
}

/// The anchor moved later by a time span. It stays on the grid or on the clock, as it was.
fn later(anchor: Anchor, by: SongSpan) -> Anchor {
    match anchor {
        Anchor::Grid { place, nudge } => Anchor::Grid { place, nudge: nudge + by },
        Anchor::Clock(time) => Anchor::Clock(time + by),
    }
}

/// The anchors of a handover's two cues, leaving first, from the service's schedule and stage.
///
/// # Errors
/// [`EditError::NoCue`] when the release is not in the service, [`EditError::Figure`] when it drops no fabric.
pub fn handover_places(
    planned: &Service,
    schedule: &Schedule,
    stage: &Stage,
    handover: &Handover,
) -> Result<[Anchor; 2], EditError> {
    let label = handover.release;
    let cue = planned.cues.get(label).ok_or_else(|| EditError::NoCue(label, planned.name.clone()))?;
    let place = |step: &HandoverStep| -> Result<Anchor, EditError> {
        let by = after_land(schedule, stage, label, step).ok_or_else(|| {
            EditError::Figure(format!("{label} lets no fabric go; give its release a hang on the Rig screen first"))
        })?;
        Ok(later(cue.at, by))
    };
    Ok([place(&handover.leave)?, place(&handover.arrive)?])
}

/// Plans a handover, or replans it. The edit stores the handover in the service and makes or updates its two output cues.
/// Returns the edit and the cues' labels, leaving first.
///
/// # Errors
/// As [`handover_places`]; [`EditError::Figure`] when a route is not for its output or there is no output track;
/// [`EditError::NoLabel`].
pub fn plan_handover(show: &Show, name: &str, handover: &Handover) -> Result<(Edit, [Label; 2]), EditError> {
    let planned = service(show, name)?;
    for (step, output) in [(&handover.leave, &handover.from), (&handover.arrive, &handover.to)] {
        if show.route(&step.route).is_none_or(|r| r.output != *output) {
            let output = show.output(output).map_or(output.as_str(), |o| o.name.as_str());
            return Err(EditError::Figure(format!(
                "\"{}\" is no route of \"{output}\"; choose one of its own",
                step.route
            )));
        }
    }
    let schedule = Schedule::build(show, planned).map_err(|e| EditError::Figure(e.to_string()))?;
    let stage = Stage::new(show, planned, &schedule);
    let places = handover_places(planned, &schedule, &stage, handover)?;
    let made: Vec<Label> = handover.cues.iter().copied().filter(|l| planned.cues.get(*l).is_some()).collect();
    let track: TrackKey = made
        .first()
        .and_then(|l| planned.cues.get(*l))
        .map(|c| c.track.clone())
        .or_else(|| show.tracks.iter().find(|t| t.kind == Kind::Output).map(|t| t.key.clone()))
        .ok_or_else(|| EditError::Figure("there is no output track; add one on the Rig screen".to_owned()))?;
    let mut free = planned.cues.free_labels(Kind::Output);
    let mut labels = [handover.release; 2];
    for (at, label) in labels.iter_mut().enumerate() {
        *label = match made.get(at) {
            Some(label) => *label,
            None => free.next().ok_or(EditError::NoLabel)?,
        };
    }
    drop(free);
    let (mut out, mut into) = (Vec::new(), Vec::new());
    for ((label, at), step) in labels.iter().zip(places).zip([&handover.leave, &handover.arrive]) {
        let does = Action::Output { route: step.route.clone() };
        let old = planned.cues.get(*label);
        let fresh = || Cue::new(*label, track.clone(), at, does.clone());
        into.push(old.cloned().map_or_else(fresh, |cue| Cue { at, does: does.clone(), ..cue }));
        out.extend(old.cloned());
    }
    out.sort_by_key(|c| c.label);
    into.sort_by_key(|c| c.label);
    let before = Service { cues: CueList::default(), ..planned.clone() };
    let mut after = before.clone();
    let kept = Handover { cues: labels.to_vec(), ..handover.clone() };
    match after.handovers.iter_mut().find(|h| h.release == handover.release) {
        Some(old) => *old = kept,
        None => after.handovers.push(kept),
    }
    let cues = Edit::Cues { service: name.to_owned(), out, into };
    Ok((Edit::All(vec![cues, Edit::Facts { before: Box::new(before), after: Box::new(after) }]), labels))
}
