//! The chosen model, fitted reading by reading: levels, line or bend, lost motion, and their covariance.
//!
//! `y = p(x) + (h/2)·s` between the knees, a level of its own on each stop. Given which readings lie where, that is
//! linear in everything; the knees follow as crossings of level and curve.

use super::polynomial::{crossing, polynomial};
use crate::fit::statistics::dense::{Matrix, dot, quadratic};

/// Most parameters: four powers, lost motion, level and give of either stop.
pub(super) const P: usize = 9;
pub(super) const MOTION: usize = 4;
const LOWER_LEVEL: usize = 5;
const LOWER_GIVE: usize = 6;
const UPPER_LEVEL: usize = 7;
const UPPER_GIVE: usize = 8;

/// One reading in scaled drive: 32 bytes, since there may be millions.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Reading {
    pub(super) x: f64,
    pub(super) y: f64,
    pub(super) w: f64,
    /// Its place among the readings given.
    pub(super) place: u32,
    /// +1 from below, −1 from above, 0 unknown.
    pub(super) side: i8,
    /// Contact was noted here: somebody saw that it is no misreading.
    pub(super) noted: bool,
}

impl Reading {
    /// The `s` of the model.
    pub(super) fn s(&self) -> f64 {
        f64::from(self.side)
    }

    /// Its place among the readings given.
    pub(super) fn index(&self) -> usize {
        self.place as usize
    }
}

/// Where lost motion shows.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Motion {
    /// Not looked for.
    None,
    /// Play before the joint: between the stops only, and each side meets a stop at its own drive angle.
    Play,
    /// Play behind the joint, at the sensor: everywhere.
    Everywhere,
}

/// What kind of model is fitted.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct Layout {
    pub(super) degree: usize,
    pub(super) motion: Motion,
    pub(super) lower: bool,
    pub(super) upper: bool,
    pub(super) give_lower: bool,
    pub(super) give_upper: bool,
}

/// A run of the model.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Part {
    OnLower,
    Between,
    OnUpper,
}

/// A fitted model.
#[derive(Debug, Clone, Copy)]
pub(super) struct Model {
    pub(super) layout: Layout,
    pub(super) knees: (f64, f64),
    /// Knees that stand on a reading: their level is the curve's value there.
    held: (bool, bool),
    /// Where the give of a soft stop is counted from.
    origin: (f64, f64),
    beta: [f64; P],
    /// Covariance for unit variance.
    pub(super) covariance: Matrix<P>,
    pub(super) sse: f64,
    pub(super) n: usize,
    pub(super) parameters: usize,
}

/// Which columns of the design a model uses, in order.
pub(super) struct Columns {
    pub(super) list: [usize; P],
    pub(super) used: usize,
}

impl Columns {
    pub(super) fn of(layout: &Layout, held: (bool, bool)) -> Self {
        let wanted = [
            true,
            true,
            layout.degree >= 2,
            layout.degree >= 3,
            layout.motion != Motion::None,
            layout.lower && !held.0,
            layout.lower && layout.give_lower,
            layout.upper && !held.1,
            layout.upper && layout.give_upper,
        ];
        let mut list = [0; P];
        let mut used = 0;
        for (column, _) in wanted.iter().enumerate().filter(|(_, wanted)| **wanted) {
            if let Some(cell) = list.get_mut(used) {
                *cell = column;
            }
            used += 1;
        }
        Self { list, used }
    }
}

impl Model {
    /// A model of one kind that is yet to be fitted.
    pub(super) fn blank(layout: Layout, knees: (f64, f64), held: (bool, bool), n: usize, columns: &Columns) -> Self {
        Self {
            layout,
            knees,
            held,
            origin: knees,
            beta: [0.0; P],
            covariance: [[0.0; P]; P],
            sse: 0.0,
            n,
            parameters: columns.used + usize::from(held.0) + usize::from(held.1),
        }
    }

