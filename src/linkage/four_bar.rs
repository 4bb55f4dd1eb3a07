//! A crank that moves a rocker through a coupler.

use crate::linkage::slider_crank::{corner, least_of};
use crate::linkage::{Branch, Links};
use crate::math::{self, DEG_PER_RAD, RAD_PER_DEG};

/// A servo crank that moves the joint's rocker through a coupler: two pivots and two pins.
///
/// The servo's shaft stands at (0, 0), the joint's pivot at (`ground`, 0). Angles count from the x axis (the direction from shaft to
/// pivot), counter-clockwise; the rocker's angle is `rocker_at_zero + command`. The four links close a loop:
///
/// `crank·e^(i·h) + coupler·e^(i·r) = ground + rocker·e^(i·l)`
///
/// Two crank angles belong to most angles of the rocker; `branch` says on which side of the line from the shaft to the rocker's pin the
/// crank's pin lies. Dead centres: crank and coupler in one line (the rocker turns back), and coupler and rocker in one line (the
/// servo has no hold on the rocker).
///
/// ```
/// use elbowroom::linkage::{FourBar, Mechanism, Branch};
/// // A parallelogram: the rocker does what the crank does.
/// let links = FourBar { crank: 12.0, coupler: 60.0, rocker: 12.0, ground: 60.0, rocker_at_zero: 90.0, branch: Branch::Left };
/// assert!((Mechanism::FourBar(links).moved(20.0) - 110.0).abs() < 1e-12);
/// ```
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct FourBar {
    /// From the servo's shaft to the crank's pin.
    pub crank: f64,
    /// From the crank's pin to the rocker's pin.
    pub coupler: f64,
    /// From the joint's pivot to the rocker's pin.
    pub rocker: f64,
    /// From the servo's shaft to the joint's pivot.
    pub ground: f64,
    /// The rocker's angle at command 0, deg.
    pub rocker_at_zero: f64,
    /// Where the crank's pin lies, seen from the shaft towards the rocker's pin.
    pub branch: Branch,
}

impl FourBar {
    /// The crank's angle, deg, for an angle of the rocker; NaN out of reach.
    pub fn crank_deg(&self, rocker_deg: f64) -> f64 {
        let rocker = rocker_deg * RAD_PER_DEG;
        let (sine, cosine) = (math::sin(rocker), math::cos(rocker));
        // A rocker shorter than the ground never takes its pin behind the shaft, so the pin's direction does not jump. With
        // a longer one the pin goes round with the rocker, and it is the angle between the two that does not jump.
        let direction = if self.rocker < self.ground {
            math::atan2(self.rocker * sine, self.ground + self.rocker * cosine)
        } else {
            rocker - math::atan2(self.ground * sine, self.rocker + self.ground * cosine)
        };
        let distance = across(self.rocker, self.ground, cosine, math::cos(rocker * 0.5));
        (direction + self.branch.sign() * corner(self.crank, distance, self.coupler)) * DEG_PER_RAD
    }

    /// The rocker's angle, deg, for an angle of the crank, with the rocker's pin on one side of the line from the joint's pivot
    /// to the crank's pin; within -360 to 360, NaN out of reach.
    pub fn rocker_deg(&self, crank_deg: f64, branch: Branch) -> f64 {
        let crank = crank_deg * RAD_PER_DEG;
        let (sine, cosine) = (math::sin(crank), math::cos(crank));
        let direction = math::atan2(self.crank * sine, self.crank * cosine - self.ground);
        let distance = across(self.crank, self.ground, -cosine, math::sin(crank * 0.5));
        (direction + branch.sign() * corner(self.rocker, distance, self.coupler)) * DEG_PER_RAD
    }

    /// Vectors of crank, coupler and rocker at an angle of the rocker.
    fn vectors(&self, rocker_deg: f64) -> [[f64; 2]; 3] {
        let arm = |length: f64, deg: f64| {
            [
                length * math::cos(deg * RAD_PER_DEG),
                length * math::sin(deg * RAD_PER_DEG),
            ]
        };
        let (crank, rocker) = (
            arm(self.crank, self.crank_deg(rocker_deg)),
            arm(self.rocker, rocker_deg),
        );
        let ([hx, hy], [lx, ly]) = (crank, rocker);
        [crank, [self.ground + lx - hx, ly - hy], rocker]
    }

