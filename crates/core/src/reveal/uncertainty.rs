//! How much a figure can be trusted that a few measurements, or somebody's word, stand behind: standard uncertainty, degrees of
//! freedom, and Student's t. After the Guide to the expression of uncertainty in measurement (JCGM 100:2008), Annex G.

use std::f64::consts::PI;

/// Degrees of freedom of a spread that was stated and not measured: it is taken to be right to a quarter (JCGM 100 G.4.2).
pub const STATED: f64 = 8.0;
/// Degrees of freedom of a spread of which nobody is sure: it is taken to be right to a half (JCGM 100 G.4.2).
pub const GUESSED: f64 = 2.0;
/// More degrees of freedom than this make no difference to any figure that is shown.
const MANY: f64 = 1e6;
/// What stands for zero where something is divided by it.
const TINY: f64 = 1e-300;

/// A standard uncertainty: one standard deviation of the error that a figure may have, in the figure's unit, and how well that
/// deviation itself is known.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Uncertainty {
    /// One standard deviation.
    pub standard: f64,
    /// Degrees of freedom, 1 or more. Infinite where the deviation is known exactly.
    pub freedom: f64,
}

impl Uncertainty {
    /// No error at all.
    pub const NONE: Uncertainty = Uncertainty { standard: 0.0, freedom: f64::INFINITY };

    /// Of a reading that is only known to within `width`, as a clock's last digit is: width / √12 (JCGM 100 F.2.2.1).
    pub fn of_resolution(width: f64) -> Uncertainty {
        Uncertainty { standard: width / libm::sqrt(12.0), freedom: f64::INFINITY }
    }

    /// Of the next of `count` readings of which the deviation was worked out: the mean is uncertain too. `None` for fewer than two.
    pub fn of_next(deviation: f64, count: usize) -> Option<Uncertainty> {
        let n = count as f64;
        (count > 1).then(|| Uncertainty { standard: deviation * libm::sqrt(1.0 + 1.0 / n), freedom: n - 1.0 })
    }

    /// Of a delay with a spread that was measured so many times. Fewer than two mean that it was only stated.
    pub fn of_spread(spread: f64, measured: u32) -> Uncertainty {
        Uncertainty::of_next(spread, measured as usize).unwrap_or(Uncertainty { standard: spread, freedom: STATED })
    }

    /// Of the sum of several figures whose errors have nothing to do with each other. The degrees of freedom are those of Welch and
    /// Satterthwaite (JCGM 100 G.4.1): u⁴ / Σ(uᵢ⁴ / νᵢ).
    pub fn of_sum(parts: impl Iterator<Item = Uncertainty>) -> Uncertainty {
        let (mut squares, mut fourths) = (0.0, 0.0);
        for part in parts {
            let square = part.standard * part.standard;
            squares += square;
            fourths += square * square / part.freedom;
        }
        let freedom = if fourths > 0.0 { squares * squares / fourths } else { f64::INFINITY };
        Uncertainty { standard: libm::sqrt(squares), freedom }
    }

    /// How far the figure lies off at most, either way, with a probability of `level`, 0 to 1 (such as 0.95).
    pub fn half_width(self, level: f64) -> f64 {
        if self.standard > 0.0 {
            self.standard * student_quantile(f64::midpoint(level, 1.0), self.freedom)
        } else {
            0.0
        }
    }
}

/// The chance, 0 to 1, that an error lies between `-early` and `late`. The error is the sum of one with a t distribution and one that
/// lies anywhere between `range.0` and `range.1` with equal chance (check-values 15).
pub fn chance_within(spread: Uncertainty, range: (f64, f64), early: f64, late: f64) -> f64 {
    let (a, b) = range;
    let (sigma, freedom) = (spread.standard, spread.freedom);
    let up_to = |x: f64| {
        let inside = |u: f64| if x - u >= 0.0 { 1.0 } else { 0.0 };
        match (b - a > 1e-9, sigma > 1e-9) {
            (false, false) => inside(a),
            (false, true) => student((x - a) / sigma, freedom),
            (true, false) => ((x - a) / (b - a)).clamp(0.0, 1.0),
            (true, true) => {
                let integral = |z: f64| student_integral(z / sigma, freedom);
                sigma * (integral(x - a) - integral(x - b)) / (b - a)
            }
        }
    };
    (up_to(late) - up_to(-early - f64::EPSILON)).clamp(0.0, 1.0)
}

