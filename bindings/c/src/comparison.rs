//! What changed between two fits of one joint.

use crate::fit::elb_fit;
use crate::fit_values::{ELB_SIDE_LOWER, ELB_SIDE_NONE, ELB_SIDE_UPPER};
use crate::handle::{self, Handle, nth, read};
use crate::pointer::{self, Growing};
use crate::refusal::{Refusal, elb_error};
use crate::status::elb_status;
use crate::text::c_text;
use model::Side;
use model::fit::{Change, CompareOptions, Comparison, Diagnosis, Quantity, SplineTeeth, Verdict};
use std::ffi::{CString, c_char};

/// The comparison of two fits. Immutable: any number of threads may read it at once.
#[derive(Debug)]
pub struct elb_comparison {
    found: Comparison,
    texts: Vec<CString>,
    /// Of the earlier table, then of the later.
    warnings: Vec<(u32, CString)>,
}

impl Handle for elb_comparison {
    const WHAT: &'static str = "comparison";
}

/// The options of a comparison. Begin with elb_compare_options_init. Fields are only ever appended.
#[derive(Debug, Clone, Copy)]
#[repr(C)]
pub struct elb_compare_options {
    /// Bytes of this struct as the caller knows it; set by elb_compare_options_init.
    pub size: usize,
    /// Smallest change of a position that matters, in drive angle; 0 or more. Default 0.5. Bend and lost motion are judged by as much at
    /// the joint.
    pub smallest_drive: f64,
    /// Smallest change of the scale that matters, as a share; 0 or more. Default 0.01.
    pub smallest_share: f64,
}

// SAFETY: `repr(C)`, begins with its size, and holds numbers only.
unsafe impl Growing for elb_compare_options {
    const WHAT: &'static str = "elb_compare_options";

    fn defaults() -> Self {
        let options = CompareOptions::default();
        Self {
            size: size_of::<Self>(),
            smallest_drive: options.smallest_drive,
            smallest_share: options.smallest_share,
        }
    }
}

/// Quantity: drive angle by which the joint's position moved, averaged over the common sweep.
pub const ELB_QUANTITY_OFFSET: u32 = 0;
/// Quantity: size of the slope, new over old.
pub const ELB_QUANTITY_SCALE: u32 = 1;
/// Quantity: contact at the lower end, drive angle.
pub const ELB_QUANTITY_LOWER: u32 = 2;
/// Quantity: contact at the upper end, drive angle.
pub const ELB_QUANTITY_UPPER: u32 = 3;
/// Quantity: lost motion, in measured units.
pub const ELB_QUANTITY_LOST_MOTION: u32 = 4;
/// Quantity: departure from a straight line at the ends of the common sweep, in measured units.
pub const ELB_QUANTITY_BEND: u32 = 5;

/// Verdict: no significant difference. Of an end without a stop: clear to the same place, and the numbers are NaN.
pub const ELB_VERDICT_SAME: u32 = 0;
/// Verdict: they differ significantly, and by no less than matters.
pub const ELB_VERDICT_CHANGED: u32 = 1;
/// Verdict: the earlier table does not have it, or the two are not of the same kind, and the numbers are NaN; or the tables were taken from
/// opposite sides, and lost motion may be all the difference.
pub const ELB_VERDICT_NOT_COMPARABLE: u32 = 2;
/// Verdict: they differ significantly, but by less than matters.
pub const ELB_VERDICT_NEGLIGIBLE: u32 = 3;
/// Verdict: the earlier table has it, the later did not test it; the numbers are NaN or a bound.
pub const ELB_VERDICT_UNTESTED: u32 = 4;

