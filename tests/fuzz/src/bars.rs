//! Any bytes as sound to find bars in, as taps, and as beats to fit marks to: it ends, in bounds, and what it gives builds.
#![no_main]

use letfall_sound::bars::{Choice, GivenBar, Hearing, Listener, Placed, Taps, TempoRange, plan};

libfuzzer_sys::fuzz_target!(|bytes: &[u8]| {
    let [kind, a, b, c, rest @ ..] = bytes else { return };
    let secs = |n: u8| f64::from(n) * 0.1 - 1.0;
    match kind % 3 {
        0 => {
            let rate = [1, 4000, 8000, 22_050, 44_100, 192_000, u32::MAX][usize::from(a % 7)];
            let mut listener = Listener::new(rate);
            let hold = 1 + usize::from(b % 64);
            let mut block = Vec::new();
            for byte in rest.iter().take(6000) {
                let sample = match byte {
                    255 => f32::NAN,
                    254 => f32::INFINITY,
                    byte => (f32::from(*byte) - 127.0) / 100.0,
                };
                block.extend(std::iter::repeat_n(sample, hold));
            }
            block.chunks(1 + usize::from(*c) * 7).for_each(|part| listener.hear(part));
            let Some(hearing) = Hearing::from_bands(&listener.end(), |_| true) else { return };
            let given_bar = (a & 64 != 0).then(|| GivenBar { from: secs(*b), to: secs(*b) + secs(*c), beats: (b & 1 != 0).then_some(*c) });
            let tempo = (a & 32 != 0).then(|| TempoRange { from: f64::from(*b), to: f64::from(*c) });
            let choice = Choice { given_bar, first_downbeat: (a & 16 != 0).then(|| secs(*c)), beats_per_bar: (a & 128 != 0).then_some(*b), tempo };
            let Ok(found) = hearing.find(&choice, &mut || true) else { return };
            assert!(found.plan.build().is_ok());
            for tried in [found.halved(&hearing), found.doubled(&hearing), found.shifted(i32::from(*c) - 100), found.in_bars_of(*b, &hearing)] {
                if let Ok(tried) = tried {
                    assert!(tried.plan.build().is_ok());
                }
            }
        }
        1 => {
            let mut taps = Taps::default();
            let mut at = 0.0;
            for byte in rest.iter().take(2000) {
                at += f64::from(*byte) * 0.02 - if *byte == 7 { 3.0 } else { 0.0 };
                taps.tap(at);
            }
            for bar in [taps.bar(None), taps.bar(Some(*c))].into_iter().flatten() {
                assert!(bar.from >= 0.0 && bar.from < bar.to);
            }
            if let Ok((plan, _)) = taps.plan(*a, b & 1 != 0, None) {
                assert!(plan.build().is_ok());
            }
        }
        _ => {
            let mut at = secs(*a);
            let beats: Vec<Placed> = rest
                .chunks_exact(2)
                .take(1000)
                .map(|pair| {
                    at += f64::from(pair[0]) * 0.01;
                    Placed { at, number: pair[1] % 9, of: pair[1] / 9 }
                })
                .collect();
            if let Ok((plan, _)) = plan(&beats, c & 1 != 0, 0.001 + f64::from(*b) * 0.001) {
                assert!(plan.build().is_ok());
            }
        }
    }
});
