//! How the hypotheses join the fit: which ends they decide, and which readings the line is then laid through.

use super::super::find::{Found, Prepared, find};
use super::super::kept::Kept;
use super::super::model::{Layout, Model, Motion, Part, Reading};
use super::super::polish::polish;
use super::super::prepare::Marks;
use super::super::stops::Chosen;
use super::table::{MOST_WHOLE, Row, sides_by_order};
use super::{FewEnd, Verdict, judge};
use crate::fit::error::FitError;
use crate::fit::readings::{FitOptions, Readings};
use std::vec::Vec;

/// Residuals, in spans of the measured values, that are rounding: a fit that leaves no more explains everything.
const EXACT: f64 = 1e-9;
/// Largest table of which all hypotheses are enumerated. Above [`MOST_WHOLE`] rows they only shorten: they decide an end that the fit
/// calls clear, where its last readings fall short.
const MOST_ROWS: usize = 60;
/// Share of readings left out above which a table of more than [`MOST_WHOLE`] rows is not judged so: what is left is a choice, and the
/// hypotheses would take it for all there was.
pub(in super::super) const MOST_LEFT_OUT: f64 = 0.05;
/// Readings on a stop from which the fit places it by itself.
const ENOUGH_ON_STOP: usize = 3;
/// The same where the line is bent: a bend, or a dead centre, is level over a few readings as well.
const ENOUGH_IF_BENT: usize = 5;
/// Probability of two rows or more on a stop from which a contact of the fit stands.
const AGREED: f64 = 0.7;
/// Probability above which a line counts as bent, and lost motion as there.
const SURE: f64 = 0.9;
/// Probability below which the hypotheses tell no difference: those against which the odds are greater are dropped.
const LEAST_P: f64 = 6e-6;
/// Rows on the line for each further power of a bend.
const ROWS_A_POWER: usize = 3;

/// What the hypotheses decide.
#[derive(Debug, Clone)]
pub(in super::super) struct Adopted {
    pub(in super::super) verdict: Verdict,
    /// Ends that they decide, lower and upper; at the others the fit has readings enough.
    pub(in super::super) ends: [bool; 2],
    /// Readings, in the order of `Prepared`, beyond an end that stalled: on no line, but no misreadings.
    pub(in super::super) held: Vec<bool>,
    /// The sides were seen from the order of the rows.
    pub(in super::super) sides_inferred: bool,
}

impl Adopted {
    /// What is said of an end, if it is decided here.
    pub(in super::super) fn end(&self, upper: bool) -> Option<&FewEnd> {
        let side = usize::from(upper);
        self.ends.get(side).filter(|decides| **decides)?;
        self.verdict.ends.get(side)
    }
}