/// One quantity, then and now. Frozen at 72 bytes.
///
/// Offset and ends in drive angle, the scale a share, bend and lost motion in measured units.
#[derive(Debug, Clone, Copy)]
#[repr(C)]
pub struct elb_change {
    /// New less old; for the scale the ratio less one.
    pub difference: f64,
    /// Its standard uncertainty.
    pub u: f64,
    /// Effective degrees of freedom of `u` (Welch-Satterthwaite, GUM G.4.1); NaN where they have no bound.
    pub dof: f64,
    /// Normalised error E_n (ISO 13528), with the difference's sign; it decides nothing.
    pub e_n: f64,
    /// Probability of a difference at least as large by chance, of this quantity alone; NaN where it was not tested.
    pub p: f64,
    /// The same for the comparison as a whole (Holm): significant below 0.05.
    pub p_adjusted: f64,
    /// The change that these two tables find with a probability of about 90 %.
    pub detectable: f64,
    /// The smallest change that matters.
    pub smallest: f64,
    /// ELB_VERDICT_...
    pub verdict: u32,
    /// 1 if the true difference may be larger: one table has no stop there, and counts with how far it was clear.
    pub at_least: u32,
}

const _: () = assert!(size_of::<elb_change>() == 72);

impl From<&Change> for elb_change {
    fn from(change: &Change) -> Self {
        Self {
            difference: change.difference.map_or(f64::NAN, |difference| difference.value),
            u: change.difference.map_or(f64::NAN, |difference| difference.u),
            dof: change.dof.unwrap_or(f64::NAN),
            e_n: change.e_n.unwrap_or(f64::NAN),
            p: change.p.unwrap_or(f64::NAN),
            p_adjusted: change.p_adjusted.unwrap_or(f64::NAN),
            detectable: change.detectable.unwrap_or(f64::NAN),
            smallest: change.smallest,
            verdict: match change.verdict {
                Verdict::Same => ELB_VERDICT_SAME,
                Verdict::Changed => ELB_VERDICT_CHANGED,
                Verdict::NotComparable => ELB_VERDICT_NOT_COMPARABLE,
                Verdict::Negligible => ELB_VERDICT_NEGLIGIBLE,
                Verdict::Untested => ELB_VERDICT_UNTESTED,
            },
            at_least: change.at_least.into(),
        }
    }
}

/// A whole number of spline teeth that explains a shift. Frozen at 16 bytes.
#[derive(Debug, Clone, Copy)]
#[repr(C)]
pub struct elb_spline_teeth {
    /// The part of the shift that the teeth do not explain, in drive angle.
    pub left: f64,
    /// Teeth by which the horn moved, with sign.
    pub teeth: i32,
    /// Teeth of the horn: 21, 23, 24 or 25.
    pub horn: u32,
}

const _: () = assert!(size_of::<elb_spline_teeth>() == 16);

/// Table: the earlier one.
pub const ELB_TABLE_EARLIER: u32 = 0;
/// Table: the later one.
pub const ELB_TABLE_LATER: u32 = 1;

/// A warning of one of the two fits. Frozen.
#[derive(Debug, Clone, Copy)]
#[repr(C)]
pub struct elb_table_warning {
    /// The sentence; lives as long as the comparison.
    pub text: *const c_char,
    /// ELB_TABLE_EARLIER or ELB_TABLE_LATER.
    pub table: u32,
    /// Always 0.
    pub reserved: u32,
}

