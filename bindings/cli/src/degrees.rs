//! Readings of a table with their drive in degrees, and the limits that they show.

use crate::args::{DriveUnit, TableArgs};
use crate::paint::number;
use crate::problem::Problem;
use crate::progress::Progress;
use crate::table::{Columns, Table};
use crate::usual::USUAL_TIMER;
use elbowroom::fit::{FitOptions, LimitFit, fit_limits};
use elbowroom::robot::Source;
use elbowroom::{Code, Servo, Timer};
use std::path::Path;

/// From here on a fit takes long enough to be announced.
const MANY_READINGS: usize = 50_000;

/// The readings, with the drive in deg of a servo line; a column in deg is in those of `written`, where that is another line.
pub(crate) fn in_deg(
    args: &TableArgs,
    table: &Table,
    servo: &Servo<f64>,
    timer: Option<&Timer<f64>>,
    written: Option<Servo<f64>>,
) -> Result<Columns, Problem> {
    let mut columns = table.columns(args, &args.only, "--where")?;
    let usual = Timer::new(USUAL_TIMER.frame_hz, USUAL_TIMER.counts_per_frame)?;
    let timer = match (timer, args.drive_unit) {
        (Some(timer), _) => timer,
        (None, DriveUnit::Counts) => {
            let message =
                "timer counts need their timer, which tables alone do not name; turn the drive column into us";
            return Err(Problem::new(Code::OptionOutside, message));
        }
        (None, _) => &usual,
    };
    let column = Source {
        drive_unit: args.drive_unit.core(),
        servo: written,
        ..Source::default()
    };
    for drive in &mut columns.drive {
        *drive = column.drive_deg(*drive, servo, timer);
    }
    Ok(columns)
}

/// The servo line in whose degrees a drive column was written, where the joint has another one.
pub(crate) fn written_under(servo: &Servo<f64>) -> String {
    let [angle, pulse_us] = [servo.angle_range(), servo.pulse_range_us()]
        .map(|ends| format!("{} to {}", number(ends.lower(), 2), number(ends.upper(), 2)));
    format!("in degrees of a servo of {angle} deg on {pulse_us} us")
}

pub(crate) fn fit_columns(args: &TableArgs, columns: &Columns, path: &Path) -> Result<LimitFit, Problem> {
    let mut options = FitOptions::default()
        .with_guard(args.guard)
        .with_confidence(args.confidence);
    if let Some(resolution) = args.resolution {
        options = options.with_resolution(resolution);
    }
    let told = Progress::of(columns.drive.len(), MANY_READINGS, "fitting", "readings");
    let fit = fit_limits(&columns.readings(), &options);
    drop(told);
    fit.map_err(|error| {
        let problem = Problem::from(error);
        Problem {
            message: format!("{}: {}", path.display(), problem.message),
            file: Some(path.display().to_string()),
            ..problem
        }
    })
}
