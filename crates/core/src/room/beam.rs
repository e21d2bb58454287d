//! A projector's beam: whether its lens reaches the picture from where it stands, at which angles, and what stands in it.

use super::solid::{Cuboid, Pane};
use crate::show::room::Projector;

/// The geometry of a projector that shines on a pane.
#[derive(Debug, Clone, PartialEq)]
pub struct Beam {
    /// Distance from the lens to the plane of the picture, metres.
    pub distance_m: f64,
    /// Whether it shines from behind, as the audience sees it.
    pub from_behind: bool,
    /// The throw ratio that the picture needs: distance divided by width.
    pub ratio: f64,
    /// Width of the picture at the lens's two ends of zoom, the smaller first, metres.
    pub widths_m: (f64, f64),
    /// How far the picture's middle is above the lens, in percent of the picture's height; negative for below.
    pub offset_percent: f64,
    /// How much of it the lens cannot shift, as the angle by which the projector must be tilted, degrees; positive for upwards.
    pub tilt_deg: f64,
    /// The angle by which it must be turned sideways, degrees; positive to the right as the audience sees it.
    pub turn_deg: f64,
    /// The angle between the straight line to the picture's middle and the picture's normal, degrees.
    pub oblique_deg: f64,
    /// The size of a pixel on the picture, millimetres; `None` if the pixels are not known.
    pub pixel_mm: Option<f64>,
    /// The share of the picture that is cut by what stands in the beam, 0 to 1.
    pub cut: f64,
}

impl Beam {
    /// How the projector is aimed, such as "tilted 4° down, turned 3° left".
    pub fn aim_words(&self) -> String {
        let way = |degrees: f64, more: &'static str, less: &'static str| match degrees {
            d if d.abs() < 0.5 => String::new(),
            d if d > 0.0 => format!("{d:.0}° {more}"),
            d => format!("{:.0}° {less}", -d),
        };
        let (tilt, turn) = (way(self.tilt_deg, "up", "down"), way(self.turn_deg, "right", "left"));
        match (tilt.as_str(), turn.as_str()) {
            ("", "") => "aimed straight".to_owned(),
            (tilt, "") => format!("tilted {tilt}"),
            ("", turn) => format!("turned {turn}"),
            (tilt, turn) => format!("tilted {tilt}, turned {turn}"),
        }
    }

    /// What the lens does with the picture's size.
    pub fn lens(&self, projector: &Projector) -> Lens {
        if self.ratio < projector.throw_least - ROUNDING {
            Lens::TooNear
        } else if self.ratio > projector.throw_most + ROUNDING {
            Lens::TooFar
        } else {
            Lens::Within
        }
    }
}

/// Throw ratios are given to a hundredth.
const ROUNDING: f64 = 0.005;

/// What a lens does with a picture of a size.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Lens {
    /// It can make it.
    Within,
    /// The projector is too near: its picture is smaller.
    TooNear,
    /// It is too far: its picture is larger.
    TooFar,
}

impl Lens {
    /// In words.
    pub const fn words(self) -> &'static str {
        match self {
            Lens::Within => "the lens reaches it",
            Lens::TooNear => "too near for the lens",
            Lens::TooFar => "too far for the lens",
        }
    }
}

/// The beam of a projector onto a pane, with what stands in it. `None` if the lens is in the pane's plane, or the pane has no area.
///
/// Throw: distance = throw ratio × width of the picture (check-values 16).
pub fn beam(projector: &Projector, pane: &Pane, boxes: &[Cuboid]) -> Option<Beam> {
    let cut = pane.hidden(projector.at, boxes)?;
    let middle = pane.middle();
    let (width, height) = (pane.right - pane.left, pane.high - pane.low);
    let distance = (projector.at.deep - pane.deep).abs();
    let (up, right) = (middle.high - projector.at.high, middle.across - projector.at.across);
    let shift = height * projector.shift_percent / 100.0;
    let unshifted = (up.abs() - shift).max(0.0).copysign(up);
    let degrees = |rise: f64| libm::atan2(rise, distance).to_degrees();
    Some(Beam {
        distance_m: distance,
        from_behind: projector.at.deep > pane.deep,
        ratio: distance / width,
        widths_m: (distance / projector.throw_most, distance / projector.throw_least),
        offset_percent: up / height * 100.0,
        tilt_deg: degrees(unshifted),
        turn_deg: degrees(right),
        oblique_deg: degrees(libm::sqrt(up * up + right * right)),
        pixel_mm: (projector.pixels > 0).then(|| width * 1000.0 / f64::from(projector.pixels)),
        cut,
    })
}

