//! What changed between two calibrations of a joint.

mod ends;
mod finding;
mod judge;
mod shape;
mod stops;

pub use finding::{Change, Diagnosis, Quantity, SplineTeeth, Verdict};
#[cfg(feature = "robot")]
pub(crate) use finding::{Horn, Offset};

#[cfg(feature = "robot")]
pub(crate) use judge::{ERROR_RATE, detectable, holm};

use super::error::FitError;
use super::outcome::{LimitFit, LostMotion, NotDeterminable, Side, Trend};
use super::readings::check_option;
use super::warning::Warning;
use crate::unit::is_no_repair;
use ends::End;
use judge::{Known, Test, critical, judge};
use shape::{Stretch, bends, is_bent, position, shifts, slope, turn_about_zero};
use std::vec::Vec;
use stops::{Stops, is_none};

/// Teeth of the usual horn splines (an assumption of this library).
const HORNS: [u8; 4] = [21, 23, 24, 25];
/// Smallest change of a position that matters unless the options say otherwise, in drive angle.
const SMALLEST_DRIVE: f64 = 0.5;
/// The same of the scale, as a share.
const SMALLEST_SHARE: f64 = 0.01;

/// The options of a comparison.
///
/// ```
/// use elbowroom::fit::CompareOptions;
/// let options = CompareOptions::default().with_smallest_drive(0.2);
/// assert_eq!((options.smallest_drive, options.smallest_share), (0.2, 0.01));
/// ```
#[derive(Debug, Clone, Copy, PartialEq)]
#[non_exhaustive]
pub struct CompareOptions {
    /// Smallest change of a position that matters, in drive angle (or whatever the drive was given in); bend and lost motion
    /// are judged by as much at the joint. Zero or more. Default 0.5.
    pub smallest_drive: f64,
    /// Smallest change of the scale that matters, as a share; zero or more. Default 0.01.
    pub smallest_share: f64,
}

impl Default for CompareOptions {
    fn default() -> Self {
        Self {
            smallest_drive: SMALLEST_DRIVE,
            smallest_share: SMALLEST_SHARE,
        }
    }
}

impl CompareOptions {
    /// The same with another smallest change of a position.
    pub const fn with_smallest_drive(mut self, smallest_drive: f64) -> Self {
        self.smallest_drive = smallest_drive;
        self
    }

    /// The same with another smallest change of the scale.
    pub const fn with_smallest_share(mut self, smallest_share: f64) -> Self {
        self.smallest_share = smallest_share;
        self
    }

    pub(crate) fn check(&self) -> Result<(), FitError> {
        check_option("smallest_drive", self.smallest_drive, 0.0, 1e100)?;
        check_option("smallest_share", self.smallest_share, 0.0, 1e100)
    }
}

/// The comparison of two fits.
#[derive(Debug, Clone, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
#[non_exhaustive]
pub struct Comparison {
    /// Each quantity, in the order of [`Quantity`].
    pub changes: Vec<Change>,
    /// Tests made, which Holm's procedure holds together.
    pub tests: usize,
    /// The slope has another sign. Each fit is sure of its own to 99 % or more.
    pub sense_changed: bool,
    /// What it comes to, the gravest first; never empty.
    pub diagnoses: Vec<Diagnosis>,
    /// Warnings of the earlier fit: what it says may be less sure than its uncertainties.
    pub old_warnings: Vec<Warning>,
    /// Warnings of the later fit.
    pub new_warnings: Vec<Warning>,
}

impl Comparison {
    /// Whether something changed that matters.
    pub fn is_changed(&self) -> bool {
        self.diagnoses.iter().any(Diagnosis::is_change)
    }

    /// One quantity.
    pub fn change(&self, quantity: Quantity) -> Option<&Change> {
        self.changes.iter().find(|change| change.quantity == quantity)
    }
}

