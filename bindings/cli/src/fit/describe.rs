//! What a fit says to people.

use super::Fitted;
use super::feedback::Sensed;
use super::found::{Next, TravelSum, drive_in, left_out};
use crate::args::DriveUnit;
use crate::degrees::written_under;
use crate::paint::{number, strong};
use elbowroom::fit::{End, EndKind, LimitFit, LostMotion, ManyTurns, NotDegrees, Side, Trend, Warning};
use elbowroom::look::{Rounded, Statistic};
use elbowroom::robot::shell_word;
use std::fmt::Write as _;

/// Readings left out that are told of one by one; more are no slips of a pen.
pub(super) const MOST_LEFT_OUT: usize = 8;

pub(super) const fn unit(unit: DriveUnit) -> &'static str {
    unit.core().as_str()
}

pub(super) fn lost_motion_reason(fit: &LimitFit) -> Option<String> {
    match fit.lost_motion {
        LostMotion::NotDeterminable { reason } => Some(reason.to_string()),
        _ => None,
    }
}

/// What the fit warns of, and drive angles that the servo does not have, most often pulse widths taken for degrees.
pub(super) fn warnings(fitted: &Fitted<'_>) -> Vec<String> {
    let doubt = not_degrees(fitted);
    // Of values that are no degrees at all, what the guard margin would be of them is no news.
    let of_fit = fitted.fit.warnings.iter();
    let of_fit = of_fit.filter(|one| doubt.is_none() || !matches!(one, Warning::GuardOfDegrees { .. }));
    let mut warnings: Vec<String> = of_fit.map(ToString::to_string).collect();
    warnings.extend(fitted.columns.groups.iter().map(|groups| {
        let only = groups.values.first().map_or("", String::as_str);
        format!(
            "{groups}; --where {} takes the rows of one",
            shell_word(&format!("{}={only}", groups.column))
        )
    }));
    let sensed = fitted.sensed.iter().flat_map(|sensed| &sensed.fit().warnings);
    warnings.extend(sensed.map(|warning| format!("--feedback: {warning}")));
    for far in fitted.sensed.iter().flat_map(Sensed::far_off) {
        let line = fitted.columns.lines.get(far.index);
        warnings.push(line.map_or_else(|| far.to_string(), |line| format!("line {line}: {far}")));
    }
    if let Some(many) = ManyTurns::of_fit(&fitted.fit, &fitted.args.table.measured_unit) {
        warnings.push(match many.looks_like {
            Some(meant) => format!(
                "{many}; give --measured-unit {}, unless the joint makes so many turns",
                meant.word()
            ),
            None => format!("{many}; correct --measured-unit or the heading, unless the joint makes so many turns"),
        });
    }
    match doubt {
        // Where no travel is left the fit says it.
        Some(NotDegrees::Narrow { .. }) if fitted.fit.travel.is_none() => return warnings,
        Some(doubt) => {
            warnings.push(with_options(&doubt));
            return warnings;
        }
        None => {}
    }
    let [a0, a1] = fitted.servo_record.angle;
    if let Some(&outside) = fitted.columns.drive.iter().find(|&&drive| drive < a0 || drive > a1) {
        let outside = drive(fitted, outside);
        let remedy = match fitted.args.table.drive_unit {
            DriveUnit::Deg | DriveUnit::Auto => {
                "give the servo's --servo-angle and --servo-pulse-us, as in its data sheet"
            }
            _ => {
                "if the column holds drive angles, give --drive-unit deg; else give --servo-angle and --servo-pulse-us"
            }
        };
        warnings.push(format!(
            "a drive of {outside} is outside the servo's {} to {} deg; {remedy}",
            number(a0, 2),
            number(a1, 2)
        ));
    }
    warnings
}

/// Why drive values that are read as degrees are hardly degrees.
pub(super) fn not_degrees(fitted: &Fitted<'_>) -> Option<NotDegrees> {
    let is_deg = matches!(fitted.args.table.drive_unit, DriveUnit::Deg | DriveUnit::Auto);
    NotDegrees::of(&fitted.columns.drive, &fitted.servo).filter(|_| is_deg)
}

