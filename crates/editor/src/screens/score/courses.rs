//! What happens if a fabric does not fall as planned, drawn beside its release: by when it is settled, and what is sent instead in each case.

use super::bodies::{Drawn, Ground};
use crate::widgets::theme::bold;
use egui::text::{LayoutJob, TextFormat, TextWrapping};
use egui::{Align2, Color32, FontId, Painter, Pos2, Shape, Stroke};
use letfall_core::prepared::Prepared;
use letfall_core::schedule::describe_instead;
use letfall_core::show::{Action, Branch, Course, Kind, Release};

/// How far from its release the words begin.
const AWAY: f32 = 56.0;
/// With less room than this on its right, they stand on its left.
const ROOM: f32 = 220.0;
/// The height of a line of words.
const LINE: f32 = 22.0;

/// Draws the courses of every release that has been drawn.
pub fn draw(painter: &Painter, ground: &Ground, plan: &Prepared, rows: &[(f32, f32)], drawn: &[Drawn]) {
    let mut releases: Vec<&Drawn> = drawn.iter().filter(|cue| cue.label.kind == Kind::Release).collect();
    releases.sort_by(|a, b| a.rect.left().total_cmp(&b.rect.left()));
    for (at, cue) in releases.iter().enumerate() {
        let Some(Action::Release { release, .. }) = plan.service().cues.get(cue.label).map(|cue| &cue.does) else {
            continue;
        };
        let Some(release) = plan.show().release(release) else { continue };
        let Some(row) = rows.iter().find(|(top, bottom)| *top <= cue.rect.top() && cue.rect.bottom() <= *bottom) else {
            continue;
        };
        let one_row = |other: &&Drawn| (other.rect.top() - cue.rect.top()).abs() < 1.0;
        let before = releases[..at].iter().rev().find(|other| one_row(other)).map(|other| other.rect.right());
        let after = releases[at + 1..].iter().find(|other| one_row(other)).map(|other| other.rect.left());
        let left = before.unwrap_or(f32::MIN).max(ground.left);
        let right = after.unwrap_or(f32::MAX).min(ground.left + ground.width);
        settled(painter, ground, plan, cue, *row);
        fork(painter, ground, plan, release, cue, (*row, left..right));
    }
}

/// By when it is settled whether it goes.
fn settled(painter: &Painter, ground: &Ground, plan: &Prepared, cue: &Drawn, (top, bottom): (f32, f32)) {
    let Some(decision) = plan.decision(cue.label) else { return };
    let x = ground.x(decision.at);
    let (from, to) = (Pos2::new(x, top + 24.0), Pos2::new(x, bottom - 4.0));
    painter.extend(Shape::dashed_line(&[from, to], Stroke::new(1.5, ground.p.text), 5.0, 4.0));
    let words = format!("settled by {}", plan.grid().beat_text(decision.at));
    let at = Pos2::new(x - 6.0, to.y - 9.0);
    painter.text(at, Align2::RIGHT_CENTER, words, FontId::proportional(13.0), ground.p.text);
}

/// A fork with a line of words for each course.
fn fork(
    painter: &Painter,
    ground: &Ground,
    plan: &Prepared,
    release: &Release,
    cue: &Drawn,
    ((top, bottom), room): ((f32, f32), std::ops::Range<f32>),
) {
    // In a low row, or between two releases, there is no room; the inspector and the release sheet say it all.
    let room_right = room.end - cue.rect.right() - AWAY;
    if bottom - top < 3.0 * LINE || room_right < ROOM {
        return;
    }
    let middle = f32::midpoint(top, bottom);
    let (stem, begins) = (Pos2::new(cue.rect.right() + 6.0, middle), cue.rect.right() + AWAY);
    let line = Stroke::new(1.5, ground.p.quiet);
    for (course, nth) in Course::ALL.into_iter().zip([-1.0, 0.0, 1.0]) {
        let y = middle + nth * LINE;
        let bow = vec![stem, Pos2::new(begins - 24.0, y), Pos2::new(begins - 6.0, y)];
        painter.line(bow, line);
        let words = words(plan, release, course);
        let ink = if words.is_empty() { ground.p.quiet } else { ground.p.text };
        let words = if words.is_empty() { "nothing is planned" } else { &words };
        let galley = painter.layout_job(job(course.name(), words, ink, room.end - begins - 6.0));
        painter.galley(Pos2::new(begins, y - galley.size().y / 2.0), galley, ink);
    }
    painter.circle_filled(stem, 3.0, ground.p.quiet);
}

/// A course in one line: its name, and what comes of it, cut with an ellipsis where the room ends.
fn job(name: &str, words: &str, ink: Color32, width: f32) -> LayoutJob {
    let mut job = LayoutJob::default();
    job.append(name, 0.0, TextFormat::simple(FontId::new(13.5, bold()), ink));
    job.append(words, 8.0, TextFormat::simple(FontId::proportional(13.0), ink));
    job.wrap = TextWrapping::truncate_at_width(width.max(0.0));
    job
}

/// What is sent and said, if anything is planned.
fn words(plan: &Prepared, release: &Release, course: Course) -> String {
    let said = |branch: &Option<Branch>| branch.as_ref().map(|branch| branch.words.trim().to_owned());
    let said = match course {
        Course::Stays => said(&release.stays),
        Course::Early => said(&release.early),
        Course::Stuck => release.hang_up.as_ref().map(|plan| plan.words.trim().to_owned()),
    };
    let said = said.filter(|words| !words.is_empty()).map(|words| format!("“{words}”"));
    let sent = describe_instead(plan.show(), release, course);
    let sent = (!sent.is_empty()).then_some(sent);
    [sent, said].into_iter().flatten().collect::<Vec<_>>().join("   ")
}