/// Compares an earlier with a later fit of one joint, measured in the same units.
///
/// *Significant* is a difference whose probability by chance, adjusted for all quantities that are compared, is below 5 %.
/// So of unchanged joints at most one in twenty is reported as changed in anything at all. *Changed* is what is
/// significant and no smaller than matters ([`CompareOptions`]); what is significant and smaller is
/// [`Diagnosis::SlightChange`]. What the later table did not test is [`Diagnosis::Untested`], lost motion that the earlier one could
/// not show [`Diagnosis::NotComparable`], and neither is ever called unchanged.
///
/// *Unit*: offset and ends in drive angle, the scale a share, bend and lost motion in measured units.
///
/// *Errors*: [`FitError::OptionOutside`] for an option below 0, above 1e100 or NaN.
///
/// *Edges*: fits without a common stretch have no offset and no bend. Where the sense changed, these two cannot be
/// compared. Differences below 1e-9 of the values are rounding and count as none. Where both tables lack sides, nothing
/// says what lost motion did to either: take such tables in the same order, or note the sides. Of two tables that each went one way, and
/// not the same way, offset and stops are [`Diagnosis::NotComparable`] where lost motion up to 8 deg may be all the difference.
///
/// # How it is judged
///
/// * Each quantity has a difference with the root of both squared standard uncertainties, and by that ratio a probability from
///   Student's t, with effective degrees of freedom of Welch and Satterthwaite (JCGM 100:2008, G.4.1). A bend has two
///   ratios, if one of the fits is of the third degree, and then their sum of squares by the F distribution (Scheffé,
///   Biometrika 40 (1953) 87).
/// * The probabilities are adjusted by Holm's procedure (Scandinavian Journal of Statistics 6 (1979) 65), which holds for
///   quantities however correlated.
/// * `E_n = difference / √(U_old² + U_new²)` with expanded uncertainties at 95 % (ISO 13528:2022, 9.7) is printed for
///   those who keep records of it. It decides nothing: five quantities with |E_n| up to 1 each raise a false
///   alarm in one of four or five comparisons of an unchanged joint.
/// * Lost motion is compared where both tables were reached from both sides, noted or by the order of their rows; the later one's is
///   brought to measured units of the earlier table by the ratio of the slopes, since another sensor or protractor shows another
///   value for the same play.
/// * Where one of the tables lacks sides, its positions may all be off by half the lost motion of the other. That is added to offset
///   and contacts as a standard uncertainty of two values with no scatter (JCGM 100:2008, 4.3.9 with all probability at
///   the bounds); to scale and bend what a step of the lost motion in the middle of the sweep gives, if the sides are
///   unknown rather than all the same.
/// * A joint that stalled met a stop between its last reading that follows and the first that falls short: anywhere there alike
///   (JCGM 100:2008, 4.3.7).
/// * An end that met a stop in one table only is compared with how far the other was clear, give or take the scatter of its
///   readings: the difference is then a bound ([`Change::at_least`]).
/// * Stops that both tables placed tell where a change lies. Where the scale changed and the sensor reads on them what it read before, at
///   other drive angles, the horn or the linkage changed, and neither sensor nor stops. Where both moved along the drive by the same, and the line by
///   something else, the horn and the sensor were shifted.
/// * Otherwise a significant offset is a shift of the joint on the servo, or of the sensor on the joint, according to which of the two leaves
///   less of the stops' differences. It is neither if a changed scale or bend explains it: the two lines cross in the
///   sweep, or differ by more along it than they have in common; or, with another scale, they cross where the drive or the sensor reads
///   zero, within the uncertainty there.
///
/// # What it finds
///
/// [`Change::detectable`] is the change that these two tables find with a probability of about 90 %: the larger of
/// critical value times `u` and smallest change that matters, plus the 90 % quantile times `u`; the critical value is
/// Student's at `1 − 0.05 / (2 · tests)`, the first step of Holm's procedure. A bend of which a straight fit shows nothing
/// must be larger by about one standard uncertainty.
///
/// Counted in `tests/fit_compare_rates.rs` over invented joints: of 7,200 pairs of tables of unchanged ones (18 kinds, 6 to
/// 82 readings a table) 3.4 % had anything significant and 1.6 % were called changed; of 4,800 pairs of which one
/// quantity had changed by `detectable`, 91 % were.
///
/// ```
/// use elbowroom::fit::{compare, fit_limits, CompareOptions, Diagnosis, FitOptions, Readings};
/// let drive: Vec<f64> = (0..20).map(|i| 4.0 * f64::from(i)).collect();
/// let wobble = |i: usize| if i % 2 == 0 { 0.05 } else { -0.05 };
/// let measured: Vec<f64> = drive.iter().enumerate().map(|(i, d)| d + wobble(i)).collect();
/// // After a repair the horn sits one tooth of 24 further: 15 degrees.
/// let repaired: Vec<f64> = drive.iter().enumerate().map(|(i, d)| d + 15.0 + wobble(i + 1)).collect();
/// let options = FitOptions::default();
/// let old = fit_limits(&Readings::new(&drive, &measured), &options)?;
/// let new = fit_limits(&Readings::new(&drive, &repaired), &options)?;
/// let found = compare(&old, &new, &CompareOptions::default())?;
/// assert!(found.is_changed());
/// assert!(matches!(&found.diagnoses[0], Diagnosis::OffsetShifted { teeth, .. } if teeth[0].horn == 24 && teeth[0].teeth == 1));
/// # Ok::<(), elbowroom::fit::FitError>(())
/// ```
pub fn compare(old: &LimitFit, new: &LimitFit, options: &CompareOptions) -> Result<Comparison, FitError> {
    options.check()?;
    let sense_changed = old.sense.trend != new.sense.trend;
    let stretch = Stretch::common(old, new);
    let (old_slope, new_slope) = (slope(old, stretch), slope(new, stretch));
    let per_drive = 0.5 * (old_slope.value + new_slope.value);
    let sign = if old.sense.trend == Trend::Rising { 1.0 } else { -1.0 };
    let to_drive = sign / per_drive;
    let sides = Sides::missing(old, new);
    let smallest = options.smallest_drive;
    let smallest_measured = smallest * per_drive;

    let offset = match stretch {
        _ if sense_changed => Test::none(Quantity::Offset, smallest, Verdict::NotComparable),
        None => Test::none(Quantity::Offset, smallest, Verdict::Untested),
        Some(stretch) => {
            let [before, after] = [old, new].map(|fit| position(fit, stretch).scaled(to_drive));
            Test::of(Quantity::Offset, smallest, before, after, sides.half)
        }
    };
    let scale = Test::of(
        Quantity::Scale,
        options.smallest_share,
        old_slope.scaled(1.0 / old_slope.value),
        new_slope.scaled(1.0 / old_slope.value),
        stretch.map_or(0.0, |stretch| sides.in_slope / stretch.half()),
    );
    let bend = match stretch {
        Some(stretch) if !sense_changed => bend(old, new, stretch, smallest_measured, sides.in_bend * per_drive),
        _ => Test::none(Quantity::Bend, smallest_measured, Verdict::NotComparable),
    };
    let ends = Side::ALL.map(|side| End::of(old, new, side));
    let [lower, upper] = ends.map(|end| end.test(smallest, sides.half));
    let lost_motions = LostMotions::of(old, new, old_slope.value / new_slope.value);
    // As they are: in units of the earlier table.
    let smallest_lost = smallest * old_slope.value;
    let lost = match (lost_motions.old, lost_motions.new) {
        (Some(before), Some(after)) => Test::of(Quantity::LostMotion, smallest_lost, before, after, 0.0),
        (Some(_), None) => Test::none(Quantity::LostMotion, smallest_lost, Verdict::Untested),
        (None, _) => Test::none(Quantity::LostMotion, smallest_lost, Verdict::NotComparable),
    };
    let (mut changes, tests) = judge([offset, scale, bend, lower, upper, lost].into());
    if let Some(lag) = lag_between(old, new) {
        for change in &mut changes {
            leave_open(change, lag);
        }
    }
    let mut found = Comparison {
        changes,
        tests,
        sense_changed,
        diagnoses: Vec::new(),
        old_warnings: old.warnings.clone(),
        new_warnings: new.warnings.clone(),
    };
    found.diagnoses = diagnose(&found, old, new, stretch, &ends, lost_motions);
    Ok(found)
}

