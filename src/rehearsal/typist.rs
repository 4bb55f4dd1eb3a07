//! A bring-up at the bench against invented joints: a person who types each reading, and now and then slips.

use super::chance::Chance;
use super::joint::{VirtualJoint, VirtualRecord};
use crate::bring_up::{Action, Answer, BenchPlan, Question, Report, Side, Watch};
use crate::error::JointError;
use crate::joint::Joint;
use crate::record::JointRecord;
use crate::transmission::TransmissionRecord;
use crate::{ServoRecord, TimerRecord};

/// What kind of joint is invented. All have 0 to 6 deg of lost motion and a protractor of 1 deg unless said otherwise.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
#[non_exhaustive]
pub enum BenchKind {
    /// A slope of 0.4 to 2.5 readings per degree; one in ten has no upper stop, one in ten starts near its lower stop.
    Plain,
    /// The same with a slope of 0.8 to 2.5.
    Steep,
    /// The same with 4 to 6 counts of a converter.
    Counts,
    /// As steep, its slope changing by a tenth over 100 deg.
    Bent,
    /// As steep, with something hard in the way of the upper side.
    Hard,
    /// As hard, but it comes there only once the drive is fixed to the joint again.
    Late,
    /// As steep, with stops that give 30 to 70 % of the way.
    Soft,
}

/// An invented joint, the plan to bring it up, and what comes into its way.
#[derive(Debug, Clone, PartialEq)]
#[non_exhaustive]
pub struct BenchRehearsal {
    /// The joint.
    pub joint: VirtualJoint,
    /// The plan.
    pub plan: BenchPlan,
    /// What comes into the way once the drive is fixed to the joint.
    pub late: Option<(Side, f64)>,
}

impl BenchRehearsal {
    /// A joint from a seed.
    ///
    /// # Errors
    /// None that a drawn joint can cause; the check of the model is passed on.
    pub fn drawn(kind: BenchKind, watch: Watch, feel_stops: bool, seed: u64) -> Result<Self, JointError> {
        let mut chance = Chance::new(seed ^ 0x5851_f42d_4c95_7f2d);
        let mut stops = [chance.between(20.0, 75.0), chance.between(105.0, 160.0)];
        let lost_motion = chance.between(0.0, 6.0);
        let play = if watch == Watch::SensorOnly { lost_motion } else { 0.0 };
        let mut start = chance.between(80.0, 100.0);
        let clearance = 6.0;
        let odd = chance.uniform();
        if matches!(kind, BenchKind::Plain | BenchKind::Steep | BenchKind::Counts) {
            let [lower, upper] = &mut stops;
            if odd < 0.1 {
                *upper = 205.0;
            } else if odd < 0.2 {
                start = *lower - play / 2.0 + clearance + chance.between(0.3, 3.0);
            }
        }
        // What is declared clear is clear.
        let [lower, upper] = stops;
        start = start
            .max(lower - play / 2.0 + clearance + 0.3)
            .min(upper + play / 2.0 - clearance - 0.3);
        // Evenly in its logarithm, without a logarithm of the platform's.
        let [least, most] = match kind {
            BenchKind::Plain => [0.4, 2.5],
            BenchKind::Counts => [4.0, 6.0],
            _ => [0.8, 2.5],
        };
        let part = chance.uniform();
        let slope =
            crate::math::exp(crate::math::ln(least) * (1.0 - part) + crate::math::ln(most) * part) * chance.sign();
        let counts = kind == BenchKind::Counts;
        let noise = if counts {
            chance.between(1.0, 2.0)
        } else {
            chance.between(0.3, 0.5)
        };
        let give = if kind == BenchKind::Soft {
            chance.between(0.3, 0.7)
        } else {
            chance.between(0.0, 0.1)
        };
        let way = chance.between(0.2, 0.6);

        let drive = [0.0, 180.0];
        let servo = ServoRecord {
            angle: drive,
            pulse_us: [500.0, 2500.0],
        };
        let timer = TimerRecord {
            frame_hz: 50.0,
            counts_per_frame: 4096,
        };
        // The bent transmission's commands at the ends of its drive.
        let command = if kind == BenchKind::Bent { [4.05, 184.05] } else { drive };
        let mut record = JointRecord::new(command, drive, 90.0, servo, timer);
        if kind == BenchKind::Bent {
            record.transmission = bent();
        }
        let joint = Joint::new(record)?;
        let middle = if counts { 600.0 } else { 450.0 };
        let mut record = VirtualRecord {
            lost_motion,
            dead_band: 0.0,
            friction: 0.0,
            stall_error: 1000.0,
            give,
            readings: [middle - 90.0 * slope, middle + 90.0 * slope],
            rails: [-1e5, 1e5],
            noise,
            watch,
            ..VirtualRecord::usual(joint, stops)
        };
        record.senses_load = false;
        let mut joint = VirtualJoint::new(record, start, seed);
        let block = {
            let [_, upper] = stops;
            // What is declared clear is clear.
            (
                Side::Upper,
                (upper - way * (upper - start)).max(start + clearance + 0.3),
            )
        };
        if kind == BenchKind::Hard {
            joint.put_in_the_way(block.0, block.1);
        }
        let mut plan = BenchPlan::new(start, drive);
        (plan.watch, plan.clearance) = (watch, clearance);
        if feel_stops {
            plan = plan.with_stops_felt();
        }
        if counts {
            plan.u_reading = 1.6;
        }
        Ok(Self {
            joint,
            plan,
            late: (kind == BenchKind::Late).then_some(block),
        })
    }
}