/// The same with the options that help.
pub(super) fn with_options(doubt: &NotDegrees) -> String {
    match doubt {
        NotDegrees::Outside { .. } => format!(
            "{doubt}: timer counts? give --drive-unit counts; microseconds? give --drive-unit us; are the columns drive and measured \
             exchanged? give --drive and --measured; else give the servo's --servo-angle"
        ),
        _ => format!("{doubt}, or give --drive-unit"),
    }
}

/// A drive angle, and the pulse width that was commanded if the table holds pulse widths.
fn drive(fitted: &Fitted<'_>, value: f64) -> String {
    drive_in(fitted, value, 2)
}

/// The guard margin, and the end that keeps it: at an end without a contact the travel ends with the readings.
fn guard(fitted: &Fitted<'_>, travel: [f64; 2]) -> String {
    let deg = format!("{} deg", number(fitted.args.table.guard, 3));
    let fit = &fitted.fit;
    let keeps = |end: &End, travel: f64| end.kind == EndKind::Contact || end.at != travel;
    match [keeps(&fit.lower, travel[0]), keeps(&fit.upper, travel[1])] {
        [true, true] => deg,
        [true, false] => format!("{deg} at the lower end"),
        [false, true] => format!("{deg} at the upper end"),
        [false, false] => "not applied: no contact is placed".to_owned(),
    }
}

/// What is known of an end, in a line and a second one where its travel keeps a margin.
fn end_lines(fitted: &Fitted<'_>, end: &End, is_upper: bool) -> Vec<String> {
    let percent = number(fitted.fit.confidence * 100.0, 2);
    let first = match (end.kind, end.interval) {
        (EndKind::Contact, interval) => {
            let interval = interval.map_or(String::new(), |[low, high]| {
                format!(", {percent} % within {} to {}", drive(fitted, low), drive(fitted, high))
            });
            format!("stop found: contact at {}{interval}", drive(fitted, end.at))
        }
        (EndKind::Stalled, _) => stalled(fitted, end, is_upper),
        (EndKind::Clear, _) => format!("no stop found, clear to {}, untested beyond", drive(fitted, end.at)),
    };
    let from = if end.interval.is_some() {
        "inner end of the interval"
    } else {
        "last reading that follows the line"
    };
    let half = 0.5 * fitted.fit.lost_motion.in_drive();
    let sum = TravelSum::of(&fitted.fit, is_upper).map(|sum| format!("travel: {from} {}", sum.words(is_upper, half)));
    std::iter::once(first).chain(sum).collect()
}

fn stalled(fitted: &Fitted<'_>, end: &End, is_upper: bool) -> String {
    let (at, short) = (end.at, end.short_at.unwrap_or(end.at));
    let which = match end.readings_beyond {
        1 => "the last reading falls".to_owned(),
        0 => "the last readings fall".to_owned(),
        n => format!("the last {n} readings fall"),
    };
    // Which readings to take is said further down for one end; for the other it is said here.
    let side = if is_upper { Side::Upper } else { Side::Lower };
    let is_advised = fitted.fit.advice.as_ref().is_some_and(|advice| advice.side == side);
    let remedy = match (is_advised, side) {
        (true, _) => "",
        (_, Side::Upper) => "; take readings between, from below, to place the stop",
        (_, Side::Lower) => "; take readings between, from above, to place the stop",
    };
    format!(
        "stalled between {} and {}: {which} short of the line; travel ends at {}{remedy}",
        drive(fitted, at.min(short)),
        drive(fitted, at.max(short)),
        drive(fitted, end.travel)
    )
}

/// The warnings that no other line holds: what fell short stands with its end.
fn minded(fitted: &Fitted<'_>) -> Vec<String> {
    let fell_short = |warning: &&Warning| matches!(warning, Warning::FellShort { .. });
    let told: Vec<String> = fitted
        .fit
        .warnings
        .iter()
        .filter(fell_short)
        .map(ToString::to_string)
        .collect();
    let mut all = warnings(fitted);
    all.retain(|warning| !told.contains(warning));
    all
}

