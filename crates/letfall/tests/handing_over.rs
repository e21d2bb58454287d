//! What is put together for everybody, and what a desk gives back: as users run it.

#![allow(clippy::unwrap_used, missing_docs)]

mod common;

use common::{Desk, bad, demo, good, path};
use std::fs;
use std::path::Path;

/// Everything in one folder or one zip file: the same files, each named in the index with its fingerprint, and each as it is alone.
#[test]
fn a_bundle_holds_everything_and_is_whole() {
    let desk = Desk::new();
    let show = demo("lantern-night");
    let (folder, zipped) = (desk.at("bundle"), desk.at("bundle.zip"));
    let told = good(&["bundle", path(&show), "-o", &folder, "--printed", "2026-12-19"]);
    assert!(told.contains("48 files"), "{told}");
    good(&["bundle", path(&show), "-o", &zipped, "--printed", "2026-12-19"]);
    let index = fs::read_to_string(Path::new(&folder).join("index.html")).unwrap();
    let mut files = 0;
    for service in ["early", "late"] {
        for entry in fs::read_dir(Path::new(&folder).join(service)).unwrap() {
            let name = entry.unwrap().file_name().into_string().unwrap();
            assert!(index.contains(&format!("href=\"{service}/{name}\"")), "{service}/{name}");
            files += 1;
        }
    }
    assert_eq!(files, 46);
    // What is in it is what the other commands write.
    let alone = desk.at("alone");
    let of = ["--service", "Late", "-o", &alone];
    for (command, name) in [("midi", "cues.mid"), ("table", "cues.csv"), ("timecode", "timecode.wav")] {
        good(&[&[command, path(&show)], &of[..]].concat());
        assert!(fs::read(&alone).unwrap() == fs::read(Path::new(&folder).join("late").join(name)).unwrap(), "{name}");
    }
    good(&[&["paper", path(&show), "--sheet", "calls", "--printed", "2026-12-19"], &of[..]].concat());
    assert!(fs::read(&alone).unwrap() == fs::read(Path::new(&folder).join("late/call-sheet.pdf")).unwrap());
    // The fingerprint of a sheet in the hand is found again.
    let row = index.lines().find(|line| line.contains("late/call-sheet.pdf")).unwrap();
    let print = row.rsplit("<code>").next().unwrap().split('<').next().unwrap();
    assert!(good(&["check", path(&show), "--printed", print]).contains("the call sheet of"), "{print}");
    // A folder that holds something is left alone; so is what cannot be made.
    assert!(bad(&["bundle", path(&show), "-o", &folder]).contains("already holds something"));
    let bytes = fs::read(&zipped).unwrap();
    assert!(bytes.starts_with(b"PK\x03\x04") && bytes.len() > 1_000_000);
    assert!(bad(&["bundle", path(&show), "-o", &desk.at("no/such/folder.zip")]).contains("cannot be written"));
}

#[test]
fn a_desks_list_is_taken_over_and_renumbered() {
    let desk = Desk::new();
    let show = demo("lantern-night");
    let (list, out) = (desk.at("list.csv"), desk.at("out.letfall"));
    fs::write(&list, "Number;Name;Fade\n1;Blackout;1,5\n13;Lantern glow;4\n").unwrap();
    let told = good(&["desk-list", path(&show), "--receiver", "Lighting", "--list", &list, "-o", &out]);
    assert!(told.contains("1 changed, 1 new"), "{told}");
    let taken = letfall_core::file::read(&fs::read(&out).unwrap()).unwrap();
    let last = taken.presets.last().unwrap();
    assert_eq!((last.name.as_str(), last.desk.as_str(), last.fade.micros()), ("Lantern glow", "13", 4_000_000));
    assert_eq!(letfall_core::schedule::message_words(&last.message), "GO cue 13");
    good(&["renumber", &out, "--receiver", "lights", "--from", "101", "-o", &out]);
    let again = letfall_core::file::read(&fs::read(&out).unwrap()).unwrap();
    assert_eq!(again.presets[1].desk, "102");
    assert_eq!(letfall_core::schedule::message_words(&again.presets[1].message), "GO cue 102");
    let before = fs::read(&out).unwrap();
    fs::write(&list, "1,Blackout,soon\n").unwrap();
    assert!(bad(&["desk-list", &out, "--receiver", "lights", "--list", &list, "-o", &out]).contains("row 1"));
    assert!(
        bad(&["desk-list", &out, "--receiver", "nobody", "--list", &list, "-o", &out]).contains("there are: lights")
    );
    assert_eq!(fs::read(&out).unwrap(), before, "what was refused changed nothing");
}
