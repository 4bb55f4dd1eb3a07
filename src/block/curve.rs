//! The curve of a joint, on the knots of its image.

use crate::block::image::{Image, Part};
use crate::block::layout::KNOT;
use crate::curve::{Knot, Piece, at_or_beyond};

/// Which of a knot's numbers is looked for.
#[derive(Clone, Copy, PartialEq, Eq)]
enum Coordinate {
    Place,
    Value,
}

/// Some of a block's knots.
///
/// What [`CurveView`](crate::curve::CurveView) does on knots in memory, with knots that are read one at a time.
#[derive(Debug, Clone, Copy)]
pub(super) struct BlockCurve<I> {
    image: I,
    /// The byte of the first knot.
    at: usize,
    count: u16,
}

impl<I: Image> BlockCurve<I> {
    #[inline]
    pub(super) fn new(image: I, at: usize, count: u16) -> Self {
        Self { image, at, count }
    }

    // Never inlined, as what follows: firmware has room for one copy.
    #[inline(never)]
    pub(super) fn knot(&self, index: u16) -> Option<Knot<f32>> {
        let numbers = self.image.part::<KNOT>(self.at + KNOT * usize::from(index))?;
        Some(Knot {
            x: numbers.float(0),
            y: numbers.float(4),
            slope: numbers.float(8),
        })
    }

    /// One number of a knot.
    #[inline]
    fn number(&self, index: u16, of: Coordinate) -> Option<f32> {
        let at = self.at + KNOT * usize::from(index) + if of == Coordinate::Place { 0 } else { 4 };
        Some(self.image.part::<4>(at)?.float(0))
    }

    /// The index of the last inner knot whose place, or value, is passed; the first if none is.
    #[inline(never)]
    fn before(&self, value: f32, of: Coordinate) -> Option<u16> {
        let falls = of == Coordinate::Value && self.number(0, of)? > self.number(1, of)?;
        let mut right = 1;
        while right < self.count.saturating_sub(1) {
            let at = self.number(right, of)?;
            if !(if falls { at >= value } else { at <= value }) {
                break;
            }
            right += 1;
        }
        Some(right - 1)
    }

    /// The value at `x`; None only if an unchecked image holds no curve here.
    #[inline]
    pub(super) fn at(&self, x: f32) -> Option<f32> {
        let left = self.before(x, Coordinate::Place)?;
        Some(at_or_beyond(&self.knot(left)?, &self.knot(left + 1)?, x))
    }

    /// The place of a `y`; None only if an unchecked image holds no curve here.
    #[inline]
    pub(super) fn inverse(&self, y: f32) -> Option<f32> {
        let left = self.before(y, Coordinate::Value)?;
        Some(Piece::of_knots(self.knot(left)?, self.knot(left + 1)?)?.inverse_or_beyond_by_halving(y))
    }

    /// The first and the last place.
    pub(super) fn places(&self) -> Option<[f32; 2]> {
        Some([self.knot(0)?.x, self.knot(self.count.checked_sub(1)?)?.x])
    }

    /// Whether these knots are a strictly monotone curve from one value to another.
    #[inline(never)]
    pub(super) fn runs(&self, [from, to]: [f32; 2]) -> bool {
        let rising = from < to;
        let mut left = match self.knot(0) {
            Some(first) if first.y == from => first,
            _ => return false,
        };
        for index in 1..self.count {
            let Some(right) = self.knot(index) else { return false };
            let strict = if rising { left.y < right.y } else { left.y > right.y };
            if !strict || Piece::of_knots(left, right).is_none() {
                return false;
            }
            left = right;
        }
        self.count > 1 && left.y == to
    }

    /// Whether these knots and their slopes are those of a curve in memory.
    #[cfg(feature = "std")]
    pub(super) fn is(&self, knots: &[Knot<f32>]) -> bool {
        usize::from(self.count) == knots.len()
            && (0..self.count)
                .zip(knots)
                .all(|(index, knot)| self.knot(index) == Some(*knot))
    }

    /// The knots as a record holds them; None only if an unchecked image ends before.
    #[cfg(feature = "std")]
    pub(super) fn points(&self) -> Option<std::vec::Vec<[f32; 2]>> {
        let point = |index| self.knot(index).map(|knot| [knot.x, knot.y]);
        (0..self.count).map(point).collect()
    }

    /// How many knots it has.
    #[cfg(feature = "std")]
    pub(super) fn count(&self) -> u16 {
        self.count
    }
}
