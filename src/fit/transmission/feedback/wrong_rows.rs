//! Which rows of a feedback map are wrong: misread, or with the angles of two neighbours exchanged.

use super::super::curve::{MOST_KNOTS, curve_through, measured_size, rounding_floor, variance_at};
use super::super::sensor::Row;
use super::smooth::{MOST_DEGREE, Polynomial};
use super::{FeedbackFit, at};
use crate::curve::Curve;
use crate::fit::statistics::quantile::t_two_sided;
use crate::fit::statistics::resolution::step_of;
use crate::math::ln;
use std::vec::Vec;

/// At most one in so many readings is left out: where more lie off, it is not known which are right.
const ONE_LEFT_OUT_OF: usize = 8;
/// What leaving out one row, or taking two as exchanged, must gain, in logarithms of the number of rows: where none is wrong, the best
/// of so many gains about two by chance.
pub(super) const WORTH: f64 = 4.0;
/// Probability by chance, over all rows of a table, above which a row that lies off is not wrong.
const P_WRONG: f64 = 0.01;
/// Rows more than its numbers that show how closely a polynomial follows.
const LEAST_DOF: usize = 4;
/// The residual SD of a map or polynomial, in that of another which follows closer, up to which it follows as closely.
pub(super) const AS_CLOSE: f64 = 1.5;
/// Standard deviation of what rounding to a step leaves, in steps.
const ROUNDED: f64 = 0.29;
/// Part of the spacing of the rows that a step of the scale is at most.
const PART_OF_SPACING: f64 = 0.25;
/// So many rows are tried: beside a wrong one its neighbours seem wrong as well.
const SUSPECTS: usize = 3;
/// So many further ones are tried where the last gained nothing: one of two wrong rows may hide the other.
const PATIENCE: usize = 1;
/// How much closer each of two exchanged rows lies to the map with the other's angle.
const EXCHANGED: f64 = 0.25;

/// The rows that are worth leaving out, rising, at most one in [`ONE_LEFT_OUT_OF`], two exchanged ones counted as one.
///
/// A curve that bends enough reaches a wrong row near an end once the good one behind it is left out. So rows are left out of maps of
/// each number of knots apart, and compared with what they leave are the knots and the rows left out together: a straight map
/// without one row is preferred to a curve without three.
pub(super) fn rows_left_out(reading: &[f64], angle: &[f64], most_knots: usize) -> Vec<usize> {
    likeliest(reading, angle, most_knots).map_or_else(Vec::new, |one| one.left_out)
}

/// The map and the rows left out of it that explain a table best; None for rows too few to be judged.
pub(super) fn likeliest(reading: &[f64], angle: &[f64], most_knots: usize) -> Option<Selection> {
    if reading.len() < ONE_LEFT_OUT_OF {
        return None;
    }
    let tried = (2..=most_knots.min(MOST_KNOTS)).filter_map(|knots| selection(reading, angle, knots, 0));
    tried.min_by(|a, b| a.criterion.total_cmp(&b.criterion))
}

/// Whether a row lies further off than chance lets one of all rows lie, `kept` being those that its map goes through.
///
/// A row at an end is extrapolated. Knots do that badly where the sensor is bent, and a polynomial from angle to reading well: where one
/// follows the rows kept about as closely as the map and as those of other degrees do, it is asked.
pub(super) fn is_wrong(fit: &FeedbackFit, kept: &[usize], row: usize, reading: &[f64], angle: &[f64]) -> bool {
    let (Some(&r), Some(&a), Ok(curve)) = (reading.get(row), angle.get(row), fit.curve()) else {
        return true;
    };
    let (of_kept, to) = (at(kept, reading), at(kept, angle));
    let polynomials: Vec<Polynomial> = (1..=MOST_DEGREE)
        .filter_map(|degree| Polynomial::through(&to, &of_kept, degree))
        .filter(|polynomial| polynomial.dof >= LEAST_DOF)
        .collect();
    let least = polynomials.iter().map(|one| one.sd).fold(fit.residual_sd, f64::min);
    let polynomial = polynomials.iter().find(|one| one.sd <= AS_CLOSE * least);
    let rounded = scale_of(angle) * ROUNDED;
    let (t, dof) = match polynomial {
        Some(polynomial) => (polynomial.ratio(a, r, curve.at(r), rounded), polynomial.dof),
        None => {
            let variance = variance_at(&of_kept, fit.knots.len(), r).unwrap_or(0.0);
            let u = fit.residual_sd.max(rounded) * (1.0 + variance).sqrt();
            ((a - curve.at(r)) / u, fit.dof)
        }
    };
    t_two_sided(t, dof as f64) * (reading.len() as f64) < P_WRONG
}

