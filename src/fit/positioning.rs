//! Accuracy and repeatability of one axis, from repeated moves to the same targets.
//!
//! With the deviations `x = position − target` of `n` runs from one side, their mean and standard deviation `s`
//! (divisor n − 1), for each target, ↑ from below and ↓ from above:
//!
//! | ISO 230-2:2014 | formula |
//! | --- | --- |
//! | reversal value | mean↑ − mean↓; axis: B = largest size; mean with sign |
//! | repeatability | R↑ = 4 s↑, R↓ = 4 s↓, R = largest of 2 s↑ + 2 s↓ + size of reversal, R↑, R↓; axis: largest |
//! | systematic deviation | E = largest − smallest of all means; M the same of (mean↑ + mean↓)/2 |
//! | accuracy | A = largest (mean + 2 s) − smallest (mean − 2 s) |
//!
//! ISO 9283:1998, 7.2: pose accuracy AP = mean deviation; pose repeatability RP = l̄ + 3 S_l of the distances
//! l from the mean attained position, and for an angle ± 3 S; the multi-directional variation vAP is the size of the
//! reversal.

use super::error::FitError;
use super::readings::{Approach, check_finite};
use super::statistics::univariate::spread;
use std::vec::Vec;

/// One run over all targets, all reached from one side.
#[derive(Debug, Clone, Copy)]
pub struct Run<'a> {
    /// The side: [`Approach::Below`] or [`Approach::Above`].
    pub approach: Approach,
    /// The position attained at each target.
    pub positions: &'a [f64],
}

/// One target from one side.
#[derive(Debug, Clone, Copy, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
#[non_exhaustive]
pub struct OneSided {
    /// Runs.
    pub n: usize,
    /// Mean deviation from the target; also the pose accuracy AP with its sign.
    pub mean: f64,
    /// Standard deviation of the deviations.
    pub s: f64,
    /// ISO 230-2 unidirectional repeatability, 4 s.
    pub repeatability: f64,
    /// ISO 9283 pose repeatability RP of a position.
    pub pose_repeatability: f64,
    /// ISO 9283 pose repeatability of an angle: half width 3 S.
    pub pose_half_width: f64,
}

/// One target from both sides.
#[derive(Debug, Clone, Copy, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
#[non_exhaustive]
pub struct TwoSided {
    /// Mean of both means.
    pub mean: f64,
    /// Reversal value: mean from below less mean from above.
    pub reversal: f64,
    /// Bidirectional repeatability R.
    pub repeatability: f64,
}

/// What one target shows.
#[derive(Debug, Clone, Copy, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
#[non_exhaustive]
pub struct Target {
    /// The target.
    pub target: f64,
    /// Reached from below.
    pub up: Option<OneSided>,
    /// Reached from above.
    pub down: Option<OneSided>,
    /// Both together.
    pub both: Option<TwoSided>,
}

/// Characteristics of the axis from one side.
#[derive(Debug, Clone, Copy, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
#[non_exhaustive]
pub struct AxisOneSided {
    /// Unidirectional repeatability R↑ or R↓.
    pub repeatability: f64,
    /// Unidirectional systematic deviation E↑ or E↓.
    pub systematic: f64,
    /// Unidirectional accuracy A↑ or A↓.
    pub accuracy: f64,
}

/// Characteristics of the axis from both sides.
#[derive(Debug, Clone, Copy, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
#[non_exhaustive]
pub struct AxisTwoSided {
    /// Reversal value B: the largest size.
    pub reversal: f64,
    /// Mean reversal value, with its sign.
    pub mean_reversal: f64,
    /// Bidirectional repeatability R.
    pub repeatability: f64,
    /// Bidirectional systematic deviation E.
    pub systematic: f64,
    /// Mean bidirectional deviation M.
    pub mean_deviation: f64,
    /// Bidirectional accuracy A.
    pub accuracy: f64,
}

/// Positioning of one axis.
#[derive(Debug, Clone, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
#[non_exhaustive]
pub struct Positioning {
    /// Each target, in the order given.
    pub targets: Vec<Target>,
    /// The axis from below.
    pub up: Option<AxisOneSided>,
    /// The axis from above.
    pub down: Option<AxisOneSided>,
    /// The axis from both sides.
    pub both: Option<AxisTwoSided>,
}

/// Runs from one side without which there is no scatter. The standard asks for five.
const FEWEST_RUNS: usize = 2;

