//! The system's own MIDI ports, whatever system and machine this is: what it has can be opened, and where it has none, or one has gone, a
//! sentence says so.

#![cfg(feature = "device")]
#![allow(clippy::unwrap_used)]

use letfall_live::{Ports as _, SystemPorts};

#[test]
fn ports_are_listed_and_opened_or_a_sentence_says_why_not() {
    let mut ports = SystemPorts;
    let mut found = Vec::new();
    for (way, listed) in [("out", ports.outputs()), ("in", ports.inputs())] {
        match listed {
            Ok(names) => {
                println!("{way}: {names:?}");
                let mut distinct = names.clone();
                distinct.sort();
                distinct.dedup();
                assert_eq!(distinct.len(), names.len(), "no two have the same name: {names:?}");
                found.extend(names.into_iter().map(|name| (way, name)));
            }
            Err(why) => {
                println!("{way}: {why}");
                assert!(why.starts_with("the system gives no MIDI here (") && why.ends_with(')'), "{why}");
            }
        }
    }
    for (way, name) in found {
        let opened =
            if way == "out" { ports.open(&name).map(drop) } else { ports.listen(&name, Box::new(|_| {})).map(drop) };
        // Another program may hold it, which some systems do not share.
        if let Err(why) = opened {
            println!("{why}");
            assert!(why.contains(&format!("MIDI port \"{name}\" cannot be")), "{why}");
        }
    }
}

#[test]
fn a_port_that_is_not_there() {
    let told = |why: Result<(), String>| {
        let why = why.unwrap_err();
        let gone = why == "there is no MIDI port \"Pulled out 1\" now";
        assert!(gone || why.starts_with("the system gives no MIDI here ("), "{why}");
    };
    told(SystemPorts.open("Pulled out 1").map(drop));
    told(SystemPorts.listen("Pulled out 1", Box::new(|_| {})).map(drop));
}
