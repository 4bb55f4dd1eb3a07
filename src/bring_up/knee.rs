//! Where a joint bends abruptly and lastingly: behind a stop that gives way it follows on, at a part of its slope.
//!
//! Around each place two models of the readings are compared, each with the lost motion: two straight pieces that meet there, and a
//! cubic. A mechanism bends smoothly, and the cubic follows it as well or better; a knee is what only the two pieces follow.

use crate::fit::statistics::dense::least_squares;
use crate::math::ln;
use std::vec::Vec;

/// Drive angle, deg, reading, and the sign of the direction from which it was reached.
pub(super) type Place = [f64; 3];

/// How far to each side of a place it is judged, deg, and the least of that which the readings must cover.
const REACH: f64 = 17.0;
const COVERED: f64 = 0.6;
/// Readings on each side.
const FEWEST: usize = 8;
/// The lesser slope over the greater: above, it is hardly a knee; below, the joint does not follow on.
const RATIO: [f64; 2] = [0.2, 0.75];
/// By how much the logarithm of the squares that the pieces leave must lie below the cubic's, times the readings: of 64 joints that gave
/// way by 0.6 or 0.7 none came below 14; of 150 sound ones, cranks and sensors off their axis among them, none had such a ratio of slopes
/// with more than 0.
const CLEARLY: f64 = 8.0;
/// What rounding leaves of exact readings, as a share of their squares.
const ROUNDING: f64 = 1e-18;
/// The columns of the larger model.
const P: usize = 5;

/// The drive angle of the clearest knee, deg, if there is one.
pub(super) fn knee(places: &[Place]) -> Option<f64> {
    let mut at: Vec<f64> = places.iter().map(|place| place[0]).collect();
    at.sort_by(f64::total_cmp);
    at.dedup();
    let clearest = at
        .into_iter()
        .filter_map(|at| Some((clearness(places, at)?, at)))
        .max_by(|a, b| a.0.total_cmp(&b.0));
    clearest
        .filter(|(clearness, _)| *clearness >= CLEARLY)
        .map(|(_, at)| at)
}

/// How much better than a cubic two pieces that meet at a drive angle follow the readings around it; nothing where their slopes make no
/// knee, or too few readings lie on either side.
fn clearness(places: &[Place], at: f64) -> Option<f64> {
    let near: Vec<Place> = (places.iter())
        .map(|[drive, reading, sign]| [(drive - at) / REACH, *reading, *sign])
        .filter(|[x, ..]| x.abs() <= 1.0)
        .collect();
    let far = |side: f64| {
        let on_side = || near.iter().map(move |place| side * place[0]).filter(|x| *x > 0.0);
        on_side().count() >= FEWEST && on_side().fold(0.0, f64::max) >= COVERED
    };
    if !far(1.0) || !far(-1.0) {
        return None;
    }
    let rows = |row: fn(f64, f64) -> [f64; P]| near.iter().map(move |[x, reading, s]| (row(*x, *s), *reading, 1.0));
    let ([_, before, change, ..], pieces) = least_squares(rows(|x, s| [1.0, x, x.max(0.0), s, 0.0]), 4)?;
    let (_, cubic) = least_squares(rows(|x, s| [1.0, x, s, x * x, x * x * x]), P)?;
    let behind = before + change;
    let ratio = (before / behind).min(behind / before);
    // Written so that NaN is none; exact readings leave their rounding.
    let floor = ROUNDING * near.iter().map(|place| place[1] * place[1]).sum::<f64>();
    (ratio > RATIO[0] && ratio < RATIO[1]).then(|| near.len() as f64 * ln(cubic.max(floor) / pieces.max(floor)))
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Up and down again in steps of 1.5 deg, with the scatter of whole counts and play.
    fn swept(of: impl Fn(f64) -> f64) -> Option<f64> {
        let up = (0..60).map(|i| (20.0 + 1.5 * f64::from(i), 1.0));
        let down = (0..60).map(|i| (20.0 + 1.5 * f64::from(i), -1.0));
        let places: Vec<Place> = up
            .chain(down)
            .map(|(drive, sign)| [drive, of(drive - 0.8 * sign).round(), sign])
            .collect();
        knee(&places)
    }

    #[test]
    fn a_joint_that_follows_on_behind_its_stop_has_a_knee() {
        for give in [0.4, 0.6, 0.7] {
            for at in [40.0, 62.0, 90.0] {
                let found = swept(|x| 100.0 + 5.0 * (x.min(at) + give * (x - at).max(0.0))).unwrap();
                assert!((found - at).abs() < 3.0, "{give} {at}: {found}");
                let found = swept(|x| 100.0 + 5.0 * (x.max(at) - give * (at - x).max(0.0))).unwrap();
                assert!((found - at).abs() < 3.0, "{give} {at}: {found}");
            }
        }
    }

    #[test]
    fn smooth_bends_lines_and_hard_stops_have_none() {
        assert_eq!(swept(|x| 100.0 + 5.0 * x), None);
        assert_eq!(swept(|x| 100.0 + 5.0 * x.clamp(30.0, 95.0)), None);
        for reach in [40.0, 70.0, 85.0] {
            let crank = |x: f64| 500.0 + 300.0 * ((x - 65.0) / 45.0 * reach).to_radians().sin();
            assert_eq!(swept(crank), None, "{reach}");
        }
        assert_eq!(swept(|x| 100.0 + 5.0 * (x + 1.5 * (6.0 * x).to_radians().sin())), None);
        assert_eq!(swept(|_| f64::NAN), None);
        assert_eq!(knee(&[]), None);
    }
}
