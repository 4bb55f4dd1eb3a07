//! The dimensions of a mechanism from readings of the joint.

use super::branch::OtherBranch;
use super::linkage_model::{Model, P, Sides, extent};
use super::sides::{BySide, Half, Place, signs};
use crate::fit::error::FitError;
use crate::fit::estimate::Estimate;
use crate::fit::line::check_readings;
use crate::fit::outcome::{EndKind, LimitFit, LostMotion, NotDeterminable};
use crate::fit::readings::{Approach, Readings};
use crate::linkage::Mechanism;
use crate::span::Span;
use crate::transmission::TransmissionRecord;
use std::vec::Vec;

/// A dimension found from readings.
#[derive(Debug, Clone, Copy, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize))]
pub struct Dimension {
    /// Its key in a robot file.
    pub name: &'static str,
    /// Its value, in its own unit.
    pub value: f64,
    /// Its standard uncertainty.
    pub u: f64,
}

/// A mechanism fitted to readings.
#[derive(Debug, Clone, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
#[cfg_attr(
    feature = "serde",
    serde(into = "written::LinkageFit", try_from = "written::LinkageFit")
)]
#[non_exhaustive]
pub struct LinkageFit {
    /// The mechanism with the dimensions found.
    pub mechanism: Mechanism,
    /// The dimensions that were found, with their uncertainties.
    pub found: Vec<Dimension>,
    /// Drive angle, deg, at which the servo's side has moved by 0: how the horn sits on its spline.
    pub offset: Estimate,
    /// Drive angle per movement of the servo's side: deg per deg, or per unit of length for a triangle. Below 0 where the one rises
    /// as the other falls.
    pub gain: Estimate,
    /// Lowest and highest drive angle of the readings, deg.
    pub drive: [f64; 2],
    /// Lowest and highest measured value of the readings.
    pub measured: [f64; 2],
    /// Standard deviation of the readings about it, in measured units, free of lost motion.
    pub residual_sd: f64,
    /// Readings less the dimensions found, offset and gain, and less one where lost motion was measured.
    pub dof: usize,
    /// Sum of squared residuals.
    pub sum_of_squares: f64,
    /// Lost motion, or why it cannot be determined; `drive` at the mechanism's mean slope over the readings.
    pub lost_motion: LostMotion,
    /// What the side of approach adds to the mechanism.
    pub by_side: BySide,
    /// The other way to put the same links together, where the readings do not tell it from this one, or fit it better.
    pub other_branch: Option<OtherBranch>,
}

/// A mechanism's fit as it is written down: the mechanism by the keys of a robot file.
#[cfg(feature = "serde")]
mod written {
    use super::{BySide, Dimension, Estimate, LostMotion, Mechanism, OtherBranch, TransmissionRecord};
    use serde::{Deserialize, Serialize};
    use std::format;
    use std::string::String;
    use std::vec::Vec;

    #[derive(Serialize, Deserialize)]
    #[serde(deny_unknown_fields)]
    pub(super) struct LinkageFit {
        mechanism: TransmissionRecord<f64>,
        found: Vec<Found>,
        offset: Estimate,
        gain: Estimate,
        drive: [f64; 2],
        measured: [f64; 2],
        residual_sd: f64,
        dof: usize,
        sum_of_squares: f64,
        lost_motion: LostMotion,
        by_side: BySide,
        other_branch: Option<OtherBranch>,
    }

    #[derive(Serialize, Deserialize)]
    #[serde(deny_unknown_fields)]
    struct Found {
        name: String,
        value: f64,
        u: f64,
    }

