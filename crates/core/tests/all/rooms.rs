//! The room's geometry against models that share no code with it: rays that are walked step by step, a grid of points that are each
//! looked at, and the fall that is integrated in small steps.

use super::checks_room::in_room;
use super::plans::prepared;
use letfall_core::prepared::{OutsideFacts, PreparedShow};
use letfall_core::reveal::{EXPECTED_DRAG, FallsPast, drag_fall_secs, fall_time, free_fall_secs, terminal_speed};
use letfall_core::room::sight::{Sees, all_eyes, boxes, named_eyes, reveal, sees};
use letfall_core::room::solid::{Cuboid, Pane};
use letfall_core::room::{facts_and_questions, room_figures, seat_views};
use letfall_core::show::room::{Room, Spot};
use letfall_core::show::{Instant, Label, Show};
use proptest::prelude::*;
use std::sync::Arc;

fn spot(across: f64, deep: f64, high: f64) -> Spot {
    Spot { across, deep, high }
}

/// Whether a point of the way from eye to target is in a box, walked in small steps.
fn walks_into(eye: Spot, target: Spot, boxes: &[Cuboid]) -> bool {
    const STEPS: i32 = 1500;
    (1..STEPS).any(|step| {
        let share = f64::from(step) / f64::from(STEPS);
        let at = |from: f64, to: f64| from + (to - from) * share;
        let here = spot(at(eye.across, target.across), at(eye.deep, target.deep), at(eye.high, target.high));
        boxes.iter().any(|solid| solid.holds(here))
    })
}

fn solid() -> impl Strategy<Value = Cuboid> {
    (-4.0..4.0f64, -9.0..2.0f64, 0.0..5.0f64, 0.2..3.0f64, 0.2..3.0f64, 0.2..3.0f64)
        .prop_map(|(x, y, z, w, d, h)| Cuboid::on(spot(x, y, z), w, d, h))
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 40, ..ProptestConfig::default() })]

    /// The hidden share of a pane is the share of its points that a walk from the eye does not reach: 20 × 20 of them, so within what
    /// such a grid can tell along the edges of the shadows.
    #[test]
    fn hidden_shares_are_those_of_points_walked_to(
        solids in prop::collection::vec(solid(), 0..4), x in -5.0..5.0f64, z in 0.5..4.0f64,
    ) {
        let eye = spot(x, -10.0, z);
        let pane = Pane { left: -3.0, right: 3.0, low: 0.5, high: 4.5, deep: 1.0 };
        let mut hidden = 0;
        for i in 0..20 {
            for j in 0..20 {
                let target = spot(
                    pane.left + (f64::from(i) + 0.5) / 20.0 * 6.0,
                    pane.deep,
                    pane.low + (f64::from(j) + 0.5) / 20.0 * 4.0,
                );
                hidden += i32::from(walks_into(eye, target, &solids));
            }
        }
        let share = pane.hidden(eye, &solids).unwrap();
        prop_assert!((share - f64::from(hidden) / 400.0).abs() < 0.06, "{share} is not {hidden}/400");
        // More boxes hide no less, and each alone hides no more than all.
        for one in &solids {
            prop_assert!(pane.hidden(eye, &[*one]).unwrap() <= share + 1e-9);
        }
    }

    /// Whatever numbers a room may hold, no figure is NaN or infinite, no share leaves 0 to 1, and nothing panics.
    #[test]
    fn no_room_gives_nonsense(room in any_room()) {
        let mut show = in_room(|_| {});
        show.room = Some(room);
        if show.validate().is_err() {
            return Ok(());
        }
        let figures = room_figures(&show).unwrap();
        let unit = |share: f64| (0.0..=1.0).contains(&share);
        for view in figures.named.iter().chain(&seat_views(&show)) {
            prop_assert!(view.fabrics.iter().all(|f| unit(f.1)) && view.screens.iter().all(|s| unit(s.1)));
            prop_assert!(view.performers.iter().all(|p| unit(p.1)));
        }
        for figure in &figures.beams {
            let b = &figure.beam;
            let all = [b.distance_m, b.ratio, b.widths_m.0, b.widths_m.1, b.offset_percent, b.tilt_deg, b.turn_deg, b.oblique_deg];
            prop_assert!(all.iter().all(|value| value.is_finite()) && unit(b.cut), "{b:?}");
            prop_assert!(figure.passes_on.iter().all(|(_, lux)| lux.is_finite() && *lux >= 0.0));
        }
        for s in &figures.shadows {
            let all = [s.shadow.times, s.shadow.edge_m, s.shadow.across, s.shadow.width_m, s.shadow.top, s.shadow.feet];
            prop_assert!(all.iter().all(|value| value.is_finite()) && s.shadow.times >= 1.0, "{s:?}");
        }
        for seat in figures.reveals.iter().flat_map(|r| r.named.iter().chain(&r.seats)) {
            if let Some((height, fall)) = seat.all {
                prop_assert!(height.is_finite() && fall.expected.is_finite() && fall.earliest <= fall.expected && fall.expected <= fall.latest);
            }
        }
        let prepared = PreparedShow::new(Arc::new(show.clone()), OutsideFacts::none());
        for problem in prepared.problems() {
            let text = problem.to_string();
            prop_assert!(!text.contains("NaN") && !text.contains("inf "), "{text}");
        }
        facts_and_questions(&show);
    }
}

