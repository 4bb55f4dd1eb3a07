//! The picture of a joint's calibrations over time: where its stops were, and how much motion was lost.

use crate::paint::number;
use crate::svg::{Frame, Legend, Scale, Svg};
use elbowroom::look::{self, Rounded};
use elbowroom::robot::{Date, EndEvidence, Evidence, EvidenceKind, JointEntry};

/// By this an earlier picture of a history is known and may be replaced.
pub(crate) const MARK: &str = "aria-labelledby=\"trend-t\"";

const WIDTH: f64 = 720.0;
const LEFT: f64 = 104.0;
const RIGHT: f64 = 706.0;
/// Room of the title.
const TITLE_ROOM: f64 = 26.0;
/// Top and bottom of the panels: upper end, lower end, lost motion.
const PANELS: [(f64, f64); 3] = [(40.0, 130.0), (150.0, 240.0), (260.0, 340.0)];
const DAYS_PER_YEAR: f64 = 365.25;

/// A value of one day, with its standard uncertainty.
struct Point {
    day: f64,
    value: f64,
    u: Option<f64>,
    kind: Option<EvidenceKind>,
}

/// Every dated calibration of a joint, the earliest first.
pub(crate) fn calibrations(entry: &JointEntry) -> Vec<(Date, &Evidence)> {
    let all = entry.history().iter().chain([entry.evidence()]);
    let mut dated: Vec<(Date, &Evidence)> = all
        .filter(|evidence| evidence.is_calibration())
        .filter_map(|evidence| Some((evidence.date?, evidence)))
        .collect();
    dated.sort_by_key(|(date, _)| *date);
    dated
}

pub(crate) fn draw(entry: &JointEntry, id: &str) -> String {
    draw_in(entry, Frame::Alone(id))
}

pub(crate) fn draw_in(entry: &JointEntry, frame: Frame<'_>) -> String {
    let dated = calibrations(entry);
    let first = dated.first().map(|(date, _)| *date);
    let day = |date: Date| first.map_or(0.0, |first| date.days_since(first) as f64);
    let of_end = |pick: fn(&Evidence) -> Option<EndEvidence>| -> Vec<Point> {
        let point = |(date, evidence): &(Date, &Evidence)| {
            let end = pick(evidence)?;
            Some(Point {
                day: day(*date),
                value: end.at,
                u: end.u,
                kind: Some(end.kind),
            })
        };
        dated.iter().filter_map(point).collect()
    };
    let lost = dated.iter().filter_map(|(date, evidence)| {
        let lost = evidence.lost_motion?;
        Some(Point {
            day: day(*date),
            value: lost.value,
            u: lost.u,
            kind: None,
        })
    });
    let series = [
        (look::UPPER_END.text, of_end(|evidence| evidence.upper)),
        (look::LOWER_END.text, of_end(|evidence| evidence.lower)),
        (look::LOST_MOTION.text, lost.collect()),
    ];
    let x = Scale::around(dated.iter().map(|(date, _)| day(*date)), 0.04, (LEFT, RIGHT));
    let mut svg = Svg::new(WIDTH, 400.0);
    svg.begin_below_title(TITLE_ROOM);
    if let Frame::Alone(_) = frame {
        svg.text(
            "title",
            "start",
            (LEFT, 24.0),
            &look::CALIBRATIONS.with(&[&entry.name()]).to_string(),
        );
    }
    let (top, bottom) = (PANELS[0].0, PANELS[2].1);
    if let Some(first) = first {
        let last = dated.last().map_or(first, |(date, _)| *date);
        for (at, text) in dates(first, last, &x) {
            svg.line("grid", (x.at(at), top), (x.at(at), bottom));
            // A day is a long word: at the right edge it ends there.
            let anchor = if x.at(at) > RIGHT - 40.0 { "end" } else { "middle" };
            svg.text("small", anchor, (x.at(at), bottom + 19.0), &text);
        }
    }
    // On top of the lines of the days.
    for ((label, points), place) in series.iter().zip(PANELS) {
        panel(&mut svg, &x, points, label, place);
    }
    svg.text(
        "",
        "middle",
        (0.5 * (LEFT + RIGHT), bottom + 42.0),
        look::CALIBRATION_DAY.text,
    );
    legend(
        &mut svg,
        &series.iter().flat_map(|(_, points)| points).collect::<Vec<_>>(),
        bottom + 70.0,
    );
    svg.finish(
        frame,
        &format!("Calibrations of {}", entry.name()),
        &description(&dated),
    )
}

