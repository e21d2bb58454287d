//! Waits, vamps and cuts: what is sent when, compared with a way that is worked out here from stretches of the song. A message belongs to the
//! stretch in which it lands, wherever it leaves.

use super::made_up::{Desk, plan, show, song};
use letfall_core::show::{Anchor, BendMark, Label, Show, SongBend};
use letfall_core::time::SongSpan;
use letfall_live::{
    Answer, Bend, Command, Event, HolderId, Moves, Rate, Refusal, RunItem, RunPlan, SendOutcome, ShowPort, SyncPlan,
};
use std::sync::Arc;

pub fn bend(desk: &mut Desk, bend: Bend) -> Answer {
    desk.give(Command::Bend { bend, by: HolderId(2) });
    let answer = |event: &Event| match event {
        Event::Bent { bend: of, answer, .. } if *of == bend => Some(*answer),
        _ => None,
    };
    desk.events.iter().rev().find_map(answer).expect("an answer")
}

/// A stretch of the song: from where to where, and when it begins by the machine's clock.
type Stretch = (i64, i64, i64);

/// What leaves along a way, by time and label. The first stretch begins with what is due there.
fn along(plan: &RunPlan, way: &[Stretch]) -> Vec<(i64, Label)> {
    let mut all = Vec::new();
    for (at, (from, to, begins)) in way.iter().enumerate() {
        let mine = |item: &&RunItem| {
            let (due, land) = (item.due.micros(), item.land.micros());
            let begun = if at == 0 { due >= *from } else { land >= *from };
            item.ends.is_none() && item.release.is_none() && begun && land < *to
        };
        all.extend(plan.timed().iter().filter(mine).map(|item| (begins + item.due.micros() - from, item.label)));
    }
    all.sort_unstable();
    all
}

/// What was sent by its own time: not chased, and no release or stand-in.
fn sent(desk: &Desk, plan: &RunPlan) -> Vec<(i64, Label)> {
    let of = |event: &Event| match event {
        Event::Message { item, outcome: SendOutcome::Sent, at, .. } => {
            plan.item(*item).filter(|i| i.ends.is_none()).map(|i| (at.micros(), i.label))
        }
        _ => None,
    };
    let mut all: Vec<_> = desk.events.iter().filter_map(of).collect();
    all.sort_unstable();
    all
}

/// The demo show's first twelve bars, with a cue that lands exactly on bar 9 and on bar 5, whose messages leave half a second before.
pub fn leading() -> Show {
    let mut show = show();
    let labels: Vec<Label> = show.services[0].cues.iter().map(|cue| cue.label).collect();
    let lights: Vec<Label> = labels.iter().copied().filter(|l| l.kind == letfall_core::show::Kind::Lighting).collect();
    for (label, bar) in lights.iter().zip([5, 9, 13]) {
        let mut cue = show.services[0].cues.get(*label).unwrap().clone();
        cue.at = Anchor::bar(bar);
        cue.lead_adjust = SongSpan::from_millis(500);
        show.services[0].cues.put(vec![cue]);
    }
    show
}

pub fn marked(show: &Show, bends: Vec<BendMark>) -> Arc<RunPlan> {
    let mut show = show.clone();
    show.services[0].song.bends = bends;
    plan(&show)
}

pub fn mark(bar: i32, does: SongBend) -> BendMark {
    BendMark { bar, does, words: String::new() }
}

pub fn vamp(bar: i32, bars: u32) -> BendMark {
    mark(bar, SongBend::Vamp { bars, once: Vec::new() })
}

struct Band {
    desk: Desk,
    plan: Arc<RunPlan>,
    begun: i64,
    from: i64,
}

impl Band {
    fn starts(plan: &Arc<RunPlan>, bar: i32) -> Band {
        let mut desk = Desk::new(plan, SyncPlan::default());
        let from = plan.grid.bar_time(bar).micros();
        desk.start(from, false);
        let begun = desk.now;
        Band { desk, plan: plan.clone(), begun, from }
    }

