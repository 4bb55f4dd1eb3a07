//! Running sums over sorted readings: any clipped model's least-squares fit in constant time.
//!
//! A clipped polynomial `y = Σ cₖ zᵏ`, `z = clip(x, L, U)`, is linear in `c` once L and U are given, and its normal
//! equations are sums over three runs of the sorted readings. With the sums kept from the left, each pair of knees
//! costs a few subtractions and one small solve, whatever the number of readings.

use super::kept::{Point, Points};
use super::polynomial::{crossing, polynomial};
use crate::fit::statistics::dense::{Matrix, PIVOT_ROUNDING, factor, solve};
use std::vec::Vec;

/// Gaps that a search tries one by one; also how many it picks among more.
const FINE: usize = 512;

/// Places among which a model is chosen: enough that each is narrower than what the readings know of a knee.
const MOST_PLACES: usize = 16_384;

/// Places among which a knee's interval is looked for: each holds so few of millions of readings that its width is no matter, and
/// their sums take less memory than the readings.
const MOST_EXACT: usize = 262_144;

/// Weighted power sums: `Z` of them `Σ w zᵏ`, `Y` of them `Σ w y zᵏ`, where `Y` is the number of coefficients and
/// `Z = 2Y − 1`.
#[derive(Debug, Clone, Copy)]
pub(super) struct Moments<const Z: usize, const Y: usize> {
    pub(super) z: [f64; Z],
    pub(super) y: [f64; Y],
    yy: f64,
}

impl<const Z: usize, const Y: usize> Moments<Z, Y> {
    pub(super) const ZERO: Self = Self {
        z: [0.0; Z],
        y: [0.0; Y],
        yy: 0.0,
    };

    /// Adds readings of total weight `w`, weighted sum `wy` and weighted square sum `yy`, all at `z`.
    pub(super) fn add_at(&mut self, z: f64, w: f64, wy: f64, yy: f64) {
        let mut power = 1.0;
        for sum in &mut self.z {
            *sum += w * power;
            power *= z;
        }
        power = 1.0;
        for sum in &mut self.y {
            *sum += wy * power;
            power *= z;
        }
        self.yy += yy;
    }

    pub(super) fn less(&self, other: &Self) -> Self {
        let mut out = *self;
        for (a, b) in out.z.iter_mut().zip(&other.z) {
            *a -= b;
        }
        for (a, b) in out.y.iter_mut().zip(&other.y) {
            *a -= b;
        }
        out.yy -= other.yy;
        out
    }

    fn plus(&self, other: &Self) -> Self {
        let mut out = *self;
        for (a, b) in out.z.iter_mut().zip(&other.z) {
            *a += b;
        }
        for (a, b) in out.y.iter_mut().zip(&other.y) {
            *a += b;
        }
        out.yy += other.yy;
        out
    }

    /// The same readings, all moved to `z`.
    fn at(&self, z: f64) -> Self {
        let mut out = Self::ZERO;
        out.add_at(z, self.weight(), self.first(), self.yy);
        out
    }

    pub(super) fn weight(&self) -> f64 {
        self.z.first().copied().unwrap_or(0.0)
    }

    pub(super) fn first(&self) -> f64 {
        self.y.first().copied().unwrap_or(0.0)
    }

    /// Mean and squared deviations from it.
    fn level(&self) -> (f64, f64) {
        let w = self.weight();
        if w > 0.0 {
            let mean = self.first() / w;
            (mean, (self.yy - mean * self.first()).max(0.0))
        } else {
            (0.0, 0.0)
        }
    }

    /// Slope of the line through unweighted readings, its standard uncertainty, and the root of the squares about their
    /// mean place; `None` where there is none.
    pub(super) fn slope(&self) -> Option<(f64, f64, f64)> {
        let (&[n, x, xx, ..], &[y, xy, ..]) = (self.z.as_slice(), self.y.as_slice()) else {
            return None;
        };
        let squares = xx - x * x / n;
        if !(n > 2.0 && squares > 0.0) {
            return None;
        }
        let slope = (xy - x * y / n) / squares;
        let left = (self.yy - y * y / n - slope * slope * squares).max(0.0);
        Some((slope, (left / (n - 2.0) / squares).sqrt(), squares.sqrt()))
    }

