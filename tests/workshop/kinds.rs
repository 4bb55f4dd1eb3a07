//! The kinds of table, and the ranges that their numbers are drawn from.

/// The way the drive is walked.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) enum Walk {
    /// From one end to the other.
    Once,
    /// Up and down again.
    ThereAndBack,
    /// From the middle up, back to the middle, then down.
    Outward,
}

/// How many readings lie on the stops.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) enum Stops {
    /// No stop in range.
    Free,
    /// One reading on each stop: the walk ends as soon as the joint stalls.
    OneEach,
    /// One reading on one stop, none at the other end.
    OneOnOne,
    /// Two readings on one stop, none at the other end.
    TwoOnOne,
    /// Two or three readings on each stop.
    SomeEach,
    /// At each end one reading on a stop or no stop, by chance.
    OneOrNone,
    /// At each end two readings on a stop or no stop, by chance.
    TwoOrNone,
}

/// Lost motion and what is written down of it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) enum Sides {
    /// No lost motion, no sides.
    NoPlay,
    /// Lost motion, and the side of each reading.
    Told,
    /// Lost motion, and no sides.
    Untold,
}

/// The scale that the value is read off.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) enum Scale {
    /// Some resolution, given.
    Given,
    /// Some resolution, not given.
    Untold,
    /// Whole degrees, not given.
    Whole,
    /// By eye to 5 degrees, given.
    Eye,
    /// By eye to 5 degrees, not given.
    EyeUntold,
}

/// What the joint makes of the drive between its stops.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) enum Shape {
    Line,
    /// A slope of 0.3 to 3, either sign.
    Steep,
    /// A wave of 4 % of half the sweep.
    Bent,
    /// Millimetres along an arc, as a tape on it shows them.
    Along,
    /// Millimetres across an arc, as a straight ruler or a calliper shows them: a sine or a chord.
    Across,
    /// A crank that comes to its dead centre at one end.
    DeadCentre,
    /// A tooth is skipped on the way.
    Jump,
    /// A region in which the joint lags behind.
    Sticky,
}

/// A kind of table.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Kind {
    pub(crate) name: &'static str,
    pub(crate) walk: Walk,
    pub(crate) stops: Stops,
    /// The stops give 2 to 10 % of the motion beyond them.
    pub(crate) yields: bool,
    pub(crate) sides: Sides,
    pub(crate) scale: Scale,
    pub(crate) shape: Shape,
    /// One value is written down wrongly.
    pub(crate) slip: bool,
}

const PLAIN: Kind = Kind {
    name: "",
    walk: Walk::Once,
    stops: Stops::OneEach,
    yields: false,
    sides: Sides::NoPlay,
    scale: Scale::Given,
    shape: Shape::Line,
    slip: false,
};

