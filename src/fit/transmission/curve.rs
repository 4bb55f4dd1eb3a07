//! A monotone curve through scattered readings: as few knots as the noise allows.

use super::sides::{BySide, Half, Place, signs};
use crate::curve::{Curve, SlopeRule};
use crate::fit::error::FitError;
use crate::fit::estimate::Estimate;
use crate::fit::line::check_readings;
use crate::fit::outcome::LostMotion;
use crate::fit::readings::{Approach, Readings};
use crate::fit::statistics::dense::{Matrix, add_outer, factor, inverse, quadratic, solve};
use crate::fit::statistics::monotone::fit_monotone;
use crate::fit::statistics::reversal::reversal;
use crate::map::{Direction, LinearMap};
use crate::math::ln;
use crate::span::Span;
use crate::transmission::TransmissionRecord;
use std::vec::Vec;

/// The most knots a fit will use.
pub const MOST_KNOTS: usize = 12;

/// The most knots of a joint made from a fit: as many as the fit may have, and one between each two.
pub const MOST_JOINT_KNOTS: usize = 2 * MOST_KNOTS - 1;

/// How far a joint's curve may depart from the fitted one whatever the scatter, as a share of the measured range: less than a
/// tenth of what one of 410 timer counts moves (4096 to a frame of 20 ms, over 2000 us).
pub(super) const TURNED_WITHIN: f64 = 2e-4;

/// A strictly monotone curve fitted to readings.
#[derive(Debug, Clone, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
#[non_exhaustive]
pub struct CurveFit {
    /// Drive angle and measured value of each knot, (n x 2), drive rising.
    pub knots: Vec<[f64; 2]>,
    /// Standard uncertainty of each knot's measured value. It takes the number of knots as known: that the same readings chose it
    /// costs some coverage, and a shape that so few knots do not follow costs more.
    pub u: Vec<f64>,
    /// Standard deviation of the readings about the curve, free of lost motion.
    pub residual_sd: f64,
    /// Readings less knots, and less one where lost motion was measured.
    pub dof: usize,
    /// Sum of squared residuals.
    pub sum_of_squares: f64,
    /// What the number of knots was chosen by, for each number tried from 2 on: lower is better.
    pub criterion: Vec<f64>,
    /// Lost motion, or why it cannot be determined; `drive` at the curve's mean slope.
    pub lost_motion: LostMotion,
    /// What the side of approach adds to the curve.
    pub by_side: BySide,
}

/// A curve as a joint needs it: the ranges and the transmission between them.
#[derive(Debug, Clone, PartialEq)]
#[non_exhaustive]
pub struct CurveJoint {
    /// The drive range, deg.
    pub drive: [f64; 2],
    /// Whether the lower command belongs to the upper drive angle.
    pub inverted: bool,
    /// The curve from command to drive angle.
    pub transmission: TransmissionRecord<f64>,
    /// The most that it departs from the fitted curve, in measured units; [`CurveFit::joint`] says what is let pass.
    pub departure: f64,
}

