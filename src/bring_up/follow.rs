//! At each tick of a control loop: does the joint follow its commands?

use super::error::BringUpError;
use crate::error::ConvertError;
use crate::feedback::ReadingState;
use crate::joint::Joint;
use crate::real::Real;

/// Whether a joint follows.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
#[non_exhaustive]
pub enum Follow {
    /// It is within the tolerance of the command.
    Follows,
    /// It is further from the command, but on its way: where a joint with no more than the stated lag may be, or beyond that for no longer
    /// than the stated cycles.
    Lags,
    /// It has been where no such joint can be, for longer than the stated cycles: held, overloaded, slipped or without power.
    DoesNotFollow,
    /// The reading shows a fault of the sensor, not where the joint is: a state at a rail, or [`ReadingState::Impossible`].
    SensorFault(ReadingState),
}

impl Follow {
    /// Its word: `follows`, `lags`, `does-not-follow` or `sensor-fault`.
    ///
    /// ```
    /// assert_eq!(elbowroom::bring_up::Follow::DoesNotFollow.as_str(), "does-not-follow");
    /// ```
    pub const fn as_str(self) -> &'static str {
        match self {
            Self::Follows => "follows",
            Self::Lags => "lags",
            Self::DoesNotFollow => "does-not-follow",
            Self::SensorFault(_) => "sensor-fault",
        }
    }
}

/// What a [`FollowCheck`] finds at one tick.
#[derive(Debug, Clone, Copy, PartialEq)]
#[non_exhaustive]
pub struct Following<T> {
    /// Whether the joint follows.
    pub state: Follow,
    /// Where it was measured, in the unit of its commands; NaN at a fault of the sensor.
    pub measured: T,
    /// How far that is beyond what was expected, tolerance included: above 0 beyond the upper bound, below 0 beyond the lower one, 0
    /// between them and at a fault of the sensor.
    pub beyond: T,
}

/// What is expected of a joint that follows.
///
/// The values depend on servo, load and sensor: record some sound motions, and choose the least values that find nothing in them.
#[derive(Debug, Clone, Copy, PartialEq)]
#[cfg_attr(
    feature = "serde",
    derive(serde::Serialize, serde::Deserialize),
    serde(deny_unknown_fields)
)]
pub struct FollowLimits<T> {
    /// How far the joint may be measured from where it should be, in the unit of its commands: at least the lost motion and the scatter
    /// of the sensor. Above 0.
    pub tolerance: T,
    /// The longest time constant of a joint that follows, in cycles: after a step of the command, 63 % of the way are done within it. 0 for
    /// a joint that is there in the same cycle.
    pub lag_cycles: T,
    /// For how many cycles in a row the joint may be where it is not expected, e.g. for the dead time of servo and sensor, before it counts
    /// as not following.
    pub most_cycles: u32,
}

