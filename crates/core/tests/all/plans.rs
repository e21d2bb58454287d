//! Plans that the tests share: random ones for properties, and one small show for cases.

use letfall_core::check::Problem;
use letfall_core::prepared::{OutsideFacts, Prepared, PreparedShow};
use letfall_core::show::Show;
use letfall_core::time::{
    BarBeat, GridPlan, Metre, MetreMark, Pin, Ramp, RampLaw, SongTime, Tempo, TempoMark, TickSpan,
};
use proptest::prelude::*;
use std::sync::Arc;

/// The first service of a show, prepared.
pub fn prepared(show: &Show) -> Arc<Prepared> {
    Prepared::hypothetical(Arc::new(show.clone()), 0).unwrap()
}

/// All problems of a show, without looking for its recordings.
pub fn problems(show: &Show) -> Vec<Problem> {
    PreparedShow::new(Arc::new(show.clone()), OutsideFacts::none()).problems()
}

pub fn metre() -> impl Strategy<Value = Metre> {
    prop::sample::select(vec!["4/4", "3/4", "6/8", "7/8 2+2+3", "5/4 3+2", "12/8", "2/2", "9/16"])
        .prop_map(|text| text.parse().unwrap())
}

pub fn tempo() -> impl Strategy<Value = Tempo> {
    prop_oneof![
        (30_000u32..300_000).prop_map(|milli| Tempo::quarters_per_minute(f64::from(milli) / 1000.0).unwrap()),
        (200_000u32..2_000_000).prop_map(|us| Tempo::quarter_lasts(f64::from(us)).unwrap()),
    ]
}

/// Any grid: metre changes, cut bars, tempo marks, ramps, a lead-in, pins.
pub fn plan() -> impl Strategy<Value = GridPlan> {
    let metres = prop::collection::vec((1i32..20, metre(), prop::bool::weighted(0.2)), 0..6);
    let tempos = prop::collection::vec((1i32..20, 1u16..3, 0u32..900, tempo(), prop::option::of(tempo())), 0..8);
    let pins = prop::collection::vec((1i32..20, 80u32..125), 0..4);
    (metre(), tempo(), metres, tempos, pins, -3_000_000i64..3_000_000).prop_map(
        |(first, start, metres, tempos, pins, origin)| {
            let mut plan = GridPlan::steady(first, start);
            plan.origin = SongTime::saturating(origin);
            let mut bar = 1;
            for (gap, metre, cut) in metres {
                bar += gap + 1;
                let cut = cut.then(|| TickSpan::new(metre.bar_ticks() / 3));
                plan.metres.push(MetreMark { bar, metre, cut });
            }
            let mut at = 1;
            for (gap, beat, tick, tempo, ramp) in tempos {
                at += gap;
                if let (Some(last), Some(to)) = (plan.tempos.last_mut(), ramp) {
                    last.ramp = Some(Ramp { to, law: RampLaw::BpmLinearInBeats });
                }
                plan.tempos.push(TempoMark { at: BarBeat { bar: at, beat, tick }, tempo, ramp: None });
            }
            // Bars differ in length, so a mark may fall on or before the previous one. Such marks are left out.
            let metre_only = GridPlan { tempos: vec![plan.tempos[0].clone()], ..plan.clone() };
            let grid =
                GridPlan { tempos: vec![TempoMark { ramp: None, ..metre_only.tempos[0].clone() }], ..metre_only }
                    .build()
                    .unwrap();
            let mut last = None;
            plan.tempos.retain(|mark| {
                let tick = grid.tick_of(mark.at);
                let later = last.is_none_or(|l| l < tick);
                last = last.max(Some(tick));
                later
            });
            if let Some(end) = plan.tempos.last_mut() {
                end.ramp = None;
            }
            // Pins a little off the marked time.
            let marked = plan.build().unwrap();
            let mut bar = 1;
            let mut time = marked.bar_time(1);
            for (gap, percent) in pins {
                let span = marked.bar_time(bar + gap) - marked.bar_time(bar);
                bar += gap;
                time = SongTime::saturating(time.micros() + span.micros() * i64::from(percent) / 100);
                plan.pins.push(Pin { bar, at: time });
            }
            plan
        },
    )
}

