//! A pointer, sensor or horn that slipped while a table was taken, or a tooth that was skipped: from one row on all values are displaced
//! together.
//!
//! Looked for in the order of the rows, by least squares over every row from which the rest may be displaced, beside a line and the sides
//! that the order tells. In a table one way the rows stand in the order of the drive angles as well. Where a displacement explains nearly all that the model does not, the table is fitted again with the rows before
//! it brought to those behind it, and that fit decides.

use super::few::sides_by_order;
use super::left_out::misread_runs;
use super::prepare::ends_of;
use crate::fit::error::FitError;
use crate::fit::outcome::{End, EndKind, LimitFit, Rejected, brought_together};
use crate::fit::readings::{Approach, Readings};
use crate::fit::statistics::orthogonal::without;
use crate::fit::statistics::quantile::f_tail;
use crate::fit::statistics::resolution::step_along;
use crate::fit::warning::Warning;
use core::ops::Range;
use std::vec::Vec;

/// Rows on each side of a slip that are needed to see it.
const LEAST_ROWS: usize = 3;
/// Rows on the line below which a line, sides and a slip explain too much by chance.
const FEWEST: usize = 7;
/// Rows above which no slip is looked for: their copies would take memory, and they come from recordings that are repeated at no cost.
const MOST: usize = 100_000;
/// Probability by chance, over all rows where it may have happened, above which a slip is none.
const P_SLIP: f64 = 1e-4;
/// Share of the misfit that may be left: a drift that is as large, fitted by one step, leaves half.
const LEFT: f64 = 0.4;
/// Residual standard deviations, or resolutions, that a slip is larger than.
const LEAST_SIZE: f64 = 4.0;
/// The same in the largest value's steps as a number: with less, exact values are rounded.
const LEAST_STEPS: f64 = 1e4;
/// Share of a step in the rows that line and sides may not explain, for its size to be known.
const LEAST_OWN: f64 = 0.05;
/// Rows from a turn within which a slip and lost motion look alike.
const NEAR_TURN: usize = 1;
/// Share of the shorter of two ways that both have in common, from which lost motion shows.
const COMMON: f64 = 0.5;
/// Rows left out that a fit is not blamed for.
pub(super) const MISREAD: usize = 2;
/// Readings on a stop that the rows before a slip, or those behind it, need to show it by themselves in a table of both ways.
const LEAST_HELD: usize = 2;
/// Rounds of looking for the row and fitting again.
const ROUNDS: usize = 3;
/// Middle part of the sweep that lies on the line where the first fit finds the wrong stops.
const MIDDLE: f64 = 0.3;

/// All values from a row on are displaced.
#[derive(Debug, Clone, Copy)]
struct Slipped {
    /// The first row of them.
    row: usize,
    by: f64,
}

/// Which rows a slip is looked for in, and what lies behind it.
#[derive(Debug, Clone, Copy)]
enum Look {
    /// Those between two drive angles, which lie on the line.
    Inside([f64; 2]),
    /// All, the joint standing still beyond two drive angles.
    Held([f64; 2]),
}

