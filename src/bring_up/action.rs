//! Actions of a procedure and reports of them: plain data, without I/O.

use super::answer::Answer;
use super::error::BringUpError;
use crate::look::{Statistic, Trimmed};
use crate::span::Side;

/// The next thing to do. Do it, then report it.
///
/// Asking again for the same action changes nothing, so a front end may be stopped and started between any two calls.
#[derive(Debug, Clone, Copy, PartialEq)]
#[cfg_attr(
    feature = "serde",
    derive(serde::Serialize, serde::Deserialize),
    serde(rename_all = "kebab-case")
)]
pub enum Action {
    /// Bring the drive to an angle, the command changing no faster than the rate. Report [`Report::Moved`] when the
    /// command has arrived.
    MoveTo {
        /// The drive angle, deg.
        drive: f64,
        /// The fastest that the command may change, deg/s.
        rate_per_s: f64,
    },
    /// Let the time pass. Report [`Report::Waited`].
    Wait {
        /// Seconds.
        seconds: f64,
    },
    /// Take one reading. Report [`Report::Reading`].
    Read,
    /// Ask the person at the joint. Show the cautions of the question first. Report [`Report::Answered`].
    Ask {
        /// What to ask.
        question: Question,
        /// What contradicts the answer given before; present when the same question is asked again.
        doubt: Option<Doubt>,
    },
    /// Nothing more to do.
    Done,
}

impl Action {
    /// The action's own word.
    pub const fn as_str(&self) -> &'static str {
        match self {
            Self::MoveTo { .. } => "move-to",
            Self::Wait { .. } => "wait",
            Self::Read => "read",
            Self::Ask { .. } => "ask",
            Self::Done => "done",
        }
    }

    /// What must be said before this is done.
    pub const fn cautions(&self) -> &'static [Caution] {
        match self {
            Self::Ask { question, .. } => question.cautions(),
            _ => &[],
        }
    }
}

/// What was done.
#[derive(Debug, Clone, Copy, PartialEq)]
#[cfg_attr(
    feature = "serde",
    derive(serde::Serialize, serde::Deserialize),
    serde(rename_all = "kebab-case")
)]
pub enum Report {
    /// The command has arrived.
    Moved,
    /// The command has arrived, and this is the drive angle really commanded: what the timer's rounding to whole counts made of it,
    /// as [`Joint::counts_from_drive`](crate::Joint::counts_from_drive) gives it. Evidence rests on this angle then.
    MovedTo {
        /// The drive angle, deg; within [`Report::MOST_ROUNDING`] of the one asked.
        drive: f64,
    },
    /// The time has passed.
    Waited,
    /// A reading was taken.
    Reading {
        /// The reading, in the sensor's own unit, e.g. ADC counts.
        value: f64,
        /// The drive's current as a part of its stall current, where something measures it.
        load: Option<f64>,
    },
    /// The person answered.
    Answered {
        /// The answer.
        answer: Answer,
    },
}

impl Report {
    /// How far, deg, the drive angle really commanded may lie from the one asked: half a count of a 50 Hz frame of 1024 counts on
    /// a servo of 180 deg over 2000 us comes to 0.88 deg.
    pub const MOST_ROUNDING: f64 = 1.0;

