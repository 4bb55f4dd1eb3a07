//! Joints with known truth, fitted by the thousand.
//!
//! A joint is swept over 80 degrees in 21 steps, up and down: 42 readings of a line of slope 1 between two stops, each
//! at a random place, with normal noise and, in some rows, gross misreadings or lost motion. All numbers are invented.

use elbowroom::fit::{Approach, EndKind, FitOptions, Readings, fit_limits};
use rand::{RngExt, SeedableRng};
use rand_distr::{Distribution, Normal};
use rand_xorshift::XorShiftRng;

/// One line of the table.
#[derive(Debug, Clone)]
pub(crate) struct Row {
    pub(crate) name: &'static str,
    pub(crate) noise: f64,
    /// Shares of all joints or ends.
    pub(crate) covered: f64,
    /// Root mean square knee error over that of least squares that is told the model and the misreadings.
    pub(crate) rms_ratio: f64,
    /// Share of ends without a stop that were called a contact, by joint.
    pub(crate) false_contact: f64,
    /// Share of ends with a stop that were called a contact.
    pub(crate) found: f64,
    /// Share of ends whose recommended travel, with guard 0, goes past the true stop: lower and upper.
    pub(crate) beyond: [f64; 2],
    /// Share of joints that were not fitted.
    pub(crate) refused: f64,
    /// Share of good readings rejected.
    pub(crate) good_rejected: f64,
}

impl Row {
    pub(crate) fn heading() -> &'static str {
        "| joints | noise | covered | knee rms ratio | stop found | false contact | travel beyond stop, lower / upper | refused | good readings left out |\n| --- | --- | --- | --- | --- | --- | --- | --- | --- |"
    }
}

impl std::fmt::Display for Row {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        let percent = |v: f64| {
            if v.is_nan() {
                String::from("-")
            } else {
                format!("{:.2} %", 100.0 * v)
            }
        };
        let ratio = if self.rms_ratio.is_nan() {
            String::from("-")
        } else {
            format!("{:.3}", self.rms_ratio)
        };
        write!(
            f,
            "| {} | {} | {} | {ratio} | {} | {} | {} / {} | {} | {} |",
            self.name,
            self.noise,
            percent(self.covered),
            percent(self.found),
            percent(self.false_contact),
            percent(self.beyond[0]),
            percent(self.beyond[1]),
            percent(self.refused),
            percent(self.good_rejected),
        )
    }
}

/// What joints a row holds.
#[derive(Clone, Copy)]
struct Case {
    name: &'static str,
    noise: f64,
    lower: bool,
    upper: bool,
    /// Share of misreadings, 5 to 30 degrees off either way.
    bad: f64,
    /// Lost motion in degrees, told by approach.
    play: Option<f64>,
    /// At least this many readings beyond each stop, at most this many.
    beyond: (usize, usize),
}

const STEPS: usize = 21;
const STEP: f64 = 4.0;

/// What became of one joint.
#[derive(Default, Clone, Copy)]
struct Tally {
    joints: f64,
    refused: f64,
    ends: f64,
    found: f64,
    covered: f64,
    squared: f64,
    squared_oracle: f64,
    false_contact: f64,
    beyond: [f64; 2],
    good: f64,
    good_rejected: f64,
}

impl Tally {
    fn add(&mut self, o: &Self) {
        self.joints += o.joints;
        self.refused += o.refused;
        self.ends += o.ends;
        self.found += o.found;
        self.covered += o.covered;
        self.squared += o.squared;
        self.squared_oracle += o.squared_oracle;
        self.false_contact += o.false_contact;
        self.beyond[0] += o.beyond[0];
        self.beyond[1] += o.beyond[1];
        self.good += o.good;
        self.good_rejected += o.good_rejected;
    }
}

