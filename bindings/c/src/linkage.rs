//! The dimensions of a mechanism from readings.

use crate::fit::elb_fit;
use crate::fit_values::elb_lost_motion;
use crate::guard::guard;
use crate::handle::{self, Handle, read, read_pair};
use crate::joint_config::{elb_joint_config, elb_transmission};
use crate::pointer;
use crate::readings::{Columns, Given, elb_readings, side_of};
use crate::refusal::{Refusal, elb_error};
use crate::status::elb_status;
use crate::text::c_text;
use crate::transmission::{branch_of_mechanism, kind_of, linkage_of, number_of_branch, numbers_of};
use model::TransmissionRecord;
use model::fit::{Guess, LinkageFit};
use model::linkage::Mechanism;
use std::ffi::{CString, c_char};

/// A linkage, and which of its dimensions are to be found. Frozen at 56 bytes.
#[derive(Debug, Clone, Copy, Default)]
#[repr(C)]
pub struct elb_mechanism {
    /// Its dimensions, in the order that its ELB_TRANSMISSION_... constant states. The others are unused.
    pub dimensions: [f64; 5],
    /// Its kind: one of ELB_TRANSMISSION_..., but no line and no curve.
    pub kind: u32,
    /// The assembly branch: where the crank's pin of a slider-crank or of a four-bar lies: ELB_BRANCH_... Else unused.
    pub branch: u32,
    /// The dimensions to be found: a sum of 1 for the first of `dimensions`, 2 for the second, 4, 8, 16. The others
    /// are kept; keep at least one length, as only ratios of lengths show.
    pub free: u32,
    /// Always 0.
    pub reserved: u32,
}

const _: () = assert!(size_of::<elb_mechanism>() == 56);

/// A mechanism of C as the core has it: dimensions measured with a ruler, and the names of those to be found.
pub(crate) struct Ruled {
    start: Mechanism,
    free: Vec<&'static str>,
}

impl Ruled {
    pub(crate) fn guess(&self) -> Guess<'_> {
        Guess {
            start: self.start,
            free: &self.free,
        }
    }
}

impl elb_mechanism {
    pub(crate) fn ruled(&self) -> Result<Ruled, Refusal> {
        let start = linkage_of(self.kind, self.branch, self.dimensions)?
            .mechanism()
            .ok_or(Refusal::Value {
                what: "kind",
                given: self.kind.into(),
                right: "a linkage, ELB_TRANSMISSION_... 2 to 5",
            })?;
        let named = start.dimensions();
        if self.free >> named.len() != 0 || self.reserved != 0 {
            return Err(Refusal::Value {
                what: if self.reserved != 0 { "reserved" } else { "free" },
                given: if self.reserved != 0 { self.reserved } else { self.free }.into(),
                right: "a bit for each dimension of its kind, the lowest for the first; and reserved 0",
            });
        }
        let free = named.iter().enumerate().filter(|(bit, _)| self.free >> bit & 1 == 1);
        Ok(Ruled {
            start,
            free: free.map(|(_, name)| *name).collect(),
        })
    }
}

/// A linkage found from readings. Immutable: any number of threads may read it at once.
#[derive(Debug)]
pub struct elb_linkage {
    fit: LinkageFit,
    names: Vec<CString>,
    other_branch: Option<CString>,
}

impl Handle for elb_linkage {
    const WHAT: &'static str = "linkage";
}

impl From<LinkageFit> for elb_linkage {
    fn from(fit: LinkageFit) -> Self {
        Self {
            names: fit.found.iter().map(|found| c_text(&found.name)).collect(),
            other_branch: fit.other_branch.as_ref().map(c_text),
            fit,
        }
    }
}