/// The step of the angles' scale, a part of their spacing at most: angles that were set to whole tens have a step of ten.
pub(super) fn scale_of(angle: &[f64]) -> f64 {
    let range = measured_size(angle);
    let step = step_of(angle, range).unwrap_or(0.0);
    step.min(PART_OF_SPACING * range / angle.len() as f64)
}

/// Rows left out of a map of so many knots.
#[derive(Debug, Clone)]
pub(super) struct Selection {
    /// What is compared, lower is better: as by [`choose_transmission`](crate::fit::choose_transmission), and [`WORTH`] for each step.
    pub(super) criterion: f64,
    /// The rows that the map goes through.
    kept: Vec<usize>,
    /// The angles of all rows, those of exchanged ones put back.
    angle: Vec<f64>,
    /// Rows left out one at a time or as exchanged, and how many times that was done.
    left_out: Vec<usize>,
    steps: usize,
    curve: Curve<f64>,
}

/// One row left out, or two whose angles seem exchanged.
#[derive(Debug, Clone, Copy)]
enum Wrong {
    One(usize),
    Exchanged(usize, usize),
}

/// One after the other the row without which a map of so many knots leaves least, or two that seem exchanged, as far as that is worth it.
/// `beside` counts further numbers by which the angles were made.
pub(super) fn selection(reading: &[f64], angle: &[f64], knots: usize, beside: usize) -> Option<Selection> {
    let floor = rounding_floor(reading, angle);
    let with = |kept: Vec<usize>, angle: Vec<f64>, left_out: Vec<usize>, steps: usize| {
        let (of_kept, to) = (at(&kept, reading), at(&kept, &angle));
        let curve = curve_through(&of_kept, &to, knots)?;
        let sum: f64 = of_kept.iter().zip(&to).map(|(r, a)| (a - curve.at(*r)).powi(2)).sum();
        let (n, k) = (reading.len() as f64, (knots + beside) as f64);
        let room = (kept.len() as f64 - k - 2.0).max(0.5);
        let criterion = n * (ln((sum / n).max(floor)) + k * ln(n) / room) + WORTH * ln(n) * steps as f64;
        Some(Selection {
            criterion,
            kept,
            angle,
            left_out,
            steps,
            curve,
        })
    };
    let without = |from: &Selection, wrong: Wrong| {
        let Selection {
            mut kept,
            mut angle,
            mut left_out,
            steps,
            ..
        } = from.clone();
        match wrong {
            Wrong::One(row) => {
                kept.retain(|one| *one != row);
                left_out.push(row);
            }
            Wrong::Exchanged(one, other) => {
                angle.swap(one, other);
                left_out.extend([one, other]);
            }
        }
        let next = with(kept, angle, left_out, steps + 1)?;
        match wrong {
            Wrong::Exchanged(one, other) if !next.are_exchanged(reading, one, other) => None,
            _ => Some(next),
        }
    };
    let mut last = with((0..reading.len()).collect(), angle.to_vec(), Vec::new(), 0)?;
    let mut best = last.clone();
    for _ in 0..reading.len() / ONE_LEFT_OUT_OF {
        let tried = last
            .suspects(reading)
            .into_iter()
            .filter_map(|wrong| without(&last, wrong));
        let Some(next) = tried.min_by(|a, b| a.criterion.total_cmp(&b.criterion)) else {
            break;
        };
        last = next;
        if last.criterion < best.criterion {
            best = last.clone();
        } else if last.steps > best.steps + PATIENCE {
            break;
        }
    }
    best.left_out.sort_unstable();
    Some(best)
}

