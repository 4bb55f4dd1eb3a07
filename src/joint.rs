//! A joint: the whole chain from command to timer count and back, checked once, then only used.

use crate::conversion::{Clamped, Conversion};
use crate::counts::{Chain, CountLine};
use crate::error::{ConvertError, JointError};
use crate::feedback::{Feedback, FeedbackRecord, ReadingState};
use crate::map::{Direction, LinearMap};
use crate::pulse::{CountSpan, Servo, Timer};
use crate::real::Real;
use crate::record::{JointRecord, TimerRecord};
use crate::rules::Parts;
use crate::span::Span;
use crate::transmission::Transmission;

/// A checked joint.
///
/// Towards the motor a command is clamped to the command range, becomes a drive angle, is clamped to the travel, and
/// becomes a pulse width and a timer count; NaN and infinities are refused. Backwards nothing is clamped, since a measured position
/// outside the travel is information, and NaN passes as NaN, since a gap in a log is a gap.
///
/// No call allocates or panics, and each has a bounded number of steps.
///
/// ```
/// use elbowroom::{Joint, JointRecord, ServoRecord, TimerRecord};
/// // Defaults, to be verified against the data sheet: a 180 degree servo on 500 to 2500 us, 12-bit counts at 50 Hz.
/// let servo = ServoRecord { angle: [0.0, 180.0], pulse_us: [500.0, 2500.0] };
/// let timer = TimerRecord { frame_hz: 50.0, counts_per_frame: 4096 };
/// let joint = Joint::new(JointRecord::new([-40.0, 60.0], [37.0, 122.0], 10.0, servo, timer))?;
///
/// assert_eq!(joint.drive(10.0)?.value, 79.5);
/// assert_eq!(joint.counts(10.0)?.value, 283);
/// assert!(joint.drive(100.0)?.clamped.command);
/// assert!(joint.drive(f64::NAN).is_err());
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
#[derive(Debug, Clone, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
#[cfg_attr(
    feature = "serde",
    serde(
        try_from = "JointRecord<T>",
        into = "JointRecord<T>",
        bound(
            serialize = "T: Real + serde::Serialize",
            deserialize = "T: Real + serde::Deserialize<'de>"
        )
    )
)]
pub struct Joint<T> {
    command: Span<T>,
    drive: Span<T>,
    direction: Direction,
    travel: Span<T>,
    rest: T,
    max_rate_per_s: Option<T>,
    servo: Servo<T>,
    timer: Timer<T>,
    transmission: Transmission<T>,
    feedback: Option<Sensor<T>>,
    counts: CountSpan,
    count_line: Option<CountLine<T>>,
}

/// A feedback map and the rest of the way to a command: the angle span is the command range, end to end.
#[derive(Debug, Clone, PartialEq)]
struct Sensor<T> {
    feedback: Feedback<T>,
    to_command: LinearMap<T>,
    from_command: LinearMap<T>,
}

impl<T: Real> Sensor<T> {
    fn new(record: &FeedbackRecord<T>, command: Span<T>) -> Result<Self, JointError> {
        let feedback = Feedback::new(record)?;
        let to_command = LinearMap::new(feedback.angle_range(), command, Direction::Direct);
        Ok(Self {
            feedback,
            to_command,
            from_command: to_command.reversed(),
        })
    }
}

impl<T: Real> Joint<T> {
    /// Checks a record.
    ///
    /// # Errors
    /// A [`JointError`] that names the field, its value and what would be right.
    pub fn new(record: JointRecord<T>) -> Result<Self, JointError> {
        let Parts {
            command,
            drive,
            direction,
            travel,
            rest,
            max_rate_per_s,
            servo,
            timer,
            counts,
        } = Parts::check::<JointError>(&record)?;
        let mut joint = Self {
            command,
            drive,
            direction,
            travel,
            rest,
            max_rate_per_s,
            servo,
            timer,
            transmission: Transmission::new(&record.transmission, command, drive, direction)?,
            feedback: record
                .feedback
                .as_ref()
                .map(|record| Sensor::new(record, command))
                .transpose()?,
            counts,
            count_line: None,
        };
        if record.transmission.is_linear() {
            joint.count_line = joint.line();
        }
        Ok(joint)
    }

