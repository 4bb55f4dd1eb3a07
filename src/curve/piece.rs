//! The cubic between two knots.

use crate::error::CurveError;
use crate::real::Real;

/// Newton's steps before plain halving takes over. A smooth piece takes 3 to 5.
const NEWTON_STEPS: usize = 12;
/// Enough to halve one half of a piece down to one unit of the grid, 2^-52 of the piece's width.
const HALVINGS: usize = 52;

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
/// Building one costs four divisions, evaluating it none. A curve in memory keeps its halves; firmware builds the piece
/// it needs from the knots in place, with the same operations and therefore the same bits.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Piece<T> {
    left: Half<T>,
    right: Half<T>,
    /// From here on the right half is used.
    middle: T,
    width: T,
}

/// One half of a piece, written from its knot inwards; see the module's page.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Half<T> {
    /// The knot: place and value.
    x: T,
    y: T,
    /// One over the piece's width, negative in a right half.
    scale: T,
    /// What the three rising terms are multiplied by, all of one sign.
    out: T,
    bend: T,
    cube: T,
    /// The least and the greatest value of this half.
    low: T,
    high: T,
}

impl<T: Real> Piece<T> {
    /// The piece from knot `left`, which has the index `before`, to knot `right`, the next.
    ///
    /// Equal values are allowed here (the piece is flat); [`CurveView`](crate::curve::CurveView) refuses them.
    ///
    /// # Errors
    /// A [`CurveError`] if the places do not rise, a number is not finite, or a slope is not within 0 to 3 times the mean
    /// slope between the knots. Within that square every cubic is monotone (Fritsch and Carlson 1980).
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
        let step = Step::between(left, right).ok_or(CurveError::StepInvalid { before, after })?;
        finite([[left.slope; 2], [right.slope; 2]])?;
        Self::of_step(left, right, step).ok_or_else(|| CurveError::SlopeInvalid {
            before,
            after,
            left: left.slope.to_wide(),
            right: right.slope.to_wide(),
            mean: (step.rise / step.width).to_wide(),
        })
    }

    /// The piece, if there is one: as [`Piece::new`], without saying what is wrong.
    // Never inlined, as is the step on it below: firmware has room for one copy.
    #[inline(never)]
    pub(crate) fn of_knots(left: Knot<T>, right: Knot<T>) -> Option<Self> {
        if left.x < right.x {
            Self::of_step(left, right, Step::between(left, right)?)
        } else {
            None
        }
    }

    /// The piece, unless a slope is out of its square.
    fn of_step(left: Knot<T>, right: Knot<T>, step: Step<T>) -> Option<Self> {
        let most = T::from_count(3) * step.rise;
        let fits = |knot: Knot<T>| is_in_square(knot.slope * step.width, most);
        if !fits(left) || !fits(right) {
            return None;
        }
        let frame = Frame::of_checked([left, right], [step.width, step.rise]);
        Some(Self {
            left: frame.half(left, step.per_width, false),
            right: frame.half(right, step.per_width, true),
            middle: frame.middle,
            width: step.width,
        })
    }

    /// The value at `x`; beyond the knots, that of the nearer knot. NaN gives NaN.
    #[inline]
    pub fn at(&self, x: T) -> T {
        let inside = hold(x, self.left.x, self.right.x);
        self.half(inside).at(inside)
    }

    /// The slope of the curve at `x`; beyond the knots, that at the nearer knot. NaN gives NaN.
    #[inline]
    pub fn slope(&self, x: T) -> T {
        let inside = hold(x, self.left.x, self.right.x);
        self.half(inside).slope(inside)
    }

    /// The place where the piece has come to `y`; beyond its values, the nearer knot. NaN gives NaN.
    pub fn inverse(&self, y: T) -> T {
        self.inverse_after(y, NEWTON_STEPS)
    }

    /// The inverse, after at most so many of Newton's steps before plain halving: the bits do not depend on it.
    #[inline]
    fn inverse_after(&self, y: T, newton_steps: usize) -> T {
        let (left, right) = (&self.left, &self.right);
        let rising = left.y < right.y;
        if y.is_nan() {
            return y;
        }
        if passes(left.y, y, rising) {
            return left.x;
        }
        if y == right.y || !passes(right.y, y, rising) {
            return right.x;
        }
        if passes(left.height(T::HALF), y, rising) {
            let t = left.least_place(y, rising, true, newton_steps);
            hold(left.x + t * self.width, left.x, self.middle)
        } else {
            // The last place, counted from the right, that still passes: one unit before the first that does not.
            let t = right.least_place(y, rising, false, newton_steps) - T::epsilon();
            hold(right.x - t * self.width, self.middle, right.x)
        }
    }

    /// The way back of [`at_or_beyond`].
    pub(crate) fn inverse_or_beyond(&self, y: T) -> T {
        self.inverse_or_beyond_after(y, NEWTON_STEPS)
    }

    /// The same bits by halving alone: less code and more time, for firmware.
    #[inline(never)]
    pub(crate) fn inverse_or_beyond_by_halving(&self, y: T) -> T {
        self.inverse_or_beyond_after(y, 0)
    }

    #[inline]
    fn inverse_or_beyond_after(&self, y: T, newton_steps: usize) -> T {
        let (left, right) = (&self.left, &self.right);
        let rising = left.y < right.y;
        if y != left.y && (y < left.y) == rising {
            left.x + (y - left.y) / self.mean_slope()
        } else if y != right.y && (y > right.y) == rising {
            right.x + (y - right.y) / self.mean_slope()
        } else {
            self.inverse_after(y, newton_steps)
        }
    }

    /// Rise over width between the knots.
    pub fn mean_slope(&self) -> T {
        (self.right.y - self.left.y) / self.width
    }

    /// Where the right half begins, and the halves.
    #[cfg(feature = "std")]
    pub(crate) fn halves(&self) -> (T, [Half<T>; 2]) {
        (self.middle, [self.left, self.right])
    }

    #[inline]
    fn half(&self, x: T) -> &Half<T> {
        if x >= self.middle { &self.right } else { &self.left }
    }
}

