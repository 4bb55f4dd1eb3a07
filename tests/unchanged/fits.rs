//! Limits, comparisons, transmissions, sensors and statistics.

use crate::Results;
use crate::workshop::fitted;
use crate::workshop::kinds::{TUNING, kinds};
use crate::workshop::tables::{Table, table};
use elbowroom::fit::{
    Approach, CompareOptions, ContactMark, FitError, FitOptions, Guess, LimitFit, Readings, Run, choose_transmission,
    compare, fit_curve, fit_feedback, fit_limits, fit_line, fit_line_both, fit_line_through_zero, fit_line_weighted,
    fit_linkage, fit_monotone, fit_polynomial, positioning, spread,
};
use elbowroom::linkage::{Branch, FourBar, Mechanism, SliderCrank, Spool, Triangle};
use rand::{RngExt, SeedableRng};
use rand_xorshift::XorShiftRng;

/// Tables of each kind.
const TABLES: u64 = 5;

pub(crate) fn tables() -> impl Iterator<Item = (String, Table)> {
    kinds().into_iter().flat_map(|kind| {
        (0..TABLES).map(move |seed| {
            (
                format!("{}:{seed}", kind.name.replace(' ', "-")),
                table(&kind, &TUNING, seed),
            )
        })
    })
}

/// All that a caller can ask of a fit.
fn all_of(fit: &Result<LimitFit, FitError>, readings: &Readings<'_>) -> impl std::fmt::Debug {
    fit.as_ref().map_err(|e| (e.code(), e.to_string())).map(|fit| {
        let expected: Vec<f64> = (-2..12).map(|i| fit.expected(f64::from(i) * 17.3)).collect();
        let said: Vec<String> = fit.warnings.iter().map(ToString::to_string).collect();
        (
            fit.clone(),
            fit.residuals(readings),
            fit.between_stops(readings),
            fit.lost_motion.in_drive(),
            expected,
            said,
        )
    })
}

#[test]
fn limits() {
    let mut results = Results::default();
    for (name, made) in tables() {
        // What else may be written down of the same table.
        let mut rng = XorShiftRng::seed_from_u64(crate::checksum(&name));
        let n = made.drive.len();
        let u: Vec<f64> = (0..n).map(|_| made.sd.max(0.01) * rng.random_range(0.5..2.0)).collect();
        let marks: Vec<ContactMark> = (0..n)
            .map(|i| match (i, rng.random_range(0..3)) {
                (i, 0) if i < 2 => ContactMark::Lower,
                (i, 0) if i + 2 >= n => ContactMark::Upper,
                _ => ContactMark::None,
            })
            .collect();
        let time: Vec<f64> = (0..n).map(|i| i as f64 * 0.7).collect();
        let sides: Vec<Approach> = (0..n)
            .map(|_| [Approach::Below, Approach::Above, Approach::Unknown][rng.random_range(0..3)])
            .collect();
        let options = FitOptions::default()
            .with_guard(rng.random_range(0.0..4.0))
            .with_confidence(rng.random_range(0.6..0.999));
        let plain = Readings::new(&made.drive, &made.measured);
        let told = made
            .approach
            .as_deref()
            .map_or(plain, |sides| plain.with_approach(sides));
        for (what, readings, options) in [
            (
                "plain",
                told,
                made.resolution
                    .map_or_else(FitOptions::default, |step| FitOptions::default().with_resolution(step)),
            ),
            ("weighted", told.with_u(&u), options),
            ("marked", told.with_contact(&marks), options),
            ("timed", told.with_time(&time), FitOptions::default()),
            ("mixed-sides", plain.with_approach(&sides).with_u(&u), options),
            ("coarse", plain, options.with_resolution(made.grain.max(0.5) * 3.0)),
        ] {
            results.add(
                &format!("{name}:{what}"),
                &all_of(&fit_limits(&readings, &options), &readings),
            );
        }
    }
    results.hold("limits");
}

