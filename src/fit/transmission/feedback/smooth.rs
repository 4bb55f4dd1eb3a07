//! A polynomial from joint angle to reading, which a bent sensor of few rows follows closer than any knots, and beyond its rows as well.

use super::super::curve::measured_size;
use crate::fit::statistics::dense::{Matrix, add_outer, dot, factor, inverse, quadratic, solve};

/// The highest degree.
pub(super) const MOST_DEGREE: usize = 3;
/// Rounds that bring an angle to that at which the polynomial has a reading; from the map's angle a few are enough.
const NEWTON: usize = 6;
/// The least slope, as a share of the mean slope: less is an end of the sensor, or the polynomial's own.
const LEAST_SLOPE: f64 = 0.2;
/// Numbers of a polynomial.
const P: usize = MOST_DEGREE + 1;

/// A polynomial from angle to reading, the scatter being that of the angles.
pub(super) struct Polynomial {
    /// Middle and half of the range of the angles.
    middle: f64,
    half: f64,
    coefficients: [f64; P],
    covariance: Matrix<P>,
    degree: usize,
    /// The least slope that is believed, reading per half range.
    least: f64,
    /// Standard deviation of the angles, deg.
    pub(super) sd: f64,
    pub(super) dof: usize,
}

impl Polynomial {
    /// By least squares, weighted by the slope; None where the rows do not determine it.
    pub(super) fn through(angle: &[f64], reading: &[f64], degree: usize) -> Option<Self> {
        let used = degree + 1;
        let dof = angle.len().checked_sub(used).filter(|dof| *dof > 0)?;
        let low = angle.iter().copied().fold(f64::INFINITY, f64::min);
        let half = 0.5 * measured_size(angle);
        let mut found = Self {
            middle: low + half,
            half,
            coefficients: [0.0; P],
            covariance: [[0.0; P]; P],
            degree,
            least: LEAST_SLOPE * mean_slope(angle, reading)? * half,
            sd: f64::NAN,
            dof,
        };
        for is_weighted in [false, true] {
            let (mut normal, mut right): (Matrix<P>, [f64; P]) = ([[0.0; P]; P], [0.0; P]);
            let before = is_weighted.then_some(found.coefficients);
            let weight = |found: &Self, angle| before.map_or(1.0, |_| found.slope(angle).powi(-2));
            for (&angle, &reading) in angle.iter().zip(reading) {
                let (row, weight) = (found.row(angle), weight(&found, angle));
                add_outer(&mut normal, &row, weight, used);
                right
                    .iter_mut()
                    .zip(row)
                    .for_each(|(sum, part)| *sum += weight * part * reading);
            }
            let factor = factor(&normal, used)?;
            let next = solve(&factor, &right, used);
            let sum: f64 = (angle.iter().zip(reading))
                .map(|(&angle, reading)| weight(&found, angle) * (reading - dot(&found.row(angle), &next)).powi(2))
                .sum();
            found.coefficients = next;
            found.covariance = inverse(&factor, used);
            found.sd = (sum / dof as f64).sqrt() * found.half;
        }
        Some(found)
    }

    /// Powers of an angle.
    fn row(&self, angle: f64) -> [f64; P] {
        let x = (angle - self.middle) / self.half;
        let mut row = [0.0; P];
        row.iter_mut().take(self.degree + 1).fold(1.0, |power, cell| {
            *cell = power;
            power * x
        });
        row
    }

    /// Reading per half range of the angles.
    fn slope(&self, angle: f64) -> f64 {
        let row = self.row(angle);
        let of = |(k, (power, coefficient)): (usize, (&f64, &f64))| (k + 1) as f64 * power * coefficient;
        let slope: f64 = row
            .iter()
            .zip(self.coefficients.iter().skip(1))
            .enumerate()
            .map(of)
            .sum();
        if slope * self.least > self.least * self.least {
            slope
        } else {
            self.least
        }
    }

    /// How many standard uncertainties a row that the polynomial does not know lies off, the angles scattering by no less than `least_sd`.
    ///
    /// Asked at the angle where the polynomial has the reading, found from one near it: what it has at a wrong angle beyond its rows is
    /// uncertain by as much as the row is off.
    pub(super) fn ratio(&self, angle: f64, reading: f64, near: f64, least_sd: f64) -> f64 {
        let (mut expected, furthest) = (near, 2.0 * self.half);
        for _ in 0..NEWTON {
            let off = (reading - dot(&self.row(expected), &self.coefficients)) / self.slope(expected) * self.half;
            expected = (expected + off).max(self.middle - furthest).min(self.middle + furthest);
        }
        let variance = quadratic(&self.covariance, &self.row(expected)) / self.slope(expected).powi(2);
        (angle - expected) / (self.sd.max(least_sd) * (1.0 + variance).sqrt())
    }
}

/// The standard deviation of the angles about a polynomial of some degree, at most 3, from angle to reading, which a bent sensor of few
/// rows follows closer than any knots; None for rows that do not determine it.
pub(super) fn smooth_sd(reading: &[f64], angle: &[f64], degree: usize) -> Option<f64> {
    Polynomial::through(angle, reading, degree.min(MOST_DEGREE)).map(|polynomial| polynomial.sd)
}

/// Reading per deg by least squares.
fn mean_slope(angle: &[f64], reading: &[f64]) -> Option<f64> {
    let n = angle.len() as f64;
    let (a, r) = (angle.iter().sum::<f64>() / n, reading.iter().sum::<f64>() / n);
    let spread: f64 = angle.iter().map(|angle| (angle - a) * (angle - a)).sum();
    let both: f64 = angle
        .iter()
        .zip(reading)
        .map(|(angle, reading)| (angle - a) * (reading - r))
        .sum();
    Some(both / spread).filter(|slope| slope.is_finite() && *slope != 0.0)
}
