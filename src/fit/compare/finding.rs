//! What a comparison is made of, and the sentences of its diagnoses.

use super::super::estimate::Estimate;
use super::super::outcome::Side;
use crate::look::{Rounded, Statistic, Trimmed};
use crate::unit::{Unit, is_no_repair};
use std::vec::Vec;

/// A quantity that two fits have in common.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
#[cfg_attr(
    feature = "serde",
    derive(serde::Serialize, serde::Deserialize),
    serde(rename_all = "kebab-case")
)]
#[non_exhaustive]
pub enum Quantity {
    /// Drive angle by which the joint's position moved, averaged over the common sweep.
    Offset,
    /// Size of the slope, new over old.
    Scale,
    /// Departure from a straight line at the ends of the common sweep, in measured units.
    Bend,
    /// Contact at the lower end.
    Lower,
    /// Contact at the upper end.
    Upper,
    /// Lost motion, in measured units.
    LostMotion,
}

impl Quantity {
    /// The word of files and messages: `offset`, `scale`, `bend`, `lower`, `upper` or `lost-motion`.
    pub const fn as_str(self) -> &'static str {
        match self {
            Self::Offset => "offset",
            Self::Scale => "scale",
            Self::Bend => "bend",
            Self::Lower => "lower",
            Self::Upper => "upper",
            Self::LostMotion => "lost-motion",
        }
    }

    /// What it is called in a sentence, and in what it is counted.
    const fn named(self) -> (&'static str, &'static str) {
        match self {
            Self::Offset => ("offset", " in drive angle"),
            Self::Scale => ("scale", " of what it was"),
            Self::Bend => ("bend", " in measured units"),
            Self::Lower => ("lower stop", " in drive angle"),
            Self::Upper => ("upper stop", " in drive angle"),
            Self::LostMotion => ("lost motion", " in measured units"),
        }
    }
}

/// What is concluded of a quantity.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
#[cfg_attr(
    feature = "serde",
    derive(serde::Serialize, serde::Deserialize),
    serde(rename_all = "kebab-case")
)]
pub enum Verdict {
    /// No significant difference. Of an end without a stop: clear to the same place.
    Same,
    /// They differ significantly, and by no less than matters.
    Changed,
    /// They differ significantly, but by less than matters.
    Negligible,
    /// The earlier table has it, the later did not test it.
    Untested,
    /// The earlier table does not have it, or the two are not of the same kind; or the tables were taken from opposite sides, and lost motion
    /// may be all the difference.
    NotComparable,
}

impl Verdict {
    /// The word of files and messages: `same`, `changed`, `negligible`, `untested` or `not-comparable`.
    pub const fn as_str(self) -> &'static str {
        match self {
            Self::Same => "same",
            Self::Changed => "changed",
            Self::Negligible => "negligible",
            Self::Untested => "untested",
            Self::NotComparable => "not-comparable",
        }
    }
}

/// One quantity, then and now.
///
/// *Unit*: offset and ends in drive angle, the scale a share, bend and lost motion in measured units. What is absent could
/// not be had from these two tables.
#[derive(Debug, Clone, Copy, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
#[non_exhaustive]
pub struct Change {
    /// Which quantity.
    pub quantity: Quantity,
    /// New less old (for the scale: the ratio less one) with its standard uncertainty.
    pub difference: Option<Estimate>,
    /// The true difference may be larger: one table has no stop there, and is counted with how far it was clear.
    pub at_least: bool,
    /// Effective degrees of freedom of that uncertainty (Welch-Satterthwaite, GUM G.4.1); absent also where they have no
    /// bound.
    pub dof: Option<f64>,
    /// Normalised error (ISO 13528:2022, 9.7), with the difference's sign; printed, not decisive.
    pub e_n: Option<f64>,
    /// Probability of a difference at least as large by chance, of this quantity alone (Student's t; of a bend, F).
    pub p: Option<f64>,
    /// The same for the comparison as a whole, by Holm's procedure: below 0.05 the difference is significant.
    pub p_adjusted: Option<f64>,
    /// The change that these two tables find with a probability of about 90 %, in the unit of `difference`.
    pub detectable: Option<f64>,
    /// The smallest change that matters, in the unit of `difference`.
    pub smallest: f64,
    /// What is concluded.
    pub verdict: Verdict,
}

