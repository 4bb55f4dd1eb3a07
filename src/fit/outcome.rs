//! What comes out of a fit.

use super::estimate::Estimate;
use super::line::LineFit;
use super::readings::{Approach, BetweenStops, Readings};
use super::slip::Slip;
use super::warning::Warning;
pub use crate::span::Side;
use std::vec::Vec;

/// What proves an end of the travel.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
#[cfg_attr(
    feature = "serde",
    derive(serde::Serialize, serde::Deserialize),
    serde(rename_all = "kebab-case")
)]
pub enum EndKind {
    /// The stop was met, and placed.
    Contact,
    /// The last readings fell short of the line: something holds between two known drive angles, and too few readings lie
    /// beyond to place it.
    Stalled,
    /// No stop was found, clear to here.
    Clear,
}

impl EndKind {
    /// The word of robot files: `contact`, `stalled` or `clear`.
    pub const fn as_str(self) -> &'static str {
        match self {
            Self::Contact => "contact",
            Self::Stalled => "stalled",
            Self::Clear => "clear",
        }
    }
}

/// One end of the drive angles, with its evidence.
#[derive(Debug, Clone, Copy, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
#[non_exhaustive]
pub struct End {
    /// What proves it.
    pub kind: EndKind,
    /// The drive angle of contact, or of the furthest clear reading; where the joint stalled, of the last reading that
    /// follows the line.
    pub at: f64,
    /// Where the joint stalled, the drive angle of the first reading that fell short of the line; else absent.
    pub short_at: Option<f64>,
    /// Standard uncertainty of a contact's `at`; else absent.
    pub u: Option<f64>,
    /// Coverage interval of the contact, lower then upper; else absent.
    pub interval: Option<[f64; 2]>,
    /// The guard that went into `travel`; zero when only clear or where one reading alone shows that the joint stalled, but for
    /// [`Warning::LeftOutBeyond`](super::Warning) and [`Warning::LevelBeyond`](super::Warning).
    pub guard: f64,
    /// The end of the recommended travel: for a contact the inner end of its interval less guard and half the lost motion; where the
    /// joint stalled, no further than `at`; else the furthest clear reading. The margin of a contact is kept too where several readings
    /// show that the joint stalled, where readings left out beyond may lie on a stop, and before a stretch at which the joint hardly moves.
    pub travel: f64,
    /// The measured value on the stop.
    pub level: Option<Estimate>,
    /// Retained readings at or beyond the contact; where the joint stalled, those that fell short.
    pub readings_beyond: usize,
    /// The contact was noted by hand.
    pub marked: bool,
}

impl End {
    /// Nothing holds the joint up to here, and the travel ends here.
    pub(super) const fn clear(at: f64) -> Self {
        Self {
            kind: EndKind::Clear,
            at,
            short_at: None,
            u: None,
            interval: None,
            guard: 0.0,
            travel: at,
            level: None,
            readings_beyond: 0,
            marked: false,
        }
    }

    /// A contact that only a hand noted: it lies between the last clear reading and the mark, anywhere alike.
    pub(super) fn noted(upper: bool, clear: f64, mark: f64, guard: f64, lost_motion: f64) -> Self {
        let interval = if upper { [clear, mark] } else { [mark, clear] };
        let margin = guard + 0.5 * lost_motion;
        Self {
            kind: EndKind::Contact,
            // Rectangular distribution over the gap: GUM 4.3.7.
            u: Some((interval[1] - interval[0]) / 12f64.sqrt()),
            interval: Some(interval),
            guard,
            travel: if upper { clear - margin } else { clear + margin },
            marked: true,
            ..Self::clear(mark)
        }
    }
}

/// Which way the measured value goes when the drive angle rises.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
#[cfg_attr(
    feature = "serde",
    derive(serde::Serialize, serde::Deserialize),
    serde(rename_all = "kebab-case")
)]
pub enum Trend {
    /// It rises.
    Rising,
    /// It falls.
    Falling,
}

/// The sign of the slope and how sure it is.
#[derive(Debug, Clone, Copy, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub struct Sense {
    /// The sign.
    pub trend: Trend,
    /// Probability that the sign is right, from Student's t of slope over its uncertainty.
    pub certainty: f64,
}

