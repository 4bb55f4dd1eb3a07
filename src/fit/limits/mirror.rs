//! Which way round readings are fitted: the same, whichever way they are given.
//!
//! A sensor mounted the other way round, or a drive angle counted the other way, must not change what is found. But
//! whatever begins at one end, or settles a tie, prefers a direction. So readings are first turned into one position:
//! measured values rise with the drive angle, and they lie above the middle of their range rather than below; where they
//! lie evenly, the drive angles do. What is found is turned back.

use super::prepare::ends_of;
use crate::fit::error::FitError;
use crate::fit::estimate::Estimate;
use crate::fit::line::LineFit;
use crate::fit::outcome::{Advice, End, LimitFit, LostMotion, NextReading, Rejected, Sense, Side, Trend};
use crate::fit::readings::{Approach, ContactMark, Readings};
use crate::fit::warning::Warning;
use std::vec::Vec;

/// Share of the ranges below which the sums that decide are rounding.
const ROUNDING: f64 = 1e-9;

/// What is turned round.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct Mirror {
    drive: bool,
    measured: bool,
}

/// Readings turned round.
pub(super) struct Turned<'a> {
    drive: Vec<f64>,
    measured: Vec<f64>,
    approach: Option<Vec<Approach>>,
    contact: Option<Vec<ContactMark>>,
    u: Option<&'a [f64]>,
    time: Option<&'a [f64]>,
}

impl Turned<'_> {
    pub(super) fn readings(&self) -> Readings<'_> {
        Readings {
            drive: &self.drive,
            measured: &self.measured,
            approach: self.approach.as_deref(),
            contact: self.contact.as_deref(),
            u: self.u,
            time: self.time,
        }
    }
}

fn turned(value: f64, turn: bool) -> f64 {
    // Zero stays the zero that it is.
    if turn { 0.0 - value } else { value }
}

fn turned_pair(pair: [f64; 2], turn: bool) -> [f64; 2] {
    let [low, high] = pair;
    if turn { [0.0 - high, 0.0 - low] } else { pair }
}

impl Mirror {
    /// What must be turned round in some readings; `None` if nothing.
    pub(super) fn of(given: &Readings<'_>) -> Option<Self> {
        let (lower, upper) = ends_of(given.drive);
        let (low, high) = ends_of(given.measured);
        let (centre, level) = (0.5 * (lower + upper), 0.5 * (low + high));
        let (mut trend, mut above, mut beyond) = (0.0, 0.0, 0.0);
        for (&drive, &measured) in given.drive.iter().zip(given.measured) {
            trend += (drive - centre) * (measured - level);
            above += measured - level;
            beyond += drive - centre;
        }
        let n = given.drive.len() as f64;
        let falls = trend < -ROUNDING * n * (upper - lower) * (high - low);
        let above = turned(above, falls);
        let (least, least_beyond) = (ROUNDING * n * (high - low), ROUNDING * n * (upper - lower));
        // Rounded values may lie evenly; then the drive angles decide.
        let drive = above < -least || (above <= least && beyond < -least_beyond);
        let mirror = Self {
            drive,
            measured: falls != drive,
        };
        (mirror.drive || mirror.measured).then_some(mirror)
    }

