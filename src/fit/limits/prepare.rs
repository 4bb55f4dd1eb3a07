//! Readings as they come, made ready: checked, sorted, scaled, and known to have been taken at rest.

use super::find::Prepared;
use super::model::Reading;
use super::stops::Marked;
use crate::fit::error::FitError;
use crate::fit::readings::{Approach, ContactMark, FitOptions, Readings};
use crate::fit::statistics::resolution::step_along;
use crate::fit::statistics::univariate::median;
use std::vec::Vec;

/// Readings without which neither a line nor its uncertainty can be said.
const FEWEST_READINGS: usize = 4;
/// Different drive angles without which a stop cannot be told from a slope.
const FEWEST_COMMANDS: usize = 3;
/// Spread of drive angles or measured values below which there is none: its squares would vanish.
const LEAST_SPREAD: f64 = 1e-100;
/// Readings from which a recording in motion can be told from chance.
const FEWEST_IN_TIME: usize = 50;
/// Von Neumann ratio below which neighbours in time are off together; at rest it is 2 and, with 50 readings, below 1.3
/// once in a hundred times. A recording in motion lies far below.
const IN_MOTION: f64 = 0.3;
/// Median step of the drive, as a share of the sweep, above which nobody took the readings on the move.
const SMALL_STEP: f64 = 0.015;
/// Residuals, as a share of the measured range, below which a lag does no harm where no stop is claimed.
const HARMLESS: f64 = 0.01;
/// Residuals, in steps of the resolution, that rounding to it leaves: 0.29, with room.
const ON_STEPS: f64 = 0.5;
/// Share of the residuals' squares below which what is left counts as explained.
const EXPLAINED: f64 = 0.5;
/// Share of the residuals' squares that must not come again with the drive for readings to wander with time.
const WANDERING: f64 = 0.25;
/// Stretches of the sweep in which residuals are compared.
const STRETCHES: usize = 20;
/// Residuals below this share of the measured range are rounding.
const ROUNDING: f64 = 1e-9;

pub(super) fn ends_of(values: &[f64]) -> (f64, f64) {
    values
        .iter()
        .fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), &v| {
            (low.min(v), high.max(v))
        })
}

pub(super) fn prepare(given: &Readings<'_>, options: &FitOptions) -> Result<Prepared, FitError> {
    let (lower, upper) = ends_of(given.drive);
    let n = given.drive.len();
    if n < FEWEST_READINGS {
        return Err(FitError::TooFewReadings {
            given: n,
            needed: FEWEST_READINGS,
            lower,
            upper,
        });
    }
    let (centre, half) = (0.5 * (lower + upper), 0.5 * (upper - lower));
    let (low, high) = ends_of(given.measured);
    let level = 0.5 * (low + high);
    let step = options
        .resolution
        .unwrap_or_else(|| step_along(given.drive, given.measured, high - low).unwrap_or(0.0));
    // Rectangular distribution of full width `step`: GUM F.2.2.1.
    let step_variance = step * step / 12.0;
    let readings: Vec<Reading> = given
        .drive
        .iter()
        .zip(given.measured)
        .enumerate()
        .map(|(index, (&drive, &measured))| Reading {
            x: if half > 0.0 { (drive - centre) / half } else { 0.0 },
            y: measured - level,
            w: given
                .u
                .and_then(|u| u.get(index))
                .map_or(1.0, |u| 1.0 / (u * u + step_variance)),
            side: given
                .approach
                .and_then(|a| a.get(index))
                .copied()
                .unwrap_or(Approach::Unknown)
                .sign() as i8,
            noted: given
                .contact
                .and_then(|c| c.get(index))
                .is_some_and(|mark| *mark != ContactMark::None),
            place: u32::try_from(index).unwrap_or(u32::MAX),
        })
        .collect();
    let mut prepared = Prepared {
        two_sided: [1.0, -1.0].iter().all(|&s| readings.iter().any(|r| r.s() == s)),
        readings,
        centre,
        half,
        level,
        y_range: high - low,
        step,
        least_sd: if given.u.is_some() { 1.0 } else { step_variance.sqrt() },
    };
    prepared.sort();
    let mut commands = 0;
    let mut last = f64::NAN;
    for r in &prepared.readings {
        if r.x != last {
            commands += 1;
            last = r.x;
        }
    }
    if upper - lower < LEAST_SPREAD {
        commands = 1;
    }
    if commands < FEWEST_COMMANDS {
        return Err(FitError::DriveAnglesEqual {
            distinct: commands,
            needed: FEWEST_COMMANDS,
            lower,
            upper,
        });
    }
    if high - low < LEAST_SPREAD {
        return Err(FitError::NoMotion {
            lower,
            upper,
            low,
            high,
        });
    }
    Ok(prepared)
}

