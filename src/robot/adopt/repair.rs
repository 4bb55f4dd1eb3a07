//! What a fit writes into a joint after a repair: map, travel, rest and feedback together, or none of the map.

use thiserror::Error;

use super::super::date::Date;
use super::super::entry::EntryRecord;
use super::super::evidence::Evidence;
use super::super::from_fit::rounded;
use super::judge::Judgement;
use super::refit::{Refit, RefitMap, Relation};
use super::servo::evidence_in_degrees_of;
use super::units::MistakenUnit;
use crate::code::Code;
use crate::error::JointError;
use crate::fit::{CompareOptions, FitError};
use crate::joint::Joint;
use crate::transmission::TransmissionRecord;
use std::string::String;

/// Why a joint was not replaced from a fit.
#[derive(Debug, Clone, PartialEq, Error)]
#[non_exhaustive]
pub enum AdoptError {
    /// The fit left no travel.
    #[error("guard margin and uncertainty leave no travel to write down; see the warnings of the fit")]
    NoTravel,
    /// Nothing relates commands to measured values.
    #[error(
        "the relation between the joint's commands and the measured values is not known; give the unit of the measured values, or those that its \
         lower and upper command stand for"
    )]
    Unrelated,
    /// Commands of one unit are none of another.
    #[error(
        "the units of the commands and of the measured values have no common quantity; give the commands at the ends of the travel"
    )]
    Unconvertible,
    /// The commands of a mechanism are what it moves.
    #[error("the commands of a {0} are the measured values themselves; keep their unit, or take a curve")]
    JointAngles(&'static str),
    /// A curve or a mechanism needs measured values that rise with commands.
    #[error(
        "measured values fall from {0} to {1} as commands rise; turn their sign, so that a curve or a linkage can be written"
    )]
    Falling(f64, f64),
    /// The commands of the joint and those of the readings have nothing in common.
    #[error(
        "the joint's commands {0} to {1} are outside the readings, which cover {2} to {3}; give commands within them"
    )]
    Beside(f64, f64, f64, f64),
    /// The readings contradict the map from command to drive angle; what differs, a sentence each.
    #[error(
        "the readings contradict the map in the file; correct the joint and measure again, adopt the fit to replace map, travel, rest and \
         feedback, or keep the map as it is: {0}"
    )]
    Contradicted(String),
    /// The readings look like values in another unit than the one that they are taken for.
    #[error("{0}")]
    MistakenUnit(MistakenUnit),
    /// The fit cannot be written.
    #[error(transparent)]
    Fit(#[from] FitError),
    /// What was to be written is not a valid joint.
    #[error(transparent)]
    Joint(#[from] JointError),
}

impl AdoptError {
    pub(super) fn contradicted(judged: &Judgement) -> Self {
        Self::Contradicted(judged.sentences().join("; "))
    }

    /// The frozen code of this error.
    pub const fn code(&self) -> Code {
        match self {
            Self::NoTravel => Code::NoMotion,
            Self::Contradicted(_) => Code::MapContradicted,
            Self::Unrelated
            | Self::Unconvertible
            | Self::JointAngles(_)
            | Self::Falling(..)
            | Self::Beside(..)
            | Self::MistakenUnit(_) => Code::OptionOutside,
            Self::Fit(error) => error.code(),
            Self::Joint(error) => error.code(),
        }
    }
}

impl EntryRecord {
    /// Takes over all that a fit found: the map from command to drive angle, travel, evidence, servo line, rest and, if it was read
    /// as well, the sensor's map. Earlier evidence moves to the history, see [`EntryRecord::renew`]. Commands stay those that software gives; a curve does not extend beyond its readings, so there they are cut
    /// to these, never stretched. The rest stays unless the new travel has it no longer.
    ///
    /// Where the measured values or the sensor's readings run the other way than before, the proven sense of the feedback is dropped: it has
    /// to be tested again.
    ///
    /// # Errors
    /// [`AdoptError`]; the record is then as it was.
    pub fn adopt_fit(&mut self, refit: &Refit<'_>, date: Option<Date>) -> Result<(), AdoptError> {
        let relation = refit.relation(self).ok_or(AdoptError::Unrelated)?;
        self.judged(refit)?;
        let mut new = self.clone();
        if let Some(servo) = refit.servo.filter(|servo| *servo != self.joint.servo) {
            evidence_in_degrees_of(&mut new, servo)?;
            new.joint.servo = servo;
        }
        if !new.apply_fit_with(refit.limits, refit.evidence(date)) {
            return Err(AdoptError::NoTravel);
        }
        new.joint.feedback = None;
        new.write_map(refit, &relation)?;
        new.joint.feedback.clone_from(&self.joint.feedback);
        if let Some(fit) = refit.feedback {
            let ends = new.joint.command.map(|command| relation.measured(command));
            new.apply_feedback(fit, Some(ends))?;
        } else if let Some(feedback) = &self.joint.feedback {
            let [[c0, c1], [a0, a1]] = [self.joint.command, feedback.angle];
            let angle = |command: f64| a0 + (a1 - a0) * ((command - c0) / (c1 - c0));
            let unchanged = new.joint.command == self.joint.command;
            let ends = if unchanged {
                feedback.angle
            } else {
                new.joint.command.map(angle)
            };
            new.cut_feedback(ends)?;
        }
        if self.turns_round(refit, &relation) {
            (new.evidence.sense, new.evidence.sense_date) = (None, None);
        }
        new.keep_rest()?;
        *self = new;
        Ok(())
    }

    /// Takes over travel and evidence of a fit that agrees with the map in the file, by [`judge`](Self::judge) with the usual
    /// options. The map, the rest and the sense of the feedback stay; so does the day of the sense test
    /// ([`Evidence::sense_date`](crate::robot::Evidence::sense_date)). With another servo line, what is left is written in its degrees.
    ///
    /// # Errors
    /// [`AdoptError::Contradicted`], [`AdoptError::Unrelated`] where nothing relates the readings to the map, whether they agree or
    /// not, [`AdoptError::NoTravel`], [`AdoptError::Joint`]; the record is then as it was.
    ///
    /// ```
    /// use elbowroom::fit::{FitOptions, Readings, fit_limits};
    /// use elbowroom::robot::{AdoptError, EntryRecord, Refit};
    /// use elbowroom::{JointRecord, ServoRecord, TimerRecord};
    /// let servo = ServoRecord { angle: [0.0, 180.0], pulse_us: [500.0, 2500.0] };
    /// let timer = TimerRecord { frame_hz: 50.0, counts_per_frame: 4096 };
    /// let mut wing = EntryRecord::new("wing_left", JointRecord::new([-40.0, 60.0], [37.0, 122.0], 10.0, servo, timer));
    /// wing.unit = Some("deg".into());
    /// let drive: Vec<f64> = (0..12).map(|i| 40.0 + 7.0 * f64::from(i)).collect();
    /// // Invented: the wing goes down where the file has it go up.
    /// let measured: Vec<f64> = drive.iter().map(|d| 60.0 - (d - 37.0) / 0.85).collect();
    /// let fit = fit_limits(&Readings::new(&drive, &measured), &FitOptions::default())?;
    /// assert!(matches!(wing.put_fit(&Refit::new(&fit), None), Err(AdoptError::Contradicted(_))));
    /// # Ok::<(), Box<dyn std::error::Error>>(())
    /// ```
    pub fn put_fit(&mut self, refit: &Refit<'_>, date: Option<Date>) -> Result<(), AdoptError> {
        let judged = self.judged(refit)?;
        if judged.contradicts_map() {
            return Err(AdoptError::contradicted(&judged));
        }
        if judged.unrelated {
            return Err(AdoptError::Unrelated);
        }
        self.take_ends(refit, refit.evidence(date))
    }

    /// Takes over travel and evidence of a fit and leaves the map as it is, each command with the pulse that it had: with another
    /// servo line, what is left is written in its degrees. Where the readings contradict the map, by
    /// [`judge`](Self::judge) with the usual options, the evidence records it: [`Evidence::map_off`](crate::robot::Evidence::map_off).
    ///
    /// # Errors
    /// [`AdoptError`]; the record is then as it was.
    pub fn keep_map(&mut self, refit: &Refit<'_>, date: Option<Date>) -> Result<(), AdoptError> {
        let judged = self.judged(refit)?;
        let mut evidence = refit.evidence(date);
        evidence.map_off = judged
            .apart
            .filter(|_| judged.contradicts_map())
            .map(|apart| rounded(apart.measured - apart.in_file));
        self.take_ends(refit, evidence)
    }

    /// Takes travel and evidence, under the servo line of the readings: each command keeps its pulse.
    fn take_ends(&mut self, refit: &Refit<'_>, evidence: Evidence) -> Result<(), AdoptError> {
        let mut new = self.clone();
        if let Some(servo) = refit.servo {
            new.change_servo(servo)?;
        }
        if !new.apply_fit_with(refit.limits, evidence) {
            return Err(AdoptError::NoTravel);
        }
        *self = new;
        Ok(())
    }

    /// What the readings say against the record, unless they are in another unit: then nothing of them is written.
    pub(super) fn judged(&self, refit: &Refit<'_>) -> Result<Judgement, AdoptError> {
        let judged = self.judge(refit, &CompareOptions::default())?;
        match judged.mistaken_unit {
            Some(mistaken) => Err(AdoptError::MistakenUnit(mistaken)),
            None => Ok(judged),
        }
    }

    /// Writes the transmission that the readings follow under the commands of the record.
    fn write_map(&mut self, refit: &Refit<'_>, relation: &Relation) -> Result<(), AdoptError> {
        let [m0, m1] = relation.measured;
        match refit.map {
            RefitMap::Line => {
                let at = |measured: f64| rounded((measured - refit.limits.intercept) / refit.limits.slope);
                let [d0, d1] = [at(m0), at(m1)];
                let joint = &mut self.joint;
                joint.inverted = d0 > d1;
                joint.drive = if joint.inverted { [d1, d0] } else { [d0, d1] };
                joint.transmission = TransmissionRecord::Linear {};
            }
            _ if m0 > m1 => return Err(AdoptError::Falling(m0, m1)),
            RefitMap::Curve(fit) => {
                let measured = common(relation, fit.command())?;
                // Ends that are not cut stay what they are, to the bit.
                let command = cut(relation, measured);
                self.apply_curve_between(fit, command, measured)?;
            }
            RefitMap::Linkage(fit) => {
                if relation.measured != relation.command {
                    return Err(AdoptError::Unrelated);
                }
                // A mechanism holds beyond the readings; where it does not, the readings bound the commands.
                if fit.joint(relation.command).is_ok() {
                    self.apply_linkage(fit, Some(relation.command))?;
                } else {
                    let within = common(relation, fit.command())?;
                    self.apply_linkage(fit, Some(within.map(rounded)))?;
                }
            }
        }
        let [lower, upper] = self.joint.command;
        self.joint.rest = self.joint.rest.max(lower).min(upper);
        Ok(())
    }

    /// The one rule of a rest after a change: it stays where the travel has it, else it goes to 0 or midway.
    fn keep_rest(&mut self) -> Result<(), JointError> {
        let joint = Joint::new(self.joint.clone())?;
        let at_rest = joint.transmission().drive(joint.rest());
        if joint.travel().contains(at_rest) {
            return Ok(());
        }
        self.rest_in_travel()
    }

    /// Whether commands run with drive the other way than the record has it.
    fn turns_round(&self, refit: &Refit<'_>, relation: &Relation) -> bool {
        let [lower, upper] = refit.stretch();
        let rises = relation.command(refit.measured(lower)) < relation.command(refit.measured(upper));
        rises == self.joint.inverted
    }
}

/// The measured values that commands and readings have in common.
fn common(relation: &Relation, [first, last]: [f64; 2]) -> Result<[f64; 2], AdoptError> {
    let [m0, m1] = relation.measured;
    let both = [m0.max(first), m1.min(last)];
    if both[0] < both[1] {
        Ok(both)
    } else {
        let [c0, c1] = relation.command;
        Err(AdoptError::Beside(
            c0,
            c1,
            relation.command(first),
            relation.command(last),
        ))
    }
}

fn cut(relation: &Relation, measured: [f64; 2]) -> [f64; 2] {
    let [[c0, c1], [m0, m1]] = [relation.command, relation.measured];
    let [from, to] = measured;
    [
        if from == m0 {
            c0
        } else {
            rounded(relation.command(from))
        },
        if to == m1 { c1 } else { rounded(relation.command(to)) },
    ]
}