/// Tells at each tick whether a joint follows its commands, from the command sent and the reading taken.
///
/// Two bounds follow the command c: the upper one is there at once when c rises above it and comes down with the longest allowed
/// time constant, the lower one the other way round,
///
/// ```text
/// high = max(c, high - a (high - c)),  low = min(c, low + a (c - low)),  a = 1 / (1 + lag_cycles)
/// ```
///
/// A joint whose position closes a share of its distance to the command in each cycle, x += s (c - x), stays between them whatever the
/// commands, if s is never less than a and never more than 1; s may change all the time. (If x ≤ c, x does not pass c, and c ≤ high. If x
/// \> c, x - c shrinks by 1 - s ≤ 1 - a, and so it stays at or below high - c, which shrinks by 1 - a.) So a joint that is further than
/// the tolerance outside is slower than stated, or something holds it.
///
/// No heap, a constant number of operations for each tick, for `f32` and `f64`. It takes its measure of time from the ticks: call it
/// once in each cycle. What to do about a joint that does not follow is the caller's matter; this cannot stop a motor.
///
/// ```
/// # use elbowroom::{FeedbackRecord, Joint, JointRecord, ServoRecord, TimerRecord};
/// use elbowroom::bring_up::{Follow, FollowCheck, FollowLimits, JointRamp};
/// # let servo = ServoRecord { angle: [0.0, 180.0], pulse_us: [500.0, 2500.0] };
/// # let timer = TimerRecord { frame_hz: 50.0, counts_per_frame: 4096 };
/// let mut record = JointRecord::new([-40.0, 60.0], [37.0, 122.0], 10.0, servo, timer);
/// record.max_rate_per_s = Some(60.0);
/// let mut feedback = FeedbackRecord::new([212.0, 871.0], [-40.0, 60.0]);
/// feedback.adc_bits = Some(10);
/// record.feedback = Some(feedback);
/// let wing = Joint::new(record)?;
///
/// let mut ramp = JointRamp::new(&wing, 10.0, None, None, 50.0)?;
/// let limits = FollowLimits { tolerance: 2.0, lag_cycles: 4.0, most_cycles: 5 };
/// let mut follows = FollowCheck::new(10.0, limits)?;
/// // The wing follows with a time constant of three cycles until something holds it at 30 deg.
/// let mut position = 10.0_f64;
/// let mut found_at = None;
/// for cycle in 0..100 {
///     let command = ramp.follow(50.0)?.value;
///     position = (position + (command - position) / 3.0).min(30.0);
///     let reading = wing.reading_from_command(position)?.round();
///     let tick = follows.tick_reading(&wing, command, reading)?;
///     if tick.state == Follow::DoesNotFollow && found_at.is_none() {
///         found_at = Some(cycle);
///     }
/// }
/// // At 30 deg in cycle 18; found in cycle 27, 0.18 s later.
/// assert_eq!(found_at, Some(27));
/// // A reading at the rail, as of a broken wire, is not a position.
/// assert!(matches!(follows.tick_reading(&wing, 50.0, 0.0)?.state, Follow::SensorFault(_)));
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
#[derive(Debug, Clone, Copy, PartialEq)]
#[cfg_attr(
    feature = "serde",
    derive(serde::Serialize, serde::Deserialize),
    serde(remote = "Self", deny_unknown_fields)
)]
pub struct FollowCheck<T> {
    limits: FollowLimits<T>,
    low: T,
    high: T,
    /// Ticks in a row at which the joint was outside.
    outside: u32,
}

impl<T: Real> FollowCheck<T> {
    /// Begins with a joint that stands still at `start`. *Unit*: that of its commands.
    ///
    /// # Errors
    /// [`BringUpError::NotFinite`] for numbers that are not finite, [`BringUpError::NotPositive`] for a tolerance that is not above 0,
    /// [`BringUpError::Below`] for a lag below 0.
    pub fn new(start: T, limits: FollowLimits<T>) -> Result<Self, BringUpError> {
        BringUpError::positive("tolerance", limits.tolerance.to_wide())?;
        BringUpError::within("lag_cycles", limits.lag_cycles.to_wide(), 0.0, f64::MAX)?;
        BringUpError::finite("start", start.to_wide())?;
        Ok(Self {
            limits,
            low: start,
            high: start,
            outside: 0,
        })
    }

    /// Whether it could have come about by ticks.
    #[cfg(feature = "serde")]
    pub(super) fn check(&self) -> Result<(), BringUpError> {
        Self::new(self.low, self.limits)?;
        BringUpError::within(
            "high of follow check",
            self.high.to_wide(),
            self.low.to_wide(),
            f64::MAX,
        )
        .map(drop)
    }

    /// Starts again with a joint that stands still at `start`, with the same limits.
    ///
    /// # Errors
    /// [`ConvertError::NotFinite`] for NaN and infinities; all stays as it was.
    pub fn reset(&mut self, start: T) -> Result<(), ConvertError> {
        finite(start)?;
        (self.low, self.high, self.outside) = (start, start, 0);
        Ok(())
    }

    /// Between which commands the joint is expected after the last tick, without the tolerance.
    pub fn expected(&self) -> [T; 2] {
        [self.low, self.high]
    }

    /// Once in each cycle: the command that was sent, and where the joint was measured, both in the unit of its commands.
    ///
    /// The command is the one that the joint can reach, as a [`JointRamp`](super::JointRamp) gives it. In a cycle in which none is sent,
    /// give the last one again. `measured` is e.g. what
    /// [`BlockJoint::command_from_reading`](crate::block::BlockJoint::command_from_reading) gives; where it is NaN or infinite the answer is
    /// [`ReadingState::Impossible`]. During a fault of the sensor the position is unknown: the cycles outside are counted on after it.
    ///
    /// # Errors
    /// [`ConvertError::NotFinite`] for a command that is NaN or infinite; all stays as it was.
    pub fn tick(&mut self, command: T, measured: T) -> Result<Following<T>, ConvertError> {
        self.ticked(command, measured, ReadingState::Impossible)
    }

