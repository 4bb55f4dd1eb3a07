//! Straight lines by least squares.

use super::error::FitError;
use super::estimate::Estimate;
use super::readings::{Readings, check_finite, check_u};
use super::statistics::dense::PIVOT_ROUNDING;
use super::statistics::quantile::t_quantile;

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

/// A line as a joint needs it: the ranges that a linear transmission has.
#[derive(Debug, Clone, Copy, PartialEq)]
#[non_exhaustive]
pub struct LineJoint {
    /// The commands, lower then upper.
    pub command: [f64; 2],
    /// The drive range, deg.
    pub drive: [f64; 2],
    /// Whether the lower command belongs to the upper drive angle.
    pub inverted: bool,
}

impl LineFit {
    /// What a joint has of a line of measured values over drive angles: a linear transmission over `drive`, lower then upper.
    ///
    /// `command` stands for the measured values of the line at these two ends; left out, commands are those values.
    ///
    /// # Errors
    /// [`FitError::OptionOutside`] if `command` or `drive` is not a range, as for a level line.
    pub fn joint(&self, drive: [f64; 2], command: Option<[f64; 2]>) -> Result<LineJoint, FitError> {
        let range = |what, [lower, upper]: [f64; 2]| match lower < upper && lower.is_finite() && upper.is_finite() {
            true => Ok([lower, upper]),
            false => Err(FitError::OptionOutside {
                what,
                value: upper,
                lower,
                upper: f64::MAX,
            }),
        };
        let drive = range("drive upper", drive)?;
        let [first, last] = drive.map(|drive| self.intercept + self.slope * drive);
        let inverted = first > last;
        let own = if inverted { [last, first] } else { [first, last] };
        Ok(LineJoint {
            command: range("command upper", command.unwrap_or(own))?,
            drive,
            inverted,
        })
    }

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
            // Rounding may leave a trace below 0; NaN stays NaN, where `max` would make it certainty.
            u: if variance < 0.0 { 0.0 } else { variance.sqrt() },
        }
    }

    /// The value of one more observation at `x`: the line's, with the scatter of a single observation added.
    ///
    /// `u_y` is the observation's own standard uncertainty; left out, the residual standard deviation stands for it.
    pub fn predict_single(&self, x: f64, u_y: Option<f64>) -> Estimate {
        let mean = self.predict(x);
        let scatter = u_y.unwrap_or(self.residual_sd);
        Estimate {
            value: mean.value,
            u: (mean.u * mean.u + scatter * scatter).sqrt(),
        }
    }

    /// The line's value at an `x` that is itself uncertain (ISO/TS 28037:2010, clause 11.2).
    pub fn predict_from(&self, x: Estimate) -> Estimate {
        let mean = self.predict(x.value);
        let through = self.slope * x.u;
        Estimate {
            value: mean.value,
            u: (mean.u * mean.u + through * through).sqrt(),
        }
    }

    /// Reads the line backwards: the `x` at which these observations of y were made.
    ///
    /// `u_y` is the standard uncertainty of each; left out, the residual standard deviation stands for it:
    /// `u = s/|b| · sqrt(1/m + 1/n + (x₀ − x̄)²/Sxx)` for `m` observations (ISO/TS 28037:2010, clause 11.1 and annex E).
    /// `None` without observations, with one that is not finite, or for a level line.
    pub fn inverse(&self, observed: &[f64], u_y: Option<f64>) -> Option<Estimate> {
        if observed.is_empty() || self.slope == 0.0 || observed.iter().any(|y| !y.is_finite()) {
            return None;
        }
        let m = observed.len() as f64;
        let mean = observed.iter().sum::<f64>() / m;
        let value = (mean - self.intercept) / self.slope;
        let scatter = u_y.unwrap_or(self.residual_sd);
        let line = self.predict(value).u;
        let u = (scatter * scatter / m + line * line).sqrt() / self.slope.abs();
        (value.is_finite() && u.is_finite()).then_some(Estimate { value, u })
    }

    /// Factor that turns a standard uncertainty into a coverage interval's half width.
    pub fn coverage_factor(&self, confidence: f64) -> f64 {
        t_quantile(0.5 + 0.5 * confidence, self.u_dof())
    }
}

