//! Straight lines with their uncertainties.

use crate::handle::{self, Handle, read};
use crate::pointer;
use crate::refusal::{Refusal, elb_error};
use crate::status::elb_status;
use model::fit::{Estimate, LineFit};

/// A straight line by least squares. Immutable: any number of threads may read it at once.
#[derive(Debug)]
pub struct elb_line(pub(crate) LineFit);

impl Handle for elb_line {
    const WHAT: &'static str = "line";
}

/// What a line is, with its standard uncertainties: `y = intercept + slope * x`. Frozen at 88 bytes.
#[derive(Debug, Clone, Copy)]
#[repr(C)]
pub struct elb_line_values {
    /// Change of y per x.
    pub slope: f64,
    /// Its standard uncertainty.
    pub u_slope: f64,
    /// Value at x = 0.
    pub intercept: f64,
    /// Its standard uncertainty.
    pub u_intercept: f64,
    /// Covariance of slope and intercept.
    pub covariance: f64,
    /// Standard deviation of the points about the line; with stated uncertainties, of the residuals in units of them.
    pub residual_sd: f64,
    /// Share of the variance that the line explains.
    pub r_squared: f64,
    /// Sum of squared residuals; with stated uncertainties the chi-squared observed.
    pub sum_of_squares: f64,
    /// Points less parameters.
    pub dof: u64,
    /// Points.
    pub n: u64,
    /// 1 if the uncertainties come from stated ones, 0 if from the scatter.
    pub stated_u: u32,
    /// Always 0.
    pub reserved: u32,
}

const _: () = assert!(size_of::<elb_line_values>() == 88);

/// A value with its standard uncertainty. Frozen at 16 bytes.
#[derive(Debug, Clone, Copy)]
#[repr(C)]
pub struct elb_estimate {
    /// The value.
    pub value: f64,
    /// Its standard uncertainty, in the value's unit.
    pub u: f64,
}

const _: () = assert!(size_of::<elb_estimate>() == 16);

impl From<Estimate> for elb_estimate {
    fn from(Estimate { value, u }: Estimate) -> Self {
        Self { value, u }
    }
}

/// ---- Lines ----
///
/// ----
///
/// Fits a straight line: ordinary least squares (GUM, JCGM 100:2008, H.3), weighted where `u_y` is given (ISO/TS 28037,
/// clause 6), and with both coordinates uncertain where `u_x` is given as well (clause 7).
///
/// - x, y: `n` points, in any unit.
/// - u_x, u_y: `n` standard uncertainties each; `u_x` only together with `u_y`.
/// - out: receives the line; free it with elb_line_free.
/// - error: receives the details when the call fails.
///
/// Nullable: u_x, u_y, error; an array without elements. Errors: ELB_STATUS_TOO_FEW_READINGS,
/// ELB_STATUS_DRIVE_ANGLES_EQUAL, ELB_STATUS_NOT_FINITE, ELB_STATUS_NOT_POSITIVE, ELB_STATUS_NO_AGREEMENT.
#[unsafe(no_mangle)]
#[must_use]
pub unsafe extern "C" fn elb_line_new(
    x: *const f64,
    y: *const f64,
    u_x: *const f64,
    u_y: *const f64,
    n: usize,
    out: *mut *mut elb_line,
    error: *mut elb_error,
) -> elb_status {
    // SAFETY: the header's contract.
    unsafe {
        handle::make(out, error, || {
            let (x, y) = (pointer::array("x", x, n)?, pointer::array("y", y, n)?);
            let (u_x, u_y) = (
                pointer::optional_array("u_x", u_x, n)?,
                pointer::optional_array("u_y", u_y, n)?,
            );
            let line = match (u_x, u_y) {
                (None, None) => model::fit::fit_line(x, y)?,
                (None, Some(u_y)) => model::fit::fit_line_weighted(x, y, u_y)?,
                (Some(u_x), Some(u_y)) => model::fit::fit_line_both(x, y, u_x, u_y)?,
                (Some(_), None) => return Err(Refusal::Null("u_y, while u_x is given,")),
            };
            Ok(elb_line(line))
        })
    }
}

/// Frees a line. It must be freed once, and never while another thread uses it.
///
/// Nullable: line (nothing happens).
#[unsafe(no_mangle)]
pub unsafe extern "C" fn elb_line_free(line: *mut elb_line) {
    // SAFETY: the header's contract.
    unsafe { handle::free(line) }
}

/// Slope, intercept and all that is known of them.
///
/// - out: receives them.
#[unsafe(no_mangle)]
#[must_use]
pub unsafe extern "C" fn elb_line_values_of(line: *const elb_line, out: *mut elb_line_values) -> elb_status {
    // SAFETY: the header's contract.
    unsafe {
        read(line, out, |elb_line(line)| {
            Ok(elb_line_values {
                slope: line.slope,
                u_slope: line.u_slope,
                intercept: line.intercept,
                u_intercept: line.u_intercept,
                covariance: line.covariance,
                residual_sd: line.residual_sd,
                r_squared: line.r_squared,
                sum_of_squares: line.sum_of_squares,
                dof: line.dof as u64,
                n: line.n as u64,
                stated_u: line.stated_u.into(),
                reserved: 0,
            })
        })
    }
}

/// The line's value at `x` and its standard uncertainty (GUM H.3.4; ISO/TS 28037, clause 11.2). NaN gives NaN.
///
/// - u_x: standard uncertainty of `x`, 0 if it is exact.
/// - out: receives value and uncertainty.
#[unsafe(no_mangle)]
#[must_use]
pub unsafe extern "C" fn elb_line_predict(
    line: *const elb_line,
    x: f64,
    u_x: f64,
    out: *mut elb_estimate,
) -> elb_status {
    // SAFETY: the header's contract.
    unsafe {
        read(line, out, |elb_line(line)| {
            Ok(line.predict_from(Estimate { value: x, u: u_x }).into())
        })
    }
}

/// Reads a line backwards: the `x` at which these observations of y were made (ISO/TS 28037, clause 11.1).
///
/// - observed: `n` observations, all made at that one x.
/// - u_y: standard uncertainty of each; 0 means the line's `residual_sd`.
/// - out: receives value and uncertainty.
///
/// Errors: ELB_STATUS_ABSENT without observations, with one that is not finite, and for a level line.
#[unsafe(no_mangle)]
#[must_use]
pub unsafe extern "C" fn elb_line_inverse(
    line: *const elb_line,
    observed: *const f64,
    n: usize,
    u_y: f64,
    out: *mut elb_estimate,
) -> elb_status {
    // SAFETY: the header's contract.
    unsafe {
        read(line, out, |elb_line(line)| {
            let observed = pointer::array("observed", observed, n)?;
            line.inverse(observed, (u_y != 0.0).then_some(u_y))
                .map(elb_estimate::from)
                .ok_or(Refusal::Absent(
                    "these observations do not determine x; give finite observations, and a line whose slope is not 0",
                ))
        })
    }
}

/// The factor that turns a standard uncertainty of a line into a coverage interval's half width: Student's t, or the
/// normal distribution's where the uncertainties are stated ones.
///
/// - confidence: coverage probability, above 0 and below 1; else the factor is NaN.
/// - out: receives the factor.
#[unsafe(no_mangle)]
#[must_use]
pub unsafe extern "C" fn elb_line_coverage_factor(line: *const elb_line, confidence: f64, out: *mut f64) -> elb_status {
    // SAFETY: the header's contract.
    unsafe { read(line, out, |elb_line(line)| Ok(line.coverage_factor(confidence))) }
}
