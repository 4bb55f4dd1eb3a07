//! What the report says of one joint.

use super::picture;
use crate::chain;
use crate::degrees::written_under;
use crate::fit::TravelSum;
use crate::paint::{number, of_span, range};
use crate::plot;
use crate::problem::Problem;
use crate::readings::{Behind, Refitted, behind, compared_with_earlier, folder_of};
use crate::show::{assumed, conversions, state_of, taken, uncertainty};
use crate::svg::Frame;
use crate::trend;
use elbowroom::fit::{Approach, EndKind};
use elbowroom::look::{Rounded, Statistic};
use elbowroom::robot::{CheckReport, EndEvidence, Finding, JointEntry, Sources, Waived};
use std::path::Path;

/// Markup that is made by this program and escaped where it holds texts of a file.
pub(super) struct Safe(pub(super) String);

impl std::fmt::Display for Safe {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.write_str(&self.0)
    }
}

impl askama::filters::HtmlSafe for Safe {}

/// A finding as it is shown.
pub(super) struct Shown<'a> {
    pub(super) severity: &'static str,
    pub(super) rule: &'static str,
    pub(super) joint: Option<&'a str>,
    pub(super) message: &'a str,
    pub(super) hint: String,
    pub(super) reason: &'a str,
}

impl<'a> Shown<'a> {
    pub(super) fn of(finding: &'a Finding) -> Self {
        Self {
            severity: finding.severity.as_str(),
            rule: finding.rule.name(),
            joint: finding.joint.as_deref(),
            message: &finding.message,
            hint: sentence(&finding.hint),
            reason: "",
        }
    }

    pub(super) fn waived(waived: &'a Waived) -> Self {
        Self {
            reason: waived.reason.trim_end_matches('.'),
            ..Self::of(&waived.finding)
        }
    }
}

/// The same text, begun with a capital letter.
fn sentence(text: &str) -> String {
    let mut letters = text.chars();
    letters
        .next()
        .map_or(String::new(), |first| first.to_uppercase().chain(letters).collect())
}

/// A picture with its name.
pub(super) struct Picture {
    pub(super) label: &'static str,
    pub(super) svg: Safe,
}

/// A table of names and values.
pub(super) struct Facts {
    pub(super) caption: &'static str,
    pub(super) rows: Vec<(&'static str, String)>,
}

/// What one command becomes.
pub(super) struct Conversion {
    pub(super) label: &'static str,
    pub(super) command: String,
    pub(super) drive: String,
    pub(super) pulse_us: String,
    pub(super) counts: u32,
    pub(super) clamped: String,
}

/// One joint.
pub(super) struct Card<'a> {
    pub(super) name: &'a str,
    /// The unit of its commands, to stand behind a word; nothing where it has none.
    pub(super) unit: String,
    pub(super) findings: Vec<Shown<'a>>,
    pub(super) waived: Vec<Shown<'a>>,
    pub(super) pictures: Vec<Picture>,
    pub(super) converted: Vec<Conversion>,
    pub(super) facts: Vec<Facts>,
    /// What, by how much since the previous calibration, and how it goes year by year.
    pub(super) changes: Vec<(&'static str, String, String)>,
    /// What the readings of the last earlier calibration and those of now come to, compared.
    pub(super) diagnoses: Vec<String>,
}

/// The open findings of a joint, the worst first.
pub(super) fn open<'a>(found: &'a CheckReport, entry: &JointEntry) -> Vec<&'a Finding> {
    let of_joint = |finding: &&Finding| finding.joint.as_deref() == Some(entry.name());
    let mut open: Vec<&Finding> = found.findings.iter().filter(of_joint).collect();
    open.sort_by_key(|finding| core::cmp::Reverse(finding.severity));
    open
}

pub(super) fn output(entry: &JointEntry) -> String {
    match (entry.board(), entry.channel()) {
        (Some(board), Some(channel)) => format!("{} {channel}", isolated(board)),
        _ => "not given".to_owned(),
    }
}