/// What is known of a fitted linkage as a whole: `drive = offset + gain * movement of the servo's side`. Frozen at 96
/// bytes.
#[derive(Debug, Clone, Copy)]
#[repr(C)]
pub struct elb_linkage_values {
    /// Drive angle, deg, at which the servo's side has moved by 0: how the horn sits on its spline.
    pub offset: f64,
    /// Its standard uncertainty.
    pub u_offset: f64,
    /// Drive angle per movement of the servo's side: deg per deg, or per unit of length for a triangle.
    pub gain: f64,
    /// Its standard uncertainty.
    pub u_gain: f64,
    /// Lowest and highest drive angle of the readings, deg.
    pub drive: [f64; 2],
    /// Lowest and highest measured value of the readings.
    pub measured: [f64; 2],
    /// Standard deviation of the readings about it, free of lost motion, in measured units.
    pub residual_sd: f64,
    /// Sum of squared residuals.
    pub sum_of_squares: f64,
    /// Readings less the dimensions found, offset and gain, and less one where lost motion was measured.
    pub dof: u64,
    /// Dimensions found.
    pub n_found: u64,
}

const _: () = assert!(size_of::<elb_linkage_values>() == 96);

/// A dimension found from readings. Frozen.
#[derive(Debug, Clone, Copy)]
#[repr(C)]
pub struct elb_dimension {
    /// Its name, as in a robot file; lives as long as the linkage.
    pub name: *const c_char,
    /// Its value, in its own unit.
    pub value: f64,
    /// Its standard uncertainty.
    pub u: f64,
    /// Which number of `linkage` it is, counted from 0.
    pub number: u32,
    /// Always 0.
    pub reserved: u32,
}

const _: () = assert!(size_of::<usize>() != 8 || size_of::<elb_dimension>() == 32);

/// The other way to put a linkage together, where the readings do not tell it from the one fitted. Frozen at 32 bytes.
#[derive(Debug, Clone, Copy)]
#[repr(C)]
pub struct elb_other_branch {
    /// Standard deviation of the readings about it, in measured units.
    pub residual_sd: f64,
    /// That of the linkage fitted.
    pub fitted_sd: f64,
    /// The most by which the joint angles of the two differ over the drive angles read and a tenth of their range to either side.
    pub apart: f64,
    /// Where its pin lies: ELB_BRANCH_...
    pub branch: u32,
    /// 1 if the readings fit it better: it makes them 20 times as likely. Else 0.
    pub is_better: u32,
}

const _: () = assert!(size_of::<elb_other_branch>() == 32);

/// ---- Linkages ----
///
/// For joints whose mechanism is known: its dimensions, measured with a ruler, are improved by readings of the joint
/// angle. Readings on a stop and misreadings are left out first, as for a curve.
///
/// How the horn sits on its spline, gear ratio and screw pitch need not be known: they are found as well.
///
/// ----
///
/// Fits the dimensions of a linkage by least squares.
///
/// - drive: `n` drive angles, deg.
/// - measured: `n` joint angles, deg (for a slider-crank places, in the unit of its lengths).
/// - approach: from which side each was reached, ELB_APPROACH_...; NULL if it is not known. Where some stretch was reached from
///   both sides, lost motion is found as well and does not count as scatter.
/// - start: the linkage as measured with a ruler, with the bits of what is to be found.
/// - out: receives the linkage; free it with elb_linkage_free.
/// - error: receives the details when the call fails.
///
/// Nullable: approach, error; an array without elements. Errors: ELB_STATUS_TOO_FEW_READINGS,
/// ELB_STATUS_DRIVE_ANGLES_EQUAL, ELB_STATUS_NOT_FINITE, ELB_STATUS_UNKNOWN_VALUE, ELB_STATUS_TRANSMISSION_INVALID if the start
/// cannot reach a reading, ELB_STATUS_NO_AGREEMENT if the readings do not determine a dimension.
#[unsafe(no_mangle)]
#[must_use]
pub unsafe extern "C" fn elb_linkage_new(
    drive: *const f64,
    measured: *const f64,
    approach: *const i8,
    n: usize,
    start: *const elb_mechanism,
    out: *mut *mut elb_linkage,
    error: *mut elb_error,
) -> elb_status {
    // SAFETY: the header's contract.
    unsafe {
        handle::make(out, error, || {
            let columns = Columns::read(drive, measured, approach, n)?;
            let ruled = pointer::borrow("start", start)?.ruled()?;
            let Guess { start, free } = ruled.guess();
            Ok(model::fit::fit_linkage(&columns.readings(), &start, free)?.into())
        })
    }
}

