//! Whether all that is said is on the pages: what cannot break and does not fit is dropped by the typesetting engine without a word, and
//! a call that is not on the call sheet is not made.
//!
//! What people say and do is looked for again in the typeset pages' own text. It is worked out here from the prepared plan, not from what
//! the template got.

use crate::data::LONG_WORD;
use crate::options::Sheet;
use crate::world::is_unseen;
use aho_corasick::AhoCorasick;
use letfall_core::prepared::Prepared;
use letfall_core::schedule::CallKind;
use letfall_core::show::room::SurveyQuestion;
use letfall_core::show::{Action, Kind, Show, Source};
use std::collections::BTreeSet;
use typst::layout::{Abs, Frame, FrameItem};
use typst_layout::PagedDocument;

/// All text of a document, page by page in the order in which it is set, without spaces. What lies below the foot of its page is not on
/// paper: a row that cannot break and is higher than a page runs off it.
pub fn text_of(document: &PagedDocument) -> String {
    let mut text = String::new();
    for page in document.pages() {
        collect(&page.frame, Abs::zero(), page.frame.height(), &mut text);
        text.push(TURN);
    }
    text
}

/// Stands between the pages of a text: no page has it.
const TURN: char = '\u{c}';

/// Adds the text of a frame whose top lies at `top` on a page of this height.
fn collect(frame: &Frame, top: Abs, page: Abs, text: &mut String) {
    for (place, item) in frame.items() {
        let at = top + place.y;
        match item {
            FrameItem::Text(run) if at <= page => text.extend(run.text.chars().filter(|c| counts(*c))),
            FrameItem::Group(group) => collect(&group.frame, at + group.transform.ty, page, text),
            _ => {}
        }
    }
}

/// Lines break at spaces, long words anywhere, and some spaces are narrow or have no width.
fn counts(c: char) -> bool {
    !c.is_whitespace() && !c.is_control() && !is_unseen(c)
}

fn squeezed(text: &str) -> String {
    text.chars().filter(|c| counts(*c)).collect()
}

/// Scripts that run from right to left: their lines are set in the order in which they are seen, so only their words are looked for.
fn is_from_the_right(text: &str) -> bool {
    text.chars().any(|c| matches!(c, '\u{590}'..='\u{8ff}' | '\u{fb1d}'..='\u{fdff}' | '\u{fe70}'..='\u{feff}'))
}

/// Texts of more characters than this are looked for word by word.
const LONG: usize = 80;

