//! Tables of readings as a person at a bench writes them down, with the joint behind them known.
//!
//! Every joint is invented. A table is a walk of the drive over round commands, one reading at each: the joint follows
//! through lost motion and a shape (line, bend, arc, crank, skipped tooth, sticky region) until a stop holds it, and the
//! value is read with noise off a scale with a smallest step. Nothing of the library's model is used.

use elbowroom::fit::Approach;
use rand::{RngExt, SeedableRng};
use rand_distr::{Distribution, Normal};
use rand_xorshift::XorShiftRng;

/// The way the drive is walked.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) enum Walk {
    /// From one end to the other.
    Once,
    /// Up and down again.
    ThereAndBack,
    /// From the middle up, back to the middle, then down.
    Outward,
}

/// How many readings lie on the stops.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) enum Stops {
    /// No stop in range.
    Free,
    /// One reading on each stop: the walk ends as soon as the joint stalls.
    OneEach,
    /// One reading on one stop, none at the other end.
    OneOnOne,
    /// Two readings on one stop, none at the other end.
    TwoOnOne,
    /// Two or three readings on each stop.
    SomeEach,
    /// At each end one reading on a stop or no stop, by chance.
    OneOrNone,
    /// At each end two readings on a stop or no stop, by chance.
    TwoOrNone,
}

/// Lost motion and what is written down of it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) enum Sides {
    /// No lost motion, no sides.
    NoPlay,
    /// Lost motion, and the side of each reading.
    Told,
    /// Lost motion, and no sides.
    Untold,
}

/// The scale that the value is read off.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) enum Scale {
    /// Some resolution, given.
    Given,
    /// Some resolution, not given.
    Untold,
    /// Whole degrees, not given.
    Whole,
    /// By eye to 5 degrees, given.
    Eye,
    /// By eye to 5 degrees, not given.
    EyeUntold,
}

/// What the joint makes of the drive between its stops.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) enum Shape {
    Line,
    /// A slope of 0.3 to 3, either sign.
    Steep,
    /// A wave of 4 % of half the sweep.
    Bent,
    /// Millimetres along a sine or a chord.
    Arc,
    /// A crank that comes to its dead centre at one end.
    DeadCentre,
    /// A tooth is skipped on the way.
    Jump,
    /// A region in which the joint lags behind.
    Sticky,
}

/// A kind of table.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Kind {
    pub(crate) name: &'static str,
    pub(crate) walk: Walk,
    pub(crate) stops: Stops,
    /// The stops give 2 to 10 % of the motion beyond them.
    pub(crate) yields: bool,
    pub(crate) sides: Sides,
    pub(crate) scale: Scale,
    pub(crate) shape: Shape,
    /// One value is written down wrongly.
    pub(crate) slip: bool,
}

const PLAIN: Kind = Kind {
    name: "",
    walk: Walk::Once,
    stops: Stops::OneEach,
    yields: false,
    sides: Sides::NoPlay,
    scale: Scale::Given,
    shape: Shape::Line,
    slip: false,
};

