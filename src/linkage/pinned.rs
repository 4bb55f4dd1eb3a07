//! A mechanism with its ends pinned: from command to drive angle and back.
//!
//! # Monotone between neighbouring floats
//! Computed sines and roots are right to a few units in the last place and so not monotone from one float to the next. But
//! over a distance of 2^-30 of a radian they are: there the true values differ by far more than the errors, as a
//! range near a dead centre is refused. So the range is cut into steps of about that size, the mechanism is computed at the
//! two ends of the step that holds the command, and between them the value goes straight, by operations that are each
//! monotone. What that leaves out is one eighth of the step squared times the curvature: 2^-63 radian for a curvature of 1.

use crate::linkage::{LinkageError, Mechanism};
use crate::map::{Direction, LinearMap};
use crate::math;
use crate::real::Real;
use crate::span::Span;

/// Steps to one radian, or to one crank's length.
const STEPS_PER_UNIT: f64 = (1u64 << 30) as f64;
/// Step numbers up to 2^40 leave an `f64` 12 bits for the place within a step.
const MOST_DOUBLINGS: u32 = 40;

/// A mechanism between a command range and a drive range.
///
/// The ends of the command range go exactly to the ends of the drive range, and what lies between has the mechanism's shape:
/// monotone between neighbouring floats, never outside the drive range. Beyond the ends both ways go straight on, as
/// steeply as the mechanism does at the end.
///
/// ```
/// use elbowroom::linkage::{Linkage, Mechanism, Triangle};
/// use elbowroom::{Direction, Span};
/// let triangle = Mechanism::Triangle(Triangle { near: 40.0, far: 92.0, angle_at_zero: 31.0 });
/// let command = Span::new("command", [0.0, 95.0])?;
/// let drive = Span::new("drive", [5.0, 80.0])?;
/// let linkage = Linkage::new(triangle, command, drive, Direction::Direct)?;
/// assert_eq!(linkage.drive(0.0), 5.0);
/// assert_eq!(linkage.drive(95.0), 80.0);
/// assert!((linkage.command(linkage.drive(40.0)) - 40.0).abs() < 1e-11);
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
    mechanism: Mechanism,
    command: Steps,
    moved: Steps,
    /// Whether the movement rises with the command.
    rises: bool,
    /// From movement to drive angle, and back.
    pin: LinearMap<f64>,
    unpin: LinearMap<f64>,
    /// Drive angles at the lower and at the upper command.
    ends: [f64; 2],
    /// Drive per command there.
    end_slopes: [f64; 2],
    number: core::marker::PhantomData<T>,
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
        let [first, last] = [lower, upper].map(|command| mechanism.moved(command));
        let slope = mechanism.slope(lower);
        let unusable = LinkageError::Insensitive { command: lower, slope };
        let rising = slope > 0.0;
        // Too narrow a command range leaves no movement that arithmetic can see.
        let grain = first.abs().max(last.abs()) * f64::EPSILON;
        let seen = (last - first).abs() > 1e6 * grain;
        if !seen || (first < last) != rising {
            return Err(unusable);
        }
        let span = |ends: [f64; 2]| Span::new("transmission", ends).map_err(|_| unusable);
        let moved = span(if rising { [first, last] } else { [last, first] })?;
        let drive = span(drive.ends().map(T::to_wide))?;
        let falls = direction.is_inverted() == rising;
        let pin = LinearMap::new(moved, drive, Direction::from_inverted(falls));
        let steps = (upper - lower) / mechanism.parts().command_unit() * STEPS_PER_UNIT;
        let steps = power_of_two_below(steps);
        let linkage = Self {
            mechanism,
            command: Steps::new([lower, upper], steps),
            moved: Steps::new(moved.ends(), steps),
            rises: rising,
            pin,
            unpin: pin.reversed(),
            ends: [pin.apply(first), pin.apply(last)],
            end_slopes: [lower, upper].map(|command| mechanism.slope(command) * pin.slope()),
            number: core::marker::PhantomData,
        };
        if linkage
            .end_slopes
            .iter()
            .all(|slope| slope.is_finite() && *slope != 0.0)
        {
            Ok(linkage)
        } else {
            Err(unusable)
        }
    }

    /// The drive angle of a command. NaN gives NaN.
    pub fn drive(&self, command: T) -> T {
        let command = command.to_wide();
        let [lower, upper] = self.command.ends();
        let ([first, last], [at_lower, at_upper]) = (self.ends, self.end_slopes);
        let drive = if command <= lower {
            first + (command - lower) * at_lower
        } else if command >= upper {
            last + (command - upper) * at_upper
        } else {
            self.pin
                .apply(self.command.between(command, |command| self.mechanism.moved(command)))
        };
        T::from_wide(drive)
    }

    /// The command of a drive angle. NaN gives NaN.
    ///
    /// Undoes [`Linkage::drive`] to within 1e-11 of the command range, where rounding of the drive angle itself does not hide
    /// more.
    pub fn command(&self, drive: T) -> T {
        let drive = drive.to_wide();
        let [lower, upper] = self.command.ends();
        let ([first, last], [at_lower, at_upper]) = (self.ends, self.end_slopes);
        let rising = first < last;
        let command = if drive == first || (drive < first) == rising && !drive.is_nan() && drive != last {
            lower + (drive - first) / at_lower
        } else if drive == last || (drive > last) == rising {
            upper + (drive - last) / at_upper
        } else {
            self.command_between(self.unpin.apply(drive))
        };
        T::from_wide(command)
    }

    /// Degrees of drive angle per unit of command. NaN gives NaN.
    pub fn drive_per_command(&self, command: T) -> T {
        let command = self.command.hold(command.to_wide());
        T::from_wide(self.mechanism.slope(command) * self.pin.slope())
    }

    /// The mechanism.
    pub fn mechanism(&self) -> &Mechanism {
        &self.mechanism
    }

    fn command_between(&self, moved: f64) -> f64 {
        let [lower, upper] = self.command.ends();
        let [least, most] = self.moved.ends();
        let middle = lower + (upper - lower) * 0.5;
        let (at_least, at_most) = if self.rises { (lower, upper) } else { (upper, lower) };
        self.moved.between(moved, |moved| {
            if moved <= least {
                at_least
            } else if moved >= most {
                at_most
            } else {
                self.command.hold(self.mechanism.parts().command(moved, middle))
            }
        })
    }
}

