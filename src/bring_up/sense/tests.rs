//! The sense test against a bench of known sense.

use super::*;

/// A loop with its null at a hand position, a dead band in hand degrees and readings of 3.8 per degree.
struct Bench {
    null: f64,
    band: f64,
    aiding: bool,
    per_deg: f64,
    hand: f64,
}

impl Bench {
    fn response(&self) -> Answer {
        let off = self.hand - self.null;
        if off.abs() <= self.band / 2.0 {
            Answer::Still
        } else if (off > 0.0) == self.aiding {
            Answer::Upper
        } else {
            Answer::Lower
        }
    }

    fn run(&mut self, plan: SensePlan, mut meddle: impl FnMut(u32, Answer) -> Answer) -> (SenseResult, u32) {
        let mut test = SenseTest::new(plan).unwrap();
        let (mut asked, mut doubts, mut before) = (0, 0, 0.0);
        loop {
            let report = match test.next() {
                Action::Ask { question, doubt } => {
                    assert!(!question.cautions().is_empty());
                    doubts += u32::from(doubt.is_some());
                    let answer = match question {
                        Question::TurnSensor { toward, degrees } => {
                            if doubt.is_none() {
                                before = self.hand;
                            }
                            self.hand = before + toward.sign() * degrees;
                            Answer::Done
                        }
                        _ => self.response(),
                    };
                    asked += 1;
                    let answer = if doubt.is_none() { meddle(asked, answer) } else { answer };
                    Report::Answered { answer }
                }
                Action::Read => Report::Reading {
                    value: 512.0 + self.per_deg * self.hand,
                    load: None,
                },
                _ => break,
            };
            test.report(report).unwrap();
        }
        (test.result().unwrap(), doubts)
    }
}

fn bench() -> Bench {
    Bench {
        null: 2.0,
        band: 6.0,
        aiding: false,
        per_deg: 3.8,
        hand: 0.0,
    }
}

#[test]
fn tells_opposing_from_aiding_whatever_the_wires() {
    for aiding in [false, true] {
        for per_deg in [3.8, -3.8] {
            let (result, doubts) = Bench {
                aiding,
                per_deg,
                ..bench()
            }
            .run(SensePlan::default(), |_, a| a);
            let expected = if aiding { LoopSense::Aiding } else { LoopSense::Opposing };
            assert_eq!((result.sense, doubts), (expected, 0));
            assert_eq!(result.slope > 0.0, per_deg > 0.0);
            let null = result.null.unwrap();
            assert!((null - (512.0 + per_deg * 2.0)).abs() <= 3.8 * 15.0, "{null}");
            let [least, most] = result.dead_band.unwrap();
            assert!(least <= 3.8 * 6.0 && most >= 3.8 * 6.0, "{least} {most}");
            assert_eq!(result.advice(true) == Some(SenseAdvice::SwapOuterWires), aiding);
        }
    }
}

#[test]
fn says_why_it_cannot_tell() {
    let reason = |mut b: Bench| b.run(SensePlan::default(), |_, a| a).0.reason;
    assert_eq!(
        reason(Bench {
            per_deg: 0.0,
            ..bench()
        }),
        Some(SenseReason::SensorStill)
    );
    assert_eq!(reason(Bench { band: 500.0, ..bench() }), Some(SenseReason::DriveStill));
    assert_eq!(reason(Bench { null: 90.0, ..bench() }), Some(SenseReason::DriveOneWay));
    let plan = SensePlan {
        watch: Watch::SensorOnly,
        ..SensePlan::default()
    };
    let (result, _) = Bench {
        per_deg: -2.0,
        ..bench()
    }
    .run(plan, |_, a| a);
    assert_eq!(result.reason, Some(SenseReason::DriveNotWatched));
    assert_eq!(result.advice(true), Some(SenseAdvice::SwapOrInvert));
    assert_eq!(result.advice(false), None);
}

#[test]
fn a_wrong_answer_is_questioned_and_does_not_change_the_verdict() {
    // Question 9 is the fourth response: far from the null, at a place that is visited again.
    let flip = |wrong: u32| {
        move |asked, answer| match (asked == wrong, answer) {
            (true, Answer::Upper) => Answer::Lower,
            (true, Answer::Lower) => Answer::Upper,
            _ => answer,
        }
    };
    let mut questioned = 0;
    for wrong in 1..26 {
        let (result, doubts) = bench().run(SensePlan::default(), flip(wrong));
        assert_eq!(result.sense, LoopSense::Opposing, "question {wrong}");
        questioned += doubts;
    }
    assert!(questioned >= 8, "{questioned}");
}

#[test]
fn refuses_answers_that_the_question_does_not_have() {
    let mut test = SenseTest::new(SensePlan {
        reads: 1,
        ..SensePlan::default()
    })
    .unwrap();
    test.report(Report::Reading { value: 1.0, load: None }).unwrap();
    let before = test;
    let error = test.report(Report::Answered { answer: Answer::Stop }).unwrap_err();
    assert!(matches!(error, BringUpError::WrongAnswer { .. }));
    assert!(test.report(Report::Moved).is_err());
    assert_eq!(test, before);
    assert!(test.result().is_none());
}