/// Ordinary least-squares line through points of equal, unknown uncertainty.
///
/// *Edges*: exact to about 1e-14 of the data for any offset, as both means are taken out first.
///
/// # Errors
/// Too few points (3 are needed for a scatter), equal `x`, lengths that differ, values that are not finite.
///
/// ```
/// use elbowroom::fit::fit_line;
/// let line = fit_line(&[1.0, 2.0, 3.0, 4.0], &[2.1, 3.9, 6.2, 7.8])?;
/// assert!((line.slope - 1.94).abs() < 1e-12);
/// assert!((line.predict(2.5).value - 5.0).abs() < 1e-12);
/// # Ok::<(), elbowroom::fit::FitError>(())
/// ```
///
/// *Source*: JCGM 100:2008 (GUM), annex H.3.
pub fn fit_line(x: &[f64], y: &[f64]) -> Result<LineFit, FitError> {
    weighted(x, y, None)
}

/// Least-squares line through points of known standard uncertainty `u_y`.
///
/// The uncertainties of the result come from `u_y` alone; [`LineFit::sum_of_squares`] is the observed chi-squared.
///
/// # Errors
/// As [`fit_line`], and uncertainties not above zero.
///
/// *Source*: ISO/TS 28037:2010, clause 6.
pub fn fit_line_weighted(x: &[f64], y: &[f64], u_y: &[f64]) -> Result<LineFit, FitError> {
    weighted(x, y, Some(u_y))
}

/// Least-squares line through the origin: `intercept` and its uncertainty are zero, R² is about zero, not the mean.
///
/// # Errors
/// As [`fit_line`].
pub fn fit_line_through_zero(x: &[f64], y: &[f64]) -> Result<LineFit, FitError> {
    check_points(x, y, 2)?;
    let points = || x.iter().zip(y);
    let (mut xx, mut xy, mut yy) = (0.0, 0.0, 0.0);
    for (x, y) in points() {
        xx += x * x;
        xy += x * y;
        yy += y * y;
    }
    let slope = xy / xx;
    let rss: f64 = points()
        .map(|(x, y)| {
            let r = y - slope * x;
            r * r
        })
        .sum();
    let dof = x.len() - 1;
    let variance = rss / dof as f64;
    Ok(LineFit {
        intercept: 0.0,
        slope,
        u_intercept: 0.0,
        u_slope: (variance / xx).sqrt(),
        covariance: 0.0,
        residual_sd: variance.sqrt(),
        dof,
        n: x.len(),
        r_squared: if yy > 0.0 { (1.0 - rss / yy).max(0.0) } else { 1.0 },
        sum_of_squares: rss,
        stated_u: false,
    })
}

/// Least-squares line through points of which both coordinates are uncertain, independently.
///
/// Minimises `Σ (y − a − b x)² / (u_y² + b² u_x²)`.
///
/// # Errors
/// As [`fit_line_weighted`]; [`FitError::NoAgreement`] where the iteration finds no rest.
///
/// *Source*: ISO/TS 28037:2010, clause 7; the iteration and the uncertainties are those of D. York et al., American
/// Journal of Physics 72 (2004) 367, for uncorrelated errors.
pub fn fit_line_both(x: &[f64], y: &[f64], u_x: &[f64], u_y: &[f64]) -> Result<LineFit, FitError> {
    /// Rounds; the change falls by a factor each round, seldom below 3.
    const ROUNDS: usize = 200;
    /// Relative change of the slope that is rounding.
    const SETTLED: f64 = 1e-15;
    check_weights(x, "u_x", u_x)?;
    let first = fit_line_weighted(x, y, u_y)?;
    let n = x.len();
    let points = || {
        x.iter()
            .zip(y)
            .zip(u_x.iter().zip(u_y))
            .map(|((&x, &y), (&u_x, &u_y))| (x, y, u_x * u_x, u_y * u_y))
    };
    let mut slope = first.slope;
    let mut settled = false;
    let mut line = first;
    for _ in 0..ROUNDS {
        let (mut sw, mut mx, mut my) = (0.0, 0.0, 0.0);
        for (x, y, vx, vy) in points() {
            let w = 1.0 / (vy + slope * slope * vx);
            sw += w;
            mx += w * x;
            my += w * y;
        }
        (mx, my) = (mx / sw, my / sw);
        let (mut top, mut bottom, mut mean) = (0.0, 0.0, 0.0);
        let adjusted = |x: f64, y: f64, vx: f64, vy: f64, w: f64| w * ((x - mx) * vy + slope * (y - my) * vx);
        for (x, y, vx, vy) in points() {
            let w = 1.0 / (vy + slope * slope * vx);
            let beta = adjusted(x, y, vx, vy, w);
            top += w * beta * (y - my);
            bottom += w * beta * (x - mx);
            mean += w * beta;
        }
        mean /= sw;
        let mut spread = 0.0;
        let mut chi_squared = 0.0;
        for (x, y, vx, vy) in points() {
            let w = 1.0 / (vy + slope * slope * vx);
            let off = adjusted(x, y, vx, vy, w) - mean;
            spread += w * off * off;
            let r = (y - my) - slope * (x - mx);
            chi_squared += w * r * r;
        }
        // Centre of the adjusted abscissae.
        let centre = mx + mean;
        let variance = 1.0 / spread;
        line = LineFit {
            intercept: my - slope * mx,
            slope,
            u_intercept: (1.0 / sw + centre * centre * variance).sqrt(),
            u_slope: variance.sqrt(),
            covariance: -centre * variance,
            residual_sd: if n > 2 {
                (chi_squared / (n - 2) as f64).sqrt()
            } else {
                0.0
            },
            sum_of_squares: chi_squared,
            ..first
        };
        if settled {
            break;
        }
        let next = top / bottom;
        settled = (next - slope).abs() <= SETTLED * next.abs();
        slope = next;
    }
    // The change may hover at the last bit: what counts is that it is small.
    if line.slope.is_finite() && line.u_slope.is_finite() && (line.slope - slope).abs() <= 1e-9 * slope.abs() {
        Ok(line)
    } else {
        Err(FitError::NoAgreement { agree: 0, given: n })
    }
}