/// Fits a strictly monotone curve, with 2 to `most_knots` knots, to what was measured at each drive angle.
///
/// Knots stand where equal numbers of different drive angles lie between them; their values are those of least squares, moved to
/// the nearest monotone ones where needed. The number of knots, at most half the readings, is that of the least
/// `n·(ln(S/n) + k·ln(n)/(n - k - 2))`, S being the sum of squares and `k` the knots, and one more where lost motion is found as
/// well: another knot must reduce the scatter by more than chance would.
///
/// Where some stretch was reached from both sides, lost motion is found together with the knots, as [`BySide`] states: the curve
/// lies midway. It is sought as a change of the measured value and as one of the drive angle; the one with the lesser S is kept.
///
/// *Shape*: drive angles and measured values, at least 5, any order, repeats welcome, and the side of approach if it is known.
/// Contact noted and stated uncertainties play no part. Leave out readings on a stop and misreadings first:
/// [`LimitFit::between_stops`](crate::fit::LimitFit::between_stops) does so.
///
/// # Errors
/// As [`fit_line`](crate::fit::fit_line); `most_knots` outside 2 to [`MOST_KNOTS`]; [`FitError::NoMotion`] for readings that
/// neither rise nor fall, [`FitError::TurnsBack`] for those that do both, as with a dead centre between them, by more than scatter, lost
/// motion and single wrong rows explain.
///
/// ```
/// use elbowroom::fit::{Approach, LostMotion, Readings, fit_curve};
/// // Invented: a bent joint read upward and downward, half a degree apart.
/// let drive: Vec<f64> = (0..20).map(|i| 10.0 * f64::from(i % 10)).collect();
/// let approach = [[Approach::Below; 10], [Approach::Above; 10]].concat();
/// let bent = |x: f64| 0.4 * x + 0.002 * x * x;
/// let measured: Vec<f64> = drive.iter().zip(&approach).map(|(&x, a)| bent(x) - 0.25 * a.sign()).collect();
/// let fit = fit_curve(&Readings::new(&drive, &measured).with_approach(&approach), 7)?;
/// let LostMotion::Measured { value, .. } = fit.lost_motion else { panic!("{:?}", fit.lost_motion) };
/// assert!((value - 0.5).abs() < 1e-6 && fit.residual_sd < 1e-6);
/// # Ok::<(), elbowroom::fit::FitError>(())
/// ```
///
/// *Source*: G. Schwarz, Annals of Statistics 6 (1978) 461, the Bayesian information criterion, corrected for few readings as by
/// A. McQuarrie, Statistics & Probability Letters 44 (1999) 79 (from memory); the reversal value: ISO 230-2.
pub fn fit_curve(readings: &Readings<'_>, most_knots: usize) -> Result<CurveFit, FitError> {
    if !(2..=MOST_KNOTS).contains(&most_knots) {
        return Err(FitError::OptionOutside {
            what: "most_knots",
            value: most_knots as f64,
            lower: 2.0,
            upper: MOST_KNOTS as f64,
        });
    }
    check_readings(readings, 5)?;
    let Readings { drive, measured, .. } = *readings;
    let mut places = drive.to_vec();
    places.sort_by(f64::total_cmp);
    places.dedup();
    let rising = slope_sign(drive, measured)?;
    let signs = signs(readings);

    let mut best: Option<(f64, CurveFit)> = None;
    let mut criterion = Vec::new();
    let n = drive.len() as f64;
    let floor = rounding_floor(drive, measured);
    let most = most_of(most_knots, places.len(), drive.len());
    for count in 2..=most {
        let at: Vec<f64> = (0..count).map(|k| quantile(&places, k, count - 1)).collect();
        let (fit, parameters) = match &signs {
            Ok(signs) => (fit_two_sided(drive, measured, &at, rising, signs), count + 1),
            Err(reason) => {
                let lost_motion = LostMotion::NotDeterminable { reason: *reason };
                let fit =
                    solved(drive, measured, &at, rising, None).and_then(|s| s.finished(drive, measured, &[], None));
                (fit.map(|fit| CurveFit { lost_motion, ..fit }), count)
            }
        };
        let Some(fit) = fit else {
            continue;
        };
        let k = parameters as f64;
        // Of few readings with lost motion no more than half a degree of freedom may be left.
        let room = (n - k - 2.0).max(0.5);
        let value = n * (ln((fit.sum_of_squares / n).max(floor)) + k * ln(n) / room);
        criterion.push(value);
        if best.as_ref().is_none_or(|(least, _)| value < *least) {
            best = Some((value, fit));
        }
    }
    match best {
        Some((_, fit)) => match turns_back(drive, measured, fit.residual_sd) {
            Some(error) => Err(error),
            None => Ok(CurveFit { criterion, ..fit }),
        },
        None => Err(no_motion(drive, measured)),
    }
}

/// The curve through so many knots, placed as by [`fit_curve`], without lost motion; None where the readings do not determine it.
pub(super) fn curve_through(drive: &[f64], measured: &[f64], count: usize) -> Option<Curve<f64>> {
    let at = knot_places(drive, count)?;
    let rising = slope_sign(drive, measured).ok()?;
    Some(solved(drive, measured, &at, rising, None)?.curve)
}