/// Diagnosis: no quantity differs significantly, and the later table tested all that the earlier one has.
pub const ELB_DIAGNOSIS_UNCHANGED: u32 = 0;
/// Diagnosis: the joint sits elsewhere on the servo. `value` is the shift in drive angle, `u` its standard uncertainty;
/// `horn` and `teeth` the whole number of spline teeth that fits best, 0 if none does, and `left` what that leaves;
/// elb_comparison_teeth lists all that agree. `sensor_possible` is 1 if no stop was found in both tables, so that the sensor may
/// have shifted on the joint instead.
pub const ELB_DIAGNOSIS_OFFSET_SHIFTED: u32 = 1;
/// Diagnosis: the sensor moved on the joint. `value` is the shift in measured units.
pub const ELB_DIAGNOSIS_SENSOR_SHIFTED: u32 = 2;
/// Diagnosis: measured per drive angle changed. `value` is new over old.
pub const ELB_DIAGNOSIS_SCALE_CHANGED: u32 = 3;
/// Diagnosis: a stop stands further in than before. `side` is which, `value` by how much in drive angle, `u` its standard uncertainty; more is possible if
/// `at_least` is 1.
pub const ELB_DIAGNOSIS_RANGE_SHRUNK: u32 = 4;
/// Diagnosis: lost motion increased. `value` is now, `before` is before, in measured units.
pub const ELB_DIAGNOSIS_LOST_MOTION_INCREASED: u32 = 5;
/// Diagnosis: the measured value now runs the other way. Do not close the loop before the sense is tested.
pub const ELB_DIAGNOSIS_WIRES_SWAPPED: u32 = 6;
/// Diagnosis: a stop stands further out than before, or is gone. `side`, `value`, `u` and `at_least` as where it stands further in.
pub const ELB_DIAGNOSIS_RANGE_WIDENED: u32 = 7;
/// Diagnosis: lost motion decreased. `value` is now, `before` is before, in measured units.
pub const ELB_DIAGNOSIS_LOST_MOTION_DECREASED: u32 = 8;
/// Diagnosis: the bend of the joint changed. `value` is by how much at the ends of the common sweep, in measured
/// units, `u` its standard uncertainty.
pub const ELB_DIAGNOSIS_BEND_CHANGED: u32 = 9;
/// Diagnosis: a significant change of `quantity` that is smaller than what matters. `value` is the change, `smallest`
/// what matters. It counts as no change.
pub const ELB_DIAGNOSIS_SLIGHT_CHANGE: u32 = 10;
/// Diagnosis: the later table did not test `quantity`. Of an end `before` is where it lay, `value` where the later table
/// ends, both in drive angle; of lost motion `value` is the shift that it may explain, in drive angle, if any. It counts as no change.
pub const ELB_DIAGNOSIS_UNTESTED: u32 = 11;
/// Diagnosis: the later table shows `quantity`, lost motion, and the earlier one could not: `value` is what it is now, in measured units.
/// Or `quantity` is the offset between tables from opposite sides, in drive angle, which may be lost motion. `u` is the standard uncertainty
/// of `value`. It counts as no change.
pub const ELB_DIAGNOSIS_NOT_COMPARABLE: u32 = 12;
/// Diagnosis: one that this version has no number for; read its text.
pub const ELB_DIAGNOSIS_OTHER: u32 = 255;

/// A plain reading of the differences. Numbers that its kind does not name are NaN, and whole ones 0. Frozen.
#[derive(Debug, Clone, Copy)]
#[repr(C)]
pub struct elb_diagnosis {
    /// The sentence; lives as long as the comparison.
    pub text: *const c_char,
    /// See the ELB_DIAGNOSIS_... constants.
    pub value: f64,
    /// Standard uncertainty of `value`.
    pub u: f64,
    /// The value before.
    pub before: f64,
    /// The part of the shift that the teeth do not explain, in drive angle.
    pub left: f64,
    /// The smallest change that matters.
    pub smallest: f64,
    /// Teeth by which the horn moved, with sign.
    pub teeth: i32,
    /// Teeth of the horn: 21, 23, 24 or 25.
    pub horn: u32,
    /// ELB_DIAGNOSIS_...
    pub kind: u32,
    /// ELB_SIDE_...
    pub side: u32,
    /// ELB_QUANTITY_...
    pub quantity: u32,
    /// 1 if `value` is a bound and may be more.
    pub at_least: u32,
    /// 1 if the sensor may have shifted instead.
    pub sensor_possible: u32,
    /// Always 0.
    pub reserved: u32,
}

/// ---- What changed since ----
///
/// ----
///
/// Sets options to their defaults, and notes the struct's size.
///
/// - size: `sizeof(elb_compare_options)`, as the caller's header has it.
#[unsafe(no_mangle)]
#[must_use]
pub unsafe extern "C" fn elb_compare_options_init(options: *mut elb_compare_options, size: usize) -> elb_status {
    // SAFETY: the header's contract.
    unsafe { handle::init(options, size) }
}

