//! A curve that owns its knots.

use std::vec::Vec;

use crate::curve::many::{BLOCK, all_before, any_beyond, in_each, in_one};
use crate::curve::piece::{Half, Knot, Piece};
use crate::curve::search::Search;
use crate::curve::slopes::{SlopeRule, set_slopes};
use crate::curve::view::CurveView;
use crate::error::CurveError;
use crate::real::Real;

/// A strictly monotone curve through knots that it owns.
///
/// ```
/// use elbowroom::curve::{Curve, SlopeRule};
/// let curve = Curve::new(&[[0.0, 80.0], [60.0, 49.0], [120.0, 24.0], [180.0, 5.0]], SlopeRule::Parabola)?;
/// assert_eq!(curve.at(60.0), 49.0);
/// assert_eq!(curve.inverse(5.0), 180.0);
/// assert!(curve.slope(90.0) < 0.0);
/// # Ok::<(), elbowroom::curve::CurveError>(())
/// ```
#[derive(Debug, Clone, PartialEq)]
pub struct Curve<T> {
    knots: Vec<Knot<T>>,
    /// First and last place.
    ends: [T; 2],
    halves: Vec<Half<T>>,
    search: Search<T>,
}

impl<T: Real> Curve<T> {
    /// The curve through points `[place, value]`, with slopes by `rule`.
    ///
    /// # Errors
    /// A [`CurveError`]: fewer than 2 points, a number that is not finite, places that do not rise, or values that do not
    /// all rise or all fall.
    pub fn new(points: &[[T; 2]], rule: SlopeRule) -> Result<Self, CurveError> {
        let mut knots: Vec<Knot<T>> = points.iter().map(|&[x, y]| Knot::new(x, y)).collect();
        set_slopes(&mut knots, rule);
        Self::with_slopes(knots)
    }

    /// The curve through knots whose slopes are given.
    ///
    /// # Errors
    /// As [`CurveView::new`].
    pub fn with_slopes(knots: Vec<Knot<T>>) -> Result<Self, CurveError> {
        CurveView::new(&knots)?;
        let mut halves = Vec::with_capacity(knots.len() * 2);
        let mut breaks = Vec::with_capacity(knots.len() * 2);
        for (before, pair) in knots.windows(2).enumerate() {
            if let [a, b] = pair {
                let (middle, two) = Piece::new(*a, *b, before)?.halves();
                halves.extend(two);
                breaks.extend([middle, b.x]);
            }
        }
        breaks.pop();
        let ends = match knots.as_slice() {
            [first, .., last] => [first.x, last.x],
            _ => return Err(CurveError::TooFewKnots { given: knots.len() }),
        };
        Ok(Self {
            knots,
            ends,
            halves,
            search: Search::new(ends, breaks),
        })
    }

    /// The value at `x`: as [`CurveView::at`], bit for bit.
    #[inline]
    pub fn at(&self, x: T) -> T {
        self.at_found(x, self.search.index(x))
    }

    /// The values at all `x`, as far as both slices reach: quickest where neighbours are close together, as in a series.
    ///
    /// NaN gives NaN, as in [`Curve::at`].
    // Always inlined, so that a caller compiled for wider vectors gets a copy that uses them.
    #[inline(always)]
    pub fn at_batch(&self, x: &[T], out: &mut [T]) {
        let both = x.len().min(out.len());
        let (Some(x), Some(out)) = (x.get(..both), out.get_mut(..both)) else {
            return;
        };
        let ((x, x_rest), (out, out_rest)) = (x.as_chunks(), out.as_chunks_mut());
        for (x, out) in x.iter().zip(out) {
            if any_beyond(self.ends, x) {
                for (out, &x) in out.iter_mut().zip(x) {
                    *out = self.at(x);
                }
            } else {
                self.at_block(x, out, |y| y);
            }
        }
        for (x, out) in x_rest.iter().zip(out_rest) {
            *out = self.at(*x);
        }
    }

    /// What `finish` makes of the values at places of which none is beyond the ends.
    #[inline(always)]
    pub(crate) fn at_block<U>(&self, x: &[T; BLOCK], out: &mut [U; BLOCK], finish: impl Fn(T) -> U) {
        let [first, ..] = *x;
        let half = self.search.index(first);
        match self.halves.get(half) {
            Some(found) if all_before(self.search.bounds(half), x) => in_one(found, x, out, finish),
            _ => in_each(&self.search, &self.halves, x, out, finish),
        }
    }

    #[inline]
    fn at_found(&self, x: T, found: usize) -> T {
        let [first, last] = self.ends;
        if x < first || x > last {
            return self.view().at(x);
        }
        match self.halves.get(found) {
            Some(half) => half.at(x),
            None => T::nan(),
        }
    }

    /// The slope at `x`: as [`CurveView::slope`].
    pub fn slope(&self, x: T) -> T {
        self.view().slope(x)
    }

    /// The place where the curve has come to `y`: as [`CurveView::inverse`], bit for bit.
    pub fn inverse(&self, y: T) -> T {
        self.view().inverse(y)
    }

    /// The same curve, borrowed.
    pub fn view(&self) -> CurveView<'_, T> {
        CurveView::of_checked(&self.knots)
    }

    /// The knots, with their slopes.
    pub fn knots(&self) -> &[Knot<T>] {
        &self.knots
    }

    /// Whether the values rise.
    pub fn is_rising(&self) -> bool {
        self.view().is_rising()
    }
}
