//! Which transmission fits readings best, and why.

use crate::curve::elb_curve;
use crate::fit_values::elb_lost_motion;
use crate::handle::{self, Handle, nth, read};
use crate::line::elb_line;
use crate::linkage::{Ruled, elb_linkage, elb_mechanism};
use crate::pointer;
use crate::readings::Columns;
use crate::refusal::{Refusal, elb_error};
use crate::status::elb_status;
use crate::text::c_text;
use crate::transmission::{ELB_TRANSMISSION_CURVE, ELB_TRANSMISSION_LINEAR};
use model::fit::{Choice, Guess, LostMotion, Tried};
use std::ffi::{CString, c_char};

/// Transmissions tried on the same readings, and which of them to take. Immutable: any number of threads may read it at
/// once.
#[derive(Debug)]
pub struct elb_choice {
    candidates: Vec<(elb_candidate, Fitted)>,
    lost_motion: Vec<LostMotion>,
    best: usize,
    reasons: Vec<CString>,
}

impl Handle for elb_choice {
    const WHAT: &'static str = "choice";
}

/// What a candidate is, for its own calls.
#[derive(Debug)]
enum Fitted {
    Line(elb_line),
    Curve(elb_curve),
    Linkage(elb_linkage),
    Refused,
}

/// How well one transmission does. Frozen at 32 bytes.
#[derive(Debug, Clone, Copy)]
#[repr(C)]
pub struct elb_candidate {
    /// Standard deviation of the readings about it, free of lost motion, in measured units; infinite if it could not be fitted.
    pub residual_sd: f64,
    /// What candidates are compared by, lower is better; infinite if it could not be fitted.
    pub criterion: f64,
    /// Numbers found from the readings, lost motion among them.
    pub parameters: u64,
    /// ELB_TRANSMISSION_...
    pub transmission: u32,
    /// 1 if it could not be fitted; one of the reasons says why. Else 0.
    pub refused: u32,
}

const _: () = assert!(size_of::<elb_candidate>() == 32);

impl elb_choice {
    fn of(choice: Choice, guesses: &[elb_mechanism]) -> Result<Self, Refusal> {
        let kinds = [ELB_TRANSMISSION_LINEAR, ELB_TRANSMISSION_CURVE]
            .into_iter()
            .chain(guesses.iter().map(|guess| guess.kind));
        let reasons = choice.reasons.iter().map(c_text).collect();
        let lost_motion = choice
            .candidates
            .iter()
            .map(|candidate| candidate.lost_motion)
            .collect();
        let candidates = choice
            .candidates
            .into_iter()
            .zip(kinds)
            .map(|(candidate, transmission)| {
                let shown = elb_candidate {
                    residual_sd: candidate.residual_sd,
                    criterion: candidate.criterion,
                    parameters: candidate.parameters as u64,
                    transmission,
                    refused: matches!(candidate.tried, Tried::Refused { .. }).into(),
                };
                let fitted = match candidate.tried {
                    Tried::Linear(line) => Fitted::Line(elb_line(line)),
                    Tried::Curve(curve) => Fitted::Curve(elb_curve::of(curve)?),
                    Tried::Linkage(linkage) => Fitted::Linkage(linkage.into()),
                    _ => Fitted::Refused,
                };
                Ok((shown, fitted))
            });
        Ok(Self {
            candidates: candidates.collect::<Result<_, Refusal>>()?,
            lost_motion,
            best: choice.best,
            reasons,
        })
    }

    fn candidate(&self, i: usize) -> Result<&(elb_candidate, Fitted), Refusal> {
        self.candidates.get(i).ok_or(Refusal::Index {
            what: "candidate",
            given: i,
            length: self.candidates.len(),
        })
    }
}

/// ---- Which transmission ----
///
/// ----
///
/// Tries a line, a curve and every linkage guessed on the same readings, and says which to take and why. Readings on a
/// stop and misreadings are left out first, as for a curve.
///
/// - drive: `n` drive angles, deg.
/// - measured: `n` joint angles, deg; at least 5.
/// - approach: from which side each was reached, ELB_APPROACH_...; NULL if it is not known. Where some stretch was reached from
///   both sides, lost motion is found as well and does not count as scatter.
/// - guesses: `n_guesses` linkages, with the bits of what is to be found. One that cannot be fitted is not an error.
/// - most_knots: the most knots of the curve, 2 to ELB_MOST_KNOTS.
/// - out: receives the choice; free it with elb_choice_free.
/// - error: receives the details when the call fails.
///
/// Nullable: approach, error; an array without elements. Errors: as elb_curve_new, and ELB_STATUS_UNKNOWN_VALUE for
/// what is not a linkage.
#[unsafe(no_mangle)]
#[must_use]
pub unsafe extern "C" fn elb_choice_new(
    drive: *const f64,
    measured: *const f64,
    approach: *const i8,
    n: usize,
    guesses: *const elb_mechanism,
    n_guesses: usize,
    most_knots: usize,
    out: *mut *mut elb_choice,
    error: *mut elb_error,
) -> elb_status {
    // SAFETY: the header's contract.
    unsafe {
        handle::make(out, error, || {
            let columns = Columns::read(drive, measured, approach, n)?;
            let guesses = pointer::array("guesses", guesses, n_guesses)?;
            let ruled: Vec<Ruled> = guesses.iter().map(elb_mechanism::ruled).collect::<Result<_, _>>()?;
            let asked: Vec<Guess<'_>> = ruled.iter().map(Ruled::guess).collect();
            let choice = model::fit::choose_transmission(&columns.readings(), &asked, most_knots)?;
            elb_choice::of(choice, guesses)
        })
    }
}