/// Drive angles at which somebody noted contact, the innermost of each end.
#[derive(Clone, Copy)]
pub(super) struct Marks {
    pub(super) lower: Option<f64>,
    pub(super) upper: Option<f64>,
}

impl Marks {
    /// Those of readings whose sweep has its middle at `centre`.
    pub(super) fn of(given: &Readings<'_>, centre: f64) -> Self {
        let mut marks = Self {
            lower: None,
            upper: None,
        };
        for (&drive, mark) in given.drive.iter().zip(given.contact.unwrap_or(&[])) {
            match mark.is_upper(drive, centre) {
                Some(true) => marks.upper = Some(marks.upper.map_or(drive, |m: f64| m.min(drive))),
                Some(false) => marks.lower = Some(marks.lower.map_or(drive, |m: f64| m.max(drive))),
                None => {}
            }
        }
        marks
    }

    pub(super) fn insisted(&self) -> Marked {
        Marked {
            lower: self.lower.is_some(),
            upper: self.upper.is_some(),
        }
    }
}

/// Neighbours in the order given are off the model together.
pub(super) struct Together {
    /// Mean square successive difference of the residuals over their variance.
    pub(super) ratio: f64,
    /// The drive went in steps as small as those of a recording in motion.
    pub(super) small_steps: bool,
}

/// Refuses readings that were surely taken in motion; says the von Neumann ratio of those that may have been.
///
/// The von Neumann ratio (Annals of Mathematical Statistics 12 (1941) 367) of the residuals in the order given: mean
/// square successive difference over variance. Not where the model follows closely and claims no stop: there a lag does
/// no harm, and it may be a fine bend. Lost motion whose sides nobody told, and a joint that is no line, make neighbours
/// off together as well, in readings at rest; they come again wherever the drive comes by the same way. So readings are
/// refused only where the residuals follow the speed rather than the way, or do not come again; a sweep with dwells has
/// large steps and is never refused.
pub(super) fn in_motion(
    given: &Readings<'_>,
    prepared: &Prepared,
    stops: bool,
    expected: impl Fn(&Reading) -> (f64, bool),
) -> Result<Option<Together>, FitError> {
    let n = given.drive.len();
    if n < FEWEST_IN_TIME {
        return Ok(None);
    }
    let mut rest = std::vec![0.0; n];
    let mut free = std::vec![false; n];
    for r in &prepared.readings {
        if let (Some(cell), Some(free)) = (rest.get_mut(r.index()), free.get_mut(r.index())) {
            let (value, between) = expected(r);
            *cell = r.y - value;
            *free = between;
        }
    }
    let squares: f64 = rest.iter().map(|r| r * r).sum();
    // Readings that rest on the sensor's steps are off together as well.
    let least = (if stops { ROUNDING } else { HARMLESS } * prepared.y_range).max(ON_STEPS * prepared.step);
    let ratio = von_neumann(&rest, squares);
    if squares <= least * least * n as f64 || ratio >= IN_MOTION {
        return Ok(None);
    }
    let moves = Moves::of(given.drive);
    // On a stop neither shows, and where the drive stays nobody knows the way.
    for (free, stays) in free
        .iter_mut()
        .skip(1)
        .zip(given.drive.windows(2).map(|pair| pair.first() == pair.last()))
    {
        *free &= !stays;
    }
    let between = rest.iter().zip(&free).filter(|(_, free)| **free);
    let free_squares: f64 = between.map(|(r, _)| r * r).sum();
    let by_way = Moves::left(&rest, moves.way.iter().map(|way| f64::from(*way)), &free);
    if median_step(given.drive) > SMALL_STEP * 2.0 * prepared.half {
        let small_steps = false;
        return Ok((by_way < EXPLAINED * free_squares).then_some(Together { ratio, small_steps }));
    }
    let by_speed = Moves::left(&rest, moves.steps(), &free);
    let lag = by_speed < EXPLAINED * free_squares && by_speed < EXPLAINED * by_way;

    // Told from which side, lost motion is part of the model: then the way explains nothing more.
    let news = moves.not_coming_again(&rest, prepared.half, !prepared.two_sided);
    let left: f64 = news.iter().map(|r| r * r).sum();
    let wanders = left > WANDERING * squares && von_neumann(&news, left) < IN_MOTION;
    if lag || wanders {
        return Err(FitError::InMotion { ratio });
    }
    Ok(Some(Together {
        ratio,
        small_steps: true,
    }))
}

