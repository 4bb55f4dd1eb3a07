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
//! non-increasing term. With `t` the place within the piece (0 at the left knot, 1 at the right one), `u = 1 - t`, rise
//! `R`, and `a = slope·width/3` at the left knot, `c` likewise at the right, `b = R - a - c`, a rising piece is one of
//!
//! * `b >= 0`: `y0 + a·(1 - u³) + b·s(t) + c·t³`, where `s(t) = 3t² - 2t³`. These three are the running sums of the
//!   Bernstein polynomials, each rises from 0 to 1. `t·t·t` and `1 - u·u·u` are monotone as they stand. For t up to one half,
//!   `s = t·(t + 2·(1/4 - (1/2 - t)²))`: the bracket `1/4 - (1/2 - t)²`, which is t·u, does not fall there. Above one half,
//!   `s(t) = 1 - s(u)`. Both are exactly one half at one half.
//! * `b < 0`: then the slope is least at some place m within the piece, and around it the cubic reads
//!   `y(m) + q·w + k·w³` with `w = t - m`, `q >= 0` the least slope and `k > 0`. Since w may have either sign, monotone as well.
//!
//! The value is held between the two knots, and is the knot itself at a knot: pieces join in order. A falling piece is the
//! mirror image. `t = (x - x0)·(1/width)`, held to at most 1, is a difference, a product with a fixed number, and a
//! minimum: monotone in x. Only + - × ÷ and comparisons are used, in a fixed order, without fused multiply-add.
//!
//! # The inverse
//! In floating point many x share one y and many y are met by no x, so "the inverse" needs a definition: the least place
//! `t` on a grid of one unit of the type's precision (2^-52, 2^-23) at which the piece has reached `y`. As the computed piece is
//! monotone, this is unique and itself monotone in `y`. It is found by Newton's steps within a shrinking bracket, at
//! most 12, then by halving it, at most 53 times: bounded whatever the curve.

mod error;
mod piece;
mod slopes;
mod view;

#[cfg(feature = "std")]
mod owned;

pub use error::CurveError;
#[cfg(feature = "std")]
pub use owned::Curve;
pub use piece::{Knot, Piece};
pub use slopes::{SlopeRule, set_slopes};
pub use view::CurveView;
