//! What a bring-up found, written into a joint's record, unless its readings contradict what is there.

use super::super::date::Date;
use super::super::entry::EntryRecord;
use super::super::evidence::{EndEvidence, Evidence};
use super::super::from_fit::{inward, rounded, rounded_up};
use super::judge::Judgement;
use super::refit::Refit;
use super::repair::AdoptError;
use crate::bring_up::{AlignmentEnd, EndFound, Outcome, SenseReason, SenseResult};
use crate::error::JointError;
use crate::feedback::Feedback;
use crate::fit::{CompareOptions, EndKind};
use crate::joint::Joint;
use std::borrow::ToOwned;

/// What happens to a joint's map from command to drive angle when readings are written into its record.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
#[non_exhaustive]
pub enum MapChoice {
    /// Nothing; readings that contradict the joint are refused.
    #[default]
    Judged,
    /// Nothing, though the readings contradict the joint.
    Kept,
    /// The readings replace it.
    Adopted,
}

impl EntryRecord {
    /// Compares the readings of a bring-up with what is written down of the joint, as [`judge`](Self::judge) does. `refit` holds the
    /// limits of the outcome ([`Outcome::limits`]). Where its unit is left out, readings of the joint's own sensor
    /// ([`Outcome::by_sensor`]) are compared by the feedback in the record, moved along if the bring-up turned the sensor on its shaft.
    ///
    /// # Errors
    /// [`JointError`] if the record describes no joint.
    pub fn judge_bring_up(&self, outcome: &Outcome, refit: &Refit<'_>) -> Result<Judgement, JointError> {
        let (known, refit) = self.brought_up(outcome, refit)?;
        known.judge(&refit, &CompareOptions::default())
    }

    /// Writes travel and evidence of a bring-up, the sense of the feedback included, by the one rule of all surfaces: where the readings
    /// contradict the joint, by [`judge_bring_up`](Self::judge_bring_up), nothing is written until somebody chooses what becomes of the
    /// map. What the bring-up does not speak of (wiring, command range, rest, rate) stays. Where the sensor was turned on its shaft, the
    /// record's feedback moves along by as many readings.
    ///
    /// *Edges*: readings of a sensor that the record has no feedback of are not compared with the map, only their stops.
    ///
    /// # Errors
    /// [`AdoptError::Contradicted`], [`AdoptError::Unrelated`] for typed readings that nothing relates to the commands, and those of
    /// [`adopt_fit`](Self::adopt_fit); the record is then as it was.
    ///
    /// ```
    /// use elbowroom::bring_up::{Bench, BenchPlan, Watch};
    /// use elbowroom::rehearsal::{BenchKind, BenchRehearsal, Typist};
    /// use elbowroom::robot::{AdoptError, EntryRecord, MapChoice, Refit};
    /// let BenchRehearsal { mut joint, plan, .. } = BenchRehearsal::drawn(BenchKind::Steep, Watch::SensorOnly, false, 3)?;
    /// let mut record = EntryRecord::new("wing", joint.record().joint.record());
    /// let (mut bench, mut person) = (Bench::new(plan)?, Typist::new(0.0, 0.0, None, 3));
    /// while let Some(report) = person.carry_out(&bench.next(), &mut joint) {
    ///     bench.report(report)?;
    /// }
    /// let outcome = bench.outcome().unwrap();
    /// let limits = outcome.limits().unwrap();
    /// // Its lower command was measured at the upper end of the scale: it runs the other way round.
    /// let [first, last] = limits.travel.unwrap().map(|drive| limits.intercept + limits.slope * drive);
    /// let turned = if record.joint.inverted { [first, last] } else { [last, first] };
    /// let refit = Refit::new(&limits).with_command_ends(turned);
    /// let refused = record.put_bring_up(outcome, &refit, MapChoice::Judged, None);
    /// assert!(matches!(refused, Err(AdoptError::Contradicted(_))));
    /// let was = record.joint.inverted;
    /// record.put_bring_up(outcome, &refit, MapChoice::Adopted, None)?;
    /// assert_ne!(record.joint.inverted, was);
    /// # Ok::<(), Box<dyn std::error::Error>>(())
    /// ```
    pub fn put_bring_up(
        &mut self,
        outcome: &Outcome,
        refit: &Refit<'_>,
        map: MapChoice,
        date: Option<Date>,
    ) -> Result<Judgement, AdoptError> {
        let (mut new, refit) = self.brought_up(outcome, refit)?;
        let judged = new.judged(&refit)?;
        match map {
            MapChoice::Judged if judged.contradicts() => return Err(AdoptError::contradicted(&judged)),
            MapChoice::Judged if judged.unrelated && !outcome.by_sensor => return Err(AdoptError::Unrelated),
            MapChoice::Adopted => new.adopt_fit(&refit, date)?,
            MapChoice::Judged | MapChoice::Kept => new.keep_map(&refit, date)?,
        }
        new.put_sense(outcome);
        *self = new;
        Ok(judged)
    }

