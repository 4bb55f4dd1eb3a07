//! What holds for every mechanism within its range.

use super::new;
use elbowroom::linkage::{Branch, FourBar, Linkage, Mechanism, SliderCrank, Spool, Triangle};
use elbowroom::{Direction, Span};
use proptest::num::f64::ANY;
use proptest::prelude::*;
use proptest::strategy::ValueTree;
use proptest::test_runner::TestRunner;
use std::collections::BTreeMap;

/// Of the command range: how well the way back undoes the way there.
const INVERSE_TOLERANCE: f64 = 1e-11;

/// Mechanisms of all kinds with a command range inside their valid range.
fn linkage() -> impl Strategy<Value = (Mechanism, [f64; 2])> {
    let length = || prop_oneof![5.0..100.0f64, Just(12.0), Just(60.0)];
    let angle = || prop_oneof![-400.0..400.0f64, Just(0.0), Just(90.0)];
    let branch = || prop_oneof![Just(Branch::Left), Just(Branch::Right)];
    let mechanism = prop_oneof![
        (length(), length(), angle()).prop_map(|(base, arm, angle_at_zero)| Mechanism::Triangle(Triangle {
            base,
            arm,
            angle_at_zero
        })),
        (length(), length(), -30.0..30.0f64, angle(), branch()).prop_map(
            |(crank, rod, offset, slide_at_zero, branch)| {
                Mechanism::SliderCrank(SliderCrank {
                    crank,
                    rod,
                    offset,
                    slide_at_zero,
                    branch,
                })
            }
        ),
        (length(), length(), length(), length(), angle(), branch()).prop_map(
            |(crank, coupler, rocker, ground, rocker_at_zero, branch)| Mechanism::FourBar(FourBar {
                crank,
                coupler,
                rocker,
                ground,
                rocker_at_zero,
                branch
            })
        ),
        (length(), -2.0..2.0f64, length()).prop_map(|(drum, per_turn, pulley)| Mechanism::Spool(Spool {
            drum,
            per_turn,
            pulley
        })),
    ];
    (mechanism, -100.0..100.0f64, 0.0..1.0f64, 0.0..1.0f64).prop_filter_map("reachable", |(m, middle, a, b)| {
        let [below, above] = m.valid_range(middle)?;
        let (below, above) = (below.max(middle - 150.0), above.min(middle + 150.0));
        let (a, b) = (below + (above - below) * a, below + (above - below) * b);
        let range = [a.min(b), a.max(b)];
        (range[0] < range[1] && m.check(range).is_ok()).then_some((m, range))
    })
}

/// Degrees of a drive range of 70.8 that rounding hides within the mechanism: of its angles, up to 1000 deg, and of the
/// servo's side, whose whole movement may be a small part of its length.
fn hidden_within(mechanism: &Mechanism, ends: [f64; 2]) -> f64 {
    let [first, last] = ends.map(|end| mechanism.moved(end));
    let steepest = ends
        .map(|end| mechanism.slope(end).abs())
        .into_iter()
        .fold(0.0, f64::max);
    let grain = 4.0 * f64::EPSILON * (first.abs().max(last.abs()) + 1000.0 * steepest);
    grain / (last - first).abs() * 70.8
}