/// Judges a table of few rows, and lays the line through the readings that follow it. `None` where the fit stands as it
/// is: a larger table, or one with readings enough on both stops.
pub(in super::super) fn adopt(
    given: &Readings<'_>,
    options: &FitOptions,
    prepared: &mut Prepared,
    marks: &Marks,
    found: Result<Found, FitError>,
) -> (Option<Adopted>, Result<Found, FitError>) {
    let n = prepared.readings.len();
    let rounding = EXACT * prepared.y_range;
    let exact = found
        .as_ref()
        .is_ok_and(|found| found.model.sse <= n as f64 * rounding * rounding && !found.kept.contains(&false));
    if n > MOST_ROWS || exact {
        return (None, found);
    }
    let sides_inferred = given.approach.is_none();
    let sides = sides_inferred.then(|| sides_by_order(given.drive));
    let both = sides
        .as_ref()
        .is_some_and(|sides| [1.0, -1.0].iter().all(|s| sides.contains(s)));
    let own = |found: &Result<Found, FitError>, prepared: &Prepared, enough: usize| {
        [false, true].map(|upper| found.as_ref().is_ok_and(|found| placed(found, prepared, upper, enough)))
    };
    if !both && own(&found, prepared, ENOUGH_IF_BENT) == [true, true] {
        return (None, found);
    }
    let side = |r: &Reading| match &sides {
        Some(sides) => sides.get(r.index()).copied().unwrap_or(0.0),
        None => r.s(),
    };
    let whole = prepared.readings.len() <= MOST_WHOLE;
    if !whole {
        let may = |found: &Found| {
            [false, true]
                .iter()
                .any(|upper| may_fall_short(found, prepared, *upper))
        };
        if !found.as_ref().is_ok_and(may) {
            return (None, found);
        }
        let left_out = |found: &Found| found.kept.iter().filter(|kept| !**kept).count() as f64;
        let few_left_out = |found: &Found| left_out(found) <= MOST_LEFT_OUT * found.kept.len() as f64;
        if !found.as_ref().is_ok_and(few_left_out) {
            return (None, found);
        }
    }
    let rows: Vec<Row> = prepared
        .readings
        .iter()
        .enumerate()
        .filter(|(i, _)| {
            whole
                || found
                    .as_ref()
                    .map_or(true, |found| found.kept.get(*i).copied().unwrap_or(true))
        })
        .map(|(_, r)| Row {
            drive: given.drive.get(r.index()).copied().unwrap_or_default(),
            measured: r.y,
            side: side(r),
            weight: r.w,
            noted: r.noted,
            index: r.index(),
        })
        .collect();
    let stated = given.u.is_some();
    let shown = found.as_ref().ok().map(|found| found.variance.sqrt());
    let left_out = found.as_ref().map_or(Vec::new(), |found| {
        let all = prepared.readings.iter().zip(&found.kept);
        all.filter_map(|(r, kept)| (!kept).then_some(r.index())).collect()
    });
    let verdict = judge(
        &rows,
        prepared.step,
        stated,
        sides_inferred,
        shown,
        &left_out,
        options.confidence,
    );
    let Some(verdict) = verdict else {
        return (None, found);
    };
    // The fit's own search rests on the same rows.
    let several: &[usize] = if verdict.misread.len() > 1 {
        &verdict.misread
    } else {
        &[]
    };
    let found = if several.is_empty() {
        found
    } else {
        find_without(prepared, marks, several)
    };
    let moves = whole && sides_inferred && verdict.moves > SURE;
    let found = if moves && !prepared.two_sided {
        for r in &mut prepared.readings {
            r.side = side(r) as i8;
        }
        prepared.two_sided = true;
        find_without(prepared, marks, several)
    } else {
        found
    };
    let bent = verdict.bent > SURE;
    let mut own = own(&found, prepared, if bent { ENOUGH_IF_BENT } else { ENOUGH_ON_STOP });
    // A contact that the fit and the hypotheses agree on more than not keeps the fit's numbers.
    for ((own, end), knee) in own.iter_mut().zip(&verdict.ends).zip(knees(&found)) {
        *own |= !bent && end.short_at.is_some() && end.several > AGREED && knee.is_finite();
    }
    if !whole {
        for ((own, end), knee) in own.iter_mut().zip(&verdict.ends).zip(knees(&found)) {
            *own = knee.is_finite() || end.short_at.is_none();
        }
    }
    let marked = [marks.lower.is_some(), marks.upper.is_some()];
    let mut adopted = Adopted {
        ends: [!own[0] && !marked[0], !own[1] && !marked[1]],
        held: std::vec![false; prepared.readings.len()],
        sides_inferred: moves,
        verdict,
    };
    if own == [true, true] {
        return (whole.then_some(adopted), found);
    }
    match adopted.refit(given, prepared, found.as_ref().ok(), whole) {
        Some(refitted) => (Some(adopted), Ok(refitted)),
        None => (Some(adopted), found),
    }
}

/// The model found in the readings without some of them, by their places in the table as given.
fn find_without(prepared: &Prepared, marks: &Marks, misread: &[usize]) -> Result<Found, FitError> {
    let left_out: Vec<bool> = (prepared.readings.iter())
        .map(|r| misread.contains(&r.index()))
        .collect();
    let mut found = find(&prepared.without(&left_out), marks.insisted())?;
    let mut kept = found.kept.iter().copied();
    found.kept = left_out
        .iter()
        .map(|left_out| !left_out && kept.next().unwrap_or(false))
        .collect();
    Ok(found)
}

fn knees(found: &Result<Found, FitError>) -> [f64; 2] {
    let of = |found: &Found| [found.chosen.lower, found.chosen.upper];
    found.as_ref().map_or([f64::NEG_INFINITY, f64::INFINITY], of)
}

/// Whether the fit has readings enough on a stop.
fn placed(found: &Found, prepared: &Prepared, upper: bool, enough: usize) -> bool {
    let knee = if upper { found.chosen.upper } else { found.chosen.lower };
    let there = if upper { Part::OnUpper } else { Part::OnLower };
    let on = prepared.readings.iter().zip(&found.kept);
    let on = on.filter(|(r, kept)| **kept && found.model.part(r.x, r.s()) == there);
    knee.is_finite() && on.count() >= enough
}

/// Whether one of the two outermost readings of an end without a stop lies inward of the line: otherwise
/// nothing is there to shorten, and no hypothesis need be asked.
fn may_fall_short(found: &Found, prepared: &Prepared, upper: bool) -> bool {
    let knee = if upper { found.chosen.upper } else { found.chosen.lower };
    let outward = if upper { 1.0 } else { -1.0 };
    let model = &found.model;
    let mut kept: Vec<&Reading> = prepared
        .readings
        .iter()
        .zip(&found.kept)
        .filter_map(|(r, kept)| kept.then_some(r))
        .collect();
    kept.sort_by(|a, b| (outward * b.x).total_cmp(&(outward * a.x)));
    let short = |r: &Reading| outward * model.slope().signum() * (model.expected(r.x, r.s()) - r.y) * r.w.sqrt();
    knee.is_infinite() && kept.into_iter().take(2).any(|r| short(r) > 0.0)
}