    /// Sines of the angles from crank to coupler and from rocker to coupler.
    fn sines(&self, rocker_deg: f64) -> [f64; 2] {
        let [crank, coupler, rocker] = self.vectors(rocker_deg);
        [
            cross(crank, coupler) / (self.crank * self.coupler),
            cross(rocker, coupler) / (self.rocker * self.coupler),
        ]
    }
}

/// The length of the sum of two arms of lengths `a` and `b`, given the cosine of the angle between them and of half of it.
///
/// Where they nearly fold, `a² + b² + 2·a·b·cosine` cancels; with the half angle it does not.
fn across(a: f64, b: f64, cosine: f64, half_cosine: f64) -> f64 {
    if cosine >= 0.0 {
        math::sqrt(a * a + b * b + 2.0 * a * b * cosine)
    } else {
        math::sqrt((a - b) * (a - b) + 4.0 * a * b * (half_cosine * half_cosine))
    }
}

fn cross([ax, ay]: [f64; 2], [bx, by]: [f64; 2]) -> f64 {
    ax * by - ay * bx
}

impl Links for FourBar {
    fn moved(&self, command: f64) -> f64 {
        self.crank_deg(self.rocker_at_zero + command)
    }

    fn command(&self, moved: f64, around: f64) -> f64 {
        let around = self.rocker_at_zero + around;
        // The side of the rocker's pin, as seen from the joint's pivot towards the crank's pin: that of the rocker to the coupler.
        let [_, turning] = self.sines(around);
        let branch = if turning > 0.0 { Branch::Left } else { Branch::Right };
        let rocker = self.rocker_deg(moved, branch);
        rocker + 360.0 * math::floor((around - rocker) / 360.0 + 0.5) - self.rocker_at_zero
    }

    /// Both ends of the coupler move equally fast along it.
    fn slope(&self, command: f64) -> f64 {
        let [crank, coupler, rocker] = self.vectors(self.rocker_at_zero + command);
        cross(rocker, coupler) / cross(crank, coupler)
    }

    fn sine(&self, command: f64) -> f64 {
        let [crank, rocker] = self.sines(self.rocker_at_zero + command);
        least_of(crank, rocker)
    }

    fn dead_centres(&self) -> [f64; 8] {
        let (a, b, c, d) = (self.crank, self.coupler, self.rocker, self.ground);
        // Crank and coupler in one line: the rocker's pin at distance b + a or |b - a| from the shaft.
        let turned_back = |distance: f64| core::f64::consts::PI - corner(c, d, distance);
        let (stretched, folded) = (
            turned_back(b + a) * DEG_PER_RAD,
            turned_back((b - a).abs()) * DEG_PER_RAD,
        );
        // Coupler and rocker in one line: the crank's pin at distance b + c or |b - c| from the pivot; the rocker points at it, or away.
        let pointing = |distance: f64| {
            let crank = corner(a, d, distance);
            math::atan2(a * math::sin(crank), a * math::cos(crank) - d) * DEG_PER_RAD
        };
        let away = if b > c { 180.0 } else { 0.0 };
        let (straight, doubled) = (pointing(b + c), pointing((b - c).abs()) + away);
        let mirrored = if away > 0.0 { 360.0 - doubled } else { -doubled };
        let rocker = [
            stretched, -stretched, folded, -folded, straight, -straight, doubled, mirrored,
        ];
        let mut index = 0;
        rocker.map(|angle| {
            index += 1;
            // One of the two crank angles that a rocker angle has; only ours counts.
            let ours = index <= 4 || self.sines(angle)[1].abs() < 1e-6;
            if ours { angle - self.rocker_at_zero } else { f64::NAN }
        })
    }

    fn period(&self) -> f64 {
        360.0
    }

    fn command_unit(&self) -> f64 {
        DEG_PER_RAD
    }

    fn typical_slope(&self) -> f64 {
        self.rocker / self.crank
    }
}