/// Why lost motion cannot be determined.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
#[cfg_attr(
    feature = "serde",
    derive(serde::Serialize, serde::Deserialize),
    serde(rename_all = "kebab-case")
)]
#[non_exhaustive]
pub enum NotDeterminable {
    /// The readings do not say from which side they were reached.
    ApproachUnknown,
    /// All readings were reached from one side.
    OneSide,
    /// No stretch between the stops was reached from both sides.
    NoCommonStretch,
    /// Too few readings to find lost motion beside the other numbers of the fit.
    TooFewReadings,
}

impl core::fmt::Display for NotDeterminable {
    fn fmt(&self, f: &mut core::fmt::Formatter<'_>) -> core::fmt::Result {
        f.write_str(match self {
            Self::ApproachUnknown => {
                "lost motion not determinable: the approach of the readings is not given; note from which side each position was reached"
            }
            Self::OneSide => {
                "lost motion not determinable: every position was reached from the same side; repeat some from the other"
            }
            Self::NoCommonStretch => {
                "lost motion not determinable: no stretch between the stops was reached from both sides; repeat some positions from the other side"
            }
            Self::TooFewReadings => {
                "lost motion not determinable: too few readings to find it beside the other numbers of this fit; take more from both sides"
            }
        })
    }
}

/// The difference between positions reached from below and from above.
#[derive(Debug, Clone, Copy, PartialEq)]
#[cfg_attr(
    feature = "serde",
    derive(serde::Serialize, serde::Deserialize),
    serde(rename_all = "kebab-case", tag = "status")
)]
#[non_exhaustive]
pub enum LostMotion {
    /// It was measured.
    Measured {
        /// Its size, in measured units; zero or more.
        value: f64,
        /// Standard uncertainty of `value` and of `reversal`.
        u: f64,
        /// With its sign: mean reached from below less mean from above (the reversal value of ISO 230-2).
        reversal: f64,
        /// Its size in drive angle: `value` over the size of the slope.
        drive: f64,
        /// Standard uncertainty of `drive`.
        u_drive: f64,
    },
    /// It cannot be determined.
    NotDeterminable {
        /// Why.
        reason: NotDeterminable,
    },
}

impl LostMotion {
    /// Size and standard uncertainty in measured units, if it was measured.
    pub const fn estimate(&self) -> Option<Estimate> {
        match *self {
            Self::Measured { value, u, .. } => Some(Estimate { value, u }),
            Self::NotDeterminable { .. } => None,
        }
    }

    /// Size in drive angle; zero when it cannot be determined.
    pub const fn in_drive(&self) -> f64 {
        match *self {
            Self::Measured { drive, .. } => drive,
            Self::NotDeterminable { .. } => 0.0,
        }
    }
}

/// How far repeats of one position scatter.
#[derive(Debug, Clone, Copy, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub struct Repeatability {
    /// Standard deviation of repeats at one drive angle and one approach, pooled, in measured units.
    pub sd: f64,
    /// Degrees of freedom: repeats less positions.
    pub dof: usize,
}

/// Why a reading was left out.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
#[cfg_attr(
    feature = "serde",
    derive(serde::Serialize, serde::Deserialize),
    serde(rename_all = "kebab-case")
)]
#[non_exhaustive]
pub enum RejectReason {
    /// It lies further off than scatter explains, between the stops.
    OffTheLine,
    /// It lies further off than scatter explains, on a stop.
    OffTheStop,
    /// It was taken within the lost motion after a turn, before the joint followed again: it is not a misreading, and lies on the line of
    /// neither side. Its residual is from the line midway.
    NotTakenUp,
    /// Its drive angle lies far from those of all others, and it is not on their line: a row of totals, or an angle with a digit too
    /// many. Its residual is from the model that far out.
    DriveFarOff,
}

impl RejectReason {
    /// Its word in saved fits: `off-the-line`, `off-the-stop`, `not-taken-up` or `drive-far-off`.
    pub const fn as_str(self) -> &'static str {
        match self {
            Self::OffTheLine => "off-the-line",
            Self::OffTheStop => "off-the-stop",
            Self::NotTakenUp => "not-taken-up",
            Self::DriveFarOff => "drive-far-off",
        }
    }
}

/// A reading that was left out.
#[derive(Debug, Clone, Copy, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub struct Rejected {
    /// Where it stands among the readings, counted from 0.
    pub index: usize,
    /// Its drive angle.
    pub drive: f64,
    /// Its measured value.
    pub measured: f64,
    /// Measured less expected.
    pub residual: f64,
    /// Why.
    pub reason: RejectReason,
    /// The slip that would explain the value, if one does.
    pub cause: Option<Slip>,
}

