//! What is written down of a joint, as a C struct.

use crate::pointer::{self, Growing};
use crate::refusal::{Refusal, is_reserved, yes_or_no};
use crate::transmission::{
    ELB_BRANCH_LEFT, ELB_SLOPES_PARABOLA, ELB_TRANSMISSION_CURVE, ELB_TRANSMISSION_LINEAR, branch_of_mechanism,
    kind_of, linkage_of, number_of_rule, numbers_of, rule_of,
};
use model::{FeedbackRecord, Joint, JointRecord, ServoRecord, TimerRecord, TransmissionRecord};
use std::ptr::null;

/// A servo, by its data sheet.
#[derive(Debug, Clone, Copy)]
#[repr(C)]
pub struct elb_servo {
    /// The servo's angle range, deg. Default 0 to 180; verify against the data sheet.
    pub angle: [f64; 2],
    /// The pulse widths at those angles, microseconds. No default: servos differ.
    pub pulse_us: [f64; 2],
}

/// The timer that makes the pulses.
#[derive(Debug, Clone, Copy)]
#[repr(C)]
pub struct elb_timer {
    /// Frames per second. Default 50; verify against the data sheet.
    pub frame_hz: f64,
    /// Timer counts of one whole frame. No default.
    pub counts_per_frame: u32,
    /// Always 0.
    pub reserved: u32,
}

/// How a command becomes a drive angle.
#[derive(Debug, Clone, Copy)]
#[repr(C)]
pub struct elb_transmission {
    /// ELB_TRANSMISSION_...; the default is a straight line.
    pub kind: u32,
    /// The assembly branch: where the crank's pin of a slider-crank or of a four-bar lies: ELB_BRANCH_... Else unused.
    pub branch: u32,
    /// The dimensions of a linkage, in the order that its ELB_TRANSMISSION_... constant states. Else unused.
    pub dimensions: [f64; 5],
    /// The knots of a curve, (n_knots x 2): command and drive angle in deg of each, commands rising, the first and the
    /// last at the ends of `command` and `drive`. Read during the call. Nullable unless `kind` is a curve.
    pub knots: *const f64,
    /// How many knots. Else 0.
    pub n_knots: usize,
    /// How the slopes at the knots follow from them: ELB_SLOPES_...
    pub slopes: u32,
    /// Always 0.
    pub reserved: u32,
}

/// The joint's sensor: which reading stands for which joint angle.
#[derive(Debug, Clone, Copy)]
#[repr(C)]
pub struct elb_feedback {
    /// Lower and upper reading, e.g. ADC counts. This and `angle` both 0, the default: no feedback, and the other fields mean
    /// nothing.
    pub reading: [f64; 2],
    /// Lower and upper joint angle, deg, as a protractor reads them at the ends of the command range.
    pub angle: [f64; 2],
    /// Joint angle, deg, of one turn of a sensor that wraps around: readings that pass over its jump are then refused with the
    /// joint. Conversions need it no more and never add a turn. 0, the default: it does not wrap.
    pub wrap_deg: f64,
    /// Resistance of the potentiometer from end to end, ohm. 0, the default: not known.
    pub pot_ohm: f64,
    /// Resistance from its wiper to ground through whatever reads it, ohm. 0, the default: not known.
    pub load_ohm: f64,
    /// Supply of the sensor, V, when the readings were taken. 0, the default: the readings are ratiometric.
    pub supply_v: f64,
    /// Knots of a feedback curve, (n_knots x 2): reading and joint angle in deg of each, readings rising. Nullable: the feedback is
    /// straight.
    pub knots: *const f64,
    /// How many knots. Else 0.
    pub n_knots: usize,
    /// Bits of the converter. 0, the default: not known.
    pub adc_bits: u32,
    /// 1 if the reading falls as the joint angle rises, else 0, the default.
    pub inverted: u32,
}

