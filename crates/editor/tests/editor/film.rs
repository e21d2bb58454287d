//! The Film screen: a filmed rehearsal is opened, looked at picture by picture, measured and taken into the show.

use crate::desk::{Desk, demo, drag_to, harness, label, shot};
use crate::films::{Camera, FALL, Stage, regions};
use crate::songs::{self, Hall};
use egui::accesskit::Role;
use egui::{Key, Modifiers, Rect, vec2};
use egui_kittest::Harness;
use egui_kittest::kittest::Queryable as _;
use letfall_core::prepared::{OutsideFacts, PreparedShow};
use letfall_core::show::Show;
use letfall_editor::jobs::FilePurpose;
use letfall_editor::request::UiRequest;
use letfall_editor::{Editor, Screen};
use std::path::{Path, PathBuf};
use std::sync::Arc;
use std::time::{Duration, Instant};

const MP4: &[&str] =
    &["-c:v", "libx264", "-preset", "ultrafast", "-g", "50", "-pix_fmt", "yuv420p", "-c:a", "aac", "mp4"];
/// The part of the song that is filmed, seconds.
const FROM: f64 = 128.0;
const SECS: f64 = 26.0;
/// What the devices are really late, more than the show says, seconds.
const LIGHTS: f64 = 0.080;
const SCREENS: f64 = 0.045;

fn demo_path() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("../../demo-shows/lantern-night.letfall")
}

/// The rehearsal of the demo show's second service, filmed.
fn filmed(folder: &Path) -> PathBuf {
    let file = std::fs::read(demo_path().with_file_name("lantern-night-late.wav")).unwrap();
    let mut wav = hound::WavReader::new(&file[..]).unwrap();
    let rate = wav.spec().sample_rate;
    let guide: Vec<f32> = wav.samples::<i16>().map(|s| f32::from(s.unwrap()) / f32::from(i16::MAX)).collect();
    let guide = songs::resampled(&guide, rate);
    let plan = PreparedShow::new(Arc::new(demo()), OutsideFacts::none()).prepare_named("Late").unwrap();
    let land = |of: &str| plan.row(label(of)).unwrap().land.secs_f64() - FROM;
    let stage = Stage {
        secs: SECS,
        washes: vec![(land("L8") + LIGHTS, 4.0, 0.7), (land("L9") + LIGHTS, 3.0, 0.2)],
        screen: land("O3") + SCREENS,
        falls: (land("R1") - 0.6, land("R1") - 0.6),
        drag: 0.0,
    };
    let hall = Hall { echo: 0.9, direct: 3.0, noise: 15.0, singer: false, drift: 0.0 };
    let heard = hall.film(&guide, FROM, FROM + SECS, 0.0, 4);
    stage.film(folder, &Camera::of(50.0), &heard, MP4, 2)
}

fn editor(desk: &Desk, show: Show) -> Harness<'static, Editor> {
    let mut editor = Editor::with_recovery(show, Some(demo_path()), desk.folder.path().join("state"));
    editor.document.service = 1;
    editor.document.prepare();
    harness(editor, [1440.0, 900.0])
}

/// Waits until something is so.
fn until(h: &mut Harness<'static, Editor>, what: &str, so: impl Fn(&Harness<'static, Editor>) -> bool) {
    let begun = Instant::now();
    while !so(h) {
        let said = h.state().document.said.as_ref().map(|said| said.text.clone());
        assert!(begun.elapsed() < Duration::from_mins(2), "{what}: {said:?}");
        std::thread::sleep(Duration::from_millis(20));
        h.run_steps(1);
    }
    h.run_steps(3);
}

#[derive(Debug)]
struct Dropped(PathBuf);

impl egui::DroppedFile for Dropped {
    fn path(&self) -> &Path {
        &self.0
    }

    fn bytes(&self) -> Result<Vec<u8>, String> {
        std::fs::read(&self.0).map_err(|why| why.to_string())
    }
}

