//! The place where a function of one variable changes its sign.

/// Halvings in which a place is found among all numbers of one scale, twice over.
const MOST_STEPS: usize = 90;

/// Where `excess` rises above zero, between a place inside and one outside, each with its excess; just outside, no further than
/// `close` from it.
///
/// *Source*: T. R. Chandrupatla, Advances in Engineering Software 28 (1997) 145: inverse quadratic interpolation where
/// three places admit it, halving where they do not.
pub(crate) fn crossing(inside: (f64, f64), outside: (f64, f64), close: f64, excess: &impl Fn(f64) -> f64) -> f64 {
    let (mut one, mut two) = (outside, inside);
    let mut share = 0.5;
    for _ in 0..MOST_STEPS {
        let x = one.0 + share * (two.0 - one.0);
        let new = (x, excess(x));
        let three = if (new.1 > 0.0) == (one.1 > 0.0) {
            one
        } else {
            let three = two;
            two = one;
            three
        };
        one = new;
        let least = close / (two.0 - one.0).abs();
        if least > 0.5 || least.is_nan() {
            break;
        }
        let xi = (one.0 - two.0) / (three.0 - two.0);
        let phi = (one.1 - two.1) / (three.1 - two.1);
        // False where an excess is infinite.
        let smooth = phi * phi < xi && (1.0 - phi) * (1.0 - phi) < 1.0 - xi;
        let wanted = if smooth {
            one.1 / (two.1 - one.1) * (three.1 / (two.1 - three.1))
                + one.1 / (three.1 - one.1) * (two.1 / (three.1 - two.1)) * ((three.0 - one.0) / (two.0 - one.0))
        } else {
            0.5
        };
        share = if wanted < least {
            least
        } else if wanted > 1.0 - least {
            1.0 - least
        } else {
            wanted
        };
    }
    if one.1 > 0.0 { one.0 } else { two.0 }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// The test functions of T. E. Oliveira and R. H. C. Takahashi, ACM Trans. Math. Softw. 47 (2020) 5, from memory: smooth, with a
    /// jump, flat, of high order; and their places in closed form.
    #[test]
    fn places_of_known_functions() {
        type Case = (fn(f64) -> f64, [f64; 2], f64);
        let cases: [Case; 5] = [
            (|x| x * libm::exp(x) - 1.0, [0.0, 1.0], 0.567_143_290_409_783_8), // the omega constant
            (|x| if x > 0.3 { 1.0 } else { -1.0 }, [0.0, 1.0], 0.3),
            (|x| (x - 0.25).powi(9), [0.0, 1.0], 0.25),
            (|x| x * x - 2.0, [0.0, 2.0], core::f64::consts::SQRT_2),
            (|x| if x < 0.5 { -1e-12 } else { x - 0.5 + 1e-12 }, [0.0, 1.0], 0.5),
        ];
        for (f, [low, high], at) in cases {
            let steps = core::cell::Cell::new(0);
            let counted = |x: f64| {
                steps.set(steps.get() + 1);
                f(x)
            };
            let found = crossing((low, f(low)), (high, f(high)), 1e-12, &counted);
            assert!((found - at).abs() <= 2e-12 && f(found) > 0.0, "{found} {at}");
            assert!(steps.get() <= MOST_STEPS, "{}", steps.get());
            // From the other side.
            let turned = crossing((high, -f(high)), (low, -f(low)), 1e-12, &|x| -f(x));
            assert!((turned - at).abs() <= 2e-12 && f(turned) < 0.0, "{turned} {at}");
        }
    }
}
