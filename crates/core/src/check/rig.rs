//! Checks of the rig: messages that fire a release, and figures for electricity, light, falls and money. The figures are
//! planning estimates, never a verdict.

use super::problem::{Code, Problem};
use crate::midi::Doubt;
use crate::reveal::{
    CircuitFigures, circuit_figures, fall_time, free_fall_secs, impossible_gain, light_figures, worst_case,
};
use crate::schedule::ReleaseTriggers;
use crate::show::{Circuit, FallKind, Hang, Instant, MeasuredDrop, Message, Output, ReceiverKey, Release, Show, money};

pub(super) fn run(show: &Show) -> Vec<Problem> {
    let mut found = fires(show);
    for release in &show.releases {
        if let Some(circuit) = &release.circuit {
            found.extend(voltage(release, circuit));
            found.extend(load(release, circuit));
        }
    }
    found.extend(show.outputs.iter().flat_map(picture));
    found.extend(show.hangs.iter().filter_map(too_fast));
    found.extend(show.hangs.iter().filter_map(odd_drop));
    found.extend(cost(show));
    found
}

/// Presets, media and routes: each one's description, its message, and the receiver that it is sent to.
fn sent(show: &Show) -> Vec<(String, &Message, &ReceiverKey)> {
    let presets = show.presets.iter().map(|p| (format!("preset \"{}\"", p.name), &p.message, &p.receiver));
    let media = show.media.iter().map(|m| (format!("media item \"{}\"", m.name), &m.message, &m.receiver));
    let routes = show.routes.iter().map(|r| (format!("route \"{}\"", r.name), &r.message, &r.receiver));
    presets.chain(media).chain(routes).collect()
}

/// Messages that might let a fabric go without arming, even in rehearsal, and releases on a receiver used for other things.
fn fires(show: &Show) -> Vec<Problem> {
    let (fires, sent) = (ReleaseTriggers::new(show), sent(show));
    let mut found: Vec<Problem> =
        fires.together().into_iter().map(|(one, other, doubt)| together(one, other, doubt)).collect();
    let stand_ins = show
        .releases
        .iter()
        .filter_map(|r| Some((format!("the stand-in of release \"{}\"", r.name), r.stand_in.as_ref()?, &r.receiver)));
    found.extend(sent.iter().cloned().chain(stand_ins).filter_map(|(thing, message, receiver)| {
        let (release, doubt) = fires.by_message(message, receiver)?;
        let what =
            format!("{thing} might fire release \"{}\" and let its fabric go unarmed: {}", release.name, doubt.words());
        Some(Problem::of_rig(Code::FiresRelease, what, &remedy(doubt)))
    }));
    let shared = |release: &Release| {
        let (thing, ..) = sent.iter().find(|(.., on)| **on == release.receiver)?;
        Some(shares(show, release, thing))
    };
    found.extend(show.releases.iter().filter_map(shared));
    found.extend(show.releases.iter().filter_map(end_unstated));
    found.extend(show.releases.iter().filter_map(|release| port_shared(show, release)));
    found.extend(roles(show));
    found
}

fn remedy(doubt: Doubt) -> String {
    let first = match doubt {
        Doubt::OtherChannel => {
            "give it another message, or try the box and confirm on its receiver that it answers its channel only"
        }
        Doubt::Sync => {
            "give the contact a port of its own, or try the port's devices and confirm that they ignore timecode and clock"
        }
        _ => "give the contact a port or channel of its own",
    };
    format!("{first}; until then a run and a file leave it out")
}

fn together(one: &Release, other: &Release, doubt: Doubt) -> Problem {
    let what = format!(
        "the message of release \"{}\" might fire \"{}\" too, or the other way round: {}; whoever arms one lets both go",
        one.name,
        other.name,
        doubt.words()
    );
    Problem::of_rig(
        Code::ReleasesAlike,
        what,
        "give each a contact with a port or channel of its own, or keep one release for both; until then neither is sent",
    )
}