fn drop_file(h: &mut Harness<'static, Editor>, path: &Path) {
    h.input_mut().dropped_files.push(Arc::new(Dropped(path.to_owned())));
    h.run_steps(2);
}

/// Draws a region on the picture and says what it shows.
fn draw_region(h: &mut Harness<'static, Editor>, region: &letfall_film::picture::Region, shows: &str) {
    let space = h.get_by_label("Picture of the film").rect();
    // The made film is 4 to 3.
    let scale = (space.width() / 4.0).min(space.height() / 3.0);
    let place = Rect::from_center_size(space.center(), vec2(4.0, 3.0) * scale);
    #[allow(clippy::cast_possible_truncation)]
    let at = |x: f64, y: f64| place.min + vec2(x as f32 * place.width(), y as f32 * place.height());
    let (from, to) = (at(region.x, region.y), at(region.x + region.w, region.y + region.h));
    drag_to(h, from, to);
    h.get_by_label(&format!("{shows} is seen in it")).click();
    h.run_steps(4);
}

#[test]
fn a_filmed_rehearsal_is_measured_and_taken() {
    if letfall_testing::lacks_ffmpeg("editor a_filmed_rehearsal_is_measured_and_taken") {
        return;
    }
    let desk = Desk::new();
    let film = filmed(desk.folder.path());
    let mut h = editor(&desk, demo());
    h.state_mut().screen = Screen::Film;
    h.run_steps(3);
    h.set_size(vec2(1440.0, 2100.0));
    h.run_steps(3);
    h.get_by_label("A film of a rehearsal shows every delay and drop");
    shot(&mut h, "film-empty");
    drop_file(&mut h, &film);
    until(&mut h, "opened", |h| h.query_by_label_contains("stretches of its sound agree").is_some());
    until(&mut h, "its picture", |h| h.query_by_label("Reading this picture…").is_none());
    shot(&mut h, "film-opened");

    // What is seen where is proposed; nothing counts before it is accepted.
    h.get_by_label("Propose from what changes").click();
    h.run_steps(2);
    until(&mut h, "proposed", |h| h.query_by_label("Accept: Front fabric").is_some());
    assert!(h.state().film.regions().regions.is_empty());
    shot(&mut h, "film-proposed");
    for words in ["Not this: Lighting", "Accept: Front fabric", "Not this: House screen"] {
        h.get_by_label(words).click();
        h.run_steps(3);
    }
    assert!(h.state().film.proposed().is_empty());
    let accepted = h.state().film.regions().regions.clone();
    assert_eq!(accepted.len(), 1);
    let (is, truth) = (&accepted[0], &regions()[2]);
    assert!((is.y - truth.y).abs() < 0.02 && (is.h - truth.h).abs() < 0.02 && is.sightline.is_some(), "{is:?}");
    h.get_by_label("Front fabric: Front fabric").click();
    h.run_steps(3);
    h.get_by_label("Take this region away").click();
    h.run_steps(3);

    let drawn = regions();
    for (region, shows) in drawn.iter().zip(["Lighting", "House screen", "Front fabric"]) {
        draw_region(&mut h, region, shows);
    }
    // They lie where they were drawn, to a point of the screen.
    for (is, wanted) in h.state().film.regions().regions.iter().zip(&drawn) {
        let off = [is.x - wanted.x, is.y - wanted.y, is.w - wanted.w, is.h - wanted.h];
        assert!(off.iter().all(|off| off.abs() < 0.004), "{is:?} for {wanted:?}");
    }
    h.get_by_label("Sightline of the region is known").click();
    h.run_steps(3);
    shot(&mut h, "film-regions");
    h.get_by_label("Look for what changed").click();
    h.run_steps(2);
    shot(&mut h, "film-looking");
    until(&mut h, "measured", |h| h.query_by_label("Look again").is_some());
    shot(&mut h, "film-measured");

    // What was late is seen, within what it states.
    let results = h.state().film.results().unwrap();
    for (cue, truth) in [("L8", LIGHTS), ("L9", LIGHTS), ("O3", SCREENS)] {
        let row = results.rows.iter().find(|row| row.label == label(cue)).unwrap();
        let seen = row.cue.as_ref().unwrap().seen.unwrap();
        assert!((seen.late - truth).abs() < seen.within + 0.003, "{cue}: {seen:?}");
    }
    let fall = |h: &Harness<'static, Editor>| {
        let drops = &h.state().film.results().unwrap().drops;
        drops.iter().find(|drop| drop.to == letfall_core::show::Instant::Floor).cloned().unwrap()
    };
    let found = fall(&h);
    assert!((found.seconds - FALL).abs() < found.within && found.within < 0.06, "{found:?}");

    // Nothing of a fall is taken before a person has gone through it; its button takes the delays alone.
    h.get_by_label("Drops that are confirmed (0 of 2)");
    let before = demo();

    // Through the fall picture by picture, with the keys: every press is one picture.
    h.get_by_label("Go to floor of R1").click();
    h.run_steps(3);
    until(&mut h, "the floor", |h| h.state().film.close_up().at(h.state().film.at()).is_some());
    let here = h.state().film.at();
    let stamp = |h: &Harness<'static, Editor>| {
        let film = &h.state().film;
        film.close_up().at(film.at()).unwrap().at
    };
    let first = stamp(&h);
    assert!(first <= here && here - first < 0.021, "{first} at {here}");
    for _ in 0..2 {
        h.key_press(Key::ArrowRight);
        h.run_steps(3);
    }
    assert!((stamp(&h) - first - 0.04).abs() < 1e-4, "{} after {first}", stamp(&h));
    h.key_press_modifiers(Modifiers::SHIFT, Key::ArrowLeft);
    until(&mut h, "back", |h| (h.state().film.at() - (first - 0.16)).abs() < 1e-4);
    h.key_press_modifiers(Modifiers::SHIFT, Key::ArrowRight);
    until(&mut h, "there again", |h| (h.state().film.at() - (first + 0.04)).abs() < 1e-4);
    // A person sees it lie two pictures later than was proposed.
    h.get_by_label("It is down in this picture").click();
    h.run_steps(4);
    let marked = fall(&h);
    let truth = first + 0.04 - 0.01 - (found_let_go(&h));
    assert!((marked.seconds - truth).abs() < 1e-3, "{marked:?} for {truth}");
    shot(&mut h, "film-marked");
    h.get_by_label("Take the marks of R1 back").click();
    h.run_steps(4);
    assert_eq!(fall(&h), found);

    h.get_by_label("I have gone through R1 picture by picture, and it is right").click();
    h.run_steps(4);
    h.get_by_label("Drops that are confirmed (2 of 2)");
    h.get_by_label("Leads, before and after");
    shot(&mut h, "film-take");
    // Another sightline is another fall: what was confirmed was not this.
    h.get_by_label("Sightline of the region").click();
    h.run_steps(2);
    let mut regions = h.state().film.regions().clone();
    regions.regions[2].sightline = Some(0.6);
    let file = desk.folder.path().join("regions.json");
    std::fs::write(&file, serde_json::to_string(&regions).unwrap()).unwrap();
    h.state_mut().carry_out(UiRequest::File(FilePurpose::Regions));
    typed_path(&mut h, &file, "Read it");
    h.get_by_label("Look for what changed").click();
    h.run_steps(2);
    until(&mut h, "measured again", |h| h.query_by_label("Look again").is_some());
    h.get_by_label("Drops that are confirmed (0 of 2)");
    h.get_by_label("I have gone through R1 picture by picture, and it is right").click();
    h.run_steps(4);
    h.get_by_label("Drops that are confirmed (2 of 2)");
    h.get_by_label("Print what the film shows…").click();
    h.run_steps(2);
    assert_eq!(h.state().screen, Screen::Paper);
    until(&mut h, "the page", |h| h.query_by_label("Page 1 of 1").is_some());
    shot(&mut h, "film-paper");
    h.state_mut().screen = Screen::Film;
    h.run_steps(4);
    h.get_by_label("Take this into the show").click();
    h.run_steps(4);
    let after = h.state().document.show.clone();
    assert_eq!(after.hangs[0].measured.len(), before.hangs[0].measured.len() + 2);
    let lights = after.receivers.iter().position(|r| r.name == "Lighting").unwrap();
    let gained = (after.receivers[lights].latency.mean - before.receivers[lights].latency.mean).secs_f64();
    assert!((gained - LIGHTS).abs() < 0.04, "{gained}");
    // The same film once more, put away and opened again: nothing is added to what was taken.
    h.get_by_label("Put it away").click();
    h.run_steps(3);
    drop_file(&mut h, &film);
    until(&mut h, "opened again", |h| h.query_by_label_contains("stretches of its sound agree").is_some());
    h.get_by_label("Look for what changed").click();
    h.run_steps(2);
    until(&mut h, "measured once more", |h| h.query_by_label("Look again").is_some());
    let again = "I have gone through R1 picture by picture, and it is right";
    h.get_by_label(again).click();
    h.run_steps(4);
    h.state_mut().carry_out(UiRequest::Say(String::new()));
    let what = letfall_film::measure::Taken { delays: true, drops: true };
    assert!(h.state().film.edit(what, &h.state().document).is_none());
    // One step: undone at once, and exactly.
    h.state_mut().document.undo();
    h.run_steps(4);
    assert_eq!(*h.state().document.show, before);
    h.state_mut().document.redo();
    h.run_steps(4);

    // On the score: pictures under the waveform, and where cues were seen.
    h.state_mut().document.undo();
    h.state_mut().screen = Screen::Score;
    h.set_size(vec2(1440.0, 900.0));
    for _ in 0..20 {
        std::thread::sleep(Duration::from_millis(30));
        h.run_steps(1);
    }
    h.get_by_label("Film under the song");
    shot(&mut h, "film-score");
}

