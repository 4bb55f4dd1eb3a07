//! A feedback map from measured points: what a sensor reads at joint angles.

mod slipped;
mod smooth;
mod wrong_rows;

use super::choose::{Tried, choose};
use super::curve::{MOST_JOINT_KNOTS, TURNED_WITHIN, value_ends};
use super::sensor::{FeedbackWarning, Row, level_ends, said_against};
use crate::curve::{Curve, SlopeRule};
use crate::feedback::{FeedbackRecord, most_of};
use crate::fit::error::FitError;
use crate::fit::readings::Readings;
use crate::fit::statistics::resolution::step_of;
use crate::fit::statistics::turn::lone_leap;
use crate::fit::statistics::univariate::{MAD_TO_SD, median, spread};
use crate::look::Statistic;
use crate::math::hypot;
use crate::span::Span;
use slipped::Slipped;
use smooth::smooth_sd;
use std::vec::Vec;
use wrong_rows::{is_wrong, rows_left_out, scale_of};

/// A map from readings to joint angles, straight or curved: what [`fit_feedback`] found.
///
/// With the feature `serde`, as a record with the same fields.
#[derive(Debug, Clone, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
#[non_exhaustive]
pub struct FeedbackFit {
    /// Reading and joint angle of each knot, (n x 2), readings rising; two if the map is straight.
    pub knots: Vec<[f64; 2]>,
    /// Standard uncertainty of each knot's angle, deg; as for [`CurveFit::u`](crate::fit::CurveFit::u). Half of a displacement told of a
    /// table one way is part of it.
    pub u: Vec<f64>,
    /// Standard deviation of the angles about the map, deg, half of a displacement told of a table one way among them.
    pub residual_sd: f64,
    /// That about the best straight line: how much worse a straight map would be.
    pub straight_sd: f64,
    /// Readings that were not left out, less the numbers found.
    pub dof: usize,
    /// The readings left out, counted from 0 as given, rising: see [`FeedbackFit::far_off`] and [`FeedbackWarning::Level`].
    #[cfg_attr(feature = "serde", serde(default))]
    pub left_out: Vec<usize>,
    /// What the readings as a whole say against the map.
    #[cfg_attr(feature = "serde", serde(default))]
    pub warnings: Vec<FeedbackWarning>,
}

/// What a map may leave of the angles' own standard deviation: a sensor that leaves more does not follow the joint (an
/// assumption of this library).
const MOST_LEFT: f64 = 0.3;
/// An inner knot nearer to an end of the joint's angles than this part of them would make a piece too short to be written down.
const TOO_NEAR: f64 = 0.01;

/// From so many readings on, the others tell how far one may lie off the map.
const ENOUGH_TO_JUDGE: usize = 8;
/// A reading further off than so many of the others' standard deviations, estimated from their median deviation, more than
/// twice the residual SD, more than a step of the angles and two of their scale, is told. One that is left out lies off by more than
/// chance besides: of 200 invented sound tables of each of 144 kinds (8 to 20 rows, straight or with a bow of 0.2 to 0.5, 8 to 12 bits,
/// 0.3 deg of scatter, to whole degrees or not) at most 6 lost a good row, 172 of all 28800.
const FAR_OFF: f64 = 6.0;
/// Steps of the angles' scale that a reading may lie off: one that a protractor read to its next mark, beside others that it read well.
const MOST_STEPS: f64 = 2.05;
/// What rounding leaves of exact readings, as a share of the angles.
const ROUNDING: f64 = 1e-6;

/// A reading that lies far off a feedback map, as one does that was misread or belongs to another row.
#[derive(Debug, Clone, Copy, PartialEq)]
#[non_exhaustive]
pub struct FarOff {
    /// Which one, counted from 0 as given.
    pub index: usize,
    /// What the sensor read.
    pub reading: f64,
    /// The joint angle given there, deg.
    pub angle: f64,
    /// That angle less the one that the map expects, deg.
    pub off: f64,
    /// Whether the map was fitted without it.
    pub is_left_out: bool,
}

impl core::fmt::Display for FarOff {
    fn fmt(&self, f: &mut core::fmt::Formatter<'_>) -> core::fmt::Result {
        write!(
            f,
            "sensor reading {} at {} deg lies {} deg off the map, far more than the others",
            self.reading,
            self.angle,
            Statistic(self.off.abs())
        )?;
        f.write_str(if self.is_left_out {
            ", and is left out; repeat it, and correct the row"
        } else {
            "; repeat it, or delete the row, and fit again"
        })
    }
}

