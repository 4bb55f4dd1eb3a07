//! What changes while a bring-up goes on is found in the sweeps and named: by a joint in a few lines, whose numbers are invented.

use elbowroom::bring_up::{
    Action, Answer, Doubt, Fault, Question, Report, SensePlan, Session, SessionPlan, Side, Verdict, Watch,
};

/// Stops of the joint at first, deg of drive angle.
const STOPS: [f64; 2] = [40.0, 120.0];
/// The stop search's own part of a step and three uncertainties, and the tolerance: what two searches of one stop may differ by.
const SAME_PLACE: f64 = 2.5;

/// A joint without play and noise that reads 5 counts for each degree.
struct Joint {
    stops: [f64; 2],
    drive: f64,
    hand: Option<f64>,
    /// Counts by which the sensor has slipped.
    slipped: f64,
    /// Where the joint stays, once its gear is stripped.
    stays: Option<f64>,
}

impl Joint {
    fn new() -> Self {
        Self {
            stops: STOPS,
            drive: 80.0,
            hand: None,
            slipped: 0.0,
            stays: None,
        }
    }

    fn place(&self) -> f64 {
        let at = self.hand.or(self.stays).unwrap_or(self.drive);
        at.clamp(self.stops[0], self.stops[1])
    }

    fn reading(&self) -> f64 {
        (100.0 + 5.0 * self.place() + self.slipped).round()
    }

    fn by_hand(&mut self, question: Question) -> Option<Answer> {
        match question {
            Question::DetachDrive => self.hand = Some(self.drive),
            Question::AttachDrive => self.hand = None,
            Question::TurnSensor { toward, degrees } => {
                self.hand = self.hand.map(|hand| hand + toward.sign() * degrees);
            }
            Question::WhatIsMet { .. } | Question::WhatMoved { .. } => return None,
            _ => {}
        }
        Some(Answer::Done)
    }
}

/// What was asked once the joint had changed, with its doubt.
type Asked = Vec<(Question, Option<Doubt>)>;

/// When the joint changes: before the first sweep, or in a sweep when it stands between its stops.
#[derive(Clone, Copy, PartialEq)]
enum When {
    Before,
    Between,
}

/// Brings a joint up; in the sweeps it changes, and from then on the person answers in this order. Each state comes back from its text as
/// it was, and nothing is asked for further out than a step from what is known to be clear.
fn bring_up(when: When, change: impl Fn(&mut Joint), answers: &[Answer]) -> (Session, Asked) {
    let plan = SessionPlan::new(80.0, [0.0, 180.0]).with_sense(SensePlan::default().with_watch(Watch::SensorOnly));
    let (mut session, mut joint) = (Session::new(plan).unwrap(), Joint::new());
    let (mut changed, mut asked, mut answers) = (false, Asked::new(), answers.iter().copied());
    for _ in 0..20_000 {
        let text = serde_json::to_string(&session).unwrap();
        assert_eq!(
            serde_json::from_str::<Session>(&text).unwrap(),
            session,
            "{}",
            session.stage()
        );
        let report = match session.next() {
            Action::MoveTo { drive, .. } => {
                let ([lower, upper], step) = (session.clear(), session.plan().step + 1e-6);
                assert!(
                    (lower - step..=upper + step).contains(&drive),
                    "{drive} beyond {lower} to {upper}"
                );
                joint.drive = drive;
                Report::Moved
            }
            Action::Wait { .. } => Report::Waited,
            Action::Read => {
                let is_there = when == When::Before || (joint.drive - 80.0).abs() < 5.0;
                if !changed && session.stage() == "sweep" && is_there {
                    changed = true;
                    change(&mut joint);
                }
                Report::Reading {
                    value: joint.reading(),
                    load: None,
                }
            }
            Action::Ask { question, doubt } => Report::Answered {
                answer: joint.by_hand(question).unwrap_or_else(|| {
                    if !changed {
                        return Answer::Stop;
                    }
                    asked.push((question, doubt));
                    answers.next().unwrap_or_else(|| panic!("{asked:?}"))
                }),
            },
            Action::Done => {
                assert!(changed && answers.next().is_none(), "{asked:?}");
                return (session, asked);
            }
        };
        session.report(report).unwrap();
    }
    panic!("it does not end");
}

