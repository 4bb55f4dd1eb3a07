//! What changed between two fits of one joint.

use crate::fit::{ELB_SIDE_LOWER, ELB_SIDE_UPPER, elb_fit};
use crate::guard::guard;
use crate::handle::{self, Handle, read};
use crate::pointer;
use crate::refusal::Refusal;
use crate::status::elb_status;
use crate::text::c_text;
use model::fit::{Change, Comparison, Diagnosis, Quantity, Verdict};
use std::ffi::{CString, c_char};

/// The comparison of two fits. Immutable: any number of threads may read it at once.
#[derive(Debug)]
pub struct elb_comparison {
    found: Comparison,
    texts: Vec<CString>,
}

impl Handle for elb_comparison {
    const WHAT: &'static str = "comparison";
}

/// Quantity: drive angle by which the joint's position moved.
pub const ELB_QUANTITY_OFFSET: u32 = 0;
/// Quantity: size of the slope, new over old.
pub const ELB_QUANTITY_SCALE: u32 = 1;
/// Quantity: contact at the lower end, drive angle.
pub const ELB_QUANTITY_LOWER: u32 = 2;
/// Quantity: contact at the upper end, drive angle.
pub const ELB_QUANTITY_UPPER: u32 = 3;
/// Quantity: lost motion, in measured units.
pub const ELB_QUANTITY_LOST_MOTION: u32 = 4;

/// Verdict: the two agree within their uncertainties.
pub const ELB_VERDICT_SAME: u32 = 0;
/// Verdict: they differ by more than their uncertainties.
pub const ELB_VERDICT_CHANGED: u32 = 1;
/// Verdict: one of the fits does not have the quantity; the numbers are 0.
pub const ELB_VERDICT_NOT_COMPARABLE: u32 = 2;

/// One quantity, then and now. Frozen at 32 bytes.
#[derive(Debug, Clone, Copy)]
#[repr(C)]
pub struct elb_change {
    /// New less old; for the scale the ratio less one.
    pub difference: f64,
    /// Its standard uncertainty.
    pub u: f64,
    /// Normalised error E_n (ISO 13528), with the difference's sign.
    pub e_n: f64,
    /// ELB_VERDICT_...
    pub verdict: u32,
    /// Always 0.
    pub reserved: u32,
}

const _: () = assert!(size_of::<elb_change>() == 32);

impl From<&Change> for elb_change {
    fn from(change: &Change) -> Self {
        Self {
            difference: change.difference.map_or(0.0, |difference| difference.value),
            u: change.difference.map_or(0.0, |difference| difference.u),
            e_n: change.e_n.unwrap_or(0.0),
            verdict: match change.verdict {
                Verdict::Same => ELB_VERDICT_SAME,
                Verdict::Changed => ELB_VERDICT_CHANGED,
                Verdict::NotComparable => ELB_VERDICT_NOT_COMPARABLE,
            },
            reserved: 0,
        }
    }
}

/// Diagnosis: nothing differs by more than its uncertainty.
pub const ELB_DIAGNOSIS_UNCHANGED: u32 = 0;
/// Diagnosis: the joint sits elsewhere on the servo. `value` is the shift in drive angle, `u` its standard uncertainty;
/// `horn` and `teeth` the whole number of spline teeth that fits best, 0 if none does, and `left` what that leaves.
pub const ELB_DIAGNOSIS_OFFSET_SHIFTED: u32 = 1;
/// Diagnosis: the sensor moved on the joint. `value` is the shift in measured units.
pub const ELB_DIAGNOSIS_SENSOR_SHIFTED: u32 = 2;
/// Diagnosis: measured per drive angle changed. `value` is new over old.
pub const ELB_DIAGNOSIS_SCALE_CHANGED: u32 = 3;
/// Diagnosis: a stop stands further in than before. `side` is which, `value` by how much in drive angle.
pub const ELB_DIAGNOSIS_RANGE_SHRUNK: u32 = 4;
/// Diagnosis: lost motion grew. `value` is now, `before` is before, in measured units.
pub const ELB_DIAGNOSIS_PLAY_GROWN: u32 = 5;
/// Diagnosis: the measured value now runs the other way. Do not close the loop before the sense is tested.
pub const ELB_DIAGNOSIS_WIRES_SWAPPED: u32 = 6;
/// Diagnosis: one that this version has no number for; read its text.
pub const ELB_DIAGNOSIS_OTHER: u32 = 255;

