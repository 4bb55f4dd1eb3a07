//! The search against a bench with stops, noise and play.

use super::*;
use proptest::prelude::*;
use std::vec::Vec;

/// A joint without inertia: reading, lost motion, two stops, noise from a list.
struct Bench {
    per_deg: f64,
    /// Readings per degree squared: a bent transmission.
    bend: f64,
    lost_motion: f64,
    stops: [f64; 2],
    noise: Vec<f64>,
    joint: f64,
    drive: f64,
    reads: usize,
}

impl Bench {
    fn move_to(&mut self, drive: f64) {
        self.drive = drive;
        let half = self.lost_motion / 2.0;
        self.joint = self
            .joint
            .max(drive - half)
            .min(drive + half)
            .max(self.stops[0])
            .min(self.stops[1]);
    }

    fn read(&mut self) -> f64 {
        self.reads += 1;
        let noise = self.noise[self.reads % self.noise.len()];
        let q = self.joint - 45.0;
        (500.0 + self.per_deg * q + self.bend * q * q + noise).round()
    }

    /// Runs a search and returns its end and the furthest command.
    fn run(&mut self, plan: StopSearchPlan) -> (SearchEnd, f64) {
        let mut search = StopSearch::new(plan).unwrap();
        let sign = plan.bracket.toward.sign();
        let mut furthest = plan.inner;
        loop {
            let report = match search.next() {
                Action::MoveTo { drive, .. } => {
                    if (drive - furthest) * sign > 0.0 {
                        furthest = drive;
                    }
                    assert!((drive - search.bracket().clear()) * sign <= plan.bracket.step + 1e-9);
                    self.move_to(drive);
                    Report::Moved
                }
                Action::Wait { .. } => Report::Waited,
                Action::Read => Report::Reading {
                    value: self.read(),
                    load: None,
                },
                _ => return (search.end().unwrap(), furthest),
            };
            search.report(report).unwrap();
        }
    }
}

fn bench(stops: [f64; 2]) -> Bench {
    Bench {
        per_deg: 4.0,
        bend: 0.0,
        lost_motion: 0.0,
        stops,
        noise: std::vec![0.0],
        joint: 45.0,
        drive: 45.0,
        reads: 0,
    }
}

fn plan(toward: Side) -> StopSearchPlan {
    let sign = toward.sign();
    StopSearchPlan {
        bracket: BracketPlan {
            toward,
            clear: 45.0 + sign * 6.0,
            search_limit: 45.0 + sign * 60.0,
            step: 2.0,
            tolerance: 0.25,
        },
        inner: 45.0 - sign * 6.0,
        run_in: 4.0,
        readable: [10.0, 1013.0],
        resolution: 1.0,
        pace: Pace::default(),
    }
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(2000))]

    #[test]
    fn never_more_than_the_stated_steps_past_the_stop(
        lower in 0.0..38.0, upper in 52.0..95.0, per_deg in 2.5..7.0f64, falling: bool, bend in -0.01..0.01,
        lost_motion in 0.0..3.0, noise in prop::collection::vec(-0.6..0.6, 7..40), step in 1.5..5.0, up: bool,
    ) {
        let mut joint = bench([lower, upper]);
        joint.per_deg = if falling { -per_deg } else { per_deg };
        joint.bend = bend * per_deg / 4.0;
        joint.lost_motion = lost_motion;
        joint.noise = noise;
        let toward = if up { Side::Upper } else { Side::Lower };
        let mut plan = plan(toward);
        plan.bracket.step = step;
        joint.move_to(plan.inner);
        let (end, furthest) = joint.run(plan);
        let sign = toward.sign();
        // Where the joint meets its stop when it comes from inside.
        let stop = if up { upper } else { lower } + sign * lost_motion / 2.0;
        // A reading is off by up to 0.6 and half a step of rounding, at the probe and three times along the line.
        // The bend adds five times its coefficient times step squared, seen through the least slope.
        let bend = joint.bend.abs();
        let e = 3.3 / (per_deg - 100.0 * bend) + 5.0 * bend * step * step / (per_deg - 100.0 * bend);
        prop_assert!((furthest - stop) * sign <= 1.4 * step + e);
        match end {
            SearchEnd::Contact { clear, contact, .. } => {
                prop_assert!((clear - stop) * sign <= 0.4 * step + e, "{clear} against {stop}");
                // Errors that come to less than a contact cannot be taken for one.
                prop_assert!(e > 0.4 * step || (contact - stop) * sign >= -0.4 * step - e, "{contact} against {stop}");
            }
            SearchEnd::SearchLimit { clear } => prop_assert!((stop - clear) * sign > -0.5 * step),
            SearchEnd::TooNoisy { step: needed, .. } => prop_assert!(needed > step),
            other => prop_assert!(false, "{other:?}"),
        }
    }
}

