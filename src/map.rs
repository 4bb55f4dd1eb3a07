//! A straight map between two spans: exact at both ends, monotone between neighbouring floats, never outside.
//!
//! # Why not a textbook formula
//! `b0 + (x - a0) * gain` misses the far end in about one range of five and may step over it. `b0*(1-t) + b1*t` hits
//! both ends, but where b0 and b1 have the same sign one term falls while the other rises, and their two roundings can
//! make a larger x give a smaller result. The map here takes each form only where it is safe.
//!
//! # The steps
//! With `from` [a0, a1] and images b0 (of a0) and b1 (of a1), b0 above b1 if inverted:
//!
//! 1. `t = (x - a0) / (a1 - a0)`, held to the largest finite number either way. If `a1 - a0` would overflow, all
//!    three terms are halved first.
//! 2. If 0 lies between b0 and b1 (or at one of them): `y = t*b1 + (1 - t)*b0`.
//! 3. Otherwise: `y = b0 + t*(b1 - b0)`, and b1 itself at t = 1.
//!
//! # Why that keeps the promises
//! Rounding to nearest is monotone: u ≤ v implies round(u) ≤ round(v). So sum, difference, product and quotient are
//! monotone in one operand while the other is fixed. Take b0 < b1; the other case is its mirror image.
//!
//! * *t is monotone in x*, being a difference and then a quotient by a fixed number above zero (the width of two
//!   different numbers never rounds to zero as long as subnormal numbers exist). At x = a0 it is 0, and at x = a1 numerator
//!   and denominator are the same number, so it is exactly 1.
//! * *Form 2*: b1 ≥ 0 makes `t*b1` non-decreasing; b0 ≤ 0 and the non-increasing `1 - t` make `(1-t)*b0`
//!   non-decreasing; so their sum is. At t = 0 it is `0 + b0`, at t = 1 `b1 + 0`. For t in [0, 1] the first term lies in
//!   [0, b1] and the second in [b0, 0], hence the sum in [b0, b1].
//! * *Form 3*: b0 and b1 have one sign, so d = round(b1 - b0) cannot overflow. `b0 + t*d` is non-decreasing, b0 at
//!   t = 0 and at least b0 above. At t = 1 it may miss b1 by a rounding, which is why b1 is taken there; left to show is
//!   that no other t lands on the wrong side of b1. Let d⁻ and d⁺ be the neighbours of d. Below 1, t is at most 1 - u
//!   (u half the epsilon), so t*d lies more than half a spacing below d, or on d⁻ exactly if d is a power of two:
//!   round(t*d) ≤ d⁻. But d exceeds b1 - b0 by at most half of d - d⁻, so `b0 + d⁻` is below b1, and rounding, being
//!   monotone, leaves it at most b1. Above 1, t is at least 1 + 2u, hence round(t*d) ≥ d⁺, while d falls short of b1 - b0
//!   by at most half of d⁺ - d. (A difference so small that its products are subnormal is exact, and `b0 + d` is b1.)
//! * *No NaN is made*: t is finite, so `t*b1` is never 0·∞; in form 2 both terms have the same sign whenever t is
//!   outside [0, 1], so it is never ∞ - ∞.
//!
//! The form depends on the ends alone, never on x, so no two neighbours are computed differently. Only + - × ÷ and
//! comparisons are used, in this order, without fused multiply-add: the bits are the same on every machine.
//! The two forms are those proposed for C++20 `std::lerp` (ISO/IEC 14882:2020 \[c.math.lerp\]; P0811R3), which also guards
//! the far end by a comparison; the first step and the argument that makes the guard needless are ours.

use crate::real::Real;
use crate::span::Span;

/// Which end of the target belongs to the lower end of the source.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Default)]
pub enum Direction {
    /// Lower to lower, upper to upper.
    #[default]
    Direct,
    /// Lower to upper, upper to lower.
    Inverted,
}

