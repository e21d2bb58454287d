//! What people type into a field for a quantity: a number with or without a unit, converted to the unit that the field shows, or a sentence
//! why not.

use std::ops::RangeInclusive;

/// What a unit measures.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Of {
    Time,
    Length,
    Mass,
    Areal,
    Share,
    Voltage,
    Current,
    Resistance,
    Power,
    Temperature,
    Light,
    Flux,
    Angle,
}

impl Of {
    /// "a time", and units with an example.
    const fn words(self) -> (&'static str, &'static str) {
        match self {
            Of::Time => ("a time", "ms, s or min, such as 400 ms, 2 s or 1:30"),
            Of::Length => ("a length", "mm, cm, m, in or ft, such as 5.2 m or 17 ft 1 in"),
            Of::Mass => ("a mass", "g, kg, oz or lb, such as 38 kg"),
            Of::Areal => ("a mass for an area", "g/m², kg/m², oz/sq yd or lb/sq ft, such as 110 g/m²"),
            Of::Share => ("a share", "%, such as 30 %"),
            Of::Voltage => ("a voltage", "mV or V, such as 24 V"),
            Of::Current => ("a current", "mA or A, such as 2 A"),
            Of::Resistance => ("a resistance", "Ω, such as 88 Ω"),
            Of::Power => ("a power", "W or kW, such as 6.5 W"),
            Of::Temperature => ("a temperature", "°C or °F, such as 20 °C"),
            Of::Light => ("an illuminance", "lx, such as 12 lx"),
            Of::Flux => ("a projector's light", "lm, such as 12000 lm"),
            Of::Angle => ("an angle", "°, such as 8°"),
        }
    }
}

/// Names of a unit, what it measures, its size in the first of its kind, and what 0 of it is there.
const UNITS: &[(&[&str], Of, f64, f64)] = &[
    (&["s", "sec", "secs", "second", "seconds"], Of::Time, 1.0, 0.0),
    (&["ms", "msec", "millisecond", "milliseconds"], Of::Time, 1e-3, 0.0),
    (&["µs", "us", "μs"], Of::Time, 1e-6, 0.0),
    (&["min", "mins", "minute", "minutes"], Of::Time, 60.0, 0.0),
    (&["h", "hour", "hours"], Of::Time, 3600.0, 0.0),
    (&["m", "metre", "metres", "meter", "meters"], Of::Length, 1.0, 0.0),
    (&["cm"], Of::Length, 0.01, 0.0),
    (&["mm"], Of::Length, 0.001, 0.0),
    // The foot of 0.3048 m and the pound of 0.45359237 kg are exact (NIST SP 811, appendix B).
    (&["ft", "'", "′", "foot", "feet"], Of::Length, 0.3048, 0.0),
    (&["in", "\"", "″", "inch", "inches"], Of::Length, 0.0254, 0.0),
    (&["kg", "kgs"], Of::Mass, 1.0, 0.0),
    (&["g", "gram", "grams"], Of::Mass, 1e-3, 0.0),
    (&["lb", "lbs", "pound", "pounds"], Of::Mass, 0.453_592_37, 0.0),
    (&["oz", "ounce", "ounces"], Of::Mass, 0.453_592_37 / 16.0, 0.0),
    (&["kg/m²", "kg/m2"], Of::Areal, 1.0, 0.0),
    (&["g/m²", "g/m2", "gsm"], Of::Areal, 1e-3, 0.0),
    (&["lb/sq ft", "lb/ft²", "lb/ft2"], Of::Areal, 0.453_592_37 / (0.3048 * 0.3048), 0.0),
    (&["oz/sq yd", "oz/yd²", "oz/yd2"], Of::Areal, 0.453_592_37 / 16.0 / (0.9144 * 0.9144), 0.0),
    (&["%", "percent"], Of::Share, 1.0, 0.0),
    (&["V", "v", "volt", "volts"], Of::Voltage, 1.0, 0.0),
    (&["mV", "mv"], Of::Voltage, 1e-3, 0.0),
    (&["A", "a", "amp", "amps", "ampere", "amperes"], Of::Current, 1.0, 0.0),
    (&["mA", "ma"], Of::Current, 1e-3, 0.0),
    (&["Ω", "ohm", "ohms"], Of::Resistance, 1.0, 0.0),
    (&["W", "w", "watt", "watts"], Of::Power, 1.0, 0.0),
    (&["kW", "kw"], Of::Power, 1e3, 0.0),
    (&["°C", "C", "c", "°c"], Of::Temperature, 1.0, 0.0),
    (&["°F", "F", "f", "°f"], Of::Temperature, 5.0 / 9.0, -32.0 * 5.0 / 9.0),
    (&["lx", "lux"], Of::Light, 1.0, 0.0),
    (&["lm", "lumen", "lumens"], Of::Flux, 1.0, 0.0),
    (&["°", "deg", "degrees"], Of::Angle, 1.0, 0.0),
];

