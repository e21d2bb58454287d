//! The Room screen: described from nothing, dragged, typed, looked at from the seats.

use crate::desk::{Desk, click, demo, drag_to, shot};
use egui::Pos2;
use egui::accesskit::Role;
use egui_kittest::Harness;
use egui_kittest::kittest::{NodeT as _, Queryable as _};
use letfall_core::room::drawing::{Look, drawing};
use letfall_core::show::{Show, Units};
use letfall_editor::{Editor, Screen};

pub const TABLES: [&str; 11] = [
    "Room and stage",
    "Bars and fabrics",
    "Wished points",
    "In the way",
    "Projectors and screens",
    "Seats",
    "People and lamps",
    "Kept free",
    "Survey",
    "Week",
    "Offers",
];

fn open(desk: &Desk, show: Show) -> Harness<'static, Editor> {
    let mut h = desk.editor(show);
    h.set_size(egui::vec2(1440.0, 1000.0));
    h.state_mut().screen = Screen::Room;
    h.run_steps(4);
    h
}

fn table(h: &mut Harness<'static, Editor>, name: &str) {
    h.get_by_role_and_label(Role::Button, name).click();
    h.run_steps(4);
}

/// Where a place of the room is on the screen, by the drawing's own frame and the picture's rectangle.
fn on_screen(h: &Harness<'static, Editor>, picture: &str, look: Look, place: [f64; 2]) -> (Pos2, f64) {
    let show = &h.state().document.show;
    let frame = drawing(show, look).unwrap().frame;
    let rect = h.get_by_label(picture).rect().shrink(6.0);
    let (wide, high) = (frame[2] - frame[0], frame[3] - frame[1]);
    let scale = (f64::from(rect.width()) / wide).min(f64::from(rect.height()) / high);
    #[allow(clippy::cast_possible_truncation)]
    let at = |v: f64| v as f32;
    let corner = rect.center() - egui::vec2(at(wide * scale), at(high * scale)) / 2.0;
    (corner + egui::vec2(at((place[0] - frame[0]) * scale), at((place[1] - frame[1]) * scale)), scale)
}

#[test]
fn the_room_is_looked_at_from_above_the_side_and_the_seats() {
    let desk = Desk::new();
    let mut h = open(&desk, demo());
    h.get_by_label("Plan of the room");
    h.get_by_label_contains("first seats see them 1.02 s after let-go, last at 1.18 s");
    h.get_by_label_contains("front projector: 18.10");
    shot(&mut h, "room-plan");
    h.get_by_label("Section").click();
    h.run_steps(4);
    h.get_by_label("Section of the room");
    shot(&mut h, "room-section");
    h.get_by_label("Seat to look from").click();
    h.run_steps(4);
    h.get_all_by_role(Role::Button)
        .find(|node| node.accesskit_node().label().as_deref() == Some("row 6, middle"))
        .unwrap()
        .click();
    h.run_steps(4);
    h.get_by_label("View from row 6, middle");
    shot(&mut h, "room-view-up");
    let at_release = |h: &mut Harness<'static, Editor>, after: i64| {
        let plan = h.state().document.plan().unwrap();
        let row = plan.row("R1".parse().unwrap()).unwrap();
        h.state_mut().document.playhead = row.land + letfall_core::time::SongSpan::from_millis(after);
        h.run_steps(4);
    };
    h.get_by_label("View with the fabric: at the playhead").click();
    at_release(&mut h, -1500);
    // What the fabric shows, with the shadows on it.
    h.get_by_label_contains("Front fabric: “Tide turning”, shadows of conductor and cornet");
    shot(&mut h, "room-view-before");
    at_release(&mut h, 0);
    shot(&mut h, "room-view-falling");
    at_release(&mut h, 3000);
    // The fabric is gone, and the picture has moved to the screen.
    h.get_by_label_contains(
        "View from row 6, middle at the playhead: House screen: “Lanterns aloft”; Reveal, full warm",
    );
    shot(&mut h, "room-view-after");
    h.get_by_label("View with the fabric: fallen").click();
    h.run_steps(4);
    shot(&mut h, "room-view-fallen");
    assert_eq!(h.state().document.history.depth(), 0, "looking changes nothing");
    for name in TABLES {
        table(&mut h, name);
        shot(&mut h, &format!("room-{}", name.to_lowercase().replace(' ', "-")));
        // The caution stands on each of them.
        h.get_by_label_contains("for the competent person to say");
    }
    assert_eq!(h.state().document.history.depth(), 0, "visiting the tables changes nothing");
}

