//! What a bring-up ends with: a verdict, the travel and its evidence.

use super::action::Toward;
use super::diagnosis::Fault;
use super::search::SearchEnd;
use super::sense::SenseResult;
use super::session::SessionPlan;
use super::sweep::SweepReading;
use crate::fit::{Approach, EndKind, FitOptions, LimitFit, Readings, fit_limits};
use std::vec::Vec;

/// How a bring-up ended.
#[derive(Debug, Clone, Copy, PartialEq)]
#[cfg_attr(
    feature = "serde",
    derive(serde::Serialize, serde::Deserialize),
    serde(rename_all = "kebab-case")
)]
#[non_exhaustive]
pub enum Verdict {
    /// The joint is fit for software within the outcome's travel.
    Fit,
    /// Something is wrong.
    Faulty {
        /// What.
        fault: Fault,
        /// Near which drive angle, deg.
        at: Option<f64>,
        /// By how much, in the unit of what was measured.
        by: Option<f64>,
    },
    /// The person said no before anything moved.
    Declined,
    /// It was stopped.
    Stopped,
}

/// One end of the travel with its evidence, deg of drive angle.
#[derive(Debug, Clone, Copy, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub struct EndFound {
    /// What proves it.
    pub kind: EndKind,
    /// The drive angle of contact when it is approached from inside, or the furthest that was clear.
    pub at: f64,
    /// Standard uncertainty of a contact.
    pub u: Option<f64>,
    /// Coverage interval of a contact.
    pub interval: Option<[f64; 2]>,
    /// The end of the travel.
    pub travel: f64,
}

/// What a bring-up ends with.
#[derive(Debug, Clone, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
#[non_exhaustive]
pub struct Outcome {
    /// How it ended.
    pub verdict: Verdict,
    /// The feedback's sense.
    pub sense: Option<SenseResult>,
    /// The lower end.
    pub lower: Option<EndFound>,
    /// The upper end.
    pub upper: Option<EndFound>,
    /// The margin kept.
    pub guard: f64,
    /// The fit of all sweep readings.
    pub fit: Option<LimitFit>,
    /// How many readings the fit was given.
    pub readings: usize,
}

impl Outcome {
    /// The travel, lower then upper, if the joint is fit.
    pub fn travel(&self) -> Option<[f64; 2]> {
        match (self.verdict, self.lower, self.upper) {
            (Verdict::Fit, Some(lower), Some(upper)) if lower.travel < upper.travel => {
                Some([lower.travel, upper.travel])
            }
            _ => None,
        }
    }
}

/// Puts an outcome together. A joint that seemed fit and whose readings make no travel is refused as unclear.
pub(super) fn conclude(
    verdict: Verdict,
    plan: &SessionPlan,
    sense: Option<SenseResult>,
    ends: [Option<SearchEnd>; 2],
    readings: &[SweepReading],
) -> Outcome {
    let mut outcome = Outcome {
        verdict,
        sense,
        lower: None,
        upper: None,
        guard: plan.guard,
        fit: None,
        readings: 0,
    };
    if verdict != Verdict::Fit {
        return outcome;
    }
    let [lower, upper] = ends;
    let kept = kept(plan, [clear(lower), clear(upper)], readings);
    outcome.readings = kept.drive.len();
    let options = FitOptions::default()
        .with_guard(plan.guard)
        .with_confidence(plan.confidence)
        .with_resolution(plan.resolution);
    let fit = fit_limits(
        &Readings::new(&kept.drive, &kept.measured).with_approach(&kept.approach),
        &options,
    );
    if let Ok(fit) = fit {
        outcome.lower = lower.and_then(|end| found(plan, Toward::Lower, end, &fit));
        outcome.upper = upper.and_then(|end| found(plan, Toward::Upper, end, &fit));
        outcome.fit = Some(fit);
    }
    if outcome.travel().is_none() {
        outcome.verdict = Verdict::Faulty {
            fault: Fault::Unclear,
            at: None,
            by: None,
        };
    }
    outcome
}

fn clear(end: Option<SearchEnd>) -> Option<f64> {
    match end {
        Some(SearchEnd::Contact { clear, .. }) => Some(clear),
        _ => None,
    }
}

#[derive(Default)]
struct Kept {
    drive: Vec<f64>,
    measured: Vec<f64>,
    approach: Vec<Approach>,
}

/// The readings that the fit's model describes.
///
/// On its way back from a stop a joint stays there until its play is used up, which the model does not know: so what was
/// read near a stop on the way back from it is left out.
fn kept(plan: &SessionPlan, clear: [Option<f64>; 2], readings: &[SweepReading]) -> Kept {
    let [lower, upper] = clear;
    let mut kept = Kept::default();
    for r in readings {
        let drive = r.place.drive;
        let from_lower = r.place.toward == Toward::Upper && lower.is_some_and(|c| drive < c + plan.run_in);
        let from_upper = r.place.toward == Toward::Lower && upper.is_some_and(|c| drive > c - plan.run_in);
        if !from_lower && !from_upper {
            kept.drive.push(drive);
            kept.measured.push(r.reading);
            kept.approach.push(match r.place.toward {
                Toward::Upper => Approach::Below,
                Toward::Lower => Approach::Above,
            });
        }
    }
    kept
}

/// One end: the fit's contact where it agrees with the search, else the search's own bracket.
fn found(plan: &SessionPlan, toward: Toward, end: SearchEnd, fit: &LimitFit) -> Option<EndFound> {
    let sign = toward.sign();
    let fitted = if toward == Toward::Lower {
        &fit.lower
    } else {
        &fit.upper
    };
    // Of two ends the inner one.
    let inner = |a: f64, b: f64| if (a - b) * sign < 0.0 { a } else { b };
    match end {
        SearchEnd::Bound { clear } => Some(EndFound {
            kind: EndKind::Reached,
            at: clear,
            u: None,
            interval: None,
            travel: inner(clear, fitted.travel),
        }),
        SearchEnd::Contact { clear, contact, .. } => {
            let middle = (clear + contact) / 2.0;
            let (at, u, interval) = match (fitted.kind, fitted.u, fitted.interval) {
                (EndKind::Contact, Some(u), Some(interval)) if (fitted.at - middle).abs() <= plan.step => {
                    (fitted.at, u, interval)
                }
                _ => {
                    // Two steps of the bracket to either side, evenly distributed (JCGM 100, 4.3.7).
                    let half = 2.0 * (contact - clear).abs();
                    (middle, 0.577_350_269 * half, [middle - half, middle + half])
                }
            };
            let play = fit.lost_motion.in_drive() / 2.0;
            let [low, high] = interval;
            let inside = if toward == Toward::Lower { high } else { low };
            let travel = inner(inside - sign * (plan.guard + play), clear - sign * plan.guard);
            Some(EndFound {
                kind: EndKind::Contact,
                at,
                u: Some(u),
                interval: Some(interval),
                travel,
            })
        }
        _ => None,
    }
}