/// Matters because a contact that stays closed heats coils, or keeps a power-held fabric from being hung again.
fn end_unstated(release: &Release) -> Option<Problem> {
    (!release.end_is_stated()).then(|| {
        let what =
            format!("nobody has said what opens the contact of release \"{}\" again after its pulse", release.name);
        Problem::of_rig(
            Code::ReleaseEndUnstated,
            what,
            "say on the release which message opens it, or that the box was tried and opens it by itself",
        )
    })
}

fn port_shared(show: &Show, release: &Release) -> Option<Problem> {
    let port = show.port(&show.receiver(&release.receiver)?.port)?;
    let others = port.shared_with.trim();
    (!others.is_empty()).then(|| {
        let what = format!(
            "release \"{}\" leaves by port \"{}\", to which something else can send as well ({others}): Letfall cannot hold that back",
            release.name, port.name
        );
        Problem::of_rig(Code::ReleasePortShared, what, "give the contact a port that nothing else can send to")
    })
}

/// Caller, release operator and spotter watch different things at the same moment, so each must be another person.
fn roles(show: &Show) -> Vec<Problem> {
    if show.releases.is_empty() {
        return Vec::new();
    }
    let pair = |(one, other): (&str, &str)| {
        let what = format!("the safety sheet names one person as {one} and as {other}");
        Problem::of_rig(
            Code::RolesShared,
            what,
            "give the two roles to two people: each looks at something else at the release",
        )
    };
    show.safety.shared_roles().into_iter().map(pair).collect()
}

/// On a shared receiver, one wrong number lets a fabric go.
fn shares(show: &Show, release: &Release, thing: &str) -> Problem {
    let receiver = show.receiver(&release.receiver).map_or(release.receiver.as_str(), |r| r.name.as_str());
    let what = format!(
        "release \"{}\" is fired by receiver \"{receiver}\", to which {thing} is sent too: one wrong number there lets its fabric go",
        release.name
    );
    Problem::of_rig(
        Code::ReleaseShares,
        what,
        "give the release a receiver of its own, on a channel or device number of its own",
    )
}

/// Voltage at the farthest coil, hot and at the lowest supply voltage, against what a hot coil needs.
fn voltage(release: &Release, circuit: &Circuit) -> Option<Problem> {
    let worst = worst_case(circuit, release.units).ok()?;
    if worst.margin_v() >= 0.0 {
        return None;
    }
    let what = format!(
        "the farthest unit of \"{}\" gets {:.2} V by estimate when all is hot, and needs {:.2} V then ({:.1} V rated)",
        release.name, worst.far_v, worst.needed_v, circuit.pull_in_v
    );
    Some(Problem::of_rig(
        Code::CoilVoltage,
        what,
        "use thicker or shorter cable or a stiffer supply, and have it measured under load by a qualified person",
    ))
}

fn load(release: &Release, circuit: &Circuit) -> Vec<Problem> {
    let Ok(figures) = circuit_figures(circuit, release.units, circuit.supply_v, 20.0, 20.0) else { return Vec::new() };
    let CircuitFigures { power_w, .. } = figures;
    let mut out = Vec::new();
    if let Some(rated) = circuit.supply_w.filter(|w| power_w > *w) {
        let what = format!(
            "the units of \"{}\" take {power_w:.0} W by estimate and their supply gives {rated:.0} W",
            release.name
        );
        out.push(Problem::of_rig(Code::SupplyLoad, what, "use a larger supply or fewer units"));
    }
    if let (Some(amps), Some(volts)) = (circuit.branch_a, circuit.branch_v)
        && power_w / volts > 0.8 * amps
    {
        let what = format!(
            "the supply of \"{}\" takes {:.1} A by estimate from a branch of {amps:.0} A, over 80 % of it (NEC 210.20(A), for loads of 3 hours or more)",
            release.name,
            power_w / volts
        );
        out.push(Problem::of_rig(Code::SupplyLoad, what, "ask a qualified electrician; local codes decide"));
    }
    out
}