/// A projector is dragged by two metres in the plan, in steps of 5 cm, as one step that can be undone; with Alt it goes anywhere.
#[test]
fn things_are_dragged_in_steps() {
    let desk = Desk::new();
    let mut h = open(&desk, demo());
    let was = h.state().document.show.room.as_ref().unwrap().seats[1].eye;
    let (from, scale) = on_screen(&h, "Plan of the room", Look::PlanTurned, [was.deep, was.across]);
    #[allow(clippy::cast_possible_truncation)]
    let to = from + egui::vec2((0.51 * scale) as f32, (1.02 * scale) as f32);
    drag_to(&mut h, from, to);
    let now = h.state().document.show.room.as_ref().unwrap().seats[1].eye;
    assert!(
        (now.across - was.across - 1.0).abs() < 0.051 && (now.deep - was.deep - 0.5).abs() < 0.051,
        "{was:?} {now:?}"
    );
    let twentieths = now.across * 20.0;
    assert!((twentieths + 1e-6).rem_euclid(1.0) < 1e-4, "{now:?} is in steps of 5 cm");
    assert!((now.high - was.high).abs() < 1e-12);
    assert_eq!(h.state().document.history.depth(), 1);
    // What is worked out follows.
    let document = &h.state().document;
    let plan = document.plan().unwrap();
    let seen = plan.prepared_show().room().unwrap();
    assert!(seen.reveals[0].named[1].all.is_some());
    h.state_mut().command(letfall_editor::commands::Command::Undo);
    h.run_steps(3);
    assert_eq!(h.state().document.show.room.as_ref().unwrap().seats[1].eye, was);
    // A click alone chooses and changes nothing.
    click(&mut h, from);
    assert_eq!(h.state().document.history.depth(), 0);
    h.get_by_label_contains("1.48\u{a0}m right, -8.15\u{a0}m deep, 1.20\u{a0}m high");
}

/// A double click in the plan looks from the nearest seat of a block.
#[test]
fn any_seat_is_looked_from() {
    let desk = Desk::new();
    let mut h = open(&desk, demo());
    let room = h.state().document.show.room.clone().unwrap();
    let eye = letfall_core::room::sight::block_eyes(&room).swap_remove(7);
    let (at, _) = on_screen(&h, "Plan of the room", Look::PlanTurned, [eye.at.deep, eye.at.across]);
    h.hover_at(at);
    h.run_steps(2);
    for _ in 0..2 {
        h.drag_at(at);
        h.run_steps(1);
        h.drop_at(at);
        h.run_steps(1);
    }
    h.run_steps(4);
    h.get_by_label(&format!("View from {}", eye.seat));
    assert_eq!(h.state().document.history.depth(), 0);
}

/// A room of one's own from nothing: described, a bar, the fabric on it, seats, people; then cues are timed by what a seat sees.
#[test]
fn a_room_from_nothing() {
    let desk = Desk::new();
    let mut show = demo();
    show.room = None;
    show.week = letfall_core::show::Week::default();
    show.offers.clear();
    let mut h = open(&desk, show);
    shot(&mut h, "room-empty");
    h.get_by_label("Describe the room").click();
    h.run_steps(4);
    let press = |h: &mut Harness<'static, Editor>, in_table: &str, button: &str| {
        table(h, in_table);
        h.get_by_label(button).click();
        h.run_steps(4);
    };
    press(&mut h, "Bars and fabrics", "Add a bar");
    press(&mut h, "Bars and fabrics", "Hang Front fabric in the room");
    for _ in 0..3 {
        press(&mut h, "Seats", "Add a seat");
    }
    press(&mut h, "Seats", "Add a block of rows");
    press(&mut h, "People and lamps", "Add a performer");
    press(&mut h, "People and lamps", "Add a lamp");
    press(&mut h, "Projectors and screens", "Add a projector");
    press(&mut h, "Projectors and screens", "Put House screen into the room");
    press(&mut h, "In the way", "Add something in the way");
    press(&mut h, "Wished points", "Add a wished point");
    press(&mut h, "Kept free", "Add floor that stays free");
    press(&mut h, "Week", "Add the next step: on paper");
    press(&mut h, "Offers", "Add an offer");
    let made = h.state().document.show.clone();
    let room = made.room.as_ref().unwrap();
    assert_eq!((room.bars.len(), room.fabrics.len(), room.seats.len(), room.blocks.len()), (1, 1, 3, 1));
    assert_eq!((room.performers.len(), room.lamps.len(), room.projectors.len(), room.screens.len()), (1, 1, 1, 1));
    assert_eq!((room.obstacles.len(), room.points.len(), room.keep_free.len()), (1, 1, 1));
    assert_eq!((made.week.calls.len(), made.offers.len()), (1, 1));
    assert!(made.validate().is_ok());
    table(&mut h, "Seats");
    shot(&mut h, "room-own");
    h.get_by_label("Time cues of Front fabric by what seat 2 sees, and strike 5 drops that were timed to 1.90\u{a0}m")
        .click();
    h.run_steps(4);
    let hang = &h.state().document.show.hangs[0];
    assert_eq!(hang.sightline_from, "seat 2");
    assert!((hang.sightline_m - 1.9).abs() > 0.01, "{}", hang.sightline_m);
    h.get_by_label("This is the sightline that cues are timed by.");
    // Moved, the check says that it has another now.
    h.state_mut().document.prepare();
    let said = |h: &Harness<'static, Editor>| {
        let plan = h.state().document.plan().unwrap();
        plan.prepared_show().rig_problems().iter().any(|p| p.code.text() == "sightline-moved")
    };
    assert!(!said(&h));
}

