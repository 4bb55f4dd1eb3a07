//! Where the drive turns, and what follows from it: the sides of readings nobody noted them for, and the readings that were taken
//! before the lost motion was taken up again.
//!
//! After a turn the drive moves and the joint does not, until the play is crossed. A reading taken there lies on the line of
//! neither side. It looks like a stop, at the very end of the table where a stop would be.

use super::few::{Adopted, adopt, sides_by_order};
use super::find::{Found, Prepared, common_stretch, find};
use super::kept::Kept;
use super::model::{Layout, Model, Motion, Reading};
use super::polish::polish;
use super::polynomial::polynomial;
use super::prepare::Marks;
use crate::fit::error::FitError;
use crate::fit::readings::{FitOptions, Readings};
use std::vec::Vec;

/// Standard uncertainties by which lost motion must differ from zero for the order of the rows to tell the sides. Six: a table
/// of any length, noise alone, passes once in 10⁹.
const SIDES_SURE: f64 = 6.0;
/// The same for readings to be looked at again that may have been taken before it was taken up.
const MOTION_SURE: f64 = 4.0;
/// Standard deviations of a reading off its side's line, towards the place of the turn, from which it has not taken up the lost
/// motion. Nearer ones do no harm on the line.
const OFF: f64 = 1.5;
/// Lost motion in standard deviations of a reading from which what is nearly taken up looks like a stop just before the turn: then readings
/// that may be on the line as well as where the drive turned stay out too.
const PLAIN: f64 = 10.0;
/// Standard deviations of a reading, and standard uncertainties of the lost motion, by which a reading may then be further from the place
/// of the turn than the lost motion: steps as wide as the lost motion end where it does.
const FURTHER: f64 = 1.0;
/// Share of rejected readings that is worth a warning, and from which those of one side may have been taken for misread.
pub(super) const MANY_REJECTED: f64 = 0.15;
/// Standard uncertainties by which a joint must lead its drive for its sides to count as exchanged.
pub(super) const SURELY_LEADS: f64 = 4.0;
/// Share of the sides' variance that a line through them explains, up to which lost motion hardly shifts or turns a line without sides.
const MOST_UNBALANCED: f64 = 0.05;
/// Standard deviations beyond the whole lost motion up to which a reading off the line may be one that has not taken it up.
const BEYOND_MOTION: f64 = 4.0;

/// The sides that the order of the rows tells where nobody noted them; `None` where it does not tell both.
fn there_and_back(given: &Readings<'_>) -> Option<Vec<f64>> {
    if given.approach.is_some() {
        return None;
    }
    let sides = sides_by_order(given.drive);
    [1.0, -1.0].iter().all(|s| sides.contains(s)).then_some(sides)
}

/// A model with the lost motion that the order of the rows tells beside all else that was found, readings and stops being those
/// of the fit; `None` where the order tells no sides, or speaks against itself.
///
/// Lost motion that is beyond doubt is for [`with_sides`]: this one is of tables that show none, or next to none. It says how much
/// there may be.
pub(super) fn motion_by_order(given: &Readings<'_>, prepared: &Prepared, found: &Found) -> Option<(Model, f64)> {
    let sides = there_and_back(given)?;
    let model = &found.model;
    if prepared.two_sided || model.layout.motion != Motion::None {
        return None;
    }
    let mut readings = prepared.readings.clone();
    for r in &mut readings {
        r.side = sides.get(r.index()).copied().unwrap_or(0.0) as i8;
    }
    if !common_stretch(&readings, &found.kept, model.knees) || !is_balanced(&readings, found) {
        return None;
    }
    // The kind that leaves less is the one that scatter favours: to choose makes more of none than its uncertainty says.
    let layout = Layout {
        motion: Motion::Play,
        ..model.layout
    };
    let model = polish(Kept::of(&readings, &found.kept), layout, model.knees, 0.0).filter(|model| model.dof() > 0)?;
    let variance = prepared.variance(&model);
    let u = (variance * model.reversal_variance().max(0.0)).sqrt();
    let lag = -model.reversal() * model.slope().signum();
    // Written so that NaN is none.
    (lag <= SIDES_SURE * u && -lag <= SURELY_LEADS * u).then_some((model, variance))
}

/// Whether both sides were read at much the same places of the line, so that a fit without sides lies midway between them: it hardly
/// moves or turns for lost motion that it does not know of.
fn is_balanced(readings: &[Reading], found: &Found) -> bool {
    let (low, high) = found.model.knees;
    let kept = readings.iter().zip(&found.kept).filter(|(_, kept)| **kept);
    let line = || kept.clone().map(|(r, _)| r).filter(|r| r.x >= low && r.x <= high);
    let n = line().count() as f64;
    let mean = |of: &dyn Fn(&Reading) -> f64| line().map(of).sum::<f64>() / n;
    let middle = mean(&|r| r.x);
    let spread = mean(&|r| (r.x - middle) * (r.x - middle));
    let (more, along) = (mean(&Reading::s), mean(&|r| r.s() * (r.x - middle)));
    // Written so that NaN is none.
    more * more + along * along / spread <= MOST_UNBALANCED
}

