//! Polynomials by least squares: to see a bend, and to check a curve's knots against readings.

use super::dense::{Matrix, dot};
use super::orthogonal::inner;
use crate::fit::error::FitError;
use crate::fit::line::check_points;
use std::vec::Vec;

/// Highest degree.
const MOST_DEGREE: usize = 5;
const P: usize = MOST_DEGREE + 1;

/// A least-squares polynomial with its uncertainties.
#[derive(Debug, Clone, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
#[non_exhaustive]
pub struct PolynomialFit {
    /// Coefficients of 1, x, x² …
    pub coefficients: Vec<f64>,
    /// Their standard uncertainties.
    pub u: Vec<f64>,
    /// Standard deviation of the points about the polynomial.
    pub residual_sd: f64,
    /// Points less coefficients.
    pub dof: usize,
    /// Share of the variance that it explains.
    pub r_squared: f64,
    /// Sum of squared residuals.
    pub sum_of_squares: f64,
}

/// Least-squares polynomial of `degree` 1 to 5 by orthogonal columns (Gram–Schmidt, each column cleaned twice), which
/// keeps the digits that normal equations lose.
///
/// # Errors
/// As [`fit_line`](crate::fit::fit_line); a degree outside 1 to 5; as many points as coefficients or fewer; too few different
/// x.
pub fn fit_polynomial(x: &[f64], y: &[f64], degree: usize) -> Result<PolynomialFit, FitError> {
    if degree == 0 || degree > MOST_DEGREE {
        return Err(FitError::OptionOutside {
            what: "degree",
            value: degree as f64,
            lower: 1.0,
            upper: MOST_DEGREE as f64,
        });
    }
    let p = degree + 1;
    check_points(x, y, p + 1)?;
    // Powers of x over its largest size: no column is large.
    let scale = x.iter().fold(0.0, |most: f64, v| most.max(v.abs()));
    let mut q: [Vec<f64>; P] = Default::default();
    let mut r: Matrix<P> = [[0.0; P]; P];
    let mut column: Vec<f64> = x.iter().map(|_| 1.0).collect();
    for k in 0..p {
        let mut clean = column.clone();
        let before = norm(&clean);
        for _ in 0..2 {
            for (j, other) in q.iter().enumerate().take(k) {
                let part = inner(other, &clean);
                for (value, o) in clean.iter_mut().zip(other) {
                    *value -= part * o;
                }
                if let Some(cell) = r.get_mut(j).and_then(|row| row.get_mut(k)) {
                    *cell += part;
                }
            }
        }
        let length = norm(&clean);
        // A column within rounding of the others: fewer different x than coefficients.
        if length <= 1e-13 * before {
            let mut sorted = x.to_vec();
            sorted.sort_by(f64::total_cmp);
            let (lower, upper) = (
                sorted.first().copied().unwrap_or_default(),
                sorted.last().copied().unwrap_or_default(),
            );
            sorted.dedup();
            return Err(FitError::DriveAnglesEqual {
                distinct: sorted.len(),
                needed: p.max(sorted.len() + 1),
                lower,
                upper,
            });
        }
        for value in &mut clean {
            *value /= length;
        }
        if let Some(cell) = r.get_mut(k).and_then(|row| row.get_mut(k)) {
            *cell = length;
        }
        if let Some(place) = q.get_mut(k) {
            *place = clean;
        }
        for (value, x) in column.iter_mut().zip(x) {
            *value *= x / scale;
        }
    }
    // Two rounds: the second fits what rounding left.
    let mut c = [0.0; P];
    let mut rest = y.to_vec();
    for _ in 0..2 {
        let mut left = rest.clone();
        let mut parts = [0.0; P];
        for (part, column) in parts.iter_mut().zip(&q).take(p) {
            *part = inner(column, &left);
            for (value, o) in left.iter_mut().zip(column) {
                *value -= *part * o;
            }
        }
        let step = back_substitute(&r, &parts, p);
        for (value, add) in c.iter_mut().zip(&step) {
            *value += add;
        }
        for ((rest, x), y) in rest.iter_mut().zip(x).zip(y) {
            let z = x / scale;
            *rest = y - c.iter().rev().fold(0.0, |sum, c| sum * z + c);
        }
    }
    let sum_of_squares = inner(&rest, &rest);
    let n = x.len();
    let dof = n - p;
    let variance = sum_of_squares / dof as f64;
    let mean = y.iter().sum::<f64>() / n as f64;
    let total: f64 = y.iter().map(|v| (v - mean) * (v - mean)).sum();
    // Rows of the inverse of R: the covariance is R⁻¹ R⁻ᵀ.
    let mut inverse: Matrix<P> = [[0.0; P]; P];
    for k in 0..p {
        let mut unit = [0.0; P];
        if let Some(cell) = unit.get_mut(k) {
            *cell = 1.0;
        }
        for (row, value) in inverse.iter_mut().zip(back_substitute(&r, &unit, p)) {
            if let Some(cell) = row.get_mut(k) {
                *cell = value;
            }
        }
    }
    let mut power = 1.0;
    let mut coefficients = Vec::with_capacity(p);
    let mut u = Vec::with_capacity(p);
    for (c, row) in c.iter().zip(&inverse).take(p) {
        coefficients.push(c / power);
        u.push((variance * dot(row, row)).sqrt() / power);
        power *= scale;
    }
    Ok(PolynomialFit {
        coefficients,
        u,
        residual_sd: variance.sqrt(),
        dof,
        r_squared: if total > 0.0 {
            (1.0 - sum_of_squares / total).max(0.0)
        } else {
            1.0
        },
        sum_of_squares,
    })
}

fn norm(a: &[f64]) -> f64 {
    inner(a, a).sqrt()
}

/// Solves `R x = b` for an upper triangle.
fn back_substitute(r: &Matrix<P>, b: &[f64; P], p: usize) -> [f64; P] {
    let mut x = [0.0; P];
    for (i, row) in r.iter().enumerate().take(p).rev() {
        let known = dot(row, &x);
        let (Some(cell), Some(b), Some(pivot)) = (x.get_mut(i), b.get(i), row.get(i)) else {
            continue;
        };
        *cell = (b - known) / pivot;
    }
    x
}