    impl From<super::LinkageFit> for LinkageFit {
        fn from(fit: super::LinkageFit) -> Self {
            let found = |d: &Dimension| Found {
                name: d.name.into(),
                value: d.value,
                u: d.u,
            };
            Self {
                mechanism: (&fit.mechanism).into(),
                found: fit.found.iter().map(found).collect(),
                offset: fit.offset,
                gain: fit.gain,
                drive: fit.drive,
                measured: fit.measured,
                residual_sd: fit.residual_sd,
                dof: fit.dof,
                sum_of_squares: fit.sum_of_squares,
                lost_motion: fit.lost_motion,
                by_side: fit.by_side,
                other_branch: fit.other_branch,
            }
        }
    }

    impl TryFrom<LinkageFit> for super::LinkageFit {
        type Error = String;

        fn try_from(fit: LinkageFit) -> Result<Self, String> {
            let kind = fit.mechanism.kind();
            let mechanism: Mechanism =
                (fit.mechanism.mechanism()).ok_or_else(|| format!("{kind} is not a mechanism"))?;
            let dimension = |found: &Found| {
                let name = mechanism.dimensions().iter().find(|name| **name == found.name);
                let name = name.ok_or_else(|| format!("{} is not a dimension of a {kind}", found.name))?;
                Ok(Dimension {
                    name,
                    value: found.value,
                    u: found.u,
                })
            };
            Ok(Self {
                found: fit.found.iter().map(dimension).collect::<Result<_, String>>()?,
                mechanism,
                offset: fit.offset,
                gain: fit.gain,
                drive: fit.drive,
                measured: fit.measured,
                residual_sd: fit.residual_sd,
                dof: fit.dof,
                sum_of_squares: fit.sum_of_squares,
                lost_motion: fit.lost_motion,
                by_side: fit.by_side,
                other_branch: fit.other_branch,
            })
        }
    }
}

/// A mechanism as a joint needs it: the drive range and the transmission over the command range asked for.
#[derive(Debug, Clone, PartialEq)]
#[non_exhaustive]
pub struct LinkageJoint {
    /// The drive range, deg: lower, upper.
    pub drive: [f64; 2],
    /// Whether the lower command belongs to the upper drive angle.
    pub inverted: bool,
    /// The mechanism from command to drive angle.
    pub transmission: TransmissionRecord<f64>,
}

impl LinkageFit {
    /// All dimensions in the order of a robot file: key, value, and the standard uncertainty of one that was found.
    pub fn dimensions(&self) -> impl Iterator<Item = (&'static str, f64, Option<f64>)> {
        let u_of = |name| self.found.iter().find(|found| found.name == name).map(|found| found.u);
        let all = self.mechanism.numbers();
        all.map(move |(name, value)| (name, value, u_of(name)))
    }

    /// The drive angle, deg, of a joint angle: offset plus gain times the movement. NaN where the mechanism cannot reach.
    pub fn drive_at(&self, measured: f64) -> f64 {
        self.offset.value + self.gain.value * self.mechanism.moved(measured)
    }

    /// The joint angle, in measured units, of a drive angle: of several the one nearest to the readings. NaN where the mechanism
    /// cannot reach.
    pub fn measured_at(&self, drive: f64) -> f64 {
        let [lower, upper] = self.measured;
        let moved = (drive - self.offset.value) / self.gain.value;
        self.mechanism.command_near(moved, 0.5 * (lower + upper))
    }

    /// The measured value expected at a drive angle reached from one side: [`measured_at`](Self::measured_at), with the lost
    /// motion of that side; midway between both where the side is unknown.
    pub fn expected(&self, drive: f64, approach: Approach) -> f64 {
        self.by_side.expected(drive, approach, |x| self.measured_at(x))
    }

    /// The joint angles of the lowest and the highest drive angle read, lower first: the commands that the readings stand for.
    pub fn command(&self) -> [f64; 2] {
        let [a, b] = self.drive.map(|drive| self.measured_at(drive));
        if a > b { [b, a] } else { [a, b] }
    }

