//! The search for the model, the misreadings and the lost motion together.

use super::kept::{Kept, Points};
use super::model::{Layout, MOTION, Model, Motion, Reading};
use super::polish::polish;
use super::start::{Start, start};
use super::stops::{Chosen, Marked, choose};
use crate::fit::error::FitError;
use crate::fit::statistics::quantile::t_quantile;
use crate::fit::statistics::univariate::{MAD_TO_SD, median};
use std::vec::Vec;

/// Half width, in robust standard deviations, inside which a reading starts as a good one.
const FIRST_CUT: f64 = 3.5;
/// Share of the readings that must agree.
const LEAST_AGREEING: f64 = 0.55;
/// Probability that a clean set of readings loses one (Bonferroni over all readings).
const P_REJECT: f64 = 0.01;
/// Scatter below this share of the measured range is rounding.
const ROUNDING: f64 = 1e-9;
/// Readings below which none can be told to be the wrong one.
const FEWEST_TO_REJECT: usize = 6;
/// Readings between the stops up to which they have a scale of their own. More of them bring the scale of all readings with them.
const FEW_BETWEEN: usize = 20;
/// Change of the reversal, in residual standard deviations, that moves no reading.
const SETTLED: f64 = 0.2;
/// Rounds of trying readings against one kind of model.
const TRIALS: usize = 10;
/// Rounds of choosing and rejecting.
const ROUNDS: usize = 12;
/// Scatter, as a share of the measured range, that lost motion of the other kind may explain.
const WIDE: f64 = 0.01;
/// Standard uncertainties by which a joint must lag to be believed where its sides have no stretch in common.
const APART_SURE: f64 = 4.0;
/// Readings of each side between the stops by which lost motion is sought where the sides have no stretch in common.
const LEAST_OF_A_SIDE: usize = 4;
/// Share of the variance that is left where lost motion is then believed.
const LEFT: f64 = 0.5;

/// Readings, sorted and scaled.
#[derive(Clone)]
pub(super) struct Prepared {
    pub(super) readings: Vec<Reading>,
    /// drive = centre + half · x
    pub(super) centre: f64,
    pub(super) half: f64,
    /// measured = level + y
    pub(super) level: f64,
    pub(super) y_range: f64,
    /// Smallest step of the measured value, zero if unknown.
    pub(super) step: f64,
    /// Smallest standard deviation of a reading of unit weight that can be believed.
    pub(super) least_sd: f64,
    /// Some readings were reached from below and some from above.
    pub(super) two_sided: bool,
}

/// What was found.
pub(super) struct Found {
    pub(super) model: Model,
    pub(super) chosen: Chosen,
    /// Retained, in the order of `Prepared::readings`.
    pub(super) kept: Vec<bool>,
    /// Variance of a reading of unit weight.
    pub(super) variance: f64,
}

impl Found {
    /// Lost motion in half spans of the drive, with its standard uncertainty, where it is play and has the sign that play has: reached
    /// from below, a joint lags behind.
    pub(super) fn play(&self) -> Option<(f64, f64)> {
        let model = &self.model;
        let motion = -2.0 * model.shift();
        let variance = model.covariance.get(MOTION).and_then(|row| row.get(MOTION));
        let u = (self.variance * variance.copied().unwrap_or(0.0).max(0.0)).sqrt() / model.slope().abs();
        // Written so that NaN is none.
        (model.layout.motion == Motion::Play && motion > 0.0 && u.is_finite()).then_some((motion, u))
    }

    /// Whether the model has lost motion that the readings determine: on a stretch reached from both sides, or beyond doubt.
    pub(super) fn shows_lost_motion(&self, readings: &[Reading]) -> bool {
        self.model.layout.motion != Motion::None
            && (common_stretch(readings, &self.kept, self.model.knees) || self.lags_by(APART_SURE))
    }

    /// Whether a straight joint lags by so many standard uncertainties of its lost motion.
    pub(super) fn lags_by(&self, uncertainties: f64) -> bool {
        let model = &self.model;
        let u = (self.variance * model.reversal_variance().max(0.0)).sqrt();
        model.layout.degree <= 1 && -model.reversal() * model.slope().signum() > uncertainties * u
    }

    /// Retained readings as points free of lost motion, sorted.
    pub(super) fn points<'a>(&self, kept: Kept<'a>) -> Points<'a> {
        Points::of(
            kept,
            self.model.layout.motion,
            self.model.reversal(),
            self.model.shift(),
        )
    }
}

