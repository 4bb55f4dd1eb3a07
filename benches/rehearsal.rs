//! The figures of the bring-up, from seeds: healthy joints, broken joints, people who err, and probes against equal steps.
//!
//!     cargo bench --bench rehearsal --features rehearsal             all healthy seeds: 100,000
//!     cargo bench --bench rehearsal --features rehearsal -- 2000     fewer
//!
//! Seeds are taken in batches by as many threads as the machine has; the figures are added up in the order of the batches, so
//! they are the same however many threads there are.
// A program for its developers: it may stop where something cannot be.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::indexing_slicing, clippy::panic)]

use elbowroom::bring_up::{Bracket, BracketPlan, EndFound, Fault, Found, Outcome, Session, Side, StopSearch, Verdict};
use elbowroom::rehearsal::{Person, Rehearsal, VirtualJoint, VirtualRecord};
use std::collections::BTreeMap;
use std::sync::Mutex;
use std::sync::atomic::{AtomicU32, Ordering};
use std::time::Instant;

fn run(rehearsal: Rehearsal, wrong_answer_rate: f64, seed: u64) -> (VirtualJoint, Outcome) {
    let Rehearsal { mut joint, plan } = rehearsal;
    let mut person = Person::new(wrong_answer_rate, seed);
    let mut session = Session::new(plan).expect("a plan");
    while let Some(report) = person.carry_out(&session.next(), &mut joint) {
        session.report(report).expect("a report that belongs");
    }
    let outcome = session.outcome().expect("an outcome").clone();
    (joint, outcome)
}

/// Names of what ended a bring-up.
fn name(outcome: &Outcome) -> &'static str {
    match outcome.verdict {
        Verdict::Ready => "ready",
        Verdict::Faulty { fault, .. } => fault.as_str(),
        _ => "stopped",
    }
}

#[derive(Default)]
struct Healthy {
    rejected: BTreeMap<&'static str, u32>,
    /// Furthest command beyond a true contact, in steps.
    overtravel: f64,
    outside: u32,
    ends: u32,
    covered: u32,
    off: f64,
    squares: f64,
    /// Stated standard uncertainties, and squares of the error in them.
    u: f64,
    in_u: f64,
    /// Errors, counted outward.
    outward: f64,
    by_contact: u32,
}

impl Healthy {
    fn take(&mut self, joint: &VirtualJoint, outcome: &Outcome, step: f64) {
        let contacts = joint.contacts();
        let commanded = joint.commanded();
        let latest = joint.latest_contacts();
        for (sign, contact, command) in [(-1.0, latest[0], commanded[0]), (1.0, latest[1], commanded[1])] {
            self.overtravel = self.overtravel.max((command - contact) * sign / step);
        }
        if outcome.verdict != Verdict::Ready {
            *self.rejected.entry(name(outcome)).or_default() += 1;
            return;
        }
        let travel = outcome.travel().expect("a travel");
        let stops = joint.record().stops;
        self.outside += u32::from(travel[0] < stops[0] || travel[1] > stops[1]);
        for (sign, end, contact) in [(-1.0, outcome.lower, contacts[0]), (1.0, outcome.upper, contacts[1])] {
            if let Some(EndFound {
                at,
                interval: Some([low, high]),
                u: Some(u),
                ..
            }) = end
            {
                self.ends += 1;
                self.covered += u32::from(low <= contact && contact <= high);
                self.off += at - contact;
                self.squares += (at - contact) * (at - contact);
                self.outward += sign * (at - contact);
                self.u += u;
                self.in_u += (at - contact) * (at - contact) / (u * u);
            }
        }
        let fit = outcome.fit.as_ref().expect("a fit");
        for end in [&fit.lower, &fit.upper] {
            self.by_contact += u32::from(end.kind == elbowroom::fit::EndKind::Contact);
        }
    }