/// A slope that changes by a tenth over 100 deg: commands at drive angles 15 deg apart.
fn bent() -> TransmissionRecord<f64> {
    let knots = (0..=12)
        .map(|i| {
            let drive = 15.0 * f64::from(i);
            let z = drive - 90.0;
            [drive + z * z / 2000.0, drive]
        })
        .collect();
    TransmissionRecord::Curve {
        knots,
        rule: crate::curve::SlopeRule::default(),
    }
}

/// Somebody who does what is asked and types what a scale shows, with slips of the pen and wrong answers.
#[derive(Debug, Clone, PartialEq)]
pub struct Typist {
    chance: Chance,
    slip_rate: f64,
    wrong_answer_rate: f64,
    /// What comes into the way once the drive is fixed.
    late: Option<(Side, f64)>,
    slips: u32,
}

impl Typist {
    /// A person with this part of the readings slipped and this part of the answers wrong, 0 to 1, by chance from a seed; and what comes
    /// into the way once the drive is fixed.
    pub fn new(slip_rate: f64, wrong_answer_rate: f64, late: Option<(Side, f64)>, seed: u64) -> Self {
        Self {
            chance: Chance::new(seed ^ 0x1405_7b7e_f767_814f),
            slip_rate,
            wrong_answer_rate,
            late,
            slips: 0,
        }
    }

    /// Slips of the pen so far.
    pub fn slips(&self) -> u32 {
        self.slips
    }

    /// Does an action on a virtual joint and reports it; nothing when there is nothing more to do.
    pub fn carry_out(&mut self, action: &Action, joint: &mut VirtualJoint) -> Option<Report> {
        Some(match *action {
            Action::MoveTo { drive, rate_per_s } => {
                joint.move_to(drive, rate_per_s);
                Report::Moved
            }
            Action::Wait { seconds } => {
                joint.wait(seconds);
                Report::Waited
            }
            Action::Read => {
                let value = self.typed(joint.read());
                Report::Reading { value, load: None }
            }
            Action::Ask { question, .. } => Report::Answered {
                answer: self.answer(&question, joint),
            },
            Action::Done => return None,
        })
    }

    /// What is typed of a reading: digits swapped or dropped, ten or five off, or anything up to nine off.
    fn typed(&mut self, value: f64) -> f64 {
        if !self.chance.happens(self.slip_rate) {
            return value;
        }
        self.slips += 1;
        let whole = value as i64;
        let (hundreds, tens, ones) = (whole / 100, whole / 10 % 10, whole % 10);
        let typed = match self.chance.one_of(7) {
            0 => whole - 10,
            1 => whole + 10,
            2 => whole - 5,
            3 => whole + 5,
            4 => whole + self.chance.one_of(19) as i64 - 9,
            5 => hundreds * 100 + ones * 10 + tens,
            _ => whole / 10,
        };
        typed as f64
    }

    fn answer(&mut self, question: &Question, joint: &mut VirtualJoint) -> Answer {
        let slip = self.chance.happens(self.wrong_answer_rate);
        let truth = match *question {
            Question::DetachDrive => {
                joint.detach(true);
                return Answer::Done;
            }
            Question::AttachDrive => {
                joint.detach(false);
                if let Some((side, at)) = self.late.take() {
                    joint.put_in_the_way(side, at);
                }
                return Answer::Done;
            }
            Question::TurnFromMark { toward, degrees } => {
                // The mistake here is to turn the wrong way.
                let way = if slip { -toward.sign() } else { toward.sign() };
                joint.hold_sensor(way * degrees);
                return Answer::Done;
            }
            Question::HoldAtStop { toward } => {
                joint.hold_at_stop(toward);
                // Lightly, so not quite there.
                let [lower, upper] = joint.record().readings;
                let per_deg = ((upper - lower) / 180.0).abs();
                let short = self.chance.between(0.0, 0.3) / per_deg;
                joint.hold_sensor(joint.hand() - toward.sign() * short);
                return Answer::Done;
            }
            Question::DriveResponse => joint.response(),
            Question::WhatMoved { .. } => joint.what_moves(),
            Question::WhatIsMet { toward, drive } | Question::StaysBehind { toward, drive, .. } => {
                let [lower, upper] = joint.latest_contacts();
                let met = match toward {
                    Side::Lower => drive < lower + 0.3,
                    Side::Upper => drive > upper - 0.3,
                };
                // Asked is where the drive was, and seen is what the joint meets before.
                let [low, high] = joint.contacts();
                let at = if toward == Side::Lower { low } else { high };
                if met {
                    joint.what_is_met(toward, at)
                } else {
                    Answer::Nothing
                }
            }
            _ => return Answer::Done,
        };
        if slip {
            let answers = question.answers();
            answers.get(self.chance.one_of(answers.len())).copied().unwrap_or(truth)
        } else {
            truth
        }
    }
}
