//! A bring-up whose readings are typed: begun by its own plan, and carried on by the same calls as any other.

use crate::guard::guard;
use crate::handle;
use crate::pointer::{self, Growing};
use crate::refusal::{Refusal, elb_error, is_reserved, yes_or_no};
use crate::running::{Running, elb_session};
use crate::status::elb_status;
use model::bring_up::{Bench, BenchPlan, Watch};

/// What a bring-up with typed readings starts from: deg of drive angle unless said otherwise. Begins with its size; set it with
/// elb_bench_config_init. Fields are only ever added at its end.
#[derive(Debug, Clone, Copy)]
#[repr(C)]
pub struct elb_bench_config {
    /// sizeof(elb_bench_config), set by elb_bench_config_init.
    pub size: usize,
    /// The drive angle at which the joint stands, clear on both sides. No default.
    pub start: f64,
    /// How far it is clear on both sides of it. Default: 6.
    pub clearance: f64,
    /// Angles that are never passed, lower then upper: the servo's own range or less. Default: 0 to 180.
    pub search_limits: [f64; 2],
    /// How far a command may lie beyond a stop as met in the direction driven. 0, the default: 5, and 8 where the stops are felt
    /// first, as nothing is pressed then unless something came in the way since.
    pub overtravel: f64,
    /// How far before a place it is approached from; more than the lost motion. Default: 9.
    pub run_in: f64,
    /// Margin between contact and travel. Default: 2.
    pub guard: f64,
    /// Coverage probability of the intervals. Default: 0.95.
    pub confidence: f64,
    /// How far a turn of the hand goes in the sense test. Default: 20.
    pub turn: f64,
    /// One graduation of the scale that is read, in readings. Default: 1.
    pub resolution: f64,
    /// Standard uncertainty of one typed reading, its graduation included, in readings. 0, the default: about half a graduation.
    pub u_reading: f64,
    /// The standard uncertainty wanted of both stops and of the lost motion. Default: 0.5.
    pub tolerance: f64,
    /// By how much the slope may change over 100 deg, as a part of itself (one standard deviation). Default: 0.1.
    pub bend: f64,
    /// The fastest that the command may change, deg/s. Default: 20.
    pub max_rate_per_s: f64,
    /// How long to wait until the joint is at rest, s. Default: 1.
    pub settle_s: f64,
    /// How many readings are typed at the most while the result is refined; the search of the stops may need more. Default: 60.
    pub most_readings: u32,
    /// 1 if the servo's own loop runs over the sensor on the joint, so that its sense is tested; 0 if the servo closes its loop by
    /// itself. Default: 0.
    pub closes_loop: u32,
    /// 1 if both stops are felt by hand first, with the drive detached. Default: 0.
    pub feel_stops: u32,
    /// Always 0.
    pub reserved: u32,
}

const _: () = assert!(size_of::<usize>() != 8 || size_of::<elb_bench_config>() == 144);

// SAFETY: `repr(C)`, begins with its size, numbers only.
unsafe impl Growing for elb_bench_config {
    const WHAT: &'static str = "elb_bench_config";

    fn defaults() -> Self {
        let plan = BenchPlan::new(0.0, [0.0, 180.0]);
        Self {
            size: size_of::<Self>(),
            start: plan.start,
            clearance: plan.clearance,
            search_limits: plan.search_limits,
            overtravel: 0.0,
            run_in: plan.run_in,
            guard: plan.guard,
            confidence: plan.confidence,
            turn: plan.turn,
            resolution: plan.resolution,
            u_reading: 0.0,
            tolerance: plan.tolerance,
            bend: plan.bend,
            max_rate_per_s: plan.rate_per_s,
            settle_s: plan.settle_s,
            most_readings: plan.most_readings.into(),
            closes_loop: 0,
            feel_stops: 0,
            reserved: 0,
        }
    }
}

