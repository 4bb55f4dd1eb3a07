//! The picture of a fit: readings by direction, the model, stops with their intervals, guard and travel.

use crate::paint::number;
use crate::svg::{Scale, Svg};
use elbowroom::fit::{Approach, End, EndKind, LimitFit};

/// What is drawn.
pub(crate) struct FitPicture<'a> {
    pub(crate) name: &'a str,
    pub(crate) drive: &'a [f64],
    pub(crate) measured: &'a [f64],
    pub(crate) approach: Option<&'a [Approach]>,
    pub(crate) measured_unit: &'a str,
    pub(crate) fit: &'a LimitFit,
    /// The measured value expected at a drive angle.
    pub(crate) model: &'a dyn Fn(f64) -> f64,
    /// Knots of the model, if it is a curve.
    pub(crate) knots: &'a [[f64; 2]],
    /// What the model is between the stops, if it is no line.
    pub(crate) words: Option<String>,
}

const WIDTH: f64 = 720.0;
const HEIGHT: f64 = 556.0;
/// A third row of the legend, where an end stalled.
const LEGEND_ROW: f64 = 26.0;
/// The plotting area.
const LEFT: f64 = 66.0;
const RIGHT: f64 = 704.0;
const TOP: f64 = 40.0;
const BOTTOM: f64 = 330.0;
/// The strip of residuals below it, on the same drive angles.
const LEFT_OVER: (f64, f64) = (350.0, 416.0);
/// Points of the model's line: finer than the paper.
const MODEL_POINTS: u32 = 300;

