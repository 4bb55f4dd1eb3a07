//! A model of one kind fitted to readings, the knees near given ones.
//!
//! Given which readings lie in which part, the fit is linear. The search for the parts takes its normal equations from
//! running sums of each side, at a cost that hardly grows with the readings; only the parts at rest are then solved
//! reading by reading, to the last digit and with covariance.

use super::kept::Kept;
use super::model::{Columns, Layout, MOTION, Model, P, Part, Reading, part};
use super::sums::{Moments, Point, Running, readings_a_place};
use crate::fit::statistics::dense::{Matrix, factor, inverse, solve};
use std::vec::Vec;

/// The sides from which readings were reached: above, unknown, below.
const SIDES: [f64; 3] = [-1.0, 0.0, 1.0];

/// Readings above which their normal equations are added up anew in each round.
const MANY: usize = 4096;
/// Rounds of that before running sums are worth their cost.
const ROUNDS_OF_MANY: usize = 8;

/// The readings of one side.
struct Side<const Z: usize, const Y: usize> {
    s: f64,
    points: Vec<Point>,
    sums: Running<Z, Y>,
}

impl<const Z: usize, const Y: usize> Side<Z, Y> {
    /// How many places lie on the lower stop, and how many not on the upper one.
    fn place(&self, knees: (f64, f64), shift: f64) -> (usize, usize) {
        let shift = self.s * shift;
        (
            self.sums.places(|x| x + shift < knees.0),
            self.sums.places(|x| x + shift <= knees.1),
        )
    }

    /// The readings at the first places, and the others.
    fn split(&self, places: usize) -> (&[Point], &[Point]) {
        let first = self.sums.place(places);
        let readings = first.map_or(self.points.len(), |x| self.points.partition_point(|p| p.x < x));
        self.points.split_at_checked(readings).unwrap_or((&self.points, &[]))
    }
}

/// Where the readings of each side change from part to part.
type Places = [(usize, usize); 3];

/// The readings, side by side.
struct Sides<'a, const Z: usize, const Y: usize> {
    readings: Kept<'a>,
    sides: [Side<Z, Y>; 3],
}

impl<'a, const Z: usize, const Y: usize> Sides<'a, Z, Y> {
    fn new(readings: Kept<'a>) -> Self {
        let side = |s: f64| {
            let count = readings.iter().filter(|r| r.s() == s).count();
            let mut points = Vec::with_capacity(count);
            points.extend(
                readings
                    .iter()
                    .filter(|r| r.s() == s)
                    .map(|r| Point { x: r.x, y: r.y, w: r.w }),
            );
            Side {
                s,
                sums: Running::with_places_of(points.iter().copied(), readings_a_place(count)),
                points,
            }
        };
        Self {
            readings,
            sides: SIDES.map(side),
        }
    }

    fn places(&self, knees: (f64, f64), shift: f64) -> Places {
        let [above, unknown, below] = &self.sides;
        [above, unknown, below].map(|side| side.place(knees, shift))
    }
}

/// The normal equations of a model, a row and column for each parameter it may have. Only the lower triangle is kept.
struct Normal {
    a: Matrix<P>,
    rest: [f64; P],
}

impl Normal {
    const ZERO: Self = Self {
        a: [[0.0; P]; P],
        rest: [0.0; P],
    };

    /// Adds readings of one side between the stops by their power sums.
    fn add_between<const Z: usize, const Y: usize>(&mut self, sums: &Moments<Z, Y>, s: f64) {
        for (i, (row, (rest, y))) in self.a.iter_mut().zip(self.rest.iter_mut().zip(&sums.y)).enumerate() {
            for (cell, z) in row.iter_mut().zip(sums.z.iter().skip(i)).take(i + 1) {
                *cell += z;
            }
            *rest += y;
        }
        let half = 0.5 * s;
        for (cell, z) in self.a[MOTION].iter_mut().zip(&sums.z).take(Y) {
            *cell += half * z;
        }
        self.a[MOTION][MOTION] += half * half * sums.weight();
        self.rest[MOTION] += half * sums.first();
    }

