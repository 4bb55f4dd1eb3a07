//! Bring-up: the procedure from loose parts to a joint ready for software, as plain actions and reports.

use crate::fit_values::{ELB_END_NONE, ELB_SIDE_LOWER, ELB_SIDE_NONE, ELB_SIDE_UPPER, kind_number};
use crate::guard::guard;
use crate::handle::{self, read};
use crate::pointer;
use crate::refusal::{Refusal, elb_error};
use crate::running::{Running, elb_session};
use crate::session_config::elb_session_config;
use crate::status::elb_status;
use model::bring_up::{Action, Answer, Caution, EndFound, Outcome, Question, Report, Session, Side, Verdict};
use std::ffi::c_char;

/// Action: bring the drive to `drive`, the command changing no faster than `max_rate_per_s`; then report ELB_ACTION_MOVE_TO.
pub const ELB_ACTION_MOVE_TO: u32 = 1;
/// Action: let `seconds` pass; then report ELB_ACTION_WAIT.
pub const ELB_ACTION_WAIT: u32 = 2;
/// Action: take one reading; report ELB_ACTION_READ with it.
pub const ELB_ACTION_READ: u32 = 3;
/// Action: show the person at the joint the lines of elb_session_prompt; report ELB_ACTION_ASK with one of `answers`.
pub const ELB_ACTION_ASK: u32 = 4;
/// Action: nothing more to do; elb_session_outcome says how it ended.
pub const ELB_ACTION_DONE: u32 = 5;

/// Of a report: the command has arrived, and `value` is the drive angle really commanded, deg, after the rounding of
/// elb_joint_counts_from_drive. ELB_ACTION_MOVE_TO says that it arrived, and no more.
pub const ELB_REPORT_MOVED_TO: u32 = 6;

/// Answer: it is done.
pub const ELB_ANSWER_DONE: u32 = 1;
/// Answer: no.
pub const ELB_ANSWER_NO: u32 = 2;
/// Answer: towards the lower end.
pub const ELB_ANSWER_LOWER: u32 = 4;
/// Answer: towards the upper end.
pub const ELB_ANSWER_UPPER: u32 = 8;
/// Answer: it does not move.
pub const ELB_ANSWER_STILL: u32 = 16;
/// Answer: this joint.
pub const ELB_ANSWER_JOINT: u32 = 32;
/// Answer: another joint.
pub const ELB_ANSWER_NEIGHBOUR: u32 = 64;
/// Answer: the drive turns, the joint does not.
pub const ELB_ANSWER_DRIVE_ONLY: u32 = 128;
/// Answer: nothing at all.
pub const ELB_ANSWER_NOTHING: u32 = 256;
/// Answer: the mechanical end stop.
pub const ELB_ANSWER_STOP: u32 = 512;
/// Answer: something that should not be there.
pub const ELB_ANSWER_OBSTACLE: u32 = 1024;
/// Answer: an angle, deg, in `value`.
pub const ELB_ANSWER_ANGLE: u32 = 2048;
/// Answer: the reading is in doubt; read it again.
pub const ELB_ANSWER_AGAIN: u32 = 4096;

/// Answer: the joint stands at its stop and goes no further.
pub const ELB_ANSWER_AT_STOP: u32 = 8192;

const ANSWERS: [(u32, Answer); 14] = [
    (ELB_ANSWER_DONE, Answer::Done),
    (ELB_ANSWER_NO, Answer::No),
    (ELB_ANSWER_LOWER, Answer::Lower),
    (ELB_ANSWER_UPPER, Answer::Upper),
    (ELB_ANSWER_STILL, Answer::Still),
    (ELB_ANSWER_JOINT, Answer::Joint),
    (ELB_ANSWER_NEIGHBOUR, Answer::Neighbour),
    (ELB_ANSWER_DRIVE_ONLY, Answer::DriveOnly),
    (ELB_ANSWER_NOTHING, Answer::Nothing),
    (ELB_ANSWER_STOP, Answer::Stop),
    (ELB_ANSWER_OBSTACLE, Answer::Obstacle),
    (ELB_ANSWER_ANGLE, Answer::Angle { degrees: 0.0 }),
    (ELB_ANSWER_AGAIN, Answer::Again),
    (ELB_ANSWER_AT_STOP, Answer::AtStop),
];

