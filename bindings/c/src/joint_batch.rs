//! Conversion of whole arrays.

use crate::guard::guard;
use crate::joint::elb_joint;
use crate::pointer;
use crate::refusal::Refusal;
use crate::status::elb_status;
use model::{ConvertError, CountNumber, Joint};

/// How many commands of an array are held back. Frozen at 16 bytes.
#[derive(Debug, Clone, Copy, Default)]
#[repr(C)]
pub struct elb_tally {
    /// Commands outside the command range.
    pub clamped_to_command: u64,
    /// Commands whose drive angle is outside the travel.
    pub clamped_to_travel: u64,
}

const _: () = assert!(size_of::<elb_tally>() == 16);

/// Elements taken at a time where input and output are not plain slices: 2 KiB of f64, small enough for any stack.
const CHUNK: usize = 256;

/// A call of the core on slices: `command` to `out`.
type Call<U> = fn(&Joint<f64>, &[f64], &mut [U]) -> Result<(), ConvertError>;

/// How input and output lie in memory.
enum Layout {
    Apart,
    Same,
}

/// In place is fine as long as what is written never lies beyond what has been read.
fn layout<I, O>(input: *const I, output: *const O, n: usize) -> Result<Layout, Refusal> {
    let (from, to) = (input as usize, output as usize);
    // Both ends are below the address space's: `check_array` has passed both.
    let (from_end, to_end) = (from + n * size_of::<I>(), to + n * size_of::<O>());
    if n == 0 || from_end <= to || to_end <= from {
        Ok(Layout::Apart)
    } else if from == to && size_of::<O>() <= size_of::<I>() {
        Ok(Layout::Same)
    } else {
        Err(Refusal::Overlap)
    }
}

/// One batch: input of type `I`, widened to f64 exactly, output of type `O`.
///
/// Writes to `done` how many elements were written, also when one was refused.
unsafe fn run<I: Copy + 'static, O: Copy + Default>(
    joint: *const elb_joint,
    input: *const I,
    n: usize,
    out: *mut O,
    done: *mut usize,
    widen: fn(I) -> f64,
    call: Call<O>,
) -> elb_status {
    let mut progress = None;
    let status = guard(std::ptr::null_mut(), || {
        // SAFETY: the header's contract.
        let joint = unsafe { &pointer::borrow("joint", joint)?.joint };
        pointer::check_array("input", input, n)?;
        pointer::check_array("out", out, n)?;
        if !done.is_null() {
            pointer::check("done", done)?;
        }
        let layout = layout(input, out, n)?;
        let result = if n == 0 {
            call(joint, &[], &mut [])
        } else {
            match (layout, std::any::TypeId::of::<I>() == std::any::TypeId::of::<f64>()) {
                (Layout::Apart, true) => {
                    // SAFETY: both checked above and apart; `I` is f64.
                    let (commands, places) = unsafe {
                        (
                            std::slice::from_raw_parts(input.cast::<f64>(), n),
                            std::slice::from_raw_parts_mut(out, n),
                        )
                    };
                    call(joint, commands, places)
                }
                // SAFETY: both checked above; `layout` lets nothing be overwritten before it was read.
                _ => unsafe { in_chunks(joint, input, n, out, widen, call) },
            }
        };
        progress = match result {
            Ok(()) => Some(n),
            Err(ConvertError::NotFiniteAt { index, .. }) => Some(index),
            Err(_) => None,
        };
        result.map_err(Refusal::from)
    });
    if let (Some(progress), false) = (progress, done.is_null()) {
        // SAFETY: checked above; `progress` is only there after that.
        unsafe { pointer::put(done, progress) };
    }
    status
}