/// The lost motion of both tables, in measured units of the earlier one: of one joint it stays the same drive angle, whatever the
/// later table's sensor or protractor shows for it.
#[derive(Clone, Copy)]
struct LostMotions {
    old: Option<Known>,
    new: Option<Known>,
}

impl LostMotions {
    /// `scale` is the earlier table's slope over the later one's.
    fn of(old: &LimitFit, new: &LimitFit, scale: f64) -> Self {
        let known = |fit: &LimitFit| match fit.lost_motion {
            LostMotion::Measured { value, u, .. } => Some(Known::new(value, u, fit.dof)),
            LostMotion::NotDeterminable { .. } => None,
        };
        Self {
            old: known(old),
            new: known(new).map(|known| known.scaled(scale.abs())),
        }
    }
}

/// Lost motion that two tables may differ by, deg of drive; what is more is a change of the joint. Common practice, no source: worn trains
/// of hobby servos have a few degrees.
const MOST_LAG: f64 = 8.0;

/// Which way lost motion shifts the later position, where each table was taken from one side and not from the same.
fn lag_between(old: &LimitFit, new: &LimitFit) -> Option<f64> {
    match (old.one_way, new.one_way) {
        (Some(before), Some(after)) if before != after => Some(-after.sign()),
        _ => None,
    }
}

