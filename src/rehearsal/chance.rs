//! Chance from a seed, the same on every machine.

use rand_pcg::Pcg32;
use rand_pcg::rand_core::{Rng, SeedableRng};

/// A seeded source of numbers.
#[derive(Debug, Clone, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub(crate) struct Chance {
    source: Pcg32,
}

impl Chance {
    pub(crate) fn new(seed: u64) -> Self {
        Self {
            source: Pcg32::seed_from_u64(seed),
        }
    }

    /// Evenly from 0 up to but not 1, in steps of 2^-32.
    pub(crate) fn uniform(&mut self) -> f64 {
        f64::from(self.source.next_u32()) / 4_294_967_296.0
    }

    /// Evenly between two numbers.
    pub(crate) fn between(&mut self, low: f64, high: f64) -> f64 {
        low + (high - low) * self.uniform()
    }

    /// Whether something of this probability happens.
    pub(crate) fn happens(&mut self, probability: f64) -> bool {
        self.uniform() < probability
    }

    /// One of `count` things, counted from 0; 0 of none.
    pub(crate) fn one_of(&mut self, count: usize) -> usize {
        ((self.uniform() * count as f64) as usize).min(count.saturating_sub(1))
    }

    /// +1 or −1.
    pub(crate) fn sign(&mut self) -> f64 {
        if self.happens(0.5) { 1.0 } else { -1.0 }
    }

    /// Nearly normal, mean 0, standard deviation 1: the sum of twelve even numbers less six.
    ///
    /// Additions only, so the bits are the same everywhere, which a logarithm or a cosine would not promise. The tails end
    /// at 6, and beyond 3 they are thinner than the normal's.
    pub(crate) fn normal(&mut self) -> f64 {
        // Two numbers of 16 bits from each draw: fine enough beside any converter's step.
        let mut sum = -6.0;
        for _ in 0..6 {
            let bits = self.source.next_u32();
            sum += f64::from(bits & 0xffff) / 65536.0 + f64::from(bits >> 16) / 65536.0;
        }
        // Each even number on 0, 1/65536, … has its mean half a step below one half.
        sum + 12.0 * 0.5 / 65536.0
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_same_seed_gives_the_same_bits_for_ever() {
        let mut chance = Chance::new(7);
        let first = [chance.uniform(), chance.normal(), chance.between(-3.0, 5.0)];
        let mut again = Chance::new(7);
        assert_eq!(first, [again.uniform(), again.normal(), again.between(-3.0, 5.0)]);
        assert_ne!(Chance::new(8).uniform(), first[0]);
    }

    #[test]
    fn normal_has_its_moments() {
        let mut chance = Chance::new(1);
        let n = 200_000;
        let (mut sum, mut squares, mut beyond) = (0.0, 0.0, 0);
        for _ in 0..n {
            let x = chance.normal();
            sum += x;
            squares += x * x;
            beyond += u32::from(x.abs() > 1.959964);
        }
        let n = f64::from(n);
        assert!((sum / n).abs() < 0.01);
        assert!((squares / n - 1.0).abs() < 0.02);
        assert!((f64::from(beyond) / n - 0.05).abs() < 0.003, "{beyond}");
    }
}