fn unit(name: &str) -> Option<(Of, f64, f64)> {
    UNITS.iter().find(|(names, ..)| names.contains(&name)).map(|(_, of, size, zero)| (*of, *size, *zero))
}

/// A number and the unit behind it, which may be empty; and what follows.
fn first_part(text: &str) -> Option<(f64, &str, &str)> {
    let text = text.trim_start();
    let digits = |c: char| c.is_ascii_digit() || c == '.';
    let sign = text.starts_with(['-', '+', '−']);
    let skip = if sign { text.chars().next().map_or(0, char::len_utf8) } else { 0 };
    let end = text[skip..].find(|c| !digits(c)).map_or(text.len(), |at| at + skip);
    let number: f64 = text[skip..end].parse().ok()?;
    let number = if text.starts_with(['-', '−']) { -number } else { number };
    let rest = text[end..].trim_start();
    // A unit reaches to the next number: "17 ft 1 in"; but "kg/m2" has one in it.
    let until = rest
        .char_indices()
        .find(|(at, c)| c.is_ascii_digit() && !rest[..*at].ends_with(['m', 'd', 't']))
        .map_or(rest.len(), |(at, _)| at);
    Some((number, rest[..until].trim_end(), &rest[until..]))
}

/// A decimal comma becomes a point. A comma before three digits can be read in two ways.
fn with_points(text: &str) -> Result<String, String> {
    let Some((before, after)) = text.split_once(',') else { return Ok(text.to_owned()) };
    let digits = after.chars().take_while(char::is_ascii_digit).count();
    if before.contains('.') || after.contains(',') || digits == 0 || digits == 3 {
        return Err(format!(
            "“{text}” can be read in two ways; write the number with a point, and nothing between thousands"
        ));
    }
    Ok(text.replacen(',', ".", 1))
}

/// Reads what was typed into a field that shows `shown`, and returns it in that unit. A number without a unit is in that unit. `whole` refuses
/// fractions.
///
/// # Errors
/// A sentence: what cannot be read or is out of range, and what to write.
pub fn read(typed: &str, shown: &str, range: &RangeInclusive<f64>, whole: bool) -> Result<f64, String> {
    let text = typed.trim().trim_start_matches('≈').trim();
    let own = unit(shown);
    let usage = || match own {
        Some((of, ..)) => format!("{}: write a number with {}", of.words().0, of.words().1),
        None if shown.is_empty() => "a number: write 3 or 2.5".to_owned(),
        None => format!("a number of {shown}: write 3"),
    };
    let no = || format!("“{typed}” is not {}", usage());
    if text.is_empty() {
        return Err(format!("nothing is written; it is {}", usage()));
    }
    let text = with_points(text)?;
    // Minutes and seconds.
    let clock = text.split_once(':').zip(own.filter(|(of, ..)| *of == Of::Time));
    let value = if let Some(((minutes, seconds), (_, size, _))) = clock {
        let part = |text: &str| {
            let plain = !text.is_empty() && text.bytes().all(|b| b.is_ascii_digit() || b == b'.');
            text.parse::<f64>().ok().filter(|_| plain)
        };
        let (minutes, seconds) = (part(minutes).ok_or_else(no)?, part(seconds).ok_or_else(no)?);
        (minutes * 60.0 + seconds) / size
    } else {
        let (mut sum, mut rest, mut last) = (0.0, text.as_str(), f64::INFINITY);
        let mut parts = 0;
        while !rest.trim().is_empty() {
            let (number, name, more) = first_part(rest).ok_or_else(no)?;
            let alone = parts == 0 && more.trim().is_empty();
            let in_shown = match (own, unit(name)) {
                // A number without a unit stands alone.
                _ if name.is_empty() => number,
                (Some((of, size, zero)), Some((typed_of, typed_size, typed_zero))) if of == typed_of => {
                    // The parts of "17 ft 1 in" get smaller.
                    if typed_size >= last || (!alone && typed_zero != 0.0) {
                        return Err(no());
                    }
                    last = typed_size;
                    (number * typed_size + typed_zero - zero) / size
                }
                // Words such as "bars": the field's own, or its singular.
                (None, _) if name == shown || shown.strip_suffix('s') == Some(name) => number,
                _ => return Err(no()),
            };
            if name.is_empty() && !alone || parts > 0 && number < 0.0 {
                return Err(no());
            }
            sum += in_shown;
            parts += 1;
            rest = more;
        }
        sum
    };
    // What was converted may lie a rounding outside.
    let slack = 1e-9 * (range.end() - range.start()).abs().min(range.end().abs().max(1.0));
    if !value.is_finite() || value < range.start() - slack || value > range.end() + slack {
        let unit = if shown.is_empty() { String::new() } else { format!(" {shown}") };
        return Err(format!(
            "“{typed}” is out of range; {} to {}{unit} can be entered",
            plain(*range.start()),
            plain(*range.end())
        ));
    }
    if whole && value.fract().abs() > 1e-9 {
        return Err(format!("“{typed}” is no whole number"));
    }
    Ok(value)
}