/// A room of any sizes within their limits, things in each other's place and seats behind walls among them.
fn any_room() -> impl Strategy<Value = Room> {
    let place = || {
        (-12.0..12.0f64, -20.0..8.0f64, -1.0..8.0f64)
            .prop_map(|(x, y, z)| serde_json::json!({"across_m": x, "deep_m": y, "high_m": z}))
    };
    let things = prop::collection::vec((place(), 0.01..8.0f64, 0.01..8.0f64, 0.01..8.0f64, 0usize..4), 0..5);
    let seats = prop::collection::vec(place(), 0..4);
    let people = prop::collection::vec((-6.0..6.0f64, -3.0..7.0f64, 0.1..3.0f64), 0..4);
    let lamps = prop::collection::vec((place(), 0.0..2.0f64), 0..3);
    let projectors = prop::collection::vec((place(), 0.1..5.0f64, 0.0..5.0f64), 0..3);
    let block = (1u16..5, 1u16..6, -3.0..12.0f64, 0.1..3.0f64, -0.5..1.0f64);
    (things, seats, people, lamps, projectors, block, -1.0..4.0f64, 0.0..2.0f64).prop_map(
        |(things, seats, people, lamps, projectors, block, deep, stage)| {
            let kinds = ["other", "sprinkler", "hot-lamp", "wall"];
            let numbered = |n: usize| format!("n{n}");
            let things: Vec<_> = things.into_iter().enumerate().map(|(n, (at, w, d, h, kind))| {
                serde_json::json!({"name": numbered(n), "kind": kinds[kind], "at": at, "width_m": w, "depth_m": d, "height_m": h})
            }).collect();
            let seats: Vec<_> = seats.into_iter().enumerate().map(|(n, eye)| serde_json::json!({"name": numbered(n), "eye": eye})).collect();
            let people: Vec<_> = people.into_iter().enumerate().map(|(n, (x, y, head))| {
                serde_json::json!({"name": numbered(n), "across_m": x, "deep_m": y, "head_m": head})
            }).collect();
            let lamps: Vec<_> = lamps.into_iter().enumerate().map(|(n, (at, source))| {
                serde_json::json!({"name": numbered(n), "hang": "front", "at": at, "source_m": source})
            }).collect();
            let projectors: Vec<_> = projectors.into_iter().enumerate().map(|(n, (at, least, more))| {
                serde_json::json!({"name": numbered(n), "output": if n == 0 { "front" } else { "house" }, "at": at, "throw_least": least, "throw_most": least + more, "pixels": 1000})
            }).collect();
            let (rows, in_row, first, row, rise) = block;
            let text = serde_json::json!({
                "width_m": 12.0, "house_m": 15.0, "ceiling_m": 6.0,
                "stage": {"width_m": 10.0, "depth_m": 6.0, "height_m": stage},
                "obstacles": things, "seats": seats, "performers": people, "lamps": lamps, "projectors": projectors,
                "fabrics": [{"hang": "front", "deep_m": deep}],
                "screens": [{"output": "house", "at": {"across_m": 0.0, "deep_m": 5.0, "high_m": 2.0}, "width_m": 4.0, "height_m": 2.0}],
                "blocks": [{"name": "b", "rows": rows, "seats": in_row, "first_m": first, "row_m": row, "rise_m": rise}],
                "keep_free": [{"name": "door", "across_m": 0.0, "deep_m": 0.0, "width_m": 1.0, "depth_m": 1.0}],
            });
            serde_json::from_value(text).unwrap()
        },
    )
}