/// Many readings, for which sums take the place of single readings.
#[test]
fn limits_of_many_readings() {
    let mut results = Results::default();
    for seed in 0..24_u64 {
        let mut rng = XorShiftRng::seed_from_u64(0x4d61_6e79 + seed);
        let n = rng.random_range(100..2_000);
        let stops = [rng.random_range(5.0..20.0), rng.random_range(60.0..90.0)];
        let (slope, play, noise) = (
            rng.random_range(-2.0..2.0),
            rng.random_range(0.0..2.0),
            rng.random_range(0.05..0.8),
        );
        let step = [0.0, 0.5, 1.0][seed as usize % 3];
        let (mut drive, mut measured, mut sides) = (vec![], vec![], vec![]);
        for i in 0..n {
            let up = i < n / 2;
            let part = 2.0 * if up { i } else { n - i } as f64 / n as f64;
            let x = (part * 80.0 * if step > 0.0 { 0.5 } else { 1.0 }).round() * if step > 0.0 { 2.0 } else { 1.0 };
            let at = (x - 0.5 * play * if up { 1.0 } else { -1.0 }).clamp(stops[0], stops[1]);
            let mut y = slope * at + noise * (rng.random_range(-1.0..1.0) + rng.random_range(-1.0..1.0));
            if rng.random_range(0..150) == 0 {
                y += rng.random_range(-30.0..30.0);
            }
            drive.push(x);
            measured.push(if step > 0.0 { (y / step).round() * step } else { y });
            sides.push(if up { Approach::Below } else { Approach::Above });
        }
        let readings = Readings::new(&drive, &measured);
        results.add(
            &format!("{seed}:plain"),
            &all_of(&fit_limits(&readings, &FitOptions::default()), &readings),
        );
        let told = readings.with_approach(&sides);
        results.add(
            &format!("{seed}:sides"),
            &all_of(&fit_limits(&told, &FitOptions::default()), &told),
        );
    }
    results.hold("limits_of_many_readings");
}

/// Two tables of a kind as two calibrations of one joint, and a table with itself moved, scaled and shortened.
#[test]
fn comparisons() {
    let mut results = Results::default();
    let all: Vec<_> = tables()
        .filter_map(|(name, made)| Some((name, fitted(&made)?, made)))
        .collect();
    for (index, (name, old, made)) in all.iter().enumerate() {
        let mut rng = XorShiftRng::seed_from_u64(index as u64);
        let mut against = |what: &str, new: &LimitFit| {
            let options = CompareOptions::default();
            let found = compare(old, new, &options).map(|found| {
                let said: Vec<String> = found.diagnoses.iter().map(ToString::to_string).collect();
                (found.is_changed(), found, said)
            });
            results.add(&format!("{name}:{what}"), &found);
        };
        if let Some((_, next, _)) = all.get(index + 1) {
            against("next", next);
        }
        let [offset, scale, shift]: [f64; 3] =
            [(-20.0, 20.0), (0.9, 1.1), (-3.0, 3.0)].map(|(low, high)| rng.random_range(low..high));
        let moved = |f: &dyn Fn(usize, f64, f64) -> Option<(f64, f64)>| {
            let rows: Vec<(usize, (f64, f64))> = (0..made.drive.len())
                .filter_map(|i| Some((i, f(i, made.drive[i], made.measured[i])?)))
                .collect();
            let mut other = made.clone();
            (other.drive, other.measured) = rows.iter().map(|(_, row)| *row).unzip();
            other.approach = made
                .approach
                .as_ref()
                .map(|all| rows.iter().map(|(i, _)| all[*i]).collect());
            fitted(&other)
        };
        for (what, new) in [
            ("tooth", moved(&|_, x, y| Some((x + 14.4 * offset.signum(), y)))),
            ("sensor", moved(&|_, x, y| Some((x, y + shift)))),
            ("scaled", moved(&|_, x, y| Some((x, y * scale)))),
            ("fewer", moved(&|i, x, y| (i % 5 != 1).then_some((x, y)))),
            ("bent", moved(&|_, x, y| Some((x, y + 0.002 * (x - 90.0) * (x - 60.0))))),
            ("elsewhere", moved(&|_, x, y| Some((x + offset, y + shift)))),
        ] {
            if let Some(new) = new {
                against(what, &new);
            }
        }
    }
    results.hold("comparisons");
}

