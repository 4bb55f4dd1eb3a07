//! Mechanisms between a servo and its joint: how a command becomes a drive angle that is not in proportion to it.
//!
//! A mechanism is given by lengths as measured with a ruler (any unit, the same for all of one joint) and angles in degrees. It
//! says how far the servo's side moves for a command; [`Linkage`] then pins the ends of the command range exactly to the
//! ends of the drive range, as every transmission does. So a mechanism gives the *shape* between the ends: it need not know
//! how the horn sits on its spline, what the gear ratio is, or the pitch of a screw.
//!
//! | kind | servo's side | joint's side (the command) |
//! | --- | --- | --- |
//! | [`Triangle`] | length of an actuator or screw | angle of a hinge, deg |
//! | [`SliderCrank`] | angle of a crank | place of a slide, in the unit of the lengths |
//! | [`FourBar`] | angle of a crank | angle of a rocker, deg |
//! | [`Spool`] | angle of a drum | angle of a pulley, deg |
//!
//! # Dead centres
//! Where two links come into one line, one side moves while the other stands still. There a command has no single drive angle,
//! or the servo no hold on the joint. A command range that holds such a place, or comes so close that two links are within
//! [`LEAST_ANGLE_DEG`] of a line, is refused, with the place and the distance to it.
//!
//! # Numbers
//! All mechanisms compute in `f64` whatever the number type of the joint, with roots and trigonometry of the `libm` crate: the same
//! bits on every machine.

use crate::error::MOST_TURN_DEG;
use crate::math;

mod four_bar;
mod kinds;
mod pin;
mod slider_crank;
mod spool;
mod triangle;

pub use crate::error::LinkageError;
pub use four_bar::FourBar;
pub(crate) use kinds::mechanisms;
pub use kinds::{Dimension, DimensionUnit, MechanismKind};
pub use pin::Linkage;
pub use slider_crank::SliderCrank;
pub use spool::Spool;
pub use triangle::Triangle;

/// How close two links may come to one line within the command range, degrees (an assumption of this library).
///
/// Good practice keeps far more (a push-rod works well down to some 40 deg); at 1 deg friction alone locks the mechanism.
pub const LEAST_ANGLE_DEG: f64 = 1.0;

/// Commands within the range at which the mechanism's angles are looked at when it is checked.
const LOOKS: u32 = 64;

/// On which side of a line a pin lies.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
#[cfg_attr(feature = "serde", serde(rename_all = "kebab-case"))]
pub enum Branch {
    /// Counter-clockwise of the line.
    Left,
    /// Clockwise of the line.
    Right,
}

impl Branch {
    /// Both, in the order of their numbers in the C interface.
    pub const ALL: [Self; 2] = [Self::Left, Self::Right];

    /// Its word in a robot file.
    pub const fn as_str(self) -> &'static str {
        match self {
            Self::Left => "left",
            Self::Right => "right",
        }
    }

    /// The other side.
    pub const fn other(self) -> Self {
        match self {
            Self::Left => Self::Right,
            Self::Right => Self::Left,
        }
    }

    pub(crate) fn sign(self) -> f64 {
        match self {
            Self::Left => 1.0,
            Self::Right => -1.0,
        }
    }
}

/// One of the mechanisms.
#[derive(Debug, Clone, Copy, PartialEq)]
#[non_exhaustive]
pub enum Mechanism {
    /// An actuator or screw across a hinge.
    Triangle(Triangle),
    /// A crank that moves a slide.
    SliderCrank(SliderCrank),
    /// A crank that moves a rocker through a coupler.
    FourBar(FourBar),
    /// A tendon on a drum.
    Spool(Spool),
}

impl Mechanism {
    /// How far the servo's side has moved at a command: degrees, or a length for [`Mechanism::Triangle`].
    ///
    /// NaN where the mechanism cannot reach, and for NaN.
    pub fn moved(&self, command: f64) -> f64 {
        self.parts().moved(command)
    }

    /// The command at which the servo's side has moved so far; of several the one nearest to `around`, on its side of the dead centres.
    ///
    /// NaN where the mechanism cannot reach, and for NaN.
    pub fn command_near(&self, moved: f64, around: f64) -> f64 {
        self.parts().command(moved, around)
    }

    /// Movement of the servo's side per command: the derivative of [`Mechanism::moved`].
    pub fn slope(&self, command: f64) -> f64 {
        self.parts().slope(command)
    }

    /// The commands around `command` up to the dead centres on either side; infinite where there is none. [`Mechanism::check`] asks for a
    /// distance from them.
    ///
    /// None if the mechanism cannot reach `command`, or its dimensions are unusable.
    pub fn valid_range(&self, command: f64) -> Option<[f64; 2]> {
        let parts = self.parts();
        if self.check_dimensions().is_err() || !parts.moved(command).is_finite() {
            return None;
        }
        Some(nearest_each_side(parts, command))
    }

