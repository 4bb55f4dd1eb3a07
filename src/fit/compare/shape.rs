//! Position, slope and bend of a fit over a stretch of drive angles.
//!
//! A fit between its stops is a polynomial of degree 3 or less. Over a stretch it is taken apart into Legendre
//! polynomials: the mean, the slope of the least-squares line, and what departs from that line at the ends. These are
//! orthogonal, so that a bend that one table shows and the other just misses neither moves the mean nor turns the line.

use super::super::outcome::LimitFit;
use super::judge::{Known, ROUNDING, difference};
use super::stops::is_none;

/// Abscissae of a stretch from −1 to 1: its ends, and those of Gauss-Legendre's rule of three, exact to degree 5.
const PLACES: [f64; 5] = [-1.0, -0.774_596_669_241_483_4, 0.0, 0.774_596_669_241_483_4, 1.0];
/// What a sum over `PLACES` weighs each value by.
type Weights = [f64; 5];
/// The mean: half the integral.
const MEAN: Weights = [0.0, 5.0 / 18.0, 8.0 / 18.0, 5.0 / 18.0, 0.0];
/// Slope of the least-squares line, over half the stretch: 3/2 of the integral of the value times z.
const SLOPE: Weights = [0.0, -SLOPE_AT, 0.0, SLOPE_AT, 0.0];
const SLOPE_AT: f64 = 1.5 * 5.0 / 9.0 * PLACES[3];
/// Legendre's second coefficient: 5/2 of the integral of the value times P₂. P₂ is 2/5 at the outer two, −1/2 in the middle.
const ARCH: Weights = [0.0, 5.0 / 9.0, -10.0 / 9.0, 5.0 / 9.0, 0.0];
/// The third: half the difference of both ends, less the slope.
const WAVE: Weights = [-0.5, SLOPE_AT, 0.0, -SLOPE_AT, 0.5];

/// The stretch of drive angles that both fits saw move.
#[derive(Debug, Clone, Copy)]
pub(super) struct Stretch {
    pub(super) low: f64,
    pub(super) high: f64,
}

impl Stretch {
    /// None where the two have nothing in common.
    pub(super) fn common(old: &LimitFit, new: &LimitFit) -> Option<Self> {
        let low = old.lower.at.max(new.lower.at);
        let high = old.upper.at.min(new.upper.at);
        (low < high).then_some(Self { low, high })
    }

    pub(super) fn half(self) -> f64 {
        0.5 * (self.high - self.low)
    }

    fn at(self, z: f64) -> f64 {
        self.low + self.half() * (1.0 + z)
    }
}

fn degree(fit: &LimitFit) -> usize {
    fit.curve.len().saturating_sub(1)
}

/// Whether the fit between the stops is bent.
pub(super) fn is_bent(fit: &LimitFit) -> bool {
    degree(fit) > 1
}

fn legendre(k: usize, z: f64) -> f64 {
    match k {
        0 => 1.0,
        1 => z,
        2 => 1.5 * z * z - 0.5,
        _ => z * (2.5 * z * z - 1.5),
    }
}

fn between(fit: &LimitFit, drive: f64) -> f64 {
    let z = drive - fit.curve_origin;
    fit.curve.iter().rev().fold(0.0, |sum, c| sum * z + c)
}

/// A weighted sum of values over the stretch, with the uncertainty that readings spread evenly over the fit's own sweep give
/// a polynomial of this degree or more: `u² = s² / n · Σ (2k + 1) · (Σ wᵢ Pₖ(zᵢ))²`.
fn sum(fit: &LimitFit, stretch: Stretch, weights: Weights, degree: usize) -> Known {
    let own_half = (0.5 * (fit.upper.at - fit.lower.at)).max(f64::MIN_POSITIVE);
    let own_middle = 0.5 * (fit.upper.at + fit.lower.at);
    let pairs = || PLACES.iter().zip(weights).map(|(&z, w)| (stretch.at(z), w));
    let value = pairs().map(|(drive, w)| w * between(fit, drive)).sum();
    let spread: f64 = (0..=degree)
        .map(|k| {
            let part: f64 = pairs()
                .map(|(drive, w)| w * legendre(k, (drive - own_middle) / own_half))
                .sum();
            (2 * k + 1) as f64 * part * part
        })
        .sum();
    let n = fit.line.n.max(1) as f64;
    Known::new(value, fit.residual_sd * (spread / n).sqrt(), fit.dof)
}

/// The mean position over the stretch, in measured units.
pub(super) fn position(fit: &LimitFit, stretch: Stretch) -> Known {
    if is_bent(fit) {
        return sum(fit, stretch, MEAN, degree(fit));
    }
    let drive = stretch.at(0.0);
    let variance =
        fit.u_intercept * fit.u_intercept + drive * (2.0 * fit.covariance + drive * fit.u_slope * fit.u_slope);
    Known::new(fit.intercept + fit.slope * drive, variance.max(0.0).sqrt(), fit.dof)
}

