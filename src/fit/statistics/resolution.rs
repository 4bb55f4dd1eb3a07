//! The step on which measured values lie: given, or seen from the values themselves.

mod spacing;

use std::vec::Vec;

/// Steps looked for, as multiples of powers of ten: graduations and digits.
const MULTIPLES: [f64; 4] = [5.0, 2.5, 2.0, 1.0];
/// Steps finer than this share of the values' span tell nothing that the scatter does not.
const FINEST: f64 = 1e-5;
/// How far from a whole number of steps a value may be and yet lie on one.
const ON_STEP: f64 = 1e-6;
/// Different values without which nothing is a grid: one value far off makes any two lie on some step.
const FEWEST_STEPS: usize = 4;
/// Readings of fewer different values that lie on a power of ten all the same: values that come again are rounded.
const FEWEST_READINGS: usize = 6;
/// Decades below the span that hold every step down to [`FINEST`].
const DECADES: i32 = 6;
/// Longest table whose values are searched for other steps: longer ones are recorded, and their scatter tells as much.
const LONGEST: usize = 256;
/// One value in so many may be written with a digit more than the others.
const ONE_OF: usize = 8;
/// Probability, by chance, of values that lie on a step, below which it is one.
const P_CHANCE: f64 = 1e-3;

/// Steps finer than this share of the measured span tell nothing of the scatter.
const TELLING: f64 = 1.0 / 400.0;

/// Whether a step is coarse enough beside the span of the values that careful readings scatter by less than it.
pub(in crate::fit) fn telling(step: f64, span: f64) -> bool {
    step > TELLING * span
}

/// The step on which values lie; `None` where they lie on none that is coarse enough to matter.
///
/// It is the coarsest of 1, 2, 2.5 or 5 times a power of ten on which all of them lie. A coarser one counts where all but one value in
/// eight lie on it and chance hardly explains it, as whole degrees do of which somebody read some between the marks.
///
/// Values that are not finite lie on no step.
pub(in crate::fit) fn step_of(values: &[f64], span: f64) -> Option<f64> {
    Values::of(values, span).step()
}

/// The same of values at drive angles, which may also lie on a step that is not a round number: sixteenths of an inch, thirds of a degree,
/// the counts of a converter in degrees, written as finely as they may be.
pub(in crate::fit) fn step_along(drive: &[f64], values: &[f64], span: f64) -> Option<f64> {
    let table = Values::of(values, span);
    let uneven = || spacing::of(&table.distinct, drive, values, table.of_all, span);
    uneven().or_else(|| table.step())
}

/// Values as they are searched for a step.
struct Values {
    /// The coarsest round step on which all of them lie.
    of_all: Option<f64>,
    /// In order; empty for a table that is too long to look for other steps than round ones of all.
    sorted: Vec<f64>,
    /// The same, each once.
    distinct: Vec<f64>,
    span: f64,
}

impl Values {
    fn of(values: &[f64], span: f64) -> Self {
        let is_searched =
            values.len() <= LONGEST && span > 0.0 && span.is_finite() && values.iter().all(|value| value.is_finite());
        let mut sorted = if is_searched { values.to_vec() } else { Vec::new() };
        sorted.sort_unstable_by(f64::total_cmp);
        let mut distinct = sorted.clone();
        distinct.dedup();
        Self {
            of_all: round_step(values, span),
            sorted,
            distinct,
            span,
        }
    }

    /// The round step on which all of them lie, or most.
    fn step(&self) -> Option<f64> {
        if self.sorted.is_empty() {
            return self.of_all;
        }
        if self.distinct.len() < FEWEST_STEPS {
            return self.of_all.or_else(|| digits_of(&self.distinct, self.sorted.len()));
        }
        round_step_of_most(&self.sorted, self.of_all, self.span).or(self.of_all)
    }
}

/// Whether all values, but for one in eight, lie on a step, counted from zero or from one of them.
pub(in crate::fit) fn lie_on(values: &[f64], step: f64) -> bool {
    let on = |from: f64| values.iter().filter(|v| whole_steps(**v, from, step).is_some()).count();
    let ends = [values.first(), values.last()].into_iter().flatten().copied();
    ends.chain([0.0])
        .any(|from| values.len() - on(from) <= values.len() / ONE_OF)
}