    /// Least-squares coefficients; `None` where the readings do not determine them.
    fn coefficients(&self) -> Option<[f64; Y]> {
        let mut c = [0.0; Y];
        if let (&[w, x, xx], &[y, xy], [a, b]) = (self.z.as_slice(), self.y.as_slice(), c.as_mut_slice()) {
            // A line, by far the most frequent question: the same elimination without roots.
            let mean = x / w;
            let squares = xx - x * mean;
            // Written so that NaN determines nothing.
            if w > 0.0 && squares > PIVOT_ROUNDING * xx && squares.is_finite() {
                *b = (xy - mean * y) / squares;
                *a = (y - *b * x) / w;
                return Some(c);
            }
            return None;
        }
        let mut a: Matrix<Y> = [[0.0; Y]; Y];
        for (i, row) in a.iter_mut().enumerate() {
            for (cell, sum) in row.iter_mut().zip(self.z.iter().skip(i)) {
                *cell = *sum;
            }
        }
        let l = factor(&a, Y)?;
        Some(solve(&l, &self.y, Y))
    }

    /// Sum of squares that least-squares coefficients leave.
    fn left(&self, c: &[f64; Y]) -> f64 {
        let explained = c.iter().zip(&self.y).fold(0.0, |sum, (c, v)| sum + c * v);
        (self.yy - explained).max(0.0)
    }

    /// Least-squares coefficients and their sum of squares; `None` where the readings do not determine them.
    fn fit(&self) -> Option<([f64; Y], f64)> {
        let c = self.coefficients()?;
        Some((c, self.left(&c)))
    }
}

/// A clipped fit: knees (infinite where there is none) and sum of squares.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Clipped {
    pub(super) lower: f64,
    pub(super) upper: f64,
    pub(super) sse: f64,
}

/// Running sums over readings sorted by `x`, one for each place: readings repeated at one `x` are one place, however
/// many they are.
pub(super) struct Running<const Z: usize, const Y: usize> {
    /// The places, rising.
    x: Vec<f64>,
    /// Sums over all readings before each place, and over all.
    before: Vec<Moments<Z, Y>>,
}

impl<const Z: usize, const Y: usize> Running<Z, Y> {
    pub(super) fn new(points: impl Iterator<Item = Point>) -> Self {
        Self::with_places_of(points, 1)
    }

    /// The same, neighbouring places taken together until they hold so many readings; each stands where it begins.
    pub(super) fn with_places_of(points: impl Iterator<Item = Point>, readings: usize) -> Self {
        let least = points.size_hint().0 / readings.max(1);
        let mut x = Vec::with_capacity(least);
        let mut before = Vec::with_capacity(least + 1);
        let (mut last, mut held) = (f64::NAN, 0);
        before.push(Moments::ZERO);
        let mut sum = Moments::ZERO;
        for p in points {
            if p.x != last {
                if x.is_empty() {
                    x.push(p.x);
                } else if held >= readings {
                    before.push(sum);
                    x.push(p.x);
                    held = 0;
                }
                last = p.x;
            }
            held += 1;
            sum.add_at(p.x, p.w, p.w * p.y, p.w * p.y * p.y);
        }
        before.push(sum);
        Self { x, before }
    }

    /// Sums over the readings at the first places.
    pub(super) fn up_to(&self, count: usize) -> Moments<Z, Y> {
        self.before.get(count).copied().unwrap_or(Moments::ZERO)
    }

    /// Sums over all readings.
    pub(super) fn all(&self) -> Moments<Z, Y> {
        self.before.last().copied().unwrap_or(Moments::ZERO)
    }

    /// How many of the first places lie where `first` says; it must be false from some place on.
    pub(super) fn places(&self, first: impl Fn(f64) -> bool) -> usize {
        self.x.partition_point(|&x| first(x))
    }

    /// The place after so many.
    pub(super) fn place(&self, places: usize) -> Option<f64> {
        self.x.get(places).copied()
    }

    /// Places below `x`.
    fn below(&self, x: f64) -> usize {
        self.places(|v| v < x)
    }

    /// Places at or below `x`.
    fn not_above(&self, x: f64) -> usize {
        self.places(|v| v <= x)
    }

    /// Sums of all readings with z clipped.
    fn clipped(&self, lower: f64, upper: f64) -> Moments<Z, Y> {
        let (i, j) = (self.below(lower), self.not_above(upper));
        let all = self.up_to(self.x.len());
        let mut out = self.up_to(j).less(&self.up_to(i));
        if i > 0 {
            out = out.plus(&self.up_to(i).at(lower));
        }
        if j < self.x.len() {
            out = out.plus(&all.less(&self.up_to(j)).at(upper));
        }
        out
    }