impl Direction {
    /// The word of the robot file: `inverted = true` is [`Direction::Inverted`].
    pub fn from_inverted(inverted: bool) -> Self {
        if inverted { Self::Inverted } else { Self::Direct }
    }

    /// Whether lower goes to upper.
    pub fn is_inverted(self) -> bool {
        self == Self::Inverted
    }
}

/// The straight map from one span to another.
///
/// ```
/// use elbowroom::{Direction, LinearMap, Span};
/// let command = Span::new("command", [-40.0, 60.0])?;
/// let drive = Span::new("drive", [37.0, 122.0])?;
/// let map = LinearMap::new(command, drive, Direction::Inverted);
/// assert_eq!(map.apply(-40.0), 122.0);
/// assert_eq!(map.apply(10.0), 79.5);
/// assert_eq!(map.reversed().apply(79.5), 10.0);
/// # Ok::<(), elbowroom::JointError>(())
/// ```
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct LinearMap<T> {
    from: Span<T>,
    to: Span<T>,
    direction: Direction,
    line: Line<T>,
}

impl<T: Real> LinearMap<T> {
    /// The map that sends the ends of `from` exactly to the ends of `to`.
    pub fn new(from: Span<T>, to: Span<T>, direction: Direction) -> Self {
        Self {
            from,
            to,
            direction,
            line: Line::new(from.ends(), to.ends(), direction),
        }
    }

    /// The image of `x`, on the straight line also outside the source span.
    ///
    /// Monotone over all finite numbers; far outside it may overflow to an infinity, never to NaN. NaN gives NaN.
    #[inline]
    pub fn apply(&self, x: T) -> T {
        self.line.apply(x)
    }

    /// Its working part.
    #[inline]
    pub(crate) fn line(&self) -> &Line<T> {
        &self.line
    }

    /// The rate of change: `to` per `from`, negative if inverted.
    pub fn slope(&self) -> T {
        self.line.slope()
    }

    /// The map back: the ends of `to` go exactly to the ends of `from`.
    pub fn reversed(&self) -> Self {
        Self::new(self.to, self.from, self.direction)
    }

    /// The source span.
    pub fn from(&self) -> Span<T> {
        self.from
    }

    /// The target span.
    pub fn to(&self) -> Span<T> {
        self.to
    }

    /// Direct or inverted.
    pub fn direction(&self) -> Direction {
        self.direction
    }
}

/// The working part of a map, made from bare ends: what a firmware block evaluates from the numbers in its image.
///
/// Ends that are no span give some number or NaN, nothing worse.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Line<T> {
    /// Whether all terms are halved, as the width of `from` overflows.
    halved: bool,
    /// `a0` and `a1 - a0`, halved or not.
    origin: T,
    width: T,
    /// Images of the lower and of the upper end.
    first: T,
    last: T,
    zero_between: bool,
}

impl<T: Real> Line<T> {
    /// The line that sends `a0` and `a1` to the ends `lower` and `upper`, or the other way round.
    #[inline]
    pub(crate) fn new([a0, a1]: [T; 2], [lower, upper]: [T; 2], direction: Direction) -> Self {
        let (first, last) = match direction {
            Direction::Direct => (lower, upper),
            Direction::Inverted => (upper, lower),
        };
        let width = a1 - a0;
        let halved = !width.is_finite();
        let (origin, width) = if halved {
            (a0 * T::HALF, a1 * T::HALF - a0 * T::HALF)
        } else {
            (a0, width)
        };
        Self {
            halved,
            origin,
            width,
            first,
            last,
            zero_between: lower <= T::zero() && upper >= T::zero(),
        }
    }

    /// As [`LinearMap::apply`].
    #[inline]
    pub(crate) fn apply(&self, x: T) -> T {
        let x = if self.halved { x * T::HALF } else { x };
        let t = hold_finite((x - self.origin) / self.width);
        mix(t, [self.first, self.last], self.zero_between, t == T::one())
    }

