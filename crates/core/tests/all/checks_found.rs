//! All checks, each with its case.

use super::checks::{REVEAL, all, case};
use super::plans::{one, problems};
use letfall_core::check::Code;
use letfall_core::show::Show;
use letfall_core::time::SongSpan;

#[test]
fn every_check_finds_its_problem_and_leaves_the_mended_plan_alone() {
    let has = |show: &Show, code| all(show).iter().any(|p| p.code == code);
    for &code in Code::ALL {
        let (failing, passing) = case(code);
        assert!(has(&failing, code), "{} is not found", code.text());
        let found: Vec<_> = all(&passing).into_iter().filter(|p| p.code == code).collect();
        assert!(found.is_empty(), "{} is found in the mended plan: {found:?}", code.text());
    }
}

#[test]
fn a_problem_is_one_sentence_with_place_and_remedy() {
    for &code in Code::ALL {
        let (failing, _) = case(code);
        for problem in all(&failing) {
            let text = problem.to_string();
            assert!(text.ends_with('.') && !problem.remedy.is_empty() && !text.contains('\n'), "{text}");
            let lower = text.to_lowercase();
            assert!(!lower.contains("safe to") && !lower.contains("is safe"), "the tool never says so: {text}");
        }
    }
}

#[test]
fn codes_are_unlike_and_stable() {
    let mut texts: Vec<_> = Code::ALL.iter().map(|c| c.text()).collect();
    texts.sort_unstable();
    texts.dedup();
    assert_eq!(texts.len(), Code::ALL.len());
    assert!(texts.iter().all(|t| t.bytes().all(|b| b.is_ascii_lowercase() || b == b'-')));
}

#[test]
fn a_good_reveal_has_no_problems() {
    assert_eq!(problems(&one(REVEAL)), []);
    let late = one(REVEAL).settings;
    assert_eq!((late.early, late.late), (SongSpan::from_millis(125), SongSpan::from_millis(45)));
}