/// When the fabric lets go as it was found, seconds of the film's clock.
fn found_let_go(h: &Harness<'static, Editor>) -> f64 {
    let results = h.state().film.results().unwrap();
    let row = results.rows.iter().find(|row| row.label == label("R1")).unwrap();
    row.cue.as_ref().unwrap().seen.unwrap().fall.unwrap().let_go
}

fn said(h: &Harness<'static, Editor>) -> String {
    h.state().document.said.as_ref().map(|said| said.text.clone()).unwrap_or_default()
}

/// What is no film, a film of another song placed by hand, the log of the run, regions in a file, and putting it all away.
#[test]
fn by_hand_and_by_files() {
    let desk = Desk::new();
    let mut h = editor(&desk, demo());
    h.set_size(vec2(1440.0, 2100.0));
    h.state_mut().screen = Screen::Film;
    h.run_steps(3);
    if !letfall_testing::lacks_ffmpeg("editor by_hand_and_by_files") {
        let words = desk.folder.path().join("words.mp4");
        std::fs::write(&words, "this is no film").unwrap();
        drop_file(&mut h, &words);
        until(&mut h, "told", |h| said(h).contains("it is no film that can be read here"));
        assert!(h.state().film.opened().is_none() && h.query_by_label("Stop").is_none());
    }

    // Another song: its sound says nothing, so a person does.
    let wav = desk.folder.path().join("other.wav");
    std::fs::write(&wav, crate::films::wave(&songs::Song::new(77, 30.0).play())).unwrap();
    drop_file(&mut h, &wav);
    until(&mut h, "opened", |h| h.state().film.opened().is_some());
    assert_eq!(h.query_all_by_label_contains("The guide is not heard in the film").count(), 2);
    assert!(h.state().film.results().is_none());
    h.get_by_label("Bar").click();
    h.get_by_label("Bar").type_text("noon");
    h.run_steps(2);
    h.get_by_label_contains("That is heard at").click();
    h.run_steps(3);
    assert!(said(&h).contains("“noon”"), "{}", said(&h));
    h.get_by_label("Bar").click();
    h.run_steps(2);
    h.key_press_modifiers(Modifiers::COMMAND, Key::A);
    h.get_by_label("Bar").type_text("49");
    h.run_steps(2);
    h.get_by_label_contains("That is heard at").click();
    h.run_steps(3);
    h.get_by_label("Run 1: laid against the song by hand, within 100 ms or so.");
    let plan = PreparedShow::new(Arc::new(demo()), OutsideFacts::none()).prepare_named("Late").unwrap();
    let bar_49 = plan.grid().bar_time(49).secs_f64();
    let rows = &h.state().film.results().unwrap().rows;
    let l9 = rows.iter().find(|row| row.label == label("L9")).unwrap();
    let lands = plan.row(label("L9")).unwrap().land.secs_f64();
    let seat = plan.row(label("L9")).unwrap().lead.sound.secs_f64();
    // The film begins with bar 49, so what lands later is seen so much into it.
    let heard_at = l9.planned - (lands - bar_49);
    assert!((heard_at - seat).abs() < 0.05, "{} for {}", l9.planned, lands - bar_49);

    // The log of the run.
    let log = desk.folder.path().join("run.jsonl");
    std::fs::write(&log, "{}").unwrap();
    h.state_mut().carry_out(UiRequest::File(FilePurpose::FilmLog));
    typed_path(&mut h, &log, "Read it");
    assert!(said(&h).contains("is no log of a run in which anything was sent"), "{}", said(&h));
    let line = serde_json::json!({"type": "message", "wall_us": 0, "label": "L9", "port": "lights", "bytes": "90 3C 7F",
        "planned_us": 0, "late_us": 30_000, "what": "sent"});
    std::fs::write(&log, line.to_string()).unwrap();
    h.state_mut().carry_out(UiRequest::File(FilePurpose::FilmLog));
    typed_path(&mut h, &log, "Read it");
    h.get_by_label("Say how it was filmed").click();
    h.run_steps(4);
    h.get_by_label("What was sent late by run.jsonl does not count as late of a device.");
    assert_eq!(h.state().film.log(), "run.jsonl");

    // What is seen where, through a file and back; a file that names what the show does not have changes nothing.
    let mut regions = regions();
    for (region, shows) in regions.iter_mut().zip(["Lighting", "House screen", "Front fabric"]) {
        region.shows = vec![shows.to_owned()];
    }
    let file = desk.folder.path().join("regions.json");
    std::fs::write(&file, serde_json::json!({ "regions": regions }).to_string()).unwrap();
    h.state_mut().carry_out(UiRequest::File(FilePurpose::Regions));
    typed_path(&mut h, &file, "Read it");
    assert_eq!(h.state().film.regions().regions, regions);
    let other = desk.folder.path().join("other.json");
    h.state_mut().carry_out(UiRequest::File(FilePurpose::SaveRegions));
    typed_path(&mut h, &other, "Save");
    let kept: letfall_film::picture::Regions = serde_json::from_slice(&std::fs::read(&other).unwrap()).unwrap();
    assert_eq!(kept.regions, regions);
    let bad = std::fs::read_to_string(&file).unwrap().replace("House screen", "Moon");
    std::fs::write(&file, bad).unwrap();
    h.state_mut().carry_out(UiRequest::File(FilePurpose::Regions));
    typed_path(&mut h, &file, "Read it");
    assert!(said(&h).contains("\"Moon\""), "{}", said(&h));
    assert_eq!(h.state().film.regions().regions, regions);

    // Another service is on screen: nothing of the film is mixed with it.
    h.state_mut().document.service = 0;
    h.state_mut().document.prepare();
    h.run_steps(4);
    h.get_by_label("Another service is on screen. The film is of Late.");
    assert!(h.query_by_label("4  What changed when").is_none());
    h.get_by_label("Put it away").click();
    h.run_steps(4);
    h.get_by_label("A film of a rehearsal shows every delay and drop");
}

