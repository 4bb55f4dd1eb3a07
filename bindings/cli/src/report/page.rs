//! The report's page: plain HTML that reads on a screen, on paper and aloud, and loads nothing from outside. What it says of a joint
//! stands in `card`; how it looks, in `templates/`.

use super::card::{self, Card, Safe, Shown};
use super::picture;
use crate::paint::{of_span, range};
use crate::problem::Problem;
use crate::progress::Progress;
use crate::svg::{Frame, patterns, style_sheet};
use askama::Template;
use elbowroom::Code;
use elbowroom::robot::{CheckReport, Date, JointEntry, Robot, Severity, Sources, sha256};
use std::path::Path;
use std::time::{SystemTime, UNIX_EPOCH};

/// From here on a report takes long enough to be announced; also how often it says how far it is.
const MANY_JOINTS: usize = 200;
/// Joints in one overview picture: as many as a sheet of paper holds.
const OVERVIEW_JOINTS: usize = 20;
/// By this an earlier report is known and may be replaced.
pub(super) const MARK: &str = "<meta name=\"generator\" content=\"elbowroom report\">";
const STYLE: &str = include_str!("../../templates/report.css");
const SECONDS_PER_DAY: u64 = 86_400;

#[derive(Template)]
#[template(path = "report.html")]
struct Page<'a> {
    name: &'a str,
    file: String,
    hash: String,
    day: Option<String>,
    joints: String,
    style: Safe,
    patterns: Safe,
    verdict: &'static str,
    counts: String,
    whole: Vec<Shown<'a>>,
    waivers: Vec<Shown<'a>>,
    overviews: Vec<Overview>,
    /// Heads of the columns of the table of all joints, each with the class of its cells.
    heads: [(&'static str, &'static str); 8],
    rows: Vec<Row<'a>>,
    cards: Vec<Card<'a>>,
    written: String,
    written_iso: String,
    version: &'static str,
}

/// A picture of so many joints.
struct Overview {
    /// Which part of the joints, where there are several pictures.
    part: String,
    svg: Safe,
}

/// A joint in the table of all.
struct Row<'a> {
    name: &'a str,
    /// Whether its name or its output is so long that it may have to be broken anywhere.
    is_long: bool,
    /// What stands under the other heads.
    cells: [String; 7],
}

/// Letters of a name that is never broken.
const UNBROKEN: usize = 20;
const HEADS: [(&str, &str); 8] = [
    ("joint", ""),
    ("output", ""),
    ("command", ""),
    ("travel, deg", "n"),
    ("rest", "n"),
    ("lower end", ""),
    ("upper end", ""),
    ("open", ""),
];

pub(super) fn page(
    path: &Path,
    robot: &Robot,
    sources: &Sources,
    found: &CheckReport,
    day: Option<Date>,
) -> Result<String, Problem> {
    let told = Progress::of(robot.joints().len(), MANY_JOINTS, "drawing", "joints");
    let mut cards = Vec::with_capacity(robot.joints().len());
    for (index, entry) in robot.joints().iter().enumerate() {
        if index % MANY_JOINTS == 0 {
            told.say(&format!("drawing joint {} of {}", index + 1, robot.joints().len()));
        }
        cards.push(card::card(path, index, entry, sources, found)?);
    }
    drop(told);
    let (written, written_iso) = written();
    let page = Page {
        name: robot.name().unwrap_or("robot"),
        file: path.display().to_string(),
        hash: sha256(robot.to_toml().as_bytes()),
        day: day.map(|day| day.to_string()),
        joints: counted(robot.joints().len(), "joint"),
        style: Safe(format!("{}{STYLE}", style_sheet())),
        patterns: Safe(patterns()),
        verdict: verdict(found),
        counts: counts(found),
        whole: found
            .findings
            .iter()
            .filter(|finding| finding.joint.is_none())
            .map(Shown::of)
            .collect(),
        waivers: found
            .waived
            .iter()
            .filter(|waived| waived.finding.joint.is_none())
            .map(Shown::waived)
            .collect(),
        overviews: overviews(robot),
        heads: HEADS,
        rows: robot.joints().iter().map(|entry| row(entry, found)).collect(),
        cards,
        written,
        written_iso,
        version: env!("CARGO_PKG_VERSION"),
    };
    page.render()
        .map_err(|error| Problem::new(Code::Other, error.to_string()))
}

