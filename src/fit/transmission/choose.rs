//! Which transmission fits readings best, and why.

use super::assembly::fit_linkage;
use super::branch::OtherBranch;
use super::curve::{CurveFit, fit_curve, measured_size, rounding_floor};
use super::linkage::LinkageFit;
use super::sides::{BySide, Half, Place, signs};
use crate::fit::error::FitError;
use crate::fit::line::{LineFit, fit_line, line_between_sides};
use crate::fit::outcome::{LostMotion, NotDeterminable};
use crate::fit::readings::{Approach, Readings};
use crate::linkage::Mechanism;
use crate::look::Statistic;
use crate::math::ln;
use std::vec::Vec;

/// A mechanism that a joint might have: its dimensions as measured with a ruler, and which of them may be improved.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Guess<'a> {
    /// Its dimensions.
    pub start: Mechanism,
    /// Keys of those that readings may change.
    pub free: &'a [&'static str],
}

/// One transmission that was tried.
#[derive(Debug, Clone, PartialEq)]
#[non_exhaustive]
pub enum Tried {
    /// A straight line.
    Linear(LineFit),
    /// A monotone curve.
    Curve(CurveFit),
    /// A mechanism.
    Linkage(LinkageFit),
    /// A mechanism that could not be fitted.
    Refused {
        /// Its kind.
        kind: &'static str,
        /// Why.
        error: FitError,
    },
}

/// How well one transmission does.
#[derive(Debug, Clone, PartialEq)]
#[non_exhaustive]
pub struct Candidate {
    /// What was fitted.
    pub tried: Tried,
    /// Standard deviation of the readings about it, free of lost motion, in measured units; infinite if refused.
    pub residual_sd: f64,
    /// Numbers found from the readings, lost motion among them.
    pub parameters: usize,
    /// What candidates are compared by, lower is better; infinite if refused.
    pub criterion: f64,
    /// Lost motion found with it, or why it cannot be determined.
    pub lost_motion: LostMotion,
    /// What the side of approach adds to it.
    pub by_side: BySide,
}

/// Why the chosen transmission was chosen.
///
/// With the feature `serde` it is written as a record whose `kind` is the variant in kebab-case.
#[derive(Debug, Clone, Copy, PartialEq)]
#[cfg_attr(
    feature = "serde",
    derive(serde::Serialize),
    serde(rename_all = "kebab-case", tag = "kind")
)]
#[non_exhaustive]
pub enum Reason {
    /// Nothing else follows the readings better by more than chance would.
    Enough {
        /// The kind chosen.
        transmission: &'static str,
        /// Its residual standard deviation.
        residual_sd: f64,
        /// The least of the other candidates.
        other: f64,
    },
    /// A simpler one has a residual SD larger than scatter explains.
    Bent {
        /// The simpler kind.
        simpler: &'static str,
        /// Its residual standard deviation.
        simpler_sd: f64,
        /// That of the one chosen.
        residual_sd: f64,
    },
    /// A mechanism explains the bend with fewer numbers than a curve.
    Explained {
        /// The kind of mechanism.
        transmission: &'static str,
        /// Numbers it takes.
        parameters: usize,
        /// Knots of the curve.
        knots: usize,
    },
    /// A mechanism was given, but its residual SD is larger than that of a curve.
    Unexplained {
        /// The kind of mechanism.
        transmission: &'static str,
        /// Its residual standard deviation.
        residual_sd: f64,
        /// That of the one chosen.
        chosen_sd: f64,
    },
    /// A mechanism could not be fitted at all.
    Refused {
        /// The kind of mechanism.
        transmission: &'static str,
        /// Why.
        #[cfg_attr(feature = "serde", serde(rename = "code", serialize_with = "code_name"))]
        error: FitError,
    },
    /// The chosen mechanism put together the other way fits as well, or better.
    OtherBranch {
        /// The kind of mechanism.
        transmission: &'static str,
        /// The other branch.
        #[cfg_attr(feature = "serde", serde(flatten))]
        branch: OtherBranch,
    },
}

/// An error by the name of its code.
#[cfg(feature = "serde")]
fn code_name<S: serde::Serializer>(error: &FitError, serializer: S) -> Result<S::Ok, S::Error> {
    serializer.serialize_str(error.code().name())
}