/// Whether lost motion may be what shifted a position: the joint trails behind its drive.
fn may_be_lag(shift: f64, lag: f64) -> bool {
    shift * lag > 0.0 && shift.abs() <= MOST_LAG
}

/// Takes the verdict from a difference that may be the lost motion between two tables from opposite sides.
fn leave_open(change: &mut Change, lag: f64) {
    let moves = match change.quantity {
        Quantity::Offset => 1.0,
        // A joint that stands further meets its stops earlier.
        Quantity::Lower | Quantity::Upper => -1.0,
        _ => return,
    };
    let is_found = matches!(change.verdict, Verdict::Changed | Verdict::Negligible);
    if is_found && change.difference.is_some_and(|by| may_be_lag(moves * by.value, lag)) {
        change.verdict = Verdict::NotComparable;
    }
}

/// What the lost motion of one table leaves open in the other, which lacks sides; in drive angle.
struct Sides {
    /// Of a position.
    half: f64,
    /// Of the rise over half the sweep: 3/2 of the step, by least squares, as when one goes outward from the middle.
    in_slope: f64,
    /// Of the bend at the ends: 7/8 of the step, Legendre's third coefficient of it.
    in_bend: f64,
}

impl Sides {
    fn missing(old: &LimitFit, new: &LimitFit) -> Self {
        let (lost, reason) = match (&old.lost_motion, &new.lost_motion) {
            (LostMotion::Measured { drive, .. }, LostMotion::NotDeterminable { reason })
            | (LostMotion::NotDeterminable { reason }, LostMotion::Measured { drive, .. }) => (*drive, Some(*reason)),
            _ => (0.0, None),
        };
        let half = 0.5 * lost;
        // All from one side: the line is moved, neither turned nor bent.
        let step = if reason == Some(NotDeterminable::OneSide) {
            0.0
        } else {
            half
        };
        Self {
            half,
            in_slope: 1.5 * step,
            in_bend: 0.875 * step,
        }
    }
}