    fn bar(&self, bar: i32) -> i64 {
        self.plan.grid.bar_time(bar).micros()
    }

    /// Runs until the song, counted from its start in a straight line, is at a place.
    fn to(&mut self, song: i64) {
        self.desk.run_to(self.begun + song - self.from, None);
    }
}

/// A wait that is planned: before it nothing leaves that lands beyond it, and after it all of that leaves as long before as planned. The song
/// goes on as soon as that is possible.
#[test]
fn a_wait_holds_back_what_lands_after_it() {
    let plan = marked(&leading(), vec![mark(9, SongBend::Wait {})]);
    let mut band = Band::starts(&plan, 1);
    let at = band.bar(9);
    let lead = plan.lead_into(song(at), Rate::PLANNED).micros();
    assert!(lead >= 500_000, "the cue on bar 9 leaves before it");
    band.to(at + 37_000_000);
    let place = band.desk.engine.place(super::made_up::at(band.desk.now));
    assert_eq!((place.song.micros(), place.moves, place.runs()), (at, Moves::Waits, true));
    let waits = |e: &Event| matches!(e, Event::Waits { song: s, .. } if s.micros() == at);
    assert!(band.desk.events.iter().any(waits));
    assert_eq!(bend(&mut band.desk, Bend::GoOn), Answer::Done);
    let goes_on = band.desk.now + lead;
    band.desk.run_to(goes_on + 30_000_000, None);
    let way = [(band.from, at, band.begun), (at, at + 29_000_000, goes_on)];
    let wanted: Vec<_> = along(&plan, &way);
    let got: Vec<_> = sent(&band.desk, &plan).into_iter().filter(|s| s.0 < goes_on + 25_000_000).collect();
    assert_eq!(got, wanted.into_iter().filter(|s| s.0 < goes_on + 25_000_000).collect::<Vec<_>>());
    assert_eq!(bend(&mut band.desk, Bend::GoOn), Answer::Refused(Refusal::Nothing));
    // A start on its bar does not wait there.
    let mut band = Band::starts(&plan, 9);
    band.to(at + 2_000_000);
    assert!(band.desk.engine.runs());
}

/// A vamp goes round until it is left: at its end, or at the next bar. What leads into its end leaves in the last round only, and what leads
/// into its beginning leaves ahead of each round.
#[test]
fn a_vamp_goes_round_until_it_is_left() {
    let show = leading();
    let plan = marked(&show, vec![vamp(5, 4)]);
    for at_next_bar in [false, true] {
        let mut band = Band::starts(&plan, 1);
        let (from, to) = (band.bar(5), band.bar(9));
        let length = to - from;
        // In the middle of the second bar of the third round.
        band.to(to + length + (band.bar(6) - from) + 500_000);
        let leave = Bend::Leave { at: at_next_bar.then(|| song(band.bar(7))) };
        assert_eq!(bend(&mut band.desk, leave), Answer::Done);
        let end = if at_next_bar { band.bar(7) } else { to };
        band.desk.run_to(band.begun + to - band.from + length + (end - from) + 20_000_000, None);
        let start = |round: i64| band.begun + from - band.from + round * length;
        let way = [
            (band.from, to, band.begun),
            (from, to, start(1)),
            (from, end, start(2)),
            (to, to + 19_000_000, start(2) + end - from),
        ];
        let last = start(2) + (end - from) + 15_000_000;
        let early = |all: Vec<(i64, Label)>| all.into_iter().filter(|s| s.0 < last).collect::<Vec<_>>();
        assert_eq!(early(sent(&band.desk, &plan)), early(along(&plan, &way)), "at the next bar: {at_next_bar}");
        let rounds = band.desk.events.iter().filter(|e| matches!(e, Event::Turned { round: Some(_), .. })).count();
        assert_eq!(rounds, 2);
    }
}

