//! What a table of a sensor's readings shows beyond single wrong rows: ends at which the sensor stays level, readings that are displaced
//! together from one row on, and scatter that no map explains.

use crate::fit::statistics::univariate::median;
use crate::look::{Rounded, Statistic};
use std::vec::Vec;

/// Something about a sensor's readings as a whole that a user should act on. `Display` writes the sentence.
#[derive(Debug, Clone, Copy, PartialEq)]
#[cfg_attr(
    feature = "serde",
    derive(serde::Serialize, serde::Deserialize),
    serde(rename_all = "kebab-case", tag = "kind")
)]
#[non_exhaustive]
pub enum FeedbackWarning {
    /// At one end of the joint angles the sensor stays level while the joint goes on, as one whose converter, amplifier or track ends. These
    /// readings are left out: the map there is that of the others.
    Level {
        /// How many readings.
        readings: usize,
        /// Their median.
        reading: f64,
        /// The innermost joint angle at which it is read, deg.
        from: f64,
        /// The outermost, deg.
        to: f64,
        /// By how much the readings change between the two if they go on as before.
        expected: f64,
    },
    /// From one reading on the sensor shows all joint angles displaced together: it or the protractor was set again, slipped or drifted, or
    /// the joint has lost motion. The map lies midway.
    ///
    /// Told where both parts have half of the angles' range in common, and of a table one way where a map and a displacement beside it
    /// explain the rows better than any map alone. Few rows of a bent sensor do not show it: knots follow the step.
    Displaced {
        /// The first reading behind it, counted from 0 as given.
        index: usize,
        /// By how much the angles that the sensor shows are higher from there on, deg.
        by: f64,
        /// Standard deviation of the angles within both parts, deg.
        sd: f64,
    },
    /// The angles scatter widely beside their whole range.
    ScatterWide {
        /// Standard deviation of the angles about the map, deg.
        residual_sd: f64,
        /// From the lowest to the highest angle of the map, deg.
        range: f64,
    },
}

impl core::fmt::Display for FeedbackWarning {
    fn fmt(&self, f: &mut core::fmt::Formatter<'_>) -> core::fmt::Result {
        let given = |value| Rounded { value, u: None };
        match *self {
            Self::Level {
                readings,
                reading,
                from,
                to,
                expected,
            } => write!(
                f,
                "{readings} readings from {} to {} deg stay near {}, where a change of {} is expected: the sensor or its converter ends there, and they are left out; turn the sensor or change its gain until it covers the joint's whole range, and take the readings again, or keep the joint inside of {} deg",
                given(from),
                given(to),
                given(reading),
                Statistic(expected),
                given(from)
            ),
            Self::Displaced { index, by, sd } => write!(
                f,
                "from reading {} on the sensor shows angles {} deg {} than before, where the SD within both parts is {} deg: it was set again, slipped or drifted, or has lost motion; fasten it, and take all readings again, each angle reached from the same side",
                index + 1,
                Statistic(by.abs()),
                if by > 0.0 { "higher" } else { "lower" },
                Statistic(sd)
            ),
            Self::ScatterWide { residual_sd, range } => write!(
                f,
                "residual SD {} deg is {:.1} % of the range of the joint angles: a wrong row, a loose sensor, or a bend that so few readings do not show; take the readings again, 8 or more, and look in the plot of the residuals for what lies off",
                Statistic(residual_sd),
                100.0 * residual_sd / range
            ),
        }
    }
}

/// Rows at an end that stay level: two of them only where they are equal, since one wrong row may look so.
const FEWEST_LEVEL: usize = 3;
/// Rows that are left to show how the sensor goes elsewhere.
const FEWEST_OTHERS: usize = 5;
/// Next to the level rows, so many show how the readings went before.
const BEFORE: usize = 5;
/// What a level end may have of the change that is expected: scatter aside, its readings are equal.
const LEVEL: f64 = 0.1;
/// The innermost of them is sound if it lies further off the others than this part of the change to the row behind it and so many times
/// what the others lie apart.
const SOUND: f64 = 0.1;
const SCATTERS: f64 = 3.0;
/// What its slope may have, with two standard uncertainties, of the slope before it: a sensor that a lever bends has more left.
const FLAT: f64 = 0.3;
/// From row to row the level rows must lie apart by this part of the spacing of all.
const PART_OF_SPACING: f64 = 1.0 / 3.0;
/// How many standard deviations of a reading the expected change must be, so that scatter does not make a level end.
const CLEARLY: f64 = 8.0;
/// A part may be displaced from here on, in standard deviations within both parts, and in standard uncertainties of their difference.
pub(super) const APART: f64 = 3.0;
const APART_U: f64 = 8.0;
/// No less than this share of the angles' range is displaced: play of a coupling is less.
pub(super) const LEAST_SHARE: f64 = 0.02;
/// Rows of each part.
pub(super) const FEWEST_OF_PART: usize = 4;
/// Share of the angles' range that both parts must hold: apart from each other, a displacement is the same as a bend.
const IN_COMMON: f64 = 0.5;
/// The residual SD over the angles' range from which it is told: a protractor read by eye, to a degree, leaves less over 30 deg. A bent
/// sensor of fewer than 8 readings leaves more, whose map then has too few knots.
const WIDE: f64 = 0.04;

