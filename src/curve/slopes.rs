//! The slopes at the knots.

use core::cell::Cell;

use crate::curve::piece::Knot;
use crate::math;
use crate::real::Real;

/// How the slopes at the knots follow from the knots.
///
/// All three keep the curve monotone; they differ in how well it follows what lies between the knots.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Default)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
#[cfg_attr(feature = "serde", serde(rename_all = "kebab-case"))]
#[non_exhaustive]
pub enum SlopeRule {
    /// The slope of the parabola through a knot and its two neighbours (the end knots: of the last three knots), held back
    /// by the Fritsch-Carlson limiter.
    ///
    /// A parabola is reproduced exactly, wherever the knots stand, as long as the limiter need not act: the error falls with
    /// the third power of the knots' distance. The other two rules reach the second power where knots are uneven.
    #[default]
    Parabola,
    /// The plain mean of the two neighbouring chords (the end knots: the one chord), held back by the Fritsch-Carlson limiter.
    ///
    /// *Source*: F. N. Fritsch and R. E. Carlson, SIAM J. Numer. Anal. 17 (1980) 238-246, with the circle of radius 3.
    MeanChord,
    /// The weighted harmonic mean of the two neighbouring chords, known as PCHIP; needs no limiter.
    ///
    /// The same rule as scipy's `PchipInterpolator`. *Source*: F. N. Fritsch and J. Butland, SIAM J. Sci. Stat. Comput. 5
    /// (1984) 300-304; the weights as in C. Moler, Numerical Computing with MATLAB (2004), 3.6 (both from memory).
    HarmonicChord,
}

impl SlopeRule {
    /// All, in the order of their numbers in the C interface.
    pub const ALL: [Self; 3] = [Self::Parabola, Self::MeanChord, Self::HarmonicChord];

    /// Its word in a robot file.
    pub const fn as_str(self) -> &'static str {
        match self {
            Self::Parabola => "parabola",
            Self::MeanChord => "mean-chord",
            Self::HarmonicChord => "harmonic-chord",
        }
    }
}

/// Sets the slopes of all knots from their places and values. Nothing is done for fewer than two knots.
///
/// Places must rise and values be monotone, which [`Piece::new`](crate::curve::Piece::new) checks afterwards.
pub fn set_slopes<T: Real>(knots: &mut [Knot<T>], rule: SlopeRule) {
    let knots = Cell::from_mut(knots).as_slice_of_cells();
    let (Some([first, second]), Some([last_but_one, last])) = (knots.first_chunk::<2>(), knots.last_chunk::<2>())
    else {
        return;
    };
    for three in knots.windows(3) {
        if let [a, b, c] = three {
            put(b, inner(a.get(), b.get(), c.get(), rule));
        }
    }
    match (rule, knots.get(2), knots.iter().nth_back(2)) {
        (SlopeRule::Parabola | SlopeRule::HarmonicChord, Some(third), Some(last_but_two)) => {
            put(first, end(first.get(), second.get(), third.get()));
            put(last, end(last.get(), last_but_one.get(), last_but_two.get()));
        }
        _ => {
            put(first, chord(first.get(), second.get()));
            put(last, chord(last_but_one.get(), last.get()));
        }
    }
    if rule != SlopeRule::HarmonicChord {
        for pair in knots.windows(2) {
            if let [a, b] = pair {
                limit(a, b);
            }
        }
    }
}

fn put<T: Real>(knot: &Cell<Knot<T>>, slope: T) {
    knot.set(Knot { slope, ..knot.get() });
}

fn chord<T: Real>(a: Knot<T>, b: Knot<T>) -> T {
    (b.y - a.y) / (b.x - a.x)
}

/// The slope at a knot with two neighbours.
fn inner<T: Real>(a: Knot<T>, b: Knot<T>, c: Knot<T>, rule: SlopeRule) -> T {
    let (before, after) = (chord(a, b), chord(b, c));
    // Not a product of the two, which may underflow.
    let agree = (before > T::zero() && after > T::zero()) || (before < T::zero() && after < T::zero());
    let (h0, h1) = (b.x - a.x, c.x - b.x);
    match rule {
        SlopeRule::MeanChord => (before + after) * T::HALF,
        _ if !agree => T::zero(),
        // As a mean with weights between 0 and 1, so that nothing overflows.
        SlopeRule::Parabola => before * (h1 / (h0 + h1)) + after * (h0 / (h0 + h1)),
        SlopeRule::HarmonicChord => {
            let (w0, w1) = (h1 + h1 + h0, h1 + h0 + h0);
            (w0 + w1) / (w0 / before + w1 / after)
        }
    }
}

/// The slope at an end: of the parabola through three knots counted from the end, held to 0 to 3 times the end's chord.
fn end<T: Real>(a: Knot<T>, b: Knot<T>, c: Knot<T>) -> T {
    let (near, far) = (chord(a, b), chord(b, c));
    let (h0, h1) = ((b.x - a.x).abs(), (c.x - b.x).abs());
    let share = h0 / (h0 + h1);
    let slope = near + (near - far) * share;
    let three = T::one() + T::one() + T::one();
    let up = near > T::zero();
    if near == T::zero() || (slope > T::zero()) != up {
        T::zero()
    } else if (far > T::zero()) != up && slope.abs() > three * near.abs() {
        three * near
    } else {
        slope
    }
}

/// The limiter of Fritsch and Carlson: the two slopes of a piece, in units of its chord, are scaled back to the circle of
/// radius 3 if they lie beyond it.
///
/// The factor's square root is taken in `f64` for both number types; rounded to `f32` that is the correctly rounded root.
fn limit<T: Real>(a: &Cell<Knot<T>>, b: &Cell<Knot<T>>) {
    let chord = chord(a.get(), b.get());
    if chord == T::zero() {
        put(a, T::zero());
        put(b, T::zero());
        return;
    }
    let left = a.get().slope / chord;
    let right = b.get().slope / chord;
    let square = left * left + right * right;
    let three = T::one() + T::one() + T::one();
    if square > three * three {
        let factor = three / T::from_wide(math::sqrt(square.to_wide()));
        // A square that overflowed would make both slopes zero: then neither is worth keeping anyway.
        put(a, factor * left * chord);
        put(b, factor * right * chord);
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::vec::Vec;

    #[test]
    fn a_parabola_keeps_its_slopes_on_uneven_knots() {
        let mut knots: Vec<Knot<f64>> = [0.0, 1.0, 4.0, 5.0].iter().map(|&x| Knot::new(x, x * x + x)).collect();
        set_slopes(&mut knots, SlopeRule::Parabola);
        for k in knots {
            approx::assert_relative_eq!(k.slope, 2.0 * k.x + 1.0, max_relative = 1e-14);
        }
    }

    #[test]
    fn two_knots_make_a_line_under_every_rule() {
        for rule in [SlopeRule::Parabola, SlopeRule::MeanChord, SlopeRule::HarmonicChord] {
            let mut knots = [Knot::new(1.0f32, 5.0), Knot::new(3.0, 1.0)];
            set_slopes(&mut knots, rule);
            assert_eq!(knots.map(|k| k.slope), [-2.0, -2.0]);
            let mut one = [Knot::new(1.0f32, 5.0)];
            set_slopes(&mut one, rule);
            assert_eq!(one[0].slope, 0.0);
        }
    }
}