/// The readings with the sides that the order of the rows tells, and what is found with them; `None` where the order tells
/// none, or lost motion is not beyond doubt.
pub(super) fn with_sides(
    given: &Readings<'_>,
    prepared: &Prepared,
    marks: &Marks,
    found: Option<&Found>,
) -> Option<(Prepared, Found)> {
    let sides = there_and_back(given)?;
    let mut sided = prepared.clone();
    for r in &mut sided.readings {
        r.side = sides.get(r.index()).copied().unwrap_or(0.0) as i8;
    }
    sided.sort();
    sided.two_sided = true;
    let with = find(&sided, marks.insisted()).ok()?;
    let apart = || !common_stretch(&sided.readings, &with.kept, with.model.knees);
    let lags = match with.play() {
        Some((motion, u)) => motion > SIDES_SURE * u,
        None => with.lags_by(SIDES_SURE) && apart(),
    };
    let left_out = |found: &Found| found.kept.iter().filter(|kept| !**kept).count() as f64;
    // Where the readings of one side agree with each other and those of the other are left out, the scatter is as small without sides.
    let one_sided =
        |found: &Found| left_out(found) > MANY_REJECTED * found.kept.len() as f64 && left_out(found) > left_out(&with);
    let closer = found.is_none_or(|found| with.variance < found.variance || one_sided(found));
    (closer && lags).then_some((sided, with))
}

/// Readings, in the order of `Prepared`, that may have been taken before the lost motion was taken up, at either end: the
/// outermost place was driven to from the other side, and they lie within the lost motion of it.
pub(super) fn not_taken_up(prepared: &Prepared, found: &Found) -> [Vec<bool>; 2] {
    let none = || std::vec![false; prepared.readings.len()];
    let Some((motion, u)) = found.play().filter(|(motion, u)| *motion > MOTION_SURE * u) else {
        return [none(), none()];
    };
    let (model, sd) = (&found.model, found.variance.sqrt());
    let line = |r: &Reading| polynomial(model.curve(), r.x + r.s() * model.shift());
    // How far a reading lags behind the line of its side: on the way back the joint is where it turned.
    let most = motion * model.slope().abs();
    let plain = most > PLAIN * sd;
    let (least, furthest_lag) = if plain {
        (-BEYOND_MOTION, motion + FURTHER * (u + sd / model.slope().abs()))
    } else {
        (OFF, motion)
    };
    let off = |r: &Reading| {
        let (lag, sd) = ((r.y - line(r)) * r.s() * model.slope().signum(), sd / r.w.sqrt());
        lag > least * sd && lag < most + BEYOND_MOTION * sd
    };
    [-1.0, 1.0].map(|out| {
        // The furthest reading that was reached driving outward, and the furthest of those reached on the way back.
        let furthest = |s: f64| {
            let there = prepared.readings.iter().filter(|r| r.s() == s);
            there.map(|r| out * r.x).fold(f64::NEG_INFINITY, f64::max)
        };
        let (outward, back) = (furthest(out), furthest(-out));
        if !(outward.is_finite() && back.is_finite() && outward >= back) {
            return none();
        }
        // It reads what was read where it turned, rather than as much less as its side's line does: a bend is off both.
        let turned = prepared
            .readings
            .iter()
            .filter(|r| r.s() == out && out * r.x == outward);
        let (count, sum, lines) = turned.fold((0.0, 0.0, 0.0), |(n, y, l), r| (n + 1.0, y + r.y, l + line(r)));
        // Where the lost motion is nearly taken up the two are one.
        let (turned_at, turned_line) = (sum / count, lines / count);
        let stands = |r: &Reading| {
            let both = if plain { BEYOND_MOTION * sd / r.w.sqrt() } else { 0.0 };
            let on_line = (r.y - turned_at - line(r) + turned_line).abs();
            (r.y - turned_at).abs() < on_line.max(both)
        };
        let within =
            |r: &Reading| r.s() == -out && !r.noted && outward - out * r.x < furthest_lag && off(r) && stands(r);
        prepared.readings.iter().map(within).collect()
    })
}

/// What is found of prepared readings, and which of them it rests on.
pub(super) struct Settled {
    pub(super) prepared: Prepared,
    pub(super) few: Option<Adopted>,
    pub(super) found: Result<Found, FitError>,
    /// Readings, by their place in the table as given, that were taken before the lost motion was taken up.
    pub(super) not_taken_up: Vec<usize>,
}

impl Settled {
    fn of(
        given: &Readings<'_>,
        options: &FitOptions,
        marks: &Marks,
        (mut prepared, found): (Prepared, Result<Found, FitError>),
        not_taken_up: Vec<usize>,
    ) -> Self {
        let (few, found) = adopt(given, options, &mut prepared, marks, found);
        Self {
            prepared,
            few,
            found,
            not_taken_up,
        }
    }