impl Prepared {
    /// Equal drives by what was measured, and those by all else: the order given makes no difference to any result.
    pub(super) fn sort(&mut self) {
        // In place: a stable sort would ask for half as much memory again.
        self.readings.sort_unstable_by(|a, b| {
            a.x.total_cmp(&b.x)
                .then(a.y.total_cmp(&b.y))
                .then(a.side.cmp(&b.side))
                .then(a.w.total_cmp(&b.w))
                .then(a.noted.cmp(&b.noted))
                .then(a.place.cmp(&b.place))
        });
    }

    /// The same without some readings.
    pub(super) fn without(&self, left_out: &[bool]) -> Self {
        let mut left_out = left_out.iter();
        let mut readings = self.readings.clone();
        readings.retain(|_| !left_out.next().copied().unwrap_or(false));
        Self { readings, ..*self }
    }

    /// Standard deviation, at unit weight, that rounding alone can produce.
    fn rounding_sd(&self) -> f64 {
        let weight = self.readings.iter().map(|r| r.w).sum::<f64>() / self.readings.len() as f64;
        ROUNDING * self.y_range * weight.sqrt()
    }

    /// What rounding can leave of a reading's square in the running sums, at unit weight: each is rounded once a reading,
    /// at the size of all squares together.
    fn rounding_of_squares(&self) -> f64 {
        let n = self.readings.len() as f64;
        let weight = self.readings.iter().map(|r| r.w).sum::<f64>() / n;
        f64::EPSILON * n * weight * self.y_range * self.y_range
    }

    /// Sum of squares below which a model is as good as the readings can tell.
    fn floor(&self, n: usize) -> f64 {
        // Half, as a lucky set scatters less than its stated uncertainty.
        let sd = self.rounding_sd().max(0.5 * self.least_sd);
        n as f64 * (sd * sd).max(self.rounding_of_squares())
    }

    /// Variance of a reading of unit weight.
    pub(super) fn variance(&self, model: &Model) -> f64 {
        let seen = model.sse / model.dof().max(1) as f64;
        let least = self.least_sd.max(self.rounding_sd());
        seen.max(least * least)
    }
}

/// Keeps the readings whose residual is within the cut of a robust scale, and never fewer than must agree. Where most scatter by no more
/// than one step, they may be those on the stops, which repeat each other and tell nothing of the scatter on the line: then a few
/// readings between the stops have a scale of their own, and as many of them must agree.
fn first_cut(prepared: &Prepared, residuals: &[f64], (lower, upper): (f64, f64), least_sd: f64) -> Vec<bool> {
    if residuals.len() < FEWEST_TO_REJECT {
        return residuals.iter().map(|_| true).collect();
    }
    let all = agreeing_within(residuals.iter().map(|r| r.abs()).collect());
    let readings = || prepared.readings.iter().zip(residuals);
    let between = || readings().filter(|(r, _)| r.x > lower && r.x < upper);
    let own = if all <= FIRST_CUT * prepared.step.max(least_sd) && between().count() <= FEW_BETWEEN {
        agreeing_within(between().map(|(_, residual)| residual.abs()).collect())
    } else {
        0.0
    };
    let cut = all.max(own).max(FIRST_CUT * least_sd);
    readings().map(|(reading, r)| reading.noted || r.abs() <= cut).collect()
}

/// Within which size of residuals good readings lie, and as many as must agree; zero where there are none.
fn agreeing_within(mut sizes: Vec<f64>) -> f64 {
    let n = sizes.len();
    let needed = (LEAST_AGREEING * n as f64) as usize;
    let middle = median(&mut sizes).unwrap_or(0.0);
    let must = if needed < n {
        *sizes.select_nth_unstable_by(needed, f64::total_cmp).1
    } else {
        0.0
    };
    (FIRST_CUT * MAD_TO_SD * middle).max(must)
}

/// Robust first values of the reversal, and of what lies midway between the two sides above the line, from readings between the stops.
fn first_reversal(readings: &[Reading], start: &Start) -> (f64, f64) {
    let (lower, upper) = start.knees();
    let side = |s: f64| {
        let mut rest: Vec<f64> = readings
            .iter()
            .filter(|r| r.s() == s && r.x > lower && r.x < upper)
            .map(|r| r.y - start.expected(r.x))
            .collect();
        (rest.len() >= 2).then(|| median(&mut rest)).flatten()
    };
    match (side(1.0), side(-1.0)) {
        (Some(below), Some(above)) => (below - above, 0.5 * (below + above)),
        _ => (0.0, 0.0),
    }
}