/// How much each of so many knots, placed as by [`fit_curve`], moves the curve at each drive angle: one column a knot. None where the
/// readings do not determine them.
pub(super) fn columns(drive: &[f64], count: usize) -> Option<Vec<Vec<f64>>> {
    let at = knot_places(drive, count)?;
    let rows: Vec<[f64; P]> = drive.iter().map(|x| influence(&at, *x)).collect();
    Some(
        (0..count)
            .map(|k| rows.iter().filter_map(|row| row.get(k).copied()).collect())
            .collect(),
    )
}

/// The variance of a curve through so many knots at one more drive angle, beyond the others too, in units of that of a reading.
pub(super) fn variance_at(drive: &[f64], count: usize, x: f64) -> Option<f64> {
    let places = knot_places(drive, count)?;
    let mut normal: Matrix<P> = [[0.0; P]; P];
    drive
        .iter()
        .for_each(|x| add_outer(&mut normal, &influence(&places, *x), 1.0, count));
    let (first, last) = (*places.first()?, *places.last()?);
    let end = x.max(first).min(last);
    let mut row = influence(&places, end);
    if x != end {
        // As the curve continues there: by its slope at the end.
        let inside = end - (x - end).signum() * NEAR_END * (last - first);
        let before = influence(&places, inside);
        let far = (x - end) / (end - inside);
        row.iter_mut()
            .zip(before)
            .for_each(|(at_end, before)| *at_end += (*at_end - before) * far);
    }
    Some(quadratic(&inverse(&factor(&normal, count)?, count), &row))
}

/// Share of the drive angles over which the slope of a curve at its end is taken.
const NEAR_END: f64 = 1e-6;

/// The places of so many knots; None where the readings do not determine them.
fn knot_places(drive: &[f64], count: usize) -> Option<Vec<f64>> {
    let mut places = drive.to_vec();
    places.sort_by(f64::total_cmp);
    places.dedup();
    if count < 2 || count > most_of(MOST_KNOTS, places.len(), drive.len()) {
        return None;
    }
    Some((0..count).map(|k| quantile(&places, k, count - 1)).collect())
}

/// Two readings to a knot, and a place more than knots: else scatter cannot be told from shape.
fn most_of(most_knots: usize, places: usize, readings: usize) -> usize {
    most_knots.min(places.saturating_sub(1)).min(readings / 2).max(2)
}

/// The residual SD, as a share of the measured range, below which readings that go one way are not asked whether they turn back.
const FOLLOWS: f64 = 0.03;
/// Share of their range by which values turn back: measured ones over the drive, of which scatter on a level end leaves less; and drive
/// angles over what was measured, which near a dead centre change little.
const TURNS_BACK: [f64; 2] = [0.12, 0.04];

/// Why readings about which a monotone curve leaves so much have none: they turn back.
fn turns_back(drive: &[f64], measured: &[f64], residual_sd: f64) -> Option<FitError> {
    if residual_sd <= FOLLOWS * measured_size(measured) {
        return None;
    }
    let [of_measured, of_drive] = TURNS_BACK;
    let over_drive = reversal(drive, measured, of_measured).map(|found| ("measured", "drive", found));
    let found = over_drive.or_else(|| Some(("drive", "measured", reversal(measured, drive, of_drive)?)));
    found.map(|(what, over, found)| FitError::TurnsBack {
        what,
        over,
        at: found.at,
        by: found.by,
    })
}

impl CurveFit {
    /// The fitted curve from drive angle to measured value.
    ///
    /// # Errors
    /// Only if the knots were changed.
    pub fn curve(&self) -> Result<Curve<f64>, crate::curve::CurveError> {
        Curve::new(&self.knots, SlopeRule::Parabola)
    }

    /// The measured value expected at a drive angle reached from one side; midway between both where the side is unknown. NaN for
    /// NaN, and if the knots were changed.
    pub fn expected(&self, drive: f64, approach: Approach) -> f64 {
        let curve = self.curve();
        self.by_side.expected(drive, approach, |x| {
            curve.as_ref().map_or(f64::NAN, |curve| curve.at(x))
        })
    }

