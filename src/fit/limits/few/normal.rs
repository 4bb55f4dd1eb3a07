//! The normal distribution by its logarithm: which hypothesis is likelier is decided far out in its tails.

use crate::math::{erfc, exp, ln, ln_1p};

/// ln √(2π)
pub(super) const LN_SQRT_2PI: f64 = 0.918_938_533_204_672_7;
/// Below this the function itself loses digits, and four terms of its asymptotic series have a relative error of 1e-7
/// at the most (Abramowitz and Stegun, 26.2.12).
const TAIL: f64 = -8.0;
/// Differences of logarithms nearer to zero than this are rounding.
const LEAST_DIFFERENCE: f64 = 1e-12;

/// Probability below `z`.
pub(super) fn phi(z: f64) -> f64 {
    0.5 * erfc(-z * core::f64::consts::FRAC_1_SQRT_2)
}

/// Density at `z`.
pub(super) fn density(z: f64) -> f64 {
    exp(-0.5 * z * z - LN_SQRT_2PI)
}

/// Logarithm of the probability below `z`.
pub(super) fn ln_phi(z: f64) -> f64 {
    if z >= TAIL {
        return if z > 1.0 { ln_1p(-phi(-z)) } else { ln(phi(z)) };
    }
    let v = 1.0 / (z * z);
    let series = v * (-1.0 + v * (3.0 + v * (-15.0 + v * 105.0)));
    -0.5 * z * z - LN_SQRT_2PI - ln(-z) + ln_1p(series)
}

/// Logarithm of the probability between `a` and a larger `b`, without loss in either tail.
pub(super) fn ln_between(a: f64, b: f64) -> f64 {
    let (high, low) = if a > 0.0 {
        (ln_phi(-a), ln_phi(-b))
    } else {
        (ln_phi(b), ln_phi(a))
    };
    high + ln_1p(-exp((low - high).min(-LEAST_DIFFERENCE)))
}

/// Logarithm of the sum of what two logarithms stand for.
pub(super) fn ln_add(a: f64, b: f64) -> f64 {
    let (high, low) = if a > b { (a, b) } else { (b, a) };
    if low == f64::NEG_INFINITY {
        high
    } else {
        high + ln_1p(exp(low - high))
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use statrs::distribution::{Continuous, ContinuousCDF, Normal};

    #[test]
    fn tails_as_statrs_and_as_their_series() {
        let normal = Normal::standard();
        for i in -70..70 {
            let z = f64::from(i) * 0.1;
            let (ours, theirs) = (exp(ln_phi(z)), normal.cdf(z));
            assert!((ours / theirs - 1.0).abs() < 1e-9, "{z}: {ours} {theirs}");
            assert!((density(z) / normal.pdf(z) - 1.0).abs() < 1e-12, "{z}");
        }
        // ln Φ(-20) and ln Φ(-38), by mpmath with 50 digits.
        assert!((ln_phi(-20.0) + 203.917_155_371_097_3).abs() < 1e-6);
        assert!((ln_phi(-38.0) + 726.557_216_018_830_1).abs() < 1e-6);
        // Both forms at their seam.
        assert!((ln_phi(TAIL - 1e-12) - ln_phi(TAIL)).abs() < 1e-6);
    }

    #[test]
    fn differences_in_both_tails_are_alike() {
        for (a, b) in [(9.0, 9.5), (0.5, 3.0), (-0.2, 0.1), (30.0, 31.0)] {
            assert!((ln_between(a, b) - ln_between(-b, -a)).abs() < 1e-9, "{a} {b}");
        }
        let both = ln_between(-1.0, 2.0);
        assert!((exp(both) - (phi(2.0) - phi(-1.0))).abs() < 1e-12);
        assert!((exp(ln_add(ln(0.25), ln(0.5))) - 0.75).abs() < 1e-12);
        assert_eq!(ln_add(f64::NEG_INFINITY, -3.0), -3.0);
    }
}