    /// The record that makes an equal joint.
    pub fn record(&self) -> JointRecord<T> {
        JointRecord {
            command: self.command.ends(),
            drive: self.drive.ends(),
            inverted: self.direction.is_inverted(),
            travel: Some(self.travel.ends()),
            rest: self.rest,
            max_rate_per_s: self.max_rate_per_s,
            servo: self.servo.into(),
            timer: TimerRecord {
                frame_hz: self.timer.frame_hz(),
                counts_per_frame: self.timer.counts_per_frame(),
            },
            transmission: self.transmission.record(),
            feedback: self.feedback.as_ref().map(|sensor| sensor.feedback.record().clone()),
        }
    }

    /// The command range, in the joint's own unit.
    pub fn command_range(&self) -> Span<T> {
        self.command
    }

    /// The drive angles that the command range is mapped to, deg.
    pub fn drive_range(&self) -> Span<T> {
        self.drive
    }

    /// Whether the lower command belongs to the lower or to the upper drive angle.
    pub fn direction(&self) -> Direction {
        self.direction
    }

    /// The drive angles that the joint may use, deg.
    pub fn travel(&self) -> Span<T> {
        self.travel
    }

    /// The commands up to which the transmission can go: the dead centres of a mechanism, the ends of a curve, infinite where
    /// there is none. It holds the command range; the rest is how much room is left.
    ///
    /// ```
    /// # use elbowroom::{Joint, JointRecord, ServoRecord, TimerRecord, TransmissionRecord};
    /// # let servo = ServoRecord { angle: [0.0, 180.0], pulse_us: [500.0, 2500.0] };
    /// # let timer = TimerRecord { frame_hz: 50.0, counts_per_frame: 4096 };
    /// let mut beak = JointRecord::new([-40.0, 70.0], [20.0, 160.0], 0.0, servo, timer);
    /// assert_eq!(Joint::new(beak.clone())?.valid_range(), [f64::NEG_INFINITY, f64::INFINITY]);
    /// beak.transmission = TransmissionRecord::Triangle { base: 18.0, arm: 41.0, angle_at_zero: 60.0 };
    /// assert_eq!(Joint::new(beak)?.valid_range(), [-60.0, 120.0]);
    /// # Ok::<(), Box<dyn std::error::Error>>(())
    /// ```
    pub fn valid_range(&self) -> [T; 2] {
        match &self.transmission {
            Transmission::Linear(_) => [T::neg_infinity(), T::infinity()],
            #[cfg(feature = "std")]
            Transmission::Curve(_) => self.command.ends(),
            Transmission::Linkage(linkage) => linkage
                .mechanism()
                .valid_range(self.rest.to_wide())
                .map_or(self.command.ends(), |ends| ends.map(T::from_wide)),
        }
    }

    /// The command taken when no other is given.
    pub fn rest(&self) -> T {
        self.rest
    }

    /// The fastest the command may change, command units per second.
    pub fn max_rate_per_s(&self) -> Option<T> {
        self.max_rate_per_s
    }

    /// The servo.
    pub fn servo(&self) -> &Servo<T> {
        &self.servo
    }

    /// The timer.
    pub fn timer(&self) -> &Timer<T> {
        &self.timer
    }

    /// The transmission.
    pub fn transmission(&self) -> &Transmission<T> {
        &self.transmission
    }

    /// The feedback map, if the joint has a sensor.
    pub fn feedback(&self) -> Option<&Feedback<T>> {
        self.feedback.as_ref().map(|sensor| &sensor.feedback)
    }

    /// The lowest and the highest count that this joint ever gives.
    pub fn count_range(&self) -> [u32; 2] {
        [self.counts.lowest, self.counts.highest]
    }

