//! From measured points to limits with evidence and uncertainty.
//!
//! ```
//! use elbowroom::fit::{fit_limits, FitOptions, Readings};
//! let drive = [10.0, 20.0, 30.0, 40.0, 50.0, 60.0];
//! let measured = [12.1, 21.9, 32.0, 42.2, 51.9, 62.0];
//! let fit = fit_limits(&Readings::new(&drive, &measured), &FitOptions::default())?;
//! assert!((fit.slope - 1.0).abs() < 0.01);
//! assert_eq!(fit.travel, Some([10.0, 60.0])); // no stop was met: no further than the readings
//! # Ok::<(), elbowroom::fit::FitError>(())
//! ```

mod assess;
mod choose;
mod compare;
mod curve;
mod dense;
mod ends;
mod error;
mod interval;
mod limits;
mod line;
mod linkage;
mod many;
mod model;
mod monotone;
mod outcome;
mod polynomial;
mod positioning;
mod prepare;
mod quantile;
mod readings;
mod start;
mod stops;
mod sums;
mod univariate;
mod warning;

pub use choose::{Candidate, Choice, Guess, Reason, Tried, choose_transmission};
pub use compare::{Change, Comparison, Diagnosis, Quantity, SplineTeeth, Verdict, compare};
pub use curve::{CurveFit, CurveJoint, MOST_KNOTS, fit_curve};
pub use error::FitError;
pub use line::{LineFit, fit_line, fit_line_both, fit_line_through_zero, fit_line_weighted};
pub use linkage::{Dimension, LinkageFit, fit_linkage};
pub use many::fit_many;
pub use monotone::{Step, fit_monotone};
pub use outcome::{
    End, EndKind, Estimate, Goodness, LimitFit, LostMotion, NotDeterminable, RejectReason, Rejected, Repeatability,
    Sense, Trend,
};
pub use polynomial::{PolynomialFit, fit_polynomial};
pub use positioning::{AxisOneSided, AxisTwoSided, OneSided, Positioning, Run, Target, TwoSided, positioning};
pub use quantile::{normal_quantile, t_quantile};
pub use readings::{Approach, ContactMark, FitOptions, Readings};
pub use univariate::{Spread, spread};
pub use warning::Warning;

/// Finds how far a joint can go, with the evidence.
///
/// # Errors
/// [`FitError`]: values that are not finite, arrays of different length, too few readings or commands, no motion,
/// readings that agree on nothing or were taken in motion, an option outside its range.
pub fn fit_limits(readings: &Readings<'_>, options: &FitOptions) -> Result<LimitFit, FitError> {
    readings.check()?;
    options.check()?;
    assess::assess(readings, options)
}