/// The share of Student's t distribution with `freedom` degrees of freedom that lies below `t`.
pub fn student(t: f64, freedom: f64) -> f64 {
    let v = freedom.min(MANY);
    let tail = 0.5 * beta_share(0.5 * v, 0.5, v / (v + t * t));
    if t > 0.0 { 1.0 - tail } else { tail }
}

/// The density of that distribution at `t`.
fn student_density(t: f64, freedom: f64) -> f64 {
    let v = freedom.min(MANY);
    let front = libm::lgamma(0.5 * (v + 1.0)) - libm::lgamma(0.5 * v) - 0.5 * libm::log(v * PI);
    libm::exp(front - 0.5 * (v + 1.0) * libm::log1p(t * t / v))
}

/// The value below which a share `p`, 0 to 1, of that distribution lies.
pub fn student_quantile(p: f64, freedom: f64) -> f64 {
    if p < 0.5 {
        return -student_quantile(1.0 - p, freedom);
    }
    let (mut low, mut high) = (0.0, 1.0);
    while student(high, freedom) < p && high < 1e12 {
        high *= 2.0;
    }
    for _ in 0..80 {
        let middle = f64::midpoint(low, high);
        if student(middle, freedom) < p { low = middle } else { high = middle }
    }
    f64::midpoint(low, high)
}

/// The integral of [`student`] up to `z`, but for a constant: z F(z) + (ν + z²) f(z) / (ν − 1), and for one degree of freedom
/// z F(z) − ln(1 + z²) / 2π (check-values 15).
fn student_integral(z: f64, freedom: f64) -> f64 {
    let v = freedom.min(MANY);
    // Next to one degree of freedom both parts of the first form are huge and cancel out.
    let rest =
        if v < 1.0 + 1e-6 { -libm::log1p(z * z) / (2.0 * PI) } else { (v + z * z) * student_density(z, v) / (v - 1.0) };
    z * student(z, v) + rest
}

/// The regularised incomplete beta function Iₓ(a, b), by its continued fraction (NIST Digital Library of Mathematical Functions
/// 8.17.22), evaluated from the front by Lentz's method.
fn beta_share(a: f64, b: f64, x: f64) -> f64 {
    if x <= 0.0 {
        return 0.0;
    }
    if x >= 1.0 {
        return 1.0;
    }
    // The fraction converges fast on this side only (8.17.4 gives the other).
    if x > (a + 1.0) / (a + b + 2.0) {
        return 1.0 - beta_share(b, a, 1.0 - x);
    }
    let away = |x: f64| if x.abs() < TINY { TINY } else { x };
    let (mut above, mut below) = (1.0, 1.0 / away(1.0 - (a + b) * x / (a + 1.0)));
    let mut fraction = below;
    for step in 1..10_000 {
        let m = f64::from(step);
        let twice = a + 2.0 * m;
        let even = m * (b - m) * x / ((twice - 1.0) * twice);
        let odd = -(a + m) * (a + b + m) * x / (twice * (twice + 1.0));
        let mut change = 1.0;
        for term in [even, odd] {
            below = 1.0 / away(1.0 + term * below);
            above = away(1.0 + term / above);
            change = above * below;
            fraction *= change;
        }
        if (change - 1.0).abs() < 1e-15 {
            break;
        }
    }
    let front = libm::lgamma(a + b) - libm::lgamma(a) - libm::lgamma(b) + a * libm::log(x) + b * libm::log1p(-x);
    libm::exp(front) * fraction / a
}

#[cfg(test)]
mod tests {
    use super::*;

    fn near(a: f64, b: f64, within: f64) {
        assert!((a - b).abs() <= within, "{a} is not {b}");
    }

