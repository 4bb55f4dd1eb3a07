//! Mechanisms against tables computed to 50 digits, and by property.

#![allow(clippy::unwrap_used, clippy::indexing_slicing, clippy::panic)]

use elbowroom::linkage::{
    Branch, FourBar, LEAST_ANGLE_DEG, Linkage, LinkageError, Mechanism, SliderCrank, Spool, Triangle,
};
use elbowroom::{Code, Direction, Span};
use proptest::num::f64::ANY;
use proptest::prelude::*;
use proptest::strategy::ValueTree;
use proptest::test_runner::TestRunner;
use std::collections::BTreeMap;

/// Degrees, divided by the sine of the angle between the links: the tables' own tolerance.
const TABLE_DEG: f64 = 1e-9;
/// Of the command range: how well the way back undoes the way there.
const INVERSE_TOLERANCE: f64 = 1e-11;

type Row = std::collections::HashMap<String, f64>;

/// Sources stand in the JSON file of the same name.
fn rows(name: &str) -> Vec<Row> {
    let path = format!("{}/tests/data/kinematics/{name}.csv", env!("CARGO_MANIFEST_DIR"));
    csv::Reader::from_path(path)
        .unwrap()
        .deserialize()
        .map(Result::unwrap)
        .collect()
}

fn header(name: &str) -> serde_json::Value {
    let path = format!("{}/tests/data/kinematics/{name}.json", env!("CARGO_MANIFEST_DIR"));
    serde_json::from_str(&std::fs::read_to_string(path).unwrap()).unwrap()
}

/// The difference of two directions, deg.
fn turned(a: f64, b: f64) -> f64 {
    (a - b + 180.0).rem_euclid(360.0) - 180.0
}

fn four_bar(name: &str, branch: Branch) -> FourBar {
    let json = header(name);
    let length = |key: &str| json["dimensions"][key].as_f64().unwrap();
    FourBar {
        crank: length("a"),
        coupler: length("b"),
        rocker: length("c"),
        ground: length("d"),
        rocker_at_zero: 0.0,
        branch,
    }
}

#[test]
fn four_bars_meet_their_tables() {
    for name in ["fourbar_crank_rocker", "fourbar_pushrod", "fourbar_toggle"] {
        let table = rows(name);
        assert!(table.len() >= 100);
        for row in table {
            let branch = if row["branch"] > 0.0 {
                Branch::Left
            } else {
                Branch::Right
            };
            let (crank, rocker) = (row["theta2_deg"], row["theta4_deg"]);
            let sine = row["mu_deg"].to_radians().sin().abs();
            let links = four_bar(name, Branch::Left);
            let tolerance = if sine < 1e-6 { 1e-5 } else { TABLE_DEG / sine.min(1.0) };
            let got = links.rocker_deg(crank, branch);
            assert!(
                turned(got, rocker).abs() <= tolerance,
                "{name} rocker at {crank}: {got} for {rocker}"
            );

            // The way back, on the side that the table's angles are on, where it is well defined.
            let coupler = row["theta3_deg"];
            let turning = (coupler - crank).to_radians().sin();
            let links = four_bar(name, if turning < 0.0 { Branch::Left } else { Branch::Right });
            if turning.abs() > 1e-3 && sine > 1e-3 {
                let got = links.crank_deg(rocker);
                // The rocker's angle is given as a double: its rounding moves the crank by its own slope.
                let tolerance = TABLE_DEG / turning.abs();
                assert!(
                    turned(got, crank).abs() <= tolerance,
                    "{name} crank at {rocker}: {got} for {crank}"
                );
                let slope = Mechanism::FourBar(links).slope(rocker) * row["dtheta4_dtheta2"];
                let tolerance = TABLE_DEG / (sine * turning).powi(2);
                if row["dtheta4_dtheta2"].abs() > 1e-3 {
                    assert!((slope - 1.0).abs() <= tolerance, "{name} slope at {rocker}: {slope}");
                }
            }
        }
    }
}

#[test]
fn toggles_beyond_reach_are_not_numbers() {
    let links = four_bar("fourbar_toggle", Branch::Left);
    for angle in header("fourbar_toggle")["unreachable_theta2_deg"].as_array().unwrap() {
        for branch in [Branch::Left, Branch::Right] {
            assert!(links.rocker_deg(angle.as_f64().unwrap(), branch).is_nan(), "{angle}");
        }
    }
}

#[test]
fn the_remembered_textbook_example_is_met() {
    // Norton, Design of Machinery, example 4-1 (values from memory): 40-120-80 on 100, crank at 40 deg.
    let links = four_bar("fourbar_crank_rocker", Branch::Left);
    assert!((links.rocker_deg(40.0, Branch::Right) - 57.325).abs() < 1e-3);
    assert!(turned(links.rocker_deg(40.0, Branch::Left), -98.01).abs() < 1e-2);
}