/// Whether some stretch between the knees was reached from both sides: at least two readings of each side in common.
pub(super) fn common_stretch(readings: &[Reading], kept: &[bool], knees: (f64, f64)) -> bool {
    let inside = |s: f64| {
        readings
            .iter()
            .zip(kept)
            .filter(move |(r, kept)| **kept && r.s() == s && r.x >= knees.0 && r.x <= knees.1)
            .map(|(r, _)| r.x)
    };
    let span = |s: f64| {
        inside(s).fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), x| {
            (low.min(x), high.max(x))
        })
    };
    let (below, above) = (span(1.0), span(-1.0));
    let (low, high) = (below.0.max(above.0), below.1.min(above.1));
    [1.0, -1.0]
        .iter()
        .all(|&s| inside(s).filter(|&x| x >= low && x <= high).count() >= 2)
}

/// Chooses a model for the retained readings and fits it with its lost motion.
fn fit_retained(
    prepared: &Prepared,
    kept: &[bool],
    knees: (f64, f64),
    motion: Motion,
    mut reversal: f64,
    mut shift: f64,
    marked: Marked,
) -> Option<(Model, Chosen)> {
    let readings = Kept::of(&prepared.readings, kept);
    let floor = prepared.floor(readings.len());
    let mut from = knees;
    let mut last: Option<(Model, Chosen)> = None;
    for _ in 0..4 {
        let points = Points::of(readings, motion, reversal, shift);
        let play = if motion == Motion::Play { 2.0 * shift.abs() } else { 0.0 };
        let chosen = choose(&points, from, floor, marked, play)?;
        let model = polish(
            readings,
            layout_of(&chosen, motion),
            (chosen.lower, chosen.upper),
            shift,
        )?;
        // The fit finds its own reversal; only one that would have put readings into other parts asks for another look.
        let moved = (model.reversal() - reversal).abs();
        let sd = (model.sse / readings.len() as f64).sqrt();
        let settled =
            motion == Motion::None || moved <= SETTLED * sd || last.as_ref().is_some_and(|(m, _)| m.sse <= model.sse);
        reversal = model.reversal();
        shift = model.shift();
        from = model.knees;
        if last
            .as_ref()
            .is_none_or(|(m, c)| model.sse < m.sse || !c.same_kind(&chosen))
        {
            last = Some((model, chosen));
        }
        if settled {
            break;
        }
    }
    last
}

/// The layout of a hard-stop model.
fn layout_of(chosen: &Chosen, motion: Motion) -> Layout {
    Layout {
        degree: chosen.degree,
        motion,
        lower: chosen.lower.is_finite(),
        upper: chosen.upper.is_finite(),
        give_lower: false,
        give_upper: false,
    }
}

/// The first model, before anything is rejected.
pub(super) fn first_look(prepared: &Prepared) -> Option<Start> {
    start(&Points::of(Kept::all(&prepared.readings), Motion::None, 0.0, 0.0))
}

/// The same where lost motion is alike on the line and on the stops, as the readings of one drive angle from both sides show it.
fn first_look_everywhere(prepared: &Prepared) -> Option<Start> {
    let readings = &prepared.readings;
    let mean = |place: &[Reading], s: f64| {
        let of = || place.iter().filter(|r| r.s() == s).map(|r| r.y);
        let count = of().count();
        (count > 0).then(|| of().sum::<f64>() / count as f64)
    };
    let places = readings.chunk_by(|a, b| a.x == b.x);
    let mut apart: Vec<f64> = places
        .filter_map(|place| Some(mean(place, 1.0)? - mean(place, -1.0)?))
        .collect();
    if apart.len() < LEAST_OF_A_SIDE {
        return None;
    }
    let reversal = median(&mut apart)?;
    start(&Points::of(Kept::all(readings), Motion::Everywhere, reversal, 0.0))
}

