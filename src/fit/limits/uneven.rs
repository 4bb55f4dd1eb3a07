//! Readings that lie off the line together with their neighbours: an eccentric gear, a sensor that is not linear.
//!
//! The scatter is that of readings of one drive angle, free of lost motion; where too few of these are repeated, half the mean square of the
//! differences from place to place (von Neumann, Annals of Mathematical Statistics 12 (1941) 367), in which what changes slowly along the
//! drive does not count. What the residuals have beyond it is systematic: it does not average
//! out, and moves the place where the line meets a stop by up to its amplitude.

use super::assess::Assessment;
use super::model::between;
use crate::fit::statistics::quantile::f_tail;
use crate::fit::warning::Warning;
use std::vec::Vec;

/// Places on the line below which nothing is said.
const FEWEST: usize = 8;
/// Readings beyond the first of each place from which their scatter is taken.
const LEAST_FREE: f64 = 6.0;
/// Probability below which the places vary by more than that.
const P_UNEVEN: f64 = 1e-4;
/// Half the mean square from place to place, as a share of that of all, up to which neighbours go together: a sine has as much where five
/// places make a period.
const SLOW: f64 = 0.7;
/// Standard deviations of the ratio of both variances, `1/√places`, beyond which it is no accident.
const SURE: f64 = 3.5;
/// Systematic part, in residual standard deviations and in resolutions, below which it moves no stop by more than the scatter does.
const LEAST: f64 = 0.6;
const STEPS: f64 = 0.6;
/// Share of the largest value that rounding of the numbers may put them off by.
const ROUNDING: f64 = 1e-9;
/// Amplitude of a sine over its standard deviation.
const AMPLITUDE: f64 = core::f64::consts::SQRT_2;

/// What the residuals are at the places between the stops.
struct Places {
    /// Their means, in the order of the drive angles.
    means: Vec<f64>,
    /// Sum of squares of the readings of one place about its mean, and how many of them are free.
    within: f64,
    free: f64,
    readings: f64,
}

impl Places {
    /// Mean square of the means.
    fn all(&self) -> f64 {
        self.means.iter().map(|mean| mean * mean).sum::<f64>() / self.means.len() as f64
    }

    /// Variance of a place's mean that is scatter, and whether the means surely vary by more, and slowly.
    fn scatter(&self) -> (f64, bool) {
        let places = self.means.len() as f64;
        let all = self.all();
        let steps = self.means.iter().zip(self.means.iter().skip(1));
        let from_steps = 0.5 * steps.map(|(a, b)| (b - a) * (b - a)).sum::<f64>() / (places - 1.0);
        if self.free < LEAST_FREE {
            return (from_steps, (1.0 - from_steps / all) * places.sqrt() > SURE);
        }
        let scatter = self.within / self.free * places / self.readings;
        let vary = f_tail(all / scatter.max(f64::MIN_POSITIVE), places, self.free) < P_UNEVEN;
        (scatter, vary && from_steps < SLOW * all)
    }
}

/// How far off the line a place may lie with its neighbours.
#[derive(Debug, Clone, Copy)]
pub(super) struct Off {
    pub(super) sd: f64,
    pub(super) most: f64,
}

impl Off {
    pub(super) fn map(self, to: impl Fn(f64) -> f64) -> Self {
        Self {
            sd: to(self.sd),
            most: to(self.most),
        }
    }
}

impl Assessment<'_> {
    /// Standard deviation of what lies off the line with its neighbours, in measured units, with the warning that says so; zero where the
    /// residuals stand in no order.
    pub(super) fn look_for_uneven(&mut self) -> f64 {
        let places = self.places();
        if places.means.len() < FEWEST {
            return 0.0;
        }
        let (scatter, is_sure) = places.scatter();
        let systematic = (places.all() - scatter).max(0.0).sqrt();
        let residual_sd = self.residual_sd();
        let rounding = ROUNDING * (self.prepared.level.abs() + self.prepared.y_range);
        let least = (LEAST * residual_sd).max(STEPS * self.prepared.step).max(rounding);
        if !(is_sure && systematic > least) {
            return 0.0;
        }
        self.warnings.push(Warning::Uneven {
            systematic,
            scatter: (residual_sd * residual_sd - systematic * systematic).max(0.0).sqrt(),
        });
        systematic
    }

    /// How far off the line the joint may stand along the drive, in half spans of it, where it has this slope.
    pub(super) fn uneven_at(&self, slope: f64) -> Off {
        // A level line has no place either.
        let sd = if self.uneven > 0.0 {
            self.uneven / slope.abs()
        } else {
            0.0
        };
        Off {
            sd,
            most: AMPLITUDE * sd,
        }
    }

    fn places(&self) -> Places {
        let model = &self.found.model;
        let mut places = Places {
            means: Vec::new(),
            within: 0.0,
            free: 0.0,
            readings: 0.0,
        };
        let mut here: Vec<f64> = Vec::new();
        let mut last = f64::NAN;
        let end = core::iter::once(None);
        for r in self.kept().filter(|r| between(model, r)).map(Some).chain(end) {
            if r.is_none_or(|r| r.x != last) && !here.is_empty() {
                let mean = here.iter().sum::<f64>() / here.len() as f64;
                places.within += here.iter().map(|rest| (rest - mean) * (rest - mean)).sum::<f64>();
                places.free += (here.len() - 1) as f64;
                places.readings += here.len() as f64;
                places.means.push(mean);
                here.clear();
            }
            if let Some(r) = r {
                last = r.x;
                here.push(r.y - model.expected(r.x, r.s()));
            }
        }
        places
    }
}