fn slider_crank(name: &str, branch: Branch) -> SliderCrank {
    let json = header(name);
    let length = |key: &str| json["dimensions"][key].as_f64().unwrap();
    SliderCrank {
        crank: length("r"),
        rod: length("l"),
        offset: length("e"),
        slide_at_zero: 0.0,
        branch,
    }
}

#[test]
fn slider_cranks_meet_their_tables() {
    for name in ["slider_crank_engine", "slider_crank_inline", "slider_crank_offset"] {
        let (left, right) = (slider_crank(name, Branch::Left), slider_crank(name, Branch::Right));
        for row in rows(&format!("{name}_forward")) {
            let (angle, x) = (row["theta_deg"], row["x"]);
            let got = left.slide(angle, row["branch"] > 0.0);
            assert!(
                (got - x).abs() <= 1e-12 * left.rod,
                "{name} slide at {angle}: {got} for {x}"
            );
        }
        for row in rows(&format!("{name}_inverse")) {
            let (x, tolerance) = (row["x"], TABLE_DEG / row["sin_beta"].min(1.0));
            for (links, key) in [(left, "theta_ccw_deg"), (right, "theta_cw_deg")] {
                let got = links.crank_deg(x);
                assert!(
                    turned(got, row[key]).abs() <= tolerance,
                    "{name} {key} at {x}: {got} for {}",
                    row[key]
                );
            }
            // The slope is one over the forward table's, whose formula is checked here against differences of that table's
            // function: dx/dangle at the crank's angle.
            let angle = left.crank_deg(x);
            let beyond = row["branch_ccw"] > 0.0;
            let h = 1e-4;
            let forward = (left.slide(angle + h, beyond) - left.slide(angle - h, beyond)) / (2.0 * h);
            if row["sin_beta"] > 0.1 {
                let slope = Mechanism::SliderCrank(left).slope(x);
                assert!((slope * forward - 1.0).abs() < 1e-6, "{name} slope at {x}");
            }
        }
        for x in header(name)["unreachable_x_outer_branch"].as_array().unwrap() {
            let x = x.as_f64().unwrap();
            assert!(
                left.crank_deg(x).is_nan() && right.crank_deg(x).is_nan(),
                "{name} at {x}"
            );
        }
    }
}

#[test]
fn slider_crank_slopes_meet_their_tables() {
    for name in ["slider_crank_engine", "slider_crank_inline", "slider_crank_offset"] {
        for row in rows(&format!("{name}_forward")) {
            for branch in [Branch::Left, Branch::Right] {
                let links = slider_crank(name, branch);
                let (x, per_rad) = (row["x"], row["dx_dtheta_per_rad"]);
                // The table's own assembly is the one whose crank angle comes back.
                if turned(links.crank_deg(x), row["theta_deg"]).abs() > 1e-6 || per_rad.abs() < 1e-2 {
                    continue;
                }
                let slope = Mechanism::SliderCrank(links).slope(x).to_radians();
                assert!(
                    (slope * per_rad - 1.0).abs() < 1e-9,
                    "{name} at {x}: {slope} for 1/{per_rad}"
                );
            }
        }
    }
}

#[test]
fn triangles_and_spools_by_their_formulas() {
    let triangle = |angle_at_zero| {
        Mechanism::Triangle(Triangle {
            base: 40.0,
            arm: 92.0,
            angle_at_zero,
        })
    };
    for command in [-20.0f64, 0.0, 10.0, 59.0, 100.0, 140.0] {
        let (near, far) = (40.0f64, 92.0f64);
        let angle = (31.0 + command).to_radians();
        let plain = (near * near + far * far - 2.0 * near * far * angle.cos()).sqrt();
        assert!((triangle(31.0).moved(command) - plain).abs() < 1e-12 * plain);
        // Mirrored at the hinge it is the same triangle, falling.
        assert!((triangle(-31.0).moved(-command) - plain).abs() < 1e-12 * plain);
        assert!(triangle(31.0).slope(command) > 0.0 && triangle(-31.0).slope(-command) < 0.0);
    }
    // A drum that winds over itself, step by step: the length of each degree at the radius it has there.
    let spool = Spool {
        drum: 8.0,
        per_turn: 1.2,
        pulley: 20.0,
    };
    let mut length = 0.0f64;
    for step in 0..400_000 {
        let radius = 8.0 + 1.2 * (f64::from(step) + 0.5) * 0.01 / 360.0;
        length += radius * (0.01f64).to_radians();
    }
    let command = (length / 20.0).to_degrees();
    assert!((Mechanism::Spool(spool).moved(command) - 4000.0).abs() < 1e-6);
    let [empty, _] = Mechanism::Spool(spool).valid_range(0.0).unwrap();
    assert!((Mechanism::Spool(spool).moved(empty + 1e-9) - -(8.0 / 1.2) * 360.0).abs() < 1.0);
}