    /// The action that this reports on, as a word.
    pub const fn as_str(&self) -> &'static str {
        match self {
            Self::Moved => "moved",
            Self::MovedTo { .. } => "moved-to",
            Self::Waited => "waited",
            Self::Reading { .. } => "reading",
            Self::Answered { .. } => "answered",
        }
    }

    /// A reading, if that is what was asked.
    pub(crate) fn reading(self, asked: &Action) -> Result<(f64, Option<f64>), BringUpError> {
        match self {
            Self::Reading { value, load } => {
                BringUpError::finite("reading", value)?;
                let load = load.map(|l| BringUpError::finite("load", l)).transpose()?;
                Ok((value, load))
            }
            _ => Err(self.misplaced(asked)),
        }
    }

    pub(crate) const fn misplaced(&self, asked: &Action) -> BringUpError {
        BringUpError::WrongReport {
            asked: asked.as_str(),
            given: self.as_str(),
        }
    }

    /// Whether this reports the move or the wait that was asked.
    pub(crate) fn confirms(self, asked: &Action) -> Result<(), BringUpError> {
        match (asked, self) {
            (Action::MoveTo { .. }, Self::Moved) | (Action::Wait { .. }, Self::Waited) => Ok(()),
            (Action::MoveTo { drive: asked, .. }, Self::MovedTo { drive }) => {
                let (least, most) = (asked - Self::MOST_ROUNDING, asked + Self::MOST_ROUNDING);
                BringUpError::within("drive angle really commanded", drive, least, most).map(drop)
            }
            (Action::Done, _) => Err(BringUpError::Done),
            _ => Err(self.misplaced(asked)),
        }
    }

    /// The answer, if a question was asked and has this answer.
    pub(crate) fn answer(self, asked: &Action) -> Result<Answer, BringUpError> {
        match (asked, self) {
            (Action::Ask { question, .. }, Self::Answered { answer }) => {
                if let Answer::Angle { degrees } = answer {
                    BringUpError::finite("angle", degrees)?;
                }
                if question.takes(answer) {
                    Ok(answer)
                } else {
                    Err(BringUpError::WrongAnswer {
                        question: question.as_str(),
                        given: answer.as_str(),
                        answers: question.answers(),
                    })
                }
            }
            _ => Err(self.misplaced(asked)),
        }
    }
}

/// A question to the person at the joint. `Display` writes it out.
#[derive(Debug, Clone, Copy, PartialEq)]
#[cfg_attr(
    feature = "serde",
    derive(serde::Serialize, serde::Deserialize),
    serde(rename_all = "kebab-case")
)]
#[non_exhaustive]
pub enum Question {
    /// Before anything: is it safe to start? `Done` or `No`.
    Ready,
    /// Take the load off and detach the drive from the joint. `Done`.
    DetachDrive,
    /// Turn the sensor, or the joint with it, by hand. `Done`, or `AtStop` where a stop lies before that.
    TurnSensor {
        /// Which way.
        toward: Side,
        /// About how far, deg.
        degrees: f64,
    },
    /// Which way does the detached drive turn? `Lower`, `Upper` or `Still`.
    DriveResponse,
    /// Fix the drive to the joint again. `Done`.
    AttachDrive,
    /// The drive was sent somewhere: what moved? `Joint`, `Neighbour`, `DriveOnly` or `Nothing`.
    WhatMoved {
        /// From where, drive angle in deg.
        from: f64,
        /// To where, drive angle in deg.
        to: f64,
    },
    /// The joint stays behind its drive: what holds it? `Stop`, `Obstacle`, `DriveOnly` or `Nothing`.
    WhatIsMet {
        /// The end it was moving to.
        toward: Side,
        /// The drive angle, deg.
        drive: f64,
    },
    /// Hold the joint at one of its stops by hand: the joint angle there, as a protractor reads it. `Angle`.
    JointAngle,
    /// Turn the sensor on its shaft until it reads so. `Done`.
    SetSensor {
        /// The reading wanted.
        reading: f64,
        /// How near is near enough.
        tolerance: f64,
    },
    /// From its mark, turn the joint by hand towards an end and hold it there. `Done`, or `AtStop` where a stop lies before that.
    TurnFromMark {
        /// Which way.
        toward: Side,
        /// About how far, deg.
        degrees: f64,
    },
    /// Hold the joint at one of its stops by hand, its drive detached. `Done`, or `Nothing` where no stop is felt.
    HoldAtStop {
        /// Which stop.
        toward: Side,
    },
    /// A typed reading stays behind the line: what holds the joint? `Stop`, `Obstacle`, `DriveOnly`, `Nothing` or `Again`.
    StaysBehind {
        /// The end it was moving to.
        toward: Side,
        /// The drive angle of the reading, deg.
        drive: f64,
        /// By how much it stays behind, deg of drive angle.
        by: f64,
    },
}