/// Size of the mean slope over the stretch, measured per drive.
pub(super) fn slope(fit: &LimitFit, stretch: Option<Stretch>) -> Known {
    match stretch {
        Some(stretch) if is_bent(fit) => {
            let known = sum(fit, stretch, SLOPE, degree(fit)).scaled(1.0 / stretch.half());
            Known {
                value: known.value.abs(),
                ..known
            }
        }
        _ => Known::new(fit.slope.abs(), fit.u_slope, fit.dof),
    }
}

/// By how much the later line lies above the earlier one at a drive angle, in measured units, whether or not readings lie there.
pub(super) fn above(old: &LimitFit, new: &LimitFit, stretch: Stretch, drive: f64) -> Known {
    let [before, after] = [old, new].map(|fit| {
        if is_bent(fit) {
            let (middle, turned) = (position(fit, stretch), slope(fit, Some(stretch)));
            let way = drive - stretch.at(0.0);
            let value = middle.value + way * turned.value.copysign(fit.slope);
            return Known::new(value, crate::math::hypot(middle.u, way * turned.u), fit.dof);
        }
        let variance =
            fit.u_intercept * fit.u_intercept + drive * (2.0 * fit.covariance + drive * fit.u_slope * fit.u_slope);
        Known::new(fit.intercept + fit.slope * drive, variance.max(0.0).sqrt(), fit.dof)
    });
    difference(before, after, 0.0)
}

/// Whether the two lines cross where the drive or what is measured is zero, as they do if nothing but the scale of either changed.
pub(super) fn turn_about_zero(old: &LimitFit, new: &LimitFit, stretch: Stretch, tests: usize) -> bool {
    let (middle, rise) = (position(old, stretch).value, slope(old, Some(stretch)).value);
    let zero_measured = stretch.at(0.0) - middle / rise.copysign(old.slope);
    [0.0, zero_measured]
        .into_iter()
        .filter(|drive| drive.is_finite())
        .any(|drive| is_none(above(old, new, stretch, drive), tests, ROUNDING * rise * stretch.half()))
}

/// How two fits depart from their lines at the ends of the stretch: arch (second degree) and wave (third), old and new.
pub(super) struct Bends {
    pub(super) arch: [Known; 2],
    pub(super) wave: [Known; 2],
    /// One of the fits has a wave.
    pub(super) cubic: bool,
}

/// The bends of both fits. Of a fit that found none, the bend that is as strong as its readings just did not show, to the same
/// side as that of the other: a bend that one table shows and the other narrowly misses is no change.
pub(super) fn bends(old: &LimitFit, new: &LimitFit, stretch: Stretch) -> Bends {
    let cubic = degree(old).max(degree(new)) > 2;
    let highest = if cubic { 3 } else { 2 };
    let of = |weights: Weights| {
        let [a, b] = [old, new].map(|fit| {
            let known = sum(fit, stretch, weights, highest);
            // Of a line what rounding leaves.
            let value = if is_bent(fit) { known.value } else { 0.0 };
            Known { value, ..known }
        });
        [unseen(old, a, b), unseen(new, b, a)]
    };
    Bends {
        arch: of(ARCH),
        wave: of(WAVE),
        cubic,
    }
}

fn unseen(fit: &LimitFit, own: Known, other: Known) -> Known {
    if is_bent(fit) {
        return own;
    }
    // `p_curvature` is doubled for two looks; |t| of a two-sided probability p lies at 1 − p / 2.
    let p = (0.25 * fit.goodness.p_curvature).clamp(1e-6, 0.25);
    let most = own.u * crate::fit::statistics::quantile::t_quantile(1.0 - p, own.dof);
    Known {
        value: other.value.abs().min(most).copysign(other.value),
        ..own
    }
}

/// Smallest and largest shift of the later fit over the stretch, in measured units; what is of both signs is no shift.
pub(super) fn shifts(old: &LimitFit, new: &LimitFit, stretch: Stretch) -> (f64, f64) {
    // Between polynomials of the third degree 33 places miss less than a hundredth of the difference.
    const STEPS: i32 = 32;
    (0..=STEPS)
        .map(|i| stretch.at(2.0 * f64::from(i) / f64::from(STEPS) - 1.0))
        .map(|drive| between(new, drive) - between(old, drive))
        .fold((f64::INFINITY, f64::NEG_INFINITY), |(least, most), shift| {
            (least.min(shift), most.max(shift))
        })
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Each weighing finds its own Legendre coefficient and none of the others.
    #[test]
    fn weights_take_a_polynomial_apart() {
        for (place, weights) in [MEAN, SLOPE, ARCH, WAVE].into_iter().enumerate() {
            for k in 0..4 {
                let found: f64 = PLACES.iter().zip(weights).map(|(&z, w)| w * legendre(k, z)).sum();
                let expected = if k == place { 1.0 } else { 0.0 };
                assert!((found - expected).abs() < 1e-15, "{place} {k} {found}");
            }
        }
    }
}
