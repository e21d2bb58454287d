//! A random walk through the editor's actions.

use letfall_core::show::Label;

/// Does thousands of random edits to a document, then undoes all of them.
#[test]
fn a_random_walk_of_twenty_thousand_edits_is_undone_exactly() {
    use letfall_core::edit::{self, By};
    use letfall_core::time::{SongSpan, TickSpan};
    let mut document = letfall_editor::document::Document::new(letfall_core::stress::show(24, 6).unwrap(), None);
    let original = document.show.clone();
    let mut seed = 7u64;
    let mut next = |n: u64| {
        seed = seed.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1);
        (seed >> 33) % n
    };
    let mut edits = 0;
    while document.history.depth() < 20_000 {
        let all: Vec<Label> = document.current().unwrap().cues.iter().map(|c| c.label).collect();
        document.selection = all.iter().copied().filter(|_| next(3) == 0).collect();
        match next(if all.len() > 40 { 7 } else { 9 }) {
            0 => {
                let by = By::Bars(i32::try_from(next(5)).unwrap() - 2);
                document.with_selected("Shift {}", |s, v, l| edit::shift(s, v, l, by));
            }
            1 => {
                let by = By::Time(SongSpan::from_millis(i64::try_from(next(400)).unwrap() - 200));
                document.with_selected("Shift {}", |s, v, l| edit::shift(s, v, l, by));
            }
            2 => {
                document.with_selected("Quantize {}", |s, v, l| edit::quantize(s, v, l, TickSpan::new(480)));
            }
            3 => {
                document.with_selected("Stretch {}", |s, v, l| edit::stretch(s, v, l, 1.02));
            }
            4 => {
                let by = By::Beats(i64::try_from(next(9)).unwrap() - 4);
                document.with_selected("Shift {}", |s, v, l| edit::shift(s, v, l, by));
            }
            5 if all.len() > 10 => {
                document.selection = [all[usize::try_from(next(all.len() as u64)).unwrap()]].into_iter().collect();
                document.with_selected("Delete {}", edit::delete);
            }
            6 => {
                let note = format!("note {}", next(1000));
                document.with_selected("Note {}", |s, v, l| edit::change(s, v, l, |c| c.note.clone_from(&note)));
            }
            7 => {
                document.copy();
                document.paste(true);
            }
            _ => document.repeat(2, 1),
        }
        edits += 1;
        assert!(edits < 200_000, "the walk goes on");
    }
    let end = document.show.clone();
    while document.history.depth() > 0 {
        document.undo();
    }
    assert_eq!(document.show, original);
    while document.history.redo_name().is_some() {
        document.redo();
    }
    assert_eq!(document.show, end);
}