/// Free fall and drag to any height are those of check-values 7: the fall to a seat's own line is the model's fall to that height.
#[test]
fn a_fall_past_any_height() {
    let mut show = in_room(|_| {});
    show.hangs[0].measured.clear();
    let hang = &show.hangs[0];
    for height in [0.5, 1.0, 1.8, 3.9] {
        let fall = FallsPast::of(hang).height(height);
        let drop = 4.0 - height;
        assert!((fall.earliest - free_fall_secs(drop)).abs() < 1e-9);
        assert!((fall.expected - drag_fall_secs(drop, terminal_speed(0.15, EXPECTED_DRAG))).abs() < 1e-9, "{fall:?}");
    }
    // At the sightline it is the fall to the sightline; at the floor the one to the floor; at and over the top none.
    assert_eq!(FallsPast::of(hang).height(1.8), fall_time(hang, Instant::Sightline));
    assert_eq!(FallsPast::of(hang).height(0.0), fall_time(hang, Instant::Floor));
    assert_eq!((FallsPast::of(hang).height(4.0).expected, FallsPast::of(hang).height(9.0).expected), (0.0, 0.0));
    // Below the floor nothing goes on falling.
    assert_eq!(FallsPast::of(hang).height(-1.0), FallsPast::of(hang).height(0.0));
    let timed = in_room(|_| {});
    let hang = &timed.hangs[0];
    let [higher, at, lower] = [2.0, 1.8, 1.6].map(|height| FallsPast::of(hang).height(height));
    assert_eq!(at, fall_time(hang, Instant::Sightline));
    assert!(higher.expected < at.expected && at.expected < lower.expected);
    // The stretch beyond what was timed is the model's, between free fall and broadside.
    assert!(lower.earliest < lower.expected && lower.expected < lower.latest && lower.model != (0.0, 0.0));
    assert!(lower.expected - at.expected > free_fall_secs(2.4) - free_fall_secs(2.2));
    assert_eq!(lower.timed_to, Some(Instant::Sightline));
}

