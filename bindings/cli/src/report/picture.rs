//! The picture of a joint as its robot file describes it: what the servo can do, what is mapped, what may be used.

use crate::paint::number;
use crate::svg::{Scale, Svg};
use elbowroom::robot::{EndEvidence, EvidenceKind, JointEntry};

const WIDTH: f64 = 700.0;
const HEIGHT: f64 = 150.0;
const LEFT: f64 = 20.0;
const RIGHT: f64 = 680.0;
/// The bar of the travel.
const TOP: f64 = 50.0;
const BOTTOM: f64 = 82.0;

pub(crate) fn draw(entry: &JointEntry, id: &str) -> String {
    let joint = entry.joint();
    let servo = joint.servo();
    let x = Scale::new(
        (servo.angle_range().lower(), servo.angle_range().upper()),
        (LEFT, RIGHT),
    );
    let mut svg = Svg::new(WIDTH, HEIGHT);
    let (travel, drive) = (joint.travel(), joint.drive_range());
    let evidence = entry.evidence();
    for (end, limit) in [(evidence.lower, travel.lower()), (evidence.upper, travel.upper())] {
        if let Some(end) = end.filter(|end| matches!(end.kind, EvidenceKind::Contact | EvidenceKind::Stalled)) {
            svg.rect("guard", (x.at(end.at), TOP), (x.at(limit), BOTTOM));
        }
    }
    svg.rect(
        "range",
        (x.at(drive.lower()), TOP - 5.0),
        (x.at(drive.upper()), BOTTOM + 5.0),
    );
    svg.rect("travel", (x.at(travel.lower()), TOP), (x.at(travel.upper()), BOTTOM));
    for (end, outward) in [(evidence.lower, "end"), (evidence.upper, "start")] {
        if let Some(end) = end {
            proof(&mut svg, &x, end, outward);
        }
    }
    if let Ok(rest) = joint.drive(joint.rest()) {
        let at = x.at(rest.value);
        svg.polygon(
            "rest",
            &[(at, BOTTOM), (at - 6.0, BOTTOM + 11.0), (at + 6.0, BOTTOM + 11.0)],
        );
        svg.text(
            "small",
            "middle",
            (at, TOP + 21.0),
            &format!("rest {}", number(joint.rest(), 3)),
        );
    }
    axis(&mut svg, &x, |angle| servo.pulse_us(angle));
    svg.finish(id, &format!("Ranges of {}", entry.name()), &description(entry))
}

fn proof(svg: &mut Svg, x: &Scale, end: EndEvidence, outward: &str) {
    let at = x.at(end.at);
    let away = if outward == "end" { -5.0 } else { 5.0 };
    match end.kind {
        EvidenceKind::Contact => {
            if let Some(u) = end.u {
                svg.rect(
                    "known",
                    (x.at(end.at - 2.0 * u), TOP - 12.0),
                    (x.at(end.at + 2.0 * u), BOTTOM + 12.0),
                );
            }
            svg.line("stop", (at, TOP - 12.0), (at, BOTTOM + 12.0));
        }
        EvidenceKind::Stalled | EvidenceKind::Clear | EvidenceKind::Declared => {
            if let Some(short_at) = end.short_at {
                let (low, high) = (end.at.min(short_at), end.at.max(short_at));
                svg.rect("held", (x.at(low), TOP - 12.0), (x.at(high), BOTTOM + 12.0));
            }
            svg.line("axis", (at, TOP - 12.0), (at, BOTTOM + 12.0));
            svg.circle("reading", (at, TOP - 12.0), 3.5);
        }
    }
    // Near the edge the words stand on the other side, to stay on the paper.
    let (anchor, shift) = match outward {
        "end" if at < 150.0 => ("start", -away),
        "start" if at > WIDTH - 150.0 => ("end", -away),
        anchor => (anchor, away),
    };
    let text = format!("{} {}", end.kind.as_str(), where_found(&end));
    svg.text("small", anchor, (at + shift, TOP - 18.0), &text);
}

/// The drive angle of an end; where the joint stalled, those between which something holds it.
fn where_found(end: &EndEvidence) -> String {
    end.short_at.map_or(number(end.at, 2), |short_at| {
        format!(
            "{} to {}",
            number(end.at.min(short_at), 2),
            number(end.at.max(short_at), 2)
        )
    })
}

fn axis(svg: &mut Svg, x: &Scale, pulse_us: impl Fn(f64) -> f64) {
    let y = BOTTOM + 22.0;
    svg.line("axis", (LEFT, y), (RIGHT, y));
    let (ticks, decimals) = x.ticks(7.0);
    for tick in ticks {
        let at = x.at(tick);
        svg.line("axis", (at, y), (at, y + 5.0));
        svg.text("small", "middle", (at, y + 17.0), &format!("{tick:.decimals$}\u{b0}"));
        svg.text(
            "small",
            "middle",
            (at, y + 31.0),
            &format!("{} \u{b5}s", number(pulse_us(tick), 0)),
        );
    }
}

/// The same in words.
fn description(entry: &JointEntry) -> String {
    let joint = entry.joint();
    let (servo, drive, travel) = (joint.servo().angle_range(), joint.drive_range(), joint.travel());
    let end = |word: &str, end: Option<EndEvidence>| {
        end.map_or(format!("The {word} end is unproven."), |end| {
            format!("{word} end: {} at {} deg.", end.kind.as_str(), where_found(&end))
        })
    };
    format!(
        "The servo turns {} to {} deg; commands are mapped to {} to {} deg; the travel is {} to {} deg. {} {}",
        number(servo.lower(), 2),
        number(servo.upper(), 2),
        number(drive.lower(), 2),
        number(drive.upper(), 2),
        number(travel.lower(), 2),
        number(travel.upper(), 2),
        end("Lower", entry.evidence().lower),
        end("Upper", entry.evidence().upper)
    )
}