/// A text of the file to stand in a line of ours: written from right to left, it turns nothing round it (Unicode, UAX #9, FSI and PDI).
fn isolated(text: &str) -> String {
    if text.is_ascii() {
        text.to_owned()
    } else {
        format!("\u{2068}{text}\u{2069}")
    }
}

pub(super) fn card<'a>(
    path: &Path,
    index: usize,
    entry: &'a JointEntry,
    sources: &Sources,
    found: &'a CheckReport,
) -> Result<Card<'a>, Problem> {
    let behind = behind(folder_of(path), sources, entry);
    let waived = found.waived.iter();
    Ok(Card {
        name: entry.name(),
        unit: entry.unit().map_or(String::new(), |unit| format!(", {unit}")),
        findings: open(found, entry).into_iter().map(Shown::of).collect(),
        waived: waived
            .filter(|waived| waived.finding.joint.as_deref() == Some(entry.name()))
            .map(Shown::waived)
            .collect(),
        pictures: pictures(index, entry, &behind),
        converted: converted(entry)?,
        facts: vec![
            Facts {
                caption: "Limits",
                rows: limits(entry, behind.refitted()),
            },
            Facts {
                caption: "Readings",
                rows: readings(entry, sources, &behind),
            },
            Facts {
                caption: "Joint",
                rows: joint(entry),
            },
        ],
        changes: trend::changes(entry),
        diagnoses: diagnoses(path, entry, sources, &behind),
    })
}

fn diagnoses(path: &Path, entry: &JointEntry, sources: &Sources, behind: &Behind) -> Vec<String> {
    let Some((date, found)) = compared_with_earlier(folder_of(path), sources, entry, behind) else {
        return Vec::new();
    };
    let since = date.map_or("the previous calibration".to_owned(), |date| date.to_string());
    let told = found.diagnoses.iter();
    told.map(|diagnosis| {
        let words = diagnosis.to_string();
        format!("Readings of {since} and of the present calibration, both fitted again: {words}")
    })
    .collect()
}

fn pictures(index: usize, entry: &JointEntry, behind: &Behind) -> Vec<Picture> {
    let mut all = Vec::new();
    let refitted = behind.refitted();
    if let Some(refitted) = refitted {
        let id = format!("readings-{index}");
        let drawn = plot::of_refitted(entry.name(), refitted).draw_in(Frame::Within(&id));
        all.push(Picture {
            label: "Readings and limits",
            svg: Safe(drawn),
        });
    }
    if chain::worth_drawing(entry.joint()) {
        let id = format!("chain-{index}");
        all.push(Picture {
            label: "From command to drive angle",
            svg: Safe(chain::draw_in(entry, Frame::Within(&id), refitted)),
        });
    }
    if trend::calibrations(entry).len() > 1 {
        let id = format!("trend-{index}");
        all.push(Picture {
            label: "Calibrations",
            svg: Safe(trend::draw_in(entry, Frame::Within(&id))),
        });
    }
    all
}

fn converted(entry: &JointEntry) -> Result<Vec<Conversion>, Problem> {
    let rows = ["lower", "rest", "upper"].into_iter().zip(conversions(entry)?);
    let width = entry.joint().command_range().width();
    let shown = |(label, row): (&'static str, crate::convert::Converted)| Conversion {
        label,
        command: of_span(row.command, width, 4),
        drive: number(row.drive, 3),
        pulse_us: number(row.pulse_us, 3),
        counts: row.counts,
        // The column's head says that it is about clamping.
        clamped: match row.clamped().trim_start_matches("clamped ") {
            "" => "no".to_owned(),
            to => to.to_owned(),
        },
    };
    Ok(rows.map(shown).collect())
}

/// By less, deg, the travel of a file differs from that of its readings by rounding alone.
const TRAVEL_STEP: f64 = 0.02;

