//! At rest or in motion: what a column of times decides. All joints are invented but those of the recorded servo.
#![allow(clippy::unwrap_used, clippy::indexing_slicing, clippy::panic)]

use elbowroom::Code;
use elbowroom::fit::{Approach, FitError, FitOptions, LimitFit, Readings, Warning, fit_limits};
use rand::{RngExt, SeedableRng};
use rand_distr::{Distribution, Normal};
use rand_xorshift::XorShiftRng;

const STOPS: [f64; 2] = [9.3, 71.2];
const NOISE: f64 = 0.3;

struct Log {
    time: Vec<f64>,
    drive: Vec<f64>,
    measured: Vec<f64>,
    sides: Vec<Approach>,
    /// Half the lost motion.
    half: f64,
}

impl Log {
    fn fit(&self, told: bool) -> Result<LimitFit, FitError> {
        let readings = Readings::new(&self.drive, &self.measured).with_time(&self.time);
        let readings = if told {
            readings.with_approach(&self.sides)
        } else {
            readings
        };
        fit_limits(&readings, &FitOptions::default())
    }
}

/// How far the travel goes past a stop as driven outward.
fn past(fit: &LimitFit, half: f64) -> f64 {
    let [lower, upper] = STOPS;
    (lower - half - fit.lower.travel).max(fit.upper.travel - upper - half)
}

/// A servo that follows its drive late, swept at a steady speed over 0 to 80 and, if asked, back: `rate` readings a second.
fn sweep_in_motion(seed: u64, speed: f64, latency: f64, back: bool, play: f64, smooth: bool) -> Log {
    let mut rng = XorShiftRng::seed_from_u64(0x0710_0000 + seed);
    let noise = Normal::new(0.0, NOISE).unwrap();
    let rate = rng.random_range(40.0..100.0);
    let once = 80.0 / speed;
    let whole = if back { 2.0 * once } else { once };
    let commanded = |t: f64| {
        let t = t.max(0.0);
        if t <= once {
            speed * t
        } else {
            (80.0 - speed * (t - once)).max(0.0)
        }
    };
    let (mut engaged, mut servo, mut now) = (-0.5 * play, 0.0, 0.0);
    let mut log = Log {
        time: vec![],
        drive: vec![],
        measured: vec![],
        sides: vec![],
        half: 0.5 * play,
    };
    let step = 1e-3;
    let mut next = rng.random_range(0.0..1.0 / rate);
    while now < whole {
        // A first-order lag, or a plain delay.
        if smooth {
            servo += (commanded(now) - servo) * step / latency;
        } else {
            servo = commanded(now - latency);
        }
        engaged = engaged.max(servo - 0.5 * play).min(servo + 0.5 * play);
        if now >= next {
            log.time.push(now);
            log.drive.push(commanded(now));
            log.measured
                .push(engaged.clamp(STOPS[0], STOPS[1]) + noise.sample(&mut rng));
            log.sides
                .push(if now <= once { Approach::Below } else { Approach::Above });
            next += 1.0 / rate;
        }
        now += step;
    }
    log
}

/// One reading at rest at each command, `dwell` seconds after the drive moved there.
fn sweep_at_rest(seed: u64, pitch: f64, dwell: f64, back: bool, play: f64) -> Log {
    let mut rng = XorShiftRng::seed_from_u64(0x4e57_0000 + seed);
    let noise = Normal::new(0.0, NOISE).unwrap();
    let n = (80.0 / pitch) as usize;
    let mut log = Log {
        time: vec![],
        drive: vec![],
        measured: vec![],
        sides: vec![],
        half: 0.5 * play,
    };
    let up = (0..=n).map(|i| (pitch * i as f64, 1.0));
    let down = (0..n).rev().filter(|_| back).map(|i| (pitch * i as f64, -1.0));
    let mut engaged = -0.5 * play;
    let mut now = 0.0;
    for (drive, side) in up.chain(down) {
        now += dwell * rng.random_range(0.95..1.2);
        engaged = f64::max(engaged, drive - 0.5 * play).min(drive + 0.5 * play);
        log.time.push(now);
        log.drive.push(drive);
        log.measured
            .push(engaged.clamp(STOPS[0], STOPS[1]) + noise.sample(&mut rng));
        log.sides
            .push(if side > 0.0 { Approach::Below } else { Approach::Above });
    }
    log
}

