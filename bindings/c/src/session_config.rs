//! What a bring-up starts from.

use crate::fit::elb_fit;
use crate::guard::guard;
use crate::handle;
use crate::pointer::{self, Growing};
use crate::refusal::{Refusal, is_reserved, yes_or_no};
use crate::robot_joints::elb_robot;
use crate::running::elb_session;
use crate::status::elb_status;
use model::bring_up::{AlignmentPlan, Baseline, SessionPlan, Watch};

/// What a bring-up starts from: deg of drive angle unless said otherwise. Begins with its size; set it with
/// elb_session_config_init. Fields are only ever added at its end.
#[derive(Debug, Clone, Copy)]
#[repr(C)]
pub struct elb_session_config {
    /// sizeof(elb_session_config), set by elb_session_config_init.
    pub size: usize,
    /// The drive angle at which the joint stands, clear on both sides. No default.
    pub start: f64,
    /// How far it is clear on both sides of it. Default: 6.
    pub clearance: f64,
    /// Angles that are never passed, lower then upper: the servo's own range or less. Default: 0 to 180.
    pub search_limits: [f64; 2],
    /// The longest way a probe may go beyond what is clear. Default: 2.5.
    pub step: f64,
    /// How finely a stop is bracketed. Default: 0.5.
    pub tolerance: f64,
    /// How far before a place it is approached from; more than the lost motion. Default: 5.
    pub run_in: f64,
    /// Way between two places of the sweep. Default: 1.5.
    pub sweep_step: f64,
    /// Margin between contact and travel. Default: 2.
    pub guard: f64,
    /// Coverage probability of the intervals. Default: 0.95.
    pub confidence: f64,
    /// One step of the reading, in readings. Default: 1.
    pub resolution: f64,
    /// The lowest and the highest reading there is. Default: 0 to 1023.
    pub reading_range: [f64; 2],
    /// The servo's speed by its data sheet, deg/s. Default: 300.
    pub rated_speed: f64,
    /// 1 if the reading should rise with the drive angle, 0 if it should fall. Default: 1.
    pub rising: u32,
    /// 1 if the servo's own loop runs over the sensor that is read, so that its sense is tested; 0 if the servo closes its
    /// loop by itself. Default: 1.
    pub closes_loop: u32,
    /// Joint angle at the lower and at the upper stop, deg, as measured or drawn: for the alignment, which is made if
    /// `alignment_sensor_travel` is given.
    pub alignment_joint: [f64; 2],
    /// Electrical travel of the sensor, deg of its own shaft. 0, the default: the alignment is left out.
    pub alignment_sensor_travel: f64,
    /// Degrees of the sensor's shaft for each degree of the joint; negative where a gear reverses it. 0, the default: 1.
    pub alignment_ratio: f64,
    /// The readings at the two ends of the sensor's travel, lower then upper. Both 0, the default: those of `reading_range`.
    pub alignment_reading_range: [f64; 2],
    /// How much must be spare beyond each stop, deg of the joint. Default: 2.
    pub alignment_margin: f64,
    /// What is known from before, to tell what has changed since: a sum of ELB_BASELINE_...; 0, the default: nothing.
    /// elb_session_config_set_baseline sets it and what follows.
    pub baseline: u32,
    /// Always 0.
    pub reserved: u32,
    /// Where the joint met its stops, lower then upper.
    pub baseline_contacts: [f64; 2],
    /// Some drive angle between them.
    pub baseline_at: f64,
    /// The reading there.
    pub baseline_reading: f64,
    /// Readings per degree of drive angle there, with sign.
    pub baseline_per_deg: f64,
}

/// Known from before: which reading belongs to which drive angle; without it the others mean nothing.
pub const ELB_BASELINE_LINE: u32 = 1;
/// Known from before: where the joint met its lower stop.
pub const ELB_BASELINE_LOWER: u32 = 2;
/// Known from before: where the joint met its upper stop.
pub const ELB_BASELINE_UPPER: u32 = 4;

// SAFETY: `repr(C)`, begins with its size, numbers only.
unsafe impl Growing for elb_session_config {
    const WHAT: &'static str = "elb_session_config";