    /// Writes the sense of the feedback, if the bring-up tested it.
    pub fn put_sense(&mut self, outcome: &Outcome) {
        if let Some(sense) = tested(outcome) {
            (self.evidence.sense, self.evidence.sense_date) = (Some(sense.sense), None);
        }
    }

    /// Writes travel and evidence of a rehearsal and marks them as such ([`Evidence::VIRTUAL`]), and says whether there was something to
    /// write: unless the joint was found ready, nothing changes. They are not compared with the joint, which did not take part; the check
    /// reports them until the joint itself is measured.
    pub fn put_rehearsal(&mut self, outcome: &Outcome, date: Option<Date>) -> bool {
        let (Some(travel), Some(fit)) = (outcome.travel(), &outcome.fit) else {
            return false;
        };
        let end = |found: EndFound| EndEvidence {
            kind: found.kind.into(),
            at: rounded(found.at),
            short_at: found.short_at.map(rounded),
            u: found.u.map(rounded_up),
            guard: (found.kind == EndKind::Contact).then_some(outcome.guard),
        };
        self.joint.travel = Some(inward(travel));
        self.turn_sensor(outcome);
        self.renew(Evidence {
            sense: tested(outcome).map(|result| result.sense),
            lower: outcome.lower.map(end),
            upper: outcome.upper.map(end),
            instrument: Some(Evidence::VIRTUAL.to_owned()),
            ..Evidence::from_fit(fit, date)
        });
        true
    }

    /// The record with its sensor as the bring-up left it, and the readings as they go with its commands.
    fn brought_up<'a>(&self, outcome: &Outcome, refit: &Refit<'a>) -> Result<(Self, Refit<'a>), JointError> {
        let (mut known, mut refit) = (self.clone(), *refit);
        known.turn_sensor(outcome);
        if outcome.by_sensor && refit.unit.is_none() && refit.at_command_ends.is_none() {
            refit.unit = Some(Outcome::SENSOR_UNIT);
            let joint = Joint::new(known.joint.clone())?;
            let [lower, upper] = known.joint.command.map(|command| joint.reading_from_command(command));
            if let (Ok(lower), Ok(upper)) = (lower, upper) {
                refit = refit.with_command_ends([lower, upper]);
            }
        }
        Ok((known, refit))
    }

    /// Where the sensor was turned on its shaft, moves the feedback along.
    fn turn_sensor(&mut self, outcome: &Outcome) {
        if let Some(AlignmentEnd::Set {
            joint_angle,
            reading,
            settings: 1..,
            ..
        }) = outcome.alignment
        {
            self.move_feedback(joint_angle, reading);
        }
    }

    /// Moves the feedback to a reading at a joint angle, keeping its readings per degree. A potentiometer under load is bent
    /// otherwise at another place of its travel, so it is left as it is and has to be measured anew.
    fn move_feedback(&mut self, joint_angle: f64, reading: f64) {
        let Some(record) = &mut self.joint.feedback else {
            return;
        };
        let Ok(feedback) = Feedback::new(record) else {
            return;
        };
        if record.pot_ohm.is_some() {
            return;
        }
        let by = reading - feedback.reading(joint_angle);
        record.reading = record.reading.map(|r| rounded(r + by));
        for [knot, _] in record.knots.iter_mut().flatten() {
            *knot = rounded(*knot + by);
        }
    }
}

/// A servo that closes its loop by itself was not asked for its sense.
fn tested(outcome: &Outcome) -> Option<SenseResult> {
    outcome
        .sense
        .filter(|result| result.reason != Some(SenseReason::DriveNotWatched))
}
