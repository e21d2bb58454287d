//! Checks of what hands set off, and of the work between services: a plan that fails, and the same put right.

use super::checks::{R1, light, with};
use super::plans::{one, service, show};
use letfall_core::check::Code;
use letfall_core::show::{Call, Goes, Show};

/// A case for each of these codes: a failing show, then a passing one.
pub fn case(code: Code) -> (Show, Show) {
    match code {
        Code::DeskNumberTwice => {
            let two = with(one(""), |s| (s.presets[0].desk, s.presets[1].desk) = ("7".into(), "8".into()));
            (with(two.clone(), |s| s.presets[1].desk = " 7 ".into()), two)
        }
        Code::AfterNothing => {
            let after = |label: &str| {
                with(one(&format!("{},{}", light("L1", "9|1", "warm"), light("L2", "9|3", "cold"))), |s| {
                    let mut cue = s.services[0].cues.get("L2".parse().unwrap()).unwrap().clone();
                    let goes = Some(Goes::After(label.parse().unwrap()));
                    cue.call = Some(Box::new(Call { goes, ..Call::default() }));
                    s.services[0].cues.put(vec![cue]);
                })
            };
            (after("L9"), after("L1"))
        }
        Code::BetweenTooLong => {
            // "A" ends at 20:01:04. The usual work takes 56 minutes, and it is done 10 minutes before the doors open.
            let doors = |time: &str| {
                let late = service("B", 32, "").replace("20:00", "23:00");
                with(show(&format!("[{},{late}]", service("A", 32, R1))), |s| {
                    s.services[1].doors = Some(time.parse().unwrap());
                })
            };
            (doors("21:07:03"), doors("21:07:04"))
        }
        other => unreachable!("{other:?} has its case elsewhere"),
    }
}