impl core::fmt::Display for Reason {
    fn fmt(&self, f: &mut core::fmt::Formatter<'_>) -> core::fmt::Result {
        match *self {
            Self::Enough {
                transmission,
                residual_sd,
                other,
            } => write!(
                f,
                "{transmission}: residual SD {}; next best {}, a difference that chance and its additional parameters explain",
                Statistic(residual_sd),
                Statistic(other)
            ),
            Self::Bent {
                simpler,
                simpler_sd,
                residual_sd,
            } if simpler_sd < residual_sd * 1000.0 => write!(
                f,
                "{simpler}: residual SD {}, {:.1} times the chosen model's: the joint is nonlinear",
                Statistic(simpler_sd),
                simpler_sd / residual_sd
            ),
            // Readings without scatter: how many times a rounding error tells nothing.
            Self::Bent {
                simpler, simpler_sd, ..
            } => write!(
                f,
                "{simpler}: residual SD {}, more than a thousand times the chosen model's: the joint is nonlinear",
                Statistic(simpler_sd)
            ),
            Self::Explained {
                transmission,
                parameters,
                knots,
            } => write!(
                f,
                "{transmission}: {parameters} parameters instead of a curve's {knots} knots, and valid between and beyond the readings"
            ),
            Self::Unexplained {
                transmission,
                residual_sd,
                chosen_sd,
            } => write!(
                f,
                "{transmission}: residual SD {}, the chosen model's {}: measure its dimensions again, and look for another nonlinearity",
                Statistic(residual_sd),
                Statistic(chosen_sd)
            ),
            Self::Refused { transmission, error } => write!(f, "{transmission} was not fitted: {error}"),
            Self::OtherBranch { transmission, branch } => write!(f, "{transmission}: {branch}"),
        }
    }
}

/// The candidates in the order tried (line, curve, mechanisms as given), the best one, and why.
#[derive(Debug, Clone, PartialEq)]
#[non_exhaustive]
pub struct Choice {
    /// All that was tried.
    pub candidates: Vec<Candidate>,
    /// Which of them to take.
    pub best: usize,
    /// Why, the most important first.
    pub reasons: Vec<Reason>,
}

impl Choice {
    /// The transmission to take.
    pub fn chosen(&self) -> Option<&Candidate> {
        self.candidates.get(self.best)
    }
}

impl Candidate {
    /// The word for it in a robot file.
    pub fn kind(&self) -> &'static str {
        match &self.tried {
            Tried::Linear(_) => "linear",
            Tried::Curve(_) => "curve",
            Tried::Linkage(fit) => fit.mechanism.kind(),
            Tried::Refused { kind, .. } => kind,
        }
    }

    /// The measured value expected at a drive angle reached from one side; midway between both where the side is unknown. NaN for one
    /// that was refused.
    pub fn expected(&self, drive: f64, approach: Approach) -> f64 {
        match &self.tried {
            Tried::Linear(line) => self.by_side.expected(drive, approach, |x| line.predict(x).value),
            Tried::Curve(fit) => fit.expected(drive, approach),
            Tried::Linkage(fit) => fit.expected(drive, approach),
            Tried::Refused { .. } => f64::NAN,
        }
    }
}

/// How much better the criterion of a candidate with more numbers must be (an assumption of this library: a factor of e in odds).
const WORTH: f64 = 2.0;

/// Share of the measured range below which a residual SD is no bend worth a curve (an assumption of this library): pulses of whole
/// microseconds alone leave a third of it.
const NO_BEND: f64 = 1e-3;

