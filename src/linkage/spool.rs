//! A tendon on a drum.

use crate::linkage::Links;
use crate::math::{self, DEG_PER_RAD, RAD_PER_DEG};

/// A tendon from a drum on the servo to a round pulley on the joint.
///
/// The pulley takes up tendon in proportion to the command. The drum does too as long as the tendon lies in one layer; where it
/// winds over itself, or on a cone, the radius changes with every turn: `radius = drum + per_turn·turns`, so that the
/// length wound is `drum·a + per_turn/(2·pi)·a²/2` at the drum's angle `a` in radians (the spiral of Archimedes).
///
/// The drum's angle counts from command 0 and rises with the command. There is no dead centre, but with a `per_turn` that is not 0 a
/// command at which the radius would come to 0.
///
/// ```
/// use elbowroom::linkage::{Mechanism, Spool};
/// let flat = Mechanism::Spool(Spool { drum: 8.0, per_turn: 0.0, pulley: 20.0 });
/// assert_eq!(flat.moved(36.0), 90.0);
/// let winding = Mechanism::Spool(Spool { drum: 8.0, per_turn: 1.2, pulley: 20.0 });
/// assert!(winding.moved(36.0) < 90.0);
/// ```
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Spool {
    /// Radius of the tendon on the drum at command 0.
    pub drum: f64,
    /// What that radius gains with each turn of the drum; below 0 it shrinks.
    pub per_turn: f64,
    /// Radius of the tendon on the joint's pulley.
    pub pulley: f64,
}

impl Spool {
    /// What the drum's radius gains with each radian.
    fn per_rad(&self) -> f64 {
        self.per_turn * 0.5 / core::f64::consts::PI
    }

    /// Tendon taken up at a command.
    fn length(&self, command: f64) -> f64 {
        self.pulley * (command * RAD_PER_DEG)
    }

    /// The drum's radius at a command; NaN where it would be below 0.
    fn radius(&self, command: f64) -> f64 {
        math::sqrt(self.drum * self.drum + 2.0 * self.per_rad() * self.length(command))
    }
}

impl Links for Spool {
    /// The root of `drum·a + per_rad·a²/2 = length`, in the form that needs no special case at per_rad = 0.
    fn moved(&self, command: f64) -> f64 {
        2.0 * self.length(command) / (self.drum + self.radius(command)) * DEG_PER_RAD
    }

    fn command(&self, moved: f64, _around: f64) -> f64 {
        let turned = moved * RAD_PER_DEG;
        let length = turned * (self.drum + self.per_rad() * turned * 0.5);
        length / self.pulley * DEG_PER_RAD
    }

    fn slope(&self, command: f64) -> f64 {
        self.pulley / self.radius(command)
    }

    /// Not a sine here: what is left of the drum's radius.
    fn sine(&self, command: f64) -> f64 {
        (self.radius(command) / self.drum).min(1.0)
    }

    fn dead_centres(&self) -> [f64; 8] {
        let mut places = [f64::NAN; 8];
        let [empty, ..] = &mut places;
        *empty = -self.drum * self.drum / (2.0 * self.per_rad() * self.pulley) * DEG_PER_RAD;
        places
    }

    fn period(&self) -> f64 {
        0.0
    }

    fn command_unit(&self) -> f64 {
        DEG_PER_RAD
    }

    fn typical_slope(&self) -> f64 {
        self.pulley / self.drum
    }
}
