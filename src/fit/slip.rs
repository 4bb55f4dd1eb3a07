//! The slips that a misread value may be: written with the wrong sign, decimal place, digits or tens, or a row off.

use std::format;
use std::vec::Vec;

/// How a value that was left out was probably written down wrongly.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
#[cfg_attr(
    feature = "serde",
    derive(serde::Serialize, serde::Deserialize),
    serde(rename_all = "kebab-case")
)]
#[non_exhaustive]
pub enum Slip {
    /// With the wrong sign.
    Sign,
    /// With the decimal point one place off.
    DecimalPlace,
    /// With two neighbouring digits exchanged.
    DigitsSwapped,
    /// Ten too high or too low.
    Tens,
    /// The value of the neighbouring drive angle.
    NeighbouringRow,
}

impl Slip {
    /// The word of files and other languages: `sign`, `decimal-place`, `digits-swapped`, `tens` or `neighbouring-row`.
    pub const fn as_str(self) -> &'static str {
        match self {
            Self::Sign => "sign",
            Self::DecimalPlace => "decimal-place",
            Self::DigitsSwapped => "digits-swapped",
            Self::Tens => "tens",
            Self::NeighbouringRow => "neighbouring-row",
        }
    }
}

impl core::fmt::Display for Slip {
    fn fmt(&self, f: &mut core::fmt::Formatter<'_>) -> core::fmt::Result {
        f.write_str(match self {
            Self::Sign => "its sign is wrong",
            Self::DecimalPlace => "its decimal point is one place off",
            Self::DigitsSwapped => "two of its digits are exchanged",
            Self::Tens => "it is ten too high or too low",
            Self::NeighbouringRow => "it is the value of the neighbouring drive angle",
        })
    }
}

/// Steps by which a value may lie off the grid by its roundings.
const ON_GRID: f64 = 1e-6;

/// The slip that makes `measured` of a value within `tolerance` of `expected`, if exactly such a one is known.
/// `neighbours` are the values expected at the drive angles next to it. All values of the table lie on the steps of a `grid`, 0 if of none:
/// what was meant lies on it too.
pub(super) fn slip_of(measured: f64, expected: f64, tolerance: f64, neighbours: &[f64], grid: f64) -> Option<Slip> {
    let on_grid = |value: f64| {
        let steps = (value - measured) / grid;
        grid <= 0.0 || (steps - steps.round()).abs() < ON_GRID
    };
    let near = |value: f64| (value - expected).abs() <= tolerance && on_grid(value);
    if near(-measured) {
        return Some(Slip::Sign);
    }
    if near(10.0 * measured) || near(0.1 * measured) {
        return Some(Slip::DecimalPlace);
    }
    if swapped(measured).into_iter().any(near) {
        return Some(Slip::DigitsSwapped);
    }
    if near(measured - 10.0) || near(measured + 10.0) {
        return Some(Slip::Tens);
    }
    let beside = |value: &f64| (measured - value).abs() <= tolerance;
    neighbours.iter().any(beside).then_some(Slip::NeighbouringRow)
}

/// A value as it is written, with every two neighbouring digits exchanged.
fn swapped(value: f64) -> Vec<f64> {
    let text = format!("{}", value.abs()).into_bytes();
    let digits: Vec<usize> = (0..text.len())
        .filter(|&i| text.get(i).is_some_and(u8::is_ascii_digit))
        .collect();
    digits
        .windows(2)
        .filter_map(|pair| {
            let &[a, b] = pair else { return None };
            let mut text = text.clone();
            text.swap(a, b);
            let number: f64 = core::str::from_utf8(&text).ok()?.parse().ok()?;
            Some(number.copysign(value))
        })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn each_slip_is_known_and_nothing_else() {
        for (measured, expected, slip) in [
            (-31.0, 30.6, Some(Slip::Sign)),
            (3.1, 30.6, Some(Slip::DecimalPlace)),
            (310.0, 30.6, Some(Slip::DecimalPlace)),
            (27.0, 71.7, Some(Slip::DigitsSwapped)),
            (-10.52, -15.1, Some(Slip::DigitsSwapped)),
            (41.0, 30.6, Some(Slip::Tens)),
            (20.0, 30.6, Some(Slip::Tens)),
            (36.0, 30.6, Some(Slip::NeighbouringRow)),
            (55.5, 30.6, None),
        ] {
            assert_eq!(slip_of(measured, expected, 1.0, &[25.0, 36.4], 0.0), slip, "{measured}");
        }
        // On half degrees nobody meant -5.2; on tenths somebody may have.
        for (grid, slip) in [(0.5, None), (0.1, Some(Slip::DigitsSwapped))] {
            assert_eq!(slip_of(-2.5, -5.286, 0.6, &[0.5], grid), slip, "{grid}");
        }
        assert_eq!(slip_of(27.5, -27.3, 0.6, &[], 0.5), Some(Slip::Sign));
    }
}
