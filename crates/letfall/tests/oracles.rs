//! Checks Letfall's output with independent readers (tests/oracles/check.py). `cargo xtask test` sets up the Python environment
//! and downloads the MIDI files; without them these tests are skipped and say so.

#![allow(clippy::unwrap_used, missing_docs)]

use std::path::Path;
use std::process::Command;

fn oracle(name: &str) {
    let (Some(python), Some(corpus)) = (std::env::var_os("LETFALL_ORACLES"), std::env::var_os("LETFALL_CORPUS")) else {
        return letfall_testing::skip(
            &format!("oracles {name}"),
            "no independent readers are set up here; cargo xtask test does",
        );
    };
    let script = Path::new(env!("CARGO_MANIFEST_DIR")).join("../../tests/oracles/check.py");
    let work = tempfile::tempdir().unwrap();
    let out = Command::new(python)
        .arg(script)
        .arg(name)
        .arg(letfall_testing::program(env!("CARGO_BIN_EXE_letfall")))
        .arg(work.path())
        .arg(corpus)
        .output()
        .unwrap();
    println!("{}", String::from_utf8_lossy(&out.stdout));
    assert!(out.status.success(), "{}", String::from_utf8_lossy(&out.stderr));
}

#[test]
fn bar_lines_of_real_files_equal_mido_and_pretty_midi() {
    oracle("grid");
}

#[test]
fn messages_of_a_long_song_are_where_mido_reads_them() {
    oracle("midi");
}

#[test]
fn the_running_order_reads_as_planned_and_is_tagged() {
    oracle("paper");
}

#[test]
fn the_table_is_read_back_by_csv() {
    oracle("table");
}

#[test]
fn every_sheet_is_read_by_two_readers_and_says_what_it_said() {
    oracle("sheets");
}

#[test]
fn falls_and_chances_equal_an_integrator_and_distributions_of_scipy() {
    oracle("fall");
}

#[test]
fn timecode_is_decoded_frame_for_frame_and_clicks_stand_on_the_grid() {
    oracle("sound");
}

#[test]
fn eyes_beams_and_shadows_of_the_room_equal_vectors() {
    oracle("room");
}

#[test]
fn the_week_is_read_back_by_icalendar() {
    oracle("calendar");
}
