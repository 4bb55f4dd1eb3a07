//! A joint that was measured again, and how its commands relate to the values measured.

use super::super::date::Date;
use super::super::entry::EntryRecord;
use super::super::evidence::Evidence;
use crate::fit::{CurveFit, FeedbackFit, LimitFit, LinkageFit};
use crate::record::ServoRecord;
use crate::unit::Unit;

/// What readings of a joint that stands in a robot file come to.
///
/// *Unit*: drive angles of the fits in deg of `servo`.
#[derive(Debug, Clone, Copy)]
#[non_exhaustive]
pub struct Refit<'a> {
    /// The limits.
    pub limits: &'a LimitFit,
    /// What the readings between the stops follow.
    pub map: RefitMap<'a>,
    /// Unit of the measured values; absent if it is not known.
    pub unit: Option<&'a str>,
    /// The measured values that the joint's lower and upper command stand for; absent where the units determine them.
    pub at_command_ends: Option<[f64; 2]>,
    /// The servo line by which drive angles were had from pulses; the joint's own if absent.
    pub servo: Option<ServoRecord<f64>>,
    /// The map of the joint's sensor, if it was read as well; then measured values are joint angles in deg.
    pub feedback: Option<&'a FeedbackFit>,
    /// What is written down of the readings: made by [`Evidence::from_fit`] of the same limits, with a source, a name or an
    /// instrument added. If absent, what the limits say.
    pub evidence: Option<&'a Evidence>,
}

/// What readings between the stops follow.
#[derive(Debug, Clone, Copy)]
#[non_exhaustive]
pub enum RefitMap<'a> {
    /// The line of the limit fit.
    Line,
    /// A curve.
    Curve(&'a CurveFit),
    /// A mechanism; measured values are its joint angles.
    Linkage(&'a LinkageFit),
}

impl<'a> Refit<'a> {
    /// Limits with the line that they come with, in the joint's own unit and by its own servo.
    pub const fn new(limits: &'a LimitFit) -> Self {
        Self {
            limits,
            map: RefitMap::Line,
            unit: None,
            at_command_ends: None,
            servo: None,
            feedback: None,
            evidence: None,
        }
    }

    /// The same with another map.
    pub const fn with_map(mut self, map: RefitMap<'a>) -> Self {
        self.map = map;
        self
    }

    /// The same with the unit of the measured values.
    pub const fn with_unit(mut self, unit: Option<&'a str>) -> Self {
        self.unit = unit;
        self
    }

    /// The same with the measured values that the command ends stand for.
    pub const fn with_command_ends(mut self, measured: [f64; 2]) -> Self {
        self.at_command_ends = Some(measured);
        self
    }

    /// The same with the servo line of the readings.
    pub const fn with_servo(mut self, servo: ServoRecord<f64>) -> Self {
        self.servo = Some(servo);
        self
    }

    /// The same with the map of the sensor.
    pub const fn with_feedback(mut self, feedback: &'a FeedbackFit) -> Self {
        self.feedback = Some(feedback);
        self
    }

    /// The same with what is written down of the readings.
    pub const fn with_evidence(mut self, evidence: &'a Evidence) -> Self {
        self.evidence = Some(evidence);
        self
    }

    /// What is written down of the readings.
    pub(super) fn evidence(&self, date: Option<Date>) -> Evidence {
        let known = self.evidence.cloned();
        known.unwrap_or_else(|| Evidence::from_fit(self.limits, date))
    }

    /// The measured value midway between both approaches, without any stop.
    pub(super) fn measured(&self, drive: f64) -> f64 {
        match self.map {
            RefitMap::Line => self.limits.intercept + self.limits.slope * drive,
            RefitMap::Curve(fit) => fit.curve().map_or(f64::NAN, |curve| curve.at(drive)),
            RefitMap::Linkage(fit) => fit.measured_at(drive),
        }
    }

    /// Standard uncertainty of [`measured`](Self::measured) from the scatter of the readings.
    pub(super) fn u_measured(&self, drive: f64) -> f64 {
        let fit = self.limits;
        let per_knot = |sd: f64, knots: usize| sd * (knots as f64 / fit.readings.max(1) as f64).sqrt();
        match self.map {
            RefitMap::Line => {
                let variance = fit.u_intercept * fit.u_intercept
                    + 2.0 * drive * fit.covariance
                    + drive * drive * fit.u_slope * fit.u_slope;
                variance.max(0.0).sqrt()
            }
            RefitMap::Curve(curve) => per_knot(curve.residual_sd, curve.knots.len()),
            RefitMap::Linkage(linkage) => per_knot(linkage.residual_sd, linkage.found.len() + 2),
        }
    }

    /// The drive angles between which readings follow the map.
    pub(super) fn stretch(&self) -> [f64; 2] {
        [self.limits.lower.at, self.limits.upper.at]
    }

    /// Whether something says how the joint's commands go with measured values.
    pub fn relates(&self, record: &EntryRecord) -> bool {
        self.relation(record).is_some()
    }

    /// How measured values go with the commands of a joint; None where nothing says it.
    pub(super) fn relation(&self, record: &EntryRecord) -> Option<Relation> {
        let command = record.joint.command;
        let through = |measured| Some(Relation { command, measured });
        if let Some(measured) = self.at_command_ends {
            return through(measured);
        }
        let own = record.unit.as_deref();
        if let Some(factor) = match (self.unit, own) {
            // A joint that names no unit has commands as they are measured, but never in the counts of a sensor.
            (None, _) => Some(1.0),
            (Some(unit), None) => Unit::of(unit).map(|_| 1.0),
            (Some(unit), Some(own)) => factor(unit, own),
        } {
            return through(command.map(|command| command / factor));
        }
        match &record.joint.feedback {
            Some(feedback) if self.unit == Some("deg") => through(feedback.angle),
            _ => None,
        }
    }
}

/// A straight relation of commands and measured values.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Relation {
    pub(super) command: [f64; 2],
    /// At the lower and the upper command.
    pub(super) measured: [f64; 2],
}

impl Relation {
    pub(super) fn measured(&self, at: f64) -> f64 {
        let ([c0, c1], [m0, m1]) = (self.command, self.measured);
        m0 + (m1 - m0) * ((at - c0) / (c1 - c0))
    }

    pub(super) fn command(&self, at: f64) -> f64 {
        let ([c0, c1], [m0, m1]) = (self.command, self.measured);
        c0 + (c1 - c0) * ((at - m0) / (m1 - m0))
    }
}

/// How many of one unit another is: 0.0174… for deg in rad. None where nothing says it.
pub(super) fn factor(from: &str, to: &str) -> Option<f64> {
    if from == to {
        return Some(1.0);
    }
    let (from, to) = (Unit::of(from)?, Unit::of(to)?);
    (from.si() == to.si()).then(|| from.to_si() / to.to_si())
}
