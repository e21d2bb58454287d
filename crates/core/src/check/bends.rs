//! When the evening does not go as planned: what a release does instead of falling, and bends of the song.

use super::context::Checks;
use super::problem::Code;
use crate::show::{Action, BendMark, Branch, Course, Release, SongBend};
use crate::time::SongTime;

pub(super) fn run(checks: &mut Checks<'_>) {
    let (show, schedule) = (checks.show, checks.schedule);
    let mut windows = Vec::new();
    for row in &schedule.rows {
        let cue = &checks.service.cues.as_slice()[row.cue as usize];
        let Action::Release { release, .. } = &cue.does else { continue };
        let Some(release) = show.release(release).filter(|_| !cue.resting) else { continue };
        branches(checks, row.label, release);
        let decision = schedule.decision(show, checks.service, row.label).map_or(row.send, |decision| decision.at);
        let from = release.window(row.send, row.land).0.min(decision);
        windows.push((row.label, from, row.send.max(row.land)));
    }
    for at in 0..checks.service.song.bends.len() {
        let mark = checks.service.song.bends[at].clone();
        at_release(checks, &mark, &windows);
        clash(checks, at, &mark);
    }
}

/// Who says what, and what is sent, if the fabric stays or falls early.
fn branches(checks: &mut Checks<'_>, label: crate::show::Label, release: &Release) {
    let said = |branch: &Option<Branch>| {
        branch.as_ref().is_some_and(|b| !b.words.trim().is_empty() && !b.caller.trim().is_empty())
    };
    let missing: Vec<&str> =
        [(&release.stays, "stays because nobody armed it in time"), (&release.early, "falls before its time")]
            .into_iter()
            .filter_map(|(branch, what)| (!said(branch)).then_some(what))
            .collect();
    if !missing.is_empty() {
        let what = format!("nobody has said who says what if the fabric of {label} {}", missing.join(" or "));
        let remedy = "settle it with everybody, and fill in the other courses of the release";
        checks.find(Code::BranchMissing, &[label], what, remedy);
    }
    let show = checks.show;
    for course in Course::ALL {
        let sent = release.sent_instead(course);
        let lost = sent
            .lights
            .iter()
            .find(|key| show.preset(key).is_none())
            .map(|key| format!("preset \"{key}\""))
            .or_else(|| {
                sent.media.iter().find(|key| show.media_item(key).is_none()).map(|key| format!("media \"{key}\""))
            })
            .or_else(|| sent.routes.iter().find(|key| show.route(key).is_none()).map(|key| format!("route \"{key}\"")));
        if let Some(lost) = lost {
            let what = format!("for “{}”, \"{}\" sends {lost}, which is not there", course.name(), release.name);
            checks.find(Code::BranchDangling, &[label], what, "choose another, or add it to the rig");
        }
    }
}

/// A bend where a release is armed or sent: the arm would be lost, or the release left out.
fn at_release(checks: &mut Checks<'_>, mark: &BendMark, windows: &[(crate::show::Label, SongTime, SongTime)]) {
    let grid = &checks.schedule.grid;
    let (from, to) = (grid.bar_time(mark.bar), grid.bar_time(mark.end_bar()));
    let meets = |(_, opens, lands): &&(crate::show::Label, SongTime, SongTime)| match mark.does {
        SongBend::Wait {} => *opens < from && from <= *lands,
        SongBend::Free { .. } => false,
        // It may end as the window opens.
        SongBend::Vamp { .. } | SongBend::Cut { .. } => *opens < to && from <= *lands,
    };
    if let Some((label, opens, _)) = windows.iter().find(meets) {
        let what = format!("the {} meets {label}, which is armed from {} on", mark.name(), checks.place(*opens));
        let remedy = "let the bend end before the release can be armed: a jump or a wait disarms it";
        checks.find(Code::BendAtRelease, &[*label], what, remedy);
    }
}

/// Bends that are in each other's way, and cues of a vamp that are not in it.
fn clash(checks: &mut Checks<'_>, at: usize, mark: &BendMark) {
    let song = &checks.service.song;
    let spans = |mark: &BendMark| matches!(mark.does, SongBend::Vamp { .. } | SongBend::Free { .. });
    let free = |mark: &BendMark| matches!(mark.does, SongBend::Free { .. });
    let meet = |a: &BendMark, b: &BendMark| {
        free(a) == free(b)
            && match (spans(a), spans(b)) {
                (true, true) => a.bar < b.end_bar() && b.bar < a.end_bar(),
                (false, false) => a.bar == b.bar,
                (true, false) => a.bar < b.bar && b.bar < a.end_bar(),
                (false, true) => b.bar < a.bar && a.bar < b.end_bar(),
            }
    };
    if let Some(other) = song.bends[..at].iter().find(|other| meet(other, mark)) {
        let what = format!("the {} and the {} are in each other's way", other.name(), mark.name());
        checks.find(Code::BendClash, &[], what, "move one of them, or take it out");
    }
    if let SongBend::Vamp { once, .. } = &mark.does {
        let grid = &checks.schedule.grid;
        let stretch = grid.bar_time(mark.bar)..grid.bar_time(mark.end_bar());
        let inside = |label| checks.schedule.rows.iter().any(|row| row.label == label && stretch.contains(&row.land));
        if let Some(label) = once.iter().copied().find(|label| !inside(*label)) {
            let what = format!("{label} is to be sent once in the {}, and does not land in it", mark.name());
            checks.find(Code::BendClash, &[label], what, "take it off the list of the vamp, or move it");
        }
    }
    if let SongBend::Cut { to } = mark.does
        && to <= mark.bar
    {
        let what = format!("the {} goes back", mark.name());
        checks.find(
            Code::BendClash,
            &[],
            what,
            "a cut goes on at a later bar; for a stretch that goes round make a vamp",
        );
    }
    let end = song.end_bar();
    if mark.bar >= end || mark.end_bar() > end {
        let what = format!("the {} lies beyond the song's last bar, {}", mark.name(), end - 1);
        checks.find(Code::MarkBeyond, &[], what, "move it, take it out, or give the song more bars");
    }
}
