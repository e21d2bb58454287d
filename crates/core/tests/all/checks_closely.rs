//! Checks one by one, from both sides of what they look at and where a case of `checks.rs` does not reach.

use super::plans::{one, problems};
use letfall_core::check::Code;
use letfall_core::show::{Reach, ReleaseKind, Show};
use letfall_core::time::SongSpan;

const R1: &str = r#"{"label":"R1","track":"r","at":"17|1","does":{"release":{"release":"front","lands":"sightline"}}}"#;

fn light(label: &str, at: &str, preset: &str) -> String {
    format!(r#"{{"label":"{label}","track":"l","at":"{at}","does":{{"lighting":{{"preset":"{preset}"}}}}}}"#)
}

fn with(mut show: Show, change: impl FnOnce(&mut Show)) -> Show {
    change(&mut show);
    show
}

/// What the problems of a code say.
fn told(show: &Show, code: Code) -> Vec<String> {
    problems(show).into_iter().filter(|p| p.code == code).map(|p| p.what).collect()
}

#[test]
fn a_problem_says_where_it_is() {
    let show = one(&light("L1", "5|5", "warm"));
    let found = problems(&show).into_iter().find(|p| p.code == Code::BeatMissing).unwrap();
    assert!(found.remedy.contains("bar 6, beat 1 (0:10.000)"), "{}", found.remedy);
}

#[test]
fn cloth_units_and_kit() {
    let hang = |bar: Option<f64>, drop: f64, top: f64| {
        let show = with(one(R1), |s| (s.hangs[0].bar_m, s.hangs[0].drop_m, s.hangs[0].top_m) = (bar, drop, top));
        told(&show, Code::ClothTooLarge).len()
    };
    let cases = [
        (None, 4.0, 4.0, 0),
        (Some(8.0), 4.0, 4.0, 0),
        (Some(7.998), 4.0, 4.0, 1),
        (Some(9.0), 4.002, 4.0, 1),
        (None, 3.0, 4.0, 0),
        (Some(6.0), 5.0, 4.0, 2),
    ];
    for (bar, drop, top, wanted) in cases {
        assert_eq!(hang(bar, drop, top), wanted, "{bar:?} {drop} {top}");
    }
    let units = |places: &[f64]| {
        let show = with(one(R1), |s| {
            s.releases[0].units = u32::try_from(places.len()).unwrap();
            s.releases[0].units_at_m = places.to_vec();
        });
        told(&show, Code::UnitsApart)
    };
    assert_eq!(units(&[0.15, 1.6, 3.1, 4.6, 6.1, 7.6, 7.85]), [""; 0]);
    assert!(units(&[0.2, 1.6, 3.1, 4.6, 6.1, 7.6, 7.85])[0].contains("0.20 m from the fabric's edge"));
    assert!(units(&[0.15, 1.6, 3.1, 4.6, 6.1, 7.5, 7.8])[0].contains("0.20 m from the fabric's edge"));
    assert!(units(&[0.1, 1.6, 3.1, 4.6, 6.1, 7.6, 9.0])[0].contains("at 9.00 m, beyond the fabric's edge"));
    assert!(units(&[0.1, 1.6, 3.2, 4.6, 6.1, 7.6, 7.9])[0].contains("1.60 m apart"));
    assert_eq!(units(&[]), [""; 0]);
    let kit = |lines: serde_json::Value, units: u32| {
        let show = with(one(R1), |s| {
            s.kit = serde_json::from_value(lines).unwrap();
            s.releases[0].units = units;
        });
        (told(&show, Code::KitShort).concat(), told(&show, Code::KitUnits).concat())
    };
    let line = |quantity: u32| serde_json::json!({"name": "U", "quantity": quantity, "release_units": true});
    let other = serde_json::json!({"name": "Lamp", "quantity": 99});
    assert_eq!(kit(serde_json::json!([]), 7), (String::new(), String::new()));
    assert_eq!(kit(serde_json::json!([other]), 0), (String::new(), String::new()));
    assert!(kit(serde_json::json!([other]), 7).1.contains("no line of the kit is marked"));
    assert!(
        kit(serde_json::json!([line(4), line(2), other]), 7).0.contains("has 6 release units, and the hangs use 7")
    );
    assert!(kit(serde_json::json!([line(4), line(3), other]), 7).1.contains("none to spare"));
    assert_eq!(kit(serde_json::json!([line(4), line(4)]), 7), (String::new(), String::new()));
}

/// The edge passes the sightline at 17|1, 32 s. "warm" lights the fabric from behind for two seconds' fade; "cold" is dark at once.
#[test]
fn light_in_eyes() {
    let eyes = |cues: &[String], change: &dyn Fn(&mut Show)| {
        let show = with(one(&format!("{R1},{}", cues.join(","))), |s| {
            s.presets[0].behind = Some(s.hangs[0].key.clone());
            s.presets[1].level = 0;
            change(s);
        });
        told(&show, Code::LightInEyes)
    };
    let none: &dyn Fn(&mut Show) = &|_| {};
    let on = || light("L1", "5|1", "warm");
    assert_eq!(eyes(&[on(), light("L2", "16|1", "cold")], none), [""; 0]);
    assert!(eyes(&[on()], none)[0].contains("L1 leaves or brings that light"));
    // Brought after the fabric has gone: at once, and much later.
    for at in ["17|2", "25|1"] {
        let told = eyes(&[on(), light("L2", "16|1", "cold"), light("L3", at, "warm")], none);
        assert!(told[0].contains("L3 leaves or brings that light"), "{at}: {told:?}");
    }
    // Darkness from behind is recalled after it has gone: no light.
    let dark: &dyn Fn(&mut Show) = &|s| s.presets[1].behind = s.presets[0].behind.clone();
    assert_eq!(eyes(&[on(), light("L2", "16|1", "cold"), light("L3", "18|1", "cold")], dark), [""; 0]);
    // A fade to dark that is not over shines, and says which cue it is.
    let slow: &dyn Fn(&mut Show) = &|s| s.presets[1].fade = SongSpan::from_millis(1000);
    assert_eq!(eyes(&[on(), light("L2", "16|3", "cold")], slow), [""; 0]);
    assert!(eyes(&[on(), light("L2", "16|4", "cold")], slow)[0].contains("L2 leaves or brings"));
    // Out long before, and another light fading in as the fabric goes: no light from behind.
    let wash: &dyn Fn(&mut Show) = &|s| {
        let mut wash = s.presets[0].clone();
        (wash.key, wash.behind, wash.fade) = ("wash".parse().unwrap(), None, SongSpan::from_millis(5000));
        s.presets.push(wash);
    };
    assert_eq!(eyes(&[on(), light("L2", "12|1", "cold"), light("L3", "16|1", "wash")], wash), [""; 0]);
    // The wash comes while the light from behind has not gone: what is left of it shines.
    assert!(eyes(&[on(), light("L3", "16|1", "wash")], wash)[0].contains("L3 leaves or brings"));
    // Another lighting state on the track replaces it: light from the front is no light in eyes.
    let front: &dyn Fn(&mut Show) = &|s| s.presets[1].level = 100;
    assert_eq!(eyes(&[on(), light("L2", "16|1", "cold")], front), [""; 0]);
    // A fabric that does not fall in this service keeps its light.
    let resting = R1.replace("\"R1\"", "\"R1\",\"resting\":true");
    let show = with(one(&format!("{resting},{}", on())), |s| s.presets[0].behind = Some(s.hangs[0].key.clone()));
    assert_eq!(told(&show, Code::LightInEyes), [""; 0]);
}

#[test]
fn arming_pulse_and_plan() {
    let release = |change: &dyn Fn(&mut Show)| with(one(R1), |s| change(s));
    let late = |millis: i64| {
        told(&release(&|s| s.releases[0].arm_before = SongSpan::from_millis(millis)), Code::ArmTooLate).len()
    };
    // Three seconds for hand and hold, before the second in which nothing that depends on it can be taken back.
    assert_eq!([3_999, 4_000].map(late), [1, 0]);
    let early = |before: i64, standby: i64| {
        let show = release(&|s| {
            s.releases[0].arm_before = SongSpan::from_millis(before);
            s.settings.release_standby = SongSpan::from_millis(standby);
        });
        told(&show, Code::ArmTooEarly)
    };
    // The standby of 8 s before is said on the beat before, at 22.5 or 23 s; arming opens at 31.1 s less the time before.
    assert_eq!((early(10_000, 20_000).len(), early(10_001, 20_000).len()), (0, 1));
    assert!(early(10_000, 8_000)[0].contains("before its standby"));
    assert_eq!(early(7_000, 8_000), [""; 0]);
    // An uncalled release has no standby to be before.
    let silent = release(&|s| s.tracks[2].called = false);
    assert_eq!(told(&silent, Code::ArmTooEarly), [""; 0]);
    // Plans without words or without a person to say them.
    for (caller, words, wanted) in [("a", "stuck", 0), (" ", "stuck", 1), ("a", " ", 1)] {
        let show = release(&|s| {
            let plan = s.releases[0].hang_up.as_mut().unwrap();
            (plan.caller, plan.words) = (caller.to_owned(), words.to_owned());
        });
        assert_eq!(told(&show, Code::HangUpNone).len(), wanted, "{caller} {words}");
    }
    // A release that rests is not looked at.
    let rests = with(one(&R1.replace("\"R1\"", "\"R1\",\"resting\":true")), |s| {
        s.releases[0].hang_up = None;
        s.releases[0].pulse = SongSpan::from_millis(1);
    });
    assert_eq!((told(&rests, Code::HangUpNone), told(&rests, Code::PulseShort)), (vec![], vec![]));
}

/// The release's message leaves at 31.1 s. A go is said 440 ms before its light: 40 of the receiver, 400 of the hand.
#[test]
fn goes_near_a_release() {
    let near = |at: &str, called: bool| {
        let show = with(one(&format!("{R1},{}", light("L1", at, "cold"))), |s| {
            s.tracks[1].goes = letfall_core::show::Goes::Operator;
            s.tracks[2].called = called;
        });
        told(&show, Code::GoBeforeRelease).len()
    };
    assert_eq!([near("26.5s", true), near("26.6s", true), near("31s", true), near("31.6s", true)], [0, 1, 1, 0]);
    assert_eq!(near("31s", false), 0, "nobody waits for a go");
}

#[test]
fn standbys() {
    let ahead = |millis: i64, code| {
        let show = with(one(&format!("{R1},{}", light("L1", "16|1", "cold"))), |s| {
            s.tracks[1].goes = letfall_core::show::Goes::Operator;
            s.settings.standby = SongSpan::from_millis(millis);
            s.settings.release_standby = SongSpan::from_millis(millis);
        });
        told(&show, code).len()
    };
    // On whole beats of half a second: up to half a second earlier than set.
    assert_eq!([19_400, 19_900, 20_000].map(|n| ahead(n, Code::StandbyShort)), [1, 0, 0]);
    assert_eq!([7_400, 8_000, 16_500, 17_600].map(|n| ahead(n, Code::StandbyOdd)), [1, 0, 0, 1]);
    assert_eq!([0, 60_000].map(|n| ahead(n, Code::StandbyShort)), [0, 0], "no standby has a check of its own");
}

/// Exactly eight seconds are not odd. The go is said 440 ms before its light (40 ms of the receiver, 400 ms of the hand, common practice),
/// and the beats are half a second.
#[test]
fn eight_seconds_are_usual() {
    let ahead = |at: &str| {
        let show = with(one(&light("L1", at, "cold")), |s| s.tracks[1].goes = letfall_core::show::Goes::Operator);
        told(&show, Code::StandbyOdd)
    };
    assert_eq!(ahead("9|1 +0.44s"), [""; 0]);
}

/// Two tracks undo each other, one does not; and the sentence names them.
#[test]
fn tracks_on_one_receiver() {
    let tracks = |second: &str| {
        let l2 = light("L2", "9|1", "cold").replace("\"track\":\"l\"", &format!("\"track\":\"{second}\""));
        let show = with(one(&format!("{},{l2}", light("L1", "5|1", "warm"))), |s| {
            s.tracks.push(serde_json::from_str(r#"{"key":"l2","name":"Backlight","kind":"lighting"}"#).unwrap());
            s.receivers[0].combines = letfall_core::show::Combine::Latest;
        });
        told(&show, Code::TracksUndo).concat()
    };
    assert_eq!(tracks("l"), "");
    assert!(
        tracks("l2").starts_with("tracks \"Lighting\" and \"Backlight\" recall presets on \"Lights\""),
        "{}",
        tracks("l2")
    );
}

/// One problem for all cues after the guide's end: it names the first and counts the others.
#[test]
fn cues_after_the_guide() {
    let over = |cues: &str| {
        let show = with(one(cues), |s| {
            let guide = serde_json::json!({"path": "g.wav", "length_us": 10_000_000});
            s.services[0].song.guide = Some(serde_json::from_value(guide).unwrap());
        });
        told(&show, Code::GuideOver).concat()
    };
    let (early, one, two) = (light("L1", "6|1", "warm"), light("L2", "7|1", "cold"), light("L3", "8|1", "warm"));
    assert_eq!(over(&early), "", "at its very end");
    assert!(over(&format!("{early},{one}")).starts_with("L2 lands after the guide"));
    assert!(over(&format!("{two},{early},{one}")).starts_with("L2 and 1 more land after the guide"));
}

/// The bars of the count-in are there for cues, the one before them is not; nor is the bar after the last.
#[test]
fn bars_that_are_there() {
    let missing = |at: &str| told(&one(&light("L1", at, "cold")), Code::BarMissing).len();
    assert_eq!(["-2|1", "-1|1", "1|1", "32|4", "33|1"].map(missing), [1, 0, 0, 0, 1]);
}

/// A picture on a fabric of ρ 0.35, τ 0.45 under 555.5556 lx (check-values 9): light of B lx on its back counts as 0.45/0.35 B on its front,
/// and 15:1 allows 555.5556/14 = 39.68 lx, so B may be 30.86 lx. Once the fabric has gone there is no picture to wash out.
#[test]
fn pictures_under_planned_light() {
    let washed = |at: &str, back: f64, front: f64, behind: bool| {
        let show = with(one(&format!("{R1},{}", light("L1", at, "cold"))), |s| {
            let p = serde_json::json!({"lumens": 5000, "width_m": 4, "height_m": 2.25, "gain": 0.35, "transmission": 0.45,
                "native_contrast": 1e9, "viewing": "basic-decisions"});
            s.outputs[0].projection = Some(serde_json::from_value(p).unwrap());
            (s.presets[1].back_lux, s.presets[1].front_lux) = (back, front);
            s.presets[1].behind = behind.then(|| s.hangs[0].key.clone());
        });
        told(&show, Code::PictureWashed)
    };
    assert_eq!(washed("5|1", 30.8, 0.0, true), [""; 0]);
    let told = washed("5|1", 30.9, 0.0, true);
    assert!(told[0].contains("contrast of 15.0:1") && told[0].contains("bar 5, beat 1"), "{told:?}");
    assert_eq!(washed("5|1", 30.9, 0.0, false), [""; 0], "it lights another fabric, or none");
    assert_eq!((washed("5|1", 0.0, 39.6, true).len(), washed("5|1", 0.0, 39.7, true).len()), (0, 1));
    assert_eq!((washed("16|4", 0.0, 99.0, true).len(), washed("18|1", 0.0, 99.0, true).len()), (1, 0));
}

/// Every preset shines on the front and none from behind, or the other way round: neither hides what the other does.
#[test]
fn light_from_one_side_alone() {
    let washed = |front: f64, back: f64| {
        let show = with(one(&format!("{R1},{}", light("L1", "5|1", "cold"))), |s| {
            let p = serde_json::json!({"lumens": 5000, "width_m": 4, "height_m": 2.25, "gain": 0.35, "transmission": 0.45,
                "native_contrast": 1e9, "viewing": "basic-decisions"});
            s.outputs[0].projection = Some(serde_json::from_value(p).unwrap());
            let hang = s.hangs[0].key.clone();
            for preset in &mut s.presets {
                (preset.front_lux, preset.back_lux, preset.behind) = (front, back, Some(hang.clone()));
            }
        });
        told(&show, Code::PictureWashed).len()
    };
    assert_eq!((washed(99.0, 0.0), washed(0.0, 99.0), washed(0.0, 0.0)), (1, 1, 0));
}

/// A long film plays on while a short one on the same layer has come and gone: the layer is not empty.
#[test]
fn a_layer_plays_until_the_last_of_its_films_ends() {
    let media = |label: &str, at: &str, bars: u32| {
        format!(
            r#"{{"label":"{label}","track":"m","at":"{at}","does":{{"media":{{"item":"film"}}}},"length":"{}t"}}"#,
            bars * 3840
        )
    };
    let picture = r#"{"label":"O1","track":"o","at":"9|1","does":{"output":{"route":"front-a"}}}"#;
    let empty = |first: u32| {
        let show = one(&format!("{picture},{},{}", media("M1", "2|1", first), media("M2", "3|1", 1)));
        told(&show, Code::OutputEmpty).len()
    };
    assert_eq!((empty(20), empty(3)), (0, 1));
}

#[test]
fn words_that_sound_like_calls() {
    let said = |stop: &str, stay: &str, stuck: &str| {
        let show = with(one(R1), |s| {
            s.safety.abort_words = stop.to_owned();
            s.safety.stay_words = stay.to_owned();
            s.releases[0].hang_up.as_mut().unwrap().words = stuck.to_owned();
        });
        told(&show, Code::WordsLikeCall).len()
    };
    assert_eq!(said("stop stop stop", "fabric stays", "stuck left"), 0);
    assert_eq!(said("No GO", "fabric stays", "stuck"), 1);
    assert_eq!(said("stop", "stand by for later", "stuck"), 1);
    // The release is called "release 1": its name is in a call, and its number in every other sentence.
    assert_eq!(said("stop", "the release stays", "stuck release"), 2);
    assert_eq!(said("stop 1", "it is on in the air", "stuck to the bar"), 0);
    assert_eq!(said("gone", "ongoing", "category"), 0, "whole words only");
}

#[test]
fn people_and_signals() {
    let sheet = |clear: &str, operator: &str, code| {
        let show = with(one(R1), |s| {
            s.safety.clear_signal = clear.to_owned();
            s.safety.arm_holder = operator.to_owned();
        });
        told(&show, code).len()
    };
    for (clear, operator, wanted) in [
        ("The release operator, lamp up", "Release operator", 1),
        ("deputy, beside the release operator's desk", "release operators", 0),
        ("spotter, a white lamp to the release operator", "release operator", 0),
        ("deputy, lamp up", "", 0),
        ("operator, lamp up", "release operator", 0),
    ] {
        assert_eq!(sheet(clear, operator, Code::ClearByOperator), wanted, "{clear} / {operator}");
    }
    assert_eq!(["green", "evergreen", "GREEN lamp"].map(|c| sheet(c, "x", Code::ClearIsGreen)), [1, 0, 1]);
    // Without a release none of it matters.
    let none = with(one(""), |s| {
        s.releases.clear();
        s.safety.clear_signal = "green".into();
        s.safety.stay_words.clear();
    });
    assert_eq!((told(&none, Code::ClearIsGreen), told(&none, Code::NoStayWords)), (vec![], vec![]));
    // Every way of cutting the power of a fabric that power holds.
    let then = |words: &str, kind| {
        let show = with(one(R1), |s| {
            s.releases[0].kind = kind;
            s.releases[0].hang_up.as_mut().unwrap().then = words.to_owned();
        });
        told(&show, Code::PowerHeldSteps).len()
    };
    for words in [
        "Isolate the supply.",
        "then switch it OFF",
        "Key out",
        "unplug it",
        "The electrician cuts the power",
        "switch the power off",
        "she turns off the supply",
        "he pulls the key",
    ] {
        assert_eq!(then(words, ReleaseKind::Deenergise), 1, "{words}");
        assert_eq!(then(words, ReleaseKind::Energise), 0, "{words}");
    }
    for words in [
        "wait; the power stays on, nobody touches the monkey outside",
        "Do not switch off; the power stays on",
        "Nobody cuts the power",
    ] {
        assert_eq!(then(words, ReleaseKind::Deenergise), 0, "{words}");
    }
}

#[test]
fn services_of_one_day() {
    let two = |first: &str, second: &str, reach: Reach, day: [&str; 2]| {
        let of = |name: &str, starts: &str, day: &str, cues: &str| {
            super::plans::service(name, 32, cues)
                .replace("20:00", starts)
                .replace("\"song\"", &format!("\"date\":\"{day}\",\"song\""))
        };
        let services = format!("[{},{}]", of("A", first, day[0], R1), of("B", second, day[1], ""));
        let show = with(super::plans::show(&services), |s| s.hangs[0].reach = reach);
        told(&show, Code::ServicesClose)
    };
    let same = ["2026-12-19"; 2];
    // 64 s of song.
    assert_eq!(two("14:00", "15:01:04", Reach::Lowered, same), [""; 0]);
    assert!(
        two("14:00", "15:01:03", Reach::Unknown, same)[0].contains("there are 59 minutes, and hanging again takes 60")
    );
    assert_eq!(two("14:00", "15:31:04", Reach::Lift, same), [""; 0]);
    assert_eq!(two("14:00", "15:31:03", Reach::Lift, same).len(), 1);
    assert!(
        two("14:00", "14:01", Reach::Lowered, same)[0]
            .contains("the song of \"B\" begins before that of \"A\" is over")
    );
    assert!(two("14:00", "14:00", Reach::Lowered, same)[0].contains("begins before"));
    // One ends as the other begins: that is no time at all, and not before.
    assert!(two("14:00", "14:01:04", Reach::Lowered, same)[0].contains("there are 0 minutes"));
    // The first of the day lets nothing go, so nothing has to be hung again.
    assert_eq!(two("15:00", "14:30", Reach::Lowered, same), [""; 0]);
    assert_eq!(two("14:00", "14:10", Reach::Lowered, ["2026-12-19", "2026-12-20"]), [""; 0]);
}

#[test]
fn marks_of_the_song() {
    let marked = |change: &dyn Fn(&mut letfall_core::show::Song), code| {
        told(&with(one(&light("L1", "5|1", "warm")), |s| change(&mut s.services[0].song)), code)
    };
    let tempo = |text: &str| {
        let tempo = text.parse().unwrap();
        marked(&|song| song.grid.tempos[0].tempo = tempo, Code::TempoOdd).len()
    };
    assert_eq!(["29.9", "30", "300", "300.1"].map(tempo), [1, 0, 0, 1]);
    let ramp = |to: &str| {
        let to = to.parse().unwrap();
        let law = letfall_core::time::RampLaw::BpmLinearInBeats;
        let change = |song: &mut letfall_core::show::Song| {
            let mut end = song.grid.tempos[0].clone();
            song.grid.tempos[0].ramp = Some(letfall_core::time::Ramp { to, law });
            end.at = letfall_core::time::BarBeat::downbeat(9);
            song.grid.tempos.push(end);
        };
        marked(&change, Code::TempoOdd).len()
    };
    assert_eq!(["400", "200"].map(ramp), [1, 0]);
    // The song has bars 1 to 32.
    let mark = |bar: i32| {
        let change = |song: &mut letfall_core::show::Song| {
            let mut mark = song.grid.tempos[0].clone();
            mark.at = letfall_core::time::BarBeat::downbeat(bar);
            song.grid.tempos.push(mark);
        };
        marked(&change, Code::MarkBeyond).concat()
    };
    assert_eq!(mark(32), "");
    assert!(mark(33).contains("last bar, 32"), "{}", mark(33));
    let metre = |bar: i32| {
        let change = |song: &mut letfall_core::show::Song| {
            let mut mark = song.grid.metres[0].clone();
            mark.bar = bar;
            song.grid.metres.push(mark);
        };
        marked(&change, Code::MarkBeyond).len()
    };
    assert_eq!([metre(32), metre(33)], [0, 1]);
    let pin = |bar: i32| {
        let change = |song: &mut letfall_core::show::Song| {
            let at = letfall_core::time::SongTime::saturating(i64::from(bar) * 2_000_000);
            song.grid.pins = vec![letfall_core::time::Pin { bar, at }];
        };
        marked(&change, Code::MarkBeyond).len()
    };
    // A pin may hold the song's very end.
    assert_eq!([pin(33), pin(34)], [0, 1]);
    let section = |bar: i32, bars: u32| {
        let section = letfall_core::show::Section { name: "S".into(), bar, bars, heard: String::new() };
        marked(&|song| song.sections = vec![section.clone()], Code::MarkBeyond).len()
    };
    assert_eq!([section(30, 3), section(30, 4)], [0, 1]);
}

/// The figures of `not_checked` follow what the show knows.
#[test]
fn what_was_not_checked_is_said() {
    let lists =
        |show: &Show, words: &str| letfall_core::check::not_checked(show).iter().any(|line| line.contains(words));
    let show = one(R1);
    for words in
        ["arrives", "numbers", "the rig holds", "fire codes", "how late sound is", "circuits", "brightness", "no day"]
    {
        assert!(lists(&show, words), "{words}");
    }
    let full = with(show, |s| {
        s.settings.seat_m = 10.0;
        s.services[0].date = "2026-12-19".into();
        s.outputs.clear();
        s.releases.clear();
    });
    for words in ["the rig holds", "fire codes", "how late sound is", "circuits", "brightness", "no day"] {
        assert!(!lists(&full, words), "{words}");
    }
    let dated = with(one(R1), |s| s.services[0].date = "2026-12-19".into());
    assert!(!lists(&dated, "no day"));
    assert!(lists(&with(dated, |s| s.services[0].starts = None), "no day"));
}