/// Rows by joint angle, with their places: angle, reading, place.
pub(super) type Row = (f64, f64, usize);

/// The rows at both ends where the sensor stays level while the joint goes on, with their places.
///
/// `sd` is the standard deviation of the angles about the map through the rows at some places.
pub(super) fn level_ends(
    reading: &[f64],
    angle: &[f64],
    sd: impl Fn(&[usize]) -> Option<f64>,
) -> Vec<(FeedbackWarning, Vec<usize>)> {
    let mut rows: Vec<Row> = (angle.iter().zip(reading).enumerate())
        .map(|(place, (angle, reading))| (*angle, *reading, place))
        .collect();
    let mut found = Vec::new();
    // Outermost first, at the upper and then at the lower end.
    for sign in [-1.0, 1.0] {
        rows.sort_by(|a, b| (sign * a.0).total_cmp(&(sign * b.0)));
        let most = rows.len().saturating_sub(FEWEST_OTHERS).min(rows.len() / 2);
        let level = (2..=most)
            .rev()
            .find_map(|count| Some((count, level_rows(&rows, count, &sd)?)));
        if let Some((count, warning)) = level {
            found.push((warning, rows.drain(..count).map(|row| row.2).collect()));
        }
    }
    found
}

/// Whether so many outermost rows stay level, judged by those behind them.
fn level_rows(rows: &[Row], count: usize, sd: impl Fn(&[usize]) -> Option<f64>) -> Option<FeedbackWarning> {
    let (outer, others) = rows.split_at_checked(count)?;
    let (to, from) = (outer.first()?.0, outer.last()?.0);
    let mut readings: Vec<f64> = outer.iter().map(|row| row.1).collect();
    let reading = median(&mut readings)?;
    let change = readings.iter().fold(0.0f64, |most, r| most.max((r - reading).abs()));
    if count < FEWEST_LEVEL && change > 0.0 {
        return None;
    }
    let before = usual_slope(others.get(..BEFORE)?)?;
    // A sound row just inside of the level ones lies off them by a part of a step.
    let (innermost, beyond) = outer.split_last()?;
    let mut level: Vec<f64> = beyond.iter().map(|row| row.1).collect();
    let middle = median(&mut level)?;
    let scatter = level.iter().fold(0.0f64, |most, r| most.max((r - middle).abs()));
    let step = before * (innermost.0 - others.first()?.0);
    let is_enough = beyond.len() >= FEWEST_LEVEL || (beyond.len() > 1 && scatter == 0.0);
    if is_enough && (innermost.1 - middle).abs() > (SOUND * step.abs()).max(SCATTERS * scatter) {
        return None;
    }
    let expected = (before * (to - from)).abs();
    // Repeats of one angle do not show that the joint goes on.
    let [least, most] = extent(rows);
    let goes_on = (to - from).abs() >= PART_OF_SPACING * (most - least) * (count - 1) as f64 / rows.len() as f64;
    // What the others scatter by is asked last: it takes a fit.
    if !goes_on || expected <= 0.0 || change > 0.5 * expected {
        return None;
    }
    let places: Vec<usize> = others.iter().map(|row| row.2).collect();
    // Readings may scatter by as much where the sensor is flat as where it is steep.
    let scatter = sd(&places)? * before.abs().max(mean_slope(others));
    let is_level = slope_of(outer).is_some_and(|slope| {
        let u = scatter / spread_of(outer).sqrt();
        slope.abs() + 2.0 * u <= FLAT * before.abs()
    });
    (is_level && expected >= CLEARLY * scatter && change <= (LEVEL * expected).max(CLEARLY / 2.0 * scatter)).then_some(
        FeedbackWarning::Level {
            readings: count,
            reading,
            from,
            to,
            expected,
        },
    )
}