/// A small show with everything that the cases need; `services` is the JSON of its services.
pub fn show(services: &str) -> Show {
    let text = format!(
        r#"{{"letfall":1,"show":{{"title":"Case","settings":{{"count_in_bars":2}},
        "ports":[{{"key":"p","name":"Port"}}],
        "receivers":[{{"key":"lights","name":"Lights","port":"p","channel":1,"latency":{{"mean_us":40000,"spread_us":3000}},"gap_us":2000}},
          {{"key":"media","name":"Media","port":"p","channel":2,"latency":{{"mean_us":90000}}}},
          {{"key":"box","name":"Box","port":"p","channel":3,"latency":{{"mean_us":10000}}}}],
        "presets":[{{"key":"warm","name":"Warm","receiver":"lights","message":{{"program":{{"number":1}}}},"fade_us":2000000}},
          {{"key":"cold","name":"Cold","receiver":"lights","message":{{"program":{{"number":2}}}}}}],
        "media":[{{"key":"film","name":"Film","receiver":"media","layer":"a","message":{{"note":{{"key":60,"velocity":100}}}},"pre_roll_us":500000,"length_us":8000000}},
          {{"key":"more","name":"More","receiver":"media","layer":"a","message":{{"note":{{"key":61,"velocity":100}}}},"length_us":8000000}}],
        "outputs":[{{"key":"front","name":"Front","surface":{{"fabric":"front"}},"starts_with":"front-a"}},
          {{"key":"house","name":"House","surface":{{"screen":{{}}}},"starts_with":"house-blank"}}],
        "routes":[{{"key":"front-a","name":"a","output":"front","carries":{{"layer":"a"}},"receiver":"media","message":{{"program":{{"number":1}}}}}},
          {{"key":"front-blank","name":"blank","output":"front","carries":{{"blank":{{}}}},"receiver":"media","message":{{"program":{{"number":2}}}}}},
          {{"key":"house-still","name":"still","output":"house","carries":{{"still":{{}}}},"receiver":"media","message":{{"program":{{"number":3}}}}}},
          {{"key":"house-blank","name":"blank","output":"house","carries":{{"blank":{{}}}},"receiver":"media","message":{{"program":{{"number":4}}}}}}],
        "hangs":[{{"key":"front","name":"Front","width_m":8,"drop_m":4,"top_m":4,"areal_mass_kg_m2":0.15,"sightline_m":1.8,
          "measured":[{{"to":"sightline","seconds":0.80}},{{"to":"sightline","seconds":0.81}},{{"to":"sightline","seconds":0.80}},{{"to":"sightline","seconds":0.79}}]}}],
        "releases":[{{"key":"front","name":"Front release","hang":"front","units":7,"kind":"energise","receiver":"box","message":{{"note":{{"key":1,"velocity":127}}}},"contact":{{"mean_us":40000}},"hang_up":{{"caller":"deputy","words":"stuck left"}},"stays":{{"caller":"deputy","words":"fabric stays"}},"early":{{"caller":"deputy","words":"stop stop"}}}}],
        "tracks":[{{"key":"m","name":"Media","kind":"media"}},{{"key":"l","name":"Lighting","kind":"lighting"}},{{"key":"r","name":"Release","kind":"release","called":true}},{{"key":"o","name":"Outputs","kind":"output"}}],
        "safety":{{"competent":"rigger","drop_zone":"stage","clear_signal":"deputy, white lamp","caller":"stage manager","arm_holder":"release operator","spotter":"deputy","key_switch":"in the spotter's hand","abort_words":"stop stop stop","stay_words":"fabric stays"}},
        "services":{services}}}}}"#
    );
    letfall_core::file::read(text.as_bytes()).unwrap()
}

/// One service of 32 bars of 4/4 at 120 with these cues (JSON, without the brackets).
pub fn one(cues: &str) -> Show {
    show(&format!("[{}]", service("A", 32, cues)))
}

/// The JSON of a service.
pub fn service(name: &str, bars: u32, cues: &str) -> String {
    format!(
        r#"{{"name":"{name}","starts":"20:00","song":{{"title":"S","bars":{bars},"grid":{{"metres":[{{"bar":1,"metre":"4/4"}}],
        "tempos":[{{"at":"1|1","tempo":"120"}}]}}}},"cues":[{cues}]}}"#
    )
}
