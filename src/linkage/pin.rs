//! A mechanism with its ends pinned: from command to drive angle and back.

use crate::linkage::{LinkageError, Mechanism};
use crate::map::Direction;
use crate::pinned::{Pinned, Shape};
use crate::real::Real;
use crate::span::Span;

/// A mechanism between a command range and a drive range.
///
/// The ends of the command range go exactly to the ends of the drive range, and what lies between has the mechanism's shape:
/// monotone between neighbouring floats, never outside the drive range. Beyond the ends both ways continue as straight lines
/// with the mechanism's slope at the end.
///
/// ```
/// use elbowroom::linkage::{Linkage, Mechanism, Triangle};
/// use elbowroom::{Direction, Span};
/// let triangle = Mechanism::Triangle(Triangle { base: 40.0, arm: 92.0, angle_at_zero: 31.0 });
/// let command = Span::new("command", [0.0, 95.0])?;
/// let drive = Span::new("drive", [37.0, 122.0])?;
/// let linkage = Linkage::new(triangle, command, drive, Direction::Direct)?;
/// assert_eq!(linkage.drive(0.0), 37.0);
/// assert_eq!(linkage.drive(95.0), 122.0);
/// let back: f64 = linkage.command(linkage.drive(40.0));
/// assert!((back - 40.0).abs() < 1e-11);
///
/// // The arms in one line: the actuator has no hold on the hinge.
/// let command = Span::new("command", [0.0, 150.0])?;
/// let refused = Linkage::new(triangle, command, drive, Direction::Direct).unwrap_err();
/// assert_eq!(
///     refused.to_string(),
///     "command 0 to 150 goes through the dead centre at 149; keep the command range on one side of it"
/// );
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Linkage<T> {
    pinned: Pinned<T, Mechanism>,
}

impl<T: Real> Linkage<T> {
    /// Pins a mechanism between two ranges.
    ///
    /// # Errors
    /// A [`LinkageError`]: unusable dimensions, a command out of reach, a dead centre in the command range or near it.
    pub fn new(
        mechanism: Mechanism,
        command: Span<T>,
        drive: Span<T>,
        direction: Direction,
    ) -> Result<Self, LinkageError> {
        let [lower, upper] = command.ends().map(T::to_wide);
        mechanism.check([lower, upper])?;
        let pinned = Pinned::new(mechanism, command, drive, direction).ok_or(LinkageError::Insensitive {
            command: lower,
            slope: mechanism.slope(lower),
        })?;
        Ok(Self { pinned })
    }

    /// The drive angle of a command. NaN gives NaN.
    pub fn drive(&self, command: T) -> T {
        self.pinned.at(command)
    }

    /// The command of a drive angle. NaN gives NaN.
    ///
    /// Undoes [`Linkage::drive`] to within 1e-11 of the command range, where rounding does not hide more: that of the drive angle
    /// itself, and that of lengths which nearly cancel, such as of an actuator whose whole stroke is a millionth of its length.
    pub fn command(&self, drive: T) -> T {
        self.pinned.back(drive)
    }

    /// Degrees of drive angle per unit of command; beyond the ends that of the end. NaN gives NaN.
    pub fn drive_per_command(&self, command: T) -> T {
        self.pinned.slope(command)
    }

    /// The mechanism.
    pub fn mechanism(&self) -> &Mechanism {
        self.pinned.shape()
    }
}

impl Shape for Mechanism {
    fn value(&self, x: f64) -> f64 {
        self.moved(x)
    }

    fn place(&self, value: f64, around: f64) -> f64 {
        self.command_near(value, around)
    }

    fn slope(&self, x: f64) -> f64 {
        Self::slope(self, x)
    }

    fn unit(&self) -> f64 {
        self.parts().command_unit()
    }
}
