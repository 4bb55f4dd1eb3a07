//! Places where a changed line once went unnoticed: each held to what it says.
#![allow(
    clippy::unwrap_used,
    clippy::panic,
    clippy::indexing_slicing,
    reason = "a test may panic"
)]

use elbowroom::block::{c_source, to_vec};
use elbowroom::bring_up::{Baseline, Bracket, BracketPlan, Found, Side, teeth};
use elbowroom::fit::{
    EndKind, FitError, FitOptions, Readings, fit_limits, fit_line, fit_line_through_zero, fit_polynomial,
};
use elbowroom::linkage::{Branch, FourBar, LinkageError, Mechanism};
use elbowroom::{Joint, JointRecord, ServoRecord, TimerRecord};

#[test]
fn no_name_leaves_the_comment_of_a_firmware_array() {
    let servo = ServoRecord {
        angle: [0.0, 180.0],
        pulse_us: [500.0, 2500.0],
    };
    let timer = TimerRecord {
        frame_hz: 50.0,
        counts_per_frame: 4096,
    };
    let joint = Joint::<f32>::new(JointRecord::new([-40.0, 60.0], [37.0, 122.0], 10.0, servo, timer)).unwrap();
    let image = to_vec(&[(3, &joint)]).unwrap();
    for name in [
        "*/",
        "x*/ int y; /*",
        "*\n/",
        "*\u{85}/",
        "\\\n*/",
        "??/\n*/",
        "/**/",
        "*",
        "\r*/",
    ] {
        let source = c_source("block", &image, &[(3, name)]).unwrap();
        assert_eq!(source.matches("*/").count(), 1, "{source}");
        assert_eq!(source.matches("/*").count(), 1, "{source}");
        assert!(source.find("*/").unwrap() > source.find("Check it once at start-up").unwrap());
        // One line for the joint and two below it, whatever its name.
        let (comment, _) = source.split_once("*/").unwrap();
        assert_eq!(comment.lines().count(), 6, "{comment}");
        assert!(comment.lines().skip(1).all(|line| line.starts_with(" *")), "{comment}");
    }
}

/// The angle between two vectors taken as lines, deg.
fn between([ax, ay]: [f64; 2], [bx, by]: [f64; 2]) -> f64 {
    let sine = (ax * by - ay * bx) / (ax.hypot(ay) * bx.hypot(by));
    sine.abs().asin().to_degrees()
}

#[test]
fn the_angle_to_a_dead_centre_is_that_of_the_links() {
    // Lengths far from 1: a product in place of a quotient would be far off.
    let links = FourBar {
        crank: 40.0,
        coupler: 120.0,
        rocker: 80.0,
        ground: 100.0,
        rocker_at_zero: 0.0,
        branch: Branch::Left,
    };
    let mechanism = Mechanism::FourBar(links);
    let [lower, upper] = mechanism.valid_range(100.0).unwrap();
    for (end, inward) in [(lower, 1.0), (upper, -1.0)] {
        let at = end + inward * 1e-3;
        let refused = mechanism.check([at.min(at + inward), at.max(at + inward)]).unwrap_err();
        let LinkageError::DeadCentreNear { command, links_deg, .. } = refused else {
            panic!("{refused}")
        };
        let (crank, rocker) = (links.crank_deg(command).to_radians(), command.to_radians());
        let pin = [40.0 * crank.cos(), 40.0 * crank.sin()];
        let arm = [80.0 * rocker.cos(), 80.0 * rocker.sin()];
        let coupler = [100.0 + arm[0] - pin[0], arm[1] - pin[1]];
        let least = between(pin, coupler).min(between(arm, coupler));
        assert!(
            (links_deg - least).abs() < 1e-6 * (1.0 + least),
            "{links_deg} for {least}"
        );
    }
    // A range that keeps clear of both by two degrees of the links is taken.
    assert!(mechanism.check([lower + 8.0, upper - 8.0]).is_ok());
}