/// The light on somebody behind a fabric that passes through it: E τ (d₁/d₂)², with E on the fabric at the distance d₁ and the person
/// at d₂ (check-values 9).
pub fn passes_on(lux: f64, transmission: f64, to_fabric_m: f64, to_person_m: f64) -> f64 {
    if to_person_m <= 0.0 {
        return 0.0;
    }
    let share = to_fabric_m / to_person_m;
    lux * transmission * share * share
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::show::room::Spot;

    fn projector(across: f64, deep: f64, high: f64, shift: f64) -> Projector {
        let text = format!(
            r#"{{"name":"p","output":"o","at":{{"across_m":{across},"deep_m":{deep},"high_m":{high}}},
            "throw_least":1.5,"throw_most":2.0,"shift_percent":{shift},"pixels":1920}}"#
        );
        serde_json::from_str(&text).expect("a projector")
    }

    const PANE: Pane = Pane { left: -2.0, right: 2.0, low: 1.0, high: 3.25, deep: 0.0 };

    /// check-values 16: distance = throw ratio × width. 4 m wide at 1.5 to 2.0 needs 6 to 8 m.
    #[test]
    fn throw_and_lens() {
        for (deep, lens) in [
            (-5.9, Lens::TooNear),
            (-6.0, Lens::Within),
            (-8.0, Lens::Within),
            (-8.1, Lens::TooFar),
            (8.0, Lens::Within),
        ] {
            let p = projector(0.0, deep, 2.125, 0.0);
            let b = beam(&p, &PANE, &[]).expect("a beam");
            assert_eq!(b.lens(&p), lens, "{deep}");
            assert_eq!(b.from_behind, deep > 0.0);
        }
        let b = beam(&projector(0.0, -6.0, 2.125, 0.0), &PANE, &[]).expect("a beam");
        assert!((b.widths_m.0 - 3.0).abs() < 1e-12 && (b.widths_m.1 - 4.0).abs() < 1e-12);
        assert!((b.pixel_mm.expect("pixels") - 4000.0 / 1920.0).abs() < 1e-12);
        assert_eq!((b.tilt_deg, b.turn_deg, b.oblique_deg, b.offset_percent), (0.0, 0.0, 0.0, 0.0));
        assert_eq!(beam(&projector(0.0, 0.0, 2.0, 0.0), &PANE, &[]), None);
    }

    /// Angles by hand: atan(3/6) is 26.565°. A lens that shifts by half the picture's height takes 1.125 m of it.
    #[test]
    fn angles_and_shift() {
        let b = beam(&projector(0.0, -6.0, 5.125, 0.0), &PANE, &[]).expect("a beam");
        assert!((b.tilt_deg + 26.565_05).abs() < 1e-4 && (b.oblique_deg - 26.565_05).abs() < 1e-4);
        assert!((b.offset_percent + 133.333).abs() < 1e-2);
        let shifted = beam(&projector(0.0, -6.0, 5.125, 50.0), &PANE, &[]).expect("a beam");
        assert!((shifted.tilt_deg + libm::atan2(1.875, 6.0).to_degrees()).abs() < 1e-9);
        let more = beam(&projector(-3.0, -6.0, 2.125, 200.0), &PANE, &[]).expect("a beam");
        assert!((more.turn_deg - 26.565_05).abs() < 1e-4 && more.tilt_deg == 0.0);
    }

    #[test]
    fn how_it_is_aimed_in_words() {
        for (across, high, words) in [
            (0.0, 2.125, "aimed straight"),
            (0.0, 5.125, "tilted 27° down"),
            (3.0, 2.125, "turned 27° left"),
            (-3.0, -0.875, "tilted 27° up, turned 27° right"),
        ] {
            assert_eq!(beam(&projector(across, -6.0, high, 0.0), &PANE, &[]).expect("a beam").aim_words(), words);
        }
    }

    #[test]
    fn a_box_in_the_beam() {
        let p = projector(0.0, -8.0, 2.125, 0.0);
        let thing = Cuboid::on(Spot { across: 0.5, deep: -4.0, high: 0.0 }, 1.0, 1e-6, 9.0);
        assert!((beam(&p, &PANE, &[thing]).expect("a beam").cut - 0.5).abs() < 1e-6);
    }

    /// check-values 9: E 555.5556 lx, 5 m to the fabric and 6 m to whoever stands behind it.
    #[test]
    fn light_that_passes_on() {
        for (through, lux) in [(0.45, 173.6111), (0.60, 231.4815), (0.30, 115.7407)] {
            assert!((passes_on(555.5556, through, 5.0, 6.0) - lux).abs() < 1e-3);
        }
        assert_eq!(passes_on(100.0, 0.5, 5.0, 0.0), 0.0);
    }
}
