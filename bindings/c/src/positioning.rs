//! Accuracy and repeatability of one axis.

use crate::handle::{self, Handle, nth, read};
use crate::pointer;
use crate::readings::approaches;
use crate::refusal::{Refusal, elb_error};
use crate::status::elb_status;
use model::fit::{AxisOneSided, OneSided, Positioning, Run};

/// Positioning of one axis. Immutable: any number of threads may read it at once.
#[derive(Debug)]
pub struct elb_positioning(Positioning);

impl Handle for elb_positioning {
    const WHAT: &'static str = "positioning";
}

/// One target from one side. All NaN, and `n` 0, where there were no runs from there.
#[derive(Debug, Clone, Copy)]
#[repr(C)]
pub struct elb_one_sided {
    /// Mean deviation from the target; also the pose accuracy AP of ISO 9283 with its sign.
    pub mean: f64,
    /// Standard deviation of the deviations.
    pub s: f64,
    /// Unidirectional repeatability of ISO 230-2, 4 s.
    pub repeatability: f64,
    /// Pose repeatability RP of ISO 9283, of a position.
    pub pose_repeatability: f64,
    /// Pose repeatability of ISO 9283, of an angle: half width 3 S.
    pub pose_half_width: f64,
    /// Runs.
    pub n: u64,
}

impl elb_one_sided {
    const NONE: Self = Self {
        mean: f64::NAN,
        s: f64::NAN,
        repeatability: f64::NAN,
        pose_repeatability: f64::NAN,
        pose_half_width: f64::NAN,
        n: 0,
    };
}

impl From<OneSided> for elb_one_sided {
    fn from(side: OneSided) -> Self {
        Self {
            mean: side.mean,
            s: side.s,
            repeatability: side.repeatability,
            pose_repeatability: side.pose_repeatability,
            pose_half_width: side.pose_half_width,
            n: side.n as u64,
        }
    }
}

/// What one target shows. Frozen at 128 bytes.
#[derive(Debug, Clone, Copy)]
#[repr(C)]
pub struct elb_positioning_target {
    /// The target.
    pub target: f64,
    /// Reached from below; `n` is 0 without runs.
    pub up: elb_one_sided,
    /// Reached from above; `n` is 0 without runs.
    pub down: elb_one_sided,
    /// Mean of both means; NaN without runs from both sides.
    pub mean: f64,
    /// Reversal value: mean from below less mean from above; NaN without runs from both sides.
    pub reversal: f64,
    /// Bidirectional repeatability R; NaN without runs from both sides.
    pub repeatability: f64,
}

const _: () = assert!(size_of::<elb_positioning_target>() == 128);

/// Characteristics of the axis. Those of a side without runs are NaN, and so are those of both sides then. Frozen at 96 bytes.
#[derive(Debug, Clone, Copy)]
#[repr(C)]
pub struct elb_positioning_axis {
    /// From below: repeatability, systematic deviation, accuracy of ISO 230-2 (R, E, A).
    pub up: [f64; 3],
    /// From above: repeatability, systematic deviation, accuracy of ISO 230-2 (R, E, A).
    pub down: [f64; 3],
    /// Reversal value B: the largest size.
    pub reversal: f64,
    /// Mean reversal value, with its sign.
    pub mean_reversal: f64,
    /// Bidirectional repeatability R.
    pub repeatability: f64,
    /// Bidirectional systematic deviation E.
    pub systematic: f64,
    /// Mean bidirectional deviation M.
    pub mean_deviation: f64,
    /// Bidirectional accuracy A.
    pub accuracy: f64,
}

const _: () = assert!(size_of::<elb_positioning_axis>() == 96);

