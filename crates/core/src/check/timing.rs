//! Where cues land and when their messages leave.

use super::context::Checks;
use super::problem::Code;
use crate::show::Anchor;

pub(super) fn run(checks: &mut Checks<'_>) {
    let (show, service, schedule) = (checks.show, checks.service, checks.schedule);
    let grid = &schedule.grid;
    let count_in = show.settings.first_bar();
    let opens = grid.opens(count_in);
    let ends = grid.bar_time(service.song.end_bar());
    let last = service.song.end_bar() - 1;
    for row in &schedule.rows {
        let cue = &service.cues.as_slice()[row.cue as usize];
        let label = [row.label];
        if let Anchor::Grid { place, .. } = cue.at {
            if place.bar > last || place.bar < count_in {
                let what =
                    format!("{} stands on bar {}, and the song has bars {count_in} to {last}", row.label, place.bar);
                checks.find(Code::BarMissing, &label, what, "move it, or change the song's length");
                continue;
            }
            if place.beat > grid.beats_in(place.bar) {
                let what =
                    format!("{} stands on {place}, and that bar has {} beats", row.label, grid.beats_in(place.bar));
                let remedy = format!("it lands at {}; move it there or to where it belongs", checks.place(row.land));
                checks.find(Code::BeatMissing, &label, what, remedy);
            }
        }
        if row.land < opens || row.land > ends {
            let what = format!("{} lands at {}, outside the song ({opens} to {ends})", row.label, row.land);
            checks.find(Code::LandOutside, &label, what, "move it into the song");
        } else if row.send < opens {
            let what =
                format!("{} would have to be sent at {}, before the count-in begins at {opens}", row.label, row.send);
            checks.find(Code::SendBefore, &label, what, "land it later, shorten its lead or lengthen the count-in");
        }
        if let (Anchor::Clock(_), Some(placed)) = (cue.at, cue.placed_on)
            && placed != grid.digest()
        {
            let what = format!(
                "{} is anchored to the clock at {}, and the song's tempo has changed since",
                row.label, row.land
            );
            checks.find(
                Code::TempoChanged,
                &label,
                what,
                "look where it falls now, then move it or anchor it to a bar",
            );
        }
    }
    guide_over(checks);
}

/// Cues that land after the guide recording has ended. Reported as one problem, because they have one cause.
fn guide_over(checks: &mut Checks<'_>) {
    let Some(guide) = checks.service.song.guide.as_ref().filter(|g| g.length > crate::time::SongSpan::ZERO) else {
        return;
    };
    let over = crate::time::SongTime::ZERO + guide.length;
    let late: Vec<_> = checks.schedule.rows.iter().filter(|r| r.land > over).collect();
    let Some(first) = late.iter().min_by_key(|r| r.land) else { return };
    let labels: Vec<_> = late.iter().map(|r| r.label).collect();
    let lands = if labels.len() > 1 { format!(" and {} more land", labels.len() - 1) } else { " lands".to_owned() };
    let what = format!("{}{lands} after the guide recording, which ends at {over}", first.label);
    checks.find(Code::GuideOver, &labels, what, "look whether bars and recording belong together");
}