/// Frees a linkage made by elb_linkage_new. It must be freed once, and never while another thread uses it.
///
/// Nullable: linkage (nothing happens).
#[unsafe(no_mangle)]
pub unsafe extern "C" fn elb_linkage_free(linkage: *mut elb_linkage) {
    // SAFETY: the header's contract.
    unsafe { handle::free(linkage) }
}

/// What is known of a linkage as a whole.
///
/// - out: receives it.
#[unsafe(no_mangle)]
#[must_use]
pub unsafe extern "C" fn elb_linkage_values_of(
    linkage: *const elb_linkage,
    out: *mut elb_linkage_values,
) -> elb_status {
    // SAFETY: the header's contract.
    unsafe {
        read(linkage, out, |elb_linkage { fit, .. }| {
            Ok(elb_linkage_values {
                offset: fit.offset.value,
                u_offset: fit.offset.u,
                gain: fit.gain.value,
                u_gain: fit.gain.u,
                drive: fit.drive,
                measured: fit.measured,
                residual_sd: fit.residual_sd,
                sum_of_squares: fit.sum_of_squares,
                dof: fit.dof as u64,
                n_found: fit.found.len() as u64,
            })
        })
    }
}

/// The linkage with the dimensions found; `free` has the bits of those.
///
/// - out: receives it.
#[unsafe(no_mangle)]
#[must_use]
pub unsafe extern "C" fn elb_linkage_mechanism(linkage: *const elb_linkage, out: *mut elb_mechanism) -> elb_status {
    // SAFETY: the header's contract.
    unsafe {
        read(linkage, out, |elb_linkage { fit, .. }| {
            let mechanism = &fit.mechanism;
            Ok(elb_mechanism {
                dimensions: numbers_of(mechanism),
                kind: kind_of(&TransmissionRecord::from(mechanism)),
                branch: branch_of_mechanism(mechanism),
                free: fit
                    .found
                    .iter()
                    .filter_map(|found| number_of(mechanism, found.name))
                    .fold(0, |all, number| all | 1 << number),
                reserved: 0,
            })
        })
    }
}

/// Which number of `linkage` a dimension is.
fn number_of(mechanism: &Mechanism, name: &str) -> Option<u32> {
    let place = mechanism.dimensions().iter().position(|known| *known == name)?;
    u32::try_from(place).ok()
}

/// One of the dimensions found, with its uncertainty.
///
/// - i: 0 to `n_found` - 1.
/// - out: receives it.
///
/// Errors: ELB_STATUS_ABSENT.
#[unsafe(no_mangle)]
#[must_use]
pub unsafe extern "C" fn elb_linkage_dimension(
    linkage: *const elb_linkage,
    i: usize,
    out: *mut elb_dimension,
) -> elb_status {
    // SAFETY: the header's contract.
    unsafe {
        read(linkage, out, |elb_linkage { fit, names, .. }| {
            let (found, name) = fit.found.get(i).zip(names.get(i)).ok_or(Refusal::Index {
                what: "dimension",
                given: i,
                length: names.len(),
            })?;
            Ok(elb_dimension {
                name: name.as_ptr(),
                value: found.value,
                u: found.u,
                number: number_of(&fit.mechanism, found.name).ok_or(Refusal::Absent("dimension"))?,
                reserved: 0,
            })
        })
    }
}

