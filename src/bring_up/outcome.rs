//! What a bring-up ends with: a verdict, the travel and its evidence.

use super::alignment::AlignmentEnd;
use super::diagnosis::{Baseline, Fault};
use super::error::BringUpError;
use super::knee::{Place, knee};
use super::search::{SearchEnd, StopSearch};
use super::sense::SenseResult;
use super::session::plan::SessionPlan;
use super::sweep::SweepReading;
use crate::fit::{Approach, End, EndKind, FitOptions, LimitFit, Readings, Warning, fit_limits};
use crate::look::Statistic;
use crate::span::Side;
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
    /// The joint is ready for software within the outcome's travel.
    Ready,
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

/// By this a step is increased before it is rounded to three digits, which makes it smaller by no more.
const NOT_LESS: f64 = 1.005;

/// What it means, in a sentence; of a fault, what it is and what to do.
impl core::fmt::Display for Verdict {
    fn fmt(&self, f: &mut core::fmt::Formatter<'_>) -> core::fmt::Result {
        match self {
            Self::Ready => f.write_str("the joint is ready for software within its travel"),
            Self::Declined => f.write_str("declined before anything moved"),
            Self::Stopped => f.write_str("stopped; the joint is not ready for software"),
            Self::Faulty {
                fault, by: Some(by), ..
            } => match fault {
                Fault::PlanReadingRange => write!(
                    f,
                    "a reading lies outside the plan's reading range: set the end of sense.reading_range on that side to {by}, and begin again"
                ),
                Fault::PlanInVolts => write!(
                    f,
                    "the readings look like volts where the plan expects counts: set sense.reading_range to 0 and {by} and resolution to the last digit of a reading, and begin again"
                ),
                Fault::TooCoarse => write!(
                    f,
                    "the readings are too coarse for the plan's step: make the step at least {} deg if the joint bears as much overtravel, or read a finer scale or a longer pointer",
                    Statistic(by * NOT_LESS)
                ),
                _ => fault.fmt(f),
            },
            Self::Faulty { fault, .. } => fault.fmt(f),
        }
    }
}

/// One end of the travel with its evidence, deg of drive angle.
#[derive(Debug, Clone, Copy, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub struct EndFound {
    /// What proves it.
    pub kind: EndKind,
    /// The drive angle of contact, midway between both directions of travel, or the furthest that was clear; where the
    /// joint stalled, that of the last sweep reading that follows the line.
    pub at: f64,
    /// Where the joint stalled, the drive angle of the first sweep reading that fell short; else absent.
    pub short_at: Option<f64>,
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
    /// How the alignment stands, where it was planned.
    pub alignment: Option<AlignmentEnd>,
    /// The drive's speed, deg/s, where a long move could be timed.
    pub speed: Option<f64>,
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
    /// They are those of the joint's own sensor, not of a scale that a person read.
    #[cfg_attr(feature = "serde", serde(default))]
    pub by_sensor: bool,
}

impl Outcome {
    /// Unit of what a joint's own sensor reads.
    pub const SENSOR_UNIT: &str = "counts";

    /// The travel, lower then upper, if the joint is ready.
    pub fn travel(&self) -> Option<[f64; 2]> {
        match (self.verdict, self.lower, self.upper) {
            (Verdict::Ready, Some(lower), Some(upper)) if lower.travel < upper.travel => {
                Some([lower.travel, upper.travel])
            }
            _ => None,
        }
    }

    /// Whether it holds what its verdict says: of a joint that is ready both ends, which leave a travel, and the fit. An outcome that a
    /// bring-up made always does; one that was read from elsewhere may not.
    ///
    /// # Errors
    /// [`BringUpError::OutcomeIncomplete`] names what is missing, [`BringUpError::NotRising`] the ends that leave no travel.
    pub fn complete(&self) -> Result<(), BringUpError> {
        if self.verdict != Verdict::Ready {
            return Ok(());
        }
        let missing = |what| BringUpError::OutcomeIncomplete { what };
        let lower = self.lower.ok_or(missing("lower end"))?;
        let upper = self.upper.ok_or(missing("upper end"))?;
        BringUpError::rising("travel of the outcome", [lower.travel, upper.travel])?;
        self.fit.as_ref().map(drop).ok_or(missing("fit"))
    }

