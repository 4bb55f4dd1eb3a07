//! The step on which measured values lie: given, or seen from the values themselves.

/// Steps looked for, as multiples of powers of ten: graduations and digits.
const MULTIPLES: [f64; 4] = [5.0, 2.5, 2.0, 1.0];
/// Steps finer than this share of the values' span tell nothing that the scatter does not.
const FINEST: f64 = 1e-5;
/// How far from a whole number of steps a value may be and yet lie on one.
const ON_STEP: f64 = 1e-6;
/// Different values without which nothing is a grid: one value far off makes any two lie on some step.
const FEWEST_STEPS: usize = 4;
/// Decades below the span that hold every step down to [`FINEST`].
const DECADES: i32 = 6;

/// Steps finer than this share of the measured span tell nothing of the scatter.
const TELLING: f64 = 1.0 / 400.0;

/// Whether a step is coarse enough beside the span of the values that careful readings scatter by less than it.
pub(in crate::fit) fn telling(step: f64, span: f64) -> bool {
    step > TELLING * span
}

/// The coarsest step, 1, 2, 2.5 or 5 times a power of ten, on which all values lie; `None` where they lie on none that is
/// coarse enough to matter.
///
/// Values that are not finite lie on no step.
pub(in crate::fit) fn step_of(values: &[f64], span: f64) -> Option<f64> {
    let first = *values.first()?;
    if !(span > 0.0 && span.is_finite()) {
        return None;
    }
    let on_step = |step: f64| {
        let mut seen = [0.0; FEWEST_STEPS];
        let mut distinct = 1;
        // From the first value on: a graduation may begin anywhere.
        let all = values.iter().all(|value| {
            let steps = (value - first) / step;
            let whole = steps.round();
            if let Some(next) = seen.get_mut(distinct) {
                *next = whole;
                distinct += usize::from(!seen.iter().take(distinct).any(|s| *s == whole));
            }
            (steps - whole).abs() < ON_STEP + 4.0 * f64::EPSILON * (value.abs().max(first.abs()) / step)
        });
        all && distinct >= FEWEST_STEPS
    };
    let top = (crate::math::ln(span) / core::f64::consts::LN_10).ceil() as i32;
    for decade in (top - DECADES..=top).rev() {
        for multiple in MULTIPLES {
            let step = if decade >= 0 {
                multiple * power_of_ten(decade)
            } else {
                // 10^-k is no binary number, 10^k is: dividing gives the step as it is written.
                multiple / power_of_ten(-decade)
            };
            if step < FINEST * span {
                return None;
            }
            if on_step(step) {
                return Some(step);
            }
        }
    }
    None
}

fn power_of_ten(k: i32) -> f64 {
    (0..k).fold(1.0, |p, _| p * 10.0)
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
}