/// A reading to take.
#[derive(Debug, Clone, Copy, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
#[non_exhaustive]
pub struct NextReading {
    /// Its drive angle.
    pub drive: f64,
    /// The side from which to reach it.
    pub approach: Approach,
}

/// The few readings that sharpen most what is weakest, in the order in which to take them.
#[derive(Debug, Clone, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
#[non_exhaustive]
pub struct Advice {
    /// The end that they are for.
    pub side: Side,
    /// The readings, from the inside outwards; none further out than a reading already was.
    pub readings: Vec<NextReading>,
    /// Standard uncertainty of the stop's place now, in drive angle; absent where no stop was found.
    pub u_before: Option<f64>,
    /// The same to be expected with these readings.
    pub u_after: Option<f64>,
}

/// How well the model describes the readings.
#[derive(Debug, Clone, Copy, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
#[non_exhaustive]
pub struct Goodness {
    /// Share of the retained readings' variance that the model explains.
    pub r_squared: f64,
    /// Weighted sum of squared residuals of the retained readings.
    pub sum_of_squares: f64,
    /// Probability of a bend at least as strong by chance, if the joint were a line between the stops; 1 when untested.
    pub p_curvature: f64,
    /// Probability of so much misfit by chance, judged by the scatter of repeats; 1 when there are too few repeats.
    pub p_lack_of_fit: f64,
}

/// Limits of a joint with their evidence.
///
/// *Unit*: `slope` in measured per drive; `at`, `interval`, `travel`, `guard` in drive; levels, residuals and lost
/// motion in measured units. No field is ever NaN or infinite.
#[derive(Debug, Clone, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
#[non_exhaustive]
pub struct LimitFit {
    /// Measured per drive angle, between the stops.
    pub slope: f64,
    /// Its standard uncertainty.
    pub u_slope: f64,
    /// Measured value of the line at drive 0.
    pub intercept: f64,
    /// Its standard uncertainty.
    pub u_intercept: f64,
    /// Covariance of slope and intercept.
    pub covariance: f64,
    /// Standard deviation of the retained readings about the model.
    pub residual_sd: f64,
    /// Its degrees of freedom.
    pub dof: usize,
    /// Sign of the slope.
    pub sense: Sense,
    /// The end at small drive angles.
    pub lower: End,
    /// The end at large drive angles.
    pub upper: End,
    /// Recommended travel, lower then upper; absent when guard margin and uncertainty leave nothing.
    pub travel: Option<[f64; 2]>,
    /// Lost motion, or why it cannot be determined. In a table that goes there and back over much the same places, and does not say from
    /// which side, it may be none: near 0, with its uncertainty. The travel then keeps no half of it.
    pub lost_motion: LostMotion,
    /// Scatter of repeats; absent without repeats.
    pub repeatability: Option<Repeatability>,
    /// The plain least-squares line through the retained readings between the stops.
    pub line: LineFit,
    /// How well the model describes the readings.
    pub goodness: Goodness,
    /// Readings left out, in rising order of index.
    pub rejected: Vec<Rejected>,
    /// What the user should know.
    pub warnings: Vec<Warning>,
    /// Which readings to take next; absent where both ends are proven clear.
    pub advice: Option<Advice>,
    /// Nobody wrote down from which side each position was reached: it was inferred from the order of the readings. That needs a table
    /// that goes there and back at rest. The whole fit rests on these sides where lost motion is six of its standard uncertainties or more
    /// (up to 20 readings: has a probability of 0.9); else only `lost_motion` does.
    pub approach_inferred: bool,
    /// The side from which all positions were reached: as given or, where no sides were given, as the order of the rows has it in a table
    /// whose drive angles only rise or only fall. Absent in every other table.
    #[cfg_attr(feature = "serde", serde(default, skip_serializing_if = "Option::is_none"))]
    pub one_way: Option<Approach>,
    /// Readings given.
    pub readings: usize,
    /// Step of the measured values: as given, or the grid on which they lie; absent where they lie on none that matters.
    pub resolution: Option<f64>,
    /// The resolution was not given but seen from the values.
    pub resolution_inferred: bool,
    /// Coverage probability of the intervals.
    pub confidence: f64,
    /// Coefficients of the model between the stops, powers of (drive − `curve_origin`); two for a line, more where
    /// the readings are bent.
    pub curve: Vec<f64>,
    /// Where the powers of `curve` start.
    pub curve_origin: f64,
}