impl Question {
    /// The question's own word.
    pub const fn as_str(&self) -> &'static str {
        match self {
            Self::Ready => "ready",
            Self::DetachDrive => "detach-drive",
            Self::TurnSensor { .. } => "turn-sensor",
            Self::DriveResponse => "drive-response",
            Self::AttachDrive => "attach-drive",
            Self::WhatMoved { .. } => "what-moved",
            Self::WhatIsMet { .. } => "what-is-met",
            Self::JointAngle => "joint-angle",
            Self::SetSensor { .. } => "set-sensor",
            Self::TurnFromMark { .. } => "turn-from-mark",
            Self::HoldAtStop { .. } => "hold-at-stop",
            Self::StaysBehind { .. } => "stays-behind",
        }
    }

    /// The answers it has; an angle stands for any angle.
    pub const fn answers(&self) -> &'static [Answer] {
        match self {
            Self::Ready => &[Answer::Done, Answer::No],
            Self::TurnSensor { .. } | Self::TurnFromMark { .. } => &[Answer::Done, Answer::AtStop],
            Self::DetachDrive | Self::AttachDrive | Self::SetSensor { .. } => &[Answer::Done],
            Self::DriveResponse => &[Answer::Lower, Answer::Upper, Answer::Still],
            Self::WhatMoved { .. } => &[Answer::Joint, Answer::Neighbour, Answer::DriveOnly, Answer::Nothing],
            Self::WhatIsMet { .. } => &[Answer::Stop, Answer::Obstacle, Answer::DriveOnly, Answer::Nothing],
            Self::JointAngle => &[Answer::Angle { degrees: 0.0 }],
            Self::HoldAtStop { .. } => &[Answer::Done, Answer::Nothing],
            Self::StaysBehind { .. } => &[
                Answer::Stop,
                Answer::Obstacle,
                Answer::DriveOnly,
                Answer::Nothing,
                Answer::Again,
            ],
        }
    }

    fn takes(&self, answer: Answer) -> bool {
        self.answers().iter().any(|a| a.as_str() == answer.as_str())
    }

    /// What must be said before it is done.
    pub const fn cautions(&self) -> &'static [Caution] {
        match self {
            Self::Ready => &[
                Caution::NotASafetyFunction,
                Caution::HandOnPowerSwitch,
                Caution::NobodyInReach,
                Caution::LocalRules,
            ],
            Self::DetachDrive => &[Caution::TakeLoadOff, Caution::PowerOffToTouch],
            Self::TurnSensor { .. } | Self::TurnFromMark { .. } | Self::DriveResponse => {
                &[Caution::HandOnPowerSwitch, Caution::DriveMayRun]
            }
            Self::AttachDrive => &[Caution::PowerOffToTouch, Caution::FirstMoveSlow, Caution::NobodyInReach],
            Self::WhatMoved { .. } | Self::WhatIsMet { .. } | Self::StaysBehind { .. } => {
                &[Caution::HandOnPowerSwitch, Caution::NobodyInReach]
            }
            Self::HoldAtStop { .. } => &[Caution::PowerOffToTouch, Caution::DoNotForce],
            Self::JointAngle => &[Caution::HandOnPowerSwitch, Caution::DriveMayRun],
            Self::SetSensor { .. } => &[Caution::PowerOffToTouch],
        }
    }
}

impl core::fmt::Display for Question {
    fn fmt(&self, f: &mut core::fmt::Formatter<'_>) -> core::fmt::Result {
        match *self {
            Self::Ready => f.write_str("is the joint free to move, and is nobody within its reach?"),
            Self::DetachDrive => f.write_str(
                "switch the power off, mark where the joint stands, take the load off, detach the drive from the joint, take your hands out and switch the power on",
            ),
            Self::TurnSensor { toward, degrees } => write!(
                f,
                "turn the sensor by hand about {degrees:.0} deg, the way the joint goes to its {} end, and hold it",
                toward.as_str()
            ),
            Self::DriveResponse => f.write_str(
                "which way does the detached drive turn: the way that moves the joint to its lower end, the way that moves it to its upper end, or not at all?",
            ),
            Self::AttachDrive => f.write_str(
                "bring the joint back to its mark (where the loop runs over its sensor: to where the drive stands still), switch the power off, fix the drive to the joint, take your hands out and switch the power on",
            ),
            Self::WhatMoved { from, to } => {
                write!(
                    f,
                    "the drive was sent from {} to {} deg; what moved: this joint, another joint, the drive without the joint, or nothing?",
                    tenths(from),
                    tenths(to)
                )
            }
            Self::WhatIsMet { toward, drive } => write!(
                f,
                "towards the {} end the joint stays behind its drive near {} deg; is it held by its mechanical stop, by something that should not be there, or by nothing?",
                toward.as_str(),
                tenths(drive)
            ),
            Self::JointAngle => f.write_str(
                "with the drive detached, hold the joint at one of its stops by hand; which angle does a protractor show there, in deg?",
            ),
            Self::SetSensor { reading, tolerance } => {
                write!(
                    f,
                    "switch the power off, turn the sensor on its shaft, take your hands out and switch the power on; repeat this until the sensor reads {}, plus or minus {}",
                    Statistic(reading),
                    Statistic(tolerance)
                )
            }
            Self::TurnFromMark { toward, degrees } => write!(
                f,
                "with the power on and the drive detached, turn the joint by hand from its mark about {degrees:.0} deg towards its {} end, and hold it there",
                toward.as_str()
            ),
            Self::HoldAtStop { toward } => write!(
                f,
                "switch the power off, move the joint by hand to its {} stop and hold it lightly against it",
                toward.as_str()
            ),
            Self::StaysBehind { toward, drive, by } => write!(
                f,
                "at {} deg, towards the {} end, the joint stayed {} deg behind its drive, which has been sent back since; look, without touching it: what held it there, its mechanical stop, something that should not be there, or nothing? If that cannot be seen any more, answer \"again\" and watch the joint at its next reading",
                tenths(drive),
                toward.as_str(),
                tenths(by)
            ),
        }
    }
}