fn panel(svg: &mut Svg, x: &Scale, points: &[Point], label: &str, (top, bottom): (f64, f64)) {
    let reach = |point: &Point| {
        let u = 2.0 * point.u.unwrap_or(0.0);
        [point.value - u, point.value + u]
    };
    svg.line("axis", (LEFT, top), (LEFT, bottom));
    svg.line("axis", (LEFT, bottom), (RIGHT, bottom));
    svg.text_up((17.0, 0.5 * (top + bottom)), label);
    svg.text_up((38.0, 0.5 * (top + bottom)), look::DEG.text);
    if points.is_empty() {
        svg.text(
            "small",
            "middle",
            (0.5 * (LEFT + RIGHT), 0.5 * (top + bottom)),
            look::NOT_KNOWN.text,
        );
        return;
    }
    let y = Scale::around(points.iter().flat_map(reach), 0.12, (bottom, top));
    svg.rungs(&y, 3.0, (LEFT, RIGHT));
    svg.polyline("trend", points.iter().map(|point| (x.at(point.day), y.at(point.value))));
    for point in points {
        let (at, place) = (x.at(point.day), y.at(point.value));
        if point.u.is_some() {
            let [low, high] = reach(point);
            svg.line("axis", (at, y.at(low)), (at, y.at(high)));
        }
        mark(svg, point.kind, (at, place));
    }
}

fn mark(svg: &mut Svg, kind: Option<EvidenceKind>, (x, y): (f64, f64)) {
    match kind {
        Some(EvidenceKind::Contact) => svg.line("stop", (x - 5.0, y), (x + 5.0, y)),
        Some(EvidenceKind::Stalled) => svg.point("held-from", (x, y), 4.5),
        Some(EvidenceKind::Clear) => svg.point("ring", (x, y), 4.0),
        Some(EvidenceKind::Declared) => svg.line("clear", (x - 5.0, y), (x + 5.0, y)),
        None => svg.point("dot", (x, y), 3.5),
    }
}

fn legend(svg: &mut Svg, points: &[&Point], first: f64) {
    let mut legend = Legend::new(LEFT - 60.0, RIGHT, first);
    for (kind, text) in [
        (Some(EvidenceKind::Contact), look::STOP_HERE.text),
        (Some(EvidenceKind::Stalled), look::STALLED_HERE.text),
        (Some(EvidenceKind::Clear), look::CLEAR_HERE.text),
        (Some(EvidenceKind::Declared), look::DECLARED.text),
        (None, look::LOST_MOTION.text),
    ] {
        if points.iter().any(|point| point.kind == kind) {
            legend.item(svg, text, |svg, at| mark(svg, kind, at));
        }
    }
    if points.iter().any(|point| point.u.is_some()) {
        legend.item(svg, look::TWO_U.text, |svg, (x, y)| {
            svg.line("axis", (x, y - 8.0), (x, y + 8.0))
        });
    }
}