#[test]
fn sweeps_in_motion_are_never_accepted_in_silence() {
    let (mut total, mut refused, mut over) = (0, 0, Vec::new());
    for back in [false, true] {
        for smooth in [false, true] {
            for told in [false, true] {
                for seed in 0..40 {
                    let speed = 60.0 + 60.0 * (seed % 10) as f64 / 9.0;
                    let latency = 0.05 + 0.1 * (seed / 10) as f64 / 3.0;
                    let play = if seed % 2 == 0 { 0.0 } else { 2.0 };
                    let log = sweep_in_motion(seed, speed, latency, back, play, smooth);
                    total += 1;
                    match log.fit(told) {
                        Err(error) => {
                            refused += 1;
                            assert_eq!(error.code(), Code::InMotion, "{error}");
                            assert!(error.to_string().contains("measure at rest"), "{error}");
                        }
                        Ok(fit) => {
                            let past = past(&fit, log.half);
                            if past > 1.0 || fit.warnings.is_empty() {
                                over.push((back, smooth, told, seed, past, fit.warnings));
                            }
                        }
                    }
                }
            }
        }
    }
    println!("{refused} of {total} refused");
    assert!(
        over.is_empty(),
        "{} of {total}: {:?}",
        over.len(),
        over.iter().take(8).collect::<Vec<_>>()
    );
}

#[test]
fn readings_at_rest_are_never_refused() {
    for pitch in [0.5, 1.0, 2.0, 5.0] {
        for dwell in [0.5, 1.0, 3.0] {
            for back in [false, true] {
                for seed in 0..10 {
                    let play = [0.0, 0.5, 2.0, 4.0][seed as usize % 4];
                    let mut log = sweep_at_rest(seed, pitch, dwell, back, play);
                    if seed % 2 == 0 {
                        // A clock that ticks evenly.
                        log.time = (0..log.time.len()).map(|i| dwell * i as f64).collect();
                    }
                    for told in [false, true] {
                        let fit = log
                            .fit(told)
                            .unwrap_or_else(|e| panic!("{pitch} {dwell} {back} {seed} {told}: {e}"));
                        let lag =
                            |w: &&Warning| matches!(w, Warning::LagOrLostMotion { .. } | Warning::MayTrail { .. });
                        assert_eq!(
                            fit.warnings.iter().find(lag),
                            None,
                            "{pitch} {dwell} {back} {seed} {told}"
                        );
                        assert!(
                            past(&fit, log.half) <= 1.0,
                            "{pitch} {dwell} {back} {seed} {told}: {:?}",
                            fit.travel
                        );
                    }
                }
            }
        }
    }
}

/// Two passes at different speeds show the latency by themselves: the error names it, in seconds.
#[test]
fn a_latency_that_shows_is_named() {
    for seed in 0..10 {
        let (speed, latency) = (60.0 + 5.0 * seed as f64, 0.08);
        let mut slow = sweep_in_motion(seed, 25.0, latency, false, 0.0, false);
        let fast = sweep_in_motion(seed + 100, speed, latency, false, 0.0, false);
        let from = slow.time.last().unwrap() + 5.0;
        slow.time.extend(fast.time.iter().map(|t| t + from));
        slow.drive.extend(&fast.drive);
        slow.measured.extend(&fast.measured);
        let error = slow.fit(false);
        let Err(FitError::Moving {
            latency: Some(found), ..
        }) = error
        else {
            panic!("{seed}: {error:?}")
        };
        assert!((found - latency).abs() < 0.02, "{seed}: {found}");
    }
}

/// Fast stepping one way: nothing shows whether the joint had arrived, and the speed could do little harm. Said, not refused.
#[test]
fn slow_motion_one_way_is_said() {
    for seed in 0..10 {
        let mut log = sweep_at_rest(seed, 1.0, 0.15, false, 0.0);
        // Even times: uneven ones show by themselves that nothing trails.
        log.time = (0..log.time.len()).map(|i| 0.15 * i as f64).collect();
        let fit = log.fit(false).unwrap();
        assert!(
            fit.warnings.iter().any(|w| matches!(w, Warning::MayTrail { .. })),
            "{:?}",
            fit.warnings
        );
        println!("{}", fit.warnings[0]);
        let fit = sweep_at_rest(seed, 1.0, 0.15, true, 2.0).fit(false).unwrap();
        assert!(
            fit.warnings
                .iter()
                .any(|w| matches!(w, Warning::LagOrLostMotion { .. })),
            "{:?}",
            fit.warnings
        );
    }
}

/// A log of true positions at speed trails by nothing, and is as good as one at rest.
#[test]
fn a_log_without_lag_is_fitted() {
    for seed in 0..10 {
        let log = sweep_in_motion(seed, 60.0, 1e-9, true, 0.0, false);
        let fit = log.fit(false).unwrap();
        assert!(past(&fit, 0.0) < 0.5);
    }
}