fn fault(session: &Session) -> (Fault, Option<f64>, Option<f64>) {
    match session.outcome().unwrap().verdict {
        Verdict::Faulty { fault, at, by } => (fault, at, by),
        other => panic!("{other:?}"),
    }
}

#[test]
fn a_joint_that_does_not_change_is_ready() {
    let (session, asked) = bring_up(When::Between, |_| {}, &[]);
    assert_eq!(session.outcome().unwrap().verdict, Verdict::Ready);
    assert!(asked.is_empty());
}

#[test]
fn a_sensor_that_slips_is_named_with_its_way() {
    for counts in [30.0, -30.0] {
        // On its way up, ahead it has nothing to press against: both places of the first move say it. Behind, the person is asked first.
        let answers = [Answer::Nothing, Answer::Nothing];
        let slips = |joint: &mut Joint| joint.slipped = counts;
        let (session, asked) = bring_up(When::Between, slips, if counts < 0.0 { &answers } else { &[] });
        let (fault, _, by) = fault(&session);
        assert_eq!(fault, Fault::SensorShifted, "{asked:?}");
        // 30 counts are 6 deg.
        assert!((by.unwrap() - counts / 5.0).abs() < 0.3, "{by:?}");
    }
}

#[test]
fn a_gear_that_strips_is_told_by_the_person_or_by_the_first_move() {
    let strips = |joint: &mut Joint| joint.stays = Some(joint.place());
    // Said at once, and again when it is questioned.
    let (session, asked) = bring_up(When::Between, strips, &[Answer::DriveOnly, Answer::DriveOnly]);
    assert_eq!(fault(&session).0, Fault::GearStripped);
    assert_eq!((asked[0].1, asked[1].1), (None, Some(Doubt::Grave)));
    // Nothing seen: then the first move is made again, the reading stays, and what moved is asked.
    let answers = [Answer::Nothing, Answer::Nothing, Answer::DriveOnly, Answer::DriveOnly];
    let (session, asked) = bring_up(When::Between, strips, &answers);
    let (fault, _, by) = fault(&session);
    assert_eq!(fault, Fault::GearStripped);
    assert!(
        matches!(asked[1].1, Some(Doubt::StaysBehind { by }) if by > 0.5),
        "{asked:?}"
    );
    assert!(matches!(asked[2].0, Question::WhatMoved { .. }), "{asked:?}");
    assert_eq!(by, Some(0.0));
    // What was said of the first question does not count for the second: one grave answer to that is asked about as ever.
    let answers = [
        Answer::Nothing,
        Answer::Nothing,
        Answer::Nothing,
        Answer::DriveOnly,
        Answer::DriveOnly,
    ];
    let (session, asked) = bring_up(When::Between, strips, &answers);
    assert_eq!(self::fault(&session).0, Fault::GearStripped, "{asked:?}");
    assert!(
        matches!(asked[3], (Question::WhatMoved { .. }, Some(Doubt::Grave))),
        "{asked:?}"
    );
}

/// Something in the way far from the stop: whatever the person calls it, the range is blocked there.
#[test]
fn what_gets_in_the_way_is_no_stop() {
    for answer in [Answer::Stop, Answer::Obstacle] {
        let (session, asked) = bring_up(When::Between, |joint| joint.stops[0] = 60.0, &[answer, answer]);
        let (fault, at, by) = fault(&session);
        assert_eq!(fault, Fault::RangeBlocked, "{asked:?}");
        // Met on the way down, and the stop is further out by so much.
        let (at, by) = (at.unwrap(), by.unwrap());
        assert!((at - STOPS[0] - by).abs() < SAME_PLACE && by > 10.0, "{at} {by}");
        let doubt = asked[1].1;
        assert!(
            matches!(doubt, Some(Doubt::BeforeTheStop { by: told }) if answer == Answer::Stop && told == by)
                || (doubt == Some(Doubt::Grave) && answer == Answer::Obstacle),
            "{doubt:?}"
        );
    }
}