    /// Adds readings of one side on a hard stop by their weight and weighted sum.
    fn add_level(&mut self, level: usize, w: f64, wy: f64, half: f64) {
        let (Some(row), Some(rest)) = (self.a.get_mut(level), self.rest.get_mut(level)) else {
            return;
        };
        if let Some(cell) = row.get_mut(level) {
            *cell += w;
        }
        row[MOTION] += half * w;
        *rest += wy;
        self.a[MOTION][MOTION] += half * half * w;
        self.rest[MOTION] += half * wy;
    }

    /// Adds readings on a stop that gives: columns of level and give, `x` counted from where the give begins.
    fn add_giving(&mut self, [level, give]: [usize; 2], sums: &Moments<3, 2>, half: f64) {
        self.add_level(level, sums.weight(), sums.first(), half);
        let ([_, x, xx], [_, xy]) = (sums.z, sums.y);
        if let (Some(row), Some(rest)) = (self.a.get_mut(give), self.rest.get_mut(give)) {
            row[MOTION] += half * x;
            for (column, sum) in [(level, x), (give, xx)] {
                if let Some(cell) = row.get_mut(column) {
                    *cell += sum;
                }
            }
            *rest += xy;
        }
    }

    /// Adds one reading.
    fn add<const Y: usize>(&mut self, model: &Model, r: &Reading, part: Part) {
        let half = 0.5 * r.s();
        let wy = r.w * r.y;
        match (part, model.hard_level(part)) {
            (Part::Between, _) => {
                let powers = powers::<Y>(r.x);
                for (i, ((row, rest), power)) in self.a.iter_mut().zip(&mut self.rest).zip(&powers).enumerate() {
                    let scaled = r.w * power;
                    for (cell, other) in row.iter_mut().zip(&powers).take(i + 1) {
                        *cell += scaled * other;
                    }
                    *rest += wy * power;
                }
                if half != 0.0 {
                    let scaled = r.w * half;
                    for (cell, power) in self.a[MOTION].iter_mut().zip(&powers) {
                        *cell += scaled * power;
                    }
                    self.a[MOTION][MOTION] += scaled * half;
                    self.rest[MOTION] += wy * half;
                }
            }
            (_, Some(level)) => self.add_level(level, r.w, wy, model.half_on_stop(r.s())),
            _ => self.add_row(&model.row(r.x, r.s(), part), r.w, wy),
        }
    }

    /// Adds what the model leaves of one reading to the right-hand side.
    fn add_rest<const Y: usize>(&mut self, model: &Model, r: &Reading, part: Part) {
        let left = r.w * (r.y - model.value(r.x, r.s(), part));
        match (part, model.hard_level(part)) {
            (Part::Between, _) => {
                for (rest, power) in self.rest.iter_mut().zip(&powers::<Y>(r.x)) {
                    *rest += left * power;
                }
                self.rest[MOTION] += left * (0.5 * r.s());
            }
            (_, Some(level)) => {
                if let Some(rest) = self.rest.get_mut(level) {
                    *rest += left;
                }
                self.rest[MOTION] += left * model.half_on_stop(r.s());
            }
            _ => {
                for (rest, value) in self.rest.iter_mut().zip(&model.row(r.x, r.s(), part)) {
                    *rest += left * value;
                }
            }
        }
    }

    /// Adds one reading of weighted value `wy` by its row of the design.
    fn add_row(&mut self, row: &[f64; P], w: f64, wy: f64) {
        for (i, (cells, rest)) in self.a.iter_mut().zip(&mut self.rest).enumerate() {
            let Some(&value) = row.get(i).filter(|v| **v != 0.0) else {
                continue;
            };
            let scaled = w * value;
            for (cell, other) in cells.iter_mut().zip(row).take(i + 1) {
                *cell += scaled * other;
            }
            *rest += wy * value;
        }
    }

    /// The equations of the columns in use.
    fn packed(&self, columns: &Columns) -> (Matrix<P>, [f64; P]) {
        let mut a = [[0.0; P]; P];
        let mut rest = [0.0; P];
        let used = || columns.list.iter().take(columns.used);
        for ((row, value), &i) in a.iter_mut().zip(&mut rest).zip(used()) {
            if let (Some(from), Some(sum)) = (self.a.get(i), self.rest.get(i)) {
                for (cell, &j) in row.iter_mut().zip(used()).take_while(|(_, j)| **j <= i) {
                    *cell = from.get(j).copied().unwrap_or(0.0);
                }
                *value = *sum;
            }
        }
        (a, rest)
    }
}