/// Leaving so late that what leads into the end could no longer leave in time: it goes round once more, and says so.
#[test]
fn leaving_too_late_goes_round_once_more() {
    let plan = marked(&leading(), vec![vamp(5, 4)]);
    let mut band = Band::starts(&plan, 1);
    let (from, to) = (band.bar(5), band.bar(9));
    band.to(to - plan.lead_into(song(to), Rate::PLANNED).micros() + 1_000);
    assert_eq!(bend(&mut band.desk, Bend::Leave { at: None }), Answer::OnceMore);
    band.desk.run_to(band.begun + to - band.from + 2 * (to - from) + 9_000_000, None);
    let start = band.begun + to - band.from;
    let way = [(band.from, to, band.begun), (from, to, start), (to, to + 8_000_000, start + to - from)];
    let last = start + to - from + 6_000_000;
    let early = |all: Vec<(i64, Label)>| all.into_iter().filter(|s| s.0 < last).collect::<Vec<_>>();
    assert_eq!(early(sent(&band.desk, &plan)), early(along(&plan, &way)));
    assert_eq!(bend(&mut band.desk, Bend::Leave { at: None }), Answer::Refused(Refusal::Nothing));
}

/// A cue of a vamp that is marked "once" leaves in the first round only, and what it set holds in the others.
#[test]
fn a_cue_is_sent_once_if_it_is_marked_so() {
    let mut show = leading();
    let lights: Vec<Label> = show.services[0]
        .cues
        .iter()
        .map(|c| c.label)
        .filter(|l| l.kind == letfall_core::show::Kind::Lighting)
        .collect();
    let mut cue = show.services[0].cues.get(lights[1]).unwrap().clone();
    cue.at = Anchor::bar(6);
    show.services[0].cues.put(vec![cue]);
    let once = lights[1];
    let plan = marked(&show, vec![mark(5, SongBend::Vamp { bars: 4, once: vec![once] })]);
    let mut band = Band::starts(&plan, 1);
    let (from, to) = (band.bar(5), band.bar(9));
    band.to(to + 2 * (to - from) + 1_000_000);
    let times = |label: Label| sent(&band.desk, &plan).iter().filter(|s| s.1 == label).count();
    assert_eq!(times(once), 1);
    assert_eq!(times(lights[0]), 4, "ahead of each round, the next one's too");
    // Nothing that is chased at a turn takes the row back to what it had before.
    let row = plan.timed().iter().find(|item| item.label == once).unwrap().sets.unwrap();
    let has = band.desk.gate.last_of_row(row as usize).and_then(|at| plan.label(at));
    let rivals = |label: Label| plan.timed().iter().any(|i| i.label == label && i.sets == Some(row) && label != once);
    assert!(
        has == Some(once)
            || has.is_some_and(|l| rivals(l)
                && (from..to).contains(&plan.timed().iter().find(|i| i.label == l).unwrap().land.micros()))
    );
}

/// A cut leaves at a bar line for a later bar; what leads in there leaves as long before.
#[test]
fn a_cut_leaves_for_a_later_bar() {
    let plan = marked(&leading(), Vec::new());
    let mut band = Band::starts(&plan, 1);
    let (from, to) = (band.bar(4), band.bar(9));
    band.to(band.bar(2));
    assert_eq!(bend(&mut band.desk, Bend::Cut { from: song(from), to: song(to) }), Answer::Done);
    band.desk.run_to(band.begun + from - band.from + 20_000_000, None);
    let way = [(band.from, from, band.begun), (to, to + 18_000_000, band.begun + from - band.from)];
    let last = band.begun + from - band.from + 15_000_000;
    let early = |all: Vec<(i64, Label)>| all.into_iter().filter(|s| s.0 < last).collect::<Vec<_>>();
    assert_eq!(early(sent(&band.desk, &plan)), early(along(&plan, &way)));
    for (cut, why) in [
        ((from, from + 500_000), Refusal::Short),
        ((to, from), Refusal::Short),
        ((from, to + 5_000_000), Refusal::TooLate),
    ] {
        let cut = Bend::Cut { from: song(cut.0), to: song(cut.1) };
        assert_eq!(bend(&mut band.desk, cut), Answer::Refused(why));
    }
}

