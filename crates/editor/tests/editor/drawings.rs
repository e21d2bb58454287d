//! The drawings of Rig: worked from the facts beside them.

use crate::desk::{Desk, demo, shot};
use egui_kittest::kittest::Queryable as _;
use letfall_core::show::Units;
use letfall_editor::Screen;

#[test]
fn each_page_of_rig_has_its_drawing() {
    let desk = Desk::new();
    let mut show = demo();
    show.receivers[1].latency = letfall_core::show::Latency::default();
    let mut h = desk.editor(show);
    h.set_size(egui::vec2(1440.0, 1200.0));
    h.state_mut().screen = Screen::Rig;
    h.run_steps(3);
    for (table, drawing) in [
        ("Ports and receivers", "How long each receiver takes"),
        ("Hang", "Front fabric from the front"),
        ("Releases", "Voltage at each unit of Front fabric release"),
    ] {
        h.get_by_role_and_label(egui::accesskit::Role::Button, table).click();
        h.run_steps(4);
        h.get_by_label(drawing);
        shot(&mut h, &format!("rig-{}", table.to_lowercase().replace(' ', "-")));
    }
    // What nobody has said can be counted on with one press, as one step, and is then no longer assumed.
    h.get_by_role_and_label(egui::accesskit::Role::Button, "Ports and receivers").click();
    h.run_steps(3);
    h.get_by_label_contains("30 to 200 ms are assumed, and nothing is sent earlier for it");
    h.get_by_label("Count on 80 ms until Media is measured").click();
    h.run_steps(4);
    assert_eq!(h.state().document.show.receivers[1].latency.mean.micros(), 80_000);
    assert!(h.query_by_label_contains("are assumed, and nothing is sent earlier for it").is_none());
    assert_eq!(h.state().document.history.depth(), 1);
    // Neither feet nor a fabric without a release break a drawing.
    let mut odd = demo();
    odd.settings.units = Units::Imperial;
    odd.releases.clear();
    let mut h = desk.editor(odd);
    h.state_mut().screen = Screen::Rig;
    h.run_steps(3);
    h.get_by_label("Hang").click();
    h.run_steps(4);
    h.get_by_label("Front fabric from the front");
}
