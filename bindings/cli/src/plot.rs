//! The picture of a fit: readings by direction, the model, stops with their intervals, guard and travel, and the residuals.

use crate::paint::number;
use crate::readings::Refitted;
use crate::svg::{Frame, Legend, Scale, Svg};
use elbowroom::fit::{Approach, End, EndKind, LimitFit, LostMotion};
use elbowroom::look::{self, Rounded, Statistic};

/// What is drawn.
pub(crate) struct FitPicture<'a> {
    pub(crate) name: &'a str,
    pub(crate) drive: &'a [f64],
    pub(crate) measured: &'a [f64],
    pub(crate) approach: Option<&'a [Approach]>,
    /// What the model leaves of each reading, reached from its side.
    pub(crate) residuals: Vec<f64>,
    pub(crate) measured_unit: &'a str,
    pub(crate) fit: &'a LimitFit,
    /// The measured value expected at a drive angle, midway between both sides.
    pub(crate) model: Box<dyn Fn(f64) -> f64 + 'a>,
    /// Knots of the model, if it is a curve.
    pub(crate) knots: &'a [[f64; 2]],
    /// What the model is between the stops, if it is no line.
    pub(crate) words: Option<String>,
    /// What was tried, each with the criterion that chose; empty where there was nothing to choose.
    pub(crate) choice: Vec<String>,
    /// Drive angle of a pulse width and back, where the table holds pulse widths.
    pub(crate) pulse_us: Option<PulseWidths<'a>>,
}

/// Pulse width of a drive angle, us.
pub(crate) type PulseWidths<'a> = Box<dyn Fn(f64) -> f64 + 'a>;

/// By this an earlier picture of a fit is known and may be replaced.
pub(crate) const MARK: &str = "aria-labelledby=\"fit-t\"";

const WIDTH: f64 = 720.0;
/// The plotting area.
const LEFT: f64 = 76.0;
const RIGHT: f64 = 706.0;
const TOP: f64 = 62.0;
const BOTTOM: f64 = 350.0;
/// Room of the title, above the names of the stops and of the axis of pulse widths.
const TITLE_ROOM: f64 = 32.0;
/// Where the axis of pulse widths stands, above the names of the stops.
const PULSE_ROOM: f64 = 44.0;
/// The strip of residuals below it, on the same drive angles.
const REST: (f64, f64) = (370.0, 448.0);
/// Points of the model's line: finer than the paper.
const MODEL_POINTS: u32 = 300;

