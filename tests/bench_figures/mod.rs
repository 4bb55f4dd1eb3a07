//! Figures of bring-ups with typed readings over invented joints: shared by the test and the bench.
// For developers: it may stop where something cannot be.
#![allow(
    clippy::unwrap_used,
    clippy::expect_used,
    clippy::indexing_slicing,
    clippy::panic,
    dead_code,
    unreachable_pub
)]

use elbowroom::bring_up::{Action, Bench, EndFound, Question, Report, Side, Verdict, Watch};
use elbowroom::fit::{Approach, End, FitOptions, LimitFit, Readings, fit_limits};
use elbowroom::rehearsal::{BenchKind, BenchRehearsal, Typist, VirtualJoint};
use std::collections::BTreeMap;

/// How a row of the table is made.
#[derive(Clone, Copy)]
pub struct Row {
    pub name: &'static str,
    pub kind: BenchKind,
    pub watch: Watch,
    pub feel_stops: bool,
    pub slip_rate: f64,
    pub wrong_answer_rate: f64,
    pub overtravel: f64,
}

impl Row {
    pub const fn of(name: &'static str, kind: BenchKind, feel_stops: bool) -> Self {
        Self {
            name,
            kind,
            watch: Watch::SensorOnly,
            feel_stops,
            slip_rate: 1.0 / 30.0,
            wrong_answer_rate: 0.05,
            overtravel: if feel_stops { 8.0 } else { 5.0 },
        }
    }
}

#[derive(Default)]
pub struct Figures {
    pub typed: Vec<f64>,
    pub err: Vec<f64>,
    pub u: Vec<f64>,
    pub covered: Vec<bool>,
    /// Beyond a stop as met: of each end of each joint.
    pub over: Vec<f64>,
    pub past: Vec<bool>,
    pub slope: Vec<f64>,
    pub lost: Vec<f64>,
    pub moves: Vec<f64>,
    pub turns: Vec<f64>,
    pub slips: u32,
    /// Slips far enough off to be told that were believed all the same.
    pub believed: u32,
    pub ended: BTreeMap<&'static str, u32>,
    pub not_felt: u32,
    pub stages: BTreeMap<&'static str, f64>,
}

pub fn quantile(values: &[f64], p: f64) -> f64 {
    let mut sorted = values.to_vec();
    sorted.sort_by(f64::total_cmp);
    if sorted.is_empty() {
        return f64::NAN;
    }
    sorted[((p * (sorted.len() - 1) as f64).round() as usize).min(sorted.len() - 1)]
}

pub fn part(values: &[bool]) -> f64 {
    values.iter().filter(|v| **v).count() as f64 / values.len().max(1) as f64
}

pub fn rms(values: &[f64]) -> f64 {
    (values.iter().map(|v| v * v).sum::<f64>() / values.len().max(1) as f64).sqrt()
}

impl Figures {
    pub fn largest(&self) -> f64 {
        self.over.iter().copied().fold(f64::NEG_INFINITY, f64::max)
    }

    pub fn beyond(&self, bound: f64) -> f64 {
        part(&self.over.iter().map(|o| *o > bound + 1e-6).collect::<Vec<_>>())
    }

    fn commanded(&mut self, joint: &VirtualJoint) {
        let ([lower, upper], [least, most]) = (joint.latest_contacts(), joint.commanded());
        self.over.push(lower - least);
        self.over.push(most - upper);
    }

    fn ends(&mut self, joint: &VirtualJoint, lower: Option<EndFound>, upper: Option<EndFound>) {
        let (contacts, met) = (joint.contacts(), joint.latest_contacts());
        for (index, end) in [lower, upper].into_iter().enumerate() {
            let Some(end) = end else { continue };
            let sign = [-1.0, 1.0][index];
            self.past.push(sign * (end.travel - met[index]) > 0.0);
            if let (Some(u), Some([low, high])) = (end.u, end.interval)
                && (index == 0 || contacts[index] < 204.0)
            {
                self.err.push(end.at - contacts[index]);
                self.u.push(u);
                self.covered.push(low <= contacts[index] && contacts[index] <= high);
            }
        }
    }