/// What must be on a sheet: each text, and how often at least.
fn wanted(prepared: &Prepared, sheet: Sheet) -> Vec<(String, usize)> {
    let (show, service) = (prepared.show(), prepared.service());
    let mut wanted: Vec<String> = Vec::new();
    let all = sheet == Sheet::All;
    let awake = |kind: Kind| service.cues.iter().filter(move |cue| !cue.resting && cue.label.kind == kind);
    let releases = || {
        awake(Kind::Release).filter_map(|cue| match &cue.does {
            Action::Release { release, .. } => show.release(release).map(|facts| (cue, facts)),
            _ => None,
        })
    };
    let plan = |wanted: &mut Vec<String>| {
        for (_, release) in releases() {
            if let Some(plan) = &release.hang_up {
                wanted.extend([plan.words.clone(), plan.then.clone(), plan.caller.clone()]);
                wanted.extend(plan.hold.iter().map(ToString::to_string));
                wanted.push(plan.told_by.clone());
            }
            for branch in [&release.stays, &release.early].into_iter().flatten() {
                let texts = [&branch.caller, &branch.words, &branch.then, &branch.told_by];
                // The words of the safety sheet are looked for already.
                let known = [&show.safety.stay_words, &show.safety.abort_words];
                wanted.extend(texts.into_iter().filter(|text| !known.contains(text)).cloned());
            }
        }
        if releases().next().is_some() {
            wanted.extend([
                show.safety.abort_words.clone(),
                show.safety.stay_words.clone(),
                show.stop.tells_band.clone(),
            ]);
        }
    };
    if all || sheet == Sheet::Calls {
        for group in prepared.call_groups() {
            wanted.push(group.words.clone());
            if matches!(group.kind, CallKind::Go | CallKind::Watch) {
                wanted.extend(group.labels.iter().map(ToString::to_string));
            }
            wanted.extend(group.answers.iter().cloned());
            wanted.push(group.reply.to_owned());
        }
        for (cue, _) in releases() {
            wanted.push(format!("Count-down to {}", cue.label));
            wanted.extend(["LAND", "Down, all of it", "Arm off", "off, key out", "It falls early"].map(str::to_owned));
        }
        plan(&mut wanted);
    }
    if all || sheet == Sheet::Release {
        for (cue, release) in releases() {
            wanted.extend([cue.label.to_string(), release.name.clone()]);
            let drops = show.hang(&release.hang).map_or(0, |hang| hang.measured.len());
            wanted.extend((1..=drops).map(|drop| drop.to_string()));
        }
        plan(&mut wanted);
    }
    if all || sheet == Sheet::Order {
        wanted.extend(service.cues.iter().flat_map(|cue| [cue.label.to_string(), cue.text.clone(), cue.note.clone()]));
    }
    for (own, kind) in [(Sheet::Media, Kind::Media), (Sheet::Lighting, Kind::Lighting), (Sheet::Outputs, Kind::Output)]
    {
        if all || sheet == own {
            let own = service.cues.iter().filter(|cue| cue.label.kind == kind);
            wanted.extend(own.flat_map(|cue| [cue.label.to_string(), cue.text.clone(), cue.note.clone()]));
        }
    }
    if all || sheet == Sheet::Crew || sheet == Sheet::StandIn {
        wanted.extend(show.crew.iter().map(|one| one.role.clone()));
    }
    if all || sheet == Sheet::StandIn {
        wanted.extend(show.crew.iter().flat_map(|one| [one.does.clone(), one.says.clone(), one.if_wrong.clone()]));
    }
    if all || sheet == Sheet::Patch {
        wanted.extend(show.receivers.iter().map(|receiver| receiver.name.clone()));
        wanted.extend(show.presets.iter().flat_map(|preset| [preset.name.clone(), preset.desk.clone()]));
        wanted.extend(show.media.iter().map(|item| item.name.clone()));
        wanted.extend(show.routes.iter().map(|route| route.name.clone()));
    }
    if all || sheet == Sheet::Between {
        wanted.extend(show.between.iter().flat_map(|task| [task.what.clone(), task.who.clone()]));
    }
    if all || sheet == Sheet::Papers {
        wanted.extend(show.papers.iter().map(|paper| paper.what.clone()));
        wanted.extend(show.notes.iter().map(|note| note.what.clone()));
    }
    if all || sheet == Sheet::ShowStop {
        let card = &show.stop;
        let lines = [
            &show.safety.abort_words,
            &card.said_by,
            &card.working_light,
            &card.music_out,
            &card.tells_band,
            &card.routes,
            &card.assembly,
            &card.head_count,
            &card.announcement,
        ];
        wanted.extend(lines.into_iter().cloned());
    }
    if all || sheet == Sheet::Strike {
        let hired = show.kit.iter().filter(|item| item.source == Source::Hired);
        wanted.extend(hired.map(|item| item.name.clone()));
    }
    if all || sheet == Sheet::Kit {
        wanted.extend(show.kit.iter().flat_map(|item| [item.name.clone(), item.note.clone()]));
    }
    before(show, sheet, &mut wanted);
    let mut texts: Vec<String> = wanted
        .iter()
        .flat_map(|text| {
            // A long text may run over a page break, with the foot and the head of the pages between its parts.
            let words = is_from_the_right(text) || text.chars().count() > LONG;
            let parts: Vec<String> =
                if words { text.split_whitespace().map(squeezed).collect() } else { vec![squeezed(text)] };
            parts
        })
        .filter(|text| !text.is_empty())
        .collect();
    texts.sort_unstable();
    let mut counted: Vec<(String, usize)> = Vec::new();
    for text in texts {
        match counted.last_mut() {
            Some((last, times)) if *last == text => *times += 1,
            _ => counted.push((text, 1)),
        }
    }
    counted
}

