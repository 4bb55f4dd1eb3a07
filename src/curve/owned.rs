//! A curve that owns its knots.

use std::vec::Vec;

use crate::curve::error::CurveError;
use crate::curve::piece::{Knot, Piece};
use crate::curve::slopes::{SlopeRule, set_slopes};
use crate::curve::view::{CurveView, slope_or_beyond};
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
    /// Places of the inner knots, close together for the search.
    breaks: Vec<T>,
    pieces: Vec<Piece<T>>,
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
        let mut pieces = Vec::with_capacity(knots.len());
        for (before, pair) in knots.windows(2).enumerate() {
            if let [a, b] = pair {
                pieces.push(Piece::new(*a, *b, before)?);
            }
        }
        let breaks = match knots.as_slice() {
            [_, inner @ .., _] => inner.iter().map(|knot| knot.x).collect(),
            _ => Vec::new(),
        };
        Ok(Self { knots, breaks, pieces })
    }

    /// The value at `x`: as [`CurveView::at`], bit for bit.
    #[inline]
    pub fn at(&self, x: T) -> T {
        match self.piece_at(x) {
            Some(piece) => piece.at_or_beyond(x),
            None => T::nan(),
        }
    }

    /// The values at all `x`, as far as both slices reach.
    ///
    /// NaN gives NaN, as in [`Curve::at`].
    pub fn at_each(&self, x: &[T], out: &mut [T]) {
        for (out, &x) in out.iter_mut().zip(x) {
            *out = self.at(x);
        }
    }

    /// The slope at `x`: as [`CurveView::slope`].
    pub fn slope(&self, x: T) -> T {
        match self.piece_at(x) {
            Some(piece) => slope_or_beyond(piece, x, self.view().ends()),
            None => T::nan(),
        }
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

    #[inline]
    fn piece_at(&self, x: T) -> Option<&Piece<T>> {
        self.pieces.get(self.breaks.partition_point(|&place| place <= x))
    }
}
