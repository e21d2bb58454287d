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
    assert!(told.contains("60 files"), "{told}");
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
    assert_eq!(files, 58);
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
    good(&["renumber", &out, "--receiver", "lights", "--from", "101", "--in-place"]);
    let again = letfall_core::file::read(&fs::read(&out).unwrap()).unwrap();
    assert_eq!(again.presets[1].desk, "102");
    assert_eq!(letfall_core::schedule::message_words(&again.presets[1].message), "GO cue 102");
    let before = fs::read(&out).unwrap();
    fs::write(&list, "1,Blackout,soon\n").unwrap();
    assert!(bad(&["desk-list", &out, "--receiver", "lights", "--list", &list, "--in-place"]).contains("row 1"));
    assert!(
        bad(&["desk-list", &out, "--receiver", "nobody", "--list", &list, "--in-place"]).contains("there are: lights")
    );
    assert_eq!(fs::read(&out).unwrap(), before, "what was refused changed nothing");
}

#[test]
fn a_table_of_cues_is_taken_over_whole_or_not_at_all() {
    let desk = Desk::new();
    let (show, out, csv, list) =
        (demo("lantern-night"), desk.at("out.letfall"), desk.at("late.csv"), desk.at("list.csv"));
    let read = |path: &str| letfall_core::file::read(&fs::read(path).unwrap()).unwrap();
    let late = |path: &str| read(path).service("Late").unwrap().cues.clone();
    // The program's own table changes nothing where it comes from.
    good(&["table", path(&show), "--service", "Late", "-o", &csv]);
    let told = good(&["import", path(&show), &csv, "--service", "Late", "--on-clash", "replace", "-o", &out]);
    let before = late(path(&show));
    assert!(told.contains(&format!("0 new, 0 changed, {} there already", before.len())), "{told}");
    assert_eq!(late(&out), before);
    // A spreadsheet's table: some new, one changed, in one step.
    fs::write(&list, "Bar\tWhat\tLabel\tWho\n12 b3\tBlackout\t\tLea\n9\tBlackout\tL1\tMax\n").unwrap();
    let run = |clash: &str| {
        common::letfall(&["import", path(&show), &list, "--service", "Late", "--on-clash", clash, "-o", &out])
    };
    let kept = run("keep");
    assert!(
        String::from_utf8_lossy(&kept.stdout).contains("1 new, 0 changed, 0 there already, 1 not taken over"),
        "{kept:?}"
    );
    assert!(
        String::from_utf8_lossy(&kept.stdout).contains("not taken over, the service keeps its own: L1"),
        "{kept:?}"
    );
    assert!(String::from_utf8_lossy(&kept.stderr).contains("nothing was taken from the column \"Who\""), "{kept:?}");
    assert_eq!(late(&out).len(), before.len() + 1);
    assert!(String::from_utf8_lossy(&run("replace").stdout).contains("1 new, 1 changed"));
    let changed = late(&out).get("L1".parse().unwrap()).unwrap().clone();
    assert_eq!(changed.at.to_string(), "9 b1");
    assert!(String::from_utf8_lossy(&run("both").stdout).contains("2 new, 0 changed"));
    assert_eq!(late(&out).len(), before.len() + 2);
    // Lines that cannot be read are all named, and nothing is written.
    let untouched = fs::read(&out).unwrap();
    fs::write(&list, "33.2\t\tlighting\tBlackout\t\n34\t\tlighting\tBlackout\t\n35 b9\t\tlighting\tBlackout\t\n")
        .unwrap();
    let refused = common::letfall(&["import", &out, &list, "--service", "Late", "--in-place"]);
    let told = String::from_utf8(refused.stderr).unwrap();
    assert_eq!(refused.status.code(), Some(2), "{told}");
    assert!(told.contains("2 lines cannot be read; nothing was written"), "{told}");
    assert!(told.contains("line 1: ") && told.contains("line 3: ") && !told.contains("line 2"), "{told}");
    fs::write(&list, b"1\t\tlighting\tBlackout\n2\t\tlighting\tD\xe4mmer\n").unwrap();
    assert!(bad(&["import", &out, &list, "--service", "Late", "--in-place"]).contains("line 2: this is not UTF-8"));
    fs::write(&list, "\n").unwrap();
    assert!(bad(&["import", &out, &list, "--service", "Late", "--in-place"]).contains("the table is empty"));
    assert_eq!(fs::read(&out).unwrap(), untouched);
    // From a pipe.
    let (code, written, told) =
        piped(&["import", path(&show), "-", "--service", "Late", "-o", "-"], b"12 b3\t\tlighting\tBlackout\t\n");
    assert_eq!(code, Some(0), "{told}");
    assert_eq!(letfall_core::file::read(&written).unwrap().service("Late").unwrap().cues.len(), before.len() + 1);
}

/// Runs a command with this on its standard input; returns exit code, output and what was said.
fn piped(args: &[&str], input: &[u8]) -> (Option<i32>, Vec<u8>, String) {
    use std::io::Write as _;
    use std::process::{Command, Stdio};
    let mut child = Command::new(letfall_testing::program(env!("CARGO_BIN_EXE_letfall")))
        .args(args)
        .stdin(Stdio::piped())
        .stdout(Stdio::piped())
        .stderr(Stdio::piped())
        .spawn()
        .unwrap();
    child.stdin.take().unwrap().write_all(input).unwrap();
    let out = child.wait_with_output().unwrap();
    (out.status.code(), out.stdout, String::from_utf8(out.stderr).unwrap())
}