/// What the sheets before the first cue must hold.
fn before(show: &Show, sheet: Sheet, wanted: &mut Vec<String>) {
    let on = |own: Sheet| sheet == own || (sheet == Sheet::All && own.is_planned(show));
    if let Some(room) = show.room.as_ref().filter(|_| on(Sheet::Room)) {
        wanted.extend(room.points.iter().flat_map(|point| [point.name.clone(), point.above.clone()]));
        wanted.extend(room.obstacles.iter().map(|thing| thing.name.clone()));
        wanted.extend(room.seats.iter().map(|seat| seat.name.clone()));
        wanted.extend(room.projectors.iter().filter(|p| show.output(&p.output).is_some()).map(|p| p.name.clone()));
        wanted.extend(show.hangs.iter().flat_map(|hang| [hang.name.clone(), hang.pile.clone(), hang.folded.clone()]));
    }
    if on(Sheet::Known) {
        let settled = letfall_core::room::facts_and_questions(show);
        wanted.extend(settled.ask.into_iter().map(|question| question.what));
        wanted.extend(settled.known.into_iter().flat_map(|fact| [fact.what, fact.figure]));
    }
    if on(Sheet::Survey) {
        wanted.extend(SurveyQuestion::ALL.iter().map(|question| question.text().to_owned()));
        wanted.extend(show.room.iter().flat_map(|room| &room.survey).map(|answer| answer.answer.clone()));
    }
    if on(Sheet::Request) {
        let hired = show.kit.iter().filter(|item| item.source == Source::Hired);
        wanted.extend(hired.flat_map(|item| [item.name.clone(), item.note.clone()]));
        wanted.extend([show.week.access.clone(), show.week.power.clone(), show.week.lift.clone()]);
    }
    if on(Sheet::Offers) {
        wanted.extend(show.offers.iter().flat_map(|offer| [offer.name.clone(), offer.note.clone()]));
        // One row for each thing, one heading for each day.
        let lines = show.offers.iter().flat_map(|offer| &offer.lines).map(|line| line.what.clone());
        wanted.extend(lines.collect::<BTreeSet<_>>());
    }
    if on(Sheet::Week) {
        wanted.extend(show.week.calls.iter().flat_map(|call| [call.what.clone(), call.note.clone()]));
        wanted.extend(show.week.calls.iter().map(|call| call.date.clone()).collect::<BTreeSet<_>>());
        wanted.extend(show.week.calls.iter().flat_map(|call| call.who.iter().cloned()));
        wanted.extend(show.crew.iter().map(|member| member.role.clone()));
    }
}

/// What should be on the pages and is not there, or not as often as it should be; empty if nothing is missing.
pub fn lost(prepared: &Prepared, sheet: Sheet, text: &str) -> Vec<String> {
    let wanted = wanted(prepared, sheet);
    // One walk for all of them: a show may have very many calls, and a page much text.
    let Ok(search) = AhoCorasick::new(wanted.iter().map(|(text, _)| text)) else {
        return wanted.into_iter().map(|(text, _)| text).collect();
    };
    let mut there = vec![0; wanted.len()];
    for found in search.find_overlapping_iter(text) {
        there[found.pattern().as_usize()] += 1;
    }
    let missing = wanted.into_iter().zip(there).filter(|((_, times), there)| there < times);
    let pages: Vec<&str> = text.split(TURN).collect();
    missing
        .filter(|((text, times), there)| there + over_turns(&pages, text) < *times)
        .map(|((text, _), _)| text)
        .collect()
}

