//! The overview of a robot in one picture: for each joint what the servo can do, what is mapped, what may be used, and what proves it.

use crate::paint::number;
use crate::show::place;
use crate::svg::{Frame, Legend, Scale, Svg, shortened, text_width};
use elbowroom::look::{self, Rounded};
use elbowroom::robot::{EndEvidence, EvidenceKind, JointEntry};

const WIDTH: f64 = 760.0;
/// Room for the names of the joints, at least and at most.
const NAMES: (f64, f64) = (60.0, 190.0);
const RIGHT: f64 = 744.0;
/// Room above the first joint.
const TOP: f64 = 14.0;
/// Height of a joint.
const ROW: f64 = 30.0;
/// Half the height of the bar of a travel.
const HALF: f64 = 8.0;

/// All joints on one axis of drive angles.
pub(crate) fn overview(entries: &[&JointEntry], frame: Frame<'_>) -> String {
    let ends = entries.iter().flat_map(|entry| {
        let (servo, drive) = (entry.joint().servo().angle_range(), entry.joint().drive_range());
        servo.ends().into_iter().chain(drive.ends())
    });
    let names = entries.iter().map(|entry| text_width(entry.name()));
    let left = 20.0 + names.fold(NAMES.0, f64::max).min(NAMES.1);
    let x = Scale::around(ends, 0.01, (left, RIGHT));
    let bottom = TOP + ROW * entries.len() as f64 + 6.0;
    let mut svg = Svg::new(WIDTH, bottom + 50.0);
    for (tick, text) in x.marks_along(8.0) {
        svg.line("grid", (x.at(tick), TOP), (x.at(tick), bottom));
        svg.text("small", "middle", (x.at(tick), bottom + 18.0), &text);
    }
    for (index, entry) in entries.iter().enumerate() {
        row(&mut svg, (left, &x), entry, TOP + ROW * (index as f64 + 0.5));
    }
    svg.line("axis", (left, bottom), (RIGHT, bottom));
    svg.text(
        "",
        "middle",
        (0.5 * (left + RIGHT), bottom + 40.0),
        look::DRIVE_ANGLE.text,
    );
    legend(&mut svg, entries, bottom + 70.0);
    let words: Vec<String> = entries.iter().map(|entry| words(entry)).collect();
    svg.finish(frame, "All joints", &words.join(" "))
}

fn row(svg: &mut Svg, (left, x): (f64, &Scale), entry: &JointEntry, y: f64) {
    let joint = entry.joint();
    let (servo, drive, travel) = (joint.servo().angle_range(), joint.drive_range(), joint.travel());
    let name = shortened(entry.name(), NAMES.1);
    svg.text("small", "end", (left - 8.0, y + 5.0), &name);
    svg.rect("servo", (x.at(servo.lower()), y - 3.0), (x.at(servo.upper()), y + 3.0));
    let evidence = entry.evidence();
    for (end, limit) in guards(entry) {
        svg.rect("guard", (x.at(end), y - HALF), (x.at(limit), y + HALF));
    }
    svg.rect(
        "range",
        (x.at(drive.lower()), y - HALF - 3.0),
        (x.at(drive.upper()), y + HALF + 3.0),
    );
    svg.rect(
        "travel",
        (x.at(travel.lower()), y - HALF),
        (x.at(travel.upper()), y + HALF),
    );
    for end in [evidence.lower, evidence.upper].into_iter().flatten() {
        proof(svg, x, end, y);
    }
    if let Ok(rest) = joint.drive(joint.rest()) {
        let at = x.at(rest.value);
        svg.point("rest", (at, y), 6.0);
    }
}