    /// The measured values at its ends, lower first: the commands of a joint whose commands are joint angles.
    pub fn command(&self) -> [f64; 2] {
        value_ends(&self.knots)
    }

    /// The transmission that sends `command` from end to end over the fitted curve.
    ///
    /// The joint's command range stands for the measured values between the first and the last knot. A cubic through knots
    /// inverted is not the cubic through the inverted knots: the two meet at the knots and depart in between. So the piece
    /// that departs most is halved, and again, until none departs by more than half of the residual standard deviation or
    /// 1/5000 of the measured range, whichever is more, or [`MOST_JOINT_KNOTS`] are reached. [`CurveJoint::departure`] is
    /// what is left.
    ///
    /// # Errors
    /// [`FitError::OptionOutside`] if `command` is not a range.
    pub fn joint(&self, command: [f64; 2]) -> Result<CurveJoint, FitError> {
        self.joint_between(command, self.command())
    }

    /// The same, with a command range that stands for the measured values `measured`, lower then upper, of which the curve may have
    /// more: it is cut there, not stretched.
    ///
    /// # Errors
    /// [`FitError::OptionOutside`] if `command` is not a range, or `measured` is not one within the values of the knots.
    pub fn joint_between(&self, command: [f64; 2], measured: [f64; 2]) -> Result<CurveJoint, FitError> {
        let outside = |what, [value, upper]: [f64; 2], lower| FitError::OptionOutside {
            what,
            value,
            lower,
            upper,
        };
        let [lower, upper] = command;
        let refused = outside("command upper", [upper, f64::MAX], lower);
        let curve = self.curve().map_err(|_| refused)?;
        let span = |ends| Span::new("command", ends).map_err(|_| refused);
        let (Some([d0, first]), Some([d1, last])) = (self.knots.first(), self.knots.last()) else {
            return Err(refused);
        };
        let inverted = first > last;
        let [least, most] = self.command();
        for (what, value) in [("measured lower", measured[0]), ("measured upper", measured[1])] {
            if !(least..=most).contains(&value) {
                return Err(outside(what, [value, most], least));
            }
        }
        let to_command = LinearMap::new(span(measured)?, span(command)?, Direction::Direct);
        // The ends of the fit to the bit, where nothing is cut.
        let end = |value: f64| match value {
            value if value == *first => *d0,
            value if value == *last => *d1,
            value => curve.inverse(value),
        };
        let [a, b] = measured.map(end);
        let ends = if inverted { [b, a] } else { [a, b] };
        let inner = self.knots.iter().map(|knot| knot[0]);
        let inner = inner.filter(|drive| *drive > ends[0] && *drive < ends[1]);
        let mut drives: Vec<f64> = [ends[0]].into_iter().chain(inner).chain([ends[1]]).collect();
        let enough = (self.residual_sd * 0.5).max((measured[1] - measured[0]) * TURNED_WITHIN);
        let mut best = turn(&curve, &drives, &to_command, inverted).ok_or(refused)?;
        let mut worst = best.middle;
        while best.departure > enough && drives.len() < MOST_JOINT_KNOTS {
            drives.push(worst);
            drives.sort_by(f64::total_cmp);
            // Where a piece is so flat that its halves cannot be told apart, it stays whole.
            let Some(finer) = turn(&curve, &drives, &to_command, inverted) else {
                break;
            };
            worst = finer.middle;
            if finer.departure < best.departure {
                best = finer;
            }
        }
        // A value turned over and back is off by its rounding; the ends are the command's.
        if let Some(knot) = best.knots.first_mut() {
            knot[0] = lower;
        }
        if let Some(knot) = best.knots.last_mut() {
            knot[0] = upper;
        }
        Ok(CurveJoint {
            drive: ends,
            inverted,
            transmission: TransmissionRecord::Curve {
                knots: best.knots,
                rule: SlopeRule::Parabola,
            },
            departure: best.departure,
        })
    }
}

