//! The exact least-squares profile over the place of a stop.
//!
//! # The model
//! `y = a + b (r + k r^2) + d s + e`: `r` is where the joint stands, `s` = ±1 the direction in which it came, `d = -b h / 2` with lost motion
//! `h`, and `k` a bend. `r` is the drive angle from the start up to the stop `t` as met in the direction driven, and goes on from there
//! by the part `give` of what the drive goes on. The joint held at its stop by hand stands at `t` itself.
//!
//! For each `t` of a grid the rest is linear. `a` and `d` are taken out by centring within each direction; what remains is a system of
//! two equations for `b` and `b k`, solved in closed form. No iteration, no start value.
//!
//! The bend is held towards none: `k` is taken for normal with the standard deviation that the plan's `bend` makes of it. So a short
//! line costs nothing for it, and a long one that is bent is followed.

use crate::bring_up::Side;
use crate::math;
use std::vec::Vec;

/// A reading that counts.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Row {
    /// The drive angle; infinitely far out where the joint is held at its stop by hand.
    pub(super) x: f64,
    /// The end towards which it came.
    pub(super) toward: Side,
    /// What was read.
    pub(super) y: f64,
}

impl Row {
    pub(super) fn is_held(&self) -> bool {
        self.x.is_infinite()
    }
}

/// Sums over the readings of one direction.
#[derive(Debug, Clone, Copy, Default)]
struct Sums {
    n: f64,
    z: f64,
    q: f64,
    y: f64,
    zz: f64,
    zq: f64,
    qq: f64,
    zy: f64,
    qy: f64,
}

impl Sums {
    fn add(&mut self, z: f64, y: f64) {
        let q = z * z;
        self.n += 1.0;
        self.z += z;
        self.q += q;
        self.y += y;
        self.zz += z * z;
        self.zq += z * q;
        self.qq += q * q;
        self.zy += z * y;
        self.qy += q * y;
    }
}

/// Centred sums over both directions.
#[derive(Debug, Clone, Copy, Default)]
struct Centred {
    zz: f64,
    zq: f64,
    qq: f64,
    zy: f64,
    qy: f64,
}

impl Centred {
    fn add(mut self, s: &Sums) -> Self {
        if s.n > 0.0 {
            self.zz += s.zz - s.z * s.z / s.n;
            self.zq += s.zq - s.z * s.q / s.n;
            self.qq += s.qq - s.q * s.q / s.n;
            self.zy += s.zy - s.z * s.y / s.n;
            self.qy += s.qy - s.q * s.y / s.n;
        }
        self
    }
}

/// A place that a stop may have, and how much of the grid it stands for. Counted outward from the start, deg.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Knot {
    pub(super) t: f64,
    pub(super) width: f64,
}

/// The best fit for one place of the stop.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Point {
    pub(super) t: f64,
    pub(super) width: f64,
    /// Sum of squared residuals, with what the bend is charged.
    pub(super) rss: f64,
    /// Readings per degree outward.
    pub(super) slope: f64,
}

/// What all fits of one bring-up share.
#[derive(Debug, Clone, Copy)]
pub(super) struct Model {
    pub(super) start: f64,
    pub(super) sd: f64,
    /// Standard deviation of the bend `k`, per deg.
    pub(super) bend: f64,
}

/// What keeps a division by the sum of squares of places finite, deg^2.
const TINY: f64 = 1e-9;

