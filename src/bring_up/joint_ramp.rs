//! The commands of one joint on their way: a ramp that knows where the joint ends.

use super::error::BringUpError;
use super::ramp::Ramp;
use crate::block::{BlockJoint, Image};
use crate::conversion::{Clamped, Conversion};
use crate::error::ConvertError;
use crate::joint::Joint;
use crate::real::Real;
use crate::span::{Held, Span};

/// Holds the command of one joint, which follows its target by bounded steps.
///
/// A [`Ramp`] whose targets are held to the joint's command range and to the commands of its travel first. A plain ramp runs on
/// towards a target out of reach while the motor stands at the end, and has to come all the way back before the motor moves
/// again; this one reverses at once. No heap, a constant number of operations for each call.
///
/// ```
/// # use elbowroom::{Joint, JointRecord, ServoRecord, TimerRecord};
/// use elbowroom::bring_up::JointRamp;
/// # let servo = ServoRecord { angle: [0.0, 180.0], pulse_us: [500.0, 2500.0] };
/// # let timer = TimerRecord { frame_hz: 50.0, counts_per_frame: 4096 };
/// let mut record = JointRecord::new([-40.0, 60.0], [37.0, 122.0], 10.0, servo, timer);
/// record.max_rate_per_s = Some(60.0);
/// let joint = Joint::new(record)?;
/// let mut ramp = JointRamp::new(&joint, 58.0, None, None, 50.0)?;
/// let held = [ramp.follow(1000.0)?, ramp.follow(1000.0)?, ramp.follow(1000.0)?];
/// assert_eq!(held.map(|command| command.value), [59.2, 60.0, 60.0]);
/// assert!(held[0].clamped.command);
/// assert_eq!(ramp.follow(0.0)?.value, 58.8);
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
#[derive(Debug, Clone, Copy, PartialEq)]
#[cfg_attr(
    feature = "serde",
    derive(serde::Serialize, serde::Deserialize),
    serde(
        into = "Saved<T>",
        try_from = "Saved<T>",
        bound(
            serialize = "T: Real + serde::Serialize",
            deserialize = "T: Real + serde::Deserialize<'de>"
        )
    )
)]
pub struct JointRamp<T> {
    ramp: Ramp<T>,
    command: Span<T>,
    /// The lowest and the highest command that the travel allows, both within the command range.
    reach: [T; 2],
    /// The joint's own, which no limit may exceed.
    max_rate_per_s: Option<T>,
}

/// A joint's ramp as it is written down.
#[cfg(feature = "serde")]
#[derive(serde::Serialize, serde::Deserialize)]
#[serde(
    deny_unknown_fields,
    bound(
        serialize = "T: Real + serde::Serialize",
        deserialize = "T: Real + serde::Deserialize<'de>"
    )
)]
struct Saved<T> {
    ramp: Ramp<T>,
    command: [T; 2],
    reach: [T; 2],
    #[serde(
        deserialize_with = "super::saved::given",
        bound(deserialize = "T: serde::Deserialize<'de>")
    )]
    max_rate_per_s: Option<T>,
}

#[cfg(feature = "serde")]
impl<T: Real> From<JointRamp<T>> for Saved<T> {
    fn from(live: JointRamp<T>) -> Self {
        Self {
            ramp: live.ramp,
            command: live.command.ends(),
            reach: live.reach,
            max_rate_per_s: live.max_rate_per_s,
        }
    }
}

#[cfg(feature = "serde")]
impl<T: Real> TryFrom<Saved<T>> for JointRamp<T> {
    type Error = BringUpError;

