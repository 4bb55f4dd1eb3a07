//! The tests behind a comparison: Student's t with effective degrees of freedom, and Holm's procedure over all of them.

use super::super::estimate::Estimate;
use super::finding::{Change, Quantity, Verdict};
use crate::fit::statistics::quantile::{f_tail, normal_quantile, t_quantile, t_two_sided};
use std::vec::Vec;

/// Coverage probability of the expanded uncertainties in E_n.
const COVERAGE: f64 = 0.95;
/// Most probability of a wrong "changed" anywhere in the comparison of an unchanged joint.
pub(crate) const ERROR_RATE: f64 = 0.05;
/// Probability with which a change of the size `detectable` is found.
const POWER: f64 = 0.9;
/// From here on Student's t is the normal distribution to six digits; statistics of infinitely many degrees of freedom
/// have none that could be computed with.
const MANY: f64 = 1e6;
/// Share of the values themselves that rounding may put between two equal ones.
pub(super) const ROUNDING: f64 = 1e-9;

/// A value with its standard uncertainty and the degrees of freedom behind that.
#[derive(Debug, Clone, Copy)]
pub(super) struct Known {
    pub(super) value: f64,
    pub(super) u: f64,
    pub(super) dof: f64,
}

impl Known {
    pub(super) fn new(value: f64, u: f64, dof: usize) -> Self {
        Self {
            value,
            u,
            dof: dof.max(1) as f64,
        }
    }

    pub(super) fn scaled(self, factor: f64) -> Self {
        Self {
            value: self.value * factor,
            u: self.u * factor.abs(),
            dof: self.dof,
        }
    }

    /// The expanded uncertainty at 95 %.
    pub(super) fn expanded(self) -> f64 {
        self.u * quantile(0.5 + 0.5 * COVERAGE, self.dof)
    }
}

fn quantile(p: f64, dof: f64) -> f64 {
    if dof < MANY {
        t_quantile(p, dof)
    } else {
        normal_quantile(p)
    }
}

/// The difference of two values, `also` being a standard uncertainty that does not come from scatter.
///
/// Degrees of freedom by Welch and Satterthwaite, GUM G.4.1, formula G.2b: `ν = u⁴ / Σ(uᵢ⁴ / νᵢ)`; what `also` brings has
/// infinitely many.
pub(super) fn difference(old: Known, new: Known, also: f64) -> Known {
    let square = |known: Known| known.u * known.u;
    let (a, b, c) = (square(old), square(new), also * also);
    let sum = a + b + c;
    // Shares of the whole, so that squares of squares cannot vanish or overflow.
    let (share_a, share_b) = if sum > 0.0 { (a / sum, b / sum) } else { (0.5, 0.5) };
    let inverse = share_a * share_a / old.dof + share_b * share_b / new.dof;
    let value = new.value - old.value;
    let rounding = ROUNDING * old.value.abs().max(new.value.abs());
    Known {
        value: if value.abs() <= rounding { 0.0 } else { value },
        u: sum.sqrt(),
        dof: (1.0 / inverse).min(MANY),
    }
}

/// A test that was made: the quantity, its numbers so far, and what they are judged by.
#[derive(Debug, Clone, Copy)]
pub(super) struct Test {
    pub(super) change: Change,
    /// Significant, but without a claim on `difference`: the verdict that it has else.
    otherwise: Verdict,
    /// By how much more the quantity must change to be found, for reasons beside its uncertainty.
    hidden: f64,
}

impl Test {
    /// A quantity that these two fits cannot be compared by.
    pub(super) const fn none(quantity: Quantity, smallest: f64, verdict: Verdict) -> Self {
        Self {
            change: Change {
                quantity,
                difference: None,
                at_least: false,
                dof: None,
                e_n: None,
                p: None,
                p_adjusted: None,
                detectable: None,
                smallest,
                verdict,
            },
            otherwise: verdict,
            hidden: 0.0,
        }
    }

    pub(super) const fn hiding(mut self, hidden: f64) -> Self {
        self.hidden = hidden;
        self
    }

    /// The difference of two values by Student's t.
    pub(super) fn of(quantity: Quantity, smallest: f64, old: Known, new: Known, also: f64) -> Self {
        let found = difference(old, new, also);
        let p = if found.value == 0.0 {
            1.0
        } else if found.u == 0.0 {
            0.0
        } else {
            t_two_sided(found.value / found.u, found.dof).clamp(0.0, 1.0)
        };
        let expanded = [
            old.expanded(),
            new.expanded(),
            also * normal_quantile(0.5 + 0.5 * COVERAGE),
        ];
        let expanded = expanded.iter().map(|u| u * u).sum::<f64>().sqrt();
        Self::with_p(quantity, smallest, found, p, expanded)
    }

    /// The same with a probability from elsewhere.
    pub(super) fn with_p(quantity: Quantity, smallest: f64, found: Known, p: f64, expanded: f64) -> Self {
        let mut test = Self::none(quantity, smallest, Verdict::Same);
        // Two exact fits: any difference counts, and none does not.
        let e_n = if found.value == 0.0 {
            0.0
        } else {
            found.value / expanded.max(f64::MIN_POSITIVE.max(found.value.abs() * 1e-12))
        };
        test.change.difference = Some(Estimate {
            value: found.value,
            u: found.u,
        });
        test.change.dof = (found.dof < MANY).then_some(found.dof);
        test.change.e_n = Some(e_n);
        test.change.p = Some(p);
        test
    }

