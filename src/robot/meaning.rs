//! What a change of a robot file makes of commands and readings whose numbers it did not convert.

use std::borrow::ToOwned;
use std::string::String;
use std::vec::Vec;

use core::fmt;

use super::Robot;
use super::entry::JointEntry;
use crate::bring_up::LoopSense;
use crate::joint::Joint;
use crate::look::Trimmed;
use crate::unit::{SiUnit, Unit};

/// Below this two angles are the same, deg: numbers of robot files are rounded.
const SAME_DEG: f64 = 0.01;
/// Places between the ends of a range at which two maps are compared: a bend may keep the ends.
const LOOKS: u32 = 8;

/// Another meaning of the same numbers in one joint; `Display` writes the sentence.
#[derive(Debug, Clone, PartialEq)]
#[non_exhaustive]
pub struct ChangedMeaning {
    /// The joint.
    pub joint: String,
    /// What changed.
    pub meaning: Meaning,
    /// What keeps the meaning if it is set as well: keys of the joint with their values; empty where nothing does.
    pub keeps: Vec<(&'static str, Vec<f64>)>,
}

/// What means something else than before.
#[derive(Debug, Clone, PartialEq)]
#[non_exhaustive]
pub enum Meaning {
    /// Commands go to other drive angles.
    Map {
        /// The command shown: the one that moves furthest, the rest if that moves as far.
        command: f64,
        /// Whether it is the rest.
        is_rest: bool,
        /// Its drive angle before and now, deg.
        drive: [f64; 2],
    },
    /// Commands are in another unit, and their numbers stayed.
    Unit {
        /// The words before and now.
        unit: [String; 2],
        /// A command of the joint.
        command: f64,
    },
    /// Readings are other joint angles.
    Readings {
        /// The reading shown.
        reading: f64,
        /// Its joint angle before and now, deg.
        angle: [f64; 2],
    },
    /// Commands run with readings the other way, and the recorded sense of the feedback was taken out.
    Sense {
        /// The sense that was recorded.
        sense: LoopSense,
    },
}

impl Robot {
    /// What commands and readings of each joint mean otherwise than in an earlier state of the robot, in file order. Numbers that were
    /// converted together with their unit keep their meaning, and so do drive angles that follow another servo line.
    ///
    /// ```
    /// use elbowroom::robot::Robot;
    /// let text = r#"
    /// format = 1
    /// timer = { frame_hz = 50, counts_per_frame = 4096 }
    /// servo = { angle = [0, 180], pulse_us = [500, 2500] }
    /// [joint.neck]
    /// unit = "deg"
    /// command = [-45, 45]
    /// drive = [45, 135]
    /// rest = 0
    /// "#;
    /// let old = Robot::parse(text)?;
    /// let new = Robot::parse(&text.replace("drive = [45, 135]", "drive = [45, 125]"))?;
    /// assert_eq!(
    ///     new.changed_meanings(&old)[0].to_string(),
    ///     "joint neck: this changes what every command means; its command 45 goes to drive angle 125 deg, before 135 deg (-10 deg)"
    /// );
    /// # Ok::<(), elbowroom::robot::FileError>(())
    /// ```
    pub fn changed_meanings(&self, before: &Self) -> Vec<ChangedMeaning> {
        let mut all = Vec::new();
        for entry in self.joints() {
            let Some(old) = before.joint(entry.name()) else {
                continue;
            };
            all.extend(of_commands(old, entry));
            all.extend(of_readings(old, entry));
            all.extend(of_sense(old, entry));
        }
        all
    }
}

fn of_commands(old: &JointEntry, new: &JointEntry) -> Option<ChangedMeaning> {
    let changed = |meaning, keeps| ChangedMeaning {
        joint: new.name().to_owned(),
        meaning,
        keeps,
    };
    // Where commands had no unit, or lost it, nothing says what they meant.
    let units = old.unit().zip(new.unit()).filter(|(old, new)| old != new);
    let factor = match units {
        None => 1.0,
        Some((was, is)) => match (Unit::of(was), Unit::of(is)) {
            (Some(was), Some(is)) if was.si() == is.si() => is.to_si() / was.to_si(),
            (Some(_), Some(_)) => f64::NAN,
            // A word without a factor: its correction changes nothing that is known.
            _ => 1.0,
        },
    };
    let (from, to) = (old.joint(), new.joint());
    let moved = moved(from, to, factor);
    if let Some((was, is)) = units
        && !factor.eq(&1.0)
    {
        // Numbers that were converted move nothing.
        moved?;
        let range = to.command_range();
        let mut converted = old.record();
        let keeps = match converted.convert_commands(is) {
            Ok(()) if to.transmission().kind() == "linear" => {
                let joint = converted.joint;
                let rate = joint.max_rate_per_s.map(|rate| ("max_rate_per_s", [rate].into()));
                let own = [("command", joint.command.into()), ("rest", [joint.rest].into())];
                own.into_iter().chain(rate).collect()
            }
            _ => Vec::new(),
        };
        let unit = [was, is].map(ToOwned::to_owned);
        let command = range.upper();
        return Some(changed(Meaning::Unit { unit, command }, keeps));
    }
    // Another servo line is told of by its pulses.
    if from.record().servo != to.record().servo {
        return None;
    }
    let (command, is_rest, drive) = moved?;
    Some(changed(
        Meaning::Map {
            command,
            is_rest,
            drive,
        },
        kept_drive(from, to),
    ))
}

/// The command that shows best how far commands move, and its drive angles before and now; none where all stay. A command now was
/// `factor` times as large before.
fn moved(old: &Joint<f64>, new: &Joint<f64>, factor: f64) -> Option<(f64, bool, [f64; 2])> {
    let at = |command: f64| {
        let (old, new) = (old.transmission(), new.transmission());
        [old.drive(command * factor), new.drive(command)]
    };
    let shift = |[was, is]: [f64; 2]| (is - was).abs();
    let rest = new.rest();
    if !factor.is_finite() {
        // Without a factor all have moved.
        return Some((rest, true, at(rest)));
    }
    let range = new.command_range();
    let width = range.upper() - range.lower();
    let between = (1..LOOKS).map(|n| range.lower() + width * f64::from(n) / f64::from(LOOKS));
    let ends = [rest, range.lower(), range.upper()];
    // Beyond its ends a mechanism may reach nothing: such a command has nothing to be compared with.
    let compared = ends.into_iter().chain(between).map(|command| (command, at(command)));
    let (command, drive) = compared
        .filter(|(_, drive)| shift(*drive).is_finite())
        .reduce(|most, next| match shift(next.1) > shift(most.1) + SAME_DEG {
            true => next,
            false => most,
        })?;
    (shift(drive) > SAME_DEG).then_some((command, command.to_bits() == rest.to_bits(), drive))
}

/// The drive range with which another command range keeps what commands mean, if the servo has it. A linkage is as good as a line here: between
/// any two ends it is the same mechanism. A curve is not: its outer knots stand at the ends.
fn kept_drive(old: &Joint<f64>, new: &Joint<f64>) -> Vec<(&'static str, Vec<f64>)> {
    let (was, is) = (old.record(), new.record());
    let is_same_map =
        was.transmission == is.transmission && was.inverted == is.inverted && is.transmission.kind() != "curve";
    if was.command == is.command || !is_same_map {
        return Vec::new();
    }
    let ends = is.command.map(|at| old.transmission().drive(at));
    let [from, to] = is.servo.angle;
    let is_allowed = ends.iter().all(|end| (from.min(to)..=from.max(to)).contains(end));
    let [a, b] = ends;
    match is_allowed {
        true => [("drive", [a.min(b), a.max(b)].into())].into(),
        false => Vec::new(),
    }
}

fn of_readings(old: &JointEntry, new: &JointEntry) -> Option<ChangedMeaning> {
    let (was, is) = (old.joint().feedback()?, new.joint().feedback()?);
    let range = is.reading_range();
    let width = range.upper() - range.lower();
    let all = (0..=LOOKS).map(|n| range.lower() + width * f64::from(n) / f64::from(LOOKS));
    let (reading, angle) = all
        .map(|reading| (reading, [was.angle(reading), is.angle(reading)]))
        .find(|(_, [was, is])| (is - was).abs() > SAME_DEG)?;
    Some(ChangedMeaning {
        joint: new.name().to_owned(),
        meaning: Meaning::Readings { reading, angle },
        keeps: Vec::new(),
    })
}

fn of_sense(old: &JointEntry, new: &JointEntry) -> Option<ChangedMeaning> {
    let sense = old.evidence().sense.filter(|_| new.evidence().sense.is_none())?;
    new.is_turned_from(old).then(|| ChangedMeaning {
        joint: new.name().to_owned(),
        meaning: Meaning::Sense { sense },
        keeps: Vec::new(),
    })
}

impl fmt::Display for ChangedMeaning {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "joint {}: ", self.joint)?;
        if !matches!(self.meaning, Meaning::Sense { .. }) {
            f.write_str("this changes what every ")?;
        }
        match &self.meaning {
            Meaning::Map {
                command,
                is_rest,
                drive: [was, is],
            } => write!(
                f,
                "command means; its {} {} goes to drive angle {} deg, before {} deg ({}{} deg)",
                if *is_rest { "rest" } else { "command" },
                Trimmed(*command, 3),
                Trimmed(*is, 2),
                Trimmed(*was, 2),
                if is < was { "" } else { "+" },
                Trimmed(is - was, 2)
            ),
            Meaning::Unit {
                unit: [was, is],
                command,
            } => {
                write!(
                    f,
                    "command means; commands were in {was} and are now in {is}, and the numbers are not converted: {} {is}",
                    Trimmed(*command, 3)
                )?;
                // An angle is best told in degrees.
                let degrees = Unit::of(is).filter(|unit| unit.si() == SiUnit::Radian && *unit != Unit::Deg);
                match degrees {
                    Some(unit) => write!(
                        f,
                        " is {} deg",
                        Trimmed(*command * (unit.to_si() / Unit::Deg.to_si()), 2)
                    ),
                    None => write!(f, " was {} {was}", Trimmed(*command, 3)),
                }
            }
            Meaning::Readings {
                reading,
                angle: [was, is],
            } => write!(
                f,
                "reading means; reading {} is joint angle {} deg, before {} deg",
                Trimmed(*reading, 3),
                Trimmed(*is, 2),
                Trimmed(*was, 2)
            ),
            Meaning::Sense { sense } => write!(
                f,
                "commands now run with the feedback's readings the other way, so that sense = \"{}\" is taken out of its evidence; take \
                 the load off and test the sense again",
                sense.as_str()
            ),
        }
    }
}
