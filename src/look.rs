//! One look for all pictures: colours, marks, lines, areas, words and digits, each told once for the shell's pictures, its report and
//! Python's plots.
//!
//! Every meaning has a mark or a word besides its colour.

use core::fmt::{self, Display};

mod digits;

#[cfg(feature = "std")]
pub(crate) use digits::Given;
pub(crate) use digits::Trimmed;
pub use digits::{Rounded, RoundedWithU, Statistic};

/// A colour on light paper and on a dark screen, as `#rrggbb`.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Colour {
    /// What it means.
    pub name: &'static str,
    /// On light paper.
    pub light: &'static str,
    /// On a dark screen.
    pub dark: &'static str,
}

/// Words beside a mark or at an axis; `{}` stands where a value belongs.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Label {
    /// What it stands for.
    pub name: &'static str,
    /// How it reads.
    pub text: &'static str,
}

impl Label {
    /// The words with values in their places, in order; a place without a value stays as it is.
    ///
    /// ```
    /// use elbowroom::look;
    /// let words = look::STALLED_BETWEEN.with(&[&78.0, &84.5]);
    /// assert_eq!(words.to_string(), "stalled 78 to 84.5");
    /// ```
    pub const fn with<'a>(self, values: &'a [&'a dyn Display]) -> Filled<'a> {
        Filled { label: self, values }
    }
}

/// A label with its values, to be written by its [`Display`].
#[derive(Clone, Copy)]
pub struct Filled<'a> {
    label: Label,
    values: &'a [&'a dyn Display],
}

impl Display for Filled<'_> {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let mut values = self.values.iter();
        let mut parts = self.label.text.split("{}");
        f.write_str(parts.next().unwrap_or_default())?;
        for part in parts {
            match values.next() {
                Some(value) => value.fmt(f)?,
                None => f.write_str("{}")?,
            }
            f.write_str(part)?;
        }
        Ok(())
    }
}

impl fmt::Debug for Filled<'_> {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "\"{self}\"")
    }
}

/// The shape of a mark.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
#[non_exhaustive]
pub enum Shape {
    /// A round one.
    Circle,
    /// An upright square.
    Square,
    /// A plus sign with arms of some width.
    Plus,
    /// Two strokes across one another.
    Cross,
    /// A triangle that points the way of rising drive angles.
    Right,
    /// A triangle that points the way of falling drive angles.
    Left,
    /// A triangle that points up.
    Up,
}

impl Shape {
    /// Its name, in kebab-case.
    pub const fn as_str(self) -> &'static str {
        match self {
            Self::Circle => "circle",
            Self::Square => "square",
            Self::Plus => "plus",
            Self::Cross => "cross",
            Self::Right => "right",
            Self::Left => "left",
            Self::Up => "up",
        }
    }
}

/// What is inside the outline of a mark.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
#[non_exhaustive]
pub enum Inside {
    /// What lies behind it.
    Nothing,
    /// The colour of the paper.
    Paper,
    /// Its own colour.
    Full,
}

impl Inside {
    /// Its name, in kebab-case.
    pub const fn as_str(self) -> &'static str {
        match self {
            Self::Nothing => "nothing",
            Self::Paper => "paper",
            Self::Full => "full",
        }
    }
}

/// How a point is drawn.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Mark {
    /// What it stands for.
    pub name: &'static str,
    /// Its shape.
    pub shape: Shape,
    /// Its colour.
    pub colour: Colour,
    /// What is inside.
    pub inside: Inside,
    /// Width of its outline, in parts of a picture 720 wide.
    pub width: f64,
}

/// How a line is drawn; widths in parts of a picture 720 wide.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Line {
    /// What it stands for.
    pub name: &'static str,
    /// Its colour.
    pub colour: Colour,
    /// Its width.
    pub width: f64,
    /// Lengths of dash and gap; empty where it is solid.
    pub dashes: &'static [f64],
}

/// What fills an area.
#[derive(Debug, Clone, Copy, PartialEq)]
#[non_exhaustive]
pub enum Filling {
    /// Its colour, of so much opacity.
    Tint(f64),
    /// Strokes that rise to the right, on paper.
    Rising,
    /// Strokes that fall to the right, on paper.
    Falling,
}