/// Question: is it safe to start?
pub const ELB_QUESTION_READY: u32 = 1;
/// Question: take the load off and detach the drive.
pub const ELB_QUESTION_DETACH_DRIVE: u32 = 2;
/// Question: turn the sensor by hand, `toward` an end, by `amount` deg.
pub const ELB_QUESTION_TURN_SENSOR: u32 = 3;
/// Question: which way does the detached drive turn?
pub const ELB_QUESTION_DRIVE_RESPONSE: u32 = 4;
/// Question: fix the drive to the joint again.
pub const ELB_QUESTION_ATTACH_DRIVE: u32 = 5;
/// Question: the drive was sent to `amount` deg; what moved?
pub const ELB_QUESTION_WHAT_MOVED: u32 = 6;
/// Question: `toward` an end the joint stays behind its drive near `amount` deg; what holds it?
pub const ELB_QUESTION_WHAT_IS_MET: u32 = 7;
/// Question: the joint angle at a stop, by a protractor.
pub const ELB_QUESTION_JOINT_ANGLE: u32 = 8;
/// Question: turn the sensor on its shaft until it reads `amount`.
pub const ELB_QUESTION_SET_SENSOR: u32 = 9;
/// Question: from its mark, turn the joint by hand `toward` an end, by `amount` deg, and hold it.
pub const ELB_QUESTION_TURN_FROM_MARK: u32 = 10;
/// Question: hold the joint by hand at its stop `toward` an end, the power off.
pub const ELB_QUESTION_HOLD_AT_STOP: u32 = 11;
/// Question: a typed reading at `amount` deg `toward` an end stays behind the line; what held the joint?
pub const ELB_QUESTION_STAYS_BEHIND: u32 = 12;
/// Question: one of a later version; elb_session_prompt has it in words.
pub const ELB_QUESTION_OTHER: u32 = 255;

/// Number, end and amount of a question.
fn question_of(question: Question) -> (u32, u32, f64) {
    let side = |toward| match toward {
        Side::Lower => ELB_SIDE_LOWER,
        Side::Upper => ELB_SIDE_UPPER,
    };
    match question {
        Question::Ready => (ELB_QUESTION_READY, ELB_SIDE_NONE, f64::NAN),
        Question::DetachDrive => (ELB_QUESTION_DETACH_DRIVE, ELB_SIDE_NONE, f64::NAN),
        Question::TurnSensor { toward, degrees } => (ELB_QUESTION_TURN_SENSOR, side(toward), degrees),
        Question::DriveResponse => (ELB_QUESTION_DRIVE_RESPONSE, ELB_SIDE_NONE, f64::NAN),
        Question::AttachDrive => (ELB_QUESTION_ATTACH_DRIVE, ELB_SIDE_NONE, f64::NAN),
        Question::WhatMoved { to, .. } => (ELB_QUESTION_WHAT_MOVED, ELB_SIDE_NONE, to),
        Question::WhatIsMet { toward, drive } => (ELB_QUESTION_WHAT_IS_MET, side(toward), drive),
        Question::JointAngle => (ELB_QUESTION_JOINT_ANGLE, ELB_SIDE_NONE, f64::NAN),
        Question::SetSensor { reading, .. } => (ELB_QUESTION_SET_SENSOR, ELB_SIDE_NONE, reading),
        Question::TurnFromMark { toward, degrees } => (ELB_QUESTION_TURN_FROM_MARK, side(toward), degrees),
        Question::HoldAtStop { toward } => (ELB_QUESTION_HOLD_AT_STOP, side(toward), f64::NAN),
        Question::StaysBehind { toward, drive, .. } => (ELB_QUESTION_STAYS_BEHIND, side(toward), drive),
        _ => (ELB_QUESTION_OTHER, ELB_SIDE_NONE, f64::NAN),
    }
}