/// Fits a feedback map to joint angles `angle`, deg, at the readings `reading` of a sensor: a straight line unless the readings show a
/// significant bend, else a strictly monotone curve through 3 to `most_knots` knots.
///
/// Whether a curve is worth its numbers is judged as by [`choose_transmission`](crate::fit::choose_transmission), the curve found as by
/// [`fit_curve`](crate::fit::fit_curve).
///
/// *Shape*: both of one length, at least 5, any order, repeats welcome. The angles scatter, the readings are taken as they are:
/// take medians of several where a sensor is noisy. Readings on a stop are as good as any other. From 8 on, what lies far off the map
/// through the others is left out, at most one in eight, where two neighbours with exchanged angles count as one, and at an end no more
/// than the outermost: see [`FeedbackFit::far_off`]. Readings at an end that stay level while the angles
/// go on are left out as well, where 5 others remain. That, readings displaced together from one on, and a residual SD above 4 % of the
/// angles' range are told in [`FeedbackFit::warnings`].
///
/// In a table one way, the rows in the order in which they were taken, a sensor or protractor that slipped is told where 4 rows or more,
/// and a tenth of all, stand on each side of it. Which part is right is not known: the map has the bend of both and lies midway between
/// them, half of the displacement off either, and [`FeedbackFit::residual_sd`] and [`FeedbackFit::u`] contain that half.
///
/// # Errors
/// As [`fit_curve`](crate::fit::fit_curve), the readings called `reading` and the angles `angle`; [`FitError::SensorStill`] if the
/// readings do not follow the angles: if the residual SD about the map is more than 0.3 of their standard deviation.
///
/// ```
/// use elbowroom::{Feedback, fit::fit_feedback};
/// // A potentiometer on a joint, compared with a protractor; invented.
/// let reading = [212.0, 280.0, 351.0, 420.0, 489.0, 561.0, 630.0, 699.0, 771.0, 840.0];
/// let angle = [0.0, 9.9, 20.1, 29.8, 40.2, 50.1, 60.0, 70.2, 79.9, 90.1];
/// let fit = fit_feedback(&reading, &angle, 7)?;
/// assert_eq!(fit.knots.len(), 2, "straight");
/// assert!(fit.residual_sd < 0.3);
/// // For a joint whose lowest command means 5 deg and whose highest means 85.
/// let mut record = fit.record([5.0, 85.0])?;
/// record.adc_bits = Some(10);
/// let feedback = Feedback::new(&record)?;
/// assert!((feedback.angle(489.0) - 40.0).abs() < 0.2);
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
pub fn fit_feedback(reading: &[f64], angle: &[f64], most_knots: usize) -> Result<FeedbackFit, FitError> {
    let all = map_through(reading, angle, most_knots);
    // What wrong or exchanged rows may cause is asked again without them.
    if let Err(error) = &all
        && !matches!(error, FitError::SensorStill { .. })
    {
        return Err(*error);
    }
    let through = |places: &[usize]| map_through(&at(places, reading), &at(places, angle), most_knots);
    let level = level_ends(reading, angle, |places| {
        let sd = through(places).ok()?.residual_sd;
        let smooth = smooth_sd(&at(places, reading), &at(places, angle), 2);
        Some(smooth.filter(|smooth| *smooth < sd).unwrap_or(sd))
    });
    if level.is_empty() {
        return following(reading, angle, most_knots, all);
    }
    let places: Vec<usize> = (0..reading.len())
        .filter(|place| !level.iter().any(|(_, left_out)| left_out.contains(place)))
        .collect();
    let mut fit = following(&at(&places, reading), &at(&places, angle), most_knots, through(&places))?;
    let original = |place: &usize| places.get(*place).copied().unwrap_or(*place);
    fit.left_out = fit.left_out.iter().map(original).collect();
    for warning in &mut fit.warnings {
        if let FeedbackWarning::Displaced { index, .. } = warning {
            *index = original(index);
        }
    }
    for (warning, left_out) in level.into_iter().rev() {
        fit.warnings.insert(0, warning);
        fit.left_out.extend(left_out);
    }
    fit.left_out.sort_unstable();
    Ok(fit)
}