/// `-` is standard input and output: pipes work, and what goes through them is the file alone.
#[test]
fn shows_and_files_go_through_pipes() {
    let desk = Desk::new();
    let show = fs::read(demo("lantern-night")).unwrap();
    let file = desk.at("late.mid");
    good(&["midi", path(&demo("lantern-night")), "--service", "Late", "-o", &file]);
    let (code, out, told) = piped(&["midi", "-", "--service", "Late", "-o", "-"], &show);
    assert_eq!((code, out == fs::read(&file).unwrap()), (Some(0), true), "{told}");
    assert!(told.starts_with("letfall: ") && told.contains("messages"), "{told}");
    // A show is shifted on its way.
    let shift = ["shift", "-", "--service", "Late", "--cues", "L4", "--by", "1bar", "-o", "-"];
    let (code, out, _) = piped(&shift, &show);
    let shifted = letfall_core::file::read(&out).unwrap();
    assert_eq!((code, shifted == letfall_core::file::read(&show).unwrap()), (Some(0), false));
    let (code, out, told) = piped(&["grid", "-"], &fs::read(&file).unwrap());
    assert!(code == Some(0) && String::from_utf8(out).unwrap().contains("82 bars"), "{told}");
    let (code, _, told) = piped(&["check", "-"], b"no show");
    assert!(code == Some(2) && told.contains("standard input"), "{told}");
    assert!(bad(&["bundle", path(&demo("lantern-night")), "-o", "-"]).contains("through no pipe"));
    // Nothing but answers and errors.
    let (code, out, told) = piped(&["midi", "-", "--service", "Late", "-o", &file, "--quiet"], &show);
    assert_eq!((code, out.as_slice(), told.as_str()), (Some(0), &b""[..], ""));
}

/// Seen: the show was destroyed by naming it after -o.
#[test]
fn what_is_read_is_not_written_over() {
    let desk = Desk::new();
    let show = desk.at("mine.letfall");
    fs::copy(demo("lantern-night"), &show).unwrap();
    let before = fs::read(&show).unwrap();
    let link = desk.at("link.letfall");
    #[cfg(unix)]
    std::os::unix::fs::symlink(&show, &link).unwrap();
    #[cfg(not(unix))]
    fs::copy(&show, &link).map(drop).unwrap();
    for to in [&show, &link] {
        for command in [
            vec!["midi", &show, "--service", "Late", "-o", to],
            vec!["paper", &show, "--service", "Late", "-o", to],
            vec!["table", &show, "--service", "Late", "-o", to],
            vec!["shift", &show, "--service", "Late", "--cues", "L4", "--by", "1bar", "-o", to],
            vec!["copy", &show, "--from", "Late", "--to", "Early", "-o", to],
            vec!["renumber", &show, "--receiver", "lights", "-o", to],
        ] {
            assert!(bad(&command).contains("is what is read"), "{command:?}");
            assert_eq!(fs::read(&show).unwrap(), before, "{command:?}");
        }
    }
    good(&["renumber", &show, "--receiver", "lights", "--from", "50", "--in-place"]);
    assert_ne!(fs::read(&show).unwrap(), before);
    let shift = ["shift", &show, "--service", "Late", "--cues", "L4", "--by", "1bar", "--in-place", "-o", &show];
    assert!(good(&shift).contains("Shifted 1 cue"));
}

/// Seen: a device file and a named pipe were replaced. They are written into.
#[cfg(unix)]
#[test]
fn devices_and_named_pipes_are_written_into() {
    use std::os::unix::fs::FileTypeExt as _;
    if letfall_testing::needs_unix("handing_over devices_and_named_pipes") {
        return;
    }
    let desk = Desk::new();
    let show = demo("lantern-night");
    good(&["midi", path(&show), "--service", "Late", "-o", "/dev/null"]);
    assert!(fs::metadata("/dev/null").unwrap().file_type().is_char_device());
    let pipe = desk.at("pipe");
    if !std::process::Command::new("mkfifo").arg(&pipe).status().is_ok_and(|done| done.success()) {
        letfall_testing::skip("devices_and_named_pipes_are_written_into", "this system makes no named pipes");
        return;
    }
    let from = pipe.clone();
    let reading = std::thread::spawn(move || fs::read(from).unwrap());
    good(&["midi", path(&show), "--service", "Late", "-o", &pipe]);
    let file = desk.at("late.mid");
    good(&["midi", path(&show), "--service", "Late", "-o", &file]);
    assert!(reading.join().unwrap() == fs::read(&file).unwrap());
    assert!(fs::metadata(&pipe).unwrap().file_type().is_fifo());
    // A full disk is told, and the exit code says so.
    let full = Path::new("/dev/full");
    if full.exists() {
        assert!(bad(&["midi", path(&show), "--service", "Late", "-o", "/dev/full"]).contains("nothing was written"));
    }
}

/// What a shell completes and the manual tells is all of the commands; a word that is nearly a command is taken up.
#[test]
fn commands_are_found_by_shell_manual_and_guess() {
    let bash = good(&["completions", "bash"]);
    let man = good(&["man"]);
    for command in ["check", "bundle", "import", "desk-list", "renumber", "timecode"] {
        assert!(bash.contains(command), "{command}");
        assert!(man.contains(&format!(".SH LETFALL {}", command.to_uppercase())), "{command}");
    }
    assert!(good(&["completions", "fish"]).contains("complete") && good(&["completions", "zsh"]).contains("#compdef"));
    assert!(bad(&["chekc"]).contains("did you mean letfall check?"));
    assert!(bad(&["no-such-show.letfall"]).contains("no-such-show.letfall"));
}
