//! A curve over knots that lie somewhere else: no heap.

use crate::curve::piece::{Knot, Piece, at_or_beyond};
use crate::error::CurveError;
use crate::real::Real;

/// A strictly monotone curve over borrowed knots.
///
/// Each call finds the two knots around its argument and builds the piece between them. `Curve` (with `std`) keeps the
/// pieces instead and gives the same bits.
///
/// ```
/// use elbowroom::curve::{CurveView, Knot, SlopeRule, set_slopes};
/// let mut knots = [Knot::new(0.0f32, 5.0), Knot::new(90.0, 30.0), Knot::new(180.0, 80.0)];
/// set_slopes(&mut knots, SlopeRule::Parabola);
/// let curve = CurveView::new(&knots)?;
/// assert_eq!(curve.at(90.0), 30.0);
/// assert!((curve.inverse(curve.at(45.0)) - 45.0).abs() < 1e-4);
/// # Ok::<(), elbowroom::curve::CurveError>(())
/// ```
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct CurveView<'a, T> {
    knots: &'a [Knot<T>],
}

impl<'a, T: Real> CurveView<'a, T> {
    /// Checks knots whose slopes are set.
    ///
    /// # Errors
    /// A [`CurveError`]: fewer than 2 knots, a number that is not finite, places that do not rise, values that do not all
    /// rise or all fall, or slopes that make the curve turn between two knots.
    pub fn new(knots: &'a [Knot<T>]) -> Result<Self, CurveError> {
        let given = knots.len();
        let [first, second, ..] = knots else {
            return Err(CurveError::TooFewKnots { given });
        };
        let rising = first.y < second.y;
        // The knots themselves before their slopes, which may have come out of bad knots.
        let mut before: Option<&Knot<T>> = None;
        for (index, knot) in knots.iter().enumerate() {
            if let Some(value) = [knot.x, knot.y].into_iter().find(|value| !value.is_finite()) {
                let value = value.to_wide();
                return Err(CurveError::NotFinite { index, value });
            }
            if let Some(last) = before {
                if last.x >= knot.x {
                    return Err(CurveError::PlacesNotRising {
                        index,
                        before: last.x.to_wide(),
                        x: knot.x.to_wide(),
                    });
                }
                if last.y == knot.y || (last.y < knot.y) != rising {
                    return Err(CurveError::ValuesTurn {
                        index,
                        before: last.y.to_wide(),
                        y: knot.y.to_wide(),
                    });
                }
            }
            before = Some(knot);
        }
        for (before, pair) in knots.windows(2).enumerate() {
            if let [a, b] = pair {
                Piece::new(*a, *b, before)?;
            }
        }
        Ok(Self { knots })
    }

    /// The value at `x`, straight on with the mean slope of the end piece beyond the ends.
    ///
    /// Monotone between neighbouring floats, exact at every knot, within [first, last] value between the ends. Infinities
    /// give infinities, NaN gives NaN.
    pub fn at(&self, x: T) -> T {
        match self.beside(|knot| knot.x <= x) {
            Some([left, right]) => at_or_beyond(&left, &right, x),
            None => T::nan(),
        }
    }

    /// The slope at `x`; beyond the ends, the mean slope of the end piece. NaN gives NaN.
    ///
    /// At an inner knot both pieces have one slope there.
    pub fn slope(&self, x: T) -> T {
        match self.piece_at(|knot| knot.x <= x) {
            Some(piece) if self.is_beyond(x) => piece.mean_slope(),
            Some(piece) => piece.slope(x),
            None => T::nan(),
        }
    }

    /// The least place, to one unit of the type's precision within a piece, where the curve has come to `y`.
    ///
    /// Monotone in `y`, exact at every knot; straight on beyond the ends. NaN gives NaN.
    pub fn inverse(&self, y: T) -> T {
        let rising = self.is_rising();
        let passed = |knot: &Knot<T>| if rising { knot.y <= y } else { knot.y >= y };
        match self.piece_at(passed) {
            Some(piece) => piece.inverse_or_beyond(y),
            None => T::nan(),
        }
    }

    /// A view of knots that a `Curve` has checked before.
    #[cfg(feature = "std")]
    pub(crate) fn of_checked(knots: &'a [Knot<T>]) -> Self {
        Self { knots }
    }

    /// Whether the values rise.
    pub fn is_rising(&self) -> bool {
        matches!(self.knots, [first, .., last] if first.y < last.y)
    }

    /// The knots.
    pub fn knots(&self) -> &'a [Knot<T>] {
        self.knots
    }

    fn is_beyond(&self, x: T) -> bool {
        matches!(self.knots, [first, .., last] if x < first.x || x > last.x)
    }

    /// The piece right of the last inner knot that is passed.
    fn piece_at(&self, passed: impl Fn(&Knot<T>) -> bool) -> Option<Piece<T>> {
        let [left, right] = self.beside(passed)?;
        Piece::of_knots(left, right)
    }

    /// The last inner knot that is passed, and the next.
    fn beside(&self, passed: impl Fn(&Knot<T>) -> bool) -> Option<[Knot<T>; 2]> {
        let [first, inner @ .., last] = self.knots else {
            return None;
        };
        let index = inner.partition_point(passed);
        let left = index.checked_sub(1).and_then(|i| inner.get(i)).unwrap_or(first);
        let right = inner.get(index).unwrap_or(last);
        Some([*left, *right])
    }
}
