//! Passes over the same sweep that do not agree: the zero, the scale or a stop moved in between.
//!
//! One model for all of them follows none, and its ends say nothing. Where the passes apart leave far less than together, each end is the
//! one of that pass which shows it furthest inwards.

use super::prepare::ends_of;
use super::slipped::{MISREAD, between_ends, is_in_order, misfit_but};
use crate::fit::outcome::{End, EndKind, LimitFit};
use crate::fit::readings::Readings;
use crate::fit::warning::Warning;
use std::ops::Range;
use std::vec::Vec;

/// Rows of a pass.
const FEWEST: usize = 6;
/// Share of the sweep that each pass goes over.
const COVERED: f64 = 0.6;
/// Most passes that are fitted one by one.
const MOST: usize = 8;
/// Share of the misfit that the passes leave apart, if they do not agree.
const LEFT: f64 = 1.0 / 3.0;
/// Readings left out next to each other that lost motion not yet taken up explains.
const AT_A_TURN: usize = 3;
/// Misfit, as a share of the measured range and in resolutions, up to which passes agree.
const SMALL: f64 = 0.006;
const STEPS: f64 = 0.6;

/// The fit given, with the ends that each pass allows where the passes do not agree. `fit_once` fits readings as they are.
#[expect(clippy::neg_cmp_op_on_partial_ord, reason = "NaN is small")]
pub(super) fn held_together(
    given: &Readings<'_>,
    fit: LimitFit,
    fit_once: impl Fn(&Readings<'_>) -> Option<LimitFit>,
) -> LimitFit {
    let (low, high) = ends_of(given.measured);
    let small = (SMALL * (high - low)).max(STEPS * fit.resolution.unwrap_or(0.0));
    if !(misfit_but(&fit, [MISREAD, AT_A_TURN]) > small) || !is_in_order(given) {
        return fit;
    }
    let Some(passes) = passes_of(given.drive) else {
        return fit;
    };
    let together = misfit_but(&fit, [MISREAD * passes.len(), AT_A_TURN]);
    let each: Option<Vec<LimitFit>> = passes.into_iter().map(|rows| fit_once(&given.rows(rows)?)).collect();
    let Some(each) = each else { return fit };
    let square = |fit: &LimitFit| misfit_but(fit, [MISREAD, AT_A_TURN]).powi(2);
    let rows: f64 = each.iter().map(|fit| fit.readings as f64).sum();
    let squares: f64 = each.iter().map(|fit| square(fit) * fit.readings as f64).sum();
    let apart = (squares / rows).sqrt();
    if apart.max(small * LEFT) < LEFT * together {
        said(given, fit, &each, [together, apart])
    } else {
        fit
    }
}

/// The rows of each pass, from turn to turn; none where the table does not go over the same sweep several times.
fn passes_of(drive: &[f64]) -> Option<Vec<Range<usize>>> {
    let mut passes: Vec<Range<usize>> = Vec::new();
    let (mut begin, mut way) = (0, 0.0);
    for (row, pair) in drive.windows(2).enumerate() {
        let &[before, after] = pair else { continue };
        let next = if after > before {
            1.0
        } else if after < before {
            -1.0
        } else {
            0.0
        };
        if next * way < 0.0 {
            // An angle that stands twice at the turn begins the next pass.
            let turn = drive.get(begin..=row)?.iter().rposition(|at| *at != before);
            let first = begin + turn.map_or(0, |at| at + 1);
            let split = if first < row { first + 1 } else { row + 1 };
            passes.push(begin..split);
            begin = split;
        }
        if next != 0.0 {
            way = next;
        }
    }
    passes.push(begin..drive.len());
    let (low, high) = ends_of(drive);
    let is_whole = |rows: &Range<usize>| {
        let (from, to) = drive.get(rows.clone()).map_or((0.0, 0.0), ends_of);
        rows.len() >= FEWEST && to - from >= COVERED * (high - low)
    };
    ((2..=MOST).contains(&passes.len()) && passes.iter().all(is_whole)).then_some(passes)
}

/// The fit with the innermost end of all passes at either side, and what is said of them.
fn said(given: &Readings<'_>, mut fit: LimitFit, each: &[LimitFit], [together, apart]: [f64; 2]) -> LimitFit {
    // Passes that do not agree are no slip within one: the ends of rows that were brought together for one count no more.
    let is_slip = |warning: &Warning| matches!(warning, Warning::Slipped { .. });
    let slipped = fit.warnings.iter().any(is_slip);
    let innermost = |whole: &End, of: fn(&LimitFit) -> &End, out: f64| {
        // A stop that one pass shows is told rather than an end that another only reached.
        let held = |end: &&End| end.kind != EndKind::Clear;
        let inner = |a: &&End, b: &&End| (out * b.travel).total_cmp(&(out * a.travel));
        let ends = || each.iter().map(of).chain((!slipped).then_some(whole));
        let travel = ends().map(|end| out * end.travel).fold(f64::INFINITY, f64::min);
        let end = ends().filter(held).max_by(inner).unwrap_or(whole);
        End {
            travel: out * travel,
            ..*end
        }
    };
    fit.lower = innermost(&fit.lower, |fit| &fit.lower, -1.0);
    fit.upper = innermost(&fit.upper, |fit| &fit.upper, 1.0);
    fit.warnings.retain(|warning| {
        !matches!(
            warning,
            Warning::ScatterWide { .. } | Warning::ScatterAboveResolution { .. } | Warning::Slipped { .. }
        )
    });
    fit.warnings.push(Warning::PassesDisagree {
        passes: each.len(),
        together,
        apart,
    });
    between_ends(given, fit)
}
