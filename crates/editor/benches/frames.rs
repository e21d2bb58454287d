//! Times a frame of the Score screen with 100 000 cues, compared with painting all of them naively; and of scrubbing through a reveal with
//! the shadows on its fabric, compared with the same show without its room. Tessellation included.

#![allow(clippy::unwrap_used, clippy::cast_precision_loss, missing_docs)]

use egui::{Color32, Pos2, Rect, vec2};
use egui_kittest::Harness;
use egui_kittest::kittest::Queryable as _;
use letfall_core::show::{Label, Show};
use letfall_core::time::SongSpan;
use letfall_editor::commands::Command;
use letfall_editor::{Editor, Screen, widgets::theme};
use std::time::{Duration, Instant};

const CUES: u32 = 100_000;
const ROUNDS: usize = 15;

fn tessellate<S>(h: &Harness<'_, S>) -> usize {
    let output = h.output();
    h.ctx.tessellate(output.shapes.clone(), output.pixels_per_point).len()
}

/// The fastest of several frames, including layout and tessellation.
fn frame<S>(h: &mut Harness<'_, S>, mut before: impl FnMut(&mut Harness<'_, S>, usize)) -> Duration {
    let times = (0..ROUNDS).map(|round| {
        before(h, round);
        let start = Instant::now();
        h.step();
        std::hint::black_box(tessellate(h));
        start.elapsed()
    });
    times.min().unwrap()
}

fn main() {
    let folder = tempfile::tempdir().unwrap();
    let show = letfall_core::stress::show(CUES, 500).unwrap();
    let editor = Editor::with_recovery(show, None, folder.path().to_owned());
    let mut h = Harness::builder()
        .with_size([1440.0, 900.0])
        .with_accessibility_check(false)
        .with_context_setup(|ctx| ctx.set_fonts(theme::fonts()))
        .build_ui_state(|ui, editor: &mut Editor| editor.frame(ui), editor);
    h.run_steps(4);
    let base = plain();
    println!("{CUES} cues, {ROUNDS} frames each, the best; base: all cues by the plain painter {:.2} ms\n", ms(base));
    for (name, closer) in [("the whole song", 0), ("a fortieth of it", 9), ("a few bars", 17)] {
        h.state_mut().command(Command::FitSong);
        for _ in 0..closer {
            h.state_mut().command(Command::Closer);
        }
        h.run_steps(3);
        row(name, frame(&mut h, |_, _| {}), base);
    }
    h.state_mut().command(Command::FitSong);
    h.state_mut().document.selection =
        (1..=10_000).map(|number| Label { kind: letfall_core::show::Kind::Lighting, number }).collect();
    h.run_steps(3);
    // A selected cue under the pointer, wherever the lighting row is.
    let from = Pos2::new(700.0, 420.0);
    h.hover_at(from);
    h.step();
    h.drag_at(from);
    h.step();
    let dragged = frame(&mut h, |h, round| h.hover_at(from + vec2(10.0 + round as f32, 0.0)));
    row("dragging 10 000 selected cues", dragged, base);
    scrubbing();
}

/// Scrubbing through the last five seconds before the demo show's fabric is let go, when shadows are on it.
fn scrubbing() {
    let demo = |change: &dyn Fn(&mut Show)| {
        let bytes = include_bytes!("../../../demo-shows/lantern-night.letfall");
        let mut show = letfall_core::file::read(bytes).unwrap();
        change(&mut show);
        show
    };
    let scrubbed = |show: Show, screen: Screen| {
        let folder = tempfile::tempdir().unwrap();
        let mut h = Harness::builder()
            .with_size([1440.0, 900.0])
            .with_context_setup(|ctx| ctx.set_fonts(theme::fonts()))
            .build_ui_state(
                |ui, editor: &mut Editor| editor.frame(ui),
                Editor::with_recovery(show, None, folder.path().to_owned()),
            );
        h.state_mut().screen = screen;
        h.run_steps(4);
        if screen == Screen::Room {
            h.get_by_label("Seat to look from").click();
            h.run_steps(3);
            h.get_all_by_label("row 6, middle").next().unwrap().click();
            h.run_steps(3);
            h.get_by_label("View with the fabric: at the playhead").click();
            h.run_steps(3);
        }
        let plan = h.state().document.plan().unwrap();
        let land = plan.row("R1".parse().unwrap()).unwrap().land;
        frame(&mut h, |h, round| {
            let before = i64::try_from(5_000 - round * 200).unwrap();
            h.state_mut().document.playhead = land - SongSpan::from_millis(before);
        })
    };
    let without = scrubbed(demo(&|show| show.room = None), Screen::Score);
    println!("\nscrubbing through the demo show's reveal, Score screen without a room {:.2} ms", ms(without));
    let with = scrubbed(demo(&|_| {}), Screen::Score);
    let view = scrubbed(demo(&|_| {}), Screen::Room);
    for (name, time) in [("Score, shadows on the fabric", with), ("Room, what a seat sees", view)] {
        let share = time.as_secs_f64() / without.as_secs_f64();
        let reached = share <= 2.0 && ms(time) <= 8.0;
        let reached = if reached { "reached" } else { "NOT REACHED" };
        println!("{name:<34}{:>8.2} ms   {share:>6.2} times that   (at most 2, and 8 ms: {reached})", ms(time));
    }
}

fn ms(time: Duration) -> f64 {
    time.as_secs_f64() * 1e3
}

fn row(name: &str, time: Duration, base: Duration) {
    let share = time.as_secs_f64() / base.as_secs_f64();
    let reached = share <= 0.1 && ms(time) <= 8.0;
    println!(
        "{name:<34}{:>8.2} ms   {share:>6.3} of the base   (at most 0.1, and 8 ms: {})",
        ms(time),
        if reached { "reached" } else { "NOT REACHED" }
    );
}

/// Paints every cue as a filled rectangle, whether it is visible or not.
fn plain() -> Duration {
    let mut h = Harness::builder().with_size([1440.0, 900.0]).build_ui(|ui| {
        for n in 0..CUES {
            let x = (n as f32 * 0.618_034).fract() * 1440.0;
            let y = 100.0 + (n % 5) as f32 * 60.0;
            ui.painter().rect_filled(
                Rect::from_min_size(Pos2::new(x, y), vec2(12.0, 50.0)),
                3.0,
                Color32::from_rgb(0, 158, 115),
            );
        }
    });
    frame(&mut h, |_, _| {})
}