/// Powers of ten and their [`MULTIPLES`], the coarsest first, down to the finest that matters.
fn round_steps(span: f64) -> impl Iterator<Item = f64> {
    let top = (crate::math::ln(span) / core::f64::consts::LN_10).ceil() as i32;
    let decades = (top - DECADES..=top).rev();
    decades
        .flat_map(|decade| MULTIPLES.map(|multiple| multiple_of(multiple, decade)))
        .take_while(move |step| *step >= FINEST * span)
}

/// A multiple of a power of ten.
fn multiple_of(multiple: f64, decade: i32) -> f64 {
    let power = |k: i32| (0..k).fold(1.0, |p, _| p * 10.0);
    // 10^-k is no binary number, 10^k is: dividing gives the step as it is written.
    if decade >= 0 {
        multiple * power(decade)
    } else {
        multiple / power(-decade)
    }
}

/// The whole number of steps from one value to another, if there is one.
fn whole_steps(value: f64, from: f64, step: f64) -> Option<f64> {
    let steps = (value - from) / step;
    let whole = steps.round();
    let rounding = 4.0 * f64::EPSILON * (value.abs().max(from.abs()) / step);
    ((steps - whole).abs() < ON_STEP + rounding).then_some(whole)
}

/// The coarsest round step on which all values lie.
fn round_step(values: &[f64], span: f64) -> Option<f64> {
    let first = *values.first()?;
    if !(span > 0.0 && span.is_finite()) {
        return None;
    }
    let on_step = |step: f64| {
        let mut seen = [0.0; FEWEST_STEPS];
        let mut distinct = 1;
        // From the first value on: a graduation may begin anywhere.
        let all = values.iter().all(|&value| {
            whole_steps(value, first, step).is_some_and(|whole| {
                if let Some(next) = seen.get_mut(distinct) {
                    *next = whole;
                    distinct += usize::from(!seen.iter().take(distinct).any(|s| *s == whole));
                }
                true
            })
        });
        all && distinct >= FEWEST_STEPS
    };
    round_steps(span).find(|step| on_step(*step))
}

/// The coarsest power of ten on which two or three values lie that make up a whole table.
fn digits_of(distinct: &[f64], readings: usize) -> Option<f64> {
    let (first, last) = (*distinct.first()?, *distinct.last()?);
    let gap = smallest_gap(distinct)?;
    if readings < FEWEST_READINGS {
        return None;
    }
    round_steps(last - first)
        .filter(|step| is_power_of_ten(*step) && *step <= gap * (1.0 + ON_STEP))
        .find(|step| distinct.iter().all(|&v| whole_steps(v, first, *step).is_some()))
}

fn is_power_of_ten(step: f64) -> bool {
    let decades = crate::math::ln(step) / core::f64::consts::LN_10;
    (decades - decades.round()).abs() < ON_STEP
}

/// From each value to the next.
fn gaps(values: &[f64]) -> impl Iterator<Item = f64> {
    values.windows(2).filter_map(|pair| match pair {
        [a, b] => Some(b - a),
        _ => None,
    })
}

fn smallest_gap(distinct: &[f64]) -> Option<f64> {
    gaps(distinct).reduce(f64::min)
}

/// The coarsest round step on which all but a few values lie, coarser than the one on which all do.
fn round_step_of_most(sorted: &[f64], of_all: Option<f64>, span: f64) -> Option<f64> {
    let most_off = sorted.len() / ONE_OF;
    if most_off == 0 {
        return None;
    }
    let finer = of_all.unwrap_or(0.0);
    let at = |place: usize| sorted.get(place).copied();
    // Counted from zero, or from a value that may be on it.
    let from = [Some(0.0), at(0), at(sorted.len() / 2), at(sorted.len() - 1)];
    round_steps(span).take_while(|step| *step > finer).find(|&step| {
        from.into_iter().flatten().any(|from| {
            let is_off = |v: &&f64| whole_steps(**v, from, step).is_none();
            // No further than decides: of values without a step nearly all are off.
            let off = sorted.iter().filter(is_off).take(most_off + 1).count();
            let counts = || sorted.iter().filter_map(|&v| whole_steps(v, from, step));
            let chance = (finer / step).max(ON_STEP);
            (1..=most_off).contains(&off) && {
                let mut on: Vec<f64> = counts().collect();
                on.dedup();
                is_no_chance(chance, departures(&on))
            }
        })
    })
}

