//! Why a fit was refused.

use crate::code::Code;
use crate::error::{Bounds, Shown};
use crate::linkage::LinkageError;
use crate::look::{Given, Statistic, Trimmed};
use thiserror::Error;

/// Why readings were not fitted.
#[derive(Debug, Clone, Copy, PartialEq, Error)]
#[non_exhaustive]
pub enum FitError {
    /// A NaN or an infinity among the readings.
    #[error("{what} at index {index} is {}; leave the reading out or take it again", Shown(*value))]
    NotFinite {
        /// The array.
        what: &'static str,
        /// Where it stands, counted from 0.
        index: usize,
        /// The value found.
        value: f64,
    },
    /// A value beyond anything that can be squared.
    #[error("{what} at index {index} is {value:e}, larger than 1e100; check its unit")]
    TooLarge {
        /// The array.
        what: &'static str,
        /// Where it stands, counted from 0.
        index: usize,
        /// The value found.
        value: f64,
    },
    /// A standard uncertainty of zero or less.
    #[error("{what} at index {index} is {}; a standard uncertainty must be above zero", Shown(*value))]
    NotPositive {
        /// The array.
        what: &'static str,
        /// Where it stands, counted from 0.
        index: usize,
        /// The value found.
        value: f64,
    },
    /// Arrays that belong together differ in length.
    #[error("{what} has {} for {}; give one for each reading", Counted(*given, "value"), Counted(*expected, "reading"))]
    LengthMismatch {
        /// The array.
        what: &'static str,
        /// Its length.
        given: usize,
        /// The length it should have.
        expected: usize,
    },
    /// Too few readings for the question asked.
    #[error("{} {} too few; take at least {} more{}", Counted(*given, "reading"), if *given == 1 { "is" } else { "are" }, needed.saturating_sub(*given), Place(*lower, *upper))]
    TooFewReadings {
        /// Readings given.
        given: usize,
        /// Readings needed.
        needed: usize,
        /// Lowest drive angle so far; not finite when there is none.
        lower: f64,
        /// Highest drive angle so far; not finite when there is none.
        upper: f64,
    },
    /// Too few different commands.
    #[error("the readings stand at only {}, {} to {}; take at least {} more, {}", Counted(*distinct, "different drive angle"), Given(*lower), Given(*upper), needed.saturating_sub(*distinct), if distinct < &2 { "on both sides of it" } else { "between and beyond them" })]
    DriveAnglesEqual {
        /// Different drive angles given.
        distinct: usize,
        /// Different drive angles needed.
        needed: usize,
        /// The lowest of them.
        lower: f64,
        /// The highest of them.
        upper: f64,
    },
    /// Nearly all readings lie on two stops: too few between them tell the slope, and with it where the stops are.
    #[error("measured stays at one value up to drive {} and at another from drive {} on, and {} between, so the slope cannot be determined; take at least 3 more between {} and {}", Given(*lower), Given(*upper), Between(*between), Given(*lower), Given(*upper))]
    FewBetweenStops {
        /// Drive angles between the stops.
        between: usize,
        /// The last drive angle on the lower stop.
        lower: f64,
        /// The first on the upper one.
        upper: f64,
    },
    /// The measured value did not follow the command.
    #[error(
        "measured stays between {} and {} while drive goes from {} to {}, and does not follow it; check horn, linkage and sensor wire, then sweep wider",
        Given(*low),
        Given(*high),
        Given(*lower),
        Given(*upper)
    )]
    NoMotion {
        /// Smallest drive angle.
        lower: f64,
        /// Largest drive angle.
        upper: f64,
        /// Smallest measured value.
        low: f64,
        /// Largest measured value.
        high: f64,
    },
    /// Values that come to zero and leave it again as steeply, as of a scale whose minus signs nobody wrote.
    #[error(
        "the measured values come to zero at drive {} and leave it again by the same slope: minus signs seem to be missing; write them on one side of the zero",
        Given(*at)
    )]
    SignsMissing {
        /// The drive angle of the smallest value.
        at: f64,
    },
    /// Values whose trend turns back within the readings, as at a dead centre: no one way belongs to them.
    #[error(
        "the {what} values turn back at {over} {}, by {}: a dead centre lies within the readings; keep those on one side of it, and look for exchanged rows if the joint has none",
        Trimmed(*at, 1),
        Statistic(*by)
    )]
    TurnsBack {
        /// The values: `measured`, or `drive` in the order of what was measured.
        what: &'static str,
        /// What they turn back over.
        over: &'static str,
        /// Where, in its unit.
        at: f64,
        /// By how much on the side that goes less far, in the unit of the values.
        by: f64,
    },
    /// A sensor that does not follow the joint.
    #[error(
        "the sensor reads {} to {} while the joint goes from {} to {} deg, and does not follow it; check its coupling and its wires, then take readings over a wider range",
        Given(*low),
        Given(*high),
        Given(*lower),
        Given(*upper)
    )]
    SensorStill {
        /// Lowest reading.
        low: f64,
        /// Highest reading.
        high: f64,
        /// Lowest joint angle, deg.
        lower: f64,
        /// Highest joint angle, deg.
        upper: f64,
    },
    /// A sensor that starts again within the joint's range.
    #[error(
        "the sensor jumps from {} to {} between {} and {} deg of the joint, as one that starts again after a turn; turn its magnet or its shaft until the whole range of the joint lies within one turn of it, then take the readings again",
        Shown(*from),
        Shown(*to),
        Shown(*lower),
        Shown(*upper)
    )]
    SensorStartsAgain {
        /// The reading before it.
        from: f64,
        /// The reading behind it.
        to: f64,
        /// The joint angle before it, deg.
        lower: f64,
        /// The joint angle behind it, deg.
        upper: f64,
    },
    /// Measured values on a scale that starts again after a turn.
    #[error(
        "measured jumps from {} to {} between drive {} and {}, as on a scale that starts again after {}; add {} on one side of it, or set the instrument so that it starts again outside the joint's range",
        Shown(*from),
        Shown(*to),
        Shown(*lower),
        Shown(*upper),
        Statistic(*turn),
        Statistic(*turn)
    )]
    StartsAgain {
        /// The measured value before it.
        from: f64,
        /// The measured value behind it.
        to: f64,
        /// The drive angle before it.
        lower: f64,
        /// The drive angle behind it.
        upper: f64,
        /// The turn, in measured units.
        turn: f64,
    },
    /// A feedback map for commands that are not joint angles.
    #[error(
        "the joint's commands are not joint angles in deg; give the angles that its lower and upper command stand for"
    )]
    AnglesUnknown,
    /// Too few readings agree with any one line.
    #[error(
        "only {agree} of {given} readings agree with any one line between stops; check the sensor, and that each measured value stands beside its own drive angle, then take the readings again"
    )]
    NoAgreement {
        /// Readings that agree.
        agree: usize,
        /// Readings given.
        given: usize,
    },
    /// The readings trail behind the command: they were taken in motion.
    #[error(
        "the readings seem to be recorded in motion: neighbouring residuals are correlated (von Neumann ratio {ratio:.2}; about 2 at rest), so lag, friction and stops cannot be distinguished; measure at rest, a second after each move, and add the column approach"
    )]
    InMotion {
        /// Mean square successive difference of the residuals over their variance.
        ratio: f64,
    },
    /// The times show that the drive moved, and the readings trail behind it or may do so.
    #[error(
        "the drive moved at {} drive units per second (median) while the readings were taken, {}; measure at rest, half a second or more after each move",
        Statistic(*speed),
        Trailing(*latency, *shift)
    )]
    Moving {
        /// Median speed of the drive, per second.
        speed: f64,
        /// How late the joint follows, s; none where the readings do not show it, as at one speed in one direction.
        latency: Option<f64>,
        /// How far the readings are displaced along the drive: by that latency, or by one of 0.1 s.
        shift: f64,
    },
    /// A run that does not say from which side its targets were reached.
    #[error("run {index} has no approach; give below or above")]
    ApproachUnknown {
        /// Which run, counted from 0.
        index: usize,
    },
    /// A dimension that the mechanism does not have, or that was named twice or with too many others.
    #[error("{name} cannot be fitted to a {kind} mechanism; name each of its dimensions at most once")]
    UnknownDimension {
        /// The name given.
        name: &'static str,
        /// The kind of mechanism.
        kind: &'static str,
    },
    /// A mechanism that cannot reach a reading.
    #[error(
        "the mechanism cannot reach {}, measured at index {index}; start from better dimensions or leave the reading out",
        Given(*value)
    )]
    OutOfReach {
        /// Where the reading stands, counted from 0.
        index: usize,
        /// The measured value.
        value: f64,
    },
    /// Readings that fit any value of a dimension.
    #[error(
        "the readings do not determine {name}; measure it with a ruler and keep it, or take readings over a wider range"
    )]
    NotDetermined {
        /// The dimension.
        name: &'static str,
    },
    /// A mechanism found that cannot serve a command range.
    #[error(transparent)]
    Linkage(LinkageError),
    /// An option outside its range.
    #[error("{what} is {}; it must be {}", Shown(*value), Bounds(*lower, *upper))]
    OptionOutside {
        /// The option.
        what: &'static str,
        /// The value given.
        value: f64,
        /// Its smallest value.
        lower: f64,
        /// Its largest value.
        upper: f64,
    },
}

