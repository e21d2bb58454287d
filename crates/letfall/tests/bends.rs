//! `letfall rehearse`: a script of bends is carried out without devices, and the log says what was sent when. Times are worked out here from
//! `letfall schedule`, which knows nothing of bends.

#![allow(clippy::unwrap_used)]

use serde_json::{Value, json};
use std::io::Write as _;
use std::path::{Path, PathBuf};
use std::process::{Command, Output, Stdio};

fn demo() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("../../demo-shows/lantern-night.letfall")
}

fn letfall(arguments: &[&str], input: &str) -> Output {
    let mut child = Command::new(letfall_testing::program(env!("CARGO_BIN_EXE_letfall")))
        .args(arguments)
        .stdin(Stdio::piped())
        .stdout(Stdio::piped())
        .stderr(Stdio::piped())
        .spawn()
        .unwrap();
    child.stdin.take().unwrap().write_all(input.as_bytes()).unwrap();
    child.wait_with_output().unwrap()
}

fn lines(bytes: &[u8]) -> Vec<Value> {
    String::from_utf8_lossy(bytes).lines().map(|line| serde_json::from_str(line).unwrap()).collect()
}

fn rehearse(script: &Value) -> Vec<Value> {
    let show = demo();
    let output =
        letfall(&["rehearse", show.to_str().unwrap(), "--service", "Late", "--script", "-"], &script.to_string());
    assert!(output.status.success(), "{}", String::from_utf8_lossy(&output.stderr));
    lines(&output.stdout)
}

/// When a cue's message leaves, in microseconds of the song, as `letfall schedule` tells.
fn send_of(label: &str) -> i64 {
    let show = demo();
    let output = letfall(&["schedule", show.to_str().unwrap(), "--service", "Late", "--json"], "");
    let row = lines(&output.stdout).into_iter().find(|row| row["label"] == label).unwrap();
    row["send_us"].as_i64().unwrap_or_else(|| panic!("{row}"))
}

/// When messages of a cue were sent, by the log.
fn sent(log: &[Value], label: &str) -> Vec<i64> {
    let of = |line: &&Value| line["type"] == "message" && line["label"] == label && line["what"] == "sent";
    log.iter().filter(of).map(|line| line["wall_us"].as_i64().unwrap() - line["late_us"].as_i64().unwrap()).collect()
}

fn has(log: &[Value], kind: &str, what: &str) -> bool {
    log.iter().any(|line| line["type"] == kind && line["what"] == what)
}

/// A wait of 20 seconds moves everything after it by as long, and nothing before it.
#[test]
fn a_wait_moves_what_comes_after_it() {
    let script = json!({"from_bar": 9, "steps": [
        {"bar": 24, "by": "Robin", "do": {"wait": {"bar": 26}}},
        {"after_s": 20, "do": {"go-on": {}}},
        {"bar": 45, "do": {"leave": {}}}
    ]});
    // The demo show's own vamp is left in its first round.
    let straight = rehearse(&json!({"from_bar": 9, "steps": [{"bar": 45, "do": {"leave": {}}}]}));
    let bent = rehearse(&script);
    let waits = bent.iter().find(|line| line["what"] == "waits").unwrap()["wall_us"].as_i64().unwrap();
    let goes_on = bent.iter().position(|line| line["what"] == "goes-on").unwrap();
    let shift = bent.iter().find(|line| line["what"] == "go-on").unwrap()["wall_us"].as_i64().unwrap() - waits;
    assert!(has(&bent, "bend", "wait") && bent[goes_on]["from_us"] == bent[goes_on]["to_us"]);
    for label in ["L4", "L5", "M3", "L9", "M6", "O5"] {
        let (one, other) = (sent(&straight, label), sent(&bent, label));
        let wanted = one.iter().map(|at| if *at < waits { *at } else { at + shift }).collect::<Vec<_>>();
        // What leads into bar 26 leaves as long before it as planned; in this show nothing does.
        assert_eq!(other, wanted, "{label}");
    }
}