    /// Checks that a command range can be used: dimensions, reach, dead centres.
    ///
    /// # Errors
    /// A [`LinkageError`] with the value that is wrong and, near a dead centre, the distance to it.
    pub fn check(&self, [lower, upper]: [f64; 2]) -> Result<(), LinkageError> {
        let parts = self.parts();
        self.check_dimensions()?;
        for value in [lower, upper] {
            if value.abs() > kinds::MOST_LENGTH {
                let (what, least, most) = ("command", kinds::LEAST_LENGTH, kinds::MOST_LENGTH);
                return Err(LinkageError::LengthOutside {
                    what,
                    value,
                    least,
                    most,
                });
            }
        }
        // A movement would belong to several commands.
        if parts.period() > 0.0 && upper - lower > MOST_TURN_DEG {
            return Err(LinkageError::BeyondTurn { lower, upper });
        }
        for command in [lower, upper] {
            if !parts.moved(command).is_finite() {
                return Err(LinkageError::OutOfReach {
                    command,
                    nearest: nearest(parts, command),
                });
            }
        }
        let [_, above] = nearest_each_side(parts, lower);
        if above <= upper {
            return Err(LinkageError::DeadCentreInside {
                lower,
                upper,
                at: above,
            });
        }
        let direction = parts.slope(lower);
        for look in 0..=LOOKS {
            let share = f64::from(look) / f64::from(LOOKS);
            let command = lower * (1.0 - share) + upper * share;
            let (sine, slope) = (parts.sine(command), parts.slope(command));
            let least = math::sin(LEAST_ANGLE_DEG * math::RAD_PER_DEG);
            // NaN included: the links come apart between the ends.
            if sine.is_nan() || sine < least {
                let at = nearest(parts, command);
                return Err(LinkageError::DeadCentreNear {
                    command,
                    at,
                    distance: (at - command).abs(),
                    links_deg: math::asin(sine.abs().min(1.0)) * math::DEG_PER_RAD,
                });
            }
            let relative = (slope / parts.typical_slope()).abs();
            if !(relative > 1e-6 && relative < 1e6) || (slope > 0.0) != (direction > 0.0) {
                return Err(LinkageError::Insensitive { command, slope });
            }
        }
        Ok(())
    }
}

/// What every mechanism can say of itself. Commands and angles in degrees unless a mechanism says otherwise.
trait Links {
    /// Movement of the servo's side; NaN out of reach.
    fn moved(&self, command: f64) -> f64;
    /// The command nearest to `around` that gives this movement; NaN out of reach.
    fn command(&self, moved: f64, around: f64) -> f64;
    /// Movement per command.
    fn slope(&self, command: f64) -> f64;
    /// The sine of the least angle between two links that must not come into one line; NaN out of reach.
    fn sine(&self, command: f64) -> f64;
    /// The commands of all dead centres, NaN in unused places.
    fn dead_centres(&self) -> [f64; 8];
    /// After how many command units everything repeats; 0 if never.
    fn period(&self) -> f64;
    /// Command units over which the mechanism changes its shape: of one radian, or of one crank's length.
    fn command_unit(&self) -> f64;
    /// The order of magnitude of [`Links::slope`].
    fn typical_slope(&self) -> f64;
}

/// The dead centres next to a command, infinite where there is none.
fn nearest_each_side(parts: &dyn Links, command: f64) -> [f64; 2] {
    let (mut below, mut above) = (f64::NEG_INFINITY, f64::INFINITY);
    let period = parts.period();
    for place in parts.dead_centres() {
        if !place.is_finite() {
            continue;
        }
        // The same dead centre, turned to the last place at or below the command, and to the next one.
        let turns = if period > 0.0 {
            math::floor((command - place) / period)
        } else {
            0.0
        };
        for shift in [turns - 1.0, turns, turns + 1.0] {
            let place = place + if period > 0.0 { shift * period } else { 0.0 };
            if place <= command && place > below {
                below = place;
            }
            if place >= command && place < above {
                above = place;
            }
        }
    }
    [below, above]
}

/// The dead centre nearest to a command, NaN if there is none.
fn nearest(parts: &dyn Links, command: f64) -> f64 {
    let [below, above] = nearest_each_side(parts, command);
    match (below.is_finite(), above.is_finite()) {
        (true, true) if command - below <= above - command => below,
        (_, true) => above,
        (true, false) => below,
        (false, false) => f64::NAN,
    }
}