/// So many of a thing.
pub(super) struct Counted(pub(super) usize, pub(super) &'static str);

impl core::fmt::Display for Counted {
    fn fmt(&self, f: &mut core::fmt::Formatter<'_>) -> core::fmt::Result {
        write!(f, "{} {}{}", self.0, self.1, if self.0 == 1 { "" } else { "s" })
    }
}

/// So few drive angles between two stops.
struct Between(usize);

impl core::fmt::Display for Between {
    fn fmt(&self, f: &mut core::fmt::Formatter<'_>) -> core::fmt::Result {
        match self.0 {
            0 => f.write_str("no drive angle lies"),
            1 => f.write_str("only 1 drive angle lies"),
            more => write!(f, "only {more} drive angles lie"),
        }
    }
}

/// What a drive in motion does to the readings.
struct Trailing(Option<f64>, f64);

impl core::fmt::Display for Trailing {
    fn fmt(&self, f: &mut core::fmt::Formatter<'_>) -> core::fmt::Result {
        match self.0 {
            Some(latency) => write!(
                f,
                "and they trail it by {} s, {} drive units",
                Statistic(latency),
                Statistic(self.1)
            ),
            None => write!(
                f,
                "and they do not show how late they are: 0.1 s would displace every stop by {} drive units",
                Statistic(self.1)
            ),
        }
    }
}

/// Where more readings would help.
struct Place(f64, f64);

impl core::fmt::Display for Place {
    fn fmt(&self, f: &mut core::fmt::Formatter<'_>) -> core::fmt::Result {
        if !(self.0.is_finite() && self.1.is_finite()) {
            Ok(())
        } else if self.0 < self.1 {
            write!(
                f,
                ", spread over drive {} to {} and beyond",
                Given(self.0),
                Given(self.1)
            )
        } else {
            write!(f, ", on both sides of drive {}", Given(self.0))
        }
    }
}

impl FitError {
    /// The frozen code of this error.
    pub const fn code(&self) -> Code {
        match self {
            Self::NotFinite { .. } | Self::TooLarge { .. } => Code::NotFinite,
            Self::NotPositive { .. } => Code::NotPositive,
            Self::LengthMismatch { .. } => Code::LengthMismatch,
            Self::TooFewReadings { .. } => Code::TooFewReadings,
            Self::DriveAnglesEqual { .. } | Self::FewBetweenStops { .. } => Code::DriveAnglesEqual,
            Self::NoMotion { .. }
            | Self::SignsMissing { .. }
            | Self::TurnsBack { .. }
            | Self::SensorStill { .. }
            | Self::SensorStartsAgain { .. } => Code::NoMotion,
            Self::OptionOutside { .. } => Code::OptionOutside,
            Self::InMotion { .. } | Self::Moving { .. } => Code::InMotion,
            Self::ApproachUnknown { .. } => Code::ApproachUnknown,
            Self::NoAgreement { .. } | Self::NotDetermined { .. } | Self::StartsAgain { .. } => Code::NoAgreement,
            Self::UnknownDimension { .. } | Self::AnglesUnknown => Code::OptionOutside,
            Self::OutOfReach { .. } => Code::TransmissionInvalid,
            Self::Linkage(error) => error.code(),
        }
    }
}
