//! A shape with its ends pinned: a computed curve made exact at both ends and monotone, there and back.
//!
//! # Monotone between neighbouring floats
//! Computed sines and roots are right to a few units in the last place and so not monotone from one float to the next. But
//! over a distance of 2^-30 of a radian they are: there the true values differ by far more than the errors, as long as
//! the slope is neither near 0 nor near infinity. So the range is cut into steps of about that size, the shape is computed at
//! the two ends of the step that holds the number, and between them the value goes straight, by operations that are each
//! monotone. What that leaves out is one eighth of the step squared times the curvature: 2^-63 radian for a curvature of 1.

use crate::map::{Direction, LinearMap};
use crate::math;
use crate::real::Real;
use crate::span::Span;

/// Steps to one [`Shape::unit`].
const STEPS_PER_UNIT: f64 = (1u64 << 30) as f64;
/// Step numbers up to 2^40 leave an `f64` 12 bits for the place within a step.
const MOST_DOUBLINGS: u32 = 40;

/// A strictly monotone function on a range, and its way back.
pub(crate) trait Shape {
    /// The value at `x`.
    fn value(&self, x: f64) -> f64;
    /// The `x` nearest to `around` that has this value.
    fn place(&self, value: f64, around: f64) -> f64;
    /// The derivative at `x`.
    fn slope(&self, x: f64) -> f64;
    /// The distance in `x` over which the slope changes much.
    fn unit(&self) -> f64;
}

/// A shape between two spans: the ends of one go exactly to the ends of the other.
///
/// Beyond the ends both ways go straight on, as steeply as the shape does at the end.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Pinned<T, S> {
    shape: S,
    x: Steps,
    value: Steps,
    /// Whether the shape's value rises with x.
    rises: bool,
    /// From the shape's value to y, and back.
    pin: LinearMap<f64>,
    unpin: LinearMap<f64>,
    /// y at the lower and at the upper x, and the slopes there.
    ends: [f64; 2],
    end_slopes: [f64; 2],
    number: core::marker::PhantomData<T>,
}

impl<T: Real, S: Shape> Pinned<T, S> {
    /// None if the shape hardly moves between the ends, or its slope is no usable number there.
    pub(crate) fn new(shape: S, x: Span<T>, y: Span<T>, direction: Direction) -> Option<Self> {
        let [lower, upper] = x.ends().map(T::to_wide);
        let [first, last] = [lower, upper].map(|x| shape.value(x));
        let rises = shape.slope(lower) > 0.0;
        // Too narrow a range leaves no movement that arithmetic can see.
        let grain = first.abs().max(last.abs()) * f64::EPSILON;
        let seen = (last - first).abs() > 1e6 * grain;
        if !seen || (first < last) != rises {
            return None;
        }
        let value = Span::new("value", if rises { [first, last] } else { [last, first] }).ok()?;
        let y = Span::new("y", y.ends().map(T::to_wide)).ok()?;
        let falls = direction.is_inverted() == rises;
        let pin = LinearMap::new(value, y, Direction::from_inverted(falls));
        let steps = power_of_two_below((upper - lower) / shape.unit() * STEPS_PER_UNIT);
        let end_slopes = [lower, upper].map(|x| shape.slope(x) * pin.slope());
        let usable = end_slopes.iter().all(|slope| slope.is_finite() && *slope != 0.0);
        usable.then(|| Self {
            shape,
            x: Steps::new([lower, upper], steps),
            value: Steps::new(value.ends(), steps),
            rises,
            pin,
            unpin: pin.reversed(),
            ends: [pin.apply(first), pin.apply(last)],
            end_slopes,
            number: core::marker::PhantomData,
        })
    }

    /// y at `x`. NaN gives NaN.
    pub(crate) fn at(&self, x: T) -> T {
        let x = x.to_wide();
        let [lower, upper] = self.x.ends();
        let ([first, last], [at_lower, at_upper]) = (self.ends, self.end_slopes);
        let y = if x <= lower {
            first + (x - lower) * at_lower
        } else if x >= upper {
            last + (x - upper) * at_upper
        } else {
            self.pin.apply(self.x.between(x, |x| self.shape.value(x)))
        };
        T::from_wide(y)
    }

    /// The x of a `y`. NaN gives NaN.
    pub(crate) fn back(&self, y: T) -> T {
        let y = y.to_wide();
        let [lower, upper] = self.x.ends();
        let ([first, last], [at_lower, at_upper]) = (self.ends, self.end_slopes);
        // How far y lies beyond either end, positive outside.
        let [below, above] = if first < last {
            [first - y, y - last]
        } else {
            [y - first, last - y]
        };
        let x = if below >= 0.0 {
            lower + (y - first) / at_lower
        } else if above >= 0.0 {
            upper + (y - last) / at_upper
        } else {
            self.inner_back(self.unpin.apply(y))
        };
        T::from_wide(x)
    }

    /// y per x. Beyond the ends that of the end; NaN gives NaN.
    pub(crate) fn slope(&self, x: T) -> T {
        let x = self.x.hold(x.to_wide());
        T::from_wide(self.shape.slope(x) * self.pin.slope())
    }

    pub(crate) fn shape(&self) -> &S {
        &self.shape
    }

    fn inner_back(&self, value: f64) -> f64 {
        let [lower, upper] = self.x.ends();
        let [least, most] = self.value.ends();
        let middle = lower + (upper - lower) * 0.5;
        let (at_least, at_most) = if self.rises { (lower, upper) } else { (upper, lower) };
        self.value.between(value, |value| {
            if value <= least {
                at_least
            } else if value >= most {
                at_most
            } else {
                self.x.hold(self.shape.place(value, middle))
            }
        })
    }
}

/// A range cut into equal steps.
#[derive(Debug, Clone, Copy, PartialEq)]
struct Steps {
    lower: f64,
    upper: f64,
    /// A power of two.
    count: f64,
}

impl Steps {
    fn new([lower, upper]: [f64; 2], count: f64) -> Self {
        Self { lower, upper, count }
    }

    fn ends(&self) -> [f64; 2] {
        [self.lower, self.upper]
    }

    fn hold(&self, x: f64) -> f64 {
        if x < self.lower {
            self.lower
        } else if x > self.upper {
            self.upper
        } else {
            x
        }
    }

    /// A monotone function of an `x` within the range, taken at the ends of its step and straight in between. NaN gives NaN.
    fn between(&self, x: f64, function: impl Fn(f64) -> f64) -> f64 {
        let scaled = (x - self.lower) / (self.upper - self.lower) * self.count;
        let step = math::floor(scaled);
        // Exact, and below 1.
        let share = scaled - step;
        let [from, to] = [step, step + 1.0].map(|step| {
            if step >= self.count {
                function(self.upper)
            } else {
                function(self.hold(self.lower + (self.upper - self.lower) * (step / self.count)))
            }
        });
        let value = from + share * (to - from);
        let (low, high) = if from < to { (from, to) } else { (to, from) };
        if value < low {
            low
        } else if value > high {
            high
        } else {
            value
        }
    }
}

/// The largest power of two that is not above `x`, at least 1 and at most 2^[`MOST_DOUBLINGS`].
fn power_of_two_below(x: f64) -> f64 {
    (0..MOST_DOUBLINGS).fold(1.0, |power, _| if power * 2.0 <= x { power * 2.0 } else { power })
}