/// Reading per degree from the lowest to the highest angle, without its sign.
fn mean_slope(rows: &[Row]) -> f64 {
    match (rows.first(), rows.last()) {
        (Some(a), Some(b)) if a.0 != b.0 => ((b.1 - a.1) / (b.0 - a.0)).abs(),
        _ => 0.0,
    }
}

/// The sum of the squared angles about their mean.
fn spread_of(rows: &[Row]) -> f64 {
    let mean = rows.iter().map(|row| row.0).sum::<f64>() / rows.len() as f64;
    rows.iter().map(|row| (row.0 - mean) * (row.0 - mean)).sum()
}

/// Reading per degree, by least squares; None for rows at one angle.
fn slope_of(rows: &[Row]) -> Option<f64> {
    let n = rows.len() as f64;
    let mean = rows.iter().map(|row| row.0).sum::<f64>() / n;
    let level = rows.iter().map(|row| row.1).sum::<f64>() / n;
    let sum: f64 = rows.iter().map(|row| (row.0 - mean) * (row.1 - level)).sum();
    Some(sum / spread_of(rows)).filter(|slope| slope.is_finite())
}

/// The median of the slopes between each two rows, which one wrong row of five does not move (H. Theil, 1950; P. K. Sen, 1968).
fn usual_slope(rows: &[Row]) -> Option<f64> {
    let mut slopes: Vec<f64> = (rows.iter().enumerate())
        .flat_map(|(i, a)| rows.iter().skip(i + 1).map(move |b| (b.1 - a.1) / (b.0 - a.0)))
        .filter(|slope| slope.is_finite())
        .collect();
    median(&mut slopes)
}

/// What rows in their order, each its angle and by how much more the sensor's map shows, say against the map as a whole: a displacement,
/// else scatter. `range` is that of the map's angles.
pub(super) fn said_against(rows: &[Row], residual_sd: f64, range: f64) -> Option<FeedbackWarning> {
    displaced(rows, range)
        .or_else(|| (residual_sd > WIDE * range).then_some(FeedbackWarning::ScatterWide { residual_sd, range }))
}

/// Where rows in their order, angle and by how much more the sensor shows, fall into two parts that are displaced against each other, if
/// they do.
fn displaced(rows: &[Row], range: f64) -> Option<FeedbackWarning> {
    let mut best: Option<(f64, FeedbackWarning)> = None;
    for split in FEWEST_OF_PART..=rows.len().checked_sub(FEWEST_OF_PART)? {
        let Some((before, behind)) = rows.split_at_checked(split) else {
            continue;
        };
        let Some(&(.., index)) = behind.first() else { continue };
        let ([a0, a1], [b0, b1]) = (extent(before), extent(behind));
        if a1.min(b1) - a0.max(b0) < IN_COMMON * range {
            continue;
        }
        let (by, sd, u) = difference(before, behind);
        let is_apart = by.abs() >= (APART * sd).max(APART_U * u).max(LEAST_SHARE * range);
        let clearness = by.abs() / u;
        if is_apart && best.is_none_or(|(most, _)| clearness > most) {
            best = Some((clearness, FeedbackWarning::Displaced { index, by, sd }));
        }
    }
    best.map(|(_, warning)| warning)
}

/// The lowest and the highest angle.
fn extent(rows: &[Row]) -> [f64; 2] {
    rows.iter()
        .fold([f64::INFINITY, f64::NEG_INFINITY], |[low, high], row| {
            [low.min(row.0), high.max(row.0)]
        })
}

/// The second rows' mean less that of the first, the standard deviation within both, and the difference's standard uncertainty.
fn difference(first: &[Row], second: &[Row]) -> (f64, f64, f64) {
    let mean = |rows: &[Row]| rows.iter().map(|row| row.1).sum::<f64>() / rows.len() as f64;
    let squares = |rows: &[Row]| {
        let mean = mean(rows);
        rows.iter().map(|row| (row.1 - mean) * (row.1 - mean)).sum::<f64>()
    };
    let (n, m) = (first.len() as f64, second.len() as f64);
    let sd = ((squares(first) + squares(second)) / (n + m - 2.0)).sqrt();
    (mean(second) - mean(first), sd, sd * (1.0 / n + 1.0 / m).sqrt())
}