/// The value at `x` between two knots that [`Piece::of_knots`] takes, straight on with their mean slope beyond them. NaN
/// gives NaN.
///
/// The mean slope and not the slope at the end, which may be 0: a straight line has a way back. What `Piece` builds and
/// checks is not built and checked again: one half is enough, of knots that were looked at before.
#[inline(never)]
pub(crate) fn at_or_beyond<T: Real>(left: &Knot<T>, right: &Knot<T>, x: T) -> T {
    let (width, rise) = (right.x - left.x, right.y - left.y);
    if x < left.x {
        return left.y + (x - left.x) * (rise / width);
    }
    if x > right.x {
        return right.y + (x - right.x) * (rise / width);
    }
    let frame = Frame::of_checked([*left, *right], [width, rise]);
    let is_right = x >= frame.middle;
    frame
        .half(if is_right { *right } else { *left }, width.recip(), is_right)
        .at(x)
}

/// What both halves of a piece are made of.
struct Frame<T> {
    /// What the two tangents rise over the whole width, and three times what the piece does.
    tangents: [T; 2],
    most: T,
    middle: T,
    middle_y: T,
}

impl<T: Real> Frame<T> {
    /// Of knots whose slopes are in their square, but for rounding.
    #[inline]
    fn of_checked([left, right]: [Knot<T>; 2], [width, rise]: [T; 2]) -> Self {
        let most = T::from_count(3) * rise;
        let [lower, upper] = square(most);
        let (p0, p1) = (
            hold(left.slope * width, lower, upper),
            hold(right.slope * width, lower, upper),
        );
        let middle = left.x + width * T::HALF;
        let middle_y = left.y + (rise * T::HALF + (p0 - p1) * (T::HALF * T::HALF * T::HALF));
        Self {
            tangents: [p0, p1],
            most,
            middle: if middle > left.x { middle } else { right.x },
            middle_y: if rise < T::zero() {
                hold(middle_y, right.y, left.y)
            } else {
                hold(middle_y, left.y, right.y)
            },
        }
    }

    /// The half that begins at `knot`, the right one counted backwards.
    #[inline]
    fn half(&self, knot: Knot<T>, per_width: T, is_right: bool) -> Half<T> {
        let three = T::from_count(3);
        let [p0, p1] = self.tangents;
        let (own, other) = if is_right { (p1, p0) } else { (p0, p1) };
        let turned = |x: T| if is_right { -x } else { x };
        Half {
            x: knot.x,
            y: knot.y,
            scale: turned(per_width),
            out: turned(own * T::from_count(4) / three),
            bend: turned(self.most - other),
            cube: turned((self.most - own) / three),
            low: if knot.y < self.middle_y { knot.y } else { self.middle_y },
            high: if knot.y < self.middle_y { self.middle_y } else { knot.y },
        }
    }
}

