//! The conversions of a joint, on the numbers of its image.

use crate::block::Block;
use crate::block::curve::BlockCurve;
use crate::block::error::BlockError;
use crate::block::image::{Image, Part};
use crate::block::layout::{CURVES, JOINT, KNOT, flag, joint, kind};
use crate::conversion::{Clamped, Conversion};
use crate::feedback::FeedbackRecord;
use crate::map::{Direction, image};
use crate::pulse::{CountSpan, Timer};
use crate::rate;
use crate::real::Real;
use crate::record::{JointRecord, ServoRecord, TimerRecord};
use crate::span::{Held, Span};

/// One joint of a block, read in place.
///
/// Its conversions do what those of [`Joint<f32>`](crate::Joint) of the same name do, to the bit.
#[derive(Debug, Clone, Copy)]
pub struct BlockJoint<I: Image> {
    numbers: I::Part<JOINT>,
    /// Where its knots are found.
    block: Block<I>,
}

impl<I: Image> BlockJoint<I> {
    #[inline]
    pub(super) fn new(block: Block<I>, index: u16) -> Result<Self, BlockError> {
        let at = block.joint_at(index);
        let numbers = block.image.part::<JOINT>(at);
        Self::of(block, numbers.ok_or(BlockError::Invalid { at: at as u32 })?, index)
    }

    /// The joint `index` with its bytes.
    #[inline]
    pub(super) fn of(block: Block<I>, numbers: I::Part<JOINT>, index: u16) -> Result<Self, BlockError> {
        let read = Self { numbers, block };
        match read.kind() {
            kind::LINEAR => Ok(read),
            kind::CURVE_PARABOLA..=kind::CURVE_HARMONIC_CHORD if CURVES => Ok(read),
            kind::CURVE_PARABOLA..=kind::CURVE_HARMONIC_CHORD => Err(BlockError::CurveUnread {
                channel: read.channel(),
            }),
            _ => Err(BlockError::Invalid {
                at: (block.joint_at(index) + joint::KIND) as u32,
            }),
        }
    }

    /// The channel.
    #[inline]
    pub fn channel(&self) -> u16 {
        self.numbers.u16_at(joint::CHANNEL)
    }

    /// The command to take when no other is given.
    #[inline]
    pub fn rest(&self) -> f32 {
        self.float(joint::REST)
    }

    /// The fastest the command may change, command units per second.
    #[inline]
    pub fn max_rate_per_s(&self) -> Option<f32> {
        (self.flags() & flag::RATE != 0).then(|| self.float(joint::RATE_PER_S))
    }

    /// The lowest and the highest count that this joint ever gives.
    #[inline]
    pub fn count_range(&self) -> [u32; 2] {
        [self.u32_at(joint::LOWEST), self.u32_at(joint::HIGHEST)]
    }

    /// The drive angle, deg, of a command.
    ///
    /// # Errors
    /// [`BlockError::NotFinite`] for NaN and infinities; [`BlockError::Invalid`] if an unchecked image holds no curve where it
    /// should.
    #[inline]
    pub fn drive(&self, command: f32) -> Result<Conversion<f32>, BlockError> {
        let (command, past_command) = self.held(command)?;
        let (value, past_travel) = self.held_to_travel(command)?;
        Ok(Conversion {
            value,
            clamped: Clamped {
                command: past_command != Held::Inside,
                travel: past_travel != Held::Inside,
            },
        })
    }

    /// The drive angle of a command within the command range, held to the travel.
    #[inline]
    fn held_to_travel(&self, command: f32) -> Result<(f32, Held), BlockError> {
        let drive = match self.curve() {
            None => self.straight(joint::COMMAND, joint::DRIVE, self.direction(), command),
            Some(curve) => curve.at(command).ok_or(BlockError::Invalid {
                at: joint::FIRST_KNOT as u32,
            })?,
        };
        Ok(self.span(joint::TRAVEL).hold(drive))
    }

    /// The pulse width, microseconds, of a command.
    ///
    /// # Errors
    /// As for [`BlockJoint::drive`].
    #[inline]
    pub fn pulse_us(&self, command: f32) -> Result<Conversion<f32>, BlockError> {
        let Conversion { value, clamped } = self.drive(command)?;
        let value = self.pulse_us_of_drive(value);
        Ok(Conversion { value, clamped })
    }

