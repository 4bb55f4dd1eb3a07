//! Coverage intervals for the knees.
//!
//! Profile likelihood: the interval holds every knee whose best fit is no worse than the best of all by more than
//! `t² σ²` in the sum of squares (Bates and Watts, Nonlinear Regression Analysis and Its Applications, Wiley 1988,
//! ch. 6). For readings that stay in their parts it equals Fieller's interval for the crossing of a level and a line;
//! where a knee may slip past a reading it follows the readings instead of a tangent. For a stop that gives, Fieller's
//! form is used as it stands.

use super::model::Model;
use super::sums::{Point, Search};

/// Halvings of a step: to the last bit of a double.
const HALVINGS: usize = 60;

/// The interval of one knee in scaled drive, lower then upper, where `reach = t² σ²`.
///
/// `points` are the retained readings sorted by x, already free of lost motion; no end leaves the sweep or passes the
/// other knee.
pub(super) fn profile(points: &[Point], search: &dyn Search, model: &Model, upper: bool, reach: f64) -> [f64; 2] {
    let (lower_knee, upper_knee) = model.knees;
    let knee = if upper { upper_knee } else { lower_knee };
    let sse = |x: f64| {
        let found = if upper {
            search.sse_apart_below(lower_knee, x)
        } else {
            search.sse_apart_above(x, upper_knee)
        };
        found.unwrap_or(f64::INFINITY)
    };
    let most = sse(knee) + reach;
    walk(points, model, upper, knee, |x| sse(x) > most)
}

/// The same for a stop that gives.
pub(super) fn fieller(points: &[Point], model: &Model, upper: bool, reach: f64) -> [f64; 2] {
    let knee = if upper { model.knees.1 } else { model.knees.0 };
    walk(points, model, upper, knee, |x| {
        let (gap, variance) = model.gap_at(x, upper);
        gap * gap > reach * variance
    })
}

/// From the knee outwards on both sides to where `outside` begins.
fn walk(points: &[Point], model: &Model, upper: bool, knee: f64, outside: impl Fn(f64) -> bool) -> [f64; 2] {
    let first = points.first().map_or(knee, |p| p.x);
    let last = points.last().map_or(knee, |p| p.x);
    let (least, most) = if upper {
        (model.knees.0.max(first), last)
    } else {
        (first, model.knees.1.min(last))
    };
    let split = points.partition_point(|p| p.x < knee);
    let (below, above) = points.split_at_checked(split).unwrap_or((points, &[]));
    let down = below.iter().rev().map(|p| p.x).filter(|x| *x >= least).chain([least]);
    let up = above.iter().map(|p| p.x).filter(|x| *x <= most).chain([most]);
    [edge(knee, down, &outside), edge(knee, up, &outside)]
}

fn edge(knee: f64, places: impl Iterator<Item = f64>, outside: &impl Fn(f64) -> bool) -> f64 {
    let mut inside = knee;
    for place in places {
        if outside(place) {
            let mut beyond = place;
            for _ in 0..HALVINGS {
                let middle = 0.5 * (inside + beyond);
                if outside(middle) {
                    beyond = middle;
                } else {
                    inside = middle;
                }
            }
            return beyond;
        }
        inside = place;
    }
    inside
}