    /// check-values 15: t values (NIST/SEMATECH e-Handbook 1.3.6.7.2; computed with scipy.stats.t), for two-sided levels.
    #[test]
    fn the_t_table() {
        let freedoms = [1.0, 2.0, 3.0, 4.0, 5.0, 6.0, 8.0, 10.0, 15.0, 30.0];
        for (level, row) in [
            (0.6827, [1.837, 1.321, 1.197, 1.142, 1.111, 1.091, 1.067, 1.053, 1.034, 1.017]),
            (0.90, [6.314, 2.920, 2.353, 2.132, 2.015, 1.943, 1.860, 1.812, 1.753, 1.697]),
            (0.95, [12.706, 4.303, 3.182, 2.776, 2.571, 2.447, 2.306, 2.228, 2.131, 2.042]),
            (0.9545, [13.968, 4.527, 3.307, 2.869, 2.649, 2.517, 2.366, 2.284, 2.181, 2.087]),
            (0.99, [63.657, 9.925, 5.841, 4.604, 4.032, 3.707, 3.355, 3.169, 2.947, 2.750]),
        ] {
            for (freedom, t) in freedoms.into_iter().zip(row) {
                near(student_quantile(f64::midpoint(level, 1.0), freedom), t, 0.0006);
                near(student_quantile(1.0 - f64::midpoint(level, 1.0), freedom), -t, 0.0006);
            }
        }
    }

    /// The t distributions with one and two degrees of freedom have closed forms: ½ + arctan(t)/π and ½ + t/(2√(2 + t²)). With many
    /// it is the normal one: NBS Applied Mathematics Series 55, table 26.1 (figures from memory).
    #[test]
    fn closed_forms() {
        for t in [-40.0, -3.0, -1.0, -0.01, 0.0, 0.3, 1.0, 2.5, 700.0] {
            near(student(t, 1.0), 0.5 + libm::atan(t) / PI, 1e-13);
            near(student(t, 2.0), 0.5 + t / (2.0 * libm::sqrt(2.0 + t * t)), 1e-13);
        }
        for (z, p) in
            [(0.0, 0.5), (1.0, 0.841_344_746), (1.96, 0.975_002_105), (2.0, 0.977_249_868), (3.0, 0.998_650_102)]
        {
            near(student(z, f64::INFINITY), p, 1e-6);
        }
    }

    /// check-values 15: the next drop after n measured ones with s 0.020 s lies at mean ± t(n−1)·s·√(1 + 1/n), and falls between
    /// 0.125 s early and 0.045 s late with these chances.
    #[test]
    fn the_next_of_a_few_drops() {
        for (count, half, chance) in [(3, 0.0994, 0.8884), (5, 0.0608, 0.9431), (10, 0.0475, 0.9696)] {
            let next = Uncertainty::of_next(0.020, count).expect("more than one");
            near(next.half_width(0.95), half, 0.000_06);
            near(chance_within(next, (0.0, 0.0), 0.125, 0.045), chance, 0.000_06);
        }
        assert_eq!(Uncertainty::of_next(0.020, 1), None);
    }

    /// check-values 15: σ 0.02, ν 2, anywhere from −0.08 to 0.12, inside −0.125 … 0.045: 0.6037 (10⁶ draws).
    #[test]
    fn a_t_distributed_part_and_a_uniform_one() {
        let spread = Uncertainty { standard: 0.02, freedom: 2.0 };
        near(chance_within(spread, (-0.08, 0.12), 0.125, 0.045), 0.6037, 0.000_06);
        // The same by a sum over many slices, for other degrees of freedom, one among them.
        for freedom in [1.0, 1.000_000_5, 1.01, 2.7, 8.0, f64::INFINITY] {
            let slices = 100_000;
            let share = |x: f64| student(x / 0.03, freedom);
            let sum: f64 = (0..slices)
                .map(|n| {
                    let u = -0.08 + 0.2 * (f64::from(n) + 0.5) / f64::from(slices);
                    share(0.045 - u) - share(-0.125 - u)
                })
                .sum();
            let spread = Uncertainty { standard: 0.03, freedom };
            near(chance_within(spread, (-0.08, 0.12), 0.125, 0.045), sum / f64::from(slices), 1e-6);
        }
    }

    #[test]
    fn chances_that_can_be_worked_out_by_hand() {
        let none = Uncertainty::NONE;
        near(chance_within(none, (0.0, 0.0), 0.1, 0.1), 1.0, 0.0);
        near(chance_within(none, (0.2, 0.2), 0.1, 0.1), 0.0, 0.0);
        // From 0.1 s early to 0.3 s late with equal chance; from 0.1 early to 0.1 late is half of it.
        near(chance_within(none, (-0.1, 0.3), 0.1, 0.1), 0.5, 1e-12);
        // One deviation either way of a normal error: 68.27 %.
        let normal = Uncertainty { standard: 0.05, freedom: f64::INFINITY };
        near(chance_within(normal, (0.0, 0.0), 0.05, 0.05), 0.682_689_492, 1e-6);
        near(none.half_width(0.95), 0.0, 0.0);
    }

