//! Healthy joints drawn by chance, and how each fault breaks one.

use super::chance::Chance;
use super::joint::{Active, VirtualJoint, VirtualRecord};
use crate::bring_up::{AlignmentPlan, Baseline, BringUpError, Fault, SensePlan, SessionPlan, Side, Watch};
use crate::error::JointError;
use crate::joint::Joint;
use crate::record::{JointRecord, ServoRecord, TimerRecord};

/// Speed that the data sheet of the drawn servos promises, deg/s: 0.2 s for 60 deg (an assumption of this library).
const RATED_SPEED: f64 = 300.0;
/// Highest reading of the drawn converters: 10 bits.
const HIGHEST_READING: f64 = 1023.0;

/// What a rehearsal starts from: a virtual joint, and the plan that fits it.
#[derive(Debug, Clone, PartialEq)]
pub struct Rehearsal {
    /// The joint.
    pub joint: VirtualJoint,
    /// The plan of the bring-up.
    pub plan: SessionPlan,
}

impl Rehearsal {
    /// A healthy joint drawn from a seed, with the plan that somebody would make for it, and what is known of it from an
    /// earlier bring-up.
    ///
    /// Drawn evenly, all assumptions of this library: stops 60 to 110 deg apart on a servo of 180 deg; play 0.2 to
    /// 2 deg; dead band 0.2 to 0.8; friction up to 0.3; speed 0.95 to 1.15 of the rated; full torque at 4 to 10 deg of
    /// error; stops that give 1 to 5 % of it; 3.5 to 7 counts of a 10-bit converter for each degree; noise of 0.2 to 0.8
    /// counts; either place of the sensor, either direction of command and of reading, with and without a current sensor.
    ///
    /// # Errors
    /// None that the drawn numbers can cause; the joint's own check is passed on.
    pub fn healthy(seed: u64) -> Result<Self, JointError> {
        Self::drawn(seed, None)
    }

    /// A joint with a fault, drawn from a seed. The plan and what is known are those of the joint before it broke.
    ///
    /// # Errors
    /// As for [`Rehearsal::healthy`].
    pub fn faulty(fault: Fault, seed: u64) -> Result<Self, JointError> {
        Self::drawn(seed, Some(fault))
    }

    /// The same with the alignment in its plan: the angles of the joint at its stops, known from its drawing, and a
    /// potentiometer of 270 deg geared onto the joint.
    ///
    /// # Errors
    /// None that a drawn joint can cause; the check of the plan is passed on.
    pub fn with_alignment(mut self) -> Result<Self, BringUpError> {
        let record = self.joint.record();
        let [r0, r1] = record.readings;
        let [low, high] = record.rails;
        let sensor_travel = 270.0;
        let ratio = (r1 - r0) / record.joint.command_range().width() * sensor_travel / (high - low);
        let alignment =
            AlignmentPlan::new(self.joint.angles_at_stops(), sensor_travel, ratio).with_reading_range(record.rails);
        alignment.figures()?;
        self.plan.alignment = Some(alignment);
        Ok(self)
    }

    fn drawn(seed: u64, fault: Option<Fault>) -> Result<Self, JointError> {
        let mut chance = Chance::new(seed);
        let width = chance.between(60.0, 110.0);
        let lower = chance.between(22.0, 158.0 - width);
        let stops = [lower, lower + width];
        let servo = ServoRecord {
            angle: [0.0, 180.0],
            pulse_us: [500.0, 2500.0],
        };
        let timer = TimerRecord {
            frame_hz: 50.0,
            counts_per_frame: 4096,
        };
        let drive = [lower + 3.0, lower + width - 3.0];
        let mut record = JointRecord::new([0.0, 100.0], drive, 50.0, servo, timer);
        record.inverted = chance.happens(0.3);
        let joint = Joint::new(record)?;
        let start = lower + width / 2.0 + chance.between(-6.0, 6.0);
        Ok(Self::prepared(joint, stops, start, [2.0, 178.0], fault, seed, chance))
    }

    /// A given joint, its mechanism drawn from a seed: the stops 2 to 4 deg outside of its travel, all else as in
    /// [`Rehearsal::healthy`]; with a fault, if one is given.
    ///
    /// # Errors
    /// [`BringUpError::Below`] for a travel of less than 40 deg: such a joint needs a plan of its own.
    pub fn of_joint(joint: &Joint<f64>, fault: Option<Fault>, seed: u64) -> Result<Self, BringUpError> {
        let mut chance = Chance::new(seed);
        let travel = joint.travel();
        BringUpError::within("width of the travel", travel.width(), 40.0, crate::bring_up::MOST)?;
        let stops = [
            travel.lower() - chance.between(2.0, 4.0),
            travel.upper() + chance.between(2.0, 4.0),
        ];
        let start = travel.lower() + travel.width() / 2.0;
        let search_limits = joint.servo().angle_range().ends();
        Ok(Self::prepared(
            joint.clone(),
            stops,
            start,
            search_limits,
            fault,
            seed,
            chance,
        ))
    }

