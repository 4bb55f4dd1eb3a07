//! A mechanism put together the other way, which the readings do not tell from the one that was fitted.

use crate::linkage::Branch;
use crate::look::Statistic;

/// A mechanism put together the other way, which the readings do not tell from the one that was fitted.
#[derive(Debug, Clone, Copy, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
#[non_exhaustive]
pub struct OtherBranch {
    /// The other branch.
    pub branch: Branch,
    /// Standard deviation of the readings about it, in measured units.
    pub residual_sd: f64,
    /// That of the mechanism fitted.
    pub fitted_sd: f64,
    /// The most by which the joint angles of the two differ over the drive angles read and a tenth of their range to either side,
    /// in measured units.
    pub apart: f64,
    /// Whether the readings fit the other branch better: it makes them 20 times as likely.
    pub is_better: bool,
}

impl core::fmt::Display for OtherBranch {
    fn fmt(&self, f: &mut core::fmt::Formatter<'_>) -> core::fmt::Result {
        let Self {
            branch,
            residual_sd,
            fitted_sd,
            apart,
            is_better,
        } = *self;
        let branch = branch.as_str();
        let fits = if is_better { "fits better" } else { "fits as well" };
        write!(
            f,
            "assembled with its pin on the {branch}, this linkage {fits} (residual SD {} against {}), and \
             the two differ by up to {} within a tenth of the range beyond the readings; look at the joint, on which side the \
             pin lies",
            Statistic(residual_sd),
            Statistic(fitted_sd),
            Statistic(apart)
        )
    }
}