/// The readings behind a joint's evidence, fitted again.
pub(crate) fn of_refitted<'a>(name: &'a str, refitted: &'a Refitted) -> FitPicture<'a> {
    FitPicture {
        name,
        drive: &refitted.columns.drive,
        measured: &refitted.columns.measured,
        approach: refitted.columns.approach.as_deref(),
        residuals: refitted.residuals.clone(),
        measured_unit: &refitted.measured_unit,
        fit: &refitted.fit,
        model: Box::new(|drive| refitted.fit.expected(drive)),
        knots: &[],
        words: None,
        choice: Vec::new(),
        pulse_us: refitted
            .is_drive_in_us
            .then(|| -> PulseWidths<'a> { Box::new(|drive| refitted.servo.pulse_us(drive)) }),
    }
}

impl FitPicture<'_> {
    /// Drawn in a file of its own.
    pub(crate) fn draw(&self, id: &str) -> String {
        self.draw_in(Frame::Alone(id))
    }

    pub(crate) fn draw_in(&self, frame: Frame<'_>) -> String {
        let ends = [&self.fit.lower, &self.fit.upper];
        let edges = ends.iter().flat_map(|end| end.interval.into_iter().flatten());
        let x = Scale::around(self.drive.iter().copied().chain(edges), 0.04, (LEFT, RIGHT));
        let shift = if self.pulse_us.is_some() { PULSE_ROOM } else { 0.0 };
        let mut panels = Panels {
            svg: Svg::new(WIDTH, BOTTOM),
            x,
            top: TOP + shift,
            bottom: BOTTOM + shift,
            rest: (REST.0 + shift, REST.1 + shift),
        };
        panels.svg.begin_below_title(TITLE_ROOM);
        let y = Scale::around(self.kept_measured(), 0.08, (panels.bottom, panels.top));
        if let Frame::Alone(_) = frame {
            panels.svg.text("title", "start", (LEFT, 24.0), self.name);
        }
        self.axes(&mut panels, &y);
        for end in ends {
            stop(&mut panels, end);
        }
        self.model(&mut panels, &y);
        let shown = self.readings(&mut panels, &y).and(self.rest(&mut panels));
        for &[drive, measured] in self.knots {
            panels.svg.point("knot", (panels.x.at(drive), y.at(measured)), 5.0);
        }
        let below = self.travel(&mut panels);
        self.legend(&mut panels.svg, below, shown);
        panels.svg.finish(
            frame,
            &format!("Readings and limits of {}", self.name),
            &self.description(),
        )
    }

    /// Measured values that decide the frame: one that was left out far away does not.
    fn kept_measured(&self) -> Vec<f64> {
        let kept = self
            .measured
            .iter()
            .enumerate()
            .filter(|(index, _)| !self.is_left_out(*index));
        let kept: Vec<f64> = kept.map(|(_, value)| *value).collect();
        let low = kept.iter().copied().fold(f64::INFINITY, f64::min);
        let high = kept.iter().copied().fold(f64::NEG_INFINITY, f64::max);
        let room = 0.35 * (high - low);
        let near = |value: &&f64| **value >= low - room && **value <= high + room;
        kept.iter().chain(self.measured.iter().filter(near)).copied().collect()
    }

    fn is_left_out(&self, index: usize) -> bool {
        self.fit.is_left_out(index)
    }

    fn side(&self, index: usize) -> Approach {
        let side = self.approach.and_then(|all| all.get(index)).copied();
        side.unwrap_or_default()
    }

    fn axes(&self, panels: &mut Panels, y: &Scale) {
        let Panels {
            svg,
            x,
            top,
            bottom,
            rest,
        } = panels;
        for (tick, text) in x.marks_along(8.0) {
            svg.line("grid", (x.at(tick), *top), (x.at(tick), *bottom));
            svg.line("grid", (x.at(tick), rest.0), (x.at(tick), rest.1));
            svg.text("small", "middle", (x.at(tick), rest.1 + 19.0), &text);
        }
        svg.rungs(y, 6.0, (LEFT, RIGHT));
        svg.line("axis", (LEFT, *bottom), (RIGHT, *bottom));
        svg.line("axis", (LEFT, *top), (LEFT, *bottom));
        svg.text(
            "",
            "middle",
            (0.5 * (LEFT + RIGHT), rest.1 + 40.0),
            look::DRIVE_ANGLE.text,
        );
        let measured = look::IN_UNIT
            .with(&[&look::MEASURED.text, &self.measured_unit])
            .to_string();
        svg.text_up((20.0, 0.5 * (*top + *bottom)), &measured);
        if let Some(pulse_us) = &self.pulse_us {
            let (low, high) = x.values();
            let widths = Scale::new((pulse_us(low), pulse_us(high)), (LEFT, RIGHT));
            let y = *top - 26.0;
            svg.line("axis", (LEFT, y), (RIGHT, y));
            for (tick, text) in widths.marks_along(6.0) {
                svg.line("axis", (widths.at(tick), y - 5.0), (widths.at(tick), y));
                svg.text("small", "middle", (widths.at(tick), y - 9.0), &text);
            }
            svg.text("small", "end", (RIGHT, y - 30.0), look::PULSE.text);
        }
    }

    fn model(&self, panels: &mut Panels, y: &Scale) {
        let within = || self.drive.iter().copied().filter(|&drive| !self.is_held(drive));
        let low = within().fold(f64::INFINITY, f64::min);
        let high = within().fold(f64::NEG_INFINITY, f64::max);
        let at = |n: u32| low + (high - low) * f64::from(n) / f64::from(MODEL_POINTS);
        let mut places: Vec<f64> = (0..=MODEL_POINTS).map(at).collect();
        let stops = || {
            [&self.fit.lower, &self.fit.upper]
                .into_iter()
                .filter(|end| end.kind == EndKind::Contact)
        };
        // The knees themselves, so that they are drawn sharp.
        places.extend(stops().map(|end| end.at));
        places.sort_by(f64::total_cmp);
        let x = panels.x;
        let line = places.iter().map(|&drive| (x.at(drive), y.at((self.model)(drive))));
        panels.svg.polyline("model", line);
        let between = |drive: &&f64| stops().all(|end| (**drive - end.at) * (end.travel - end.at) >= 0.0);
        if let Some(half) = self.half_lost_motion() {
            for side in [-half, half] {
                let line = places.iter().filter(between);
                let line = line.map(|&drive| (x.at(drive), y.at((self.model)(drive) + side)));
                panels.svg.polyline("by-side", line.collect::<Vec<_>>());
            }
        }
    }

    /// Half of the lost motion, measured; none where no side was noted.
    fn half_lost_motion(&self) -> Option<f64> {
        match self.fit.lost_motion {
            LostMotion::Measured { value, .. } => self.approach.is_some().then_some(0.5 * value),
            _ => None,
        }
    }

    /// Whether a drive angle lies beyond an end at which the joint stalled: no model holds there.
    fn is_held(&self, drive: f64) -> bool {
        let beyond = |end: &End| {
            end.short_at
                .is_some_and(|short| (drive - end.at) * (short - end.at) > 0.0)
        };
        beyond(&self.fit.lower) || beyond(&self.fit.upper)
    }

    /// Draws the readings.
    fn readings(&self, panels: &mut Panels, y: &Scale) -> Shown {
        let (low, high) = y.values();
        let mut shown = Shown::default();
        for (index, (&drive, &measured)) in self.drive.iter().zip(self.measured).enumerate() {
            let at = (panels.x.at(drive), y.at(measured.clamp(low, high)));
            if measured < low || measured > high {
                shown.outside = true;
                outside(&mut panels.svg, at, measured > high);
                // Inward of the frame, as the reading is far off.
                let (anchor, beside) = if at.0 > 0.5 * (LEFT + RIGHT) {
                    ("end", -10.0)
                } else {
                    ("start", 10.0)
                };
                let below = if measured > high { 12.0 } else { -2.0 };
                panels
                    .svg
                    .text("small", anchor, (at.0 + beside, at.1 + below), &number(measured, 1));
                continue;
            }
            mark(&mut panels.svg, at, self.side(index), 4.5);
            if self.is_left_out(index) {
                shown.left_out = true;
                cross(&mut panels.svg, at);
            }
        }
        shown
    }

    /// What the model leaves of each reading.
    fn rest(&self, panels: &mut Panels) -> Shown {
        let Panels {
            svg,
            x,
            rest: (top, bottom),
            ..
        } = panels;
        let kept = self.drive.iter().zip(&self.residuals).enumerate();
        let kept = kept.filter(|(index, (drive, _))| !self.is_left_out(*index) && !self.is_held(**drive));
        let size = kept.fold(0.0f64, |size, (_, (_, value))| size.max(value.abs())) * 1.15;
        let size = if size > 0.0 { size } else { 1.0 };
        let y = Scale::new((-size, size), (*bottom, *top));
        let sd = self.fit.residual_sd.min(size);
        svg.rect("band", (LEFT, y.at(-sd)), (RIGHT, y.at(sd)));
        svg.rungs(&y, 3.0, (LEFT, RIGHT));
        svg.line("axis", (LEFT, y.at(0.0)), (RIGHT, y.at(0.0)));
        svg.line("axis", (LEFT, *top), (LEFT, *bottom));
        let residual = look::IN_UNIT
            .with(&[&look::RESIDUAL.text, &self.measured_unit])
            .to_string();
        svg.text_up((20.0, 0.5 * (*top + *bottom)), &residual);
        let mut shown = Shown::default();
        for (index, (&drive, &value)) in self.drive.iter().zip(&self.residuals).enumerate() {
            let at = (x.at(drive), y.at(value.clamp(-size, size)));
            if value.abs() > size {
                shown.outside = true;
                outside(svg, at, value > 0.0);
            } else {
                mark(svg, at, self.side(index), 3.0);
                if self.is_left_out(index) {
                    shown.left_out = true;
                    cross(svg, at);
                }
            }
        }
        shown
    }

    /// Draws the travel below the axis; where the legend may begin.
    fn travel(&self, panels: &mut Panels) -> f64 {
        let (top, bottom) = (panels.rest.1 + 52.0, panels.rest.1 + 76.0);
        let (svg, x) = (&mut panels.svg, panels.x);
        let Some([lower, upper]) = self.fit.travel else {
            svg.text("", "start", (LEFT, bottom - 6.0), look::NO_TRAVEL.text);
            return bottom + 28.0;
        };
        svg.rect("travel", (x.at(lower), top), (x.at(upper), bottom));
        let text = look::TRAVEL_OF
            .with(&[&number(lower, 2), &number(upper, 2)])
            .to_string();
        let middle = 0.5 * (x.at(lower) + x.at(upper));
        svg.text("small", "middle", (middle, bottom - 7.0), &text);
        for end in [&self.fit.lower, &self.fit.upper] {
            if let Some(short) = end.short_at {
                svg.rect("held", (x.at(end.at), top), (x.at(short), bottom));
            }
            if end.kind != EndKind::Clear && end.travel != end.at {
                svg.rect("guard", (x.at(end.at), top), (x.at(end.travel), bottom));
            }
        }
        bottom + 28.0
    }

    fn legend(&self, svg: &mut Svg, first: f64, shown: Shown) {
        let mut legend = Legend::new(LEFT - 60.0, RIGHT, first);
        for (approach, label) in READINGS {
            if (0..self.drive.len()).any(|index| self.side(index) == approach) {
                legend.item(svg, label.text, |svg, at| mark(svg, at, approach, 4.5));
            }
        }
        if shown.left_out {
            legend.item(svg, look::LEFT_OUT.text, cross);
        }
        if shown.outside {
            legend.item(svg, look::OUTSIDE.text, |svg, (x, y)| outside(svg, (x, y - 6.0), true));
        }
        legend.line(svg, look::MODEL.text, "model");
        if self.half_lost_motion().is_some() {
            legend.line(svg, look::MODEL_BY_SIDE.text, "by-side");
        }
        if !self.knots.is_empty() {
            legend.item(svg, look::KNOT.text, |svg, at| svg.point("knot", at, 5.0));
        }
        let ends = [&self.fit.lower, &self.fit.upper];
        let has = |kind| ends.iter().any(|end| end.kind == kind);
        if has(EndKind::Contact) {
            legend.item(svg, look::STOP_FOUND.text, |svg, (x, y)| {
                svg.rect("known", (x - 10.0, y - 7.0), (x + 10.0, y + 7.0));
                svg.line("stop", (x, y - 7.0), (x, y + 7.0));
            });
        }
        if self.fit.travel.is_some() {
            if ends
                .iter()
                .any(|end| end.kind != EndKind::Clear && end.travel != end.at)
            {
                legend.area(svg, look::KEPT_CLEAR.text, "guard");
            }
            legend.area(svg, look::TRAVEL_BAR.text, "travel");
        }
        if has(EndKind::Stalled) {
            legend.area(svg, look::STALLED.text, "held");
        }
        legend.area(svg, look::RESIDUAL_SD.text, "band");
        for line in &self.choice {
            legend.row(svg, line);
        }
    }

    /// The same in words, for those who cannot see it.
    fn description(&self) -> String {
        let end = |word: &str, end: &End| match (end.kind, end.interval) {
            (EndKind::Contact, Some([low, high])) => format!(
                "At the {word} end a stop was found at {} deg, within {} to {}.",
                Rounded {
                    value: end.at,
                    u: end.u
                },
                Rounded { value: low, u: end.u },
                Rounded { value: high, u: end.u }
            ),
            (EndKind::Contact, None) => format!("At the {word} end a stop was found at {} deg.", number(end.at, 2)),
            (EndKind::Stalled, _) => {
                let short = end.short_at.unwrap_or(end.at);
                format!(
                    "At the {word} end the joint stalled between {} and {} deg.",
                    number(end.at.min(short), 2),
                    number(end.at.max(short), 2)
                )
            }
            (EndKind::Clear, _) => format!(
                "At the {word} end no stop was found, clear to {} deg.",
                number(end.at, 2)
            ),
        };
        let travel = self
            .fit
            .travel
            .map_or("No travel is left.".to_owned(), |[lower, upper]| {
                format!("Travel {} to {} deg.", number(lower, 2), number(upper, 2))
            });
        let model = self
            .words
            .as_ref()
            .map_or(String::new(), |words| format!(" The model is {words}."));
        let choice = match self.choice.as_slice() {
            [] => String::new(),
            lines => format!(" {}: {}.", look::LEAST_CRITERION.text, lines.join("; ")),
        };
        format!(
            "{} readings, measured value against drive angle, {} of them left out.{model} {} {} {travel} The strip below shows the \
             residuals, SD {} {}.{choice}",
            self.drive.len(),
            self.fit.rejected.len(),
            end("lower", &self.fit.lower),
            end("upper", &self.fit.upper),
            Statistic(self.fit.residual_sd),
            self.measured_unit
        )
    }
}

