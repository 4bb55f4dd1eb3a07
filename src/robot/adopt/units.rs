//! Readings in another unit than the one that they were taken for: no repair changes a joint like this.

use core::fmt;

use super::super::entry::EntryRecord;
use super::refit::{Refit, Relation};
use crate::look::Statistic;
use crate::record::ServoRecord;
use crate::unit::Unit;

/// Values of readings that are in another unit than the one that they are taken for.
#[derive(Debug, Clone, Copy, PartialEq)]
#[non_exhaustive]
pub enum MistakenUnit {
    /// The measured values.
    Measured {
        /// The unit that explains them.
        looks_like: Unit,
        /// The unit of the joint's commands.
        taken_for: Unit,
        /// Drive deg for each unit measured, and for each unit of command in the file; with sign.
        slope: [f64; 2],
    },
    /// Drive angles that are pulse widths in microseconds.
    Drive {
        /// Between the ends of the fit.
        values: [f64; 2],
        /// The servo line of the readings.
        servo: ServoRecord<f64>,
    },
}

impl MistakenUnit {
    /// The first of the two that is so.
    pub(super) fn of(record: &EntryRecord, refit: &Refit<'_>, relation: Option<&Relation>) -> Option<Self> {
        if let Some(found) = Self::drive(record, refit) {
            return Some(found);
        }
        let relation = relation?;
        let ([c0, c1], [d0, d1]) = (record.joint.command, record.joint.drive);
        let [lower, upper] = refit.stretch();
        let commands = relation.command(refit.measured(upper)) - relation.command(refit.measured(lower));
        Self::measured(
            record.unit.as_deref(),
            [(upper - lower) / commands, (d1 - d0) / (c1 - c0)],
        )
    }

    /// Drive angles of which none is an angle of the servo, though all are pulse widths of it.
    fn drive(record: &EntryRecord, refit: &Refit<'_>) -> Option<Self> {
        let servo = refit.servo.unwrap_or(record.joint.servo);
        let values = refit.stretch();
        let within = |[a, b]: [f64; 2], value: f64| (a.min(b)..=a.max(b)).contains(&value);
        let is_width = |value: f64| !within(servo.angle, value) && within(servo.pulse_us, value);
        values
            .into_iter()
            .all(is_width)
            .then_some(Self::Drive { values, servo })
    }

    /// Measured values whose slope against the file's is the ratio of two units; a joint that names no unit has deg or rad.
    fn measured(unit: Option<&str>, [found, file]: [f64; 2]) -> Option<Self> {
        let is_plain = |one: &Unit| matches!(one, Unit::Deg | Unit::Rad);
        let is_taken_for = |one: &&Unit| unit.map_or_else(|| is_plain(one), |unit| one.word() == unit);
        let ratio = (found / file).abs();
        let mut closest: Option<(f64, Self)> = None;
        for &taken_for in Unit::ALL.iter().filter(is_taken_for) {
            let is_like = |one: &&Unit| unit.is_some() || is_plain(one);
            for &looks_like in Unit::ALL.iter().filter(is_like) {
                if let Some(off) = looks_like.explains(taken_for, ratio)
                    && closest.is_none_or(|(least, _)| off < least)
                {
                    let found = Self::Measured {
                        looks_like,
                        taken_for,
                        slope: [found, file],
                    };
                    closest = Some((off, found));
                }
            }
        }
        closest.map(|(_, found)| found)
    }
}

impl fmt::Display for MistakenUnit {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Measured {
                looks_like,
                taken_for,
                slope: [found, file],
            } => write!(
                f,
                "the measured values look like {} and the joint's commands are in {to} ({} deg of drive for each unit measured, {} for each unit \
                 of command in the file); convert the measured values to {to}, or give their unit",
                looks_like.word(),
                Statistic(found.abs()),
                Statistic(file.abs()),
                to = taken_for.word(),
            ),
            Self::Drive {
                values: [lower, upper],
                servo,
            } => write!(
                f,
                "the drive values of the readings, {} to {}, look like pulse widths in us, and the servo has {} to {} deg at {} to {} us; convert \
                 them to drive angles in deg",
                Statistic(*lower),
                Statistic(*upper),
                servo.angle[0],
                servo.angle[1],
                servo.pulse_us[0],
                servo.pulse_us[1]
            ),
        }
    }
}
