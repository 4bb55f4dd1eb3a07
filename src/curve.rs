//! A curve through measured knots: strictly monotone, smooth, exact at every knot.
//!
//! Between two knots the curve is a cubic with given slopes at both (Hermite form). F. N. Fritsch and R. E. Carlson
//! (SIAM J. Numer. Anal. 17 (1980) 238-246) showed which slopes keep such a cubic monotone; [`SlopeRule`] says how the
//! slopes are chosen.
//!
//! # Monotone between neighbouring floats
//! A monotone cubic evaluated by Horner's rule is not monotone in floating point: where it is flat, its rounding errors
//! exceed the true difference between neighbouring numbers. Here every piece is written so that each single operation is
//! monotone. Rounding to nearest is monotone, hence so are, in floating point: a sum of two non-decreasing terms, a
//! product of two non-negative non-decreasing terms, a product with a fixed number above zero, and a number less a
//! non-increasing term.
//!
//! A piece is cut in half, and each half written from its own knot inwards. Let `t` be the distance from that knot in widths
//! of the piece, 0 to 1/2, `R` the rise of the whole piece, `p` the rise of the tangent at this knot over the whole width
//! and `o` that of the tangent at the other knot. Then, with `d = 1/2 - t` and for a rising piece seen from the left,
//!
//! `y = y0 + 4/3·p·(1/8 - d·d²) + (3·R - o)·t·(1/4 - d²) + (R - p/3)·t·t·t`
//!
//! which is the Hermite cubic (put in t = 0 and 1/2, and compare derivatives: `p` at the knot). All three factors are
//! at least 0 exactly if `p` and `o` lie within 0 to 3·R: the square of Fritsch and Carlson. As t rises from 0 to 1/2, `d` and
//! `d²` do not rise, so neither bracket falls; `t·t·t` does not fall; hence the sum does not. From the right, and for
//! a falling piece, signs are mirrored. `t = (x - x0)·(1/width)`, held to at most 1/2, is a difference, a product with a
//! fixed number and a minimum: monotone in x. At the knot t is exactly 0 and so are all three terms: y is exact. Each half is held
//! between its knot's value and one value common to both halves, so halves and pieces join in order.
//!
//! Only + - × ÷ and comparisons are used, in a fixed order, without fused multiply-add and without branches.
//!
//! # The inverse
//! In floating point many x share one y and many y are met by no x, so "the inverse" needs a definition: the least place
//! on a grid of one unit of the type's precision (2^-52 or 2^-23 of the piece's width, counted from the nearer knot) at which the
//! computed piece has come to `y`. As that is monotone, the place is unique and itself monotone in `y`. It is found by Newton's steps within a shrinking bracket, at
//! most 12, then by halving it, at most 52 times: bounded whatever the curve.
//!
//! # Where it differs from PCHIP
//! With [`SlopeRule::HarmonicChord`] it is scipy's `PchipInterpolator` but for rounding: largest difference 4.5e-16 of the range
//! over a million places. The other two rules choose other slopes: [`SlopeRule::Parabola`], the default, reaches the third order
//! where knots are uneven, the harmonic rule the second. What no rule of scipy's has is the order of neighbouring floats, and an
//! end that is met to the bit.
//!
//! # Speed
//! `Curve::at_batch` takes blocks of numbers. Those of a series mostly lie in one half of a piece:
//! the block is evaluated there, in a loop that processors run on several numbers at once. For other
//! blocks it looks for all halves first, without a branch that depends on the numbers, and then evaluates pairs. A million
//! evaluations beside `PchipInterpolator` in one run, as its user calls it: `PYTHON=… cargo bench --bench curve`, with a
//! Python that has scipy. A joint with a curve takes its batches this way too.

mod piece;
mod slopes;
mod view;

#[cfg(feature = "std")]
pub(crate) mod many;
#[cfg(feature = "std")]
mod owned;
#[cfg(feature = "std")]
mod search;

pub use crate::error::CurveError;
#[cfg(feature = "std")]
pub use owned::Curve;
pub use piece::Knot;
/// For tests.
#[doc(hidden)]
pub use piece::Piece;
pub(crate) use piece::at_or_beyond;
pub use slopes::SlopeRule;
/// For curves without a heap, whose slopes firmware reads and does not compute.
#[doc(hidden)]
pub use slopes::set_slopes;
pub use view::CurveView;
