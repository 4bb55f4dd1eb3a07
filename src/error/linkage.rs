//! What is wrong with a mechanism.

use crate::code::Code;
use thiserror::Error;

/// Why a mechanism cannot serve a command range.
#[derive(Debug, Clone, Copy, PartialEq, Error)]
#[non_exhaustive]
pub enum LinkageError {
    /// A NaN or an infinity among the dimensions.
    #[error("transmission {what} is {value}; give a finite number")]
    NotFinite {
        /// The dimension.
        what: &'static str,
        /// The value found.
        value: f64,
    },
    /// A length that must be above zero.
    #[error("transmission {what} is {value}; a length must be above zero")]
    NotPositive {
        /// The dimension.
        what: &'static str,
        /// The value found.
        value: f64,
    },
    /// The links cannot come together at an end of the command range.
    #[error(
        "the mechanism cannot reach command {command}, the nearest it can is {nearest}; narrow the command range or measure the lengths again"
    )]
    OutOfReach {
        /// The end of the command range.
        command: f64,
        /// The nearest dead centre, NaN if the links never come together.
        nearest: f64,
    },
    /// The command range goes through a dead centre.
    #[error(
        "command {lower} to {upper} goes through the dead centre at {at}; keep the command range on one side of it"
    )]
    DeadCentreInside {
        /// Lower end of the command range.
        lower: f64,
        /// Upper end of the command range.
        upper: f64,
        /// The dead centre.
        at: f64,
    },
    /// The command range comes too close to a dead centre.
    #[error(
        "at command {command} two links are {links_deg} deg from one line, {distance} from the dead centre at {at}; keep at least 1 deg: narrow the command range"
    )]
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
    #[error(
        "at command {command} the servo's side moves {slope} per command, too little or too much to compute with; check the lengths"
    )]
    Insensitive {
        /// The command at which it was seen.
        command: f64,
        /// Movement of the servo's side per command.
        slope: f64,
    },
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
