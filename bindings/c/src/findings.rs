//! What is wrong with a robot although its file can be read.

use crate::handle::{self, Handle, read};
use crate::pointer;
use crate::refusal::{Refusal, elb_error};
use crate::robot_joints::elb_robot;
use crate::status::elb_status;
use crate::text::{c_text, day};
use crate::word::{OTHER, c_word};
use model::robot::{Check, CheckReport, Finding, Severity};
use std::ffi::{CString, c_char};
use std::ptr::null;

/// Severity of a finding: worth knowing.
pub const ELB_SEVERITY_NOTE: u32 = 0;
/// Severity of a finding: should be corrected before the joint runs unattended.
pub const ELB_SEVERITY_WARNING: u32 = 1;
/// Severity of a finding: the joint must not run.
pub const ELB_SEVERITY_ERROR: u32 = 2;

/// The number of a severity.
const fn severity_number(severity: Severity) -> u32 {
    match severity {
        Severity::Note => ELB_SEVERITY_NOTE,
        Severity::Warning => ELB_SEVERITY_WARNING,
        Severity::Error => ELB_SEVERITY_ERROR,
    }
}

/// Everything that a check found. Immutable: any number of threads may read it at once.
#[derive(Debug)]
pub struct elb_findings {
    open: Vec<Texts>,
    waived: Vec<Texts>,
}

impl Handle for elb_findings {
    const WHAT: &'static str = "findings";
}

impl From<CheckReport> for elb_findings {
    fn from(report: CheckReport) -> Self {
        let waived = report.waived.iter();
        Self {
            open: report.findings.iter().map(|finding| Texts::of(finding, None)).collect(),
            waived: waived
                .map(|waived| Texts::of(&waived.finding, Some(&waived.reason)))
                .collect(),
        }
    }
}

/// One finding with its texts as C wants them.
#[derive(Debug)]
struct Texts {
    rule: CString,
    joint: Option<CString>,
    message: CString,
    hint: CString,
    waiver: Option<CString>,
    severity: u32,
    line: u32,
}

impl Texts {
    fn of(finding: &Finding, waiver: Option<&String>) -> Self {
        Self {
            rule: c_text(&finding.rule.name()),
            joint: finding.joint.as_ref().map(c_text),
            message: c_text(&finding.message),
            hint: c_text(&finding.hint),
            waiver: waiver.map(c_text),
            severity: severity_number(finding.severity),
            line: finding.line.map_or(0, |line| u32::try_from(line).unwrap_or(u32::MAX)),
        }
    }
}

/// Something wrong with a robot. Texts live as long as the findings. Frozen.
#[derive(Debug, Clone, Copy)]
#[repr(C)]
pub struct elb_finding {
    /// The name of the rule that found it: "rest-outside-travel".
    pub rule: *const c_char,
    /// The joint concerned; NULL for the robot as a whole.
    pub joint: *const c_char,
    /// What is wrong, with its values.
    pub message: *const c_char,
    /// What to do about it.
    pub hint: *const c_char,
    /// The reason for which the robot file waives it; NULL if it does not.
    pub waiver: *const c_char,
    /// ELB_SEVERITY_...
    pub severity: u32,
    /// The line of the robot file where the joint begins, counted from 1; 0 for the robot as a whole.
    pub line: u32,
}

const _: () = assert!(size_of::<elb_finding>() == 5 * size_of::<usize>() + 8);

/// ---- Checking a robot ----
///
/// ----
///
/// Checks a robot by every rule.
///
/// - today: the day as of which the age of evidence is judged, "2026-11-20", ends with a NUL. NULL: age is not judged.
/// - out: receives the findings; free them with elb_findings_free.
/// - error: receives the details when the call fails.
///
/// Nullable: today, error. Errors: ELB_STATUS_WRONG_TYPE for what is not a day, ELB_STATUS_NOT_UTF8.
#[unsafe(no_mangle)]
#[must_use]
pub unsafe extern "C" fn elb_robot_check(
    robot: *const elb_robot,
    today: *const c_char,
    out: *mut *mut elb_findings,
    error: *mut elb_error,
) -> elb_status {
    // SAFETY: the header's contract.
    unsafe {
        handle::make(out, error, || {
            let robot = pointer::borrow("robot", robot)?;
            let mut check = Check::new();
            if let Some(today) = day(today)? {
                check = check.on(today);
            }
            Ok(check.run(&robot.robot).into())
        })
    }
}