fn joint(case: &Case, seed: u64) -> Tally {
    let mut rng = XorShiftRng::seed_from_u64(seed);
    let noise = Normal::new(0.0, case.noise).unwrap();
    let span = STEP * (STEPS - 1) as f64;
    // The stop stands at random between the readings that shall and those that shall not lie beyond it.
    let depth = |rng: &mut XorShiftRng| {
        let (least, most) = ((case.beyond.0.div_ceil(2) - 1) as f64, (case.beyond.1 / 2) as f64);
        STEP * rng.random_range(least..most)
    };
    let lower = if case.lower { depth(&mut rng) } else { f64::NEG_INFINITY };
    let upper = if case.upper {
        span - depth(&mut rng)
    } else {
        f64::INFINITY
    };
    let play = case.play.unwrap_or(0.0);
    let mut drive = Vec::new();
    let mut approach = Vec::new();
    for i in 0..STEPS {
        drive.push(STEP * i as f64);
        approach.push(Approach::Below);
    }
    for i in (0..STEPS).rev() {
        drive.push(STEP * i as f64);
        approach.push(Approach::Above);
    }
    let mut bad = Vec::new();
    let measured: Vec<f64> = drive
        .iter()
        .zip(&approach)
        .map(|(&x, a)| {
            let joint = (x - 0.5 * play * a.sign()).max(lower).min(upper);
            let wrong = rng.random_range(0.0..1.0) < case.bad;
            bad.push(wrong);
            let off = if wrong {
                rng.random_range(5.0..30.0) * if rng.random_range(0.0..1.0) < 0.5 { -1.0 } else { 1.0 }
            } else {
                0.0
            };
            joint + off + noise.sample(&mut rng)
        })
        .collect();
    let mut tally = Tally {
        joints: 1.0,
        ..Tally::default()
    };
    let mut readings = Readings::new(&drive, &measured);
    if case.play.is_some() {
        readings = readings.with_approach(&approach);
    }
    let options = FitOptions::default().with_guard(0.0);
    let Ok(fit) = fit_limits(&readings, &options) else {
        tally.refused = 1.0;
        return tally;
    };
    tally.good = bad.iter().filter(|b| !**b).count() as f64;
    tally.good_rejected = fit.rejected.iter().filter(|r| !bad[r.index]).count() as f64;
    // Least squares that is told the model, the misreadings and the lost motion.
    let told: Vec<(f64, f64)> = drive
        .iter()
        .zip(&measured)
        .zip(&approach)
        .zip(&bad)
        .filter(|(_, bad)| !**bad)
        .map(|(((&x, &y), a), _)| (x - 0.5 * play * a.sign(), y))
        .collect();
    let oracle = (case.lower && case.upper).then(|| oracle::both(&told)).flatten();
    let mut wrong = false;
    for (side, end, truth, travel) in [
        (0, &fit.lower, lower, fit.lower.travel - lower),
        (1, &fit.upper, upper, upper - fit.upper.travel),
    ] {
        let contact = end.kind == EndKind::Contact;
        if truth.is_finite() {
            tally.ends += 1.0;
            tally.found += f64::from(contact);
            tally.beyond[side] += f64::from(travel < 0.0);
            if contact {
                let [low, high] = end.interval.unwrap();
                tally.covered += f64::from(low <= truth && truth <= high);
                if let Some(o) = oracle {
                    tally.squared += (end.at - truth).powi(2);
                    tally.squared_oracle += (o[side] - truth).powi(2);
                }
            }
        } else {
            wrong |= contact;
        }
    }
    tally.false_contact = f64::from(wrong);
    tally
}

fn run(case: &Case, joints: usize, threads: usize) -> Row {
    let total = std::thread::scope(|scope| {
        let workers: Vec<_> = (0..threads)
            .map(|k| {
                scope.spawn(move || {
                    let mut sum = Tally::default();
                    for seed in (k..joints).step_by(threads) {
                        sum.add(&joint(case, 0x5eed_0000 + seed as u64));
                    }
                    sum
                })
            })
            .collect();
        let mut total = Tally::default();
        for worker in workers {
            total.add(&worker.join().unwrap());
        }
        total
    });
    let fitted = total.joints - total.refused;
    Row {
        name: case.name,
        noise: case.noise,
        covered: total.covered / total.found,
        rms_ratio: (total.squared / total.squared_oracle).sqrt(),
        false_contact: if case.lower && case.upper {
            f64::NAN
        } else {
            total.false_contact / fitted
        },
        found: total.found / total.ends,
        beyond: total
            .beyond
            .map(|b| if total.ends > 0.0 { b / fitted } else { f64::NAN }),
        refused: total.refused / total.joints,
        good_rejected: total.good_rejected / total.good,
    }
}