/// Days to mark, counted from the first, and how they read: years where there are several, else days.
fn dates(first: Date, last: Date, x: &Scale) -> Vec<(f64, String)> {
    let (low, high) = x.values();
    let year = f64::from(first.year());
    let count = (high / DAYS_PER_YEAR).ceil() as u16;
    if high < 2.0 * DAYS_PER_YEAR {
        return [first, last]
            .into_iter()
            .map(|date| (date.days_since(first) as f64, date.to_string()))
            .take(if first == last { 1 } else { 2 })
            .collect();
    }
    let step = (f64::from(count) / 8.0).ceil().max(1.0);
    (0..=count)
        .filter(|n| (f64::from(*n) % step).abs() < f64::EPSILON)
        .filter_map(|n| {
            let january = Date::new(first.year().checked_add(n)?, 1, 1)?;
            let at = january.days_since(first) as f64;
            (at >= low && at <= high).then(|| (at, number(year + f64::from(n), 0)))
        })
        .collect()
}

/// How a value has drifted per year: least squares over what was found by measurement, with the uncertainty that follows from those of
/// the values.
fn drift(points: &[(f64, f64, Option<f64>)]) -> Option<Rounded> {
    let n = points.len() as f64;
    let mean = |of: fn(&(f64, f64, Option<f64>)) -> f64| points.iter().map(of).sum::<f64>() / n;
    let (mean_x, mean_y) = (mean(|point| point.0), mean(|point| point.1));
    let (mut sxx, mut sxy, mut variance) = (0.0, 0.0, Some(0.0));
    for (x, y, u) in points {
        let away = x - mean_x;
        sxx += away * away;
        sxy += away * (y - mean_y);
        variance = variance.zip(*u).map(|(sum, u)| sum + (away * u).powi(2));
    }
    (points.len() >= 2 && sxx > 0.0).then(|| Rounded {
        value: sxy / sxx * DAYS_PER_YEAR,
        u: variance.map(|variance| variance.sqrt() / sxx * DAYS_PER_YEAR),
    })
}

fn contact(end: Option<EndEvidence>) -> Option<(f64, Option<f64>)> {
    end.filter(|end| end.kind == EvidenceKind::Contact)
        .map(|end| (end.at, end.u))
}

/// A quantity of a calibration and its standard uncertainty, deg.
type Pick = dyn Fn(&Evidence) -> Option<(f64, Option<f64>)>;

/// What has changed since the previous calibration, and how it goes year by year.
pub(crate) fn changes(entry: &JointEntry) -> Vec<(&'static str, String, String)> {
    let dated = calibrations(entry);
    let [.., (_, before), (_, last)] = dated.as_slice() else {
        return Vec::new();
    };
    let day = |date: Date| dated.first().map_or(0.0, |(first, _)| date.days_since(*first) as f64);
    let lost_motion = |evidence: &Evidence| evidence.lost_motion.map(|lost| (lost.value, lost.u));
    let picks: [(&'static str, &Pick); 3] = [
        ("lower stop", &|evidence| contact(evidence.lower)),
        ("upper stop", &|evidence| contact(evidence.upper)),
        ("lost motion", &lost_motion),
    ];
    let mut all = Vec::new();
    for (what, pick) in picks {
        let since = match (pick(before), pick(last)) {
            (Some((old, u_old)), Some((new, u_new))) => {
                let u = u_old.zip(u_new).map(|(a, b)| a.hypot(b));
                format!("{:+}", Rounded { value: new - old, u }.with_u("deg"))
            }
            (None, Some(_)) => "found for the first time".to_owned(),
            (Some(_), None) => "no longer found".to_owned(),
            (None, None) => continue,
        };
        let points: Vec<(f64, f64, Option<f64>)> = dated
            .iter()
            .filter_map(|(date, evidence)| pick(evidence).map(|(value, u)| (day(*date), value, u)))
            .collect();
        let yearly = drift(&points).map_or("not known".to_owned(), |drift| format!("{drift:+} deg per year"));
        all.push((what, since, yearly));
    }
    all
}

/// The same in words.
fn description(dated: &[(Date, &Evidence)]) -> String {
    let Some(((first, _), (last, _))) = dated.first().zip(dated.last()) else {
        return "No calibration has a date.".to_owned();
    };
    format!("{} calibrations from {first} to {last}.", dated.len())
}