    /// The timer count of a command.
    ///
    /// # Errors
    /// As for [`BlockJoint::drive`].
    #[inline]
    pub fn counts(&self, command: f32) -> Result<Conversion<u32>, BlockError> {
        let Conversion { value, clamped } = self.pulse_us(command)?;
        let value = self.counts_of_pulse(value);
        Ok(Conversion { value, clamped })
    }

    /// The pulse width, microseconds, of a drive angle in deg. Nothing is clamped; NaN gives NaN.
    #[inline]
    pub fn pulse_us_of_drive(&self, drive: f32) -> f32 {
        self.straight(joint::SERVO_ANGLE, joint::SERVO_PULSE_US, Direction::Direct, drive)
    }

    /// The timer count of a pulse width in microseconds, held to the counts of this joint.
    #[inline]
    pub fn counts_of_pulse(&self, pulse_us: f32) -> u32 {
        let [lowest, highest] = self.count_range();
        CountSpan { lowest, highest }.hold(self.timer().nearest_count_by_bits(pulse_us))
    }

    /// The command of a drive angle in deg. Nothing is clamped; NaN gives NaN.
    #[inline]
    pub fn command_from_drive(&self, drive: f32) -> f32 {
        match self.curve() {
            None => self.straight(joint::DRIVE, joint::COMMAND, self.direction(), drive),
            Some(curve) => curve.inverse(drive).unwrap_or(f32::NAN),
        }
    }

    /// The command of a pulse width in microseconds. Nothing is clamped; NaN gives NaN.
    #[inline]
    pub fn command_from_pulse_us(&self, pulse_us: f32) -> f32 {
        let angle = self.straight(joint::SERVO_PULSE_US, joint::SERVO_ANGLE, Direction::Direct, pulse_us);
        self.command_from_drive(angle)
    }

    /// The command of a timer count. Nothing is clamped.
    #[inline]
    pub fn command_from_counts(&self, count: u32) -> f32 {
        self.command_from_pulse_us(self.timer().pulse_us(count))
    }

    /// The command at which a reading of the joint's sensor was taken. Nothing is clamped; NaN gives NaN.
    ///
    /// A block does not hold the range of the converter: a reading at its end, as of a broken wire, converts like any other. Compare
    /// the reading with that range first.
    ///
    /// # Errors
    /// [`BlockError::NoFeedback`]; [`BlockError::CurveUnread`] in a library without curves.
    #[inline]
    pub fn command_from_reading(&self, reading: f32) -> Result<f32, BlockError> {
        let flags = self.flags();
        if flags & flag::FEEDBACK == 0 {
            let channel = self.channel();
            return Err(BlockError::NoFeedback { channel });
        }
        let angle = if flags & flag::FEEDBACK_CURVED == 0 {
            let direction = Direction::from_inverted(flags & flag::FEEDBACK_INVERTED != 0);
            self.straight(joint::READING, joint::ANGLE, direction, reading)
        } else if CURVES {
            let at = joint::READING as u32;
            let curve = self.curve_of(joint::READING);
            curve.at(reading).ok_or(BlockError::Invalid { at })?
        } else {
            let channel = self.channel();
            return Err(BlockError::CurveUnread { channel });
        };
        Ok(self.straight(joint::ANGLE, joint::COMMAND, Direction::Direct, angle))
    }

    /// The next command on the way to `target`, after `seconds`, no faster than the joint's rate.
    ///
    /// The target is held to the command range first and then to the command at which the travel ends, and both are reported: the
    /// command never runs on while the motor stands at the end of the travel, and turns back at once. A `from` out of reach
    /// comes in from there. Without a rate the target is reached at once. A step so short that it is less than half a unit in
    /// the last place of `from` does not move.
    ///
    /// One conversion to a drive angle for each call, and one back where the travel holds the target: on a curved joint that takes the
    /// longest of all calls. [`JointRamp::of_block`](crate::bring_up::JointRamp::of_block) makes both once, keeps the command
    /// itself, and can bound the acceleration.
    ///
    /// # Errors
    /// [`BlockError::NotFinite`] for NaN and infinities, [`BlockError::TimeBackwards`] for seconds below zero;
    /// [`BlockError::Invalid`] if an unchecked image holds no curve where it should.
    #[inline]
    pub fn step(&self, from: f32, target: f32, seconds: f32) -> Result<Conversion<f32>, BlockError> {
        let (target, past_command) = self.held(target)?;
        finite(from)?;
        finite(seconds)?;
        if seconds.is_below_zero() {
            return Err(BlockError::TimeBackwards { seconds });
        }
        let (end, past_travel) = self.held_to_travel(target)?;
        let travel = past_travel != Held::Inside;
        let target = if travel { self.reach_at(end) } else { target };
        let value = match self.max_rate_per_s() {
            Some(max_rate_per_s) => rate::step(from, target, max_rate_per_s, seconds),
            None => target,
        };
        Ok(Conversion {
            value,
            clamped: Clamped {
                command: past_command != Held::Inside,
                travel,
            },
        })
    }