/// check-values 16 by hand, in a room: "front" 4 m before the fabric sees the singer's head, 2.2 m up and 2 m behind it, past 1.8667 m.
#[test]
fn seats_see_past_their_own_height() {
    let show = in_room(|_| {});
    let seen = reveal(&show, &show.hangs[0].key).unwrap();
    let height = |at: usize| seen.named[at].all.unwrap().0;
    assert!((height(0) - (1.2 + 1.0 * 4.0 / 6.0 - 0.5)).abs() < 1e-9);
    assert!((height(1) - (1.2 + 1.0 * 9.0 / 11.0 - 0.5)).abs() < 1e-9);
    assert!((height(2) - (1.2 + 1.0 * 15.0 / 17.0 - 0.5)).abs() < 1e-9);
    let (first, last) = seen.range().unwrap();
    // Nearer seats look up more steeply, so the edge passes their line later.
    assert!(first < last && (last - seen.named[0].all.unwrap().1.expected).abs() < 1e-12);
    assert!(seen.words().starts_with("first seats see them 0."));
    // Past the side, over the top, under the hem: seen before; through a box: never.
    let room = show.room.clone().unwrap();
    let (hang, place) = (&show.hangs[0], &room.fabrics[0]);
    let eye = &named_eyes(&room)[0];
    let of = |head: Spot, boxes: &[Cuboid]| sees(&room, hang, place, eye, head, boxes).unwrap();
    assert_eq!(of(spot(6.1, 3.0, 2.2), &[]), Sees::Before);
    assert_eq!(of(spot(5.9, 3.0, 2.2), &[]), Sees::Past(1.2 + 1.0 * 4.0 / 6.0 - 0.5));
    assert_eq!(of(spot(0.0, 3.0, 9.0), &[]), Sees::Before);
    assert_eq!(of(spot(0.0, 3.0, -1.0), &boxes(&room)), Sees::Never);
    assert_eq!(of(spot(0.0, 3.0, 2.2), &[Cuboid::on(spot(0.0, -1.0, 0.0), 1.0, 1.0, 5.0)]), Sees::Never);
    assert_eq!(sees(&room, hang, place, eye, spot(0.0, 0.9, 2.2), &[]), None);
}

/// Of several people the one with the lowest line comes into view last, wherever it stands in the list: so also for another fabric that
/// hides them.
#[test]
fn the_lowest_line_is_the_last() {
    let heights = |heads: [f64; 2], second: bool| {
        let show = in_room(|room| {
            let mut other = room.performers[0].clone();
            (other.name, other.head_m, room.performers[0].head_m) = ("child".into(), heads[1], heads[0]);
            room.performers.push(other);
        });
        let show = if second { second_fabric(show, 0.5, 2.0, "") } else { show };
        let seat = reveal(&show, &show.hangs[0].key).unwrap().named[0].clone();
        (seat.all.unwrap().0, seat.also.first().map(|(_, fall)| fall.expected))
    };
    let line = |head: f64| 1.2 + (0.5 + head - 1.2) * 4.0 / 6.0 - 0.5;
    for heads in [[1.7, 1.1], [1.1, 1.7]] {
        assert!((heights(heads, false).0 - line(1.1)).abs() < 1e-9, "{heads:?}");
    }
    assert_eq!(heights([1.7, 1.1], true), heights([1.1, 1.7], true));
    assert_eq!(heights([1.7, 1.1], true).1, heights([1.1, 1.1], true).1);
    assert!(heights([1.7, 1.7], true).1 < heights([1.7, 1.1], true).1);
}