    fn add(&mut self, other: &Self) {
        for (&name, n) in &other.rejected {
            *self.rejected.entry(name).or_default() += n;
        }
        self.overtravel = self.overtravel.max(other.overtravel);
        self.outside += other.outside;
        self.ends += other.ends;
        self.covered += other.covered;
        self.off += other.off;
        self.squares += other.squares;
        self.u += other.u;
        self.in_u += other.in_u;
        self.outward += other.outward;
        self.by_contact += other.by_contact;
    }

    fn print(&self, seeds: u32, seconds: f64) {
        let rejected: u32 = self.rejected.values().sum();
        let ends = f64::from(self.ends);
        println!("healthy joints                          {seeds}");
        println!(
            "rejected                                {rejected} = {:.2} % {:?}",
            100.0 * f64::from(rejected) / f64::from(seeds),
            self.rejected
        );
        println!(
            "furthest command beyond a true contact  {:.2} steps (stated: {:.2})",
            self.overtravel,
            StopSearch::MOST_OVERTRAVEL
        );
        println!("final travel outside the stops          {}", self.outside);
        println!(
            "ends found by contact                   {} of {}; by the fit {}",
            self.ends,
            2 * (seeds - rejected),
            self.by_contact
        );
        println!(
            "true contact within the 95 % interval   {:.1} %",
            100.0 * f64::from(self.covered) / ends
        );
        println!(
            "found less true                         mean {:+.3} deg, outward {:+.3} deg, root mean square {:.3} deg",
            self.off / ends,
            self.outward / ends,
            (self.squares / ends).sqrt()
        );
        println!(
            "stated standard uncertainty             mean {:.3} deg; root mean square of the error in it {:.2}",
            self.u / ends,
            (self.in_u / ends).sqrt()
        );
        println!(
            "time                                    {seconds:.1} s, {:.0} us each\n",
            1e6 * seconds / f64::from(seeds)
        );
    }
}

/// What `one` makes of each batch of numbers below `count`, in the order of the batches.
fn in_batches<R: Send>(count: u32, one: impl Fn(std::ops::Range<u32>) -> R + Sync) -> Vec<R> {
    const BATCH: u32 = 50;
    let (next, done) = (AtomicU32::new(0), Mutex::new(Vec::new()));
    let threads = std::thread::available_parallelism().map_or(1, usize::from);
    std::thread::scope(|scope| {
        for _ in 0..threads {
            scope.spawn(|| {
                loop {
                    let batch = next.fetch_add(1, Ordering::Relaxed);
                    let from = batch * BATCH;
                    if from >= count {
                        break;
                    }
                    let result = one(from..(from + BATCH).min(count));
                    done.lock().expect("no batch stops").push((batch, result));
                }
            });
        }
    });
    let mut done = done.into_inner().expect("no batch stops");
    done.sort_by_key(|&(batch, _)| batch);
    done.into_iter().map(|(_, result)| result).collect()
}

fn healthy(seeds: u32, wrong_answer_rate: f64) {
    let start = Instant::now();
    let batches = in_batches(seeds, |batch| {
        let mut figures = Healthy::default();
        for seed in batch {
            let rehearsal = Rehearsal::healthy(seed.into()).expect("a joint");
            let step = rehearsal.plan.step;
            let (joint, outcome) = run(rehearsal, wrong_answer_rate, seed.into());
            figures.take(&joint, &outcome, step);
        }
        figures
    });
    let mut figures = Healthy::default();
    for batch in &batches {
        figures.add(batch);
    }
    figures.print(seeds, start.elapsed().as_secs_f64());
}

