//! Readings taken anew of a joint that stands in a robot file: what they say against it, and what is written of them. Invented data.
#![cfg(feature = "robot")]
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::indexing_slicing, clippy::panic)]

mod sensor;
mod servo_line;
mod told;
mod written;

use elbowroom::bring_up::LoopSense;
use elbowroom::fit::{CompareOptions, CurveFit, FitOptions, LimitFit, Readings, fit_curve, fit_feedback, fit_limits};
use elbowroom::robot::{
    AdoptError, Date, DriveUnit, EndEvidence, EntryRecord, Evidence, EvidenceKind, LostMotionEvidence, Refit, RefitMap,
    Robot, Source,
};
use elbowroom::{
    Code, Conversion, ConvertError, FeedbackRecord, Joint, JointRecord, Servo, ServoRecord, Timer, TimerRecord,
    Transmission, Unit,
};

/// Drive deg per command of the joint.
const SLOPE: f64 = 0.85;
/// One tooth of a 25-tooth horn, deg.
const TOOTH: f64 = 14.4;

const SERVO: ServoRecord<f64> = ServoRecord {
    angle: [0.0, 180.0],
    pulse_us: [500.0, 2500.0],
};

fn wing() -> EntryRecord {
    let timer = TimerRecord {
        frame_hz: 50.0,
        counts_per_frame: 4096,
    };
    EntryRecord::new(
        "wing_left",
        JointRecord::new([-40.0, 60.0], [37.0, 122.0], 10.0, SERVO, timer),
    )
}

/// Drive angles, and what the joint of [`wing`] would show there in deg, its horn further by `offset`.
fn readings(offset: f64) -> (Vec<f64>, Vec<f64>) {
    let drive: Vec<f64> = (0..9).map(|i| 50.0 + 8.0 * f64::from(i)).collect();
    let measured = drive.iter().map(|d| (d - offset - 37.0) / SLOPE - 40.0).collect();
    (drive, measured)
}

fn limits(offset: f64) -> LimitFit {
    let (drive, measured) = readings(offset);
    fit_limits(&Readings::new(&drive, &measured), &FitOptions::default()).unwrap()
}

fn curve(offset: f64) -> CurveFit {
    let (drive, measured) = readings(offset);
    fit_curve(&Readings::new(&drive, &measured), 4).unwrap()
}

/// The pulse widths of some commands.
fn pulses(record: &EntryRecord) -> Vec<f64> {
    let joint = Joint::new(record.joint.clone()).unwrap();
    let [lower, upper] = record.joint.command;
    let at = |i: u32| lower + (upper - lower) * f64::from(i) / 8.0;
    let drive = |command| joint.transmission().drive(command);
    (0..=8).map(|i| joint.servo().pulse_us(drive(at(i)))).collect()
}