fn picture(output: &Output) -> Vec<Problem> {
    let Some(p) = &output.projection else { return Vec::new() };
    let figures = light_figures(p);
    let mut out = Vec::new();
    if let Some(why) = impossible_gain(p) {
        let what = format!("\"{}\": {why}", output.name);
        out.push(Problem::of_rig(
            Code::GainImpossible,
            what,
            "measure both with a light meter, or take the gain from the maker of this very cloth",
        ));
    }
    if let Some(target) = p.target_cd_m2.filter(|t| figures.cd_m2 < *t) {
        let what = format!(
            "\"{}\" is {:.0} cd/m² bright by estimate, under the {target:.0} wanted",
            output.name, figures.cd_m2
        );
        out.push(Problem::of_rig(Code::PictureDim, what, "use more light, a smaller picture or a brighter surface"));
    }
    if figures.contrast < p.viewing.contrast() {
        let what = format!(
            "\"{}\" has a contrast of {:.1}:1 by estimate, under the {:.0}:1 of its viewing category (ANSI/INFOCOMM 3M-2011)",
            output.name,
            figures.contrast,
            p.viewing.contrast()
        );
        out.push(Problem::of_rig(
            Code::ContrastLow,
            what,
            "keep other light off the surface, or use more projector light",
        ));
    }
    out
}

fn too_fast(hang: &Hang) -> Option<Problem> {
    if hang.kind != FallKind::Falls {
        return None;
    }
    let drop = hang.measured.iter().find(|d| {
        let height = if d.to == Instant::Floor { hang.top_m } else { hang.top_m - hang.sightline_m };
        d.to != Instant::LetGo && d.counts() && d.seconds < free_fall_secs(height)
    })?;
    let least = fall_time(&Hang { measured: Vec::new(), ..hang.clone() }, drop.to).earliest;
    let what =
        format!("a drop of \"{}\" timed at {:.2} s is faster than free fall ({least:.2} s)", hang.name, drop.seconds);
    Some(Problem::of_rig(Code::DropTooFast, what, "check the height and the timing"))
}

/// A drop that lies more than 3.5 scaled median deviations from the median of the four or more that were timed to its moment. The
/// deviation is taken as at least 50 ms, what a stopwatch in a hand can tell. Both are our own figures.
fn odd_drop(hang: &Hang) -> Option<Problem> {
    let median = |values: &mut Vec<f64>| {
        values.sort_by(f64::total_cmp);
        let middle = values.len() / 2;
        if values.len().is_multiple_of(2) { f64::midpoint(values[middle - 1], values[middle]) } else { values[middle] }
    };
    [Instant::Sightline, Instant::Floor].into_iter().find_map(|to| {
        let counted = || hang.measured.iter().enumerate().filter(move |(_, d)| d.to == to && d.counts());
        let mut seconds: Vec<f64> = counted().map(|(_, d)| d.seconds).collect();
        if seconds.len() < 4 {
            return None;
        }
        let middle = median(&mut seconds);
        let mut off: Vec<f64> = seconds.iter().map(|s| (s - middle).abs()).collect();
        let far = 3.5 * (1.4826 * median(&mut off)).max(0.05);
        let distance = |drop: &MeasuredDrop| (drop.seconds - middle).abs();
        let (at, odd) = counted().max_by(|(_, a), (_, b)| distance(a).total_cmp(&distance(b)))?;
        (distance(odd) > far).then(|| {
            let what = format!(
                "drop {} of \"{}\", {:.2} s, is far from the others, which take about {middle:.2} s; it counts like them",
                at + 1,
                hang.name,
                odd.seconds
            );
            let remedy = "find out why: a fabric that was slow once can be slow again; only if the timing was wrong, strike it and \
                          write why";
            Problem::of_rig(Code::DropOdd, what, remedy)
        })
    })
}

fn cost(show: &Show) -> Option<Problem> {
    let budget = show.budget.as_ref()?;
    let kit = show.kit_cents();
    let all = kit + budget.kept_cents(kit);
    if all <= u128::from(budget.cents) {
        return None;
    }
    let priced = |cents: u128| format!("{} {}", money(cents), budget.currency);
    let what = format!(
        "the kit costs {} with {} % kept back, over the budget of {}",
        priced(all).trim_end(),
        budget.contingency_percent,
        priced(u128::from(budget.cents)).trim_end()
    );
    Some(Problem::of_rig(Code::OverBudget, what, "borrow or leave something out, or raise the budget"))
}
