//! The picture of a joint's chain over its commands: drive angle and pulse width, how steeply, and what the sensor reads.

use crate::paint::{number, of_span, range};
use crate::plot::{READINGS, mark};
use crate::readings::Refitted;
use crate::svg::{Frame, Legend, Scale, Svg};
use elbowroom::fit::Approach;
use elbowroom::look::{self, Rounded};
use elbowroom::robot::{EvidenceKind, JointEntry};
use elbowroom::{Feedback, Joint, TransmissionRecord};

const WIDTH: f64 = 720.0;
const LEFT: f64 = 76.0;
const RIGHT: f64 = 636.0;
/// Room of the title.
const TITLE_ROOM: f64 = 26.0;
/// Top and bottom of the panels.
const DRIVE: (f64, f64) = (40.0, 260.0);
const SLOPE: (f64, f64) = (280.0, 330.0);
const READING: (f64, f64) = (350.0, 468.0);
const RESIDUAL: (f64, f64) = (488.0, 548.0);
/// Points of a line: finer than the paper.
const POINTS: u32 = 300;
/// A dead centre is drawn if it lies so near, in parts of the command range.
const NEAR: f64 = 0.3;

/// By this an earlier picture of a chain is known and may be replaced.
pub(crate) const MARK: &str = "aria-labelledby=\"chain-t\"";

/// Whether there is more to see than a straight line.
pub(crate) fn worth_drawing(joint: &Joint<f64>) -> bool {
    !joint.transmission().record().is_linear() || joint.feedback().is_some()
}

/// Draws a joint in a file of its own; `id` makes the picture's inner names unique.
pub(crate) fn draw(entry: &JointEntry, id: &str) -> String {
    draw_in(entry, Frame::Alone(id), None)
}

/// Draws a joint, with the readings behind its evidence where there are any.
pub(crate) fn draw_in(entry: &JointEntry, frame: Frame<'_>, taken: Option<&Refitted>) -> String {
    let mut chain = Chain::of(entry);
    if let Some(refitted) = taken {
        chain.measured = measured(entry, refitted);
        chain.sensed = refitted.feedback.as_ref().map(|_| sensed(entry.joint(), refitted));
    }
    chain.draw(frame)
}

/// Readings as commands and drive angles, those that were left out aside: where the measured value is the command, which holds if both
/// have one unit and half of the readings lie nearer to the map than this share of its range.
const NEAR_MAP: f64 = 0.02;

fn measured(entry: &JointEntry, refitted: &Refitted) -> Vec<(f64, f64, Approach)> {
    let joint = entry.joint();
    if entry.unit() != Some(refitted.measured_unit.as_str()) {
        return Vec::new();
    }
    let (drive, values) = (&refitted.columns.drive, &refitted.columns.measured);
    let side = |index| refitted.columns.side(index);
    let within = |drive: f64| joint.drive_range().contains(drive);
    let kept = drive.iter().zip(values).enumerate();
    let kept: Vec<(f64, f64, Approach)> = kept
        .filter(|(index, (drive, _))| !refitted.fit.is_left_out(*index) && within(**drive))
        .map(|(index, (&drive, &value))| (value, drive, side(index)))
        .collect();
    let mut apart: Vec<f64> = kept
        .iter()
        .map(|(value, drive, _)| (joint.command_from_drive(*drive) - value).abs())
        .collect();
    apart.sort_by(f64::total_cmp);
    let is_near = apart
        .get(apart.len() / 2)
        .is_some_and(|median| *median < NEAR_MAP * joint.command_range().width());
    if is_near { kept } else { Vec::new() }
}

/// What the sensor read, as commands, readings and what the map in the file leaves of the joint angle that was measured there.
struct Sensed {
    command: f64,
    reading: f64,
    residual: f64,
}

fn sensed(joint: &Joint<f64>, refitted: &Refitted) -> Vec<Sensed> {
    let (Some((readings, _)), Some(feedback)) = (&refitted.feedback, joint.feedback()) else {
        return Vec::new();
    };
    let all = readings.iter().zip(&refitted.columns.measured).enumerate();
    let kept = all.filter(|(index, _)| !refitted.fit.is_left_out(*index));
    let place = |(_, (&reading, &angle)): (usize, (&f64, &f64))| {
        // The command that stands for the angle that was measured.
        let command = joint.command_from_reading(feedback.reading(angle)).ok()?;
        let residual = angle - feedback.angle(reading);
        let is_number = command.is_finite() && residual.is_finite();
        is_number.then_some(Sensed {
            command,
            reading,
            residual,
        })
    };
    kept.filter_map(place).collect()
}

