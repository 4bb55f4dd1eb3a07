//! Straight lines by least squares.

use super::error::FitError;
use super::outcome::Estimate;
use super::quantile::t_quantile;
use super::readings::{check_finite, check_u};

/// A straight line `y = intercept + slope · x` with its uncertainties.
#[derive(Debug, Clone, Copy, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
#[non_exhaustive]
pub struct LineFit {
    /// Value at x = 0.
    pub intercept: f64,
    /// Change of y per x.
    pub slope: f64,
    /// Standard uncertainty of the intercept.
    pub u_intercept: f64,
    /// Standard uncertainty of the slope.
    pub u_slope: f64,
    /// Covariance of intercept and slope.
    pub covariance: f64,
    /// Standard deviation of the points about the line; with stated uncertainties, of the residuals in units of them.
    pub residual_sd: f64,
    /// Points less parameters.
    pub dof: usize,
    /// Points.
    pub n: usize,
    /// Share of the variance that the line explains.
    pub r_squared: f64,
    /// Sum of squared residuals; with stated uncertainties the chi-squared observed.
    pub sum_of_squares: f64,
    /// The uncertainties come from stated ones, not from the scatter: their degrees of freedom are infinite.
    pub stated_u: bool,
}

impl LineFit {
    /// Correlation coefficient of intercept and slope; zero for an exact line.
    pub fn correlation(&self) -> f64 {
        let product = self.u_intercept * self.u_slope;
        if product > 0.0 { self.covariance / product } else { 0.0 }
    }

    /// Degrees of freedom of the uncertainties: [`dof`](Self::dof), or infinite with stated uncertainties.
    pub fn u_dof(&self) -> f64 {
        if self.stated_u { f64::INFINITY } else { self.dof as f64 }
    }

    /// The line's value at `x` and its standard uncertainty (mean response; GUM H.3.4).
    pub fn predict(&self, x: f64) -> Estimate {
        let variance =
            self.u_intercept * self.u_intercept + x * (2.0 * self.covariance + x * self.u_slope * self.u_slope);
        Estimate {
            value: self.intercept + self.slope * x,
            u: variance.max(0.0).sqrt(),
        }
    }

    /// Factor that turns a standard uncertainty into a coverage interval's half width.
    pub fn coverage_factor(&self, confidence: f64) -> f64 {
        t_quantile(0.5 + 0.5 * confidence, self.u_dof())
    }
}

/// Ordinary least-squares line through points of equal, unknown uncertainty.
///
/// # Errors
/// Too few points (3 are needed for a scatter), equal `x`, lengths that differ, values that are not finite.
pub fn fit_line(x: &[f64], y: &[f64]) -> Result<LineFit, FitError> {
    weighted(x, y, None)
}

/// Least-squares line through points of known standard uncertainty `u_y`.
///
/// # Errors
/// As [`fit_line`], and uncertainties not above zero.
pub fn fit_line_weighted(x: &[f64], y: &[f64], u_y: &[f64]) -> Result<LineFit, FitError> {
    weighted(x, y, Some(u_y))
}

pub(super) fn check_points(x: &[f64], y: &[f64], needed: usize) -> Result<(), FitError> {
    if y.len() != x.len() {
        return Err(FitError::LengthMismatch {
            what: "y",
            given: y.len(),
            expected: x.len(),
        });
    }
    check_finite("x", x)?;
    check_finite("y", y)?;
    let lower = x.iter().copied().fold(f64::INFINITY, f64::min);
    let upper = x.iter().copied().fold(f64::NEG_INFINITY, f64::max);
    if x.len() < needed {
        return Err(FitError::TooFewReadings {
            given: x.len(),
            needed,
            lower,
            upper,
        });
    }
    if lower == upper {
        return Err(FitError::CommandsEqual {
            distinct: 1,
            needed: 2,
            lower,
            upper,
        });
    }
    Ok(())
}

fn weighted(x: &[f64], y: &[f64], u_y: Option<&[f64]>) -> Result<LineFit, FitError> {
    // Two points carry a line of stated uncertainty, but only a third shows scatter.
    check_points(x, y, if u_y.is_some() { 2 } else { 3 })?;
    if let Some(u) = u_y {
        if u.len() != x.len() {
            return Err(FitError::LengthMismatch {
                what: "u_y",
                given: u.len(),
                expected: x.len(),
            });
        }
        check_u("u_y", u)?;
    }
    let weight = |i: usize| u_y.and_then(|u| u.get(i)).map_or(1.0, |u| 1.0 / (u * u));
    let points = || x.iter().zip(y).enumerate().map(|(i, (&x, &y))| (x, y, weight(i)));
    let (mut sw, mut sx, mut sy) = (0.0, 0.0, 0.0);
    for (x, y, w) in points() {
        sw += w;
        sx += w * x;
        sy += w * y;
    }
    let (mut mx, mut my) = (sx / sw, sy / sw);
    // A second pass over the deviations takes out the rounding of the first mean.
    let (mut dx, mut dy) = (0.0, 0.0);
    for (x, y, w) in points() {
        dx += w * (x - mx);
        dy += w * (y - my);
    }
    mx += dx / sw;
    my += dy / sw;
    let (mut sxx, mut sxy, mut syy) = (0.0, 0.0, 0.0);
    for (x, y, w) in points() {
        sxx += w * (x - mx) * (x - mx);
        sxy += w * (x - mx) * (y - my);
        syy += w * (y - my) * (y - my);
    }
    let slope = sxy / sxx;
    let intercept = my - slope * mx;
    let rss: f64 = points()
        .map(|(x, y, w)| {
            let r = (y - my) - slope * (x - mx);
            w * r * r
        })
        .sum();
    let n = x.len();
    let dof = n.saturating_sub(2);
    let variance = if u_y.is_some() { 1.0 } else { rss / dof as f64 };
    let residual_sd = if dof > 0 { (rss / dof as f64).sqrt() } else { 0.0 };
    Ok(LineFit {
        intercept,
        slope,
        u_intercept: (variance * (1.0 / sw + mx * mx / sxx)).sqrt(),
        u_slope: (variance / sxx).sqrt(),
        covariance: -variance * mx / sxx,
        residual_sd,
        dof,
        n,
        r_squared: if syy > 0.0 { (1.0 - rss / syy).max(0.0) } else { 1.0 },
        sum_of_squares: rss,
        stated_u: u_y.is_some(),
    })
}