/// In how many seats: by the plain difference of falls, with the show's tolerance of 125 ms early and 45 ms late (ITU-R BT.1359-1).
#[test]
fn shares_of_seats_in_time() {
    let show = in_room(|room| {
        room.performers[0].across_m = 0.47;
        let block = serde_json::json!({"name": "stalls", "rows": 8, "seats": 5, "first_m": 2.0, "row_m": 1.5});
        room.blocks = vec![serde_json::from_value(block).unwrap()];
    });
    let show = super::checks::with(show, |show| show.hangs[0].sightline_m = 1.58);
    let plan = prepared(&show);
    let seats = plan.seats_in_time("R1".parse::<Label>().unwrap()).unwrap();
    let hang = &show.hangs[0];
    let planned = fall_time(hang, Instant::Sightline).expected;
    let room = show.room.as_ref().unwrap();
    // Heads of the row in front, straight before each other on a flat floor: 0.2 m wide, 0.12 m over the eye.
    let sees_over = |eye: Spot| {
        let heads: Vec<Cuboid> =
            (0..5).map(|n| Cuboid::on(spot(f64::from(n) / 2.0 - 1.0, eye.deep + 1.5, 1.1), 0.2, 0.2, 0.22)).collect();
        eye.deep > -2.5 || !walks_into(eye, spot(0.47, 3.0, 2.2), &heads)
    };
    let (seeing, blind): (Vec<_>, Vec<_>) = all_eyes(room).into_iter().partition(|eye| sees_over(eye.at));
    assert!(seeing.len() > 20 && blind.len() > 5, "{} and {}", seeing.len(), blind.len());
    assert_eq!((seats.seats, seats.unseen), (seeing.len(), blind.len()));
    let by_hand = seeing
        .iter()
        .filter(|eye| {
            let share = (1.0 - eye.at.deep) / (3.0 - eye.at.deep);
            let high = eye.at.high + (2.2 - eye.at.high) * share - 0.5;
            let later = FallsPast::of(hang).height(high).expected - planned;
            (-0.125..=0.045).contains(&later)
        })
        .count();
    assert!(by_hand > 0 && by_hand < seeing.len(), "{by_hand} says nothing");
    assert_eq!(seats.in_time, by_hand);
    assert!(seats.chance > 0.0 && seats.chance < 1.0);
    assert!(seats.words().starts_with(&format!("in time in {by_hand} of {} seats", seeing.len())));
    // Landing as it is let go or on the floor is the same for everybody.
    let on_floor = super::checks::R1.replace("sightline", "floor");
    let floor = Show { services: super::plans::one(&on_floor).services, ..show };
    assert_eq!(prepared(&floor).seats_in_time("R1".parse().unwrap()), None);
}

/// A second fabric, `deep` metres upstage and `across` to the side, 2 m wide and as high as the first, with a release of its own.
fn second_fabric(show: Show, across: f64, deep: f64, cue: &str) -> Show {
    let mut show = show;
    let text = serde_json::to_value(&show.hangs[0]).unwrap();
    let mut hang: letfall_core::show::Hang = serde_json::from_value(text).unwrap();
    (hang.key, hang.name, hang.width_m) = ("side".parse().unwrap(), "Side cloth".into(), 2.0);
    show.hangs.push(hang);
    let mut release = show.releases[0].clone();
    (release.key, release.hang, release.name) =
        ("side-units".parse().unwrap(), "side".parse().unwrap(), "Side units".into());
    show.releases.push(release);
    let place = serde_json::json!({"hang": "side", "across_m": across, "deep_m": deep});
    show.room.as_mut().unwrap().fabrics.push(serde_json::from_value(place).unwrap());
    if !cue.is_empty() {
        let cues = super::plans::one(&format!("{},{cue}", super::checks::R1)).services;
        show.services[0].cues = cues[0].cues.clone();
    }
    show
}