/// The fit of readings in which everything from one row on is displaced, with the warning that says so; the fit given where there is no
/// such row. `fit_once` fits readings as they are.
pub(super) fn see_through(
    given: &Readings<'_>,
    first: Result<LimitFit, FitError>,
    fit_once: impl Fn(&Readings<'_>) -> Result<LimitFit, FitError>,
) -> Result<LimitFit, FitError> {
    let moved = matches!(
        first,
        Ok(_) | Err(FitError::InMotion { .. } | FitError::NoAgreement { .. })
    );
    if !moved || !is_in_order(given) {
        return first;
    }
    let sides = sides_of(given);
    // Readings of both ways that somebody sorted are in no order of time.
    if !is_one_way(&sides) && (is_sorted(given.drive) || !have_common(given, &sides)) {
        return first;
    }
    let before = first.as_ref().map_or(f64::INFINITY, misfit);
    let best = best_correction(given, &sides, first.as_ref().ok(), &fit_once);
    let Some((slipped, fit)) = best.filter(|(slipped, fit)| explains(given, *slipped, fit, before)) else {
        return first;
    };
    // Where nobody noted the sides, only with them does a fit see hysteresis. Rows that it leaves out may be those between slip and turn.
    let with_sides = given
        .approach
        .is_none()
        .then(|| fit_once(&given.with_approach(&approach_of(&sides))))
        .and_then(Result::ok)
        .filter(|fit| misfit(fit) < LEFT * before && !leads(fit) && misread_runs(&fit.rejected).is_empty());
    let is_better = |other: &LimitFit| explains(given, slipped, &fit, misfit(other));
    match with_sides {
        Some(with_sides) if is_lost_motion(given, &sides, slipped, &fit) || !is_better(&with_sides) => Ok(LimitFit {
            approach_inferred: true,
            ..with_sides
        }),
        _ if is_lost_motion(given, &sides, slipped, &fit) => first,
        _ => {
            let parts = [0..slipped.row, slipped.row..given.drive.len()].map(|rows| given.rows(rows));
            let fits = parts.map(|part| part.and_then(|part| fit_once(&part).ok()));
            let least_held = if is_one_way(&sides) { 1 } else { LEAST_HELD };
            let fit = within_parts(say(given, slipped, fit), fits.iter().flatten(), least_held);
            Ok(between_ends(given, within_moving(given, slipped.row, fit)))
        }
    }
}

/// The displacement whose correction leaves least, with the fit of the corrected rows.
fn best_correction(
    given: &Readings<'_>,
    sides: &[f64],
    first: Option<&LimitFit>,
    fit_once: impl Fn(&Readings<'_>) -> Result<LimitFit, FitError>,
) -> Option<(Slipped, LimitFit)> {
    // Lost motion displaces what follows a turn as well; a slip near a turn shows only without it.
    let none = std::vec![0.0; sides.len()];
    let (low, high) = ends_of(given.measured);
    let inferred = || step_along(given.drive, given.measured, high - low).unwrap_or(0.0);
    let step = first.map_or_else(inferred, |fit| fit.resolution.unwrap_or(0.0));
    let mut best: Option<(Slipped, LimitFit)> = None;
    // Fits the rows that a displacement brings together, and gives the drive angles between its stops.
    let mut corrected = |slipped: Slipped| {
        // By whole steps: the corrected values lie on the steps on which all were read.
        let by = if step > 0.0 {
            (slipped.by / step).round() * step
        } else {
            slipped.by
        };
        let slipped = Slipped { by, ..slipped };
        let measured = brought_together(given.measured, slipped.row, slipped.by);
        let readings = Readings {
            measured: &measured,
            ..*given
        };
        let fit = fit_once(&readings).ok()?;
        let line = line_of(&fit);
        if best.as_ref().is_none_or(|(_, best)| misfit(&fit) < misfit(best)) {
            best = Some((slipped, fit));
        }
        Some(line)
    };
    let jump = first.and_then(|fit| jump_of(given, fit));
    let from_jump = jump.and_then(&mut corrected).map(Look::Held);
    let ways = [sides, &none];
    let ways = if is_one_way(sides) { &ways[1..] } else { &ways };
    let found = ways.iter().flat_map(|sides| {
        let looks = from_jump.into_iter().chain(looks(given, first));
        looks.map(move |look| (*sides, look))
    });
    for (sides, mut look) in found {
        for _ in 0..ROUNDS {
            // Once more with the stops that the corrected rows show.
            match likeliest(given, sides, look).and_then(&mut corrected) {
                Some(line) => look = Look::Held(line),
                None => break,
            }
        }
    }
    best
}

/// Whether lost motion displaces the rows as well: at a turn, towards where the drive came from. Play does so on the line, hysteresis of a
/// sensor on the stops too. Nobody noted that the drive had moved where its angle stands twice, and it explains nothing there.
fn is_lost_motion(given: &Readings<'_>, sides: &[f64], slipped: Slipped, fit: &LimitFit) -> bool {
    let stood = match given.drive.get(slipped.row.saturating_sub(1)..=slipped.row) {
        Some([before, after]) => before == after,
        _ => false,
    };
    if given.approach.is_none() && stood {
        return false;
    }
    let near = slipped.row.saturating_sub(NEAR_TURN)..=slipped.row + NEAR_TURN;
    let lags = |side: f64| side * slipped.by * fit.slope < 0.0;
    near.into_iter()
        .any(|row| match sides.get(row.saturating_sub(1)..=row) {
            Some(&[before, after]) => before != after && lags(after),
            _ => false,
        })
}

/// From which side each row was reached: 1 from below, -1 from above, 0 where it is not known.
fn sides_of(given: &Readings<'_>) -> Vec<f64> {
    let Some(approach) = given.approach else {
        return sides_by_order(given.drive);
    };
    approach.iter().map(|approach| approach.sign()).collect()
}

fn approach_of(sides: &[f64]) -> Vec<Approach> {
    let approach = |side: &f64| match *side {
        side if side > 0.0 => Approach::Below,
        side if side < 0.0 => Approach::Above,
        _ => Approach::Unknown,
    };
    sides.iter().map(approach).collect()
}

/// Whether the joint leads its drive, as no play and no hysteresis makes it do.
fn leads(fit: &LimitFit) -> bool {
    fit.warnings
        .iter()
        .any(|warning| matches!(warning, Warning::SidesExchanged { .. }))
}

/// The readings without their sides, where by these the joint leads its drive although the order of the rows confirms them: the sides were
/// not exchanged, and something slipped or was set again at the turn.
pub(super) fn without_sides<'a>(given: &Readings<'a>, fit: &LimitFit) -> Option<Readings<'a>> {
    let way = |pair: &[f64]| match pair {
        [before, after] if after != before => (after - before).signum(),
        _ => 0.0,
    };
    let confirms = || {
        let ways = given.drive.windows(2).map(way);
        let sides = sides_of(given);
        sides.iter().skip(1).zip(ways).all(|(side, way)| side * way >= 0.0)
    };
    (given.approach.is_some() && leads(fit) && is_in_order(given) && confirms()).then_some(Readings {
        approach: None,
        ..*given
    })
}