/// How many values go on by another number of steps than most, if at all: the others' steps may be those of the drive, and show nothing, as
/// those on a stop.
fn departures(counts: &[f64]) -> usize {
    let mut gaps: Vec<f64> = gaps(counts).filter(|gap| *gap != 0.0).collect();
    gaps.sort_unstable_by(f64::total_cmp);
    let commonest = gaps.chunk_by(|a, b| a == b).map(<[f64]>::len).max();
    gaps.len() - commonest.unwrap_or(0)
}

/// Whether so many values, each of which lies on a step with some probability, hardly all do so by chance.
fn is_no_chance(each: f64, values: usize) -> bool {
    values as f64 * crate::math::ln(each) < crate::math::ln(P_CHANCE)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn step(values: &[f64]) -> Option<f64> {
        let (low, high) = values
            .iter()
            .fold((f64::MAX, f64::MIN), |(l, h), v| (l.min(*v), h.max(*v)));
        step_of(values, high - low)
    }

    #[test]
    fn steps_of_protractors_counts_and_digits() {
        assert_eq!(step(&[-31.0, -30.0, -20.0, 9.0, 32.0]), Some(1.0));
        assert_eq!(step(&[0.25, 10.75, 22.5, 31.0, 44.25]), Some(0.25));
        assert_eq!(step(&[-30.0, -15.0, 5.0, 5.0, 20.0]), Some(5.0));
        assert_eq!(step(&[0.1, 0.3, 10.7, 22.2]), Some(0.1));
        assert_eq!(step(&[212.0, 301.0, 455.0, 871.0]), Some(1.0));
        // A graduation that begins between whole numbers.
        assert_eq!(step(&[0.5, 3.5, 10.5, 21.5, 40.5]), Some(1.0));
        // Far from zero a float itself is a step, which hides none a million times as coarse.
        assert_eq!(
            step(&[1.7e9, 1.7e9 + 0.01, 1.7e9 + 0.07, 1.7e9 + 0.23, 1.7e9 + 1.2]),
            Some(0.01)
        );
        // Whole degrees in another unit lie on no step of ten.
        assert_eq!(step(&[0.1_f64, 0.2, 0.7, 1.3].map(f64::sin)), None);
        assert_eq!(step(&[3.0, 3.0]), None);
        assert_eq!(step(&[f64::NAN, 1.0]), None);
        assert_eq!(step(&[1e-30, 3e-30, 1e30]), None);
    }

    /// One row between the marks does not make all others exact.
    #[test]
    fn a_few_values_with_a_digit_more_are_on_the_step_of_the_others() {
        let whole = [
            19.0, 19.0, 19.0, 25.0, 33.0, 42.0, 49.8, 58.0, 66.0, 75.0, 80.0, 80.0, 80.0,
        ];
        assert_eq!(step(&whole), Some(1.0));
        // Every second one is.
        let halves = [
            19.0, 19.5, 19.0, 25.5, 33.0, 42.5, 49.5, 58.0, 66.5, 75.0, 80.5, 80.0, 80.5,
        ];
        assert_eq!(step(&halves), Some(0.5));
        // Tens that the drive makes, and a stop between them.
        let tens = [10.0, 20.0, 30.0, 40.0, 50.0, 60.0, 70.0, 80.0, 83.4];
        assert_eq!(step(&tens), Some(0.2));
    }

    /// A joint that hardly moves between its stops shows two or three values.
    #[test]
    fn values_that_come_again_are_rounded() {
        assert_eq!(step(&[38.0, 38.0, 38.0, 38.0, 45.0, 52.0, 52.0, 52.0, 52.0]), Some(1.0));
        assert_eq!(step(&[3.0, 3.0, 3.0, 3.0, 4.0, 5.0, 5.0, 5.0]), Some(1.0));
        assert_eq!(step(&[3.1, 3.1, 3.1, 3.1, 3.4, 3.4]), Some(0.1));
        assert_eq!(step(&[3.1, 3.1, 3.4]), None);
    }
}