/// A number as a field shows it: without trailing zeros, with at most three decimals, and marked if that is not the whole of it.
pub fn plain(number: f64) -> String {
    let text = format!("{number:.3}");
    let exact = text.parse::<f64>().is_ok_and(|shown| (shown - number).abs() <= 1e-9 * number.abs().max(1.0));
    let text = if text.contains('.') { text.trim_end_matches('0').trim_end_matches('.') } else { text.as_str() };
    let text = if text == "-0" { "0" } else { text };
    if exact { text.to_owned() } else { format!("≈{text}") }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn read_in(shown: &str, typed: &str) -> Result<f64, String> {
        read(typed, shown, &(-1e9..=1e9), false)
    }

    /// Seen: "1500 ms" became 1500 s and "30 %" became 3 %.
    #[test]
    fn a_unit_that_is_typed_counts() {
        for (shown, typed, value) in [
            ("s", "1500 ms", 1.5),
            ("s", "1500ms", 1.5),
            ("ms", "1.5 s", 1500.0),
            ("ms", "1,5 s", 1500.0),
            ("ms", "40", 40.0),
            ("s", "1:30", 90.0),
            ("s", "1 min 30 s", 90.0),
            ("ms", "0:01.5", 1500.0),
            ("ms", "-0.5 s", -500.0),
            ("ms", "−0.5 s", -500.0),
            ("%", "30 %", 30.0),
            ("%", "30%", 30.0),
            ("m", "520 cm", 5.2),
            ("m", "10 ft", 3.048),
            ("m", "5 ft 6 in", 1.6764),
            ("m", "5'6\"", 1.6764),
            ("ft", "1.524 m", 5.0),
            ("ft", "6 in", 0.5),
            ("kg", "10 lb", 4.535_923_7),
            ("lb", "1 kg", 2.204_622_621_848_776),
            ("kg/m²", "110 g/m²", 0.11),
            ("kg/m²", "110 g/m2", 0.11),
            ("kg/m²", "1 lb/sq ft", 4.882_427_636),
            ("V", "24 V", 24.0),
            ("A", "500 mA", 0.5),
            ("Ω", "88 ohm", 88.0),
            ("°C", "68 °F", 20.0),
            ("°C", "20", 20.0),
            ("°", "8°", 8.0),
            ("bars", "2 bars", 2.0),
            ("bars", "1 bar", 1.0),
            ("words a minute", "150", 150.0),
            ("", "3", 3.0),
            ("ft", "≈29.528", 29.528),
        ] {
            let read = read_in(shown, typed).unwrap_or_else(|why| panic!("{typed} in {shown}: {why}"));
            assert!((read - value).abs() < 1e-6, "{typed} in {shown}: {read}");
        }
    }

    #[test]
    fn what_cannot_be_read_is_said_and_nothing_is_guessed() {
        for (shown, typed, why) in [
            ("s", "30 %", "is not a time"),
            ("ms", "2 m", "is not a time"),
            ("m", "2 s", "is not a length"),
            ("kg", "2 ft", "is not a mass"),
            ("%", "3 kg", "is not a share"),
            ("s", "soon", "is not a time"),
            ("s", "", "nothing is written"),
            ("s", "1,500", "two ways"),
            ("s", "1.500,5", "two ways"),
            ("m", "6 in 5 ft", "is not a length"),
            ("m", "5 ft 6", "is not a length"),
            ("m", "5 ft -6 in", "is not a length"),
            ("s", "1 2", "is not a time"),
            ("s", "1e3", "is not a time"),
            ("s", "1:-30", "is not a time"),
            ("s", "--1", "is not a time"),
            ("°C", "3 °C 5 °F", "is not a temperature"),
            ("bars", "2 beats", "is not a number of bars"),
            ("", "3 s", "is not a number"),
            ("s", "NaN", "is not a time"),
            ("s", "inf", "is not a time"),
        ] {
            let said = read_in(shown, typed).expect_err(typed);
            assert!(said.contains(why), "{typed} in {shown}: {said}");
        }
        assert!(read("11 s", "s", &(0.0..=10.0), false).is_err_and(|why| why.contains("0 to 10 s")));
        assert!(read("11000 ms", "s", &(0.0..=10.0), false).is_err());
        assert!(read("1.5", "", &(0.0..=10.0), true).is_err_and(|why| why.contains("whole")));
    }

    #[test]
    fn a_rounded_number_says_that_it_is_rounded() {
        assert_eq!([24.0, 0.8, 1.524, 29.527_559, -0.0, 1e-12].map(plain), ["24", "0.8", "1.524", "≈29.528", "0", "0"]);
    }
}