/// The values of the first and the last knot, lower first.
pub(super) fn value_ends(knots: &[[f64; 2]]) -> [f64; 2] {
    let [a, b] = [knots.first(), knots.last()].map(|knot| knot.map_or(f64::NAN, |knot| knot[1]));
    if a > b { [b, a] } else { [a, b] }
}

/// The inverse of a fitted curve.
struct Turned {
    /// Command and drive angle, commands rising.
    knots: Vec<[f64; 2]>,
    /// The most that it departs from the fitted curve, in measured units.
    departure: f64,
    /// The middle of the piece that does.
    middle: f64,
}

/// Turns `curve` over at the drive angles given; None where two of them have one command.
fn turn(curve: &Curve<f64>, drives: &[f64], to_command: &LinearMap<f64>, inverted: bool) -> Option<Turned> {
    let mut knots: Vec<[f64; 2]> = drives.iter().map(|&d| [to_command.apply(curve.at(d)), d]).collect();
    if inverted {
        knots.reverse();
    }
    let turned = Curve::new(&knots, SlopeRule::Parabola).ok()?;
    let (mut departure, mut middle) = (0.0, f64::NAN);
    for pair in drives.windows(2) {
        let &[a, b] = pair else { continue };
        // Both curves are smooth within a piece: 16 places do not miss by how much they part.
        for i in 1..16 {
            let value = curve.at(a + (b - a) * f64::from(i) / 16.0);
            let off = (curve.at(turned.at(to_command.apply(value))) - value).abs();
            if off > departure {
                (departure, middle) = (off, 0.5 * (a + b));
            }
        }
    }
    Some(Turned {
        knots,
        departure,
        middle,
    })
}

/// Knots, and what else the readings need beside them: half the lost motion.
const P: usize = MOST_KNOTS + 1;

/// Knots by least squares, before their scatter is known.
struct Solved {
    curve: Curve<f64>,
    knots: Vec<[f64; 2]>,
    /// The factor of the column beside the knots; 0 without one.
    beside: f64,
    /// Variances of the knots' values and of `beside`, in units of that of a reading.
    variances: Vec<f64>,
}

/// Least squares for knots at given places, and for the factor of a column beside them; None where they cannot be told apart.
fn solved(x: &[f64], y: &[f64], places: &[f64], rising: bool, beside: Option<&[f64]>) -> Option<Solved> {
    let count = places.len();
    let used = count + usize::from(beside.is_some());
    let mut normal: Matrix<P> = [[0.0; P]; P];
    let mut right = [0.0; P];
    let middle = y.iter().sum::<f64>() / y.len() as f64;
    for (i, (&x, &y)) in x.iter().zip(y).enumerate() {
        let mut row = influence(places, x);
        if let (Some(beside), Some(cell)) = (beside, row.get_mut(count)) {
            *cell = *beside.get(i)?;
        }
        add_outer(&mut normal, &row, 1.0, used);
        for (sum, part) in right.iter_mut().zip(&row) {
            *sum += part * (y - middle);
        }
    }
    let factor = factor(&normal, used)?;
    let solution = solve(&factor, &right, used);
    let values: Vec<f64> = solution.iter().take(count).map(|v| v + middle).collect();
    let steps = fit_monotone(places, &values, rising).ok()?;
    // Strictly monotone: level knots are pulled apart by what no protractor sees.
    let gap = 1e-6 * measured_size(y).max(f64::MIN_POSITIVE) * if rising { 1.0 } else { -1.0 };
    let mut knots: Vec<[f64; 2]> = Vec::with_capacity(count);
    for step in steps {
        let least = knots.last().map(|knot| knot[1] + gap);
        let y = match least {
            Some(least) if (step.y < least) == rising || step.y == least => least,
            _ => step.y,
        };
        knots.push([step.x, y]);
    }
    let covariance = inverse(&factor, used);
    let own = |(k, row): (usize, &[f64; P])| row.get(k).copied().unwrap_or(0.0);
    Some(Solved {
        curve: Curve::new(&knots, SlopeRule::Parabola).ok()?,
        knots,
        beside: beside.and(solution.get(count)).copied().unwrap_or(0.0),
        variances: covariance.iter().enumerate().take(used).map(own).collect(),
    })
}