impl LimitFit {
    /// By how much the travel is narrower at the lower and at the upper end, in drive, since something slipped while the readings were taken
    /// ([`Warning::Slipped`](super::Warning::Slipped)): a horn that slipped has brought one stop nearer. Zero where nothing did.
    pub fn slipped_margins(&self) -> [f64; 2] {
        let drive = self.displaced().map_or(0.0, |(_, by)| by / self.slope);
        [(-drive).max(0.0), drive.max(0.0)]
    }

    /// The first reading behind a slip, and by how much it and those that follow are displaced.
    fn displaced(&self) -> Option<(usize, f64)> {
        self.warnings.iter().find_map(|warning| match *warning {
            Warning::Slipped { index, by, .. } => Some((index, by)),
            _ => None,
        })
    }

    /// The readings that show the transmission alone, with their approach: between the stops, without those left out and those beyond
    /// an end at which the joint hardly moves ([`Warning::LevelBeyond`](super::Warning::LevelBeyond)); those before a slip are brought to
    /// where they would lie behind it. `readings` are those that were fitted.
    ///
    /// For [`choose_transmission`](super::choose_transmission), [`fit_curve`](super::fit_curve) and
    /// [`fit_linkage`](super::fit_linkage).
    pub fn between_stops(&self, readings: &Readings<'_>) -> BetweenStops {
        let is_level = |end: &End| {
            let mut warnings = self.warnings.iter();
            warnings.any(|warning| matches!(*warning, Warning::LevelBeyond { at, .. } if at == end.at))
        };
        // How far out, counted outwards, a reading may lie; whether that place itself is within.
        let bound = |end: &End| match end.kind {
            EndKind::Contact => Some((end.at, false)),
            EndKind::Stalled => Some((end.at, true)),
            EndKind::Clear => is_level(end).then_some((end.at, true)),
        };
        let (lower, upper) = (bound(&self.lower), bound(&self.upper));
        let within = |x: f64| {
            lower.is_none_or(|(at, itself)| x > at || (itself && x == at))
                && upper.is_none_or(|(at, itself)| x < at || (itself && x == at))
        };
        let (row, by) = self.displaced().unwrap_or_default();
        let measured = brought_together(readings.measured, row, by);
        let readings = Readings {
            measured: &measured,
            ..*readings
        };
        readings.chosen(|index, x| within(x) && !self.is_left_out(index))
    }

    /// Whether the reading of this index, counted from 0 as given, was left out: it is one of [`LimitFit::rejected`].
    pub fn is_left_out(&self, index: usize) -> bool {
        self.rejected
            .binary_search_by_key(&index, |rejected| rejected.index)
            .is_ok()
    }

    /// The measured value that the model expects at a drive angle, midway between both approaches.
    ///
    /// *NaN* in, NaN out. Beyond a contact the value stays at the stop.
    pub fn expected(&self, drive: f64) -> f64 {
        let mut x = drive;
        if self.lower.kind == EndKind::Contact && x < self.lower.at {
            x = self.lower.at;
        }
        if self.upper.kind == EndKind::Contact && x > self.upper.at {
            x = self.upper.at;
        }
        let z = x - self.curve_origin;
        self.curve.iter().rev().fold(0.0, |sum, c| sum * z + c)
    }