/// Compares an earlier with a later fit of one joint, measured in the same units.
///
/// All quantities are judged together: of unchanged joints at most one in twenty is reported as changed in anything at
/// all (Student's t with the degrees of freedom of both fits; Holm's procedure). What is significant and smaller than the
/// smallest that matters is reported as such. What the later table did not test is never called unchanged.
///
/// - options: the options of the fit; NULL means the defaults.
/// - out: receives the comparison; free it with elb_comparison_free.
/// - error: receives the details when the call fails.
///
/// Nullable: options, error. Errors: ELB_STATUS_OPTION_OUTSIDE.
#[unsafe(no_mangle)]
#[must_use]
pub unsafe extern "C" fn elb_fit_compare(
    old: *const elb_fit,
    new: *const elb_fit,
    options: *const elb_compare_options,
    out: *mut *mut elb_comparison,
    error: *mut elb_error,
) -> elb_status {
    // SAFETY: the header's contract.
    unsafe {
        handle::make(out, error, || {
            let (old, new) = (pointer::borrow("old", old)?, pointer::borrow("new", new)?);
            let mut asked = CompareOptions::default();
            if !options.is_null() {
                let options = pointer::read_sized(options)?;
                asked = asked
                    .with_smallest_drive(options.smallest_drive)
                    .with_smallest_share(options.smallest_share);
            }
            let found = model::fit::compare(&old.fit, &new.fit, &asked)?;
            let texts = found.diagnoses.iter().map(c_text).collect();
            let of = |table, warnings: &[model::fit::Warning]| -> Vec<(u32, CString)> {
                warnings.iter().map(|warning| (table, c_text(warning))).collect()
            };
            let mut warnings = of(ELB_TABLE_EARLIER, &found.old_warnings);
            warnings.extend(of(ELB_TABLE_LATER, &found.new_warnings));
            Ok(elb_comparison { found, texts, warnings })
        })
    }
}

/// Frees a comparison. It must be freed once, and never while another thread uses it.
///
/// Nullable: comparison (nothing happens).
#[unsafe(no_mangle)]
pub unsafe extern "C" fn elb_comparison_free(comparison: *mut elb_comparison) {
    // SAFETY: the header's contract.
    unsafe { handle::free(comparison) }
}

/// How one quantity changed.
///
/// - quantity: ELB_QUANTITY_...
/// - out: receives it.
///
/// Errors: ELB_STATUS_UNKNOWN_VALUE.
#[unsafe(no_mangle)]
#[must_use]
pub unsafe extern "C" fn elb_comparison_change(
    comparison: *const elb_comparison,
    quantity: u32,
    out: *mut elb_change,
) -> elb_status {
    // SAFETY: the header's contract.
    unsafe {
        read(comparison, out, |comparison| {
            let found = &comparison.found;
            let wanted = match quantity {
                ELB_QUANTITY_OFFSET => Quantity::Offset,
                ELB_QUANTITY_SCALE => Quantity::Scale,
                ELB_QUANTITY_LOWER => Quantity::Lower,
                ELB_QUANTITY_UPPER => Quantity::Upper,
                ELB_QUANTITY_LOST_MOTION => Quantity::LostMotion,
                ELB_QUANTITY_BEND => Quantity::Bend,
                other => {
                    return Err(Refusal::Value {
                        what: "quantity",
                        given: other.into(),
                        right: "one of ELB_QUANTITY_..., 0 to 5",
                    });
                }
            };
            let change = found
                .change(wanted)
                .ok_or(Refusal::Absent("this comparison has no such quantity"))?;
            Ok(change.into())
        })
    }
}

/// Whether something changed that matters: 1 or 0. Changes smaller than that and quantities that were not tested do not count.
#[unsafe(no_mangle)]
#[must_use]
pub unsafe extern "C" fn elb_comparison_is_changed(comparison: *const elb_comparison, out: *mut u32) -> elb_status {
    // SAFETY: the header's contract.
    unsafe { read(comparison, out, |comparison| Ok(comparison.found.is_changed().into())) }
}