/// What to do next. Angles, rates, times and amounts that do not belong to the kind are NaN. Frozen at 48 bytes.
#[derive(Debug, Clone, Copy)]
#[repr(C)]
pub struct elb_action {
    /// Where to move, drive angle in deg.
    pub drive: f64,
    /// The fastest that the command may change, deg/s.
    pub max_rate_per_s: f64,
    /// How long to wait, s.
    pub seconds: f64,
    /// The number of a question, in the unit that its ELB_QUESTION_... names.
    pub amount: f64,
    /// One of ELB_ACTION_....
    pub kind: u32,
    /// Of a question: one of ELB_QUESTION_...; else 0.
    pub question: u32,
    /// The end that a question is about: ELB_SIDE_...
    pub toward: u32,
    /// The answers that a question has: a sum of ELB_ANSWER_.... Of a reading that a person types: ELB_ANSWER_AGAIN.
    pub answers: u32,
}

const _: () = assert!(size_of::<elb_action>() == 48);

impl From<Action> for elb_action {
    fn from(action: Action) -> Self {
        let none = Self {
            drive: f64::NAN,
            max_rate_per_s: f64::NAN,
            seconds: f64::NAN,
            amount: f64::NAN,
            kind: ELB_ACTION_DONE,
            question: 0,
            toward: ELB_SIDE_NONE,
            answers: 0,
        };
        match action {
            Action::MoveTo { drive, rate_per_s } => Self {
                drive,
                max_rate_per_s: rate_per_s,
                kind: ELB_ACTION_MOVE_TO,
                ..none
            },
            Action::Wait { seconds } => Self {
                seconds,
                kind: ELB_ACTION_WAIT,
                ..none
            },
            Action::Read => Self {
                kind: ELB_ACTION_READ,
                ..none
            },
            Action::Ask { question, .. } => {
                let (number, toward, amount) = question_of(question);
                Self {
                    amount,
                    kind: ELB_ACTION_ASK,
                    question: number,
                    toward,
                    answers: question
                        .answers()
                        .iter()
                        .filter_map(|of| ANSWERS.iter().find(|(_, answer)| answer.as_str() == of.as_str()))
                        .fold(0, |all, (bit, _)| all | bit),
                    ..none
                }
            }
            Action::Done => Self {
                kind: ELB_ACTION_DONE,
                ..none
            },
        }
    }
}

/// What was done. Frozen at 24 bytes.
#[derive(Debug, Clone, Copy)]
#[repr(C)]
pub struct elb_report {
    /// The reading, in the sensor's own unit; or the angle of ELB_ANSWER_ANGLE or of ELB_REPORT_MOVED_TO, deg.
    pub value: f64,
    /// With a reading: the drive's current as a part of its stall current; NaN where nothing measures it.
    pub load: f64,
    /// The kind of the action that was done, or ELB_REPORT_MOVED_TO.
    pub kind: u32,
    /// The answer to a question.
    pub answer: u32,
}

const _: () = assert!(size_of::<elb_report>() == 24);

impl elb_report {
    fn report(&self) -> Result<Report, Refusal> {
        Ok(match self.kind {
            ELB_ACTION_MOVE_TO => Report::Moved,
            ELB_REPORT_MOVED_TO => Report::MovedTo { drive: self.value },
            ELB_ACTION_WAIT => Report::Waited,
            ELB_ACTION_READ => Report::Reading {
                value: self.value,
                load: (!self.load.is_nan()).then_some(self.load),
            },
            ELB_ACTION_ASK => {
                let known = ANSWERS.iter().find(|(bit, _)| *bit == self.answer);
                let answer = match known {
                    Some((_, Answer::Angle { .. })) => Answer::Angle { degrees: self.value },
                    Some((_, answer)) => *answer,
                    None => {
                        return Err(Refusal::Value {
                            what: "answer",
                            given: self.answer.into(),
                            right: "one ELB_ANSWER number",
                        });
                    }
                };
                Report::Answered { answer }
            }
            kind => {
                return Err(Refusal::Value {
                    what: "kind",
                    given: kind.into(),
                    right: "the ELB_ACTION number of what was done",
                });
            }
        })
    }
}

/// Outcome: the joint is ready for software within the travel.
pub const ELB_OUTCOME_READY: u32 = 1;
/// Outcome: something is wrong; elb_session_prompt says what.
pub const ELB_OUTCOME_FAULTY: u32 = 2;
/// Outcome: the person said no before anything moved.
pub const ELB_OUTCOME_DECLINED: u32 = 3;
/// Outcome: it was stopped.
pub const ELB_OUTCOME_STOPPED: u32 = 4;