impl Solved {
    /// With its scatter about readings of which `signs` are the sides; `half` is half the lost motion, its u yet to be set.
    fn finished(self, x: &[f64], y: &[f64], signs: &[f64], half: Option<Half>) -> Option<CurveFit> {
        let Self { curve, knots, .. } = self;
        let by_side = half.map_or_else(BySide::default, Half::by_side);
        let free_of_sides = |i: usize, x: f64, y: f64| match signs.get(i) {
            Some(s) => y - (curve.at(x + s * by_side.drive) + s * by_side.measured),
            None => y - curve.at(x),
        };
        let residuals = x.iter().zip(y).enumerate().map(|(i, (&x, &y))| free_of_sides(i, x, y));
        let sum_of_squares: f64 = residuals.map(|r| r.powi(2)).sum();
        let dof = x.len().checked_sub(self.variances.len())?;
        let variance = sum_of_squares / dof.max(1) as f64;
        let mut u: Vec<f64> = self.variances.iter().map(|v| (v * variance).sqrt()).collect();
        let mut lost_motion = LostMotion::NotDeterminable {
            reason: crate::fit::NotDeterminable::ApproachUnknown,
        };
        if let Some(mut half) = half {
            half.size.u = u.pop()?;
            let ([x0, y0], [x1, y1]) = (*knots.first()?, *knots.last()?);
            lost_motion = half.lost_motion((y1 - y0) / (x1 - x0));
        }
        Some(CurveFit {
            knots,
            u,
            residual_sd: variance.sqrt(),
            dof,
            sum_of_squares,
            criterion: Vec::new(),
            lost_motion,
            by_side,
        })
    }
}

/// Least squares for knots and lost motion, which is sought behind the bend and before it.
fn fit_two_sided(x: &[f64], y: &[f64], places: &[f64], rising: bool, signs: &[f64]) -> Option<CurveFit> {
    /// Rounds; the change falls by a factor of some hundred each.
    const ROUNDS: usize = 20;
    /// Change of the drive angle, as a share of the range, that is rounding.
    const SETTLED: f64 = 1e-13;
    let half = |place, value| {
        Some(Half {
            place,
            size: Estimate { value, u: 0.0 },
        })
    };
    let behind = solved(x, y, places, rising, Some(signs))?;
    let ([x0, y0], [x1, y1]) = (*behind.knots.first()?, *behind.knots.last()?);
    let mut shift = behind.beside * (x1 - x0) / (y1 - y0);
    let mut before = None;
    let mut curve = behind.curve.clone();
    for _ in 0..ROUNDS {
        // To first order in what is still missing from the shift: its column is the slope there.
        let shifted: Vec<f64> = x.iter().zip(signs).map(|(x, s)| x + s * shift).collect();
        let column: Vec<f64> = shifted.iter().zip(signs).map(|(&x, s)| s * curve.slope(x)).collect();
        let Some(next) = solved(&shifted, y, places, rising, Some(&column)) else {
            break;
        };
        // Beyond the range there is nothing to shift against.
        shift = (shift + next.beside).clamp(x0 - x1, x1 - x0);
        let settled = next.beside.abs() <= SETTLED * (x1 - x0);
        curve = next.curve.clone();
        before = Some(next);
        if settled {
            break;
        }
    }
    let before = before.and_then(|before| before.finished(x, y, signs, half(Place::Drive, shift)));
    let size = behind.beside;
    let behind = behind.finished(x, y, signs, half(Place::Measured, size))?;
    match before {
        Some(before) if before.sum_of_squares < behind.sum_of_squares => Some(before),
        _ => Some(behind),
    }
}

