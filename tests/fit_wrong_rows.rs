//! Tables of up to 20 rows in which two are wrong: misread both, or written in each other's row.
//!
//! Invented joints, one way, with one to three places on each stop; the same readings on every run.
#![allow(
    clippy::unwrap_used,
    clippy::indexing_slicing,
    reason = "a test may stop where something cannot be"
)]

use elbowroom::fit::{FitOptions, LimitFit, Readings, Slip, Warning, fit_limits};
use rand::{RngExt, SeedableRng};
use rand_distr::{Distribution, Normal};
use rand_xorshift::XorShiftRng;

const TABLES: u64 = 30;

struct Table {
    drive: Vec<f64>,
    measured: Vec<f64>,
    stops: [f64; 2],
    /// Standard deviation of a reading, in drive.
    sd: f64,
}

impl Table {
    fn new(seed: u64) -> Self {
        let mut rng = XorShiftRng::seed_from_u64(0x7772_6f6e_6700 + seed);
        let step = [5.0, 7.5, 10.0][rng.random_range(0..3)];
        let inner = rng.random_range(8..13);
        let on = [rng.random_range(1..4), rng.random_range(1..4)];
        let lower = 20.0 + step * (f64::from(on[0]) - rng.random_range(0.1..0.9));
        let upper = 20.0 + step * (f64::from(on[0] + inner) - 1.0 + rng.random_range(0.1..0.9));
        let drive: Vec<f64> = (0..on[0] + inner + on[1]).map(|i| 20.0 + step * f64::from(i)).collect();
        let slope = rng.random_range(0.7..2.5) * if rng.random_range(0.0..1.0) < 0.5 { 1.0 } else { -1.0 };
        let sd: f64 = rng.random_range(0.05..0.3);
        let noise = Normal::new(0.0, sd * f64::abs(slope)).unwrap();
        let level = rng.random_range(-50.0..50.0);
        let measured = drive
            .iter()
            .map(|x| tenths(level + slope * x.clamp(lower, upper) + noise.sample(&mut rng)))
            .collect();
        Self {
            drive,
            measured,
            stops: [lower, upper],
            sd,
        }
    }

    /// `None` where it is refused.
    fn fit(&self) -> Option<LimitFit> {
        fit_limits(&Readings::new(&self.drive, &self.measured), &FitOptions::default()).ok()
    }

    /// By how much the travel passes a stop, at the end where it does so more.
    fn past(&self, fit: &LimitFit) -> f64 {
        let [lower, upper] = self.stops;
        fit.travel.map_or(0.0, |[from, to]| (lower - from).max(to - upper))
    }
}

fn tenths(value: f64) -> f64 {
    (value * 10.0).round() / 10.0
}

/// How many of the tables, changed, let the travel pass a stop, and how many of these say nothing.
fn past_a_stop(change: impl Fn(&mut Table, &mut XorShiftRng), look: impl Fn(&LimitFit)) -> [usize; 2] {
    let mut count = [0, 0];
    for seed in 0..TABLES {
        let mut table = Table::new(seed);
        change(&mut table, &mut XorShiftRng::seed_from_u64(seed));
        let Some(fit) = table.fit() else { continue };
        look(&fit);
        if table.past(&fit) > f64::max(1.0, 4.0 * table.sd) {
            count[0] += 1;
            count[1] += usize::from(fit.warnings.is_empty());
        }
    }
    println!("{} of {TABLES} past a stop, {} in silence", count[0], count[1]);
    count
}

#[test]
fn two_misread_rows_hide_no_stop() {
    let change = |table: &mut Table, rng: &mut XorShiftRng| {
        let n = table.drive.len();
        let first = rng.random_range(0..n);
        for at in [first, (first + rng.random_range(1..n)) % n] {
            let off = rng.random_range(10.0..60.0) * if rng.random_range(0.0..1.0) < 0.5 { 1.0 } else { -1.0 };
            table.measured[at] = tenths(table.measured[at] + off);
        }
    };
    let [past, silent] = past_a_stop(change, |_| {});
    assert!(past <= 5 && silent <= 1, "{past} past a stop, {silent} in silence");
}

#[test]
fn two_exchanged_rows_hide_no_stop_and_are_named() {
    let named = std::cell::Cell::new(0);
    let change = |table: &mut Table, rng: &mut XorShiftRng| {
        let inner: Vec<usize> = (0..table.drive.len() - 1)
            .filter(|&i| table.stops[0] < table.drive[i] && table.drive[i + 1] < table.stops[1])
            .collect();
        let at = inner[rng.random_range(0..inner.len())];
        table.measured.swap(at, at + 1);
    };
    let look = |fit: &LimitFit| {
        let neighbours = fit.rejected.iter().filter(|r| r.cause == Some(Slip::NeighbouringRow));
        named.set(named.get() + usize::from(neighbours.count() == 2));
    };
    let [past, silent] = past_a_stop(change, look);
    println!("both rows named in {}", named.get());
    assert!(past <= 2 && silent <= 1, "{past} past a stop, {silent} in silence");
    assert!(named.get() as u64 > TABLES / 2, "{}", named.get());
}

/// Where no row can be blamed, the scatter is said beside the range: the sensor slipped half-way.
#[test]
fn scatter_that_nothing_explains_is_named() {
    let slips = |table: &mut Table, _: &mut XorShiftRng| {
        // There and back, and from some place on 12 more.
        let back: Vec<(f64, f64)> = table
            .drive
            .iter()
            .copied()
            .zip(table.measured.iter().copied())
            .rev()
            .collect();
        table.drive.extend(back.iter().map(|row| row.0));
        table.measured.extend(back.iter().map(|row| row.1));
        let from = table.drive.len() * 2 / 3;
        for value in &mut table.measured[from..] {
            *value = tenths(*value + 12.0);
        }
    };
    let wide = std::cell::Cell::new(0);
    let look = |fit: &LimitFit| {
        let said = fit.warnings.iter().any(|w| matches!(w, Warning::ScatterWide { .. }));
        wide.set(wide.get() + usize::from(said));
    };
    let [_, silent] = past_a_stop(slips, look);
    println!("wide scatter named in {}", wide.get());
    assert!(silent <= 2, "{silent} in silence");
}

/// Of ten readings on a stop, all of one value, one was left out as "the value of the neighbouring drive angle", 0 deg off.
#[test]
fn a_reading_that_agrees_with_its_stop_is_no_wrong_row() {
    let line = [42.5, 45.5, 48.5, 51.0, 54.0, 57.0, 60.0, 63.0, 66.0, 68.5];
    let measured = [&[39.5; 10][..], &line].concat();
    let drive: Vec<f64> = (0..20).map(|i| 5.0 * f64::from(i)).collect();
    let fit = fit_limits(&Readings::new(&drive, &measured), &FitOptions::default()).unwrap();
    assert!(fit.rejected.is_empty(), "{:?}", fit.rejected);
}
