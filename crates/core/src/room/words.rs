//! Lengths and masses in the units that the crew reads.

use crate::show::Units;

/// Metres in a foot, exact (international foot, 1959).
const FOOT_M: f64 = 0.3048;
/// Kilograms in a pound, exact (international pound, 1959).
const POUND_KG: f64 = 0.453_592_37;

/// A unit: what divides a metric figure, and its sign.
#[derive(Debug, Clone, Copy, PartialEq)]
struct Measure {
    /// Metres or kilograms in one.
    size: f64,
    /// Its sign.
    sign: &'static str,
}

impl Measure {
    /// Of lengths.
    const fn of_length(units: Units) -> Measure {
        match units {
            Units::Metric => Measure { size: 1.0, sign: "m" },
            Units::Imperial => Measure { size: FOOT_M, sign: "ft" },
        }
    }

    /// Of masses.
    const fn of_mass(units: Units) -> Measure {
        match units {
            Units::Metric => Measure { size: 1.0, sign: "kg" },
            Units::Imperial => Measure { size: POUND_KG, sign: "lb" },
        }
    }
}

/// A length, such as "4.25 m".
pub fn length(metres: f64, units: Units) -> String {
    let measure = Measure::of_length(units);
    format!("{:.2}\u{a0}{}", tidy(metres / measure.size), measure.sign)
}

/// A place across, as the audience sees it, such as "4.50 m left".
pub fn across(metres: f64, units: Units) -> String {
    match metres {
        m if m.abs() < 0.005 => "middle".to_owned(),
        m if m < 0.0 => format!("{} left", length(-m, units)),
        m => format!("{} right", length(m, units)),
    }
}

/// A mass, such as "12.5 kg".
pub fn mass(kilograms: f64, units: Units) -> String {
    let measure = Measure::of_mass(units);
    format!("{:.1}\u{a0}{}", tidy(kilograms / measure.size), measure.sign)
}

/// A mass on a length, given for a metre, such as "4.3 kg per metre" or "2.9 lb per foot".
pub fn mass_along(kilograms_a_metre: f64, units: Units) -> String {
    let along = mass(kilograms_a_metre * Measure::of_length(units).size, units);
    match units {
        Units::Metric => format!("{along} per metre"),
        Units::Imperial => format!("{along} per foot"),
    }
}

/// A share in percent, rounded down: what is said to be seen is seen.
pub fn percent(share: f64) -> String {
    format!("{:.0}\u{a0}%", libm::floor(share * 100.0 + 1e-9))
}

/// No "-0.00".
fn tidy(value: f64) -> f64 {
    if value.abs() < 0.005 { 0.0 } else { value }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// The international yard and pound of 1959: a foot is 0.3048 m, a pound 0.45359237 kg, both exact.
    #[test]
    fn feet_and_pounds() {
        assert_eq!(
            (percent(0.999), percent(1.0), percent(0.29)),
            ("99\u{a0}%".into(), "100\u{a0}%".into(), "29\u{a0}%".into())
        );
        assert_eq!(length(3.048, Units::Imperial), "10.00\u{a0}ft");
        assert_eq!(length(-0.001, Units::Metric), "0.00\u{a0}m");
        assert_eq!(mass(45.359_237, Units::Imperial), "100.0\u{a0}lb");
        assert_eq!(
            (across(-4.5, Units::Metric).as_str(), across(0.001, Units::Metric).as_str()),
            ("4.50\u{a0}m left", "middle")
        );
        assert_eq!(across(0.3048, Units::Imperial), "1.00\u{a0}ft right");
        assert_eq!(mass(12.34, Units::Metric), "12.3\u{a0}kg");
        assert_eq!(mass_along(4.3, Units::Metric), "4.3\u{a0}kg per metre");
        // 1 lb/ft is 0.45359237/0.3048 kg/m.
        assert_eq!(mass_along(1.488_163_9, Units::Imperial), "1.0\u{a0}lb per foot");
    }
}