/// Near either kind of dead centre, crank and coupler in one line or coupler and rocker, the angle told is that of the two links that are.
#[test]
fn near_each_dead_centre_the_angle_is_that_of_its_links() {
    let mut told = [0, 0];
    for [crank, coupler, rocker, ground] in [
        [40.0, 120.0, 80.0, 100.0],
        [100.0, 60.0, 50.0, 80.0],
        [70.0, 45.0, 90.0, 100.0],
        [30.0, 95.0, 60.0, 70.0],
    ] {
        for (branch, start) in Branch::ALL
            .into_iter()
            .flat_map(|branch| (0..24).map(move |i| (branch, 15.0 * f64::from(i))))
        {
            let links = FourBar {
                crank,
                coupler,
                rocker,
                ground,
                rocker_at_zero: 0.0,
                branch,
            };
            let mechanism = Mechanism::FourBar(links);
            let Some([lower, upper]) = mechanism.valid_range(start) else {
                continue;
            };
            for (end, inward) in [(lower, 1.0), (upper, -1.0)] {
                let [a, b] = [end + inward * 1e-4, end + inward * 0.05];
                let Err(LinkageError::DeadCentreNear { command, links_deg, .. }) =
                    mechanism.check([a.min(b), a.max(b)])
                else {
                    continue;
                };
                let arm = |length: f64, deg: f64| [length * deg.to_radians().cos(), length * deg.to_radians().sin()];
                let ([hx, hy], [lx, ly]) = (arm(crank, links.crank_deg(command)), arm(rocker, command));
                let across = [ground + lx - hx, ly - hy];
                let angles = [between([hx, hy], across), between([lx, ly], across)];
                let least = angles[0].min(angles[1]);
                assert!(
                    (links_deg - least).abs() < 1e-6 * (1.0 + least),
                    "{links:?} at {command}: {links_deg}, {angles:?}"
                );
                told[usize::from(angles[1] < angles[0])] += 1;
            }
        }
    }
    assert!(told[0] > 10 && told[1] > 10, "{told:?}");
}

#[test]
fn a_four_bar_over_a_whole_turn_is_refused() {
    // A parallelogram goes round for ever, so that a movement of 370 deg is one of 10 deg as well.
    let links = FourBar {
        crank: 12.0,
        coupler: 60.0,
        rocker: 12.0,
        ground: 60.0,
        rocker_at_zero: 90.0,
        branch: Branch::Left,
    };
    let mechanism = Mechanism::FourBar(links);
    for range in [[-200.0, 200.0], [-40.0, 320.0], [0.0, 720.0]] {
        assert_eq!(
            mechanism.check(range),
            Err(LinkageError::BeyondTurn {
                lower: range[0],
                upper: range[1]
            })
        );
    }
    assert!(
        mechanism
            .check([-40.0, 320.0])
            .unwrap_err()
            .to_string()
            .contains("keep the command range below 360 deg")
    );
    for at in [-60.0, 0.0, 60.0] {
        assert!((mechanism.command_near(mechanism.moved(at), 0.0) - at).abs() < 1e-9);
    }
}

#[test]
fn lengths_have_a_least_and_a_most() {
    let spool = |drum| {
        Mechanism::Spool(elbowroom::linkage::Spool {
            drum,
            per_turn: 0.0,
            pulley: drum,
        })
    };
    for (drum, is_good) in [
        (1e-90, false),
        (0.9e-6, false),
        (1e-6, true),
        (20.0, true),
        (1e9, true),
        (1.1e9, false),
        (1e90, false),
        (1e308, false),
    ] {
        assert_eq!(spool(drum).check([0.0, 90.0]).is_ok(), is_good, "{drum:e}");
    }
    let refused = spool(1e90).check([0.0, 90.0]).unwrap_err().to_string();
    assert_eq!(
        refused,
        "transmission drum is 1e90; write it in mm; lengths from 1e-6 to 1e9 can be computed"
    );
}

#[test]
fn a_baseline_stands_between_the_ends_of_its_fit() {
    let drive: Vec<f64> = (0..61).map(|step| 10.0 + 2.0 * f64::from(step)).collect();
    let wobble = |at: usize| [0.02, -0.03, 0.01, 0.0, -0.01][at % 5];
    let measured: Vec<f64> = drive
        .iter()
        .enumerate()
        .map(|(at, d)| 3.0 * d.clamp(30.0, 110.0) + wobble(at))
        .collect();
    let fit = fit_limits(&Readings::new(&drive, &measured), &FitOptions::default()).unwrap();
    assert_eq!((fit.lower.kind, fit.upper.kind), (EndKind::Contact, EndKind::Contact));
    let known = Baseline::from_fit(&fit);
    assert!((known.at - 70.0).abs() < 0.5, "{}", known.at);
    assert!((known.reading - 210.0).abs() < 1.5, "{}", known.reading);
    assert!((known.per_deg - 3.0).abs() < 0.01);
    assert!((known.contacts[0].unwrap() - 30.0).abs() < 0.5 && (known.contacts[1].unwrap() - 110.0).abs() < 0.5);
}

