//! Coverage intervals for the knees.
//!
//! Profile likelihood: the interval holds every knee whose best fit is no worse than the best of all by more than
//! `t² σ²` in the sum of squares (Bates and Watts, Nonlinear Regression Analysis and Its Applications, Wiley 1988,
//! ch. 6). For readings that stay in their parts it equals Fieller's interval for the crossing of a level and a line;
//! where a knee may slip past a reading it follows the readings instead of a tangent. For a stop that gives, Fieller's
//! form is used as it stands.

use super::kept::Points;
use super::model::Model;
use super::sums::Search;
use crate::fit::statistics::crossing::crossing;

/// How closely an interval's end is found, in scaled drive: far below any reading's step, above what rounding does to a
/// sum of squares.
const CLOSE: f64 = 1e-13;
/// Largest give, as a share of the slope before the stop, that is allowed for where none is seen: foam, a bending horn.
const UNSEEN_GIVE: f64 = 0.1;
/// Steps from no give to that.
const GIVE_STEPS: u32 = 20;

/// The interval of one knee in scaled drive, lower then upper, where `reach = t² σ²`.
///
/// `points` are the retained readings sorted by x, already free of lost motion; no end leaves the sweep or passes the
/// other knee.
pub(super) fn profile(points: &Points<'_>, search: &dyn Search, model: &Model, upper: bool, reach: f64) -> [f64; 2] {
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
    walk(points, model, upper, knee, |x| sse(x) - most)
}

/// The same for a stop that gives.
pub(super) fn fieller(points: &Points<'_>, model: &Model, upper: bool, reach: f64) -> [f64; 2] {
    let knee = if upper { model.knees.1 } else { model.knees.0 };
    walk(points, model, upper, knee, |x| {
        let (gap, variance) = model.gap_at(x, upper);
        gap * gap - reach * variance
    })
}

/// What readings allow a stop to give: slope behind it over slope before it, with standard uncertainty for unit variance.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Give {
    pub(super) ratio: f64,
    pub(super) u: f64,
}

/// A hard stop may be one that gives a little, which its readings cannot show: the interval that holds the knees of all
/// such stops that the readings allow, up to [`UNSEEN_GIVE`].
///
/// Through readings whose mean place beyond the knee is `place`, a give `g` moves the knee to `(knee − g·place)/(1 − g)`
/// and costs `((g − ratio)/u)²` in the sum of squares, of which `reach` may be spent on both together.
#[expect(
    clippy::neg_cmp_op_on_partial_ord,
    clippy::manual_clamp,
    reason = "NaN allows nothing, and f64::clamp can panic"
)]
pub(super) fn allowing_give([low, high]: [f64; 2], knee: f64, place: f64, give: Give, reach: f64) -> [f64; 2] {
    let cost = |g: f64| ((g - give.ratio) / give.u).powi(2);
    let likeliest = if give.ratio < 0.0 {
        0.0
    } else if give.ratio > UNSEEN_GIVE {
        UNSEEN_GIVE
    } else {
        give.ratio
    };
    let least = cost(likeliest);
    let mut out = [low, high];
    for step in 1..=GIVE_STEPS {
        let g = UNSEEN_GIVE * f64::from(step) / f64::from(GIVE_STEPS);
        let left = 1.0 - (cost(g) - least) / reach;
        // Written so that NaN allows nothing.
        if !(left > 0.0) {
            continue;
        }
        let moved = (knee - g * place) / (1.0 - g);
        let share = left.sqrt();
        out = [
            out[0].min(moved - share * (knee - low)),
            out[1].max(moved + share * (high - knee)),
        ];
    }
    out
}

/// From the knee outwards on both sides to where `excess` rises above zero.
fn walk(points: &Points<'_>, model: &Model, upper: bool, knee: f64, excess: impl Fn(f64) -> f64) -> [f64; 2] {
    let first = points.iter().next().map_or(knee, |p| p.x);
    let last = points.iter().next_back().map_or(knee, |p| p.x);
    let (least, most) = if upper {
        (model.knees.0.max(first), last)
    } else {
        (first, model.knees.1.min(last))
    };
    let below = points.iter().rev().skip_while(|p| p.x >= knee);
    let above = points.iter().skip_while(|p| p.x < knee);
    let down = below.map(|p| p.x).filter(|x| *x >= least).chain([least]);
    let up = above.map(|p| p.x).filter(|x| *x <= most).chain([most]);
    [edge(knee, down, &excess), edge(knee, up, &excess)]
}

fn edge(knee: f64, places: impl Iterator<Item = f64>, excess: &impl Fn(f64) -> f64) -> f64 {
    let mut inside = (knee, f64::NEG_INFINITY);
    for place in places {
        let here = (place, excess(place));
        if here.1 > 0.0 {
            return crossing(inside, here, CLOSE, excess);
        }
        inside = here;
    }
    inside.0
}
