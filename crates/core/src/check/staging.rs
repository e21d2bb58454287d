//! What the audience would see but should not, and what they should see but would not.

use super::context::Checks;
use super::problem::Code;
use crate::edit::handover_places;
use crate::show::{Action, Carries, LayerKey, OutputKey};
use crate::stage::{Falling, Playing, Showing, is_lit};
use crate::time::{SongSpan, SongTime};
use std::collections::BTreeMap;

pub(super) fn run(checks: &mut Checks<'_>) {
    overlaps(checks);
    unseen(checks);
    empty(checks);
    handovers(checks);
    planned(checks);
}

fn overlaps(checks: &mut Checks<'_>) {
    let (show, stage) = (checks.show, checks.stage);
    for (at, item) in stage.playing.iter().enumerate() {
        let layer = &show.media[item.item].layer;
        let next = stage.playing[at + 1..].iter().find(|other| show.media[other.item].layer == *layer);
        if let Some(next) = next.filter(|next| next.from < item.until) {
            let what = format!(
                "{} is still playing on layer \"{layer}\" when {} starts there at {}",
                item.by,
                next.by,
                checks.place(next.from)
            );
            checks.find(
                Code::MediaOverlap,
                &[item.by, next.by],
                what,
                "end the first sooner, start the second later or use another layer",
            );
        }
    }
}

fn unseen(checks: &mut Checks<'_>) {
    let (show, stage) = (checks.show, checks.stage);
    for item in &stage.playing {
        let layer = &show.media[item.item].layer;
        let carries = |s: &&Showing| s.route.is_some_and(|r| show.routes[r].carries == Carries::Layer(layer.clone()));
        let seen = stage.showing.iter().filter(carries).any(|s| s.from < item.until && item.from < s.until);
        if !seen {
            let what = format!(
                "{} plays \"{}\" at {} and every output shows another route as long as it plays",
                item.by,
                show.media[item.item].name,
                checks.place(item.from)
            );
            checks.find(
                Code::MediaUnseen,
                &[item.by],
                what,
                format!("send an output to a route that carries layer \"{layer}\""),
            );
        }
    }
}

/// Outputs sent to a layer before anything plays on it. They may wait as long as the show's setting for a gap at a handover.
fn empty(checks: &mut Checks<'_>) {
    let (show, stage) = (checks.show, checks.stage);
    // What plays on each layer, by start, each with the latest end of anything that started up to then.
    let mut layers: BTreeMap<&LayerKey, Vec<(&Playing, SongTime)>> = BTreeMap::new();
    for item in &stage.playing {
        layers.entry(&show.media[item.item].layer).or_default().push((item, item.until));
    }
    for items in layers.values_mut() {
        items.sort_by_key(|(item, _)| item.from);
        for at in 1..items.len() {
            items[at].1 = items[at].1.max(items[at - 1].1);
        }
    }
    for showing in &stage.showing {
        let (Some(by), Some(route)) = (showing.by, showing.route) else { continue };
        let Carries::Layer(layer) = &show.routes[route].carries else { continue };
        let items = layers.get(layer).map_or(&[][..], Vec::as_slice);
        let waits = showing.until.min(showing.from + show.settings.gap);
        let (begun, later) = items.split_at(items.partition_point(|(item, _)| item.from <= waits));
        if begun.last().is_some_and(|(_, until)| *until > showing.from) {
            continue;
        }
        let next = later.first().map(|(item, _)| item).filter(|item| item.from < showing.until);
        let what = format!(
            "{by} sends \"{}\" to layer \"{layer}\" at {}, and {}",
            show.outputs[showing.output].name,
            checks.place(showing.from),
            match next {
                Some(next) => format!("nothing plays there before {} starts at {}", next.by, checks.place(next.from)),
                None => "nothing plays there".to_owned(),
            }
        );
        let cues: Vec<_> = [Some(by), next.map(|next| next.by)].into_iter().flatten().collect();
        let remedy = "start something on that layer with it, or send the output to another route";
        checks.find(Code::OutputEmpty, &cues, what, remedy);
    }
}

fn handovers(checks: &mut Checks<'_>) {
    let (show, stage) = (checks.show, checks.stage);
    for output in 0..show.outputs.len() {
        let Some(fall) = stage.fall_of(show, output) else { continue };
        let lit: Vec<&Showing> = stage.showing.iter().filter(|s| s.output == output && is_lit(show, s.route)).collect();
        light_on_people(checks, output, fall, &lit);
        gap(checks, output, fall, &lit);
    }
}

/// How long both outputs of a handover may be lit at once without looking like a mistake. Our own figure.
const BOTH: SongSpan = SongSpan::from_millis(2000);