/// All kinds, in the order of the table.
pub(crate) fn kinds() -> Vec<Kind> {
    use {Scale::*, Shape::*, Sides::Told, Stops::*, Walk::*};
    let kind = |name| Kind { name, ..PLAIN };
    vec![
        kind("one reading on each stop"),
        Kind {
            scale: Whole,
            ..kind("one on each stop, whole degrees, resolution not given")
        },
        Kind {
            stops: OneOnOne,
            ..kind("one on one stop, other end free")
        },
        Kind {
            stops: TwoOnOne,
            ..kind("two on one stop, other end free")
        },
        Kind {
            stops: SomeEach,
            ..kind("two or three on each stop")
        },
        Kind {
            stops: SomeEach,
            scale: Untold,
            ..kind("two or three on each stop, resolution not given")
        },
        Kind {
            stops: SomeEach,
            yields: true,
            ..kind("two or three on each stop, stops give 2 to 10 %")
        },
        Kind {
            stops: SomeEach,
            walk: ThereAndBack,
            sides: Told,
            ..kind("there and back, sides given")
        },
        Kind {
            stops: SomeEach,
            walk: ThereAndBack,
            sides: Sides::Untold,
            ..kind("there and back, sides not given")
        },
        Kind {
            stops: SomeEach,
            walk: ThereAndBack,
            sides: Sides::Untold,
            scale: Whole,
            ..kind("there and back, whole degrees, nothing given")
        },
        Kind {
            walk: Outward,
            sides: Told,
            ..kind("outward from the middle, sides given")
        },
        Kind {
            walk: Outward,
            sides: Sides::Untold,
            ..kind("outward from the middle, sides not given")
        },
        Kind {
            slip: true,
            ..kind("one on each stop, one slip of the pen")
        },
        Kind {
            stops: SomeEach,
            slip: true,
            ..kind("two or three on each stop, one slip")
        },
        Kind {
            stops: OneOrNone,
            scale: Eye,
            ..kind("by eye to 5 deg")
        },
        Kind {
            stops: OneOrNone,
            scale: EyeUntold,
            ..kind("by eye to 5 deg, resolution not given")
        },
        Kind {
            shape: Steep,
            ..kind("one on each stop, slope 0.3 to 3")
        },
        Kind {
            shape: Arc,
            stops: OneOrNone,
            ..kind("mm along an arc")
        },
        Kind {
            shape: Bent,
            ..kind("one on each stop, bent by 4 %")
        },
        Kind {
            stops: Free,
            ..kind("no stop")
        },
        Kind {
            stops: Free,
            scale: Untold,
            ..kind("no stop, resolution not given")
        },
        Kind {
            stops: Free,
            slip: true,
            ..kind("no stop, one slip")
        },
        Kind {
            stops: Free,
            shape: Bent,
            ..kind("no stop, bent by 4 %")
        },
        Kind {
            stops: Free,
            shape: DeadCentre,
            ..kind("no stop, a dead centre at one end")
        },
        Kind {
            stops: Free,
            shape: Jump,
            ..kind("no stop, a skipped tooth")
        },
        Kind {
            stops: TwoOrNone,
            shape: Sticky,
            ..kind("a sticky region")
        },
    ]
}

/// Where parameters are drawn from. What is reported is drawn from others than what a method is tuned on.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Ranges {
    /// Mixed into every seed.
    salt: u64,
    /// Commands of a walk, those on the stops beyond the first not counted.
    readings: (usize, usize),
    /// Between commands, deg.
    step: (f64, f64),
    resolutions: [f64; 3],
    /// Noise before rounding, in resolutions.
    noise: (f64, f64),
    /// Natural logarithm of the size of the slope.
    slope: (f64, f64),
    /// Lost motion, drive deg.
    play: (f64, f64),
    give: (f64, f64),
    /// Size of the bend, share of half the sweep.
    bend: (f64, f64),
    /// Skipped tooth, deg.
    tooth: (f64, f64),
    /// How far a stuck joint lags, deg.
    lag: (f64, f64),
}

pub(crate) const REPORTED: Ranges = Ranges {
    salt: 0x0b5e_55ed,
    readings: (7, 11),
    step: (5.0, 15.0),
    resolutions: [0.5, 1.0, 2.0],
    noise: (0.15, 0.6),
    slope: (-0.4, 0.4),
    play: (1.0, 5.0),
    give: (0.02, 0.10),
    bend: (0.03, 0.05),
    tooth: (8.0, 18.0),
    lag: (2.0, 5.0),
};

pub(crate) const TUNING: Ranges = Ranges {
    salt: 0x7e57_7e57,
    readings: (6, 13),
    step: (4.0, 18.0),
    resolutions: [0.25, 1.0, 1.5],
    noise: (0.2, 0.55),
    slope: (-0.6, 0.6),
    play: (0.5, 6.0),
    give: (0.01, 0.12),
    bend: (0.02, 0.06),
    tooth: (10.0, 20.0),
    lag: (1.5, 6.0),
};

