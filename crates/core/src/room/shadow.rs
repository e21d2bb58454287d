//! Silhouettes: the shadow that a lamp throws of somebody behind a fabric, by similar triangles (check-values 16).

use crate::show::room::Spot;

/// The shadow of somebody on a fabric.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Shadow {
    /// How many times as large as the person.
    pub times: f64,
    /// Width of its blurred edge, metres.
    pub edge_m: f64,
    /// Its middle, metres across.
    pub across: f64,
    /// Width of it, the blurred edges half inside, metres.
    pub width_m: f64,
    /// The top of the head, metres above the floor of the hall.
    pub top: f64,
    /// The feet, metres above the floor of the hall. They are on the fabric only if this is above its hem.
    pub feet: f64,
}

/// How many times larger a shadow is than what throws it: L/(L − p), with the lamp `lamp_m` and the person `person_m` behind the fabric.
/// `None` unless the person stands between fabric and lamp.
pub fn magnification(lamp_m: f64, person_m: f64) -> Option<f64> {
    (person_m >= 0.0 && lamp_m > person_m).then(|| lamp_m / (lamp_m - person_m))
}

/// Width of the blurred edge: w p/(L − p), for a source `source_m` wide.
pub fn blurred_edge(lamp_m: f64, person_m: f64, source_m: f64) -> Option<f64> {
    magnification(lamp_m, person_m).map(|_| source_m * person_m / (lamp_m - person_m))
}

/// How far behind the fabric to stand so that the shadow is `times` as large: p = L (1 − 1/m). `None` for a shadow smaller than life,
/// which no lamp throws.
pub fn stand_for(lamp_m: f64, times: f64) -> Option<f64> {
    (times >= 1.0 && lamp_m > 0.0).then(|| lamp_m * (1.0 - 1.0 / times))
}

/// The shadow on a fabric at the depth `fabric` of somebody at `feet`, `tall` metres to the top of the head and `wide` metres wide, by a
/// lamp whose light is `source_m` wide. `None` unless they stand between fabric and lamp.
pub fn shadow(fabric: f64, lamp: Spot, source_m: f64, feet: Spot, tall: f64, wide: f64) -> Option<Shadow> {
    let (lamp_m, person_m) = (lamp.deep - fabric, feet.deep - fabric);
    let times = magnification(lamp_m, person_m)?;
    let onto = |from: f64, at: f64| from + (at - from) * times;
    Some(Shadow {
        times,
        edge_m: blurred_edge(lamp_m, person_m, source_m)?,
        across: onto(lamp.across, feet.across),
        width_m: wide * times,
        top: onto(lamp.high, feet.high + tall),
        feet: onto(lamp.high, feet.high),
    })
}

/// How far apart two lamps throw the shadows of one person, metres across and up: the lamps' distance times p/(L − p), for two at one
/// depth. For lamps at different depths the two shadows differ in size too.
pub fn doubled(fabric: f64, first: Spot, second: Spot, feet: Spot) -> Option<(f64, f64)> {
    let of = |lamp: Spot| shadow(fabric, lamp, 0.0, feet, 0.0, 0.0);
    let (a, b) = (of(first)?, of(second)?);
    Some(((a.across - b.across).abs(), (a.feet - b.feet).abs()))
}

#[cfg(test)]
mod tests {
    use super::*;

    /// check-values 16, similar triangles: lamp at L, person at p, source w.
    #[test]
    fn published_shadows() {
        for (lamp, person, source, times, edge) in
            [(6.0, 1.5, 0.2, 1.333, 0.067), (8.0, 1.0, 0.1, 1.143, 0.014), (5.0, 3.0, 0.3, 2.5, 0.45)]
        {
            assert!((magnification(lamp, person).expect("between") - times).abs() < 5e-4);
            assert!((blurred_edge(lamp, person, source).expect("between") - edge).abs() < 5e-4);
            let exact = magnification(lamp, person).expect("between");
            assert!((stand_for(lamp, exact).expect("larger") - person).abs() < 1e-12);
        }
    }

    #[test]
    fn nobody_stands_in_or_behind_the_lamp_or_before_the_fabric() {
        for person in [6.0, 7.0, -0.1] {
            assert_eq!((magnification(6.0, person), blurred_edge(6.0, person, 0.2)), (None, None));
        }
        // At the fabric: life-size and sharp. No lamp makes a shadow smaller than life.
        assert_eq!((magnification(6.0, 0.0), blurred_edge(6.0, 0.0, 0.2)), (Some(1.0), Some(0.0)));
        assert_eq!((stand_for(6.0, 0.99), stand_for(6.0, 1.0), stand_for(0.0, 2.0)), (None, Some(0.0), None));
    }

    /// By hand: fabric at 2, lamp at 8 and 1 m high, person at 5 (half way), 2 m tall: twice as large; feet at 0 are thrown to -1, the
    /// head at 2 to 3; half a metre right of the lamp becomes a metre.
    #[test]
    fn a_shadow_in_the_room() {
        let lamp = Spot { across: 1.0, deep: 8.0, high: 1.0 };
        let feet = Spot { across: 1.5, deep: 5.0, high: 0.0 };
        let s = shadow(2.0, lamp, 0.1, feet, 2.0, 0.6).expect("between");
        assert_eq!((s.times, s.feet, s.top, s.across, s.width_m), (2.0, -1.0, 3.0, 2.0, 1.2));
        assert!((s.edge_m - 0.1).abs() < 1e-12);
        // A second lamp 2 m beside and 1 m above: 2 · 3/3 and 1 · 3/3 apart.
        let second = Spot { across: 3.0, deep: 8.0, high: 2.0 };
        assert_eq!(doubled(2.0, lamp, second, feet), Some((2.0, 1.0)));
    }
}