/// Finds model, lost motion and misreadings of prepared readings.
///
/// Lost motion is first sought as play. On a plateau the other kind makes two levels, and a search for play may take
/// their readings for misreadings or for scatter; so what play leaves out, or scatters widely about, is looked at again with lost motion
/// everywhere.
pub(super) fn find(prepared: &Prepared, marked: Marked) -> Result<Found, FitError> {
    let first = first_look(prepared).ok_or(FitError::NoAgreement {
        agree: 0,
        given: prepared.readings.len(),
    })?;
    if !prepared.two_sided {
        return find_with(prepared, &first, Motion::None, Sought::InCommon, marked);
    }
    let with = |motion| find_with(prepared, &first, motion, Sought::InCommon, marked);
    let play = with(Motion::Play);
    if let Ok(play) = &play
        && play.model.layout.motion == Motion::None
        && let Some(lagging) = lagging(prepared, &first, play, marked)
    {
        return Ok(lagging);
    }
    let is_wide = |found: &Found| found.variance.sqrt() > WIDE * prepared.y_range;
    if play
        .as_ref()
        .is_ok_and(|found| found.kept.iter().all(|kept| *kept) && !is_wide(found))
    {
        return play;
    }
    let first = first_look_everywhere(prepared).unwrap_or(first);
    let everywhere = find_with(prepared, &first, Motion::Everywhere, Sought::InCommon, marked);
    match (play, everywhere) {
        (Ok(play), Ok(everywhere)) => Ok(closer(prepared, play, everywhere)),
        (Ok(play), Err(_)) => Ok(play),
        (Err(_), Ok(everywhere)) if everywhere.chosen.stops() > 0 => Ok(everywhere),
        (Err(error), _) => Err(error),
    }
}

/// The same with lost motion that no stretch shows from both sides, as outward from the middle: the line of one side stands off that of the
/// other. A bend would look alike, so it is believed only of a straight joint, where it is beyond doubt and explains most of the scatter.
fn lagging(prepared: &Prepared, first: &Start, without: &Found, marked: Marked) -> Option<Found> {
    let (lower, upper) = without.model.knees;
    let inside = |s: f64| {
        let readings = prepared.readings.iter().zip(&without.kept);
        readings.filter(move |(r, kept)| **kept && r.s() == s && r.x > lower && r.x < upper)
    };
    if [1.0, -1.0].iter().any(|&s| inside(s).count() < LEAST_OF_A_SIDE) {
        return None;
    }
    // On a stop that one side alone has reached, play before the joint and at the sensor are the same: this one leaves the stop at the
    // drive angle at which that side meets it.
    let with = find_with(prepared, first, Motion::Everywhere, Sought::Apart, marked).ok()?;
    (with.lags_by(APART_SURE) && with.variance < LEFT * without.variance).then_some(with)
}

/// The one that the readings, those left out included, lie closer to: the least truncated sum of squares, both cut by
/// the smaller scatter. The first if neither.
fn closer(prepared: &Prepared, first: Found, second: Found) -> Found {
    let cut = FIRST_CUT * FIRST_CUT * first.variance.min(second.variance);
    let cost = |found: &Found| -> f64 {
        prepared
            .readings
            .iter()
            .map(|r| {
                let rest = r.y - found.model.expected(r.x, r.s());
                (rest * rest * r.w).min(cut)
            })
            .sum()
    };
    if cost(&second) < cost(&first) { second } else { first }
}

/// Where lost motion is sought.
#[derive(Clone, Copy, PartialEq)]
enum Sought {
    /// Where some stretch was reached from both sides.
    InCommon,
    /// Everywhere.
    Apart,
}

