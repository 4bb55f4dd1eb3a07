//! What becomes of tables as people write them down at a bench: counted, and held against what is promised.

mod joint;
pub(crate) mod kinds;
pub(crate) mod tables;

use elbowroom::fit::{Approach, End, FitOptions, LimitFit, Readings, fit_limits};
use kinds::{Kind, Ranges, Scale, Shape, Sides};
use tables::{Table, Truth};

/// Travel counts as past a stop beyond the larger of these: drive deg, and standard deviations of a reading.
const PAST: (f64, f64) = (1.0, 4.0);
/// A contact's interval narrower than this share of the scale's step pretends to more than can be read.
const NARROW: f64 = 0.25;
/// Warnings that tell what was assumed or what to do next, and nothing of an end: they do not break a silence.
const NO_ALARM: [&str; 2] = ["Resolution", "Next"];

/// Counts over the tables of a kind. All are whole numbers but the worst: the sum is the same in any order.
#[derive(Debug, Clone, Copy, Default)]
pub(crate) struct Count {
    pub(crate) tables: usize,
    pub(crate) refused: usize,
    /// Ends with a stop, of tables that were fitted.
    pub(crate) real: usize,
    pub(crate) past: usize,
    pub(crate) silent: usize,
    pub(crate) worst: f64,
    /// Ends with a stop whose travel gives away more than two steps and the guard.
    pub(crate) given_away: usize,
    pub(crate) placed: usize,
    pub(crate) held: usize,
    pub(crate) narrow: usize,
    /// Ends without a stop, and those of them where the joint goes on freely.
    pub(crate) stopless: usize,
    pub(crate) free: usize,
    pub(crate) false_contact: usize,
    pub(crate) shortened: usize,
    /// Tables of which a good row was left out.
    pub(crate) rows: usize,
    /// Tables with a slip, a bend, a jump or a sticky region; those of which it is named; those without any word.
    pub(crate) odd: usize,
    pub(crate) named: usize,
    pub(crate) mute: usize,
}

impl Count {
    fn add(&mut self, o: &Self) {
        for (sum, more) in [
            (&mut self.tables, o.tables),
            (&mut self.refused, o.refused),
            (&mut self.real, o.real),
            (&mut self.past, o.past),
            (&mut self.silent, o.silent),
            (&mut self.given_away, o.given_away),
            (&mut self.placed, o.placed),
            (&mut self.held, o.held),
            (&mut self.narrow, o.narrow),
            (&mut self.stopless, o.stopless),
            (&mut self.free, o.free),
            (&mut self.false_contact, o.false_contact),
            (&mut self.shortened, o.shortened),
            (&mut self.rows, o.rows),
            (&mut self.odd, o.odd),
            (&mut self.named, o.named),
            (&mut self.mute, o.mute),
        ] {
            *sum += more;
        }
        self.worst = self.worst.max(o.worst);
    }
}

/// Fits a table as its writer would: defaults, and what is written down.
pub(crate) fn fitted(table: &Table) -> Option<LimitFit> {
    let mut readings = Readings::new(&table.drive, &table.measured);
    if let Some(approach) = &table.approach {
        readings = readings.with_approach(approach);
    }
    let mut options = FitOptions::default();
    if let Some(resolution) = table.resolution {
        options = options.with_resolution(resolution);
    }
    fit_limits(&readings, &options).ok()
}

/// Judges what was made of one table.
pub(crate) fn judge(kind: &Kind, table: &Table, fit: Option<&LimitFit>) -> Count {
    let mut count = Count {
        tables: 1,
        ..Count::default()
    };
    let Some(fit) = fit else {
        count.refused = 1;
        return count;
    };
    let alarms: Vec<String> = fit
        .warnings
        .iter()
        .map(|w| format!("{w:?}"))
        .filter(|w| !NO_ALARM.iter().any(|word| w.starts_with(word)))
        .collect();
    for (side, end) in [&fit.lower, &fit.upper].into_iter().enumerate() {
        judge_end(&mut count, table, side, end, alarms.is_empty());
    }
    count.rows = usize::from(fit.rejected.iter().any(|r| table.good[r.index]));
    let says = |words: &[&str]| usize::from(alarms.iter().any(|w| words.iter().any(|word| w.starts_with(word))));
    let named = match kind.shape {
        _ if kind.slip => Some(usize::from(fit.rejected.iter().any(|r| Some(r.index) == table.slip))),
        Shape::Jump => Some(says(&["Jump", "Slipped"])),
        Shape::Bent | Shape::Across | Shape::DeadCentre => Some(says(&["Curved", "Bent", "Level"])),
        Shape::Sticky => Some(says(&[
            "Scatter",
            "Misfit",
            "Plateau",
            "Jump",
            "Sticky",
            "ManyRejected",
            "Curved",
        ])),
        Shape::Line | Shape::Steep | Shape::Along => None,
    };
    if let Some(named) = named {
        count.odd = 1;
        count.named = named;
        count.mute = usize::from(alarms.is_empty() && fit.rejected.is_empty() && named == 0);
    }
    count
}