    /// The residual of each reading from the model with its lost motion: measured less expected, each from its own side. `readings` are
    /// those that were fitted.
    ///
    /// Where a stop holds the joint, lost motion lies on the measured side if that leaves less of the readings there, else the joint
    /// stands at the stop from either side.
    pub fn residuals(&self, readings: &Readings<'_>) -> Vec<f64> {
        let half = match self.lost_motion {
            LostMotion::Measured { reversal, .. } => 0.5 * reversal,
            LostMotion::NotDeterminable { .. } => 0.0,
        };
        let stop = |x: f64| {
            let [lower, upper] = [&self.lower, &self.upper];
            let is_on_lower = lower.kind == EndKind::Contact && x <= lower.at;
            let is_on_upper = upper.kind == EndKind::Contact && x >= upper.at;
            (is_on_lower || is_on_upper).then_some(if is_on_lower { lower } else { upper })
        };
        // Midway, by how much the side moves it, and whether a stop holds the joint.
        let rows = readings.drive.iter().zip(readings.measured).enumerate();
        let rows = rows.map(|(index, (&x, &y))| {
            let approach = readings.approach.and_then(|sides| sides.get(index)).copied();
            let side = half * approach.unwrap_or_default().sign();
            match stop(x) {
                Some(end) => (
                    y - end.level.map_or_else(|| self.expected(x), |level| level.value),
                    side,
                    true,
                ),
                None => (y - self.expected(x), side, false),
            }
        });
        let rows: Vec<(f64, f64, bool)> = rows.collect();
        let held = |share: f64| {
            let on_stops = rows.iter().filter(|row| row.2);
            on_stops.map(|(rest, side, _)| (rest - share * side).abs()).sum::<f64>()
        };
        let share = if held(1.0) < held(0.0) { 1.0 } else { 0.0 };
        rows.iter()
            .map(|&(rest, side, is_held)| rest - if is_held { share * side } else { side })
            .collect()
    }
}

/// Values of which those before a row are brought to where they would lie behind it.
pub(super) fn brought_together(measured: &[f64], row: usize, by: f64) -> Vec<f64> {
    let mut out = measured.to_vec();
    out.iter_mut().take(row).for_each(|value| *value += by);
    out
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::fit::{FitOptions, Readings, fit_limits};

    /// Readings on a line of 1 per deg, whose upper end is called stalled between 60 and 70.
    fn stalled() -> (Vec<f64>, Vec<f64>, LimitFit) {
        let drive: Vec<f64> = (0..8).map(|i| 10.0 * f64::from(i)).collect();
        let mut fit = fit_limits(&Readings::new(&drive, &drive), &FitOptions::default()).unwrap();
        (fit.upper.kind, fit.upper.at, fit.upper.short_at) = (EndKind::Stalled, 60.0, Some(70.0));
        (drive.clone(), drive, fit)
    }

    #[test]
    fn a_reading_that_fell_short_does_not_show_the_transmission() {
        let (drive, measured, fit) = stalled();
        assert_eq!(
            fit.between_stops(&Readings::new(&drive, &measured)).drive,
            [0.0, 10.0, 20.0, 30.0, 40.0, 50.0, 60.0]
        );
    }

    #[test]
    fn residuals_are_those_of_the_side_from_which_a_reading_was_reached() {
        let drive: Vec<f64> = (0..60).chain((0..60).rev()).map(|i| 2.0 * f64::from(i)).collect();
        let sides: Vec<Approach> = (0..120)
            .map(|i| if i < 60 { Approach::Below } else { Approach::Above })
            .collect();
        // A sensor with hysteresis shows it at the stop too; a gear with play does not.
        for is_everywhere in [true, false] {
            let measured: Vec<f64> = drive
                .iter()
                .zip(&sides)
                .enumerate()
                .map(|(i, (x, side))| {
                    let held = *x > 90.0 && !is_everywhere;
                    let noise = 0.02 * (i as f64 * 9.7).sin();
                    x.min(90.0) - if held { 0.0 } else { 1.2 * side.sign() } + noise
                })
                .collect();
            let readings = Readings::new(&drive, &measured).with_approach(&sides);
            let fit = fit_limits(&readings, &FitOptions::default()).unwrap();
            let residuals = fit.residuals(&readings);
            let near_stop = |x: f64| (x - fit.upper.at).abs() < 3.0;
            for (x, rest) in drive.iter().zip(&residuals).filter(|(x, _)| !near_stop(**x)) {
                assert!(rest.abs() < 0.1, "{is_everywhere} {x}: {rest}");
            }
            // Without sides half the lost motion is left.
            let without = fit.residuals(&Readings::new(&drive, &measured));
            assert!((without[10].abs() - 1.2).abs() < 0.1, "{}", without[10]);
        }
    }

    #[cfg(feature = "serde")]
    #[test]
    fn a_stalled_end_comes_back_from_json() {
        let (.., fit) = stalled();
        let text = serde_json::to_string(&fit).unwrap();
        assert!(text.contains(r#""kind":"stalled","at":60.0,"short_at":70.0"#), "{text}");
        assert_eq!(serde_json::from_str::<LimitFit>(&text).unwrap(), fit);
    }
}