    /// The fit with both ends as the bring-up hands them over: where its searches are stricter than the fit of the readings alone, theirs.
    /// It is what is written down of a joint that is ready; nothing of any other.
    ///
    /// ```
    /// use elbowroom::bring_up::{Bench, BenchPlan};
    /// use elbowroom::rehearsal::{BenchKind, BenchRehearsal, Typist};
    /// use elbowroom::bring_up::Watch;
    /// let BenchRehearsal { mut joint, plan, .. } = BenchRehearsal::drawn(BenchKind::Steep, Watch::SensorOnly, false, 3)?;
    /// let (mut bench, mut person) = (Bench::new(plan)?, Typist::new(0.0, 0.0, None, 3));
    /// while let Some(report) = person.carry_out(&bench.next(), &mut joint) {
    ///     bench.report(report)?;
    /// }
    /// let outcome = bench.outcome().unwrap();
    /// assert_eq!(outcome.limits().unwrap().travel, outcome.travel());
    /// # Ok::<(), Box<dyn std::error::Error>>(())
    /// ```
    pub fn limits(&self) -> Option<LimitFit> {
        let (travel, fit) = (self.travel()?, self.fit.as_ref()?);
        let mut fit = fit.clone();
        for (found, end) in [(self.lower?, &mut fit.lower), (self.upper?, &mut fit.upper)] {
            (end.kind, end.at, end.short_at) = (found.kind, found.at, found.short_at);
            (end.u, end.interval, end.travel) = (found.u, found.interval, found.travel);
            end.guard = if found.kind == EndKind::Contact {
                self.guard
            } else {
                0.0
            };
        }
        fit.travel = Some(travel);
        Some(fit)
    }
}

impl Baseline {
    /// What a bring-up provides for the next one; nothing where it ended without a fit.
    ///
    /// ```
    /// use elbowroom::bring_up::{Answer, Baseline, Report, Session, SessionPlan};
    /// let mut session = Session::new(SessionPlan::new(79.5, [0.0, 180.0]))?;
    /// session.report(Report::Answered { answer: Answer::No })?;
    /// assert_eq!(Baseline::from_outcome(session.outcome().unwrap()), None);
    /// # Ok::<(), elbowroom::bring_up::BringUpError>(())
    /// ```
    pub fn from_outcome(outcome: &Outcome) -> Option<Self> {
        let contact = |end: Option<EndFound>| end.filter(|end| end.kind == EndKind::Contact).map(|end| end.at);
        Some(Self {
            contacts: [contact(outcome.lower), contact(outcome.upper)],
            ..Self::from_fit(outcome.fit.as_ref()?)
        })
    }
}

/// What keeps a joint from being handed over although no reading was astray.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) enum Disagreement {
    /// Search and sweeps meet something at other places.
    End(Side),
    /// Too many readings were left out, they jump, they scatter far more than each of them does, or no limits can be made of them.
    Readings,
    /// At some drive angle the joint bends abruptly, and follows on at a part of its slope.
    GivesWay {
        /// Where, deg.
        at: f64,
    },
}

/// What a bring-up has found so far.
pub(super) struct Evidence<'a> {
    pub(super) plan: &'a SessionPlan,
    pub(super) sense: Option<SenseResult>,
    pub(super) alignment: Option<AlignmentEnd>,
    pub(super) speed: Option<f64>,
    pub(super) ends: [Option<SearchEnd>; 2],
    pub(super) readings: &'a [SweepReading],
    /// How far search and sweeps may lie apart by their own uncertainties, deg.
    pub(super) slack: f64,
    /// Standard uncertainty of one median of readings, in readings, as the searches learned it.
    pub(super) u_reading: f64,
}

/// Puts an outcome together. A joint that seemed ready and whose readings make no travel is refused as unclear.
pub(super) fn conclude(verdict: Verdict, evidence: &Evidence<'_>) -> (Outcome, Option<Disagreement>) {
    let Evidence {
        plan, ends, readings, ..
    } = *evidence;
    let mut outcome = Outcome {
        verdict,
        sense: evidence.sense,
        alignment: evidence.alignment,
        speed: evidence.speed,
        lower: None,
        upper: None,
        guard: plan.guard,
        fit: None,
        readings: 0,
        by_sensor: true,
    };
    if verdict != Verdict::Ready {
        return (outcome, None);
    }
    let [lower, upper] = ends;
    let drive: Vec<f64> = readings.iter().map(|r| r.place.drive).collect();
    let measured: Vec<f64> = readings.iter().map(|r| r.reading).collect();
    let approach: Vec<Approach> = readings.iter().map(|r| Approach::moving_to(r.place.toward)).collect();
    outcome.readings = readings.len();
    let options = FitOptions::default()
        .with_guard(plan.guard)
        .with_confidence(plan.confidence)
        .with_resolution(plan.resolution);
    let fit = fit_limits(&Readings::new(&drive, &measured).with_approach(&approach), &options);
    let disagreement = match fit {
        Ok(fit) => {
            let disagreement = disagree(evidence, &fit);
            outcome.lower = lower.and_then(|end| found(plan, Side::Lower, end, &fit));
            outcome.upper = upper.and_then(|end| found(plan, Side::Upper, end, &fit));
            outcome.fit = Some(fit);
            disagreement
        }
        Err(_) => Some(Disagreement::Readings),
    };
    if outcome.travel().is_none() {
        outcome.verdict = Verdict::Faulty {
            fault: Fault::Unclear,
            at: None,
            by: None,
        };
    }
    (outcome, disagreement)
}

