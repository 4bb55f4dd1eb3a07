//! Tables of readings as a person at a bench writes them down, with the joint behind them known.
//!
//! Every joint is invented. A table is a walk of the drive over round commands, one reading at each: the joint follows
//! through lost motion and a shape (line, bend, arc, crank, skipped tooth, sticky region) until a stop holds it, and the
//! value is read with noise off a scale with a smallest step. Nothing of the library's model is used.

use super::joint::{Joint, slip};
use super::kinds::{Kind, Ranges, Scale, Shape, Sides, Stops, Walk};
use elbowroom::fit::Approach;
use rand::{RngExt, SeedableRng};
use rand_distr::{Distribution, Normal};
use rand_xorshift::XorShiftRng;

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
    /// The same at either stop, where a bent joint moves more or less than on average.
    pub(crate) sd_at: [f64; 2],
    /// Smallest step of the scale, drive deg.
    pub(crate) grain: f64,
    /// Largest step between neighbouring commands, drive deg.
    pub(crate) step: f64,
    /// Rows that nothing is wrong with: no slip, not on a stop, not stuck.
    pub(crate) good: Vec<bool>,
    /// The row of the slip.
    pub(crate) slip: Option<usize>,
}

pub(super) fn between(rng: &mut XorShiftRng, (low, high): (f64, f64)) -> f64 {
    rng.random_range(low..high)
}

pub(super) fn chance(rng: &mut XorShiftRng, share: f64) -> bool {
    rng.random_range(0.0..1.0) < share
}

pub(super) fn either(rng: &mut XorShiftRng) -> f64 {
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
    // Nobody writes a negative zero.
    let on_scale = |value: f64| (value / resolution).round() * resolution + 0.0;

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
        sd_at: [lower, upper].map(|at| {
            let local = joint.slope_at(at);
            if local > 0.0 { sd * slope / local } else { sd }
        }),
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
