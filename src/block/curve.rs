//! The curve of a joint, on the knots of its image.

use crate::block::image::{Image, Part};
use crate::block::layout::KNOT;
use crate::curve::{Knot, Piece};

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
        let float = |at| f32::from_le_bytes(numbers.bytes(at));
        Some(Knot {
            x: float(0),
            y: float(4),
            slope: float(8),
        })
    }

    /// The piece right of the last inner knot whose place, or value, is passed.
    #[inline(never)]
    fn piece_at(&self, value: f32, of: Coordinate) -> Option<Piece<f32>> {
        let mut left = self.knot(0)?;
        let mut right = self.knot(1)?;
        let falls = of == Coordinate::Value && left.y > right.y;
        for index in 2..self.count {
            let at = if of == Coordinate::Place { right.x } else { right.y };
            if !(if falls { at >= value } else { at <= value }) {
                break;
            }
            (left, right) = (right, self.knot(index)?);
        }
        Piece::of_knots(left, right)
    }

    /// The value at `x`; None only if an unchecked image holds no curve here.
    #[inline]
    pub(super) fn at(&self, x: f32) -> Option<f32> {
        Some(self.piece_at(x, Coordinate::Place)?.at_or_beyond(x))
    }

    /// The place of a `y`; None only if an unchecked image holds no curve here.
    #[inline]
    pub(super) fn inverse(&self, y: f32) -> Option<f32> {
        Some(self.piece_at(y, Coordinate::Value)?.inverse_or_beyond_by_halving(y))
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

    /// The knots as a record holds them.
    #[cfg(feature = "std")]
    pub(super) fn points(&self) -> std::vec::Vec<[f32; 2]> {
        (0..self.count)
            .filter_map(|index| self.knot(index))
            .map(|knot| [knot.x, knot.y])
            .collect()
    }
}
