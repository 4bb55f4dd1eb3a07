//! How a command becomes a drive angle.

use crate::error::JointError;
use crate::linkage::{Branch, FourBar, Linkage, Mechanism, SliderCrank, Spool, Triangle};
use crate::map::{Direction, Line, LinearMap};
use crate::real::Real;
use crate::span::Span;

#[cfg(feature = "std")]
use crate::curve::{Curve, SlopeRule};
#[cfg(feature = "std")]
use std::vec::Vec;

/// What is written down of a transmission, unchecked: `transmission = { kind = "…", … }` of a robot file.
///
/// Lengths are in any unit, the same for all of one transmission; angles are in degrees. What the numbers mean stands with the
/// mechanisms of [`linkage`](crate::linkage).
#[derive(Debug, Clone, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
#[cfg_attr(
    feature = "serde",
    serde(tag = "kind", rename_all = "kebab-case", deny_unknown_fields)
)]
#[non_exhaustive]
pub enum TransmissionRecord<T> {
    /// A straight line between the ends.
    Linear {},
    /// A monotone curve through knots.
    #[cfg(feature = "std")]
    Curve {
        /// Command and drive angle of each knot, (n x 2), commands rising. The first and the last are the ends of the
        /// joint's command and drive.
        knots: Vec<[T; 2]>,
        /// How the slopes at the knots follow from them; [`SlopeRule::Parabola`] if left out.
        #[cfg_attr(feature = "serde", serde(default))]
        rule: SlopeRule,
    },
    /// A linear actuator or lead screw across a hinge: [`Triangle`].
    Triangle {
        /// From the hinge to the actuator's nearer end.
        base: T,
        /// From the hinge to its other end.
        arm: T,
        /// Angle between the two at command 0, deg.
        angle_at_zero: T,
    },
    /// A crank that moves a slide: [`SliderCrank`].
    SliderCrank {
        /// From the shaft to the crank's pin.
        crank: T,
        /// From the crank's pin to the slide's pin.
        rod: T,
        /// Distance of the slide's line from the shaft.
        offset: T,
        /// The slide's place at command 0.
        slide_at_zero: T,
        /// Where the crank's pin lies, seen from the shaft towards the slide's pin.
        branch: Branch,
    },
    /// A crank that moves a rocker through a coupler: [`FourBar`].
    FourBar {
        /// From the servo's shaft to the crank's pin.
        crank: T,
        /// From the crank's pin to the rocker's pin.
        coupler: T,
        /// From the joint's pivot to the rocker's pin.
        rocker: T,
        /// From the servo's shaft to the joint's pivot.
        ground: T,
        /// The rocker's angle at command 0, deg.
        rocker_at_zero: T,
        /// Where the crank's pin lies, seen from the shaft towards the rocker's pin.
        branch: Branch,
    },
    /// A tendon on a drum: [`Spool`].
    Spool {
        /// Radius of the tendon on the drum at command 0.
        drum: T,
        /// What that radius gains with each turn of the drum.
        per_turn: T,
        /// Radius of the tendon on the joint's pulley.
        pulley: T,
    },
}

impl<T> Default for TransmissionRecord<T> {
    fn default() -> Self {
        Self::Linear {}
    }
}

impl<T> TransmissionRecord<T> {
    /// The word for it in a robot file.
    pub fn kind(&self) -> &'static str {
        match self {
            Self::Linear {} => "linear",
            #[cfg(feature = "std")]
            Self::Curve { .. } => "curve",
            Self::Triangle { .. } => "triangle",
            Self::SliderCrank { .. } => "slider-crank",
            Self::FourBar { .. } => "four-bar",
            Self::Spool { .. } => "spool",
        }
    }

    /// Whether it is the one that a joint has if nothing is said.
    pub fn is_linear(&self) -> bool {
        matches!(self, Self::Linear {})
    }
}

