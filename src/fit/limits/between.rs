//! Tables whose readings all but lie on the two stops: what one reading between them tells fits every slope, and so every place of a stop.

use super::prepare::ends_of;
use crate::fit::error::FitError;
use crate::fit::outcome::LimitFit;
use crate::fit::readings::Readings;
use crate::fit::statistics::resolution::step_along;
use std::vec::Vec;

/// How far readings on one stop may lie apart, as a share of the range of the values; as far as one step of them, but no further than this.
const SHARE: f64 = 1.0 / 40.0;
const MOST_SHARE: f64 = 1.0 / 8.0;
/// Longer tables are recorded, and go over many drive angles.
const LONGEST: usize = 4096;
/// Drive angles on each stop by which it is known as one.
const ON_STOP: usize = 2;
/// Drive angles between the stops that the other readings do not check.
const UNCHECKED: usize = 1;
/// Drive angles between the stops for which a fit that was refused lacks nothing but more of them.
const TOO_FEW: usize = 3;

/// The fit given, refused where at most one drive angle lies between two stops; and a refusal that says so where too few do.
pub(super) fn enough(given: &Readings<'_>, found: Result<LimitFit, FitError>) -> Result<LimitFit, FitError> {
    if given.drive.len() > LONGEST {
        return found;
    }
    let most = match &found {
        Ok(fit) if fit.lower.marked || fit.upper.marked => return found,
        Ok(_) => UNCHECKED,
        Err(FitError::NoAgreement { .. } | FitError::NoMotion { .. } | FitError::TooFewReadings { .. }) => TOO_FEW,
        Err(_) => return found,
    };
    // A value with a digit too many would make one level of all others.
    let is_kept = |index: usize| found.as_ref().map_or(true, |fit| !fit.is_left_out(index));
    match between_levels(given, is_kept, most) {
        Some(between) => Err(FitError::FewBetweenStops {
            between: between.count,
            lower: between.lower,
            upper: between.upper,
        }),
        _ => found,
    }
}

/// What lies between two levels.
struct Between {
    /// Drive angles there.
    count: usize,
    /// The last drive angle on the lower level.
    lower: f64,
    /// The first on the upper one.
    upper: f64,
}

/// The drive angles between a level at either end; none where either end is no level, or more drive angles than `most` lie between.
fn between_levels(given: &Readings<'_>, is_kept: impl Fn(usize) -> bool, most: usize) -> Option<Between> {
    let rows = given.drive.iter().copied().zip(given.measured.iter().copied());
    let rows = rows.enumerate().filter(|(index, _)| is_kept(*index));
    let mut rows: Vec<(f64, f64)> = rows.map(|(_, row)| row).collect();
    let (drive, measured): (Vec<f64>, Vec<f64>) = rows.iter().copied().unzip();
    let (low, high) = ends_of(&measured);
    let range = high - low;
    rows.sort_unstable_by(|a, b| a.0.total_cmp(&b.0).then(a.1.total_cmp(&b.1)));
    let places: Vec<&[(f64, f64)]> = rows.chunk_by(|a, b| a.0 == b.0).collect();
    let levels = |tolerance: f64| {
        let first = Level::of(places.iter().copied(), tolerance)?;
        let last = Level::of(places.iter().rev().copied(), tolerance)?;
        (first.places >= ON_STOP && last.places >= ON_STOP).then_some((first, last))
    };
    let on_levels = |first: &Level, last: &Level| first.places + last.places;
    // The widest tolerance leaves fewest between, which rules most tables out.
    let (first, last) = levels(MOST_SHARE * range)?;
    if places.len() > on_levels(&first, &last) + most {
        return None;
    }
    let step = step_along(&drive, &measured, range).unwrap_or(0.0);
    let (first, last) = levels(step.max(SHARE * range).min(MOST_SHARE * range))?;
    let count = places.len().checked_sub(on_levels(&first, &last))?;
    let apart = first.high < last.low || last.high < first.low;
    (apart && count <= most).then_some(Between {
        count,
        lower: first.drive,
        upper: last.drive,
    })
}

/// The readings at an end that stay at one value.
struct Level {
    places: usize,
    low: f64,
    high: f64,
    /// The last drive angle of them.
    drive: f64,
}

impl Level {
    /// Of the readings at each drive angle, the outermost first.
    fn of<'a>(places: impl Iterator<Item = &'a [(f64, f64)]>, tolerance: f64) -> Option<Self> {
        let mut found: Option<Self> = None;
        let (mut low, mut high) = (f64::INFINITY, f64::NEG_INFINITY);
        for (count, rows) in places.enumerate() {
            for (_, measured) in rows {
                (low, high) = (low.min(*measured), high.max(*measured));
            }
            // Decimals are no binary numbers.
            if high - low > tolerance * (1.0 + 1e-9) {
                break;
            }
            let &(drive, _) = rows.first()?;
            found = Some(Self {
                places: count + 1,
                low,
                high,
                drive,
            });
        }
        found
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::code::Code;
    use crate::fit::{FitOptions, fit_limits};
    use std::string::ToString as _;

    fn fit(measured: &[f64]) -> Result<LimitFit, FitError> {
        let drive: Vec<f64> = (0..measured.len()).map(|i| 10.0 * i as f64).collect();
        fit_limits(&Readings::new(&drive, measured), &FitOptions::default())
    }

    /// Invented: whole degrees, slope 1.
    #[test]
    fn one_drive_angle_between_two_stops_places_neither() {
        let error = fit(&[38.0, 38.0, 38.0, 38.0, 45.0, 52.0, 52.0, 52.0, 52.0]).unwrap_err();
        let expected = FitError::FewBetweenStops {
            between: 1,
            lower: 30.0,
            upper: 50.0,
        };
        assert_eq!((error, error.code()), (expected, Code::DriveAnglesEqual));
        assert!(
            error.to_string().contains("take at least 3 more between 30 and 50"),
            "{error}"
        );
        let mirrored = fit(&[52.0, 52.0, 52.0, 52.0, 45.0, 38.0, 38.0, 38.0, 38.0]);
        assert_eq!(mirrored, Err(expected));
        let none = fit(&[38.0, 38.1, 38.0, 38.2, 52.1, 52.0, 52.0, 51.9]).unwrap_err();
        assert!(none.to_string().contains("and no drive angle lies between,"), "{none}");
    }

    #[test]
    fn two_that_no_line_agrees_with_are_told_as_too_few() {
        match fit(&[37.0, 37.0, 37.0, 37.0, 45.0, 55.0, 58.0, 58.0, 58.0, 58.0]) {
            Err(FitError::FewBetweenStops { between, .. }) => assert_eq!(between, 2),
            Err(error) => panic!("{error}"),
            Ok(fit) => assert!(fit.travel.is_some()),
        }
    }

    /// A value with a digit too many is left out, and takes nothing from the others.
    #[test]
    fn a_slip_of_the_pen_makes_no_level_of_all_others() {
        let slipped = [
            -80.0, -82.0, -82.0, -76.0, -68.0, -620.0, -52.0, -42.0, -44.0, -46.0, -42.0,
        ];
        assert!(fit(&slipped).is_ok_and(|fit| fit.travel.is_some()));
    }

    #[test]
    fn a_line_of_three_drive_angles_is_enough() {
        let found = fit(&[32.0, 32.0, 32.0, 36.0, 46.0, 56.0, 61.0, 61.0, 61.0]).unwrap();
        assert!(found.upper.at > 50.0 && found.lower.at < 30.0, "{found:?}");
    }
}