fn check_weights(x: &[f64], what: &'static str, u: &[f64]) -> Result<(), FitError> {
    if u.len() != x.len() {
        return Err(FitError::LengthMismatch {
            what,
            given: u.len(),
            expected: x.len(),
        });
    }
    check_u(what, u)
}

/// Points of a line.
pub(super) fn check_points(x: &[f64], y: &[f64], needed: usize) -> Result<(), FitError> {
    check_columns(["x", "y"], x, y, needed)
}

/// Readings of a joint: the same, under their own names.
pub(super) fn check_readings(readings: &Readings<'_>, needed: usize) -> Result<(), FitError> {
    check_columns(["drive", "measured"], readings.drive, readings.measured, needed)?;
    readings.check()
}

/// The line of readings reached from both sides, midway between them, and the factor of the signs: half the lost motion.
///
/// Least squares of `y = a + b·x + m·s`; the line's uncertainties count `m` as found with it. `None` where the sides follow `x` too
/// closely to be told from it.
pub(super) fn line_between_sides(x: &[f64], y: &[f64], signs: &[f64]) -> Option<(LineFit, Estimate)> {
    let n = x.len() as f64;
    let mean = |values: &[f64]| values.iter().sum::<f64>() / n;
    let (mx, my, ms) = (mean(x), mean(y), mean(signs));
    let rows = || {
        let pairs = x.iter().zip(y).zip(signs);
        pairs.map(move |((x, y), s)| [x - mx, y - my, s - ms])
    };
    let sum = |of: &dyn Fn([f64; 3]) -> f64| rows().map(of).sum::<f64>();
    let [xx, xs, ss] = [
        sum(&|[x, _, _]| x * x),
        sum(&|[x, _, s]| x * s),
        sum(&|[_, _, s]| s * s),
    ];
    let [xy, sy] = [sum(&|[x, y, _]| x * y), sum(&|[_, y, s]| s * y)];
    let det = xx * ss - xs * xs;
    let dof = x.len().checked_sub(3).filter(|dof| *dof > 0)?;
    if det.is_nan() || det <= PIVOT_ROUNDING * xx * ss {
        return None;
    }
    let (slope, half) = ((ss * xy - xs * sy) / det, (xx * sy - xs * xy) / det);
    let rss = sum(&|[x, y, s]| (y - slope * x - half * s).powi(2));
    let total = sum(&|[_, y, s]| (y - half * s).powi(2));
    let variance = rss / dof as f64;
    let (v_slope, v_half, between) = (variance * ss / det, variance * xx / det, -variance * xs / det);
    let v_intercept = variance / n + mx * mx * v_slope + ms * ms * v_half + 2.0 * mx * ms * between;
    let line = LineFit {
        intercept: my - slope * mx - half * ms,
        slope,
        u_intercept: v_intercept.max(0.0).sqrt(),
        u_slope: v_slope.sqrt(),
        covariance: -(mx * v_slope + ms * between),
        residual_sd: variance.sqrt(),
        dof,
        n: x.len(),
        r_squared: if total > 0.0 { (1.0 - rss / total).max(0.0) } else { 1.0 },
        sum_of_squares: rss,
        stated_u: false,
    };
    let u = v_half.sqrt();
    Some((line, Estimate { value: half, u }))
}

