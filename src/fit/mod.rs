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

mod error;
mod line;
mod outcome;
mod quantile;
mod readings;
mod warning;

pub use error::FitError;
pub use line::{LineFit, fit_line, fit_line_weighted};
pub use outcome::{
    End, EndKind, Estimate, Goodness, LimitFit, LostMotion, NotDeterminable, RejectReason, Rejected, Repeatability,
    Sense, Trend,
};
pub use quantile::{normal_quantile, t_quantile};
pub use readings::{Approach, ContactMark, FitOptions, Readings};
pub use warning::Warning;

use std::vec;
use std::vec::Vec;

/// Readings without which neither a line nor its uncertainty can be said.
const FEWEST_READINGS: usize = 4;
/// Different drive angles without which a stop cannot be told from a slope.
const FEWEST_COMMANDS: usize = 3;

/// Finds how far a joint can go, with the evidence.
///
/// # Errors
/// [`FitError`]: values that are not finite, arrays of different length, too few readings or commands, no motion, an
/// option outside its range.
pub fn fit_limits(readings: &Readings<'_>, options: &FitOptions) -> Result<LimitFit, FitError> {
    readings.check()?;
    options.check()?;
    let (lower, upper) = ends_of(readings.drive);
    if readings.drive.len() < FEWEST_READINGS {
        return Err(FitError::TooFewReadings {
            given: readings.drive.len(),
            needed: FEWEST_READINGS,
            lower,
            upper,
        });
    }
    let mut sorted: Vec<f64> = readings.drive.to_vec();
    sorted.sort_by(f64::total_cmp);
    sorted.dedup();
    if sorted.len() < FEWEST_COMMANDS {
        return Err(FitError::CommandsEqual {
            distinct: sorted.len(),
            needed: FEWEST_COMMANDS,
            lower,
            upper,
        });
    }
    let line = fit_line(readings.drive, readings.measured)?;
    let certainty =
        1.0 - 0.5 * quantile::t_two_sided(line.slope / line.u_slope.max(f64::MIN_POSITIVE), line.dof as f64);
    if line.slope == 0.0 || certainty < 0.995 {
        let (low, high) = ends_of(readings.measured);
        return Err(FitError::NoMotion {
            lower,
            upper,
            low,
            high,
        });
    }
    let end = |at| End {
        kind: EndKind::Reached,
        at,
        u: None,
        interval: None,
        guard: 0.0,
        travel: at,
        level: None,
        readings_beyond: 0,
        marked: false,
    };
    Ok(LimitFit {
        slope: line.slope,
        u_slope: line.u_slope,
        intercept: line.intercept,
        u_intercept: line.u_intercept,
        covariance: line.covariance,
        residual_sd: line.residual_sd,
        dof: line.dof,
        sense: Sense {
            trend: if line.slope > 0.0 {
                Trend::Rising
            } else {
                Trend::Falling
            },
            certainty,
        },
        lower: end(lower),
        upper: end(upper),
        travel: Some([lower, upper]),
        lost_motion: LostMotion::NotDeterminable {
            reason: NotDeterminable::ApproachUnknown,
        },
        repeatability: None,
        line,
        goodness: Goodness {
            r_squared: line.r_squared,
            sum_of_squares: line.sum_of_squares,
            p_curvature: 1.0,
            p_lack_of_fit: 1.0,
        },
        rejected: Vec::new(),
        warnings: Vec::new(),
        readings: readings.drive.len(),
        confidence: options.confidence,
        curve: vec![line.intercept, line.slope],
        curve_origin: 0.0,
    })
}

fn ends_of(values: &[f64]) -> (f64, f64) {
    values
        .iter()
        .fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), &v| {
            (low.min(v), high.max(v))
        })
}
