//! Readings of a table with their drive in degrees, and the limits that they show.

use crate::args::{DriveUnit, TableArgs};
use crate::problem::Problem;
use crate::progress::Progress;
use crate::table::{Columns, Table};
use crate::usual::USUAL_TIMER;
use elbowroom::fit::{FitOptions, LimitFit, fit_limits};
use elbowroom::{Code, Servo, Timer};
use std::path::Path;

/// From here on a fit takes long enough to be announced.
const MANY_READINGS: usize = 50_000;

/// The readings, with the drive in deg.
pub(crate) fn in_deg(
    args: &TableArgs,
    table: &Table,
    servo: &Servo<f64>,
    timer: Option<&Timer<f64>>,
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
    if !matches!(args.drive_unit, DriveUnit::Deg | DriveUnit::Auto) {
        for drive in &mut columns.drive {
            *drive = args.drive_unit.core().to_deg(*drive, servo, timer);
        }
    }
    Ok(columns)
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