/// What is drawn, and where.
struct Chain<'a> {
    entry: &'a JointEntry,
    joint: &'a Joint<f64>,
    unit: String,
    /// Commands drawn and the slope of the transmission there, drive deg per command.
    places: Vec<f64>,
    slopes: Vec<f64>,
    x: Scale,
    /// Readings as commands and drive angles, with their sides.
    measured: Vec<(f64, f64, Approach)>,
    /// Readings of the sensor, if they were kept.
    sensed: Option<Vec<Sensed>>,
}

impl<'a> Chain<'a> {
    fn of(entry: &'a JointEntry) -> Self {
        let joint = entry.joint();
        let [lower, upper] = joint.command_range().ends();
        let at = |n: u32| lower + (upper - lower) * f64::from(n) / f64::from(POINTS);
        let places: Vec<f64> = (0..=POINTS).map(at).collect();
        let slopes = places
            .iter()
            .map(|&command| joint.transmission().drive_per_command(command))
            .collect();
        let dead = dead_centres(joint);
        let x = Scale::around(places.iter().copied().chain(dead), 0.03, (LEFT, RIGHT));
        let unit = entry.unit().unwrap_or("").to_owned();
        Self {
            entry,
            joint,
            unit,
            places,
            slopes,
            x,
            measured: Vec::new(),
            sensed: None,
        }
    }

    fn draw(&self, frame: Frame<'_>) -> String {
        let bottom = match (self.joint.feedback(), &self.sensed) {
            (None, _) => SLOPE.1,
            (Some(_), None) => READING.1,
            (Some(_), Some(_)) => RESIDUAL.1,
        };
        let mut svg = Svg::new(WIDTH, bottom + 60.0);
        svg.begin_below_title(TITLE_ROOM);
        if let Frame::Alone(_) = frame {
            svg.text("title", "start", (LEFT, 22.0), self.entry.name());
        }
        self.drive(&mut svg);
        self.slope(&mut svg);
        if let Some(feedback) = self.joint.feedback() {
            self.reading(&mut svg, feedback);
        }
        if let Some(sensed) = &self.sensed {
            self.residual(&mut svg, sensed);
        }
        self.axis(&mut svg, bottom);
        self.legend(&mut svg, bottom + 66.0);
        let title = format!("From command to drive angle: {}", self.entry.name());
        svg.finish(frame, &title, &self.description())
    }

    fn drive(&self, svg: &mut Svg) {
        let joint = self.joint;
        let (drive, travel) = (joint.drive_range(), joint.travel());
        let evidence = self.entry.evidence();
        let met = [evidence.lower, evidence.upper].map(|end| end.filter(|end| end.kind == EvidenceKind::Contact));
        let stops = met.iter().flatten().map(|end| end.at);
        let shown = drive.ends().into_iter().chain(travel.ends()).chain(stops);
        let y = Scale::around(shown, 0.06, (DRIVE.1, DRIVE.0));

        svg.rect("travel", (LEFT, y.at(travel.lower())), (RIGHT, y.at(travel.upper())));
        self.grid(svg, DRIVE, &y, look::DRIVE_ANGLE.text);
        let pulse = |angle| joint.servo().pulse_us(angle);
        self.other_side(svg, DRIVE, &y, look::PULSE.text, pulse, |width| {
            joint.servo().angle(width)
        });
        for (end, limit, is_lower) in [(met[0], travel.lower(), true), (met[1], travel.upper(), false)] {
            let Some(end) = end else { continue };
            svg.rect("guard", (LEFT, y.at(end.at)), (RIGHT, y.at(limit)));
            svg.line("stop", (LEFT, y.at(end.at)), (RIGHT, y.at(end.at)));
            // On the side where the line of the transmission is not.
            let free_is_right = is_lower != joint.direction().is_inverted();
            let (anchor, at) = if free_is_right {
                ("end", RIGHT - 6.0)
            } else {
                ("start", LEFT + 6.0)
            };
            let text = look::STOP_AT
                .with(&[&Rounded {
                    value: end.at,
                    u: end.u,
                }])
                .to_string();
            let inward = if is_lower { -6.0 } else { 14.0 };
            svg.text("small over", anchor, (at, y.at(limit) + inward), &text);
        }
        for at in dead_centres(joint) {
            svg.line("range", (self.x.at(at), DRIVE.0), (self.x.at(at), DRIVE.1));
            let text = look::DEAD_CENTRE.with(&[&number(at, 2)]).to_string();
            svg.text("small", "middle", (self.x.at(at), DRIVE.0 - 5.0), &text);
        }
        if !joint.transmission().record().is_linear() {
            let ends = joint.command_range().ends();
            let straight = ends.map(|command| (self.x.at(command), y.at(joint.transmission().drive(command))));
            svg.polyline("by-side", straight);
        }
        // What the motor is sent, solid; what it would be sent were there no travel, dashed.
        let unclamped = |&command: &f64| (self.x.at(command), y.at(joint.transmission().drive(command)));
        if self.is_clamped() {
            svg.polyline("range", self.places.iter().map(unclamped));
        }
        let line = |&command: &f64| Some((self.x.at(command), y.at(joint.drive(command).ok()?.value)));
        svg.polyline("model", self.places.iter().filter_map(line));
        if let TransmissionRecord::Curve { knots, .. } = joint.transmission().record() {
            for [command, drive] in knots {
                svg.point("knot", (self.x.at(command), y.at(drive)), 5.0);
            }
        }
        let (low, high) = y.values();
        for &(command, drive, side) in &self.measured {
            if self.within(command) && drive >= low && drive <= high {
                mark(svg, (self.x.at(command), y.at(drive)), side, 3.0);
            }
        }
        self.rest(svg, &y);
    }

