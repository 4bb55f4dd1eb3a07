//! Blocks of places on a curve, in loops without branches, which compilers turn into vector instructions.

use crate::curve::piece::Half;
use crate::curve::search::Search;
use crate::real::Real;

/// Places taken at once.
pub(crate) const BLOCK: usize = 64;
/// A block of places that are held to a range, with what has to be known of them all.
pub(crate) struct Held<T> {
    pub(crate) places: [T; BLOCK],
    /// Whether all numbers were finite before they were held.
    pub(crate) are_finite: bool,
}

impl<T: Real> Held<T> {
    #[inline(always)]
    pub(crate) fn new(x: &[T; BLOCK], hold: impl Fn(T) -> T) -> Self {
        let mut places = [T::zero(); BLOCK];
        let mut are_finite = true;
        for (held, &x) in places.iter_mut().zip(x) {
            are_finite &= x.is_finite();
            *held = hold(x);
        }
        Self { places, are_finite }
    }
}

/// Whether all numbers lie from the first of two on and before the second. No branch, which would end the loop early, and so what
/// compilers make vector instructions of; NaN lies nowhere.
#[inline(always)]
pub(super) fn all_before<T: Real>([low, high]: [T; 2], x: &[T; BLOCK]) -> bool {
    x.iter().fold(true, |all, &x| all & (x >= low) & (x < high))
}

/// Whether a number lies beyond one of two ends. NaN does not.
#[inline(always)]
pub(super) fn any_beyond<T: Real>([first, last]: [T; 2], x: &[T; BLOCK]) -> bool {
    x.iter().fold(false, |any, &x| any | (x < first) | (x > last))
}

/// What `finish` makes of the values at places within one half.
#[inline(always)]
pub(super) fn in_one<T: Real, U>(half: &Half<T>, x: &[T; BLOCK], out: &mut [U; BLOCK], finish: impl Fn(T) -> U) {
    let half = *half;
    for (out, &x) in out.iter_mut().zip(x) {
        *out = finish(half.at(x));
    }
}

/// The same at places within the curve, each in its own half.
///
/// Search and arithmetic apart keep each loop's numbers in registers; pairs, for processors that take two at once.
#[inline(always)]
pub(super) fn in_each<T: Real, U>(
    search: &Search<T>,
    halves: &[Half<T>],
    x: &[T; BLOCK],
    out: &mut [U; BLOCK],
    finish: impl Fn(T) -> U,
) {
    let found = search.indices(x);
    let (found, _) = found.as_chunks();
    let (x, _) = x.as_chunks();
    let (out, _) = out.as_chunks_mut();
    for ((out, &[x, z]), &[a, b]) in out.iter_mut().zip(x).zip(found) {
        if let (Some(a), Some(b)) = (halves.get(a), halves.get(b)) {
            *out = [a.at(x), b.at(z)].map(&finish);
        }
    }
}
