//! Which stretch of a long table a number falls into, in a few steps that do not depend on the number.

use core::hint::select_unpredictable;
use std::vec::Vec;

use crate::real::Real;

/// Cells for each break: most cells then hold at most one break even if the breaks are uneven.
const CELLS_PER_BREAK: usize = 8;

/// Finds how many breaks lie at or below a number.
///
/// The range is cut into equal cells, and for each cell it is known which breaks lie before it. Only those within the
/// cell are then compared, by halving. The number of steps is that of the fullest cell: no branch depends on the number,
/// which a processor could guess wrongly.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Search<T> {
    breaks: Vec<T>,
    origin: T,
    cells_per_x: T,
    /// For each cell the number of breaks in the cells before it.
    before: Vec<u32>,
    /// The largest power of two that is not above the number of breaks in the fullest cell; 0 if there are none.
    stride: usize,
}

impl<T: Real> Search<T> {
    /// The breaks must not fall and must lie between the ends.
    pub(crate) fn new([first, last]: [T; 2], breaks: Vec<T>) -> Self {
        let cells = breaks.len().saturating_mul(CELLS_PER_BREAK).clamp(1, 1 << 16);
        let cells_per_x = T::from_count(u32::try_from(cells).unwrap_or(1)) / (last - first);
        let mut search = Self {
            breaks,
            origin: first,
            // A range that overflows is one cell.
            cells_per_x: if cells_per_x.is_finite() {
                cells_per_x
            } else {
                T::zero()
            },
            before: Vec::new(),
            stride: 0,
        };
        // The cell of a break is found by the very rule that finds the cell of a number, and that rule is monotone: a
        // break in an earlier cell is below the number, one in a later cell above it.
        let mut fullest = 0;
        let mut inside = std::vec![0u32; cells];
        for &place in &search.breaks {
            let cell = search.raw_cell(place).min(cells - 1);
            if let Some(count) = inside.get_mut(cell) {
                *count += 1;
                fullest = fullest.max(*count);
            }
        }
        let mut sum = 0;
        for count in inside {
            search.before.push(sum);
            sum += count;
        }
        search.stride = fullest.checked_ilog2().map_or(0, |log| 1 << log);
        search
    }

    /// How many breaks lie at or below `x`. NaN counts as the lowest.
    #[inline]
    pub(crate) fn index(&self, x: T) -> usize {
        let index = self.at_least(x);
        if self.is_sparse() {
            index + self.next_of(index, x)
        } else {
            self.among(index, x)
        }
    }

    /// The same for many, with what depends on the table alone decided beforehand.
    #[inline(always)]
    pub(crate) fn indices<const N: usize>(&self, x: &[T; N]) -> [usize; N] {
        let mut found = [0; N];
        if self.is_sparse() {
            for (found, &x) in found.iter_mut().zip(x) {
                let index = self.at_least(x);
                *found = index + self.next_of(index, x);
            }
        } else {
            for (found, &x) in found.iter_mut().zip(x) {
                *found = self.among(self.at_least(x), x);
            }
        }
        found
    }

    /// The numbers that so many breaks lie at or below: from the first of two on, before the second.
    #[inline]
    pub(crate) fn bounds(&self, index: usize) -> [T; 2] {
        let before = index.checked_sub(1).and_then(|last| self.breaks.get(last));
        [
            before.map_or(T::neg_infinity(), |&place| place),
            self.breaks.get(index).map_or(T::infinity(), |&place| place),
        ]
    }

    /// Whether no cell holds more than one break: the usual case, and the quickest.
    #[inline(always)]
    fn is_sparse(&self) -> bool {
        self.stride <= 1
    }

    /// The number of breaks in the cells before that of `x`.
    #[inline(always)]
    fn at_least(&self, x: T) -> usize {
        let last = self.before.len().saturating_sub(1);
        let cell = self.raw_cell(x).min(last);
        self.before.get(cell).map_or(0, |&count| count as usize)
    }

    /// One more if the next break is not above `x`: it lies in the cell of `x`, or beyond it and above `x`.
    #[inline(always)]
    fn next_of(&self, index: usize, x: T) -> usize {
        let place = self.breaks.get(index).map_or(T::infinity(), |&place| place);
        usize::from(place <= x)
    }

    /// By halving, among those of the fullest cell.
    #[inline(always)]
    fn among(&self, mut index: usize, x: T) -> usize {
        let mut stride = self.stride;
        while stride > 0 {
            // Breaks beyond the cell lie above x, so its end is never passed.
            let place = self
                .breaks
                .get(index + stride - 1)
                .map_or(T::infinity(), |&place| place);
            index += select_unpredictable(place <= x, stride, 0);
            stride /= 2;
        }
        index
    }

    #[inline]
    fn raw_cell(&self, x: T) -> usize {
        ((x - self.origin) * self.cells_per_x).whole() as usize
    }
}