/// Part of the readings that a fit may leave out of a sound joint's sweeps: of 100,000 rehearsed joints none comes near it.
const MOST_REJECTED: f64 = 0.1;

/// The residual SD of a sound joint's fit is no more than so many standard uncertainties of a reading: sensors off their axis come to 5,
/// joints that give way behind their stops to 10 and more.
const MOST_SCATTER: f64 = 15.0;

/// Where the sweeps show that the joint bends abruptly between the ends of the fit, lost motion aside.
fn gives_way(evidence: &Evidence<'_>, fit: &LimitFit) -> Option<f64> {
    let margin = evidence.plan.tolerance + fit.lost_motion.in_drive();
    let bound = |end: &End, inward: f64| match end.kind {
        EndKind::Contact => end.at + inward * margin,
        _ => -inward * f64::INFINITY,
    };
    let (lower, upper) = (bound(&fit.lower, 1.0), bound(&fit.upper, -1.0));
    let read = evidence.readings.iter().enumerate();
    let between = read.filter(|(index, read)| (lower..=upper).contains(&read.place.drive) && !fit.is_left_out(*index));
    let places: Vec<Place> = between
        .map(|(_, read)| [read.place.drive, read.reading, read.place.toward.sign()])
        .collect();
    knee(&places)
}

/// Where the fit of the sweeps contradicts the searches, or itself.
fn disagree(evidence: &Evidence<'_>, fit: &LimitFit) -> Option<Disagreement> {
    if let Some(at) = gives_way(evidence, fit) {
        return Some(Disagreement::GivesWay { at });
    }
    let readings = evidence.readings.len() as f64;
    if fit.residual_sd > MOST_SCATTER * evidence.u_reading {
        return Some(Disagreement::Readings);
    }
    let contradicts = |warning: &Warning| {
        matches!(
            warning,
            Warning::Jump { .. }
                | Warning::Slipped { .. }
                | Warning::PassesDisagree { .. }
                | Warning::ManyRejected { .. }
        )
    };
    if fit.rejected.len() as f64 > MOST_REJECTED * readings || fit.warnings.iter().any(contradicts) {
        return Some(Disagreement::Readings);
    }
    let play = fit.lost_motion.in_drive() / 2.0;
    let [lower, upper] = evidence.ends;
    let apart = |toward: Side, end: Option<SearchEnd>, fitted: &End| {
        let outward = |from: f64, to: f64| (to - from) * toward.sign();
        let (clear, met) = match end {
            Some(SearchEnd::Contact { clear, contact, .. }) => (clear, Some(contact)),
            Some(SearchEnd::SearchLimit { clear }) => (clear, None),
            _ => return false,
        };
        match (fitted.kind, met) {
            // Driven outward the joint meets its stop half the play later.
            (EndKind::Contact, met) => {
                let at = fitted.at + toward.sign() * play;
                outward(at, clear) > evidence.slack || met.is_some_and(|met| outward(met, at) > evidence.slack)
            }
            (EndKind::Stalled, _) => fitted.short_at.is_some_and(|at| outward(at, clear) > evidence.slack),
            (EndKind::Clear, Some(met)) => outward(met, fitted.at) > evidence.slack,
            (EndKind::Clear, None) => false,
        }
    };
    if apart(Side::Lower, lower, &fit.lower) {
        Some(Disagreement::End(Side::Lower))
    } else if apart(Side::Upper, upper, &fit.upper) {
        Some(Disagreement::End(Side::Upper))
    } else {
        None
    }
}