/// Whether a fit says that something moved while the readings were taken.
pub(super) fn says_moved(fit: &LimitFit) -> bool {
    fit.warnings
        .iter()
        .any(|warning| matches!(warning, Warning::Slipped { .. } | Warning::PassesDisagree { .. }))
}

/// Whether both sides were read on a common stretch, if the sides are known: else lost motion and a slip at the turn look alike.
fn have_common(given: &Readings<'_>, sides: &[f64]) -> bool {
    if sides.iter().all(|side| *side == 0.0) {
        return true;
    }
    let span = |side: f64| {
        let there = given.drive.iter().zip(sides).filter(|(_, of)| **of == side);
        let mut there: Vec<f64> = there.map(|(drive, _)| *drive).collect();
        there.sort_by(f64::total_cmp);
        // Without the outermost: on the way to where the next way begins, the drive passes all.
        let low = there.get(1).copied().unwrap_or(f64::NAN);
        [low, there.iter().rev().nth(1).copied().unwrap_or(f64::NAN)]
    };
    let ([a, b], [c, d]) = (span(1.0), span(-1.0));
    b.min(d) - a.max(c) > COMMON * (b - a).min(d - c)
}

/// Whether the rows, no more of them than are looked at, stand in the order of their times, if those are known.
pub(super) fn is_in_order(given: &Readings<'_>) -> bool {
    given.drive.len() <= MOST && given.time.is_none_or(|time| time.is_sorted())
}

fn is_one_way(sides: &[f64]) -> bool {
    sides.iter().all(|side| sides.first() == Some(side))
}

/// The jump between two drive angles that a fit names, in a table that passes them once.
fn jump_of(given: &Readings<'_>, fit: &LimitFit) -> Option<Slipped> {
    let (between, size) = fit.warnings.iter().find_map(|warning| match *warning {
        Warning::Jump { from, to, size, .. } => Some(([from, to], size)),
        _ => None,
    })?;
    let is_rising = given.drive.is_sorted();
    if !is_rising && !is_sorted(given.drive) {
        return None;
    }
    let [from, to] = between;
    let is_behind = |drive: &f64| if is_rising { *drive >= to } else { *drive <= from };
    Some(Slipped {
        row: given.drive.iter().position(is_behind)?,
        by: if is_rising { size } else { -size },
    })
}

fn is_sorted(drive: &[f64]) -> bool {
    drive.is_sorted() || drive.iter().rev().is_sorted()
}

/// Whether a displacement is more than scatter, steps and rounding are, and its correction explains the readings.
fn explains(given: &Readings<'_>, slipped: Slipped, fit: &LimitFit, before: f64) -> bool {
    let scatter = LEAST_SIZE * fit.residual_sd.max(fit.resolution.unwrap_or(0.0));
    let largest = given.measured.iter().fold(0.0_f64, |most, value| most.max(value.abs()));
    slipped.by.abs() > scatter.max(LEAST_STEPS * f64::EPSILON * largest) && misfit(fit) < LEFT * before
}