    fn prepared(
        joint: Joint<f64>,
        stops: [f64; 2],
        start: f64,
        search_limits: [f64; 2],
        fault: Option<Fault>,
        seed: u64,
        mut chance: Chance,
    ) -> Self {
        let [lower, upper] = stops;
        // At most three quarters of the converter between the stops.
        let most = 0.75 * HIGHEST_READING / (upper - lower);
        let per_deg = chance.sign() * chance.between(3.5, 7.0).min(most);
        let middle = HIGHEST_READING / 2.0 + chance.between(-40.0, 40.0);
        let reading_at = |drive: f64| middle + per_deg * (drive - (lower + upper) / 2.0);
        let readings = joint
            .command_range()
            .ends()
            .map(|command| reading_at(joint.transmission().drive(command)));
        let mut watch = if chance.happens(0.5) {
            Watch::SensorOnly
        } else {
            Watch::SensorAndDrive
        };
        // A loop closed over the joint's own sensor does not see these two.
        if matches!(fault, Some(Fault::HornSlipped | Fault::GearStripped)) {
            watch = Watch::SensorOnly;
        }
        let record = VirtualRecord {
            joint,
            stops,
            watch,
            lost_motion: chance.between(0.2, 2.0),
            dead_band: chance.between(0.2, 0.8),
            friction: chance.between(0.0, 0.3),
            speed: RATED_SPEED * chance.between(0.95, 1.15),
            stall_error: chance.between(4.0, 10.0),
            give: chance.between(0.01, 0.05),
            readings,
            rails: [0.0, HIGHEST_READING],
            noise: chance.between(0.2, 0.8),
            senses_load: chance.happens(0.5),
        };
        let mut joint = VirtualJoint::new(record, start, seed);
        let per_deg = joint.straight(start + 0.5) - joint.straight(start - 0.5);
        let known = Baseline {
            contacts: joint.contacts().map(|c| Some(c + 0.2 * chance.normal())),
            at: start,
            reading: joint.straight(start) + 0.3 * per_deg * chance.normal(),
            per_deg,
        };
        let sense = SensePlan::default()
            .with_watch(watch)
            .with_reading_range([0.0, HIGHEST_READING]);
        let plan = SessionPlan::new(start, search_limits)
            .with_sense(sense)
            .with_rising(per_deg > 0.0)
            .with_rated_speed(RATED_SPEED)
            .with_baseline(Some(known));
        if let Some(fault) = fault {
            break_joint(&mut joint, fault, start, &mut chance);
        }
        Self { joint, plan }
    }
}

/// Breaks a healthy joint.
fn break_joint(joint: &mut VirtualJoint, fault: Fault, start: f64, chance: &mut Chance) {
    joint.name_fault(fault);
    let [lower, upper] = joint.record().stops;
    let (toward, stop) = if chance.happens(0.5) {
        (Side::Upper, upper)
    } else {
        (Side::Lower, lower)
    };
    match fault {
        Fault::WiresSwapped => joint.break_with(Active::Swapped),
        Fault::WiperOpen => joint.break_with(Active::OpenWiper {
            wanders: chance.happens(0.5),
            at: chance.between(0.0, HIGHEST_READING),
        }),
        // A worn spot 2 to 6 deg wide, anywhere between the stops.
        Fault::WiperNoisy => {
            let wide = chance.between(2.0, 6.0);
            let from = chance.between(lower + 2.0, upper - 2.0 - wide);
            joint.break_with(Active::NoisySpot { from, to: from + wide });
        }
        // One tooth of a usual horn; one way or the other.
        Fault::HornSlipped => {
            let teeth = [21.0, 23.0, 24.0, 25.0].get(chance.one_of(4)).copied().unwrap_or(25.0);
            joint.break_with(Active::Slipped {
                by: chance.sign() * 360.0 / teeth,
            });
        }
        Fault::StopMoved => {
            let moved = stop + chance.sign() * chance.between(3.0, 8.0);
            let record = joint.record_mut();
            record.stops = match toward {
                Side::Upper => [lower, moved],
                Side::Lower => [moved, upper],
            };
        }
        // Something in the way, at least 12 deg before the stop.
        Fault::RangeBlocked => {
            let near = start + toward.sign() * 8.0;
            let far = stop - toward.sign() * 12.0;
            let at = near + (far - near) * chance.uniform();
            joint.put_in_the_way(toward, at);
        }
        Fault::GearStripped => {
            let from = start + chance.between(8.0, 16.0);
            let arc = chance.happens(0.4).then(|| [from, from + chance.between(8.0, 25.0)]);
            joint.break_with(Active::Stripped { arc });
        }
        Fault::SupplySag => {
            let part = chance.between(0.3, 0.5);
            let record = joint.record_mut();
            record.stall_error /= part;
            joint.break_with(Active::Sagging { part });
        }
        Fault::ChannelSwapped => joint.break_with(Active::Neighbour),
        // The sensor ends 4 to 20 deg before a stop.
        Fault::SensorRunsOut => {
            let before = stop - toward.sign() * chance.between(4.0, 20.0);
            let record = joint.record_mut();
            let [r0, r1] = record.readings;
            let command = record.joint.command_from_drive(before);
            let range = record.joint.command_range();
            let there = r0 + (r1 - r0) * (command - range.lower()) / range.width();
            let rises = (r1 > r0) != record.joint.direction().is_inverted();
            let end = if rises == (toward == Side::Upper) {
                HIGHEST_READING
            } else {
                0.0
            };
            record.readings = [r0 + end - there, r1 + end - there];
        }
        _ => {}
    }
}
