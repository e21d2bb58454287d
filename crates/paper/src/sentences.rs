//! Each sentence on a sheet is true for each way in which the sheet can be printed. For tests: a table of sentences, each with when it holds.

use crate::legible::{demo, runs_of};
use crate::options::{Sheet, Size};
use serde_json::{Value, json};

/// One way in which a show can be: each part of it that a sentence depends on.
#[derive(Debug, Clone, Copy)]
#[allow(clippy::struct_excessive_bools)] // nine switches of a table, each by itself
struct Way {
    release: bool,
    called: bool,
    by_hand: bool,
    by_machine: bool,
    plan: bool,
    again: bool,
    stays: bool,
    told: bool,
    power_held: bool,
}

impl Way {
    fn all() -> impl Iterator<Item = Way> {
        (0..512u32).map(|n| {
            let is = |bit: u32| n >> bit & 1 == 1;
            Way {
                release: is(0),
                called: is(1),
                by_hand: is(2),
                by_machine: is(3),
                plan: is(4),
                again: is(5),
                stays: is(6),
                told: is(7),
                power_held: is(8),
            }
        })
    }

    fn apply(self, file: &mut Value) {
        let show = &mut file["show"];
        show["tracks"][3]["called"] = json!(self.called);
        let release = &mut show["releases"][0];
        release["kind"] = json!(if self.power_held { "deenergise" } else { "energise" });
        if self.plan {
            release["hang_up"]["hold"] = json!([]);
            release["hang_up"]["then"] = json!("Band plays on.");
            release["hang_up"]["wait_us"] = json!(if self.again { 8_000_000 } else { 0 });
        } else {
            release.as_object_mut().expect("a release").remove("hang_up");
        }
        if !self.stays {
            show["releases"][0].as_object_mut().expect("a release").remove("stays");
        }
        show["safety"]["stay_words"] = json!(if self.stays { "Fabric stays" } else { "" });
        show["stop"]["tells_band"] = json!(if self.told { "deputy" } else { "" });
        let service = &mut show["services"][1];
        service["handovers"] = json!([]);
        let cues = service["cues"].as_array_mut().expect("cues");
        cues.retain(|cue| {
            cue["label"] == "R1" && self.release
                || cue["label"] == "L2" && self.by_hand
                || cue["label"] == "L4" && self.by_machine
        });
    }
}

/// When a sentence stands on a sheet.
type Holds = fn(Way) -> bool;

const TABLE: &[(Sheet, &str, Holds)] = &[
    (Sheet::Calls, "GO stands only where a hand acts on it", |way| way.by_hand),
    (Sheet::Calls, "“Lights 3 go”", |way| way.by_hand),
    (Sheet::Calls, "comes by itself and is not said", |way| way.by_machine || way.release),
    (Sheet::Calls, "A release is let out by itself, only while it is armed", |way| way.release),
    (Sheet::Calls, "“Standby release 1”", |way| way.release && way.called),
    (Sheet::Calls, "“Zone?”", |way| way.release && way.called),
    (Sheet::Calls, "“Arm off”", |way| way.release),
    (Sheet::Calls, "“Fabric stays”", |way| way.release && way.stays),
    (Sheet::Calls, "(settle the words)", |way| way.release && !way.stays),
    (Sheet::Calls, "they are told by deputy", |way| way.release && way.told),
    (Sheet::Calls, "(settle it)", |way| way.release && !way.told),
    (Sheet::Calls, "If the fabric is stuck", |way| way.release && way.plan),
    (Sheet::Calls, "Trying again, not sooner than 8 s", |way| way.release && way.plan && way.again),
    (Sheet::Calls, "Do not try again", |way| way.release && way.plan && !way.again),
    (Sheet::Calls, "Nothing is called in this service", |way| !way.release && !way.by_hand && !way.by_machine),
    (Sheet::Calls, "Release 1 go", |_| false),
    (Sheet::Calls, "by hand if nothing comes", |_| false),
    (Sheet::Release, "No release in this service", |way| !way.release),
    (Sheet::Release, "“Arm on” at", |way| way.release && way.called),
    (Sheet::Release, "nobody calls it", |way| way.release && !way.called),
    (Sheet::Release, "Nobody says go", |way| way.release),
    (Sheet::Release, "No plan for a stuck fabric", |way| way.release && !way.plan),
    (Sheet::Release, "Trying again, not sooner than 8 s", |way| way.release && way.plan && way.again),
    (Sheet::Release, "Do not try again", |way| way.release && way.plan && !way.again),
    (Sheet::Release, "Do not cut the power: that drops the fabric", |way| way.release && way.power_held),
    (Sheet::Release, "by hand if nothing comes", |_| false),
    (Sheet::Between, "Do not cut the power: that drops the fabric", |way| way.release && way.power_held),
    (Sheet::Between, "Power-to-release: the circuit's supply off", |way| way.release && !way.power_held),
    (Sheet::ShowStop, "Do not cut the power: that drops the fabric", |way| way.release && way.power_held),
    (Sheet::Lighting, "Letfall sends nothing", |way| way.by_hand),
    (Sheet::Lighting, "leaves at", |way| way.by_machine),
];

#[test]
fn every_sentence_is_true_in_every_way() {
    // Every pair of parts together, and some of all: 512 ways on four sheets would take minutes.
    let some = Way::all().enumerate().filter(|(n, _)| n % 7 == 0 || *n < 32 || *n > 500).map(|(_, way)| way);
    for way in some {
        let plan = demo(|file| way.apply(file));
        for sheet in [Sheet::Calls, Sheet::Release, Sheet::Between, Sheet::ShowStop, Sheet::Lighting] {
            let pages = runs_of(&plan, sheet, Size::A4);
            let text: String = pages.iter().flatten().map(|run| run.text.as_str()).collect();
            let plain = |text: &str| text.chars().filter(|c| !c.is_whitespace()).collect::<String>();
            let text = plain(&text);
            for (_, sentence, holds) in TABLE.iter().filter(|(of, ..)| *of == sheet) {
                assert_eq!(text.contains(&plain(sentence)), holds(way), "{sheet:?}: “{sentence}” with {way:?}");
            }
        }
    }
}