/// What is kept clear at either end: from where something holds the joint to the travel's end.
fn guards(entry: &JointEntry) -> impl Iterator<Item = (f64, f64)> {
    let (evidence, travel) = (entry.evidence(), entry.joint().travel());
    let ends = [(evidence.lower, travel.lower()), (evidence.upper, travel.upper())];
    ends.into_iter().filter_map(|(end, limit)| {
        let end = end?;
        let holds = matches!(end.kind, EvidenceKind::Contact | EvidenceKind::Stalled);
        (holds && end.at != limit).then_some((end.at, limit))
    })
}

fn proof(svg: &mut Svg, x: &Scale, end: EndEvidence, y: f64) {
    let (at, reach) = (x.at(end.at), HALF + 4.0);
    match end.kind {
        EvidenceKind::Contact => {
            if let Some(u) = end.u {
                svg.rect(
                    "known",
                    (x.at(end.at - 2.0 * u), y - reach),
                    (x.at(end.at + 2.0 * u), y + reach),
                );
            }
            svg.line("stop", (at, y - reach), (at, y + reach));
        }
        EvidenceKind::Stalled => {
            if let Some(short_at) = end.short_at {
                svg.rect("held", (at, y - reach), (x.at(short_at), y + reach));
            }
        }
        EvidenceKind::Clear => svg.point("ring", (at, y), 4.5),
        EvidenceKind::Declared => svg.line("clear", (at, y - reach), (at, y + reach)),
    }
}

fn legend(svg: &mut Svg, entries: &[&JointEntry], first: f64) {
    let ends = || {
        let both = |entry: &&JointEntry| [entry.evidence().lower, entry.evidence().upper];
        entries.iter().flat_map(both).flatten()
    };
    let has = |kind| ends().any(|end| end.kind == kind);
    let mut legend = Legend::new(20.0, RIGHT, first);
    legend.area(svg, look::SERVO_ANGLE.text, "servo");
    legend.area(svg, look::DRIVE_RANGE.text, "range");
    legend.area(svg, look::TRAVEL_BAR.text, "travel");
    legend.item(svg, look::REST.text, |svg, at| svg.point("rest", at, 6.0));
    if has(EvidenceKind::Contact) {
        legend.item(svg, look::STOP_FOUND.text, |svg, (x, y)| {
            svg.rect("known", (x - 7.0, y - 8.0), (x + 7.0, y + 8.0));
            svg.line("stop", (x, y - 8.0), (x, y + 8.0));
        });
    }
    if entries.iter().any(|entry| guards(entry).next().is_some()) {
        legend.area(svg, look::KEPT_CLEAR.text, "guard");
    }
    if has(EvidenceKind::Clear) {
        legend.item(svg, look::CLEAR_HERE.text, |svg, at| svg.point("ring", at, 4.5));
    }
    if has(EvidenceKind::Declared) {
        legend.item(svg, look::DECLARED.text, |svg, (x, y)| {
            svg.line("clear", (x, y - 8.0), (x, y + 8.0))
        });
    }
    if has(EvidenceKind::Stalled) {
        legend.area(svg, look::STALLED.text, "held");
    }
}

/// The same in words.
fn words(entry: &JointEntry) -> String {
    let travel = entry.joint().travel();
    let end = |end: Option<EndEvidence>| end.map_or("unproven".to_owned(), |end| proven(&end));
    format!(
        "{}: travel {} to {} deg, lower end {}, upper end {}.",
        entry.name(),
        number(travel.lower(), 2),
        number(travel.upper(), 2),
        end(entry.evidence().lower),
        end(entry.evidence().upper)
    )
}

/// What proves an end: `stop found at 37.9 deg`, `no stop found, clear to 126.8 deg`.
pub(crate) fn proven(end: &EndEvidence) -> String {
    match end.kind {
        EvidenceKind::Contact => format!("stop found {}", place(end)),
        EvidenceKind::Stalled => format!("stalled {}", place(end)),
        EvidenceKind::Clear => format!(
            "no stop found, clear to {} deg",
            Rounded {
                value: end.at,
                u: end.u
            }
        ),
        EvidenceKind::Declared => format!("declared {}", place(end)),
    }
}
