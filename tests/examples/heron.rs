//! From measured points to the counts that a servo gets: `cargo run --example heron --features robot`.
//!
//! The table is invented: the neck of a museum's heron, which meets a stop at the upper end.

use elbowroom::fit::{FitOptions, Readings, fit_limits};
use elbowroom::robot::{Date, Robot};

const ROBOT: &str = r#"format = 1
name = "heron"
servo = { angle = [0, 180], pulse_us = [500, 2500] }
timer = { frame_hz = 50, counts_per_frame = 4096 }

[joint.neck]
unit = "deg"
command = [-40, 60]
drive = [37, 122]     # read off the servo tester
rest = 10
max_rate_per_s = 60
"#;

fn main() -> Result<(), Box<dyn std::error::Error>> {
    // Drive angle, and what a protractor showed; beyond 110 deg the joint stays where it is.
    let drive: Vec<f64> = (0..19).map(|i| 40.0 + 5.0 * f64::from(i)).collect();
    let measured: Vec<f64> = drive.iter().map(|drive| (drive - 90.0).min(20.0)).collect();
    let fit = fit_limits(&Readings::new(&drive, &measured), &FitOptions::default())?;
    println!("upper end: {:?} at {:.1} deg", fit.upper.kind, fit.upper.at);

    let mut robot = Robot::parse(ROBOT)?;
    let mut record = robot.joint("neck").ok_or("no neck")?.record();
    if !record.apply_fit(&fit, "2026-11-20".parse::<Date>().ok()) {
        return Err("the readings leave no travel".into());
    }
    robot.put(&record)?;
    print!("{}", robot.to_toml());

    let neck = robot.joint("neck").ok_or("no neck")?.joint();
    for command in [-40.0, 10.0, 60.0] {
        let counts = neck.counts(command)?;
        let held = if counts.clamped.travel {
            ", held by its travel"
        } else {
            ""
        };
        println!("command {command}: count {}{held}", counts.value);
    }
    Ok(())
}

#[test]
fn runs() {
    assert!(main().is_ok());
}
