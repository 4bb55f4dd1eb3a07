//! The joint's feedback map, from a column of what its sensor read.

use super::Fitted;
use crate::args::FitArgs;
use crate::paint::number;
use crate::problem::Problem;
use crate::table::Lines;
use elbowroom::fit::{FarOff, FeedbackFit, FeedbackWarning, LimitFit, at_rails, fit_feedback};
use elbowroom::look::Statistic;
use elbowroom::robot::{EntryRecord, JointEntry};
use elbowroom::{Code, Feedback, Joint};
use serde::Serialize;

/// The map that was found.
pub(super) struct Sensed {
    fit: FeedbackFit,
    adc_bits: Option<u8>,
    far_off: Vec<FarOff>,
}

#[derive(Serialize)]
pub(super) struct Report {
    /// Reading and joint angle of each knot; two where the map is straight.
    knots: Vec<[f64; 2]>,
    /// Standard uncertainty of each knot's angle, deg.
    u: Vec<f64>,
    residual_sd: f64,
    /// What a straight map leaves.
    straight_sd: f64,
    /// The readings left out, by their places among all.
    left_out: Vec<usize>,
}

impl Sensed {
    /// Fits the column asked for, if one was, of a converter with so many bits as are given, else as the file has; readings whose angle was left out by the limit fit are left out here too.
    pub(super) fn of(
        args: &FitArgs,
        limits: &LimitFit,
        measured: &[f64],
        lines: &Lines,
        sensor: Option<Vec<f64>>,
        entry: Option<&JointEntry>,
    ) -> Result<Option<Self>, Problem> {
        let (Some(name), Some(readings)) = (&args.feedback, sensor) else {
            return Ok(None);
        };
        let unit = &args.table.measured_unit;
        if unit != "deg" {
            let message =
                format!("--feedback is fitted to joint angles in deg, not {unit}; turn the measured column into deg");
            return Err(Problem::new(Code::OptionOutside, message));
        }
        let in_file = entry.and_then(|entry| entry.record().joint.feedback?.adc_bits);
        let adc_bits = args.adc_bits.or(in_file);
        let rails = adc_bits.map_or(Vec::new(), |bits| at_rails(&readings, measured, bits));
        if let Some((first, more)) = rails.split_first() {
            let line = lines.get(first.index).map(u64::from);
            let more = match more.len() {
                0 => String::new(),
                more => format!(" (and {more} more such readings)"),
            };
            let message = format!("--feedback {name}: {first}{more}");
            return Err(Problem::at(Code::FeedbackInvalid, &args.readings, line, message));
        }
        let kept: Vec<usize> = (0..measured.len())
            .filter(|index| !limits.is_left_out(*index))
            .collect();
        let of = |values: &[f64]| {
            kept.iter()
                .filter_map(|&index| values.get(index).copied())
                .collect::<Vec<_>>()
        };
        let mut fit = fit_feedback(&of(&readings), &of(measured), usize::from(args.knots))
            .map_err(|error| Problem::new(error.code(), format!("--feedback {name}: {error}")))?;
        let mut far_off = fit.far_off(&of(&readings), &of(measured));
        // From here on by their places among all rows.
        let among_all = |index: usize| kept.get(index).copied().unwrap_or(index);
        for one in &mut far_off {
            one.index = among_all(one.index);
        }
        for index in &mut fit.left_out {
            *index = among_all(*index);
        }
        for warning in &mut fit.warnings {
            if let FeedbackWarning::Displaced { index, .. } = warning {
                *index = among_all(*index);
            }
        }
        Ok(Some(Self { fit, adc_bits, far_off }))
    }

    /// The readings that lie far off the map, by their places among all.
    pub(super) fn far_off(&self) -> &[FarOff] {
        &self.far_off
    }

    pub(super) const fn fit(&self) -> &FeedbackFit {
        &self.fit
    }

    /// Writes the map into a joint that has everything else. The angles of its command ends are those of the transmission found.
    pub(super) fn apply(&self, record: &mut EntryRecord, fitted: &Fitted<'_>) -> Result<(), Problem> {
        let mut bare = record.joint.clone();
        bare.feedback = None;
        let joint = Joint::new(bare)?;
        let ends = joint.command_range().ends();
        let angle = ends.map(|command| fitted.expected_freely(joint.transmission().drive(command)));
        let [lower, upper] = angle;
        if lower >= upper {
            let message = format!(
                "--feedback: commands {} to {} go from {} to {} deg as measured; a feedback map needs angles that rise with commands: \
                 measure them the other way round",
                number(ends[0], 3),
                number(ends[1], 3),
                number(lower, 3),
                number(upper, 3)
            );
            return Err(Problem::new(Code::FeedbackInvalid, message));
        }
        record.apply_feedback(&self.fit, Some(angle))?;
        if let Some(feedback) = &mut record.joint.feedback {
            feedback.adc_bits = self.adc_bits.or(feedback.adc_bits);
            Feedback::new(feedback).map_err(|error| {
                let message = format!(
                    "--feedback: at commands {} to {} the map gives readings {} to {}: {error}; or narrow the commands, or turn the sensor on its axis, \
                     until it covers both ends",
                    number(ends[0], 3),
                    number(ends[1], 3),
                    number(feedback.reading[0], 1),
                    number(feedback.reading[1], 1)
                );
                Problem::new(error.code(), message)
            })?;
        }
        Ok(())
    }

    pub(super) fn report(&self) -> Report {
        Report {
            knots: self.fit.knots.clone(),
            u: self.fit.u.clone(),
            residual_sd: self.fit.residual_sd,
            straight_sd: self.fit.straight_sd,
            left_out: self.fit.left_out.clone(),
        }
    }

    /// What to tell of it, line by line.
    pub(super) fn lines(&self) -> Vec<String> {
        let FeedbackFit {
            knots,
            residual_sd,
            straight_sd,
            ..
        } = &self.fit;
        let (Some([from, at_from]), Some([to, at_to])) = (knots.first(), knots.last()) else {
            return Vec::new();
        };
        let shape = if knots.len() == 2 {
            format!("straight, residual SD {} deg", Statistic(*residual_sd))
        } else {
            format!(
                "curve through {} knots, residual SD {} deg; straight: {} deg",
                knots.len(),
                Statistic(*residual_sd),
                Statistic(*straight_sd)
            )
        };
        let [from, to] = [from, to].map(|reading| number(*reading, 1));
        let mut lines = vec![
            format!(
                "readings {from} to {to} for {} to {} deg",
                number(*at_from, 2),
                number(*at_to, 2)
            ),
            shape,
        ];
        lines.extend(self.unseen());
        lines
    }

    /// What the converter's rails leave unseen of a broken wire.
    fn unseen(&self) -> Option<String> {
        let mut record = self.fit.record(self.fit.angle()).ok()?;
        record.adc_bits = Some(self.adc_bits?);
        match Feedback::new(&record) {
            Ok(feedback) if feedback.detects_wire_faults() == [true; 2] => None,
            Ok(_) => Some("warning: the readings reach a rail of the converter, so a broken or shorted wire reads as a position there".to_owned()),
            Err(error) => Some(format!("warning: {error}")),
        }
    }
}