/// A range that ends just short of a dead centre is refused with the distance to it.
fn refused_near(mechanism: Mechanism, command: [f64; 2], at_end: f64, centre: f64) {
    let LinkageError::DeadCentreNear {
        command,
        at,
        distance,
        links_deg,
    } = new(mechanism, command).unwrap_err()
    else {
        panic!("{mechanism:?} {command:?}")
    };
    assert_eq!(command, at_end);
    assert!((at - centre).abs() <= 1e-9 * (1.0 + centre.abs()), "{at} for {centre}");
    assert!((distance - (centre - at_end).abs()).abs() <= 1e-9, "{distance}");
    assert!(links_deg > 0.0 && links_deg < LEAST_ANGLE_DEG, "{links_deg}");
}

#[test]
fn the_slide_ends_where_its_tables_say() {
    for name in ["slider_crank_engine", "slider_crank_inline", "slider_crank_offset"] {
        let limit = |key: &str| header(name)["limits"][key].as_f64().unwrap();
        let (least, most) = (limit("x_min_outer_branch"), limit("x_max"));
        for branch in [Branch::Left, Branch::Right] {
            let mut links = slider_crank(name, branch);
            links.slide_at_zero = 0.5 * (least + most);
            let slide = Mechanism::SliderCrank(links);
            let ends = [least, most].map(|x| x - links.slide_at_zero);
            let [below, above] = slide.valid_range(0.0).unwrap();
            let close = |got: f64, want: f64| (got - want).abs() <= 1e-12 * links.rod;
            assert!(
                close(below, ends[0]) && close(above, ends[1]),
                "{name}: {below} to {above} for {ends:?}"
            );
            // The links' angle goes with the square root: so close, it is less than a degree from one line.
            let near = 1e-5 * links.crank;
            refused_near(slide, [0.0, ends[1] - near], ends[1] - near, ends[1]);
            refused_near(slide, [ends[0] + near, 0.0], ends[0] + near, ends[0]);
        }
    }
}

#[test]
fn the_rocker_turns_back_where_its_crank_is_in_line() {
    // No crank angle takes the rocker of the crank-rocker's table further than where crank and coupler lie in one line: by the law of
    // cosines, with the rocker's pin 120 + 40 and 120 - 40 from the shaft. The table's own extremes lie inside, and close.
    let name = "fourbar_crank_rocker";
    let ends = [120.0f64 + 40.0, 120.0 - 40.0].map(|distance| {
        180.0
            - ((80.0f64.powi(2) + 100.0f64.powi(2) - distance * distance) / (2.0 * 80.0 * 100.0))
                .acos()
                .to_degrees()
    });
    let levers: Vec<f64> = rows(name)
        .iter()
        .filter(|row| row["branch"] < 0.0)
        .map(|row| row["theta4_deg"])
        .collect();
    let [least, most] = [
        levers.iter().copied().fold(f64::MAX, f64::min),
        levers.iter().copied().fold(f64::MIN, f64::max),
    ];
    assert!(
        (0.0..1.0).contains(&(least - ends[0])) && (0.0..1.0).contains(&(ends[1] - most)),
        "{least} {most}"
    );
    for branch in [Branch::Left, Branch::Right] {
        let mut links = four_bar(name, branch);
        links.rocker_at_zero = 90.0;
        let bar = Mechanism::FourBar(links);
        let ends = ends.map(|rocker| rocker - 90.0);
        let [below, above] = bar.valid_range(0.0).unwrap();
        assert!(
            (below - ends[0]).abs() < 1e-9 && (above - ends[1]).abs() < 1e-9,
            "{below} to {above} for {ends:?}"
        );
        let near = 1e-3;
        refused_near(bar, [0.0, ends[1] - near], ends[1] - near, ends[1]);
        refused_near(bar, [ends[0] + near, 0.0], ends[0] + near, ends[0]);
    }
}

fn new(mechanism: Mechanism, command: [f64; 2]) -> Result<Linkage<f64>, LinkageError> {
    let span = |ends| Span::new("x", ends).unwrap();
    Linkage::new(mechanism, span(command), span([37.0, 122.0]), Direction::Direct)
}

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