/// Whether the two are bent alike.
fn bend(old: &LimitFit, new: &LimitFit, stretch: Stretch, smallest: f64, also: f64) -> Test {
    let bends = bends(old, new, stretch);
    let [arch, wave] = [bends.arch, bends.wave].map(|[old, new]| judge::difference(old, new, also));
    let square = |known: Known| if known.u > 0.0 { known.value / known.u } else { 0.0 }.powi(2);
    let (departure, terms) = if bends.cubic {
        // At one of the ends both add up.
        let value = (arch.value.abs() + wave.value.abs()).copysign(arch.value);
        let u = (arch.u * arch.u + wave.u * wave.u).sqrt();
        (Known { value, u, ..arch }, 2.0)
    } else {
        (arch, 1.0)
    };
    let sum = square(arch) + if bends.cubic { square(wave) } else { 0.0 };
    let p = judge::p_of_squares(sum, terms, departure.dof);
    // What a straight fit does not show counts as bent alike: on the average about its standard uncertainty.
    let hidden = if is_bent(old) && is_bent(new) {
        0.0
    } else {
        departure.u / 2.0_f64.sqrt()
    };
    Test::with_p(Quantity::Bend, smallest, departure, p, departure.expanded()).hiding(hidden)
}

/// The gravest first.
fn diagnose(
    found: &Comparison,
    old: &LimitFit,
    new: &LimitFit,
    stretch: Option<Stretch>,
    ends: &[End; 2],
    lost_motions: LostMotions,
) -> Vec<Diagnosis> {
    let mut diagnoses = Vec::new();
    let of = |quantity| found.change(quantity);
    let changed = |quantity| of(quantity).is_some_and(|change| change.verdict == Verdict::Changed);
    if found.sense_changed {
        diagnoses.push(Diagnosis::WiresSwapped);
    }
    if let Some(difference) = of(Quantity::Scale).and_then(|change| change.difference)
        && changed(Quantity::Scale)
    {
        let ratio = 1.0 + difference.value;
        diagnoses.push(Diagnosis::ScaleChanged { ratio });
        if is_no_repair(ratio) {
            return diagnoses;
        }
    }
    if let Some(difference) = of(Quantity::Bend).and_then(|change| change.difference)
        && changed(Quantity::Bend)
    {
        diagnoses.push(Diagnosis::BendChanged {
            departure: difference.value,
            u: difference.u,
        });
    }
    let stops = Stops::of(old, new, ends, Sides::missing(old, new).half);
    let smallest = |quantity| of(quantity).map_or(0.0, |change| change.smallest);
    // The horn or the linkage alone: with another scale the line crosses the earlier one anywhere, and the stops are met elsewhere.
    // Of a bend it is in measured units, at the mean of both slopes.
    let measured_smallest = smallest(Quantity::Bend);
    let matters = [measured_smallest, smallest(Quantity::Offset)];
    let of_the_drive = changed(Quantity::Scale) && !found.sense_changed && stops.read_alike(found.tests, matters);
    // Where the lines would cross further away than the sweep is wide, the horn sits on another place as well.
    let scale_alone = of_the_drive && stretch.is_none_or(|stretch| is_common(shifts(old, new, stretch)));
    let shift = of(Quantity::Offset)
        .and_then(|change| change.difference)
        .filter(|_| changed(Quantity::Offset) && !changed(Quantity::Scale) && !found.sense_changed);
    // The horn and the sensor: both stops moved by the same, and not by as much as the line.
    let both = shift.and_then(|shift| {
        let smallest = smallest(Quantity::Offset);
        let (moved, measured) = stops.moved_together(found.tests, smallest)?;
        let left = Known {
            value: moved.value + shift.value,
            u: crate::math::hypot(moved.u, shift.u),
            ..moved
        };
        (!is_none(left, found.tests, smallest)).then_some((moved, measured))
    });
    // With the wires swapped the values say nothing of the stops, but their places do.
    let turned = stops.moved_together(found.tests, smallest(Quantity::Offset));
    let turned = turned.filter(|_| found.sense_changed).map(|(moved, _)| moved);
    if let Some(moved) = both.map(|(moved, _)| moved).or(turned) {
        let shift = -moved.value;
        diagnoses.push(Diagnosis::OffsetShifted {
            drive: shift,
            u: moved.u,
            teeth: splines(shift, moved.expanded().max(smallest(Quantity::Offset))),
            sensor_possible: false,
        });
    }
    if let Some((_, measured)) = both {
        diagnoses.push(Diagnosis::SensorShifted {
            measured,
            stops_stayed: false,
        });
    }
    let horn_is_told = both.is_some() || turned.is_some();
    let is_told = scale_alone || horn_is_told;
    let mut moved = None;
    if let (true, Some(change), Some(stretch)) = (changed(Quantity::Offset), of(Quantity::Offset), stretch)
        && let Some(shift) = change.difference
        && !is_told
        && is_shift(
            shifts(old, new, stretch),
            changed(Quantity::Scale),
            changed(Quantity::Bend),
        )
        && !(changed(Quantity::Scale) && turn_about_zero(old, new, stretch, found.tests))
    {
        // On another place of the spline the joint meets its stops that much earlier in drive angle; a sensor that
        // slipped leaves them.
        if !of_the_drive && ends.iter().any(|end| end.stayed(shift.value)) {
            let [before, after] = [old, new].map(|fit| position(fit, stretch).value);
            let measured = after - before;
            if measured.abs() > measured_smallest {
                diagnoses.push(Diagnosis::SensorShifted {
                    measured,
                    stops_stayed: true,
                });
            }
        } else {
            let expanded = change.e_n.map_or(0.0, |e_n| (shift.value / e_n).abs());
            // About which place the other lever turns, nobody knows: the shift may be that of any place of the sweep, or beside it.
            let (least, most) = if of_the_drive {
                shifts(old, new, stretch)
            } else {
                (0.0, 0.0)
            };
            let within = expanded.max(change.smallest).max(2.0 * (most - least));
            diagnoses.push(Diagnosis::OffsetShifted {
                drive: shift.value,
                u: shift.u,
                teeth: splines(shift.value, within),
                sensor_possible: ends.iter().all(|end| end.both(shift.value).is_none()),
            });
            moved = Some(Known {
                value: -shift.value,
                u: shift.u,
                dof: change.dof.unwrap_or(f64::INFINITY),
            });
        }
    }
    let before = diagnoses.len();
    for (end, quantity) in ends.iter().zip([Quantity::Lower, Quantity::Upper]) {
        if let Some(change) = of(quantity).filter(|_| !of_the_drive && !horn_is_told) {
            diagnoses.extend(end.diagnosis(change, moved, found.tests));
        }
    }
    if diagnoses.iter().skip(before).any(Diagnosis::is_change) {
        for diagnosis in &mut diagnoses {
            if let Diagnosis::SensorShifted { stops_stayed, .. } = diagnosis {
                *stops_stayed = false;
            }
        }
    }
    if let (true, Some(from), Some(to)) = (changed(Quantity::LostMotion), lost_motions.old, lost_motions.new) {
        let (from, to) = (from.value, to.value);
        diagnoses.push(if to > from {
            Diagnosis::LostMotionIncreased { from, to }
        } else {
            Diagnosis::LostMotionDecreased { from, to }
        });
    }
    for change in &found.changes {
        if let (Verdict::Negligible, Some(difference)) = (change.verdict, change.difference) {
            diagnoses.push(Diagnosis::SlightChange {
                quantity: change.quantity,
                by: difference.value,
                smallest: change.smallest,
            });
        }
    }
    // Lost motion that grew looks like a shift in a table from one side.
    let lag = new.one_way.map(|side| -side.sign());
    let lag_for = diagnoses.iter().find_map(|diagnosis| match *diagnosis {
        Diagnosis::OffsetShifted { drive, u, .. } => Some((drive, u)),
        _ => None,
    });
    let lag_for = lag_for.filter(|(drive, _)| may_be_lag(*drive, lag.unwrap_or(*drive)));
    // The ends have said so themselves, with the places.
    for quantity in [Quantity::Offset, Quantity::LostMotion] {
        if of(quantity).is_some_and(|change| change.verdict == Verdict::Untested) {
            let shift = lag_for.filter(|_| quantity == Quantity::LostMotion);
            diagnoses.push(Diagnosis::Untested {
                quantity,
                earlier: None,
                u: shift.map(|(_, u)| u),
                later: shift.map(|(drive, _)| drive),
            });
        }
    }
    if let Some(by) = of(Quantity::Offset)
        .filter(|change| change.verdict == Verdict::NotComparable)
        .and_then(|change| change.difference)
    {
        diagnoses.push(Diagnosis::NotComparable {
            quantity: Quantity::Offset,
            later: by.value,
            u: by.u,
        });
    }
    let now = lost_motions.new.filter(|_| lost_motions.old.is_none());
    if let (Some(now), Some(change)) = (now, of(Quantity::LostMotion))
        && now.value >= change.smallest.max(critical(1, now.dof) * now.u)
    {
        diagnoses.push(Diagnosis::NotComparable {
            quantity: Quantity::LostMotion,
            later: now.value,
            u: now.u,
        });
    }
    // What nothing can be said of goes last.
    diagnoses.sort_by_key(Diagnosis::is_silent);
    if diagnoses.is_empty() {
        diagnoses.push(Diagnosis::Unchanged);
    }
    diagnoses
}