/// How many whole numbers of spline teeth agree with a shifted offset, of all horns together; 0 without one.
#[unsafe(no_mangle)]
#[must_use]
pub unsafe extern "C" fn elb_comparison_teeth_count(comparison: *const elb_comparison, out: *mut usize) -> elb_status {
    // SAFETY: the header's contract.
    unsafe { read(comparison, out, |comparison| Ok(teeth(comparison).len())) }
}

/// One of them, the closest first.
///
/// - i: 0 to elb_comparison_teeth_count - 1.
/// - out: receives it.
///
/// Errors: ELB_STATUS_ABSENT.
#[unsafe(no_mangle)]
#[must_use]
pub unsafe extern "C" fn elb_comparison_teeth(
    comparison: *const elb_comparison,
    i: usize,
    out: *mut elb_spline_teeth,
) -> elb_status {
    // SAFETY: the header's contract.
    unsafe {
        read(comparison, out, |comparison| {
            let teeth = teeth(comparison);
            let one = nth("spline teeth", teeth, i)?;
            Ok(elb_spline_teeth {
                left: one.left,
                teeth: one.teeth,
                horn: one.horn.into(),
            })
        })
    }
}

fn teeth(comparison: &elb_comparison) -> &[SplineTeeth] {
    let shifted = comparison.found.diagnoses.iter().find_map(|one| match one {
        Diagnosis::OffsetShifted { teeth, .. } => Some(teeth.as_slice()),
        _ => None,
    });
    shifted.unwrap_or_default()
}

/// How many warnings the two fits carry together.
#[unsafe(no_mangle)]
#[must_use]
pub unsafe extern "C" fn elb_comparison_warning_count(
    comparison: *const elb_comparison,
    out: *mut usize,
) -> elb_status {
    // SAFETY: the header's contract.
    unsafe { read(comparison, out, |comparison| Ok(comparison.warnings.len())) }
}

/// One of them; those of the earlier table come first.
///
/// - i: 0 to elb_comparison_warning_count - 1.
/// - out: receives it.
///
/// Errors: ELB_STATUS_ABSENT.
#[unsafe(no_mangle)]
#[must_use]
pub unsafe extern "C" fn elb_comparison_warning(
    comparison: *const elb_comparison,
    i: usize,
    out: *mut elb_table_warning,
) -> elb_status {
    // SAFETY: the header's contract.
    unsafe {
        read(comparison, out, |comparison| {
            let (table, text) = nth("warning", &comparison.warnings, i)?;
            Ok(elb_table_warning {
                text: text.as_ptr(),
                table: *table,
                reserved: 0,
            })
        })
    }
}

/// How many diagnoses a comparison has: at least one, the gravest first.
#[unsafe(no_mangle)]
#[must_use]
pub unsafe extern "C" fn elb_comparison_diagnosis_count(
    comparison: *const elb_comparison,
    out: *mut usize,
) -> elb_status {
    // SAFETY: the header's contract.
    unsafe { read(comparison, out, |comparison| Ok(comparison.texts.len())) }
}

/// One diagnosis.
///
/// - i: 0 to elb_comparison_diagnosis_count - 1.
/// - out: receives it.
///
/// Errors: ELB_STATUS_ABSENT.
#[unsafe(no_mangle)]
#[must_use]
pub unsafe extern "C" fn elb_comparison_diagnosis(
    comparison: *const elb_comparison,
    i: usize,
    out: *mut elb_diagnosis,
) -> elb_status {
    // SAFETY: the header's contract.
    unsafe {
        read(comparison, out, |comparison| {
            let found = comparison.found.diagnoses.get(i).zip(comparison.texts.get(i));
            let (diagnosis, text) = found.ok_or(Refusal::Index {
                what: "diagnosis",
                given: i,
                length: comparison.texts.len(),
            })?;
            Ok(shown(diagnosis, text))
        })
    }
}

const fn number(quantity: Quantity) -> u32 {
    match quantity {
        Quantity::Offset => ELB_QUANTITY_OFFSET,
        Quantity::Scale => ELB_QUANTITY_SCALE,
        Quantity::Bend => ELB_QUANTITY_BEND,
        Quantity::Lower => ELB_QUANTITY_LOWER,
        Quantity::Upper => ELB_QUANTITY_UPPER,
        _ => ELB_QUANTITY_LOST_MOTION,
    }
}

