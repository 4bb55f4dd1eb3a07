//! `tests/examples/duty_cycle.rs` against a pin that knows what it has to be told.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)]

#[allow(unreachable_pub, dead_code)]
#[path = "examples/duty_cycle.rs"]
mod example;

use elbowroom::{Joint, JointRecord, ServoRecord, TimerRecord};
use embedded_hal_mock::eh1::pwm::{Mock, Transaction};
use example::{CommandError, JointPin, TimerUnlike};

fn joint() -> Joint<f32> {
    let servo = ServoRecord {
        angle: [0.0, 180.0],
        pulse_us: [500.0, 2500.0],
    };
    let timer = TimerRecord {
        frame_hz: 50.0,
        counts_per_frame: 4096,
    };
    let mut record = JointRecord::new([-40.0, 60.0], [37.0, 122.0], 10.0, servo, timer);
    record.travel = Some([40.2, 119.0]);
    Joint::new(record).unwrap()
}

#[test]
fn commands_become_duty_cycles() {
    let furthest = joint().counts(60.0).unwrap().value;
    let mut pin = Mock::new(&[
        Transaction::max_duty_cycle(4096),
        Transaction::set_duty_cycle(283),
        Transaction::set_duty_cycle(u16::try_from(furthest).unwrap()),
        Transaction::set_duty_cycle(283),
        Transaction::set_duty_cycle(0),
    ]);
    let mut wing = JointPin::new(joint(), pin.clone()).unwrap();
    assert!(!wing.command(10.0).unwrap().travel);
    let held = wing.command(1e9).unwrap();
    assert!(held.command && held.travel);
    // Refused: the pin is told nothing.
    assert!(matches!(wing.command(f32::NAN), Err(CommandError::Command(_))));
    wing.rest().unwrap();
    wing.release().unwrap();
    pin.done();
}

#[test]
fn a_channel_that_counts_otherwise_is_refused() {
    let mut pin = Mock::new(&[Transaction::max_duty_cycle(1000)]);
    let refused = JointPin::new(joint(), pin.clone()).unwrap_err();
    assert_eq!(
        refused,
        TimerUnlike {
            max_duty_cycle: 1000,
            counts_per_frame: 4096
        }
    );
    pin.done();
}