    /// The command range.
    #[inline]
    pub(crate) fn command_range(&self) -> Span<f32> {
        self.span(joint::COMMAND)
    }

    /// The lowest and the highest command that the travel allows, both within the command range.
    pub(crate) fn reach(&self) -> [f32; 2] {
        let [lower, upper] = self.ends(joint::TRAVEL).map(|end| self.reach_at(end));
        if self.direction().is_inverted() {
            [upper, lower]
        } else {
            [lower, upper]
        }
    }

    /// The command within the range that comes nearest to the end of the travel at `end`.
    #[inline]
    fn reach_at(&self, end: f32) -> f32 {
        let drive = self.span(joint::DRIVE).clamp(end);
        self.span(joint::COMMAND).clamp(self.command_from_drive(drive))
    }

    /// The record of the joint: what [`Joint::new`](crate::Joint::new) takes.
    ///
    /// A record keeps the knots of a curve on the heap. Without `std` there is none, so that a curved joint is refused; the
    /// conversions of this type need no record.
    ///
    /// # Errors
    /// [`BlockError::CurveUnrecorded`] without `std`, for a curved transmission or feedback; with it [`BlockError::Invalid`] if an
    /// unchecked image holds no curve where it should.
    ///
    /// ```
    /// # use elbowroom::{Joint, JointRecord, ServoRecord, TimerRecord, block};
    /// # let servo = ServoRecord { angle: [0.0, 180.0], pulse_us: [500.0, 2500.0] };
    /// # let timer = TimerRecord { frame_hz: 50.0, counts_per_frame: 4096 };
    /// let joint = Joint::new(JointRecord::new([-40.0, 60.0], [37.0, 122.0], 10.0, servo, timer))?;
    /// let image = block::to_vec(&[(3, &joint)])?;
    /// let read = block::Block::new(&image[..])?.joint(3)?;
    /// assert_eq!(Joint::new(read.record()?)?, joint);
    /// # Ok::<(), Box<dyn std::error::Error>>(())
    /// ```
    pub fn record(&self) -> Result<JointRecord<f32>, BlockError> {
        let record = self.straight_record();
        #[cfg(feature = "std")]
        let record = self.with_curves(record)?;
        #[cfg(not(feature = "std"))]
        if self.kind() != kind::LINEAR || self.flags() & flag::FEEDBACK_CURVED != 0 {
            let channel = self.channel();
            return Err(BlockError::CurveUnrecorded { channel });
        }
        Ok(record)
    }

    /// The record with the curves of the joint.
    #[cfg(feature = "std")]
    fn with_curves(&self, mut record: JointRecord<f32>) -> Result<JointRecord<f32>, BlockError> {
        let points = |curve: BlockCurve<I>, at: usize| curve.points().ok_or(BlockError::Invalid { at: at as u32 });
        if let Some(curve) = self.curve() {
            record.transmission = crate::transmission::TransmissionRecord::Curve {
                knots: points(curve, joint::FIRST_KNOT)?,
                rule: match self.kind() {
                    kind::CURVE_MEAN_CHORD => crate::curve::SlopeRule::MeanChord,
                    kind::CURVE_HARMONIC_CHORD => crate::curve::SlopeRule::HarmonicChord,
                    _ => crate::curve::SlopeRule::Parabola,
                },
            };
        }
        if let (Some(feedback), Some(curve)) = (&mut record.feedback, self.feedback_curve()) {
            let points = points(curve, joint::READING)?;
            let reading = |point: Option<&[f32; 2]>| point.map_or(0.0, |[reading, _]| *reading);
            feedback.reading = [reading(points.first()), reading(points.last())];
            feedback.knots = Some(points);
        }
        Ok(record)
    }

