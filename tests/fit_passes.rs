//! Passes over one sweep between which something changed: the zero was set again, the scale, a sensor that warms up.
//!
//! Invented joints with stops that do not move; the same readings on every run.
#![allow(clippy::unwrap_used, reason = "a test may stop where something cannot be")]

use elbowroom::fit::{Approach, EndKind, FitOptions, LimitFit, Readings, Warning, fit_limits};
use rand::{RngExt, SeedableRng};
use rand_distr::{Distribution, Normal};
use rand_xorshift::XorShiftRng;

const TABLES: u64 = 24;

struct Table {
    drive: Vec<f64>,
    measured: Vec<f64>,
    approach: Vec<Approach>,
    stops: [f64; 2],
    slope: f64,
}

impl Table {
    /// So many passes up and down; `changed` says what a pass, of a share of the table that is over, makes of a value.
    fn new(seed: u64, passes: usize, lost_motion: f64, changed: impl Fn(f64, usize, f64) -> f64) -> Self {
        let mut rng = XorShiftRng::seed_from_u64(0x7061_7373_0000 + seed);
        let places = rng.random_range(14..28);
        let [from, to] = [
            rng.random_range(0.0..40.0_f64).round(),
            rng.random_range(120.0..170.0_f64).round(),
        ];
        let stops = [from + rng.random_range(6.0..20.0), to - rng.random_range(6.0..20.0)];
        let slope = rng.random_range(0.6..1.6) * if rng.random_range(0.0..1.0) < 0.5 { 1.0 } else { -1.0 };
        let noise = Normal::new(0.0, 0.25).unwrap();
        let (mut drive, mut measured, mut approach) = (Vec::new(), Vec::new(), Vec::new());
        for pass in 0..passes {
            let is_up = pass % 2 == 0;
            for i in 0..places {
                let i = if is_up { i } else { places - 1 - i };
                let x = from + (to - from) * f64::from(i) / f64::from(places - 1);
                let lag = if is_up { -0.5 * lost_motion } else { 0.5 * lost_motion };
                let over = drive.len() as f64 / (passes * places as usize) as f64;
                let value = slope * (x + lag).clamp(stops[0], stops[1]) + slope * noise.sample(&mut rng);
                measured.push((changed(value, pass, over) * 10.0).round() / 10.0);
                drive.push(x);
                approach.push(if is_up { Approach::Below } else { Approach::Above });
            }
        }
        Self {
            drive,
            measured,
            approach,
            stops,
            slope,
        }
    }

    /// `None` where it is refused.
    fn try_fit(&self, noted: bool) -> Option<LimitFit> {
        let readings = Readings::new(&self.drive, &self.measured);
        let noted = if noted {
            readings.with_approach(&self.approach)
        } else {
            readings
        };
        fit_limits(&noted, &FitOptions::default()).ok()
    }

    fn fit(&self, noted: bool) -> LimitFit {
        self.try_fit(noted).unwrap()
    }

    /// Ends at which the travel passes a stop.
    fn past(&self, fit: &LimitFit) -> usize {
        let [lower, upper] = self.stops;
        fit.travel.map_or(0, |[from, to]| {
            usize::from(lower - from > 1.0) + usize::from(to - upper > 1.0)
        })
    }
}

fn disagree(fit: &LimitFit) -> bool {
    fit.warnings
        .iter()
        .any(|warning| matches!(warning, Warning::PassesDisagree { .. }))
}

/// The zero set again at the turn, as far as hysteresis of a sensor would put it. Of other tables of the kind up to 90 of 100 were called
/// clear at both ends, some with the travel past both stops and without a warning.
#[test]
fn hysteresis_of_any_size_hides_no_stop() {
    for by in [3.0, 10.0, 20.0, 30.0, 45.0] {
        let (mut contacts, mut past) = (0, 0);
        for seed in 0..TABLES {
            let slope = Table::new(seed, 2, 0.0, |value, _, _| value).slope;
            let table = Table::new(seed, 2, 0.0, |value, pass, _| value + slope.signum() * by * pass as f64);
            // Displaced by more than the joint moves, nothing seems to move with the drive.
            let Some(fit) = table.try_fit(true) else { continue };
            past += table.past(&fit);
            contacts += [&fit.lower, &fit.upper]
                .iter()
                .filter(|end| end.kind == EndKind::Contact)
                .count();
        }
        println!("{by}: {contacts} contacts at {} ends, past at {past}", 2 * TABLES);
        assert!(
            contacts as u64 * 100 >= 2 * TABLES * 85 && past == 0,
            "{by}: {contacts}, {past}"
        );
    }
}

/// The same without sides, either way: of 100 other tables of the kind up to 98 passed both stops.
#[test]
fn a_zero_set_again_at_the_turn_hides_no_stop() {
    for by in [-15.0, 10.0, 15.0, 30.0] {
        let (mut said, mut past) = (0, 0);
        for seed in 0..TABLES {
            let table = Table::new(seed, 2, 0.0, |value, pass, _| value + by * pass as f64);
            let fit = table.fit(false);
            past += table.past(&fit);
            said += u64::from(!fit.warnings.is_empty());
        }
        println!(
            "{by}: said in {said} of {TABLES}, past at {past} of {} ends",
            2 * TABLES
        );
        assert!(
            said * 100 >= TABLES * 95 && past as u64 * 100 <= 2 * TABLES,
            "{by}: {said}, {past}"
        );
    }
}

/// With scales of 0.8, 1.2 and 1.3 all of 100 other tables of the kind were called clear at both ends, with the travel past both stops.
#[test]
fn another_scale_from_pass_to_pass_hides_no_stop() {
    for (scale, passes) in [(0.8, 2), (1.1, 4), (1.2, 4), (1.3, 3)] {
        let (mut said, mut past) = (0, 0);
        for seed in 0..TABLES {
            let table = Table::new(seed, passes, 0.5, |value, pass, _| {
                if pass >= passes / 2 { scale * value } else { value }
            });
            let fit = table.fit(true);
            past += table.past(&fit);
            said += u64::from(disagree(&fit));
        }
        println!(
            "{scale}: said in {said} of {TABLES}, past at {past} of {} ends",
            2 * TABLES
        );
        assert!(
            said * 100 >= TABLES * 90 && past as u64 * 100 <= 2 * TABLES,
            "{scale}: {said}, {past}"
        );
    }
}

#[test]
fn a_sensor_that_drifts_far_is_said() {
    let mut said = 0;
    for seed in 0..TABLES {
        let table = Table::new(seed, 2, 0.0, |value, _, over| value + 8.0 * over);
        let fit = table.fit(false);
        assert_eq!(table.past(&fit), 0, "{seed}");
        said += u64::from(disagree(&fit));
    }
    assert!(said * 2 >= TABLES, "{said} of {TABLES}");
}

#[test]
fn sound_passes_agree() {
    for lost_motion in [0.0, 1.0, 5.0] {
        for passes in [1, 2, 3, 4, 6] {
            for seed in 0..TABLES {
                for noted in [false, true] {
                    let fit = Table::new(seed, passes, lost_motion, |value, _, _| value).fit(noted);
                    assert!(!disagree(&fit), "{lost_motion} {passes} {seed} {noted}: {fit:?}");
                }
            }
        }
    }
}
