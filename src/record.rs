//! What is written down of a joint, its servo and its timer, before it is checked.

use crate::feedback::FeedbackRecord;
use crate::pulse::Servo;
use crate::real::Real;
use crate::transmission::TransmissionRecord;

/// What is written down of a joint, unchecked: the numbers of a robot file or of a C struct.
///
/// Make it with [`JointRecord::new`], set what else is known, and check it with [`Joint::new`](crate::Joint::new).
#[derive(Debug, Clone, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
#[cfg_attr(feature = "serde", serde(deny_unknown_fields))]
#[non_exhaustive]
pub struct JointRecord<T> {
    /// Lower and upper command, in the joint's own unit.
    pub command: [T; 2],
    /// Lower and upper drive angle that the command range is mapped to, deg.
    pub drive: [T; 2],
    /// Whether the lower command belongs to the upper drive angle.
    #[cfg_attr(feature = "serde", serde(default))]
    pub inverted: bool,
    /// Lower and upper drive angle that the joint may use, deg; `drive` if left out.
    #[cfg_attr(feature = "serde", serde(default = "none", skip_serializing_if = "Option::is_none"))]
    pub travel: Option<[T; 2]>,
    /// The command taken when no other is given.
    pub rest: T,
    /// The fastest the command may change, command units per second.
    #[cfg_attr(feature = "serde", serde(default = "none", skip_serializing_if = "Option::is_none"))]
    pub max_rate_per_s: Option<T>,
    /// The servo.
    pub servo: ServoRecord<T>,
    /// The timer that makes its pulses.
    pub timer: TimerRecord<T>,
    /// How a command becomes a drive angle; a straight line if left out.
    #[cfg_attr(
        feature = "serde",
        serde(default = "linear", skip_serializing_if = "TransmissionRecord::is_linear")
    )]
    pub transmission: TransmissionRecord<T>,
    /// How a reading of the joint's sensor becomes a joint angle.
    #[cfg_attr(feature = "serde", serde(default = "none", skip_serializing_if = "Option::is_none"))]
    pub feedback: Option<FeedbackRecord<T>>,
}

/// An absent field, for number types that have no default of their own.
#[cfg(feature = "serde")]
fn none<V>() -> Option<V> {
    None
}

#[cfg(feature = "serde")]
fn linear<T>() -> TransmissionRecord<T> {
    TransmissionRecord::default()
}

/// What is written down of a servo, unchecked.
#[derive(Debug, Clone, Copy, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
#[cfg_attr(feature = "serde", serde(deny_unknown_fields))]
pub struct ServoRecord<T> {
    /// Lower and upper angle, deg.
    pub angle: [T; 2],
    /// The pulse widths at those angles, microseconds.
    pub pulse_us: [T; 2],
}

/// What is written down of a timer, unchecked.
#[derive(Debug, Clone, Copy, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
#[cfg_attr(feature = "serde", serde(deny_unknown_fields))]
pub struct TimerRecord<T> {
    /// Frames per second.
    pub frame_hz: T,
    /// Timer counts of one whole frame.
    pub counts_per_frame: u32,
}

impl<T> JointRecord<T> {
    /// A straight, direct joint whose travel is its whole drive range.
    pub fn new(command: [T; 2], drive: [T; 2], rest: T, servo: ServoRecord<T>, timer: TimerRecord<T>) -> Self {
        Self {
            command,
            drive,
            inverted: false,
            travel: None,
            rest,
            max_rate_per_s: None,
            servo,
            timer,
            transmission: TransmissionRecord::default(),
            feedback: None,
        }
    }

    /// The same joint with each of its numbers in another form: from `f64` to the nearest `f32`, or back.
    ///
    /// ```
    /// # use elbowroom::{JointRecord, ServoRecord, TimerRecord};
    /// # let servo = ServoRecord { angle: [0.0, 180.0], pulse_us: [500.0, 2500.0] };
    /// # let timer = TimerRecord { frame_hz: 50.0, counts_per_frame: 4096 };
    /// let wide = JointRecord::<f64>::new([-40.0, 60.0], [37.0, 122.0], 10.0, servo, timer);
    /// let narrow = wide.clone().map(|x| x as f32);
    /// assert_eq!(narrow.map(f64::from), wide);
    /// ```
    pub fn map<U>(self, f: impl Fn(T) -> U) -> JointRecord<U> {
        JointRecord {
            command: self.command.map(&f),
            drive: self.drive.map(&f),
            inverted: self.inverted,
            travel: self.travel.map(|travel| travel.map(&f)),
            rest: f(self.rest),
            max_rate_per_s: self.max_rate_per_s.map(&f),
            servo: self.servo.map(&f),
            timer: self.timer.map(&f),
            transmission: self.transmission.map(&f),
            feedback: self.feedback.map(|feedback| feedback.map(&f)),
        }
    }
}

impl<T> ServoRecord<T> {
    /// The same servo with each of its numbers in another form; see [`JointRecord::map`].
    pub fn map<U>(self, f: impl Fn(T) -> U) -> ServoRecord<U> {
        ServoRecord {
            angle: self.angle.map(&f),
            pulse_us: self.pulse_us.map(&f),
        }
    }
}

impl<T: Real> From<Servo<T>> for ServoRecord<T> {
    fn from(servo: Servo<T>) -> Self {
        Self {
            angle: servo.angle_range().ends(),
            pulse_us: servo.pulse_range_us().ends(),
        }
    }
}

impl<T> TimerRecord<T> {
    /// The same timer with its frame rate in another form; see [`JointRecord::map`].
    pub fn map<U>(self, f: impl Fn(T) -> U) -> TimerRecord<U> {
        TimerRecord {
            frame_hz: f(self.frame_hz),
            counts_per_frame: self.counts_per_frame,
        }
    }
}

/// The example's left wing without travel, rate and sensor, for tests beside the code.
#[cfg(test)]
pub(crate) fn wing<T: Real>() -> JointRecord<T> {
    let w = T::from_wide;
    let servo = ServoRecord {
        angle: [w(0.0), w(180.0)],
        pulse_us: [w(500.0), w(2500.0)],
    };
    let timer = TimerRecord {
        frame_hz: w(50.0),
        counts_per_frame: 4096,
    };
    JointRecord::new([w(-40.0), w(60.0)], [w(37.0), w(122.0)], w(10.0), servo, timer)
}