/// Reads some elements, converts them, writes them, and so on.
unsafe fn in_chunks<I: Copy, O: Copy + Default>(
    joint: &Joint<f64>,
    input: *const I,
    n: usize,
    out: *mut O,
    widen: fn(I) -> f64,
    call: Call<O>,
) -> Result<(), ConvertError> {
    let mut commands = [0.0; CHUNK];
    let mut places = [O::default(); CHUNK];
    let mut start = 0;
    while start < n {
        let length = CHUNK.min(n - start);
        for (i, command) in commands.iter_mut().enumerate().take(length) {
            // SAFETY: `start + i` is below `n`.
            *command = widen(unsafe { input.add(start + i).read() });
        }
        let (Some(commands), Some(places)) = (commands.get(..length), places.get_mut(..length)) else {
            break;
        };
        let result = call(joint, commands, places);
        let written = match result {
            Ok(()) => length,
            Err(ConvertError::NotFiniteAt { index, .. }) => index,
            Err(error) => return Err(error),
        };
        for (i, &place) in places.iter().enumerate().take(written) {
            // SAFETY: `start + i` is below `n`.
            unsafe { out.add(start + i).write(place) };
        }
        if let Err(ConvertError::NotFiniteAt { index, value }) = result {
            return Err(ConvertError::NotFiniteAt {
                index: start + index,
                value,
            });
        }
        start += length;
    }
    Ok(())
}

/// Counts of commands, by the widest vectors that this processor has: the same bits, as nothing is ever fused.
fn counts<U: CountNumber>(joint: &Joint<f64>, commands: &[f64], out: &mut [U]) -> Result<(), ConvertError> {
    #[cfg(target_arch = "x86_64")]
    if std::arch::is_x86_feature_detected!("avx2") {
        // SAFETY: this processor has it.
        return unsafe { counts_avx2(joint, commands, out) };
    }
    joint.counts_batch_as(commands, out)
}

/// The core's call, compiled once more.
#[cfg(target_arch = "x86_64")]
#[target_feature(enable = "avx2")]
fn counts_avx2<U: CountNumber>(joint: &Joint<f64>, commands: &[f64], out: &mut [U]) -> Result<(), ConvertError> {
    joint.counts_batch_as(commands, out)
}

/// [`counts`] of 16 bits, for which the core has a form in AVX2 with FMA.
fn narrow_counts(joint: &Joint<f64>, commands: &[f64], out: &mut [u16]) -> Result<(), ConvertError> {
    #[cfg(target_arch = "x86_64")]
    if std::arch::is_x86_feature_detected!("avx2") && std::arch::is_x86_feature_detected!("fma") {
        // SAFETY: this processor has both.
        return unsafe { joint.counts_batch_avx2(commands, out) };
    }
    joint.counts_batch_as(commands, out)
}

/// A call of the core that has no batch form there: back from the motor, where nothing is refused.
fn each<const KIND: u8>(joint: &Joint<f64>, values: &[f64], out: &mut [f64]) -> Result<(), ConvertError> {
    for (&value, place) in values.iter().zip(out) {
        *place = match KIND {
            FROM_DRIVE => joint.command_from_drive(value),
            FROM_PULSE => joint.command_from_pulse_us(value),
            // Counts arrive widened from u32 and go back without loss.
            _ => joint.command_from_counts(value as u32),
        };
    }
    Ok(())
}

const FROM_DRIVE: u8 = 0;
const FROM_PULSE: u8 = 1;
const FROM_COUNTS: u8 = 2;

/// The value itself.
fn same(value: f64) -> f64 {
    value
}

/// ---- Arrays towards the motor ----
///
/// Each call takes `n` commands and writes `n` results, the same bits as the single calls give. Arrays must be aligned
/// as their types need (else ELB_STATUS_MISALIGNED). Input and output may be the same array where the output's elements
/// are not the larger ones; arrays that otherwise overlap are refused with ELB_STATUS_OVERLAP. `n` = 0 is fine, also
/// with NULL.
///
/// The first NaN or infinity stops the call with ELB_STATUS_NOT_FINITE: `done` is its index, all before it is written,
/// it and the rest of the output are untouched. On success `done` is `n`; on any other error nothing is written.
///
/// ----
///
/// Timer counts, 16 bits, of commands.
///
/// - command: `n` commands, in the joint's own unit.
/// - out: receives `n` counts.
/// - done: receives how many were written.
///
/// Nullable: done; command and out if n is 0. Errors: ELB_STATUS_NOT_FINITE, ELB_STATUS_COUNT_TOO_WIDE (this joint's
/// counts need 32 bits), ELB_STATUS_OVERLAP.
#[unsafe(no_mangle)]
#[must_use]
pub unsafe extern "C" fn elb_joint_counts_batch(
    joint: *const elb_joint,
    command: *const f64,
    n: usize,
    out: *mut u16,
    done: *mut usize,
) -> elb_status {
    // SAFETY: the header's contract.
    unsafe { run(joint, command, n, out, done, same, narrow_counts) }
}