    /// The same with a reading of the joint's sensor, whose faults are seen where [`Joint::detects_wire_faults`] says so. The command is held
    /// to what the joint can reach.
    ///
    /// # Errors
    /// As for [`FollowCheck::tick`]; [`ConvertError::NoFeedback`].
    pub fn tick_reading(&mut self, joint: &Joint<T>, command: T, reading: T) -> Result<Following<T>, ConvertError> {
        let (measured, fault) = match joint.reading_state(reading)? {
            // So far outside that its command is infinite.
            ReadingState::Inside | ReadingState::Outside => {
                (joint.command_from_reading(reading)?, ReadingState::Impossible)
            }
            fault => (T::nan(), fault),
        };
        let drive = joint.drive(command)?;
        let command = if drive.clamped.travel {
            joint.command_from_drive(drive.value)
        } else {
            command
        };
        self.ticked(joint.command_range().clamp(command), measured, fault)
    }

    fn ticked(&mut self, command: T, measured: T, fault: ReadingState) -> Result<Following<T>, ConvertError> {
        finite(command)?;
        let share = T::one() / (T::one() + self.limits.lag_cycles);
        self.high = larger(command, self.high - share * (self.high - command));
        self.low = smaller(command, self.low + share * (command - self.low));
        if !measured.is_finite() {
            return Ok(Following {
                state: Follow::SensorFault(fault),
                measured: T::nan(),
                beyond: T::zero(),
            });
        }
        let tolerance = self.limits.tolerance;
        let (over, under) = (measured - self.high - tolerance, measured - self.low + tolerance);
        let beyond = larger(over, T::zero()) + smaller(under, T::zero());
        self.outside = if beyond == T::zero() {
            0
        } else {
            self.outside.saturating_add(1)
        };
        let state = if self.outside > self.limits.most_cycles {
            Follow::DoesNotFollow
        } else if (measured - command).abs() <= tolerance {
            Follow::Follows
        } else {
            Follow::Lags
        };
        Ok(Following {
            state,
            measured,
            beyond,
        })
    }
}

fn finite<T: Real>(value: T) -> Result<(), ConvertError> {
    if value.is_finite() {
        Ok(())
    } else {
        let value = value.to_wide();
        Err(ConvertError::NotFinite { value })
    }
}

/// Of two finite numbers.
fn larger<T: Real>(a: T, b: T) -> T {
    if a > b { a } else { b }
}