/// How an area is drawn; widths in parts of a picture 720 wide.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Area {
    /// What it stands for.
    pub name: &'static str,
    /// Its colour.
    pub colour: Colour,
    /// What fills it.
    pub filling: Filling,
    /// Width of its edge; 0 where it has none.
    pub edge: f64,
}

macro_rules! colours {
    ($($constant:ident $name:literal $light:literal $dark:literal $says:literal)*) => {
        $(
            #[doc = $says]
            pub const $constant: Colour = Colour { name: $name, light: $light, dark: $dark };
        )*
        /// Every colour.
        pub const COLOURS: &[Colour] = &[$($constant),*];
    };
}

macro_rules! labels {
    ($($constant:ident $name:literal $text:literal)*) => {
        $(
            #[doc = concat!("\"", $text, "\".")]
            pub const $constant: Label = Label { name: $name, text: $text };
        )*
        /// Every label.
        pub const LABELS: &[Label] = &[$($constant),*];
    };
}

colours! {
    PAPER "paper" "#fbf9f3" "#1b2023" "What is drawn on."
    CARD "card" "#ffffff" "#242a2e" "What stands out from the paper."
    GRID "grid" "#d9d4c7" "#414a4e" "Lines at round values."
    QUIET "quiet" "#5a6468" "#a9b2b5" "What only helps to read the rest."
    INK "ink" "#22282b" "#ece8dd" "Texts, axes, the model."
    TRAVEL "travel" "#039176" "#2e8d8d" "What the joint may use."
    GUARD "guard" "#b07800" "#aea40a" "What is kept clear."
    STOP "stop" "#7c1e00" "#c84f40" "What holds the joint, and its interval; readings left out."
    BELOW "below" "#1b31db" "#977bff" "Readings reached with the drive rising, and from no noted side."
    ABOVE "above" "#6d2292" "#fe9df3" "Readings reached with the drive falling."
}

/// Colours that carry a meaning beside one another, told apart by readers of every colour vision.
pub const MEANINGS: &[Colour] = &[INK, TRAVEL, GUARD, STOP, BELOW, ABOVE];

/// How points are drawn.
pub const MARKS: &[Mark] = &[
    mark("below", Shape::Right, BELOW, Inside::Paper, 1.6),
    mark("above", Shape::Left, ABOVE, Inside::Full, 1.6),
    mark("reading", Shape::Circle, BELOW, Inside::Paper, 1.6),
    mark("sensed", Shape::Circle, BELOW, Inside::Full, 0.0),
    mark("rejected", Shape::Cross, STOP, Inside::Nothing, 2.2),
    mark("outside", Shape::Up, STOP, Inside::Full, 0.0),
    mark("knot", Shape::Square, INK, Inside::Nothing, 1.6),
    mark("held-from", Shape::Square, STOP, Inside::Paper, 1.6),
    mark("rest", Shape::Up, INK, Inside::Full, 0.0),
    mark("ring", Shape::Circle, INK, Inside::Paper, 1.5),
    mark("dot", Shape::Circle, INK, Inside::Full, 0.0),
    mark("first-move", Shape::Plus, ABOVE, Inside::Full, 0.0),
    mark("search", Shape::Circle, GUARD, Inside::Full, 0.0),
    mark("sweep", Shape::Circle, BELOW, Inside::Full, 0.0),
];

/// How lines are drawn.
pub const LINES: &[Line] = &[
    line("axis", INK, 1.0, &[]),
    line("grid", GRID, 1.0, &[]),
    line("model", INK, 2.0, &[]),
    line("by-side", INK, 1.0, &[2.0, 3.0]),
    line("range", QUIET, 1.2, &[5.0, 4.0]),
    line("stop", STOP, 3.0, &[]),
    line("clear", INK, 1.5, &[]),
    line("trend", INK, 1.2, &[]),
    line("contact", INK, 1.6, &[8.0, 4.0]),
    line("obstacle", GUARD, 2.2, &[2.0, 2.0]),
];