/// Timer counts, 32 bits, of commands. Otherwise as elb_joint_counts_batch.
///
/// Nullable: done; command and out if n is 0.
#[unsafe(no_mangle)]
#[must_use]
pub unsafe extern "C" fn elb_joint_counts_batch_u32(
    joint: *const elb_joint,
    command: *const f64,
    n: usize,
    out: *mut u32,
    done: *mut usize,
) -> elb_status {
    // SAFETY: the header's contract.
    unsafe { run(joint, command, n, out, done, same, counts::<u32>) }
}

/// Timer counts, 16 bits, of commands in single precision, each widened to double, exactly. Otherwise as
/// elb_joint_counts_batch.
///
/// Nullable: done; command and out if n is 0.
#[unsafe(no_mangle)]
#[must_use]
pub unsafe extern "C" fn elb_joint_counts_batch_f32(
    joint: *const elb_joint,
    command: *const f32,
    n: usize,
    out: *mut u16,
    done: *mut usize,
) -> elb_status {
    // SAFETY: the header's contract.
    unsafe { run(joint, command, n, out, done, f64::from, narrow_counts) }
}

/// Timer counts, 32 bits, of commands in single precision, each widened to double, exactly. Otherwise as
/// elb_joint_counts_batch.
///
/// Nullable: done; command and out if n is 0.
#[unsafe(no_mangle)]
#[must_use]
pub unsafe extern "C" fn elb_joint_counts_batch_f32_u32(
    joint: *const elb_joint,
    command: *const f32,
    n: usize,
    out: *mut u32,
    done: *mut usize,
) -> elb_status {
    // SAFETY: the header's contract.
    unsafe { run(joint, command, n, out, done, f64::from, counts::<u32>) }
}

/// Drive angles, deg, of commands. Otherwise as elb_joint_counts_batch.
///
/// Nullable: done; command and out if n is 0.
#[unsafe(no_mangle)]
#[must_use]
pub unsafe extern "C" fn elb_joint_drive_batch(
    joint: *const elb_joint,
    command: *const f64,
    n: usize,
    out: *mut f64,
    done: *mut usize,
) -> elb_status {
    // SAFETY: the header's contract.
    unsafe { run(joint, command, n, out, done, same, Joint::drive_batch) }
}

/// Drive angles, deg, of commands in single precision, each widened to double, exactly. Otherwise as
/// elb_joint_counts_batch.
///
/// Nullable: done; command and out if n is 0.
#[unsafe(no_mangle)]
#[must_use]
pub unsafe extern "C" fn elb_joint_drive_batch_f32(
    joint: *const elb_joint,
    command: *const f32,
    n: usize,
    out: *mut f64,
    done: *mut usize,
) -> elb_status {
    // SAFETY: the header's contract.
    unsafe { run(joint, command, n, out, done, f64::from, Joint::drive_batch) }
}

/// Pulse widths, microseconds, of commands. Otherwise as elb_joint_counts_batch.
///
/// Nullable: done; command and out if n is 0.
#[unsafe(no_mangle)]
#[must_use]
pub unsafe extern "C" fn elb_joint_pulse_us_batch(
    joint: *const elb_joint,
    command: *const f64,
    n: usize,
    out: *mut f64,
    done: *mut usize,
) -> elb_status {
    // SAFETY: the header's contract.
    unsafe { run(joint, command, n, out, done, same, Joint::pulse_us_batch) }
}

