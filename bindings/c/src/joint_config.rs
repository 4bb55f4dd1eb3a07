//! What is written down of a joint, as a C struct.

use crate::joint::elb_joint;
use crate::pointer::{self, Growing};
use crate::refusal::Refusal;
use model::curve::SlopeRule;
use model::linkage::Side;
use model::{FeedbackRecord, JointRecord, ServoRecord, TimerRecord, TransmissionRecord};
use std::mem::offset_of;
use std::ptr::null;

/// A straight line between the ends.
pub const ELB_TRANSMISSION_LINEAR: u32 = 0;
/// A monotone curve through knots.
pub const ELB_TRANSMISSION_CURVE: u32 = 1;
/// A linear actuator or lead screw across a hinge. Its numbers: near, far (lengths from the hinge to the actuator's two
/// ends), angle_at_zero (between them at command 0, deg).
pub const ELB_TRANSMISSION_TRIANGLE: u32 = 2;
/// A crank that moves a slide. Its numbers: crank, rod, offset, slide_at_zero (lengths).
pub const ELB_TRANSMISSION_CRANK_SLIDER: u32 = 3;
/// A horn that moves a lever through a rod. Its numbers: horn, rod, lever, ground (lengths), lever_at_zero (the lever's
/// angle at command 0, deg).
pub const ELB_TRANSMISSION_FOUR_BAR: u32 = 4;
/// A tendon on a drum. Its numbers: drum (radius at command 0), per_turn (what the radius gains with each turn), pulley
/// (radius at the joint).
pub const ELB_TRANSMISSION_SPOOL: u32 = 5;

/// The pin lies counter-clockwise of the line from the shaft to the pin that it moves.
pub const ELB_PIN_LEFT: u32 = 0;
/// The pin lies clockwise of that line.
pub const ELB_PIN_RIGHT: u32 = 1;

/// Slopes of the parabola through three knots, held monotone: the most exact.
pub const ELB_SLOPES_PARABOLA: u32 = 0;
/// Slopes that are the mean of two chords, held monotone.
pub const ELB_SLOPES_MEAN_CHORD: u32 = 1;
/// Slopes that are the weighted harmonic mean of two chords.
pub const ELB_SLOPES_HARMONIC_CHORD: u32 = 2;