/// A whole number of spline teeth that explains a shift.
#[derive(Debug, Clone, Copy, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub struct SplineTeeth {
    /// Teeth of the horn.
    pub horn: u8,
    /// Teeth by which it moved, with sign.
    pub teeth: i32,
    /// The part of the shift that they do not explain, in drive angle.
    pub left: f64,
}

/// What an offset says of the horn, and what to do. `shift`: by how much more drive a command needs, deg; `teeth`: whole numbers of
/// teeth that explain it, the closest first.
pub(crate) struct Horn<'a> {
    pub(crate) shift: f64,
    /// Its standard uncertainty.
    pub(crate) u: f64,
    pub(crate) teeth: &'a [SplineTeeth],
}

impl core::fmt::Display for Horn<'_> {
    fn fmt(&self, f: &mut core::fmt::Formatter<'_>) -> core::fmt::Result {
        /// Further ones explain less and less.
        const MOST_TOLD: usize = 2;
        let counted = |spline: &SplineTeeth| {
            let count = spline.teeth.unsigned_abs();
            std::format!("{count} {}", if count == 1 { "tooth" } else { "teeth" })
        };
        let Some(closest) = self.teeth.first() else {
            return f.write_str(
                "the shift is not a whole number of horn teeth; look at the screw of the horn, the linkage and the mount of the sensor",
            );
        };
        for (place, spline) in self.teeth.iter().take(MOST_TOLD).enumerate() {
            let degrees = f64::from(spline.teeth.unsigned_abs()) * 360.0 / f64::from(spline.horn);
            let (before, towards) = match place {
                0 if self.shift < 0.0 => ("the horn sits ", " towards smaller drive angles"),
                0 => ("the horn sits ", " towards larger drive angles"),
                _ => (", or ", ""),
            };
            write!(
                f,
                "{before}{} of {} ({} deg){towards}, {} deg unexplained",
                counted(spline),
                spline.horn,
                Trimmed(degrees, 1),
                Rounded {
                    value: spline.left.abs(),
                    u: Some(self.u)
                }
            )?;
        }
        write!(f, "; set it back {}", counted(closest))
    }
}

/// An offset in words, to which its remedy is added.
pub(crate) struct Offset<'a> {
    pub(crate) horn: Horn<'a>,
    /// What it is compared with: `before`, `in the file`.
    pub(crate) than: &'static str,
}

impl core::fmt::Display for Offset<'_> {
    fn fmt(&self, f: &mut core::fmt::Formatter<'_>) -> core::fmt::Result {
        let Self { horn, than } = self;
        let u = horn.u;
        let more = if horn.shift < 0.0 { "less" } else { "more" };
        write!(
            f,
            "offset: a command needs {} deg {more} drive than {than} (standard uncertainty {}): {horn}",
            Rounded {
                value: horn.shift.abs(),
                u: Some(u)
            },
            Rounded { value: u, u: Some(u) }
        )
    }
}