    /// The line of a straight joint.
    fn line(&self) -> Option<CountLine<T>> {
        let chain = Chain {
            command: self.command,
            drive: self.drive,
            direction: self.direction,
            travel: self.travel,
            transmission: &self.transmission,
            servo: &self.servo,
            timer: &self.timer,
        };
        CountLine::of(&chain, |command| self.count_of(self.drive_of_finite(command)).value)
    }

    pub(crate) fn count_line(&self) -> Option<&CountLine<T>> {
        self.count_line.as_ref()
    }

    /// Keeps to fewer counts: those of both spans. None if there is no such count.
    #[cfg(feature = "std")]
    pub(crate) fn held_to_counts(mut self, [lowest, highest]: [u32; 2]) -> Option<Self> {
        let lowest = lowest.max(self.counts.lowest);
        let highest = highest.min(self.counts.highest);
        self.counts = (lowest <= highest).then_some(CountSpan { lowest, highest })?;
        if self.transmission.record().is_linear() {
            self.count_line = self.line();
        }
        Some(self)
    }

    /// The drive angle, deg, of a command.
    ///
    /// # Errors
    /// [`ConvertError::NotFinite`] for NaN and infinities.
    #[inline]
    pub fn drive(&self, command: T) -> Result<Conversion<T>, ConvertError> {
        if command.is_finite() {
            Ok(self.drive_of_finite(command))
        } else {
            Err(ConvertError::NotFinite {
                value: command.to_wide(),
            })
        }
    }

    /// The pulse width, microseconds, of a command.
    ///
    /// # Errors
    /// [`ConvertError::NotFinite`] for NaN and infinities.
    #[inline]
    pub fn pulse_us(&self, command: T) -> Result<Conversion<T>, ConvertError> {
        Ok(self.pulse_of(self.drive(command)?))
    }

    /// The timer count of a command; its own drive angle always lies inside the travel.
    ///
    /// # Errors
    /// [`ConvertError::NotFinite`] for NaN and infinities.
    #[inline]
    pub fn counts(&self, command: T) -> Result<Conversion<u32>, ConvertError> {
        // The line decides nearly always, and spares three divisions.
        match self
            .count_line()
            .and_then(|line| line.conversion(command, self.command))
        {
            Some(count) => Ok(count),
            None => self.counts_in_steps(command),
        }
    }

    /// By the chain itself: apart, so that what the line decides pays nothing for it.
    #[inline(never)]
    pub(crate) fn counts_in_steps(&self, command: T) -> Result<Conversion<u32>, ConvertError> {
        Ok(self.count_of(self.drive(command)?))
    }

    #[inline]
    pub(crate) fn drive_of_finite(&self, command: T) -> Conversion<T> {
        // Clamped and compared afterwards: no branch that a processor could guess wrong.
        let inside = self.command.clamp(command);
        let drive = self.transmission.drive_inside(inside);
        let value = self.travel.clamp(drive);
        Conversion {
            value,
            clamped: Clamped {
                command: inside != command,
                travel: value != drive,
            },
        }
    }

    #[inline]
    pub(crate) fn pulse_of(&self, drive: Conversion<T>) -> Conversion<T> {
        Conversion {
            value: self.servo.pulse_us_inside(drive.value),
            clamped: drive.clamped,
        }
    }

    #[inline]
    pub(crate) fn count_of(&self, drive: Conversion<T>) -> Conversion<u32> {
        Conversion {
            value: self.count_at(drive.value),
            clamped: drive.clamped,
        }
    }

    /// The timer count of a drive angle within the travel.
    #[inline]
    pub(crate) fn count_at(&self, drive: T) -> u32 {
        self.counts.hold(self.timer.nearest_count(self.servo.pulse_us(drive)))
    }