/// A range cut into equal steps.
#[derive(Debug, Clone, Copy, PartialEq)]
struct Steps {
    lower: f64,
    upper: f64,
    /// A power of two.
    count: f64,
}

impl Steps {
    fn new([lower, upper]: [f64; 2], count: f64) -> Self {
        Self { lower, upper, count }
    }

    fn ends(&self) -> [f64; 2] {
        [self.lower, self.upper]
    }

    fn hold(&self, x: f64) -> f64 {
        if x < self.lower {
            self.lower
        } else if x > self.upper {
            self.upper
        } else {
            x
        }
    }

    /// A monotone function of an `x` within the range, taken at the ends of its step and straight in between. NaN gives NaN.
    fn between(&self, x: f64, function: impl Fn(f64) -> f64) -> f64 {
        let scaled = (x - self.lower) / (self.upper - self.lower) * self.count;
        let step = math::floor(scaled);
        // Exact, and below 1.
        let share = scaled - step;
        let [from, to] = [step, step + 1.0].map(|step| {
            if step >= self.count {
                function(self.upper)
            } else {
                function(self.hold(self.lower + (self.upper - self.lower) * (step / self.count)))
            }
        });
        let value = from + share * (to - from);
        let (low, high) = if from < to { (from, to) } else { (to, from) };
        if value < low {
            low
        } else if value > high {
            high
        } else {
            value
        }
    }
}

/// The largest power of two that is not above `x`, at least 1 and at most 2^[`MOST_DOUBLINGS`].
fn power_of_two_below(x: f64) -> f64 {
    (0..MOST_DOUBLINGS).fold(1.0, |power, _| if power * 2.0 <= x { power * 2.0 } else { power })
}