impl FitPicture<'_> {
    pub(crate) fn draw(&self) -> String {
        let ends = [&self.fit.lower, &self.fit.upper];
        let edges = ends.iter().flat_map(|end| end.interval.into_iter().flatten());
        let x = Scale::around(self.drive.iter().copied().chain(edges), 0.04, (LEFT, RIGHT));
        let y = Scale::around(self.measured.iter().copied(), 0.08, (BOTTOM, TOP));
        let is_stalled = ends.iter().any(|end| end.short_at.is_some());
        let mut svg = Svg::new(WIDTH, if is_stalled { HEIGHT + LEGEND_ROW } else { HEIGHT });
        svg.text("title", "start", (LEFT, 22.0), self.name);
        axes(&mut svg, &x, &y, self.measured_unit);
        self.left_over(&mut svg, &x);
        for end in ends {
            stop(&mut svg, &x, end);
        }
        self.model(&mut svg, &x, &y);
        self.readings(&mut svg, &x, &y);
        self.knots(&mut svg, &x, &y);
        self.travel(&mut svg, &x);
        legend(&mut svg, is_stalled);
        svg.finish("fit", &format!("Limit fit of {}", self.name), &self.description())
    }

    fn model(&self, svg: &mut Svg, x: &Scale, y: &Scale) {
        let within = || self.drive.iter().copied().filter(|&drive| !self.is_held(drive));
        let low = within().fold(f64::INFINITY, f64::min);
        let high = within().fold(f64::NEG_INFINITY, f64::max);
        let at = |n: u32| low + (high - low) * f64::from(n) / f64::from(MODEL_POINTS);
        let mut places: Vec<f64> = (0..=MODEL_POINTS).map(at).collect();
        // The knees themselves, so that they are drawn sharp.
        places.extend(
            [&self.fit.lower, &self.fit.upper]
                .iter()
                .filter(|end| end.kind == EndKind::Contact)
                .map(|end| end.at),
        );
        places.sort_by(f64::total_cmp);
        svg.polyline(
            "model",
            places.iter().map(|&drive| (x.at(drive), y.at((self.model)(drive)))),
        );
    }

    /// Whether a drive angle lies beyond an end at which the joint stalled: no model holds there.
    fn is_held(&self, drive: f64) -> bool {
        let beyond = |end: &End| {
            end.short_at
                .is_some_and(|short| (drive - end.at) * (short - end.at) > 0.0)
        };
        beyond(&self.fit.lower) || beyond(&self.fit.upper)
    }

    /// What the model leaves of each reading.
    fn left_over(&self, svg: &mut Svg, x: &Scale) {
        let (top, bottom) = LEFT_OVER;
        let residual = |(&drive, &measured): (&f64, &f64)| measured - (self.model)(drive);
        let residuals: Vec<f64> = self.drive.iter().zip(self.measured).map(residual).collect();
        let left_out = |index: usize| self.fit.rejected.iter().any(|rejected| rejected.index == index);
        let kept = self.drive.iter().zip(&residuals).enumerate();
        let kept = kept.filter(|(index, (drive, _))| !left_out(*index) && !self.is_held(**drive));
        let size = kept.fold(0.0f64, |size, (_, (_, value))| size.max(value.abs())) * 1.15;
        let size = if size > 0.0 { size } else { 1.0 };
        let y = Scale::new((-size, size), (bottom, top));
        let decimals = y.ticks(2.0).1 + 1;
        for value in [-size, 0.0, size] {
            let class = if value == 0.0 { "axis" } else { "grid" };
            svg.line(class, (LEFT, y.at(value)), (RIGHT, y.at(value)));
            // Zero needs its line alone; its figure would crowd the others.
            if value != 0.0 {
                svg.text(
                    "small",
                    "end",
                    (LEFT - 6.0, y.at(value) + 4.0),
                    &format!("{value:+.decimals$}"),
                );
            }
        }
        svg.line("axis", (LEFT, top), (LEFT, bottom));
        svg.text_up((18.0, 0.5 * (top + bottom)), "left over");
        for (index, (&drive, &value)) in self.drive.iter().zip(&residuals).enumerate() {
            let at = (x.at(drive), y.at(value.clamp(-size, size)));
            if left_out(index) {
                cross(svg, at);
            } else {
                svg.line("stem", (at.0, y.at(0.0)), at);
                svg.circle("left", at, 2.5);
            }
        }
    }

    fn readings(&self, svg: &mut Svg, x: &Scale, y: &Scale) {
        for (index, (&drive, &measured)) in self.drive.iter().zip(self.measured).enumerate() {
            let at = (x.at(drive), y.at(measured));
            let approach = self
                .approach
                .and_then(|all| all.get(index))
                .copied()
                .unwrap_or_default();
            mark(svg, at, approach);
            if self.fit.rejected.iter().any(|rejected| rejected.index == index) {
                cross(svg, at);
            }
        }
    }

    fn knots(&self, svg: &mut Svg, x: &Scale, y: &Scale) {
        for &[drive, measured] in self.knots {
            svg.knot((x.at(drive), y.at(measured)));
        }
    }

    fn travel(&self, svg: &mut Svg, x: &Scale) {
        let Some([lower, upper]) = self.fit.travel else {
            svg.text("", "start", (LEFT, LEFT_OVER.1 + 58.0), "no travel is left");
            return;
        };
        let (top, bottom) = (LEFT_OVER.1 + 44.0, LEFT_OVER.1 + 62.0);
        svg.rect("travel", (x.at(lower), top), (x.at(upper), bottom));
        let text = format!("travel {} to {} deg", number(lower, 2), number(upper, 2));
        svg.text(
            "small",
            "middle",
            (0.5 * (x.at(lower) + x.at(upper)), bottom - 5.0),
            &text,
        );
        for end in [&self.fit.lower, &self.fit.upper] {
            if let Some(short) = end.short_at {
                svg.rect("held", (x.at(end.at), top), (x.at(short), bottom));
            }
            if end.kind != EndKind::Clear {
                svg.rect("guard", (x.at(end.at), top), (x.at(end.travel), bottom));
            }
        }
    }

    /// The same in words, for those who cannot see it.
    fn description(&self) -> String {
        let end = |word: &str, end: &End| match (end.kind, end.interval) {
            (EndKind::Contact, Some([low, high])) => format!(
                "At the {word} end a stop was met at {} deg, within {} to {}.",
                number(end.at, 2),
                number(low, 2),
                number(high, 2)
            ),
            (EndKind::Contact, None) => format!("At the {word} end a stop was met at {} deg.", number(end.at, 2)),
            (EndKind::Stalled, _) => {
                let short = end.short_at.unwrap_or(end.at);
                format!(
                    "At the {word} end the joint stalled between {} and {} deg.",
                    number(end.at.min(short), 2),
                    number(end.at.max(short), 2)
                )
            }
            (EndKind::Clear, _) => format!("At the {word} end {} deg was clear and no stop was found.", number(end.at, 2)),
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
        format!(
            "{} readings of measured against drive angle, {} of them left out.{model} {} {} {travel}",
            self.drive.len(),
            self.fit.rejected.len(),
            end("lower", &self.fit.lower),
            end("upper", &self.fit.upper)
        )
    }
}

fn axes(svg: &mut Svg, x: &Scale, y: &Scale, unit: &str) {
    let (ticks, decimals) = x.ticks(9.0);
    for tick in ticks {
        svg.line("grid", (x.at(tick), TOP), (x.at(tick), BOTTOM));
        svg.line("grid", (x.at(tick), LEFT_OVER.0), (x.at(tick), LEFT_OVER.1));
        svg.text(
            "small",
            "middle",
            (x.at(tick), LEFT_OVER.1 + 16.0),
            &format!("{tick:.decimals$}"),
        );
    }
    svg.rungs(y, 6.0, (LEFT, RIGHT));
    svg.line("axis", (LEFT, BOTTOM), (RIGHT, BOTTOM));
    svg.line("axis", (LEFT, TOP), (LEFT, BOTTOM));
    svg.text(
        "",
        "middle",
        (0.5 * (LEFT + RIGHT), LEFT_OVER.1 + 34.0),
        "drive angle, deg",
    );
    svg.text_up((18.0, 0.5 * (TOP + BOTTOM)), &format!("measured, {unit}"));
}