/// Held, a release leaves when planned; not held, the fabric stays and the log says so, with nothing that depends on it.
#[test]
fn the_log_says_what_became_of_a_release() {
    let held = |hold: bool| {
        let steps = if hold {
            json!([{"bar": 55, "by": "Kim", "do": {"hold": {"release": "R1"}}}, {"after_s": 30, "do": {"let-go": {}}}])
        } else {
            json!([])
        };
        rehearse(&json!({"perform": true, "from_bar": 49, "steps": steps}))
    };
    let (log, stays) = (held(true), held(false));
    let start = log[0]["song_us"].as_i64().unwrap();
    assert_eq!(sent(&log, "R1")[0], send_of("R1") - start);
    let armed = log.iter().find(|line| line["what"] == "sent" && line["label"] == "R1").unwrap();
    assert_eq!(armed["armed_by"], "Kim");
    assert!(has(&log, "course", "gone") && !has(&log, "course", "fabric-stays"));
    assert!(has(&stays, "course", "fabric-stays") && sent(&stays, "R1").is_empty());
    for label in ["O2", "O3"] {
        assert_eq!((sent(&log, label).len(), sent(&stays, label).len()), (1, 0), "{label} depends on R1");
    }
}

/// What cannot be done is told with its place and changes nothing of the rest; what cannot be read is an error, and nothing is written.
#[test]
fn a_script_that_cannot_be_read_is_told() {
    let show = demo();
    let arguments = ["rehearse", show.to_str().unwrap(), "--service", "Late", "--script", "-"];
    for (script, says) in [
        ("", "EOF"),
        ("{", "EOF"),
        (r#"{"steps": [{"do": {"next": {}}}]}"#, "step 1: it has no time"),
        (
            r#"{"steps": [{"bar": 3, "do": {"hold": {"release": "R9"}}}]}"#,
            "step 1: the service has no release R9; it has R1",
        ),
        (r#"{"steps": [{"bar": 3, "do": {"unplug": {"port": "x"}}}]}"#, "there is no port \"x\""),
        (r#"{"steps": [{"bar": 3, "do": {"jump": {}}}]}"#, "steps[0].do"),
        (r#"{"steps": [{"after_s": -1, "do": {"next": {}}}]}"#, "after_s"),
        (r#"{"steps": []} x"#, "trailing"),
    ] {
        let output = letfall(&arguments, script);
        let told = String::from_utf8_lossy(&output.stderr);
        assert_eq!(output.status.code(), Some(2), "{script}: {told}");
        assert!(told.contains(says), "{script}: {told}");
        assert!(output.stdout.is_empty());
    }
    let output = letfall(&arguments, r#"{"steps": [{"bar": 3, "do": {"go-on": {}}}]}"#);
    assert!(output.status.success() && String::from_utf8_lossy(&output.stderr).contains("changed nothing"));
    assert!(lines(&output.stdout).iter().any(|line| line["answer"] == "refused" && line["why"].is_string()));
}

/// The report of the performance is filled in from the log of a run; what is no log is told, and nothing is written.
#[test]
fn the_report_is_filled_in_from_a_log() {
    let folder = tempfile::tempdir().unwrap();
    let path = |name: &str| folder.path().join(name).to_str().unwrap().to_owned();
    let steps = json!({"perform": true, "from_bar": 49, "steps": [{"bar": 58, "do": {"by-hand": {}}}]});
    let show = demo();
    let show = show.to_str().unwrap();
    let script = ["rehearse", show, "--service", "Late", "--script", "-", "-o", &path("run.jsonl")];
    let output = letfall(&script, &steps.to_string());
    assert!(output.status.success(), "{}", String::from_utf8_lossy(&output.stderr));
    let report = |log: &str, to: &str| {
        letfall(&["paper", show, "--service", "Late", "--sheet", "report", "--run", log, "-o", &path(to)], "")
    };
    let filled = report(&path("run.jsonl"), "filled.pdf");
    assert!(filled.status.success(), "{}", String::from_utf8_lossy(&filled.stderr));
    let empty = letfall(&["paper", show, "--service", "Late", "--sheet", "report", "-o", &path("empty.pdf")], "");
    assert!(empty.status.success());
    assert_ne!(std::fs::read(path("filled.pdf")).unwrap(), std::fs::read(path("empty.pdf")).unwrap());
    std::fs::write(path("no.jsonl"), "what is this?\n").unwrap();
    for log in ["no.jsonl", "gone.jsonl"] {
        let output = report(&path(log), "none.pdf");
        assert_eq!(output.status.code(), Some(2), "{}", String::from_utf8_lossy(&output.stderr));
        assert!(String::from_utf8_lossy(&output.stderr).contains(log));
        assert!(!Path::new(&path("none.pdf")).exists());
    }
}
