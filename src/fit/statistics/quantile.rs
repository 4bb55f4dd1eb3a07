//! Quantiles and tails of Student's t, F and the normal distribution.

use statrs::distribution::{ContinuousCDF, FisherSnedecor, Normal, StudentsT};

/// The value that a Student t variable of `dof` degrees of freedom stays below with probability `p`.
///
/// `dof` may be infinite (normal). NaN for `p` outside (0, 1) or `dof` not above zero.
pub fn t_quantile(p: f64, dof: f64) -> f64 {
    if !(p > 0.0 && p < 1.0 && dof > 0.0) {
        return f64::NAN;
    }
    if dof.is_infinite() {
        return normal_quantile(p);
    }
    match StudentsT::new(0.0, 1.0, dof) {
        Ok(t) => t.inverse_cdf(p),
        Err(_) => f64::NAN,
    }
}

/// The value that a standard normal variable stays below with probability `p`.
pub fn normal_quantile(p: f64) -> f64 {
    if !(p > 0.0 && p < 1.0) {
        return f64::NAN;
    }
    Normal::standard().inverse_cdf(p)
}

/// Probability of an F ratio above `f` by chance; 1 for NaN, and 0 for what is too large to be computed with.
#[expect(clippy::neg_cmp_op_on_partial_ord, reason = "NaN is no ratio")]
pub(in crate::fit) fn f_tail(f: f64, numerator: f64, denominator: f64) -> f64 {
    if !(f > 0.0) {
        return 1.0;
    }
    if !(numerator * f).is_finite() {
        return 0.0;
    }
    match FisherSnedecor::new(numerator, denominator) {
        Ok(d) => d.sf(f),
        Err(_) => 1.0,
    }
}

/// Probability of a t ratio of at least this size, either sign, by chance.
pub(crate) fn t_two_sided(t: f64, dof: f64) -> f64 {
    match StudentsT::new(0.0, 1.0, dof) {
        Ok(d) => 2.0 * d.sf(t.abs()),
        Err(_) => 1.0,
    }
}

/// The same of a standard normal variable.
#[cfg(feature = "robot")]
pub(crate) fn normal_two_sided(z: f64) -> f64 {
    2.0 * Normal::standard().sf(z.abs())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn an_f_ratio_of_any_size_has_a_probability() {
        for ratio in [f64::INFINITY, 1e308, f64::MAX] {
            assert_eq!(f_tail(ratio, 12.0, 6.0), 0.0, "{ratio}");
        }
        for ratio in [f64::NAN, 0.0, -1.0, f64::NEG_INFINITY] {
            assert_eq!(f_tail(ratio, 12.0, 6.0), 1.0, "{ratio}");
        }
    }
}
