//! Where the trend of readings turns back: a dead centre within the sweep.

use super::univariate::{MAD_TO_SD, median};
use std::vec::Vec;

/// A trend that turns back.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(in crate::fit) struct Reversal {
    /// The x at which it turns.
    pub(in crate::fit) at: f64,
    /// By how much y goes against its way on one side of it, without the row that goes furthest.
    pub(in crate::fit) by: f64,
}

/// More rows are taken together, in order, into so many: their medians scatter less, and no single row moves one.
const BLOCKS: usize = 18;
/// Fewer places show no trend that turns.
const FEWEST: usize = 6;
/// Places on the side that goes back, without which it is none.
const FEWEST_BACK: usize = 4;
/// How many standard deviations of the local scatter the trend must turn back by.
const CLEARLY: f64 = 8.0;
/// The part of its whole way, back and forth, that the turned stretch must keep: scatter on a level end keeps little.
const ONE_WAY: f64 = 0.7;
/// The part of it that one step may make: a jump is none.
const MOST_OF_STEP: f64 = 0.7;
/// The part of the range of x over which it must extend, without the row at either end of it.
const EXTENT: f64 = 0.1;

/// Where y, taken in the order of x, goes against its way by more than `share` of its range, and by more than scatter, single wrong rows
/// and a jump explain; of the two sides of the turn the one that goes less far.
pub(in crate::fit) fn reversal(x: &[f64], y: &[f64], share: f64) -> Option<Reversal> {
    let (x, y) = places(x, y);
    if x.len() < FEWEST {
        return None;
    }
    let fall = back(&y, 1.0);
    let rise = back(&y, -1.0);
    let (by, from, to) = if fall.0 < rise.0 { fall } else { rise };
    let extent = |values: &[f64]| {
        values.iter().copied().fold(f64::NEG_INFINITY, f64::max) - values.iter().copied().fold(f64::INFINITY, f64::min)
    };
    // Written so that NaN is none.
    if !(by > share * extent(&y) && by > CLEARLY * local_scatter(&x, &y)?) {
        return None;
    }
    let (along, run) = (x.get(from..=to)?, y.get(from..=to)?);
    let whole = (run.last()? - run.first()?).abs();
    let steps = || run.windows(2).map(&extent);
    let way: f64 = steps().sum();
    let largest = steps().fold(0.0, f64::max);
    let [first, second, .., before_last, last] = along else {
        return None;
    };
    let far = (last - second).min(before_last - first);
    let is_trend = run.len() >= FEWEST_BACK
        && whole >= ONE_WAY * way
        && largest <= MOST_OF_STEP * whole
        && far >= EXTENT * extent(&x);
    let (lowest, highest) = (x.first()?, x.last()?);
    let at = if first - lowest < highest - last { *last } else { *first };
    is_trend.then_some(Reversal { at, by })
}

/// One row for each x, in its order, y being the median; of many, blocks of equal numbers.
fn places(x: &[f64], y: &[f64]) -> (Vec<f64>, Vec<f64>) {
    let mut rows: Vec<[f64; 2]> = x.iter().zip(y).map(|(x, y)| [*x, *y]).collect();
    rows.sort_by(|a, b| a[0].total_cmp(&b[0]));
    let middle = |rows: &[[f64; 2]], which: fn(&[f64; 2]) -> f64| {
        let mut values: Vec<f64> = rows.iter().map(which).collect();
        median(&mut values).unwrap_or(f64::NAN)
    };
    let middle = |rows: &[[f64; 2]]| [middle(rows, |row| row[0]), middle(rows, |row| row[1])];
    let mut rows: Vec<[f64; 2]> = rows.chunk_by(|a, b| a[0] == b[0]).map(middle).collect();
    let n = rows.len();
    if n > BLOCKS {
        rows = (0..BLOCKS)
            .filter_map(|i| Some(middle(rows.get(i * n / BLOCKS..(i + 1) * n / BLOCKS)?)))
            .collect();
    }
    rows.iter().map(|row| (row[0], row[1])).unzip()
}

/// The most by which `sign · y` falls, with the places of its begin and end; how far it falls is that without either of them, whichever
/// leaves less, so that one wrong row makes no fall.
fn back(y: &[f64], sign: f64) -> (f64, usize, usize) {
    let fall = |without: Option<usize>| {
        let (mut most, mut top) = ((0.0, 0, 0), None::<(usize, f64)>);
        for (i, value) in y.iter().enumerate().filter(|(i, _)| Some(*i) != without) {
            let value = sign * value;
            match top {
                Some((from, highest)) if value <= highest => {
                    if highest - value > most.0 {
                        most = (highest - value, from, i);
                    }
                }
                _ => top = Some((i, value)),
            }
        }
        most
    };
    let (_, from, to) = fall(None);
    (fall(Some(from)).0.min(fall(Some(to)).0), from, to)
}

/// The scatter of y about the parabola through three neighbours of each place, from its median as of a normal distribution.
fn local_scatter(x: &[f64], y: &[f64]) -> Option<f64> {
    let four = x.windows(4).zip(y.windows(4));
    let mut off: Vec<f64> = four
        .filter_map(|(x, y)| {
            let (&[a, at, b, c], &[ya, there, yb, yc]) = (x, y) else {
                return None;
            };
            // Lagrange's weights.
            let weights = [
                (at - b) * (at - c) / ((a - b) * (a - c)),
                (at - a) * (at - c) / ((b - a) * (b - c)),
                (at - a) * (at - b) / ((c - a) * (c - b)),
            ];
            let [wa, wb, wc] = weights;
            let square: f64 = weights.iter().map(|w| w * w).sum();
            Some((there - (wa * ya + wb * yb + wc * yc)).abs() / (1.0 + square).sqrt())
        })
        .collect();
    median(&mut off).map(|middle| MAD_TO_SD * middle)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn of(y: impl Fn(f64) -> f64) -> Option<Reversal> {
        let x: Vec<f64> = (0..17).map(|i| 5.0 * f64::from(i)).collect();
        let y: Vec<f64> = x.iter().map(|x| y(*x)).collect();
        reversal(&x, &y, 0.1)
    }

    #[test]
    fn a_trend_that_turns_back_is_placed() {
        for turn in [20.0, 30.0, 40.0, 60.0] {
            for sign in [1.0, -1.0] {
                let found = of(|x| sign * (x - turn).abs()).unwrap();
                assert_eq!(found.at, turn);
                assert!(found.by >= turn.min(80.0 - turn) - 5.0);
            }
        }
    }

    #[test]
    fn level_ends_jumps_single_rows_and_gaps_are_none() {
        assert_eq!(of(|x| x), None);
        assert_eq!(of(|x| x.clamp(20.0, 50.0)), None);
        assert_eq!(of(|x| 60.0 * (x * 90.0 / 80.0).to_radians().sin()), None);
        assert_eq!(of(|x| if x > 40.0 { x - 30.0 } else { x }), None);
        for wrong in 0..17 {
            assert_eq!(of(|x| if x == 5.0 * f64::from(wrong) { -50.0 } else { x }), None);
        }
        assert_eq!(of(|_| f64::NAN), None);
        assert_eq!(reversal(&[], &[], 0.1), None);
    }
}