/// The same of readings none of which stay level at an end; `all` is the map through all of them.
fn following(
    reading: &[f64],
    angle: &[f64],
    most_knots: usize,
    all: Result<FeedbackFit, FitError>,
) -> Result<FeedbackFit, FitError> {
    let alone = undisplaced(reading, angle, most_knots, all)?;
    let Some(slipped) = slipped::find(reading, angle, most_knots) else {
        return Ok(alone);
    };
    let together = slipped.brought_together(angle);
    let all = map_through(reading, &together, most_knots);
    let most = MOST_LEFT * spread(angle).map_err(|error| of_feedback(error, reading, angle))?.sd;
    let fit = undisplaced(reading, &together, most_knots, all).map(|fit| fit.midway(slipped));
    // So large a step is no slip of a sensor that follows the joint.
    Ok(fit.ok().filter(|fit| fit.residual_sd <= most).unwrap_or(alone))
}

/// The same of rows that are taken to belong together.
fn undisplaced(
    reading: &[f64],
    angle: &[f64],
    most_knots: usize,
    all: Result<FeedbackFit, FitError>,
) -> Result<FeedbackFit, FitError> {
    let mut left_out = rows_left_out(reading, angle, most_knots);
    let others =
        |left_out: &[usize]| -> Vec<usize> { (0..reading.len()).filter(|index| !left_out.contains(index)).collect() };
    let mut kept = others(&left_out);
    let mut fit = match left_out.as_slice() {
        [] => all?,
        _ => map_through(&at(&kept, reading), &at(&kept, angle), most_knots)?,
    };
    // Those with which the map without all of them agrees after all are taken again.
    let far = fit.far_off(reading, angle);
    left_out.retain(|index| far.iter().any(|one| one.index == *index) && is_wrong(&fit, &kept, *index, reading, angle));
    if kept.len() + left_out.len() < reading.len() {
        kept = others(&left_out);
        fit = map_through(&at(&kept, reading), &at(&kept, angle), most_knots)?;
    }
    fit.left_out = left_out;
    // Scatter about some straight line is no map.
    let of_feedback = |error: FitError| of_feedback(error, reading, angle);
    let follows = fit.residual_sd <= MOST_LEFT * spread(&at(&kept, angle)).map_err(of_feedback)?.sd;
    if !follows {
        return Err(sensor_still(reading, angle));
    }
    fit.warnings.extend(fit.said_against(&kept, reading, angle));
    Ok(fit)
}

/// The values at some places.
fn at(places: &[usize], values: &[f64]) -> Vec<f64> {
    places.iter().filter_map(|&index| values.get(index).copied()).collect()
}

/// The map through all rows given, whether or not the sensor follows the joint.
fn map_through(reading: &[f64], angle: &[f64], most_knots: usize) -> Result<FeedbackFit, FitError> {
    let of_feedback = |error: FitError| of_feedback(error, reading, angle);
    // A converter shows bends that no protractor does.
    let choice = choose(&Readings::new(reading, angle), &[], most_knots, 0.0).map_err(of_feedback)?;
    let straight_sd = choice.candidates.first().map_or(f64::NAN, |line| line.residual_sd);
    match choice.chosen().map(|candidate| &candidate.tried) {
        Some(Tried::Linear(line)) => {
            let least = reading.iter().copied().fold(f64::INFINITY, f64::min);
            let most = reading.iter().copied().fold(f64::NEG_INFINITY, f64::max);
            let ends = [least, most].map(|reading| (reading, line.predict(reading)));
            Ok(FeedbackFit {
                knots: ends.iter().map(|(reading, angle)| [*reading, angle.value]).collect(),
                u: ends.iter().map(|(_, angle)| angle.u).collect(),
                residual_sd: line.residual_sd,
                straight_sd,
                dof: line.dof,
                left_out: Vec::new(),
                warnings: Vec::new(),
            })
        }
        Some(Tried::Curve(curve)) => Ok(FeedbackFit {
            knots: curve.knots.clone(),
            u: curve.u.clone(),
            residual_sd: curve.residual_sd,
            straight_sd,
            dof: curve.dof,
            left_out: Vec::new(),
            warnings: Vec::new(),
        }),
        // No mechanism was tried.
        _ => Err(FitError::NoAgreement {
            agree: 0,
            given: reading.len(),
        }),
    }
}

/// A reading at an end of its converter's range, far from those at the next joint angles; `Display` writes the sentence.
#[derive(Debug, Clone, Copy, PartialEq)]
#[non_exhaustive]
pub struct AtRail {
    /// Its place among the readings.
    pub index: usize,
    /// The reading.
    pub reading: f64,
    /// The converter's largest number.
    pub most: f64,
}