/// How a bring-up ended, lower then upper, deg of drive angle. NaN where a verdict left nothing. Frozen at 96 bytes.
#[derive(Debug, Clone, Copy)]
#[repr(C)]
pub struct elb_outcome {
    /// The travel, if the joint is ready.
    pub travel: [f64; 2],
    /// Where contact is, or the furthest that was clear; when stalled, the last reading that follows the line.
    pub at: [f64; 2],
    /// When stalled, the first reading that fell short of the line; else NaN.
    pub short_at: [f64; 2],
    /// Standard uncertainty of a contact.
    pub u: [f64; 2],
    /// The margin kept.
    pub guard: f64,
    /// Readings that the travel rests on.
    pub readings: u64,
    /// One of ELB_OUTCOME_....
    pub verdict: u32,
    /// ELB_END_..., of the lower and of the upper end.
    pub kind: [u32; 2],
    /// Always 0.
    pub reserved: u32,
}

const _: () = assert!(size_of::<elb_outcome>() == 96);

/// Place, where it fell short, uncertainty and kind of an end. A call of its own, so that the compiler looks into no end that is
/// not there: harmless, but the tools that watch memory cannot know.
#[inline(never)]
fn numbers_of(end: &EndFound) -> ([f64; 3], u32) {
    let numbers = [end.at, end.short_at.unwrap_or(f64::NAN), end.u.unwrap_or(f64::NAN)];
    (numbers, kind_number(end.kind))
}

impl From<&Outcome> for elb_outcome {
    fn from(outcome: &Outcome) -> Self {
        let none = ([f64::NAN; 3], ELB_END_NONE);
        let [(lower, lower_kind), (upper, upper_kind)] =
            [&outcome.lower, &outcome.upper].map(|end| end.as_ref().map_or(none, numbers_of));
        Self {
            travel: outcome.travel().unwrap_or([f64::NAN; 2]),
            at: [lower[0], upper[0]],
            short_at: [lower[1], upper[1]],
            u: [lower[2], upper[2]],
            guard: outcome.guard,
            readings: outcome.readings as u64,
            verdict: match outcome.verdict {
                Verdict::Ready => ELB_OUTCOME_READY,
                Verdict::Declined => ELB_OUTCOME_DECLINED,
                Verdict::Stopped => ELB_OUTCOME_STOPPED,
                _ => ELB_OUTCOME_FAULTY,
            },
            kind: [lower_kind, upper_kind],
            reserved: 0,
        }
    }
}

/// Checks a plan and begins a bring-up.
///
/// - config: the plan; not needed after the call.
/// - out: receives the bring-up; free it with elb_session_free.
/// - error: receives the details when the call fails.
///
/// Nullable: error. Errors: ELB_STATUS_NOT_FINITE, ELB_STATUS_NOT_POSITIVE, ELB_STATUS_OPTION_OUTSIDE,
/// ELB_STATUS_ENDS_SWAPPED, ELB_STATUS_ZERO_WIDTH, ELB_STATUS_UNKNOWN_VALUE.
#[unsafe(no_mangle)]
#[must_use]
pub unsafe extern "C" fn elb_session_new(
    config: *const elb_session_config,
    out: *mut *mut elb_session,
    error: *mut elb_error,
) -> elb_status {
    // SAFETY: the header's contract.
    unsafe {
        handle::make(out, error, || {
            let plan = pointer::read_sized(config)?.plan()?;
            Ok(Running::Session(Session::new(plan)?).into())
        })
    }
}

/// Frees a bring-up, once.
///
/// Nullable: session (nothing happens).
#[unsafe(no_mangle)]
pub unsafe extern "C" fn elb_session_free(session: *mut elb_session) {
    // SAFETY: the header's contract.
    unsafe { handle::free(session) }
}

/// What to do next. Asking changes nothing.
///
/// - out: receives the action.
#[unsafe(no_mangle)]
#[must_use]
pub unsafe extern "C" fn elb_session_next(session: *const elb_session, out: *mut elb_action) -> elb_status {
    // SAFETY: the header's contract.
    unsafe {
        read(session, out, |session| {
            let action = session.session.next();
            let mut told = elb_action::from(action);
            if action == Action::Read && session.session.reads_again() {
                told.answers = ELB_ANSWER_AGAIN;
            }
            Ok(told)
        })
    }
}

