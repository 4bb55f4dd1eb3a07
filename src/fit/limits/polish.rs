//! A model of one kind fitted to readings, the knees near given ones.
//!
//! Given which readings lie in which part, the fit is linear. The search for the parts takes its normal equations from
//! running sums of each side, at a cost that hardly grows with the readings; only the parts at rest are then solved
//! reading by reading, to the last digit and with covariance.

use super::kept::{Kept, Point};
use super::model::{Columns, Layout, MOTION, Model, P, Part, Reading, part};
use super::sums::{Moments, Running, readings_a_place};
use crate::fit::statistics::dense::{Matrix, dot, factor, inverse, solve};
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

    /// Adds what the model leaves of one reading to the right-hand side, and gives it.
    fn add_rest<const Y: usize>(&mut self, model: &Model, r: &Reading, part: Part) -> f64 {
        let rest = r.y - model.value(r.x, r.s(), part);
        let left = r.w * rest;
        match (part, model.hard_level(part)) {
            (Part::Between, _) => {
                for (sum, power) in self.rest.iter_mut().zip(&powers::<Y>(r.x)) {
                    *sum += left * power;
                }
                self.rest[MOTION] += left * (0.5 * r.s());
            }
            (_, Some(level)) => {
                if let Some(sum) = self.rest.get_mut(level) {
                    *sum += left;
                }
                self.rest[MOTION] += left * model.half_on_stop(r.s());
            }
            _ => {
                for (sum, value) in self.rest.iter_mut().zip(&model.row(r.x, r.s(), part)) {
                    *sum += left * value;
                }
            }
        }
        rest
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
        2 => polish_of::<5, 3>(readings, layout, knees, shift),
        3 => polish_of::<7, 4>(readings, layout, knees, shift),
        _ => polish_of::<3, 2>(readings, layout, knees, shift),
    }
}

fn polish_of<const Z: usize, const Y: usize>(
    readings: Kept<'_>,
    layout: Layout,
    knees: (f64, f64),
    shift: f64,
) -> Option<Model> {
    let many = (readings.len() > MANY).then(|| polish_many::<Z, Y>(readings, layout, knees, shift));
    many.flatten()
        .or_else(|| Sides::<Z, Y>::new(readings).polish(layout, knees, shift))
}

/// The same for so many readings that running sums of them all would cost more than the few rounds that a good start
/// needs: each adds up its normal equations anew, and the last ones serve for the solution as well. `None` where that finds no rest:
/// running sums can hold a knee.
fn polish_many<const Z: usize, const Y: usize>(
    readings: Kept<'_>,
    layout: Layout,
    start: (f64, f64),
    start_shift: f64,
) -> Option<Model> {
    let free = (false, false);
    let columns = Columns::of(&layout, free);
    let (mut knees, mut shift) = (start, start_shift);
    for _ in 0..ROUNDS_OF_MANY {
        let mut model = Model::blank(layout, knees, free, readings.len(), &columns);
        let (a, rest) = normal_of_many::<Z, Y>(readings, &model, shift).packed(&columns);
        let l = factor(&a, columns.used)?;
        let beta = solve(&l, &rest, columns.used);
        model.set(&columns, &beta);
        model.find_knees()?;
        if model.knees.0 >= model.knees.1 {
            return None;
        }
        if same_parts(readings, (knees, shift), (model.knees, model.shift())) {
            // The parts are those that the knees were given as.
            model.knees = knees;
            return finish_many::<Y>(readings, model, &columns, shift, beta, &l);
        }
        (knees, shift) = (model.knees, model.shift());
    }
    None
}

/// The normal equations of readings in the parts that the knees of a model and a shift give, from sums over each part and side.
fn normal_of_many<const Z: usize, const Y: usize>(readings: Kept<'_>, model: &Model, shift: f64) -> Normal {
    let mut between = [Moments::<Z, Y>::ZERO; 3];
    let mut on_lower = [Moments::<3, 2>::ZERO; 3];
    let mut on_upper = on_lower;
    let (lower, upper) = model.knees;
    for r in readings.iter() {
        // As `SIDES` has them.
        let side = usize::from((r.side + 1).unsigned_abs());
        let (w, wy) = (r.w, r.w * r.y);
        match part(r.x + r.s() * shift, model.knees) {
            Part::Between => between.get_mut(side).map(|sums| sums.add_at(r.x, w, wy, 0.0)),
            Part::OnLower => on_lower.get_mut(side).map(|sums| sums.add_at(r.x - lower, w, wy, 0.0)),
            Part::OnUpper => on_upper.get_mut(side).map(|sums| sums.add_at(r.x - upper, w, wy, 0.0)),
        };
    }
    let mut normal = Normal::ZERO;
    for (sums, s) in between.iter().zip(SIDES) {
        normal.add_between(sums, s);
    }
    for (part, sides) in [(Part::OnLower, &on_lower), (Part::OnUpper, &on_upper)] {
        for (sums, s) in sides.iter().zip(SIDES) {
            let half = model.half_on_stop(s);
            if let Some(level) = model.hard_level(part) {
                normal.add_level(level, sums.weight(), sums.first(), half);
            } else if let Some((columns, _)) = model.giving(part) {
                normal.add_giving(columns, sums, half);
            }
        }
    }
    normal
}

/// Whether two places of the knees, each with a shift, put every reading into the same part.
fn same_parts(readings: Kept<'_>, one: ((f64, f64), f64), other: ((f64, f64), f64)) -> bool {
    SIDES.iter().all(|&s| {
        let below = |((knee, _), shift): ((f64, f64), f64)| move |x: f64| x + s * shift < knee;
        let not_above = |((_, knee), shift): ((f64, f64), f64)| move |x: f64| x + s * shift <= knee;
        !readings.differ(s, below(one), below(other)) && !readings.differ(s, not_above(one), not_above(other))
    })
}