/// What of the readings stands in a picture.
#[derive(Debug, Clone, Copy, Default)]
struct Shown {
    left_out: bool,
    outside: bool,
}

impl Shown {
    const fn and(self, other: Self) -> Self {
        Self {
            left_out: self.left_out | other.left_out,
            outside: self.outside | other.outside,
        }
    }
}

/// The paper, and where its panels stand.
struct Panels {
    svg: Svg,
    x: Scale,
    top: f64,
    bottom: f64,
    /// The strip of residuals.
    rest: (f64, f64),
}

/// A stop: a heavy line at the contact, its interval as a band. Names of both ends keep to their side of the picture.
fn stop(panels: &mut Panels, end: &End) {
    let Panels {
        svg, x, top, bottom, ..
    } = panels;
    let place = x.at(end.at);
    let text = match (end.kind, end.short_at) {
        (EndKind::Contact, _) => {
            if let Some([low, high]) = end.interval {
                svg.rect("known", (x.at(low), *top), (x.at(high), *bottom));
            }
            svg.line("stop", (place, *top), (place, *bottom));
            look::STOP_AT
                .with(&[&Rounded {
                    value: end.at,
                    u: end.u,
                }])
                .to_string()
        }
        (_, Some(short)) => {
            // No stop is drawn, as none was placed: it lies somewhere in the hatched gap.
            let (low, high) = (end.at.min(short), end.at.max(short));
            svg.rect("held", (x.at(low), *top), (x.at(high), *bottom));
            look::STALLED_BETWEEN
                .with(&[&number(low, 2), &number(high, 2)])
                .to_string()
        }
        (_, None) => {
            svg.line("clear", (place, *top - 4.0), (place, *top + 8.0));
            look::CLEAR_TO.with(&[&number(end.at, 2)]).to_string()
        }
    };
    let middle = 0.5 * (LEFT + RIGHT);
    let anchor = match place {
        place if place < LEFT + 80.0 => "start",
        place if place > RIGHT - 80.0 => "end",
        _ => "middle",
    };
    let place = if anchor == "middle" {
        place
    } else {
        place.clamp(LEFT - 40.0, RIGHT).min(RIGHT)
    };
    let place = if place < middle { place.max(LEFT - 60.0) } else { place };
    svg.text("small", anchor, (place, *top - 8.0), &text);
}

/// Readings by side, and how they are called.
pub(crate) const READINGS: [(Approach, look::Label); 3] = [
    (Approach::Below, look::READING_BELOW),
    (Approach::Above, look::READING_ABOVE),
    (Approach::Unknown, look::READING),
];

/// A reading; the triangle points the way the drive went.
pub(crate) fn mark(svg: &mut Svg, at: (f64, f64), approach: Approach, size: f64) {
    match approach {
        Approach::Below => svg.point("below", at, size),
        Approach::Above => svg.point("above", at, size),
        Approach::Unknown => svg.point("reading", at, size - 0.5),
    }
}

fn cross(svg: &mut Svg, at: (f64, f64)) {
    svg.point("rejected", at, 7.0);
}

/// An arrow at the frame, towards what lies outside.
fn outside(svg: &mut Svg, (x, y): (f64, f64), is_above: bool) {
    let tip = if is_above { y - 1.0 } else { y + 1.0 };
    let base = if is_above { y + 11.0 } else { y - 11.0 };
    svg.polygon("outside", &[(x, tip), (x - 6.0, base), (x + 6.0, base)]);
}