/// What is at an end, with the angle at which the joint meets it before lost motion.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) enum Truth {
    Stop(f64),
    Free,
    /// Neither: the joint hardly moves there, though nothing holds it.
    Level,
}

/// A table and what is true of it.
#[derive(Debug, Clone)]
pub(crate) struct Table {
    pub(crate) drive: Vec<f64>,
    pub(crate) measured: Vec<f64>,
    pub(crate) approach: Option<Vec<Approach>>,
    pub(crate) resolution: Option<f64>,
    /// Lower, then upper.
    pub(crate) ends: [Truth; 2],
    /// Lost motion, drive deg.
    pub(crate) play: f64,
    /// Standard deviation of a reading with its rounding, drive deg.
    pub(crate) sd: f64,
    /// Smallest step of the scale, drive deg.
    pub(crate) grain: f64,
    /// Largest step between neighbouring commands, drive deg.
    pub(crate) step: f64,
    /// Rows that nothing is wrong with: no slip, not on a stop, not stuck.
    pub(crate) good: Vec<bool>,
    /// The row of the slip.
    pub(crate) slip: Option<usize>,
}

fn between(rng: &mut XorShiftRng, (low, high): (f64, f64)) -> f64 {
    rng.random_range(low..high)
}

fn chance(rng: &mut XorShiftRng, share: f64) -> bool {
    rng.random_range(0.0..1.0) < share
}

fn either(rng: &mut XorShiftRng) -> f64 {
    if chance(rng, 0.5) { 1.0 } else { -1.0 }
}

/// The same kind and seed give the same table, whatever other kinds there are.
fn generator(kind: &Kind, ranges: &Ranges, seed: u64) -> XorShiftRng {
    // FNV-1a over the name.
    let name = kind.name.bytes().fold(0xcbf2_9ce4_8422_2325_u64, |h, b| {
        (h ^ u64::from(b)).wrapping_mul(0x0100_0000_01b3)
    });
    let mixed = (name ^ ranges.salt.rotate_left(32)).wrapping_add(seed.wrapping_mul(0x9e37_79b9_7f4a_7c15));
    XorShiftRng::seed_from_u64(mixed)
}

/// Readings on the lower and the upper stop; none where the end is free.
fn beyond(rng: &mut XorShiftRng, stops: Stops) -> [usize; 2] {
    let mut pick = |some: [usize; 2]| if chance(rng, 0.5) { some } else { [some[1], some[0]] };
    match stops {
        Stops::Free => [0, 0],
        Stops::OneEach => [1, 1],
        Stops::OneOnOne => pick([1, 0]),
        Stops::TwoOnOne => pick([2, 0]),
        Stops::SomeEach => [rng.random_range(2..4), rng.random_range(2..4)],
        Stops::OneOrNone => [usize::from(chance(rng, 0.5)), usize::from(chance(rng, 0.5))],
        Stops::TwoOrNone => [2 * usize::from(chance(rng, 0.5)), 2 * usize::from(chance(rng, 0.5))],
    }
}

/// Commands as people choose them: whole degrees in even steps, in one table of four not quite even.
fn commands(rng: &mut XorShiftRng, step: f64, n: usize) -> Vec<f64> {
    let step = if step < 6.0 {
        (2.0 * step).round() / 2.0
    } else {
        step.round()
    };
    let first = between(rng, (0.0, 60.0)).round();
    let uneven = chance(rng, 0.25);
    (0..n)
        .map(|i| {
            let off = if uneven { between(rng, (-1.4, 1.4)).round() } else { 0.0 };
            first + step * i as f64 + off
        })
        .collect()
}