/// What is written down of a joint. Begin with elb_joint_config_init.
///
/// Every pair is lower then upper. Fields are only ever appended to this struct, never to those in it.
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
    /// The command taken when no other is given.
    pub rest: f64,
    /// The fastest the command may change, command units per second. 0, the default: not given.
    pub max_rate_per_s: f64,
    /// 1 if the lower command belongs to the upper drive angle, else 0, the default.
    pub inverted: u32,
    /// Always 0.
    pub reserved: u32,
    /// The servo.
    pub servo: elb_servo,
    /// The timer of its pulses.
    pub timer: elb_timer,
    /// From command to drive angle.
    pub transmission: elb_transmission,
    /// The sensor on the joint.
    pub feedback: elb_feedback,
}

// SAFETY: `repr(C)`, begins with its size, and holds numbers and raw pointers only.
unsafe impl Growing for elb_joint_config {
    const WHAT: &'static str = "elb_joint_config";

    fn defaults() -> Self {
        Self {
            size: size_of::<Self>(),
            command: [0.0; 2],
            drive: [0.0; 2],
            travel: [0.0; 2],
            rest: 0.0,
            max_rate_per_s: 0.0,
            inverted: 0,
            reserved: 0,
            servo: elb_servo {
                angle: [0.0, 180.0],
                pulse_us: [0.0; 2],
            },
            timer: elb_timer {
                frame_hz: 50.0,
                counts_per_frame: 0,
                reserved: 0,
            },
            transmission: elb_transmission::LINEAR,
            feedback: elb_feedback::NONE,
        }
    }
}

const _: () = assert!(size_of::<elb_servo>() == 32 && size_of::<elb_timer>() == 16);
const _: () = assert!(size_of::<usize>() != 8 || size_of::<elb_joint_config>() == 288);

impl elb_transmission {
    const LINEAR: Self = Self {
        kind: ELB_TRANSMISSION_LINEAR,
        branch: ELB_BRANCH_LEFT,
        dimensions: [0.0; 5],
        knots: null(),
        n_knots: 0,
        slopes: ELB_SLOPES_PARABOLA,
        reserved: 0,
    };

    /// A transmission. The knots of a curve come from the caller; here they are only counted.
    pub(crate) fn of(record: &TransmissionRecord<f64>) -> Self {
        let mut of = Self {
            kind: kind_of(record),
            ..Self::LINEAR
        };
        if let TransmissionRecord::Curve { rule, knots } = record {
            (of.n_knots, of.slopes) = (knots.len(), number_of_rule(*rule));
        } else if let Some(mechanism) = record.mechanism() {
            (of.branch, of.dimensions) = (branch_of_mechanism(&mechanism), numbers_of(&mechanism));
        }
        of
    }

    unsafe fn record(&self) -> Result<TransmissionRecord<f64>, Refusal> {
        is_reserved("config.transmission.reserved", self.reserved)?;
        match self.kind {
            ELB_TRANSMISSION_LINEAR => Ok(TransmissionRecord::default()),
            ELB_TRANSMISSION_CURVE => Ok(TransmissionRecord::Curve {
                // SAFETY: the header's contract.
                knots: unsafe { knots("config.transmission.knots", self.knots, self.n_knots)? },
                rule: rule_of(self.slopes)?,
            }),
            kind => linkage_of(kind, self.branch, self.dimensions),
        }
    }
}

impl elb_feedback {
    const NONE: Self = Self {
        reading: [0.0; 2],
        angle: [0.0; 2],
        wrap_deg: 0.0,
        pot_ohm: 0.0,
        load_ohm: 0.0,
        supply_v: 0.0,
        knots: null(),
        n_knots: 0,
        adc_bits: 0,
        inverted: 0,
    };