/// What is written down of a joint. Begin with elb_joint_config_init.
///
/// Every pair is lower then upper. Fields are only ever appended.
#[derive(Debug, Clone, Copy)]
#[repr(C)]
pub struct elb_joint_config {
    /// Bytes of this struct as the caller knows it; set by elb_joint_config_init.
    pub size: usize,
    /// Lower and upper command, in the joint's own unit.
    pub command: [f64; 2],
    /// The drive angles that the command range is mapped to, deg.
    pub drive: [f64; 2],
    /// The drive angles that the joint may use, deg. Both 0, the default: the same as `drive`.
    pub travel: [f64; 2],
    /// The command taken when nothing else is asked.
    pub rest: f64,
    /// The fastest the command may change, command units per second. 0, the default: not said.
    pub rate_per_s: f64,
    /// The servo's angle range, deg. Default 0 to 180 (common practice, no source).
    pub servo_angle: [f64; 2],
    /// The pulse widths at those angles, microseconds. No default: servos differ.
    pub servo_pulse_us: [f64; 2],
    /// Frames per second. Default 50 (common practice, no source).
    pub frame_hz: f64,
    /// Timer counts of one whole frame. No default.
    pub counts: u32,
    /// 1 if the lower command belongs to the upper drive angle, else 0, the default.
    pub inverted: u32,
    /// How a command becomes a drive angle: ELB_TRANSMISSION_...; the default is a straight line.
    pub transmission: u32,
    /// Where the pin of a crank-slider's crank or of a four-bar's horn lies: ELB_PIN_... Else unused.
    pub pin: u32,
    /// The numbers of a linkage, in the order that its ELB_TRANSMISSION_... constant states. Else unused.
    pub linkage: [f64; 5],
    /// The knots of a curve, (n_knots x 2): command and drive angle in deg of each, commands rising, the first and the
    /// last at the ends of `command` and `drive`. Read during the call. Nullable if `transmission` is no curve.
    pub knots: *const f64,
    /// How many knots. Else 0.
    pub n_knots: usize,
    /// How the slopes at the knots follow from them: ELB_SLOPES_...
    pub slopes: u32,
    /// 1 if the feedback's reading falls as the joint angle rises, else 0, the default.
    pub feedback_inverted: u32,
    /// Lower and upper reading of the feedback, e.g. ADC counts. This and `feedback_angle` both 0, the default: no
    /// feedback, and the other feedback fields mean nothing.
    pub feedback_reading: [f64; 2],
    /// Lower and upper joint angle, deg, as a protractor reads them at the ends of the command range.
    pub feedback_angle: [f64; 2],
    /// Joint angle, deg, of one turn of a sensor that wraps around. 0, the default: it does not wrap.
    pub feedback_turn_deg: f64,
    /// Resistance of the potentiometer from end to end, ohm. 0, the default: not known.
    pub feedback_pot_ohm: f64,
    /// Resistance from its wiper to ground through whatever reads it, ohm. 0, the default: not known.
    pub feedback_input_ohm: f64,
    /// Supply of the sensor, V, when the readings were taken. 0, the default: the readings are ratiometric.
    pub feedback_supply_v: f64,
    /// Knots of a feedback curve, (feedback_n_knots x 2): reading and joint angle in deg of each, readings rising.
    /// Nullable: the feedback is straight.
    pub feedback_knots: *const f64,
    /// How many knots. Else 0.
    pub feedback_n_knots: usize,
    /// Bits of the converter. 0, the default: not known.
    pub feedback_adc_bits: u32,
    /// Always 0.
    pub reserved: u32,
}

// SAFETY: `repr(C)`, begins with its size, and holds numbers and raw pointers only.
unsafe impl Growing for elb_joint_config {
    const WHAT: &'static str = "elb_joint_config";
    // Transmission and feedback came later.
    const LEAST: usize = offset_of!(Self, transmission);

    fn defaults() -> Self {
        Self {
            size: size_of::<Self>(),
            command: [0.0; 2],
            drive: [0.0; 2],
            travel: [0.0; 2],
            rest: 0.0,
            rate_per_s: 0.0,
            servo_angle: [0.0, 180.0],
            servo_pulse_us: [0.0; 2],
            frame_hz: 50.0,
            counts: 0,
            inverted: 0,
            transmission: ELB_TRANSMISSION_LINEAR,
            pin: ELB_PIN_LEFT,
            linkage: [0.0; 5],
            knots: null(),
            n_knots: 0,
            slopes: ELB_SLOPES_PARABOLA,
            feedback_inverted: 0,
            feedback_reading: [0.0; 2],
            feedback_angle: [0.0; 2],
            feedback_turn_deg: 0.0,
            feedback_pot_ohm: 0.0,
            feedback_input_ohm: 0.0,
            feedback_supply_v: 0.0,
            feedback_knots: null(),
            feedback_n_knots: 0,
            feedback_adc_bits: 0,
            reserved: 0,
        }
    }
}

const _: () = assert!(size_of::<usize>() != 8 || size_of::<elb_joint_config>() == 280);

impl elb_joint_config {
    /// The record, unchecked by the model. Reads the knots.
    pub(crate) unsafe fn record(&self) -> Result<JointRecord<f64>, Refusal> {
        let servo = ServoRecord {
            angle: self.servo_angle,
            pulse_us: self.servo_pulse_us,
        };
        let timer = TimerRecord {
            frame_hz: self.frame_hz,
            counts: self.counts,
        };
        let mut record = JointRecord::new(self.command, self.drive, self.rest, servo, timer);
        record.inverted = truth("inverted", self.inverted)?;
        record.travel = (self.travel != [0.0, 0.0]).then_some(self.travel);
        record.rate_per_s = (self.rate_per_s != 0.0).then_some(self.rate_per_s);
        // SAFETY: the header's contract.
        unsafe {
            record.transmission = self.transmission()?;
            record.feedback = self.feedback()?;
        }
        Ok(record)
    }