/// One fabric before another: whoever is behind both comes into view when both edges have passed, by the plain sum of times; while one of
/// them stays, not at all. One at its side hides others, and nobody of its people is "seen before" the first falls.
#[test]
fn a_fabric_before_another_and_one_beside_it() {
    let r2 = |at: &str| {
        format!(
            r#"{{"label":"R2","track":"r","at":"{at}","does":{{"release":{{"release":"side-units","lands":"sightline"}}}}}}"#
        )
    };
    let alone = in_room(|_| {});
    let seats_of = |show: &Show| prepared(show).seats_in_time("R1".parse().unwrap()).unwrap().clone();
    let reveal_of = |show: &Show| reveal(show, &show.hangs[0].key).unwrap();
    let single = seats_of(&alone);
    // It hangs right upstage of the first, before the singer, and stays up.
    let stays = second_fabric(alone.clone(), 0.5, 2.0, "");
    let found = reveal_of(&stays);
    assert!(found.named.iter().all(|seat| seat.also.len() == 1 && seat.all.is_some()));
    assert_eq!(found.named[0].also_words(&stays), "also behind “Side cloth” from here");
    assert!(found.words().ends_with("; 3 of them only when another fabric is gone too"), "{}", found.words());
    let none = seats_of(&stays);
    assert_eq!((none.in_time, none.covered, none.chance, none.sees), (0, single.seats, 0.0, None));
    assert_eq!(
        none.words(),
        "in time in 0 of 3 seats, as expected: nobody sees all of them; in 3 another fabric, which stays, still hides somebody"
    );
    // It falls two bars later: everybody sees them then, and nobody in time.
    let later = second_fabric(alone.clone(), 0.5, 2.0, &r2("21|1"));
    let plan = prepared(&later);
    let seats = plan.seats_in_time("R1".parse().unwrap()).unwrap();
    let fall = |n: usize| plan.stage().falling.iter().find(|fall| fall.hang == n).unwrap();
    let apart = (fall(1).let_go - fall(0).let_go).secs_f64();
    assert!(apart > 2.0, "{apart}");
    // Half way from the nearest seat's eye, 3 m before the edge, over 5 m to the second, 6 m to the singer.
    let own_line = 1.2 + 1.0 * 5.0 / 6.0 - 0.5;
    let after = FallsPast::of(&later.hangs[1]).height(own_line).expected + apart;
    assert!((seats.sees.unwrap().1.secs_f64() - after).abs() < 2e-6, "{:?} {after}", seats.sees);
    assert_eq!((seats.in_time, seats.covered, seats.seats), (0, 0, single.seats));
    assert!(seats.chance < 1e-6, "{}", seats.chance);
    // It falls two bars before: as if it were not there.
    let before = second_fabric(alone.clone(), 0.5, 2.0, &r2("13|1"));
    assert_eq!(seats_of(&before).sees, single.sees);
    assert_eq!(seats_of(&before).in_time, single.in_time);
    // Somebody behind a cloth beside the first is that one's affair.
    let two = |across: f64| {
        let mut show = in_room(|room| {
            let mut other = room.performers[0].clone();
            (other.name, other.across_m) = ("choir".into(), 6.5);
            room.performers.push(other);
            room.seats.truncate(1);
        });
        show.hangs[0].width_m = 6.0;
        second_fabric(show, across, 1.0, "")
    };
    assert_eq!(reveal_of(&two(4.2)).named[0].before, Vec::<String>::new());
    assert_eq!(reveal_of(&two(-4.2)).named[0].before, ["choir"]);
    let side = two(4.2);
    assert!(reveal(&side, &side.hangs[1].key).unwrap().named[0].all.is_some());
    assert!(reveal_of(&side).named[0].also.is_empty());
    // One that unfurls hides nobody before it does.
    let mut rolled = stays;
    rolled.hangs[1].kind = letfall_core::show::FallKind::Unfurls;
    assert!(reveal_of(&rolled).named.iter().all(|seat| seat.also.is_empty()));
    assert_eq!(seats_of(&rolled), single);
}

/// Nobody looks through a screen: whoever stands behind one is not seen after the fall, and no share of them either.
#[test]
fn a_screen_hides_whoever_is_behind_it() {
    let with_screen = |deep: f64| {
        in_room(|room| {
            let screen = &mut room.screens[0];
            (screen.at.deep, screen.at.high, screen.width_m, screen.height_m) = (deep, 0.5, 6.0, 4.0);
        })
    };
    let seen = |show: &Show| {
        let found = reveal(show, &show.hangs[0].key).unwrap();
        let share = room_figures(show).unwrap().named[0].performers[0].1;
        (found.named[0].all.is_some(), found.named[0].never.len(), share)
    };
    // The screen does not hide itself, nor does one in front of it that is not there.
    assert!(room_figures(&with_screen(5.5)).unwrap().named[0].screens[0].1 > 0.99);
    let behind = seen(&with_screen(5.5));
    assert!(behind.0 && behind.1 == 0 && behind.2 > 0.9, "{behind:?}");
    assert_eq!(seen(&with_screen(2.0)), (false, 1, 0.0));
}