    fn rest(&self, svg: &mut Svg, y: &Scale) {
        let rest = self.joint.rest();
        let at = self.x.at(rest);
        let on_line = y.at(self.joint.transmission().drive(rest));
        svg.line("range", (at, DRIVE.1), (at, on_line));
        svg.point("rest", (at, DRIVE.1 - 6.0), 6.0);
        svg.point("ring", (at, on_line), 4.0);
        // Away from the line and from the nearer edge.
        let is_right = at > 0.5 * (LEFT + RIGHT);
        let (anchor, beside) = if is_right { ("end", -9.0) } else { ("start", 9.0) };
        let below = is_right == self.joint.direction().is_inverted();
        // Within the panel, and then further from the line.
        let lowest = DRIVE.1 - 5.0;
        let place = if below {
            (on_line + 18.0).min(lowest)
        } else {
            on_line - 9.0
        };
        let beside = if place < lowest { beside } else { 2.0 * beside };
        let width = self.joint.command_range().width();
        let text = look::REST_AT.with(&[&of_span(rest, width, 3)]).to_string();
        svg.text("small over", anchor, (at + beside, place), &text);
    }

    /// How many degrees of the drive one unit of the command is worth.
    fn slope(&self, svg: &mut Svg) {
        let most = self.slopes.iter().fold(0.0f64, |most, slope| most.max(slope.abs()));
        let y = Scale::new((0.0, 1.15 * most), (SLOPE.1, SLOPE.0));
        svg.rungs(&y, 3.0, (LEFT, RIGHT));
        svg.line("axis", (LEFT, SLOPE.0), (LEFT, SLOPE.1));
        svg.line("axis", (LEFT, SLOPE.1), (RIGHT, SLOPE.1));
        svg.text_up((20.0, 0.5 * (SLOPE.0 + SLOPE.1)), look::SLOPE.text);
        let points = self.places.iter().zip(&self.slopes);
        svg.polyline(
            "model",
            points.map(|(&command, slope)| (self.x.at(command), y.at(slope.abs()))),
        );
    }

    fn reading(&self, svg: &mut Svg, feedback: &Feedback<f64>) {
        let readings = feedback.reading_range();
        let converter = feedback.converter_range();
        let shown = readings.ends().into_iter().chain(converter.into_iter().flatten());
        let y = Scale::around(shown, 0.05, (READING.1, READING.0));
        if let Some([low, high]) = feedback.rails() {
            svg.rect("known", (LEFT, READING.1), (RIGHT, y.at(low)));
            svg.rect("known", (LEFT, READING.0), (RIGHT, y.at(high)));
        }
        self.grid(svg, READING, &y, look::READING_AXIS.text);
        let (angle, back) = (|reading| feedback.angle(reading), |angle| feedback.reading(angle));
        self.other_side(svg, READING, &y, look::JOINT_ANGLE.text, angle, back);
        let at = |command: f64| Some((self.x.at(command), y.at(self.joint.reading_from_command(command).ok()?)));
        svg.polyline("model", self.places.iter().filter_map(|&command| at(command)));
        let (low, high) = y.values();
        for &Sensed { command, reading, .. } in self.sensed.iter().flatten() {
            if reading >= low && reading <= high && self.within(command) {
                svg.point("sensed", (self.x.at(command), y.at(reading)), 3.5);
            }
        }
        for &[reading, _] in feedback.record().knots.iter().flatten() {
            if let Ok(command) = self.joint.command_from_reading(reading) {
                svg.point("knot", (self.x.at(command), y.at(reading)), 5.0);
            }
        }
    }