/// The measured value that a linkage expects at a drive angle; of several the one nearest to the readings. NaN where it cannot
/// reach, and for NaN.
///
/// - out: receives the value.
#[unsafe(no_mangle)]
#[must_use]
pub unsafe extern "C" fn elb_linkage_expected(linkage: *const elb_linkage, drive: f64, out: *mut f64) -> elb_status {
    // SAFETY: the header's contract.
    unsafe { read(linkage, out, |elb_linkage { fit, .. }| Ok(fit.measured_at(drive))) }
}

/// Lost motion found with a linkage, which lies midway; `drive` at its mean slope over the readings.
///
/// - out: receives it.
///
/// Errors: ELB_STATUS_ABSENT where the readings do not show it, as for elb_curve_lost_motion.
#[unsafe(no_mangle)]
#[must_use]
pub unsafe extern "C" fn elb_linkage_lost_motion(linkage: *const elb_linkage, out: *mut elb_lost_motion) -> elb_status {
    // SAFETY: the header's contract.
    unsafe {
        read(linkage, out, |elb_linkage { fit, .. }| {
            elb_lost_motion::of(&fit.lost_motion)
        })
    }
}

/// The measured value that a linkage expects at a drive angle reached from one side: elb_linkage_expected with the lost motion of
/// that side.
///
/// - approach: ELB_APPROACH_...; midway between both sides where it is unknown.
/// - out: receives the value.
///
/// Errors: ELB_STATUS_UNKNOWN_VALUE.
#[unsafe(no_mangle)]
#[must_use]
pub unsafe extern "C" fn elb_linkage_expected_from(
    linkage: *const elb_linkage,
    drive: f64,
    approach: i8,
    out: *mut f64,
) -> elb_status {
    // SAFETY: the header's contract.
    unsafe {
        read(linkage, out, |elb_linkage { fit, .. }| {
            Ok(fit.expected(drive, side_of(approach)?))
        })
    }
}

/// Whether the other way to put a slider-crank or four-bar together fits the readings as well, or better: then look at the joint.
///
/// - out: receives it.
///
/// Errors: ELB_STATUS_ABSENT where the readings exclude it, or there is none.
#[unsafe(no_mangle)]
#[must_use]
pub unsafe extern "C" fn elb_linkage_other_branch(
    linkage: *const elb_linkage,
    out: *mut elb_other_branch,
) -> elb_status {
    // SAFETY: the header's contract.
    unsafe {
        read(linkage, out, |elb_linkage { fit, .. }| {
            let other = fit.other_branch.ok_or(NO_OTHER_BRANCH)?;
            Ok(elb_other_branch {
                residual_sd: other.residual_sd,
                fitted_sd: other.fitted_sd,
                apart: other.apart,
                branch: number_of_branch(other.branch),
                is_better: other.is_better.into(),
            })
        })
    }
}

const NO_OTHER_BRANCH: Refusal = Refusal::Absent("the readings exclude the other branch, or this linkage has none");

/// The sentence of elb_linkage_other_branch.
///
/// - out: receives a text that lives as long as the linkage.
///
/// Errors: as elb_linkage_other_branch.
#[unsafe(no_mangle)]
#[must_use]
pub unsafe extern "C" fn elb_linkage_other_branch_text(
    linkage: *const elb_linkage,
    out: *mut *const c_char,
) -> elb_status {
    // SAFETY: the header's contract.
    unsafe {
        read(linkage, out, |linkage| {
            let text = linkage.other_branch.as_ref().ok_or(NO_OTHER_BRANCH)?;
            Ok(text.as_ptr())
        })
    }
}

/// The drive angle, deg, at which a linkage shows a measured value. NaN where it cannot reach, and for NaN.
///
/// - out: receives the angle.
#[unsafe(no_mangle)]
#[must_use]
pub unsafe extern "C" fn elb_linkage_drive(linkage: *const elb_linkage, measured: f64, out: *mut f64) -> elb_status {
    // SAFETY: the header's contract.
    unsafe { read(linkage, out, |elb_linkage { fit, .. }| Ok(fit.drive_at(measured))) }
}

