//! What is written down of a joint, as a C struct.

use crate::pointer::{self, Growing};
use crate::refusal::{Refusal, is_reserved, yes_or_no};
use crate::transmission::{
    ELB_BRANCH_LEFT, ELB_SLOPES_PARABOLA, ELB_TRANSMISSION_CURVE, ELB_TRANSMISSION_LINEAR, branch_of_mechanism,
    kind_of, linkage_of, number_of_rule, numbers_of, rule_of,
};
use model::{FeedbackRecord, Joint, JointRecord, ServoRecord, TimerRecord, TransmissionRecord};
use std::ptr::null;

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
    /// The command taken when no other is given.
    pub rest: f64,
    /// The fastest the command may change, command units per second. 0, the default: not given.
    pub max_rate_per_s: f64,
    /// The servo's angle range, deg. Default 0 to 180; verify against the data sheet.
    pub servo_angle: [f64; 2],
    /// The pulse widths at those angles, microseconds. No default: servos differ.
    pub servo_pulse_us: [f64; 2],
    /// Frames per second. Default 50; verify against the data sheet.
    pub frame_hz: f64,
    /// Timer counts of one whole frame. No default.
    pub counts_per_frame: u32,
    /// 1 if the lower command belongs to the upper drive angle, else 0, the default.
    pub inverted: u32,
    /// How a command becomes a drive angle: ELB_TRANSMISSION_...; the default is a straight line.
    pub transmission: u32,
    /// The assembly branch: where the crank's pin of a slider-crank or of a four-bar lies: ELB_BRANCH_... Else unused.
    pub branch: u32,
    /// The numbers of a linkage, in the order that its ELB_TRANSMISSION_... constant states. Else unused.
    pub linkage: [f64; 5],
    /// The knots of a curve, (n_knots x 2): command and drive angle in deg of each, commands rising, the first and the
    /// last at the ends of `command` and `drive`. Read during the call. Nullable if `transmission` is not a curve.
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
    /// Joint angle, deg, of one turn of a sensor that wraps around: readings that pass over its jump are then refused with the
    /// joint. Conversions need it no more and never add a turn. 0, the default: it does not wrap.
    pub feedback_wrap_deg: f64,
    /// Resistance of the potentiometer from end to end, ohm. 0, the default: not known.
    pub feedback_pot_ohm: f64,
    /// Resistance from its wiper to ground through whatever reads it, ohm. 0, the default: not known.
    pub feedback_load_ohm: f64,
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

    fn defaults() -> Self {
        Self {
            size: size_of::<Self>(),
            command: [0.0; 2],
            drive: [0.0; 2],
            travel: [0.0; 2],
            rest: 0.0,
            max_rate_per_s: 0.0,
            servo_angle: [0.0, 180.0],
            servo_pulse_us: [0.0; 2],
            frame_hz: 50.0,
            counts_per_frame: 0,
            inverted: 0,
            transmission: ELB_TRANSMISSION_LINEAR,
            branch: ELB_BRANCH_LEFT,
            linkage: [0.0; 5],
            knots: null(),
            n_knots: 0,
            slopes: ELB_SLOPES_PARABOLA,
            feedback_inverted: 0,
            feedback_reading: [0.0; 2],
            feedback_angle: [0.0; 2],
            feedback_wrap_deg: 0.0,
            feedback_pot_ohm: 0.0,
            feedback_load_ohm: 0.0,
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
        is_reserved("config.reserved", self.reserved)?;
        let servo = ServoRecord {
            angle: self.servo_angle,
            pulse_us: self.servo_pulse_us,
        };
        let timer = TimerRecord {
            frame_hz: self.frame_hz,
            counts_per_frame: self.counts_per_frame,
        };
        let mut record = JointRecord::new(self.command, self.drive, self.rest, servo, timer);
        record.inverted = yes_or_no("inverted", self.inverted)?;
        record.travel = (self.travel != [0.0, 0.0]).then_some(self.travel);
        record.max_rate_per_s = (self.max_rate_per_s != 0.0).then_some(self.max_rate_per_s);
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
        record.inverted = yes_or_no("feedback_inverted", self.feedback_inverted)?;
        record.adc_bits = match self.feedback_adc_bits {
            0 => None,
            bits => Some(u8::try_from(bits).map_err(|_| Refusal::Value {
                what: "feedback_adc_bits",
                given: bits.into(),
                right: "the converter's bits, or 0 where they are not known",
            })?),
        };
        record.wrap_deg = given(self.feedback_wrap_deg);
        record.pot_ohm = given(self.feedback_pot_ohm);
        record.load_ohm = given(self.feedback_load_ohm);
        record.supply_v = given(self.feedback_supply_v);
        if !self.feedback_knots.is_null() || self.feedback_n_knots != 0 {
            // SAFETY: the header's contract.
            record.knots = Some(unsafe { knots("config.feedback_knots", self.feedback_knots, self.feedback_n_knots)? });
        }
        Ok(Some(record))
    }

    unsafe fn transmission(&self) -> Result<TransmissionRecord<f64>, Refusal> {
        match self.transmission {
            ELB_TRANSMISSION_LINEAR => Ok(TransmissionRecord::default()),
            ELB_TRANSMISSION_CURVE => Ok(TransmissionRecord::Curve {
                // SAFETY: the header's contract.
                knots: unsafe { knots("config.knots", self.knots, self.n_knots)? },
                rule: rule_of(self.slopes)?,
            }),
            kind => linkage_of(kind, self.branch, self.linkage),
        }
    }

    /// Puts a transmission in. The knots of a curve come from the caller; here they are only counted.
    pub(crate) fn set_transmission(&mut self, record: &TransmissionRecord<f64>) {
        let none = Self::defaults();
        (self.branch, self.linkage, self.slopes) = (none.branch, none.linkage, none.slopes);
        (self.knots, self.n_knots) = (none.knots, none.n_knots);
        self.transmission = kind_of(record);
        if let TransmissionRecord::Curve { rule, knots } = record {
            (self.n_knots, self.slopes) = (knots.len(), number_of_rule(*rule));
        } else if let Some(mechanism) = record.mechanism() {
            (self.branch, self.linkage) = (branch_of_mechanism(&mechanism), numbers_of(&mechanism));
        }
    }

    /// What a joint was made of. Of its knots only the number.
    pub(crate) fn of(joint: &Joint<f64>) -> Self {
        let record = joint.record();
        let mut config = Self {
            size: size_of::<Self>(),
            command: record.command,
            drive: record.drive,
            travel: joint.travel().ends(),
            rest: record.rest,
            max_rate_per_s: record.max_rate_per_s.unwrap_or(0.0),
            servo_angle: record.servo.angle,
            servo_pulse_us: record.servo.pulse_us,
            frame_hz: record.timer.frame_hz,
            counts_per_frame: record.timer.counts_per_frame,
            inverted: record.inverted.into(),
            ..Self::defaults()
        };
        config.set_transmission(&record.transmission);
        if let Some(feedback) = record.feedback {
            config.feedback_reading = feedback.reading;
            config.feedback_angle = feedback.angle;
            config.feedback_inverted = feedback.inverted.into();
            config.feedback_adc_bits = feedback.adc_bits.map_or(0, u32::from);
            config.feedback_wrap_deg = feedback.wrap_deg.unwrap_or(0.0);
            config.feedback_pot_ohm = feedback.pot_ohm.unwrap_or(0.0);
            config.feedback_load_ohm = feedback.load_ohm.unwrap_or(0.0);
            config.feedback_supply_v = feedback.supply_v.unwrap_or(0.0);
            config.feedback_n_knots = feedback.knots.map_or(0, |knots| knots.len());
        }
        config
    }
}

unsafe fn knots(what: &'static str, first: *const f64, n: usize) -> Result<Vec<[f64; 2]>, Refusal> {
    // SAFETY: the header's contract; two f64 side by side are one [f64; 2].
    Ok(unsafe { pointer::array(what, first.cast::<[f64; 2]>(), n)? }.to_vec())
}