    /// Takes parameters over from the columns in use.
    pub(super) fn set(&mut self, columns: &Columns, beta: &[f64; P]) {
        for (&column, value) in columns.list.iter().zip(beta).take(columns.used) {
            if let Some(cell) = self.beta.get_mut(column) {
                *cell = *value;
            }
        }
    }

    /// Takes the covariance over from the columns in use.
    pub(super) fn set_covariance(&mut self, columns: &Columns, packed: &Matrix<P>) {
        let used = || columns.list.iter().take(columns.used);
        for (&column, packed_row) in used().zip(packed) {
            for (&other, value) in used().zip(packed_row) {
                if let Some(cell) = self.covariance.get_mut(column).and_then(|row| row.get_mut(other)) {
                    *cell = *value;
                }
            }
        }
    }

    /// Moves the knees that are free to where level and curve cross.
    pub(super) fn find_knees(&mut self) -> Option<()> {
        if self.layout.lower && !self.held.0 {
            self.knees.0 = knee(self, false)?;
        }
        if self.layout.upper && !self.held.1 {
            self.knees.1 = knee(self, true)?;
        }
        Some(())
    }

    /// The column of a stop's level where that and the reversal are all that its readings follow.
    pub(super) fn hard_level(&self, part: Part) -> Option<usize> {
        let Layout {
            give_lower, give_upper, ..
        } = self.layout;
        match part {
            Part::OnLower if !self.held.0 && !give_lower => Some(LOWER_LEVEL),
            Part::OnUpper if !self.held.1 && !give_upper => Some(UPPER_LEVEL),
            _ => None,
        }
    }

    /// The columns of a stop's level and give where those and the reversal are all that its readings follow, and where
    /// the give begins.
    pub(super) fn giving(&self, part: Part) -> Option<([usize; 2], f64)> {
        let Layout {
            give_lower, give_upper, ..
        } = self.layout;
        match part {
            Part::OnLower if !self.held.0 && give_lower => Some(([LOWER_LEVEL, LOWER_GIVE], self.origin.0)),
            Part::OnUpper if !self.held.1 && give_upper => Some(([UPPER_LEVEL, UPPER_GIVE], self.origin.1)),
            _ => None,
        }
    }

    /// What the reversal adds on a stop, as a share of it.
    pub(super) fn half_on_stop(&self, s: f64) -> f64 {
        if self.layout.motion == Motion::Everywhere {
            0.5 * s
        } else {
            0.0
        }
    }

    /// The value at a reading of one part.
    pub(super) fn value(&self, x: f64, s: f64, part: Part) -> f64 {
        let [a, b, c, d, reversal, ..] = self.beta;
        match (part, self.hard_level(part)) {
            // In the order of the row's columns, so that the sum is that of the row to the bit.
            (Part::Between, _) => a + b * x + c * (x * x) + d * (x * x * x) + reversal * (0.5 * s),
            (_, Some(level)) => reversal * self.half_on_stop(s) + self.beta.get(level).copied().unwrap_or(0.0),
            _ => dot(&self.row(x, s, part), &self.beta),
        }
    }

    /// The curve's coefficients.
    pub(super) fn curve(&self) -> &[f64] {
        self.beta.get(..=self.layout.degree).unwrap_or(&[])
    }

    /// Lost motion with its sign: from below less from above.
    pub(super) fn reversal(&self) -> f64 {
        self.beta[MOTION]
    }

    /// Mean slope between the knees; they and the sweep's ends are at most ±1.
    pub(super) fn slope(&self) -> f64 {
        let (a, b) = (bounded(self.knees.0, -1.0), bounded(self.knees.1, 1.0));
        if b > a {
            (polynomial(self.curve(), b) - polynomial(self.curve(), a)) / (b - a)
        } else {
            self.beta[1]
        }
    }

    /// Slope at one place.
    pub(super) fn slope_at(&self, x: f64) -> f64 {
        self.beta[1] + x * (2.0 * self.beta[2] + 3.0 * x * self.beta[3])
    }