fn judge_end(count: &mut Count, table: &Table, side: usize, end: &End, no_alarm: bool) {
    let outward = if side == 0 { -1.0 } else { 1.0 };
    let kind = end.kind.as_str();
    let contact = kind == "contact";
    match table.ends[side] {
        Truth::Stop(at) => {
            count.real += 1;
            // The stop is met later by half the lost motion when driven outward.
            let over = outward * (end.travel - at) - 0.5 * table.play;
            count.worst = count.worst.max(over);
            if over > PAST.0.max(PAST.1 * table.sd_at[side]) {
                count.past += 1;
                count.silent += usize::from(no_alarm && kind != "stalled");
            }
            count.given_away += usize::from(-over > end.guard + 2.0 * table.step + table.play);
            if contact {
                count.placed += 1;
                let [low, high] = end.interval.unwrap_or([f64::NAN; 2]);
                // Without sides a contact is the angle at which the drive was seen to meet the stop.
                let slack = if table.approach.is_some() {
                    0.0
                } else {
                    0.5 * table.play
                };
                count.held += usize::from(low - slack <= at && at <= high + slack);
                count.narrow += usize::from(high - low < NARROW * table.grain);
            }
        }
        truth => {
            count.stopless += 1;
            count.false_contact += usize::from(contact);
            if truth == Truth::Free {
                count.free += 1;
                // A slip on the outermost row takes that row's word away.
                let outermost = table
                    .drive
                    .iter()
                    .zip(&table.good)
                    .filter(|(_, good)| **good)
                    .map(|(x, _)| outward * x)
                    .fold(f64::NEG_INFINITY, f64::max);
                count.shortened += usize::from(outward * end.travel < outermost - 1e-6);
            }
        }
    }
}

/// Counts over seeds, on so many threads.
pub(crate) fn run(kind: &Kind, ranges: &Ranges, seeds: usize, threads: usize) -> Count {
    std::thread::scope(|scope| {
        let workers: Vec<_> = (0..threads.max(1))
            .map(|k| {
                scope.spawn(move || {
                    let mut sum = Count::default();
                    for seed in (k..seeds).step_by(threads.max(1)) {
                        let table = tables::table(kind, ranges, seed as u64);
                        sum.add(&judge(kind, &table, fitted(&table).as_ref()));
                    }
                    sum
                })
            })
            .collect();
        let mut total = Count::default();
        for worker in workers {
            total.add(&worker.join().unwrap());
        }
        total
    })
}

/// Shares that a kind may show at most; `held` at least.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Limits {
    pub(crate) past: f64,
    pub(crate) silent: f64,
    pub(crate) held: f64,
    pub(crate) narrow: f64,
    pub(crate) false_contact: f64,
    pub(crate) rows: f64,
    pub(crate) shortened: f64,
    pub(crate) refused: f64,
    pub(crate) mute: f64,
}