/// A drive angle as a person can set or see it.
const fn tenths(deg: f64) -> Trimmed {
    Trimmed(deg, 1)
}

/// What contradicts an answer. `Display` writes the sentence.
#[derive(Debug, Clone, Copy, PartialEq)]
#[cfg_attr(
    feature = "serde",
    derive(serde::Serialize, serde::Deserialize),
    serde(rename_all = "kebab-case")
)]
#[non_exhaustive]
pub enum Doubt {
    /// The reading went the other way than in the turns before.
    TurnedOtherWay {
        /// How far it went, in readings, with its sign.
        by: f64,
    },
    /// The drive was said to turn the other way at nearly the same place.
    RespondedOtherWay {
        /// The sensor's place by hand, deg.
        at: f64,
    },
    /// The joint was said to move, yet the reading stayed.
    ReadingStayed {
        /// By how much it changed.
        by: f64,
    },
    /// The joint was said to meet nothing, yet it stays behind.
    StaysBehind {
        /// By how much, deg of drive angle.
        by: f64,
    },
    /// Something was said to be in the way, yet the drive works no harder.
    NoLoad {
        /// The load, part of the stall current.
        load: f64,
    },
    /// Nothing contradicts it, but it would end the bring-up.
    Grave,
    /// It was said to be the stop, yet that was further out.
    BeforeTheStop {
        /// By how much, deg of drive angle.
        by: f64,
    },
    /// It was said not to be the stop, yet the stop was there.
    AtTheStop {
        /// By how much it is off, deg of drive angle.
        by: f64,
    },
    /// An angle was read off at a stop that is far from that of either stop.
    NotAtStop {
        /// By how much, deg of the joint.
        by: f64,
    },
    /// The joint was said to be back in its place, yet by its sensor it stands beyond a stop.
    BeyondStops {
        /// By how much, deg of the joint.
        by: f64,
    },
    /// The drive was said to turn freely, yet it works hard.
    Loaded {
        /// The load, part of the stall current.
        load: f64,
    },
    /// A typed reading is not the one that the readings before it make likely.
    Unexpected,
}

impl Doubt {
    /// Whether its number is one.
    #[cfg(feature = "serde")]
    pub(crate) fn check(self) -> Result<(), BringUpError> {
        let number = match self {
            Self::TurnedOtherWay { by }
            | Self::ReadingStayed { by }
            | Self::StaysBehind { by }
            | Self::BeforeTheStop { by }
            | Self::AtTheStop { by }
            | Self::NotAtStop { by }
            | Self::BeyondStops { by } => by,
            Self::RespondedOtherWay { at } => at,
            Self::NoLoad { load } | Self::Loaded { load } => load,
            Self::Grave | Self::Unexpected => 0.0,
        };
        BringUpError::finite("number of doubt", number).map(drop)
    }
}

