//! What an invented joint makes of the drive, and what a pen makes of a value.

use super::kinds::{Ranges, Shape};
use super::tables::{Table, between, chance, either};
use rand::RngExt;
use rand_xorshift::XorShiftRng;

/// Radius of an arc, mm.
const RADIUS: (f64, f64) = (30.0, 90.0);

/// A joint without its stops.
pub(super) struct Joint {
    shape: Shape,
    /// Measured per drive deg, about.
    pub(super) slope: f64,
    offset: f64,
    centre: f64,
    half: f64,
    /// Amplitude, cycles over half the sweep and phase of a bend; radius and whether it is a chord; angle gain and start.
    extra: [f64; 3],
    /// The end at which the crank is at its dead centre.
    pub(super) level_end: Option<usize>,
    /// Drive angles between which the joint is stuck, or the one beyond which it has skipped.
    region: [f64; 2],
}

impl Joint {
    pub(super) fn invent(rng: &mut XorShiftRng, shape: Shape, ranges: &Ranges, commands: &[f64]) -> Self {
        let n = commands.len();
        let (first, last) = (commands[0], commands[n - 1]);
        let (centre, half) = (0.5 * (first + last), 0.5 * (last - first));
        let radians = std::f64::consts::PI / 180.0;
        let mut joint = Self {
            shape,
            slope: either(rng) * libm::exp(between(rng, ranges.slope)),
            offset: between(rng, (-60.0, 60.0)),
            centre,
            half,
            extra: [0.0; 3],
            level_end: None,
            region: [f64::INFINITY; 2],
        };
        match shape {
            Shape::Line => {}
            Shape::Steep => joint.slope = either(rng) * libm::exp(between(rng, (libm::log(0.3), libm::log(3.0)))),
            Shape::Bent => {
                joint.extra = [
                    between(rng, ranges.bend),
                    between(rng, (0.35, 0.9)),
                    between(rng, (0.0, std::f64::consts::TAU)),
                ]
            }
            Shape::Along => joint.slope = either(rng) * between(rng, RADIUS) * radians,
            Shape::Across => {
                let radius = between(rng, RADIUS);
                joint.slope = either(rng) * radius * radians;
                joint.extra = [radius, f64::from(chance(rng, 0.5)), 0.0];
            }
            Shape::DeadCentre => {
                let end = usize::from(chance(rng, 0.5));
                let (flat, other) = (between(rng, (84.0, 98.0)), between(rng, (-45.0, -10.0)));
                let gain = (flat - other) / (2.0 * half) * if end == 1 { 1.0 } else { -1.0 };
                let reach = between(rng, (25.0, 60.0));
                joint.slope *= reach * gain.abs() * radians;
                joint.extra = [
                    reach / (reach * gain.abs() * radians),
                    gain,
                    if end == 1 {
                        other - gain * first
                    } else {
                        other - gain * last
                    },
                ];
                joint.level_end = Some(end);
            }
            Shape::Jump => {
                // At least three readings on either side.
                let k = rng.random_range(2..n - 3);
                joint.region[0] = 0.5 * (commands[k] + commands[k + 1]);
                joint.extra[0] = either(rng) * between(rng, ranges.tooth);
            }
            Shape::Sticky => {
                let k = rng.random_range(3..n - 5);
                joint.region = [commands[k] - 0.1, commands[k + rng.random_range(1..3)] + 0.1];
                joint.extra[0] = between(rng, ranges.lag);
            }
        }
        joint
    }

    /// How far the joint lags behind at a drive angle, and whether that makes the reading a bad one.
    pub(super) fn lag(&self, rng: &mut XorShiftRng, drive: f64, side: f64) -> (f64, bool) {
        if self.shape == Shape::Sticky && drive > self.region[0] && drive < self.region[1] {
            (side * self.extra[0] * between(rng, (0.3, 1.0)), true)
        } else {
            (0.0, false)
        }
    }

    /// Size of the slope at a drive angle; 0 where there is none.
    pub(super) fn slope_at(&self, drive: f64) -> f64 {
        if !drive.is_finite() || matches!(self.shape, Shape::Jump) {
            return 0.0;
        }
        let h = 0.25;
        ((self.value(drive + h, drive) - self.value(drive - h, drive)) / (2.0 * h)).abs()
    }

    pub(super) fn value(&self, angle: f64, drive: f64) -> f64 {
        let radians = std::f64::consts::PI / 180.0;
        let [a, b, c] = self.extra;
        let off = angle - self.centre;
        match self.shape {
            Shape::Line | Shape::Steep | Shape::Along | Shape::Sticky => self.offset + self.slope * off,
            Shape::Bent => {
                self.offset
                    + self.slope * (off + a * self.half * libm::sin(std::f64::consts::PI * b * off / self.half + c))
            }
            Shape::Jump => self.offset + self.slope * (off + if drive > self.region[0] { a } else { 0.0 }),
            // A chord is taken from where the sweep begins.
            Shape::Across if b > 0.0 => self.slope.signum() * 2.0 * a * libm::sin(0.5 * radians * (off + self.half)),
            // A ruler shows no more of a half circle than 65 deg either way.
            Shape::Across => self.slope.signum() * a * libm::sin(radians * off * (65.0 / self.half).min(1.0)),
            Shape::DeadCentre => self.offset + self.slope * a * libm::sin(radians * (b * angle + c)),
        }
    }
}

/// Writes one value down wrongly, so far off that it can be seen: between the readings on the stops, or anywhere where
/// there is no stop.
pub(super) fn slip(rng: &mut XorShiftRng, table: &mut Table, anywhere: bool, resolution: f64, sd: f64) {
    let n = table.measured.len();
    let rows: Vec<usize> = (0..n).filter(|&i| anywhere || table.good[i]).collect();
    let decimals = if resolution.fract() == 0.0 {
        0
    } else if (10.0 * resolution).fract() == 0.0 {
        1
    } else {
        2
    };
    for attempt in 0..200 {
        let row = rows[rng.random_range(0..rows.len())];
        let value = table.measured[row];
        let wrong = match rng.random_range(0..5) {
            0 => -value,
            1 if chance(rng, 0.5) => 10.0 * value,
            1 => value / 10.0,
            2 => swapped(rng, value, decimals),
            3 => value + 10.0 * either(rng),
            // The value of the neighbouring row.
            _ => {
                table.measured[if row > 0 && (row + 1 == n || chance(rng, 0.5)) {
                    row - 1
                } else {
                    row + 1
                }]
            }
        };
        if (wrong - value).abs() > (8.0 * sd).max(3.0 * resolution) || attempt == 199 {
            table.measured[row] = wrong;
            table.good[row] = false;
            table.slip = Some(row);
            return;
        }
    }
}

/// Two neighbouring digits exchanged.
fn swapped(rng: &mut XorShiftRng, value: f64, decimals: usize) -> f64 {
    let mut text: Vec<u8> = format!("{:.decimals$}", value.abs()).into_bytes();
    let digits: Vec<usize> = (0..text.len()).filter(|&i| text[i].is_ascii_digit()).collect();
    if digits.len() < 2 {
        return value;
    }
    let k = rng.random_range(0..digits.len() - 1);
    text.swap(digits[k], digits[k + 1]);
    value.signum() * String::from_utf8(text).unwrap().parse::<f64>().unwrap()
}