impl Selection {
    /// Standard deviation of the angles of the rows kept about the map.
    pub(super) fn sd(&self, reading: &[f64]) -> f64 {
        let (of_kept, to) = (at(&self.kept, reading), at(&self.kept, &self.angle));
        let sum: f64 = of_kept
            .iter()
            .zip(&to)
            .map(|(r, a)| (a - self.curve.at(*r)).powi(2))
            .sum();
        (sum / self.kept.len() as f64).sqrt()
    }

    /// What may be wrong: the rows furthest from the line through their neighbours by joint angle and from the map, and those at both
    /// ends; and neighbours by their readings whose angles go back.
    ///
    /// Two rows at one end are none: that is where the sensor bends.
    fn suspects(&self, reading: &[f64]) -> Vec<Wrong> {
        let mut rows: Vec<Row> = (self.kept.iter())
            .filter(|row| !self.left_out.contains(row))
            .filter_map(|&row| Some((*self.angle.get(row)?, *reading.get(row)?, row)))
            .collect();
        let back = exchanges(&mut rows, self.curve.is_rising());
        rows.sort_by(|a, b| a.0.total_cmp(&b.0));
        let between = rows.windows(3).filter_map(|three| {
            let &[(a0, r0, _), (a, r, row), (a1, r1, _)] = three else {
                return None;
            };
            let part = if a1 > a0 { (a - a0) / (a1 - a0) } else { 0.5 };
            Some(((r - (r0 + part * (r1 - r0))).abs(), row))
        });
        let off = rows
            .iter()
            .map(|&(angle, reading, row)| ((angle - self.curve.at(reading)).abs(), row));
        let mut suspects = furthest(between.collect());
        suspects.extend(furthest(off.collect()));
        let ends = [rows.first(), rows.last()].map(|end| end.map(|row| (row.0, row.2)));
        for (end, sign) in ends.into_iter().zip([-1.0, 1.0]) {
            let Some((angle, row)) = end else { continue };
            let is_outside = |other: &usize| {
                self.angle
                    .get(*other)
                    .is_some_and(|other| sign * (other - angle) >= 0.0)
            };
            suspects.retain(|one| *one != row);
            if !self.left_out.iter().any(is_outside) {
                suspects.push(row);
            }
        }
        suspects.sort_unstable();
        suspects.dedup();
        suspects.into_iter().map(Wrong::One).chain(back).collect()
    }

    /// Whether two rows lie much closer to the map, which was fitted with their angles exchanged, than with the angles given.
    fn are_exchanged(&self, reading: &[f64], one: usize, other: usize) -> bool {
        let off = |row: usize, of: usize| Some((self.angle.get(of)? - self.curve.at(*reading.get(row)?)).abs());
        let closer = |row, of| Some(off(row, row)? <= EXCHANGED * off(row, of)?);
        closer(one, other) == Some(true) && closer(other, one) == Some(true)
    }
}

/// The neighbours by reading whose angles go back furthest, where those of the others go up with `is_rising`.
fn exchanges(rows: &mut [Row], is_rising: bool) -> Vec<Wrong> {
    rows.sort_by(|a, b| a.1.total_cmp(&b.1));
    let mut back: Vec<(f64, Wrong)> = (rows.windows(2))
        .filter_map(|pair| {
            let &[(a, from, one), (b, to, other)] = pair else {
                return None;
            };
            let back = if is_rising { a - b } else { b - a };
            (back > 0.0 && to > from).then_some((back, Wrong::Exchanged(one, other)))
        })
        .collect();
    back.sort_by(|a, b| b.0.total_cmp(&a.0));
    back.into_iter().take(SUSPECTS).map(|(_, wrong)| wrong).collect()
}

/// Of rows with how far each lies off, those that do furthest.
fn furthest(mut off: Vec<(f64, usize)>) -> Vec<usize> {
    off.sort_by(|a, b| b.0.total_cmp(&a.0));
    off.into_iter().take(SUSPECTS).map(|(_, row)| row).collect()
}