/// Evaluates runs over the same targets. Runs of unknown approach are refused.
///
/// *Unit*: that of the targets throughout. *Edges*: a side without runs is absent from the result.
///
/// # Errors
/// No targets or runs, a run of another length, values that are not finite, a single run from a side, a run whose side
/// is unknown.
pub fn positioning(targets: &[f64], runs: &[Run<'_>]) -> Result<Positioning, FitError> {
    check_finite("targets", targets)?;
    if targets.is_empty() {
        return Err(too_few(0, 1));
    }
    for (index, run) in runs.iter().enumerate() {
        if run.positions.len() != targets.len() {
            return Err(FitError::LengthMismatch {
                what: "a run",
                given: run.positions.len(),
                expected: targets.len(),
            });
        }
        check_finite("a run's positions", run.positions)?;
        if run.approach == Approach::Unknown {
            return Err(FitError::ApproachUnknown { index });
        }
    }
    let side = |approach: Approach| -> Result<Option<Vec<OneSided>>, FitError> {
        let here: Vec<&Run<'_>> = runs.iter().filter(|r| r.approach == approach).collect();
        match here.len() {
            0 => return Ok(None),
            given if given < FEWEST_RUNS => return Err(too_few(given, FEWEST_RUNS)),
            _ => {}
        }
        let of_target = |(i, &target): (usize, &f64)| {
            let deviations: Vec<f64> = here
                .iter()
                .filter_map(|r| r.positions.get(i))
                .map(|p| p - target)
                .collect();
            one_sided(&deviations)
        };
        Ok(Some(
            targets.iter().enumerate().map(of_target).collect::<Result<_, _>>()?,
        ))
    };
    let up = side(Approach::Below)?;
    let down = side(Approach::Above)?;
    if up.is_none() && down.is_none() {
        return Err(too_few(0, FEWEST_RUNS));
    }
    let at = |side: &Option<Vec<OneSided>>, i: usize| side.as_ref().and_then(|s| s.get(i)).copied();
    let per_target: Vec<Target> = targets
        .iter()
        .enumerate()
        .map(|(i, &target)| {
            let (up, down) = (at(&up, i), at(&down, i));
            Target {
                target,
                up,
                down,
                both: up.zip(down).map(|(u, d)| two_sided(&u, &d)),
            }
        })
        .collect();
    let both = match (&up, &down) {
        (Some(up), Some(down)) => Some(axis_two_sided(up, down, &per_target)),
        _ => None,
    };
    Ok(Positioning {
        up: up.as_deref().map(axis_one_sided),
        down: down.as_deref().map(axis_one_sided),
        both,
        targets: per_target,
    })
}

fn too_few(given: usize, needed: usize) -> FitError {
    FitError::TooFewReadings {
        given,
        needed,
        lower: f64::NAN,
        upper: f64::NAN,
    }
}

fn one_sided(deviations: &[f64]) -> Result<OneSided, FitError> {
    let all = spread(deviations)?;
    let distances: Vec<f64> = deviations.iter().map(|d| (d - all.mean).abs()).collect();
    let l = spread(&distances)?;
    Ok(OneSided {
        n: all.n,
        mean: all.mean,
        s: all.sd,
        repeatability: 4.0 * all.sd,
        pose_repeatability: l.mean + 3.0 * l.sd,
        pose_half_width: 3.0 * all.sd,
    })
}

fn two_sided(up: &OneSided, down: &OneSided) -> TwoSided {
    let reversal = up.mean - down.mean;
    let both = 2.0 * up.s + 2.0 * down.s + reversal.abs();
    TwoSided {
        mean: 0.5 * (up.mean + down.mean),
        reversal,
        repeatability: both.max(up.repeatability).max(down.repeatability),
    }
}

/// Largest less smallest of two sets of values.
fn range(high: impl Iterator<Item = f64>, low: impl Iterator<Item = f64>) -> f64 {
    high.fold(f64::NEG_INFINITY, f64::max) - low.fold(f64::INFINITY, f64::min)
}

fn axis_one_sided(side: &[OneSided]) -> AxisOneSided {
    AxisOneSided {
        repeatability: side.iter().map(|t| t.repeatability).fold(0.0, f64::max),
        systematic: range(side.iter().map(|t| t.mean), side.iter().map(|t| t.mean)),
        accuracy: range(
            side.iter().map(|t| t.mean + 2.0 * t.s),
            side.iter().map(|t| t.mean - 2.0 * t.s),
        ),
    }
}

fn axis_two_sided(up: &[OneSided], down: &[OneSided], targets: &[Target]) -> AxisTwoSided {
    let all = || up.iter().chain(down);
    let both = || targets.iter().filter_map(|t| t.both);
    AxisTwoSided {
        reversal: both().map(|t| t.reversal.abs()).fold(0.0, f64::max),
        mean_reversal: both().map(|t| t.reversal).sum::<f64>() / targets.len() as f64,
        repeatability: both().map(|t| t.repeatability).fold(0.0, f64::max),
        systematic: range(all().map(|t| t.mean), all().map(|t| t.mean)),
        mean_deviation: range(both().map(|t| t.mean), both().map(|t| t.mean)),
        accuracy: range(all().map(|t| t.mean + 2.0 * t.s), all().map(|t| t.mean - 2.0 * t.s)),
    }
}
