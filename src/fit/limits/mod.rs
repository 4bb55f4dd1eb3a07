//! From readings to the two ends of a joint. The files in the order in which a table passes through them:
//!
//! | step | files |
//! | --- | --- |
//! | without what lies far from all others in drive | `far_off` |
//! | readings the right way round, checked, sorted, scaled | `mirror`, `prepare` |
//! | all of it once more where everything from one row on is displaced | `slipped` |
//! | … and pass by pass where the passes do not agree | `passes` |
//! | … and without a noted contact that readings went past | `marks_passed` |
//! | tables of few rows, judged by all hypotheses together | `few` |
//! | the model, the readings left out and the lost motion, found together | `turns`, `find` |
//! | … a first model that misreadings cannot pull away | `start` |
//! | … least squares over every place of the knees | `sums`, `kept`, `polynomial` |
//! | … which stops were found | `stops` |
//! | … the chosen model reading by reading | `polish`, `model` |
//! | at rest or in motion | `motion` |
//! | what the readings refute, and ends that level off by themselves | `refute`, `level`, `dead_centre` |
//! | what lies off the line with its neighbours | `uneven` |
//! | each end with its evidence and its interval | `clean`, `interval`, `ends` |
//! | limits, uncertainties and warnings in the user's units | `assess` |
//! | … the readings left out, and what they were meant to be | `left_out` |
//! | which readings to take next | `advise` |
//! | refused where all but one lie on the stops | `between` |
//! | what the table may hide all the same | `hidden` |

mod advise;
mod assess;
mod between;
mod clean;
mod dead_centre;
mod ends;
mod far_off;
mod few;
mod find;
mod hidden;
mod interval;
mod kept;
mod left_out;
mod level;
mod marks_passed;
mod mirror;
mod model;
mod motion;
mod passes;
mod polish;
mod polynomial;
mod prepare;
mod refute;
mod signs;
mod slipped;
mod start;
mod stops;
mod sums;
mod turns;
mod uneven;

use super::error::FitError;
use super::outcome::LimitFit;
use super::readings::{FitOptions, Readings};

/// The limits that checked readings show.
pub(super) fn of(readings: &Readings<'_>, options: &FitOptions) -> Result<LimitFit, FitError> {
    let fit = |readings: &Readings<'_>| {
        let fit_once = |readings: &Readings<'_>| as_they_are(readings, options);
        Ok(marks_passed::believed(readings, options, fit_once(readings)?, fit_once))
    };
    let together = |readings: &Readings<'_>| {
        let found = slipped::see_through(readings, fit(readings), fit)?;
        Ok(passes::held_together(readings, found, |pass| fit(pass).ok()))
    };
    let found = far_off::set_aside(readings, |readings| {
        let found = together(readings)?;
        let without_sides = slipped::without_sides(readings, &found).and_then(|readings| together(&readings).ok());
        Ok(without_sides.filter(slipped::says_moved).unwrap_or(found))
    });
    let found = signs::looked_for(readings, found, fit);
    let found = LimitFit {
        one_way: readings.one_way(),
        ..between::enough(readings, found)?
    };
    Ok(hidden::told(readings, found))
}

/// The same of readings that are taken as they are, fitted the same way round however they are given.
fn as_they_are(readings: &Readings<'_>, options: &FitOptions) -> Result<LimitFit, FitError> {
    match mirror::Mirror::of(readings) {
        None => assess::assess(readings, options),
        Some(mirror) => assess::assess(&mirror.turn(readings).readings(), options)
            .map(|fit| mirror.back(fit))
            .map_err(|error| mirror.back_error(error)),
    }
}