/// How far a reading at a rail is from its neighbours where a wire may be broken, in parts of the converter's range: a sensor that runs out
/// comes to its rail by smaller steps.
const RAIL_LEAP: f64 = 1.0 / 8.0;
/// The same at the last joint angle, in median steps between the other readings: there a wide step may be one like all others.
const STEPS_LEAPT: f64 = 3.0;

/// The readings at 0 or at the largest number of a converter with so many bits whose neighbours, by joint angle, are all far away: what a
/// broken wire reads.
///
/// *Shape*: as for [`fit_feedback`].
///
/// ```
/// use elbowroom::fit::at_rails;
/// let found = at_rails(&[200.0, 300.0, 0.0, 500.0], &[0.0, 10.0, 20.0, 30.0], 10);
/// assert_eq!(found.len(), 1);
/// assert_eq!(
///     found[0].to_string(),
///     "reading 0 is at an end of the converter's range, 0 to 1023, and its neighbours are not; a wire may be broken: take it again or \
///      delete the row"
/// );
/// ```
pub fn at_rails(reading: &[f64], angle: &[f64], adc_bits: u8) -> Vec<AtRail> {
    let most = most_of(adc_bits);
    let mut order: Vec<(usize, f64, f64)> = (reading.iter().zip(angle).enumerate())
        .map(|(index, (reading, angle))| (index, *reading, *angle))
        .collect();
    order.sort_by(|a, b| a.2.total_cmp(&b.2));
    let step = |pair: &[(usize, f64, f64)]| match pair {
        [(_, from, _), (_, to, _)] => Some((to - from).abs()),
        _ => None,
    };
    let leap = RAIL_LEAP * most;
    let mut found = Vec::new();
    for (at, &(index, reading, _)) in order.iter().enumerate() {
        if reading > 0.0 && reading < most {
            continue;
        }
        let far = |other: &(usize, f64, f64)| (other.1 - reading).abs();
        let is_far = match (at.checked_sub(1).and_then(|at| order.get(at)), order.get(at + 1)) {
            (Some(before), Some(after)) => far(before).min(far(after)) > leap,
            (Some(only), None) | (None, Some(only)) => {
                let others = if at == 0 { order.get(1..) } else { order.get(..at) };
                let mut steps: Vec<f64> = others.unwrap_or_default().windows(2).filter_map(step).collect();
                median(&mut steps).is_some_and(|usual| far(only) > leap.max(STEPS_LEAPT * usual))
            }
            (None, None) => false,
        };
        if is_far {
            found.push(AtRail { index, reading, most });
        }
    }
    found.sort_by_key(|rail| rail.index);
    found
}

impl core::fmt::Display for AtRail {
    fn fmt(&self, f: &mut core::fmt::Formatter<'_>) -> core::fmt::Result {
        write!(
            f,
            "reading {} is at an end of the converter's range, 0 to {}, and its neighbours are not; a wire may be broken: take it again or \
             delete the row",
            self.reading, self.most
        )
    }
}

/// The same of a sensor's readings and the joint angles at them, which are fitted as drive angles and measured values are.
fn of_feedback(mut error: FitError, reading: &[f64], angle: &[f64]) -> FitError {
    match &mut error {
        FitError::NotFinite { what, .. } | FitError::TooLarge { what, .. } | FitError::LengthMismatch { what, .. } => {
            *what = match *what {
                "drive" => "reading",
                "measured" => "angle",
                other => other,
            };
        }
        FitError::DriveAnglesEqual { .. } | FitError::NoMotion { .. } | FitError::TurnsBack { .. } => {
            return sensor_still(reading, angle);
        }
        _ => {}
    }
    error
}

/// What a sensor did that does not follow the joint.
fn sensor_still(reading: &[f64], angle: &[f64]) -> FitError {
    if let Some([[lower, upper], [from, to]]) = lone_leap(angle, reading) {
        return FitError::SensorStartsAgain { from, to, lower, upper };
    }
    let extent = |values: &[f64]| {
        let low = values.iter().copied().fold(f64::INFINITY, f64::min);
        (low, values.iter().copied().fold(f64::NEG_INFINITY, f64::max))
    };
    let ((low, high), (lower, upper)) = (extent(reading), extent(angle));
    FitError::SensorStill {
        low,
        high,
        lower,
        upper,
    }
}