    fn fitted(&mut self, joint: &VirtualJoint, fit: &LimitFit) {
        let [low, high] = joint.record().readings;
        self.slope.push((fit.slope / ((high - low) / 180.0) - 1.0).abs());
        let true_lost = if joint.record().watch == Watch::SensorOnly {
            joint.record().lost_motion
        } else {
            0.0
        };
        self.lost.push((fit.lost_motion.in_drive() - true_lost).abs());
    }

    /// One bring-up at the bench.
    pub fn run(&mut self, row: Row, seed: u64) {
        let BenchRehearsal {
            mut joint,
            mut plan,
            late,
            ..
        } = BenchRehearsal::drawn(row.kind, row.watch, row.feel_stops, seed).unwrap();
        plan.overtravel = row.overtravel;
        let mut typist = Typist::new(row.slip_rate, row.wrong_answer_rate, late, seed);
        let mut bench = Bench::new(plan).unwrap();
        let (mut moves, mut turns) = (0, 0);
        let mut slipped = Vec::new();
        loop {
            let action = bench.next();
            let slips = typist.slips();
            if action == Action::Read {
                *self.stages.entry(bench.stage()).or_default() += 1.0;
            }
            let Some(report) = typist.carry_out(&action, &mut joint) else {
                break;
            };
            moves += u32::from(matches!(action, Action::MoveTo { .. }));
            turns += u32::from(matches!(
                action,
                Action::Ask {
                    question: Question::TurnFromMark { .. },
                    ..
                }
            ));
            bench.report(report).unwrap();
            if typist.slips() > slips {
                slipped.push(bench.readings().len() - 1);
            }
        }
        self.slips += typist.slips();
        self.commanded(&joint);
        self.turns.push(f64::from(turns));
        let outcome = bench.outcome().unwrap();
        self.not_felt += u32::from(bench.is_not_the_stop_felt().contains(&true));
        match outcome.verdict {
            Verdict::Ready => {}
            Verdict::Faulty { fault, .. } => {
                *self.ended.entry(fault.as_str()).or_default() += 1;
                return;
            }
            _ => panic!("{:?}", outcome.verdict),
        }
        self.typed.push(bench.readings().len() as f64);
        self.moves.push(f64::from(moves));
        self.ends(&joint, outcome.lower, outcome.upper);
        let fit = outcome.fit.as_ref().unwrap();
        self.fitted(&joint, fit);
        for index in slipped {
            let reading = bench.readings()[index];
            if let (true, Some(drive)) = (reading.is_used, reading.drive) {
                let side = if reading.toward == Side::Upper { 0.5 } else { -0.5 };
                let reversal = match fit.lost_motion {
                    elbowroom::fit::LostMotion::Measured { reversal, .. } => reversal,
                    _ => 0.0,
                };
                // On a stop the side from which it was reached makes no difference.
                let off = reading.value - fit.expected(drive);
                let least = off.abs().min((off - side * reversal).abs());
                self.believed += u32::from(least > 5.0 * plan.u_reading);
            }
        }
    }

