//! Blocks of places on a curve, in loops without branches, which compilers turn into vector instructions.

use crate::curve::piece::Half;
use crate::curve::search::Search;
use crate::real::Real;

/// Places taken at once.
pub(super) const BLOCK: usize = 64;
/// Running extremes side by side, so that none waits for the one before.
const LANES: usize = 4;

/// Where a block lies between its loops: one for all blocks, so that it is cleared only once.
pub(super) struct Desk<T> {
    places: [T; BLOCK],
    found: [usize; BLOCK],
}

impl<T: Real> Desk<T> {
    #[inline(always)]
    pub(super) fn new() -> Self {
        Self {
            places: [T::zero(); BLOCK],
            found: [0; BLOCK],
        }
    }

    /// The values at all `x` that lie within this half, as [`Half::at`], and something at others; says the [`extremes`].
    ///
    /// In three loops: in a single one too many steps wait for others.
    #[inline(always)]
    pub(super) fn in_one(&mut self, half: &Half<T>, x: &[T; BLOCK], out: &mut [T; BLOCK]) -> [T; 2] {
        let half = *half;
        let mut extremes = Extremes::new();
        let (lanes, _) = self.places.as_chunks_mut();
        let (x, _) = x.as_chunks();
        for (places, x) in lanes.iter_mut().zip(x) {
            extremes.widen(x);
            *places = x.map(|x| half.place(x));
        }
        for (out, &place) in out.iter_mut().zip(&self.places) {
            *out = half.first_terms(place);
        }
        for (out, &place) in out.iter_mut().zip(&self.places) {
            *out = half.with_last_term(*out, place);
        }
        extremes.ends()
    }

    /// The values at `x` that lie within the curve, each in its own half.
    ///
    /// Search and arithmetic apart keep each loop's numbers in registers; pairs, for processors that take two at once.
    #[inline(always)]
    pub(super) fn in_each(&mut self, search: &Search<T>, halves: &[Half<T>], x: &[T; BLOCK], out: &mut [T; BLOCK]) {
        for (found, &x) in self.found.iter_mut().zip(x) {
            *found = search.index(x);
        }
        let (found, _) = self.found.as_chunks();
        let (x, _) = x.as_chunks();
        let (out, _) = out.as_chunks_mut();
        for ((out, &[x, z]), &[a, b]) in out.iter_mut().zip(x).zip(found) {
            if let (Some(a), Some(b)) = (halves.get(a), halves.get(b)) {
                *out = [a.at(x), b.at(z)];
            }
        }
    }
}

/// The least and the greatest of these numbers, NaN left out; infinities, the other way round, if there is no other.
#[inline(always)]
pub(super) fn extremes<T: Real>(x: &[T; BLOCK]) -> [T; 2] {
    let mut extremes = Extremes::new();
    let (x, _) = x.as_chunks();
    for x in x {
        extremes.widen(x);
    }
    extremes.ends()
}

/// The extremes of every fourth number.
struct Extremes<T> {
    low: [T; LANES],
    high: [T; LANES],
}

impl<T: Real> Extremes<T> {
    #[inline(always)]
    fn new() -> Self {
        Self {
            low: [T::infinity(); LANES],
            high: [T::neg_infinity(); LANES],
        }
    }

    #[inline(always)]
    fn widen(&mut self, x: &[T; LANES]) {
        for ((low, high), &x) in self.low.iter_mut().zip(&mut self.high).zip(x) {
            *low = lesser(*low, x);
            *high = greater(*high, x);
        }
    }

    /// Of all of them.
    #[inline(always)]
    fn ends(&self) -> [T; 2] {
        let ([a, b, c, d], [e, f, g, h]) = (self.low, self.high);
        [
            lesser(lesser(a, c), lesser(b, d)),
            greater(greater(e, g), greater(f, h)),
        ]
    }
}

/// `a` if `x` is NaN.
#[inline(always)]
fn lesser<T: Real>(a: T, x: T) -> T {
    if x < a { x } else { a }
}

/// `a` if `x` is NaN.
#[inline(always)]
fn greater<T: Real>(a: T, x: T) -> T {
    if x > a { x } else { a }
}
