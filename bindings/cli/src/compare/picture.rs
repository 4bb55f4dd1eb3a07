//! The picture of a comparison: each change with its interval, in units of the smallest that matters.

use super::words::{concluded, word};
use crate::output;
use crate::paint::number;
use crate::problem::Problem;
use crate::svg::{Frame, Legend, Scale, Svg};
use elbowroom::fit::{Change, Comparison, Verdict};
use elbowroom::look;
use std::fmt::Write as _;
use std::path::Path;

/// By this an earlier picture of a comparison is known and may be replaced.
const MARK: &str = "aria-labelledby=\"changes-t\"";

const WIDTH: f64 = 720.0;
const LEFT: f64 = 222.0;
const RIGHT: f64 = 516.0;
const TOP: f64 = 44.0;
const ROW: f64 = 46.0;
/// What is seen beside the changes that matter, in units of the smallest that does.
const LEAST_SHOWN: f64 = 1.5;

/// Draws a comparison into a file, and says so.
pub(super) fn write(path: &Path, title: &str, found: &Comparison, text: &mut String) -> Result<(), Problem> {
    output::write(path, draw(title, found).as_bytes(), MARK.as_bytes())?;
    let _ = writeln!(text, "picture: {}", path.display());
    Ok(())
}

fn draw(title: &str, found: &Comparison) -> String {
    let placed = |change: &Change| {
        let difference = change.difference?;
        Some([difference.value, 2.0 * difference.u].map(|part| part / change.smallest))
    };
    let ends = found
        .changes
        .iter()
        .filter_map(placed)
        .flat_map(|[at, u]| [at - u, at + u]);
    let x = Scale::around(ends.chain([-LEAST_SHOWN, LEAST_SHOWN]), 0.06, (LEFT, RIGHT));
    let bottom = TOP + ROW * found.changes.len() as f64;
    let mut svg = Svg::new(WIDTH, bottom + 60.0);
    svg.text("title", "start", (20.0, 24.0), title);
    svg.rect("band", (x.at(-1.0), TOP), (x.at(1.0), bottom));
    for (tick, text) in x.marks_along(6.0) {
        svg.line("grid", (x.at(tick), TOP), (x.at(tick), bottom));
        svg.text("small", "middle", (x.at(tick), bottom + 19.0), &text);
    }
    svg.line("axis", (x.at(0.0), TOP), (x.at(0.0), bottom));
    svg.line("axis", (LEFT, bottom), (RIGHT, bottom));
    for (index, change) in found.changes.iter().enumerate() {
        let y = TOP + ROW * (index as f64 + 0.5);
        svg.text("small", "end", (LEFT - 12.0, y + 5.0), word(change.quantity));
        let verdict = concluded(change.verdict);
        if let Some(by) = by(change) {
            svg.text("small", "start", (RIGHT + 12.0, y - 4.0), &by);
            svg.text("small", "start", (RIGHT + 12.0, y + 15.0), verdict);
        } else {
            svg.text("small", "start", (RIGHT + 12.0, y + 5.0), verdict);
        }
        if let Some([at, u]) = placed(change) {
            svg.line("axis", (x.at(at - u), y), (x.at(at + u), y));
            svg.point(mark(change), (x.at(at), y), 5.0);
        }
    }
    svg.text("", "middle", (0.5 * (LEFT + RIGHT), bottom + 42.0), look::CHANGE.text);
    let mut legend = Legend::new(20.0, WIDTH, bottom + 70.0);
    for (name, label) in [("dot", look::VERDICT_CHANGED), ("ring", look::VERDICT_OTHER)] {
        let is_drawn = |change: &Change| placed(change).is_some() && mark(change) == name;
        if found.changes.iter().any(is_drawn) {
            legend.item(&mut svg, label.text, |svg, at| svg.point(name, at, 5.0));
        }
    }
    legend.item(&mut svg, look::TWO_U.text, |svg, (x, y)| {
        svg.line("axis", (x - 11.0, y), (x + 11.0, y))
    });
    legend.area(&mut svg, look::VERDICT_NEGLIGIBLE.text, "band");
    let told: Vec<String> = found
        .diagnoses
        .iter()
        .map(|diagnosis| format!("{}.", diagnosis))
        .collect();
    svg.finish(Frame::Alone("changes"), title, &told.join(" "))
}

fn mark(change: &Change) -> &'static str {
    if change.verdict == Verdict::Changed {
        "dot"
    } else {
        "ring"
    }
}

/// By how much, where that can be said.
fn by(change: &Change) -> Option<String> {
    let difference = change.difference?;
    let sign = if difference.value > 0.0 { "+" } else { "" };
    let text = format!("{sign}{}", number(difference.value, 3));
    Some(if change.at_least {
        look::AT_LEAST.with(&[&text]).to_string()
    } else {
        text
    })
}