/// The recorded servo (Duclusaud et al., ICRA 2025) trails its goal: with its times it is refused as without.
#[test]
fn the_recorded_servo_is_refused_with_its_times() {
    for name in ["sin_sin", "up_and_down", "sin_time_square"] {
        let path = format!(
            "{}/tests/data/measured/servo_in_motion_{name}.csv",
            env!("CARGO_MANIFEST_DIR")
        );
        let mut log = Log {
            time: vec![],
            drive: vec![],
            measured: vec![],
            sides: vec![],
            half: 0.0,
        };
        for row in csv::Reader::from_path(path).unwrap().records() {
            let row = row.unwrap();
            log.time.push(row[0].parse().unwrap());
            log.drive.push(row[1].parse().unwrap());
            log.measured.push(row[2].parse().unwrap());
        }
        let error = log.fit(false).unwrap_err();
        println!("{name}: {error}");
        assert_eq!(error.code(), Code::InMotion, "{name}");
    }
}

/// Times say the same in whatever order the rows come, and from whatever moment they count.
#[test]
fn order_and_origin_of_times_change_nothing() {
    let log = sweep_at_rest(3, 1.0, 0.5, true, 2.0);
    let order: Vec<usize> = (0..log.time.len()).rev().collect();
    let pick = |v: &[f64], off: f64| order.iter().map(|&i| v[i] + off).collect::<Vec<f64>>();
    let (t, x, y) = (pick(&log.time, 4096.0), pick(&log.drive, 0.0), pick(&log.measured, 0.0));
    let turned = fit_limits(&Readings::new(&x, &y).with_time(&t), &FitOptions::default()).unwrap();
    let plain = log.fit(false).unwrap();
    assert_eq!(
        (turned.travel, turned.slope, turned.lost_motion),
        (plain.travel, plain.slope, plain.lost_motion)
    );
    let LimitFit { lost_motion, .. } = plain;
    assert!(
        (lost_motion.in_drive() - 2.0).abs() < 0.3,
        "sides follow from the times: {lost_motion:?}"
    );
}

#[test]
fn times_that_are_none_are_refused_by_name() {
    let (x, y) = ([0.0, 10.0, 20.0, 30.0, 40.0], [0.0, 10.1, 19.9, 30.0, 40.1]);
    let options = FitOptions::default();
    let short = fit_limits(&Readings::new(&x, &y).with_time(&[0.0, 1.0]), &options).unwrap_err();
    assert_eq!(short.code(), Code::LengthMismatch);
    assert!(short.to_string().starts_with("time has 2 values"), "{short}");
    for bad in [f64::NAN, f64::INFINITY] {
        let time = [0.0, 1.0, bad, 3.0, 4.0];
        let error = fit_limits(&Readings::new(&x, &y).with_time(&time), &options).unwrap_err();
        assert_eq!(error.code(), Code::NotFinite);
        assert!(error.to_string().starts_with("time at index 2"), "{error}");
    }
    // Times that are all alike decide nothing.
    assert!(fit_limits(&Readings::new(&x, &y).with_time(&[7.0; 5]), &options).is_ok());
}

/// Without times: a joint that trails by so many steps of its drive, which goes there and back by a cosine, slowest at its turns.
fn trailing(steps: f64, unit: f64) -> Result<LimitFit, FitError> {
    let drive: Vec<f64> = (0..720)
        .map(|i| 40.0 - 40.0 * (std::f64::consts::PI * f64::from(i) / 120.0).cos())
        .collect();
    let mut rng = XorShiftRng::seed_from_u64(7);
    let noise = Normal::new(0.0, 0.05).unwrap();
    let measured: Vec<f64> = (0..720)
        .map(|i| {
            let step = drive[i] - drive[i.saturating_sub(1)];
            unit * (drive[i] - steps * step + noise.sample(&mut rng))
        })
        .collect();
    fit_limits(&Readings::new(&drive, &measured), &FitOptions::default())
}

#[test]
fn what_follows_the_speed_is_refused_in_any_unit() {
    for unit in [1e-3, 1.0, 1e3] {
        let error = trailing(3.0, unit).unwrap_err();
        assert_eq!(error.code(), Code::InMotion, "{unit}: {error}");
        assert!(trailing(0.0, unit).is_ok());
    }
}

/// Lost motion comes again wherever the drive comes by the same way: three times there and back, at rest, the sides untold.
#[test]
fn what_follows_the_way_is_not_refused_in_any_unit() {
    let pass = || (0..=80).map(f64::from).chain((0..80).rev().map(f64::from));
    let drive: Vec<f64> = pass().chain(pass()).chain(pass()).collect();
    let mut rng = XorShiftRng::seed_from_u64(8);
    let noise = Normal::new(0.0, 0.1).unwrap();
    for unit in [1e-3, 1.0, 1e3] {
        let mut engaged = -1.5;
        let measured: Vec<f64> = drive
            .iter()
            .map(|x| {
                engaged = f64::max(engaged, x - 1.5).min(x + 1.5);
                unit * (engaged + noise.sample(&mut rng))
            })
            .collect();
        let fit = fit_limits(&Readings::new(&drive, &measured), &FitOptions::default());
        assert!(fit.is_ok(), "{unit}: {fit:?}");
    }
}