    fn try_from(saved: Saved<T>) -> Result<Self, BringUpError> {
        let [lower, upper] = saved.command.map(Real::to_wide);
        let command = Span::new("command", saved.command).map_err(|_| BringUpError::NotRising {
            what: "command of ramp",
            lower,
            upper,
        })?;
        BringUpError::within("lower reach of ramp", saved.reach[0].to_wide(), lower, upper)?;
        BringUpError::within(
            "upper reach of ramp",
            saved.reach[1].to_wide(),
            saved.reach[0].to_wide(),
            upper,
        )?;
        if let Some(rate) = saved.max_rate_per_s {
            BringUpError::positive("max_rate_per_s of ramp", rate.to_wide())?;
        }
        Ok(Self {
            ramp: saved.ramp,
            command,
            reach: saved.reach,
            max_rate_per_s: saved.max_rate_per_s,
        })
    }
}

impl<T: Real> JointRamp<T> {
    /// Starts at `start`. *Unit*: that of the joint's commands, for each second.
    ///
    /// `start` is where the joint stands, which may be outside its range: it comes in from there. `max_rate_per_s` is the joint's
    /// own where it is left out and may be no higher; without an acceleration the change of the rate is not bounded.
    ///
    /// # Errors
    /// [`BringUpError::NoRate`] if neither the joint nor the caller names a rate, [`BringUpError::RateAboveJoint`] for a rate above
    /// the joint's own; otherwise as [`Ramp::per_second`].
    pub fn new(
        joint: &Joint<T>,
        start: T,
        max_rate_per_s: Option<T>,
        acceleration_per_s2: Option<T>,
        cycles_hz: T,
    ) -> Result<Self, BringUpError> {
        let own = joint.max_rate_per_s();
        Ok(Self {
            ramp: Ramp::per_second(start, rate_of(own, max_rate_per_s)?, acceleration_per_s2, cycles_hz)?,
            command: joint.command_range(),
            reach: joint.reach(),
            max_rate_per_s: own,
        })
    }

    /// What of the commands the joint can reach.
    #[cfg(test)]
    pub(crate) fn reach(&self) -> [T; 2] {
        self.reach
    }

    /// Takes other limits, and the range and the travel of `joint`, from the next step on; the command and its pace stay. As
    /// [`JointRamp::new`] otherwise, and as [`Ramp::limit_per_cycle`] where the ramp is faster than the new rate.
    ///
    /// A command that is out of reach now comes in on the way to the next target, by bounded steps as any other.
    ///
    /// # Errors
    /// As for [`JointRamp::new`]; all stays as it was.
    ///
    /// ```
    /// # use elbowroom::{Joint, JointRecord, ServoRecord, TimerRecord};
    /// # use elbowroom::bring_up::JointRamp;
    /// # let servo = ServoRecord { angle: [0.0, 180.0], pulse_us: [500.0, 2500.0] };
    /// # let timer = TimerRecord { frame_hz: 50.0, counts_per_frame: 4096 };
    /// let mut record = JointRecord::new([-40.0, 60.0], [37.0, 122.0], 10.0, servo, timer);
    /// record.max_rate_per_s = Some(60.0);
    /// let joint = Joint::new(record.clone())?;
    /// let mut ramp = JointRamp::new(&joint, 58.0, None, None, 50.0)?;
    /// // Visitors come near: half as fast, and no further than a drive angle of 119 deg.
    /// record.travel = Some([37.0, 119.0]);
    /// ramp.change(&Joint::new(record)?, Some(30.0), None, 50.0)?;
    /// assert_eq!([ramp.follow(60.0)?.value, ramp.follow(60.0)?.value], [57.4, 56.8]);
    /// # Ok::<(), Box<dyn std::error::Error>>(())
    /// ```
    pub fn change(
        &mut self,
        joint: &Joint<T>,
        max_rate_per_s: Option<T>,
        acceleration_per_s2: Option<T>,
        cycles_hz: T,
    ) -> Result<(), BringUpError> {
        let own = joint.max_rate_per_s();
        self.ramp
            .limit_per_second(rate_of(own, max_rate_per_s)?, acceleration_per_s2, cycles_hz)?;
        (self.command, self.reach, self.max_rate_per_s) = (joint.command_range(), joint.reach(), own);
        Ok(())
    }

