//! Brightness and contrast of a projected picture.

use crate::show::Projection;
use std::f64::consts::PI;

/// Lux in one foot-candle.
pub const FOOT_CANDLE: f64 = 10.763_910_417;
/// Candela per square metre in one foot-lambert.
pub const FOOT_LAMBERT: f64 = 3.426_259_100;

/// The computed brightness of a picture.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct LightFigures {
    /// Light on the surface, lux.
    pub lux: f64,
    /// Luminance of white, cd/m².
    pub cd_m2: f64,
    /// Contrast of white to black within one picture, ambient light included.
    pub contrast: f64,
    /// The most ambient light that the chosen viewing category allows, lux; 0 if the projector alone does not reach it.
    pub most_ambient_lux: f64,
    /// Light that passes through, in lux just behind the surface.
    pub behind_lux: f64,
}

/// Light on a picture that is not the picture's own.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct OtherLight {
    /// On the side that the audience sees, lux, besides the projection's own figure for ambient light.
    pub front_lux: f64,
    /// On the back of the surface, lux.
    pub back_lux: f64,
}

/// The area that the projector's light spreads over on the surface, m². A raster that was measured there counts as it is; one worked
/// out for a straight throw grows by 1/cos θ on a slanted surface.
fn area_m2(p: &Projection) -> f64 {
    let area = p.width_m * p.height_m;
    if p.straight_size { area / libm::cos(p.oblique_deg * PI / 180.0) } else { area }
}

/// Works out a projection without any light but its own ambient figure: E = Φ/A, L = E G/π, contrast (E + a)/(E/C + a)
/// (check-values 9).
pub fn light_figures(p: &Projection) -> LightFigures {
    light_figures_with(p, OtherLight::default())
}

/// Works out a projection with other light on it. Light on the audience's side counts as ambient light. Light on the back shines
/// through with the luminance E τ/π (check-values 9) and counts as so much ambient light as would look as bright, E τ/G. Of a picture
/// from behind the same: what the audience's side gets is thrown back by at most 1 − τ of it, and what the back gets counts in full.
pub fn light_figures_with(p: &Projection, other: OtherLight) -> LightFigures {
    let lux = p.lumens / area_m2(p);
    let black = lux / p.native_contrast;
    let target = p.viewing.contrast();
    let front = p.ambient_lux + other.front_lux;
    // How much of the light on the audience's side counts, against the picture's own.
    let thrown_back = if p.from_behind { ((1.0 - p.transmission) / p.gain).max(1e-3) } else { 1.0 };
    let stray = if p.from_behind {
        front * thrown_back + other.back_lux
    } else {
        front + other.back_lux * p.transmission / p.gain
    };
    LightFigures {
        lux,
        cd_m2: lux * p.gain / PI,
        contrast: (lux + stray) / (black + stray),
        most_ambient_lux: ((lux - target * black) / (target - 1.0)).max(0.0) / thrown_back,
        behind_lux: lux * p.transmission,
    }
}

/// Lumens needed for a white of `cd_m2` over the whole picture: Φ = π L A/G.
pub fn lumens_for(p: &Projection, cd_m2: f64) -> f64 {
    PI * cd_m2 * area_m2(p) / p.gain
}