/// Whether readings may have been taken on the move, as far as their steps tell: many, and so close that nobody stopped at each.
pub(super) fn on_the_move(given: &Readings<'_>, prepared: &Prepared) -> bool {
    given.drive.len() >= FEWEST_IN_TIME && median_step(given.drive) <= SMALL_STEP * 2.0 * prepared.half
}

fn von_neumann(rest: &[f64], squares: f64) -> f64 {
    let differences: f64 = rest
        .iter()
        .zip(rest.iter().skip(1))
        .map(|(a, b)| (b - a) * (b - a))
        .sum();
    differences / squares
}

fn median_step(drive: &[f64]) -> f64 {
    let steps = drive.iter().zip(drive.iter().skip(1));
    let mut steps: Vec<f64> = steps.map(|(a, b)| (b - a).abs()).collect();
    median(&mut steps).unwrap_or(0.0)
}

/// How the drive went from reading to reading, in the order given.
struct Moves<'a> {
    drive: &'a [f64],
    /// +1 rising, −1 falling; as before where the drive stays.
    way: Vec<i8>,
}

impl<'a> Moves<'a> {
    fn of(drive: &'a [f64]) -> Self {
        let at = |i: usize| drive.get(i).or(drive.last()).copied().unwrap_or(0.0);
        let mut last = 0;
        let way = (0..drive.len())
            .map(|i| {
                let step = if i == 0 { at(1) - at(0) } else { at(i) - at(i - 1) };
                if step > 0.0 {
                    last = 1;
                } else if step < 0.0 {
                    last = -1;
                }
                last
            })
            .collect();
        Self { drive, way }
    }

    /// Steps about each reading, signed; where the drive stays, none.
    fn steps(&self) -> impl Iterator<Item = f64> {
        let at = |i: usize| self.drive.get(i).or(self.drive.last()).copied().unwrap_or(0.0);
        (0..self.drive.len()).map(move |i| 0.5 * (at(i + 1) - at(i.saturating_sub(1))))
    }

    /// Squares that a multiple of one quantity leaves of the residuals that are free.
    fn left(rest: &[f64], by: impl Iterator<Item = f64>, free: &[bool]) -> f64 {
        let (mut aa, mut ab, mut bb) = (0.0, 0.0, 0.0);
        for ((r, b), _) in rest.iter().zip(by).zip(free).filter(|(_, free)| **free) {
            aa += r * r;
            ab += r * b;
            bb += b * b;
        }
        if bb > 0.0 { (aa - ab * ab / bb).max(0.0) } else { aa }
    }

    /// What is left of the residuals without what comes again where the drive comes by again, `by_way` only if the same way:
    /// a line through each stretch and way.
    fn not_coming_again(&self, rest: &[f64], half: f64, by_way: bool) -> Vec<f64> {
        let (low, _) = ends_of(self.drive);
        let width = 2.0 * half / STRETCHES as f64;
        let place = |i: usize| {
            let from_low = self.drive.get(i).copied().unwrap_or(0.0) - low;
            let stretch = ((from_low / width) as usize).min(STRETCHES - 1);
            let rising = by_way && self.way.get(i).is_some_and(|way| *way > 0);
            (
                2 * stretch + usize::from(rising),
                from_low / width - stretch as f64 - 0.5,
            )
        };
        let mut sums = [[0.0; 5]; 2 * STRETCHES];
        for (i, r) in rest.iter().enumerate() {
            let (k, x) = place(i);
            if let Some(sum) = sums.get_mut(k) {
                for (cell, add) in sum.iter_mut().zip([1.0, x, x * x, *r, x * r]) {
                    *cell += add;
                }
            }
        }
        rest.iter()
            .enumerate()
            .map(|(i, r)| {
                let (k, x) = place(i);
                let [n, sx, sxx, sy, sxy] = sums.get(k).copied().unwrap_or([1.0, 0.0, 0.0, 0.0, 0.0]);
                let squares = sxx - sx * sx / n;
                let slope = if squares > ROUNDING * n {
                    (sxy - sx * sy / n) / squares
                } else {
                    0.0
                };
                r - (sy / n + slope * (x - sx / n))
            })
            .collect()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_follows_a_line_comes_again_however_the_places_lie_in_their_stretch() {
        let drive: Vec<f64> = (0..100u32).map(|i| 0.01 * f64::from(i * i)).collect();
        let (low, high) = ends_of(&drive);
        let rest: Vec<f64> = drive.iter().map(|x| 0.3 * x - 2.0).collect();
        let news = Moves::of(&drive).not_coming_again(&rest, 0.5 * (high - low), false);
        assert!(news.iter().all(|left| left.abs() < 1e-9), "{news:?}");
    }
}