impl<T: Real> TransmissionRecord<T> {
    /// Its mechanism, unchecked; none for a straight line and a curve.
    ///
    /// ```
    /// use elbowroom::TransmissionRecord;
    /// let spool = TransmissionRecord::Spool { drum: 9.0, per_turn: 0.5, pulley: 30.0 };
    /// let mechanism = spool.mechanism().unwrap();
    /// assert_eq!(mechanism.dimension("pulley"), Some(30.0));
    /// assert_eq!(TransmissionRecord::from(&mechanism), spool);
    /// ```
    pub fn mechanism(&self) -> Option<Mechanism> {
        Some(match *self {
            Self::Linear {} => return None,
            #[cfg(feature = "std")]
            Self::Curve { .. } => return None,
            Self::Triangle {
                base,
                arm,
                angle_at_zero,
            } => Mechanism::Triangle(Triangle {
                base: base.to_wide(),
                arm: arm.to_wide(),
                angle_at_zero: angle_at_zero.to_wide(),
            }),
            Self::SliderCrank {
                crank,
                rod,
                offset,
                slide_at_zero,
                branch,
            } => Mechanism::SliderCrank(SliderCrank {
                crank: crank.to_wide(),
                rod: rod.to_wide(),
                offset: offset.to_wide(),
                slide_at_zero: slide_at_zero.to_wide(),
                branch,
            }),
            Self::FourBar {
                crank,
                coupler,
                rocker,
                ground,
                rocker_at_zero,
                branch,
            } => Mechanism::FourBar(FourBar {
                crank: crank.to_wide(),
                coupler: coupler.to_wide(),
                rocker: rocker.to_wide(),
                ground: ground.to_wide(),
                rocker_at_zero: rocker_at_zero.to_wide(),
                branch,
            }),
            Self::Spool { drum, per_turn, pulley } => Mechanism::Spool(Spool {
                drum: drum.to_wide(),
                per_turn: per_turn.to_wide(),
                pulley: pulley.to_wide(),
            }),
        })
    }
}

impl<T: Real> From<&Mechanism> for TransmissionRecord<T> {
    fn from(mechanism: &Mechanism) -> Self {
        match *mechanism {
            Mechanism::Triangle(m) => Self::Triangle {
                base: T::from_wide(m.base),
                arm: T::from_wide(m.arm),
                angle_at_zero: T::from_wide(m.angle_at_zero),
            },
            Mechanism::SliderCrank(m) => Self::SliderCrank {
                crank: T::from_wide(m.crank),
                rod: T::from_wide(m.rod),
                offset: T::from_wide(m.offset),
                slide_at_zero: T::from_wide(m.slide_at_zero),
                branch: m.branch,
            },
            Mechanism::FourBar(m) => Self::FourBar {
                crank: T::from_wide(m.crank),
                coupler: T::from_wide(m.coupler),
                rocker: T::from_wide(m.rocker),
                ground: T::from_wide(m.ground),
                rocker_at_zero: T::from_wide(m.rocker_at_zero),
                branch: m.branch,
            },
            Mechanism::Spool(m) => Self::Spool {
                drum: T::from_wide(m.drum),
                per_turn: T::from_wide(m.per_turn),
                pulley: T::from_wide(m.pulley),
            },
        }
    }
}

/// The mechanism between a command and the drive angle.
///
/// Every kind sends the ends of the command range exactly to the ends of the drive range and is monotone between
/// neighbouring floats. Beyond the ends each goes straight on.
#[derive(Debug, Clone, PartialEq)]
#[non_exhaustive]
#[allow(
    clippy::large_enum_variant,
    reason = "below `std` there is no heap to put it on, and a joint holds but one"
)]
pub enum Transmission<T> {
    /// A straight line.
    Linear(Linear<T>),
    /// A curve through knots.
    #[cfg(feature = "std")]
    Curve(CurveTransmission<T>),
    /// A mechanism with its ends pinned.
    Linkage(Linkage<T>),
}

/// The straight transmission and its way back.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Linear<T> {
    forward: LinearMap<T>,
    back: LinearMap<T>,
}

impl<T: Real> Linear<T> {
    /// From command to drive angle.
    #[inline]
    pub(crate) fn line(&self) -> &Line<T> {
        self.forward.line()
    }
}

/// The curved transmission and the rule that it was made by.
#[cfg(feature = "std")]
#[derive(Debug, Clone, PartialEq)]
pub struct CurveTransmission<T> {
    curve: Curve<T>,
    rule: SlopeRule,
}

#[cfg(feature = "std")]
impl<T> CurveTransmission<T> {
    /// The curve from command to drive angle.
    pub fn curve(&self) -> &Curve<T> {
        &self.curve
    }

    /// How its slopes follow from its knots.
    pub fn rule(&self) -> SlopeRule {
        self.rule
    }
}