/// All kinds, in the order of the table.
pub(crate) fn kinds() -> Vec<Kind> {
    use {Scale::*, Shape::*, Sides::Told, Stops::*, Walk::*};
    let kind = |name| Kind { name, ..PLAIN };
    vec![
        kind("one reading on each stop"),
        Kind {
            scale: Whole,
            ..kind("one on each stop, whole degrees, resolution not given")
        },
        Kind {
            stops: OneOnOne,
            ..kind("one on one stop, other end free")
        },
        Kind {
            stops: TwoOnOne,
            ..kind("two on one stop, other end free")
        },
        Kind {
            stops: SomeEach,
            ..kind("two or three on each stop")
        },
        Kind {
            stops: SomeEach,
            scale: Untold,
            ..kind("two or three on each stop, resolution not given")
        },
        Kind {
            stops: SomeEach,
            yields: true,
            ..kind("two or three on each stop, stops give 2 to 10 %")
        },
        Kind {
            stops: SomeEach,
            walk: ThereAndBack,
            sides: Told,
            ..kind("there and back, sides given")
        },
        Kind {
            stops: SomeEach,
            walk: ThereAndBack,
            sides: Sides::Untold,
            ..kind("there and back, sides not given")
        },
        Kind {
            stops: SomeEach,
            walk: ThereAndBack,
            sides: Sides::Untold,
            scale: Whole,
            ..kind("there and back, whole degrees, nothing given")
        },
        Kind {
            walk: ThereAndBack,
            sides: Told,
            ..kind("there and back, one command on each stop, sides given")
        },
        Kind {
            walk: ThereAndBack,
            sides: Sides::Untold,
            ..kind("there and back, one command on each stop, sides not given")
        },
        Kind {
            walk: ThereAndBack,
            sides: Told,
            stops: Free,
            ..kind("there and back, no stop, sides given")
        },
        Kind {
            walk: Outward,
            sides: Told,
            ..kind("outward from the middle, sides given")
        },
        Kind {
            walk: Outward,
            sides: Sides::Untold,
            ..kind("outward from the middle, sides not given")
        },
        Kind {
            slip: true,
            ..kind("one on each stop, one slip of the pen")
        },
        Kind {
            stops: SomeEach,
            slip: true,
            ..kind("two or three on each stop, one slip")
        },
        Kind {
            stops: OneOrNone,
            scale: Eye,
            ..kind("by eye to 5 deg")
        },
        Kind {
            stops: OneOrNone,
            scale: EyeUntold,
            ..kind("by eye to 5 deg, resolution not given")
        },
        Kind {
            shape: Steep,
            ..kind("one on each stop, slope 0.3 to 3")
        },
        Kind {
            shape: Along,
            stops: OneOrNone,
            ..kind("mm along an arc")
        },
        Kind {
            shape: Across,
            stops: OneOrNone,
            ..kind("mm across an arc, by a straight ruler")
        },
        Kind {
            shape: Bent,
            ..kind("one on each stop, bent by 4 %")
        },
        Kind {
            stops: SomeEach,
            shape: Bent,
            ..kind("two or three on each stop, bent by 4 %")
        },
        Kind {
            stops: Free,
            ..kind("no stop")
        },
        Kind {
            stops: Free,
            scale: Untold,
            ..kind("no stop, resolution not given")
        },
        Kind {
            stops: Free,
            slip: true,
            ..kind("no stop, one slip")
        },
        Kind {
            stops: Free,
            shape: Bent,
            ..kind("no stop, bent by 4 %")
        },
        Kind {
            stops: Free,
            shape: DeadCentre,
            ..kind("no stop, a dead centre at one end")
        },
        Kind {
            stops: Free,
            shape: Jump,
            ..kind("no stop, a skipped tooth")
        },
        Kind {
            stops: TwoOrNone,
            shape: Sticky,
            ..kind("a sticky region")
        },
    ]
}

/// Where parameters are drawn from. What is reported is drawn from others than what a method is tuned on.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Ranges {
    /// Mixed into every seed.
    pub(super) salt: u64,
    /// Commands of a walk, those on the stops beyond the first not counted.
    pub(crate) readings: (usize, usize),
    /// Between commands, deg.
    pub(crate) step: (f64, f64),
    pub(super) resolutions: [f64; 3],
    /// Noise before rounding, in resolutions.
    pub(super) noise: (f64, f64),
    /// Natural logarithm of the size of the slope.
    pub(super) slope: (f64, f64),
    /// Lost motion, drive deg.
    pub(super) play: (f64, f64),
    pub(super) give: (f64, f64),
    /// Size of the bend, share of half the sweep.
    pub(super) bend: (f64, f64),
    /// Skipped tooth, deg.
    pub(super) tooth: (f64, f64),
    /// How far a stuck joint lags, deg.
    pub(super) lag: (f64, f64),
}

pub(crate) const REPORTED: Ranges = Ranges {
    salt: 0x0b5e_55ed,
    readings: (7, 11),
    step: (5.0, 15.0),
    resolutions: [0.5, 1.0, 2.0],
    noise: (0.15, 0.6),
    slope: (-0.4, 0.4),
    play: (1.0, 5.0),
    give: (0.02, 0.10),
    bend: (0.03, 0.05),
    tooth: (8.0, 18.0),
    lag: (2.0, 5.0),
};

pub(crate) const TUNING: Ranges = Ranges {
    salt: 0x7e57_7e57,
    readings: (6, 13),
    step: (4.0, 18.0),
    resolutions: [0.25, 1.0, 1.5],
    noise: (0.2, 0.55),
    slope: (-0.6, 0.6),
    play: (0.5, 6.0),
    give: (0.01, 0.12),
    bend: (0.02, 0.06),
    tooth: (10.0, 20.0),
    lag: (1.5, 6.0),
};
