//! The worked example, clamping, and each refusal by its name.

use super::*;
use crate::Code;
use crate::record::wing as record;

fn refused(change: impl Fn(&mut JointRecord<f64>)) -> (Code, std::string::String) {
    let mut r = record();
    change(&mut r);
    let error = Joint::new(r).unwrap_err();
    (error.code(), std::string::ToString::to_string(&error))
}

#[test]
fn worked_example() {
    let joint = Joint::new(record()).unwrap();
    assert_eq!(joint.drive(10.0).unwrap().value, 79.5);
    approx::assert_relative_eq!(
        joint.pulse_us(10.0).unwrap().value,
        500.0 + 2000.0 * 79.5 / 180.0,
        max_relative = 1e-15
    );
    assert_eq!(joint.counts(10.0).unwrap().value, 283);

    let inverted = Joint::new(JointRecord {
        inverted: true,
        ..record()
    })
    .unwrap();
    assert_eq!(inverted.drive(10.0).unwrap().value, 79.5);
    assert_eq!(inverted.drive(-40.0).unwrap().value, 122.0);
    assert_eq!(inverted.command_from_drive(122.0), -40.0);
}

#[test]
fn tells_what_a_step_of_command_is_worth() {
    let joint = Joint::new(JointRecord {
        inverted: true,
        ..record()
    })
    .unwrap();
    assert_eq!(joint.transmission().drive_per_command(10.0), -0.85);
    assert!(joint.transmission().drive_per_command(f64::NAN).is_nan());
    assert_eq!(joint.drive_range().ends(), [37.0, 122.0]);
    let plain = Transmission::linear(joint.command_range(), joint.drive_range(), Direction::Direct);
    assert_eq!(plain.drive(-40.0), 37.0);
    assert_eq!(plain.command(122.0), 60.0);
}

#[test]
fn clamps_and_says_so() {
    let joint = Joint::new(JointRecord {
        travel: Some([40.2, 119.0]),
        ..record()
    })
    .unwrap();
    let at = |command| joint.drive(command).unwrap();
    assert_eq!(
        at(-40.0),
        Conversion {
            value: 40.2,
            clamped: Clamped {
                command: false,
                travel: true
            }
        }
    );
    assert_eq!(
        at(-41.0),
        Conversion {
            value: 40.2,
            clamped: Clamped {
                command: true,
                travel: true
            }
        }
    );
    assert_eq!(at(10.0).clamped, Clamped::default());
    assert!(joint.command_from_drive(130.0) > 60.0, "backwards nothing is clamped");
    assert!(joint.command_from_pulse_us(f64::NAN).is_nan());
}

#[test]
fn refuses_each_fault_by_name() {
    use Code::*;
    assert_eq!(refused(|r| r.command = [60.0, -40.0]).0, EndsSwapped);
    assert_eq!(refused(|r| r.drive = [37.0, 37.0]).0, ZeroWidth);
    assert_eq!(refused(|r| r.drive = [37.0, f64::NAN]).0, NotFinite);
    assert_eq!(refused(|r| r.drive = [37.0, 181.0]).0, OutsideServo);
    assert_eq!(refused(|r| r.travel = Some([37.0, 181.0])).0, OutsideServo);
    assert_eq!(refused(|r| r.travel = Some([130.0, 140.0])).0, TravelDisjoint);
    assert_eq!(refused(|r| r.rest = 61.0).0, RestOutside);
    assert_eq!(refused(|r| r.rest = f64::INFINITY).0, NotFinite);
    assert_eq!(refused(|r| r.max_rate_per_s = Some(0.0)).0, NotPositive);
    assert_eq!(refused(|r| r.servo.pulse_us = [0.0, 2500.0]).0, NotPositive);
    assert_eq!(refused(|r| r.timer.counts_per_frame = 0).0, TimerInvalid);
    assert_eq!(refused(|r| r.timer.frame_hz = 500.0).0, TimerInvalid);
    assert_eq!(refused(|r| r.travel = Some([79.5, 79.6])).0, NoCountInTravel);
    assert_eq!(
        refused(|r| r.servo.pulse_us = [0.5, 2.5]),
        (
            NoCountInTravel,
            "servo.pulse_us is 0.5 to 2.5 us, too short for a servo: the values look like milliseconds; write 500 to 2500 us"
                .into()
        )
    );
    // So short a travel is at fault, not the pulse.
    assert!(
        refused(|r| (r.servo.pulse_us, r.travel) = ([500.0, 2500.0], Some([79.5, 79.6])))
            .1
            .contains("travel")
    );
    assert_eq!(
        refused(|r| r.travel = Some([40.2, 181.0])).1,
        "travel upper 181 deg is outside the servo's 0 to 180 deg; move it inside or widen servo.angle"
    );
    assert!(
        refused(|r| r.travel = Some([79.5, 79.6]))
            .1
            .ends_with("use a finer timer")
    );
    // A frame's length in seconds.
    let (code, said) = refused(|r| r.timer.frame_hz = 0.02);
    assert!(
        code == NoCountInTravel && said.contains("check frame_hz (in Hz"),
        "{said}"
    );
    assert!(refused(|r| r.command = [60.0, -40.0]).1.contains("set inverted"));
}