/// How often a text runs over the turn of a page: only a word that is long enough to break anywhere can. Its beginning stands on the one page,
/// and all the rest on the next.
fn over_turns(pages: &[&str], text: &str) -> usize {
    let breaks: Vec<usize> = text.char_indices().map(|(at, _)| at).skip(1).collect();
    if breaks.len() + 1 < LONG_WORD {
        return 0;
    }
    let over =
        |pair: &&[&str]| breaks.iter().any(|at| pair[0].contains(&text[..*at]) && pair[1].contains(&text[*at..]));
    pages.windows(2).filter(over).count()
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::sync::Arc;

    fn demo() -> Arc<Prepared> {
        let path = concat!(env!("CARGO_MANIFEST_DIR"), "/../../demo-shows/lantern-night.letfall");
        let show = letfall_core::file::read(&std::fs::read(path).expect("the demo show")).expect("a show");
        Prepared::hypothetical(Arc::new(show), 1).expect("its late service")
    }

    /// Each text in turn is taken from a page that has all: it is missed, and nothing else is.
    #[test]
    fn whatever_is_missing_is_seen() {
        let plan = demo();
        for sheet in
            [Sheet::Calls, Sheet::Release, Sheet::Order, Sheet::Lighting, Sheet::Media, Sheet::Outputs, Sheet::Kit]
        {
            let all = wanted(&plan, sheet);
            assert!(!all.is_empty(), "{sheet:?}");
            let whole: Vec<&str> = all.iter().flat_map(|(text, times)| vec![text.as_str(); *times]).collect();
            assert_eq!(lost(&plan, sheet, &whole.join("|")), [""; 0], "{sheet:?}");
            for gone in 0..whole.len() {
                // What is part of another text is still there as often as it has to be.
                let inside = whole
                    .iter()
                    .enumerate()
                    .any(|(at, text)| at != gone && *text != whole[gone] && text.contains(whole[gone]));
                let rest: Vec<&str> =
                    whole.iter().enumerate().filter(|(at, _)| *at != gone).map(|(_, text)| *text).collect();
                let missing = lost(&plan, sheet, &rest.join("|"));
                assert!(inside || missing == [whole[gone]], "{sheet:?}: {} and not {missing:?}", whole[gone]);
            }
        }
        let calls: Vec<String> = wanted(&plan, Sheet::Calls).into_iter().map(|(text, _)| text).collect();
        for text in [
            "Zoneclear?",
            "clear,lampup",
            "Armon",
            "Lights3go",
            "Standbyrelease1",
            "Count-downtoR1",
            "LAND",
            "Stopstopstop",
            "Stuckleft,stuckrightorstuckall",
            "M6",
            "L12",
        ] {
            assert!(calls.iter().any(|call| call == text), "{text} of {calls:?}");
        }
    }

    /// A word that breaks over the turn of a page is there, if nothing of it is lost between.
    #[test]
    fn a_long_word_may_run_over_a_turn() {
        let word = "abcdefghijklmnopqrstuvwxyz";
        let over = |one: &str, next: &str| over_turns(&[one, next], word);
        assert_eq!(over("xx abcdefghij foot", "head klmnopqrstuvwxyz yy"), 1);
        assert_eq!(over("xx abcdefghij foot", "head lmnopqrstuvwxyz yy"), 0);
        assert_eq!(over("xx bcdefghij foot", "head klmnopqrstuvwxyz yy"), 0);
        assert_eq!(over_turns(&["klmnopqrstuvwxyz", "abcdefghij"], word), 0);
        assert_eq!(over_turns(&["abc", "def"], "abcdef"), 0, "a short word breaks nowhere");
    }

    #[test]
    fn spaces_and_marks_without_width_do_not_count() {
        assert_eq!(squeezed("a\u{200b}b c\u{a0}d\n\u{ad}e\u{feff}"), "abcde");
        assert!(is_from_the_right("שלום") && is_from_the_right("x مرحبا") && !is_from_the_right("Grüße, 你好"));
    }
}