    unsafe fn feedback(&self) -> Result<Option<FeedbackRecord<f64>>, Refusal> {
        if self.feedback_reading == [0.0, 0.0] && self.feedback_angle == [0.0, 0.0] {
            return Ok(None);
        }
        let given = |number: f64| (number != 0.0).then_some(number);
        let mut record = FeedbackRecord::new(self.feedback_reading, self.feedback_angle);
        record.inverted = truth("feedback_inverted", self.feedback_inverted)?;
        record.adc_bits = match self.feedback_adc_bits {
            0 => None,
            bits => Some(u8::try_from(bits).map_err(|_| Refusal::Value {
                what: "feedback_adc_bits",
                given: bits.into(),
                right: "the converter's bits, or 0 where they are not known",
            })?),
        };
        record.turn_deg = given(self.feedback_turn_deg);
        record.pot_ohm = given(self.feedback_pot_ohm);
        record.input_ohm = given(self.feedback_input_ohm);
        record.supply_v = given(self.feedback_supply_v);
        if !self.feedback_knots.is_null() || self.feedback_n_knots != 0 {
            // SAFETY: the header's contract.
            record.knots = Some(unsafe { knots("config.feedback_knots", self.feedback_knots, self.feedback_n_knots)? });
        }
        Ok(Some(record))
    }

    unsafe fn transmission(&self) -> Result<TransmissionRecord<f64>, Refusal> {
        let [a, b, c, d, e] = self.linkage;
        Ok(match self.transmission {
            ELB_TRANSMISSION_LINEAR => TransmissionRecord::default(),
            ELB_TRANSMISSION_CURVE => {
                // SAFETY: the header's contract.
                let knots = unsafe { knots("config.knots", self.knots, self.n_knots)? };
                TransmissionRecord::Curve {
                    knots,
                    rule: self.rule()?,
                }
            }
            ELB_TRANSMISSION_TRIANGLE => TransmissionRecord::Triangle {
                near: a,
                far: b,
                angle_at_zero: c,
            },
            ELB_TRANSMISSION_CRANK_SLIDER => TransmissionRecord::CrankSlider {
                crank: a,
                rod: b,
                offset: c,
                slide_at_zero: d,
                side: self.side()?,
            },
            ELB_TRANSMISSION_FOUR_BAR => TransmissionRecord::FourBar {
                horn: a,
                rod: b,
                lever: c,
                ground: d,
                lever_at_zero: e,
                side: self.side()?,
            },
            ELB_TRANSMISSION_SPOOL => TransmissionRecord::Spool {
                drum: a,
                per_turn: b,
                pulley: c,
            },
            other => {
                return Err(Refusal::Value {
                    what: "transmission",
                    given: other.into(),
                    right: "one of ELB_TRANSMISSION_..., 0 to 5",
                });
            }
        })
    }

    fn side(&self) -> Result<Side, Refusal> {
        match self.pin {
            ELB_PIN_LEFT => Ok(Side::Left),
            ELB_PIN_RIGHT => Ok(Side::Right),
            other => Err(Refusal::Value {
                what: "pin",
                given: other.into(),
                right: "ELB_PIN_LEFT (0) or ELB_PIN_RIGHT (1)",
            }),
        }
    }

    fn rule(&self) -> Result<SlopeRule, Refusal> {
        match self.slopes {
            ELB_SLOPES_PARABOLA => Ok(SlopeRule::Parabola),
            ELB_SLOPES_MEAN_CHORD => Ok(SlopeRule::MeanChord),
            ELB_SLOPES_HARMONIC_CHORD => Ok(SlopeRule::HarmonicChord),
            other => Err(Refusal::Value {
                what: "slopes",
                given: other.into(),
                right: "one of ELB_SLOPES_..., 0 to 2",
            }),
        }
    }