pub(super) fn describe(text: &mut String, fitted: &Fitted<'_>) {
    let (args, fit) = (fitted.args, &fitted.fit);
    let name = args.joint.as_deref().unwrap_or("fit");
    let rows: Vec<String> = args
        .table
        .only
        .iter()
        .map(|only| format!("{}={}", only.column, only.value))
        .collect();
    let rows = if rows.is_empty() {
        String::new()
    } else {
        format!(" ({})", rows.join(", "))
    };
    let _ = writeln!(
        text,
        "{}  {} readings of {}{rows}",
        strong(name),
        fit.readings,
        args.readings.display()
    );
    let mut line = |label: &str, value: String| {
        let _ = writeln!(text, "  {label:<12} {value}");
    };
    if let Some(servo) = &fitted.written {
        line(
            "drive column",
            format!("{}, as the record of the joint names it", written_under(servo)),
        );
    }
    for (word, end, is_upper) in [("lower end", &fit.lower, false), ("upper end", &fit.upper, true)] {
        for (index, part) in end_lines(fitted, end, is_upper).into_iter().enumerate() {
            line(if index == 0 { word } else { "" }, part);
        }
    }
    match fit.travel {
        Some([lower, upper]) => line(
            "travel",
            format!(
                "{} to {}, guard margin {}",
                drive(fitted, lower),
                drive(fitted, upper),
                guard(fitted, [lower, upper])
            ),
        ),
        None => line("travel", "no travel remains".to_owned()),
    }
    let trend = match fit.sense.trend {
        Trend::Rising => "rises",
        Trend::Falling => "falls",
    };
    let measured = &args.table.measured_unit;
    line(
        "slope",
        format!(
            "{}: measured {trend} with drive",
            Rounded {
                value: fit.slope,
                u: Some(fit.u_slope)
            }
            .with_u(&format!("{measured} per drive deg"))
        ),
    );
    line(
        "scatter",
        format!("residual SD {} {measured} about the model", Statistic(fit.residual_sd)),
    );
    line(
        "resolution",
        match (fit.resolution, fit.resolution_inferred) {
            (Some(step), false) => format!("{} {measured}, as given", number(step, 4)),
            (Some(step), true) => format!(
                "{} {measured}, inferred from the values; to correct it, give --resolution",
                number(step, 4)
            ),
            (None, _) => "not given, and too fine to matter".to_owned(),
        },
    );
    if fit.approach_inferred {
        let column = "if they differ, add a column approach with below or above";
        line("sides", format!("inferred from the order of the rows; {column}"));
    }
    match fit.lost_motion {
        LostMotion::Measured { value, u, .. } => {
            line(
                "lost motion",
                Rounded { value, u: Some(u) }.with_u(measured).to_string(),
            );
        }
        _ => {
            let reason = lost_motion_reason(fit).unwrap_or_default();
            line("lost motion", reason.trim_start_matches("lost motion ").to_owned());
        }
    }
    for (index, one) in left_out(fitted).take(MOST_LEFT_OUT).enumerate() {
        line(if index == 0 { "left out" } else { "" }, one.message);
    }
    if let Some(more) = fit.rejected.len().checked_sub(MOST_LEFT_OUT).filter(|more| *more > 0) {
        line("", format!("and {more} more, see --json"));
    }
    for warning in minded(fitted) {
        line("warning", warning);
    }
    if let Some(next) = Next::of(fitted) {
        line("next", format!("readings {}", next.message));
    }
    if let Some(plain) = &fitted.line {
        let rad = plain.slope_rad.map_or(String::new(), |slope| {
            format!(" = {slope:.6} rad per {}", plain.drive_unit)
        });
        line(
            "plain line",
            format!("over the {} readings with {}:", plain.line.n, plain.over),
        );
        line(
            "",
            format!("slope {:.5} {measured} per {}{rad}", plain.line.slope, plain.drive_unit),
        );
        line("", format!("R\u{b2} {:.4}", plain.line.r_squared));
    }
    if let Some(bend) = &fitted.bend {
        for (index, part) in bend.lines(measured).into_iter().enumerate() {
            line(if index == 0 { "transmission" } else { "" }, part);
        }
    }
    if let Some(sensed) = &fitted.sensed {
        for (index, part) in sensed.lines().into_iter().enumerate() {
            line(if index == 0 { "feedback" } else { "" }, part);
        }
    }
    for assumed in &fitted.assumed {
        for (index, part) in assumed.lines().enumerate() {
            line(if index == 0 { "assumed" } else { "" }, part);
        }
    }
}