    /// Takes other limits from the next step on, of the same joint: as [`Ramp::limit_per_second`].
    ///
    /// # Errors
    /// [`BringUpError::RateAboveJoint`] for a rate above the joint's own; otherwise as for [`Ramp::per_second`]. The limits stay as
    /// they were.
    pub fn limit_per_second(
        &mut self,
        max_rate_per_s: T,
        acceleration_per_s2: Option<T>,
        cycles_hz: T,
    ) -> Result<(), BringUpError> {
        let rate = rate_of(self.max_rate_per_s, Some(max_rate_per_s))?;
        self.ramp.limit_per_second(rate, acceleration_per_s2, cycles_hz)
    }

    /// Takes one step towards `target`, once in each cycle. Gives the command after it, and what held the target back.
    ///
    /// # Errors
    /// [`ConvertError::NotFinite`] for NaN and infinities; the command stays where it was.
    pub fn follow(&mut self, target: T) -> Result<Conversion<T>, ConvertError> {
        let (target, clamped) = self.held(target);
        let value = self.ramp.follow(target)?;
        Ok(Conversion { value, clamped })
    }

    /// What of a target is within reach. NaN stays NaN; an infinity too, so that it is refused.
    fn held(&self, target: T) -> (T, Clamped) {
        if !target.is_finite() {
            return (target, Clamped::default());
        }
        let (inside, past_command) = self.command.hold(target);
        let [lowest, highest] = self.reach;
        let within = if inside < lowest {
            lowest
        } else if inside > highest {
            highest
        } else {
            inside
        };
        let clamped = Clamped {
            command: past_command != Held::Inside,
            travel: within != inside,
        };
        (within, clamped)
    }

    /// The command after the last step.
    pub fn value(&self) -> T {
        self.ramp.value()
    }

    /// Whether the command stands still at `target`, or at the end that holds it.
    pub fn rests_at(&self, target: T) -> bool {
        self.ramp.rests_at(self.held(target).0)
    }

    /// Stands still at `start` again, with the same limits.
    ///
    /// # Errors
    /// [`ConvertError::NotFinite`] for NaN and infinities; the command stays where it was.
    pub fn reset(&mut self, start: T) -> Result<(), ConvertError> {
        self.ramp.reset(start)
    }
}

impl JointRamp<f32> {
    /// As [`JointRamp::new`], of a joint in a firmware block: the range and the travel are read once, here.
    ///
    /// # Errors
    /// As for [`JointRamp::new`].
    ///
    /// ```
    /// # use elbowroom::{Joint, JointRecord, ServoRecord, TimerRecord};
    /// use elbowroom::block::Block;
    /// use elbowroom::bring_up::JointRamp;
    /// # let servo = ServoRecord { angle: [0.0, 180.0], pulse_us: [500.0, 2500.0] };
    /// # let timer = TimerRecord { frame_hz: 50.0, counts_per_frame: 4096 };
    /// # let mut record = JointRecord::new([-40.0, 60.0], [37.0, 122.0], 10.0, servo, timer);
    /// # record.max_rate_per_s = Some(60.0);
    /// # let image = Joint::<f64>::new(record)?.to_block(3)?;
    /// let joint = Block::new(&image[..])?.joint(3)?;
    /// let mut ramp = JointRamp::of_block(&joint, 58.0, None, None, 50.0)?;
    /// assert_eq!(ramp.follow(1000.0)?.value, 59.2);
    /// # Ok::<(), Box<dyn std::error::Error>>(())
    /// ```
    pub fn of_block<I: Image>(
        joint: &BlockJoint<I>,
        start: f32,
        max_rate_per_s: Option<f32>,
        acceleration_per_s2: Option<f32>,
        cycles_hz: f32,
    ) -> Result<Self, BringUpError> {
        let own = joint.max_rate_per_s();
        Ok(Self {
            ramp: Ramp::per_second(start, rate_of(own, max_rate_per_s)?, acceleration_per_s2, cycles_hz)?,
            command: joint.command_range(),
            reach: joint.reach(),
            max_rate_per_s: own,
        })
    }
}