/// Pulse widths, microseconds, of commands in single precision, each widened to double, exactly. Otherwise as
/// elb_joint_counts_batch.
///
/// Nullable: done; command and out if n is 0.
#[unsafe(no_mangle)]
#[must_use]
pub unsafe extern "C" fn elb_joint_pulse_us_batch_f32(
    joint: *const elb_joint,
    command: *const f32,
    n: usize,
    out: *mut f64,
    done: *mut usize,
) -> elb_status {
    // SAFETY: the header's contract.
    unsafe { run(joint, command, n, out, done, f64::from, Joint::pulse_us_batch) }
}

/// How many of these commands are held back by the command range and by the travel.
///
/// - command: `n` commands, in the joint's own unit.
/// - out: receives the numbers.
///
/// Nullable: command if n is 0. Errors: ELB_STATUS_NOT_FINITE.
#[unsafe(no_mangle)]
#[must_use]
pub unsafe extern "C" fn elb_joint_tally(
    joint: *const elb_joint,
    command: *const f64,
    n: usize,
    out: *mut elb_tally,
) -> elb_status {
    guard(std::ptr::null_mut(), || {
        // SAFETY: the header's contract.
        let (joint, commands) = unsafe { (pointer::borrow("joint", joint)?, pointer::array("command", command, n)?) };
        pointer::check("out", out)?;
        let found = joint.joint.tally(commands)?;
        let tally = elb_tally {
            clamped_to_command: found.clamped_to_command as u64,
            clamped_to_travel: found.clamped_to_travel as u64,
        };
        // SAFETY: checked above.
        unsafe { pointer::put(out, tally) };
        Ok(())
    })
}

/// ---- Arrays back from the motor ----
///
/// Arrays as above; nothing is clamped and nothing refused: NaN gives NaN.
///
/// ----
///
/// Commands of drive angles in deg.
///
/// - drive: `n` angles.
/// - out: receives `n` commands, in the joint's own unit.
///
/// Nullable: drive and out if n is 0. Errors: ELB_STATUS_OVERLAP.
#[unsafe(no_mangle)]
#[must_use]
pub unsafe extern "C" fn elb_joint_command_from_drive_batch(
    joint: *const elb_joint,
    drive: *const f64,
    n: usize,
    out: *mut f64,
) -> elb_status {
    let done = std::ptr::null_mut();
    // SAFETY: the header's contract.
    unsafe { run(joint, drive, n, out, done, same, each::<FROM_DRIVE>) }
}

/// Commands of pulse widths in microseconds. Otherwise as elb_joint_command_from_drive_batch.
///
/// Nullable: pulse_us and out if n is 0.
#[unsafe(no_mangle)]
#[must_use]
pub unsafe extern "C" fn elb_joint_command_from_pulse_us_batch(
    joint: *const elb_joint,
    pulse_us: *const f64,
    n: usize,
    out: *mut f64,
) -> elb_status {
    let done = std::ptr::null_mut();
    // SAFETY: the header's contract.
    unsafe { run(joint, pulse_us, n, out, done, same, each::<FROM_PULSE>) }
}

/// Commands of timer counts in 16 bits. Otherwise as elb_joint_command_from_drive_batch.
///
/// Nullable: counts and out if n is 0.
#[unsafe(no_mangle)]
#[must_use]
pub unsafe extern "C" fn elb_joint_command_from_counts_batch(
    joint: *const elb_joint,
    counts: *const u16,
    n: usize,
    out: *mut f64,
) -> elb_status {
    let done = std::ptr::null_mut();
    // SAFETY: the header's contract.
    unsafe { run(joint, counts, n, out, done, f64::from, each::<FROM_COUNTS>) }
}

/// Commands of timer counts in 32 bits. Otherwise as elb_joint_command_from_drive_batch.
///
/// Nullable: counts and out if n is 0.
#[unsafe(no_mangle)]
#[must_use]
pub unsafe extern "C" fn elb_joint_command_from_counts_batch_u32(
    joint: *const elb_joint,
    counts: *const u32,
    n: usize,
    out: *mut f64,
) -> elb_status {
    let done = std::ptr::null_mut();
    // SAFETY: the header's contract.
    unsafe { run(joint, counts, n, out, done, f64::from, each::<FROM_COUNTS>) }
}