/// A mechanism drawn by chance, a guess of it, and what of it is free.
fn mechanism(rng: &mut XorShiftRng, off: f64) -> (Mechanism, Mechanism, &'static [&'static str]) {
    let [a, b, c] = [(); 3].map(|()| rng.random_range(0.0..1.0));
    let branch = if a < 0.5 { Branch::Left } else { Branch::Right };
    match rng.random_range(0..4) {
        0 => {
            let of = |f: f64| {
                Mechanism::Triangle(Triangle {
                    base: 40.0,
                    arm: (70.0 + 30.0 * a) * f,
                    angle_at_zero: 25.0 + 20.0 * b,
                })
            };
            (of(1.0), of(off), &["arm", "angle_at_zero"])
        }
        1 => {
            let of = |f: f64| {
                Mechanism::FourBar(FourBar {
                    crank: (16.0 + 6.0 * a) * f,
                    coupler: 60.0,
                    rocker: 18.0 + 4.0 * b,
                    ground: 60.0 + 4.0 * c,
                    rocker_at_zero: 50.0 * f,
                    branch,
                })
            };
            (of(1.0), of(off), &["crank", "rocker_at_zero"])
        }
        2 => {
            let of = |f: f64| {
                Mechanism::SliderCrank(SliderCrank {
                    crank: 20.0,
                    rod: (40.0 + 20.0 * a) * f,
                    offset: 4.0 * b,
                    slide_at_zero: 40.0,
                    branch,
                })
            };
            (of(1.0), of(off), &["rod", "slide_at_zero"])
        }
        _ => {
            let of = |f: f64| {
                Mechanism::Spool(Spool {
                    drum: 8.0,
                    per_turn: (1.0 + a) * f,
                    pulley: 20.0,
                })
            };
            (of(1.0), of(off), &["per_turn"])
        }
    }
}

