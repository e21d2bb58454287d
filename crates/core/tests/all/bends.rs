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

/// Bars that are played freely are in nobody's way: they only tell whoever follows a band.
#[test]
fn bars_that_are_played_freely_clash_with_nothing() {
    let mut show = one(REVEAL);
    let mark = |bar, does| BendMark { bar, does, words: String::new() };
    let free = |bar, bars| mark(bar, SongBend::Free { bars });
    show.services[0].song.bends = vec![free(16, 2), mark(2, SongBend::Vamp { bars: 4, once: Vec::new() }), free(3, 1)];
    show.validate().unwrap();
    let of_bends = |p: &letfall_core::check::Problem| matches!(p.code, Code::BendAtRelease | Code::BendClash);
    assert!(!all(&show).iter().any(of_bends));
    show.services[0].song.bends.push(free(17, 2));
    assert!(all(&show).iter().any(|p| p.code == Code::BendClash), "said twice");
    assert_eq!(
        (free(3, 1).name(), free(3, 2).name()),
        ("played freely, bar 3".into(), "played freely, bars 3 to 4".into())
    );
}

/// Of a song that begins two minutes late, cues at clock times come two minutes earlier in the song if they keep their time of day; releases,
/// what depends on them, what rests and what is bound to bars stay where they are.
#[test]
fn cues_at_clock_times_keep_their_time_of_day() {
    use letfall_core::schedule::{clock_cues, keeping_time_of_day};
    use letfall_core::show::{Anchor, Label};
    use letfall_core::time::{SongSpan, SongTime};
    let mut show = one(REVEAL);
    let clock = |secs: i64| Anchor::Clock(SongTime::from_micros(secs * 1_000_000).unwrap());
    let labels: Vec<Label> = show.services[0].cues.iter().map(|cue| cue.label).collect();
    for label in &labels {
        let mut cue = show.services[0].cues.get(*label).unwrap().clone();
        cue.at = clock(20);
        show.services[0].cues.put(vec![cue]);
    }
    let release = *labels.iter().find(|label| label.to_string() == "R1").unwrap();
    let (bound, keeps) = {
        let mut others = labels.iter().copied().filter(|label| *label != release);
        (others.next().unwrap(), others.collect::<Vec<_>>())
    };
    show.services[0].handovers.clear();
    show.releases[0].depends = vec![bound];
    assert_eq!(clock_cues(&show, &show.services[0]), keeps);
    let resting = with(show.clone(), |show| {
        let mut cue = show.services[0].cues.get(keeps[0]).unwrap().clone();
        cue.resting = true;
        show.services[0].cues.put(vec![cue]);
    });
    assert_eq!(clock_cues(&resting, &resting.services[0]), keeps[1..]);
    let late = keeping_time_of_day(&show, 0, SongSpan::from_millis(120_000));
    for label in labels {
        let at = if keeps.contains(&label) { clock(-100) } else { clock(20) };
        assert_eq!(late.services[0].cues.get(label).unwrap().at, at, "{label}");
    }
    assert_eq!(keeping_time_of_day(&show, 9, SongSpan::from_millis(1)), show);
}