#[test]
fn teeth_are_counted_to_the_nearest_either_way() {
    for (shift, expected) in [
        (13.5, (1, 25)),
        (-13.5, (-1, 25)),
        (-30.0, (-2, 24)),
        (-45.0, (-3, 24)),
        (45.0, (3, 24)),
        (-14.5, (-1, 25)),
    ] {
        assert_eq!(teeth(shift), Some(expected), "{shift}");
    }
    for shift in [0.0, 1.9, -1.9, 7.0, -7.0, 7.9] {
        assert_eq!(teeth(shift), None, "{shift}");
    }
}

#[test]
fn probes_are_counted_one_by_one() {
    for toward in [Side::Upper, Side::Lower] {
        let sign = if toward == Side::Upper { 1.0 } else { -1.0 };
        let plan = BracketPlan::new(toward, 70.0, 70.0 + sign * 20.0).with_step(4.0);
        let mut search = Bracket::new(plan).unwrap();
        let mut count = 0;
        while let Some(angle) = search.probe() {
            assert_eq!(search.probes(), count);
            search
                .report(if sign * (angle - 70.0) > 10.3 {
                    Found::Contact
                } else {
                    Found::Clear
                })
                .unwrap();
            count += 1;
        }
        assert_eq!((search.probes(), count), (6, 6));
        assert!(search.most_probes() >= count);
    }
}

#[test]
fn a_line_through_zero_takes_pairs_only() {
    let x = [1.0, 2.0, 3.0];
    assert!(fit_line_through_zero(&x, &[2.0, 4.1, 5.9]).is_ok());
    for y in [&[2.0, 4.0][..], &[2.0, 4.0, f64::NAN], &[2.0, 4.0, 6.0, 8.0]] {
        assert!(fit_line_through_zero(&x, y).is_err(), "{y:?}");
    }
    assert!(fit_line_through_zero(&x[..1], &[2.0]).is_err());
}

/// Where readings are expected that prove a line or a degree, more are asked for than are there.
#[test]
fn more_drive_angles_are_asked_for_than_all_but_equal_ones() {
    // The next float above 1 is another angle and tells nothing of a parabola.
    let x = [0.0, 0.0, 1.0, 1.0, 1.0 + f64::EPSILON];
    let Err(FitError::DriveAnglesEqual { distinct, needed, .. }) = fit_polynomial(&x, &x, 2) else {
        panic!("{:?}", fit_polynomial(&x, &x, 2))
    };
    assert_eq!((distinct, needed), (3, 4));
}

#[test]
fn a_level_line_is_not_inverted() {
    let line = |slope: f64| fit_line(&[0.0, 1.0, 2.0], &[5.0, 5.0 + slope, 5.0 + 2.0 * slope]).unwrap();
    for (slope, inverted) in [(0.0, false), (0.5, false), (-0.5, true)] {
        let joint = line(slope).joint([10.0, 20.0], Some([0.0, 1.0])).unwrap();
        assert_eq!(joint.inverted, inverted, "{slope}");
    }
    assert!(line(0.0).joint([10.0, 20.0], None).is_err());
}

/// A reading on the very place of a contact may have met it; one at the end of what follows the line does follow it.
#[test]
fn a_reading_on_a_contact_is_not_between_the_stops() {
    let drive: Vec<f64> = (0..31).map(|step| 3.0 * f64::from(step)).collect();
    let measured: Vec<f64> = drive.iter().map(|d| d.clamp(20.0, 70.0)).collect();
    let readings = Readings::new(&drive, &measured);
    let mut fit = fit_limits(&readings, &FitOptions::default()).unwrap();
    for (kind, itself) in [(EndKind::Contact, 0), (EndKind::Stalled, 1)] {
        (fit.lower.kind, fit.lower.at) = (kind, 21.0);
        (fit.upper.kind, fit.upper.at) = (kind, 69.0);
        let between = fit.between_stops(&readings);
        let kept = between.readings().drive;
        // 24 to 66 by 3, and the two places themselves.
        assert_eq!(kept.len(), 15 + 2 * itself, "{kept:?}");
        assert_eq!(kept.contains(&21.0) && kept.contains(&69.0), itself == 1);
    }
}

#[test]
fn options_of_a_fit_are_checked() {
    let drive: Vec<f64> = (0..20).map(f64::from).collect();
    let fit = |options: FitOptions| fit_limits(&Readings::new(&drive, &drive), &options);
    assert!(fit(FitOptions::default().with_guard(0.0)).is_ok());
    for guard in [-0.1, f64::NAN, f64::INFINITY] {
        let refused = fit(FitOptions::default().with_guard(guard)).unwrap_err().to_string();
        assert!(refused.contains("guard"), "{refused}");
    }
}