impl Limits {
    pub(crate) fn of(kind: &Kind) -> Self {
        let untold =
            matches!(kind.scale, Scale::Untold | Scale::Whole | Scale::EyeUntold) || kind.sides == Sides::Untold;
        let bent = matches!(kind.shape, Shape::Bent | Shape::Across | Shape::DeadCentre);
        Self {
            past: if kind.slip {
                0.04
            } else if matches!(kind.shape, Shape::Bent | Shape::Across | Shape::Sticky) {
                // Beyond what was promised: a stop behind a bend, where an arc flattens, or beside readings that stuck.
                0.05
            } else if untold {
                0.02
            } else {
                0.01
            },
            silent: 0.005,
            held: if bent {
                // Of the few contacts that are named on a bent joint no share is promised.
                0.0
            } else if kind.yields {
                0.90
            } else {
                0.93
            },
            narrow: 0.0,
            // At a dead centre more than was promised: it is level as a stop is.
            false_contact: if kind.shape == Shape::DeadCentre { 0.05 } else { 0.01 },
            rows: 0.03,
            // Beyond a skipped tooth no travel is to be recommended: ends there may well be shortened.
            shortened: if kind.shape == Shape::Jump {
                1.0
            } else if matches!(kind.shape, Shape::Across | Shape::DeadCentre) {
                // More than was promised: a strong bend and one reading short of it look alike.
                0.16
            } else if bent {
                0.06
            } else {
                0.03
            },
            refused: 0.01,
            mute: if matches!(kind.shape, Shape::Jump) || kind.slip {
                0.005
            } else {
                1.0
            },
        }
    }

    /// The names of the shares that are over; each limit is first given `room(limit, of)`.
    pub(crate) fn over(&self, c: &Count, room: impl Fn(f64, usize) -> f64) -> Vec<&'static str> {
        let most = [
            ("past a stop", c.past, c.real, self.past),
            ("silent", c.silent, c.real, self.silent),
            ("intervals missed", c.placed - c.held, c.placed, 1.0 - self.held),
            ("intervals too narrow", c.narrow, c.placed, self.narrow),
            ("false contact", c.false_contact, c.stopless, self.false_contact),
            ("good rows left out", c.rows, c.tables - c.refused, self.rows),
            ("shortened", c.shortened, c.free, self.shortened),
            ("refused", c.refused, c.tables, self.refused),
            ("mute", c.mute, c.odd, self.mute),
        ];
        most.into_iter()
            .filter(|&(_, seen, of, limit)| of > 0 && seen as f64 > of as f64 * (limit + room(limit, of)) + 1e-9)
            .map(|(name, ..)| name)
            .collect()
    }
}

/// Kind and counts as a line of the table.
pub(crate) struct Row {
    pub(crate) name: &'static str,
    pub(crate) count: Count,
    pub(crate) over: Vec<&'static str>,
}

pub(crate) const HEADING: &str = "| table | past a stop | silently | worst, deg | given away | contacts placed | hold the stop | false contact | good rows left out | free ends shortened | refused | oddity named | mute | |\n| --- | --- | --- | --- | --- | --- | --- | --- | --- | --- | --- | --- | --- | --- |";

impl std::fmt::Display for Row {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        let c = &self.count;
        let share = |seen: usize, of: usize| match of {
            0 => String::from("-"),
            _ => format!("{:.2} %", 100.0 * seen as f64 / of as f64),
        };
        let worst = if c.real > 0 {
            format!("{:.1}", c.worst)
        } else {
            String::from("-")
        };
        let verdict = match self.over.as_slice() {
            [] => String::from("OK"),
            over => format!("over: {}", over.join(", ")),
        };
        write!(
            f,
            "| {} | {} | {} | {worst} | {} | {} | {} | {} | {} | {} | {} | {} | {} | {verdict} |",
            self.name,
            share(c.past, c.real),
            share(c.silent, c.real),
            share(c.given_away, c.real),
            share(c.placed, c.real),
            share(c.held, c.placed),
            share(c.false_contact, c.stopless),
            share(c.rows, c.tables - c.refused),
            share(c.shortened, c.free),
            share(c.refused, c.tables),
            share(c.named, c.odd),
            share(c.mute, c.odd),
        )
    }
}

/// A table as CSV, for a look at a single one.
pub(crate) fn csv(table: &Table) -> String {
    let mut out = String::from("drive,measured,approach\n");
    for (i, (x, y)) in table.drive.iter().zip(&table.measured).enumerate() {
        let side = match table.approach.as_ref().map(|a| a[i]) {
            Some(Approach::Below) => "below",
            Some(Approach::Above) => "above",
            _ => "",
        };
        out += &format!("{x},{y},{side}\n");
    }
    out
}