/// How much each knot's value moves the curve at `x`, where the slope limiter does not act: the curve is linear in them.
fn influence(places: &[f64], x: f64) -> [f64; P] {
    let count = places.len();
    let inner = places.get(1..count - 1).unwrap_or_default();
    let i = inner.partition_point(|&place| place <= x);
    let at = |k: usize| places.get(k).copied().unwrap_or(f64::NAN);
    let (x0, x1) = (at(i), at(i + 1));
    let width = x1 - x0;
    let t = (x - x0) / width;
    let u = 1.0 - t;
    let mut row = [0.0; P];
    let mut add = |k: usize, part: f64| {
        if let Some(cell) = row.get_mut(k) {
            *cell += part;
        }
    };
    if !(0.0..=1.0).contains(&t) {
        // Straight on beyond the ends, where a shifted reading may lie.
        add(i, u);
        add(i + 1, t);
        return row;
    }
    add(i, u * u * (1.0 + 2.0 * t));
    add(i + 1, t * t * (1.0 + 2.0 * u));
    for (knot, part) in [(i, t * u * u * width), (i + 1, -t * t * u * width)] {
        // The slope at a knot is that of the parabola through it and two others.
        let three = if count == 2 {
            [(0, -1.0 / width), (1, 1.0 / width), (1, 0.0)]
        } else {
            let middle = knot.clamp(1, count - 2);
            let [a, b, c] = [middle - 1, middle, middle + 1];
            let (xa, xb, xc, x) = (at(a), at(b), at(c), at(knot));
            [
                (a, (2.0 * x - xb - xc) / ((xa - xb) * (xa - xc))),
                (b, (2.0 * x - xa - xc) / ((xb - xa) * (xb - xc))),
                (c, (2.0 * x - xa - xb) / ((xc - xa) * (xc - xb))),
            ]
        };
        for (k, share) in three {
            add(k, part * share);
        }
    }
    row
}

/// The place below which `k` of `of` equal shares of the places lie.
fn quantile(sorted: &[f64], k: usize, of: usize) -> f64 {
    let last = sorted.len().saturating_sub(1);
    let exact = last as f64 * k as f64 / of as f64;
    let below = (exact as usize).min(last);
    let share = exact - below as f64;
    let at = |i: usize| sorted.get(i.min(last)).copied().unwrap_or(f64::NAN);
    if share == 0.0 {
        at(below)
    } else {
        at(below) * (1.0 - share) + at(below + 1) * share
    }
}

/// The least mean square that readings leave: rounding of what was measured, and of drive angles at the joint's mean slope.
pub(super) fn rounding_floor(drive: &[f64], measured: &[f64]) -> f64 {
    let extent = |values: &[f64]| {
        let size = values.iter().fold(0.0f64, |most, v| most.max(v.abs()));
        (size, measured_size(values))
    };
    let ((far, width), (size, range)) = (extent(drive), extent(measured));
    let floor = (1e-14 * (size + range / width * far)).powi(2);
    // Below the least normal number there is no logarithm to compare by.
    floor.max(f64::MIN_POSITIVE)
}

pub(super) fn measured_size(y: &[f64]) -> f64 {
    let (low, high) = y.iter().fold((f64::MAX, f64::MIN), |(l, h), &v| (l.min(v), h.max(v)));
    high - low
}

fn slope_sign(x: &[f64], y: &[f64]) -> Result<bool, FitError> {
    let n = x.len() as f64;
    let (mx, my) = (x.iter().sum::<f64>() / n, y.iter().sum::<f64>() / n);
    let sum: f64 = x.iter().zip(y).map(|(x, y)| (x - mx) * (y - my)).sum();
    if sum == 0.0 {
        Err(turns_back(x, y, f64::INFINITY).unwrap_or_else(|| no_motion(x, y)))
    } else {
        Ok(sum > 0.0)
    }
}

fn no_motion(x: &[f64], y: &[f64]) -> FitError {
    let ends = |v: &[f64]| {
        v.iter()
            .fold((f64::INFINITY, f64::NEG_INFINITY), |(l, h), &v| (l.min(v), h.max(v)))
    };
    let ((lower, upper), (low, high)) = (ends(x), ends(y));
    FitError::NoMotion {
        lower,
        upper,
        low,
        high,
    }
}
