//! The cubic between two knots.

use crate::curve::error::CurveError;
use crate::real::Real;

/// Newton's steps before plain halving takes over. A smooth piece takes 3 to 5.
const NEWTON_STEPS: usize = 12;
/// Enough to halve the piece down to one unit of the grid, 2^-52 of its width.
const HALVINGS: usize = 53;

/// One knot: a place, the value there, and the slope there.
///
/// Three numbers in a row: what a firmware block stores, and all that the two pieces beside the knot depend on.
#[derive(Debug, Clone, Copy, PartialEq)]
#[repr(C)]
pub struct Knot<T> {
    /// Where the knot stands.
    pub x: T,
    /// The value there.
    pub y: T,
    /// The slope of the curve there.
    pub slope: T,
}

impl<T: Real> Knot<T> {
    /// A knot whose slope [`set_slopes`](crate::curve::set_slopes) will set.
    pub fn new(x: T, y: T) -> Self {
        Self { x, y, slope: T::zero() }
    }
}

/// The monotone cubic between two neighbouring knots, ready to evaluate: a pure function of the two.
///
/// Building one costs two or three divisions, evaluating it none. A curve in memory keeps its pieces; firmware builds
/// the one it needs from the knots in place, with the same operations and therefore the same bits.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Piece<T> {
    x0: T,
    x1: T,
    y0: T,
    y1: T,
    width: T,
    per_width: T,
    form: Form<T>,
}

/// The two ways of writing a monotone cubic with monotone operations; see the module's page.
#[derive(Debug, Clone, Copy, PartialEq)]
enum Form<T> {
    /// Running sums of the Bernstein polynomials.
    Sums { a: T, b: T, c: T },
    /// Around the place of least slope.
    Waist { at: T, y: T, slope: T, cube: T },
}

impl<T: Real> Piece<T> {
    /// The piece from knot `left`, which has the index `before`, to knot `right`, the next.
    ///
    /// Equal values are allowed here (the piece is flat); [`Curve`](crate::curve::Curve) refuses them.
    ///
    /// # Errors
    /// A [`CurveError`] if the places do not rise, the numbers are not finite, or the slopes make the piece turn.
    pub fn new(left: Knot<T>, right: Knot<T>, before: usize) -> Result<Self, CurveError> {
        let after = before.saturating_add(1);
        let finite = |values: [[T; 2]; 2]| {
            for (index, pair) in [before, after].into_iter().zip(values) {
                if let Some(value) = pair.into_iter().find(|value| !value.is_finite()) {
                    let value = value.to_wide();
                    return Err(CurveError::NotFinite { index, value });
                }
            }
            Ok(())
        };
        finite([[left.x, left.y], [right.x, right.y]])?;
        if left.x >= right.x {
            return Err(CurveError::PlacesNotRising {
                index: after,
                before: left.x.to_wide(),
                x: right.x.to_wide(),
            });
        }
        let step = Step::between(left, right).ok_or(CurveError::StepUnfit { before, after })?;
        finite([[left.slope; 2], [right.slope; 2]])?;
        Self::of_step(left, right, step).ok_or_else(|| CurveError::SlopeUnfit {
            before,
            after,
            left: left.slope.to_wide(),
            right: right.slope.to_wide(),
            mean: (step.rise / step.width).to_wide(),
        })
    }

    /// The piece, unless the slopes make it turn.
    fn of_step(left: Knot<T>, right: Knot<T>, step: Step<T>) -> Option<Self> {
        let three = T::one() + T::one() + T::one();
        let Step { width, rise, per_width } = step;
        // Rise of the two tangents over the whole width.
        let (p0, p1) = (left.slope * width, right.slope * width);
        let sign = if rise < T::zero() { -T::one() } else { T::one() };
        let fits = p0 * sign >= T::zero()
            && p1 * sign >= T::zero()
            && (p0 * sign).max(p1 * sign) <= (rise * sign) * (T::one() + three);
        if !fits {
            return None;
        }
        let (a, c) = (p0 / three, p1 / three);
        let b = rise - a - c;
        let form = if b * sign >= T::zero() {
            Form::Sums { a, b, c }
        } else {
            let cube = p0 + p1 - rise - rise;
            let fall = (p0 - rise) + (p0 - rise) + (p1 - rise);
            let at = fall / (three * cube);
            let least = p0 - fall * at;
            // Monotone but for rounding: the least slope of the limiting case is 0.
            let rounding = T::epsilon() * T::from_count(16) * rise * sign;
            if least * sign < -rounding {
                return None;
            }
            let slope = if least * sign > T::zero() { least } else { T::zero() };
            let y = left.y + at * (p0 + at * (at * cube - fall));
            Form::Waist { at, y, slope, cube }
        };
        Some(Self {
            x0: left.x,
            x1: right.x,
            y0: left.y,
            y1: right.y,
            width,
            per_width,
            form,
        })
    }

    /// The value at `x`; beyond the knots, that of the nearer knot. NaN gives NaN.
    #[inline]
    pub fn at(&self, x: T) -> T {
        if x <= self.x0 {
            self.y0
        } else if x >= self.x1 {
            self.y1
        } else {
            self.height(self.place(x))
        }
    }

    /// The slope of the curve at `x`; beyond the knots, that at the nearer knot. NaN gives NaN.
    #[inline]
    pub fn slope(&self, x: T) -> T {
        self.climb(hold(self.place(x), T::zero(), T::one())) * self.per_width
    }

    /// The least place where the piece has come to `y`; beyond its values, the nearer knot. NaN gives NaN.
    pub fn inverse(&self, y: T) -> T {
        if y == self.y0 || self.passes(self.y0, y) {
            return self.x0;
        }
        if y == self.y1 || !self.passes(self.y1, y) {
            return if y.is_nan() { y } else { self.x1 };
        }
        let t = self.least_place(y);
        hold(self.x0 + t * self.width, self.x0, self.x1)
    }