macro_rules! properties {
    ($module:ident, $t:ident, $tolerance:expr) => {
        mod $module {
            use super::*;

            /// Refused draws are drawn again, so that no property passes on none.
            fn pinned() -> impl Strategy<Value = (Linkage<$t>, [$t; 2])> {
                (linkage(), any::<bool>()).prop_filter_map("usable", |((m, range), inverted)| {
                    let command = Span::new("x", range.map(|c| c as $t)).ok()?;
                    let drive = Span::new("x", [7.3 as $t, 78.1]).unwrap();
                    let direction = Direction::from_inverted(inverted);
                    Some((Linkage::new(m, command, drive, direction).ok()?, command.ends()))
                })
            }

            #[test]
            fn every_kind_is_among_the_draws() {
                let mut runner = TestRunner::deterministic();
                let mut drawn = BTreeMap::from(["triangle", "slider-crank", "four-bar", "spool"].map(|kind| (kind, 0)));
                for _ in 0..500 {
                    let (linkage, _) = pinned().new_tree(&mut runner).unwrap().current();
                    *drawn.get_mut(linkage.mechanism().kind()).unwrap() += 1;
                }
                assert!(drawn.values().all(|count| *count >= 25), "{drawn:?}");
            }

            proptest! {
                #![proptest_config(ProptestConfig { failure_persistence: None, ..ProptestConfig::with_cases(2000) })]

                #[test]
                fn exact_ends_monotone_and_never_outside(case in pinned(), at in 0.0..1.0 as $t, other in 0.0..=1.0 as $t) {
                    let (linkage, [lower, upper]) = case;
                    let ends = [linkage.drive(lower), linkage.drive(upper)];
                    prop_assert!(ends == [7.3, 78.1] || ends == [78.1, 7.3]);
                    prop_assert_eq!([linkage.command(ends[0]), linkage.command(ends[1])], [lower, upper]);
                    let sign = if ends[0] < ends[1] { 1.0 } else { -1.0 };
                    let mut x = lower + at * (upper - lower);
                    // Near 0 commands lie closer than any angle that a sine could tell apart.
                    for start in [x, 1.0, 0.1, 0.01, 1e-3, 1e-5].map(|start: $t| start * (1.0 + at)) {
                        x = if start > lower && start < upper { start } else { x };
                        for _ in 0..60 {
                            let y = linkage.drive(x);
                            prop_assert!((7.3..=78.1).contains(&y) || x > upper);
                            prop_assert!(y * sign <= linkage.drive(x.next_up()) * sign, "at {x}");
                            x = x.next_up();
                        }
                    }
                    let far = lower + other * (upper - lower);
                    prop_assert!((linkage.drive(far) * sign <= linkage.drive(x) * sign) == (far <= x) || linkage.drive(far) == linkage.drive(x));
                }

                #[test]
                fn the_way_back_is_monotone_and_undoes(case in pinned(), at in 0.0..1.0 as $t) {
                    let (linkage, [lower, upper]) = case;
                    let sign = if linkage.drive(lower) < linkage.drive(upper) { 1.0 } else { -1.0 };
                    let mut drive = 7.3 + at * (78.1 - 7.3);
                    for _ in 0..50 {
                        let next = drive.next_up();
                        prop_assert!(linkage.command(drive) * sign <= linkage.command(next) * sign);
                        drive = next;
                    }
                    let hidden_within = hidden_within(linkage.mechanism(), [lower, upper].map(f64::from)) as $t;
                    let command = linkage.command(drive);
                    let grain = 2.0 * command.abs() * $t::EPSILON * linkage.drive_per_command(command).abs();
                    let slack = $tolerance * (78.1 - 7.3) + 4.0 * drive * $t::EPSILON + 4.0 * grain + hidden_within;
                    prop_assert!((linkage.drive(command) - drive).abs() <= slack, "{} for {drive}", linkage.drive(command));
                    let command = lower + at * (upper - lower);
                    let hidden = (8.0 * 78.1 * $t::EPSILON + hidden_within) / linkage.drive_per_command(command).abs();
                    let back = linkage.command(linkage.drive(command));
                    let slack = $tolerance * (upper - lower) + hidden + 4.0 * $t::EPSILON * lower.abs().max(upper.abs());
                    prop_assert!((back - command).abs() <= slack, "{back} for {command}");
                }

                #[test]
                fn beyond_the_ends_it_goes_straight_on(case in pinned(), by in 0.0..100.0 as $t) {
                    let (linkage, [lower, upper]) = case;
                    let sign = if linkage.drive(lower) < linkage.drive(upper) { 1.0 } else { -1.0 };
                    for (command, end) in [(lower - by, lower), (upper + by, upper)] {
                        let drive = linkage.drive(command);
                        prop_assert!((drive - linkage.drive(end)) * sign * (command - end) >= 0.0);
                        let slack = 1e-5 * (1.0 + by + end.abs()) ;
                        prop_assert!((linkage.command(drive) - command).abs() <= slack * (1.0 + 1.0 / linkage.drive_per_command(end).abs()));
                    }
                    for nan in [linkage.drive($t::NAN), linkage.command($t::NAN), linkage.drive_per_command($t::NAN)] {
                        prop_assert!(nan.is_nan());
                    }
                    prop_assert!(linkage.drive($t::INFINITY).is_infinite());
                }
            }
        }
    };
}

properties!(double, f64, INVERSE_TOLERANCE);
properties!(single, f32, 4.0 * f32::EPSILON);

