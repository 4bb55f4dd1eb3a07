//! A curve that owns its knots.

use std::vec::Vec;

use crate::curve::error::CurveError;
use crate::curve::piece::{Half, Knot, Piece};
use crate::curve::search::Search;
use crate::curve::slopes::{SlopeRule, set_slopes};
use crate::curve::view::CurveView;
use crate::real::Real;

/// Values taken at once in [`Curve::at_batch`].
const BLOCK: usize = 64;
/// Running extremes side by side, so that none waits for the one before.
const LANES: usize = 8;

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

    /// The values at all `x`, as far as both slices reach.
    ///
    /// NaN gives NaN, as in [`Curve::at`].
    pub fn at_batch(&self, x: &[T], out: &mut [T]) {
        let both = x.len().min(out.len());
        let (Some(x), Some(out)) = (x.get(..both), out.get_mut(..both)) else {
            return;
        };
        let ((x, x_rest), (out, out_rest)) = (x.as_chunks(), out.as_chunks_mut());
        for (x, out) in x.iter().zip(out) {
            self.at_block(x, out);
        }
        for (x, out) in x_rest.iter().zip(out_rest) {
            *out = self.at(*x);
        }
    }

    fn at_block(&self, x: &[T; BLOCK], out: &mut [T; BLOCK]) {
        let [first, last] = self.ends;
        let [low, high] = span(x);
        if !(low >= first && high <= last) {
            for (out, &x) in out.iter_mut().zip(x) {
                *out = self.at(x);
            }
            return;
        }
        // Neighbours in a series are mostly close together: one search for all of them.
        let (from, to) = (self.search.index(low), self.search.index(high));
        if let (true, Some(half)) = (from == to, self.halves.get(from)) {
            half.fill(x, out);
            return;
        }
        // Search and arithmetic apart keep each loop's numbers in registers.
        let mut found = [0; BLOCK];
        for (found, &x) in found.iter_mut().zip(x) {
            *found = self.search.index(x);
        }
        let (x, _) = x.as_chunks();
        let (out, _) = out.as_chunks_mut();
        let (found, _) = found.as_chunks();
        for ((out, &x), &[a, b]) in out.iter_mut().zip(x).zip(found) {
            if let (Some(a), Some(b)) = (self.halves.get(a), self.halves.get(b)) {
                *out = Half::at_two([a, b], x);
            }
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

/// The least and the greatest of these numbers, NaN left out; infinities, the other way round, if there is no other.
#[inline]
fn span<T: Real>(x: &[T; BLOCK]) -> [T; 2] {
    let least = |a: T, b: T| if b < a { b } else { a };
    let most = |a: T, b: T| if b > a { b } else { a };
    let (mut low, mut high) = ([T::infinity(); LANES], [T::neg_infinity(); LANES]);
    let (groups, _) = x.as_chunks::<LANES>();
    for group in groups {
        for ((low, high), &x) in low.iter_mut().zip(&mut high).zip(group) {
            *low = least(*low, x);
            *high = most(*high, x);
        }
    }
    [
        low.into_iter().fold(T::infinity(), least),
        high.into_iter().fold(T::neg_infinity(), most),
    ]
}