/// A bar that is renamed keeps what hangs from it; roles typed without a space are roles.
#[test]
fn names_are_kept_together() {
    let desk = Desk::new();
    let mut h = open(&desk, demo());
    table(&mut h, "Bars and fabrics");
    let field = h.get_by_role_and_label(Role::TextInput, "Name, bar 1");
    field.focus();
    h.run_steps(2);
    h.get_by_role_and_label(Role::TextInput, "Name, bar 1").type_text(" upstage");
    h.run_steps(2);
    h.get_by_role_and_label(Role::Button, "Bars and fabrics").focus();
    h.run_steps(4);
    let room = h.state().document.show.room.clone().unwrap();
    assert_eq!(room.bars[0].name, "bar 2 upstage");
    assert!(room.fabrics[0].bar == "bar 2 upstage" && room.points.iter().all(|point| point.bar == "bar 2 upstage"));
    assert_eq!(h.state().document.history.depth(), 1);
    table(&mut h, "Week");
    h.get_by_role_and_label(Role::TextInput, "Who, call 3").focus();
    h.run_steps(2);
    h.get_by_role_and_label(Role::TextInput, "Who, call 3").type_text(";spotter;caller");
    h.run_steps(2);
    h.get_by_role_and_label(Role::Button, "Week").focus();
    h.run_steps(4);
    let who = &h.state().document.show.week.calls[2].who;
    assert_eq!(*who, ["stage manager", "lighting operator", "media operator", "spotter", "caller"]);
}

/// Each figure is shown in feet where the show is in feet, and visiting a field changes nothing.
#[test]
fn visiting_fields_changes_nothing() {
    let desk = Desk::new();
    for units in [Units::Metric, Units::Imperial] {
        let mut show = demo();
        show.settings.units = units;
        show.room.as_mut().unwrap().seats[0].eye.across = -1.234_567;
        let mut h = open(&desk, show.clone());
        h.set_size(egui::vec2(2400.0, 2400.0));
        let mut visited = 0;
        for name in TABLES {
            table(&mut h, name);
            let count = h.query_all_by(|node| node.role() == Role::SpinButton).count();
            for at in 0..count {
                let found = h.get_all_by(|node| node.role() == Role::SpinButton).count();
                assert_eq!(found, count, "{name}, field {at}");
                h.get_all_by(|node| node.role() == Role::SpinButton).nth(at).unwrap().focus();
                h.run_steps(2);
                visited += 1;
            }
            h.get_by_role_and_label(Role::Button, name).focus();
            h.run_steps(2);
            assert_eq!(h.state().document.history.depth(), 0, "{name}: something was changed by looking");
        }
        assert!(visited > 100, "{visited} fields");
        assert!(*h.state().document.show == show);
    }
}

/// The stage picture shows the shadows that the room gives, while a lamp behind the fabric is on, and none when it is off or the fabric is gone.
#[test]
fn shadows_stand_on_the_fabric_while_its_lamp_is_on() {
    let desk = Desk::new();
    let mut h = desk.editor(demo());
    h.state_mut().screen = Screen::Score;
    let seen = |h: &mut Harness<'static, Editor>, label: &str, after: i64| {
        let plan = h.state().document.plan().unwrap();
        let land = plan.row(label.parse().unwrap()).unwrap().land;
        h.state_mut().document.playhead = land + letfall_core::time::SongSpan::from_millis(after);
        h.run_steps(4);
        let picture = h.get_all_by(|node| node.role() == Role::Image);
        let names: Vec<String> = picture.filter_map(|node| node.accesskit_node().label()).collect();
        names.into_iter().find(|name| name.starts_with("Stage: ")).unwrap()
    };
    let before = seen(&mut h, "L2", 1000);
    assert!(!before.contains("shadows"), "{before}");
    let on = seen(&mut h, "L3", 6000);
    assert!(on.contains("shadows of conductor and cornet and tuba"), "{on}");
    shot(&mut h, "stage-shadows");
    let gone = seen(&mut h, "R1", 2500);
    assert!(!gone.contains("shadows"), "{gone}");
    // Without a room there is a glow and no shadow, and nothing breaks.
    let mut bare = demo();
    bare.room = None;
    let mut h = desk.editor(bare);
    let on = seen(&mut h, "L3", 6000);
    assert!(!on.contains("shadows"), "{on}");
}
