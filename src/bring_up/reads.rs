//! A few repeats of one reading.

/// Up to [`Reads::MOST`] repeats, without a heap.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
#[cfg_attr(
    feature = "serde",
    derive(serde::Serialize, serde::Deserialize),
    serde(deny_unknown_fields)
)]
pub(crate) struct Reads {
    kept: [f64; Self::MOST as usize],
    count: u8,
}

impl Reads {
    pub(crate) const MOST: u8 = 9;

    pub(crate) fn push(&mut self, value: f64) {
        if let Some(place) = self.kept.get_mut(usize::from(self.count)) {
            *place = value;
            self.count += 1;
        }
    }

    #[cfg(feature = "serde")]
    pub(crate) fn check(&self) -> Result<(), super::error::BringUpError> {
        use super::error::BringUpError;
        BringUpError::within("count of reads", f64::from(self.count), 0.0, f64::from(Self::MOST))?;
        for value in self.kept {
            BringUpError::finite("kept reading", value)?;
        }
        Ok(())
    }

    pub(crate) const fn count(&self) -> u8 {
        self.count
    }

    fn values(&self) -> impl Iterator<Item = f64> + Clone + '_ {
        self.kept.iter().copied().take(usize::from(self.count))
    }

    /// The middle value; the mean of the two middle ones of an even number. Zero of none.
    pub(crate) fn median(&self) -> f64 {
        // By rank instead of by sorting: `sort` keeps a panic path, and there are nine values at most.
        let n = usize::from(self.count);
        let ranked = |rank: usize| {
            self.values()
                .find(|&v| {
                    let below = self.values().filter(|&w| w < v).count();
                    let equal = self.values().filter(|&w| w == v).count();
                    below <= rank && rank < below + equal
                })
                .unwrap_or(0.0)
        };
        if n == 0 {
            0.0
        } else {
            (ranked((n - 1) / 2) + ranked(n / 2)) / 2.0
        }
    }

    /// Highest less lowest; zero of none.
    pub(crate) fn range(&self) -> f64 {
        let low = self.values().fold(f64::INFINITY, f64::min);
        let high = self.values().fold(f64::NEG_INFINITY, f64::max);
        if self.count == 0 { 0.0 } else { high - low }
    }
}

/// Mean range of so many normal values, in standard deviations, from two values on (H. Leon Harter, Annals of Mathematical Statistics 31
/// (1960) 1122-1147; rounded to three digits).
const MEAN_RANGE: [f64; Reads::MOST as usize] = [1.128, 1.128, 1.693, 2.059, 2.326, 2.534, 2.704, 2.847, 2.970];
/// Standard deviation of the median of so many normal values, in standard deviations of one (order statistics, by numerical
/// integration; rounded up to two digits).
const SD_OF_MEDIAN: [f64; Reads::MOST as usize] = [1.0, 0.71, 0.68, 0.55, 0.54, 0.47, 0.46, 0.42, 0.41];

fn of(table: [f64; Reads::MOST as usize], count: u8) -> f64 {
    let index = usize::from(count.saturating_sub(1));
    table.get(index).copied().unwrap_or(1.0)
}

/// What the range of so many readings comes to on the average, in standard deviations of one.
pub(crate) fn mean_range_of(count: u8) -> f64 {
    of(MEAN_RANGE, count)
}

/// What the median of so many readings scatters, in standard deviations of one.
pub(crate) fn sd_of_median(count: u8) -> f64 {
    of(SD_OF_MEDIAN, count)
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    #[cfg(feature = "serde")]
    #[test]
    fn kept_readings_are_finite_and_no_more_than_there_is_room_for() {
        let kept = |value: f64, count: u8| {
            let mut reads = Reads::default();
            reads.push(value);
            reads.count = count;
            reads.check()
        };
        assert!(kept(512.0, 1).is_ok() && kept(512.0, Reads::MOST).is_ok());
        assert!(kept(512.0, Reads::MOST + 1).is_err());
        for value in [f64::NAN, f64::INFINITY] {
            assert!(kept(value, 1).is_err(), "{value}");
        }
    }

    proptest! {
        #[test]
        fn the_median_is_that_of_the_sorted_values(values in prop::collection::vec(-5i32..5, 1..=9)) {
            let mut reads = Reads::default();
            for &v in &values {
                reads.push(f64::from(v));
            }
            let mut sorted = values.clone();
            sorted.sort_unstable();
            let n = sorted.len();
            prop_assert_eq!(reads.median(), f64::from(sorted[(n - 1) / 2] + sorted[n / 2]) / 2.0);
            prop_assert_eq!(reads.range(), f64::from(sorted[n - 1] - sorted[0]));
        }
    }
}