/// A plain reading of the differences. Fields that its kind does not name are 0. Frozen.
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
    /// What the teeth leave of the shift, in drive angle.
    pub left: f64,
    /// Teeth by which the horn moved, with sign.
    pub teeth: i32,
    /// Teeth of the horn: 21, 23, 24 or 25.
    pub horn: u32,
    /// ELB_DIAGNOSIS_...
    pub kind: u32,
    /// ELB_SIDE_LOWER or ELB_SIDE_UPPER.
    pub side: u32,
}

/// ---- What changed since ----
///
/// Compares an earlier with a later fit of one joint, measured in the same units.
///
/// - out: receives the comparison; free it with elb_comparison_free. Untouched on error.
///
/// Nullable: none. Errors: ELB_STATUS_NULL_POINTER, ELB_STATUS_MISALIGNED.
#[unsafe(no_mangle)]
#[must_use]
pub unsafe extern "C" fn elb_fit_compare(
    old: *const elb_fit,
    new: *const elb_fit,
    out: *mut *mut elb_comparison,
) -> elb_status {
    guard(std::ptr::null_mut(), || {
        pointer::check("out", out)?;
        // SAFETY: the header's contract.
        let (old, new) = unsafe { (pointer::borrow("old", old)?, pointer::borrow("new", new)?) };
        let found = model::fit::compare(&old.fit, &new.fit);
        let texts = found.diagnoses.iter().map(c_text).collect();
        // SAFETY: checked above.
        unsafe { handle::give(out, elb_comparison { found, texts }) };
        Ok(())
    })
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
/// - out: receives it. Untouched on error.
///
/// Nullable: none. Errors: ELB_STATUS_UNKNOWN_VALUE, ELB_STATUS_NULL_POINTER, ELB_STATUS_MISALIGNED.
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
                other => {
                    return Err(Refusal::Value {
                        what: "quantity",
                        given: other.into(),
                        right: "one of ELB_QUANTITY_..., 0 to 4",
                    });
                }
            };
            let change = found
                .changes
                .iter()
                .find(|change| change.quantity == wanted)
                .ok_or(Refusal::Absent("this comparison has no such quantity"))?;
            Ok(change.into())
        })
    }
}

/// How many diagnoses a comparison has: at least one, the gravest first.
///
/// Nullable: none. Errors: ELB_STATUS_NULL_POINTER, ELB_STATUS_MISALIGNED.
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
/// - out: receives it. Untouched on error.
///
/// Nullable: none. Errors: ELB_STATUS_ABSENT, ELB_STATUS_NULL_POINTER, ELB_STATUS_MISALIGNED.
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
            let (&diagnosis, text) = found.ok_or(Refusal::Index {
                what: "diagnosis",
                given: i,
                length: comparison.texts.len(),
            })?;
            Ok(shown(diagnosis, text))
        })
    }
}

fn shown(diagnosis: Diagnosis, text: &CString) -> elb_diagnosis {
    let mut shown = elb_diagnosis {
        text: text.as_ptr(),
        value: 0.0,
        u: 0.0,
        before: 0.0,
        left: 0.0,
        teeth: 0,
        horn: 0,
        kind: ELB_DIAGNOSIS_OTHER,
        side: ELB_SIDE_LOWER,
    };
    match diagnosis {
        Diagnosis::Unchanged => shown.kind = ELB_DIAGNOSIS_UNCHANGED,
        Diagnosis::OffsetShifted { drive, u, spline } => {
            shown.kind = ELB_DIAGNOSIS_OFFSET_SHIFTED;
            (shown.value, shown.u) = (drive, u);
            if let Some(spline) = spline {
                (shown.teeth, shown.horn, shown.left) = (spline.teeth, spline.horn.into(), spline.left);
            }
        }
        Diagnosis::SensorShifted { measured } => {
            shown.kind = ELB_DIAGNOSIS_SENSOR_SHIFTED;
            shown.value = measured;
        }
        Diagnosis::ScaleChanged { ratio } => {
            shown.kind = ELB_DIAGNOSIS_SCALE_CHANGED;
            shown.value = ratio;
        }
        Diagnosis::RangeShrunk { upper, by } => {
            shown.kind = ELB_DIAGNOSIS_RANGE_SHRUNK;
            shown.value = by;
            shown.side = if upper { ELB_SIDE_UPPER } else { ELB_SIDE_LOWER };
        }
        Diagnosis::PlayGrown { from, to } => {
            shown.kind = ELB_DIAGNOSIS_PLAY_GROWN;
            (shown.value, shown.before) = (to, from);
        }
        Diagnosis::WiresSwapped => shown.kind = ELB_DIAGNOSIS_WIRES_SWAPPED,
        _ => {}
    }
    shown
}