/// A stop: a heavy line at the contact, its interval as a band.
fn stop(svg: &mut Svg, x: &Scale, end: &End) {
    if end.kind == EndKind::Contact {
        if let Some([low, high]) = end.interval {
            svg.rect("known", (x.at(low), TOP), (x.at(high), BOTTOM));
        }
        svg.line("stop", (x.at(end.at), TOP), (x.at(end.at), BOTTOM));
        svg.text(
            "small",
            "middle",
            (x.at(end.at), TOP - 5.0),
            &format!("stop {}", number(end.at, 2)),
        );
    } else if let Some(short) = end.short_at {
        // No stop is drawn, as none was placed: it lies somewhere in the hatched gap.
        let (low, high) = (end.at.min(short), end.at.max(short));
        svg.rect("held", (x.at(low), TOP), (x.at(high), BOTTOM));
        svg.text(
            "small",
            "middle",
            (0.5 * (x.at(low) + x.at(high)), TOP - 5.0),
            &format!("stalled {} to {}", number(low, 2), number(high, 2)),
        );
    } else {
        svg.text(
            "small",
            "middle",
            (x.at(end.at), TOP - 5.0),
            &format!("clear {}", number(end.at, 2)),
        );
    }
}

/// A reading; the triangle points the way the drive went.
fn mark(svg: &mut Svg, (x, y): (f64, f64), approach: Approach) {
    match approach {
        Approach::Below => svg.polygon("reading", &[(x - 4.5, y - 4.5), (x + 4.5, y), (x - 4.5, y + 4.5)]),
        Approach::Above => svg.polygon("reading", &[(x + 4.5, y - 4.5), (x - 4.5, y), (x + 4.5, y + 4.5)]),
        Approach::Unknown => svg.circle("reading", (x, y), 4.0),
    }
}

fn cross(svg: &mut Svg, (x, y): (f64, f64)) {
    svg.line("rejected", (x - 7.0, y - 7.0), (x + 7.0, y + 7.0));
    svg.line("rejected", (x - 7.0, y + 7.0), (x + 7.0, y - 7.0));
}

fn legend(svg: &mut Svg, is_stalled: bool) {
    let (first, second, third) = (HEIGHT - 44.0, HEIGHT - 18.0, HEIGHT - 18.0 + LEGEND_ROW);
    let mut item = |place: (f64, f64), text: &str, draw: &dyn Fn(&mut Svg, (f64, f64))| {
        draw(svg, (place.0, place.1 - 4.0));
        svg.text("small", "start", (place.0 + 22.0, place.1), text);
    };
    item((LEFT + 8.0, first), "reached with drive rising", &|svg, at| {
        mark(svg, at, Approach::Below)
    });
    item((LEFT + 200.0, first), "with drive falling", &|svg, at| {
        mark(svg, at, Approach::Above)
    });
    item((LEFT + 350.0, first), "side not noted", &|svg, at| {
        mark(svg, at, Approach::Unknown)
    });
    item((LEFT + 480.0, first), "left out as misreading", &cross);
    item((LEFT + 8.0, second), "model, with a curve's knots", &|svg, (x, y)| {
        svg.line("model", (x - 8.0, y), (x + 12.0, y));
        svg.knot((x + 2.0, y));
    });
    item((LEFT + 200.0, second), "stop and its interval", &|svg, (x, y)| {
        svg.rect("known", (x - 8.0, y - 7.0), (x + 12.0, y + 7.0));
        svg.line("stop", (x + 2.0, y - 7.0), (x + 2.0, y + 7.0));
    });
    item((LEFT + 350.0, second), "kept clear", &|svg, (x, y)| {
        svg.rect("guard", (x - 8.0, y - 6.0), (x + 12.0, y + 6.0))
    });
    item((LEFT + 480.0, second), "travel", &|svg, (x, y)| {
        svg.rect("travel", (x - 8.0, y - 6.0), (x + 12.0, y + 6.0))
    });
    if is_stalled {
        let text =
            "stalled: something holds the joint between the last reading that follows and the first that falls short";
        item((LEFT + 8.0, third), text, &|svg, (x, y)| {
            svg.rect("held", (x - 8.0, y - 6.0), (x + 12.0, y + 6.0))
        });
    }
}