impl Adopted {
    /// The line through the readings that follow it, with the stops that are placed; `None` where it stays as it was.
    fn refit(
        &mut self,
        given: &Readings<'_>,
        prepared: &Prepared,
        found: Option<&Found>,
        whole: bool,
    ) -> Option<Found> {
        let drive = |r: &Reading| given.drive.get(r.index()).copied().unwrap_or_default();
        let scaled = |at: f64| (at - prepared.centre) / prepared.half;
        let mut kept: Vec<bool> = prepared
            .readings
            .iter()
            .enumerate()
            .map(|(i, r)| {
                let before = found.is_none_or(|found| found.kept.get(i).copied().unwrap_or(true));
                (whole || before) && !self.verdict.misread.contains(&r.index())
            })
            .collect();
        let mut knees = (f64::NEG_INFINITY, f64::INFINITY);
        if let Some(found) = found {
            if !self.ends[0] {
                knees.0 = found.chosen.lower;
            }
            if !self.ends[1] {
                knees.1 = found.chosen.upper;
            }
        }
        for upper in [false, true] {
            let Some(end) = self.end(upper).cloned() else { continue };
            match (end.contact, end.stop, end.short_at) {
                (true, Some(stop), _) if upper => knees.1 = scaled(stop.at),
                (true, Some(stop), _) => knees.0 = scaled(stop.at),
                (_, _, Some(short)) => {
                    for ((r, kept), held) in prepared.readings.iter().zip(&mut kept).zip(&mut self.held) {
                        if if upper { drive(r) >= short } else { drive(r) <= short } {
                            *held = *kept;
                            *kept = false;
                        }
                    }
                }
                _ => {}
            }
        }
        let motion = if self.verdict.moves > SURE || found.is_some_and(|f| f.model.layout.motion != Motion::None) {
            found.map_or(Motion::Play, |f| match f.model.layout.motion {
                Motion::None => Motion::Play,
                motion => motion,
            })
        } else {
            Motion::None
        };
        let same = found.is_some_and(|f| {
            f.kept == kept
                && f.model.layout.motion == motion
                && f.chosen.lower.is_finite() == knees.0.is_finite()
                && f.chosen.upper.is_finite() == knees.1.is_finite()
        });
        if same {
            return None;
        }
        let mut model = self.line(Kept::of(&prepared.readings, &kept), motion, knees, found)?;
        // A row left out that agrees with the model after all, as one of many on a stop may, stays in.
        let variance = prepared.variance(&model);
        let mut agrees = false;
        for ((r, kept), held) in prepared.readings.iter().zip(&mut kept).zip(&self.held) {
            let off = (r.y - model.expected(r.x, r.s())).abs();
            if whole && !*kept && !held && off < prepared.step.max((variance / r.w).sqrt()) {
                *kept = true;
                agrees = true;
            }
        }
        if agrees {
            model = self.line(Kept::of(&prepared.readings, &kept), motion, knees, found)?;
        }
        let variance = prepared.variance(&model);
        Some(Found {
            chosen: Chosen {
                degree: model.layout.degree,
                lower: if model.layout.lower {
                    model.knees.0
                } else {
                    f64::NEG_INFINITY
                },
                upper: if model.layout.upper {
                    model.knees.1
                } else {
                    f64::INFINITY
                },
                sse: model.sse,
                p_curvature: (1.0 - self.verdict.bent).max(LEAST_P),
                suspect_lower: None,
                suspect_upper: None,
            },
            model,
            kept,
            variance,
        })
    }

    /// A straight line, or a bend where the hypotheses are sure of one and the rows suffice.
    fn line(&self, readings: Kept<'_>, motion: Motion, knees: (f64, f64), found: Option<&Found>) -> Option<Model> {
        let layout = |degree, motion| Layout {
            degree,
            motion,
            lower: knees.0.is_finite(),
            upper: knees.1.is_finite(),
            give_lower: false,
            give_upper: false,
        };
        let shift = found.map_or(0.0, |f| f.model.shift());
        let most = if self.verdict.bent > SURE {
            (readings.len() / ROWS_A_POWER).clamp(1, 3)
        } else {
            1
        };
        let mut best: Option<Model> = None;
        for degree in 1..=most {
            let model = polish(readings, layout(degree, motion), knees, shift)
                .or_else(|| polish(readings, layout(degree, Motion::None), knees, 0.0));
            if let Some(model) = model
                && model.dof() > 0
            {
                let better = best.is_none_or(|b| model.sse / (model.dof() as f64) < b.sse / b.dof() as f64);
                if better {
                    best = Some(model);
                }
            }
        }
        best
    }
}
