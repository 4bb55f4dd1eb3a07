//! What is wrong with a mechanism.

use super::Shown;
use crate::code::Code;
use thiserror::Error;

/// The widest command range of a mechanism that turns, deg: nearer to a whole turn, rounding decides to which of both ends a movement
/// belongs.
pub(crate) const MOST_TURN_DEG: f64 = 359.99;

/// Why a mechanism cannot serve a command range.
#[derive(Debug, Clone, Copy, PartialEq, Error)]
#[non_exhaustive]
pub enum LinkageError {
    /// A NaN or an infinity among the dimensions.
    #[error("transmission {what} is {}; give a finite number", Shown(*value))]
    NotFinite {
        /// The dimension.
        what: &'static str,
        /// The value found.
        value: f64,
    },
    /// A length that must be above zero.
    #[error("transmission {what} is {}; a length must be above zero", Shown(*value))]
    NotPositive {
        /// The dimension.
        what: &'static str,
        /// The value found.
        value: f64,
    },
    /// A length that no mechanism of this trade has.
    #[error("transmission {what} is {}; write it in mm; lengths from {least:e} to {most:e} can be computed", Shown(*value))]
    LengthOutside {
        /// The parameter.
        what: &'static str,
        /// The value found.
        value: f64,
        /// The least that is allowed.
        least: f64,
        /// The most that is allowed.
        most: f64,
    },
    /// A command range of a whole turn or more, or less than 0.01 deg short of one, over which a movement belongs to several commands.
    #[error("command {lower} to {upper} is a whole turn of the mechanism or more, or nearly one; keep the command range below {} deg", Shown(MOST_TURN_DEG), lower = Shown(*lower), upper = Shown(*upper))]
    BeyondTurn {
        /// Lower end of the command range.
        lower: f64,
        /// Upper end of the command range.
        upper: f64,
    },
    /// The links cannot come together at an end of the command range.
    #[error("the mechanism cannot reach command {command}, {}; narrow the command range or measure the lengths again",
        Nearest(*nearest), command = Shown(*command))]
    OutOfReach {
        /// The end of the command range.
        command: f64,
        /// The nearest dead centre, NaN if the links never come together.
        nearest: f64,
    },
    /// The command range goes through a dead centre.
    #[error("command {lower} to {upper} goes through the dead centre at {at}; keep the command range on one side of it", lower = Shown(*lower), upper = Shown(*upper), at = Shown(*at))]
    DeadCentreInside {
        /// Lower end of the command range.
        lower: f64,
        /// Upper end of the command range.
        upper: f64,
        /// The dead centre.
        at: f64,
    },
    /// The command range comes too close to a dead centre.
    #[error("at command {command} two links are {} deg from one line{}; keep at least 1 deg: narrow the command range",
        Shown(*links_deg), Centre(*distance, *at), command = Shown(*command))]
    DeadCentreNear {
        /// The command at which it was seen.
        command: f64,
        /// The nearest dead centre.
        at: f64,
        /// From the command to the dead centre, in command units.
        distance: f64,
        /// Angle between the links and one line, deg.
        links_deg: f64,
    },
    /// The servo's side hardly moves, or hardly anything else.
    #[error("at command {command} the servo moves {} per command, outside the range of the computation; check the lengths",
        Shown(*slope), command = Shown(*command))]
    Insensitive {
        /// The command at which it was seen.
        command: f64,
        /// Movement of the servo's side per command.
        slope: f64,
    },
}

/// The reachable command nearest to one that is not, if there is one.
struct Nearest(f64);

impl core::fmt::Display for Nearest {
    fn fmt(&self, f: &mut core::fmt::Formatter<'_>) -> core::fmt::Result {
        if self.0.is_nan() {
            f.write_str("and no other")
        } else {
            write!(f, "the nearest it can is {}", Shown(self.0))
        }
    }
}

/// How far it is to the dead centre, if there is one.
struct Centre(f64, f64);

impl core::fmt::Display for Centre {
    fn fmt(&self, f: &mut core::fmt::Formatter<'_>) -> core::fmt::Result {
        if self.0.is_nan() {
            return Ok(());
        }
        write!(f, ", {} from the dead centre at {}", Shown(self.0), Shown(self.1))
    }
}

impl LinkageError {
    /// The frozen code of this error.
    pub const fn code(&self) -> Code {
        match self {
            Self::NotFinite { .. } => Code::NotFinite,
            Self::NotPositive { .. } => Code::NotPositive,
            _ => Code::TransmissionInvalid,
        }
    }
}
