//! Fingerprints of the files that are made from a service: of what each holds, whatever its resolution or sample rate.

use letfall_core::fingerprint::{Fingerprint, FingerprintMaker};
use letfall_core::prepared::Prepared;
use letfall_core::show::Kind;
use letfall_core::time::{SongTime, Timecode};

/// What is common to all files: the service, its bars and tempo, where the file begins and ends.
fn of_song(what: &str, plan: &Prepared) -> FingerprintMaker {
    let (service, grid) = (plan.service(), plan.grid());
    let mut maker = FingerprintMaker::new(what);
    maker.text(&plan.show().title);
    maker.text(&service.name);
    maker.text(&service.song.title);
    maker.bytes(&grid.digest().to_le_bytes());
    maker.number(grid.time_at(plan.schedule().opens_at()).micros());
    maker.number(plan.end().micros());
    maker
}

fn sections(maker: &mut FingerprintMaker, plan: &Prepared) {
    for section in &plan.service().song.sections {
        maker.text(&section.name);
        maker.number(i64::from(section.bar));
    }
}

/// Of the MIDI file: every message with its time, every text and mark.
pub fn of_midi(plan: &Prepared, with_releases: bool) -> Fingerprint {
    let mut maker = of_song(if with_releases { "midi with releases" } else { "midi" }, plan);
    sections(&mut maker, plan);
    if let Some(start) = plan.service().zero() {
        of_timecode_start(&mut maker, start);
    }
    let schedule = plan.schedule();
    for row in &schedule.rows {
        let cue = plan.cue(row);
        maker.text(&row.label.to_string());
        maker.number(row.land.micros());
        maker.text(&letfall_core::schedule::describe(plan.show(), cue));
        if row.label.kind == Kind::Release && !with_releases {
            continue;
        }
        let (Some(receiver), Some(wire)) = (row.receiver, schedule.wire(row)) else { continue };
        maker.text(&plan.show().receivers[receiver as usize].name);
        maker.number(row.send.micros());
        maker.bytes(&wire.on);
        if let Some((off, after)) = &wire.off {
            maker.bytes(off);
            maker.number(after.micros());
        }
    }
    maker.finish()
}

/// Of the click.
pub fn of_click(plan: &Prepared, section_pips: bool) -> Fingerprint {
    let mut maker = of_song(if section_pips { "click with pips" } else { "click" }, plan);
    maker.number(i64::from(plan.show().settings.count_in_bars));
    if section_pips {
        sections(&mut maker, plan);
    }
    maker.finish()
}

fn of_timecode_start(maker: &mut FingerprintMaker, start: Timecode) {
    maker.text(&start.to_string());
    maker.text(&format!("{:?}", start.rate()));
}

/// Of the timecode; with the guide beside it, its checksum counts too.
pub fn of_timecode(plan: &Prepared, start: Timecode, with_guide: bool) -> Fingerprint {
    let mut maker = of_song(if with_guide { "timecode with guide" } else { "timecode" }, plan);
    of_timecode_start(&mut maker, start);
    if let Some(guide) = plan.service().song.guide.as_ref().filter(|_| with_guide) {
        maker.text(&guide.sha256);
    }
    maker.finish()
}

/// Of the table.
pub fn of_table(plan: &Prepared) -> Fingerprint {
    let mut maker = FingerprintMaker::new("table");
    maker.text(&plan.service().name);
    maker.bytes(&crate::table::write(plan));
    maker.finish()
}

/// All files that can be made from a service, each with its name and fingerprint.
pub fn all(plan: &Prepared) -> Vec<(&'static str, Fingerprint)> {
    let mut all = vec![
        ("the MIDI file", of_midi(plan, false)),
        ("the MIDI file with releases", of_midi(plan, true)),
        ("the click", of_click(plan, false)),
        ("the click with pips before sections", of_click(plan, true)),
        ("the table", of_table(plan)),
    ];
    if let Some(start) = plan.service().zero() {
        all.push(("the timecode", of_timecode(plan, start, false)));
        all.push(("the timecode with the guide", of_timecode(plan, start, true)));
    }
    all
}

/// Which plan a file is of: its fingerprint and the show's version.
pub fn origin(plan: &Prepared, print: Fingerprint) -> String {
    match plan.show().version.trim() {
        "" => format!("Letfall {print}"),
        version => format!("Letfall {print}, version {version}"),
    }
}

/// What a file says about itself: which plan it is of, and where bar 1 is in it.
pub fn words(plan: &Prepared, print: Fingerprint) -> String {
    let (grid, schedule) = (plan.grid(), plan.schedule());
    let begins = grid.time_at(schedule.opens_at());
    let into = |at: SongTime| (at - begins).secs_f64();
    format!(
        "{}: bar 1 of the song is bar {} of this file, {:.3} s after its start; song time 0 is at {:.3} s",
        origin(plan, print),
        schedule.bar_1_in_file(),
        into(grid.bar_time(1)),
        into(SongTime::ZERO)
    )
}