    /// The record without curves.
    #[inline]
    pub(super) fn straight_record(&self) -> JointRecord<f32> {
        let servo = ServoRecord {
            angle: self.ends(joint::SERVO_ANGLE),
            pulse_us: self.ends(joint::SERVO_PULSE_US),
        };
        let timer = TimerRecord {
            frame_hz: self.float(joint::FRAME_HZ),
            counts_per_frame: self.u32_at(joint::COUNTS),
        };
        let (command, drive) = (self.ends(joint::COMMAND), self.ends(joint::DRIVE));
        let mut record = JointRecord::new(command, drive, self.rest(), servo, timer);
        record.inverted = self.direction().is_inverted();
        record.travel = Some(self.ends(joint::TRAVEL));
        record.max_rate_per_s = self.max_rate_per_s();
        if self.flags() & flag::FEEDBACK != 0 {
            let mut feedback = FeedbackRecord::new(self.ends(joint::READING), self.ends(joint::ANGLE));
            feedback.inverted = self.flags() & flag::FEEDBACK_INVERTED != 0;
            record.feedback = Some(feedback);
        }
        record
    }

    /// The image of `x` on the line from the ends at `from` to those at `to`.
    #[inline]
    fn straight(&self, from: usize, to: usize, direction: Direction, x: f32) -> f32 {
        straight(self.numbers, from as u8, to as u8, direction, x)
    }

    #[inline]
    fn held(&self, command: f32) -> Result<(f32, Held), BlockError> {
        finite(command)?;
        Ok(self.span(joint::COMMAND).hold(command))
    }

    #[inline]
    pub(super) fn kind(&self) -> u8 {
        self.numbers.byte(joint::KIND)
    }

    #[inline]
    pub(super) fn flags(&self) -> u8 {
        self.numbers.byte(joint::FLAGS)
    }

    /// The curve of its transmission; none if it is straight.
    #[inline]
    pub(super) fn curve(&self) -> Option<BlockCurve<I>> {
        (CURVES && self.kind() != kind::LINEAR).then(|| self.curve_of(joint::FIRST_KNOT))
    }

    /// The curve of its feedback; none if it is straight or there is none.
    #[inline]
    pub(super) fn feedback_curve(&self) -> Option<BlockCurve<I>> {
        (CURVES && self.flags() & flag::FEEDBACK_CURVED != 0).then(|| self.curve_of(joint::READING))
    }

    /// The curve whose first knot and number of knots stand at `at`.
    #[inline]
    fn curve_of(&self, at: usize) -> BlockCurve<I> {
        let [first, count] = self.knots(at);
        BlockCurve::new(
            self.block.image,
            self.block.knots_at() + KNOT * usize::from(first),
            count,
        )
    }

    /// The number of a first knot, and how many knots follow.
    #[inline]
    pub(super) fn knots(&self, at: usize) -> [u16; 2] {
        let both = self.u32_at(at);
        [both as u16, (both >> 16) as u16]
    }

    #[inline]
    fn direction(&self) -> Direction {
        Direction::from_inverted(self.flags() & flag::INVERTED != 0)
    }

    #[inline]
    fn timer(&self) -> Timer<f32> {
        Timer::of_checked(self.float(joint::FRAME_HZ), self.u32_at(joint::COUNTS))
    }

    #[inline]
    fn span(&self, at: usize) -> Span<f32> {
        Span::of_checked(self.ends(at))
    }

    #[inline]
    pub(super) fn ends(&self, at: usize) -> [f32; 2] {
        [self.float(at), self.float(at + 4)]
    }

    #[inline]
    pub(super) fn float(&self, at: usize) -> f32 {
        self.numbers.float(at)
    }

    #[inline]
    pub(super) fn u32_at(&self, at: usize) -> u32 {
        self.numbers.u32_at(at)
    }
}

/// The image of `x` on the line between two pairs of ends among a joint's numbers. One copy for all calls.
#[inline(never)]
fn straight<P: Part>(numbers: P, from: u8, to: u8, direction: Direction, x: f32) -> f32 {
    let ends = |at: u8| [numbers.float(at.into()), numbers.float(usize::from(at) + 4)];
    image(x, ends(from), ends(to), direction)
}

#[inline]
fn finite(value: f32) -> Result<(), BlockError> {
    if value.is_bounded() {
        Ok(())
    } else {
        Err(BlockError::NotFinite { value })
    }
}
