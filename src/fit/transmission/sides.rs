//! Lost motion in the fit of a transmission: from which side readings were reached, and where along the chain it lies.
//!
//! `y = f(x + s·d) + s·m + ε`, `x` being the drive angle, `y` the measured value, `s` = ±1 the side from which the position was
//! reached (0 where it is not known), `f` the line, curve or mechanism. Play before a bent part, as in the servo's gears, shows
//! as `d`, a change of the drive angle; play behind it, at the joint or its sensor, as `m`, a change of the measured value. Both
//! take one number; the one with the lesser sum of squares is kept. On a line they are the same. The reversal value of
//! ISO 230-2 is `2·m`, or `2·d` times the mean slope.

use crate::fit::estimate::Estimate;
use crate::fit::outcome::{LostMotion, NotDeterminable};
use crate::fit::readings::{Approach, Readings};
use std::vec::Vec;

/// Readings of each side that a common stretch must hold.
const FEWEST_IN_COMMON: usize = 2;

/// What the side of approach adds to a transmission.
///
/// The value expected at drive angle `x` is `f(x + s·drive) + s·measured`, `f` being the transmission and `s` the
/// [sign](Approach::sign) of the approach. At most one of the two is other than 0; both are 0 where lost motion was not determined.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub struct BySide {
    /// Change of the drive angle: play before the bent part, as in the servo's gears.
    pub drive: f64,
    /// Change of the measured value: play behind it, at the joint or its sensor.
    pub measured: f64,
}

impl BySide {
    /// The value expected of a transmission `f` at a drive angle.
    pub(super) fn expected(self, drive: f64, approach: Approach, f: impl Fn(f64) -> f64) -> f64 {
        let s = approach.sign();
        f(drive + s * self.drive) + s * self.measured
    }
}

/// Where lost motion may lie.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Place {
    Measured,
    Drive,
}

/// Half of the lost motion as found at one place.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Half {
    pub(super) place: Place,
    pub(super) size: Estimate,
}

impl Half {
    pub(super) fn by_side(self) -> BySide {
        match self.place {
            Place::Measured => BySide {
                drive: 0.0,
                measured: self.size.value,
            },
            Place::Drive => BySide {
                drive: self.size.value,
                measured: 0.0,
            },
        }
    }

    /// As lost motion of a transmission with this mean slope, measured per drive.
    pub(super) fn lost_motion(self, slope: f64) -> LostMotion {
        let (measured, drive) = match self.place {
            Place::Measured => (2.0, 2.0 / slope),
            Place::Drive => (2.0 * slope, 2.0),
        };
        let Estimate { value, u } = self.size;
        LostMotion::Measured {
            value: (value * measured).abs(),
            u: u * measured.abs(),
            reversal: value * measured,
            drive: (value * drive).abs(),
            u_drive: u * drive.abs(),
        }
    }
}

/// The `s` of each reading, or why lost motion cannot be determined.
pub(super) fn signs(readings: &Readings<'_>) -> Result<Vec<f64>, NotDeterminable> {
    let signs: Vec<f64> = readings
        .approach
        .unwrap_or_default()
        .iter()
        .map(|approach| approach.sign())
        .collect();
    let reached = |side: f64| {
        let pairs = readings.drive.iter().zip(&signs);
        pairs.filter(move |&(_, s)| *s == side).map(|(drive, _)| *drive)
    };
    let span = |side: f64| {
        reached(side).fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), x| {
            (low.min(x), high.max(x))
        })
    };
    if signs.iter().all(|s| *s == 0.0) {
        return Err(NotDeterminable::ApproachUnknown);
    }
    if [1.0, -1.0].iter().any(|&side| reached(side).next().is_none()) {
        return Err(NotDeterminable::OneSide);
    }
    let (below, above) = (span(1.0), span(-1.0));
    let (low, high) = (below.0.max(above.0), below.1.min(above.1));
    let in_common = |side: f64| reached(side).filter(|&x| x >= low && x <= high).count();
    if [1.0, -1.0].iter().any(|&side| in_common(side) < FEWEST_IN_COMMON) {
        return Err(NotDeterminable::NoCommonStretch);
    }
    Ok(signs)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// One movement, said of the drive and of what is measured: the slope is their ratio, its sign that of the reversal.
    #[test]
    fn lost_motion_is_one_movement_in_two_units() {
        for slope in [4.0, 0.25, -4.0] {
            let half = |place, value| Half {
                place,
                size: Estimate { value, u: 0.125 },
            };
            for half in [half(Place::Measured, -3.0), half(Place::Drive, 0.5)] {
                let LostMotion::Measured {
                    value,
                    u,
                    reversal,
                    drive,
                    u_drive,
                } = half.lost_motion(slope)
                else {
                    panic!("{half:?}")
                };
                assert_eq!((value, u), (drive * slope.abs(), u_drive * slope.abs()), "{half:?}");
                let own = if half.place == Place::Measured { value } else { drive };
                assert_eq!(own, 2.0 * half.size.value.abs());
                assert_eq!(u / value, 0.125 / half.size.value.abs());
                let by_side = half.by_side();
                assert_eq!(reversal, 2.0 * (by_side.measured + by_side.drive * slope));
            }
        }
    }
}
