//! A start at a time of day, or so many minutes late.

use super::rehearsing::Rehearsing;
use crate::rehearsal::RehearsalRequest;
use crate::request::{Requests, UiRequest};
use egui::{Id, Ui};
use letfall_core::schedule::clock_cues;
use letfall_core::show::Label;
use letfall_core::time::WallTime;

/// Shows the field and its button. What is typed is a time of day, such as 19:42, or so many minutes late, such as +12.
pub fn show(ui: &mut Ui, what: &Rehearsing<'_>, requests: &mut Requests) {
    let id = Id::unique("start at");
    let mut text: String = ui.data_mut(|data| data.get_temp(id).unwrap_or_default());
    let planned = what.document.current().and_then(|service| service.starts);
    ui.horizontal(|ui| {
        let label = ui.label("Song time 0 at");
        let hint = planned.map_or("19:42", |_| "+12, or 19:42");
        let edit = egui::TextEdit::singleline(&mut text).desired_width(96.0).hint_text(hint);
        let changed = ui.add(edit).labelled_by(label.id).changed();
        if changed {
            ui.data_mut(|data| data.insert_temp(id, text.clone()));
        }
        if ui.button("Start then").clicked() {
            match of_day(&text, planned) {
                Ok(micros) => requests.push(UiRequest::Rehearsal(RehearsalRequest::StartAt(micros))),
                Err(why) => requests.push(UiRequest::Fail(why)),
            }
        }
    });
    keep_times(ui, what, requests);
}

/// Cues at clock times move with a song that starts late, or keep their time of day: that is asked before the start, and not during it.
fn keep_times(ui: &mut Ui, what: &Rehearsing<'_>, requests: &mut Requests) {
    let Ok(plan) = what.document.plan() else { return };
    let (labels, service) = (clock_cues(plan.show(), plan.service()), plan.service());
    if labels.is_empty() || service.starts.is_none() {
        return;
    }
    let at = |label: &Label| {
        let row = plan.row(*label)?;
        Some(format!("{label} {}", service.wall(row.land)?))
    };
    let mut list: Vec<String> = labels.iter().take(4).filter_map(at).collect();
    if labels.len() > 4 {
        list.push(format!("and {} more", labels.len() - 4));
    }
    let mut options = what.rehearsal.options().clone();
    ui.label(format!("Cues at clock times: {}. If a performance starts late or early, they", list.join(", ")));
    ui.horizontal_wrapped(|ui| {
        ui.radio_value(&mut options.keep_times, false, "move with the song");
        ui.radio_value(&mut options.keep_times, true, "keep their time of day");
    });
    if options != *what.rehearsal.options() {
        requests.push(UiRequest::Rehearsal(RehearsalRequest::Options(options)));
    }
}

/// The time of day that was typed, in microseconds after midnight.
fn of_day(text: &str, planned: Option<WallTime>) -> Result<i64, String> {
    let text = text.trim();
    if let Some(late) = text.strip_prefix('+') {
        let minutes: f64 = late
            .trim()
            .trim_end_matches("min")
            .trim()
            .parse()
            .map_err(|_| format!("\"{text}\" is not so many minutes late; write +12 or +7.5"))?;
        let planned =
            planned.ok_or("the service has no start time to be late for; give a time of day, such as 19:42")?;
        if !(0.0..=720.0).contains(&minutes) {
            return Err("give between 0 and 720 minutes".to_owned());
        }
        #[allow(clippy::cast_possible_truncation)] // 12 hours at most
        return Ok(planned.micros() + (minutes * 6e7) as i64);
    }
    text.parse::<WallTime>().map(WallTime::micros).map_err(|why| why.to_string())
}

#[cfg(test)]
mod tests {
    use super::of_day;

    #[test]
    fn a_time_of_day_or_minutes_late() {
        let planned = "19:30".parse().ok();
        let at = |h: i64, m: i64, s: i64| ((h * 60 + m) * 60 + s) * 1_000_000;
        assert_eq!(of_day("19:42", planned), Ok(at(19, 42, 0)));
        assert_eq!(of_day(" +12 ", planned), Ok(at(19, 42, 0)));
        assert_eq!(of_day("+7.5 min", planned), Ok(at(19, 37, 30)));
        for wrong in ["", "12", "+", "+x", "+9999", "+-3", "25:00"] {
            assert!(of_day(wrong, planned).is_err(), "{wrong}");
        }
        assert!(of_day("+12", None).is_err());
    }
}