/// Fits a line, a curve and every guessed mechanism to joint angles measured at drive angles, and says which to take.
///
/// Compared is `n·(ln(S/n) + k·ln(n)/(n - k - 2))` with S the sum of squares in measured units and k the numbers found: the
/// criterion of [`fit_curve`], S no less than rounding leaves. Of two that differ by less than 2, the one with fewer numbers is
/// taken, and of a curve and a mechanism the mechanism; a line that leaves no more than 1/1000 of the measured range is taken as it is.
/// Leave out readings on a stop and misreadings first:
/// [`LimitFit::between_stops`](crate::fit::LimitFit::between_stops) does so.
///
/// Where some stretch was reached from both sides, each candidate finds lost motion as well, as [`BySide`] states; none of them
/// counts it as scatter.
///
/// # Errors
/// As [`fit_curve`]. A mechanism that cannot be fitted is not an error: it is a refused candidate.
pub fn choose_transmission(
    readings: &Readings<'_>,
    guesses: &[Guess<'_>],
    most_knots: usize,
) -> Result<Choice, FitError> {
    choose(readings, guesses, most_knots, NO_BEND)
}

/// The same, with the share of the measured range below which a residual SD is no bend.
pub(super) fn choose(
    readings: &Readings<'_>,
    guesses: &[Guess<'_>],
    most_knots: usize,
    no_bend: f64,
) -> Result<Choice, FitError> {
    let Readings { drive, measured, .. } = *readings;
    let n = drive.len() as f64;
    let floor = rounding_floor(drive, measured);
    let compared = |sum_of_squares: f64, parameters: usize| {
        let k = parameters as f64;
        let room = (n - k - 2.0).max(0.5);
        n * (ln((sum_of_squares / n).max(floor)) + k * ln(n) / room)
    };
    // As many as `numbers`, and one more where lost motion was measured.
    let with_lost_motion = |numbers: usize, found: &LostMotion| numbers + usize::from(found.estimate().is_some());
    let curve = fit_curve(readings, most_knots)?;
    let knots = curve.knots.len();
    let mut candidates = std::vec![linear(readings, compared)?];
    let parameters = with_lost_motion(knots, &curve.lost_motion);
    candidates.push(Candidate {
        residual_sd: curve.residual_sd,
        parameters,
        criterion: compared(curve.sum_of_squares, parameters),
        lost_motion: curve.lost_motion,
        by_side: curve.by_side,
        tried: Tried::Curve(curve),
    });
    for guess in guesses {
        let numbers = guess.free.len() + 2;
        candidates.push(match fit_linkage(readings, &guess.start, guess.free) {
            Ok(fit) => {
                let parameters = with_lost_motion(numbers, &fit.lost_motion);
                Candidate {
                    residual_sd: fit.residual_sd,
                    parameters,
                    criterion: compared(fit.sum_of_squares, parameters),
                    lost_motion: fit.lost_motion,
                    by_side: fit.by_side,
                    tried: Tried::Linkage(fit),
                }
            }
            Err(error) => Candidate {
                tried: Tried::Refused {
                    kind: guess.start.kind(),
                    error,
                },
                residual_sd: f64::INFINITY,
                parameters: numbers,
                criterion: f64::INFINITY,
                lost_motion: LostMotion::NotDeterminable {
                    reason: signs(readings).err().unwrap_or(NotDeterminable::TooFewReadings),
                },
                by_side: BySide::default(),
            },
        });
    }
    let least = candidates.iter().fold(f64::INFINITY, |least, c| least.min(c.criterion));
    let close = candidates
        .iter()
        .enumerate()
        .filter(|(_, c)| c.criterion <= least + WORTH);
    let is_straight = |line: &Candidate| line.residual_sd <= no_bend * measured_size(measured);
    let best = if candidates.first().is_some_and(is_straight) {
        0
    } else {
        close
            .min_by_key(|(_, c)| (c.parameters, matches!(c.tried, Tried::Curve(_))))
            .map_or(0, |(i, _)| i)
    };
    let reasons = reasons(&candidates, best, knots);
    Ok(Choice {
        candidates,
        best,
        reasons,
    })
}

/// The straight line, with the lost motion that the readings show.
fn linear(readings: &Readings<'_>, compared: impl Fn(f64, usize) -> f64) -> Result<Candidate, FitError> {
    let Readings { drive, measured, .. } = *readings;
    let reason = match signs(readings) {
        Ok(signs) => match line_between_sides(drive, measured, &signs) {
            Some((line, size)) => {
                let half = Half {
                    place: Place::Measured,
                    size,
                };
                return Ok(Candidate {
                    residual_sd: line.residual_sd,
                    parameters: 3,
                    criterion: compared(line.sum_of_squares, 3),
                    lost_motion: half.lost_motion(line.slope),
                    by_side: half.by_side(),
                    tried: Tried::Linear(line),
                });
            }
            None => NotDeterminable::NoCommonStretch,
        },
        Err(reason) => reason,
    };
    let line = fit_line(drive, measured)?;
    let residual_sd = line.residual_sd;
    Ok(Candidate {
        residual_sd,
        parameters: 2,
        criterion: compared(residual_sd * residual_sd * (drive.len() as f64 - 2.0), 2),
        lost_motion: LostMotion::NotDeterminable { reason },
        by_side: BySide::default(),
        tried: Tried::Linear(line),
    })
}

fn reasons(candidates: &[Candidate], best: usize, knots: usize) -> Vec<Reason> {
    let mut reasons = Vec::new();
    let Some(chosen) = candidates.get(best) else {
        return reasons;
    };
    let residual_sd = chosen.residual_sd;
    if let (Some(line), true) = (candidates.first(), best > 0) {
        reasons.push(Reason::Bent {
            simpler: line.kind(),
            simpler_sd: line.residual_sd,
            residual_sd,
        });
    } else {
        let others = candidates.iter().enumerate().filter(|(i, _)| *i != best);
        reasons.push(Reason::Enough {
            transmission: chosen.kind(),
            residual_sd,
            other: others.fold(f64::INFINITY, |least, (_, c)| least.min(c.residual_sd)),
        });
    }
    if matches!(chosen.tried, Tried::Linkage(_)) {
        reasons.push(Reason::Explained {
            transmission: chosen.kind(),
            parameters: chosen.parameters,
            knots,
        });
    }
    if let Tried::Linkage(fit) = &chosen.tried
        && let Some(branch) = fit.other_branch
    {
        let transmission = chosen.kind();
        reasons.push(Reason::OtherBranch { transmission, branch });
    }
    for (i, other) in candidates.iter().enumerate() {
        match other.tried {
            Tried::Refused { kind, error } => reasons.push(Reason::Refused {
                transmission: kind,
                error,
            }),
            // One that leaves no more lost by its numbers alone: nothing is wrong with it.
            Tried::Linkage(_)
                if i != best && other.criterion > chosen.criterion + WORTH && other.residual_sd > residual_sd =>
            {
                reasons.push(Reason::Unexplained {
                    transmission: other.kind(),
                    residual_sd: other.residual_sd,
                    chosen_sd: residual_sd,
                });
            }
            _ => {}
        }
    }
    reasons
}