impl Model {
    /// The profile towards an end: a point for each place of the grid, over the rows given.
    pub(super) fn profile(&self, toward: Side, rows: &[Row], grid: &[Knot], give: f64) -> Vec<Point> {
        let sign = toward.sign();
        let innermost = grid.iter().fold(f64::INFINITY, |least, knot| least.min(knot.t));
        let zero = rows.first().map_or(0.0, |row| row.y);
        // What lies inside of every place of the grid is summed once.
        let (mut with, mut against) = (Sums::default(), Sums::default());
        let mut outer = Vec::new();
        let mut squares = 0.0;
        for row in rows {
            let (u, y) = (sign * (row.x - self.start), row.y - zero);
            squares += y * y;
            match row.toward == toward {
                false => against.add(u, y),
                true if u <= innermost => with.add(u, y),
                true => outer.push((u, y)),
            }
        }
        let all: f64 = outer.iter().map(|(_, y)| y).sum();
        let mean = |sum: f64, n: f64| if n > 0.0 { sum * sum / n } else { 0.0 };
        let syy = squares - mean(against.y, against.n) - mean(with.y + all, with.n + outer.len() as f64);
        let inner = Centred::default().add(&against);
        grid.iter()
            .map(|&Knot { t, width }| {
                let mut with = with;
                for &(u, y) in &outer {
                    let z = if u <= t {
                        u
                    } else if u.is_infinite() {
                        t
                    } else {
                        t + give * (u - t)
                    };
                    with.add(z, y);
                }
                let (rss, slope) = self.solve(inner.add(&with), syy);
                Point { t, width, rss, slope }
            })
            .collect()
    }

    fn solve(&self, s: Centred, syy: f64) -> (f64, f64) {
        let zz = s.zz + TINY;
        let straight = s.zy / zz;
        if self.bend <= 0.0 {
            return (syy - straight * s.zy, straight);
        }
        // A line that is flat within the noise has no bend either.
        let scale = straight.abs().max(0.05 * self.sd) * self.bend;
        let qq = s.qq + (self.sd / scale) * (self.sd / scale);
        let det = zz * qq - s.zq * s.zq;
        let b = (qq * s.zy - s.zq * s.qy) / det;
        let c = (zz * s.qy - s.zq * s.zy) / det;
        ((syy - b * s.zy - c * s.qy).max(0.0), b)
    }

    /// The variance of a reading about the model: what is expected of it, and what was seen.
    pub(super) fn variance(&self, rss: f64, n: usize) -> f64 {
        let seen = (n as f64 - PARAMETERS).max(0.0);
        (SD_WEIGHT * self.sd * self.sd + rss) / (SD_WEIGHT + seen)
    }

    /// Degrees of freedom of that variance.
    pub(super) fn dof(n: usize) -> f64 {
        SD_WEIGHT + (n as f64 - PARAMETERS).max(0.0)
    }
}

/// How many readings the expected standard deviation counts for (an assumption of this library).
pub(super) const SD_WEIGHT: f64 = 8.0;
/// a, b, d and the stop.
const PARAMETERS: f64 = 4.0;

/// The places that a stop may have: finely near the outermost reading and shortly beyond, coarsely elsewhere. Counted outward from
/// the start: from `clear` to `last`, and on to `far` where the stop was felt by hand.
pub(super) fn grid(clear: f64, last: f64, far: Option<f64>) -> Vec<Knot> {
    /// Fine and coarse step, deg.
    const FINE: f64 = 0.2;
    const COARSE: f64 = 1.0;
    /// So far to both sides of the outermost reading the grid is fine, deg: more than a stop lies from it where that matters.
    const NEAR: f64 = 12.0;
    let mut places = Vec::new();
    let mut t = clear.min(last);
    let stretch = |places: &mut Vec<f64>, t: &mut f64, to: f64, step: f64| {
        while *t < to - 1e-9 {
            places.push(*t);
            *t += step;
        }
    };
    stretch(&mut places, &mut t, last - NEAR, COARSE);
    t = t.max(clear.min(last));
    stretch(&mut places, &mut t, last, FINE);
    t = last;
    if let Some(far) = far {
        stretch(&mut places, &mut t, (last + NEAR).min(far), FINE);
        stretch(&mut places, &mut t, far, COARSE);
        t = far.max(last);
    }
    places.push(t);
    let mut knots = Vec::with_capacity(places.len());
    for (index, &t) in places.iter().enumerate() {
        let before = index.checked_sub(1).and_then(|i| places.get(i)).copied().unwrap_or(t);
        let after = places.get(index + 1).copied().unwrap_or(t);
        let width = ((after - before) / 2.0).max(FINE / 2.0);
        knots.push(Knot { t, width });
    }
    knots
}

