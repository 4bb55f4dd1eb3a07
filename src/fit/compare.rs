//! What changed between two calibrations of a joint.
//!
//! Each quantity is judged by its normalised error `E_n = difference / √(U_old² + U_new²)` with expanded uncertainties
//! `U` at 95 %: up to 1 the two agree (ISO 13528:2022, 9.7; ISO/IEC 17043).

use super::outcome::{EndKind, Estimate, LimitFit, LostMotion, Trend};
use super::quantile::t_quantile;
use std::vec::Vec;

/// Coverage probability of the expanded uncertainties in E_n.
const COVERAGE: f64 = 0.95;
/// Teeth of the usual horn splines (common practice, no source).
const HORNS: [u8; 4] = [21, 23, 24, 25];

/// A quantity that two fits have in common.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
#[cfg_attr(
    feature = "serde",
    derive(serde::Serialize, serde::Deserialize),
    serde(rename_all = "kebab-case")
)]
#[non_exhaustive]
pub enum Quantity {
    /// Drive angle by which the joint's position moved, at the middle of the common sweep.
    Offset,
    /// Size of the slope, new over old.
    Scale,
    /// Contact at the lower end.
    Lower,
    /// Contact at the upper end.
    Upper,
    /// Lost motion, in measured units.
    LostMotion,
}

/// What E_n says.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
#[cfg_attr(
    feature = "serde",
    derive(serde::Serialize, serde::Deserialize),
    serde(rename_all = "kebab-case")
)]
pub enum Verdict {
    /// The two agree within their uncertainties.
    Same,
    /// They differ by more than their uncertainties.
    Changed,
    /// One of the fits does not have the quantity.
    NotComparable,
}

/// One quantity, then and now.
#[derive(Debug, Clone, Copy, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
#[non_exhaustive]
pub struct Change {
    /// Which quantity.
    pub quantity: Quantity,
    /// New less old (for the scale: the ratio less one) with its standard uncertainty.
    pub difference: Option<Estimate>,
    /// Normalised error, with the difference's sign.
    pub e_n: Option<f64>,
    /// What it says.
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
    /// What is left of the shift, in drive angle.
    pub left: f64,
}

/// A plain reading of the differences.
#[derive(Debug, Clone, Copy, PartialEq)]
#[cfg_attr(
    feature = "serde",
    derive(serde::Serialize, serde::Deserialize),
    serde(rename_all = "kebab-case", tag = "kind")
)]
#[non_exhaustive]
pub enum Diagnosis {
    /// Nothing differs by more than its uncertainty.
    Unchanged,
    /// The joint sits elsewhere on the servo: position and stops moved together.
    OffsetShifted {
        /// The shift in drive angle.
        drive: f64,
        /// Its standard uncertainty.
        u: f64,
        /// The whole number of teeth that fits best, if one does.
        spline: Option<SplineTeeth>,
    },
    /// The sensor moved on the joint: its readings shifted while the stops stayed where they were.
    SensorShifted {
        /// The shift in measured units.
        measured: f64,
    },
    /// Measured per drive angle changed.
    ScaleChanged {
        /// New over old.
        ratio: f64,
    },
    /// A stop stands further in than before, or stands where it was clear.
    RangeShrunk {
        /// The upper end, or else the lower.
        upper: bool,
        /// By how much, in drive angle.
        by: f64,
    },
    /// Lost motion grew.
    PlayGrown {
        /// Before, in measured units.
        from: f64,
        /// Now.
        to: f64,
    },
    /// The measured value now runs the other way: wires or mounting swapped.
    WiresSwapped,
}

impl core::fmt::Display for Diagnosis {
    fn fmt(&self, f: &mut core::fmt::Formatter<'_>) -> core::fmt::Result {
        match *self {
            Self::Unchanged => write!(f, "unchanged"),
            Self::OffsetShifted { drive, u, spline } => {
                write!(f, "offset shifted by {drive:.2} in drive angle (u {u:.2})")?;
                match spline {
                    Some(s) => {
                        let teeth = if s.teeth.abs() == 1 { "tooth" } else { "teeth" };
                        write!(
                            f,
                            ": {} {teeth} of a {}-tooth horn, {:.2} left",
                            s.teeth, s.horn, s.left
                        )
                    }
                    None => write!(f, ": no whole number of teeth of a 21-, 23-, 24- or 25-tooth horn"),
                }
            }
            Self::SensorShifted { measured } => {
                write!(f, "sensor shifted by {measured:.3} on the joint; the stops stayed")
            }
            Self::ScaleChanged { ratio } => write!(f, "scale changed to {ratio:.4} of what it was"),
            Self::RangeShrunk { upper, by } => {
                let end = if upper { "upper" } else { "lower" };
                write!(f, "range shrunk at the {end} end by {by:.2} in drive angle")
            }
            Self::PlayGrown { from, to } => write!(f, "play grown from {from:.3} to {to:.3}"),
            Self::WiresSwapped => write!(
                f,
                "wires swapped: the measured value runs the other way; do not close the loop before the sense is tested"
            ),
        }
    }
}

