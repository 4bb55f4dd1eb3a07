//! The readings that a joint's evidence names: read again, and fitted again.

use crate::args::{ColumnValue, DriveUnit, TableArgs, TimeUnit};
use crate::degrees::{fit_columns, in_deg};
use crate::table::{Columns, Table};
use crate::usual::DEGREES;
use elbowroom::Servo;
use elbowroom::fit::{CompareOptions, Comparison, FeedbackFit, LimitFit, compare, fit_feedback};
use elbowroom::robot::{self, Date, Evidence, JointEntry, Source, SourceState, Sources};
use std::path::Path;

/// Knots of a feedback map that is fitted again: the default of `fit --knots`.
const FEEDBACK_KNOTS: usize = 7;

/// Readings of one joint, as they were fitted.
pub(crate) struct Refitted {
    pub(crate) columns: Columns,
    pub(crate) fit: LimitFit,
    pub(crate) residuals: Vec<f64>,
    pub(crate) measured_unit: String,
    pub(crate) is_drive_in_us: bool,
    pub(crate) servo: Servo<f64>,
    /// What the joint's sensor read, and the map that was fitted through it.
    pub(crate) feedback: Option<(Vec<f64>, FeedbackFit)>,
}

/// What has become of the readings behind some evidence.
pub(crate) enum Behind {
    /// They are as they were, and fitted again.
    Same(Box<Refitted>),
    /// They cannot be drawn, for this reason.
    Lost(String),
    /// The evidence names none.
    Unnamed,
}

impl Behind {
    pub(crate) fn refitted(&self) -> Option<&Refitted> {
        match self {
            Self::Same(refitted) => Some(refitted),
            _ => None,
        }
    }
}

/// The folder of a file.
pub(crate) fn folder_of(path: &Path) -> &Path {
    let folder = path.parent().filter(|folder| !folder.as_os_str().is_empty());
    folder.unwrap_or(Path::new("."))
}

/// Reads and fits again what a joint's evidence rests on; `folder` is that of the robot file.
pub(crate) fn behind(folder: &Path, sources: &Sources, entry: &JointEntry) -> Behind {
    behind_under(folder, sources, entry, entry.joint().servo())
}

/// The same in drive deg of another servo line.
pub(crate) fn behind_under(folder: &Path, sources: &Sources, entry: &JointEntry, servo: &Servo<f64>) -> Behind {
    behind_evidence(folder, sources, entry, entry.evidence(), servo)
}

/// The same of one calibration of the joint, the present one or an earlier.
fn behind_evidence(
    folder: &Path,
    sources: &Sources,
    entry: &JointEntry,
    evidence: &Evidence,
    servo: &Servo<f64>,
) -> Behind {
    let Some(source) = &evidence.source else {
        return Behind::Unnamed;
    };
    match sources.state(source) {
        Some(SourceState::Unchanged) => {}
        Some(SourceState::Missing { reason }) => {
            return Behind::Lost(format!("{} cannot be read: {reason}", source.file));
        }
        _ => return Behind::Lost(format!("{} has changed since it was fitted", source.file)),
    }
    match refit(folder, source, entry, evidence, servo) {
        Ok(refitted) => Behind::Same(Box::new(refitted)),
        Err(message) => Behind::Lost(message),
    }
}

fn refit(
    folder: &Path,
    source: &Source,
    entry: &JointEntry,
    evidence: &Evidence,
    servo: &Servo<f64>,
) -> Result<Refitted, String> {
    let args = table_args(source, evidence);
    let path = folder.join(&source.file);
    let said = |problem: crate::problem::Problem| problem.to_string();
    let table = Table::read(&path, &args).map_err(said)?;
    let joint = entry.joint();
    let written = source.servo.unwrap_or(*joint.servo());
    let columns = in_deg(&args, &table, servo, Some(joint.timer()), Some(written)).map_err(said)?;
    let fit = fit_columns(&args, &columns, &path).map_err(said)?;
    let feedback = match source.column("feedback") {
        Some(name) => {
            let readings = table.feedback(name, &args.only).map_err(said)?;
            let is_kept = |index: &usize| !fit.is_left_out(*index);
            let of = |values: &[f64]| {
                let kept = values.iter().enumerate().filter(|(index, _)| is_kept(index));
                kept.map(|(_, value)| *value).collect::<Vec<f64>>()
            };
            let map = fit_feedback(&of(&readings), &of(&columns.measured), FEEDBACK_KNOTS);
            map.ok().map(|map| (readings, map))
        }
        None => None,
    };
    Ok(Refitted {
        residuals: fit.residuals(&columns.readings()),
        columns,
        fit,
        measured_unit: args.measured_unit,
        servo: *servo,
        is_drive_in_us: matches!(args.drive_unit, DriveUnit::Us | DriveUnit::Ms),
        feedback,
    })
}

/// What changed since the last earlier calibration in the same unit whose readings are still as they were; `None` where there is none, or where the
/// present readings are lost.
pub(crate) fn compared_with_earlier(
    folder: &Path,
    sources: &Sources,
    entry: &JointEntry,
    now: &Behind,
) -> Option<(Option<Date>, Comparison)> {
    let now = now.refitted()?;
    let earlier = entry.history().iter().rev();
    let mut refitted = earlier.filter_map(|evidence| {
        let then = behind_evidence(folder, sources, entry, evidence, entry.joint().servo());
        let then = then.refitted().filter(|then| then.measured_unit == now.measured_unit)?;
        let changed = compare(&then.fit, &now.fit, &CompareOptions::default());
        Some((evidence.date, changed.ok()?))
    });
    refitted.next()
}

/// How the table was read and fitted.
fn table_args(source: &Source, evidence: &Evidence) -> TableArgs {
    let mut args = TableArgs::usual();
    let column = |role| source.column(role).map(str::to_owned);
    args.drive = column("drive").unwrap_or(args.drive);
    args.measured = column("measured").unwrap_or(args.measured);
    (args.approach, args.contact, args.time) = (column("approach"), column("contact"), column("time"));
    args.time_unit = source.time_unit.as_deref().map(|unit| match unit {
        "ms" => TimeUnit::Ms,
        _ => TimeUnit::S,
    });
    args.only = source
        .rows
        .iter()
        .map(|(column, value)| ColumnValue {
            column: column.clone(),
            value: value.clone(),
        })
        .collect();
    (args.separator, args.decimal) = (source.separator, source.decimal);
    let robot::MeasuredAs {
        wrap,
        arc_radius,
        flipped,
        ..
    } = source.measured_as;
    (args.wrap, args.arc_radius, args.flip_measured) = (wrap, arc_radius, flipped);
    args.drive_unit = DriveUnit::of(source.drive_unit);
    args.measured_unit = source.measured_unit.clone().unwrap_or(DEGREES.to_owned());
    args.resolution = source.resolution;
    args.confidence = source.confidence.unwrap_or(args.confidence);
    let ends = [evidence.lower, evidence.upper];
    let mut guards = ends
        .iter()
        .flatten()
        .filter_map(|end| end.guard)
        .filter(|guard| *guard > 0.0);
    args.guard = guards.next().unwrap_or(args.guard);
    args
}
