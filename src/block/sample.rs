//! Curves in the place of what a board cannot compute.

use crate::block::error::BlockError;
use crate::curve::{Curve, SlopeRule};
use std::vec::Vec;

/// How far the curve may be from what it stands for, deg. The finest timers step by some 0.3 µs (16 bits of 20 ms), which is
/// 0.027 deg of a servo that turns 180 deg on 2000 µs: the curve costs less than half a count of these.
pub(super) const MOST_DEG: f64 = 0.01;
/// The most knots of one curve: 768 bytes of flash.
const MOST_KNOTS: usize = 64;
/// Pieces to begin with.
const FIRST_PIECES: u8 = 4;
/// Places of a piece at which curve and original are compared.
const PLACES: u8 = 64;
/// What the largest difference between two places can have over the largest found, which lies within 1/128 of a piece of
/// it: the difference goes there as a parabola does, and loses less than (π/128)²/2 of itself.
const BETWEEN: f64 = 1.001;
/// What rounding adds between two places, in units of precision of the largest value: half a unit for each of the
/// handful of sums and products that come to a value's size.
const ROUNDING: f64 = 4.0 * f32::EPSILON as f64;

/// A curve by parabolas through points of `original`, from the first to the last of `ends`, and how far it is from it.
///
/// Its knots are cut in where the difference is largest until it is small enough everywhere. The curve is the one that the
/// board computes, so the difference holds the rounding to `f32` as well.
pub(super) fn sample(
    channel: u16,
    kind: &'static str,
    ends: [[f32; 2]; 2],
    original: impl Fn(f64) -> f64,
) -> Result<(Vec<[f32; 2]>, f64), BlockError> {
    let [first, last] = ends;
    let between = |from: f32, to: f32, part: f32| from * (1.0 - part) + to * part;
    let mut knots = Vec::from([first]);
    for i in 1..FIRST_PIECES {
        let x = between(first[0], last[0], f32::from(i) / f32::from(FIRST_PIECES));
        knots.push([x, original(x.into()) as f32]);
    }
    knots.push(last);
    let largest = f64::from(first[1].abs().max(last[1].abs()));
    let invalid = |within_deg| BlockError::TooBent {
        channel,
        kind,
        knots: MOST_KNOTS,
        within_deg,
    };
    loop {
        let curve = Curve::new(&knots, SlopeRule::Parabola).map_err(|_| invalid(f64::INFINITY))?;
        let (mut worst, mut piece) = (0.0f64, 0);
        for (index, two) in knots.windows(2).enumerate() {
            let [[from, _], [to, _]] = two else { continue };
            for i in 0..=PLACES {
                let x = between(*from, *to, f32::from(i) / f32::from(PLACES));
                let off = (f64::from(curve.at(x)) - original(x.into())).abs();
                if off > worst {
                    (worst, piece) = (off, index);
                }
            }
        }
        worst = worst * BETWEEN + largest * ROUNDING;
        if worst <= MOST_DEG {
            return Ok((knots, worst));
        }
        let (Some(left), Some(right)) = (knots.get(piece), knots.get(piece + 1)) else {
            return Err(invalid(worst));
        };
        let x = between(left[0], right[0], 0.5);
        if knots.len() == MOST_KNOTS || !(x > left[0] && x < right[0]) {
            return Err(invalid(worst));
        }
        knots.insert(piece + 1, [x, original(x.into()) as f32]);
    }
}
