//! Columns of numbers that are orthogonal to each other.

use std::vec::Vec;

/// `a · b`.
pub(in crate::fit) fn inner(a: &[f64], b: &[f64]) -> f64 {
    a.iter().zip(b).map(|(a, b)| a * b).sum()
}

/// What of a column the others, orthogonal and of length one, do not explain.
pub(in crate::fit) fn without(mut column: Vec<f64>, others: &[Vec<f64>]) -> Vec<f64> {
    // Twice, since once leaves what was rounded.
    for other in others.iter().chain(others) {
        let along = inner(&column, other);
        column.iter_mut().zip(other).for_each(|(a, b)| *a -= along * b);
    }
    column
}