/// The commands that the readings stand for: joint angles at the lowest and at the highest drive angle read, lower first.
///
/// - lower, upper: receive them, deg (for a slider-crank places).
#[unsafe(no_mangle)]
#[must_use]
pub unsafe extern "C" fn elb_linkage_command(
    linkage: *const elb_linkage,
    lower: *mut f64,
    upper: *mut f64,
) -> elb_status {
    // SAFETY: the header's contract.
    unsafe {
        read_pair(linkage, ("lower", lower), ("upper", upper), |linkage| {
            Ok(linkage.fit.command().into())
        })
    }
}

/// Which of the stops that a limit fit found may not be stops: near a dead centre a joint levels off as it does on a stop.
///
/// There the linkage, fitted again with the readings beyond, has a residual SD of at most 1.5 times that without them (an
/// assumption of this library). The travel is not changed by this: look at the joint.
///
/// - linkage: a fit of what elb_fit_between_stops gave of these readings.
/// - fit, readings: the limit fit, and the readings that were fitted.
/// - lower, upper: receive 1 or 0 each; 0 where no stop was found.
/// - error: receives the details when the call fails.
///
/// Nullable: error. Errors: ELB_STATUS_LENGTH_MISMATCH for other readings than were fitted, ELB_STATUS_UNKNOWN_VALUE.
#[unsafe(no_mangle)]
#[must_use]
pub unsafe extern "C" fn elb_linkage_explains_stops(
    linkage: *const elb_linkage,
    fit: *const elb_fit,
    readings: *const elb_readings,
    lower: *mut u32,
    upper: *mut u32,
    error: *mut elb_error,
) -> elb_status {
    guard(error, || {
        // SAFETY: the header's contract.
        let (linkage, fit, given) = unsafe {
            (
                pointer::borrow("linkage", linkage)?,
                pointer::borrow("fit", fit)?,
                Given::read(readings)?,
            )
        };
        pointer::check("lower", lower)?;
        pointer::check("upper", upper)?;
        let given = fit.own(&given)?;
        let [first, last] = linkage.fit.explains_stops(&fit.fit, &given);
        // SAFETY: checked above.
        unsafe {
            pointer::put(lower, first.into());
            pointer::put(upper, last.into());
        }
        Ok(())
    })
}

/// Puts a linkage into what is written down of a joint, for elb_joint_new and elb_robot_with_joint.
///
/// Its commands are the joint angles that the linkage knows; ends outside elb_linkage_command go beyond the readings. Of
/// `config` are written `command`, `drive`, `inverted`, `transmission`, `branch` and `linkage`; all else stays as it is: servo,
/// timer, and a `travel`, a `rest` and a feedback that may have to follow (the ends of `feedback.angle` are the joint angles of
/// the command ends).
///
/// - lower, upper: the command range, deg (for a slider-crank places).
/// - config: begun with elb_joint_config_init or elb_joint_config_of. Written only on success.
/// - error: receives the details when the call fails.
///
/// Nullable: error. Errors: ELB_STATUS_OPTION_OUTSIDE if lower and upper are not a range, ELB_STATUS_TRANSMISSION_INVALID
/// for a dead centre inside or near and for what is out of reach.
#[unsafe(no_mangle)]
#[must_use]
pub unsafe extern "C" fn elb_linkage_joint(
    linkage: *const elb_linkage,
    lower: f64,
    upper: f64,
    config: *mut elb_joint_config,
    error: *mut elb_error,
) -> elb_status {
    guard(error, || {
        // SAFETY: the header's contract.
        let (linkage, mut joint) = unsafe { (pointer::borrow("linkage", linkage)?, pointer::read_sized(config)?) };
        let found = linkage.fit.joint([lower, upper])?;
        joint.command = [lower, upper];
        joint.drive = found.drive;
        joint.inverted = found.inverted.into();
        joint.transmission = elb_transmission::of(&found.transmission);
        // SAFETY: checked above.
        unsafe { pointer::write_sized(config, joint.size, joint) }
    })
}