    /// A sensor. Of its knots only the number.
    fn of(record: &FeedbackRecord<f64>) -> Self {
        Self {
            reading: record.reading,
            angle: record.angle,
            wrap_deg: record.wrap_deg.unwrap_or(0.0),
            pot_ohm: record.pot_ohm.unwrap_or(0.0),
            load_ohm: record.load_ohm.unwrap_or(0.0),
            supply_v: record.supply_v.unwrap_or(0.0),
            knots: null(),
            n_knots: record.knots.as_ref().map_or(0, Vec::len),
            adc_bits: record.adc_bits.map_or(0, u32::from),
            inverted: record.inverted.into(),
        }
    }

    unsafe fn record(&self) -> Result<Option<FeedbackRecord<f64>>, Refusal> {
        if self.reading == [0.0, 0.0] && self.angle == [0.0, 0.0] {
            return Ok(None);
        }
        let given = |number: f64| (number != 0.0).then_some(number);
        let mut record = FeedbackRecord::new(self.reading, self.angle);
        record.inverted = yes_or_no("feedback.inverted", self.inverted)?;
        record.adc_bits = match self.adc_bits {
            0 => None,
            bits => Some(u8::try_from(bits).map_err(|_| Refusal::Value {
                what: "feedback.adc_bits",
                given: bits.into(),
                right: "the converter's bits, or 0 where they are not known",
            })?),
        };
        record.wrap_deg = given(self.wrap_deg);
        record.pot_ohm = given(self.pot_ohm);
        record.load_ohm = given(self.load_ohm);
        record.supply_v = given(self.supply_v);
        if !self.knots.is_null() || self.n_knots != 0 {
            // SAFETY: the header's contract.
            record.knots = Some(unsafe { knots("config.feedback.knots", self.knots, self.n_knots)? });
        }
        Ok(Some(record))
    }
}

impl elb_joint_config {
    /// The record, unchecked by the model. Reads the knots.
    pub(crate) unsafe fn record(&self) -> Result<JointRecord<f64>, Refusal> {
        is_reserved("config.reserved", self.reserved)?;
        is_reserved("config.timer.reserved", self.timer.reserved)?;
        let servo = ServoRecord {
            angle: self.servo.angle,
            pulse_us: self.servo.pulse_us,
        };
        let timer = TimerRecord {
            frame_hz: self.timer.frame_hz,
            counts_per_frame: self.timer.counts_per_frame,
        };
        let mut record = JointRecord::new(self.command, self.drive, self.rest, servo, timer);
        record.inverted = yes_or_no("inverted", self.inverted)?;
        record.travel = (self.travel != [0.0, 0.0]).then_some(self.travel);
        record.max_rate_per_s = (self.max_rate_per_s != 0.0).then_some(self.max_rate_per_s);
        // SAFETY: the header's contract.
        unsafe {
            record.transmission = self.transmission.record()?;
            record.feedback = self.feedback.record()?;
        }
        Ok(record)
    }

    /// What a joint was made of. Of its knots only the number.
    pub(crate) fn of(joint: &Joint<f64>) -> Self {
        let record = joint.record();
        Self {
            size: size_of::<Self>(),
            command: record.command,
            drive: record.drive,
            travel: joint.travel().ends(),
            rest: record.rest,
            max_rate_per_s: record.max_rate_per_s.unwrap_or(0.0),
            inverted: record.inverted.into(),
            reserved: 0,
            servo: elb_servo {
                angle: record.servo.angle,
                pulse_us: record.servo.pulse_us,
            },
            timer: elb_timer {
                frame_hz: record.timer.frame_hz,
                counts_per_frame: record.timer.counts_per_frame,
                reserved: 0,
            },
            transmission: elb_transmission::of(&record.transmission),
            feedback: record.feedback.as_ref().map_or(elb_feedback::NONE, elb_feedback::of),
        }
    }
}

unsafe fn knots(what: &'static str, first: *const f64, n: usize) -> Result<Vec<[f64; 2]>, Refusal> {
    // SAFETY: the header's contract; two f64 side by side are one [f64; 2].
    Ok(unsafe { pointer::array(what, first.cast::<[f64; 2]>(), n)? }.to_vec())
}