/// What is known and what must be asked: a figure nobody stands for is asked about; one with name and day is known.
#[test]
fn what_is_known_and_what_is_not() {
    let show = in_room(|room| {
        room.known.by = "caretaker".into();
        room.known.on = "2026-10-01".into();
        room.points[0].limit = "100 kg".into();
    });
    let settled = facts_and_questions(&show);
    let known = |what: &str| settled.known.iter().find(|fact| fact.what == what);
    assert_eq!(known("the room").unwrap().by, "caretaker, 2026-10-01");
    assert!(
        known("the stage").is_none()
            && settled
                .ask
                .iter()
                .any(|q| q.what.starts_with("the stage: ") && q.what.ends_with("nobody stands for it"))
    );
    // A limit that nobody stands for is none.
    assert!(settled.ask.iter().any(|q| q.what == "limit at wished point “P1”" && q.ask == "the competent person"));
    let stated = in_room(|room| {
        room.points[0].limit = "100 kg".into();
        room.points[0].known.by = "engineer".into();
    });
    let settled = facts_and_questions(&stated);
    assert!(
        settled
            .known
            .iter()
            .any(|f| f.what == "limit at wished point “P1”" && f.figure == "100 kg" && f.by == "engineer")
    );
    // Nothing known: the room itself is asked for.
    let mut none = stated;
    none.room = None;
    assert!(facts_and_questions(&none).ask.iter().any(|q| q.what.starts_with("the room")));
}

/// check-values 9: under the same 555.5556 lx from both sides a fabric of ρ 0.35 and τ 0.45 shows 61.8936 cd/m² of the picture and 79.5775 of
/// the light behind it, so the fabric round a silhouette is 1 + 79.5775/61.8936 times as bright as the silhouette.
#[test]
fn silhouettes_against_a_picture_and_doubled() {
    let lamp = |name: &str, across: f64, preset: serde_json::Value| {
        serde_json::json!({"name": name, "hang": "front", "source_m": 0.1, "preset": preset,
            "at": {"across_m": across, "deep_m": 5.0, "high_m": 1.0}})
    };
    let show = |second: serde_json::Value| {
        let mut show = in_room(|room| {
            let lamps = serde_json::json!([lamp("left", -1.0, "warm".into()), lamp("right", 1.0, second)]);
            room.lamps = serde_json::from_value(lamps).unwrap();
        });
        let p = serde_json::json!({"lumens": 5000, "width_m": 4, "height_m": 2.25, "gain": 0.35, "transmission": 0.45});
        show.outputs[0].projection = Some(serde_json::from_value(p).unwrap());
        show.presets[0].behind = Some(show.hangs[0].key.clone());
        show.presets[0].back_lux = 555.5556;
        show
    };
    let figures = room_figures(&show("warm".into())).unwrap();
    let wanted = 1.0 + 79.5775 / 61.8936;
    assert!(figures.shadows.iter().all(|s| (s.against_white.unwrap() - wanted).abs() < 1e-4), "{:?}", figures.shadows);
    // Lamps 4 m behind the fabric and 2 m apart, the singer 2 m behind it: 2 · 2/(4 − 2) apart.
    assert_eq!(figures.doubles.len(), 1);
    assert!((figures.doubles[0].apart_m.0 - 2.0).abs() < 1e-9 && figures.doubles[0].apart_m.1.abs() < 1e-9);
    // Never on together, they double nothing; a preset that lights nothing from behind throws no shadow that could be measured.
    let apart = room_figures(&show("cold".into())).unwrap();
    assert!(apart.doubles.is_empty());
    assert_eq!(apart.shadows[1].against_white, None);
    // One that is on with every preset may be on with any.
    assert_eq!(room_figures(&show(serde_json::Value::Null)).unwrap().doubles.len(), 1);
}

