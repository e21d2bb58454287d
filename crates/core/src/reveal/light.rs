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

/// Works out a projection: E = Φ cos θ/A, L = E G/π, contrast (E + a)/(E/C + a) (check-values 9).
pub fn light_figures(p: &Projection) -> LightFigures {
    let lux = p.lumens / (p.width_m * p.height_m) * libm::cos(p.oblique_deg * PI / 180.0);
    let black = lux / p.native_contrast;
    let target = p.viewing.contrast();
    LightFigures {
        lux,
        cd_m2: lux * p.gain / PI,
        contrast: (lux + p.ambient_lux) / (black + p.ambient_lux),
        most_ambient_lux: ((lux - target * black) / (target - 1.0)).max(0.0),
        behind_lux: lux * p.transmission,
    }
}

/// Lumens needed for a white of `cd_m2` over the whole picture: Φ = π L A / (G cos θ).
pub fn lumens_for(p: &Projection, cd_m2: f64) -> f64 {
    PI * cd_m2 * p.width_m * p.height_m / (p.gain * libm::cos(p.oblique_deg * PI / 180.0))
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
        // Oblique by 20 degrees: the cosine, 0.939693.
        let text = r#"{"lumens":1,"width_m":4,"height_m":2.25,"oblique_deg":20}"#;
        near(lumens_for(&serde_json::from_str(text).expect("a projection"), 48.0), 1357.1680 / 0.939_693);
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
