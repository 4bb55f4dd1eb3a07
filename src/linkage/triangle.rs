//! A linear actuator or lead screw across a hinge.

use crate::linkage::Links;
use crate::math::{self, DEG_PER_RAD, RAD_PER_DEG};

/// An actuator whose two ends sit at fixed distances from a hinge, one on either part: the law of cosines.
///
/// The joint's angle opens or closes the angle at the hinge; the actuator, which lies across from it, changes its length
/// in proportion to the drive angle (a screw, a linear servo, a drum with one layer).
///
/// `length² = base² + arm² - 2·base·arm·cos(angle_at_zero + command)`
///
/// Dead centres: the two arms in one line, folded (0 deg between them) and stretched (180 deg). A command range is refused not only where
/// it holds one, but also where it ends less than [`LEAST_ANGLE_DEG`](crate::linkage::LEAST_ANGLE_DEG) before one.
///
/// Only the ratio of `base` to `arm` shapes the curve. With `angle_at_zero` below 0 the length falls as the command
/// rises.
///
/// ```
/// use elbowroom::linkage::{Mechanism, Triangle};
/// let triangle = Triangle { base: 3.0, arm: 4.0, angle_at_zero: 60.0 };
/// // A right angle at the hinge: Pythagoras.
/// assert!((Mechanism::Triangle(triangle).moved(30.0) - 5.0).abs() < 1e-15);
/// let mechanism = Mechanism::Triangle(triangle);
/// assert_eq!(mechanism.valid_range(30.0), Some([-60.0, 120.0]));
/// assert!(mechanism.check([-58.9, 118.9]).is_ok() && mechanism.check([-58.9, 119.1]).is_err());
/// ```
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Triangle {
    /// From the hinge to the actuator's nearer end.
    pub base: f64,
    /// From the hinge to its other end.
    pub arm: f64,
    /// Angle between the two at command 0, deg.
    pub angle_at_zero: f64,
}

/// What rounding of a length leaves of its square, as a share of that.
const ROUNDING: f64 = 8.0 * f64::EPSILON;

impl Triangle {
    fn angle(&self, command: f64) -> f64 {
        (self.angle_at_zero + command) * RAD_PER_DEG
    }
}

impl Links for Triangle {
    /// As `(base - arm)² + 4·base·arm·sin²(angle/2)`, which loses nothing where the arms are nearly equal and close together.
    fn moved(&self, command: f64) -> f64 {
        let half = math::sin(self.angle(command) * 0.5);
        let apart = self.base - self.arm;
        math::sqrt(apart * apart + 4.0 * self.base * self.arm * (half * half))
    }

    fn command(&self, moved: f64, around: f64) -> f64 {
        let apart = self.base - self.arm;
        let (product, most) = ((moved - apart) * (moved + apart), 4.0 * self.base * self.arm);
        // Where one arm is far longer than the other, rounding of the length alone may lead past a dead centre.
        let rounding = ROUNDING * moved * moved;
        let product = if product < 0.0 && product >= -rounding {
            0.0
        } else if product > most && product <= most + rounding {
            most
        } else {
            product
        };
        let half_sine = math::sqrt(product / most);
        let opened = 2.0 * math::asin(half_sine) * DEG_PER_RAD;
        // The angle repeats every 360 deg and is mirrored at 0: take the turn and the mirror image that `around` is in.
        let turn = 360.0 * math::floor((self.angle_at_zero + around) / 360.0 + 0.5);
        let mirrored = self.angle_at_zero + around < turn;
        turn + if mirrored { -opened } else { opened } - self.angle_at_zero
    }

    fn slope(&self, command: f64) -> f64 {
        self.base * self.arm * math::sin(self.angle(command)) / self.moved(command) * RAD_PER_DEG
    }

    fn sine(&self, command: f64) -> f64 {
        math::sin(self.angle(command)).abs()
    }

    fn dead_centres(&self) -> [f64; 8] {
        let mut places = [f64::NAN; 8];
        let [folded, stretched, ..] = &mut places;
        (*folded, *stretched) = (-self.angle_at_zero, 180.0 - self.angle_at_zero);
        places
    }

    fn period(&self) -> f64 {
        360.0
    }

    fn command_unit(&self) -> f64 {
        DEG_PER_RAD
    }

    fn typical_slope(&self) -> f64 {
        self.base.min(self.arm) * RAD_PER_DEG
    }
}
