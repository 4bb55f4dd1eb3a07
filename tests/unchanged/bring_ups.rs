//! Bring-ups of virtual joints: every step asked for, and what came of them.

use crate::Results;
use elbowroom::bring_up::{Action, Bench, Fault, Session, Watch};
use elbowroom::rehearsal::{BenchKind, BenchRehearsal, Person, Rehearsal, Typist};

#[test]
fn by_a_controller() {
    let mut results = Results::default();
    let faults = [None].into_iter().chain(Fault::REHEARSED.into_iter().map(Some));
    for fault in faults {
        for seed in 0..8_u64 {
            let made = fault
                .map_or_else(|| Rehearsal::healthy(seed), |fault| Rehearsal::faulty(fault, seed))
                .unwrap();
            let made = if seed % 2 == 0 {
                made
            } else {
                made.with_alignment().unwrap()
            };
            let Rehearsal { mut joint, plan } = made;
            // Some answers are wrong.
            let mut person = Person::new([0.0, 0.1][seed as usize / 4 % 2], seed);
            let mut session = Session::new(plan).unwrap();
            let mut steps: Vec<Action> = Vec::new();
            loop {
                let action = session.next();
                let report = person.carry_out(&action, &mut joint);
                steps.push(action);
                let Some(report) = report else { break };
                session.report(report).unwrap();
            }
            let outcome = session.outcome().unwrap();
            let said = outcome.verdict.to_string();
            let name = fault.map_or("healthy", |fault| fault.as_str());
            results.add(&format!("{name}:{seed}"), &(outcome, said, steps, session.readings()));
        }
    }
    results.hold("by_a_controller");
}

#[test]
fn at_the_bench() {
    let mut results = Results::default();
    for (name, kind) in [
        ("plain", BenchKind::Plain),
        ("steep", BenchKind::Steep),
        ("counts", BenchKind::Counts),
        ("bent", BenchKind::Bent),
        ("hard", BenchKind::Hard),
        ("late", BenchKind::Late),
        ("soft", BenchKind::Soft),
    ] {
        for seed in 0..16_u64 {
            let watch = [Watch::SensorOnly, Watch::SensorAndDrive][seed as usize % 2];
            let made = BenchRehearsal::drawn(kind, watch, seed % 4 < 2, seed).unwrap();
            let BenchRehearsal {
                mut joint, plan, late, ..
            } = made;
            let rate = [0.0, 0.03][seed as usize / 4 % 2];
            let mut typist = Typist::new(rate, rate, late, seed);
            let mut bench = Bench::new(plan).unwrap();
            let mut steps: Vec<Action> = Vec::new();
            loop {
                let action = bench.next();
                let report = typist.carry_out(&action, &mut joint);
                steps.push(action);
                let Some(report) = report else { break };
                bench.report(report).unwrap();
                // Typed wrongly, and taken back.
                if seed % 8 == 7 && steps.len() % 9 == 5 && bench.undo() {
                    steps.push(bench.next());
                }
            }
            let outcome = bench.outcome().unwrap();
            let said = outcome.verdict.to_string();
            let felt = bench.is_not_the_stop_felt();
            results.add(
                &format!("{name}:{seed}"),
                &(outcome, said, felt, steps, bench.readings()),
            );
        }
    }
    results.hold("at_the_bench");
}