/// A plain reading of the differences.
#[derive(Debug, Clone, PartialEq)]
#[cfg_attr(
    feature = "serde",
    derive(serde::Serialize, serde::Deserialize),
    serde(rename_all = "kebab-case", tag = "kind")
)]
#[non_exhaustive]
pub enum Diagnosis {
    /// No quantity differs significantly, and the later table tested all that the earlier one has.
    Unchanged,
    /// The joint sits elsewhere on the servo: position and stops moved together.
    OffsetShifted {
        /// By how much further the joint stands at one drive angle, deg of drive: a command needs so much less drive.
        drive: f64,
        /// Its standard uncertainty.
        u: f64,
        /// All whole numbers of teeth of a 21-, 23-, 24- or 25-tooth horn that agree with it, the closest first.
        teeth: Vec<SplineTeeth>,
        /// No stop was found in both tables, so that the sensor may have shifted on the joint instead.
        sensor_possible: bool,
    },
    /// The sensor moved on the joint: its readings shifted while the stops stayed where they were.
    SensorShifted {
        /// The shift in measured units.
        measured: f64,
        /// Whether no stop moved, so that it was the sensor alone.
        stops_stayed: bool,
    },
    /// Measured per drive angle changed. By a factor of 5 or more the tables are rather in different units, and nothing else is
    /// said of them.
    ScaleChanged {
        /// New over old.
        ratio: f64,
    },
    /// The bend of the joint changed: a linkage, a horn or the sensor's mount.
    BendChanged {
        /// By how much the ends of the common sweep depart from the line, in measured units.
        departure: f64,
        /// Its standard uncertainty.
        u: f64,
    },
    /// A stop stands further in than before, or stands where it was clear.
    RangeShrunk {
        /// Which end.
        side: Side,
        /// By how much, in drive angle.
        by: f64,
        /// Its standard uncertainty.
        u: f64,
        /// It may be more: the earlier table was clear to there and went no further.
        at_least: bool,
    },
    /// A stop stands further out than before, or is no longer where it was: something gave way or was taken off.
    RangeWidened {
        /// Which end.
        side: Side,
        /// By how much, in drive angle.
        by: f64,
        /// Its standard uncertainty.
        u: f64,
        /// It may be more: the later table is clear to there and went no further.
        at_least: bool,
    },
    /// Lost motion increased: play, a loose horn or link.
    LostMotionIncreased {
        /// Before, in measured units of the earlier table.
        from: f64,
        /// Now, in the same units.
        to: f64,
    },
    /// Lost motion decreased.
    LostMotionDecreased {
        /// Before, in measured units of the earlier table.
        from: f64,
        /// Now, in the same units.
        to: f64,
    },
    /// The measured value now runs the other way: wires or mounting swapped.
    WiresSwapped,
    /// A significant change that is smaller than what matters.
    SlightChange {
        /// Which quantity.
        quantity: Quantity,
        /// The change, with sign; of the scale the ratio less one.
        by: f64,
        /// The smallest change that matters.
        smallest: f64,
    },
    /// The earlier table has it, the later did not test it: nothing is said of it.
    Untested {
        /// Which quantity.
        quantity: Quantity,
        /// Where the end lay in the earlier table, in drive angle; of other quantities absent.
        earlier: Option<f64>,
        /// Standard uncertainty of `earlier`; of lost motion, that of `later`.
        u: Option<f64>,
        /// Where the later table ends; of lost motion, the shift of the joint that may be lost motion which increased.
        later: Option<f64>,
    },
    /// Whether it changed, nothing says: lost motion that matters in the later table and that the earlier one could not show, or an offset
    /// between tables from opposite sides that may be lost motion.
    NotComparable {
        /// Which quantity.
        quantity: Quantity,
        /// What it is in the later table, in measured units; of an offset the difference of both, in drive angle.
        later: f64,
        /// Standard uncertainty of `later`.
        u: f64,
    },
}

impl Diagnosis {
    /// Whether it says of a quantity that nothing can be said.
    pub(super) const fn is_silent(&self) -> bool {
        matches!(self, Self::Untested { .. } | Self::NotComparable { .. })
    }

    /// Whether it says that something changed that matters.
    pub(crate) const fn is_change(&self) -> bool {
        !matches!(self, Self::Unchanged | Self::SlightChange { .. }) && !self.is_silent()
    }
}

const fn at_least(bound: bool) -> &'static str {
    if bound { "at least " } else { "" }
}