/// Root mean square of all that a fit leaves, of the readings left out too. Two that stand alone may be misread; rows left out next to each
/// other are what a slip leaves.
pub(super) fn misfit(fit: &LimitFit) -> f64 {
    misfit_but(fit, [MISREAD, 1])
}

/// The same but for so many runs, each of up to so many readings, that were left out.
pub(super) fn misfit_but(fit: &LimitFit, [misread, longest]: [usize; 2]) -> f64 {
    let squares = |run: Vec<&Rejected>| run.iter().map(|r| r.residual * r.residual).sum::<f64>();
    let (alone, together): (Vec<_>, Vec<_>) = misread_runs(&fit.rejected)
        .into_iter()
        .partition(|run| run.len() <= longest);
    let mut alone: Vec<f64> = alone.into_iter().map(squares).collect();
    alone.sort_by(|a, b| b.total_cmp(a));
    let left_out = together.into_iter().map(squares).sum::<f64>() + alone.iter().skip(misread).sum::<f64>();
    let kept = fit.residual_sd * fit.residual_sd * fit.dof as f64;
    ((kept + left_out) / fit.readings.max(1) as f64).sqrt()
}

/// The drive angles between the stops of a fit.
fn line_of(fit: &LimitFit) -> [f64; 2] {
    let end = |end: &End, none: f64| match end.kind {
        EndKind::Contact | EndKind::Stalled => end.at,
        _ => none,
    };
    [end(&fit.lower, f64::NEG_INFINITY), end(&fit.upper, f64::INFINITY)]
}

/// Where the rows may lie on the line: as a fit found it, or in the middle of the sweep.
fn looks(given: &Readings<'_>, fit: Option<&LimitFit>) -> impl Iterator<Item = Look> + use<> {
    let (low, high) = ends_of(given.drive);
    let (centre, half) = (0.5 * (low + high), MIDDLE * (high - low));
    let found = fit.map(|fit| Look::Held(line_of(fit)));
    found.into_iter().chain([Look::Inside([centre - half, centre + half])])
}

/// The row from which a displacement of all the rest explains most, if it explains more than chance does.
fn likeliest(given: &Readings<'_>, sides: &[f64], look: Look) -> Option<Slipped> {
    let (within, held) = match look {
        Look::Inside(line) => (line, line),
        Look::Held(line) => ([f64::NEG_INFINITY, f64::INFINITY], line),
    };
    let all = given.drive.iter().zip(given.measured).zip(sides).enumerate();
    let rows: Vec<(usize, f64, f64, f64)> = all
        .filter(|(_, ((drive, _), _))| (within[0]..=within[1]).contains(*drive))
        .map(|(row, ((drive, measured), side))| (row, drive.max(held[0]).min(held[1]), *side, *measured))
        .collect();
    let n = rows.len();
    if n < FEWEST {
        return None;
    }
    // Level, line and sides as columns that are orthogonal to each other and of length one.
    let mut columns: Vec<Vec<f64>> = Vec::with_capacity(3);
    for column in [
        rows.iter().map(|_| 1.0).collect::<Vec<f64>>(),
        rows.iter().map(|(_, drive, ..)| *drive).collect(),
        rows.iter().map(|(_, _, side, _)| *side).collect(),
    ] {
        let whole = length(&column);
        let own = without(column, &columns);
        let size = length(&own);
        // Written so that NaN is none.
        if size > 1e-6 * whole {
            columns.push(own.into_iter().map(|v| v / size).collect());
        }
    }
    let rest = without(rows.iter().map(|(.., measured)| *measured).collect(), &columns);
    let all = rest.iter().map(|v| v * v).sum::<f64>();
    let dof = n.checked_sub(columns.len() + 2)? as f64;
    let (mut sums, mut right, mut best) = (std::vec![0.0; columns.len()], 0.0, (0.0, 0, 0.0));
    for at in (LEAST_ROWS..n).rev() {
        for (sum, column) in sums.iter_mut().zip(&columns) {
            *sum += column.get(at).copied().unwrap_or(0.0);
        }
        right += rest.get(at).copied().unwrap_or(0.0);
        let behind = (n - at) as f64;
        let own = behind - sums.iter().map(|v| v * v).sum::<f64>();
        let enough = n - at >= LEAST_ROWS && own > LEAST_OWN * behind.min(at as f64);
        if enough && right * right / own > best.0 {
            best = (right * right / own, at, right / own);
        }
    }
    let (gain, at, by) = best;
    let left = (all - gain).max(f64::EPSILON * all);
    // Written so that NaN is none.
    let explains_most = by != 0.0 && left.sqrt() < LEFT * all.sqrt();
    let &(row, ..) = rows.get(at).filter(|_| explains_most)?;
    (f_tail(gain * dof / left, 1.0, dof) * (n as f64) < P_SLIP).then_some(Slipped { row, by })
}

