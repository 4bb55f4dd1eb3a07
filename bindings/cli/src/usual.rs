//! What the shell tool takes where neither the command line nor a robot file says it.

use elbowroom::{ServoRecord, TimerRecord};

/// The unit of measured values that robot files leave out.
pub(crate) const DEGREES: &str = "deg";

/// A default; verify it against the data sheet.
pub(crate) const USUAL_SERVO: ServoRecord<f64> = ServoRecord {
    angle: [0.0, 180.0],
    pulse_us: [500.0, 2500.0],
};
/// A default; verify it against the data sheet.
pub(crate) const USUAL_TIMER: TimerRecord<f64> = TimerRecord {
    frame_hz: 50.0,
    counts_per_frame: 4096,
};