fn smaller<T: Real>(a: T, b: T) -> T {
    if a < b { a } else { b }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::bring_up::JointRamp;
    use crate::{Code, FeedbackRecord, JointRecord, ServoRecord, TimerRecord};
    use proptest::prelude::*;
    use std::string::ToString;
    use std::vec::Vec;

    const HZ: f64 = 50.0;

    fn wing<T: Real>() -> Joint<T> {
        let servo = ServoRecord {
            angle: [0.0, 180.0],
            pulse_us: [500.0, 2500.0],
        };
        let timer = TimerRecord {
            frame_hz: 50.0,
            counts_per_frame: 4096,
        };
        let mut record = JointRecord::new([-40.0, 60.0], [37.0, 122.0], 10.0, servo, timer);
        record.travel = Some([45.5, 120.0]);
        record.max_rate_per_s = Some(120.0);
        let mut feedback = FeedbackRecord::new([212.0, 871.0], [-40.0, 60.0]);
        feedback.adc_bits = Some(10);
        record.feedback = Some(feedback);
        Joint::new(record.map(T::from_wide)).unwrap()
    }

    fn limits(tolerance: f64, lag_cycles: f64, most_cycles: u32) -> FollowLimits<f64> {
        FollowLimits {
            tolerance,
            lag_cycles,
            most_cycles,
        }
    }

    proptest! {
        /// What the type's docs prove: any commands, any share from the stated one to 1 in each cycle, no cycle of patience.
        #[test]
        fn a_joint_with_no_more_than_the_stated_lag_is_never_reported(
            commands in prop::collection::vec((-60.0..80.0, 0.0..1.0, -1.0..1.0), 1..200),
            start in -40.0..60.0,
            lag in 0.0..30.0,
        ) {
            let mut check = FollowCheck::new(start, limits(0.5, lag, 0)).unwrap();
            let mut narrow = FollowCheck::new(start as f32, FollowLimits { tolerance: 0.5, lag_cycles: lag as f32, most_cycles: 0 }).unwrap();
            let (mut x, least) = (start, 1.0 / (1.0 + lag));
            for (command, share, scatter) in commands {
                x += (least + share * (1.0 - least)) * (command - x);
                let measured = x + 0.499 * scatter;
                let found = check.tick(command, measured).unwrap();
                prop_assert!(found.beyond == 0.0 && found.state != Follow::DoesNotFollow, "{found:?}");
                prop_assert_eq!(found.state == Follow::Follows, (measured - command).abs() <= 0.5);
                let found = narrow.tick(command as f32, measured as f32).unwrap();
                prop_assert!(found.beyond == 0.0, "{found:?}");
            }
        }

        /// A joint that stands still while the command stays further away than the tolerance is reported, at the cycle of the formula.
        #[test]
        fn a_held_joint_is_reported_in_time(
            away in 1.0_f64..50.0, lag in 0.0_f64..30.0, most_cycles in 0_u32..20, up in any::<bool>(),
        ) {
            let mut check = FollowCheck::new(0.0, limits(0.5, lag, most_cycles)).unwrap();
            let command = if up { away } else { -away };
            // The nearer bound is away (1 - (1 - a)^n) off: beyond 0.5 from the n-th tick on.
            let a: f64 = 1.0 / (1.0 + lag);
            let n = if lag == 0.0 { 1.0 } else { ((1.0 - 0.5 / away).ln() / (1.0 - a).ln()).ceil() };
            let at = (1..1000).find(|_| check.tick(command, 0.0).unwrap().state == Follow::DoesNotFollow).unwrap();
            prop_assert!((f64::from(at) - n - f64::from(most_cycles)).abs() <= 1.0, "{at} {n}");
            prop_assert_eq!(check.tick(command, command).unwrap().state, Follow::Follows);
            prop_assert_eq!(check.tick(0.0, 0.0).unwrap().state, Follow::Follows);
        }
    }

    /// A mass on a damped servo that a ramp drives to and fro, with dead time, lost motion, a coarse sensor and, from a cycle on, something
    /// that goes wrong.
    struct World {
        joint: Joint<f64>,
        position: f64,
        speed: f64,
        delayed: [f64; 2],
        slipped: f64,
    }

    impl World {
        fn reading(&mut self, command: f64, held: bool) -> f64 {
            let target = self.delayed[0];
            self.delayed = [self.delayed[1], command];
            for _ in 0..20 {
                let (dt, omega) = (1.0 / HZ / 20.0, 30.0);
                let pull = omega * omega * (target - self.position) - 2.0 * omega * self.speed;
                self.speed += pull * dt;
                self.position += self.speed * dt;
            }
            if held {
                (self.position, self.speed) = (5.0, 0.0);
            }
            let shown = self.position + self.slipped;
            self.joint.reading_from_command(shown).unwrap().round()
        }
    }

    /// The cycle of each report, and the cycles in which a fault of the sensor was seen.
    fn run(what: &str) -> (Vec<usize>, Vec<usize>) {
        let joint = wing::<f64>();
        let mut world = World {
            joint: joint.clone(),
            position: 10.0,
            speed: 0.0,
            delayed: [10.0; 2],
            slipped: 0.0,
        };
        let mut ramp = JointRamp::new(&joint, 10.0, None, Some(600.0), HZ).unwrap();
        let mut check = FollowCheck::new(10.0, limits(2.0, 6.0, 4)).unwrap();
        let (mut reports, mut faults) = (Vec::new(), Vec::new());
        for cycle in 0..1000 {
            let targets = [60.0, -40.0, 10.0, 55.0, 500.0, -500.0];
            let command = ramp.follow(targets[cycle / 60 % 6]).unwrap().value;
            let wrong = cycle >= 500;
            let mut reading = world.reading(command, wrong && what == "held");
            if wrong && what == "slipped" {
                world.slipped = 6.0;
            }
            if what == "wire" && (500..520).contains(&cycle) {
                reading = 1023.0;
            }
            // What is asked for, out of reach too: the check holds it to what the joint can reach.
            let sent = if cycle / 60 % 6 >= 4 && ramp.rests_at(targets[cycle / 60 % 6]) {
                targets[cycle / 60 % 6]
            } else {
                command
            };
            match check.tick_reading(&joint, sent, reading).unwrap().state {
                Follow::DoesNotFollow => reports.push(cycle),
                Follow::SensorFault(state) => {
                    assert_eq!(state, ReadingState::UpperRail);
                    faults.push(cycle);
                }
                _ => {}
            }
        }
        (reports, faults)
    }

    #[test]
    fn a_sound_joint_is_never_reported_and_a_held_one_soon() {
        assert_eq!(run("sound"), (Vec::new(), Vec::new()));
        let (reports, faults) = run("held");
        let first = reports[0];
        assert!((500..540).contains(&first) && faults.is_empty(), "{first}");
        let (reports, faults) = run("slipped");
        assert!((500..520).contains(&reports[0]) && faults.is_empty(), "{reports:?}");
        let (reports, faults) = run("wire");
        assert_eq!((reports, faults), (Vec::new(), (500..520).collect()));
    }

    #[test]
    fn a_fault_of_the_sensor_is_no_position_and_counts_go_on_after_it() {
        let mut check = FollowCheck::new(
            0.0_f32,
            FollowLimits {
                tolerance: 1.0,
                lag_cycles: 0.0,
                most_cycles: 2,
            },
        )
        .unwrap();
        let states = |check: &mut FollowCheck<f32>, measured: &[f32]| -> Vec<&'static str> {
            measured
                .iter()
                .map(|x| check.tick(10.0, *x).unwrap().state.as_str())
                .collect()
        };
        assert_eq!(
            states(&mut check, &[0.0, f32::NAN, 0.0, f32::INFINITY, 0.0, 9.5, 12.0]),
            [
                "lags",
                "sensor-fault",
                "lags",
                "sensor-fault",
                "does-not-follow",
                "follows",
                "lags"
            ]
        );
        let tick = check.tick(10.0, 12.0).unwrap();
        assert_eq!((tick.measured, tick.beyond), (12.0, 1.0));
        assert_eq!(check.tick(10.0, 7.0).unwrap().beyond, -2.0);
        let before = check;
        assert_eq!(check.tick(f32::NAN, 0.0).unwrap_err().code(), Code::NotFinite);
        assert!(check.reset(f32::INFINITY).is_err() && check == before);
        check.reset(3.0).unwrap();
        assert_eq!(check.expected(), [3.0, 3.0]);
    }

    #[test]
    fn a_reading_without_a_finite_command_is_impossible() {
        let mut record = wing::<f64>().record();
        record.feedback = Some(FeedbackRecord::new([0.0, 1.0], [-40.0, 60.0]));
        let volts = Joint::new(record).unwrap();
        assert_eq!(volts.reading_state(f64::MAX).unwrap(), ReadingState::Outside);
        let mut check = FollowCheck::new(0.0, limits(1.0, 1.0, 1)).unwrap();
        let tick = check.tick_reading(&volts, 0.0, f64::MAX).unwrap();
        assert_eq!(tick.state, Follow::SensorFault(ReadingState::Impossible));
    }

    #[test]
    fn limits_that_cannot_be_are_refused() {
        let refused = |start, limits| FollowCheck::new(start, limits).unwrap_err().to_string();
        assert_eq!(
            refused(0.0, limits(0.0, 1.0, 1)),
            "tolerance is 0; it must be above zero"
        );
        assert!(refused(0.0, limits(1.0, -1.0, 1)).starts_with("lag_cycles is -1; "));
        assert!(refused(f64::NAN, limits(1.0, 1.0, 1)).starts_with("start is "));
        assert!(FollowCheck::new(0.0, limits(1.0, f64::NAN, 1)).is_err());
        let mut record = wing::<f64>().record();
        record.feedback = None;
        let blind = Joint::new(record).unwrap();
        let mut check = FollowCheck::new(0.0, limits(1.0, 1.0, 1)).unwrap();
        assert_eq!(
            check.tick_reading(&blind, 0.0, 500.0).unwrap_err().code(),
            Code::NoFeedback
        );
    }

    #[cfg(feature = "serde")]
    #[test]
    fn a_saved_check_goes_on_and_a_changed_one_is_refused() {
        let mut check = FollowCheck::new(0.0, limits(1.0, 3.0, 2)).unwrap();
        check.tick(10.0, 0.0).unwrap();
        let saved = serde_json::to_value(check).unwrap();
        assert_eq!(
            serde_json::from_value::<FollowCheck<f64>>(saved.clone()).unwrap(),
            check
        );
        for (place, value) in [
            ("/low", 11.0),
            ("/high", -1.0),
            ("/limits/tolerance", 0.0),
            ("/limits/lag_cycles", -1.0),
        ] {
            let mut wrong = saved.clone();
            *wrong.pointer_mut(place).unwrap() = value.into();
            assert!(serde_json::from_value::<FollowCheck<f64>>(wrong).is_err(), "{place}");
        }
    }
}