#[test]
fn transmissions() {
    let mut results = Results::default();
    for seed in 0..120_u64 {
        let mut rng = XorShiftRng::seed_from_u64(0x6c69_6e6b + seed);
        let off = rng.random_range(0.85..1.15);
        let (truth, guess, free) = mechanism(&mut rng, off);
        let [from, to] = [rng.random_range(-10.0..20.0), rng.random_range(40.0..85.0)];
        let (play, noise) = (
            [0.0, rng.random_range(0.0..2.0)][seed as usize % 2],
            rng.random_range(0.01..0.6),
        );
        let n = rng.random_range(8..40);
        let (mut drive, mut measured, mut sides) = (vec![], vec![], vec![]);
        for i in 0..n {
            let up = i < n / 2 || seed % 4 == 0;
            let part = if seed % 4 == 0 {
                i as f64 / n as f64
            } else {
                2.0 * if up { i } else { n - i } as f64 / n as f64
            };
            let command = from + (to - from) * part;
            let x = truth.moved(command);
            if x.is_finite() {
                drive.push(x + 0.5 * play * if up { 1.0 } else { -1.0 });
                measured.push(command + noise * rng.random_range(-1.0..1.0));
                sides.push(if up { Approach::Below } else { Approach::Above });
            }
        }
        let plain = Readings::new(&drive, &measured);
        let readings = if seed % 2 == 0 {
            plain
        } else {
            plain.with_approach(&sides)
        };
        let most_knots = rng.random_range(2..12);
        let curve = fit_curve(&readings, most_knots);
        let curve_more = curve.as_ref().ok().map(|fit| {
            let between: Vec<f64> = (0..9)
                .map(|i| fit.expected(10.0 * f64::from(i), Approach::Below))
                .collect();
            (
                fit.joint([-1.0, 1.0]),
                fit.joint_between([-1.0, 1.0], [from, to]),
                fit.command(),
                between,
            )
        });
        let linkage = fit_linkage(&readings, &guess, free);
        let linkage_more = linkage.as_ref().ok().map(|fit| {
            let between: Vec<f64> = (0..9)
                .map(|i| fit.expected(10.0 * f64::from(i), Approach::Above))
                .collect();
            (
                fit.joint([from, to]),
                fit.command(),
                fit.drive_at(0.5 * (from + to)),
                fit.measured_at(30.0),
                between,
            )
        });
        let choice = choose_transmission(&readings, &[Guess { start: guess, free }], most_knots);
        results.add(&format!("{seed}:curve"), &(curve, curve_more));
        results.add(&format!("{seed}:linkage"), &(linkage, linkage_more));
        results.add(&format!("{seed}:choice"), &choice);
        // The same relation as that of a sensor.
        let reading: Vec<f64> = drive.iter().map(|x| (x * 4.1 + 100.0).round()).collect();
        let sensor = fit_feedback(&reading, &measured, most_knots).map(|fit| {
            (
                fit.record([from, to]),
                fit.far_off(&reading, &measured),
                fit.angle(),
                fit,
            )
        });
        results.add(&format!("{seed}:sensor"), &sensor);
    }
    results.hold("transmissions");
}

#[test]
fn statistics() {
    let mut results = Results::default();
    for seed in 0..100_u64 {
        let mut rng = XorShiftRng::seed_from_u64(0x7374_6174 + seed);
        let n = rng.random_range(3..20);
        let x: Vec<f64> = (0..n)
            .map(|i| f64::from(i) * 3.0 + rng.random_range(0.0..1.0))
            .collect();
        let y: Vec<f64> = x
            .iter()
            .map(|x| 0.7 * x - 4.0 + rng.random_range(-2.0..2.0_f64).round())
            .collect();
        let u: Vec<f64> = x.iter().map(|_| rng.random_range(0.1..1.0)).collect();
        for (name, line) in [
            ("line", fit_line(&x, &y)),
            ("weighted", fit_line_weighted(&x, &y, &u)),
            ("through-zero", fit_line_through_zero(&x, &y)),
            ("both", fit_line_both(&x, &y, &u, &u)),
        ] {
            let more = line.as_ref().ok().map(|line| {
                (
                    line.correlation(),
                    line.coverage_factor(0.95),
                    line.inverse(&y[..2], None),
                    line.predict(7.0),
                    line.predict_single(50.0, Some(0.3)),
                    line.joint([0.0, 40.0], None),
                )
            });
            results.add(&format!("{seed}:{name}"), &(line, more));
        }
        results.add(&format!("{seed}:monotone"), &fit_monotone(&x, &y, seed % 3 != 0));
        results.add(
            &format!("{seed}:polynomial"),
            &fit_polynomial(&x, &y, 1 + seed as usize % 4),
        );
        results.add(&format!("{seed}:spread"), &spread(&y));
        let runs: Vec<(Vec<f64>, Approach)> = (0..rng.random_range(2..8))
            .map(|i| {
                let side = if i % 2 == 0 || seed % 3 == 0 {
                    Approach::Below
                } else {
                    Approach::Above
                };
                (x.iter().map(|x| x + rng.random_range(-0.5..0.5)).collect(), side)
            })
            .collect();
        let runs: Vec<Run<'_>> = runs
            .iter()
            .map(|(positions, side)| Run {
                approach: *side,
                positions,
            })
            .collect();
        results.add(&format!("{seed}:positioning"), &positioning(&x, &runs));
    }
    results.hold("statistics");
}
