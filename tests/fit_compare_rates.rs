//! How often a comparison of two tables of one joint errs: of unchanged joints that are said to have changed, and of changed
//! ones that are not. All joints are invented; the seeds are fixed, so that every run counts the same pairs.
#![allow(clippy::unwrap_used, clippy::indexing_slicing, clippy::panic)]

use elbowroom::fit::{
    Approach, CompareOptions, Comparison, FitOptions, LimitFit, Readings, Verdict, compare, fit_limits,
};
use rand::{RngExt, SeedableRng};
use rand_distr::{Distribution, Normal};
use rand_xorshift::XorShiftRng;

/// A joint and how its table is taken.
#[derive(Clone, Copy)]
struct Joint {
    /// Measured per drive angle.
    slope: f64,
    /// Contacts in drive angle; beyond the sweep: no stop.
    stops: [f64; 2],
    lost_motion: f64,
    /// Standard deviation of a reading.
    noise: f64,
    /// Commands from 0 to 80.
    commands: usize,
    /// Down again after up, with the side noted.
    both_sides: bool,
    /// Step of the measured value; 0: none.
    resolution: f64,
}

const BENCH: Joint = Joint {
    slope: 0.98,
    stops: [12.3, 66.1],
    lost_motion: 1.0,
    noise: 0.2,
    commands: 21,
    both_sides: true,
    resolution: 0.0,
};

fn table(joint: Joint, rng: &mut XorShiftRng) -> Option<LimitFit> {
    let normal = Normal::new(0.0, joint.noise).unwrap();
    let step = 80.0 / (joint.commands - 1) as f64;
    let up = (0..joint.commands).map(|i| (step * i as f64, Approach::Below));
    let mut rows: Vec<(f64, Approach)> = up.collect();
    if joint.both_sides {
        let down: Vec<(f64, Approach)> = rows.iter().rev().map(|(x, _)| (*x, Approach::Above)).collect();
        rows.extend(down);
    }
    let (drive, approach): (Vec<f64>, Vec<Approach>) = rows.into_iter().unzip();
    let measured: Vec<f64> = drive
        .iter()
        .zip(&approach)
        .map(|(x, side)| {
            let inside = (x - 0.5 * joint.lost_motion * side.sign()).clamp(joint.stops[0], joint.stops[1]);
            let y = joint.slope * inside + normal.sample(rng);
            if joint.resolution > 0.0 {
                (y / joint.resolution).round() * joint.resolution
            } else {
                y
            }
        })
        .collect();
    let mut options = FitOptions::default();
    if joint.resolution > 0.0 {
        options = options.with_resolution(joint.resolution);
    }
    let readings = Readings::new(&drive, &measured);
    let readings = if joint.both_sides {
        readings.with_approach(&approach)
    } else {
        readings
    };
    fit_limits(&readings, &options).ok()
}

/// Pairs of tables, the later one of a joint that was changed.
fn pairs(old: Joint, new: Joint, seeds: u64, first: u64) -> Vec<Comparison> {
    (0..seeds)
        .filter_map(|seed| {
            let mut rng = XorShiftRng::seed_from_u64(first + seed);
            // Where the stops lie between the commands differs from joint to joint.
            let place: f64 = rng.random_range(-2.0..2.0);
            let at = |joint: Joint| Joint {
                stops: joint.stops.map(|stop| stop + place),
                ..joint
            };
            let (old, new) = (table(at(old), &mut rng)?, table(at(new), &mut rng)?);
            Some(compare(&old, &new, &CompareOptions::default()).unwrap())
        })
        .collect()
}

fn changed(found: &Comparison) -> bool {
    found.changes.iter().any(|change| change.verdict == Verdict::Changed)
}

#[test]
fn baseline() {
    let kinds = [
        ("bench", BENCH),
        (
            "no play",
            Joint {
                lost_motion: 0.0,
                ..BENCH
            },
        ),
        (
            "one side",
            Joint {
                both_sides: false,
                lost_motion: 0.0,
                commands: 41,
                ..BENCH
            },
        ),
        (
            "few",
            Joint {
                both_sides: false,
                lost_motion: 0.0,
                commands: 14,
                noise: 0.4,
                ..BENCH
            },
        ),
        (
            "few2",
            Joint {
                both_sides: true,
                lost_motion: 0.0,
                commands: 11,
                noise: 0.4,
                ..BENCH
            },
        ),
        (
            "no stops",
            Joint {
                stops: [-50.0, 150.0],
                ..BENCH
            },
        ),
        (
            "few no stops",
            Joint {
                stops: [-50.0, 150.0],
                both_sides: false,
                lost_motion: 0.0,
                commands: 6,
                ..BENCH
            },
        ),
        (
            "one stop",
            Joint {
                stops: [-50.0, 66.1],
                ..BENCH
            },
        ),
        (
            "step half",
            Joint {
                resolution: 0.5,
                noise: 0.3,
                ..BENCH
            },
        ),
        ("noisy", Joint { noise: 1.0, ..BENCH }),
        (
            "at last",
            Joint {
                stops: [-50.0, 78.0],
                ..BENCH
            },
        ),
        (
            "at last noisy",
            Joint {
                stops: [-50.0, 78.0],
                noise: 1.0,
                ..BENCH
            },
        ),
    ];
    for (name, joint) in kinds {
        let all = pairs(joint, joint, 400, 7000);
        let n = all.iter().filter(|f| changed(f)).count();
        let silent = all.iter().filter(|f| changed(f) && f.diagnoses.is_empty()).count();
        let mut by = vec![0; 6];
        for f in &all {
            for (i, c) in f.changes.iter().enumerate() {
                if c.verdict == Verdict::Changed {
                    by[i] += 1;
                }
            }
        }
        let diagnosed = all
            .iter()
            .filter(|f| f.diagnoses.iter().any(|d| d.to_string() != "unchanged"))
            .count();
        println!(
            "{name}: {n} of {} changed, {silent} silent, by {by:?}, diagnosed {diagnosed}",
            all.len()
        );
    }
}