    pub(super) fn turn<'a>(&self, given: &Readings<'a>) -> Turned<'a> {
        let contact = |c: &ContactMark| match c {
            ContactMark::Lower if self.drive => ContactMark::Upper,
            ContactMark::Upper if self.drive => ContactMark::Lower,
            other => *other,
        };
        Turned {
            drive: given.drive.iter().map(|v| turned(*v, self.drive)).collect(),
            measured: given.measured.iter().map(|v| turned(*v, self.measured)).collect(),
            approach: given
                .approach
                .map(|all| all.iter().map(|a| self.approach(*a)).collect()),
            contact: given.contact.map(|all| all.iter().map(contact).collect()),
            u: given.u,
            time: given.time,
        }
    }

    fn end(&self, end: End) -> End {
        // Every field by name, here and below: a new one is not to be forgotten.
        let End {
            kind,
            at,
            short_at,
            u,
            interval,
            guard,
            travel,
            level,
            readings_beyond,
            marked,
        } = end;
        End {
            kind,
            at: turned(at, self.drive),
            short_at: short_at.map(|short| turned(short, self.drive)),
            u,
            interval: interval.map(|pair| turned_pair(pair, self.drive)),
            guard,
            travel: turned(travel, self.drive),
            level: level.map(|Estimate { value, u }| Estimate {
                value: turned(value, self.measured),
                u,
            }),
            readings_beyond,
            marked,
        }
    }

    fn approach(&self, approach: Approach) -> Approach {
        match approach {
            Approach::Below if self.drive => Approach::Above,
            Approach::Above if self.drive => Approach::Below,
            other => other,
        }
    }

    fn advice(&self, advice: Advice) -> Advice {
        Advice {
            side: match advice.side {
                Side::Lower if self.drive => Side::Upper,
                Side::Upper if self.drive => Side::Lower,
                side => side,
            },
            readings: advice
                .readings
                .into_iter()
                .map(|reading| NextReading {
                    drive: turned(reading.drive, self.drive),
                    approach: self.approach(reading.approach),
                })
                .collect(),
            ..advice
        }
    }

    fn line(&self, line: LineFit) -> LineFit {
        let falls = self.drive != self.measured;
        LineFit {
            intercept: turned(line.intercept, self.measured),
            slope: turned(line.slope, falls),
            covariance: turned(line.covariance, self.drive),
            ..line
        }
    }

    fn warning(&self, warning: Warning) -> Warning {
        let drive = |at: f64| turned(at, self.drive);
        match warning {
            Warning::PlateauRefuted { at, readings } => Warning::PlateauRefuted {
                at: drive(at),
                readings,
            },
            Warning::Soft { at, u, ratio } => Warning::Soft {
                at: drive(at),
                u,
                ratio,
            },
            Warning::TooFewBeyond { at, readings } => Warning::TooFewBeyond {
                at: drive(at),
                readings,
            },
            Warning::LeftOutBeyond { at, readings } => Warning::LeftOutBeyond {
                at: drive(at),
                readings,
            },
            Warning::LastDisagree { at, readings } => Warning::LastDisagree {
                at: drive(at),
                readings,
            },
            Warning::LevelBeyond { at, readings, ratio } => Warning::LevelBeyond {
                at: drive(at),
                readings,
                ratio,
            },
            Warning::FellShort { at, short_at, readings } => Warning::FellShort {
                at: drive(at),
                short_at: drive(short_at),
                readings,
            },
            Warning::MayFallShort { at, p } => Warning::MayFallShort { at: drive(at), p },
            Warning::Jump { from, to, size, p } => {
                let [from, to] = turned_pair([from, to], self.drive);
                let size = turned(size, self.drive != self.measured);
                Warning::Jump { from, to, size, p }
            }
            Warning::MarkDisagrees { mark, at, u } => Warning::MarkDisagrees {
                mark: drive(mark),
                at: drive(at),
                u,
            },
            Warning::MarkPassed { mark, readings } => Warning::MarkPassed {
                mark: drive(mark),
                readings,
            },
            Warning::NoTravel { lower, upper, swept } => {
                let [lower, upper] = turned_pair([lower, upper], self.drive);
                Warning::NoTravel { lower, upper, swept }
            }
            Warning::GuardOfDegrees { guard, lower, upper } => {
                let [lower, upper] = turned_pair([lower, upper], self.drive);
                Warning::GuardOfDegrees { guard, lower, upper }
            }
            // Every kind by name: a new one may hold a place.
            Warning::Curved { .. }
            | Warning::SidesExchanged { .. }
            | Warning::SidesMissing { .. }
            | Warning::ManyRejected { .. }
            | Warning::MaybeInMotion { .. }
            | Warning::LagOrLostMotion { .. }
            | Warning::MayTrail { .. }
            | Warning::ScatterAboveStated { .. }
            | Warning::ScatterAboveResolution { .. }
            | Warning::ScatterWide { .. }
            | Warning::Uneven { .. }
            // Said of readings that were turned back.
            | Warning::MayTrailUnseen { .. }
            | Warning::AtRail { .. }
            | Warning::Slipped { .. }
            | Warning::PassesDisagree { .. }
            | Warning::ResolutionAboveSteps { .. } => warning,
        }
    }

    /// What was found in readings turned round, as of the readings given.
    pub(super) fn back(&self, fit: LimitFit) -> LimitFit {
        let falls = self.drive != self.measured;
        let LimitFit {
            slope,
            u_slope,
            intercept,
            u_intercept,
            covariance,
            residual_sd,
            dof,
            sense,
            lower,
            upper,
            travel,
            lost_motion,
            repeatability,
            line,
            goodness,
            rejected,
            warnings,
            advice,
            approach_inferred,
            one_way,
            readings,
            resolution,
            resolution_inferred,
            confidence,
            curve,
            curve_origin,
        } = fit;
        let (lower, upper) = if self.drive { (upper, lower) } else { (lower, upper) };
        LimitFit {
            slope: turned(slope, falls),
            u_slope,
            intercept: turned(intercept, self.measured),
            u_intercept,
            covariance: turned(covariance, self.drive),
            residual_sd,
            dof,
            sense: Sense {
                trend: match sense.trend {
                    Trend::Rising if falls => Trend::Falling,
                    Trend::Falling if falls => Trend::Rising,
                    trend => trend,
                },
                certainty: sense.certainty,
            },
            lower: self.end(lower),
            upper: self.end(upper),
            travel: travel.map(|pair| turned_pair(pair, self.drive)),
            lost_motion: match lost_motion {
                LostMotion::Measured {
                    value,
                    u,
                    reversal,
                    drive,
                    u_drive,
                } => LostMotion::Measured {
                    value,
                    u,
                    // Below and above change places with the drive.
                    reversal: turned(reversal, falls),
                    drive,
                    u_drive,
                },
                none @ LostMotion::NotDeterminable { .. } => none,
            },
            repeatability,
            line: self.line(line),
            goodness,
            rejected: rejected
                .into_iter()
                .map(|rejected| Rejected {
                    drive: turned(rejected.drive, self.drive),
                    measured: turned(rejected.measured, self.measured),
                    residual: turned(rejected.residual, self.measured),
                    ..rejected
                })
                .collect(),
            warnings: warnings.into_iter().map(|warning| self.warning(warning)).collect(),
            advice: advice.map(|advice| self.advice(advice)),
            approach_inferred,
            one_way,
            readings,
            resolution,
            resolution_inferred,
            confidence,
            curve: curve
                .into_iter()
                .enumerate()
                // Odd powers of the drive change their sign with it.
                .map(|(power, c)| turned(c, self.measured != (self.drive && power % 2 == 1)))
                .collect(),
            curve_origin: turned(curve_origin, self.drive),
        }
    }

    /// Why readings turned round were refused, as of the readings given.
    pub(super) fn back_error(&self, mut error: FitError) -> FitError {
        match &mut error {
            FitError::TooFewReadings { lower, upper, .. } | FitError::DriveAnglesEqual { lower, upper, .. } => {
                [*lower, *upper] = turned_pair([*lower, *upper], self.drive);
            }
            FitError::NoMotion {
                lower,
                upper,
                low,
                high,
            } => {
                [*lower, *upper] = turned_pair([*lower, *upper], self.drive);
                [*low, *high] = turned_pair([*low, *high], self.measured);
            }
            _ => {}
        }
        error
    }
}