/// The commands in the order in which they are driven; a pass without a reading is `false`.
fn walked(rng: &mut XorShiftRng, walk: Walk, commands: &[f64]) -> Vec<(f64, bool)> {
    let read = |x: &f64| (*x, true);
    match walk {
        Walk::Once if chance(rng, 0.7) => commands.iter().map(read).collect(),
        Walk::Once => commands.iter().rev().map(read).collect(),
        Walk::ThereAndBack => {
            let shift = if chance(rng, 0.3) {
                0.5 * (commands[1] - commands[0]).floor()
            } else {
                0.0
            };
            let back = commands.iter().rev().skip(1).map(|x| (x + shift, true));
            commands.iter().map(read).chain(back).collect()
        }
        Walk::Outward => {
            let middle = commands.len() / 2;
            let again = chance(rng, 0.5);
            let up = commands.iter().skip(middle).map(read);
            let down = commands.iter().take(middle).rev().map(read);
            up.chain([(commands[middle], again)]).chain(down).collect()
        }
    }
}

/// Makes one table.
pub(crate) fn table(kind: &Kind, ranges: &Ranges, seed: u64) -> Table {
    let mut rng = generator(kind, ranges, seed);
    let rng = &mut rng;
    let held = beyond(rng, kind.stops);
    let more = match (kind.shape, kind.walk) {
        (Shape::Sticky, _) => 5,
        (_, Walk::ThereAndBack) => 2,
        _ => 0,
    };
    let n = rng.random_range(ranges.readings.0..ranges.readings.1 + 1)
        + more
        + held.iter().map(|k| k.saturating_sub(1)).sum::<usize>();
    let eye = matches!(kind.scale, Scale::Eye | Scale::EyeUntold);
    let least = if eye { ranges.step.0.max(8.0) } else { ranges.step.0 };
    let step = between(rng, (least, ranges.step.1));
    let commands = commands(rng, step, n);
    let play = if kind.sides == Sides::NoPlay {
        0.0
    } else {
        between(rng, ranges.play)
    };
    // A stop stands somewhere between the last reading that is clear of it and the first on it, as driven outward.
    let mut place = |outermost_in: f64, first_on: f64| {
        let depth = between(rng, (0.1, 1.0)) * (first_on - outermost_in).abs();
        first_on + (outermost_in - first_on).signum() * (depth + 0.5 * play)
    };
    let lower = if held[0] > 0 {
        place(commands[held[0]], commands[held[0] - 1])
    } else {
        f64::NEG_INFINITY
    };
    let upper = if held[1] > 0 {
        place(commands[n - held[1] - 1], commands[n - held[1]])
    } else {
        f64::INFINITY
    };
    let give = if kind.yields { between(rng, ranges.give) } else { 0.0 };

    let resolution = match kind.scale {
        Scale::Given | Scale::Untold => ranges.resolutions[rng.random_range(0..3)],
        Scale::Whole => 1.0,
        Scale::Eye | Scale::EyeUntold => 5.0,
    };
    let noise = resolution * between(rng, if eye { (0.1, 0.3) } else { ranges.noise });
    let joint = Joint::invent(rng, kind.shape, ranges, &commands);
    let gauss = Normal::new(0.0, noise).unwrap();
    let on_scale = |value: f64| (value / resolution).round() * resolution;

    let walk = walked(rng, kind.walk, &commands);
    let slope = joint.slope.abs();
    let sd = noise.hypot(resolution / 12.0_f64.sqrt()) / slope;
    let mut out = Table {
        drive: Vec::new(),
        measured: Vec::new(),
        approach: None,
        resolution: matches!(kind.scale, Scale::Given | Scale::Eye).then_some(resolution),
        ends: [lower, upper].map(|at| if at.is_finite() { Truth::Stop(at) } else { Truth::Free }),
        play,
        sd,
        grain: resolution / slope,
        step: commands.windows(2).map(|w| w[1] - w[0]).fold(0.0, f64::max),
        good: Vec::new(),
        slip: None,
    };
    if let Some(end) = joint.level_end {
        out.ends[end] = Truth::Level;
    }
    // A walk up begins at the lower end, which was driven to from above; one from the middle comes from either side.
    let mut side = match kind.walk {
        Walk::Once if walk[0].0 < walk[1].0 => 1.0,
        Walk::Once | Walk::ThereAndBack => -1.0,
        Walk::Outward => either(rng),
    };
    let mut engaged = walk[0].0 - 0.5 * side * play;
    let mut sides = Vec::new();
    let mut last = walk[0].0;
    for &(drive, read) in &walk {
        if drive != last {
            side = (drive - last).signum();
        }
        last = drive;
        // Lost motion as a play: what is driven stays where it is until the gap is taken up.
        engaged = engaged.max(drive - 0.5 * play).min(drive + 0.5 * play);
        if !read {
            continue;
        }
        let slack = (engaged - (drive - 0.5 * side * play)).abs() > sd;
        let (lag, stuck) = joint.lag(rng, drive, side);
        let wanted = engaged - lag;
        let free = wanted.max(lower).min(upper);
        let angle = free + give * (wanted - free);
        out.measured
            .push(on_scale(joint.value(angle, drive) + gauss.sample(rng)));
        out.drive.push(drive);
        out.good.push(wanted == free && !slack && !stuck);
        sides.push(if side > 0.0 { Approach::Below } else { Approach::Above });
    }
    if kind.sides == Sides::Told {
        out.approach = Some(sides);
    }
    if kind.slip {
        slip(rng, &mut out, kind.stops == Stops::Free, resolution, sd * slope);
    }
    out
}

