//! Paths, files and line ends that are harder than most: what people have on their machines, on every system, and on Windows the forms that
//! only it knows.

#![allow(clippy::unwrap_used, missing_docs)]

mod common;

use common::{Desk, bad, demo, good, path};
use std::fs;
use std::process::{Command, Stdio};

/// The same file by names that a system may stumble over.
#[test]
fn names_with_spaces_umlauts_and_other_alphabets() {
    let desk = Desk::new();
    let bytes = fs::read(demo("first-opener")).unwrap();
    let plain = good(&["schedule", path(&demo("first-opener")), "--json"]);
    for name in ["with a space", "Bühne Süd", "灯笼", "naïve & co (2)", "100 %", "it's", "trailing.dots...x", "-dash"]
    {
        let folder = desk.at(name);
        fs::create_dir(&folder).unwrap();
        let show = format!("{folder}/{name}.letfall");
        fs::write(&show, &bytes).unwrap();
        assert_eq!(good(&["schedule", &show, "--json"]), plain, "{name}");
        let midi = format!("{folder}/{name}.mid");
        good(&["midi", &show, "-o", &midi]);
        assert!(fs::read(&midi).unwrap().starts_with(b"MThd"), "{name}");
        // What is there is replaced, and nothing else is left beside it.
        good(&["midi", &show, "-o", &midi]);
        assert_eq!(fs::read_dir(&folder).unwrap().count(), 2, "{name}");
        let told = bad(&["check", &format!("{folder}/{name} no.letfall")]);
        assert!(told.contains("no such file"), "{told}");
    }
}

/// Windows once stopped at 260 characters; a parish's shared drive has longer ones.
#[test]
fn paths_of_more_than_260_characters() {
    let desk = Desk::new();
    let deep =
        (0..12).fold(desk.0.path().to_owned(), |folder, n| folder.join(format!("{n:02} a folder of thirty letters")));
    fs::create_dir_all(&deep).unwrap();
    let show = deep.join("show.letfall");
    assert!(path(&show).len() > 350);
    fs::copy(demo("first-opener"), &show).unwrap();
    let pdf = deep.join("order.pdf");
    good(&["paper", path(&show), "--printed", "2026-12-19", "-o", path(&pdf)]);
    assert!(fs::read(&pdf).unwrap().starts_with(b"%PDF"));
}

/// A show that went through an editor of Windows has its line ends; it is the same show.
#[test]
fn line_ends_of_windows() {
    let desk = Desk::new();
    let text = fs::read_to_string(demo("first-opener")).unwrap();
    let show = desk.file("crlf.letfall", text.replace('\n', "\r\n").as_bytes());
    assert_eq!(good(&["schedule", &show, "--json"]), good(&["schedule", path(&demo("first-opener")), "--json"]));
    let table = desk.at("cues.csv");
    let first = path(&demo("first-opener")).to_owned();
    good(&["table", &first, "-o", &table]);
    let text = fs::read_to_string(&table).unwrap().replace("\r\n", "\n");
    for (name, text) in [("plain.csv", text.clone()), ("crlf.csv", text.replace('\n', "\r\n"))] {
        let file = desk.file(name, text.as_bytes());
        let told = good(&["import", &first, &file, "--on-clash", "replace", "-o", &desk.at("taken.letfall")]);
        assert!(told.contains("0 new, 0 changed"), "{name}: {told}");
    }
}

/// Forms that only Windows knows: backslashes, a drive's letter, long paths by their own prefix.
#[test]
fn drives_and_backslashes() {
    if letfall_testing::needs_windows("hard_paths drives_and_backslashes") {
        return;
    }
    let desk = Desk::new();
    let show = desk.file("my show.letfall", &fs::read(demo("first-opener")).unwrap());
    let plain = good(&["schedule", &show, "--json"]);
    // Wine shows the machine's own root as drive Z.
    let back = show.replace('/', "\\");
    for form in [back.clone(), format!("Z:{back}"), format!("z:{show}"), format!("\\\\?\\Z:{back}")] {
        assert_eq!(good(&["schedule", &form, "--json"]), plain, "{form}");
        let midi = form.replace(".letfall", ".mid");
        good(&["midi", &form, "-o", &midi]);
        assert!(fs::read(desk.at("my show.mid")).unwrap().starts_with(b"MThd"), "{form}");
        fs::remove_file(desk.at("my show.mid")).unwrap();
        // By whatever name: what is read is not written over.
        assert!(bad(&["midi", &show, "-o", &form]).contains("is what is read"), "{form}");
    }
    assert!(bad(&["check", "Q:\\nowhere.letfall"]).contains("no such file"));
}

/// What another program holds open cannot be replaced on Windows: it is told, and the file stays as it was.
#[test]
fn a_file_that_another_program_holds_open() {
    if letfall_testing::needs_windows("hard_paths a_file_that_another_program_holds_open") {
        return;
    }
    let shell = std::env::var_os("LETFALL_SHELL").expect("LETFALL_SHELL, the shell of Windows");
    let desk = Desk::new();
    let held = desk.file("held.mid", b"");
    // The shell of Windows opens it, and waits for a line that comes only when it is told to go.
    let mut holder = Command::new(shell)
        .args(["/c", "set /p x= > held.mid"])
        .current_dir(desk.0.path())
        .stdin(Stdio::piped())
        .spawn()
        .unwrap();
    let show = demo("first-opener");
    let told = (0..50).find_map(|_| {
        std::thread::sleep(std::time::Duration::from_millis(200));
        let out = common::letfall(&["midi", path(&show), "-o", &held]);
        (out.status.code() == Some(2)).then(|| String::from_utf8(out.stderr).unwrap())
    });
    let told = told.expect("a file that is held cannot be replaced");
    assert!(told.contains("nothing was written") && told.contains("another program has it open"), "{told}");
    drop(holder.stdin.take());
    holder.wait().unwrap();
    assert!(good(&["midi", path(&show), "-o", &held]).contains("held.mid"));
    assert_eq!(fs::read_dir(desk.0.path()).unwrap().count(), 1, "no half file is left");
}
