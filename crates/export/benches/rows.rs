//! The rows of the design's table of numbers that need no screen. Each is a ratio to its baseline in the same run, best of
//! several.

#![allow(clippy::unwrap_used, missing_docs)]

use letfall_core::edit::{By, History, Selection, shift};
use letfall_core::prepared::Prepared;
use letfall_core::show::{Cue, Label, Show};
use letfall_core::{file, stress};
use letfall_export::midi::{self, MidiOptions, Resolution};
use std::hint::black_box;
use std::process::Command;
use std::sync::Arc;
use std::time::{Duration, Instant};

const CUES: u32 = 100_000;
const MARKS: u32 = 500;
const ROUNDS: usize = 7;

/// The best of several runs. Input is made before the clock starts, and output dropped after it has stopped.
fn best<T, R>(mut make: impl FnMut() -> T, mut run: impl FnMut(T) -> R) -> Duration {
    let times = (0..ROUNDS).map(|_| {
        let input = make();
        let start = Instant::now();
        let output = black_box(run(black_box(input)));
        let time = start.elapsed();
        drop(output);
        time
    });
    times.min().unwrap()
}

fn row(what: &str, ours: Duration, base: &str, theirs: Duration, reach: f64) {
    let ratio = ours.as_secs_f64() / theirs.as_secs_f64();
    let verdict = if ratio <= reach { "reached" } else { "NOT REACHED" };
    println!(
        "{what:<58}{:>9.2} ms   {base:<44}{:>9.2} ms   {ratio:>7.2} x   (at most {reach} x: {verdict})",
        ours.as_secs_f64() * 1e3,
        theirs.as_secs_f64() * 1e3
    );
}

/// Peak memory so far, MB, if the system reports it.
fn peak_mb() -> Option<u64> {
    let status = std::fs::read_to_string("/proc/self/status").ok()?;
    let line = status.lines().find(|l| l.starts_with("VmHWM:"))?;
    Some(line.split_whitespace().nth(1)?.parse::<u64>().ok()? / 1024)
}

fn peak(after: &str) {
    if let Some(mb) = peak_mb() {
        println!("{:<58}{mb:>9} MB", format!("  peak memory of the process after {after}"));
    }
}

fn main() {
    let show = stress::show(CUES, MARKS).unwrap();
    println!("{CUES} cues, {MARKS} tempo marks, best of {ROUNDS}; peak memory grows with each row\n");
    peak("making the show");
    if std::env::args().any(|a| a == "--only-midi") {
        midi_files(&show);
        return;
    }
    schedules(&show);
    midi_files(&show);
    files(&show);
    offsets(&show);
}

fn schedules(show: &Show) {
    // Making a plan works out its schedule and nothing else.
    let shared = Arc::new(show.clone());
    let ours = best(|| shared.clone(), |show| Prepared::hypothetical(show, 0).unwrap());
    // The baseline: rows of 64 bytes with the same keys, in the order of the cue list.
    let plan = Prepared::hypothetical(shared, 0).unwrap();
    let schedule = plan.schedule();
    let mut rows: Vec<(u32, [i64; 8])> =
        schedule.rows.iter().map(|r| (r.cue, [r.send.micros(), i64::from(r.label.number), 0, 0, 0, 0, 0, 0])).collect();
    rows.sort_by_key(|r| r.0);
    let rows: Vec<[i64; 8]> = rows.into_iter().map(|r| r.1).collect();
    let base = best(
        || rows.clone(),
        |mut rows| {
            rows.sort_by_key(|r| (r[0], r[1]));
            rows
        },
    );
    row("schedule", ours, "sorting as many 64-byte rows", base, 4.0);
    peak("the schedule");
}

fn midi_files(show: &Show) {
    let plan = Prepared::hypothetical(Arc::new(show.clone()), 0).unwrap();
    let options = MidiOptions { resolution: Resolution::Quarter4800, with_releases: false };
    let ours = best(|| (), |()| midi::write(&plan, options).unwrap());
    let written = midi::write(&plan, options).unwrap();
    let parsed = midly::Smf::parse(&written.bytes).unwrap();
    let base = best(
        || (),
        |()| {
            let mut bytes = Vec::with_capacity(written.bytes.len());
            parsed.write_std(&mut bytes).unwrap();
            bytes
        },
    );
    let events: usize = parsed.tracks.iter().map(Vec::len).sum();
    row(&format!("MIDI file, {events} events"), ours, "midly encoding the same events", base, 2.0);
    mido(&written.bytes, ours);
    peak("the MIDI file");
}

/// Has mido save the same events in its own process, which does the timing.
fn mido(bytes: &[u8], ours: Duration) {
    let Some(python) = std::env::var_os("LETFALL_ORACLES") else {
        println!("  mido was not measured: run cargo xtask bench");
        return;
    };
    let path = std::env::temp_dir().join("letfall-bench.mid");
    std::fs::write(&path, bytes).unwrap();
    let script = "import mido,sys,time,io\nm=mido.MidiFile(sys.argv[1],charset='utf-8')\n\
        ts=[]\nfor _ in range(3):\n t=time.perf_counter(); m.save(file=io.BytesIO()); ts.append(time.perf_counter()-t)\nprint(min(ts))";
    let out = Command::new(python).args(["-c", script]).arg(&path).output().unwrap();
    let secs: f64 = String::from_utf8_lossy(&out.stdout).trim().parse().unwrap();
    println!(
        "{:<58}{:>9.2} ms   mido is {:.0} times slower (at least 30: {})",
        "  the same by mido",
        secs * 1e3,
        secs / ours.as_secs_f64(),
        if secs / ours.as_secs_f64() >= 30.0 { "reached" } else { "NOT REACHED" }
    );
    drop(std::fs::remove_file(path));
}

fn files(show: &Show) {
    let bytes = file::write(show);
    let ours = best(|| (), |()| file::read(&bytes).unwrap());
    let plain = serde_json::to_vec(show).unwrap();
    let base = best(|| (), |()| serde_json::from_slice::<Show>(&plain).unwrap());
    row(
        &format!("open a show of {} MB", bytes.len() / 1_000_000),
        ours,
        "serde_json reading the same structs",
        base,
        2.0,
    );
    let ours = best(|| (), |()| file::write(show));
    let base = best(|| (), |()| serde_json::to_vec(show).unwrap());
    row("save it", ours, "serde_json writing the same structs", base, 2.0);
    peak("open and save");
}

fn offsets(show: &Show) {
    let service = &show.services[0];
    let labels: Vec<Label> = service.cues.iter().map(|c| c.label).collect();
    let by = By::Time(letfall_core::time::SongSpan::from_millis(-120));
    let ours = best(
        || (show.clone(), History::new()),
        |(mut show, mut history)| {
            let edit = shift(&show, "First service", &labels, by).unwrap();
            history.commit(&mut show, "Offset", edit, Selection::none()).unwrap();
            (show, history)
        },
    );
    let base = best(|| (), |()| service.cues.as_slice().to_vec());
    row("batch offset of all cues, with its undo step", ours, "copying them", base, 5.0);
    let moved = size_of::<letfall_core::edit::Moved>();
    println!(
        "{:<58}{:>9.1} MB   for {} cues of {} bytes each and their text: in proportion to the change",
        "  kept for undo",
        (labels.len() * moved) as f64 / 1e6,
        labels.len(),
        size_of::<Cue>()
    );
    peak("the offset");
}
