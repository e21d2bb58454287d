//! Checks where a neighbour would do: each test here was missing until a change of the code passed all others (cargo-mutants).

use super::checks::{R1, REVEAL, light, with};
use super::plans::{one, problems, service, show};
use letfall_core::check::{Code, Severity, not_checked};
use letfall_core::show::{Goes, Show};
use letfall_core::time::SongSpan;

fn told(show: &Show, code: Code) -> Vec<String> {
    problems(show).into_iter().filter(|p| p.code == code).map(|p| p.what).collect()
}

#[test]
fn a_missing_port_and_a_missing_receiver_are_told_apart() {
    let port = with(one(&light("L1", "5|1", "warm")), |s| s.receivers[0].port = "gone".parse().unwrap());
    assert!(
        told(&port, Code::ReceiverMissing)[0].contains("the port of the receiver of"),
        "{:?}",
        told(&port, Code::ReceiverMissing)
    );
    let receiver = with(one(&light("L1", "5|1", "warm")), |s| s.presets[0].receiver = "gone".parse().unwrap());
    assert!(
        told(&receiver, Code::ReceiverMissing)[0].contains("because the receiver of"),
        "{:?}",
        told(&receiver, Code::ReceiverMissing)
    );
}

/// A release that rests is nobody's concern, and what is no release has no clear signal.
#[test]
fn resting_releases_have_no_problems_of_their_own() {
    let rests = with(one(&R1.replace("\"R1\"", "\"R1\",\"resting\":true")), |s| s.safety.clear_signal.clear());
    let of_r1: Vec<_> = problems(&rests).into_iter().filter(|p| p.cues.iter().any(|l| l.to_string() == "R1")).collect();
    assert!(of_r1.is_empty(), "{of_r1:?}");
}

/// The tolerance counts on either side by itself, and what just fits is in it.
#[test]
fn a_release_may_be_too_early_or_too_late() {
    let row = {
        let show = one(REVEAL);
        super::plans::prepared(&show).row("R1".parse().unwrap()).unwrap().clone()
    };
    let tick = SongSpan::from_micros(1);
    let wide = SongSpan::from_millis(10_000);
    for (early, late, count) in [
        (row.early, row.late, 0),
        (row.early - tick, wide, 1),
        (wide, row.late - tick, 1),
        (wide, wide, 0),
        (row.early - tick, row.late - tick, 1),
    ] {
        let show = with(one(REVEAL), |s| (s.settings.early, s.settings.late) = (early, late));
        let found = problems(&show).into_iter().filter(|p| p.what.contains("may land up to")).count();
        assert_eq!(found, count, "{early} {late}");
    }
}

