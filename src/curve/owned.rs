//! A curve that owns its knots.

use std::vec::Vec;

use crate::curve::error::CurveError;
use crate::curve::piece::{Half, Knot, Piece};
use crate::curve::search::Search;
use crate::curve::slopes::{SlopeRule, set_slopes};
use crate::curve::view::CurveView;
use crate::real::Real;

/// Values taken at once in [`Curve::at_batch`].
const CHUNK: usize = 64;

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
        for (x, out) in x.chunks(CHUNK).zip(out.chunks_mut(CHUNK)) {
            // Neighbours in a series are mostly close together: one search for all of them.
            if let Some(half) = self.common_half(x) {
                for (out, &x) in out.iter_mut().zip(x) {
                    *out = half.at(x);
                }
                continue;
            }
            // Search and arithmetic apart keep each loop's numbers in registers.
            let mut found = [0; CHUNK];
            for (found, &x) in found.iter_mut().zip(x) {
                *found = self.search.index(x);
            }
            for ((&x, out), &found) in x.iter().zip(out).zip(&found) {
                *out = self.at_found(x, found);
            }
        }
    }

    /// The half that holds all of these numbers, if there is one. NaN is in every half: it gives NaN in each.
    fn common_half(&self, x: &[T]) -> Option<&Half<T>> {
        let (mut low, mut high) = (T::infinity(), T::neg_infinity());
        for &x in x {
            low = if x < low { x } else { low };
            high = if x > high { x } else { high };
        }
        let [first, last] = self.ends;
        let found = self.search.index(low);
        (low >= first && high <= last && found == self.search.index(high)).then(|| self.halves.get(found))?
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