/// Fits a model of one kind to readings, the knees and the reversal near the given ones.
///
/// Which readings lie on a stop is found again from each solution until nothing changes; where that finds no rest the
/// knees are held where they were given.
pub(super) fn polish(readings: Kept<'_>, layout: Layout, knees: (f64, f64), shift: f64) -> Option<Model> {
    match layout.degree {
        2 if readings.len() > MANY => polish_many::<3>(readings, layout, knees, shift),
        3 if readings.len() > MANY => polish_many::<4>(readings, layout, knees, shift),
        _ if readings.len() > MANY => polish_many::<2>(readings, layout, knees, shift),
        2 => Sides::<5, 3>::new(readings).polish(layout, knees, shift),
        3 => Sides::<7, 4>::new(readings).polish(layout, knees, shift),
        _ => Sides::<3, 2>::new(readings).polish(layout, knees, shift),
    }
}

/// The same for so many readings that running sums of them all would cost more than the few rounds that a good start
/// needs: each adds up its normal equations anew.
fn polish_many<const Y: usize>(
    readings: Kept<'_>,
    layout: Layout,
    start: (f64, f64),
    start_shift: f64,
) -> Option<Model> {
    let free = (false, false);
    let columns = Columns::of(&layout, free);
    let (mut knees, mut shift) = (start, start_shift);
    let mut counts = count(readings, knees, shift);
    for _ in 0..ROUNDS_OF_MANY {
        let mut model = Model::blank(layout, knees, free, readings.len(), &columns);
        let mut normal = Normal::ZERO;
        for r in readings.iter() {
            normal.add::<Y>(&model, r, part(r.x + r.s() * shift, knees));
        }
        let (a, rest) = normal.packed(&columns);
        let Some(l) = factor(&a, columns.used) else { break };
        model.set(&columns, &solve(&l, &rest, columns.used));
        if model.find_knees().is_none() || model.knees.0 >= model.knees.1 {
            break;
        }
        let new_counts = count(readings, model.knees, model.shift());
        if new_counts == counts {
            return solve_exactly::<Y>(readings, layout, knees, shift, free);
        }
        (knees, shift, counts) = (model.knees, model.shift(), new_counts);
    }
    // No rest, or none that can be solved: with running sums, which can hold a knee.
    match layout.degree {
        2 => Sides::<5, 3>::new(readings).polish(layout, start, start_shift),
        3 => Sides::<7, 4>::new(readings).polish(layout, start, start_shift),
        _ => Sides::<3, 2>::new(readings).polish(layout, start, start_shift),
    }
}

/// Readings of each side on the lower stop and not on the upper one.
fn count(readings: Kept<'_>, knees: (f64, f64), shift: f64) -> Places {
    let mut out = [(0, 0); 3];
    let [above, unknown, below] = &mut out;
    for r in readings.iter() {
        let x = r.x + r.s() * shift;
        let side = if r.s() < 0.0 {
            &mut *above
        } else if r.s() > 0.0 {
            &mut *below
        } else {
            &mut *unknown
        };
        side.0 += usize::from(x < knees.0);
        side.1 += usize::from(x <= knees.1);
    }
    out
}