/// The ends, what proves them, and how the travel follows.
fn limits(entry: &JointEntry, refitted: Option<&Refitted>) -> Vec<(&'static str, String)> {
    let (evidence, travel) = (entry.evidence(), entry.joint().travel());
    let mut rows = Vec::new();
    for (is_upper, [label, interval, sum], end, limit) in [
        (
            false,
            ["lower end", "its interval", "lower limit"],
            evidence.lower,
            travel.lower(),
        ),
        (
            true,
            ["upper end", "its interval", "upper limit"],
            evidence.upper,
            travel.upper(),
        ),
    ] {
        rows.push((label, end.map_or("unproven".to_owned(), |end| proof(&end))));
        let fitted = refitted.map(|refitted| {
            if is_upper {
                &refitted.fit.upper
            } else {
                &refitted.fit.lower
            }
        });
        if let (Some(fitted), Some(refitted)) = (fitted, refitted) {
            if let (EndKind::Contact, Some([low, high])) = (fitted.kind, fitted.interval) {
                let percent = number(refitted.fit.confidence * 100.0, 2);
                rows.push((
                    interval,
                    format!(
                        "{percent} %: {} to {} deg",
                        Rounded {
                            value: low,
                            u: fitted.u
                        },
                        Rounded {
                            value: high,
                            u: fitted.u
                        }
                    ),
                ));
            }
            let half = 0.5 * refitted.fit.lost_motion.in_drive();
            if let Some(words) = TravelSum::of(&refitted.fit, is_upper) {
                // The travel of the file may be narrower: that of the commands, or one set by hand.
                let other = if (fitted.travel - limit).abs() > TRAVEL_STEP {
                    format!("; the travel of the file ends at {} deg", number(limit, 3))
                } else {
                    String::new()
                };
                rows.push((sum, words.words(is_upper, half) + &other));
            }
        } else if let Some(end) = end {
            let inside = if is_upper { end.at - limit } else { limit - end.at };
            let place = if inside > 0.0 {
                format!(", {} deg inside this end", number(inside, 3))
            } else if inside < 0.0 {
                format!(", {} deg beyond this end", number(-inside, 3))
            } else {
                String::new()
            };
            rows.push((sum, format!("{} deg{place}", number(limit, 3))));
        }
    }
    rows.push(("travel", format!("{} deg", range(travel.ends()))));
    let lost = evidence.lost_motion.map_or("not known".to_owned(), |lost| {
        let known = Rounded {
            value: lost.value,
            u: lost.u,
        };
        known.with_u("deg of drive").to_string()
    });
    rows.push(("lost motion", lost));
    rows.push((
        "feedback sense",
        evidence.sense.map_or("not tested", |sense| sense.as_str()).to_owned(),
    ));
    rows
}

fn proof(end: &EndEvidence) -> String {
    let guard = end.guard.filter(|guard| *guard > 0.0);
    let guard = guard.map_or(String::new(), |guard| format!(", guard margin {}", number(guard, 3)));
    format!("{}{}{guard}", picture::proven(end), uncertainty(end))
}

/// What was measured, how well, by whom and with what.
fn readings(entry: &JointEntry, sources: &Sources, behind: &Behind) -> Vec<(&'static str, String)> {
    let evidence = entry.evidence();
    let mut rows = Vec::new();
    rows.push((
        "taken on",
        evidence.date.map_or("no date".to_owned(), |date| date.to_string()),
    ));
    rows.extend(taken(evidence));
    match behind {
        Behind::Same(refitted) => rows.extend(fitted(refitted)),
        Behind::Lost(reason) => rows.push(("not drawn", reason.clone())),
        Behind::Unnamed => {
            let count = evidence
                .readings
                .map_or("number not known".to_owned(), |n| format!("{n}"));
            rows.push(("readings", format!("{count}; no table is named, so none are drawn")));
        }
    }
    if let Some(source) = &evidence.source {
        rows.push(("table", format!("{}, {}", source.file, state_of(source, sources))));
        rows.extend(
            source
                .servo
                .as_ref()
                .map(|servo| ("drive column", written_under(servo))),
        );
        rows.push(("SHA-256", source.sha256.clone()));
    }
    rows
}