    fn defaults() -> Self {
        let plan = SessionPlan::new(0.0, [0.0, 180.0]);
        Self {
            size: size_of::<Self>(),
            start: plan.start,
            clearance: plan.clearance,
            search_limits: plan.search_limits,
            step: plan.step,
            tolerance: plan.tolerance,
            run_in: plan.run_in,
            sweep_step: plan.sweep_step,
            guard: plan.guard,
            confidence: plan.confidence,
            resolution: plan.resolution,
            reading_range: plan.sense.reading_range,
            rated_speed: plan.rated_speed,
            rising: plan.rising.into(),
            closes_loop: plan.closes_loop().into(),
            alignment_joint: [0.0; 2],
            alignment_sensor_travel: 0.0,
            alignment_ratio: 0.0,
            alignment_reading_range: [0.0; 2],
            alignment_margin: AlignmentPlan::MARGIN,
            baseline: 0,
            reserved: 0,
            baseline_contacts: [0.0; 2],
            baseline_at: 0.0,
            baseline_reading: 0.0,
            baseline_per_deg: 0.0,
        }
    }
}

const _: () = assert!(size_of::<usize>() != 8 || size_of::<elb_session_config>() == 232);

impl elb_session_config {
    /// Takes what is known from before.
    fn know(&mut self, known: &Baseline) {
        let [lower, upper] = known.contacts;
        let bit = |contact: Option<f64>, bit| if contact.is_some() { bit } else { 0 };
        self.baseline = ELB_BASELINE_LINE | bit(lower, ELB_BASELINE_LOWER) | bit(upper, ELB_BASELINE_UPPER);
        self.baseline_contacts = [lower.unwrap_or(0.0), upper.unwrap_or(0.0)];
        (self.baseline_at, self.baseline_reading, self.baseline_per_deg) = (known.at, known.reading, known.per_deg);
    }

    pub(crate) fn plan(&self) -> Result<SessionPlan, Refusal> {
        is_reserved("config.reserved", self.reserved)?;
        let mut plan = SessionPlan::new(self.start, self.search_limits);
        plan.clearance = self.clearance;
        plan.step = self.step;
        plan.tolerance = self.tolerance;
        plan.run_in = self.run_in;
        plan.sweep_step = self.sweep_step;
        plan.guard = self.guard;
        plan.confidence = self.confidence;
        plan.resolution = self.resolution;
        plan.sense.reading_range = self.reading_range;
        plan.rated_speed = self.rated_speed;
        plan.rising = yes_or_no("rising", self.rising)?;
        plan.sense.watch = if yes_or_no("closes_loop", self.closes_loop)? {
            Watch::SensorAndDrive
        } else {
            Watch::SensorOnly
        };
        let ratio = if self.alignment_ratio == 0.0 {
            1.0
        } else {
            self.alignment_ratio
        };
        let range = if self.alignment_reading_range == [0.0; 2] {
            self.reading_range
        } else {
            self.alignment_reading_range
        };
        let alignment = AlignmentPlan::new(self.alignment_joint, self.alignment_sensor_travel, ratio)
            .with_reading_range(range)
            .with_resolution(self.resolution)
            .with_margin(self.alignment_margin);
        plan.alignment = (self.alignment_sensor_travel != 0.0).then_some(alignment);
        plan.baseline = self.baseline()?;
        Ok(plan)
    }

    fn baseline(&self) -> Result<Option<Baseline>, Refusal> {
        const ALL: u32 = ELB_BASELINE_LINE | ELB_BASELINE_LOWER | ELB_BASELINE_UPPER;
        if self.baseline == 0 {
            return Ok(None);
        }
        if self.baseline & ELB_BASELINE_LINE == 0 || self.baseline & !ALL != 0 {
            return Err(Refusal::Value {
                what: "baseline",
                given: self.baseline.into(),
                right: "a sum of ELB_BASELINE_..., ELB_BASELINE_LINE among them, or 0",
            });
        }
        let [lower, upper] = self.baseline_contacts;
        Ok(Some(Baseline {
            contacts: [
                (self.baseline & ELB_BASELINE_LOWER != 0).then_some(lower),
                (self.baseline & ELB_BASELINE_UPPER != 0).then_some(upper),
            ],
            at: self.baseline_at,
            reading: self.baseline_reading,
            per_deg: self.baseline_per_deg,
        }))
    }
}