    /// Which of the stops that `limits` found, lower then upper, may not be stops: near a dead centre a joint levels off as it does on a
    /// stop. There the mechanism, fitted again with the readings beyond, has a residual SD of at most 1.5 times that without them (an
    /// assumption of this library).
    ///
    /// `readings` are those that `limits` was fitted to, of which this is a fit [between the
    /// stops](LimitFit::between_stops). The travel is not changed by this: look at the joint.
    pub fn explains_stops(&self, limits: &LimitFit, readings: &Readings<'_>) -> [bool; 2] {
        let met = [&limits.lower, &limits.upper].map(|end| (end.kind == EndKind::Contact).then_some(end.at));
        let free: Vec<&'static str> = self.found.iter().map(|dimension| dimension.name).collect();
        let [lower, upper] = met;
        let above = |x: f64| lower.is_none_or(|at| x > at);
        let below = |x: f64| upper.is_none_or(|at| x < at);
        let explains = |is_met: bool, is_taken: &dyn Fn(f64) -> bool| {
            let taken = readings.chosen(|index, x| is_taken(x) && !limits.is_left_out(index));
            let again = is_met
                .then(|| with_lost_motion(&taken.readings(), &self.mechanism, &free).ok())
                .flatten();
            again.is_some_and(|again| again.residual_sd <= 1.5 * self.residual_sd)
        };
        [explains(lower.is_some(), &below), explains(upper.is_some(), &above)]
    }

    /// The ranges and the transmission of a joint with these commands, which are the mechanism's joint angles.
    ///
    /// The drive range is that of the two ends, so that the joint has the offset and the gain found. A mechanism holds beyond the
    /// readings as well: ends outside [`command`](Self::command) are extrapolated, and a drive range wider than the servo's angle
    /// is refused by [`Joint::new`](crate::Joint::new).
    ///
    /// # Errors
    /// [`FitError::OptionOutside`] if `command` is not a range; [`FitError::Linkage`] if the mechanism cannot serve it: out of reach, a
    /// dead centre inside or near.
    pub fn joint(&self, command: [f64; 2]) -> Result<LinkageJoint, FitError> {
        let [lower, upper] = command;
        Span::new("command", command).map_err(|_| FitError::OptionOutside {
            what: "command upper",
            value: upper,
            lower,
            upper: f64::MAX,
        })?;
        self.mechanism.check(command).map_err(FitError::Linkage)?;
        let [first, last] = command.map(|command| self.drive_at(command));
        let inverted = first > last;
        Ok(LinkageJoint {
            drive: if inverted { [last, first] } else { [first, last] },
            inverted,
            transmission: (&self.mechanism).into(),
        })
    }
}

