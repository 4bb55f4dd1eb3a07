//! Stops that both tables met: they tell a change at the horn from one at the sensor.
//!
//! A horn on another place, or another lever, brings the stops to other drive angles, and the sensor reads there what it read before. A
//! sensor that was shifted reads something else at the same drive angles.

use super::super::estimate::Estimate;
use super::super::outcome::LimitFit;
use super::ends::End;
use super::judge::{Known, critical, difference};

/// How the stops moved along the drive, and by how much what is measured on them changed; of each end where both tables placed one.
#[derive(Debug, Clone, Copy)]
pub(super) struct Stops([Option<Moved>; 2]);

#[derive(Debug, Clone, Copy)]
struct Moved {
    drive: Known,
    level: Known,
}

impl Stops {
    /// `half`: standard uncertainty of a stop's place, where one table lacks sides.
    pub(super) fn of(old: &LimitFit, new: &LimitFit, [lower, upper]: &[End; 2], half: f64) -> Self {
        let known = |fit: &LimitFit, level: Option<Estimate>| level.map(|l| Known::new(l.value, l.u, fit.dof));
        let moved = |end: &End, before, after| {
            Some(Moved {
                drive: end.placed(half)?,
                level: difference(known(old, before)?, known(new, after)?, 0.0),
            })
        };
        Self([
            moved(lower, old.lower.level, new.lower.level),
            moved(upper, old.upper.level, new.upper.level),
        ])
    }

    /// Whether the sensor reads on the stops what it read before, at other drive angles: neither it nor they moved. `smallest`: in
    /// measured units and in drive.
    pub(super) fn read_alike(&self, tests: usize, [measured, drive]: [f64; 2]) -> bool {
        let met = || self.0.iter().flatten();
        met().all(|moved| is_none(moved.level, tests, measured))
            && met().any(|moved| !is_none(moved.drive, tests, drive))
    }

    /// How far both moved along the drive by the same, and by how much what is measured on them changed.
    pub(super) fn moved_together(&self, tests: usize, smallest: f64) -> Option<(Known, f64)> {
        let [Some(lower), Some(upper)] = self.0 else {
            return None;
        };
        let apart = difference(lower.drive, upper.drive, 0.0);
        let both = difference(lower.drive.scaled(-0.5), upper.drive.scaled(0.5), 0.0);
        (is_none(apart, tests, smallest) && !is_none(both, tests, smallest))
            .then_some((both, 0.5 * (lower.level.value + upper.level.value)))
    }
}

/// Whether a difference is not significant, or smaller than matters.
pub(super) fn is_none(difference: Known, tests: usize, smallest: f64) -> bool {
    difference.value.abs() <= smallest.max(critical(tests, difference.dof) * difference.u)
}
