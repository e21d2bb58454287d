//! Shows far larger than any real one, for benches and tests. The same arguments always give the same show.

use crate::show::{Action, Anchor, Cue, CueList, Kind, Label, Show, TrackKey};
use crate::time::{BarBeat, Grid, GridPlan, Metre, Ramp, RampLaw, SongSpan, SongTime, Tempo, TempoMark, Tick};

/// The rig that every stress show starts from, written as people would write it.
const RIG: &str = include_str!("../../../assets/new.letfall");

/// A small pseudo-random generator (Knuth's MMIX constants). Evenly spread and repeatable; not for secrets.
struct Spread(u64);

impl Spread {
    fn below(&mut self, n: u64) -> u64 {
        self.0 = self.0.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        (self.0 >> 33) % n.max(1)
    }
}

/// A show with `cues` cues over a song with `marks` tempo marks, half of them ramps.
///
/// Returns `None` only if the built-in rig is broken; the tests check that it is not.
pub fn show(cues: u32, marks: u32) -> Option<Show> {
    let mut show = crate::file::read(RIG.as_bytes()).ok()?;
    "Stress".clone_into(&mut show.title);
    for n in 0..200u32 {
        let preset = format!(
            r#"{{"key":"p{n}","name":"Preset {n}","receiver":"lights","message":{{"program":{{"number":{}}}}},"fade_us":{}}}"#,
            n % 128,
            n * 10_000
        );
        show.presets.push(serde_json::from_str(&preset).ok()?);
        let item = format!(
            r#"{{"key":"m{n}","name":"Picture {n}","receiver":"pictures","layer":"a","message":{{"note":{{"key":{},"velocity":{}}}}},"length_us":500000}}"#,
            n % 128,
            1 + n % 127
        );
        show.media.push(serde_json::from_str(&item).ok()?);
    }
    let mut spread = Spread(u64::from(cues) << 20 | u64::from(marks));
    let bars = marks.max(1) * 2;
    let plan = plan(marks, &mut spread)?;
    let grid: Grid = plan.build().ok()?;
    let service = show.services.first_mut()?;
    service.song.bars = bars;
    service.song.grid = plan;
    let media: TrackKey = "media".parse().ok()?;
    let lighting: TrackKey = "lighting".parse().ok()?;
    let ticks = u64::try_from(grid.bar_tick(service.song.end_bar()).get()).ok()?;
    let list = (0..cues).filter_map(|n| {
        let kind = if n % 2 == 0 { Kind::Lighting } else { Kind::Media };
        let which = spread.below(200);
        let does = if kind == Kind::Lighting {
            Action::Lighting {
                preset: format!("p{which}").parse().ok()?,
                fade: None,
                share: crate::show::FadeShare::Half,
            }
        } else {
            Action::Media { item: format!("m{which}").parse().ok()? }
        };
        let tick = Tick::new(i64::try_from(spread.below(ticks)).ok()?);
        let at = if n % 10 == 9 {
            Anchor::Clock(grid.time_at(tick))
        } else {
            Anchor::Grid { place: grid.place_of(tick), nudge: SongSpan::ZERO }
        };
        let track = if kind == Kind::Lighting { &lighting } else { &media };
        let mut cue = Cue::new(Label { kind, number: n / 2 + 1 }, track.clone(), at, does);
        cue.text = format!("Stress cue {n}");
        Some(cue)
    });
    service.cues = list.collect::<CueList>();
    Some(show)
}

/// A tempo mark every two bars; every second one ramps to the next.
fn plan(marks: u32, spread: &mut Spread) -> Option<GridPlan> {
    let first = Tempo::quarters_per_minute(120.0).ok()?;
    let mut plan = GridPlan::steady(Metre::common(), first);
    plan.origin = SongTime::ZERO;
    for n in 1..marks {
        let tempo = Tempo::quarters_per_minute(80.0 + spread.below(80_000) as f64 / 1000.0).ok()?;
        if let Some(last) = plan.tempos.last_mut().filter(|_| n % 2 == 0) {
            last.ramp = Some(Ramp { to: tempo, law: RampLaw::BpmLinearInBeats });
        }
        let bar = i32::try_from(2 * n + 1).ok()?;
        plan.tempos.push(TempoMark { at: BarBeat::downbeat(bar), tempo, ramp: None });
    }
    Some(plan)
}