    /// What a joint was made of. The knots stay the joint's.
    pub(crate) fn of(joint: &elb_joint) -> Self {
        let record = joint.joint.record();
        let mut config = Self {
            size: size_of::<Self>(),
            command: record.command,
            drive: record.drive,
            travel: joint.joint.travel().ends(),
            rest: record.rest,
            rate_per_s: record.rate_per_s.unwrap_or(0.0),
            servo_angle: record.servo.angle,
            servo_pulse_us: record.servo.pulse_us,
            frame_hz: record.timer.frame_hz,
            counts: record.timer.counts,
            inverted: record.inverted.into(),
            ..Self::defaults()
        };
        let pin = |side| match side {
            Side::Left => ELB_PIN_LEFT,
            Side::Right => ELB_PIN_RIGHT,
        };
        match record.transmission {
            TransmissionRecord::Curve { rule, .. } => {
                config.transmission = ELB_TRANSMISSION_CURVE;
                config.knots = joint.knots.as_ptr().cast();
                config.n_knots = joint.knots.len();
                config.slopes = match rule {
                    SlopeRule::MeanChord => ELB_SLOPES_MEAN_CHORD,
                    SlopeRule::HarmonicChord => ELB_SLOPES_HARMONIC_CHORD,
                    _ => ELB_SLOPES_PARABOLA,
                };
            }
            TransmissionRecord::Triangle {
                near,
                far,
                angle_at_zero,
            } => {
                config.transmission = ELB_TRANSMISSION_TRIANGLE;
                config.linkage = [near, far, angle_at_zero, 0.0, 0.0];
            }
            TransmissionRecord::CrankSlider {
                crank,
                rod,
                offset,
                slide_at_zero,
                side,
            } => {
                config.transmission = ELB_TRANSMISSION_CRANK_SLIDER;
                config.linkage = [crank, rod, offset, slide_at_zero, 0.0];
                config.pin = pin(side);
            }
            TransmissionRecord::FourBar {
                horn,
                rod,
                lever,
                ground,
                lever_at_zero,
                side,
            } => {
                config.transmission = ELB_TRANSMISSION_FOUR_BAR;
                config.linkage = [horn, rod, lever, ground, lever_at_zero];
                config.pin = pin(side);
            }
            TransmissionRecord::Spool { drum, per_turn, pulley } => {
                config.transmission = ELB_TRANSMISSION_SPOOL;
                config.linkage = [drum, per_turn, pulley, 0.0, 0.0];
            }
            _ => {}
        }
        if let Some(feedback) = record.feedback {
            config.feedback_reading = feedback.reading;
            config.feedback_angle = feedback.angle;
            config.feedback_inverted = feedback.inverted.into();
            config.feedback_adc_bits = feedback.adc_bits.map_or(0, u32::from);
            config.feedback_turn_deg = feedback.turn_deg.unwrap_or(0.0);
            config.feedback_pot_ohm = feedback.pot_ohm.unwrap_or(0.0);
            config.feedback_input_ohm = feedback.input_ohm.unwrap_or(0.0);
            config.feedback_supply_v = feedback.supply_v.unwrap_or(0.0);
            if !joint.feedback_knots.is_empty() {
                config.feedback_knots = joint.feedback_knots.as_ptr().cast();
                config.feedback_n_knots = joint.feedback_knots.len();
            }
        }
        config
    }
}

/// A number of C that is 0 or 1.
fn truth(what: &'static str, number: u32) -> Result<bool, Refusal> {
    match number {
        0 => Ok(false),
        1 => Ok(true),
        other => Err(Refusal::Value {
            what,
            given: other.into(),
            right: "0 or 1",
        }),
    }
}

unsafe fn knots(what: &'static str, first: *const f64, n: usize) -> Result<Vec<[f64; 2]>, Refusal> {
    // SAFETY: the header's contract; two f64 side by side are one [f64; 2].
    Ok(unsafe { pointer::array(what, first.cast::<[f64; 2]>(), n)? }.to_vec())
}