impl<T: Real> Transmission<T> {
    /// The transmission of a record between two ranges.
    ///
    /// # Errors
    /// [`JointError::Curve`], [`JointError::CurveEnd`] or [`JointError::Linkage`].
    pub fn new(
        record: &TransmissionRecord<T>,
        command: Span<T>,
        drive: Span<T>,
        direction: Direction,
    ) -> Result<Self, JointError> {
        let mechanism = match record {
            TransmissionRecord::Linear {} => None,
            #[cfg(feature = "std")]
            TransmissionRecord::Curve { knots, rule } => return curved(knots, *rule, command, drive, direction),
            _ => record.mechanism(),
        };
        let Some(mechanism) = mechanism else {
            return Ok(Self::linear(command, drive, direction));
        };
        Linkage::new(mechanism, command, drive, direction)
            .map(Self::Linkage)
            .map_err(JointError::Linkage)
    }

    /// The straight transmission between two ranges.
    pub fn linear(command: Span<T>, drive: Span<T>, direction: Direction) -> Self {
        let forward = LinearMap::new(command, drive, direction);
        Self::Linear(Linear {
            forward,
            back: forward.reversed(),
        })
    }

    /// The word for it in a robot file.
    pub fn kind(&self) -> &'static str {
        match self {
            Self::Linear(_) => "linear",
            #[cfg(feature = "std")]
            Self::Curve(_) => "curve",
            Self::Linkage(linkage) => linkage.mechanism().kind(),
        }
    }

    /// The record that makes an equal transmission.
    pub fn record(&self) -> TransmissionRecord<T> {
        match self {
            Self::Linear(_) => TransmissionRecord::Linear {},
            #[cfg(feature = "std")]
            Self::Curve(curved) => TransmissionRecord::Curve {
                knots: curved.curve.knots().iter().map(|knot| [knot.x, knot.y]).collect(),
                rule: curved.rule,
            },
            Self::Linkage(linkage) => linkage.mechanism().into(),
        }
    }

    /// The drive angle of a command. NaN gives NaN.
    #[inline]
    pub fn drive(&self, command: T) -> T {
        match self {
            Self::Linear(linear) => linear.forward.apply(command),
            _ => self.bent_drive(command),
        }
    }

    /// Apart, so that straight joints pay nothing for it.
    #[inline(never)]
    fn bent_drive(&self, command: T) -> T {
        match self {
            Self::Linear(linear) => linear.forward.apply(command),
            #[cfg(feature = "std")]
            Self::Curve(curved) => curved.curve.at(command),
            Self::Linkage(linkage) => linkage.drive(command),
        }
    }

    /// The command of a drive angle, also outside the drive range. NaN gives NaN.
    #[inline]
    pub fn command(&self, drive: T) -> T {
        match self {
            Self::Linear(linear) => linear.back.apply(drive),
            #[cfg(feature = "std")]
            Self::Curve(curved) => curved.curve.inverse(drive),
            Self::Linkage(linkage) => linkage.command(drive),
        }
    }

    /// Degrees of drive angle per unit of command at a command: the speed ratio, and what one step is worth.
    ///
    /// Beyond the ends, that of the straight way on; for a straight line the same everywhere. NaN gives NaN.
    pub fn drive_per_command(&self, command: T) -> T {
        match self {
            // A straight line would have its slope even at NaN; a gap stays a gap.
            Self::Linear(_) if command.is_nan() => command,
            Self::Linear(linear) => linear.forward.slope(),
            #[cfg(feature = "std")]
            Self::Curve(curved) => curved.curve.slope(command),
            Self::Linkage(linkage) => linkage.drive_per_command(command),
        }
    }
}

#[cfg(feature = "std")]
fn curved<T: Real>(
    knots: &[[T; 2]],
    rule: SlopeRule,
    command: Span<T>,
    drive: Span<T>,
    direction: Direction,
) -> Result<Transmission<T>, JointError> {
    let curve = Curve::new(knots, rule).map_err(JointError::Curve)?;
    let [c0, c1] = command.ends();
    let [d0, d1] = drive.ends();
    let (first, last) = if direction.is_inverted() { (d1, d0) } else { (d0, d1) };
    let ends = [
        ("first", knots.first(), [c0, first]),
        ("last", knots.last(), [c1, last]),
    ];
    for (which, found, wanted) in ends {
        let found = found.copied().unwrap_or([T::nan(); 2]);
        if found != wanted {
            return Err(JointError::CurveEnd {
                which,
                found: found.map(T::to_wide),
                wanted: wanted.map(T::to_wide),
            });
        }
    }
    Ok(Transmission::Curve(CurveTransmission { curve, rule }))
}
