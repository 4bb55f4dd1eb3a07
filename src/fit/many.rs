//! Whole robots, or whole production runs, at once.

use super::error::FitError;
use super::fit_limits;
use super::outcome::LimitFit;
use super::readings::{FitOptions, Readings};
use std::vec::Vec;

/// Fits every joint: results in the order given; one failure does not affect the others.
///
/// With the feature `parallel` the joints are shared among the threads of rayon's pool; the results are the same to the
/// bit, whatever their number.
pub fn fit_many(joints: &[Readings<'_>], options: &FitOptions) -> Vec<Result<LimitFit, FitError>> {
    #[cfg(feature = "parallel")]
    {
        use rayon::prelude::*;
        joints.par_iter().map(|joint| fit_limits(joint, options)).collect()
    }
    #[cfg(not(feature = "parallel"))]
    {
        joints.iter().map(|joint| fit_limits(joint, options)).collect()
    }
}
