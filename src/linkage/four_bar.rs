//! A horn that moves a lever through a rod.

use crate::linkage::crank_slider::{corner, least_of};
use crate::linkage::{LinkageError, Links, Side, check_dimensions};
use crate::math::{self, DEG_PER_RAD, RAD_PER_DEG};

/// A servo horn that moves the joint's lever through a rod: two pivots and two pins.
///
/// The servo's shaft stands at (0, 0), the joint's pivot at (`ground`, 0). Angles count from the x axis (the direction from shaft to
/// pivot), counter-clockwise; the lever's angle is `lever_at_zero + command`. The four links close a loop:
///
/// `horn·e^(i·h) + rod·e^(i·r) = ground + lever·e^(i·l)`
///
/// Two horn angles belong to most angles of the lever; `side` says on which side of the line from the shaft to the lever's pin the
/// horn's pin lies. Dead centres: horn and rod in one line (the lever turns back), and rod and lever in one line (the
/// servo has no hold on the lever).
///
/// ```
/// use elbowroom::linkage::{FourBar, Mechanism, Side};
/// // A parallelogram: the lever does what the horn does.
/// let links = FourBar { horn: 12.0, rod: 60.0, lever: 12.0, ground: 60.0, lever_at_zero: 90.0, side: Side::Left };
/// assert!((Mechanism::FourBar(links).moved(20.0) - 110.0).abs() < 1e-12);
/// ```
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct FourBar {
    /// From the servo's shaft to the horn's pin.
    pub horn: f64,
    /// From the horn's pin to the lever's pin.
    pub rod: f64,
    /// From the joint's pivot to the lever's pin.
    pub lever: f64,
    /// From the servo's shaft to the joint's pivot.
    pub ground: f64,
    /// The lever's angle at command 0, deg.
    pub lever_at_zero: f64,
    /// Where the horn's pin lies, seen from the shaft towards the lever's pin.
    pub side: Side,
}

impl FourBar {
    /// The horn's angle, deg, for an angle of the lever; NaN out of reach.
    pub fn horn_deg(&self, lever_deg: f64) -> f64 {
        let lever = lever_deg * RAD_PER_DEG;
        let (sine, cosine) = (math::sin(lever), math::cos(lever));
        // A lever shorter than the ground never takes its pin behind the shaft, so the pin's direction does not jump. With
        // a longer one the pin goes round with the lever, and it is the angle between the two that does not jump.
        let direction = if self.lever < self.ground {
            math::atan2(self.lever * sine, self.ground + self.lever * cosine)
        } else {
            lever - math::atan2(self.ground * sine, self.lever + self.ground * cosine)
        };
        let distance = across(self.lever, self.ground, cosine, math::cos(lever * 0.5));
        (direction + self.side.sign() * corner(self.horn, distance, self.rod)) * DEG_PER_RAD
    }

    /// The lever's angle, deg, for an angle of the horn, with the lever's pin on one side of the line from the joint's pivot
    /// to the horn's pin; within -360 to 360, NaN out of reach.
    pub fn lever_deg(&self, horn_deg: f64, side: Side) -> f64 {
        let horn = horn_deg * RAD_PER_DEG;
        let (sine, cosine) = (math::sin(horn), math::cos(horn));
        let direction = math::atan2(self.horn * sine, self.horn * cosine - self.ground);
        let distance = across(self.horn, self.ground, -cosine, math::sin(horn * 0.5));
        (direction + side.sign() * corner(self.lever, distance, self.rod)) * DEG_PER_RAD
    }

    /// Vectors of horn, rod and lever at an angle of the lever.
    fn vectors(&self, lever_deg: f64) -> [[f64; 2]; 3] {
        let arm = |length: f64, deg: f64| {
            [
                length * math::cos(deg * RAD_PER_DEG),
                length * math::sin(deg * RAD_PER_DEG),
            ]
        };
        let (horn, lever) = (arm(self.horn, self.horn_deg(lever_deg)), arm(self.lever, lever_deg));
        let ([hx, hy], [lx, ly]) = (horn, lever);
        [horn, [self.ground + lx - hx, ly - hy], lever]
    }

    /// Sines of the angles from horn to rod and from lever to rod.
    fn sines(&self, lever_deg: f64) -> [f64; 2] {
        let [horn, rod, lever] = self.vectors(lever_deg);
        [
            cross(horn, rod) / (self.horn * self.rod),
            cross(lever, rod) / (self.lever * self.rod),
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
    fn check(&self) -> Result<(), LinkageError> {
        check_dimensions(
            &[
                ("horn", self.horn),
                ("rod", self.rod),
                ("lever", self.lever),
                ("ground", self.ground),
            ],
            &[("lever_at_zero", self.lever_at_zero)],
        )
    }

    fn moved(&self, command: f64) -> f64 {
        self.horn_deg(self.lever_at_zero + command)
    }

    fn command(&self, moved: f64, around: f64) -> f64 {
        let around = self.lever_at_zero + around;
        // The side of the lever's pin, as seen from the joint's pivot towards the horn's pin: that of the lever to the rod.
        let [_, turning] = self.sines(around);
        let side = if turning > 0.0 { Side::Left } else { Side::Right };
        let lever = self.lever_deg(moved, side);
        lever + 360.0 * math::floor((around - lever) / 360.0 + 0.5) - self.lever_at_zero
    }

    /// Both ends of the rod move equally fast along it.
    fn slope(&self, command: f64) -> f64 {
        let [horn, rod, lever] = self.vectors(self.lever_at_zero + command);
        cross(lever, rod) / cross(horn, rod)
    }

    fn sine(&self, command: f64) -> f64 {
        let [horn, lever] = self.sines(self.lever_at_zero + command);
        least_of(horn, lever)
    }

    fn dead_centres(&self) -> [f64; 8] {
        let (a, b, c, d) = (self.horn, self.rod, self.lever, self.ground);
        // Horn and rod in one line: the lever's pin at distance b + a or |b - a| from the shaft.
        let turned_back = |distance: f64| core::f64::consts::PI - corner(c, d, distance);
        let (stretched, folded) = (
            turned_back(b + a) * DEG_PER_RAD,
            turned_back((b - a).abs()) * DEG_PER_RAD,
        );
        // Rod and lever in one line: the horn's pin at distance b + c or |b - c| from the pivot; the lever points at it, or away.
        let pointing = |distance: f64| {
            let horn = corner(a, d, distance);
            math::atan2(a * math::sin(horn), a * math::cos(horn) - d) * DEG_PER_RAD
        };
        let away = if b > c { 180.0 } else { 0.0 };
        let (straight, doubled) = (pointing(b + c), pointing((b - c).abs()) + away);
        let mirrored = if away > 0.0 { 360.0 - doubled } else { -doubled };
        let lever = [
            stretched, -stretched, folded, -folded, straight, -straight, doubled, mirrored,
        ];
        let mut index = 0;
        lever.map(|angle| {
            index += 1;
            // One of the two horn angles that a lever angle has; only ours counts.
            let ours = index <= 4 || self.sines(angle)[1].abs() < 1e-6;
            if ours { angle - self.lever_at_zero } else { f64::NAN }
        })
    }

    fn period(&self) -> f64 {
        360.0
    }

    fn command_unit(&self) -> f64 {
        DEG_PER_RAD
    }

    fn typical_slope(&self) -> f64 {
        self.lever / self.horn
    }
}