    /// [`Line::apply`] for a number within the source, ends included: there t lies in [0, 1], and has no need to be held.
    #[inline]
    pub(crate) fn apply_inside(&self, x: T) -> T {
        let x = if self.halved { x * T::HALF } else { x };
        let t = (x - self.origin) / self.width;
        mix(t, [self.first, self.last], self.zero_between, t == T::one())
    }

    /// Whether all terms are halved, as the width of the source overflows.
    #[inline]
    pub(crate) fn is_halved(&self) -> bool {
        self.halved
    }

    /// Whether 0 lies between the images of the ends: which of the two forms [`Line::apply`] takes.
    #[inline]
    pub(crate) fn is_zero_between(&self) -> bool {
        self.zero_between
    }

    /// [`Line::apply`] for numbers within the source, of a line that is not halved and whose form is known beforehand: in
    /// loops nothing is left to decide. There t lies in [0, 1], and has no need to be held.
    #[inline(always)]
    pub(crate) fn apply_within<const ZERO_BETWEEN: bool>(&self, x: T) -> T {
        let t = (x - self.origin) / self.width;
        mix(t, [self.first, self.last], ZERO_BETWEEN, t == T::one())
    }

    /// [`Line::apply_within`] with the quotient that `divide` makes of a number and the width; `EXACT` where
    /// [`Line::meets_last`], which spares a choice.
    #[cfg(feature = "std")]
    #[inline(always)]
    pub(crate) fn apply_dividing<const ZERO_BETWEEN: bool, const EXACT: bool>(
        &self,
        x: T,
        divide: impl Fn(T) -> T,
    ) -> T {
        let t = divide(x - self.origin);
        mix(t, [self.first, self.last], ZERO_BETWEEN, !EXACT && t == T::one())
    }

    /// Whether the sum of form 3 is b1 itself at t = 1.
    #[cfg(feature = "std")]
    #[inline]
    pub(crate) fn meets_last(&self) -> bool {
        self.first + (self.last - self.first) == self.last
    }

    /// `a0`, `a1 - a0` and the images of both ends.
    #[cfg(feature = "std")]
    #[inline]
    pub(crate) fn parts(&self) -> [T; 4] {
        [self.origin, self.width, self.first, self.last]
    }

    fn slope(&self) -> T {
        let rise = self.last - self.first;
        let slope = if rise.is_finite() {
            rise / self.width
        } else {
            self.last / self.width - self.first / self.width
        };
        if self.halved { slope * T::HALF } else { slope }
    }
}

#[inline(always)]
fn mix<T: Real>(t: T, [first, last]: [T; 2], zero_between: bool, at_last: bool) -> T {
    if zero_between {
        return t * last + (T::one() - t) * first;
    }
    // Computed in any case: a choice between two numbers is no branch.
    let y = first + t * (last - first);
    if at_last { last } else { y }
}

/// The image of one `x`: what [`Line::new`] and [`Line::apply`] give, in one go.
///
/// For processors without floats, where a comparison costs as much as a sum: whatever bits can tell is asked of them, and what
/// never happens stands apart, so that its products are not computed in advance.
#[inline(always)]
pub(crate) fn image<T: Real>(x: T, from: [T; 2], to: [T; 2], direction: Direction) -> T {
    let [a0, a1] = from;
    let width = a1 - a0;
    if !width.is_bounded() {
        return image_of_wide(x, from, to, direction);
    }
    let mut t = (x - a0) / width;
    if !t.is_bounded() {
        t = hold_finite(t);
    }
    let [lower, upper] = to;
    let ends = if direction.is_inverted() {
        [upper, lower]
    } else {
        [lower, upper]
    };
    mix(
        t,
        ends,
        !lower.is_above_zero() && !upper.is_below_zero(),
        t.is_just_one(),
    )
}

/// Of a line whose width overflows.
#[cold]
#[inline(never)]
fn image_of_wide<T: Real>(x: T, from: [T; 2], to: [T; 2], direction: Direction) -> T {
    Line::new(from, to, direction).apply(x)
}