fn typed_path(h: &mut Harness<'static, Editor>, path: &Path, verb: &str) {
    until(h, "the path", |h| h.query_by_label("Path of the file").is_some());
    let field = h.get_by_role_and_label(Role::TextInput, "Path of the file");
    field.click();
    h.run_steps(2);
    h.key_press_modifiers(Modifiers::COMMAND, Key::A);
    h.get_by_role_and_label(Role::TextInput, "Path of the file").type_text(&path.display().to_string());
    h.run_steps(3);
    let replaces = h.query_by_label("Replace it").is_some();
    // A button of the head may have the same name; the window's own stands later.
    let verb = if replaces { "Replace it" } else { verb };
    h.get_all_by_label(verb).last().unwrap().click();
    h.run_steps(5);
}

/// A show that is dropped asks about unsaved work first; a recording on the score is the song.
#[test]
fn what_is_dropped() {
    let desk = Desk::new();
    let mut h = desk.editor(demo());
    h.state_mut().document.selection = [label("L1")].into_iter().collect();
    h.state_mut().command(letfall_editor::commands::Command::NudgeLater);
    h.run_steps(3);
    drop_file(&mut h, &demo_path());
    h.run_steps(3);
    h.get_by_label("This show has changes that are not saved");
    h.get_by_label("Discard them").click();
    until(&mut h, "opened", |h| !h.state().document.history.is_changed());
    assert_eq!(h.state().document.path.as_deref(), Some(demo_path().as_path()));
    let wav = desk.folder.path().join("song.wav");
    std::fs::write(&wav, crate::films::wave(&songs::Song::new(7, 12.0).play())).unwrap();
    drop_file(&mut h, &wav);
    until(&mut h, "the song", |h| {
        let guide = h.state().document.current().and_then(|service| service.song.guide.clone());
        guide.is_some_and(|guide| guide.path.contains("song.wav"))
    });
    assert_eq!(h.state().screen, Screen::Score);
}

