//! How a command becomes a drive angle.

use crate::map::{Direction, LinearMap};
use crate::real::Real;
use crate::span::Span;

/// The mechanism between a command and the drive angle.
///
/// Every kind sends the ends of the command range exactly to the ends of the drive range and is monotone between.
#[derive(Debug, Clone, PartialEq)]
#[non_exhaustive]
pub enum Transmission<T> {
    /// A straight line.
    Linear(Linear<T>),
}

/// The straight transmission and its way back.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Linear<T> {
    forward: LinearMap<T>,
    back: LinearMap<T>,
}

impl<T: Real> Transmission<T> {
    /// The straight transmission between two ranges.
    pub fn linear(command: Span<T>, drive: Span<T>, direction: Direction) -> Self {
        let forward = LinearMap::new(command, drive, direction);
        Self::Linear(Linear {
            forward,
            back: forward.reversed(),
        })
    }

    /// The drive angle of a command inside the command range. NaN gives NaN.
    #[inline]
    pub fn drive(&self, command: T) -> T {
        match self {
            Self::Linear(linear) => linear.forward.apply(command),
        }
    }

    /// The command of a drive angle, also outside the drive range. NaN gives NaN.
    #[inline]
    pub fn command(&self, drive: T) -> T {
        match self {
            Self::Linear(linear) => linear.back.apply(drive),
        }
    }

    /// Degrees of drive angle per unit of command at a command: the speed ratio, and what one step is worth.
    pub fn drive_per_command(&self, _command: T) -> T {
        match self {
            Self::Linear(linear) => linear.forward.slope(),
        }
    }
}