/// What the stated uncertainty allows for: stops that give between nothing and 5 %, and readings that noise does not help out
/// of their steps.
fn allowances(seeds: u32) {
    println!("{seeds} healthy joints each");
    println!(
        "{:>8} {:>14} {:>10} {:>22} {:>12}",
        "give", "noise, steps", "covered", "error in uncertainty", "outward"
    );
    for (give, noise) in [
        (0.0, 0.0),
        (0.025, 0.0),
        (0.05, 0.0),
        (0.0, 0.8),
        (0.025, 0.8),
        (0.05, 0.8),
    ] {
        let batches = in_batches(seeds, |batch| {
            let mut figures = Healthy::default();
            for seed in batch.map(u64::from) {
                let Rehearsal { joint, plan } = Rehearsal::healthy(seed).expect("a joint");
                let record = VirtualRecord {
                    give,
                    noise,
                    ..joint.record().clone()
                };
                let joint = VirtualJoint::new(record, plan.start, seed);
                let (joint, outcome) = run(Rehearsal { joint, plan }, 0.0, seed);
                figures.take(&joint, &outcome, plan.step);
            }
            figures
        });
        let mut figures = Healthy::default();
        for batch in &batches {
            figures.add(batch);
        }
        let ends = f64::from(figures.ends);
        println!(
            "{:6.1} % {noise:14} {:8.1} % {:22.2} {:+8.3} deg",
            100.0 * give,
            100.0 * f64::from(figures.covered) / ends,
            (figures.in_u / ends).sqrt(),
            figures.outward / ends
        );
    }
    println!();
}

fn faults(seeds: u32, wrong_answer_rate: f64) {
    println!(
        "{} seeds each, {} % of the answers wrong",
        seeds,
        100.0 * wrong_answer_rate
    );
    println!("{:18} {:>8} {:>8}   named otherwise", "fault", "found", "named");
    for fault in Fault::REHEARSED {
        let batches = in_batches(seeds, |batch| {
            batch
                .map(|seed| {
                    let rehearsal = Rehearsal::faulty(fault, 1_000_000 + u64::from(seed)).expect("a joint");
                    name(&run(rehearsal, wrong_answer_rate, seed.into()).1)
                })
                .collect::<Vec<_>>()
        });
        let mut names: BTreeMap<&'static str, u32> = BTreeMap::new();
        for name in batches.into_iter().flatten() {
            *names.entry(name).or_default() += 1;
        }
        let named = names.remove(fault.as_str()).unwrap_or(0);
        let missed = names.get("ready").copied().unwrap_or(0);
        let part = |n: u32| 100.0 * f64::from(n) / f64::from(seeds);
        println!(
            "{:18} {:7.1}% {:7.1}%   {names:?}",
            fault.as_str(),
            100.0 - part(missed),
            part(named)
        );
    }
    println!();
}

/// Probes of the bracket against walking in steps of its finest width, stops 1 to 60 deg away.
fn probes() {
    println!(
        "{:>6} {:>7} {:>16} {:>12} {:>12}",
        "step", "tolerance", "probes, mean", "most", "equal steps"
    );
    for (step, tolerance) in [(1.0, 0.25), (2.5, 0.5), (2.5, 0.25), (4.0, 0.25), (4.0, 0.1)] {
        let (mut sum, mut most, mut equal, mut n) = (0, 0, 0, 0);
        for tenth in 10..600 {
            let stop = f64::from(tenth) / 10.0 + 0.037;
            let plan = BracketPlan::new(Side::Upper, 0.0, 60.0)
                .with_step(step)
                .with_tolerance(tolerance);
            let mut search = Bracket::new(plan).expect("a plan");
            while let Some(at) = search.probe() {
                search
                    .report(if at > stop { Found::Contact } else { Found::Clear })
                    .expect("a probe");
            }
            sum += search.probes();
            most = most.max(search.probes());
            equal += (stop / tolerance) as u32 + 1;
            n += 1;
        }
        let mean = |x: u32| f64::from(x) / f64::from(n);
        println!(
            "{step:6} {tolerance:7} {:16.1} {most:12} {:12.1}",
            mean(sum),
            mean(equal)
        );
    }
}

fn main() {
    let seeds = std::env::args()
        .filter_map(|a| a.parse().ok())
        .next()
        .unwrap_or(100_000);
    healthy(seeds, 0.0);
    println!("the same with 5 % of the answers wrong");
    healthy((seeds / 10).max(200), 0.05);
    allowances(seeds.min(2_000));
    faults(200, 0.0);
    faults(200, 0.05);
    probes();
}
