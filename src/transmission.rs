//! How a command becomes a drive angle.

use crate::error::JointError;
use crate::linkage::{Branch, FourBar, Linkage, Mechanism, SliderCrank, Spool, Triangle, mechanisms};
use crate::map::{Direction, Line, LinearMap};
use crate::real::Real;
use crate::span::Span;

#[cfg(feature = "std")]
use crate::curve::{Curve, SlopeRule};
#[cfg(feature = "std")]
use std::vec::Vec;

/// Writes the record of a transmission from the table of mechanisms.
macro_rules! records {
    ($(
        $(#[doc = $text:literal])* $Kind:ident = $number:literal => $word:literal of $command:ident {
            $($(#[doc = $of:literal])* $name:ident: $unit:ident,)+
        } $([$(#[doc = $side:literal])* $branch:ident])?
    )+) => {
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
            $(
                $(#[doc = $text])*
                $Kind {
                    $($(#[doc = $of])* $name: T,)+
                    $($(#[doc = $side])* $branch: Branch,)?
                },
            )+
        }

        /// The words of all transmissions in a robot file.
        #[cfg(feature = "robot")]
        pub(crate) const TRANSMISSION_KINDS: &[&str] = &["linear", "curve", $($word),+];

        impl<T> TransmissionRecord<T> {
            /// The word for it in a robot file.
            pub fn kind(&self) -> &'static str {
                match self {
                    Self::Linear {} => "linear",
                    #[cfg(feature = "std")]
                    Self::Curve { .. } => "curve",
                    $(Self::$Kind { .. } => $word,)+
                }
            }

            /// The same transmission with each of its numbers in another form.
            ///
            /// ```
            /// use elbowroom::TransmissionRecord;
            /// let spool = TransmissionRecord::Spool { drum: 9.0_f64, per_turn: 0.1, pulley: 30.0 };
            /// assert_eq!(
            ///     spool.map(|x| x as f32),
            ///     TransmissionRecord::Spool { drum: 9.0_f32, per_turn: 0.1, pulley: 30.0 }
            /// );
            /// ```
            pub fn map<U>(self, f: impl Fn(T) -> U) -> TransmissionRecord<U> {
                match self {
                    Self::Linear {} => TransmissionRecord::Linear {},
                    #[cfg(feature = "std")]
                    Self::Curve { knots, rule } => TransmissionRecord::Curve {
                        knots: knots.into_iter().map(|knot| knot.map(&f)).collect(),
                        rule,
                    },
                    $(Self::$Kind { $($name,)+ $($branch)? } => TransmissionRecord::$Kind {
                        $($name: f($name),)+
                        $($branch)?
                    },)+
                }
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
                    $(Self::$Kind { $($name,)+ $($branch)? } => Mechanism::$Kind($Kind {
                        $($name: $name.to_wide(),)+
                        $($branch)?
                    }),)+
                })
            }
        }

        impl<T: Real> From<&Mechanism> for TransmissionRecord<T> {
            fn from(mechanism: &Mechanism) -> Self {
                match *mechanism {
                    $(Mechanism::$Kind(m) => Self::$Kind {
                        $($name: T::from_wide(m.$name),)+
                        $($branch: m.$branch)?
                    },)+
                }
            }
        }
    };
}
mechanisms!(records);

impl<T> Default for TransmissionRecord<T> {
    fn default() -> Self {
        Self::Linear {}
    }
}

impl<T> TransmissionRecord<T> {
    /// Whether it is the one that a joint has if nothing is said.
    pub fn is_linear(&self) -> bool {
        matches!(self, Self::Linear {})
    }
}

/// The mechanism between a command and the drive angle.
///
/// Every kind sends the ends of the command range exactly to the ends of the drive range and is monotone between
/// neighbouring floats. Beyond the ends each continues as a straight line.
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

    /// [`Transmission::drive`] of a command within the command range.
    #[inline]
    pub(crate) fn drive_inside(&self, command: T) -> T {
        match self {
            Self::Linear(linear) => linear.line().apply_inside(command),
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
    /// Beyond the ends, that of the straight continuation; for a straight line the same everywhere. NaN gives NaN.
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