/// One end: the fit's contact, else the search's own bracket.
fn found(plan: &SessionPlan, toward: Side, end: SearchEnd, fit: &LimitFit) -> Option<EndFound> {
    let sign = toward.sign();
    let fitted = if toward == Side::Lower { &fit.lower } else { &fit.upper };
    // Of two ends the inner one.
    let inner = |a: f64, b: f64| if (a - b) * sign < 0.0 { a } else { b };
    match end {
        SearchEnd::SearchLimit { .. } if fitted.kind == EndKind::Stalled => Some(EndFound {
            kind: EndKind::Stalled,
            at: fitted.at,
            short_at: fitted.short_at,
            u: None,
            interval: None,
            travel: fitted.travel,
        }),
        SearchEnd::SearchLimit { clear } => Some(EndFound {
            kind: EndKind::Clear,
            at: clear,
            short_at: None,
            u: None,
            interval: None,
            travel: inner(clear, fitted.travel),
        }),
        SearchEnd::Contact { clear, contact, .. } => {
            let (at, u, interval) = match (fitted.kind, fitted.u, fitted.interval) {
                (EndKind::Contact, Some(u), Some(interval)) => less_give(plan, toward, fitted.at, u, interval),
                _ => {
                    // Anywhere between what may have been called clear too late and the contact (JCGM 100, 4.3.7).
                    let first = clear - sign * StopSearch::SHORT_PART * plan.step;
                    let (low, high) = (first.min(contact), first.max(contact));
                    ((low + high) / 2.0, (high - low) * PER_WIDTH, [low, high])
                }
            };
            let play = fit.lost_motion.in_drive() / 2.0;
            let [low, high] = interval;
            let inside = if toward == Side::Lower { high } else { low };
            let searched = inner(inside - sign * (plan.guard + play), clear - sign * plan.guard);
            // What the search calls clear and what the sweeps call clear: the inner of both.
            let travel = inner(searched, fitted.travel);
            Some(EndFound {
                kind: EndKind::Contact,
                at,
                short_at: None,
                u: Some(u),
                interval: Some(interval),
                travel,
            })
        }
        _ => None,
    }
}

/// Standard deviation of an even distribution, in its width: 1/sqrt(12) (JCGM 100, 4.3.7).
const PER_WIDTH: f64 = 0.288_675_134_594_812_9;
/// How far a hard stop gives, as a part of the way the drive is sent beyond it: 0 to 5 % (an assumption of this library).
const GIVE: f64 = 0.05;