    /// JCGM 100:2008, example H.1 (figures from memory, recomputed in check-values 15): 25 nm (ν 18), 9.7 (25.6), 2.9 (50), 16.6 (2):
    /// u² = 1002 nm², ν 16.7, taken as 16, t(99 %) = 2.92, U = 93 nm.
    #[test]
    fn the_end_gauge_of_the_guide() {
        let parts = [(25.0, 18.0), (9.7, 25.6), (2.9, 50.0), (16.6, 2.0)];
        let sum = Uncertainty::of_sum(parts.into_iter().map(|(standard, freedom)| Uncertainty { standard, freedom }));
        // The inputs are rounded to the digits shown.
        near(sum.standard * sum.standard, 1002.0, 1.5);
        near(sum.freedom, 16.7, 0.1);
        let taken = Uncertainty { freedom: 16.0, ..sum };
        near(taken.half_width(0.99), 93.0, 1.0);
        assert_eq!(Uncertainty::of_sum([].into_iter()), Uncertainty::NONE);
    }

    /// JCGM 100 F.2.2.1: a resolution δ gives δ/√12. A spread that was only stated has 8 degrees of freedom (G.4.2).
    #[test]
    fn resolutions_and_spreads() {
        near(Uncertainty::of_resolution(0.01).standard, 0.002_886_751, 1e-9);
        assert_eq!(Uncertainty::of_spread(0.004, 0), Uncertainty { standard: 0.004, freedom: 8.0 });
        assert_eq!(Uncertainty::of_spread(0.004, 1).freedom, 8.0);
        let measured = Uncertainty::of_spread(0.004, 10);
        near(measured.standard, 0.004 * libm::sqrt(1.1), 1e-12);
        near(measured.freedom, 9.0, 0.0);
    }

    /// Without any spread it is inside or it is not; at the very edge it is inside.
    #[test]
    fn what_does_not_spread_is_inside_or_outside() {
        let sure = |at: f64| chance_within(Uncertainty::NONE, (at, at), 0.1, 0.04);
        for (at, chance) in [(0.05, 0.0), (0.04, 1.0), (0.0, 1.0), (-0.1, 1.0), (-0.11, 0.0), (-0.05, 1.0)] {
            assert_eq!(sure(at), chance, "{at}");
        }
    }

    /// Calibration: of many rehearsals in which n drops are timed and one more follows, the 95 % range covers that one in 93 to 97 of a
    /// hundred, for every n from 2 to 10. The draws are made by Box and Muller's method from a counter that is hashed (splitmix64).
    #[test]
    fn ranges_cover_what_they_claim() {
        let mut state = 0u64;
        let mut uniform = move || {
            state = state.wrapping_add(0x9E37_79B9_7F4A_7C15);
            let mut z = state;
            z = (z ^ (z >> 30)).wrapping_mul(0xBF58_476D_1CE4_E5B9);
            z = (z ^ (z >> 27)).wrapping_mul(0x94D0_49BB_1331_11EB);
            ((z ^ (z >> 31)) >> 11) as f64 / (1u64 << 53) as f64
        };
        let mut normal = move || libm::sqrt(-2.0 * libm::log(1.0 - uniform())) * libm::cos(2.0 * PI * uniform());
        for count in 2..=10 {
            let factor = Uncertainty::of_next(1.0, count).expect("more than one").half_width(0.95);
            let rehearsals = 100_000;
            let mut covered = 0;
            for _ in 0..rehearsals {
                let drops: Vec<f64> = (0..count).map(|_| normal()).collect();
                let mean = drops.iter().sum::<f64>() / count as f64;
                let squares: f64 = drops.iter().map(|drop| (drop - mean) * (drop - mean)).sum();
                let deviation = libm::sqrt(squares / (count as f64 - 1.0));
                covered += u32::from((normal() - mean).abs() <= factor * deviation);
            }
            let share = f64::from(covered) / f64::from(rehearsals);
            assert!((0.93..=0.97).contains(&share), "n {count}: {share}");
        }
    }
}