impl<const Z: usize, const Y: usize> Sides<'_, Z, Y> {
    fn polish(&self, layout: Layout, knees: (f64, f64), shift: f64) -> Option<Model> {
        let mut held = (false, false);
        for _ in 0..3 {
            match self.settle(layout, knees, shift, held) {
                Ok(model) => return Some(model),
                Err(restless) => {
                    let next = (held.0 || restless.0, held.1 || restless.1);
                    if next == held {
                        held = (layout.lower, layout.upper);
                    } else {
                        held = next;
                    }
                }
            }
        }
        // Readings that change parts for ever, as play and knees push each other: they stay as given.
        solve_exactly::<Y>(self.readings, layout, knees, shift, (layout.lower, layout.upper))
    }

    /// Alternates between solving and sorting readings into parts. On failure says which knee found no rest.
    fn settle(
        &self,
        layout: Layout,
        start: (f64, f64),
        start_shift: f64,
        held: (bool, bool),
    ) -> Result<Model, (bool, bool)> {
        let mut knees = start;
        let mut shift = start_shift;
        let mut restless = (layout.lower && !held.0, layout.upper && !held.1);
        let mut places = self.places(knees, shift);
        for _ in 0..25 {
            let model = self.solve_roughly(layout, knees, &places, held).ok_or(restless)?;
            let new_knees = model.knees;
            let new_shift = model.shift();
            let new_places = self.places(new_knees, new_shift);
            let lower_moved = layout.lower && places.iter().zip(&new_places).any(|(old, new)| old.0 != new.0);
            let upper_moved = layout.upper && places.iter().zip(&new_places).any(|(old, new)| old.1 != new.1);
            if !lower_moved && !upper_moved {
                return solve_exactly::<Y>(self.readings, layout, knees, shift, held).ok_or(restless);
            }
            restless = (lower_moved && !held.0, upper_moved && !held.1);
            if new_knees.0 >= new_knees.1 {
                return Err(restless);
            }
            knees = new_knees;
            shift = new_shift;
            places = new_places;
        }
        Err(restless)
    }

    /// Least squares for readings in given parts, from the running sums: no covariance, no sum of squares.
    fn solve_roughly(&self, layout: Layout, knees: (f64, f64), places: &Places, held: (bool, bool)) -> Option<Model> {
        let columns = Columns::of(&layout, held);
        let mut model = Model::blank(layout, knees, held, self.readings.len(), &columns);
        let mut normal = Normal::ZERO;
        for (side, &(lower, upper)) in self.sides.iter().zip(places) {
            let sums = side.sums.up_to(upper).less(&side.sums.up_to(lower));
            normal.add_between(&sums, side.s);
            let on_lower = (Part::OnLower, side.sums.up_to(lower), lower);
            let above = side.sums.all().less(&side.sums.up_to(upper));
            let on_upper = (Part::OnUpper, above, upper);
            for (part, sums, places) in [on_lower, on_upper] {
                if let Some(level) = model.hard_level(part) {
                    normal.add_level(level, sums.weight(), sums.first(), model.half_on_stop(side.s));
                    continue;
                }
                let (first, others) = side.split(places);
                let points = if part == Part::OnLower { first } else { others };
                if let Some((columns, origin)) = model.giving(part) {
                    let mut sums = Moments::<3, 2>::ZERO;
                    for p in points {
                        sums.add_at(p.x - origin, p.w, p.w * p.y, 0.0);
                    }
                    normal.add_giving(columns, &sums, model.half_on_stop(side.s));
                    continue;
                }
                for p in points {
                    normal.add_row(&model.row(p.x, side.s, part), p.w, p.w * p.y);
                }
            }
        }
        let (a, rest) = normal.packed(&columns);
        let l = factor(&a, columns.used)?;
        model.set(&columns, &solve(&l, &rest, columns.used));
        model.find_knees()?;
        Some(model)
    }
}

/// Least squares for readings in given parts, reading by reading.
fn solve_exactly<const Y: usize>(
    readings: Kept<'_>,
    layout: Layout,
    knees: (f64, f64),
    shift: f64,
    held: (bool, bool),
) -> Option<Model> {
    let columns = Columns::of(&layout, held);
    let used = columns.used;
    let mut model = Model::blank(layout, knees, held, readings.len(), &columns);
    let part = |r: &Reading| part(r.x + r.s() * shift, knees);
    let mut normal = Normal::ZERO;
    for r in readings.iter() {
        normal.add::<Y>(&model, r, part(r));
    }
    let (a, rest) = normal.packed(&columns);
    let l = factor(&a, used)?;
    let mut beta = solve(&l, &rest, used);
    model.set(&columns, &beta);
    // A second round solves for what rounding left of the first.
    let mut rest = Normal::ZERO;
    for r in readings.iter() {
        rest.add_rest::<Y>(&model, r, part(r));
    }
    let (_, rest) = rest.packed(&columns);
    for (value, add) in beta.iter_mut().zip(&solve(&l, &rest, used)) {
        *value += add;
    }
    model.set(&columns, &beta);
    for r in readings.iter() {
        let left = r.y - model.value(r.x, r.s(), part(r));
        model.sse += r.w * left * left;
    }
    model.set_covariance(&columns, &inverse(&l, used));
    model.find_knees()?;
    Some(model)
}

/// 1, x, x² and so on.
fn powers<const Y: usize>(x: f64) -> [f64; Y] {
    let mut power = 1.0;
    [(); Y].map(|()| {
        let out = power;
        power *= x;
        out
    })
}