/// Something in the way of the upper stop, met where a sweep turns: on the way back to search the stop again the joint is still held.
#[test]
fn what_gets_in_the_way_near_a_stop_is_no_stop() {
    for (at, times) in [(90.0, 2), (95.0, 2), (100.0, 3), (102.0, 3), (105.0, 2), (108.0, 2)] {
        let answers = [Answer::Stop].repeat(times);
        let (session, asked) = bring_up(When::Between, |joint| joint.stops[1] = at, &answers);
        let (fault, found, by) = fault(&session);
        assert_eq!(fault, Fault::RangeBlocked, "{at} {asked:?}");
        let off = found.unwrap() - at;
        assert!(
            (-SAME_PLACE..7.6).contains(&off) && by.unwrap().abs() > 10.0,
            "{at}: {found:?} {by:?}"
        );
    }
}

#[test]
fn a_stop_that_moves_is_searched_again() {
    for (side, way) in [(Side::Upper, -5.0), (Side::Upper, 3.0), (Side::Lower, -5.0)] {
        let moves = |joint: &mut Joint| match side {
            Side::Lower => joint.stops[0] -= way,
            Side::Upper => joint.stops[1] += way,
        };
        // Inward the person is asked what holds the joint; outward it is ahead and nothing does. Then what is met where the search ends:
        // nothing, which is questioned, and the stop.
        let answers = [Answer::Stop, Answer::Nothing, Answer::Stop];
        let when = if side == Side::Lower {
            When::Between
        } else {
            When::Before
        };
        let (session, asked) = bring_up(when, moves, if way < 0.0 { &answers } else { &answers[1..] });
        let (fault, at, by) = fault(&session);
        assert_eq!(fault, Fault::StopMoved, "{side:?} {way} {asked:?}");
        // A search may call clear what lies 0.4 steps beyond, and halves to 0.5 deg.
        assert!((by.unwrap() - way).abs() < 1.5, "{by:?} for {way}");
        let stop = if side == Side::Lower {
            STOPS[0] - way
        } else {
            STOPS[1] + way
        };
        assert!((at.unwrap() - stop).abs() < 1.5, "{at:?} for {stop}");
        let last = asked.last().unwrap();
        assert!(matches!(last.1, Some(Doubt::StaysBehind { .. })), "{asked:?}");
    }
}

/// Saved while it backs off from what holds the joint, a place that no joint has is refused.
#[test]
fn a_place_astray_is_checked_when_read() {
    let plan = SessionPlan::new(80.0, [0.0, 180.0]).with_sense(SensePlan::default().with_watch(Watch::SensorOnly));
    let (mut session, mut joint) = (Session::new(plan).unwrap(), Joint::new());
    let mut held = 0;
    while held < 3 {
        let saved = serde_json::to_value(&session).unwrap();
        for stage in ["relief", "held"] {
            for key in ["drive", "by"] {
                let place = format!("/stage/{stage}/astray/{key}");
                let mut damaged = saved.clone();
                if let Some(number) = damaged.pointer_mut(&place) {
                    *number = serde_json::json!(1e300);
                    assert!(serde_json::from_value::<Session>(damaged).is_err(), "{place}");
                    held += i32::from(stage == "held");
                }
            }
        }
        let report = match session.next() {
            Action::MoveTo { drive, .. } => {
                joint.drive = drive;
                Report::Moved
            }
            Action::Wait { .. } => Report::Waited,
            Action::Read => {
                if session.stage() == "sweep" {
                    joint.stops[1] = 100.0;
                }
                Report::Reading {
                    value: joint.reading(),
                    load: None,
                }
            }
            Action::Ask { question, .. } => Report::Answered {
                answer: joint.by_hand(question).unwrap_or(Answer::Stop),
            },
            Action::Done => panic!("nothing held it"),
        };
        session.report(report).unwrap();
    }
}