#[cfg(feature = "robot")]
#[test]
fn a_first_joint_stands_under_its_own_name_only() {
    let mut robot = elbowroom::robot::Robot::parse("format = 1\n").unwrap();
    let servo = ServoRecord {
        angle: [0.0, 180.0],
        pulse_us: [500.0, 2500.0],
    };
    let timer = TimerRecord {
        frame_hz: 50.0,
        counts_per_frame: 4096,
    };
    let record = JointRecord::new([-40.0, 60.0], [37.0, 122.0], 10.0, servo, timer);
    robot.put(&elbowroom::robot::EntryRecord::new("wing", record)).unwrap();
    let text = robot.to_string();
    assert!(text.contains("[joint.wing]") && !text.contains("[joint]"), "{text}");
}

/// A reading is left out where its distance from the line of the others, over the standard uncertainty of that distance, is beyond Student's
/// quantile for one test in a hundred over all readings: the externally studentised residual (Cook and Weisberg, Residuals and
/// Influence in Regression, 1982, 2.2).
#[test]
fn a_reading_is_left_out_from_students_quantile_on() {
    let n = 25;
    let drive: Vec<f64> = (0..n).map(|step| 3.0 * f64::from(step)).collect();
    let off = [0.11, -0.07, 0.03, -0.12, 0.09, 0.02, -0.06, 0.05, -0.1];
    let at = 11;
    let table = |astray: f64| -> Vec<f64> {
        let value = |(i, d): (usize, &f64)| 0.8 * d + if i == at { astray } else { off[i * 5 % 9] };
        drive.iter().enumerate().map(value).collect()
    };
    let is_left_out = |astray: f64| {
        let measured = table(astray);
        let fit = fit_limits(&Readings::new(&drive, &measured), &FitOptions::default()).unwrap();
        assert!(fit.rejected.iter().all(|rejected| rejected.index == at));
        !fit.rejected.is_empty()
    };
    let (mut kept, mut out) = (0.0, 3.0);
    assert!(!is_left_out(kept) && is_left_out(out));
    for _ in 0..30 {
        let middle = 0.5 * (kept + out);
        *if is_left_out(middle) { &mut out } else { &mut kept } = middle;
    }
    let measured = table(kept);
    let others = |values: &[f64]| -> Vec<f64> {
        let all = values.iter().enumerate().filter(|(i, _)| *i != at);
        all.map(|(_, value)| *value).collect()
    };
    let line = fit_line(&others(&drive), &others(&measured)).unwrap();
    let expected = line.predict_single(drive[at], None);
    let t = (measured[at] - expected.value) / expected.u;
    let quantile = elbowroom::fit::t_quantile(1.0 - 0.5 * 0.01 / f64::from(n), f64::from(n - 3));
    assert!((t / quantile - 1.0).abs() < 1e-4, "{t} for {quantile}");
}

/// A joint whose commands begin or end at 0 rests there, and one that does not reach 0 midway.
#[cfg(feature = "robot")]
#[test]
fn a_joint_rests_at_zero_wherever_that_is_a_command() {
    let servo = ServoRecord {
        angle: [0.0, 180.0],
        pulse_us: [500.0, 2500.0],
    };
    let timer = TimerRecord {
        frame_hz: 50.0,
        counts_per_frame: 4096,
    };
    let drive: Vec<f64> = (0..41).map(|step| 10.0 + 2.0 * f64::from(step)).collect();
    let record = |zero: f64| {
        let measured: Vec<f64> = drive.iter().map(|d| d - zero).collect();
        let fit = fit_limits(&Readings::new(&drive, &measured), &FitOptions::default()).unwrap();
        elbowroom::robot::EntryRecord::from_fit("wing", &fit, None, servo, timer).unwrap()
    };
    let [lower, upper] = record(0.0).joint.command;
    for (zero, rest) in [
        (lower, 0.0),
        (upper, 0.0),
        (50.0, 0.0),
        (lower - 4.0, 0.5 * (upper - lower) + 4.0),
        (upper + 4.0, 0.5 * (lower - upper) - 4.0),
    ] {
        let joint = record(zero).joint;
        assert!((joint.command[0] - (lower - zero)).abs() < 1e-3, "{:?}", joint.command);
        assert!((joint.rest - rest).abs() < 2e-3, "{zero}: {}", joint.rest);
    }
}