    /// Drive by which play moves the knees for each direction.
    pub(super) fn shift(&self) -> f64 {
        match self.layout.motion {
            Motion::Play => 0.5 * self.reversal() / self.slope(),
            _ => 0.0,
        }
    }

    /// In which part a reading lies.
    pub(super) fn part(&self, x: f64, s: f64) -> Part {
        part(x + s * self.shift(), self.knees)
    }

    /// A reading's row of the design.
    pub(super) fn row(&self, x: f64, s: f64, part: Part) -> [f64; P] {
        let mut row = [0.0; P];
        if self.layout.motion == Motion::Everywhere || (self.layout.motion == Motion::Play && part == Part::Between) {
            row[MOTION] = 0.5 * s;
        }
        let z = match part {
            Part::OnLower => {
                row[LOWER_GIVE] = x - self.origin.0;
                row[LOWER_LEVEL] = 1.0;
                self.knees.0
            }
            Part::OnUpper => {
                row[UPPER_GIVE] = x - self.origin.1;
                row[UPPER_LEVEL] = 1.0;
                self.knees.1
            }
            Part::Between => x,
        };
        if part == Part::Between || (part == Part::OnLower && self.held.0) || (part == Part::OnUpper && self.held.1) {
            row[0] = 1.0;
            row[1] = z;
            row[2] = z * z;
            row[3] = z * z * z;
        }
        row
    }

    /// The expected value at a reading.
    pub(super) fn expected(&self, x: f64, s: f64) -> f64 {
        self.value(x, s, self.part(x, s))
    }

    /// Variance of the expected value, for unit variance.
    pub(super) fn leverage(&self, x: f64, s: f64) -> f64 {
        let part = self.part(x, s);
        if let (true, Some(level)) = (self.layout.motion != Motion::Everywhere, self.hard_level(part)) {
            let variance = self.covariance.get(level).and_then(|row| row.get(level));
            return variance.copied().unwrap_or(0.0).max(0.0);
        }
        let row = self.row(x, s, part);
        if part != Part::Between {
            return quadratic(&self.covariance, &row).max(0.0);
        }
        // Stops have no part in it.
        row.iter()
            .zip(&self.covariance)
            .take(MOTION + 1)
            .fold(0.0, |sum, (value, cells)| {
                let inner = cells
                    .iter()
                    .zip(&row)
                    .take(MOTION + 1)
                    .fold(0.0, |sum, (a, b)| sum + a * b);
                sum + value * inner
            })
            .max(0.0)
    }

    pub(super) fn dof(&self) -> usize {
        self.n.saturating_sub(self.parameters)
    }

    /// Level on the lower stop and its variance, for unit variance.
    pub(super) fn lower_level(&self) -> (f64, f64) {
        self.value_of(&self.row(self.knees.0 - f64::EPSILON, 0.0, Part::OnLower))
    }

    /// Level on the upper stop and its variance, for unit variance.
    pub(super) fn upper_level(&self) -> (f64, f64) {
        self.value_of(&self.row(self.knees.1 + f64::EPSILON, 0.0, Part::OnUpper))
    }

    fn value_of(&self, row: &[f64; P]) -> (f64, f64) {
        (dot(row, &self.beta), quadratic(&self.covariance, row).max(0.0))
    }

    /// Slope behind a stop over slope before it, with the ratio's standard uncertainty for unit variance.
    pub(super) fn give(&self, upper: bool) -> (f64, f64) {
        let (column, knee) = if upper {
            (UPPER_GIVE, self.knees.1)
        } else {
            (LOWER_GIVE, self.knees.0)
        };
        let slope = self.slope_at(knee);
        let variance = self.covariance.get(column).and_then(|r| r.get(column));
        (
            self.beta.get(column).copied().unwrap_or(0.0) / slope,
            variance.copied().unwrap_or(0.0).max(0.0).sqrt() / slope.abs(),
        )
    }