/// Frees findings. They must be freed once, and never while they are in use.
///
/// Nullable: findings (nothing happens).
#[unsafe(no_mangle)]
pub unsafe extern "C" fn elb_findings_free(findings: *mut elb_findings) {
    // SAFETY: the header's contract.
    unsafe { handle::free(findings) }
}

fn finding(list: &[Texts], i: usize) -> Result<elb_finding, Refusal> {
    let texts = handle::nth("finding", list, i)?;
    let optional = |text: &Option<CString>| text.as_ref().map_or(null(), |text| text.as_ptr());
    Ok(elb_finding {
        rule: texts.rule.as_ptr(),
        joint: optional(&texts.joint),
        message: texts.message.as_ptr(),
        hint: texts.hint.as_ptr(),
        waiver: optional(&texts.waiver),
        severity: texts.severity,
        line: texts.line,
    })
}

/// How many findings are open: the robot as a whole first, then joint by joint in file order.
#[unsafe(no_mangle)]
#[must_use]
pub unsafe extern "C" fn elb_findings_count(findings: *const elb_findings, out: *mut usize) -> elb_status {
    // SAFETY: the header's contract.
    unsafe { read(findings, out, |findings| Ok(findings.open.len())) }
}

/// One open finding.
///
/// - i: 0 to elb_findings_count - 1.
/// - out: receives it.
///
/// Errors: ELB_STATUS_ABSENT.
#[unsafe(no_mangle)]
#[must_use]
pub unsafe extern "C" fn elb_findings_at(findings: *const elb_findings, i: usize, out: *mut elb_finding) -> elb_status {
    // SAFETY: the header's contract.
    unsafe { read(findings, out, |findings| finding(&findings.open, i)) }
}

/// How many findings the robot file waives.
#[unsafe(no_mangle)]
#[must_use]
pub unsafe extern "C" fn elb_findings_waived_count(findings: *const elb_findings, out: *mut usize) -> elb_status {
    // SAFETY: the header's contract.
    unsafe { read(findings, out, |findings| Ok(findings.waived.len())) }
}

/// One finding that the robot file waives; its `waiver` is the reason given.
///
/// - i: 0 to elb_findings_waived_count - 1.
/// - out: receives it.
///
/// Errors: ELB_STATUS_ABSENT.
#[unsafe(no_mangle)]
#[must_use]
pub unsafe extern "C" fn elb_findings_waived_at(
    findings: *const elb_findings,
    i: usize,
    out: *mut elb_finding,
) -> elb_status {
    // SAFETY: the header's contract.
    unsafe { read(findings, out, |findings| finding(&findings.waived, i)) }
}

/// The name of a severity: "note", "warning", "error".
///
/// Returns a static text, never NULL, not to be freed. A number that this library does not know gives "other".
#[unsafe(no_mangle)]
pub extern "C" fn elb_severity_name(severity: u32) -> *const c_char {
    match severity {
        ELB_SEVERITY_NOTE => c_word!(Severity::Note.as_str()),
        ELB_SEVERITY_WARNING => c_word!(Severity::Warning.as_str()),
        ELB_SEVERITY_ERROR => c_word!(Severity::Error.as_str()),
        _ => OTHER,
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::word::read;

    #[test]
    fn each_severity_has_the_word_of_the_core() {
        for severity in Severity::ALL {
            assert_eq!(read(elb_severity_name(severity_number(severity))), severity.as_str());
        }
        assert_eq!(read(elb_severity_name(3)), "other");
    }
}
