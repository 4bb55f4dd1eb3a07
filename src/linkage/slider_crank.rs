//! A crank that moves a slide through a rod.

use crate::linkage::{Branch, Links};
use crate::math::{self, DEG_PER_RAD, RAD_PER_DEG};

/// A crank on the servo that moves a slide through a rod.
///
/// The shaft stands at (0, 0); the slide's pin moves along the line y = `offset`, and the command counts its x from
/// `slide_at_zero`, in the unit of the lengths. The crank's angle counts from the x axis, counter-clockwise.
///
/// `x = crank·cos(angle) ± sqrt(rod² - (crank·sin(angle) - offset)²)`
///
/// Two crank angles belong to most places of the slide; `branch` says on which side of the line from the shaft to the slide's
/// pin the crank's pin lies. Dead centres: crank and rod in one line (the slide turns back), and the rod square to the
/// slide's line (the slide runs away from the crank).
///
/// ```
/// use elbowroom::linkage::{SliderCrank, Mechanism, Branch};
/// let in_line = SliderCrank { crank: 3.0, rod: 5.0, offset: 0.0, slide_at_zero: 4.0, branch: Branch::Left };
/// // A triangle of 3, 4 and 5 with the crank square to the slide.
/// assert!((Mechanism::SliderCrank(in_line).moved(0.0) - 90.0).abs() < 1e-13);
/// ```
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct SliderCrank {
    /// From the shaft to the crank's pin.
    pub crank: f64,
    /// From the crank's pin to the slide's pin.
    pub rod: f64,
    /// Distance of the slide's line from the shaft, to the left of the x axis.
    pub offset: f64,
    /// The slide's x at command 0.
    pub slide_at_zero: f64,
    /// Where the crank's pin lies, seen from the shaft towards the slide's pin.
    pub branch: Branch,
}

impl SliderCrank {
    /// The crank's angle, deg, for a place of the slide; NaN out of reach.
    pub fn crank_deg(&self, x: f64) -> f64 {
        // -0 would turn the direction of the slide's pin about.
        let offset = self.offset + 0.0;
        let distance = math::hypot(x, offset);
        let opening = corner(self.crank, distance, self.rod);
        (math::atan2(offset, x) + self.branch.sign() * opening) * DEG_PER_RAD
    }

    /// The slide's place for an angle of the crank, with the slide's pin beyond the crank's (at larger x) or
    /// before it; NaN if the rod cannot reach.
    pub fn slide(&self, crank_deg: f64, beyond: bool) -> f64 {
        let angle = crank_deg * RAD_PER_DEG;
        let across = self.crank * math::sin(angle) - self.offset;
        let along = math::sqrt((self.rod - across) * (self.rod + across));
        self.crank * math::cos(angle) + if beyond { along } else { -along }
    }

    /// Vectors of crank and rod at a place of the slide.
    fn vectors(&self, x: f64) -> [[f64; 2]; 2] {
        let angle = self.crank_deg(x) * RAD_PER_DEG;
        let crank = [self.crank * math::cos(angle), self.crank * math::sin(angle)];
        let [cx, cy] = crank;
        [crank, [x - cx, self.offset - cy]]
    }

    /// Sine of the angle between crank and rod, and cosine of the rod's slope against the slide's line.
    fn sines(&self, x: f64) -> [f64; 2] {
        let [[cx, cy], [rx, ry]] = self.vectors(x);
        [(cx * ry - cy * rx) / (self.crank * self.rod), rx / self.rod]
    }
}

impl Links for SliderCrank {
    fn moved(&self, command: f64) -> f64 {
        self.crank_deg(self.slide_at_zero + command)
    }

    fn command(&self, moved: f64, around: f64) -> f64 {
        let [_, along] = self.sines(self.slide_at_zero + around);
        self.slide(moved, along >= 0.0) - self.slide_at_zero
    }

    /// From `crank·cos(angle - rod's angle)` and so on: the rod's two ends move equally fast along it.
    fn slope(&self, command: f64) -> f64 {
        let [[cx, cy], [rx, ry]] = self.vectors(self.slide_at_zero + command);
        // Velocity of the slide's pin is (1, 0); that of the crank's pin (-cy, cx) per radian.
        rx / (cx * ry - cy * rx) * DEG_PER_RAD
    }

    fn sine(&self, command: f64) -> f64 {
        let [turning, along] = self.sines(self.slide_at_zero + command);
        least_of(turning, along)
    }

    fn dead_centres(&self) -> [f64; 8] {
        let root = |square: f64| math::sqrt(square);
        let (sum, difference) = (self.rod + self.crank, self.rod - self.crank);
        let stretched = root((sum - self.offset) * (sum + self.offset));
        let folded = root((difference - self.offset) * (difference + self.offset));
        // The rod square to the slide's line, the crank's pin at y = offset ± rod.
        let square = |y: f64| root((self.crank - y) * (self.crank + y));
        let (above, below) = (square(self.offset + self.rod), square(self.offset - self.rod));
        let places = [stretched, -stretched, folded, -folded, above, -above, below, -below];
        let mut index = 0;
        places.map(|x| {
            index += 1;
            // One of the two crank angles that a place has; only ours counts.
            let ours = index <= 4 || self.sines(x)[1].abs() < 1e-6;
            if ours { x - self.slide_at_zero } else { f64::NAN }
        })
    }

    fn period(&self) -> f64 {
        0.0
    }

    fn command_unit(&self) -> f64 {
        self.crank.min(self.rod)
    }

    fn typical_slope(&self) -> f64 {
        DEG_PER_RAD / self.crank
    }
}

/// The angle between sides `a` and `b` of a triangle, across from `c`, radians; NaN if they do not close.
///
/// *Source*: W. Kahan, "Miscalculating Area and Angles of a Needle-like Triangle" (from memory): the law of cosines loses half
/// of the digits of a small angle, the half-angle form with its brackets in this order loses none.
pub(super) fn corner(a: f64, b: f64, c: f64) -> f64 {
    let (a, b) = if a < b { (b, a) } else { (a, b) };
    let short = if b >= c { c - (a - b) } else { b - (a - c) };
    let half = ((a - b) + c) * short;
    let rest = (a + (b + c)) * ((a - c) + b);
    2.0 * math::atan2(math::sqrt(half), math::sqrt(rest))
}

/// The smaller amount of two sines; NaN if either is.
pub(super) fn least_of(a: f64, b: f64) -> f64 {
    let (a, b) = (a.abs(), b.abs());
    if a.is_nan() || a < b { a } else { b }
}