    /// What the map of the sensor leaves of each joint angle that was measured.
    fn residual(&self, svg: &mut Svg, sensed: &[Sensed]) {
        let size = sensed.iter().fold(0.0f64, |size, one| size.max(one.residual.abs())) * 1.15;
        let size = if size > 0.0 { size } else { 1.0 };
        let y = Scale::new((-size, size), (RESIDUAL.1, RESIDUAL.0));
        let label = look::IN_UNIT.with(&[&look::RESIDUAL.text, &look::DEG.text]).to_string();
        for (tick, _) in self.x.marks_along(9.0) {
            svg.line("grid", (self.x.at(tick), RESIDUAL.0), (self.x.at(tick), RESIDUAL.1));
        }
        svg.rungs(&y, 3.0, (LEFT, RIGHT));
        svg.line("axis", (LEFT, RESIDUAL.1), (RIGHT, RESIDUAL.1));
        svg.line("axis", (LEFT, RESIDUAL.0), (LEFT, RESIDUAL.1));
        svg.line("axis", (LEFT, y.at(0.0)), (RIGHT, y.at(0.0)));
        svg.text_up((20.0, 0.5 * (RESIDUAL.0 + RESIDUAL.1)), &label);
        for one in sensed {
            if self.within(one.command) {
                svg.point("sensed", (self.x.at(one.command), y.at(one.residual)), 3.0);
            }
        }
    }
}