    /// The best lower knee for a given upper one.
    ///
    /// Up to [`FINE`] places every gap between places, and every place, is tried. Beyond that every so many'th, then all
    /// around the best of those: among so many places the sum of squares changes smoothly with the knee.
    fn best_lower(&self, upper: f64) -> Option<Clipped> {
        let n = self.x.len();
        let stride = n.div_ceil(FINE).max(1);
        let coarse = self.best_lower_among(upper, 0, n, stride)?;
        if stride == 1 {
            return Some(coarse);
        }
        let at = self.below(coarse.lower);
        let from = at.saturating_sub(2 * stride);
        match self.best_lower_among(upper, from, at + 2 * stride, 1) {
            Some(fine) if fine.sse <= coarse.sse => Some(fine),
            _ => Some(coarse),
        }
    }

    /// The best lower knee among the gaps before every `stride`'th place from `from` to `to`.
    fn best_lower_among(&self, upper: f64, from: usize, to: usize, stride: usize) -> Option<Clipped> {
        let n = self.x.len();
        let j = self.not_above(upper);
        let mut beyond = self.up_to(j);
        if j < n {
            beyond = beyond.plus(&self.up_to(n).less(&self.up_to(j)).at(upper));
        }
        let mut best: Option<(f64, usize, bool)> = None;
        // In the gap before, the knee wanted to lie further up.
        let mut pulled_up = false;
        let mut offer = |sse: f64, gap: usize, inside: bool| {
            if best.is_none_or(|(least, _, _)| sse < least) {
                best = Some((sse, gap, inside));
            }
        };
        let x = |i: usize| self.x.get(i).copied();
        let mut next = from.max(1);
        while next < to.min(j) {
            let gap = next;
            next += stride;
            let (Some(&[previous, here]), Some(below)) = (self.x.get(gap - 1..=gap), self.before.get(gap)) else {
                break;
            };
            let rest = beyond.less(below);
            let Some(c) = rest.coefficients() else { break };
            let (level, sse_level) = below.level();
            let at_previous = polynomial(&c, previous) - level;
            let at_here = polynomial(&c, here) - level;
            let rising = at_here > at_previous;
            // Signs as if the curve rose.
            let (low, high) = if rising {
                (at_previous, at_here)
            } else {
                (-at_previous, -at_here)
            };
            if low <= 0.0 && high >= 0.0 {
                offer(sse_level + rest.left(&c), gap, true);
                pulled_up = false;
            } else {
                // Pulled to a place from both sides: the best knee stands there. With a stride the two sides lie apart;
                // any place between them will do for the coarse pass.
                if low > 0.0
                    && pulled_up
                    && let Some((_, sse)) = rest.plus(&below.at(previous)).fit()
                {
                    offer(sse, gap, false);
                }
                pulled_up = high < 0.0;
            }
        }
        let (sse, gap, inside) = best?;
        let left = x(gap.checked_sub(1)?)?;
        let lower = if inside {
            let right = x(gap)?;
            let below = self.up_to(gap);
            let (c, _) = beyond.less(&below).fit()?;
            crossing(&c, below.level().0, left, right)
        } else {
            left
        };
        Some(Clipped { lower, upper, sse })
    }
}

/// Both directions of the sums, so that one search serves both ends.
struct Both<const Z: usize, const Y: usize> {
    forward: Running<Z, Y>,
    mirrored: Running<Z, Y>,
}

impl<const Z: usize, const Y: usize> Both<Z, Y> {
    fn new(points: &Points<'_>, readings: usize) -> Self {
        Self {
            forward: Running::with_places_of(points.iter(), readings),
            mirrored: Running::with_places_of(points.iter().rev().map(|p| Point { x: -p.x, ..p }), readings),
        }
    }
}

/// Clipped least-squares fits of polynomials of one degree over sorted readings.
pub(super) trait Search {
    /// Sum of squares with both knees given.
    fn sse(&self, lower: f64, upper: f64) -> Option<f64>;
    /// The same, readings above `upper` having a level of their own.
    fn sse_apart_above(&self, lower: f64, upper: f64) -> Option<f64>;
    /// The same, readings below `lower` having a level of their own.
    fn sse_apart_below(&self, lower: f64, upper: f64) -> Option<f64>;
    /// The best lower knee, the upper one given.
    fn best_lower(&self, upper: f64) -> Option<Clipped>;
    /// The best upper knee, the lower one given.
    fn best_upper(&self, lower: f64) -> Option<Clipped>;
}

impl<const Z: usize, const Y: usize> Search for Both<Z, Y> {
    fn sse(&self, lower: f64, upper: f64) -> Option<f64> {
        self.forward.clipped(lower, upper).fit().map(|(_, sse)| sse)
    }

    fn sse_apart_above(&self, lower: f64, upper: f64) -> Option<f64> {
        let run = &self.forward;
        let (i, j) = (run.below(lower), run.not_above(upper));
        let all = run.up_to(run.x.len());
        let mut inside = run.up_to(j).less(&run.up_to(i));
        if i > 0 {
            inside = inside.plus(&run.up_to(i).at(lower));
        }
        let (_, apart) = all.less(&run.up_to(j)).level();
        inside.fit().map(|(_, sse)| sse + apart)
    }