impl core::fmt::Display for Diagnosis {
    fn fmt(&self, f: &mut core::fmt::Formatter<'_>) -> core::fmt::Result {
        match self {
            Self::Unchanged => write!(f, "unchanged"),
            Self::OffsetShifted {
                drive,
                u,
                teeth,
                sensor_possible,
            } => {
                // Where the joint stands further at one drive angle, a command needs less of it.
                let (shift, than) = (-drive, "before");
                let horn = Horn { shift, u: *u, teeth };
                let offset = Offset { horn, than };
                write!(f, "{offset}, or adopt the later readings in the robot file")?;
                if *sensor_possible {
                    write!(
                        f,
                        "; no stop was found in both tables, so the sensor may have shifted on the joint instead, or the protractor was placed differently"
                    )?;
                }
                Ok(())
            }
            Self::SensorShifted { measured, stops_stayed } => {
                write!(
                    f,
                    "sensor, or protractor, shifted by {} on the joint",
                    Statistic(*measured)
                )?;
                f.write_str(if *stops_stayed { "; the stops did not move" } else { "" })
            }
            Self::ScaleChanged { ratio } if is_no_repair(*ratio) => {
                write!(f, "scale is {} times what it was, ", Statistic(*ratio))?;
                let explains = |unit: Unit, other| unit.explains(other, *ratio).is_some();
                if explains(Unit::Deg, Unit::Rad) || explains(Unit::Rad, Unit::Deg) {
                    f.write_str("as between values in deg and in rad")?;
                } else {
                    f.write_str("which no repair or wear makes of it")?;
                }
                f.write_str(": bring drive and measured values of both tables to the same units, and compare again")
            }
            Self::ScaleChanged { ratio } => write!(
                f,
                "scale changed by {:+} %: look at the servo, which may have another range, the horn, the linkage and the sensor",
                Statistic(100.0 * (ratio - 1.0))
            ),
            Self::BendChanged { departure, u } => write!(
                f,
                "bend changed by {} at the ends of the sweep (measured units): offset and scale are those of the whole bend; look at horn, linkage and the sensor's mount",
                Rounded {
                    value: departure.abs(),
                    u: Some(*u)
                }
                .with_u("")
            ),
            &Self::RangeShrunk {
                side,
                by,
                u,
                at_least: bound,
            } => write!(
                f,
                "range shrunk at the {} end by {}{} in drive angle: look for what stops the joint there",
                side.as_str(),
                at_least(bound),
                Rounded { value: by, u: Some(u) }
            ),
            &Self::RangeWidened {
                side,
                by,
                u,
                at_least: bound,
            } => write!(
                f,
                "range widened at the {} end by {}{} in drive angle: look whether the stop gave way before the new travel is used",
                side.as_str(),
                at_least(bound),
                Rounded { value: by, u: Some(u) }
            ),
            Self::LostMotionIncreased { from, to } => write!(
                f,
                "lost motion increased from {} to {}",
                Statistic(*from),
                Statistic(*to)
            ),
            Self::LostMotionDecreased { from, to } => write!(
                f,
                "lost motion decreased from {} to {}",
                Statistic(*from),
                Statistic(*to)
            ),
            Self::WiresSwapped => write!(
                f,
                "the measured value runs the other way: the outer wires of the sensor are swapped, or the protractor was read in the other direction; do not close a loop over the sensor before its sense is tested"
            ),
            &Self::SlightChange { quantity, by, smallest } => {
                let (name, unit) = quantity.named();
                write!(
                    f,
                    "{name} changed by {:+}{unit}, significant but less than the {} that matters",
                    Statistic(by),
                    Statistic(smallest)
                )
            }
            &Self::Untested {
                quantity,
                earlier,
                u,
                later,
            } => {
                let (name, _) = quantity.named();
                match (quantity, earlier, later) {
                    (Quantity::Lower | Quantity::Upper, Some(earlier), Some(later)) => write!(
                        f,
                        "{} end not tested: the later table is clear to {} only and placed no stop, the earlier end lay at {}; take readings there if it is safe",
                        quantity.as_str(),
                        Rounded { value: later, u: None },
                        Rounded { value: earlier, u }
                    ),
                    (Quantity::LostMotion, _, Some(shift)) => write!(
                        f,
                        "lost motion not tested: the later table has no readings known to be from both sides, and the shift of {} deg in drive angle may be lost motion that increased; repeat some positions from the other side before anything is set back",
                        Rounded { value: shift.abs(), u }
                    ),
                    (Quantity::LostMotion, ..) => write!(
                        f,
                        "lost motion not tested: the later table has no readings known to be from both sides; repeat some positions from the other side"
                    ),
                    _ => write!(
                        f,
                        "{name} not tested: the tables have no stretch in common; repeat the sweep over the earlier one"
                    ),
                }
            }
            &Self::NotComparable {
                quantity: Quantity::Offset,
                later,
                u,
            } => write!(
                f,
                "offset and stops not comparable: the earlier table was taken from one side and the later from the other, and the {} deg in drive angle between them may be lost motion; repeat some positions of the later table from the other side",
                Rounded {
                    value: later.abs(),
                    u: Some(u)
                }
            ),
            &Self::NotComparable { quantity, later, u } => {
                let (name, unit) = quantity.named();
                write!(
                    f,
                    "{name} not comparable: it is {}{unit} now, and the earlier table has no readings known to be from both sides, which leaves offset, scale and stops uncertain by half of that; compare with a table that goes there and back",
                    Rounded {
                        value: later,
                        u: Some(u)
                    }
                )
            }
        }
    }
}