/// A solution with what rounding left of it, its sum of squares and covariance, from one more look at each reading.
fn finish_many<const Y: usize>(
    readings: Kept<'_>,
    mut model: Model,
    columns: &Columns,
    shift: f64,
    mut beta: [f64; P],
    l: &Matrix<P>,
) -> Option<Model> {
    let mut rest = Normal::ZERO;
    let mut squares = 0.0;
    for r in readings.iter() {
        let part = part(r.x + r.s() * shift, model.knees);
        let left = rest.add_rest::<Y>(&model, r, part);
        squares += r.w * left * left;
    }
    let (_, rest) = rest.packed(columns);
    let correction = solve(l, &rest, columns.used);
    for (value, add) in beta.iter_mut().zip(&correction) {
        *value += add;
    }
    // A step `d` down from there takes `d·(2·rest − A·d)` off the squares, and `A·d` is `rest`.
    model.sse = (squares - dot(&correction, &rest)).max(0.0);
    model.set(columns, &beta);
    model.set_covariance(columns, &inverse(l, columns.used));
    model.find_knees()?;
    Some(model)
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

#[cfg(test)]
mod tests {
    use super::*;
    use crate::fit::limits::model::Motion;

    /// Invented readings of a joint between stops at ±0.6 that give, with lost motion, a bend and weights, sorted by x; scatter is a
    /// sum of sines that no model follows.
    fn readings(count: usize) -> Vec<Reading> {
        let reading = |place: usize| {
            let x = 2.0 * place as f64 / (count - 1) as f64 - 1.0;
            let side = [1, -1, 0][place % 3];
            let free = x - 0.02 * f64::from(side);
            let met = free.clamp(-0.6, 0.6);
            let at = met + 0.05 * (free - met);
            let scatter = libm::sin(57.0 * place as f64) + libm::sin(1009.0 * x);
            Reading {
                x,
                y: 3.0 * at + 0.2 * at * at - 0.1 * at * at * at + 0.01 * scatter,
                w: 1.0 + 0.5 * (place % 4) as f64,
                place: place as u32,
                side,
                noted: false,
            }
        };
        (0..count).map(reading).collect()
    }

    fn both_ways<const Z: usize, const Y: usize>(readings: Kept<'_>, layout: Layout) -> (Model, Model) {
        let knees = (-0.58, 0.57);
        let few = Sides::<Z, Y>::new(readings).polish(layout, knees, 0.0);
        let many = polish_many::<Z, Y>(readings, layout, knees, 0.0);
        (few.unwrap(), many.unwrap())
    }

    /// The quick way through many readings against the one through few, which looks at each reading in each step.
    #[test]
    fn many_readings_are_fitted_as_few_are() {
        let readings = readings(2000);
        let kept: Vec<bool> = (0..readings.len()).map(|place| place % 11 != 0).collect();
        let some = Kept::of(&readings, &kept);
        let close = |a: f64, b: f64| (a - b).abs() <= 1e-9 * (1.0 + a.abs().max(b.abs()));
        for degree in 1..=3 {
            for motion in [Motion::None, Motion::Play, Motion::Everywhere] {
                for gives in [false, true] {
                    let layout = Layout {
                        degree,
                        motion,
                        lower: true,
                        upper: true,
                        give_lower: gives,
                        give_upper: gives,
                    };
                    let (few, many) = match degree {
                        1 => both_ways::<3, 2>(some, layout),
                        2 => both_ways::<5, 3>(some, layout),
                        _ => both_ways::<7, 4>(some, layout),
                    };
                    assert!(close(few.knees.0, many.knees.0) && close(few.knees.1, many.knees.1));
                    assert!(close(few.sse, many.sse), "{} {}", few.sse, many.sse);
                    assert!(close(few.reversal(), many.reversal()));
                    for (row, other) in few.covariance.iter().zip(&many.covariance) {
                        assert!(row.iter().zip(other).all(|(a, b)| close(*a, *b)));
                    }
                    for (a, b) in few.curve().iter().zip(many.curve()) {
                        assert!(close(*a, *b));
                    }
                    assert_eq!(few.parameters, many.parameters);
                }
            }
        }
    }

    #[test]
    fn knees_that_move_past_no_reading_leave_the_parts() {
        let readings = readings(11);
        // Places every 0.2, the sides in turn from below, from above and unknown.
        let all = Kept::all(&readings);
        let same = |one, other| same_parts(all, one, other);
        assert!(same(((-0.55, 0.55), 0.0), ((-0.45, 0.45), 0.0)));
        assert!(!same(((-0.55, 0.55), 0.0), ((-0.35, 0.55), 0.0)));
        assert!(!same(((-0.55, 0.55), 0.0), ((-0.55, 0.65), 0.0)));
        // The reading at -0.4 came from below: a shift carries it over the knee, that at -0.6 stays.
        assert!(!same(((-0.41, 2.0), 0.0), ((-0.41, 2.0), -0.02)));
        assert!(same(((-0.41, 2.0), 0.0), ((-0.41, 2.0), 0.02)));
        // One that is left out counts for nothing.
        let kept: Vec<bool> = (0..11).map(|place| place != 3).collect();
        let without = Kept::of(&readings, &kept);
        assert!(same_parts(without, ((-0.41, 2.0), 0.0), ((-0.41, 2.0), -0.02)));
    }
}