/// Common practice, no source: command 0 to 180 with rest 90 starts on drive 5 to 70. Trying 16 at the lower end
/// leaves the joint short of its stop, 5 does not, and the upper end grows to 80.
#[test]
fn the_walk_of_common_practice() {
    use crate::{Joint, JointRecord, ServoRecord, TimerRecord};
    let servo = ServoRecord {
        angle: [0.0, 180.0],
        pulse_us: [500.0, 2500.0],
    };
    let timer = TimerRecord {
        frame_hz: 50.0,
        counts_per_frame: 4096,
    };
    let on = |drive| Joint::new(JointRecord::new([0.0, 180.0], drive, 90.0, servo, timer)).unwrap();
    let drive_of = |joint: &Joint<f64>, command| joint.drive(command).unwrap().value;
    assert_eq!(drive_of(&on([5.0, 70.0]), 90.0), 37.5);

    let mut mechanism = bench([5.0, 80.0]);
    let found = [Side::Lower, Side::Upper].map(|toward| {
        mechanism.move_to(plan(toward).inner);
        match mechanism.run(plan(toward)).0 {
            SearchEnd::Contact { clear, .. } => clear,
            other => panic!("{other:?}"),
        }
    });
    assert!(
        (found[0] - 5.0).abs() <= 0.25 && (found[1] - 80.0).abs() <= 0.25,
        "{found:?}"
    );

    // At command 0 the joint stands 11 deg short of its stop with 16, and at it with what was found.
    assert_eq!(drive_of(&on([16.0, 70.0]), 0.0) - 5.0, 11.0);
    let grown = on([5.0, 80.0]);
    assert_eq!([drive_of(&grown, 0.0), drive_of(&grown, 180.0)], [5.0, 80.0]);
    assert_eq!(drive_of(&grown, 90.0), 42.5);
}

#[test]
fn says_when_the_sensor_ends_before_the_joint() {
    let mut joint = bench([0.0, 90.0]);
    joint.per_deg = 16.0;
    let (end, _) = joint.run(plan(Side::Upper));
    assert!(
        matches!(end, SearchEnd::SensorRunsOut { drive, .. } if drive <= 79.0),
        "{end:?}"
    );
}

#[test]
fn says_when_nothing_follows() {
    let mut joint = bench([0.0, 90.0]);
    joint.per_deg = 0.0;
    joint.noise = std::vec![0.6, -0.6, 0.0];
    assert!(matches!(joint.run(plan(Side::Upper)).0, SearchEnd::NotFollowed { .. }));
}

/// A wiper is called noisy where repeats of a reading range over more than 4 % of the numbers that it can give.
#[test]
fn repeats_may_range_over_the_stated_part_and_no_further() {
    let end_at = |range: f64| {
        let mut joint = bench([12.0, 87.0]);
        joint.noise = std::vec![0.0, range - 20.0, 0.0, 0.0, -20.0];
        let mut plan = plan(Side::Upper);
        plan.readable = [0.0, 1000.0];
        joint.run(plan).0
    };
    assert!(!matches!(end_at(40.0), SearchEnd::Erratic { .. }), "{:?}", end_at(40.0));
    assert!(
        matches!(end_at(41.0), SearchEnd::Erratic { range: 41.0, .. }),
        "{:?}",
        end_at(41.0)
    );
}

#[test]
fn stops_at_once_when_told() {
    let mut search = StopSearch::new(plan(Side::Upper)).unwrap();
    search.stop();
    assert_eq!(search.next(), Action::Done);
    assert!(matches!(search.end(), Some(SearchEnd::Stopped { .. })));
    assert!(search.report(Report::Moved).is_err());
}

#[cfg(feature = "serde")]
#[test]
fn saved_and_taken_up_again_anywhere_it_ends_the_same() {
    let whole = bench([12.0, 87.0]).run(plan(Side::Upper)).0;
    let mut joint = bench([12.0, 87.0]);
    let mut search = StopSearch::new(plan(Side::Upper)).unwrap();
    while search.end().is_none() {
        let saved = serde_json::to_string(&search).unwrap();
        search = serde_json::from_str(&saved).unwrap();
        let report = match search.next() {
            Action::MoveTo { drive, .. } => {
                joint.move_to(drive);
                Report::Moved
            }
            Action::Wait { .. } => Report::Waited,
            _ => Report::Reading {
                value: joint.read(),
                load: None,
            },
        };
        search.report(report).unwrap();
    }
    assert_eq!(search.end(), Some(whole));
}

#[test]
fn the_trail_is_followed_by_least_squares() {
    let mut trail = Trail::default();
    assert_eq!(trail.line_at(7.0), (0.0, 0.0));
    trail.push(10.0, 100.0);
    // One place has no slope, and is expected everywhere.
    assert_eq!(trail.line_at(90.0), (100.0, 0.0));
    for (drive, reading) in [(12.0, 106.0), (14.0, 112.0), (16.0, 118.0)] {
        trail.push(drive, reading);
    }
    let (expected, slope) = trail.line_at(20.0);
    assert!(
        (expected - 130.0).abs() < 1e-9 && (slope - 3.0).abs() < 1e-12,
        "{expected} {slope}"
    );
    // The oldest place is given up.
    trail.push(18.0, 118.0);
    let (expected, slope) = trail.line_at(15.0);
    assert!(
        (slope - 2.1).abs() < 1e-12 && (expected - 113.5).abs() < 1e-9,
        "{expected} {slope}"
    );
}