/// What the panels share.
impl Chain<'_> {
    /// A panel's lines with the numbers on its left.
    fn grid(&self, svg: &mut Svg, (top, bottom): (f64, f64), y: &Scale, label: &str) {
        for (tick, _) in self.x.marks_along(9.0) {
            svg.line("grid", (self.x.at(tick), top), (self.x.at(tick), bottom));
        }
        svg.rungs(y, (bottom - top) / 40.0, (LEFT, RIGHT));
        svg.line("axis", (LEFT, bottom), (RIGHT, bottom));
        svg.line("axis", (LEFT, top), (LEFT, bottom));
        svg.text_up((20.0, 0.5 * (top + bottom)), label);
    }

    fn within(&self, command: f64) -> bool {
        let (low, high) = self.x.values();
        command >= low && command <= high
    }

    /// Whether the travel cuts off some commands.
    fn is_clamped(&self) -> bool {
        let clamped = |&command: &f64| self.joint.drive(command).is_ok_and(|drive| drive.clamped.travel);
        self.places.iter().any(clamped)
    }

    /// What the numbers on the left become, on the right, at round values too.
    fn other_side(
        &self,
        svg: &mut Svg,
        (top, bottom): (f64, f64),
        y: &Scale,
        label: &str,
        onward: impl Fn(f64) -> f64,
        back: impl Fn(f64) -> f64,
    ) {
        let (low, high) = y.values();
        let (a, b) = (onward(low), onward(high));
        let scale = Scale::new((a.min(b), a.max(b)), (top, bottom));
        for (tick, text) in scale.marks((bottom - top) / 40.0) {
            let at = y.at(back(tick));
            if at < top - 0.5 || at > bottom + 0.5 {
                continue;
            }
            svg.line("axis", (RIGHT, at), (RIGHT + 5.0, at));
            svg.text("small", "start", (RIGHT + 9.0, at + 5.0), &text);
        }
        svg.line("axis", (RIGHT, top), (RIGHT, bottom));
        svg.text_up((WIDTH - 8.0, 0.5 * (top + bottom)), label);
    }

    fn axis(&self, svg: &mut Svg, bottom: f64) {
        for (tick, text) in self.x.marks_along(9.0) {
            let at = self.x.at(tick);
            svg.line("axis", (at, bottom), (at, bottom + 5.0));
            svg.text("small", "middle", (at, bottom + 19.0), &text);
        }
        let command = if self.unit.is_empty() {
            look::COMMAND.text.to_owned()
        } else {
            look::COMMAND_IN.with(&[&self.unit]).to_string()
        };
        svg.text("", "middle", (0.5 * (LEFT + RIGHT), bottom + 40.0), &command);
    }

    fn legend(&self, svg: &mut Svg, first: f64) {
        let mut legend = Legend::new(LEFT - 60.0, WIDTH, first);
        let record = self.joint.transmission().record();
        let model = if self.is_clamped() {
            look::CLAMPED.with(&[&record.kind()]).to_string()
        } else {
            record.kind().to_owned()
        };
        legend.line(svg, &model, "model");
        if self.is_clamped() {
            legend.line(svg, look::UNCLAMPED.text, "range");
        }
        if matches!(record, TransmissionRecord::Curve { .. })
            || self.joint.feedback().is_some_and(|map| map.record().knots.is_some())
        {
            legend.item(svg, look::KNOT.text, |svg, at| svg.point("knot", at, 5.0));
        }
        if !record.is_linear() {
            legend.line(svg, look::STRAIGHT_LINE.text, "by-side");
        }
        legend.area(svg, look::TRAVEL_BAR.text, "travel");
        let evidence = self.entry.evidence();
        let mut ends = [evidence.lower, evidence.upper].into_iter().flatten();
        if ends.any(|end| end.kind == EvidenceKind::Contact) {
            legend.line(svg, look::STOP_LINE.text, "stop");
            legend.area(svg, look::KEPT_CLEAR.text, "guard");
        }
        if self.joint.feedback().is_some_and(|feedback| feedback.rails().is_some()) {
            legend.area(svg, look::WIRE_FAULT.text, "known");
        }
        for (side, label) in READINGS {
            if self.measured.iter().any(|(_, _, of)| *of == side) {
                legend.item(svg, label.text, |svg, at| mark(svg, at, side, 3.5));
            }
        }
        if self.sensed.is_some() {
            legend.item(svg, look::READING_SENSED.text, |svg, at| svg.point("sensed", at, 3.5));
        }
        legend.item(svg, &look::SLOPE_PER.with(&[&self.one()]).to_string(), |_, _| ());
    }

    /// The same in words, for those who cannot see it.
    fn description(&self) -> String {
        let joint = self.joint;
        let [command, drive, travel] =
            [joint.command_range(), joint.drive_range(), joint.travel()].map(|span| range(span.ends()));
        let inverted = if joint.direction().is_inverted() {
            ", inverted"
        } else {
            ""
        };
        let slopes = self.slopes.iter().map(|slope| slope.abs());
        let (least, most) = slopes.fold((f64::INFINITY, 0.0f64), |(least, most), slope| {
            (least.min(slope), most.max(slope))
        });
        let slope = if joint.transmission().record().is_linear() {
            number(most, 3)
        } else {
            format!("{} to {}", number(least, 3), number(most, 3))
        };
        let feedback = joint.feedback().map_or(String::new(), |feedback| {
            let (readings, angles) = (feedback.reading_range(), feedback.angle_range());
            format!(
                " Its sensor reads {} from {} to {} deg of the joint.",
                range(readings.ends()),
                number(feedback.angle(readings.lower()), 2),
                number(angles.upper() + angles.lower() - feedback.angle(readings.lower()), 2)
            )
        });
        format!(
            "Commands {command} {} go to drive {drive} deg{inverted} ({}), {slope} deg of drive per {}; travel {travel} deg; \
             rest {}.{feedback}",
            self.unit,
            joint.transmission().kind(),
            self.one(),
            of_span(joint.rest(), joint.command_range().width(), 3)
        )
    }

    fn one(&self) -> &str {
        if self.unit.is_empty() { "command" } else { &self.unit }
    }
}

/// The dead centres that lie near the command range.
fn dead_centres(joint: &Joint<f64>) -> Vec<f64> {
    if joint.transmission().record().mechanism().is_none() {
        return Vec::new();
    }
    let [lower, upper] = joint.command_range().ends();
    let room = NEAR * (upper - lower);
    let near = |at: &f64| *at >= lower - room && *at <= upper + room;
    joint.valid_range().into_iter().filter(near).collect()
}