/// Only what shares its wire can keep a release waiting.
#[test]
fn a_long_message_on_another_wire_blocks_no_release() {
    let long = |port: &str, at: &str| {
        with(one(&format!("{REVEAL},{}", light("L1", at, "warm"))), |s| {
            s.ports.push(serde_json::from_str(r#"{"key":"q","name":"Other"}"#).unwrap());
            s.receivers[0].port = port.parse().unwrap();
            let bytes: Vec<String> = (0..60).map(|_| "01".to_owned()).collect();
            let message = format!("F0 7D {} F7", bytes.join(" "));
            s.presets[0].message = serde_json::from_value(serde_json::json!({"sysex": message})).unwrap();
        })
    };
    let count = |show: &Show| told(show, Code::ReleasePortBlocked).len();
    // The release may leave from about 21 s to 34 s.
    assert_eq!([count(&long("p", "30s")), count(&long("q", "30s")), count(&long("p", "10s"))], [1, 0, 0]);
    // A contact that stays closed beyond its window must still be opened in time.
    let pulse = |at: &str, secs: i64| with(long("p", at), |s| s.releases[0].pulse = SongSpan::from_millis(secs * 1000));
    assert_eq!([count(&pulse("40s", 1)), count(&pulse("40s", 20)), count(&pulse("60s", 20))], [0, 1, 0]);
}

/// The branch is loaded to 80 % and not beyond: 7 units of 10 W at 24 V are 70 W, at 10 V of mains (made up) 7 A, and 80 % of 8.75 A are 7 A.
#[test]
fn four_fifths_of_a_branch() {
    let branch = |amps: f64| {
        let show = with(one(""), |s| {
            let circuit = serde_json::json!({"supply_v": 24.0, "unit_w": 10.0, "unit_v": 24.0, "pull_in_v": 18.0,
                "conductor": {"iec": {"mm2": 10.0, "class": "fixed"}}, "wiring": {"together": {"feed_m": 0.0}},
                "branch_a": amps, "branch_v": 10.0});
            s.releases[0].circuit = Some(serde_json::from_value(circuit).unwrap());
        });
        told(&show, Code::SupplyLoad).len()
    };
    assert_eq!([branch(8.7), branch(8.8)], [1, 0]);
}

/// "Faster than free fall" says how long free fall takes, from the height alone: 2.2 m to the sightline, √(2 · 2.2 m / g).
#[test]
fn free_fall_is_worked_out_from_the_height_and_not_from_the_drop() {
    let show = with(one(""), |s| {
        s.hangs[0].measured.truncate(1);
        s.hangs[0].measured[0].seconds = 0.5;
    });
    let least = (2.0f64 * 2.2 / 9.806_65).sqrt();
    let said = told(&show, Code::DropTooFast);
    assert!(said[0].contains(&format!("free fall ({least:.2} s)")), "{said:?}");
}

/// The median of an even number of drops is the mean of the middle two.
#[test]
fn an_odd_drop_among_an_even_number() {
    let odd = |seconds: &[f64]| {
        let show = with(one(""), |s| {
            let drop = s.hangs[0].measured[0].clone();
            s.hangs[0].measured = seconds
                .iter()
                .map(|seconds| letfall_core::show::MeasuredDrop { seconds: *seconds, ..drop.clone() })
                .collect();
        });
        told(&show, Code::DropOdd).len()
    };
    // Median 1.10 (of 1.00 and 1.20), deviations 0.10, 0.10, 0.10 and the last: their median is 0.10, scaled by 1.4826 (for a normal
    // distribution) 0.148, and 3.5 of them are 0.519.
    assert_eq!(odd(&[1.00, 1.00, 1.20, 1.63]), 1);
    assert_eq!(odd(&[1.00, 1.00, 1.20, 1.61]), 0);
}

/// Cues that were copied from two services are each compared with their own.
#[test]
fn copies_of_two_services_are_compared_with_their_own() {
    let copied = |label: &str, at: &str, from: &str| {
        light(label, at, "warm")
            .replace("\"does\"", &format!("\"copied_from\":{{\"service\":\"{from}\",\"label\":\"{label}\"}},\"does\""))
    };
    let a = service("A", 32, &light("L1", "5|1", "warm"));
    let b = service("B", 32, &light("L2", "7|1", "warm"));
    let c = service("C", 32, &format!("{},{}", copied("L1", "5|1", "A"), copied("L2", "7|1", "B")));
    let same = show(&format!("[{a},{b},{c}]"));
    assert_eq!(told(&same, Code::ServicesDiffer), [""; 0]);
    let moved = c.replace("7|1", "8|1");
    let said = told(&show(&format!("[{a},{b},{moved}]")), Code::ServicesDiffer);
    assert!(said.len() == 1 && said[0].contains("of \"B\" in at"), "{said:?}");
}

/// Of a handover whose release rests, only the cues that are awake are named.
#[test]
fn a_resting_release_names_the_cues_that_are_awake() {
    let resting = |cues: &str| {
        cues.replace("\"R1\",\"track\"", "\"R1\",\"resting\":true,\"track\"")
            .replace("\"O1\",\"track\"", "\"O1\",\"resting\":true,\"track\"")
    };
    let show = with(one(&resting(REVEAL)), |s| {
        let handover = serde_json::json!({"release": "R1", "from": "front", "to": "house",
            "leave": {"after": "sightline", "offset_us": 0, "route": "front-blank"},
            "arrive": {"after": "sightline", "offset_us": 50_000, "route": "house-still"}, "cues": ["O1", "O2"]});
        s.services[0].handovers = vec![serde_json::from_value(handover).unwrap()];
    });
    assert_eq!(told(&show, Code::HandoverMoved), ["R1 rests, and its handover (O2) does not"]);
}

/// Which side of a handover is wrong is said.
#[test]
fn the_wrong_side_of_a_handover_is_named() {
    let show = |gone: usize| {
        with(one(REVEAL), |s| {
            let cues = if gone == 0 { ["O9", "O2"] } else { ["O1", "O9"] };
            let handover = serde_json::json!({"release": "R1", "from": "front", "to": "house",
                "leave": {"after": "sightline", "offset_us": 0, "route": "front-blank"},
                "arrive": {"after": "sightline", "offset_us": 50_000, "route": "house-still"}, "cues": cues});
            s.services[0].handovers = vec![serde_json::from_value(handover).unwrap()];
        })
    };
    for (gone, side) in [(0, "leaves"), (1, "arrives")] {
        let said = told(&show(gone), Code::HandoverMoved);
        assert!(said.len() == 1 && said[0].ends_with(&format!("{side} has no cue")), "{said:?}");
    }
}

/// A cue beyond the last bar, at the very end, and before the count-in.
#[test]
fn outside_the_song_is_beyond_either_end() {
    let at = |place: &str| told(&one(&light("L1", place, "cold")), Code::LandOutside).len();
    // 32 bars of 2 s: the song ends at 64 s, and the count-in of two bars begins at −4 s.
    assert_eq!([at("64s"), at("64.001s"), at("90s"), at("-4s"), at("-4.001s")], [0, 1, 1, 0, 1]);
}

#[test]
fn what_is_not_checked_of_several_services_is_said_only_where_there_are_several() {
    let of =
        |services: &str| not_checked(&show(services)).iter().any(|line| line.contains("before and after its song"));
    assert!(!of(&format!("[{}]", service("A", 32, ""))));
    assert!(of(&format!("[{},{}]", service("A", 32, ""), service("B", 32, ""))));
    assert!(!of("[]"));
}

/// Light behind the fabric after it has gone shines into eyes; any other light does not, nor does darkness there.
#[test]
fn only_light_from_behind_shines_into_eyes_later() {
    let later = |preset: &str, level: u8| {
        let show = with(one(&format!("{REVEAL},{}", light("L1", "20|1", preset))), |s| {
            s.presets[0].behind = Some(s.hangs[0].key.clone());
            s.presets[0].level = level;
        });
        told(&show, Code::LightInEyes).len()
    };
    assert_eq!([later("warm", 100), later("warm", 0), later("cold", 100)], [1, 0, 0]);
}

/// Light behind another fabric stays where it is when this one goes.
#[test]
fn light_behind_another_fabric_shines_into_no_eyes() {
    let behind = |hang: usize| {
        let show = with(one(&format!("{REVEAL},{}", light("L1", "10|1", "warm"))), |s| {
            let mut back = s.hangs[0].clone();
            back.key = "back".parse().unwrap();
            s.hangs.push(back);
            s.presets[0].behind = Some(s.hangs[hang].key.clone());
        });
        told(&show, Code::LightInEyes).len()
    };
    assert_eq!([behind(0), behind(1)], [1, 0]);
}

#[test]
fn severities_have_their_words() {
    let words = [Severity::Stop, Severity::Fix, Severity::Note].map(|severity| severity.to_string());
    assert_eq!(words, ["stop", "fix", "note"]);
}

/// What would make a release's message mistaken has a remedy in words.
#[test]
fn a_message_that_is_taken_for_the_release_has_a_remedy() {
    let show = with(one(&format!("{REVEAL},{}", light("L1", "5|1", "warm"))), |s| {
        s.presets[0].receiver = s.releases[0].receiver.clone();
        s.presets[0].message = s.releases[0].message.clone();
    });
    let found =
        problems(&show).into_iter().find(|p| p.severity() == Severity::Stop && p.what.contains("Front release"));
    let found = found.unwrap_or_else(|| panic!("{:?}", problems(&show)));
    assert!(found.remedy.starts_with("give "), "{}", found.remedy);
}

/// Another go near a release counts where a hand acts on it, not where the machine sends.
#[test]
fn a_machines_cue_before_a_release_is_no_go() {
    let near = |goes: Goes| {
        let show = with(one(&format!("{REVEAL},{}", light("L1", "30s", "cold"))), |s| s.tracks[1].goes = goes);
        told(&show, Code::GoBeforeRelease).len()
    };
    assert_eq!([near(Goes::Operator), near(Goes::Machine)], [1, 0]);
}