/// What the person at the joint is to read now: a line for each caution, one for what contradicts the last answer, one
/// for the question; at the end the verdict. Empty where nobody is asked; of a bring-up with typed readings, a sentence for every step.
///
/// - text: receives the text, UTF-8, with a NUL at its end.
/// - room: bytes that `text` has room for, at least `length` + 1.
/// - length: receives the length without the NUL, also when the room is too small.
///
/// Nullable: text if room is 0, to ask for the length alone; length. Errors: ELB_STATUS_NO_ROOM.
#[unsafe(no_mangle)]
#[must_use]
pub unsafe extern "C" fn elb_session_prompt(
    session: *const elb_session,
    text: *mut c_char,
    room: usize,
    length: *mut usize,
) -> elb_status {
    guard(std::ptr::null_mut(), || {
        // SAFETY: the header's contract.
        let session = unsafe { pointer::borrow("session", session)? };
        // SAFETY: the header's contract.
        unsafe { pointer::fill_text(&session.session.words(), text, room, length) }
    })
}

/// Caution: this is not a safety function.
pub const ELB_CAUTION_NOT_A_SAFETY_FUNCTION: u32 = 1;
/// Caution: local codes come first.
pub const ELB_CAUTION_LOCAL_RULES: u32 = 2;
/// Caution: a hand on the power switch.
pub const ELB_CAUTION_HAND_ON_POWER_SWITCH: u32 = 4;
/// Caution: nobody's hands in the joint.
pub const ELB_CAUTION_NOBODY_IN_REACH: u32 = 8;
/// Caution: take the load off.
pub const ELB_CAUTION_TAKE_LOAD_OFF: u32 = 16;
/// Caution: power off before hands go in.
pub const ELB_CAUTION_POWER_OFF_TO_TOUCH: u32 = 32;
/// Caution: the detached drive may start to run.
pub const ELB_CAUTION_DRIVE_MAY_RUN: u32 = 64;
/// Caution: the first move is slow.
pub const ELB_CAUTION_FIRST_MOVE_SLOW: u32 = 128;
/// Caution: move the joint lightly by hand.
pub const ELB_CAUTION_DO_NOT_FORCE: u32 = 256;
/// Caution: the drive may press on a stop.
pub const ELB_CAUTION_MAY_PRESS: u32 = 512;
/// Caution: one of a later version; elb_session_prompt has it in words.
pub const ELB_CAUTION_OTHER: u32 = 0x8000_0000;

fn caution_number(caution: &Caution) -> u32 {
    match caution {
        Caution::NotASafetyFunction => ELB_CAUTION_NOT_A_SAFETY_FUNCTION,
        Caution::LocalRules => ELB_CAUTION_LOCAL_RULES,
        Caution::HandOnPowerSwitch => ELB_CAUTION_HAND_ON_POWER_SWITCH,
        Caution::NobodyInReach => ELB_CAUTION_NOBODY_IN_REACH,
        Caution::TakeLoadOff => ELB_CAUTION_TAKE_LOAD_OFF,
        Caution::PowerOffToTouch => ELB_CAUTION_POWER_OFF_TO_TOUCH,
        Caution::DriveMayRun => ELB_CAUTION_DRIVE_MAY_RUN,
        Caution::FirstMoveSlow => ELB_CAUTION_FIRST_MOVE_SLOW,
        Caution::DoNotForce => ELB_CAUTION_DO_NOT_FORCE,
        Caution::MayPress => ELB_CAUTION_MAY_PRESS,
        _ => ELB_CAUTION_OTHER,
    }
}

/// What must be said before the next action, for a front end with pictures or words of its own.
///
/// - out: receives a sum of ELB_CAUTION_...; 0 where nothing must be said.
#[unsafe(no_mangle)]
#[must_use]
pub unsafe extern "C" fn elb_session_cautions(session: *const elb_session, out: *mut u32) -> elb_status {
    // SAFETY: the header's contract.
    unsafe {
        read(session, out, |session| {
            let cautions = session.session.cautions();
            Ok(cautions.iter().fold(0, |all, caution| all | caution_number(caution)))
        })
    }
}