/// A recording of the house's timecode, as Letfall writes it: it lies to the frame, and no way through the air counts.
#[test]
fn the_houses_timecode() {
    let desk = Desk::new();
    let mut h = editor(&desk, demo());
    h.set_size(vec2(1440.0, 2100.0));
    h.state_mut().screen = Screen::Film;
    h.run_steps(3);
    let plan = PreparedShow::new(Arc::new(demo()), OutsideFacts::none()).prepare_named("Late").unwrap();
    let start = plan.service().timecode.as_ref().unwrap().parse().unwrap();
    let wav = desk.folder.path().join("code.wav");
    let options = letfall_export::audio::TimecodeOptions::new(start);
    let written = letfall_export::audio::timecode(&plan, options, std::fs::File::create(&wav).unwrap()).unwrap();
    drop_file(&mut h, &wav);
    until(&mut h, "opened", |h| h.state().film.opened().is_some());
    h.get_by_label_contains("frames of its timecode were read");
    h.get_by_label_contains("Its timecode came by wire, so no way through the air counts.");
    let rows = &h.state().film.results().unwrap().rows;
    let l9 = rows.iter().find(|row| row.label == label("L9")).unwrap();
    let row = plan.row(label("L9")).unwrap();
    let (lands, seat) = (row.land - written.starts_at, row.lead.sound);
    let off = l9.planned - lands.secs_f64() - seat.secs_f64();
    assert!(off.abs() < 0.0005, "{off}");
}