impl FeedbackFit {
    /// The readings that lie far off the map, of those that it was given: more than six standard deviations of the others, and more
    /// than twice the residual SD and two steps of the angles' scale; one step, where the angles are as far apart as that. Where they are
    /// few, and chance does not explain them, the map was fitted without them; check the others before it is used.
    ///
    /// *Shape*: the same readings as given to [`fit_feedback`]. None is told of fewer than 8 readings.
    ///
    /// ```
    /// use elbowroom::fit::fit_feedback;
    /// let mut reading: Vec<f64> = (0..20).map(|i| 200.0 + 31.0 * f64::from(i)).collect();
    /// let angle: Vec<f64> = (0..20).map(|i| 5.0 * f64::from(i) + 0.1 * f64::from(i % 3)).collect();
    /// let fit = fit_feedback(&reading, &angle, 7)?;
    /// assert!(fit.far_off(&reading, &angle).is_empty());
    /// // One was written 90 too high.
    /// reading[7] += 90.0;
    /// let fit = fit_feedback(&reading, &angle, 7)?;
    /// let far = fit.far_off(&reading, &angle)[0];
    /// assert_eq!((far.index, far.is_left_out), (7, true));
    /// assert!((fit.curve()?.at(417.0) - 35.1).abs() < 0.1, "as without it");
    /// # Ok::<(), Box<dyn std::error::Error>>(())
    /// ```
    pub fn far_off(&self, reading: &[f64], angle: &[f64]) -> Vec<FarOff> {
        let Ok(curve) = self.curve() else { return Vec::new() };
        let both = reading.iter().zip(angle).enumerate();
        let both = both.filter(|&(index, (_, angle))| !self.is_level(index, *angle));
        let all: Vec<FarOff> = both
            .map(|(index, (&reading, &angle))| FarOff {
                index,
                reading,
                angle,
                off: angle - curve.at(reading),
                is_left_out: self.left_out.contains(&index),
            })
            .collect();
        let mut sizes: Vec<f64> = all.iter().map(|one| one.off.abs()).collect();
        let Some(middle) = median(&mut sizes).filter(|_| all.len() >= ENOUGH_TO_JUDGE) else {
            return Vec::new();
        };
        let [lower, upper] = self.angle();
        let step = step_of(angle, upper - lower).unwrap_or(0.0);
        let most = (FAR_OFF * MAD_TO_SD * middle)
            .max(2.0 * self.residual_sd)
            .max(1.05 * step)
            .max(MOST_STEPS * scale_of(angle))
            .max(ROUNDING * (upper - lower));
        all.into_iter()
            .filter(|one| one.is_left_out || one.off.abs() > most)
            .collect()
    }

    /// Whether the reading of this index, at a joint angle, is one of those left out where the sensor stays level.
    fn is_level(&self, index: usize, angle: f64) -> bool {
        let between = |warning: &FeedbackWarning| match *warning {
            FeedbackWarning::Level { from, to, .. } => (from.min(to)..=from.max(to)).contains(&angle),
            _ => false,
        };
        self.left_out.contains(&index) && self.warnings.iter().any(between)
    }

    /// The map from reading to joint angle; beyond its knots it continues as a straight line.
    ///
    /// # Errors
    /// Only if the knots were changed.
    pub fn curve(&self) -> Result<Curve<f64>, crate::curve::CurveError> {
        Curve::new(&self.knots, SlopeRule::Parabola)
    }

    /// The joint angles at its ends, lower first, deg.
    pub fn angle(&self) -> [f64; 2] {
        value_ends(&self.knots)
    }