/// The rate that the call names, which may be no higher than the joint's own; otherwise the joint's own.
fn rate_of<T: Real>(own: Option<T>, named: Option<T>) -> Result<T, BringUpError> {
    match (own, named) {
        // What is not finite is refused by the ramp.
        (Some(own), Some(rate)) if rate.is_finite() && rate > own => Err(BringUpError::RateAboveJoint {
            rate: rate.to_wide(),
            own: own.to_wide(),
        }),
        _ => named.or(own).ok_or(BringUpError::NoRate),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::record::wing;
    use crate::{Code, JointRecord, TransmissionRecord};

    fn record() -> JointRecord<f64> {
        JointRecord {
            max_rate_per_s: Some(60.0),
            ..wing()
        }
    }

    /// Half a minute of a target far outside, then one inside: the motor must move in the first cycle.
    #[test]
    fn a_target_out_of_reach_does_not_wind_it_up() {
        let travel = Some([40.2, 119.0]);
        let triangle = TransmissionRecord::Triangle {
            base: 18.0,
            arm: 41.0,
            angle_at_zero: 60.0,
        };
        for inverted in [false, true] {
            for transmission in [TransmissionRecord::Linear {}, triangle.clone()] {
                for acceleration in [None, Some(300.0)] {
                    let joint = Joint::new(JointRecord {
                        travel,
                        inverted,
                        transmission: transmission.clone(),
                        ..record()
                    })
                    .unwrap();
                    let mut ramp = JointRamp::new(&joint, 10.0, None, acceleration, 50.0).unwrap();
                    for (far, inside) in [(2000.0, 0.0), (-2000.0, 20.0)] {
                        for _ in 0..1500 {
                            let step = ramp.follow(far).unwrap();
                            assert!(step.clamped.command && step.clamped.travel);
                        }
                        assert!(ramp.rests_at(far));
                        let end = joint.drive(ramp.value()).unwrap();
                        let before = end.value;
                        // The drive stands at the end of the travel but for a rounding.
                        assert!(
                            joint.travel().ends().iter().any(|end| (end - before).abs() < 1e-9),
                            "{before}"
                        );
                        ramp.follow(inside).unwrap();
                        let moved = joint.drive(ramp.value()).unwrap();
                        assert!((moved.value - before).abs() > 0.05, "{before} {moved:?}");
                    }
                }
            }
        }
    }

    #[test]
    fn another_travel_and_rate_hold_from_the_next_step_on() {
        let joint = Joint::new(record()).unwrap();
        let mut ramp = JointRamp::new(&joint, 50.0, None, Some(300.0), 50.0).unwrap();
        for _ in 0..200 {
            ramp.follow(100.0).unwrap();
        }
        let narrow = Joint::new(JointRecord {
            travel: Some([54.0, 105.0]),
            max_rate_per_s: Some(10.0),
            ..record()
        })
        .unwrap();
        let before = ramp;
        assert!(ramp.change(&narrow, Some(-1.0), None, 50.0).is_err());
        assert_eq!(ramp, before);
        ramp.change(&narrow, None, Some(300.0), 50.0).unwrap();
        let mut last = ramp.value();
        for _ in 0..400 {
            let now = ramp.follow(60.0).unwrap();
            assert!(now.clamped.travel && (now.value - last).abs() <= 0.2 + 1e-12);
            last = now.value;
        }
        assert!((last - 40.0).abs() < 1e-9, "drive 105 deg is command 40, not {last}");
    }

    #[test]
    fn a_rate_above_the_joints_own_is_refused() {
        let joint = Joint::new(record()).unwrap();
        let refused = JointRamp::new(&joint, 10.0, Some(60.5), None, 50.0).unwrap_err();
        assert_eq!(refused.code(), Code::OptionOutside);
        assert_eq!(
            std::string::ToString::to_string(&refused),
            "max_rate_per_s is 60.5; it must be at most 60, the joint's own; lower it, or raise the joint's max_rate_per_s"
        );
        let refused = JointRamp::new(&joint, 10.0, Some(f64::INFINITY), None, 50.0).unwrap_err();
        assert_eq!(refused.code(), Code::NotFinite);
        let mut ramp = JointRamp::new(&joint, 10.0, Some(60.0), None, 50.0).unwrap();
        let before = ramp;
        let above = BringUpError::RateAboveJoint { rate: 61.0, own: 60.0 };
        assert_eq!(ramp.limit_per_second(61.0, None, 50.0), Err(above));
        assert_eq!(ramp.change(&joint, Some(61.0), None, 50.0), Err(above));
        assert_eq!(ramp, before);
        // Another joint has another rate, one without a rate none.
        let with = |max_rate_per_s| {
            Joint::new(JointRecord {
                max_rate_per_s,
                ..record()
            })
            .unwrap()
        };
        ramp.change(&with(Some(90.0)), Some(90.0), None, 50.0).unwrap();
        assert_eq!(
            ramp.limit_per_second(91.0, None, 50.0).unwrap_err().code(),
            Code::OptionOutside
        );
        ramp.change(&with(None), Some(500.0), None, 50.0).unwrap();
        ramp.limit_per_second(600.0, None, 50.0).unwrap();
        assert_eq!(ramp.follow(60.0).unwrap().value, 22.0);
    }

    #[cfg(feature = "serde")]
    #[test]
    fn a_saved_ramp_goes_on_and_a_changed_one_is_refused() {
        let joint = Joint::new(JointRecord {
            travel: Some([40.2, 119.0]),
            ..record()
        })
        .unwrap();
        let mut ramp = JointRamp::new(&joint, 10.0, None, Some(300.0), 50.0).unwrap();
        ramp.follow(100.0).unwrap();
        let saved = serde_json::to_value(ramp).unwrap();
        let mut again: JointRamp<f64> = serde_json::from_value(saved.clone()).unwrap();
        assert_eq!(again, ramp);
        assert_eq!(again.follow(100.0), ramp.follow(100.0));
        for (place, value) in [
            ("/command/0", 70.0),
            ("/reach/0", -50.0),
            ("/reach/1", 70.0),
            ("/reach/1", -39.0),
            ("/ramp/pace", 1e3),
            ("/ramp/value", 1e3),
            ("/max_rate_per_s", -60.0),
        ] {
            let mut wrong = saved.clone();
            *wrong.pointer_mut(place).unwrap() = value.into();
            let refused = serde_json::from_value::<JointRamp<f64>>(wrong);
            assert!(refused.is_err(), "{place} {value}");
        }
    }

    #[test]
    fn a_start_outside_comes_in_and_a_reset_stands_still() {
        let joint = Joint::new(record()).unwrap();
        let mut ramp = JointRamp::new(&joint, 70.0, Some(50.0), Some(500.0), 50.0).unwrap();
        assert_eq!(ramp.follow(80.0).unwrap().value, 69.8);
        let before = ramp;
        assert_eq!(ramp.follow(f64::INFINITY).unwrap_err().code(), Code::NotFinite);
        assert!(ramp.follow(f64::NAN).is_err() && ramp.reset(f64::NAN).is_err());
        assert_eq!(ramp, before);
        ramp.reset(10.0).unwrap();
        assert!(ramp.rests_at(10.0) && !ramp.rests_at(f64::NAN));
        assert_eq!(ramp.follow(60.0).unwrap().value, 10.2);
        let calm = Joint::new(JointRecord {
            max_rate_per_s: None,
            ..record()
        })
        .unwrap();
        let refused = JointRamp::new(&calm, 10.0, None, None, 50.0).unwrap_err();
        assert_eq!(refused.code(), Code::MissingKey);
        assert_eq!(
            std::string::ToString::to_string(&refused),
            "max_rate_per_s is given neither by the joint nor by the call; give it in one of them"
        );
    }
}