/// Fits one branch, with its lost motion where the readings show it.
pub(super) fn with_lost_motion(
    readings: &Readings<'_>,
    start: &Mechanism,
    free: &[&'static str],
) -> Result<LinkageFit, FitError> {
    let used = free.len() + 2;
    check_readings(readings, used + 1)?;
    start.check_dimensions().map_err(FitError::Linkage)?;
    let reason = match signs(readings) {
        // Each number more needs a reading more.
        Ok(signs) if readings.drive.len() > used + 1 => {
            let found = [Place::Measured, Place::Drive].map(|place| {
                let sides = Sides { signs: &signs, place };
                fit_one(readings, start, free, Some(sides))
            });
            match found {
                [Ok(behind), Ok(before)] if before.sum_of_squares < behind.sum_of_squares => return Ok(before),
                [Ok(one), _] | [Err(_), Ok(one)] => return Ok(one),
                [Err(error), Err(_)] => return Err(error),
            }
        }
        Ok(_) => NotDeterminable::TooFewReadings,
        Err(reason) => reason,
    };
    let fit = fit_one(readings, start, free, None)?;
    let lost_motion = LostMotion::NotDeterminable { reason };
    Ok(LinkageFit { lost_motion, ..fit })
}

fn fit_one(
    readings: &Readings<'_>,
    start: &Mechanism,
    free: &[&'static str],
    sides: Option<Sides<'_>>,
) -> Result<LinkageFit, FitError> {
    let Readings { drive, measured, .. } = *readings;
    let used = free.len() + 2 + usize::from(sides.is_some());
    check_free(start, free, used)?;
    if let Some((index, &value)) = measured.iter().enumerate().find(|(_, y)| !start.moved(**y).is_finite()) {
        return Err(FitError::OutOfReach { index, value });
    }
    let model = Model {
        drive,
        measured,
        start,
        free,
        sides,
    };
    let (v, squares) = model.least_squares().ok_or(FitError::NoAgreement {
        agree: 0,
        given: drive.len(),
    })?;
    let dof = drive.len() - used;
    let variance = squares / dof as f64;
    let covariance = model.covariance(&v)?;
    let u = |k: usize| {
        let own = covariance.get(k).and_then(|row| row.get(k));
        own.map_or(f64::INFINITY, |c| (c * variance).sqrt())
    };
    let found: Vec<Dimension> = free
        .iter()
        .enumerate()
        .map(|(i, &name)| Dimension {
            name,
            value: model.value(&v, i),
            u: u(i + 2) * model.unit(i),
        })
        .collect();
    if let Some(open) = found.iter().enumerate().find(|(i, d)| is_open(&model, *i, d)) {
        return Err(FitError::NotDetermined { name: open.1.name });
    }
    let [offset, gain, ..] = v;
    let half = sides.map(|Sides { place, .. }| Half {
        place,
        size: Estimate {
            value: model.half(&v),
            u: u(used - 1) * model.half_unit(),
        },
    });
    let fit = LinkageFit {
        mechanism: model.mechanism(&v),
        found,
        offset: Estimate { value: offset, u: u(0) },
        gain: Estimate { value: gain, u: u(1) },
        drive: extent(drive),
        measured: extent(measured),
        residual_sd: variance.sqrt(),
        dof,
        sum_of_squares: squares,
        lost_motion: LostMotion::NotDeterminable {
            reason: NotDeterminable::ApproachUnknown,
        },
        by_side: half.map_or_else(BySide::default, Half::by_side),
        other_branch: None,
    };
    let Some(half) = half else { return Ok(fit) };
    let lost_motion = half.lost_motion(mean_slope(&fit));
    Ok(LinkageFit { lost_motion, ..fit })
}

/// Each free dimension is one of the mechanism's, named once, and they are not too many.
fn check_free(start: &Mechanism, free: &[&'static str], used: usize) -> Result<(), FitError> {
    for (i, name) in free.iter().enumerate() {
        let twice = free.iter().skip(i + 1).any(|other| other == name);
        if twice || start.dimension(name).is_none() || used > P {
            return Err(FitError::UnknownDimension {
                name,
                kind: start.kind(),
            });
        }
    }
    Ok(())
}

/// Whether a dimension is known so badly, by ten times its size or by ten radians, that the readings say nothing of it.
fn is_open(model: &Model<'_>, index: usize, found: &Dimension) -> bool {
    let unit = model.unit(index);
    let scale = if model.start.is_length(found.name) {
        unit.max(found.value.abs())
    } else {
        unit
    };
    found.u.is_nan() || found.u > 10.0 * scale
}

/// Measured units per degree of drive, over all readings.
fn mean_slope(fit: &LinkageFit) -> f64 {
    let [lower, upper] = fit.drive;
    let [a, b] = fit.drive.map(|drive| fit.measured_at(drive));
    let slope = (b - a) / (upper - lower);
    if slope.is_finite() && slope != 0.0 {
        return slope;
    }
    // Beyond the readings a dead centre may lie within half the lost motion: then the readings' own span.
    let [least, most] = fit.measured;
    let own = (most - least) / (upper - lower);
    if (fit.gain.value > 0.0) == (fit.mechanism.slope(0.5 * (least + most)) > 0.0) {
        own
    } else {
        -own
    }
}
