//! A desk's cue list taken over, and numbers given anew.

use super::plans;
use letfall_core::edit::{DeskLine, DeskListError, Edit, renumber, take_desk_list};
use letfall_core::show::{Message, Show};
use letfall_core::time::SongSpan;

fn line(number: &str, name: &str, seconds: Option<i64>) -> DeskLine {
    DeskLine { number: number.into(), name: name.into(), fade: seconds.map(|s| SongSpan::from_millis(s * 1000)) }
}

fn applied(mut show: Show, edit: &Edit) -> Show {
    edit.apply(&mut show).unwrap();
    show.validate().unwrap();
    show
}

fn told(show: &Show) -> Vec<String> {
    let preset = |p: &letfall_core::show::Preset| {
        let message = match &p.message {
            Message::Program { number, .. } => format!("program {}", number.get()),
            other => letfall_core::schedule::message_words(other),
        };
        format!("{}: {} {:.0} s, {message}", p.desk, p.name, p.fade.secs_f64())
    };
    show.presets.iter().map(preset).collect()
}

/// Two presets, "Warm" and "Cold", by program change.
fn show() -> Show {
    let mut show = plans::one("");
    show.presets.truncate(2);
    for (at, name) in ["Warm", "Cold"].into_iter().enumerate() {
        name.clone_into(&mut show.presets[at].name);
        show.presets[at].message = serde_json::from_value(serde_json::json!({"program": {"number": at}})).unwrap();
    }
    show
}

#[test]
fn numbers_names_and_fades_are_taken_over() {
    let show = show();
    let key = show.presets[0].receiver.clone();
    // By name first, then by number; what is new gets the message of its number, in the manner of the others.
    let list = [line("10", " warm ", Some(4)), line("11", "Deep blue", Some(2)), line("12.5", "Odd", None)];
    let (edit, taken) = take_desk_list(&show, &key, &list).unwrap();
    assert_eq!((taken.changed, taken.new, taken.without_message.clone()), (1, 2, vec!["12.5".to_owned()]));
    let after = applied(show.clone(), &edit);
    assert_eq!(told(&after)[..1], ["10: warm 4 s, program 0"], "a preset that is known keeps its message");
    assert_eq!(told(&after)[2], "11: Deep blue 2 s, program 10");
    assert!(told(&after)[3].starts_with("12.5: Odd 1 s"));
    // The same list again changes nothing but finds all by their numbers.
    let (edit, taken) = take_desk_list(&after, &key, &list).unwrap();
    assert_eq!((taken.changed, taken.new), (3, 0));
    assert_eq!(told(&applied(after.clone(), &edit)), told(&after));
    assert_eq!(
        take_desk_list(&show, &"none".parse().unwrap(), &list),
        Err(DeskListError::NoReceiver("none".parse().unwrap()))
    );
    let twice = [line("1", "a", None), line("1", "b", None)];
    assert_eq!(take_desk_list(&show, &key, &twice), Err(DeskListError::Twice("1".into())));
}

#[test]
fn a_desk_with_a_device_number_gets_show_control() {
    let mut show = show();
    let key = show.presets[0].receiver.clone();
    show.presets.clear();
    show.receivers.iter_mut().find(|r| r.key == key).unwrap().device = serde_json::from_value(1.into()).unwrap();
    let (edit, _) = take_desk_list(&show, &key, &[line("12.5", "Odd", None)]).unwrap();
    assert_eq!(told(&applied(show, &edit)), ["12.5: Odd 1 s, GO cue 12.5"]);
}

#[test]
fn numbers_are_given_anew_and_messages_follow() {
    let mut show = show();
    let key = show.presets[0].receiver.clone();
    for (preset, desk) in show.presets.iter_mut().zip(["1", "9"]) {
        preset.fade = SongSpan::from_millis(1000);
        desk.clone_into(&mut preset.desk);
    }
    let (edit, count) = renumber(&show, &key, 101, 10).unwrap();
    // The first preset's message called up its number, so it follows; the second's did not, and stays.
    assert_eq!(count, 2);
    assert_eq!(told(&applied(show.clone(), &edit)), ["101: Warm 1 s, program 100", "111: Cold 1 s, program 1"]);
    assert_eq!(renumber(&show, &key, u32::MAX, 1), Err(DeskListError::TooHigh));
    show.presets.clear();
    assert_eq!(renumber(&show, &key, 1, 1), Err(DeskListError::NoPresets(key)));
}