impl core::fmt::Display for Doubt {
    fn fmt(&self, f: &mut core::fmt::Formatter<'_>) -> core::fmt::Result {
        match *self {
            Self::TurnedOtherWay { by } => write!(
                f,
                "the reading changed in the other direction this time, by {}; turn back, then turn in the direction asked for",
                Statistic(by)
            ),
            Self::RespondedOtherWay { at } => {
                write!(
                    f,
                    "at {at:.0} deg the drive turned differently before; look again, and answer again"
                )
            }
            Self::ReadingStayed { by } => {
                write!(
                    f,
                    "the reading changed by only {}; look again at what moves",
                    Statistic(by)
                )
            }
            Self::StaysBehind { by } => write!(f, "the joint is {} deg behind its drive; look again", tenths(by)),
            Self::NoLoad { load } => write!(
                f,
                "the drive draws {:.0} % of its stall current, so it is not pressing on anything; look again",
                load * 100.0
            ),
            Self::Grave => f.write_str("this answer ends the bring-up, and the joint is not ready; look again"),
            Self::BeforeTheStop { by } => {
                write!(f, "the stop was {} deg further out before; look again", tenths(by))
            }
            Self::AtTheStop { by } => write!(
                f,
                "the stop was here before, within {} deg; look again",
                tenths(by.abs())
            ),
            Self::NotAtStop { by } => write!(
                f,
                "that is {} deg from the nearer stop; look again at the protractor, its zero and its direction",
                tenths(by)
            ),
            Self::BeyondStops { by } => write!(
                f,
                "by its sensor the joint stands {} deg beyond a stop; look again where the drive is fixed to it",
                tenths(by)
            ),
            Self::Loaded { load } => write!(
                f,
                "the drive draws {:.0} % of its stall current, so it presses on something; look again",
                load * 100.0
            ),
            Self::Unexpected => f.write_str(
                "the last reading does not fit those before it; without looking at it, read the scale again",
            ),
        }
    }
}

/// Cautions that are customary before a step (an assumption of this library). `Display` writes the sentence.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
#[cfg_attr(
    feature = "serde",
    derive(serde::Serialize, serde::Deserialize),
    serde(rename_all = "kebab-case")
)]
#[non_exhaustive]
pub enum Caution {
    /// What this is not.
    NotASafetyFunction,
    /// Local codes.
    LocalRules,
    /// A hand on the power switch.
    HandOnPowerSwitch,
    /// Never under a person's hand.
    NobodyInReach,
    /// Take the load off.
    TakeLoadOff,
    /// Power off before hands go in.
    PowerOffToTouch,
    /// The drive may run away.
    DriveMayRun,
    /// The first move is slow.
    FirstMoveSlow,
    /// A joint moved by hand is not forced.
    DoNotForce,
    /// The drive may press on a stop.
    MayPress,
}

impl Caution {
    /// Its own word.
    pub const fn as_str(self) -> &'static str {
        match self {
            Self::NotASafetyFunction => "not-a-safety-function",
            Self::LocalRules => "local-rules",
            Self::HandOnPowerSwitch => "hand-on-power-switch",
            Self::NobodyInReach => "nobody-in-reach",
            Self::TakeLoadOff => "take-load-off",
            Self::PowerOffToTouch => "power-off-to-touch",
            Self::DriveMayRun => "drive-may-run",
            Self::FirstMoveSlow => "first-move-slow",
            Self::DoNotForce => "do-not-force",
            Self::MayPress => "may-press",
        }
    }
}

impl core::fmt::Display for Caution {
    fn fmt(&self, f: &mut core::fmt::Formatter<'_>) -> core::fmt::Result {
        f.write_str(match self {
            Self::NotASafetyFunction => {
                "this software computes and cannot stop a motor; it is not a safety function in the sense of ISO 13849 or IEC 61508"
            }
            Self::LocalRules => "local codes and licensed practice come first",
            Self::HandOnPowerSwitch => "keep a hand on the power switch",
            Self::NobodyInReach => "keep everybody's hands out of the joint: never search a stop under a person's hand",
            Self::TakeLoadOff => "take the load off the joint; a loop that runs away will not stop by itself",
            Self::PowerOffToTouch => "switch the power off before hands go in, and on again when they are out",
            Self::DriveMayRun => "the detached drive may start to run: hold only the sensor, not the drive",
            Self::FirstMoveSlow => "the first move is slow; be ready to switch off",
            Self::DoNotForce => "move the joint gently, and do not force it",
            Self::MayPress => "the drive may press on a stop: take the reading at once; the move after it takes the load off",
        })
    }
}