fn fitted(refitted: &Refitted) -> Vec<(&'static str, String)> {
    let (fit, unit) = (&refitted.fit, &refitted.measured_unit);
    let from = |side: Approach| {
        let sides = refitted.columns.approach.iter().flatten();
        sides.filter(|known| **known == side).count()
    };
    let (below, above) = (from(Approach::Below), from(Approach::Above));
    let unknown = refitted.columns.drive.len().saturating_sub(below + above);
    let counted = [
        (below, "from below"),
        (above, "from above"),
        (unknown, "side not noted"),
    ];
    let counted = counted.iter().filter(|(count, _)| *count > 0);
    let sides = if fit.approach_inferred {
        "sides inferred from the order of the rows".to_owned()
    } else {
        let counted: Vec<_> = counted.map(|(count, side)| format!("{count} {side}")).collect();
        counted.join(", ")
    };
    let left_out = match fit.rejected.len() {
        0 => "none".to_owned(),
        n => n.to_string(),
    };
    let resolution = match (fit.resolution, fit.resolution_inferred) {
        (Some(step), false) => format!("{} {unit}, given", number(step, 4)),
        (Some(step), true) => format!("{} {unit}, inferred from the values", number(step, 4)),
        (None, _) => "not given; the resolution is too fine to matter".to_owned(),
    };
    let shape = match fit.curve.len().saturating_sub(1) {
        0 | 1 => String::new(),
        degree => format!("polynomial of degree {degree} between the ends, mean "),
    };
    let mut rows = vec![
        (
            "readings",
            format!("{}: {sides}; {left_out} left out", refitted.columns.drive.len()),
        ),
        (
            "model",
            format!(
                "{shape}slope {}",
                Rounded {
                    value: fit.slope,
                    u: Some(fit.u_slope)
                }
                .with_u(&format!("{unit} per deg"))
            ),
        ),
        (
            "residual SD",
            format!("{} {unit}, {} degrees of freedom", Statistic(fit.residual_sd), fit.dof),
        ),
        ("resolution", resolution),
    ];
    if let Some((readings, map)) = &refitted.feedback {
        rows.push((
            "feedback map",
            format!(
                "{} points, {} knots, residual SD {} deg",
                readings.len(),
                map.knots.len(),
                Statistic(map.residual_sd)
            ),
        ));
    }
    rows
}

fn joint(entry: &JointEntry) -> Vec<(&'static str, String)> {
    let joint = entry.joint();
    let (servo, timer) = (joint.servo(), joint.timer());
    let unit = entry.unit().unwrap_or("");
    let inverted = if joint.direction().is_inverted() {
        ", inverted"
    } else {
        ""
    };
    let mut rows = vec![("output", output(entry))];
    rows.extend(entry.mirror_of().map(|mirror| ("mirrors", isolated(mirror))));
    rows.push(("command", format!("{} {unit}", range(joint.command_range().ends()))));
    rows.push((
        "transmission",
        format!(
            "{}, drive {} deg{inverted}",
            joint.transmission().kind(),
            range(joint.drive_range().ends())
        ),
    ));
    rows.push((
        "rate",
        joint
            .max_rate_per_s()
            .map_or("not given: the servo's full speed".to_owned(), |rate| {
                format!("{} {unit} per second", of_span(rate, rate, 3))
            }),
    ));
    rows.push((
        "servo",
        format!(
            "{} deg on {} \u{b5}s{}",
            range(servo.angle_range().ends()),
            range(servo.pulse_range_us().ends()),
            assumed(entry.assumed().servo)
        ),
    ));
    rows.push((
        "timer",
        format!(
            "{} counts at {} Hz{}",
            timer.counts_per_frame(),
            number(timer.frame_hz(), 3),
            assumed(entry.assumed().timer)
        ),
    ));
    if let Some(feedback) = joint.feedback() {
        rows.push((
            "feedback",
            format!(
                "readings {} on {} deg",
                range(feedback.reading_range().ends()),
                range(feedback.angle_range().ends())
            ),
        ));
    }
    rows
}
