//! Which readings to take next: few, at one end, in the order in which they are taken.
//!
//! A stop lies where its level crosses the line, so its variance is `σ²/b² · (1/m + 1/n + (L − x̄)²/Sxx)` with `m` readings on
//! the stop and `n` on the line (Draper and Smith, Applied Regression Analysis, 3rd ed., 3.2, for a line's inverse). Each
//! further reading goes where it lowers that more: just on the stop, or on the line just before it.

use crate::fit::outcome::{Advice, End, EndKind, NextReading, Side};
use crate::fit::readings::Approach;
use std::vec::Vec;

/// Readings in one advice: what a person takes without a break.
const READINGS: usize = 3;
/// Distance from the stop's place at which a reading surely lies on one side of it: spans of the drive (1 deg of an 80 deg
/// sweep), and standard deviations of a reading.
const CLEAR_SPAN: f64 = 0.0125;
const CLEAR_SD: f64 = 3.0;

/// What an end is known by.
pub(super) struct Known {
    pub(super) side: Side,
    pub(super) end: End,
    /// Where its stop lies and the standard uncertainty of that, placed or guessed.
    pub(super) stop: Option<(f64, f64)>,
    /// Its last reading may fall short.
    pub(super) doubtful: bool,
    /// Readings on the stop.
    pub(super) on: usize,
    /// Outermost drive of the table at this end.
    pub(super) outermost: f64,
}

/// The weaker end's next readings; `None` where both ends are proven clear. `line` holds the drives of the readings
/// between the stops, `sd` the standard deviation of a reading in drive, `span` that of the sweep, `step` the usual distance of two readings.
pub(super) fn advise(ends: [Known; 2], mut line: Vec<f64>, sd: f64, span: f64, step: f64) -> Option<Advice> {
    let weight = |known: &Known| match known.end.kind {
        EndKind::Stalled => 2e9,
        EndKind::Contact => known.stop.map_or(0.0, |(_, u)| u),
        EndKind::Clear if known.doubtful => 1e9,
        EndKind::Clear => 0.0,
    };
    let [lower, upper] = ends;
    let weaker = if weight(&upper) > weight(&lower) { upper } else { lower };
    if weight(&weaker) <= 0.0 {
        return None;
    }
    let out = if weaker.side == Side::Upper { 1.0 } else { -1.0 };
    let approach = Approach::moving_to(weaker.side);
    let reading = |drive| NextReading { drive, approach };
    let Some((at, u)) = weaker.stop else {
        let last = weaker.end.at;
        return Some(Advice {
            side: weaker.side,
            readings: std::vec![reading(last - out * 0.5 * step), reading(last)],
            u_before: None,
            u_after: None,
        });
    };
    let apart = (CLEAR_SPAN * span).max(CLEAR_SD * sd);
    // Never further out than a reading already was.
    let limit = match weaker.end.short_at {
        Some(short) => short,
        None => weaker.outermost,
    };
    let on = if out * (at + out * apart - limit) > 0.0 {
        limit
    } else {
        at + out * apart
    };
    let before = at - out * apart;
    let mut m = weaker.on.max(1) as f64;
    let variance = |line: &[f64], m: f64| {
        let n = line.len() as f64;
        let mean = line.iter().sum::<f64>() / n;
        let sxx: f64 = line.iter().map(|x| (x - mean) * (x - mean)).sum();
        1.0 / m + 1.0 / n + (at - mean) * (at - mean) / sxx
    };
    let first = variance(&line, m);
    let (mut further, mut nearer) = (0, 0);
    for _ in 0..READINGS {
        let with_further = variance(&line, m + 1.0);
        line.push(before);
        if with_further <= variance(&line, m) {
            let _ = line.pop();
            m += 1.0;
            further += 1;
        } else {
            nearer += 1;
        }
    }
    let last = variance(&line, m);
    // A guess from one reading on the stop is normal about its place; a line of three readings has no variance to speak of.
    let ratio = last / first;
    let readings = core::iter::repeat_n(before, nearer).chain(core::iter::repeat_n(on, further));
    Some(Advice {
        side: weaker.side,
        readings: readings.map(reading).collect(),
        u_before: Some(u),
        u_after: (ratio.is_finite()).then(|| u * ratio.sqrt()),
    })
}
