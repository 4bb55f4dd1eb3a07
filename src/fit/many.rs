//! Whole robots, or whole production runs, at once.

use super::error::FitError;
use super::fit_limits;
use super::outcome::LimitFit;
use super::readings::{Approach, FitOptions, Readings};
use std::vec::Vec;

/// Fits every joint: results in the order given; one failure does not affect the others. A table of joints has one column of sides for all:
/// where that is blank in every reading of a joint, its sides were not given, and are inferred from the order of its readings.
///
/// With the feature `parallel` the joints are shared among the threads of rayon's pool; the results are the same to the
/// bit, whatever their number.
pub fn fit_many(joints: &[Readings<'_>], options: &FitOptions) -> Vec<Result<LimitFit, FitError>> {
    #[cfg(feature = "parallel")]
    {
        use rayon::prelude::*;
        joints.par_iter().map(|joint| fit_one(joint, options)).collect()
    }
    #[cfg(not(feature = "parallel"))]
    {
        joints.iter().map(|joint| fit_one(joint, options)).collect()
    }
}

fn fit_one(joint: &Readings<'_>, options: &FitOptions) -> Result<LimitFit, FitError> {
    let approach = joint.approach.filter(|sides| Approach::is_any_known(sides));
    fit_limits(&Readings { approach, ..*joint }, options)
}