/// A wait or cut for which something has left already is refused, and what was chosen can be taken back until then.
#[test]
fn what_has_left_cannot_be_bent() {
    let plan = marked(&leading(), Vec::new());
    let mut band = Band::starts(&plan, 1);
    let at = band.bar(9);
    let lead = plan.lead_into(song(at), Rate::PLANNED).micros();
    band.to(at - lead - 1_000);
    assert_eq!(bend(&mut band.desk, Bend::Wait { at: song(at) }), Answer::Done);
    assert_eq!(bend(&mut band.desk, Bend::TakeBack), Answer::Done);
    assert_eq!(bend(&mut band.desk, Bend::TakeBack), Answer::Refused(Refusal::Nothing));
    band.to(at - lead + 1_000);
    assert_eq!(bend(&mut band.desk, Bend::Wait { at: song(at) }), Answer::Refused(Refusal::TooLate));
    band.to(at + 20_000_000);
    assert!(band.desk.engine.runs());
    let way = [(band.from, at + 19_000_000, band.begun)];
    let last = band.begun + at + 15_000_000;
    let early = |all: Vec<(i64, Label)>| all.into_iter().filter(|s| s.0 < last).collect::<Vec<_>>();
    assert_eq!(early(sent(&band.desk, &plan)), early(along(&plan, &way)));
}

/// A vamp that is made on the spot, from a stretch that is playing.
#[test]
fn a_vamp_can_be_made_on_the_spot() {
    let plan = marked(&leading(), Vec::new());
    let mut band = Band::starts(&plan, 1);
    let (from, to) = (band.bar(3), band.bar(5));
    band.to(band.bar(4));
    let stretch = |from, to| Bend::Vamp { from: song(from), to: song(to) };
    assert_eq!(bend(&mut band.desk, stretch(from, from + 10)), Answer::Refused(Refusal::Short));
    let gone = stretch(0, band.bar(2));
    assert_eq!(bend(&mut band.desk, gone), Answer::Refused(Refusal::TooLate));
    assert_eq!(bend(&mut band.desk, stretch(from, to)), Answer::Done);
    band.desk.run_to(band.begun + to + 3 * (to - from) + 1_000_000, None);
    let turned = band.desk.events.iter().filter(|e| matches!(e, Event::Turned { .. })).count();
    assert_eq!(turned, 4);
}

/// Where another clock leads, nothing bends: not what is marked, and not what a person chooses.
#[test]
fn another_clock_bends_nothing() {
    let plan = marked(&leading(), vec![mark(5, SongBend::Wait {})]);
    let mut desk = Desk::new(&plan, SyncPlan::default());
    desk.give(Command::FollowStart { song: song(0), at: super::made_up::at(desk.now) });
    assert_eq!(bend(&mut desk, Bend::Wait { at: plan.grid.bar_time(3) }), Answer::Refused(Refusal::Led));
    desk.run_to(desk.now + plan.grid.bar_time(7).micros(), None);
    assert!(desk.engine.runs() && !desk.events.iter().any(|e| matches!(e, Event::Waits { .. })));
    let mut desk = Desk::new(&plan, SyncPlan::default());
    assert_eq!(bend(&mut desk, Bend::GoOn), Answer::Refused(Refusal::Nothing));
    assert_eq!(bend(&mut desk, Bend::Wait { at: plan.grid.bar_time(3) }), Answer::Refused(Refusal::NotRunning));
}

