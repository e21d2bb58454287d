//! What is checked of an evening that does not go as planned: other courses of a release, and bends of the song.

use super::checks::{REVEAL, all, with};
use super::plans::one;
use letfall_core::check::Code;
use letfall_core::show::{BendMark, Show, SongBend};

/// A failing show, then a passing one.
pub fn case(code: Code) -> (Show, Show) {
    let reveal = || one(REVEAL);
    match code {
        Code::BranchMissing | Code::BranchDangling => {
            let branches = |light: &str, early: &str| {
                let branch = |words: &str| serde_json::json!({"caller": "deputy", "words": words, "lights": [light]});
                with(reveal(), |s| {
                    s.releases[0].stays = Some(serde_json::from_value(branch("fabric stays")).unwrap());
                    s.releases[0].early = Some(serde_json::from_value(branch(early)).unwrap());
                })
            };
            let fails = if code == Code::BranchMissing { branches("warm", " ") } else { branches("gone", "stop") };
            (fails, branches("warm", "stop"))
        }
        Code::BendAtRelease => {
            // The release lands at bar 17, and can be armed from the middle of bar 11 on.
            let waits = |bar: i32| {
                with(reveal(), |s| {
                    s.services[0].song.bends = vec![BendMark { bar, does: SongBend::Wait {}, words: String::new() }];
                })
            };
            (waits(12), waits(11))
        }
        Code::BendClash => {
            let vamps = |bars: u32| {
                let vamp =
                    |bar, bars| BendMark { bar, does: SongBend::Vamp { bars, once: Vec::new() }, words: String::new() };
                with(reveal(), |s| s.services[0].song.bends = vec![vamp(2, bars), vamp(5, 2)])
            };
            (vamps(4), vamps(3))
        }
        _ => unreachable!("{code:?} has its case elsewhere"),
    }
}

/// A vamp or cut may end as a release's window opens, and a wait may stand there; whatever meets the window is told, with the release. A
/// cut over a release is told too.
#[test]
fn bends_keep_clear_of_a_release() {
    let told = |bar: i32, does: SongBend| {
        let mut show = one(REVEAL);
        show.services[0].song.bends = vec![BendMark { bar, does, words: String::new() }];
        show.validate().unwrap();
        all(&show).iter().filter(|p| p.code == Code::BendAtRelease).map(|p| p.cues.clone()).collect::<Vec<_>>()
    };
    let vamp = |bars| SongBend::Vamp { bars, once: Vec::new() };
    // The window opens in the middle of bar 11; the release lands at bar 17, beat 1.
    assert!(told(8, vamp(3)).is_empty() && told(18, vamp(2)).is_empty() && told(18, SongBend::Wait {}).is_empty());
    assert_eq!(told(8, vamp(4)).len(), 1);
    assert_eq!(told(16, vamp(1))[0][0].to_string(), "R1");
    assert_eq!(told(17, SongBend::Wait {}).len(), 1);
    assert_eq!(told(5, SongBend::Cut { to: 20 }).len(), 1);
    assert!(told(5, SongBend::Cut { to: 11 }).is_empty() && told(18, SongBend::Cut { to: 20 }).is_empty());
}

/// Marks in each other's way: two in one bar, one inside a vamp, one beyond the song, a cue of a vamp that is not in it.
#[test]
fn bends_keep_clear_of_each_other() {
    let codes = |bends: Vec<(i32, SongBend)>| {
        let mut show = one("");
        show.services[0].song.bends =
            bends.into_iter().map(|(bar, does)| BendMark { bar, does, words: String::new() }).collect();
        show.validate().unwrap();
        let found = all(&show).into_iter().map(|p| p.code);
        found.filter(|code| [Code::BendClash, Code::MarkBeyond].contains(code)).collect::<Vec<_>>()
    };
    let vamp = |bars| SongBend::Vamp { bars, once: Vec::new() };
    let wait = || SongBend::Wait {};
    let end = one("").services[0].song.end_bar();
    assert!(codes(vec![(2, vamp(3)), (5, vamp(2)), (7, wait()), (9, SongBend::Cut { to: 12 })]).is_empty());
    assert!(codes(vec![(2, vamp(3)), (2, wait())]).is_empty(), "it waits before it goes round");
    assert_eq!(codes(vec![(2, vamp(3)), (4, vamp(2))]), [Code::BendClash]);
    assert_eq!(codes(vec![(2, vamp(3)), (3, wait())]), [Code::BendClash]);
    assert_eq!(codes(vec![(3, wait()), (2, vamp(3))]), [Code::BendClash]);
    assert_eq!(codes(vec![(3, wait()), (3, SongBend::Cut { to: 5 })]), [Code::BendClash]);
    assert_eq!(codes(vec![(end - 2, vamp(3))]), [Code::MarkBeyond]);
    assert!(codes(vec![(end - 2, vamp(2))]).is_empty());
    assert_eq!(codes(vec![(end, wait())]), [Code::MarkBeyond]);
    let once = vec!["L7".parse().unwrap()];
    assert_eq!(codes(vec![(2, SongBend::Vamp { bars: 2, once })]), [Code::BendClash]);
}

/// A cut goes on at a later bar, or it is told.
#[test]
fn a_cut_goes_on_later() {
    let mut show = one("");
    for (to, good) in [(6, true), (5, false), (4, false)] {
        show.services[0].song.bends = vec![BendMark { bar: 5, does: SongBend::Cut { to }, words: String::new() }];
        assert_eq!(!all(&show).iter().any(|p| p.code == Code::BendClash), good, "{to}");
    }
}