    /// The record of a joint whose lower and upper command stand for the joint angles `angle`, deg.
    ///
    /// Where these lie beyond the readings the map continues as a straight line. A curve that is cut short has its slopes from other knots;
    /// more are set until it departs nowhere by more than half of the residual standard deviation or 1/5000 of the angles,
    /// whichever is more, or [`MOST_JOINT_KNOTS`] are reached.
    ///
    /// The record says nothing of the converter, the sensor's turn or its supply: fill these in.
    ///
    /// # Errors
    /// [`FitError::OptionOutside`] if `angle` is not a range, or lies wholly outside the angles read.
    pub fn record(&self, angle: [f64; 2]) -> Result<FeedbackRecord<f64>, FitError> {
        let [lower, upper] = angle;
        let [least, most] = self.angle();
        let outside = |what, value, lower, upper| FitError::OptionOutside {
            what,
            value,
            lower,
            upper,
        };
        let meets = lower < most && upper > least;
        if lower.is_nan() || lower >= most {
            return Err(outside("angle lower", lower, f64::MIN, most));
        }
        if !meets || Span::new("angle", angle).is_err() {
            return Err(outside("angle upper", upper, lower.max(least), f64::MAX));
        }
        let no_curve = outside("knots of a fit", self.knots.len() as f64, 2.0, MOST_JOINT_KNOTS as f64);
        let curve = self.curve().map_err(|_| no_curve)?;
        let ends = angle.map(|angle| [curve.inverse(angle), angle]);
        let inverted = !curve.is_rising();
        let [first, last] = if inverted { [ends[1], ends[0]] } else { ends };
        let mut record = FeedbackRecord::new([first[0], last[0]], angle);
        record.inverted = inverted;
        if self.knots.len() > 2 {
            let (near, room) = (TOO_NEAR * (upper - lower), TOO_NEAR * (last[0] - first[0]));
            let readings = first[0] + room..=last[0] - room;
            let angles = lower + near..=upper - near;
            let inner = self
                .knots
                .iter()
                .filter(|knot| readings.contains(&knot[0]) && angles.contains(&knot[1]));
            let mut knots: Vec<[f64; 2]> = [first].into_iter().chain(inner.copied()).chain([last]).collect();
            let enough = (self.residual_sd * 0.5).max((upper - lower) * TURNED_WITHIN);
            while let Some(worst) = departs(&curve, &knots, enough).filter(|_| knots.len() < MOST_JOINT_KNOTS) {
                let mut finer = knots.clone();
                finer.push([worst, curve.at(worst)]);
                finer.sort_by(|a, b| a[0].total_cmp(&b[0]));
                // Where a piece is so flat that its halves cannot be told apart, it stays whole.
                if Curve::new(&finer, SlopeRule::Parabola).is_err() {
                    break;
                }
                knots = finer;
            }
            record.knots = Some(knots);
        }
        Ok(record)
    }

    /// A map that is there, to be cut anew: between other joint angles it is the same map.
    #[cfg(feature = "robot")]
    pub(crate) fn of_record(record: &FeedbackRecord<f64>) -> Self {
        let [[r0, r1], [a0, a1]] = [record.reading, record.angle];
        let ends = if record.inverted {
            [[r0, a1], [r1, a0]]
        } else {
            [[r0, a0], [r1, a1]]
        };
        let knots = record.knots.clone().unwrap_or_else(|| ends.to_vec());
        Self {
            u: std::vec![0.0; knots.len()],
            knots,
            residual_sd: 0.0,
            straight_sd: 0.0,
            dof: 0,
            left_out: Vec::new(),
            warnings: Vec::new(),
        }
    }

    /// A map through both parts of a table brought together, as one of the table as it is: half of the displacement is its uncertainty
    /// everywhere, and a part of the scatter.
    fn midway(mut self, slipped: Slipped) -> Self {
        let half = 0.5 * slipped.by;
        let with_half = |sd: f64| hypot(sd, half);
        let sd = self.residual_sd;
        self.residual_sd = with_half(sd);
        self.straight_sd = with_half(self.straight_sd);
        self.u.iter_mut().for_each(|u| *u = with_half(*u));
        self.warnings = std::vec![FeedbackWarning::Displaced {
            index: slipped.row,
            by: -slipped.by,
            sd,
        }];
        self
    }

    /// What the rows at some places say against their map as a whole.
    fn said_against(&self, places: &[usize], reading: &[f64], angle: &[f64]) -> Option<FeedbackWarning> {
        let [lower, upper] = self.angle();
        let curve = self.curve().ok()?;
        let rows: Vec<Row> = (places.iter())
            .filter_map(|&place| {
                let (reading, angle) = (*reading.get(place)?, *angle.get(place)?);
                Some((angle, curve.at(reading) - angle, place))
            })
            .collect();
        said_against(&rows, self.residual_sd, upper - lower)
    }
}

/// The middle of the piece where the curve through `knots` departs most from `curve`, if by more than `enough`.
fn departs(curve: &Curve<f64>, knots: &[[f64; 2]], enough: f64) -> Option<f64> {
    let cut = Curve::new(knots, SlopeRule::Parabola).ok()?;
    let (mut most, mut middle) = (enough, None);
    for pair in knots.windows(2) {
        let &[[a, _], [b, _]] = pair else { continue };
        for i in 1..16 {
            let reading = a + (b - a) * f64::from(i) / 16.0;
            let off = (cut.at(reading) - curve.at(reading)).abs();
            if off > most {
                (most, middle) = (off, Some(0.5 * (a + b)));
            }
        }
    }
    middle
}
