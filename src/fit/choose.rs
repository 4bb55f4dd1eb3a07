//! Which transmission fits readings best, and why.

use super::curve::{CurveFit, fit_curve, rounding_floor};
use super::error::FitError;
use super::line::{LineFit, fit_line};
use super::linkage::{LinkageFit, fit_linkage};
use crate::linkage::Mechanism;
use crate::math::ln;
use std::vec::Vec;

/// A mechanism that a joint might have: what a ruler says of it, and what may be improved.
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
    /// Standard deviation of the readings about it, in measured units; infinite if refused.
    pub residual_sd: f64,
    /// Numbers found from the readings.
    pub parameters: usize,
    /// What candidates are compared by, lower is better; infinite if refused.
    pub criterion: f64,
}

/// Why the chosen transmission was chosen.
#[derive(Debug, Clone, Copy, PartialEq)]
#[non_exhaustive]
pub enum Reason {
    /// Nothing else follows the readings better by more than chance would.
    Enough {
        /// The kind chosen.
        kind: &'static str,
        /// Its residual standard deviation.
        residual_sd: f64,
        /// The least of the other candidates.
        other: f64,
    },
    /// A simpler one leaves more than scatter.
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
        kind: &'static str,
        /// Numbers it takes.
        parameters: usize,
        /// Knots of the curve.
        knots: usize,
    },
    /// A mechanism was given, but leaves more than a curve does.
    Unexplained {
        /// The kind of mechanism.
        kind: &'static str,
        /// Its residual standard deviation.
        residual_sd: f64,
        /// That of the one chosen.
        chosen_sd: f64,
    },
    /// A mechanism could not be fitted at all.
    Refused {
        /// The kind of mechanism.
        kind: &'static str,
        /// Why.
        error: FitError,
    },
}

impl core::fmt::Display for Reason {
    fn fmt(&self, f: &mut core::fmt::Formatter<'_>) -> core::fmt::Result {
        match *self {
            Self::Enough {
                kind,
                residual_sd,
                other,
            } => write!(
                f,
                "{kind} leaves {residual_sd:.3}; the next best leaves {other:.3}, no less than chance and its extra numbers explain"
            ),
            Self::Bent {
                simpler,
                simpler_sd,
                residual_sd,
            } if simpler_sd < residual_sd * 1000.0 => write!(
                f,
                "{simpler} leaves {simpler_sd:.3}, {:.1} times as much as the one chosen: the joint is bent, not scattered",
                simpler_sd / residual_sd
            ),
            // Readings without scatter: how many times a rounding error tells nothing.
            Self::Bent {
                simpler, simpler_sd, ..
            } => write!(
                f,
                "{simpler} leaves {simpler_sd:.3}, the one chosen less than a thousandth of it: the joint is bent, not scattered"
            ),
            Self::Explained {
                kind,
                parameters,
                knots,
            } => write!(
                f,
                "{kind} explains the bend with {parameters} numbers where a curve takes {knots} knots, and holds between and beyond them"
            ),
            Self::Unexplained {
                kind,
                residual_sd,
                chosen_sd,
            } => write!(
                f,
                "{kind} leaves {residual_sd:.3} where {chosen_sd:.3} is possible: measure its dimensions again, or something else bends too"
            ),
            Self::Refused { kind, error } => write!(f, "{kind} was not fitted: {error}"),
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
}

/// How much better the criterion of a candidate with more numbers must be (common practice, no source: a factor of e in odds).
const WORTH: f64 = 2.0;

/// Fits a line, a curve and every guessed mechanism to joint angles `measured` at drive angles `drive`, and says which to take.
///
/// Compared is `n·(ln(S/n) + k·ln(n)/(n - k - 2))` with S the sum of squares in measured units and k the numbers found: the
/// criterion of [`fit_curve`], S no less than rounding leaves. Of two that differ by less than 2, the one with fewer numbers is
/// taken, and of a curve and a mechanism the mechanism. Leave out readings on a stop and misreadings first: `fit_limits` says which.
///
/// # Errors
/// As [`fit_curve`]. A mechanism that cannot be fitted is no error but a candidate refused.
pub fn choose_transmission(
    drive: &[f64],
    measured: &[f64],
    guesses: &[Guess<'_>],
    most_knots: usize,
) -> Result<Choice, FitError> {
    let n = drive.len() as f64;
    let floor = rounding_floor(drive, measured);
    let candidate = |tried, sum_of_squares: f64, residual_sd, parameters: usize| {
        let k = parameters as f64;
        let room = (n - k - 2.0).max(0.5);
        let criterion = n * (ln((sum_of_squares / n).max(floor)) + k * ln(n) / room);
        Candidate {
            tried,
            residual_sd,
            parameters,
            criterion,
        }
    };
    let curve = fit_curve(drive, measured, most_knots)?;
    let line = fit_line(drive, measured)?;
    let (knots, curve_squares, curve_sd) = (curve.knots.len(), curve.sum_of_squares, curve.residual_sd);
    let line_sd = line.residual_sd;
    let mut candidates = std::vec![
        candidate(Tried::Linear(line), line_sd * line_sd * (n - 2.0), line_sd, 2),
        candidate(Tried::Curve(curve), curve_squares, curve_sd, knots),
    ];
    for guess in guesses {
        candidates.push(match fit_linkage(drive, measured, &guess.start, guess.free) {
            Ok(fit) => {
                let (squares, sd) = (fit.sum_of_squares, fit.residual_sd);
                candidate(Tried::Linkage(fit), squares, sd, guess.free.len() + 2)
            }
            Err(error) => Candidate {
                tried: Tried::Refused {
                    kind: guess.start.kind(),
                    error,
                },
                residual_sd: f64::INFINITY,
                parameters: guess.free.len() + 2,
                criterion: f64::INFINITY,
            },
        });
    }
    let least = candidates.iter().fold(f64::INFINITY, |least, c| least.min(c.criterion));
    let close = candidates
        .iter()
        .enumerate()
        .filter(|(_, c)| c.criterion <= least + WORTH);
    let best = close
        .min_by_key(|(_, c)| (c.parameters, matches!(c.tried, Tried::Curve(_))))
        .map_or(0, |(i, _)| i);
    let reasons = reasons(&candidates, best, knots);
    Ok(Choice {
        candidates,
        best,
        reasons,
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
            kind: chosen.kind(),
            residual_sd,
            other: others.fold(f64::INFINITY, |least, (_, c)| least.min(c.residual_sd)),
        });
    }
    if matches!(chosen.tried, Tried::Linkage(_)) {
        reasons.push(Reason::Explained {
            kind: chosen.kind(),
            parameters: chosen.parameters,
            knots,
        });
    }
    for (i, other) in candidates.iter().enumerate() {
        match other.tried {
            Tried::Refused { kind, error } => reasons.push(Reason::Refused { kind, error }),
            // One that leaves no more lost by its numbers alone: nothing is wrong with it.
            Tried::Linkage(_)
                if i != best && other.criterion > chosen.criterion + WORTH && other.residual_sd > residual_sd =>
            {
                reasons.push(Reason::Unexplained {
                    kind: other.kind(),
                    residual_sd: other.residual_sd,
                    chosen_sd: residual_sd,
                });
            }
            _ => {}
        }
    }
    reasons
}