fn overviews(robot: &Robot) -> Vec<Overview> {
    let all: Vec<&JointEntry> = robot.joints().iter().collect();
    let parts = all.len().div_ceil(OVERVIEW_JOINTS);
    let chunks = all.chunks(OVERVIEW_JOINTS).enumerate();
    chunks
        .map(|(index, entries)| Overview {
            part: if parts > 1 {
                format!(", part {}", index + 1)
            } else {
                String::new()
            },
            svg: Safe(picture::overview(entries, Frame::Within(&format!("overview-{index}")))),
        })
        .collect()
}

fn count(found: &CheckReport, severity: Severity) -> usize {
    let findings = found.findings.iter();
    findings.filter(|finding| finding.severity == severity).count()
}

fn verdict(found: &CheckReport) -> &'static str {
    match (count(found, Severity::Error), count(found, Severity::Warning)) {
        (0, 0) => "Ready for software: no error and no warning is open.",
        (0, _) => "Resolve the warnings before the robot runs under software.",
        _ => "Not ready to run under software until the errors are corrected.",
    }
}

fn counted(n: usize, one: &str) -> String {
    format!("{n} {one}{}", if n == 1 { "" } else { "s" })
}

fn counts(found: &CheckReport) -> String {
    format!(
        "{}, {}, {}, {} waived",
        counted(count(found, Severity::Error), "error"),
        counted(count(found, Severity::Warning), "warning"),
        counted(count(found, Severity::Note), "note"),
        found.waived.len()
    )
}

fn row<'a>(entry: &'a JointEntry, found: &CheckReport) -> Row<'a> {
    let joint = entry.joint();
    let proven = |end| Option::map_or(end, "unproven".to_owned(), |end| picture::proven(&end));
    let output = card::output(entry);
    let open = card::open(found, entry);
    let worst = open.iter().map(|finding| finding.severity).max();
    Row {
        name: entry.name(),
        is_long: [entry.name(), &output]
            .iter()
            .any(|text| text.chars().count() > UNBROKEN),
        cells: [
            output,
            format!("{} {}", range(joint.command_range().ends()), entry.unit().unwrap_or("")),
            range(joint.travel().ends()),
            of_span(joint.rest(), joint.command_range().width(), 3),
            proven(entry.evidence().lower),
            proven(entry.evidence().upper),
            worst.map_or("none".to_owned(), |worst| {
                format!("{}, worst: {}", open.len(), worst.as_str())
            }),
        ],
    }
}

/// When the page is written, in words and for machines: now, or what SOURCE_DATE_EPOCH says, so that a page can be made again.
fn written() -> (String, String) {
    let given = std::env::var("SOURCE_DATE_EPOCH")
        .ok()
        .and_then(|text| text.parse().ok());
    let now = || {
        SystemTime::now()
            .duration_since(UNIX_EPOCH)
            .map_or(0, |since| since.as_secs())
    };
    let seconds: u64 = given.unwrap_or_else(now);
    let days = i64::try_from(seconds / SECONDS_PER_DAY).unwrap_or(0);
    let date = Date::new(1970, 1, 1).and_then(|start| start.after(days));
    let date = date.map_or(String::new(), |date| date.to_string());
    let of_day = seconds % SECONDS_PER_DAY;
    let clock = format!("{:02}:{:02}", of_day / 3600, of_day % 3600 / 60);
    (format!("{date} {clock} UTC"), format!("{date}T{clock}Z"))
}
