//! The closest rising or falling sequence: knots for a curve from scattered readings.

use crate::fit::error::FitError;
use crate::fit::line::check_points;
use std::vec::Vec;

/// One level of a monotone fit.
#[derive(Debug, Clone, Copy, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub struct Step {
    /// An x of the data; equal ones are pooled.
    pub x: f64,
    /// The fitted value there.
    pub y: f64,
}

/// The never falling (`rising`) or never rising sequence closest to the points in squares, one step for each
/// different x, in the order of x.
///
/// Points of one x are pooled by their mean first; neighbours in the wrong order are then pooled until none are left.
///
/// # Errors
/// As [`fit_line`](crate::fit::fit_line), though one x and one point will do.
///
/// *Source*: M. Ayer et al., Annals of Mathematical Statistics 26 (1955) 641 (pool adjacent violators).
pub fn fit_monotone(x: &[f64], y: &[f64], rising: bool) -> Result<Vec<Step>, FitError> {
    match check_points(x, y, 1) {
        Ok(()) | Err(FitError::DriveAnglesEqual { .. }) => {}
        Err(error) => return Err(error),
    }
    let mut points: Vec<(f64, f64)> = x.iter().copied().zip(y.iter().copied()).collect();
    points.sort_by(|a, b| a.0.total_cmp(&b.0).then(a.1.total_cmp(&b.1)));
    // Level, weight, different x on it.
    let mut levels: Vec<(f64, f64, usize)> = Vec::new();
    let mut places = Vec::new();
    for group in points.chunk_by(|a, b| a.0 == b.0) {
        let w = group.len() as f64;
        let mut level = (group.iter().map(|p| p.1).sum::<f64>() / w, w, 1);
        places.extend(group.first().map(|p| p.0));
        while let Some(&(y, w, count)) = levels.last() {
            let wrong = if rising { y > level.0 } else { y < level.0 };
            if !wrong {
                break;
            }
            levels.pop();
            level = (
                (y * w + level.0 * level.1) / (w + level.1),
                w + level.1,
                count + level.2,
            );
        }
        levels.push(level);
    }
    let values = levels.iter().flat_map(|&(y, _, count)| core::iter::repeat_n(y, count));
    Ok(places.into_iter().zip(values).map(|(x, y)| Step { x, y }).collect())
}