/// Planned handovers: the cues must be where the plan puts them, and both outputs must not be lit for long.
fn planned(checks: &mut Checks<'_>) {
    let (show, stage, service) = (checks.show, checks.stage, checks.service);
    for handover in &service.handovers {
        let rests = service.cues.get(handover.release).is_some_and(|c| c.resting);
        if rests {
            let awake = handover.cues.iter().filter(|l| service.cues.get(**l).is_some_and(|c| !c.resting));
            let awake: Vec<_> = awake.copied().collect();
            if !awake.is_empty() {
                let names: Vec<String> = awake.iter().map(ToString::to_string).collect();
                let what = format!("{} rests, and its handover ({}) does not", handover.release, names.join(", "));
                let cues: Vec<_> = std::iter::once(handover.release).chain(awake).collect();
                checks.find(Code::HandoverMoved, &cues, what, "rest them too, or wake the release");
            }
            continue;
        }
        let places = match handover_places(service, checks.schedule, stage, handover) {
            Ok(places) => places,
            Err(why) => {
                let what = format!("the handover of {} cannot be planned: {why}", handover.release);
                checks.find(Code::HandoverMoved, &[handover.release], what, "mend it, or take the handover out");
                continue;
            }
        };
        let sides = [(&handover.leave, places[0]), (&handover.arrive, places[1])];
        for (at, (step, place)) in sides.into_iter().enumerate() {
            let cue = handover.cues.get(at).and_then(|label| service.cues.get(*label));
            let side = if at == 0 { "leaves" } else { "arrives" };
            let wrong = match cue {
                None => Some("has no cue".to_owned()),
                Some(cue) if cue.does != (Action::Output { route: step.route.clone() }) => {
                    Some(format!("is {} now, which does something else", cue.label))
                }
                Some(cue) => {
                    let by = cue.at.time(&checks.schedule.grid) - place.time(&checks.schedule.grid);
                    // A difference of up to a millisecond is rounding.
                    (by.micros().abs() > 1000).then(|| format!("({}) stands {by} off its place", cue.label))
                }
            };
            if let Some(wrong) = wrong {
                let what = format!("the side of {}'s handover on which the picture {side} {wrong}", handover.release);
                checks.find(Code::HandoverMoved, &[handover.release], what, "plan the handover again");
            }
        }
        let index = |key: &OutputKey| show.outputs.iter().position(|o| o.key == *key);
        let (Some(from), Some(to)) = (index(&handover.from), index(&handover.to)) else { continue };
        let Some(fall) = stage.falling.iter().find(|f| f.by == handover.release) else { continue };
        let lit = |output: usize| stage.showing.iter().filter(move |s| s.output == output && is_lit(show, s.route));
        let around = (fall.let_go - SongSpan::from_millis(10_000), fall.floor() + SongSpan::from_millis(10_000));
        let both = lit(from).flat_map(|a| lit(to).map(move |b| (a.from.max(b.from), a.until.min(b.until))));
        let long = both.filter(|(a, b)| *a < around.1 && *b > around.0).find(|(a, b)| *b - *a > BOTH);
        if let Some((a, b)) = long {
            let what = format!(
                "\"{}\" and \"{}\" are both lit from {} for {}",
                show.outputs[from].name,
                show.outputs[to].name,
                checks.place(a),
                b - a
            );
            checks.find(Code::HandoverBoth, &[handover.release], what, "let one go as the other comes");
        }
    }
}

/// The projector that lit the fabric lights whoever stands behind once the edge has passed.
fn light_on_people(checks: &mut Checks<'_>, output: usize, fall: &Falling, lit: &[&Showing]) {
    let gone = fall.sightline();
    let allowed = checks.show.settings.gap;
    let Some(on) = lit.iter().find(|s| s.until > gone + allowed && s.until > gone.max(s.from) + allowed) else {
        return;
    };
    let facts = &checks.show.outputs[output];
    let eyes = facts.projection.as_ref().is_some_and(|p| p.from_behind);
    let what = format!(
        "\"{}\" is still lit at {}, after {} has taken its fabric away at {}{}",
        facts.name,
        checks.place(on.from.max(gone + allowed)),
        fall.by,
        checks.place(gone),
        if eyes { ": its projector stands behind and shines into the audience's eyes" } else { "" }
    );
    let cues: Vec<_> = [Some(fall.by), on.by].into_iter().flatten().collect();
    checks.find(Code::HandoverLight, &cues, what, "send it to a blank route as the fabric falls");
}

/// The gap from when the fabric's picture has gone until another output shows one.
fn gap(checks: &mut Checks<'_>, output: usize, fall: &Falling, lit: &[&Showing]) {
    let (show, stage) = (checks.show, checks.stage);
    // A fabric hands a picture over only if it carried one shortly before it went (4 s, our own figure): a blackout before the
    // moment may be intended.
    let shortly = fall.let_go - SongSpan::from_millis(4000);
    let carried = lit.iter().filter(|s| s.from < fall.sightline() && s.until > shortly);
    let Some(last) = carried.max_by_key(|s| s.until) else { return };
    let gone = last.until.min(fall.sightline());
    let others = stage.showing.iter().filter(|s| s.output != output && is_lit(show, s.route) && s.until > gone);
    let arrives = others.map(|s| s.from.max(gone)).min();
    let song_ends = checks.schedule.grid.bar_time(checks.service.song.end_bar());
    let dark: SongSpan = arrives.unwrap_or(SongTime::MAX.min(song_ends.max(gone))) - gone;
    if dark <= show.settings.gap {
        return;
    }
    let what = match arrives {
        Some(back) => format!(
            "the audience sees nothing from {} to {}, a gap of {dark} round {}",
            checks.place(gone),
            checks.place(back),
            fall.by
        ),
        None => {
            format!("the audience sees nothing from {} on: no output takes over from {}", checks.place(gone), fall.by)
        }
    };
    checks.find(
        Code::HandoverGap,
        &[fall.by],
        what,
        "land the other output's cue at the fall, or leave the fabric's picture on longer",
    );
}
