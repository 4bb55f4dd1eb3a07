//! The report's page: plain HTML that reads on a screen, on paper and aloud, and loads nothing from outside.

use super::picture;
use crate::chain;
use crate::paint::number;
use crate::problem::Problem;
use crate::progress::Progress;
use crate::show::{conversions, place};
use crate::svg::escape;
use elbowroom::robot::{CheckReport, Date, EndEvidence, Finding, JointEntry, Robot, Severity};
use std::fmt::Write as _;
use std::path::Path;

/// From here on a report takes long enough to be announced; also how often it says how far it is.
const MANY_JOINTS: usize = 200;
/// By this an earlier report is known and may be replaced.
pub(super) const MARK: &str = "<meta name=\"generator\" content=\"elbowroom report\">";

const STYLE: &str = "\
:root{--ink:#22282b;--paper:#fbf9f3;--rule:#c9c2b0;--slate:#2f5d62;--brick:#8c2f1b;--ochre:#7a5200}
*{box-sizing:border-box}
body{margin:0 auto;max-width:60rem;padding:1.5rem;background:var(--paper);color:var(--ink);\
font:16px/1.5 Georgia,'Times New Roman',serif}
h1{font-size:2rem;margin:.2rem 0;border-bottom:4px double var(--slate)}
h2{font-size:1.35rem;margin:2.2rem 0 .5rem}h3{font-size:1.05rem;margin:0 0 .4rem}
a{color:var(--slate)}a:focus{outline:3px solid var(--ochre);outline-offset:2px}
table{border-collapse:collapse;margin:.5rem 0;font-size:.95rem}
caption{text-align:left;font-style:italic;padding-bottom:.25rem}
th,td{text-align:left;padding:.2rem .8rem .2rem 0;border-bottom:1px solid var(--rule);vertical-align:top}
td.n,th.n{text-align:right;font-variant-numeric:tabular-nums}
.wide{overflow-x:auto}
article{border:1px solid var(--rule);border-left:6px solid var(--slate);padding:1rem 1.2rem;margin:1.2rem 0;background:#fff}
article.open{border-left-color:var(--brick)}
svg{max-width:100%;height:auto}
ul.findings{list-style:none;padding:0}ul.findings li{margin:.4rem 0;padding-left:.8rem;border-left:3px solid var(--rule)}
.error,.warning,.note,.waived{font-weight:bold;font-variant:small-caps}
.error{color:var(--brick)}.warning{color:var(--ochre)}.note,.waived{color:var(--slate)}
.cautions{border:2px solid var(--brick);padding:.4rem 1.2rem}
.skip{position:absolute;left:-999px}.skip:focus{position:static}
@media print{body{max-width:none;background:#fff;font-size:11pt}article{break-inside:avoid}a{color:inherit;text-decoration:none}}";

const CAUTIONS: &str = "<section class=\"cautions\" aria-labelledby=\"cautions\"><h2 id=\"cautions\">Cautions</h2><ul>
<li>Take the load off the drive before a polarity test, and keep a hand on the power switch.</li>
<li>Make the first move after any change slow.</li>
<li>Never search a stop under a person's hand.</li>
<li>These limits are held by software. They are not a safety function in the sense of ISO 13849 or IEC 61508; local codes and \
licensed practice come first.</li></ul></section>\n";

pub(super) fn page(path: &Path, robot: &Robot, found: &CheckReport, day: Option<Date>) -> Result<String, Problem> {
    let mut html = String::new();
    let name = escape(robot.name().unwrap_or("robot"));
    let file = escape(&path.display().to_string());
    let _ = write!(
        html,
        "<!DOCTYPE html>\n<html lang=\"en\">\n<head>\n<meta charset=\"utf-8\">\n\
         <meta name=\"viewport\" content=\"width=device-width, initial-scale=1\">\n{MARK}\n\
         <title>{name}: joints and limits</title>\n<link rel=\"icon\" href=\"data:,\">\n<style>{STYLE}</style>\n</head>\n<body>\n\
         <a class=\"skip\" href=\"#main\">Skip to the overview</a>\n<header><h1>{name}</h1>\n<p>{} of {file}",
        crate::paint::counted(robot.joints().len(), "joint")
    );
    if let Some(day) = day {
        let _ = write!(html, ", judged as of <time datetime=\"{day}\">{day}</time>");
    }
    html.push_str(".</p></header>\n<main id=\"main\">\n");
    summary(&mut html, found);
    overview(&mut html, robot, found);
    html.push_str(
        "<section aria-labelledby=\"joints\"><h2 id=\"joints\">Joints</h2>\n<p>In each picture the line is the servo's whole \
         range, in drive angle and pulse width; the dashed frame is what commands are mapped to, the filled bar is the \
         travel, the small triangle the rest. A heavy line is a stop that was met, with its interval; hatching is what is kept \
         clear of it. A thin line with a ring is as far as was seen clear or declared; hatching the other way beyond it is where \
         the joint stalled: something holds it there, its place unknown.</p>\n",
    );
    let told = Progress::of(robot.joints().len(), MANY_JOINTS, "drawing", "joints");
    for (index, entry) in robot.joints().iter().enumerate() {
        if index % MANY_JOINTS == 0 {
            told.say(&format!("drawing joint {} of {}", index + 1, robot.joints().len()));
        }
        card(&mut html, index, entry, found)?;
    }
    drop(told);
    html.push_str("</section>\n");
    html.push_str(CAUTIONS);
    let _ = write!(
        html,
        "</main>\n<footer><p>Written by elbowroom {}.</p></footer>\n</body>\n</html>\n",
        env!("CARGO_PKG_VERSION")
    );
    Ok(html)
}

fn count(found: &CheckReport, severity: Severity) -> usize {
    found
        .findings
        .iter()
        .filter(|finding| finding.severity == severity)
        .count()
}

fn summary(html: &mut String, found: &CheckReport) {
    let counted = |n: usize, one: &str| format!("{n} {one}{}", if n == 1 { "" } else { "s" });
    let [errors, warnings, notes] =
        [Severity::Error, Severity::Warning, Severity::Note].map(|severity| count(found, severity));
    let verdict = match (errors, warnings) {
        (0, 0) => "No open errors or warnings.",
        (0, _) => "Resolve the warnings before the robot runs under software.",
        _ => "Do not run this robot under software until the errors are corrected.",
    };
    let _ = writeln!(
        html,
        "<section aria-labelledby=\"summary\"><h2 id=\"summary\">Summary</h2>\n<p><strong>{verdict}</strong> {}, {}, {}, {} \
         waived.</p>",
        counted(errors, "error"),
        counted(warnings, "warning"),
        counted(notes, "note"),
        found.waived.len()
    );
    let whole: Vec<&Finding> = found
        .findings
        .iter()
        .filter(|finding| finding.joint.is_none())
        .collect();
    if !whole.is_empty() {
        html.push_str("<ul class=\"findings\">\n");
        whole.into_iter().for_each(|finding| item(html, finding));
        html.push_str("</ul>\n");
    }
    html.push_str("</section>\n");
}

fn item(html: &mut String, finding: &Finding) {
    let word = finding.severity.as_str();
    let _ = writeln!(
        html,
        "<li><span class=\"{word}\">{word}</span> {}: {}. <em>{}.</em></li>",
        finding.rule.name(),
        escape(&finding.message),
        escape(&finding.hint)
    );
}

fn of<'a>(found: &'a CheckReport, entry: &'a JointEntry) -> impl Iterator<Item = &'a Finding> {
    found
        .findings
        .iter()
        .filter(|finding| finding.joint.as_deref() == Some(entry.name()))
}

fn range(lower: f64, upper: f64) -> String {
    format!("{} to {}", number(lower, 2), number(upper, 2))
}

fn overview(html: &mut String, robot: &Robot, found: &CheckReport) {
    html.push_str(
        "<section aria-labelledby=\"overview\"><h2 id=\"overview\">Overview</h2>\n<div class=\"wide\" tabindex=\"0\" \
         role=\"region\" aria-label=\"Table of all joints\"><table><caption>All joints, in the order of the file</caption>\n\
         <thead><tr><th scope=\"col\">joint</th><th scope=\"col\">output</th><th scope=\"col\">command</th>\
         <th scope=\"col\">travel, deg</th><th scope=\"col\" class=\"n\">rest</th><th scope=\"col\">ends</th>\
         <th scope=\"col\">open</th></tr></thead>\n<tbody>\n",
    );
    for (index, entry) in robot.joints().iter().enumerate() {
        let joint = entry.joint();
        let kind = |end: Option<EndEvidence>| end.map_or("unproven", |end| end.kind.as_str());
        let worst = of(found, entry).map(|finding| finding.severity).max();
        let open = worst.map_or("none".to_owned(), |worst| {
            let word = worst.as_str();
            format!(
                "{}, worst: <span class=\"{word}\">{word}</span>",
                of(found, entry).count()
            )
        });
        let _ = writeln!(
            html,
            "<tr><th scope=\"row\"><a href=\"#joint-{index}\">{}</a></th><td>{}</td><td>{} {}</td><td>{}</td>\
             <td class=\"n\">{}</td><td>{}, {}</td><td>{open}</td></tr>",
            escape(entry.name()),
            output(entry),
            range(joint.command_range().lower(), joint.command_range().upper()),
            escape(entry.unit().unwrap_or("")),
            range(joint.travel().lower(), joint.travel().upper()),
            number(joint.rest(), 3),
            kind(entry.evidence().lower),
            kind(entry.evidence().upper)
        );
    }
    html.push_str("</tbody></table></div></section>\n");
}

fn output(entry: &JointEntry) -> String {
    match (entry.board(), entry.channel()) {
        (Some(board), Some(channel)) => format!("{} {channel}", escape(board)),
        _ => "not written down".to_owned(),
    }
}

fn card(html: &mut String, index: usize, entry: &JointEntry, found: &CheckReport) -> Result<(), Problem> {
    let mut findings: Vec<&Finding> = of(found, entry).collect();
    findings.sort_by_key(|finding| core::cmp::Reverse(finding.severity));
    let class = if findings.is_empty() { "" } else { " class=\"open\"" };
    let _ = writeln!(
        html,
        "<article{class} aria-labelledby=\"joint-{index}\"><h3 id=\"joint-{index}\">{}</h3>",
        escape(entry.name())
    );
    html.push_str(&picture::draw(entry, &format!("picture-{index}")));
    if chain::worth_drawing(entry.joint()) {
        html.push_str(&chain::draw(entry, &format!("chain-{index}")));
    }
    if findings.is_empty() {
        html.push_str("<p>No open findings.</p>\n");
    } else {
        html.push_str("<ul class=\"findings\">\n");
        findings.into_iter().for_each(|finding| item(html, finding));
        html.push_str("</ul>\n");
    }
    let waived: Vec<_> = found
        .waived
        .iter()
        .filter(|waived| waived.finding.joint.as_deref() == Some(entry.name()))
        .collect();
    if !waived.is_empty() {
        html.push_str("<ul class=\"findings\">\n");
        for waived in waived {
            let _ = writeln!(
                html,
                "<li><span class=\"waived\">waived</span> {}: {}. Reason: {}.</li>",
                waived.finding.rule.name(),
                escape(&waived.finding.message),
                escape(&waived.reason)
            );
        }
        html.push_str("</ul>\n");
    }
    facts(html, entry);
    converted(html, entry)?;
    html.push_str("</article>\n");
    Ok(())
}

/// A table of what is written down, with its evidence.
fn facts(html: &mut String, entry: &JointEntry) {
    let joint = entry.joint();
    let evidence = entry.evidence();
    let unit = escape(entry.unit().unwrap_or(""));
    let end = |end: Option<EndEvidence>| {
        end.map_or("unproven".to_owned(), |end| {
            let u = end
                .u
                .map_or(String::new(), |u| format!(", standard uncertainty {}", number(u, 3)));
            let guard = end
                .guard
                .map_or(String::new(), |guard| format!(", guard margin {}", number(guard, 3)));
            let place = place(&end);
            format!("{} {place}{u}{guard}", end.kind.as_str())
        })
    };
    let _ = writeln!(
        html,
        "<table><caption>Values and evidence of {}</caption><tbody>",
        escape(entry.name())
    );
    let mut row = |label: &str, value: String| {
        let _ = writeln!(html, "<tr><th scope=\"row\">{label}</th><td>{value}</td></tr>");
    };
    row("output", output(entry));
    if let Some(mirror) = entry.mirror_of() {
        row("mirrors", escape(mirror));
    }
    let drive = joint.drive_range();
    let inverted = if joint.direction().is_inverted() {
        ", inverted"
    } else {
        ""
    };
    row(
        "transmission",
        format!(
            "{}, drive {} deg{inverted}",
            joint.transmission().kind(),
            range(drive.lower(), drive.upper())
        ),
    );
    row(
        "rate",
        joint
            .max_rate_per_s()
            .map_or("not given: the servo's full speed".to_owned(), |rate| {
                format!("{} {unit} per second", number(rate, 3))
            }),
    );
    row("lower end", end(evidence.lower));
    row("upper end", end(evidence.upper));
    row(
        "feedback sense",
        evidence.sense.map_or("not tested", |sense| sense.as_str()).to_owned(),
    );
    row(
        "lost motion",
        evidence.lost_motion.map_or("not known".to_owned(), |lost| {
            let u = lost
                .u
                .map_or(String::new(), |u| format!(", standard uncertainty {}", number(u, 3)));
            format!("{} deg of drive{u}", number(lost.value, 3))
        }),
    );
    let date = evidence.date.map_or("no date".to_owned(), |date| date.to_string());
    let readings = evidence.readings.map_or(String::new(), |n| format!(", {n} readings"));
    row("evidence of", format!("{date}{readings}"));
    html.push_str("</tbody></table>\n");
}

fn converted(html: &mut String, entry: &JointEntry) -> Result<(), Problem> {
    let _ = writeln!(
        html,
        "<div class=\"wide\" tabindex=\"0\" role=\"region\" aria-label=\"What commands become, {0}\">\
         <table><caption>What commands become, {0}</caption><thead><tr><th scope=\"col\">command</th>\
         <th scope=\"col\" class=\"n\">value</th><th scope=\"col\" class=\"n\">drive, deg</th>\
         <th scope=\"col\" class=\"n\">pulse, \u{b5}s</th><th scope=\"col\" class=\"n\">counts</th>\
         <th scope=\"col\">held back</th></tr></thead><tbody>",
        escape(entry.name())
    );
    for (label, row) in ["lower", "rest", "upper"].into_iter().zip(conversions(entry)?) {
        let clamped = if row.clamped().is_empty() { "no" } else { row.clamped() };
        let _ = writeln!(
            html,
            "<tr><th scope=\"row\">{label}</th><td class=\"n\">{}</td><td class=\"n\">{}</td><td class=\"n\">{}</td>\
             <td class=\"n\">{}</td><td>{clamped}</td></tr>",
            number(row.command, 4),
            number(row.drive, 3),
            number(row.pulse_us, 3),
            row.counts
        );
    }
    html.push_str("</tbody></table></div>\n");
    Ok(())
}