const fn number_of(side: Side) -> u32 {
    match side {
        Side::Lower => ELB_SIDE_LOWER,
        Side::Upper => ELB_SIDE_UPPER,
    }
}

fn shown(diagnosis: &Diagnosis, text: &CString) -> elb_diagnosis {
    let mut shown = elb_diagnosis {
        text: text.as_ptr(),
        value: f64::NAN,
        u: f64::NAN,
        before: f64::NAN,
        left: f64::NAN,
        smallest: f64::NAN,
        teeth: 0,
        horn: 0,
        kind: ELB_DIAGNOSIS_OTHER,
        side: ELB_SIDE_NONE,
        quantity: 0,
        at_least: 0,
        sensor_possible: 0,
        reserved: 0,
    };
    match *diagnosis {
        Diagnosis::Unchanged => shown.kind = ELB_DIAGNOSIS_UNCHANGED,
        Diagnosis::OffsetShifted {
            drive,
            u,
            ref teeth,
            sensor_possible,
        } => {
            shown.kind = ELB_DIAGNOSIS_OFFSET_SHIFTED;
            (shown.value, shown.u) = (drive, u);
            shown.sensor_possible = sensor_possible.into();
            if let Some(spline) = teeth.first() {
                (shown.teeth, shown.horn, shown.left) = (spline.teeth, spline.horn.into(), spline.left);
            }
        }
        Diagnosis::SensorShifted { measured, .. } => {
            shown.kind = ELB_DIAGNOSIS_SENSOR_SHIFTED;
            shown.value = measured;
        }
        Diagnosis::ScaleChanged { ratio } => {
            shown.kind = ELB_DIAGNOSIS_SCALE_CHANGED;
            shown.value = ratio;
        }
        Diagnosis::BendChanged { departure, u } => {
            shown.kind = ELB_DIAGNOSIS_BEND_CHANGED;
            (shown.value, shown.u) = (departure, u);
        }
        Diagnosis::RangeShrunk { side, by, u, at_least } => {
            shown.kind = ELB_DIAGNOSIS_RANGE_SHRUNK;
            (shown.value, shown.u, shown.side, shown.at_least) = (by, u, number_of(side), at_least.into());
        }
        Diagnosis::RangeWidened { side, by, u, at_least } => {
            shown.kind = ELB_DIAGNOSIS_RANGE_WIDENED;
            (shown.value, shown.u, shown.side, shown.at_least) = (by, u, number_of(side), at_least.into());
        }
        Diagnosis::LostMotionIncreased { from, to } => {
            shown.kind = ELB_DIAGNOSIS_LOST_MOTION_INCREASED;
            (shown.value, shown.before) = (to, from);
        }
        Diagnosis::LostMotionDecreased { from, to } => {
            shown.kind = ELB_DIAGNOSIS_LOST_MOTION_DECREASED;
            (shown.value, shown.before) = (to, from);
        }
        Diagnosis::WiresSwapped => shown.kind = ELB_DIAGNOSIS_WIRES_SWAPPED,
        Diagnosis::SlightChange { quantity, by, smallest } => {
            shown.kind = ELB_DIAGNOSIS_SLIGHT_CHANGE;
            (shown.value, shown.smallest, shown.quantity) = (by, smallest, number(quantity));
        }
        Diagnosis::Untested {
            quantity,
            earlier,
            later,
            ..
        } => {
            shown.kind = ELB_DIAGNOSIS_UNTESTED;
            shown.quantity = number(quantity);
            (shown.value, shown.before) = (later.unwrap_or(f64::NAN), earlier.unwrap_or(f64::NAN));
        }
        Diagnosis::NotComparable { quantity, later, u } => {
            shown.kind = ELB_DIAGNOSIS_NOT_COMPARABLE;
            shown.quantity = number(quantity);
            (shown.value, shown.u) = (later, u);
        }
        _ => {}
    }
    shown
}