    /// Whether the joint is held at an end.
    fn stops(&self, upper: bool) -> bool {
        let few = self.few.as_ref().and_then(|few| few.end(upper));
        match (few, &self.found) {
            (Some(end), _) => end.short_at.is_some(),
            (None, Ok(found)) => {
                let stop = if upper { found.chosen.upper } else { found.chosen.lower };
                stop.is_finite() || self.falls_short(found, upper)
            }
            (None, Err(_)) => false,
        }
    }

    /// Whether the outermost reading of an end was left out, and lies short of the line: alone on a stop, it proves none.
    fn falls_short(&self, found: &Found, upper: bool) -> bool {
        let out = if upper { 1.0 } else { -1.0 };
        let readings = self.prepared.readings.iter().zip(&found.kept);
        let outermost = readings.max_by(|(a, _), (b, _)| (out * a.x).total_cmp(&(out * b.x)));
        let way = out * found.model.slope().signum();
        outermost.is_some_and(|(r, kept)| !*kept && way * (r.y - found.model.expected(r.x, r.s())) < 0.0)
    }
}

/// Settles which readings a fit rests on.
///
/// Those that may not have taken up the lost motion stay out at first. At an end where the joint is held without them they lie on the
/// stop, whichever side they were reached from, and count again.
pub(super) fn settle(
    given: &Readings<'_>,
    options: &FitOptions,
    marks: &Marks,
    prepared: Prepared,
    found: Result<Found, FitError>,
    at_rest: bool,
) -> Settled {
    let late = match &found {
        Ok(found) if at_rest => not_taken_up(&prepared, found),
        _ => [const { Vec::new() }; 2],
    };
    let any = |side: &[bool]| side.contains(&true);
    if !late.iter().any(|side| any(side)) {
        return Settled::of(given, options, marks, (prepared, found), Vec::new());
    }
    let without = |left_out: &[bool]| {
        let reduced = prepared.without(left_out);
        let readings = prepared.readings.iter().zip(left_out);
        let not_taken_up = readings.filter(|(_, out)| **out).map(|(r, _)| r.index()).collect();
        let found = find(&reduced, marks.insisted());
        found
            .is_ok()
            .then(|| Settled::of(given, options, marks, (reduced, found), not_taken_up))
    };
    let [lower, upper] = &late;
    let both: Vec<bool> = lower.iter().zip(upper).map(|(a, b)| *a || *b).collect();
    let Some(first) = without(&both) else {
        return Settled::of(given, options, marks, (prepared, found), Vec::new());
    };
    let held = [first.stops(false), first.stops(true)];
    let left_out: Vec<bool> = lower
        .iter()
        .zip(upper)
        .map(|(a, b)| (*a && !held[0]) || (*b && !held[1]))
        .collect();
    if left_out == both {
        return first;
    }
    let second = if any(&left_out) {
        without(&left_out)
    } else {
        Some(Settled::of(
            given,
            options,
            marks,
            (prepared.clone(), found),
            Vec::new(),
        ))
    };
    match second {
        // With them, a stop may not vanish.
        Some(second) if [false, true].map(|upper| second.stops(upper)) == held => second,
        _ => first,
    }
}

#[cfg(test)]
mod tests {
    use crate::fit::{Approach, EndKind, FitOptions, Readings, fit_limits};
    use std::vec::Vec;

    /// Invented: there and back between stops at 55 and 135, half degrees, a lost motion of 1, with a reading of either side where the
    /// drive turns.
    const THERE: [f64; 12] = [
        32.5, 32.0, 24.5, 16.5, 9.5, 1.5, -6.5, -13.5, -21.5, -29.0, -37.0, -42.5,
    ];
    const BACK: [f64; 12] = [
        -43.0, -37.5, -30.0, -22.5, -15.0, -7.0, 1.0, 8.0, 15.5, 23.0, 30.5, 33.5,
    ];

    #[test]
    fn readings_at_a_turn_on_a_stop_count() {
        let up: Vec<f64> = (0..12).map(|i| 49.0 + 8.0 * f64::from(i)).collect();
        let drive: Vec<f64> = up.iter().chain(up.iter().rev()).copied().collect();
        let measured: Vec<f64> = THERE.into_iter().chain(BACK).collect();
        let side = |i: usize| if i < 12 { Approach::Below } else { Approach::Above };
        let sides: Vec<Approach> = (0..24).map(side).collect();
        let readings = Readings::new(&drive, &measured).with_approach(&sides);
        let fit = fit_limits(&readings, &FitOptions::default()).unwrap();
        assert!(fit.rejected.is_empty(), "{:?}", fit.rejected);
        for (end, stop) in [(&fit.lower, 55.0), (&fit.upper, 135.0)] {
            assert_eq!(end.kind, EndKind::Contact, "{end:?}");
            assert!((end.at - stop).abs() < 0.5, "{end:?}");
        }
    }
}