/// The table.
pub(crate) fn rows(joints: usize, threads: usize, only: &str) -> impl Iterator<Item = Row> {
    let plain = Case {
        name: "both stops",
        noise: 0.5,
        lower: true,
        upper: true,
        bad: 0.0,
        play: None,
        beyond: (4, 12),
    };
    let cases = [
        plain,
        Case {
            name: "both stops, 1 deg lost motion",
            play: Some(1.0),
            ..plain
        },
        Case {
            name: "both stops, 10 % misreadings",
            bad: 0.1,
            ..plain
        },
        Case {
            name: "both stops, 20 % misreadings",
            bad: 0.2,
            ..plain
        },
        Case {
            name: "no stop in range",
            lower: false,
            upper: false,
            ..plain
        },
        Case {
            name: "no stop in range, 10 % misreadings",
            lower: false,
            upper: false,
            bad: 0.1,
            ..plain
        },
        Case {
            name: "upper stop, 4 readings beyond",
            lower: false,
            beyond: (4, 4),
            ..plain
        },
    ];
    let only = only.to_owned();
    cases
        .into_iter()
        .filter(move |case| case.name.contains(&only))
        .flat_map(move |case| [0.2, 0.5, 1.0].map(|noise| run(&Case { noise, ..case }, joints, threads)))
}

/// Least squares of the true model by trying every place of both knees: slow, obvious, and none of the library's code.
mod oracle {
    /// Sums of one run of readings.
    fn line(points: &[(f64, f64)]) -> (f64, f64, f64) {
        let n = points.len() as f64;
        let (mx, my) = points.iter().fold((0.0, 0.0), |(a, b), (x, y)| (a + x / n, b + y / n));
        let (mut xx, mut xy) = (0.0, 0.0);
        for (x, y) in points {
            xx += (x - mx) * (x - mx);
            xy += (x - mx) * (y - my);
        }
        let slope = xy / xx;
        let intercept = my - slope * mx;
        let sse = points.iter().map(|(x, y)| (y - intercept - slope * x).powi(2)).sum();
        (intercept, slope, sse)
    }

    fn level(points: &[(f64, f64)]) -> (f64, f64) {
        let mean = points.iter().map(|(_, y)| y).sum::<f64>() / points.len() as f64;
        (mean, points.iter().map(|(_, y)| (y - mean).powi(2)).sum())
    }

    /// Both knees of the clipped line with the least sum of squares.
    pub(super) fn both(points: &[(f64, f64)]) -> Option<[f64; 2]> {
        let mut points = points.to_vec();
        points.sort_by(|a, b| a.0.total_cmp(&b.0));
        let mut best: Option<(f64, [f64; 2])> = None;
        let n = points.len();
        // Inside gaps, each run by itself.
        for i in 1..n - 3 {
            if points[i - 1].0 == points[i].0 {
                continue;
            }
            for j in i + 3..n {
                if points[j - 1].0 == points[j].0 {
                    continue;
                }
                let (low, sse_low) = level(&points[..i]);
                let (high, sse_high) = level(&points[j..]);
                let (a, b, sse) = line(&points[i..j]);
                let knees = [(low - a) / b, (high - a) / b];
                let inside = knees[0] >= points[i - 1].0
                    && knees[0] <= points[i].0
                    && knees[1] >= points[j - 1].0
                    && knees[1] <= points[j].0;
                let total = sse_low + sse + sse_high;
                if inside && best.is_none_or(|(least, _)| total < least) {
                    best = Some((total, knees));
                }
            }
        }
        // Optima that stand on a reading: from the best so far and from every pair of places, downhill in both knees.
        let sse = |[lower, upper]: [f64; 2]| {
            let clipped: Vec<(f64, f64)> = points.iter().map(|&(x, y)| (x.max(lower).min(upper), y)).collect();
            line(&clipped).2
        };
        let grid: Vec<f64> = (0..=40).map(|i| 2.0 * f64::from(i)).collect();
        for &lower in grid.iter().filter(|x| **x < 32.0) {
            for &upper in grid.iter().filter(|x| **x > 48.0) {
                let total = sse([lower, upper]);
                if best.is_none_or(|(least, _)| total < least) {
                    best = Some((total, [lower, upper]));
                }
            }
        }
        let (mut least, mut knees) = best?;
        let mut step = 1.0;
        while step > 1e-4 {
            let mut gained = false;
            for (side, way) in [(0, step), (0, -step), (1, step), (1, -step)] {
                let mut trial = knees;
                trial[side] += way;
                let total = sse(trial);
                if total < least {
                    (least, knees, gained) = (total, trial, true);
                }
            }
            if !gained {
                step *= 0.5;
            }
        }
        Some(knees)
    }
}