/// Next year's show has no name, no date and no signature of this year's, and what was timed says so.
#[test]
fn next_years_show_forgets_people_and_days() {
    let demo = std::path::Path::new(env!("CARGO_MANIFEST_DIR")).join("../../demo-shows/lantern-night.letfall");
    let show = letfall_core::file::read(&std::fs::read(demo).unwrap()).unwrap();
    let next = letfall_core::edit::for_next_year(&show, 2026);
    next.validate().unwrap();
    let text = String::from_utf8(letfall_core::file::write(&next)).unwrap();
    // No day of this year, but in what the drops say.
    for line in text.lines().filter(|line| !line.contains("time again")) {
        assert!(!line.contains("2026-") && !line.contains("2025-"), "{line}");
    }
    let drops = &next.hangs[0].measured;
    assert_eq!(drops.len(), show.hangs[0].measured.len());
    assert!(drops.iter().all(|drop| drop.note == "2026, time again"), "{drops:?}");
    let s = &next.safety;
    assert_eq!([&s.competent, &s.clear_signal, &s.caller, &s.arm_holder, &s.spotter, &s.key_switch], [""; 6]);
    assert_eq!(s.abort_words, show.safety.abort_words);
    assert!(next.papers.is_empty() && next.hand_outs.is_empty() && next.crew.iter().all(|one| one.name.is_empty()));
    let room = next.room.as_ref().unwrap();
    assert!(room.points.iter().all(|point| point.limit.is_empty() && !point.known.is_stated()));
    assert!(room.survey.is_empty() && room.fabrics.iter().all(|fabric| fabric.clearance_m.is_none()));
    assert!(room.bars.iter().all(|bar| !bar.known.is_stated()) && !room.known.is_stated());
    // The plan itself is the same: cues, song, rig, kit.
    assert_eq!(next.services[1].cues, show.services[1].cues);
    assert_eq!((next.kit.len(), next.receivers.len()), (show.kit.len(), show.receivers.len()));
    assert!(
        next.offers.is_empty() && next.week.lift.is_empty() && next.week.calls.iter().all(|call| call.note.is_empty())
    );
    assert!(
        next.hangs[0].pile.is_empty()
            && next.stop.said_by.is_empty()
            && room.obstacles.iter().all(|t| t.keep_m.is_none())
    );
    // A drop that is not timed again keeps its year.
    let later = letfall_core::edit::for_next_year(&next, 2027);
    assert_eq!(later.hangs[0].measured[0].note, "2026, time again");
    assert_eq!(letfall_core::edit::for_next_year(&next, 2026).hangs, next.hangs);
}

/// What a bar carries on its fullest metre, by hand: 8 m of 32 m² at 0.15 kg/m² and 4 kg of hardware are 1.1 kg on each metre of cloth; a
/// second one, 2 m wide, before its middle adds its own.
#[test]
fn what_a_bar_carries_where_it_hangs() {
    let mut show = in_room(|room| room.bars[0].length_m = 20.0);
    show.hangs[0].hardware_kg = 4.0;
    let load = |show: &Show| letfall_core::room::bar_loads(show).remove(0);
    let one = load(&show);
    assert!((one.hung_kg - 8.8).abs() < 1e-9 && (one.per_metre_kg - 1.1).abs() < 1e-9, "{one:?}");
    let mut second = letfall_core::show::Hang::new("small".parse().unwrap(), "Small", 2.0, 1.0, 4.0, 1.0);
    second.areal_mass_kg_m2 = 1.0;
    show.hangs.push(second);
    let place = serde_json::json!({"hang": "small", "across_m": 1.0, "deep_m": 1.0, "bar": "bar 1"});
    show.room.as_mut().unwrap().fabrics.push(serde_json::from_value(place).unwrap());
    let both = load(&show);
    assert!((both.hung_kg - 10.8).abs() < 1e-9 && (both.per_metre_kg - 2.1).abs() < 1e-9, "{both:?}");
    // Beside each other they add nothing to one another's metres.
    show.room.as_mut().unwrap().fabrics[1].across_m = 6.0;
    assert!((load(&show).per_metre_kg - 1.1).abs() < 1e-9);
}