/// Infinities become the largest finite numbers; NaN stays.
#[inline]
fn hold_finite<T: Real>(t: T) -> T {
    if t > T::max_value() {
        T::max_value()
    } else if t < T::min_value() {
        T::min_value()
    } else {
        t
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    /// All finite numbers, with the ordinary ones of this trade well represented.
    macro_rules! number {
        ($t:ident) => {
            prop_oneof![
                3 => any::<$t>().prop_filter("finite", |x| x.is_finite()),
                3 => -400.0..400.0 as $t,
                1 => (-100i32..100).prop_map(|x| x as $t),
                1 => Just($t::MAX),
                1 => Just($t::MIN),
                1 => Just($t::MIN_POSITIVE),
                1 => Just($t::from_bits(1)),
            ]
        };
    }

    macro_rules! properties {
        ($module:ident, $t:ident) => {
            mod $module {
                use super::*;

                prop_compose! {
                    fn map()(a in number!($t), b in number!($t), c in number!($t), d in number!($t), inverted: bool)
                        -> Option<LinearMap<$t>> {
                        let span = |a: $t, b: $t| Span::new("x", [a.min(b), a.max(b)]).ok();
                        Some(LinearMap::new(span(a, b)?, span(c, d)?, Direction::from_inverted(inverted)))
                    }
                }

                fn climbs(map: &LinearMap<$t>, below: $t, above: $t) -> bool {
                    let (y, z) = (map.apply(below), map.apply(above));
                    if map.direction().is_inverted() { z <= y } else { y <= z }
                }

                proptest! {
                    #![proptest_config(ProptestConfig::with_cases(20_000))]

                    #[test]
                    fn ends_are_exact(map in map()) {
                        let Some(map) = map else { return Ok(()) };
                        let [b0, b1] = map.to().ends();
                        let (first, last) = if map.direction().is_inverted() { (b1, b0) } else { (b0, b1) };
                        prop_assert_eq!(map.apply(map.from().lower()), first);
                        prop_assert_eq!(map.apply(map.from().upper()), last);
                    }

                    #[test]
                    fn neighbours_keep_their_order_and_stay_inside(map in map(), part in 0.0..1.0 as $t, far in number!($t)) {
                        let Some(map) = map else { return Ok(()) };
                        let [a0, a1] = map.from().ends();
                        let within = map.from().clamp(a0 * (1.0 - part) + a1 * part);
                        for x in [within, a0, a1, far] {
                            let (below, above) = (x.next_down(), x.next_up());
                            if below.is_finite() && above.is_finite() {
                                prop_assert!(climbs(&map, below, x), "{:?} at {:e}", map, x);
                                prop_assert!(climbs(&map, x, above), "{:?} at {:e}", map, x);
                            }
                            for x in [below, x, above] {
                                prop_assert!(!map.apply(x).is_nan() || !x.is_finite());
                                if map.from().contains(x) {
                                    prop_assert!(map.to().contains(map.apply(x)), "{:?} at {:e}", map, x);
                                }
                            }
                        }
                    }

                    #[test]
                    fn the_image_of_one_number_is_that_of_the_line(map in map(), part in -1.0..2.0 as $t, far in number!($t)) {
                        let Some(map) = map else { return Ok(()) };
                        let ([a0, a1], to) = (map.from().ends(), map.to().ends());
                        let near = a0 * (1.0 - part) + a1 * part;
                        for x in [near, far, a0, a1, a0.next_up(), a1.next_down(), $t::NAN, $t::INFINITY] {
                            let one = image(x, [a0, a1], to, map.direction());
                            let line = map.apply(x);
                            prop_assert!(one.to_bits() == line.to_bits() || one.is_nan() && line.is_nan(), "{:?} at {:e}", map, x);
                        }
                    }

                    #[test]
                    fn any_two_keep_their_order(map in map(), x in number!($t), y in number!($t)) {
                        let Some(map) = map else { return Ok(()) };
                        prop_assert!(climbs(&map, x.min(y), x.max(y)), "{:?}", map);
                    }

                    #[test]
                    fn the_way_back_returns(lo in -400.0..400.0 as $t, w in 0.1..400.0 as $t, c in -400.0..400.0 as $t,
                                            v in 0.1..400.0 as $t, part in 0.0..1.0 as $t, inverted: bool) {
                        let from = Span::new("x", [lo, lo + w]).unwrap();
                        let to = Span::new("y", [c, c + v]).unwrap();
                        let map = LinearMap::new(from, to, Direction::from_inverted(inverted));
                        let x = from.clamp(lo + part * w);
                        // Rounding of the image, seen through the inverse slope, plus a few roundings of the source.
                        let unit = $t::EPSILON;
                        let bound = 4.0 * unit * ((c.abs() + v) * w / v + lo.abs() + w);
                        prop_assert!((map.reversed().apply(map.apply(x)) - x).abs() <= bound);
                    }
                }

                /// The far end from both sides, with t one step away from 1: nothing there may land beyond b1.
                #[test]
                fn next_to_the_far_end_nothing_is_on_the_wrong_side() {
                    let mut state = 3u64;
                    let mut bits = || {
                        state = state.wrapping_mul(6364136223846793005).wrapping_add(1442695040888963407);
                        state >> 20
                    };
                    for _ in 0..300_000 {
                        let at = |bits: u64| (1.0 + (bits % (1 << 24)) as $t * $t::EPSILON) * 2.0f32.powi((bits >> 24) as i32 % 6) as $t;
                        let (b0, b1) = (at(bits()), at(bits()));
                        let Ok(to) = Span::new("y", [b0.min(b1), b0.max(b1)]) else { continue };
                        let map = LinearMap::new(Span::new("x", [0.0, 1.0]).unwrap(), to, Direction::from_inverted(b0 > b1));
                        let one: $t = 1.0;
                        let (before, after) = (map.apply(one.next_down()), map.apply(one.next_up()));
                        let right = if b0 < b1 { before <= b1 && b1 <= after } else { before >= b1 && b1 >= after };
                        assert!(right, "{:e} {:e}", b0, b1);
                    }
                }

                #[test]
                fn nan_stays_nan() {
                    for to in [[-1.0, 1.0], [37.0, 122.0], [-122.0, -37.0]] {
                        let map = LinearMap::new(Span::new("x", [0.0, 1.0]).unwrap(), Span::new("y", to).unwrap(), Direction::Direct);
                        assert!(map.apply($t::NAN).is_nan());
                    }
                }
            }
        };
    }
    properties!(in_f32, f32);
    properties!(in_f64, f64);

    /// The two textbook forms fail where this one is tested: otherwise the tests above would prove little.
    #[test]
    fn the_textbook_forms_do_fail() {
        let mut state = 1u64;
        let mut next = move || {
            state = state
                .wrapping_mul(6364136223846793005)
                .wrapping_add(1442695040888963407);
            (state >> 11) as f64 / (1u64 << 53) as f64
        };
        let (mut missed, mut disordered) = (0, 0);
        for _ in 0..10_000 {
            let (a0, a1) = (next() * 10.0, 20.0 + next() * 100.0);
            let (b0, b1) = (next() * 10.0, 20.0 + next() * 100.0);
            missed += usize::from(b0 + (a1 - a0) * ((b1 - b0) / (a1 - a0)) != b1);
            let mixed = |x: f64| {
                let t = (x - a0) / (a1 - a0);
                b0 * (1.0 - t) + b1 * t
            };
            let x = a0 + next() * (a1 - a0);
            disordered += usize::from(mixed(x.next_up()) < mixed(x));
        }
        assert!(missed > 500 && disordered > 10, "{missed} {disordered}");
    }
}
