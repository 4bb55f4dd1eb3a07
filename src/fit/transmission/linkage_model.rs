//! A mechanism with free dimensions, and the least squares of readings about it.

use super::sides::Place;
use crate::fit::error::FitError;
use crate::fit::statistics::dense::{Matrix, add_outer, factor, inverse, solve};
use crate::linkage::Mechanism;
use std::vec::Vec;

/// Offset and gain, the most dimensions that any mechanism has, and lost motion.
pub(super) const P: usize = 8;
/// Steps of the search; a good start takes fewer than ten.
const STEPS: usize = 200;

/// The sides of the readings, and where lost motion is sought.
#[derive(Clone, Copy)]
pub(super) struct Sides<'a> {
    pub(super) signs: &'a [f64],
    pub(super) place: Place,
}

/// Parameters: offset and gain of the drive, then the free dimensions less their start, in units of [`Model::unit`], then half the
/// lost motion, if it is sought, in units of [`Model::half_unit`].
pub(super) struct Model<'a> {
    pub(super) drive: &'a [f64],
    pub(super) measured: &'a [f64],
    pub(super) start: &'a Mechanism,
    pub(super) free: &'a [&'static str],
    pub(super) sides: Option<Sides<'a>>,
}

impl Model<'_> {
    /// How many parameters there are.
    pub(super) fn used(&self) -> usize {
        self.free.len() + 2 + usize::from(self.sides.is_some())
    }

    /// What one unit of half the lost motion is: the range of the readings.
    pub(super) fn half_unit(&self) -> f64 {
        let [low, high] = extent(match self.sides.map(|sides| sides.place) {
            Some(Place::Drive) => self.drive,
            _ => self.measured,
        });
        high - low
    }

    /// Half the lost motion.
    pub(super) fn half(&self, v: &[f64; P]) -> f64 {
        v.get(self.free.len() + 2).copied().unwrap_or(0.0) * self.half_unit()
    }

    /// What one unit of the parameter of free dimension `i` is: a length's own start, the mechanism's first length if that is 0,
    /// or a radian.
    pub(super) fn unit(&self, i: usize) -> f64 {
        let name = self.free.get(i).copied().unwrap_or_default();
        match self.start.dimension(name) {
            Some(value) if self.start.is_length(name) && value != 0.0 => value.abs(),
            _ if self.start.is_length(name) => {
                let first = self
                    .start
                    .dimensions()
                    .first()
                    .and_then(|first| self.start.dimension(first));
                first.map_or(1.0, f64::abs)
            }
            _ => crate::math::DEG_PER_RAD,
        }
    }

    pub(super) fn value(&self, v: &[f64; P], i: usize) -> f64 {
        let name = self.free.get(i).copied().unwrap_or_default();
        let start = self.start.dimension(name).unwrap_or(f64::NAN);
        start + v.get(i + 2).copied().unwrap_or(0.0) * self.unit(i)
    }

    pub(super) fn mechanism(&self, v: &[f64; P]) -> Mechanism {
        let mut mechanism = *self.start;
        for (i, name) in self.free.iter().enumerate() {
            mechanism.set_dimension(name, self.value(v, i));
        }
        mechanism
    }

    /// Offset and gain of the starting mechanism, by a line through (movement, drive).
    fn first_guess(&self) -> [f64; P] {
        let moved: Vec<f64> = self.measured.iter().map(|y| self.start.moved(*y)).collect();
        let n = moved.len() as f64;
        let (mx, my) = (moved.iter().sum::<f64>() / n, self.drive.iter().sum::<f64>() / n);
        let (mut sxx, mut sxy) = (0.0, 0.0);
        for (x, y) in moved.iter().zip(self.drive) {
            sxx += (x - mx) * (x - mx);
            sxy += (x - mx) * (y - my);
        }
        let gain = sxy / sxx;
        let mut v = [0.0; P];
        let [offset, slope, ..] = &mut v;
        (*offset, *slope) = (my - gain * mx, gain);
        v
    }

    /// Residuals in measured units; none where the mechanism cannot be.
    fn residuals(&self, v: &[f64; P]) -> Option<Vec<f64>> {
        let [offset, gain, ..] = *v;
        let mechanism = self.mechanism(v);
        let one = |drive: f64, measured: f64| {
            let r = (drive - offset - gain * mechanism.moved(measured)) / (gain * mechanism.slope(measured));
            r.is_finite().then_some(r)
        };
        let pairs = self.drive.iter().zip(self.measured);
        let Some(Sides { signs, place }) = self.sides else {
            return pairs.map(|(drive, measured)| one(*drive, *measured)).collect();
        };
        let half = self.half(v);
        let midway = |((drive, measured), s): ((&f64, &f64), &f64)| match place {
            Place::Measured => one(*drive, measured - s * half),
            Place::Drive => one(drive + s * half, *measured),
        };
        pairs.zip(signs).map(midway).collect()
    }

    fn squares(&self, v: &[f64; P]) -> Option<f64> {
        let usable = self.free.iter().enumerate().all(|(i, name)| {
            let keeps_sign = self
                .start
                .dimension(name)
                .is_some_and(|start| start * self.value(v, i) > 0.0);
            !self.start.must_be_positive(name) || keeps_sign
        });
        usable.then(|| Some(self.residuals(v)?.iter().map(|r| r * r).sum()))?
    }

    /// Normal equations of one step: `JᵀJ` and `-Jᵀr`, by central differences.
    fn normal(&self, v: &[f64; P]) -> (Matrix<P>, [f64; P]) {
        let used = self.used();
        let [offset, gain, ..] = *v;
        let widths = [offset.abs().max(1.0), gain.abs(), 1.0];
        let columns: Vec<Option<Vec<f64>>> = (0..used)
            .map(|k| {
                let h = 1e-6 * widths.get(k).copied().unwrap_or(1.0);
                let moved = |by: f64| {
                    let mut w = *v;
                    if let Some(cell) = w.get_mut(k) {
                        *cell += by;
                    }
                    self.residuals(&w)
                };
                let (up, down) = (moved(h)?, moved(-h)?);
                Some(up.iter().zip(&down).map(|(u, d)| (u - d) / (2.0 * h)).collect())
            })
            .collect();
        let (mut normal, mut right) = ([[0.0; P]; P], [0.0; P]);
        let residuals = self.residuals(v).unwrap_or_default();
        for (i, r) in residuals.iter().enumerate() {
            let mut row = [0.0; P];
            for (cell, column) in row.iter_mut().zip(&columns) {
                *cell = column.as_ref().and_then(|c| c.get(i).copied()).unwrap_or(0.0);
            }
            add_outer(&mut normal, &row, 1.0, used);
            for (sum, cell) in right.iter_mut().zip(&row) {
                *sum -= cell * r;
            }
        }
        (normal, right)
    }

    /// The numbers with the least sum of squares, and that sum; none where the first guess reaches no reading.
    pub(super) fn least_squares(&self) -> Option<([f64; P], f64)> {
        let used = self.used();
        let mut v = self.first_guess();
        let mut squares = self.squares(&v)?;
        let mut damping = 1e-3;
        for _ in 0..STEPS {
            let (normal, right) = self.normal(&v);
            let mut damped = normal;
            for (k, row) in damped.iter_mut().enumerate() {
                if let Some(cell) = row.get_mut(k) {
                    *cell += damping * *cell + f64::MIN_POSITIVE;
                }
            }
            let step = factor(&damped, used).map(|l| solve(&l, &right, used));
            let tried = step.map(|step| {
                let mut next = v;
                next.iter_mut().zip(&step).for_each(|(v, s)| *v += s);
                next
            });
            match tried.and_then(|next| Some((next, self.squares(&next)?))) {
                Some((next, less)) if less <= squares => {
                    let gain = squares - less;
                    (v, squares) = (next, less);
                    damping = (damping * 0.2).max(1e-12);
                    if gain <= 1e-14 * squares {
                        break;
                    }
                }
                _ => {
                    damping *= 8.0;
                    if damping > 1e12 {
                        break;
                    }
                }
            }
        }
        Some((v, squares))
    }

    /// The covariance of the numbers at unit variance; an error names the number that the readings leave open.
    pub(super) fn covariance(&self, v: &[f64; P]) -> Result<Matrix<P>, FitError> {
        let used = self.used();
        let (normal, _) = self.normal(v);
        let factored = well_factored(&normal, used).map_err(|open| FitError::NotDetermined {
            name: ["offset", "gain"]
                .iter()
                .chain(self.free)
                .nth(open)
                .copied()
                .unwrap_or("lost motion"),
        })?;
        Ok(inverse(&factored, used))
    }
}

/// The factor of a matrix whose columns are first brought to one size; else the first column that all but depends on those before.
fn well_factored(normal: &Matrix<P>, used: usize) -> Result<Matrix<P>, usize> {
    let size: Vec<f64> = normal
        .iter()
        .enumerate()
        .map(|(k, row)| row.get(k).map_or(0.0, |v| v.sqrt()))
        .collect();
    let mut scaled = *normal;
    for (row, a) in scaled.iter_mut().zip(&size) {
        for (cell, b) in row.iter_mut().zip(&size) {
            *cell /= a * b;
        }
    }
    for k in 0..used {
        // Differences give the columns to some 1e-9: what is left below that is no information.
        let pivot = factor(&scaled, k + 1).and_then(|l| l.get(k)?.get(k).copied());
        if pivot.is_none_or(|pivot| pivot < 1e-6) {
            return Err(k);
        }
    }
    factor(normal, used).ok_or(used - 1)
}

/// The lowest and the highest of some numbers.
pub(super) fn extent(values: &[f64]) -> [f64; 2] {
    values
        .iter()
        .fold([f64::INFINITY, f64::NEG_INFINITY], |[low, high], &v| {
            [low.min(v), high.max(v)]
        })
}
