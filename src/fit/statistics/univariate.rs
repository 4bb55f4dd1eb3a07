//! Mean and standard deviation of repeats, and the median.

use crate::fit::error::FitError;
use crate::fit::readings::check_finite;

/// Mean and scatter of repeated values.
#[derive(Debug, Clone, Copy, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
#[non_exhaustive]
pub struct Spread {
    /// Values.
    pub n: usize,
    /// Their mean.
    pub mean: f64,
    /// Their standard deviation, divisor n − 1; zero for a single value.
    pub sd: f64,
}

impl Spread {
    /// Standard uncertainty of the mean: `sd / √n` (GUM 4.2.3).
    pub fn u_mean(&self) -> f64 {
        self.sd / (self.n as f64).sqrt()
    }
}

/// Mean and standard deviation in two passes, the second correcting the first's rounding.
///
/// # Errors
/// No values, or one that is not finite.
pub fn spread(values: &[f64]) -> Result<Spread, FitError> {
    check_finite("values", values)?;
    let first = values.first().ok_or(FitError::TooFewReadings {
        given: 0,
        needed: 1,
        lower: f64::NAN,
        upper: f64::NAN,
    })?;
    let n = values.len();
    // Counted from the first value: a large common offset costs no digits.
    let shifted = || values.iter().map(|v| v - first);
    let rough = shifted().sum::<f64>() / n as f64;
    let left: f64 = shifted().map(|v| v - rough).sum();
    let mean = rough + left / n as f64;
    let squares: f64 = shifted().map(|v| (v - mean) * (v - mean)).sum();
    Ok(Spread {
        n,
        mean: first + mean,
        sd: if n > 1 { (squares / (n - 1) as f64).sqrt() } else { 0.0 },
    })
}

/// Median absolute deviation to standard deviation, for normal scatter.
pub(in crate::fit) const MAD_TO_SD: f64 = 1.482_602_218_505_602;

/// The middle value; for an even count the mean of the middle two. Reorders `values`.
pub(in crate::fit) fn median(values: &mut [f64]) -> Option<f64> {
    let n = values.len();
    let (below, &mut middle, _) = if n == 0 {
        return None;
    } else {
        values.select_nth_unstable_by(n / 2, f64::total_cmp)
    };
    if n % 2 == 1 {
        return Some(middle);
    }
    let left = below.iter().copied().fold(f64::NEG_INFINITY, f64::max);
    Some(0.5 * (left + middle))
}