/// Takes out what a hard stop gives while the drive presses on it, up to one step beyond: the plateau stands outside of
/// the contact by 0 to `GIVE` steps, anywhere between.
///
/// The standard uncertainty takes that as a rectangular distribution (JCGM 100, 4.3.7 and 5.1.2). The interval takes it as
/// bounds: a stop gives the same at each reading, so its half-width is added to the half-width that the readings leave, and
/// the interval holds its coverage for the softest and for the hardest stop, not only for the average stop. (Where a
/// rectangular distribution dominates, the factor of a normal one does not belong to it anyway: JCGM 100, G.2.2; section numbers from
/// memory.)
fn less_give(plan: &SessionPlan, toward: Side, at: f64, u: f64, [low, high]: [f64; 2]) -> (f64, f64, [f64; 2]) {
    let width = GIVE * plan.step;
    let (shift, half) = (-toward.sign() * width / 2.0, width / 2.0);
    let combined = (u * u + width * width * PER_WIDTH * PER_WIDTH).sqrt();
    (at + shift, combined, [low + shift - half, high + shift + half])
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn an_end_whose_sweep_fell_short_is_stalled_though_the_search_met_nothing() {
        let drive: Vec<f64> = (0..8).map(|i| 10.0 * f64::from(i)).collect();
        let mut fit = fit_limits(&Readings::new(&drive, &drive), &FitOptions::default()).unwrap();
        (fit.upper.kind, fit.upper.at, fit.upper.short_at) = (EndKind::Stalled, 60.0, Some(70.0));
        fit.upper.travel = 58.0;
        let plan = SessionPlan::new(35.0, [0.0, 70.0]);
        let upper = found(&plan, Side::Upper, SearchEnd::SearchLimit { clear: 70.0 }, &fit).unwrap();
        assert_eq!((upper.kind, upper.at), (EndKind::Stalled, 60.0));
        assert_eq!((upper.short_at, upper.travel), (Some(70.0), 58.0));
        let lower = found(&plan, Side::Lower, SearchEnd::SearchLimit { clear: 0.0 }, &fit).unwrap();
        assert_eq!((lower.kind, lower.short_at), (EndKind::Clear, None));
    }

    #[test]
    fn readings_that_slip_or_change_from_pass_to_pass_make_no_joint_ready() {
        let drive: Vec<f64> = (0..8).map(|i| 10.0 * f64::from(i)).collect();
        let fit = fit_limits(&Readings::new(&drive, &drive), &FitOptions::default()).unwrap();
        let plan = SessionPlan::new(35.0, [0.0, 70.0]);
        let evidence = Evidence {
            plan: &plan,
            sense: None,
            alignment: None,
            speed: None,
            ends: [None; 2],
            readings: &[],
            slack: 1.0,
            u_reading: 1.0,
        };
        assert_eq!(disagree(&evidence, &fit), None);
        let contradictions = [
            Warning::Jump {
                from: 30.0,
                to: 40.0,
                size: 15.0,
                p: 1.0,
            },
            Warning::Slipped {
                index: 4,
                drive: 40.0,
                by: 15.0,
            },
            Warning::PassesDisagree {
                passes: 2,
                together: 4.0,
                apart: 0.3,
            },
        ];
        for warning in contradictions {
            let warned = LimitFit {
                warnings: std::vec![warning],
                ..fit.clone()
            };
            assert_eq!(
                disagree(&evidence, &warned),
                Some(Disagreement::Readings),
                "{warning:?}"
            );
        }
    }

    #[test]
    fn an_outcome_that_is_ready_without_its_ends_says_what_is_missing() {
        let drive: Vec<f64> = (0..8).map(|i| 10.0 * f64::from(i)).collect();
        let end = |at| {
            Some(EndFound {
                kind: EndKind::Clear,
                at,
                short_at: None,
                u: None,
                interval: None,
                travel: at,
            })
        };
        let whole = Outcome {
            verdict: Verdict::Ready,
            sense: None,
            alignment: None,
            speed: None,
            lower: end(0.0),
            upper: end(70.0),
            guard: 2.0,
            fit: fit_limits(&Readings::new(&drive, &drive), &FitOptions::default()).ok(),
            readings: 8,
            by_sensor: true,
        };
        assert_eq!(whole.complete(), Ok(()));
        type Change = fn(&mut Outcome);
        let changes: [(Change, &str); 4] = [
            (|outcome| outcome.lower = None, "its lower end is missing"),
            (|outcome| outcome.upper = None, "its upper end is missing"),
            (|outcome| outcome.fit = None, "its fit is missing"),
            (
                |outcome| outcome.lower = outcome.upper,
                "travel of the outcome [70, 70] must rise",
            ),
        ];
        for (change, says) in changes {
            let mut outcome = whole.clone();
            change(&mut outcome);
            let told = std::format!("{}", outcome.complete().unwrap_err());
            assert!(told.contains(says), "{told}");
            outcome.verdict = Verdict::Stopped;
            assert_eq!(outcome.complete(), Ok(()));
        }
    }

    /// A stop that the search met and the sweeps did not reach lies anywhere in between, by a rectangular distribution (JCGM 100, 4.3.7).
    #[test]
    fn a_stop_that_only_the_search_met_lies_midway() {
        let drive: Vec<f64> = (0..8).map(|i| 10.0 * f64::from(i)).collect();
        let fit = fit_limits(&Readings::new(&drive, &drive), &FitOptions::default()).unwrap();
        assert_eq!((fit.lower.kind, fit.upper.kind), (EndKind::Clear, EndKind::Clear));
        let plan = SessionPlan::new(35.0, [0.0, 90.0]);
        for (toward, clear, contact) in [(Side::Upper, 68.0, 68.5), (Side::Lower, 2.0, 1.5)] {
            let met = SearchEnd::Contact {
                clear,
                contact,
                load: None,
            };
            let end = found(&plan, toward, met, &fit).unwrap();
            // What was called clear may have lain 0.4 steps beyond the stop.
            let first = clear - toward.sign() * 0.4 * plan.step;
            let [low, high] = end.interval.unwrap();
            assert!((low - first.min(contact)).abs() < 1e-12 && (high - first.max(contact)).abs() < 1e-12);
            assert!((end.at - (first + contact) / 2.0).abs() < 1e-12, "{end:?}");
            assert!((end.u.unwrap() - (high - low) / 12.0_f64.sqrt()).abs() < 1e-12);
        }
    }
}