impl<T: Real> Half<T> {
    /// The value at an `x` within this half. NaN gives NaN.
    #[inline]
    pub(crate) fn at(&self, x: T) -> T {
        self.height(self.place(x))
    }

    /// The slope at an `x` within this half. NaN gives NaN.
    #[inline]
    fn slope(&self, x: T) -> T {
        self.climb(self.place(x)) * self.scale
    }

    /// How far `x` is from the knot, in widths of the piece: 0 to one half.
    #[inline]
    pub(super) fn place(&self, x: T) -> T {
        let t = (x - self.x) * self.scale;
        if t > T::HALF { T::HALF } else { t }
    }

    /// The value at a place: every operation monotone, see the module's page.
    #[inline]
    fn height(&self, t: T) -> T {
        self.with_last_term(self.first_terms(t), t)
    }

    #[inline]
    pub(super) fn first_terms(&self, t: T) -> T {
        let quarter = T::HALF * T::HALF;
        let d = T::HALF - t;
        let q = d * d;
        let out = quarter * T::HALF - d * q;
        let bend = t * (quarter - q);
        self.out * out + self.bend * bend
    }

    #[inline]
    pub(super) fn with_last_term(&self, first_terms: T, t: T) -> T {
        let cube = t * t * t;
        hold(self.y + (first_terms + self.cube * cube), self.low, self.high)
    }

    /// The rise per unit of `t`.
    #[inline]
    fn climb(&self, t: T) -> T {
        let three = T::from_count(3);
        let d = T::HALF - t;
        three * (self.out * (d * d) + self.cube * (t * t)) + self.bend * (t * (T::one() + T::one() - three * t))
    }

    /// The least place on the grid whose height passes `y`, or no longer does; the knot's own does not (or does), that of
    /// one half does (or does not).
    #[inline]
    fn least_place(&self, y: T, rising: bool, passing: bool, newton_steps: usize) -> T {
        let unit = T::epsilon();
        let beyond = |v: T| passes(v, y, rising) == passing;
        let (mut low, mut high) = (T::zero(), T::HALF);
        let mut t = snap((y - self.y) / (self.out + self.bend + self.cube) * T::from_count(4));
        let mut reach = unit;
        for _ in 0..newton_steps {
            if high - low <= unit {
                return high;
            }
            if !(t > low && t < high) {
                t = snap((low + high) * T::HALF);
            }
            let v = self.height(t);
            let is_beyond = beyond(v);
            if is_beyond {
                high = t;
            } else {
                low = t;
            }
            let next = snap(t + (y - v) / self.climb(t));
            // A step that does not leave t, or leads back out of the bracket, has arrived: probe on the other side.
            let arrived = (next - t).abs() <= unit || !(next > low && next < high);
            if !arrived {
                t = next;
            } else {
                t = if is_beyond { t - reach } else { t + reach };
                reach = reach * T::from_count(4);
            }
        }
        for _ in 0..HALVINGS {
            if high - low <= unit {
                break;
            }
            let t = snap((low + high) * T::HALF);
            if beyond(self.height(t)) {
                high = t;
            } else {
                low = t;
            }
        }
        high
    }
}

/// Whether `v` lies at or beyond `y` on the way from the left to the right knot.
#[inline]
fn passes<T: Real>(v: T, y: T, rising: bool) -> bool {
    if rising { v >= y } else { v <= y }
}

/// 0 and `most`, which may be negative, in rising order.
#[inline]
fn square<T: Real>(most: T) -> [T; 2] {
    if most < T::zero() {
        [most, T::zero()]
    } else {
        [T::zero(), most]
    }
}

/// Whether `p` lies between 0 and `most`, but for rounding.
fn is_in_square<T: Real>(p: T, most: T) -> bool {
    let slack = (T::epsilon() * T::from_count(4) * most).abs();
    let [lower, upper] = square(most);
    p >= lower - slack && p <= upper + slack
}

/// What the two knots of a piece have between them.
#[derive(Clone, Copy)]
struct Step<T> {
    width: T,
    rise: T,
    per_width: T,
}

impl<T: Real> Step<T> {
    /// None where the number type cannot hold these numbers, or a product of the rise by 16.
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
    // One after the other: a maximum and a minimum, and no branch.
    let x = if x < lower { lower } else { x };
    if x > upper { upper } else { x }
}

/// The nearest multiple of one unit of precision, for numbers in [0, 1]: adding 1 rounds to that grid.
#[inline]
fn snap<T: Real>(t: T) -> T {
    (T::one() + t) - T::one()
}