proptest! {
    #![proptest_config(ProptestConfig { failure_persistence: None, ..ProptestConfig::with_cases(2000) })]

    #[test]
    fn slopes_are_those_of_finite_differences((m, [lower, upper]) in linkage(), at in 0.001..0.999f64) {
        let linkage = new(m, [lower, upper]);
        prop_assume!(linkage.is_ok());
        let linkage = linkage.unwrap();
        let command = lower + at * (upper - lower);
        let h = (upper - lower) * 1e-5 * at.min(1.0 - at);
        let hidden = hidden_within(&m, [lower, upper]) / h;
        let difference = |f: &dyn Fn(f64) -> f64| {
            // Fourth order: errors of rounding and of curvature are both small.
            let two = |k: f64| f(command + k * h) - f(command - k * h);
            (8.0 * two(1.0) - two(2.0)) / (12.0 * h)
        };
        for (slope, difference) in [
            (m.slope(command), difference(&|c| m.moved(c))),
            (linkage.drive_per_command(command), difference(&|c| linkage.drive(c))),
        ] {
            let rounding = 1e-14 * (1.0 + m.moved(command).abs() + 80.0) / h * (1.0 + slope.abs()) + hidden;
            prop_assert!((slope - difference).abs() <= 1e-6 * slope.abs() + rounding, "{m:?} at {command}: {slope} for {difference}");
        }
    }

    #[test]
    fn pinned_is_the_mechanism_scaled((m, [lower, upper]) in linkage(), at in 0.0..1.0f64) {
        let linkage = new(m, [lower, upper]);
        prop_assume!(linkage.is_ok());
        let linkage = linkage.unwrap();
        let command = lower + at * (upper - lower);
        let ([first, last], ends) = ([m.moved(lower), m.moved(upper)], [linkage.drive(lower), linkage.drive(upper)]);
        let want = ends[0] + (m.moved(command) - first) / (last - first) * (ends[1] - ends[0]);
        let rounding = 1e-14 * (first.abs() + last.abs()) / (last - first).abs();
        prop_assert!((linkage.drive(command) - want).abs() <= 75.0 * (1e-11 + 10.0 * rounding));
    }

    #[test]
    fn no_parameters_panic(n in prop::array::uniform6(ANY), left: bool, command in [ANY, ANY], x in ANY) {
        let branch = if left { Branch::Left } else { Branch::Right };
        let [a, b, c, d, e, _] = n;
        for mechanism in [
            Mechanism::Triangle(Triangle { base: a, arm: b, angle_at_zero: c }),
            Mechanism::SliderCrank(SliderCrank { crank: a, rod: b, offset: c, slide_at_zero: d, branch }),
            Mechanism::FourBar(FourBar { crank: a, coupler: b, rocker: c, ground: d, rocker_at_zero: e, branch }),
            Mechanism::Spool(Spool { drum: a, per_turn: b, pulley: c }),
        ] {
            let _ = (mechanism.moved(x), mechanism.slope(x), mechanism.valid_range(x));
            let Ok(command) = Span::new("x", command) else { continue };
            let drive = Span::new("x", [0.0, 180.0]).unwrap();
            match Linkage::new(mechanism, command, drive, Direction::Direct) {
                Ok(linkage) => {
                    prop_assert_eq!(linkage.drive(command.lower()), 0.0);
                    let _ = (linkage.drive(x), linkage.command(x), linkage.drive_per_command(x));
                }
                Err(error) => prop_assert!(!error.to_string().contains('\n')),
            }
        }
    }
}

/// Found by `tests/fuzz`: the length's rounding led past the dead centre, and no command came back.
#[test]
fn arms_of_very_different_length_give_the_movement_back() {
    let triangle = Mechanism::Triangle(Triangle {
        base: 1e-6,
        arm: 1e9,
        angle_at_zero: 4757.0,
    });
    let range = [114.05047818269225, 260.61378351107675];
    triangle.check(range).unwrap();
    for at in range {
        let back = triangle.command_near(triangle.moved(at), 0.5 * (range[0] + range[1]));
        assert_eq!(triangle.moved(back), triangle.moved(at), "{at} comes back as {back}");
    }
    // Far outside of what it reaches there is no command.
    assert!(triangle.command_near(2e9, 180.0).is_nan() && triangle.command_near(0.5e9, 180.0).is_nan());
}

/// Folded and stretched, arms of 3 and 4 are 1 and 7 apart.
#[test]
fn a_length_that_rounding_leads_past_a_dead_centre_is_at_it() {
    let triangle = Mechanism::Triangle(Triangle {
        base: 3.0,
        arm: 4.0,
        angle_at_zero: 60.0,
    });
    for (length, beyond, centre, near) in [
        (1f64, 1f64.next_down(), -60.0, -50.0),
        (7.0, 7f64.next_up(), 120.0, 110.0),
    ] {
        for length in [length, beyond] {
            let command = triangle.command_near(length, near);
            assert!((command - centre).abs() < 1e-9, "{length}: {command}");
        }
    }
    assert!(triangle.command_near(0.999, -50.0).is_nan() && triangle.command_near(7.001, 110.0).is_nan());
}