fn check_columns([x_name, y_name]: [&'static str; 2], x: &[f64], y: &[f64], needed: usize) -> Result<(), FitError> {
    if y.len() != x.len() {
        return Err(FitError::LengthMismatch {
            what: y_name,
            given: y.len(),
            expected: x.len(),
        });
    }
    check_finite(x_name, x)?;
    check_finite(y_name, y)?;
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
        return Err(FitError::DriveAnglesEqual {
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
        check_weights(x, "u_y", u)?;
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

#[cfg(test)]
mod tests {
    use super::*;
    use std::vec;
    use std::vec::Vec;

    /// The cofactors of the normal equations of `y = a + b·x + m·s`, as they stand in every text on least squares.
    #[test]
    fn a_line_between_unequal_sides_has_the_uncertainties_of_its_normal_equations() {
        let x = [3.0, 5.0, 8.0, 11.0, 13.0, 17.0, 16.0, 9.0];
        let signs = [1.0, 1.0, 1.0, 1.0, 1.0, 1.0, -1.0, -1.0];
        let off = [0.02, -0.01, 0.03, -0.04, 0.01, 0.0, 0.02, -0.03];
        let y: Vec<f64> = (0..8).map(|i| 4.0 + 0.5 * x[i] + 0.3 * signs[i] + off[i]).collect();
        let (line, half) = line_between_sides(&x, &y, &signs).unwrap();
        let sum = |of: &dyn Fn(usize) -> f64| (0..8).map(of).sum::<f64>();
        let n = 8.0;
        let [sx, ss, xx, xs, sq] = [
            sum(&|i| x[i]),
            sum(&|i| signs[i]),
            sum(&|i| x[i] * x[i]),
            sum(&|i| x[i] * signs[i]),
            sum(&|i| signs[i] * signs[i]),
        ];
        let whole = n * (xx * sq - xs * xs) - sx * (sx * sq - xs * ss) + ss * (sx * xs - xx * ss);
        let rest = |i: usize| y[i] - line.intercept - line.slope * x[i] - half.value * signs[i];
        let variance = sum(&|i| rest(i) * rest(i)) / 5.0;
        let close =
            |got: f64, expected: f64| assert!((got - expected).abs() < 1e-9 * expected.abs(), "{got} {expected}");
        close(line.u_intercept.powi(2), variance * (xx * sq - xs * xs) / whole);
        close(line.u_slope.powi(2), variance * (n * sq - ss * ss) / whole);
        close(half.u.powi(2), variance * (n * xx - sx * sx) / whole);
        close(line.covariance, -variance * (sx * sq - xs * ss) / whole);
        // Residuals are square to every column.
        for of in [sum(&rest), sum(&|i| rest(i) * x[i]), sum(&|i| rest(i) * signs[i])] {
            assert!(of.abs() < 1e-12, "{of}");
        }
    }

    /// The mean of whole numbers near 2⁵⁰ is known exactly; their sum is not held by an `f64`.
    #[test]
    fn a_level_far_from_zero_keeps_its_digits() {
        let count = 1001;
        let x: Vec<f64> = (0..count).map(|i| f64::from(i - 500)).collect();
        let above: Vec<f64> = (0..count).map(|i| f64::from(i * i % 7)).collect();
        let far = 2f64.powi(50);
        let y: Vec<f64> = above.iter().map(|above| far + above).collect();
        let line = fit_line(&x, &y).unwrap();
        let mean = above.iter().sum::<f64>() / f64::from(count);
        assert!(
            (line.intercept - far - mean).abs() <= 0.25,
            "{} for {mean}",
            line.intercept - far
        );
        let [near, there] = [vec![0.0; 3], vec![5.0; 3]];
        assert!(fit_line(&near, &there).is_err());
    }
}