/// Frees a choice and all that was taken from it. It must be freed once, and never while another thread uses it.
///
/// Nullable: choice (nothing happens).
#[unsafe(no_mangle)]
pub unsafe extern "C" fn elb_choice_free(choice: *mut elb_choice) {
    // SAFETY: the header's contract.
    unsafe { handle::free(choice) }
}

/// How many transmissions were tried: the line, the curve, then the guesses in their order.
#[unsafe(no_mangle)]
#[must_use]
pub unsafe extern "C" fn elb_choice_count(choice: *const elb_choice, out: *mut usize) -> elb_status {
    // SAFETY: the header's contract.
    unsafe { read(choice, out, |choice| Ok(choice.candidates.len())) }
}

/// Which of them to take.
///
/// - out: receives its index, 0 to elb_choice_count - 1.
#[unsafe(no_mangle)]
#[must_use]
pub unsafe extern "C" fn elb_choice_best(choice: *const elb_choice, out: *mut usize) -> elb_status {
    // SAFETY: the header's contract.
    unsafe { read(choice, out, |choice| Ok(choice.best)) }
}

/// How well one of them does.
///
/// - i: 0 to elb_choice_count - 1.
/// - out: receives it.
///
/// Errors: ELB_STATUS_ABSENT.
#[unsafe(no_mangle)]
#[must_use]
pub unsafe extern "C" fn elb_choice_candidate(
    choice: *const elb_choice,
    i: usize,
    out: *mut elb_candidate,
) -> elb_status {
    // SAFETY: the header's contract.
    unsafe { read(choice, out, |choice| Ok(choice.candidate(i)?.0)) }
}

/// Lost motion found with one of them, which lies midway: half of `reversal` is added to a line where it was reached from below.
///
/// - i: 0 to elb_choice_count - 1.
/// - out: receives it.
///
/// Errors: ELB_STATUS_ABSENT where the readings do not show it, as for elb_curve_lost_motion, and for another `i`.
#[unsafe(no_mangle)]
#[must_use]
pub unsafe extern "C" fn elb_choice_lost_motion(
    choice: *const elb_choice,
    i: usize,
    out: *mut elb_lost_motion,
) -> elb_status {
    // SAFETY: the header's contract.
    unsafe {
        read(choice, out, |choice| {
            choice.candidate(i)?;
            choice
                .lost_motion
                .get(i)
                .map_or(Err(Refusal::Absent("no such candidate")), elb_lost_motion::of)
        })
    }
}

/// How many reasons there are.
#[unsafe(no_mangle)]
#[must_use]
pub unsafe extern "C" fn elb_choice_reason_count(choice: *const elb_choice, out: *mut usize) -> elb_status {
    // SAFETY: the header's contract.
    unsafe { read(choice, out, |choice| Ok(choice.reasons.len())) }
}

/// The sentence of one reason, the most important first.
///
/// - i: 0 to elb_choice_reason_count - 1.
/// - out: receives a text that lives as long as the choice.
///
/// Errors: ELB_STATUS_ABSENT.
#[unsafe(no_mangle)]
#[must_use]
pub unsafe extern "C" fn elb_choice_reason(choice: *const elb_choice, i: usize, out: *mut *const c_char) -> elb_status {
    // SAFETY: the header's contract.
    unsafe {
        read(choice, out, |choice| {
            let reason = nth("reason", &choice.reasons, i)?;
            Ok(reason.as_ptr())
        })
    }
}

/// The line of a choice, for the elb_line_... calls. elb_line_inverse gives the drive angles of a straight joint's ends.
///
/// - i: a candidate that is one.
/// - out: receives the line, which lives as long as the choice.
///
/// Errors: ELB_STATUS_ABSENT for another candidate.
#[unsafe(no_mangle)]
#[must_use]
pub unsafe extern "C" fn elb_choice_line(choice: *const elb_choice, i: usize, out: *mut *const elb_line) -> elb_status {
    // SAFETY: the header's contract.
    unsafe {
        read(choice, out, |choice| match &choice.candidate(i)?.1 {
            Fitted::Line(line) => Ok(&raw const *line),
            _ => Err(Refusal::Absent("this candidate is not a line")),
        })
    }
}

/// The curve of a choice, for the elb_curve_... calls.
///
/// - i: a candidate that is one.
/// - out: receives the curve, which lives as long as the choice.
///
/// Errors: ELB_STATUS_ABSENT for another candidate.
#[unsafe(no_mangle)]
#[must_use]
pub unsafe extern "C" fn elb_choice_curve(
    choice: *const elb_choice,
    i: usize,
    out: *mut *const elb_curve,
) -> elb_status {
    // SAFETY: the header's contract.
    unsafe {
        read(choice, out, |choice| match &choice.candidate(i)?.1 {
            Fitted::Curve(curve) => Ok(&raw const *curve),
            _ => Err(Refusal::Absent("this candidate is not a curve")),
        })
    }
}

/// A linkage of a choice, for the elb_linkage_... calls.
///
/// - i: a candidate that is one and was fitted.
/// - out: receives the linkage, which lives as long as the choice.
///
/// Errors: ELB_STATUS_ABSENT for another candidate.
#[unsafe(no_mangle)]
#[must_use]
pub unsafe extern "C" fn elb_choice_linkage(
    choice: *const elb_choice,
    i: usize,
    out: *mut *const elb_linkage,
) -> elb_status {
    // SAFETY: the header's contract.
    unsafe {
        read(choice, out, |choice| match &choice.candidate(i)?.1 {
            Fitted::Linkage(linkage) => Ok(&raw const *linkage),
            _ => Err(Refusal::Absent("this candidate is not a fitted linkage")),
        })
    }
}