    fn sse_apart_below(&self, lower: f64, upper: f64) -> Option<f64> {
        let run = &self.mirrored;
        let (i, j) = (run.below(-upper), run.not_above(-lower));
        let all = run.up_to(run.x.len());
        let mut inside = run.up_to(j).less(&run.up_to(i));
        if i > 0 {
            inside = inside.plus(&run.up_to(i).at(-upper));
        }
        let (_, apart) = all.less(&run.up_to(j)).level();
        inside.fit().map(|(_, sse)| sse + apart)
    }

    fn best_lower(&self, upper: f64) -> Option<Clipped> {
        self.forward.best_lower(upper)
    }

    fn best_upper(&self, lower: f64) -> Option<Clipped> {
        self.mirrored.best_lower(-lower).map(|found| Clipped {
            lower: -found.upper,
            upper: -found.lower,
            sse: found.sse,
        })
    }
}

/// Sums of squares of the least-squares line, parabola and cubic through readings, as far as they determine them.
pub(super) fn unclipped(points: impl Iterator<Item = Point>) -> [Option<f64>; 3] {
    let (mut line, mut parabola, mut cubic) = (Moments::<3, 2>::ZERO, Moments::<5, 3>::ZERO, Moments::<7, 4>::ZERO);
    for p in points {
        let (wy, yy) = (p.w * p.y, p.w * p.y * p.y);
        line.add_at(p.x, p.w, wy, yy);
        parabola.add_at(p.x, p.w, wy, yy);
        cubic.add_at(p.x, p.w, wy, yy);
    }
    [
        line.fit().map(|f| f.1),
        parabola.fit().map(|f| f.1),
        cubic.fit().map(|f| f.1),
    ]
}

/// Running sums for a polynomial of `degree` 1, 2 or 3 over readings sorted by `x`; beyond [`MOST_EXACT`] readings some share a place.
pub(super) fn search(points: &Points<'_>, degree: usize) -> std::boxed::Box<dyn Search> {
    search_by(points, degree, readings_a_place(points.len()))
}

/// Readings that share a place, so that there are no more than [`MOST_EXACT`].
pub(super) fn readings_a_place(readings: usize) -> usize {
    readings.div_ceil(MOST_EXACT).max(1)
}

/// The same for choosing among models: beyond [`MOST_PLACES`] readings some share a place, which moves a knee by less
/// than that place is wide; the fit that follows moves it back.
pub(super) fn rough_search(points: &Points<'_>, degree: usize) -> std::boxed::Box<dyn Search> {
    search_by(points, degree, (points.len() / MOST_PLACES).max(1))
}

fn search_by(points: &Points<'_>, degree: usize, readings: usize) -> std::boxed::Box<dyn Search> {
    match degree {
        2 => std::boxed::Box::new(Both::<5, 3>::new(points, readings)),
        3 => std::boxed::Box::new(Both::<7, 4>::new(points, readings)),
        _ => std::boxed::Box::new(Both::<3, 2>::new(points, readings)),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::fit::line::fit_line;

    /// Beside the line through the same readings, summed over their deviations and held to published data elsewhere.
    #[test]
    fn a_slope_of_sums_is_that_of_the_line() {
        let points: Vec<[f64; 2]> = (0..23)
            .map(|i| {
                [
                    0.4 * f64::from(i) - 3.0,
                    f64::from(i * i % 17) * 0.3 + 0.8 * f64::from(i),
                ]
            })
            .collect();
        let sums = Running::<3, 2>::new(points.iter().map(|&[x, y]| Point { x, y, w: 1.0 }));
        for (from, to) in [(0, 3), (0, 23), (5, 9), (11, 23), (20, 23)] {
            let stretch = sums.up_to(to).less(&sums.up_to(from));
            let (x, y): (Vec<f64>, Vec<f64>) = points[from..to].iter().map(|&[x, y]| (x, y)).unzip();
            let line = fit_line(&x, &y).unwrap();
            let (slope, u, spread) = stretch.slope().unwrap();
            let mean = x.iter().sum::<f64>() / x.len() as f64;
            let squares: f64 = x.iter().map(|x| (x - mean).powi(2)).sum();
            assert!(
                (slope - line.slope).abs() < 1e-10 && (u - line.u_slope).abs() < 1e-8,
                "{from} to {to}"
            );
            assert!((spread - squares.sqrt()).abs() < 1e-10, "{from} to {to}");
        }
        assert!(sums.up_to(2).slope().is_none());
    }
}
