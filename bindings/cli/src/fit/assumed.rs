//! What nobody said and a fit took for granted, and what to write instead.

use super::{Target, known_servo};
use crate::args::{DriveUnit, FitArgs, TableArgs};
use crate::usual::{USUAL_SERVO, USUAL_TIMER};
use elbowroom::robot::Robot;
use serde::Serialize;

/// One assumption.
#[derive(Serialize)]
pub(super) struct Assumed {
    pub(super) what: &'static str,
    value: String,
    instead: String,
}

impl Assumed {
    /// The assumption, then what else to do, each short enough for a terminal.
    pub(super) fn lines(&self) -> impl Iterator<Item = String> {
        let value = format!("{} (default; verify against the data sheet)", self.value);
        std::iter::once(value).chain(self.instead.split(OR).enumerate().map(|(index, part)| match index {
            0 => format!(
                "if it is not, give the numbers of your data sheet, for example {}",
                part.trim_start_matches("give ")
            ),
            _ => format!("or {part}"),
        }))
    }
}

/// Between two ways to say the same.
const OR: &str = ", or ";

/// All that this call assumes, as far as it matters to what it says or writes.
pub(super) fn all(args: &FitArgs, target: Option<&Target>) -> Vec<Assumed> {
    let known = target.filter(|target| !target.fresh).map(|target| &target.robot);
    let of_joint = known_servo(known, args.joint.as_deref()).is_some();
    let mut all = Vec::new();
    if !of_joint && (args.table.drive_unit != DriveUnit::Deg || args.into.is_some()) {
        all.extend(servo(&args.table, args.into.is_some().then_some(args)));
    }
    let is_new = args
        .joint
        .as_deref()
        .is_some_and(|name| known.is_none_or(|robot| robot.joint(name).is_none()));
    if (args.into.is_some() && is_new) || (known.is_none() && args.table.drive_unit == DriveUnit::Counts) {
        all.extend(timer(args, known));
    }
    all
}

/// Where else it may be written, if the call writes into a file.
fn or_in(args: Option<&FitArgs>, line: &str) -> String {
    let into = args.and_then(|args| args.into.as_ref());
    into.map_or(String::new(), |path| {
        let (key, value) = line.split_once(" = ").unwrap_or((line, ""));
        format!("{OR}elbowroom edit {} set '{key}={value}'", path.display())
    })
}

pub(super) fn servo(table: &TableArgs, args: Option<&FitArgs>) -> Option<Assumed> {
    let ([a0, a1], [p0, p1]) = (USUAL_SERVO.angle, USUAL_SERVO.pulse_us);
    let line = "servo = { angle = [0, 120], pulse_us = [900, 2100] }";
    let (value, options) = match (table.servo_angle, table.servo_pulse_us) {
        (Some(_), Some(_)) => return None,
        (None, None) => (
            format!("a servo of {a0} to {a1} deg on {p0} to {p1} us"),
            "give --servo-angle 0,120 --servo-pulse-us 900,2100",
        ),
        (None, Some(_)) => (format!("a servo of {a0} to {a1} deg"), "give --servo-angle 0,120"),
        (Some(_), None) => (format!("a servo on {p0} to {p1} us"), "give --servo-pulse-us 900,2100"),
    };
    Some(Assumed {
        what: "servo",
        value,
        instead: format!("{options}{}", or_in(args, line)),
    })
}

pub(super) fn timer(args: &FitArgs, robot: Option<&Robot>) -> Option<Assumed> {
    if robot.is_some_and(|robot| robot.timer(args.fresh.board.as_deref()).is_some()) {
        return None;
    }
    let (hz, counts) = (USUAL_TIMER.frame_hz, USUAL_TIMER.counts_per_frame);
    let (value, options) = match (args.frame_hz, args.counts_per_frame) {
        (Some(_), Some(_)) => return None,
        (None, None) => (
            format!("a timer of {hz} frames per second, {counts} counts each"),
            "give --frame-hz 100 --counts-per-frame 65536",
        ),
        (None, Some(_)) => (format!("a timer of {hz} frames per second"), "give --frame-hz 100"),
        (Some(_), None) => (
            format!("a timer of {counts} counts a frame"),
            "give --counts-per-frame 65536",
        ),
    };
    let line = "timer = { frame_hz = 100, counts_per_frame = 65536 }";
    Some(Assumed {
        what: "timer",
        value,
        instead: format!("{options}{}", or_in(Some(args), line)),
    })
}