    /// The value at `x`, straight on with the piece's mean slope beyond its knots. NaN gives NaN.
    ///
    /// The mean slope and not the slope at the end, which may be 0: a straight line has a way back.
    #[inline]
    pub(crate) fn at_or_beyond(&self, x: T) -> T {
        if x < self.x0 {
            self.y0 + (x - self.x0) * self.mean_slope()
        } else if x > self.x1 {
            self.y1 + (x - self.x1) * self.mean_slope()
        } else {
            self.at(x)
        }
    }

    /// The way back of [`Piece::at_or_beyond`].
    pub(crate) fn inverse_or_beyond(&self, y: T) -> T {
        let rising = self.y0 < self.y1;
        if (y < self.y0) == rising && y != self.y0 {
            self.x0 + (y - self.y0) / self.mean_slope()
        } else if (y > self.y1) == rising && y != self.y1 {
            self.x1 + (y - self.y1) / self.mean_slope()
        } else {
            self.inverse(y)
        }
    }

    /// Rise over width between the knots.
    pub fn mean_slope(&self) -> T {
        (self.y1 - self.y0) / self.width
    }

    /// Whether `v` lies at or beyond `y` on the way from the left to the right knot.
    #[inline]
    fn passes(&self, v: T, y: T) -> bool {
        if self.y0 < self.y1 { v >= y } else { v <= y }
    }

    /// The least `t` on the grid with `height(t)` at or beyond `y`, which lies strictly between the knots' values.
    fn least_place(&self, y: T) -> T {
        let unit = T::epsilon();
        // Invariant: the height at `low` is short of y, that at `high` is not.
        let (mut low, mut high) = (T::zero(), T::one());
        let mut t = snap((y - self.y0) / (self.y1 - self.y0));
        let mut reach = unit;
        for _ in 0..NEWTON_STEPS {
            if high - low <= unit {
                return high;
            }
            if !(t > low && t < high) {
                t = snap((low + high) * T::HALF);
            }
            let v = self.height(t);
            let passed = self.passes(v, y);
            if passed {
                high = t;
            } else {
                low = t;
            }
            let next = snap(t + (y - v) / self.climb(t));
            // A step that does not leave t, or leads back out of the bracket, has arrived: probe on the other side.
            let arrived = (next - t).abs() <= unit || !(next > low && next < high);
            t = if !arrived {
                next
            } else if passed {
                t - reach
            } else {
                t + reach
            };
            if arrived {
                reach = reach + reach + reach + reach;
            }
        }
        for _ in 0..HALVINGS {
            if high - low <= unit {
                break;
            }
            let t = snap((low + high) * T::HALF);
            if self.passes(self.height(t), y) {
                high = t;
            } else {
                low = t;
            }
        }
        high
    }

    /// The place of an `x` within the piece, in [0, 1].
    #[inline]
    fn place(&self, x: T) -> T {
        let t = (x - self.x0) * self.per_width;
        if t > T::one() { T::one() } else { t }
    }

    /// The value at a place in [0, 1]: every operation monotone, see the module's page.
    #[inline]
    fn height(&self, t: T) -> T {
        let y = match self.form {
            Form::Sums { a, b, c } => {
                let u = T::one() - t;
                let near = if t <= u { t } else { u };
                let off = T::HALF - near;
                let product = T::HALF * T::HALF - off * off;
                let s = near * (near + (product + product));
                let s = if t <= u { s } else { T::one() - s };
                self.y0 + (a * (T::one() - u * u * u) + b * s + c * (t * t * t))
            }
            Form::Waist { at, y, slope, cube } => {
                let w = t - at;
                y + (slope * w + cube * (w * w * w))
            }
        };
        if self.y0 <= self.y1 {
            hold(y, self.y0, self.y1)
        } else {
            hold(y, self.y1, self.y0)
        }
    }

    /// The rise per unit of `t` at a place in [0, 1].
    #[inline]
    fn climb(&self, t: T) -> T {
        let three = T::one() + T::one() + T::one();
        match self.form {
            Form::Sums { a, b, c } => {
                let u = T::one() - t;
                three * (a * u * u + (b + b) * (t * u) + c * t * t)
            }
            Form::Waist { at, slope, cube, .. } => {
                let w = t - at;
                slope + three * cube * (w * w)
            }
        }
    }
}

/// What the two knots of a piece have between them.
#[derive(Clone, Copy)]
struct Step<T> {
    width: T,
    rise: T,
    per_width: T,
}

impl<T: Real> Step<T> {
    /// None where the number type cannot hold these numbers, or a product of them by 16.
    fn between(left: Knot<T>, right: Knot<T>) -> Option<Self> {
        let (width, rise) = (right.x - left.x, right.y - left.y);
        let per_width = width.recip();
        let mean = rise / width;
        let fits = width.is_finite()
            && per_width.is_finite()
            && (rise * T::from_count(16)).is_finite()
            && mean.is_finite()
            && ((mean == T::zero()) == (rise == T::zero()));
        fits.then_some(Self { width, rise, per_width })
    }
}

/// `x` held between two ends; NaN stays.
#[inline]
fn hold<T: Real>(x: T, lower: T, upper: T) -> T {
    if x < lower {
        lower
    } else if x > upper {
        upper
    } else {
        x
    }
}

/// The nearest multiple of one unit of precision, for numbers in [0, 1]: adding 1 rounds to that grid.
#[inline]
fn snap<T: Real>(t: T) -> T {
    (T::one() + t) - T::one()
}