/// Mean and standard deviation of a stop's place by the likelihood of each, and the slope of the best.
pub(super) fn moments(points: &[Point], variance: f64) -> Option<(f64, f64, f64)> {
    let best = points.iter().fold(None::<&Point>, |best, p| match best {
        Some(b) if b.rss <= p.rss => Some(b),
        _ => Some(p),
    })?;
    let (mut sum, mut first, mut second) = (0.0, 0.0, 0.0);
    for p in points {
        let w = p.width * math::exp((best.rss - p.rss) / (2.0 * variance));
        let t = p.t - best.t;
        sum += w;
        first += w * t;
        second += w * t * t;
    }
    let mean = first / sum;
    Some((best.t + mean, (second / sum - mean * mean).max(0.0).sqrt(), best.slope))
}

#[cfg(test)]
mod tests {
    use super::*;

    /// The same by solving the normal equations of all parameters anew for each place: slow and obvious.
    fn plainly(model: Model, rows: &[Row], t: f64, give: f64) -> f64 {
        use crate::fit::fit_line;
        // Without a bend and with one direction, the profile is that of a line through what the joint did.
        let x: Vec<f64> = rows
            .iter()
            .map(|r| {
                let u = r.x - model.start;
                if u <= t { u } else { t + give * (u - t) }
            })
            .collect();
        let y: Vec<f64> = rows.iter().map(|r| r.y).collect();
        fit_line(&x, &y).unwrap().sum_of_squares
    }

    #[test]
    fn the_profile_is_that_of_a_line_for_each_place() {
        let model = Model {
            start: 90.0,
            sd: 0.5,
            bend: 0.0,
        };
        let rows: Vec<Row> = (0..12)
            .map(|i| {
                let x = 84.0 + 3.0 * f64::from(i);
                let y = (1.3 * (x.min(111.0) - 90.0)).round();
                Row {
                    x,
                    toward: Side::Upper,
                    y,
                }
            })
            .collect();
        let grid = grid(6.0, 27.0, None);
        for p in model.profile(Side::Upper, &rows, &grid, 0.1) {
            let slow = plainly(model, &rows, p.t, 0.1);
            assert!((p.rss - slow).abs() < 1e-6 * (1.0 + slow), "{}: {} {slow}", p.t, p.rss);
        }
        let points = model.profile(Side::Upper, &rows, &grid, 0.05);
        let (at, u, slope) = moments(&points, 0.25).unwrap();
        assert!(
            (at - 21.0).abs() < 1.0 && u < 0.7 && (slope - 1.3).abs() < 0.1,
            "{at} {u} {slope}"
        );
    }

    #[test]
    fn a_grid_reaches_from_the_clearance_to_the_outermost_reading() {
        for (clear, last, far) in [
            (6.0, 30.0, None),
            (6.0, 6.0, None),
            (6.0, 11.0, Some(150.0)),
            (6.0, 4.0, None),
        ] {
            let knots = grid(clear, last, far);
            assert_eq!(knots.first().unwrap().t, clear.min(last));
            assert_eq!(knots.last().unwrap().t, far.unwrap_or(last));
            assert!(knots.iter().any(|k| k.t == last));
            for pair in knots.windows(2) {
                assert!(pair[1].t > pair[0].t && pair[1].t - pair[0].t < 1.01, "{pair:?}");
            }
        }
    }

    #[test]
    fn a_bend_is_followed_and_costs_a_short_line_nothing() {
        let rows: Vec<Row> = (0..25)
            .map(|i| {
                let x = 90.0 + 4.0 * f64::from(i);
                let u = x - 90.0;
                Row {
                    x,
                    toward: Side::Upper,
                    y: 2.0 * (u + 0.0005 * u * u),
                }
            })
            .collect();
        let straight = Model {
            start: 90.0,
            sd: 0.5,
            bend: 0.0,
        };
        let bent = Model {
            bend: 0.0005,
            ..straight
        };
        let none = [Knot { t: 96.0, width: 1.0 }];
        let rss = |m: Model, rows: &[Row]| m.profile(Side::Upper, rows, &none, 0.1).first().unwrap().rss;
        assert!(rss(straight, &rows) > 10.0, "{}", rss(straight, &rows));
        assert!(rss(bent, &rows) < 0.3, "{}", rss(bent, &rows));
        assert!(rss(straight, &rows[..6]) - rss(bent, &rows[..6]) < 0.01);
    }
}