    /// How far the level lies from the curve at `x`, and the variance of that, for unit variance: the quantity whose
    /// root is the knee (Fieller).
    pub(super) fn gap_at(&self, x: f64, upper: bool) -> (f64, f64) {
        let part = if upper { Part::OnUpper } else { Part::OnLower };
        let level = self.row(x, 0.0, part);
        let curve = self.row(x, 0.0, Part::Between);
        let mut row = [0.0; P];
        for ((cell, a), b) in row.iter_mut().zip(&level).zip(&curve) {
            *cell = a - b;
        }
        self.value_of(&row)
    }

    /// Variance of a knee, for unit variance: the gap's variance over the squared slope difference. Some weight must lie
    /// beyond the knee.
    pub(super) fn knee_variance(&self, upper: bool, readings_beyond_weight: f64) -> f64 {
        let (knee, held) = if upper {
            (self.knees.1, self.held.1)
        } else {
            (self.knees.0, self.held.0)
        };
        let give = self.give(upper).0;
        let slope = self.slope_at(knee) * (1.0 - give);
        let variance = if held {
            let curve = self.row(knee, 0.0, Part::Between);
            quadratic(&self.covariance, &curve).max(0.0) + 1.0 / readings_beyond_weight
        } else {
            self.gap_at(knee, upper).1
        };
        variance / (slope * slope)
    }

    /// Value of the curve and the covariance of its coefficients.
    pub(super) fn line(&self) -> [f64; 5] {
        [
            self.beta[0],
            self.beta[1],
            self.covariance[0][0],
            self.covariance[1][1],
            self.covariance[1][0],
        ]
    }

    pub(super) fn reversal_variance(&self) -> f64 {
        self.covariance[MOTION][MOTION].max(0.0)
    }
}

fn bounded(knee: f64, end: f64) -> f64 {
    if knee.is_finite() { knee } else { end }
}

pub(super) fn part(x: f64, knees: (f64, f64)) -> Part {
    if x < knees.0 {
        Part::OnLower
    } else if x > knees.1 {
        Part::OnUpper
    } else {
        Part::Between
    }
}

/// Where level and curve cross, near the knee from before.
fn knee(model: &Model, upper: bool) -> Option<f64> {
    let (level, give, origin) = if upper {
        (model.beta[UPPER_LEVEL], model.beta[UPPER_GIVE], model.origin.1)
    } else {
        (model.beta[LOWER_LEVEL], model.beta[LOWER_GIVE], model.origin.0)
    };
    // p(x) − give·(x − origin) = level
    let mut c = [
        model.beta[0] + give * origin,
        model.beta[1] - give,
        model.beta[2],
        model.beta[3],
    ];
    let c = c.get_mut(..=model.layout.degree)?;
    if let &mut [a, b] = c {
        let x = (level - a) / b;
        return x.is_finite().then_some(x);
    }
    // The nearest change of sign on either side.
    let f = |x: f64| polynomial(c, x) - level;
    const STEP: f64 = 0.005;
    let mut width = STEP;
    while width < 1.0 {
        for (left, right) in [
            (origin - width, origin - width + STEP),
            (origin + width - STEP, origin + width),
        ] {
            if (f(left) < 0.0) != (f(right) < 0.0) {
                return Some(crossing(c, level, left, right));
            }
        }
        width += STEP;
    }
    None
}

/// Whether a reading lies between the stops of a model.
pub(super) fn between(model: &Model, r: &Reading) -> bool {
    model.part(r.x, r.s()) == Part::Between
}

#[cfg(test)]
mod tests {
    use super::super::kept::Kept;
    use super::super::polish::polish;
    use super::*;
    use std::vec::Vec;

