//! Lighting: light in the audience's eyes, and tracks that undo one another.

use super::context::Checks;
use super::problem::Code;
use crate::reveal::{OtherLight, light_figures, light_figures_with};
use crate::show::{Action, Combine, Label, Surface};
use crate::stage::{Falling, Light, LightWalk, Lit, is_lit};
use crate::time::SongTime;
use std::collections::BTreeMap;

pub(super) fn run(checks: &mut Checks<'_>) {
    in_eyes(checks);
    undone(checks);
    washed_out(checks);
}

/// Light from behind a fabric makes silhouettes on it, and shines into the audience once its edge has passed the sightline.
fn in_eyes(checks: &mut Checks<'_>) {
    let (show, stage) = (checks.show, checks.stage);
    for fall in &stage.falling {
        let hang = &show.hangs[fall.hang].key;
        let gone = fall.sightline();
        let is_behind = |lit: &Lit| show.presets[lit.preset].behind.as_ref() == Some(hang);
        // What stands on the slots that light this fabric as it goes, and what is recalled on them after that.
        let lit = stage.lights_at(show, gone);
        // A fade that is not over yet shines as well, with what was there before.
        let still =
            lit.iter().find(|light| light.behind.iter().any(|part| part.hang == fall.hang && part.level > 0.01));
        let later = stage.lit.iter().find(|l| l.from > gone && is_behind(l) && show.presets[l.preset].level > 0);
        let (by, from): (Label, SongTime) = match (still, later) {
            (Some(light), _) => (stage.lit[light.lit].by, gone),
            (None, Some(later)) => (later.by, later.from),
            (None, None) => continue,
        };
        let what = format!(
            "light from behind shines into the audience's eyes at {}: {} has taken the fabric away, and {by} leaves or brings that light",
            checks.place(from),
            fall.by
        );
        checks.find(
            Code::LightInEyes,
            &[fall.by, by],
            what,
            "have the light from behind out before the edge passes the sightline: land its fade “done” by then",
        );
    }
}

/// On a receiver on which the newest preset replaces all others, two tracks undo each other.
fn undone(checks: &mut Checks<'_>) {
    let show = checks.show;
    let mut tracks: BTreeMap<usize, BTreeMap<&str, Label>> = BTreeMap::new();
    for cue in checks.service.cues.iter().filter(|cue| !cue.resting) {
        let Action::Lighting { preset, .. } = &cue.does else { continue };
        let receiver = show.preset(preset).and_then(|p| show.receivers.iter().position(|r| r.key == p.receiver));
        if let Some(receiver) = receiver.filter(|at| show.receivers[*at].combines == Combine::Latest) {
            tracks.entry(receiver).or_default().entry(cue.track.as_str()).or_insert(cue.label);
        }
    }
    for (receiver, by) in tracks.iter().filter(|(_, by)| by.len() > 1) {
        let names: Vec<String> = by
            .keys()
            .map(|key| show.tracks.iter().find(|t| t.key.as_str() == *key).map_or(*key, |t| t.name.as_str()))
            .map(|name| format!("\"{name}\""))
            .collect();
        let labels: Vec<Label> = by.values().copied().collect();
        let what = format!(
            "tracks {} recall presets on \"{}\", where the newest preset replaces all others: they undo one another",
            names.join(" and "),
            show.receivers[*receiver].name
        );
        checks.find(
            Code::TracksUndo,
            &labels,
            what,
            "put these cues on one track, or give the second track a receiver or a cue list of its own",
        );
    }
}

/// The light of all tracks on one output's picture, as far as the presets' figures are known.
fn on_picture(checks: &Checks<'_>, output: usize, lights: &[Light]) -> OtherLight {
    let fabric = match &checks.show.outputs[output].surface {
        Surface::Fabric(key) => checks.show.hangs.iter().position(|hang| hang.key == *key),
        Surface::Screen {} => None,
    };
    let behind = lights.iter().flat_map(|light| &light.behind).filter(|part| Some(part.hang) == fabric);
    OtherLight {
        front_lux: lights.iter().map(|light| light.front_lux).sum(),
        back_lux: behind.map(|part| part.lux).sum(),
    }
}

/// A picture that is good enough in the dark and not under the light that is planned with it.
fn washed_out(checks: &mut Checks<'_>) {
    let (show, stage) = (checks.show, checks.stage);
    if show.presets.iter().all(|preset| preset.front_lux == 0.0 && preset.back_lux == 0.0) {
        return;
    }
    for (output, facts) in show.outputs.iter().enumerate() {
        let Some(projection) = &facts.projection else { continue };
        let wanted = projection.viewing.contrast();
        if light_figures(projection).contrast < wanted {
            continue;
        }
        let gone = stage.fall_of(show, output).map(Falling::sightline);
        let pictures: Vec<_> = stage.showing.iter().filter(|s| s.output == output && is_lit(show, s.route)).collect();
        // Light is strongest at the end of a fade, or when the picture comes.
        let mut moments: Vec<SongTime> = stage.lit.iter().map(|lit| lit.full).collect();
        moments.extend(pictures.iter().map(|picture| picture.from));
        moments
            .retain(|at| gone.is_none_or(|gone| *at < gone) && pictures.iter().any(|p| p.from <= *at && *at < p.until));
        moments.sort_unstable();
        let mut walk = LightWalk::new(stage, show);
        let mut worst: Option<(f64, SongTime, Vec<Light>)> = None;
        for at in moments {
            let lights = walk.at(at);
            let contrast = light_figures_with(projection, on_picture(checks, output, &lights)).contrast;
            if worst.as_ref().is_none_or(|(least, ..)| contrast < *least) {
                worst = Some((contrast, at, lights));
            }
        }
        let Some((contrast, at, lights)) = worst.filter(|(contrast, ..)| *contrast < wanted) else { continue };
        let shines = |light: &&Light| light.front_lux > 0.0 || light.behind.iter().any(|part| part.lux > 0.0);
        let by: Vec<Label> = lights.iter().filter(shines).map(|light| stage.lit[light.lit].by).collect();
        let what = format!(
            "\"{}\" has a contrast of {contrast:.1}:1 by estimate under the light planned at {}, and {wanted:.0}:1 is wanted",
            facts.name,
            checks.place(at)
        );
        checks.find(
            Code::PictureWashed,
            &by,
            what,
            "dim that light while the picture is on, or keep it off the surface",
        );
    }
}