    /// The timer count for a drive angle, deg, and the drive angle that this count really commands: what a bring-up moves by, which has to
    /// go beyond the joint's travel. Clamped to the servo's own angle range and marked `travel` then; the travel is not applied. It is the
    /// nearest count, but where that commands the servo beyond its range the next one inside.
    ///
    /// # Errors
    /// [`ConvertError::NotFinite`] for NaN and infinities.
    ///
    /// ```
    /// # use elbowroom::{Joint, JointRecord, ServoRecord, TimerRecord};
    /// # let servo = ServoRecord { angle: [0.0, 180.0], pulse_us: [500.0, 2500.0] };
    /// # let timer = TimerRecord { frame_hz: 50.0, counts_per_frame: 4096 };
    /// let joint = Joint::new(JointRecord::new([-40.0, 60.0], [37.0, 122.0], 10.0, servo, timer))?;
    /// let (count, drive) = joint.counts_from_drive(30.0)?;
    /// assert_eq!(count.value, 171);
    /// assert!((drive - 30.146_484_375_f64).abs() < 1e-9);
    /// # Ok::<(), Box<dyn std::error::Error>>(())
    /// ```
    pub fn counts_from_drive(&self, drive: T) -> Result<(Conversion<u32>, T), ConvertError> {
        if !drive.is_finite() {
            return Err(ConvertError::NotFinite { value: drive.to_wide() });
        }
        let inside = self.servo.angle_range().clamp(drive);
        let nearest = self.timer.nearest_count(self.servo.pulse_us(inside));
        // Where a count is wider than the whole range, none is inside.
        let counts = CountSpan::inside(self.servo.angle_range(), &self.servo, &self.timer);
        let value = counts.map_or(nearest, |counts| counts.hold(nearest));
        let clamped = Clamped {
            command: false,
            travel: inside != drive,
        };
        Ok((
            Conversion { value, clamped },
            self.servo.angle(self.timer.pulse_us(value)),
        ))
    }

    /// The command of a drive angle in deg. Nothing is clamped; NaN gives NaN.
    #[inline]
    pub fn command_from_drive(&self, drive: T) -> T {
        self.transmission.command(drive)
    }

    /// The command of a pulse width in microseconds. Nothing is clamped; NaN gives NaN.
    #[inline]
    pub fn command_from_pulse_us(&self, pulse_us: T) -> T {
        self.command_from_drive(self.servo.angle(pulse_us))
    }

    /// The command of a timer count. Nothing is clamped.
    #[inline]
    pub fn command_from_counts(&self, count: u32) -> T {
        self.command_from_pulse_us(self.timer.pulse_us(count))
    }
}

/// The joint's sensor: from reading to command and back.
impl<T: Real> Joint<T> {
    /// The joint angle, deg, of a reading. Nothing is clamped; NaN gives NaN.
    ///
    /// # Errors
    /// [`ConvertError::NoFeedback`].
    #[inline]
    pub fn angle_from_reading(&self, reading: T) -> Result<T, ConvertError> {
        Ok(self.sensor()?.feedback.angle(reading))
    }

    /// The command at which a reading was taken, if there were no lost motion. Nothing is clamped; NaN gives NaN.
    ///
    /// # Errors
    /// [`ConvertError::NoFeedback`].
    #[inline]
    pub fn command_from_reading(&self, reading: T) -> Result<T, ConvertError> {
        let sensor = self.sensor()?;
        Ok(sensor.to_command.apply(sensor.feedback.angle(reading)))
    }

    /// The reading to be expected at a command, not rounded. Nothing is clamped; NaN gives NaN.
    ///
    /// # Errors
    /// [`ConvertError::NoFeedback`].
    #[inline]
    pub fn reading_from_command(&self, command: T) -> Result<T, ConvertError> {
        let sensor = self.sensor()?;
        Ok(sensor.feedback.reading(sensor.from_command.apply(command)))
    }