/// Takes the report of what elb_session_next asked. It allocates nothing but in two reports, while the drive stands still: the one
/// that ends the sweeps, where what was read is fitted, and the one that ends the bring-up. (A bring-up with typed
/// readings allocates at each report.)
///
/// - report: what was done.
/// - error: receives the details when the call fails; nothing changes then.
///
/// Nullable: error. Errors: ELB_STATUS_WRONG_REPORT, ELB_STATUS_PROCEDURE_DONE, ELB_STATUS_NOT_FINITE,
/// ELB_STATUS_UNKNOWN_VALUE.
#[unsafe(no_mangle)]
#[must_use]
pub unsafe extern "C" fn elb_session_report(
    session: *mut elb_session,
    report: *const elb_report,
    error: *mut elb_error,
) -> elb_status {
    guard(error, || {
        // SAFETY: the header's contract.
        let report = unsafe { pointer::borrow("report", report)? };
        pointer::check("session", session)?;
        // SAFETY: checked above; one thread at a time by the header's contract.
        let elb_session { session, trial } = unsafe { &mut *session };
        trial.copy_from(session);
        trial.report(report.report()?)?;
        std::mem::swap(session, trial);
        // Now, while the drive stands still, rather than when the next report is due.
        trial.copy_from(session);
        Ok(())
    })
}

/// Ends it here; the joint is not ready for software. A bring-up that is done stays as it is.
#[unsafe(no_mangle)]
#[must_use]
pub unsafe extern "C" fn elb_session_stop(session: *mut elb_session) -> elb_status {
    guard(std::ptr::null_mut(), || {
        // SAFETY: the header's contract.
        let mut changed = unsafe { pointer::borrow("session", session)? }.session.clone();
        changed.stop();
        // SAFETY: checked above; one thread at a time by the header's contract.
        unsafe { (*session).session = changed };
        Ok(())
    })
}

/// Saves a bring-up, to be restored with elb_session_parse.
///
/// - text: receives JSON, UTF-8, with a NUL at its end.
/// - room: bytes that `text` has room for, at least `length` + 1.
/// - length: receives the length without the NUL, also when the room is too small.
///
/// Nullable: text if room is 0, to ask for the length alone; length. Errors: ELB_STATUS_NO_ROOM.
#[unsafe(no_mangle)]
#[must_use]
pub unsafe extern "C" fn elb_session_json(
    session: *const elb_session,
    text: *mut c_char,
    room: usize,
    length: *mut usize,
) -> elb_status {
    guard(std::ptr::null_mut(), || {
        // SAFETY: the header's contract.
        let session = unsafe { pointer::borrow("session", session)? };
        let json = session.session.json()?;
        // SAFETY: the header's contract.
        unsafe { pointer::fill_text(&json, text, room, length) }
    })
}

/// Restores a bring-up. Its power may have been off since: the next action brings the drive slowly back to where
/// it last was.
///
/// - text: what elb_session_json wrote, `length` bytes; need not end with a NUL.
/// - out: receives the bring-up; free it with elb_session_free.
/// - error: receives the details when the call fails.
///
/// Nullable: text if length is 0; error. Errors: ELB_STATUS_WRONG_TYPE for what is not a saved bring-up,
/// ELB_STATUS_NOT_UTF8.
#[unsafe(no_mangle)]
#[must_use]
pub unsafe extern "C" fn elb_session_parse(
    text: *const c_char,
    length: usize,
    out: *mut *mut elb_session,
    error: *mut elb_error,
) -> elb_status {
    // SAFETY: the header's contract.
    unsafe {
        handle::make(out, error, || {
            Ok(Running::parse(pointer::text("text", text, length)?)?.into())
        })
    }
}

/// How a bring-up ended.
///
/// - out: receives the outcome.
///
/// Errors: ELB_STATUS_ABSENT before its end.
#[unsafe(no_mangle)]
#[must_use]
pub unsafe extern "C" fn elb_session_outcome(session: *const elb_session, out: *mut elb_outcome) -> elb_status {
    // SAFETY: the header's contract.
    unsafe {
        read(session, out, |session| {
            let outcome = session.session.outcome().ok_or(Refusal::Absent(
                "the bring-up is not finished; continue with elb_session_next",
            ))?;
            Ok(outcome.into())
        })
    }
}