/// Finds model and misreadings, lost motion being sought as one kind.
fn find_with(
    prepared: &Prepared,
    first: &Start,
    motion: Motion,
    sought: Sought,
    marked: Marked,
) -> Result<Found, FitError> {
    let readings = &prepared.readings;
    let n = readings.len();
    let no_agreement = |agree: usize| FitError::NoAgreement { agree, given: n };
    let (mut reversal, midway) = if motion == Motion::None {
        (0.0, 0.0)
    } else {
        first_reversal(readings, first)
    };
    let least_sd = prepared.least_sd.max(prepared.rounding_sd());
    let (lower, upper) = first.knees();
    let residuals: Vec<f64> = readings
        .iter()
        .map(|r| {
            let half = 0.5 * r.s() * reversal;
            let expected = if motion == Motion::Everywhere {
                first.expected(r.x) + half
            } else if first.slope == 0.0 {
                first.expected(r.x)
            } else {
                first.expected(r.x + half / first.slope)
            };
            // The line of the start may be that of one side.
            let off = if motion == Motion::Play && r.x > lower && r.x < upper {
                midway
            } else {
                0.0
            };
            (r.y - expected - off) * r.w.sqrt()
        })
        .collect();
    let mut kept = first_cut(prepared, &residuals, first.knees(), least_sd);
    let shows = || sought == Sought::Apart || common_stretch(readings, &kept, first.knees());
    let motion = if motion != Motion::None && shows() {
        motion
    } else {
        reversal = 0.0;
        Motion::None
    };
    let mut shift = if motion == Motion::Play {
        0.5 * reversal / first.slope
    } else {
        0.0
    };
    let mut knees = first.knees();
    let mut result: Option<(Model, Chosen)> = None;
    for _ in 0..ROUNDS {
        let count = kept.iter().filter(|k| **k).count();
        if (count as f64) < LEAST_AGREEING * n as f64 {
            return Err(no_agreement(count));
        }
        let (mut model, chosen) =
            fit_retained(prepared, &kept, knees, motion, reversal, shift, marked).ok_or(no_agreement(count))?;
        let new_kind = result
            .as_ref()
            .is_some_and(|(_, last): &(Model, Chosen)| !last.same_kind(&chosen));
        let before = kept.clone();
        if new_kind {
            // A model of another kind than before gets a fresh look at all readings.
            let residuals: Vec<f64> = readings
                .iter()
                .map(|r| (r.y - model.expected(r.x, r.s())) * r.w.sqrt())
                .collect();
            kept = first_cut(prepared, &residuals, model.knees, least_sd);
        } else {
            // Each reading is tried for itself, the kind of model standing, until none changes its place.
            for _ in 0..TRIALS {
                let next = tried(prepared, &model, &kept);
                if next == kept {
                    break;
                }
                kept = next;
                let some = Kept::of(readings, &kept);
                match polish(some, layout_of(&chosen, motion), model.knees, model.shift()) {
                    Some(refitted) => model = refitted,
                    None => break,
                }
            }
        }
        knees = model.knees;
        reversal = model.reversal();
        shift = model.shift();
        result = Some((model, chosen));
        if before == kept {
            break;
        }
    }
    let count = kept.iter().filter(|k| **k).count();
    let (mut model, mut chosen) = result.ok_or(no_agreement(count))?;
    if model.n != count {
        // The last round changed the readings without a fit of its own.
        (model, chosen) =
            fit_retained(prepared, &kept, knees, motion, reversal, shift, marked).ok_or(no_agreement(count))?;
    }
    if motion == Motion::Play
        && chosen.stops() > 0
        && let Some(other) = polish(
            Kept::of(readings, &kept),
            layout_of(&chosen, Motion::Everywhere),
            model.knees,
            0.0,
        )
        && other.parameters <= model.parameters
        && other.sse < model.sse
    {
        model = other;
    }
    // Knees that the last trial moved.
    if chosen.lower.is_finite() {
        chosen.lower = model.knees.0;
    }
    if chosen.upper.is_finite() {
        chosen.upper = model.knees.1;
    }
    let variance = prepared.variance(&model);
    Ok(Found {
        model,
        chosen,
        kept,
        variance,
    })
}

/// Tries every reading against the model: a retained one by its externally studentised residual, another by its
/// prediction error; Bonferroni's limit over all readings.
fn tried(prepared: &Prepared, model: &Model, kept: &[bool]) -> Vec<bool> {
    let n = prepared.readings.len() as f64;
    let dof = model.dof() as f64;
    if dof < 2.0 {
        return kept.to_vec();
    }
    let limit = t_quantile(1.0 - 0.5 * P_REJECT / n, dof - 1.0);
    let outer_limit = t_quantile(1.0 - 0.5 * P_REJECT / n, dof);
    let least_sd = prepared.least_sd.max(prepared.rounding_sd());
    let floor = least_sd * least_sd;
    prepared
        .readings
        .iter()
        .zip(kept)
        .map(|(r, &kept)| {
            if r.noted {
                return true;
            }
            let rest = r.y - model.expected(r.x, r.s());
            // Within one step no rounding can be told from a misreading.
            if rest.abs() <= prepared.step {
                return true;
            }
            let leverage = model.leverage(r.x, r.s()) * r.w;
            let squared = rest * rest * r.w;
            if kept {
                // A reading that the model follows exactly cannot be judged.
                let room = 1.0 - leverage;
                if room < 1e-6 {
                    return true;
                }
                let variance = ((model.sse - squared / room) / (dof - 1.0)).max(floor);
                squared / room <= limit * limit * variance
            } else {
                let variance = (model.sse / dof).max(floor);
                squared / (1.0 + leverage) <= outer_limit * outer_limit * variance
            }
        })
        .collect()
}
