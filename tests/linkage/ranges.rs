//! The command ranges that a mechanism can serve, and what those are told that it cannot.

use super::tables::four_bar;
use super::{new, turned};
use elbowroom::Code;
use elbowroom::linkage::{Branch, FourBar, LEAST_ANGLE_DEG, LinkageError, Mechanism, SliderCrank, Spool, Triangle};

#[test]
fn refusals_tell_the_distance() {
    let triangle = Mechanism::Triangle(Triangle {
        base: 40.0,
        arm: 92.0,
        angle_at_zero: 31.0,
    });
    assert_eq!(
        new(triangle, [-40.0, 60.0]).unwrap_err(),
        LinkageError::DeadCentreInside {
            lower: -40.0,
            upper: 60.0,
            at: -31.0
        }
    );
    let LinkageError::DeadCentreNear {
        command,
        at,
        distance,
        links_deg,
    } = new(triangle, [0.0, 148.5]).unwrap_err()
    else {
        panic!("half a degree from a line")
    };
    assert_eq!((command, at, distance), (148.5, 149.0, 0.5));
    assert!((links_deg - 0.5).abs() < 1e-9);
    assert!(new(triangle, [0.0, 149.0 - LEAST_ANGLE_DEG - 1e-9]).is_ok());

    // The toggle of the table: its horn reaches 67.9757 deg.
    let mut links = four_bar("fourbar_toggle", Branch::Left);
    links.rocker_at_zero = 120.0;
    let [below, above] = Mechanism::FourBar(links).valid_range(0.0).unwrap();
    assert!(below < 0.0 && above > 0.0);
    let refused = new(Mechanism::FourBar(links), [0.0, above + 5.0]).unwrap_err();
    assert_eq!(
        refused,
        LinkageError::DeadCentreInside {
            lower: 0.0,
            upper: above + 5.0,
            at: above
        }
    );
    assert_eq!(refused.code(), Code::TransmissionInvalid);

    let engine = SliderCrank {
        crank: 15.0,
        rod: 60.0,
        offset: 0.0,
        slide_at_zero: 60.0,
        branch: Branch::Left,
    };
    assert_eq!(
        new(Mechanism::SliderCrank(engine), [-10.0, 20.0]).unwrap_err(),
        LinkageError::OutOfReach {
            command: 20.0,
            nearest: 15.0
        }
    );
    let shrinking = Spool {
        drum: 8.0,
        per_turn: -2.0,
        pulley: 20.0,
    };
    assert!(matches!(
        new(Mechanism::Spool(shrinking), [0.0, 1e4]).unwrap_err(),
        LinkageError::OutOfReach { command, nearest } if command == 1e4 && nearest > 0.0
    ));
    let flat = Triangle {
        base: 0.0,
        arm: 92.0,
        angle_at_zero: 31.0,
    };
    assert_eq!(
        new(Mechanism::Triangle(flat), [0.0, 1.0]).unwrap_err(),
        LinkageError::NotPositive {
            what: "base",
            value: 0.0
        }
    );
    let unknown = Triangle {
        base: 1.0,
        arm: 92.0,
        angle_at_zero: f64::INFINITY,
    };
    assert_eq!(
        new(Mechanism::Triangle(unknown), [0.0, 1.0]).unwrap_err().code(),
        Code::NotFinite
    );
}

/// Where links lie in one line nothing moves on, or it turns back: both can be seen in the movement alone.
#[test]
fn a_valid_range_is_where_the_movement_neither_turns_nor_ends() {
    use rand::{RngExt as _, SeedableRng as _};
    let mut random = rand_xorshift::XorShiftRng::seed_from_u64(22);
    let mut ends = [0; 2];
    for turn in 0..3000 {
        let branch = [Branch::Left, Branch::Right][turn % 2];
        let [a, b, c, d] = [(); 4].map(|()| random.random_range(20.0..100.0));
        let (mechanism, command, step) = if turn % 3 == 0 {
            let links = SliderCrank {
                crank: a,
                rod: b,
                offset: c - 60.0,
                slide_at_zero: 0.0,
                branch,
            };
            (Mechanism::SliderCrank(links), random.random_range(-150.0..150.0), 1e-3)
        } else {
            let links = FourBar {
                crank: a,
                coupler: b,
                rocker: c,
                ground: d,
                rocker_at_zero: 0.0,
                branch,
            };
            (Mechanism::FourBar(links), random.random_range(-180.0..180.0), 1e-3)
        };
        let Some([below, above]) = mechanism.valid_range(command) else {
            continue;
        };
        // How fast the servo's side moves, from its places alone.
        let rate = |at: f64| turned(mechanism.moved(at + step), mechanism.moved(at - step));
        let from = if below.is_finite() { below } else { command - 360.0 };
        let to = if above.is_finite() { above } else { command + 360.0 };
        // Too near to one end or to none: the differences would reach beyond.
        if to - from < 1.0 || (command - from).min(to - command) < 0.1 {
            continue;
        }
        let way = rate(command).signum();
        for share in 1..200 {
            let at = from + (to - from) * f64::from(share) / 200.0;
            if at - from > 0.1 && to - at > 0.1 {
                assert!(way * rate(at) > 0.0, "{mechanism:?} at {at} within {below} to {above}");
            }
        }
        for (end, outward) in [(below, -1.0), (above, 1.0)] {
            if end.is_finite() {
                let beyond = rate(end + outward * 0.1);
                let turns = beyond.is_nan() || way * beyond < 0.0;
                assert!(turns, "{mechanism:?} goes on beyond {end}");
                ends[usize::from(beyond.is_nan())] += 1;
            }
        }
    }
    assert!(ends.iter().all(|&seen| seen > 200), "{ends:?}");
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
            .contains("keep the command range below 359.99 deg")
    );
    for at in [-60.0, 0.0, 60.0] {
        assert!((mechanism.command_near(mechanism.moved(at), 0.0) - at).abs() < 1e-9);
    }
}

/// Where crank and rocker both go round, the two ends of nearly a whole turn are told apart or refused. Over 6.6e-14 to 360 the lower end came
/// back as the upper one.
#[test]
fn the_ends_of_nearly_a_whole_turn_are_told_apart() {
    let mechanism = Mechanism::FourBar(FourBar {
        crank: 50.33472029609202,
        coupler: 68.39054259446009,
        rocker: 92.01059022306482,
        ground: 21.21538011851225,
        rocker_at_zero: 50.996309396995194,
        branch: Branch::Left,
    });
    for lower in [0.0, 6.577605313588517e-14, -180.0, 77.7] {
        for short in [0.0, 7e-14, 1e-5, 0.009] {
            let range = [lower, lower + 360.0 - short];
            assert!(
                matches!(mechanism.check(range), Err(LinkageError::BeyondTurn { .. })),
                "{range:?}"
            );
        }
        let range = [lower, lower + 359.98];
        assert_eq!(mechanism.check(range), Ok(()));
        for at in range {
            let back = mechanism.command_near(mechanism.moved(at), lower + 179.99);
            assert!((back - at).abs() < 1e-9, "{at} comes back as {back}");
            // A movement of single precision belongs to the same end.
            let single = f64::from(mechanism.moved(at) as f32);
            let back = mechanism.command_near(single, lower + 179.99);
            assert!((back - at).abs() < 1e-3, "{at} comes back as {back}");
        }
    }
}

#[test]
fn lengths_have_a_least_and_a_most() {
    let spool = |drum| {
        Mechanism::Spool(Spool {
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
