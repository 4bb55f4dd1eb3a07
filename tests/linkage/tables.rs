//! Against tables computed to 50 digits, and examples.

use super::{new, turned};
use elbowroom::linkage::{Branch, FourBar, LEAST_ANGLE_DEG, LinkageError, Mechanism, SliderCrank, Spool, Triangle};

/// Degrees, divided by the sine of the angle between the links: the tables' own tolerance.
const TABLE_DEG: f64 = 1e-9;

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

pub(crate) fn four_bar(name: &str, branch: Branch) -> FourBar {
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
