//! Where the drive's zero lies, and the zero, unit and direction of the scale that is read, say nothing of the joint: a bring-up at the bench
//! of a moved joint finds the moved joint. An invented joint whose stops, play and slope are known beforehand.
#![allow(clippy::unwrap_used, clippy::panic, reason = "a test may panic")]

use elbowroom::bring_up::{Action, Answer, Bench, BenchPlan, Question, Report, Side, Verdict};
use elbowroom::fit::LimitFit;

const STOPS: [f64; 2] = [41.0, 128.0];
const PLAY: f64 = 2.0;
/// Of the scatter of a reading, deg of the scale.
const SCATTER: f64 = 0.3;

/// Where nothing is known yet the bench expects a little of every size, which is not of every unit.
const CLOSE: f64 = 1e-3;

/// What a reading is where the joint stands, the slope going from 1.29 to 1.64 between the stops.
fn shown(at: f64) -> f64 {
    1.4 * at + 0.002 * (at - 70.0) * (at - 70.0)
}

/// Scatter that is the same in every run, within two of its standard deviations.
fn scatter(reading: u64) -> f64 {
    let mixed = (reading + 1).wrapping_mul(0x9e37_79b9_7f4a_7c15);
    let mixed = (mixed ^ (mixed >> 29)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
    let share = (mixed >> 11) as f64 / (1u64 << 53) as f64;
    SCATTER * 3f64.sqrt() * (2.0 * share - 1.0)
}

/// How the drive is counted and the scale is read: the drive's zero, times what the scale, and its zero.
#[derive(Debug, Clone, Copy)]
struct Counted {
    drive: f64,
    by: f64,
    zero: f64,
}

const PLAIN: Counted = Counted {
    drive: 0.0,
    by: 1.0,
    zero: 0.0,
};

/// Brings the joint up as counted so, its stops felt by hand first or not.
fn bring_up(counted: Counted, felt: bool) -> Bench {
    let Counted { drive: off, by, zero } = counted;
    let mut plan = BenchPlan::new(79.5 + off, [off, 180.0 + off]).with_resolution(by.abs());
    if felt {
        plan = plan.with_stops_felt();
    }
    let mut bench = Bench::new(plan).unwrap();
    let (mut engaged, mut held, mut readings) = (79.5, None, 0);
    for _ in 0..3000 {
        let report = match bench.next() {
            Action::MoveTo { drive, .. } => {
                let drive = drive - off;
                engaged = f64::max(engaged, drive - PLAY / 2.0).min(drive + PLAY / 2.0);
                engaged = engaged.clamp(STOPS[0], STOPS[1]);
                Report::Moved
            }
            Action::Wait { .. } => Report::Waited,
            Action::Read => {
                readings += 1;
                Report::Reading {
                    value: zero + by * (shown(held.unwrap_or(engaged)) + scatter(readings)),
                    load: None,
                }
            }
            Action::Ask { question, .. } => Report::Answered {
                answer: match question {
                    Question::HoldAtStop { toward } => {
                        held = Some(if toward == Side::Lower { STOPS[0] } else { STOPS[1] });
                        Answer::Done
                    }
                    Question::AttachDrive => {
                        held = None;
                        Answer::Done
                    }
                    Question::WhatIsMet { .. } | Question::StaysBehind { .. } => Answer::Stop,
                    Question::WhatMoved { .. } => Answer::Joint,
                    _ => Answer::Done,
                },
            },
            Action::Done => {
                assert_eq!(bench.outcome().unwrap().verdict, Verdict::Ready, "{counted:?}");
                return bench;
            }
        };
        bench.report(report).unwrap();
    }
    panic!("it does not end")
}

fn fit_of(bench: &Bench) -> &LimitFit {
    bench.outcome().unwrap().fit.as_ref().unwrap()
}

#[track_caller]
fn close(got: f64, want: f64, of: f64, what: &str) {
    assert!((got - want).abs() <= CLOSE * of.abs(), "{what}: {got}, expected {want}");
}

#[test]
fn a_moved_joint_is_found_moved() {
    for felt in [false, true] {
        let plain = bring_up(PLAIN, felt);
        let old = fit_of(&plain);
        for counted in [
            Counted { drive: 64.0, ..PLAIN },
            Counted { drive: -512.0, ..PLAIN },
            Counted { by: 8.0, ..PLAIN },
            Counted { by: 0.015_625, ..PLAIN },
            Counted { by: -1.0, ..PLAIN },
            Counted { zero: 1024.0, ..PLAIN },
        ] {
            let Counted { drive: off, by, zero } = counted;
            let what = format!("felt {felt}, {counted:?}");
            let moved = bring_up(counted, felt);
            let got = fit_of(&moved);
            assert_eq!(moved.readings().len(), plain.readings().len(), "{what}");
            for (got, old) in moved.readings().iter().zip(plain.readings()) {
                assert_eq!((got.toward, got.is_used), (old.toward, old.is_used), "{what}");
                if let (Some(got), Some(old)) = (got.drive, old.drive) {
                    close(got, old + off, 180.0, &what);
                }
            }
            for (got, old) in [(got.lower, old.lower), (got.upper, old.upper)] {
                assert_eq!(
                    (got.kind, got.readings_beyond, got.marked),
                    (old.kind, old.readings_beyond, old.marked)
                );
                close(got.at, old.at + off, 1.0, &what);
                close(got.travel, old.travel + off, 1.0, &what);
                close(got.u.unwrap(), old.u.unwrap(), 1.0, &what);
                let ([low, high], [old_low, old_high]) = (got.interval.unwrap(), old.interval.unwrap());
                close(high - low, old_high - old_low, 1.0, &what);
                let (level, old_level) = (got.level.unwrap(), old.level.unwrap());
                close(level.value, by * old_level.value + zero, by * 180.0, &what);
                close(level.u, by.abs() * old_level.u, by, &what);
            }
            // Slope and intercept by the rules of propagation.
            close(got.slope, by * old.slope, by, &what);
            close(got.u_slope, by.abs() * old.u_slope, by * old.u_slope, &what);
            close(
                got.intercept,
                by * (old.intercept - off * old.slope) + zero,
                by * (1.0 + off.abs()) * 180.0,
                &what,
            );
            let covariance = by * by * (old.covariance - off * old.u_slope * old.u_slope);
            close(got.covariance, covariance, covariance, &what);
            close(got.residual_sd, by.abs() * old.residual_sd, by, &what);
            let (lost, old_lost) = (got.lost_motion.estimate().unwrap(), old.lost_motion.estimate().unwrap());
            close(lost.value, by.abs() * old_lost.value, by, &what);
            close(lost.u, by.abs() * old_lost.u, by, &what);
            close(got.lost_motion.in_drive(), old.lost_motion.in_drive(), 1.0, &what);
        }
    }
}

#[test]
fn what_is_found_is_the_joint() {
    for felt in [false, true] {
        let bench = bring_up(PLAIN, felt);
        let fit = fit_of(&bench);
        let lost = fit.lost_motion.in_drive();
        assert!((lost - PLAY).abs() < 0.6, "{lost}");
        for (side, end, stop) in [(Side::Lower, fit.lower, STOPS[0]), (Side::Upper, fit.upper, STOPS[1])] {
            let sign = side.sign();
            // Midway between both directions: in each, the stop is met half the play later or earlier.
            assert!((end.at - stop).abs() < 3.0 * end.u.unwrap(), "{felt} {end:?}");
            let [low, high] = end.interval.unwrap();
            let inner = if side == Side::Upper { low } else { high };
            // The travel keeps the guard from the innermost place of the stop, as met in either direction.
            let kept = sign * (inner - end.travel);
            assert!(kept >= end.guard + lost / 2.0 - 1e-9, "{felt} {kept} {end:?}");
            assert!(
                (end.level.unwrap().value - shown(stop)).abs() < 3.0 * SCATTER,
                "{end:?}"
            );
            let met = end.at + sign * lost / 2.0;
            let beyond = bench.readings().iter().filter(|reading| {
                // By hand it was held on the stop itself.
                let is_beyond = reading.drive.is_none_or(|drive| sign * (drive - met) > 0.0);
                reading.is_used && reading.toward == side && is_beyond
            });
            assert_eq!(end.readings_beyond, beyond.count(), "{felt} {end:?}");
            assert_eq!(end.marked, felt);
        }
        // The slope midway between the outermost places read, which is the joint's own there.
        let drives: Vec<f64> = bench.readings().iter().filter_map(|reading| reading.drive).collect();
        let [from, to] = drives
            .iter()
            .fold([f64::MAX, f64::MIN], |[a, b], &x| [a.min(x), b.max(x)]);
        let there = 1.4 + 0.004 * ((from + to) / 2.0 - 70.0);
        assert!((fit.slope - there).abs() < 0.02, "{} for {there}", fit.slope);
        let midway = (from + to) / 2.0;
        assert!((fit.intercept + fit.slope * midway - shown(midway)).abs() < 1.0);
    }
}