    /// The reading as it would be at the supply that the feedback map was taken at, `supply_v` being the supply now, in
    /// volts: what the other calls expect of a sensor that is not ratiometric.
    ///
    /// A ratiometric sensor, whose feedback names no supply, reads the same at every one: its reading is given back. NaN and
    /// a supply of 0 give NaN or an infinity.
    ///
    /// # Errors
    /// [`ConvertError::NoFeedback`].
    ///
    /// ```
    /// # use elbowroom::{FeedbackRecord, Joint, JointRecord, ServoRecord, TimerRecord};
    /// # let servo = ServoRecord { angle: [0.0, 180.0], pulse_us: [500.0, 2500.0] };
    /// # let timer = TimerRecord { frame_hz: 50.0, counts_per_frame: 4096 };
    /// let mut beak = JointRecord::new([-40.0, 60.0], [37.0, 122.0], 10.0, servo, timer);
    /// let mut feedback = FeedbackRecord::new([200.0, 800.0], [0.0, 90.0]);
    /// feedback.supply_v = Some(5.0);
    /// beak.feedback = Some(feedback);
    /// let beak = Joint::new(beak)?;
    /// assert_eq!(beak.reading_at_supply(400.0, 4.0)?, 500.0);
    /// # Ok::<(), Box<dyn std::error::Error>>(())
    /// ```
    pub fn reading_at_supply(&self, reading: T, supply_v: T) -> Result<T, ConvertError> {
        Ok(self.sensor()?.feedback.at_supply(reading, supply_v))
    }

    /// The state of the sensor that a reading shows: sound, out of its measured range, or at a rail.
    ///
    /// # Errors
    /// [`ConvertError::NoFeedback`].
    pub fn reading_state(&self, reading: T) -> Result<ReadingState, ConvertError> {
        Ok(self.sensor()?.feedback.state(reading))
    }

    /// Degrees of joint angle per unit of reading: what one count of the converter is worth at a reading, negative where the
    /// reading falls as the angle rises. Beyond the map's ends, the slope with which it continues there; NaN gives NaN.
    ///
    /// # Errors
    /// [`ConvertError::NoFeedback`].
    ///
    /// ```
    /// # use elbowroom::{FeedbackRecord, Joint, JointRecord, ServoRecord, TimerRecord};
    /// # let servo = ServoRecord { angle: [0.0, 180.0], pulse_us: [500.0, 2500.0] };
    /// # let timer = TimerRecord { frame_hz: 50.0, counts_per_frame: 4096 };
    /// let mut beak = JointRecord::new([-40.0, 60.0], [37.0, 122.0], 10.0, servo, timer);
    /// beak.feedback = Some(FeedbackRecord::new([200.0, 800.0], [0.0, 90.0]));
    /// let beak = Joint::new(beak)?;
    /// assert_eq!(beak.angle_per_reading(500.0)?, 0.15);
    /// # Ok::<(), Box<dyn std::error::Error>>(())
    /// ```
    pub fn angle_per_reading(&self, reading: T) -> Result<T, ConvertError> {
        Ok(self.sensor()?.feedback.angle_per_reading(reading))
    }

    /// Whether a broken or shorted wire can be seen: at the lower and at the upper rail of the converter. What that takes is
    /// said at [`Feedback::detects_wire_faults`]; without `adc_bits` it can be seen at neither.
    ///
    /// # Errors
    /// [`ConvertError::NoFeedback`].
    pub fn detects_wire_faults(&self) -> Result<[bool; 2], ConvertError> {
        Ok(self.sensor()?.feedback.detects_wire_faults())
    }

    /// The lowest and the highest command that the travel allows, both within the command range.
    pub(crate) fn reach(&self) -> [T; 2] {
        // Within the drive range, beyond which a mechanism may have no answer. One of the two ranges reaches into the other.
        let ends = self.travel.ends().map(|end| {
            let drive = self.drive.clamp(end);
            self.command.clamp(self.command_from_drive(drive))
        });
        if self.direction.is_inverted() {
            [ends[1], ends[0]]
        } else {
            ends
        }
    }

    #[inline]
    fn sensor(&self) -> Result<&Sensor<T>, ConvertError> {
        self.feedback.as_ref().ok_or(ConvertError::NoFeedback)
    }
}

impl<T: Real> TryFrom<JointRecord<T>> for Joint<T> {
    type Error = JointError;

    fn try_from(record: JointRecord<T>) -> Result<Self, JointError> {
        Self::new(record)
    }
}

impl<T: Real> From<Joint<T>> for JointRecord<T> {
    fn from(joint: Joint<T>) -> Self {
        joint.record()
    }
}

#[cfg(test)]
mod tests;