/// ---- Positioning of one axis ----
///
/// ----
///
/// Evaluates runs over the same targets after ISO 230-2 and ISO 9283. The unit is that of the targets throughout.
///
/// - targets: `n_targets` positions that were commanded.
/// - approach: `n_runs` sides, one for each run: ELB_APPROACH_BELOW or ELB_APPROACH_ABOVE.
/// - positions: (n_runs x n_targets) positions attained, run after run.
/// - out: receives the result; free it with elb_positioning_free.
/// - error: receives the details when the call fails.
///
/// Nullable: error; an array without elements. Errors: ELB_STATUS_TOO_FEW_READINGS, ELB_STATUS_NOT_FINITE,
/// ELB_STATUS_APPROACH_UNKNOWN, ELB_STATUS_UNKNOWN_VALUE.
#[unsafe(no_mangle)]
#[must_use]
pub unsafe extern "C" fn elb_positioning_new(
    targets: *const f64,
    n_targets: usize,
    approach: *const i8,
    n_runs: usize,
    positions: *const f64,
    out: *mut *mut elb_positioning,
    error: *mut elb_error,
) -> elb_status {
    // SAFETY: the header's contract.
    unsafe {
        handle::make(out, error, || {
            let n_positions = n_runs.checked_mul(n_targets).ok_or(Refusal::Length {
                what: "positions",
                given: usize::MAX,
            })?;
            let targets = pointer::array("targets", targets, n_targets)?;
            let sides = pointer::array("approach", approach, n_runs)?;
            let positions = pointer::array("positions", positions, n_positions)?;
            let sides = approaches(sides)?;
            let runs: Vec<Run<'_>> = sides
                .into_iter()
                .zip(positions.chunks(n_targets.max(1)))
                .map(|(approach, positions)| Run { approach, positions })
                .collect();
            Ok(elb_positioning(model::fit::positioning(targets, &runs)?))
        })
    }
}

/// Frees a positioning. It must be freed once, and never while another thread uses it.
///
/// Nullable: positioning (nothing happens).
#[unsafe(no_mangle)]
pub unsafe extern "C" fn elb_positioning_free(positioning: *mut elb_positioning) {
    // SAFETY: the header's contract.
    unsafe { handle::free(positioning) }
}

/// The characteristics of the axis.
///
/// - out: receives them.
#[unsafe(no_mangle)]
#[must_use]
pub unsafe extern "C" fn elb_positioning_axis_of(
    positioning: *const elb_positioning,
    out: *mut elb_positioning_axis,
) -> elb_status {
    // SAFETY: the header's contract.
    unsafe {
        read(positioning, out, |positioning| {
            let found = &positioning.0;
            let side = |side: &Option<AxisOneSided>| match side {
                Some(side) => [side.repeatability, side.systematic, side.accuracy],
                None => [f64::NAN; 3],
            };
            let mut axis = elb_positioning_axis {
                up: side(&found.up),
                down: side(&found.down),
                reversal: f64::NAN,
                mean_reversal: f64::NAN,
                repeatability: f64::NAN,
                systematic: f64::NAN,
                mean_deviation: f64::NAN,
                accuracy: f64::NAN,
            };
            if let Some(both) = &found.both {
                axis.reversal = both.reversal;
                axis.mean_reversal = both.mean_reversal;
                axis.repeatability = both.repeatability;
                axis.systematic = both.systematic;
                axis.mean_deviation = both.mean_deviation;
                axis.accuracy = both.accuracy;
            }
            Ok(axis)
        })
    }
}

/// What one target shows.
///
/// - i: 0 to n_targets - 1, in the order given.
/// - out: receives it.
///
/// Errors: ELB_STATUS_ABSENT.
#[unsafe(no_mangle)]
#[must_use]
pub unsafe extern "C" fn elb_positioning_target_at(
    positioning: *const elb_positioning,
    i: usize,
    out: *mut elb_positioning_target,
) -> elb_status {
    // SAFETY: the header's contract.
    unsafe {
        read(positioning, out, |positioning| {
            let found = &positioning.0;
            let target = nth("target", &found.targets, i)?;
            let both = target
                .both
                .map_or([f64::NAN; 3], |b| [b.mean, b.reversal, b.repeatability]);
            let shown = elb_positioning_target {
                target: target.target,
                up: target.up.map_or(elb_one_sided::NONE, elb_one_sided::from),
                down: target.down.map_or(elb_one_sided::NONE, elb_one_sided::from),
                mean: both[0],
                reversal: both[1],
                repeatability: both[2],
            };
            Ok(shown)
        })
    }
}
