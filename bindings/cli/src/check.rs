//! `check`: what is wrong with a robot file.

use crate::args::CheckArgs;
use crate::limits::in_file;
use crate::only_file::or_only;
use crate::outcome::Outcome;
use crate::paint::{self, strong};
use crate::problem::Problem;
use crate::readings::folder_of;
use elbowroom::robot::{Check, CheckReport, Date, Finding, Robot, Rule, Severity, Sources, Urdf};

use serde::Serialize;
use std::fmt::Write as _;
use std::path::Path;

#[derive(Serialize)]
pub(crate) struct Found<'a> {
    severity: &'static str,
    rule: &'static str,
    joint: Option<&'a str>,
    line: Option<usize>,
    message: &'a str,
    hint: &'a str,
    #[serde(skip_serializing_if = "Option::is_none")]
    reason: Option<&'a str>,
}

impl<'a> Found<'a> {
    pub(crate) fn new(finding: &'a Finding, reason: Option<&'a str>) -> Self {
        Self {
            severity: finding.severity.as_str(),
            rule: finding.rule.name(),
            joint: finding.joint.as_deref(),
            line: finding.line,
            message: &finding.message,
            hint: &finding.hint,
            reason,
        }
    }
}

#[derive(Serialize)]
struct Report<'a> {
    file: String,
    joints: usize,
    as_of: Option<String>,
    findings: Vec<Found<'a>>,
    waived: Vec<Found<'a>>,
}

#[derive(Serialize)]
struct RuleShown {
    rule: &'static str,
    severity: &'static str,
    protects: &'static str,
    broken_by: &'static str,
}

/// Checks a robot and the readings behind it as of a day, today unless said otherwise.
pub(crate) fn checked(
    robot: &Robot,
    sources: &Sources,
    as_of: Option<Date>,
    urdf: Option<&Urdf>,
) -> (CheckReport, Option<Date>) {
    let day = as_of.or_else(Date::today);
    let check = Check::new().with_sources(sources);
    let check = urdf.map_or(check, |urdf| check.against(urdf));
    (day.map_or(check, |day| check.on(day)).run(robot), day)
}

/// What stands in every output as long as numbers of the file are assumed: a line, or nothing.
pub(crate) fn assumed_note(robot: &Robot) -> String {
    let found = Check::new().run(robot).findings;
    let finding = found.iter().find(|finding| finding.rule == Rule::NumbersAssumed);
    finding.map_or(String::new(), |finding| {
        format!("note: {}; {}\n", finding.message, finding.hint)
    })
}

/// Whether any finding asks for something to be done.
pub(crate) fn open(report: &CheckReport) -> bool {
    report.findings.iter().any(|finding| finding.severity > Severity::Note)
}

pub(crate) fn run(args: &CheckArgs) -> Result<Outcome, Problem> {
    if args.rules {
        return rules();
    }
    let path = &or_only(args.file.as_deref())?;
    let robot = Robot::load(path)?;
    let urdf = args.urdf.as_deref().map(read_urdf).transpose()?;
    let (report, day) = checked(&robot, &robot.sources(folder_of(path)), args.as_of, urdf.as_ref());
    let text = written(path, &robot, &report, args.waived);
    let object = Report {
        file: path.display().to_string(),
        joints: robot.joints().len(),
        as_of: day.map(|day| day.to_string()),
        findings: report
            .findings
            .iter()
            .map(|finding| Found::new(finding, None))
            .collect(),
        waived: report
            .waived
            .iter()
            .map(|waived| Found::new(&waived.finding, Some(&waived.reason)))
            .collect(),
    };
    Outcome::new(text, &object, open(&report))
}

fn read_urdf(path: &Path) -> Result<Urdf, Problem> {
    let xml = std::fs::read_to_string(path).map_err(|error| Problem::access(path, "read", &error))?;
    Urdf::parse(&xml).map_err(|error| in_file(error, path))
}

fn written(path: &Path, robot: &Robot, report: &CheckReport, with_waived: bool) -> String {
    let mut text = String::new();
    let file = path.display();
    // The gravest first, else in the order of the file.
    let mut findings: Vec<&Finding> = report.findings.iter().collect();
    findings.sort_by_key(|finding| std::cmp::Reverse(finding.severity));
    for finding in findings {
        let line = finding.line.map_or(String::new(), |line| format!(":{line}"));
        let joint = finding
            .joint
            .as_ref()
            .map_or(String::new(), |joint| format!("joint {joint}: "));
        let severity = paint::severity(finding.severity);
        let rule = strong(finding.rule.name());
        let _ = writeln!(text, "{file}{line}: {severity} {rule}: {joint}{}", finding.message);
        let _ = writeln!(text, "    {}", finding.hint);
    }
    if with_waived {
        for waived in &report.waived {
            let finding = &waived.finding;
            let joint = finding
                .joint
                .as_ref()
                .map_or(String::new(), |joint| format!("joint {joint}: "));
            let _ = writeln!(
                text,
                "{file}: waived {}: {joint}{}",
                finding.rule.name(),
                finding.message
            );
            let _ = writeln!(text, "    reason: {}", waived.reason);
        }
    }
    let count = |severity| {
        report
            .findings
            .iter()
            .filter(|finding| finding.severity == severity)
            .count()
    };
    let _ = writeln!(
        text,
        "{file}: {}, {}, {}, {}, {} waived",
        paint::counted(robot.joints().len(), "joint"),
        paint::counted(count(Severity::Error), "error"),
        paint::counted(count(Severity::Warning), "warning"),
        paint::counted(count(Severity::Note), "note"),
        report.waived.len()
    );
    text
}

fn rules() -> Result<Outcome, Problem> {
    let mut text = String::new();
    let shown: Vec<RuleShown> = Rule::ALL
        .iter()
        .map(|rule| RuleShown {
            rule: rule.name(),
            severity: rule.severity().as_str(),
            protects: rule.protects(),
            broken_by: rule.broken_by(),
        })
        .collect();
    for rule in Rule::ALL {
        let _ = writeln!(text, "{} ({})", strong(rule.name()), paint::severity(rule.severity()));
        let _ = writeln!(text, "    ensures that {}", rule.protects());
        let _ = writeln!(text, "    broken by {}", rule.broken_by());
    }
    #[derive(Serialize)]
    struct Rules {
        rules: Vec<RuleShown>,
    }
    Outcome::new(text, &Rules { rules: shown }, false)
}