    #[test]
    fn a_knee_costs_a_parameter_whether_it_is_fitted_or_held() {
        let layout = |motion| Layout {
            degree: 1,
            motion,
            lower: true,
            upper: true,
            give_lower: false,
            give_upper: false,
        };
        for (motion, more) in [(Motion::None, 0), (Motion::Play, 1)] {
            let layout = layout(motion);
            for held in [(false, false), (true, false), (false, true), (true, true)] {
                let model = Model::blank(layout, (-0.5, 0.5), held, 20, &Columns::of(&layout, held));
                assert_eq!((model.parameters, model.dof()), (4 + more, 16 - more), "{held:?}");
            }
        }
    }

    /// A level crosses a parabola on either side of the place that it is sought from, however near: the root of the quadratic formula.
    #[test]
    fn a_level_is_found_on_either_side_of_its_origin() {
        let layout = Layout {
            degree: 2,
            motion: Motion::None,
            lower: false,
            upper: true,
            give_lower: false,
            give_upper: false,
        };
        let held = (false, false);
        for off in [-0.3, -0.012, -0.002, 0.0015, 0.009, 0.2] {
            let mut model = Model::blank(layout, (f64::NEG_INFINITY, 0.4), held, 20, &Columns::of(&layout, held));
            model.origin.1 = 0.4;
            // x + x²/4 = level has the positive root 2·(sqrt(1 + level) - 1).
            let root: f64 = 0.4 + off;
            let level = root + 0.25 * root * root;
            model.beta[..3].copy_from_slice(&[0.0, 1.0, 0.25]);
            model.beta[UPPER_LEVEL] = level;
            let expected = 2.0 * ((1.0 + level).sqrt() - 1.0);
            let found = knee(&model, true).unwrap();
            assert!((found - expected).abs() < 1e-9, "{found} for {expected}");
        }
    }

    /// A broken line with one breakpoint is a stop that gives: the test data of the Python package
    /// piecewise-regression (MIT; JOSS 6(68) 3859, 2021) with the results of R's package segmented quoted there.
    #[test]
    fn broken_line_as_r_segmented() {
        let text = include_str!("../../../tests/data/segmented/r_segmented_1bp.json");
        let d: serde_json::Value = serde_json::from_str(text).unwrap();
        let numbers =
            |v: &serde_json::Value| -> Vec<f64> { v.as_array().unwrap().iter().map(|v| v.as_f64().unwrap()).collect() };
        let half = 10.0;
        let mut readings: Vec<Reading> = numbers(&d["data"]["x"])
            .iter()
            .zip(numbers(&d["data"]["y"]))
            .enumerate()
            .map(|(index, (x, y))| Reading {
                x: x / half,
                y,
                w: 1.0,
                side: 0,
                noted: false,
                place: index as u32,
            })
            .collect();
        readings.sort_by(|a, b| a.x.total_cmp(&b.x));
        let layout = Layout {
            degree: 1,
            motion: Motion::None,
            lower: true,
            upper: false,
            give_lower: true,
            give_upper: false,
        };
        let model = polish(Kept::all(&readings), layout, (0.2, f64::INFINITY), 0.0).unwrap();
        let e = &d["expected"];
        let of = |key: &str| e[key].as_f64().unwrap();
        let (breakpoint, se) = (
            numbers(&e["breakpoints"])[0],
            e["se"]["breakpoints"][0].as_f64().unwrap(),
        );
        assert!((model.knees.0 * half - breakpoint).abs() < 1e-6 * se);
        assert!((model.sse / of("sse") - 1.0).abs() < 1e-9);
        assert_eq!(model.dof(), 36);
        let variance = model.sse / model.dof() as f64;
        let u = (variance * model.knee_variance(false, 1.0)).sqrt() * half;
        assert!((u / se - 1.0).abs() < 1e-6, "{u} {se}");
        let (ratio, _) = model.give(false);
        let slope = model.slope_at(0.0) / half;
        assert!((ratio * slope / of("first_slope") - 1.0).abs() < 1e-9);
        assert!((slope - of("first_slope") - numbers(&e["slope_changes"])[0]).abs() < 1e-9);
    }
}