/// Whether a shift, from its smallest and largest along the sweep, is as small as lines of two slopes have that cross within the width of
/// the sweep beyond its ends: about such a place a horn of another lever turns.
fn is_common((least, most): (f64, f64)) -> bool {
    least.abs().min(most.abs()) <= most - least || least * most < 0.0
}

/// Whether a significant offset is a shift of its own, from its smallest and largest along the sweep, or comes with
/// the scale or bend that changed.
fn is_shift((least, most): (f64, f64), scale_changed: bool, bend_changed: bool) -> bool {
    let common = if least > 0.0 {
        least
    } else if most < 0.0 {
        -most
    } else {
        0.0
    };
    let varying = most - least;
    (!scale_changed || common > 0.0) && (!bend_changed || common > varying)
}

/// Whole numbers of teeth that leave no more of a shift than `within`, the closest first.
pub(crate) fn splines(shift: f64, within: f64) -> Vec<SplineTeeth> {
    let mut found: Vec<SplineTeeth> = HORNS
        .iter()
        .filter_map(|&horn| {
            let tooth = 360.0 / f64::from(horn);
            let teeth = (shift / tooth).round();
            let left = shift - teeth * tooth;
            // Beyond a turn it is no horn.
            (teeth != 0.0 && teeth.abs() <= f64::from(horn) && left.abs() <= within).then_some(SplineTeeth {
                horn,
                teeth: teeth as i32,
                left,
            })
        })
        .collect();
    found.sort_by(|a, b| a.left.abs().total_cmp(&b.left.abs()));
    found
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_horn_is_turned_by_whole_teeth_up_to_a_turn() {
        for &horn in &HORNS {
            let tooth = 360.0 / f64::from(horn);
            let turned = |shift: f64| {
                let found = splines(shift, 0.01 * tooth);
                found.iter().find(|found| found.horn == horn).map(|found| found.teeth)
            };
            let teeth = i32::from(horn);
            for by in [1, -1, 2, -2, teeth - 1, teeth, -teeth] {
                assert_eq!(turned(f64::from(by) * tooth), Some(by), "{horn}");
            }
            assert_eq!(turned(f64::from(teeth + 1) * tooth), None);
            assert_eq!(turned(0.0), None);
            assert_eq!(turned(0.5 * tooth), None);
        }
        // The closest first.
        let left: Vec<f64> = splines(15.1, 3.0).iter().map(|found| found.left.abs()).collect();
        assert!(left.len() > 1 && left.is_sorted(), "{left:?}");
    }
}