impl elb_bench_config {
    fn plan(&self) -> Result<BenchPlan, Refusal> {
        is_reserved("config.reserved", self.reserved)?;
        let mut plan = BenchPlan::new(self.start, self.search_limits).with_resolution(self.resolution);
        if yes_or_no("feel_stops", self.feel_stops)? {
            plan = plan.with_stops_felt();
        }
        if self.overtravel != 0.0 {
            plan.overtravel = self.overtravel;
        }
        if self.u_reading != 0.0 {
            plan.u_reading = self.u_reading;
        }
        plan.clearance = self.clearance;
        plan.run_in = self.run_in;
        plan.guard = self.guard;
        plan.confidence = self.confidence;
        plan.turn = self.turn;
        plan.tolerance = self.tolerance;
        plan.bend = self.bend;
        plan.rate_per_s = self.max_rate_per_s;
        plan.settle_s = self.settle_s;
        plan.most_readings = u16::try_from(self.most_readings).map_err(|_| Refusal::Value {
            what: "most_readings",
            given: self.most_readings.into(),
            right: "at most 500",
        })?;
        plan.watch = if yes_or_no("closes_loop", self.closes_loop)? {
            Watch::SensorAndDrive
        } else {
            Watch::SensorOnly
        };
        Ok(plan)
    }
}

/// Sets the plan of a bring-up with typed readings to its defaults (verify them against the data sheet) and notes its size.
///
/// - config: the struct. Written only on success.
/// - size: `sizeof(elb_bench_config)`, as the caller's header has it.
#[unsafe(no_mangle)]
#[must_use]
pub unsafe extern "C" fn elb_bench_config_init(config: *mut elb_bench_config, size: usize) -> elb_status {
    // SAFETY: the header's contract.
    unsafe { handle::init(config, size) }
}

/// Checks a plan and begins a bring-up for a person who types each reading, with as few of them as the bound on overtravel allows.
///
/// It is carried on by the calls of any bring-up: elb_session_next, elb_session_prompt, which has a sentence for every step, and
/// elb_session_report. A reading that does not fit those before is asked for again. A read may also be reported as
/// ELB_ACTION_ASK with ELB_ANSWER_AGAIN: then the drive comes to the place once more. elb_session_undo takes answers back.
///
/// No command lies further than the overtravel beyond a stop as met in the direction driven, also where something came into the way
/// after the stops were felt by hand; with one writing error that hides a contact, no further than twice that.
///
/// - config: the plan; not needed after the call.
/// - out: receives the bring-up; free it with elb_session_free.
/// - error: receives the details when the call fails.
///
/// Nullable: error. Errors: ELB_STATUS_NOT_FINITE, ELB_STATUS_NOT_POSITIVE, ELB_STATUS_OPTION_OUTSIDE,
/// ELB_STATUS_ENDS_SWAPPED, ELB_STATUS_ZERO_WIDTH, ELB_STATUS_UNKNOWN_VALUE.
#[unsafe(no_mangle)]
#[must_use]
pub unsafe extern "C" fn elb_session_new_bench(
    config: *const elb_bench_config,
    out: *mut *mut elb_session,
    error: *mut elb_error,
) -> elb_status {
    // SAFETY: the header's contract.
    unsafe {
        handle::make(out, error, || {
            let plan = pointer::read_sized(config)?.plan()?;
            Ok(Running::Bench(Bench::new(plan)?).into())
        })
    }
}

/// Takes the last reading or answer of a bring-up with typed readings back, with the moves after it. The drive first goes inward and
/// comes again; no move outward is made twice. What was done with the drive detached is taken back as a whole once it was fixed
/// again.
///
/// Errors: ELB_STATUS_ABSENT where nothing was answered yet, or where a program takes the readings.
#[unsafe(no_mangle)]
#[must_use]
pub unsafe extern "C" fn elb_session_undo(session: *mut elb_session) -> elb_status {
    guard(std::ptr::null_mut(), || {
        // SAFETY: the header's contract.
        let mut changed = unsafe { pointer::borrow("session", session)? }.session.clone();
        let done = match &mut changed {
            Running::Bench(bench) => bench.undo(),
            Running::Session(_) => false,
        };
        if !done {
            return Err(Refusal::Absent("no answer was typed that could be taken back"));
        }
        // SAFETY: checked above; one thread at a time by the header's contract.
        unsafe { (*session).session = changed };
        Ok(())
    })
}