/// The comparison of two fits.
#[derive(Debug, Clone, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
#[non_exhaustive]
pub struct Comparison {
    /// Each quantity.
    pub changes: Vec<Change>,
    /// The slope has another sign.
    pub sense_changed: bool,
    /// All whole numbers of teeth that explain an offset shift within its uncertainty.
    pub teeth: Vec<SplineTeeth>,
    /// What it comes to, the gravest first.
    pub diagnoses: Vec<Diagnosis>,
}

/// A quantity with the expanded uncertainty that its degrees of freedom ask for.
#[derive(Clone, Copy)]
struct Known {
    value: f64,
    u: f64,
    expanded: f64,
}

impl Known {
    fn new(value: f64, u: f64, dof: usize) -> Self {
        Self {
            value,
            u,
            expanded: u * t_quantile(0.5 + 0.5 * COVERAGE, dof.max(1) as f64),
        }
    }

    fn scaled(self, factor: f64) -> Self {
        Self {
            value: self.value * factor,
            u: self.u * factor.abs(),
            expanded: self.expanded * factor.abs(),
        }
    }
}

/// Compares an earlier with a later fit of one joint, measured in the same units.
///
/// ```
/// use elbowroom::fit::{compare, fit_limits, Diagnosis, FitOptions, Readings};
/// let drive: Vec<f64> = (0..20).map(|i| 4.0 * f64::from(i)).collect();
/// let wobble = |i: usize| if i % 2 == 0 { 0.05 } else { -0.05 };
/// let measured: Vec<f64> = drive.iter().enumerate().map(|(i, d)| d + wobble(i)).collect();
/// // After a repair the horn sits one tooth of 24 further: 15 degrees.
/// let repaired: Vec<f64> = drive.iter().enumerate().map(|(i, d)| d + 15.0 + wobble(i + 1)).collect();
/// let options = FitOptions::default();
/// let old = fit_limits(&Readings::new(&drive, &measured), &options)?;
/// let new = fit_limits(&Readings::new(&drive, &repaired), &options)?;
/// let found = compare(&old, &new);
/// assert!(matches!(found.diagnoses[0], Diagnosis::OffsetShifted { spline: Some(s), .. } if s.horn == 24 && s.teeth == 1));
/// # Ok::<(), elbowroom::fit::FitError>(())
/// ```
pub fn compare(old: &LimitFit, new: &LimitFit) -> Comparison {
    let sense_changed = old.sense.trend != new.sense.trend;
    let middle = middle(old, new);
    let (before, after) = (position(old, middle), position(new, middle));
    let slope = 0.5 * (old.slope.abs() + new.slope.abs());
    let sign = if old.sense.trend == Trend::Rising { 1.0 } else { -1.0 };
    let per_drive = sign / slope;
    let old_slope = Known::new(old.slope.abs(), old.u_slope, old.dof).scaled(1.0 / old.slope.abs());
    let new_slope = Known::new(new.slope.abs(), new.u_slope, new.dof).scaled(1.0 / old.slope.abs());
    let contact = |fit: &LimitFit, upper: bool| {
        let end = if upper { &fit.upper } else { &fit.lower };
        match (end.kind, end.u) {
            (EndKind::Contact, Some(u)) => Some(Known::new(end.at, u, fit.dof)),
            _ => None,
        }
    };
    let play = |fit: &LimitFit| match fit.lost_motion {
        LostMotion::Measured { value, u, .. } => Some(Known::new(value, u, fit.dof)),
        LostMotion::NotDeterminable { .. } => None,
    };
    let offset = if sense_changed {
        not_comparable(Quantity::Offset)
    } else {
        change(Quantity::Offset, before.scaled(per_drive), after.scaled(per_drive))
    };
    let scale = change(Quantity::Scale, old_slope, new_slope);
    let lower = optional(Quantity::Lower, contact(old, false), contact(new, false));
    let upper = optional(Quantity::Upper, contact(old, true), contact(new, true));
    let lost = optional(Quantity::LostMotion, play(old), play(new));

    let mut diagnoses = Vec::new();
    let mut teeth = Vec::new();
    if sense_changed {
        diagnoses.push(Diagnosis::WiresSwapped);
    }
    if scale.verdict == Verdict::Changed {
        diagnoses.push(Diagnosis::ScaleChanged {
            ratio: new.slope.abs() / old.slope.abs(),
        });
    }
    let mut moved = Known {
        value: 0.0,
        u: 0.0,
        expanded: 0.0,
    };
    // A change of scale about some place of the sweep moves its middle by no more than this.
    let by_scale = if scale.verdict == Verdict::Changed {
        (new_slope.value - 1.0).abs() * half_sweep(old, new)
    } else {
        0.0
    };
    if let (Verdict::Changed, Some(shift)) = (offset.verdict, offset.difference)
        && shift.value.abs() > by_scale
    {
        // On another place of the spline the joint meets its stops that much earlier in drive angle; a sensor that
        // slipped leaves them.
        let stayed = [&lower, &upper].iter().any(|c| c.verdict == Verdict::Same);
        if stayed {
            diagnoses.push(Diagnosis::SensorShifted {
                measured: after.value - before.value,
            });
        } else {
            moved = Known {
                value: -shift.value,
                u: shift.u,
                expanded: offset.e_n.map_or(0.0, |e| (shift.value / e).abs()),
            };
            teeth = splines(shift.value, moved.expanded);
            diagnoses.push(Diagnosis::OffsetShifted {
                drive: shift.value,
                u: shift.u,
                spline: teeth.first().copied(),
            });
        }
    }
    for (is_upper, known) in [(false, &lower), (true, &upper)] {
        if let Some(by) = shrunk(old, new, is_upper, known, moved) {
            diagnoses.push(Diagnosis::RangeShrunk { upper: is_upper, by });
        }
    }
    if let (Verdict::Changed, Some(from), Some(to)) = (lost.verdict, play(old), play(new))
        && to.value > from.value
    {
        diagnoses.push(Diagnosis::PlayGrown {
            from: from.value,
            to: to.value,
        });
    }
    let changes: Vec<Change> = [offset, scale, lower, upper, lost].into();
    if diagnoses.is_empty() && changes.iter().all(|c| c.verdict != Verdict::Changed) {
        diagnoses.push(Diagnosis::Unchanged);
    }
    Comparison {
        changes,
        sense_changed,
        teeth,
        diagnoses,
    }
}