/// What Letfall sends of timecode and clock at a bend (MIDI 1.0, system real time; MIDI time code): while it waits, no quarter frame and no
/// clock leaves; a stop leaves at the wait, and a continue when the song moves on, after a full frame and a song position that say where.
#[test]
fn timecode_and_clock_stand_while_the_song_waits() {
    let mut show = leading();
    show.services[0].timecode = Some(letfall_core::show::TimecodeStart {
        at: "01:00:00:00".into(),
        rate: serde_json::from_str("\"25\"").unwrap(),
    });
    // Nothing but sync, on a port without a release.
    let plan = marked(&show, vec![mark(3, SongBend::Wait {})]);
    let port =
        (0..plan.ports.len()).map(ShowPort::at).find(|port| plan.guards.iter().all(|g| g.port != *port)).unwrap();
    let mut desk = Desk::new(&plan, SyncPlan { timecode: vec![port], clock: vec![port] });
    desk.start(0, false);
    let begun = desk.now;
    let at = plan.grid.bar_time(3).micros();
    desk.run_to(begun + at + 20_000_000, None);
    let sync = |desk: &Desk, from: i64| -> Vec<(i64, u8)> {
        let of = |s: &(i64, u16, Vec<u8>)| {
            (s.0 >= from && (s.2[0] >= 0xf1 || s.2[..2] == [0xf0, 0x7f] && s.2[3] == 1)).then(|| (s.0, s.2[0]))
        };
        desk.sent().iter().filter(|s| s.1 == port.0).filter_map(of).collect()
    };
    let stop: Vec<_> = sync(&desk, begun + at - 1);
    assert_eq!(stop, [(begun + at, 0xfc)], "a stop, and then nothing");
    let frames = sync(&desk, begun).iter().filter(|s| s.1 == 0xf1).count();
    // Four quarter frames in each frame, 25 frames a second.
    let wanted = at / 10_000;
    assert!((wanted - 1..=wanted + 1).contains(&i64::try_from(frames).unwrap()), "{frames} of {wanted}");
    bend(&mut desk, Bend::GoOn);
    let goes_on = desk.now + plan.lead_into(song(at), Rate::PLANNED).micros();
    desk.run_to(goes_on + 1_000, None);
    let after: Vec<u8> = sync(&desk, begun + at + 1).into_iter().filter(|s| s.0 <= goes_on).map(|s| s.1).collect();
    assert_eq!(after[..3], [0xf0, 0xf2, 0xfb], "full frame, song position, continue");
    assert!(after[3..].iter().all(|byte| [0xf1, 0xf8].contains(byte)));
    assert!(sync(&desk, goes_on).iter().any(|s| s.1 == 0xfb), "it continues when the song moves on");
}

/// A note that is on when the song leaves the straight line, and whose end lies beyond that, ends there: in every round.
#[test]
fn a_note_across_a_bend_ends_at_it() {
    let mut show = leading();
    let media: Vec<Label> =
        show.services[0].cues.iter().map(|c| c.label).filter(|l| l.kind == letfall_core::show::Kind::Media).collect();
    // It leaves just before bar 9, and its note would end just after.
    let mut cue = show.services[0].cues.get(media[1]).unwrap().clone();
    cue.at = Anchor::Grid { place: letfall_core::time::BarBeat::downbeat(9), nudge: SongSpan::from_millis(-20) };
    cue.lead_adjust = SongSpan::from_millis(-450);
    show.services[0].cues.put(vec![cue]);
    let plan = marked(&show, vec![vamp(5, 4)]);
    let note = plan.timed().iter().find(|i| i.label == media[1] && i.ended_by.is_some()).unwrap();
    let (off, turn) = (plan.item(note.ended_by.unwrap()).unwrap(), plan.grid.bar_time(9));
    assert!(note.due < turn && note.land < turn && off.due > turn, "{} {} {}", note.due, note.land, off.due);
    let mut band = Band::starts(&plan, 1);
    let (from, to) = (band.bar(5), band.bar(9));
    band.to(to + 2 * (to - from) + 2_000_000);
    let bytes = |of: &RunItem| plan.bytes(of.bytes).to_vec();
    let times = |of: &RunItem| {
        let sent = band.desk.sent();
        sent.iter().filter(|s| s.2 == bytes(of)).map(|s| s.0 - band.begun).collect::<Vec<_>>()
    };
    let turns: Vec<i64> = (0..3).map(|round| to - band.from + round * (to - from)).collect();
    assert_eq!(times(note), turns.iter().map(|turn| turn - (to - note.due.micros())).collect::<Vec<_>>());
    assert_eq!(times(off), turns, "its end");
}
