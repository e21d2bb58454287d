//! What the audience would see that they should not, and what they would not see.

use super::{Checks, Code};
use crate::show::Carries;
use crate::stage::{Falling, Showing, is_lit};
use crate::time::{SongSpan, SongTime};

pub(super) fn run(checks: &mut Checks<'_>) {
    overlaps(checks);
    unseen(checks);
    handovers(checks);
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

fn handovers(checks: &mut Checks<'_>) {
    let (show, stage) = (checks.show, checks.stage);
    for output in 0..show.outputs.len() {
        let Some(fall) = stage.fall_of(show, output) else { continue };
        let lit: Vec<&Showing> = stage.showing.iter().filter(|s| s.output == output && is_lit(show, s.route)).collect();
        light_on_people(checks, output, fall, &lit);
        gap(checks, output, fall, &lit);
    }
}

/// The projector that lit the fabric lights whoever stands behind once the edge has passed.
fn light_on_people(checks: &mut Checks<'_>, output: usize, fall: &Falling, lit: &[&Showing]) {
    let gone = fall.sightline();
    let allowed = checks.show.settings.gap;
    let Some(on) = lit.iter().find(|s| s.until > gone + allowed && s.until > gone.max(s.from) + allowed) else {
        return;
    };
    let what = format!(
        "\"{}\" is still lit at {}, after {} has taken its fabric away at {}",
        checks.show.outputs[output].name,
        checks.place(on.from.max(gone + allowed)),
        fall.by,
        checks.place(gone)
    );
    let cues: Vec<_> = [Some(fall.by), on.by].into_iter().flatten().collect();
    checks.find(Code::HandoverLight, &cues, what, "send it to a blank route as the fabric falls");
}

/// From when the fabric's picture has gone until another output shows one.
fn gap(checks: &mut Checks<'_>, output: usize, fall: &Falling, lit: &[&Showing]) {
    let (show, stage) = (checks.show, checks.stage);
    // A fabric hands a picture over only if it carried one shortly before it went (4 s, our own figure): a blackout
    // before the moment may be meant.
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