    /// A difference that is a bound: it counts only where the later end lies beyond the earlier on the side that the
    /// bound speaks of; else the verdict is `otherwise`.
    pub(super) fn bound(mut self, contradicts: bool, otherwise: Verdict) -> Self {
        if contradicts {
            self.change.at_least = true;
        } else {
            self = Self::none(self.change.quantity, self.change.smallest, otherwise);
            // The test was made all the same: it counts among those that Holm's procedure holds together.
            self.change.p = Some(1.0);
        }
        self.otherwise = otherwise;
        self
    }
}

/// Probability of differences this large by chance, `sum` being that of `terms` squared ratios of difference and
/// standard uncertainty.
pub(super) fn p_of_squares(sum: f64, terms: f64, dof: f64) -> f64 {
    f_tail(sum / terms, terms, dof).clamp(0.0, 1.0)
}

/// The critical value of one of `count` tests, the first step of Holm's procedure and Bonferroni's of all.
pub(super) fn critical(count: usize, dof: f64) -> f64 {
    quantile(1.0 - 0.5 * ERROR_RATE / count.max(1) as f64, dof)
}

/// The change that one of `count` tests finds with probability `POWER`: beyond the critical value and what matters, and as
/// far beyond as scatter seldom takes back.
pub(crate) fn detectable(u: f64, dof: f64, count: usize, smallest: f64) -> f64 {
    (critical(count, dof) * u).max(smallest) + quantile(POWER, dof) * u
}

/// Judges all tests together (Holm, Scandinavian Journal of Statistics 6 (1979) 65): the k-th smallest of m
/// probabilities times m − k + 1, never less than that of a smaller one. Returns m too.
pub(super) fn judge(tests: Vec<Test>) -> (Vec<Change>, usize) {
    let count = tests.iter().filter(|test| test.change.p.is_some()).count();
    let adjusted = holm(&tests.iter().map(|test| test.change.p).collect::<Vec<_>>());
    let judged = tests.into_iter().zip(adjusted).map(|(test, p_adjusted)| {
        let mut change = test.change;
        change.p_adjusted = p_adjusted;
        let (Some(difference), Some(p)) = (change.difference, p_adjusted) else {
            return change;
        };
        let dof = change.dof.unwrap_or(MANY);
        change.detectable = Some(detectable(difference.u, dof, count, change.smallest) + test.hidden);
        change.verdict = match (p < ERROR_RATE, difference.value.abs() >= change.smallest) {
            (true, true) => Verdict::Changed,
            // Of a bound that is small, the true difference may be large.
            (true, false) if !change.at_least => Verdict::Negligible,
            _ => test.otherwise,
        };
        change
    });
    (judged.collect(), count)
}

/// Probabilities adjusted by Holm's procedure; what was not tested stays so.
pub(crate) fn holm(given: &[Option<f64>]) -> Vec<Option<f64>> {
    let mut order: Vec<(usize, f64)> = given
        .iter()
        .enumerate()
        .filter_map(|(place, p)| p.map(|p| (place, p)))
        .collect();
    order.sort_by(|a, b| a.1.total_cmp(&b.1));
    let mut adjusted = std::vec![None; given.len()];
    let (mut left, mut largest) = (order.len() as f64, 0.0_f64);
    for (place, p) in order {
        largest = largest.max((left * p).min(1.0));
        left -= 1.0;
        if let Some(one) = adjusted.get_mut(place) {
            *one = Some(largest);
        }
    }
    adjusted
}

#[cfg(test)]
#[allow(clippy::unwrap_used)]
mod tests {
    use super::*;

    /// By hand from Holm's formula.
    #[test]
    fn holm_multiplies_the_smallest_most_and_never_turns_back() {
        let given = [Some(0.01), None, Some(0.04), Some(0.03), Some(0.9)];
        let found: Vec<f64> = holm(&given).into_iter().flatten().collect();
        // 4 · 0.01; 3 · 0.03; 2 · 0.04 is less than that before; 1 · 0.9.
        let expected = [0.04, 0.09, 0.09, 0.9];
        for (found, expected) in found.iter().zip(expected) {
            assert!((found - expected).abs() < 1e-15, "{found} {expected}");
        }
        assert!(holm(&given).get(1).unwrap().is_none());
        assert_eq!(holm(&[Some(0.7), Some(0.8)]), [Some(1.0), Some(1.0)]);
    }

    /// Welch and Satterthwaite by hand: equal u and dof double the dof; one u of nothing leaves the other's dof.
    #[test]
    fn degrees_of_freedom_are_those_of_the_guide() {
        let known = |u, dof| Known { value: 0.0, u, dof };
        assert!((difference(known(0.1, 7.0), known(0.1, 7.0), 0.0).dof - 14.0).abs() < 1e-9);
        assert!((difference(known(0.1, 7.0), known(0.0, 3.0), 0.0).dof - 7.0).abs() < 1e-9);
        // (1 + 4)² / (1/5 + 16/10) = 25 / 1.8.
        assert!((difference(known(1.0, 5.0), known(2.0, 10.0), 0.0).dof - 25.0 / 1.8).abs() < 1e-9);
        // A part without scatter: (1 + 1 + 2)² / (1/5 + 1/5) = 40.
        let also = 2.0_f64.sqrt();
        assert!((difference(known(1.0, 5.0), known(1.0, 5.0), also).dof - 40.0).abs() < 1e-9);
    }
}