/// ---- Bring-up ----
///
/// The whole procedure from loose parts to a joint ready for software, without input or output of its own: ask for the next
/// action, do it, report it, until ELB_ACTION_DONE. bindings/c/examples/bring_up.c drives one and shows where the serial
/// port goes. Asking changes nothing; elb_session_json and elb_session_parse take it over a restart.
///
/// This computes and cannot stop a motor. Load off, a hand on the power switch, the first move slow, nobody's hands in
/// the joint; show the cautions that elb_session_prompt gives. Not a safety function in the sense of ISO 13849 or IEC 61508.
///
/// ----
///
/// Sets a plan to its defaults (verify them against the data sheet) and notes its size.
///
/// - config: the struct. Written only on success.
/// - size: `sizeof(elb_session_config)`, as the caller's header has it.
#[unsafe(no_mangle)]
#[must_use]
pub unsafe extern "C" fn elb_session_config_init(config: *mut elb_session_config, size: usize) -> elb_status {
    // SAFETY: the header's contract.
    unsafe { handle::init(config, size) }
}

/// Takes what a fit found into a plan as what is known from before, so that the bring-up can tell what has changed since.
///
/// - config: the plan, begun with elb_session_config_init; receives the fields that begin with `baseline`. Written only on
///   success.
/// - before: limits found of that joint by an earlier bring-up, with the readings of the same sensor as measured values.
#[unsafe(no_mangle)]
#[must_use]
pub unsafe extern "C" fn elb_session_config_set_baseline(
    config: *mut elb_session_config,
    before: *const elb_fit,
) -> elb_status {
    guard(std::ptr::null_mut(), || {
        // SAFETY: the header's contract.
        let (mut plan, before) = unsafe { (pointer::read_sized(config)?, pointer::borrow("before", before)?) };
        plan.know(&Baseline::from_fit(&before.fit));
        // SAFETY: checked above.
        unsafe { pointer::write_sized(config, plan.size, plan) }
    })
}

/// The same from a bring-up of that joint that is done.
///
/// - config: the plan, as for elb_session_config_set_baseline. Written only on success.
/// - before: the bring-up.
///
/// Errors: ELB_STATUS_ABSENT where it is not done or ended without a fit.
#[unsafe(no_mangle)]
#[must_use]
pub unsafe extern "C" fn elb_session_config_set_baseline_of_session(
    config: *mut elb_session_config,
    before: *const elb_session,
) -> elb_status {
    guard(std::ptr::null_mut(), || {
        // SAFETY: the header's contract.
        let (mut plan, before) = unsafe { (pointer::read_sized(config)?, pointer::borrow("before", before)?) };
        let known = before.session.outcome().and_then(Baseline::from_outcome);
        plan.know(&known.ok_or(Refusal::Absent(
            "the bring-up is not finished or ended without a fit; give one that found the joint ready",
        ))?);
        // SAFETY: checked above.
        unsafe { pointer::write_sized(config, plan.size, plan) }
    })
}

/// The same from a joint of a robot file: the contacts of its evidence, and the line of its feedback.
///
/// - config: the plan, as for elb_session_config_set_baseline. Written only on success.
/// - robot: the robot.
/// - i: 0 to elb_robot_joint_count - 1.
///
/// Errors: ELB_STATUS_ABSENT where there is no such joint, or none with a feedback map.
#[unsafe(no_mangle)]
#[must_use]
pub unsafe extern "C" fn elb_session_config_set_baseline_of_joint(
    config: *mut elb_session_config,
    robot: *const elb_robot,
    i: usize,
) -> elb_status {
    guard(std::ptr::null_mut(), || {
        // SAFETY: the header's contract.
        let (mut plan, robot) = unsafe { (pointer::read_sized(config)?, pointer::borrow("robot", robot)?) };
        let (_, entry) = robot.entry(i)?;
        plan.know(&entry.baseline().ok_or(Refusal::Absent(
            "the joint has no feedback map, so the readings of its sensor are not known; give it feedback",
        ))?);
        // SAFETY: checked above.
        unsafe { pointer::write_sized(config, plan.size, plan) }
    })
}
