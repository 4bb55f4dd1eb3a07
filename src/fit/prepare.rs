//! Readings as they come, made ready: checked, sorted, scaled, and known to have been taken at rest.

use super::error::FitError;
use super::limits::Prepared;
use super::model::Reading;
use super::readings::{Approach, ContactMark, FitOptions, Readings};
use super::resolution::step_of;
use super::start::median;
use super::stops::Marked;
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
        .unwrap_or_else(|| step_of(given.measured, high - low).unwrap_or(0.0));
    // Rectangular distribution of full width `step`: GUM F.2.2.1.
    let step_variance = step * step / 12.0;
    let mut readings: Vec<Reading> = given
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
            s: given
                .approach
                .and_then(|a| a.get(index))
                .copied()
                .unwrap_or(Approach::Unknown)
                .sign(),
            noted: given
                .contact
                .and_then(|c| c.get(index))
                .is_some_and(|mark| *mark != ContactMark::None),
            index,
        })
        .collect();
    // Equal drives by what was measured: the order given makes no difference to any result.
    readings.sort_by(|a, b| a.x.total_cmp(&b.x).then(a.y.total_cmp(&b.y)).then(a.s.total_cmp(&b.s)));
    let mut commands = 0;
    let mut last = f64::NAN;
    for r in &readings {
        if r.x != last {
            commands += 1;
            last = r.x;
        }
    }
    if upper - lower < LEAST_SPREAD {
        commands = 1;
    }
    if commands < FEWEST_COMMANDS {
        return Err(FitError::CommandsEqual {
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
    let two_sided = [1.0, -1.0].iter().all(|&s| readings.iter().any(|r| r.s == s));
    Ok(Prepared {
        readings,
        centre,
        half,
        level,
        y_range: high - low,
        step,
        least_sd: if given.u.is_some() { 1.0 } else { step_variance.sqrt() },
        two_sided,
    })
}

/// Drive angles at which somebody noted contact, the innermost of each end.
#[derive(Clone, Copy)]
pub(super) struct Marks {
    pub(super) lower: Option<f64>,
    pub(super) upper: Option<f64>,
}

impl Marks {
    pub(super) fn of(given: &Readings<'_>, prepared: &Prepared) -> Self {
        let mut marks = Self {
            lower: None,
            upper: None,
        };
        for (&drive, mark) in given.drive.iter().zip(given.contact.unwrap_or(&[])) {
            let upper = match mark {
                ContactMark::None => continue,
                ContactMark::Lower => false,
                ContactMark::Upper => true,
                ContactMark::Here => drive > prepared.centre,
            };
            if upper {
                marks.upper = Some(marks.upper.map_or(drive, |m: f64| m.min(drive)));
            } else {
                marks.lower = Some(marks.lower.map_or(drive, |m: f64| m.max(drive)));
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

/// Refuses readings whose neighbours in time are off the model together.
///
/// The von Neumann ratio (Annals of Mathematical Statistics 12 (1941) 367) of the residuals in the order given: mean
/// square successive difference over variance. Only for small steps of the drive: a sweep with dwells has large ones;
/// and not where the model follows closely and claims no stop: there a lag does no harm, and it may be a fine bend.
pub(super) fn in_motion(
    given: &Readings<'_>,
    prepared: &Prepared,
    stops: bool,
    expected: impl Fn(&Reading) -> f64,
) -> Result<(), FitError> {
    let n = given.drive.len();
    if n < FEWEST_IN_TIME {
        return Ok(());
    }
    let mut steps: Vec<f64> = given
        .drive
        .iter()
        .zip(given.drive.iter().skip(1))
        .map(|(a, b)| (b - a).abs())
        .collect();
    let step = median(&mut steps).unwrap_or(0.0);
    if step > SMALL_STEP * 2.0 * prepared.half {
        return Ok(());
    }
    let mut rest = std::vec![0.0; n];
    for r in &prepared.readings {
        if let Some(cell) = rest.get_mut(r.index) {
            *cell = r.y - expected(r);
        }
    }
    let squares: f64 = rest.iter().map(|r| r * r).sum();
    let differences: f64 = rest
        .iter()
        .zip(rest.iter().skip(1))
        .map(|(a, b)| (b - a) * (b - a))
        .sum();
    // Readings that rest on the sensor's steps are off together as well.
    let least = (if stops { ROUNDING } else { HARMLESS } * prepared.y_range).max(ON_STEPS * prepared.step);
    if squares <= least * least * n as f64 {
        return Ok(());
    }
    let ratio = differences / squares;
    if ratio < IN_MOTION {
        return Err(FitError::InMotion { ratio });
    }
    Ok(())
}