/// Why a gain and a transmission cannot both be true of a matt surface: what it throws back and what goes through are together no more
/// than what falls on it, ρ + τ ≤ 1 (check-values 9). `None` if they can.
pub fn impossible_gain(p: &Projection) -> Option<String> {
    let most = if p.from_behind { p.transmission } else { 1.0 - p.transmission };
    // A gain over 1 is a surface that throws light in one direction: it is not matt, and says nothing of what goes through.
    (p.transmission > 0.0 && p.gain > most + 1e-9 && p.gain <= 1.0).then(|| {
        let side = if p.from_behind { "seen from the other side" } else { "seen from the projector's side" };
        format!("{:.2} of the light goes through, so a matt surface has a gain of at most {most:.2} {side}, and {:.2} is given", p.transmission, p.gain)
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::show::Viewing;

    fn figures(text: &str) -> LightFigures {
        light_figures(&serde_json::from_str::<Projection>(text).expect("a projection"))
    }

    fn near(a: f64, b: f64) {
        assert!((a - b).abs() < 1e-4 * b.abs().max(1.0), "{a} is not {b}");
    }

    /// check-values 9: illuminance and luminance rows; cinema reference SMPTE ST 431-1: 48 cd/m² is 14 fL.
    #[test]
    fn published_rows() {
        for (lumens, w, h, gain, lux, cd, fl) in [
            (5000.0, 4.0, 2.25, 1.0, 555.5556, 176.8388, 51.6128),
            (5000.0, 4.0, 2.25, 0.8, 555.5556, 141.4711, 41.2902),
            (8000.0, 6.096, 3.429, 1.0, 382.7168, 121.8225, 35.5556),
            (3000.0, 3.0, 1.6875, 1.3, 592.5926, 245.2165, 71.5697),
        ] {
            let f = figures(&format!(r#"{{"lumens":{lumens},"width_m":{w},"height_m":{h},"gain":{gain}}}"#));
            near(f.lux, lux);
            near(f.cd_m2, cd);
            near(f.cd_m2 / FOOT_LAMBERT, fl);
        }
        near(48.0 / FOOT_LAMBERT, 14.009_448);
    }

    /// check-values 9: lumens for the cinema reference of 48 cd/m² on 9 m².
    #[test]
    fn lumens_for_the_cinema_reference() {
        for (gain, lumens) in [(1.0, 1357.1680), (0.8, 1696.4600), (0.5, 2714.3361)] {
            let text = format!(r#"{{"lumens":1,"width_m":4,"height_m":2.25,"gain":{gain}}}"#);
            let p: Projection = serde_json::from_str(&text).expect("a projection");
            near(lumens_for(&p, 48.0), lumens);
            let bright = Projection { lumens: lumens_for(&p, 48.0), oblique_deg: 0.0, ..p };
            near(light_figures(&bright).cd_m2, 48.0);
        }
        // Oblique by 20 degrees, with the size of a straight throw: the cosine, 0.939693. A size measured on the surface holds it already.
        let text = r#"{"lumens":1,"width_m":4,"height_m":2.25,"oblique_deg":20,"straight_size":true}"#;
        let slanted: Projection = serde_json::from_str(text).expect("a projection");
        near(lumens_for(&slanted, 48.0), 1357.1680 / 0.939_693);
        near(lumens_for(&Projection { straight_size: false, ..slanted.clone() }, 48.0), 1357.1680);
        near(light_figures(&Projection { lumens: 9.0, ..slanted }).lux, 0.939_693);
    }

    /// check-values 9: fabrics of ρ 0.35, τ 0.45 and so on under 555.5556 lx: what the front and the back show, in cd/m².
    #[test]
    fn light_through_a_fabric() {
        for (rho, tau, front, back) in
            [(0.35, 0.45, 61.8936, 79.5775), (0.20, 0.60, 35.3678, 106.1033), (0.50, 0.30, 88.4194, 53.0516)]
        {
            let text = format!(
                r#"{{"lumens":5000,"width_m":4,"height_m":2.25,"gain":{rho},"transmission":{tau},"native_contrast":1e9}}"#
            );
            let p: Projection = serde_json::from_str(&text).expect("a projection");
            near(light_figures(&p).cd_m2, front);
            // The same light from behind alone: a white picture and a black one differ by the picture, so contrast is 1 + front/back.
            let other = OtherLight { back_lux: 555.5556, ..OtherLight::default() };
            near(light_figures_with(&p, other).contrast, 1.0 + front / back);
            let behind = Projection { from_behind: true, gain: tau, ..p.clone() };
            near(light_figures(&behind).cd_m2, back);
            // What falls on the audience's side of it is thrown back by no more than 1 - τ of it.
            let other = OtherLight { front_lux: 555.5556, ..OtherLight::default() };
            near(light_figures_with(&behind, other).contrast, 1.0 + tau / (1.0 - tau));
            let other = OtherLight { back_lux: 555.5556, ..OtherLight::default() };
            near(light_figures_with(&behind, other).contrast, 2.0);
            let other = OtherLight { front_lux: 555.5556, ..OtherLight::default() };
            near(light_figures_with(&p, other).contrast, 2.0);
            assert_eq!((impossible_gain(&p), impossible_gain(&behind)), (None, None));
        }
    }

    /// ρ + τ + α = 1 for a matt surface (check-values 9): a gain of 1 leaves nothing to go through.
    #[test]
    fn a_gain_that_leaves_no_light_to_go_through() {
        let p = |gain: f64, tau: f64, behind: bool| -> Projection {
            let text = format!(
                r#"{{"lumens":1,"width_m":1,"height_m":1,"gain":{gain},"transmission":{tau},"from_behind":{behind}}}"#
            );
            serde_json::from_str(&text).expect("a projection")
        };
        for (gain, tau, behind, impossible) in [
            (1.0, 0.5, false, true),
            (0.5, 0.5, false, false),
            (0.51, 0.5, false, true),
            (1.0, 0.0, false, false),
            (1.3, 0.5, false, false),
            (0.5, 0.4, true, true),
            (0.4, 0.4, true, false),
        ] {
            assert_eq!(impossible_gain(&p(gain, tau, behind)).is_some(), impossible, "{gain} {tau} {behind}");
        }
    }

    /// check-values 9: contrast with ambient light; viewing categories of 3M-2011 (7:1 and 80:1 from memory there).
    #[test]
    fn contrast_rows() {
        for (ambient, contrast) in
            [(0.0, 1000.0), (1.0, 357.7857), (5.0, 100.9), (10.0, 53.5789), (50.0, 11.9780), (100.0, 6.5193)]
        {
            near(
                figures(&format!(r#"{{"lumens":5000,"width_m":4,"height_m":2.25,"ambient_lux":{ambient}}}"#)).contrast,
                contrast,
            );
        }
        for (viewing, most) in [
            ("passive", 91.9444),
            ("basic-decisions", 39.0873),
            ("analytical-decisions", 10.7710),
            ("full-motion", 6.4698),
        ] {
            let f = figures(&format!(r#"{{"lumens":5000,"width_m":4,"height_m":2.25,"viewing":"{viewing}"}}"#));
            near(f.most_ambient_lux, most);
        }
        assert_eq!(Viewing::default().contrast(), 7.0);
    }

    /// Common practice, no source: a drop of 12.192 × 6.096 m under 15 000 lumens is 18.75 fc, 64.2 cd/m² at gain 1.
    #[test]
    fn a_large_drop() {
        let f = figures(r#"{"lumens":15000,"width_m":12.192,"height_m":6.096}"#);
        near(f.lux / FOOT_CANDLE, 18.75);
        near(f.cd_m2 / FOOT_LAMBERT, 18.75);
        assert!((f.cd_m2 - 64.2).abs() < 0.05);
    }
}