/// How areas are drawn.
pub const AREAS: &[Area] = &[
    area("travel", TRAVEL, Filling::Tint(0.3), 1.5),
    area("servo", GRID, Filling::Tint(0.5), 0.0),
    area("guard", GUARD, Filling::Rising, 1.0),
    area("held", STOP, Filling::Falling, 1.0),
    area("known", STOP, Filling::Tint(0.25), 0.0),
    area("band", INK, Filling::Tint(0.08), 0.0),
];

const fn mark(name: &'static str, shape: Shape, colour: Colour, inside: Inside, width: f64) -> Mark {
    Mark {
        name,
        shape,
        colour,
        inside,
        width,
    }
}

const fn line(name: &'static str, colour: Colour, width: f64, dashes: &'static [f64]) -> Line {
    Line {
        name,
        colour,
        width,
        dashes,
    }
}

const fn area(name: &'static str, colour: Colour, filling: Filling, edge: f64) -> Area {
    Area {
        name,
        colour,
        filling,
        edge,
    }
}

labels! {
    DRIVE_ANGLE "drive-angle" "drive angle, deg"
    PULSE "pulse" "pulse width, \u{b5}s"
    JOINT_ANGLE "joint-angle" "joint angle, deg"
    COMMAND "command" "command"
    COMMAND_IN "command-in" "command, {}"
    MEASURED "measured" "measured"
    RESIDUAL "residual" "residual"
    READING_AXIS "reading-axis" "reading"
    IN_UNIT "in-unit" "{}, {}"
    READING_BELOW "reading-below" "reading, drive rising"
    READING_ABOVE "reading-above" "reading, drive falling"
    READING "reading" "reading, side not noted"
    READING_SENSED "reading-sensed" "reading of the sensor"
    READING_STAGE "reading-stage" "reading, {}"
    LEFT_OUT "left-out" "left out as misreading"
    OUTSIDE "outside" "outside the frame"
    MODEL "model" "model"
    MODEL_BY_SIDE "model-by-side" "model of each side"
    MODEL_SD "model-sd" "{}, residual SD {}"
    STRAIGHT "straight" "straight"
    CURVE_THROUGH "curve-through" "curve through {} knots"
    STRAIGHT_LINE "straight-line" "straight from end to end"
    CANDIDATE "candidate" "{}: {} parameters, residual SD {}, criterion {}"
    CHOSEN "chosen" "{} (chosen)"
    LEAST_CRITERION "least-criterion" "least criterion is best"
    RESIDUAL_SD "residual-sd" "\u{b1} residual SD"
    KNOT "knot" "knot of the curve"
    KNOT_U "knot-u" "knot of the curve, \u{b1} 2 standard uncertainties"
    TWO_U "two-u" "\u{b1} 2 standard uncertainties"
    STOP_LINE "stop-line" "stop"
    STOP_FOUND "stop-found" "stop, and its interval"
    STOP_AT "stop-at" "stop {}"
    STOP_HERE "stop-here" "stop found"
    KEPT_CLEAR "kept-clear" "guard"
    STALLED "stalled" "stalled: something holds the joint in between"
    STALLED_BETWEEN "stalled-between" "stalled {} to {}"
    STALLED_HERE "stalled-here" "stalled from here"
    NO_STOP "no-stop" "no stop found"
    CLEAR_TO "clear-to" "no stop found, clear to {}"
    CLEAR_HERE "clear-here" "no stop found, clear to here"
    DECLARED "declared" "declared"
    TRAVEL_BAR "travel-bar" "travel"
    TRAVEL_OF "travel-of" "travel {} to {} deg"
    NO_TRAVEL "no-travel" "no travel is left"
    DRIVE_RANGE "drive-range" "drive range of the commands"
    SERVO_ANGLE "servo-angle" "servo's angles"
    REST "rest" "rest"
    REST_AT "rest-at" "rest {}"
    CLAMPED "clamped" "{}, clamped to the travel"
    UNCLAMPED "unclamped" "before clamping"
    SLOPE "slope" "slope"
    SLOPE_PER "slope-per" "slope: deg of drive per {}"
    DEAD_CENTRE "dead-centre" "dead centre {}"
    WIRE_FAULT "wire-fault" "a broken or shorted wire"
    LOST_MOTION "lost-motion" "lost motion"
    OBSTACLE "obstacle" "true obstacle"
    CONTACT "contact" "true contact"
    POSITIONING "positioning" "A {}, E {}, R {}, B {} deg"
    DEG "deg" "deg"
    LOWER_END "lower-end" "lower end"
    UPPER_END "upper-end" "upper end"
    CALIBRATIONS "calibrations" "{}: calibrations"
    CALIBRATION_DAY "calibration-day" "day of the calibration"
    NOT_KNOWN "not-known" "not known"
    TARGET "target" "target, deg"
    DEVIATION "deviation" "deviation, deg"
    RUN_FROM "run-from" "run from {}"
    MEAN_FROM "mean-from" "mean from {}"
    TWO_S "two-s" "mean \u{b1} 2 standard deviations"
    REHEARSED "rehearsed" "{}, seed {}: found {}"
    BROUGHT_UP "brought-up" "bring-up: {}"
    HEALTHY "healthy" "healthy"
    MECHANISM "mechanism" "the mechanism, in the unit of its lengths"
    PIVOT_HINGE "pivot-hinge" "hinge"
    PIVOT_ACTUATOR "pivot-actuator" "actuator"
    PIVOT_SERVO "pivot-servo" "servo"
    PIVOT_JOINT "pivot-joint" "joint"
    PIVOT_DRUM "pivot-drum" "drum"
    PIVOT_PULLEY "pivot-pulley" "pulley"
    EARLIER "earlier" "earlier"
    LATER "later" "later"
    CHANGE "change" "change, in units of the smallest that matters"
    AT_LEAST "at-least" "at least {}"
    QUANTITY_OFFSET "quantity-offset" "offset, drive deg"
    QUANTITY_SCALE "quantity-scale" "scale, share"
    QUANTITY_BEND "quantity-bend" "bend, measured"
    QUANTITY_LOWER "quantity-lower" "lower end, drive deg"
    QUANTITY_UPPER "quantity-upper" "upper end, drive deg"
    QUANTITY_LOST_MOTION "quantity-lost-motion" "lost motion, measured"
    VERDICT_SAME "verdict-same" "same"
    VERDICT_CHANGED "verdict-changed" "changed"
    VERDICT_NEGLIGIBLE "verdict-negligible" "too small to matter"
    VERDICT_UNTESTED "verdict-untested" "not tested"
    VERDICT_NOT_COMPARABLE "verdict-not-comparable" "not comparable"
    VERDICT_OTHER "verdict-other" "no change that counts"
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::string::ToString;
    use std::vec::Vec;

    /// What readers of one kind of colour vision see of linear red, green and blue. Source: G. Machado, M. Oliveira, L. Fernandes,
    /// "A Physiologically-based Model for Simulation of Color Vision Deficiency" (2009), severity 1.
    const VISIONS: [(&str, [[f64; 3]; 3]); 4] = [
        ("common", [[1.0, 0.0, 0.0], [0.0, 1.0, 0.0], [0.0, 0.0, 1.0]]),
        (
            "protanopia",
            [
                [0.152_286, 1.052_583, -0.204_868],
                [0.114_503, 0.786_281, 0.099_216],
                [-0.003_882, -0.048_116, 1.051_998],
            ],
        ),
        (
            "deuteranopia",
            [
                [0.367_322, 0.860_646, -0.227_968],
                [0.280_085, 0.672_501, 0.047_413],
                [-0.011_820, 0.042_940, 0.968_881],
            ],
        ),
        (
            "tritanopia",
            [
                [1.255_528, -0.076_749, -0.178_779],
                [-0.078_411, 0.930_809, 0.147_602],
                [0.004_733, 0.691_367, 0.303_900],
            ],
        ),
    ];
    /// Least distance in CIE L*a*b* of two colours with a meaning: ten times what is just noticed.
    const APART: f64 = 23.0;
    /// Least contrast of a mark against its paper (WCAG 2.2, 1.4.11), and of text (1.4.3).
    const MARK_CONTRAST: f64 = 3.0;
    const TEXT_CONTRAST: f64 = 4.5;

    fn linear(hex: &str) -> [f64; 3] {
        let part = |at: usize| {
            let value = f64::from(u8::from_str_radix(&hex[at..at + 2], 16).unwrap()) / 255.0;
            if value <= 0.040_45 {
                value / 12.92
            } else {
                ((value + 0.055) / 1.055).powf(2.4)
            }
        };
        assert!(hex.len() == 7 && hex.starts_with('#'), "{hex}");
        [part(1), part(3), part(5)]
    }

    fn luminance([r, g, b]: [f64; 3]) -> f64 {
        0.2126 * r + 0.7152 * g + 0.0722 * b
    }

    fn contrast(a: &str, b: &str) -> f64 {
        let (a, b) = (luminance(linear(a)), luminance(linear(b)));
        (a.max(b) + 0.05) / (a.min(b) + 0.05)
    }

    fn lab(rgb: [f64; 3]) -> [f64; 3] {
        let [r, g, b] = rgb;
        let x = (0.4124 * r + 0.3576 * g + 0.1805 * b) / 0.950_47;
        let z = (0.0193 * r + 0.1192 * g + 0.9505 * b) / 1.088_83;
        let f = |t: f64| {
            if t > 0.008_856 {
                t.cbrt()
            } else {
                7.787 * t + 16.0 / 116.0
            }
        };
        let (x, y, z) = (f(x), f(luminance(rgb)), f(z));
        [116.0 * y - 16.0, 500.0 * (x - y), 200.0 * (y - z)]
    }

    #[test]
    fn names_are_there_once() {
        fn once<'a>(names: impl Iterator<Item = &'a str>) {
            let mut names: Vec<&str> = names.collect();
            let all = names.len();
            names.sort_unstable();
            names.dedup();
            assert_eq!(names.len(), all);
        }
        once(COLOURS.iter().map(|colour| colour.name));
        once(LABELS.iter().map(|label| label.name));
        // Marks, lines and areas become classes of one style sheet.
        let marks = MARKS.iter().map(|mark| mark.name);
        let drawn = marks.chain(LINES.iter().map(|line| line.name));
        once(drawn.chain(AREAS.iter().map(|area| area.name)));
    }

    #[test]
    fn values_go_into_their_places() {
        assert_eq!(TRAVEL_OF.with(&[&1.5, &2]).to_string(), "travel 1.5 to 2 deg");
        assert_eq!(TRAVEL_OF.with(&[&1.5]).to_string(), "travel 1.5 to {} deg");
        assert_eq!(MODEL.with(&[&1.5]).to_string(), "model");
    }

    #[test]
    fn meanings_are_told_apart_by_every_colour_vision() {
        for (vision, matrix) in VISIONS {
            let seen = |hex: &str| {
                let rgb = linear(hex);
                lab(matrix.map(|row| {
                    let sum: f64 = row.iter().zip(rgb).map(|(a, b)| a * b).sum();
                    sum.clamp(0.0, 1.0)
                }))
            };
            for (index, a) in MEANINGS.iter().enumerate() {
                for b in &MEANINGS[index + 1..] {
                    for (x, y) in [(a.light, b.light), (a.dark, b.dark)] {
                        let (p, q) = (seen(x), seen(y));
                        let apart = p.iter().zip(q).map(|(p, q)| (p - q).powi(2)).sum::<f64>().sqrt();
                        assert!(apart > APART, "{vision}: {} {x} and {} {y}: {apart:.1}", a.name, b.name);
                    }
                }
            }
        }
    }

    #[test]
    fn marks_and_texts_stand_out_from_their_paper() {
        for paper in [PAPER, CARD] {
            for colour in MEANINGS {
                assert!(contrast(colour.light, paper.light) > MARK_CONTRAST, "{}", colour.name);
                assert!(contrast(colour.dark, paper.dark) > MARK_CONTRAST, "{}", colour.name);
            }
            for colour in [INK, QUIET] {
                assert!(contrast(colour.light, paper.light) > TEXT_CONTRAST, "{}", colour.name);
                assert!(contrast(colour.dark, paper.dark) > TEXT_CONTRAST, "{}", colour.name);
            }
        }
    }
}