/// The middle of what both fits saw move.
fn middle(old: &LimitFit, new: &LimitFit) -> f64 {
    let low = old.lower.at.max(new.lower.at);
    let high = old.upper.at.min(new.upper.at);
    0.5 * (low + high)
}

/// Half the width of what both fits saw move.
fn half_sweep(old: &LimitFit, new: &LimitFit) -> f64 {
    let low = old.lower.at.max(new.lower.at);
    let high = old.upper.at.min(new.upper.at);
    (0.5 * (high - low)).abs()
}

/// The line's value at a drive angle.
fn position(fit: &LimitFit, drive: f64) -> Known {
    let variance =
        fit.u_intercept * fit.u_intercept + drive * (2.0 * fit.covariance + drive * fit.u_slope * fit.u_slope);
    Known::new(fit.intercept + fit.slope * drive, variance.max(0.0).sqrt(), fit.dof)
}

fn not_comparable(quantity: Quantity) -> Change {
    Change {
        quantity,
        difference: None,
        e_n: None,
        verdict: Verdict::NotComparable,
    }
}

fn optional(quantity: Quantity, old: Option<Known>, new: Option<Known>) -> Change {
    match (old, new) {
        (Some(old), Some(new)) => change(quantity, old, new),
        _ => not_comparable(quantity),
    }
}

fn change(quantity: Quantity, old: Known, new: Known) -> Change {
    let difference = Estimate {
        value: new.value - old.value,
        u: (old.u * old.u + new.u * new.u).sqrt(),
    };
    let expanded = (old.expanded * old.expanded + new.expanded * new.expanded).sqrt();
    // Two exact fits: any difference counts, and none does not.
    let e_n = if difference.value == 0.0 {
        0.0
    } else {
        difference.value / expanded.max(f64::MIN_POSITIVE.max(difference.value.abs() * 1e-12))
    };
    Change {
        quantity,
        difference: Some(difference),
        e_n: Some(e_n),
        verdict: if e_n.abs() <= 1.0 {
            Verdict::Same
        } else {
            Verdict::Changed
        },
    }
}

/// Whole numbers of teeth that leave no more of a shift than its expanded uncertainty, the closest first.
fn splines(shift: f64, expanded: f64) -> Vec<SplineTeeth> {
    let mut found: Vec<SplineTeeth> = HORNS
        .iter()
        .filter_map(|&horn| {
            let tooth = 360.0 / f64::from(horn);
            let teeth = (shift / tooth).round();
            let left = shift - teeth * tooth;
            // Beyond a turn it is no horn.
            (teeth != 0.0 && teeth.abs() <= f64::from(horn) && left.abs() <= expanded).then_some(SplineTeeth {
                horn,
                teeth: teeth as i32,
                left,
            })
        })
        .collect();
    found.sort_by(|a, b| a.left.abs().total_cmp(&b.left.abs()));
    found
}

/// By how much a stop stands further in than an offset shift explains; also where a stop is met that was clear before.
fn shrunk(old: &LimitFit, new: &LimitFit, upper: bool, change: &Change, moved: Known) -> Option<f64> {
    let (before, after) = if upper {
        (&old.upper, &new.upper)
    } else {
        (&old.lower, &new.lower)
    };
    if after.kind != EndKind::Contact {
        return None;
    }
    // Inwards is up at the lower end and down at the upper.
    let inwards = if upper { -1.0 } else { 1.0 };
    let by = inwards * (after.at - before.at - moved.value);
    let u_now = Known::new(after.at, after.u.unwrap_or(0.0), new.dof).expanded;
    let expanded = match change.difference {
        Some(difference) => change.e_n.map_or(0.0, |e| (difference.value / e).abs()),
        None => u_now,
    };
    let expanded = (expanded * expanded + moved.expanded * moved.expanded).sqrt();
    (by > expanded).then_some(by)
}