fn length(column: &[f64]) -> f64 {
    column.iter().map(|v| v * v).sum::<f64>().sqrt()
}

/// The fit given, with an end further inwards where the rows before the slip, or those behind it, show a stop there by themselves: many a
/// slip happens on a stop, and the rows that speak for the stop are few beside those that it displaced.
fn within_parts<'a>(mut fit: LimitFit, parts: impl Iterator<Item = &'a LimitFit>, least_held: usize) -> LimitFit {
    let inner = |whole: &mut End, part: &End, out: f64| {
        if part.kind != EndKind::Clear && part.readings_beyond >= least_held && out * part.travel < out * whole.travel {
            *whole = *part;
        }
    };
    for part in parts {
        inner(&mut fit.lower, &part.lower, -1.0);
        inner(&mut fit.upper, &part.upper, 1.0);
    }
    fit
}

/// The fit given, with no travel into drive angles that only rows before the slip reached, or only rows behind it, where these do not move:
/// they show a joint that fell back from a stop as well as one that slipped.
fn within_moving(given: &Readings<'_>, row: usize, mut fit: LimitFit) -> LimitFit {
    let rows = [0..row, row..given.drive.len()];
    let [low, high] = line_of(&fit);
    let scatter = LEAST_SIZE * fit.residual_sd.max(fit.resolution.unwrap_or(0.0));
    let moves = |rows: &Range<usize>| {
        let on_line = rows.clone().filter(|at| {
            let drive = given.drive.get(*at);
            drive.is_some_and(|drive| (low..=high).contains(drive)) && !fit.is_left_out(*at)
        });
        let measured: Vec<f64> = on_line.filter_map(|at| given.measured.get(at).copied()).collect();
        let (least, most) = ends_of(&measured);
        most - least > scatter
    };
    let [before, behind] = rows;
    let unmoved = [!moves(&before), !moves(&behind)];
    for (is_unmoved, other) in unmoved.into_iter().zip([behind, before]) {
        let Some(other) = given.drive.get(other).filter(|_| is_unmoved) else {
            continue;
        };
        let play = 0.5 * fit.lost_motion.in_drive();
        let (least, most) = ends_of(other);
        let [least, most] = [least + fit.lower.guard + play, most - fit.upper.guard - play];
        fit.lower.travel = if fit.lower.travel < least {
            least
        } else {
            fit.lower.travel
        };
        fit.upper.travel = if fit.upper.travel > most {
            most
        } else {
            fit.upper.travel
        };
    }
    fit
}

/// The fit of the corrected rows, with what is said of them, and a travel that holds whether the sensor or the horn slipped: behind a horn
/// that slipped the stops lie at other drive angles.
fn say(given: &Readings<'_>, slipped: Slipped, mut fit: LimitFit) -> LimitFit {
    let Slipped { row, by } = slipped;
    for rejected in &mut fit.rejected {
        rejected.measured = given.measured.get(rejected.index).copied().unwrap_or_default();
    }
    fit.warnings.push(Warning::Slipped {
        index: row,
        drive: given.drive.get(row).copied().unwrap_or_default(),
        by,
    });
    let [at_lower, at_upper] = fit.slipped_margins();
    fit.lower.travel += at_lower;
    fit.upper.travel -= at_upper;
    fit
}

/// The same with the travel between its ends, or with none and the warning that says so.
pub(super) fn between_ends(given: &Readings<'_>, mut fit: LimitFit) -> LimitFit {
    let [lower, upper] = [fit.lower.travel, fit.upper.travel];
    if lower < upper {
        fit.travel = Some([lower, upper]);
    } else if fit.travel.take().is_some() {
        let (low, high) = ends_of(given.drive);
        fit.warnings.push(Warning::NoTravel {
            lower,
            upper,
            swept: high - low,
        });
    }
    fit
}