/// A joint without its stops.
struct Joint {
    shape: Shape,
    /// Measured per drive deg, about.
    slope: f64,
    offset: f64,
    centre: f64,
    half: f64,
    /// Amplitude, cycles over half the sweep and phase of a bend; radius and whether it is a chord; angle gain and start.
    extra: [f64; 3],
    /// The end at which the crank is at its dead centre.
    level_end: Option<usize>,
    /// Drive angles between which the joint is stuck, or the one beyond which it has skipped.
    region: [f64; 2],
}

impl Joint {
    fn invent(rng: &mut XorShiftRng, shape: Shape, ranges: &Ranges, commands: &[f64]) -> Self {
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
            Shape::Arc => {
                let radius = between(rng, (30.0, 90.0));
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
    fn lag(&self, rng: &mut XorShiftRng, drive: f64, side: f64) -> (f64, bool) {
        if self.shape == Shape::Sticky && drive > self.region[0] && drive < self.region[1] {
            (side * self.extra[0] * between(rng, (0.3, 1.0)), true)
        } else {
            (0.0, false)
        }
    }

    fn value(&self, angle: f64, drive: f64) -> f64 {
        let radians = std::f64::consts::PI / 180.0;
        let [a, b, c] = self.extra;
        let off = angle - self.centre;
        match self.shape {
            Shape::Line | Shape::Steep | Shape::Sticky => self.offset + self.slope * off,
            Shape::Bent => {
                self.offset
                    + self.slope * (off + a * self.half * libm::sin(std::f64::consts::PI * b * off / self.half + c))
            }
            Shape::Jump => self.offset + self.slope * (off + if drive > self.region[0] { a } else { 0.0 }),
            // A chord is taken from where the sweep begins.
            Shape::Arc if b > 0.0 => self.slope.signum() * 2.0 * a * libm::sin(0.5 * radians * (off + self.half)),
            // A ruler shows no more of a half circle than 65 deg either way.
            Shape::Arc => self.slope.signum() * a * libm::sin(radians * off * (65.0 / self.half).min(1.0)),
            Shape::DeadCentre => self.offset + self.slope * a * libm::sin(radians * (b * angle + c)),
        }
    }
}

/// Writes one value down wrongly, so far off that it can be seen: between the readings on the stops, or anywhere where
/// there is no stop.
fn slip(rng: &mut XorShiftRng, table: &mut Table, anywhere: bool, resolution: f64, sd: f64) {
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

/// Two neighbouring digits changed about.
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