    /// The same joint by equal steps of 2.5 deg to where the reading has stood still three times, then a sweep of 5 deg both ways.
    pub fn run_equal(&mut self, row: Row, seed: u64) {
        let BenchRehearsal {
            mut joint, plan, late, ..
        } = BenchRehearsal::drawn(row.kind, row.watch, row.feel_stops, seed).unwrap();
        let mut typist = Typist::new(row.slip_rate, row.wrong_answer_rate, late, seed);
        let (mut x, mut y, mut approach) = (Vec::new(), Vec::new(), Vec::new());
        let mut moves = 0;
        let mut read = |joint: &mut VirtualJoint, at: f64, from: Approach| {
            joint.move_to(at, 20.0);
            joint.wait(1.0);
            moves += 1;
            if let Some(Report::Reading { value, .. }) = typist.carry_out(&Action::Read, joint) {
                x.push(at);
                y.push(value);
                approach.push(from);
                return value;
            }
            f64::NAN
        };
        let mut ends = [0.0; 2];
        for (sign, from, index) in [(1.0, Approach::Below, 1), (-1.0, Approach::Above, 0)] {
            joint.move_to(plan.start - sign * 3.0, 20.0);
            let mut got: Vec<f64> = Vec::new();
            let mut at = plan.start + sign * plan.clearance;
            loop {
                got.push(read(&mut joint, at, from));
                let n = got.len();
                let still = n > 3 && {
                    let way = (got[n - 4] - got[0]).abs() / (n - 4).max(1) as f64;
                    (1..=2).all(|k| (got[n - k] - got[n - 1 - k]).abs() < 0.5 * way.max(1.0))
                };
                if still || !(2.5..=177.5).contains(&at) {
                    break;
                }
                at += sign * 2.5;
            }
            ends[index] = at;
            joint.move_to(plan.start, 20.0);
        }
        for (sign, from, index) in [(1.0, Approach::Below, 0), (-1.0, Approach::Above, 1)] {
            joint.move_to(ends[index], 20.0);
            let mut at = ends[index] + sign * 10.0;
            while sign * (ends[1 - index] - at) > 0.0 {
                read(&mut joint, at, from);
                at += sign * 5.0;
            }
        }
        self.commanded(&joint);
        let options = FitOptions::default().with_guard(plan.guard).with_resolution(1.0);
        match fit_limits(&Readings::new(&x, &y).with_approach(&approach), &options) {
            Ok(fit) => {
                self.typed.push(x.len() as f64);
                self.moves.push(f64::from(moves));
                self.ends(&joint, Some(found(&fit.lower)), Some(found(&fit.upper)));
                self.fitted(&joint, &fit);
            }
            Err(_) => *self.ended.entry("refused").or_default() += 1,
        }
    }
}

fn found(end: &End) -> EndFound {
    EndFound {
        kind: end.kind,
        at: end.at,
        short_at: None,
        u: end.u,
        interval: end.interval,
        travel: end.travel,
    }
}

impl Figures {
    pub fn heading() {
        println!(
            "| joints | typed, median | 95 % | error rms | 95 % | u, median | 95 % | 95 % intervals hold | lost motion 95 % | furthest beyond | past the overtravel | travel past a stop | no result |"
        );
        println!("{}|", "| --- ".repeat(13));
    }

    pub fn print(&self, name: &str, bound: f64) {
        let q = quantile;
        let sizes: Vec<f64> = self.err.iter().map(|e| e.abs()).collect();
        let ended: Vec<String> = self.ended.iter().map(|(why, n)| format!("{why} {n}")).collect();
        println!(
            "| {name} | {:.0} | {:.0} | {:.2} | {:.2} | {:.2} | {:.2} | {:.1} % | {:.2} | {:.1} of {bound:.0} | {:.2} % | {:.2} % | {} |",
            q(&self.typed, 0.5),
            q(&self.typed, 0.95),
            rms(&self.err),
            q(&sizes, 0.95),
            q(&self.u, 0.5),
            q(&self.u, 0.95),
            100.0 * part(&self.covered),
            q(&self.lost, 0.95),
            self.largest(),
            100.0 * self.beyond(bound),
            100.0 * part(&self.past),
            if ended.is_empty() {
                "none".into()
            } else {
                ended.join(", ")
            },
        );
        if std::env::var_os("SHOW_STAGES").is_some() {
            let joints = self.turns.len() as f64;
            let stages: Vec<String> = self
                .stages
                .iter()
                .map(|(stage, n)| format!("{stage} {:.1}", n / joints))
                .collect();
            println!(
                "  moves {:.0}; turns of the hand, most {:.0}; slips {}, believed {}; not the stop felt {}; readings {stages:?}",
                q(&self.moves, 0.5),
                q(&self.turns, 1.0),
                self.slips,
                self.believed,
                self.not_felt,
            );
        }
    }
}
