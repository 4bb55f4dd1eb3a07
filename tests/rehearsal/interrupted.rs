//! Bring-ups that are given wrong reports, copied, saved and taken up again.

use super::{run, run_with};
use elbowroom::bring_up::{Action, Fault, Report, Session, Verdict};
use elbowroom::rehearsal::Rehearsal;

#[test]
fn a_wrong_report_changes_nothing() {
    run_with(
        Rehearsal::healthy(6).unwrap(),
        0.0,
        6,
        |count, session, action, report| {
            if count % 17 == 0 {
                let before = session.clone();
                let wrong = match action {
                    Action::Read => Report::Reading {
                        value: f64::NAN,
                        load: None,
                    },
                    Action::Wait { .. } => Report::Moved,
                    _ => Report::Waited,
                };
                assert!(session.report(wrong).is_err());
                assert_eq!(*session, before);
            }
            report
        },
    );
}

/// Saved and thrown away before each of its reports in turn, the session ends in the same outcome, to the bit.
#[cfg(feature = "serde")]
#[test]
fn killed_at_each_step_in_turn_it_ends_the_same() {
    for (name, seed) in [("plain", 9), ("with its alignment", 9), ("set anew", 5)] {
        let made = || match name {
            "plain" => Rehearsal::healthy(seed).unwrap(),
            "with its alignment" => Rehearsal::healthy(seed).unwrap().with_alignment().unwrap(),
            _ => Rehearsal::faulty(Fault::SensorRunsOut, seed)
                .unwrap()
                .with_alignment()
                .unwrap(),
        };
        // The whole run, its reports written down.
        let mut reports = Vec::new();
        let mut states = Vec::new();
        let (_, whole) = run_with(made(), 0.05, seed, |_, session, action, report| {
            states.push((serde_json::to_string(session).unwrap(), action));
            reports.push(report);
            report
        });
        assert!(states.len() > 400, "{name}: {}", states.len());
        // From each state of it on, the rest of the reports.
        for (step, (saved, action)) in states.iter().enumerate() {
            let mut session: Session = serde_json::from_str(saved).unwrap();
            assert_eq!(session.next(), *action, "{name}, step {step}");
            session.report(reports[step]).unwrap();
            match states.get(step + 1) {
                // A state is all there is: the same text, the same future.
                Some((next, _)) => assert_eq!(serde_json::to_string(&session).unwrap(), *next, "{name}, step {step}"),
                None => assert_eq!(*session.outcome().unwrap(), whole, "{name}, step {step}"),
            }
        }
        // And from some of them to the very end.
        for step in (0..states.len()).step_by(97) {
            let mut session: Session = serde_json::from_str(&states[step].0).unwrap();
            for report in &reports[step..] {
                session.report(*report).unwrap();
            }
            assert_eq!(*session.outcome().unwrap(), whole, "{name}, from step {step}");
        }
    }
}

#[cfg(feature = "serde")]
#[test]
fn killed_at_any_step_and_taken_up_again_it_ends_the_same() {
    let seed = 9;
    let (_, whole) = run(Rehearsal::healthy(seed).unwrap(), 0.02, seed);
    // Saved and read back before every report.
    let (_, kept) = run_with(
        Rehearsal::healthy(seed).unwrap(),
        0.02,
        seed,
        |_, session, action, report| {
            let saved = serde_json::to_string(session).unwrap();
            let read: Session = serde_json::from_str(&saved).unwrap();
            assert_eq!(read, *session);
            assert_eq!(read.next(), action);
            *session = read;
            report
        },
    );
    assert_eq!(kept, whole);
}

#[test]
fn taken_up_again_it_first_goes_slowly_back() {
    let mut returned = 0;
    let mut last = None;
    let (_, outcome) = run_with(
        Rehearsal::healthy(8).unwrap(),
        0.0,
        8,
        |count, session, action, report| {
            if let Action::MoveTo { drive, .. } = action {
                last = Some(drive);
            }
            if count % 97 == 96 {
                session.resume();
                if let (Action::MoveTo { drive, rate_per_s }, Some(was)) = (session.next(), last)
                    && rate_per_s == 10.0
                    && matches!(action, Action::Read)
                {
                    assert_eq!(drive, was);
                    session.report(Report::Moved).unwrap();
                    assert_eq!(session.next(), action, "then what stood before");
                    returned += 1;
                } else if session.next() != action {
                    session.report(Report::Moved).unwrap();
                }
            }
            report
        },
    );
    assert!(returned > 3, "{returned}");
    assert_eq!(outcome.verdict, Verdict::Ready);
}

#[test]
fn a_copy_of_a_bring_up_is_equal_to_it_at_every_step() {
    let rehearsal = Rehearsal::healthy(3).unwrap();
    let mut copy = Session::new(rehearsal.plan).unwrap();
    let (_, outcome) = run_with(rehearsal, 0.0, 3, |count, session, _, report| {
        copy.copy_from(session);
        assert_eq!(copy, *session, "step {count}");
        report
    });
    assert_eq!(outcome.verdict, Verdict::Ready);
}
