//! Tables of few rows, as people write them down at a bench: the ends by all hypotheses together.
//!
//! With one stalled reading at each end, both pull the line flat: of seven readings at even steps, the residuals of the
//! end readings are smaller than those of their neighbours, which are right, and the scatter estimated from the same
//! readings grows along. No test against that scatter can see it. Three facts from outside the table undo this, each as
//! a prior: the scatter is tied to the resolution; a stop lies anywhere in the gap before the first reading that it
//! holds; lost motion is never negative.
//!
//! A hypothesis says how many rows lie on the lower stop and how many on the upper one, which row is misread, if any,
//! whether the line is straight, bent, part of a circle or jumps, whether there is lost motion, and how far readings scatter. All are
//! enumerated (`blocks.rs`; the line of a block: `line.rs`; a stop in its gap: `gap.rs`), each with its marginal likelihood in closed form (a linear model with normal and flat
//! priors), so that nothing is searched for and nothing depends on a start. The profile over every join is Lerman's
//! (J. R. Stat. Soc. C 29 (1980) 77); the sum over which reading is spurious that of Guttman, Dutter and Freeman
//! (Technometrics 20 (1978) 187).

mod adopt;
mod blocks;
mod gap;
mod line;
mod normal;
mod shape;
mod table;

use crate::fit::statistics::crossing::crossing;
use crate::math::{exp, ln};
pub(super) use adopt::{Adopted, MOST_LEFT_OUT, adopt};
use blocks::{Hypothesis, hypotheses, ln_misread};
use gap::Stop;
use normal::{density, phi};
use shape::Bend;
use std::vec::Vec;

pub(super) use table::sides_by_order;
use table::{Row, Table};

/// A stop counts as passed where it lies further back than the larger of these: spans of the drive (0.8 deg of an 80 deg
/// sweep), and standard deviations of a reading.
const SHORT_SPAN: f64 = 0.01;
const SHORT_SD: f64 = 3.0;
/// Probability of a passed stop above which the travel ends before it. Asymmetric: forcing a joint costs more than
/// shortening its travel.
const DOUBT: f64 = 0.13;
/// Probability of a passed stop above which a clear end is not left without a word.
const WARN: f64 = 0.04;
/// Probability of two rows or more on a stop above which it is placed.
const PLACED: f64 = 0.9;
/// Probability of a bend from which no stop is named.
const BENT: f64 = 0.9;
/// Longest interval of a contact, in steps between the rows.
const LONGEST: f64 = 1.5;
/// Probability above which a row is left out.
const LEFT_OUT: f64 = 0.9;
/// Scatter, as a share of the sweep, from which more than one row may be misread.
const WIDE: f64 = 1.0 / 150.0;
/// The same in steps of the measured values, of which a careful hand's scatter is 0.45.
const WIDE_STEPS: f64 = 0.7;
/// Chance that two rows of a table are exchanged.
const EXCHANGED: f64 = 0.003;
/// Several rows are misread where that raises the logarithm of the table's probability by more than this.
const WORTH: f64 = 3.0;
/// How closely a quantile is found, in half spans of the drive: far below any reading's step.
const CLOSE: f64 = 1e-11;
/// Share of a hypothesis below which it moves no quantile.
const NEGLIGIBLE: f64 = 1e-6;

/// What the hypotheses together say of one end.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct FewEnd {
    /// The outermost drive that is not past a stop.
    pub(super) follows: f64,
    /// The next drive outwards, if there is one: its reading falls short.
    pub(super) short_at: Option<f64>,
    /// Probability that the outermost row lies past a stop.
    pub(super) chance: f64,
    /// The stop, if there is one.
    pub(super) stop: Option<Placed>,
    /// Probability that two rows or more lie on it.
    pub(super) several: f64,
    /// It can be named: two rows on it, and placed within its gap.
    pub(super) contact: bool,
}

/// A stop's place.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Placed {
    pub(super) at: f64,
    pub(super) u: f64,
    pub(super) interval: [f64; 2],
    /// Rows on it, at the likeliest.
    pub(super) rows: usize,
}

/// What the hypotheses together say.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Verdict {
    pub(super) ends: [FewEnd; 2],
    /// Rows, by their place in the table as given, that are misread.
    pub(super) misread: Vec<usize>,
    /// Standard deviation of a reading, in drive.
    pub(super) sd: f64,
    /// Lost motion in drive, where both sides occur.
    pub(super) motion: f64,
    /// Probability that there is any.
    pub(super) moves: f64,
    /// Probability that the measured value rises with the drive.
    pub(super) rises: f64,
    /// Probability that the line is bent.
    pub(super) bent: f64,
    /// The likeliest jump.
    pub(super) jump: Option<Jump>,
}

/// Values that jump somewhere.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Jump {
    /// Probability that they do.
    pub(super) p: f64,
    /// The drives on either side of it.
    pub(super) between: [f64; 2],
    /// How far, in measured units.
    pub(super) size: f64,
}

impl FewEnd {
    /// An end that is clear, but not beyond doubt.
    pub(super) fn doubtful(&self) -> bool {
        self.short_at.is_none() && self.chance > WARN
    }
}

/// Weighs all hypotheses about a table. `None` where no line can be laid through it.
/// `shown` is the standard deviation of a reading of unit weight about the fit, if there is one, and `left_out` are the readings that it
/// left out, by their places in the table as given.
pub(super) fn judge(
    rows: &[Row],
    step: f64,
    stated: bool,
    sides_inferred: bool,
    shown: Option<f64>,
    left_out: &[usize],
    confidence: f64,
) -> Option<Verdict> {
    let table = Table::new(rows.to_vec(), step, stated, sides_inferred, shown)?;
    let posterior = Posterior::of(&table)?;
    let verdict = |posterior: &Posterior<'_>| posterior.verdict(confidence);
    if !(table.misreadings && posterior.is_wide()) {
        return Some(verdict(&posterior));
    }
    // Each hypothesis holds one row for misread at the most. There may be one besides; the fit may have left out several; and two rows
    // that were exchanged are right when they are exchanged again.
    let likeliest = posterior.likeliest_misread();
    let pair = table.most_backwards();
    let one = likeliest.as_ref().map(|row| {
        let rows = std::slice::from_ref(row);
        (rows, table.without(rows), ln_misread(&table))
    });
    let several = (left_out.len() > 1).then(|| {
        let ln_p = left_out.len() as f64 * ln_misread(&table);
        (left_out, table.without(left_out).with_none_misread(), ln_p)
    });
    let exchanged = pair.as_ref().map(|pair| {
        let table = table.exchanged(*pair).with_none_misread();
        (&pair[..], table, ln(EXCHANGED))
    });
    let candidates = [one, several, exchanged].into_iter().flatten();
    let weighed = candidates.filter_map(|(rows, table, ln_p)| Some((Posterior::of(&table)?.ln_evidence + ln_p, rows)));
    let best = weighed.max_by(|a, b| a.0.total_cmp(&b.0));
    let Some((_, misread)) = best.filter(|(evidence, _)| *evidence > posterior.ln_evidence + WORTH) else {
        return Some(verdict(&posterior));
    };
    let less = table.without(misread);
    let mut verdict = verdict(&Posterior::of(&less)?);
    verdict.misread.extend(misread);
    verdict.misread.sort_unstable();
    Some(verdict)
}

struct Posterior<'a> {
    table: &'a Table,
    /// Logarithm of the probability of the whole table, up to what is common to all tables of these scales.
    ln_evidence: f64,
    found: Vec<Hypothesis>,
    weights: Vec<f64>,
    /// The stops of each hypothesis.
    cuts: Vec<[Vec<Cut>; 2]>,
}

/// A stop, with what is the same wherever it is asked about.
struct Cut {
    stop: Stop,
    /// Its share of the hypothesis.
    share: f64,
    /// How much of the whole normal variable lies below the gap, and how much within it.
    before: f64,
    within: f64,
}

impl Cut {
    fn of(stop: &Stop) -> Self {
        let z = |x: f64| phi((x - stop.at) / stop.u);
        let before = z(stop.low);
        Self {
            stop: *stop,
            share: exp(stop.share),
            before,
            within: z(stop.high) - before,
        }
    }

    /// Probability, under the hypothesis, that the stop is this one and lies below a drive.
    fn below(&self, at: f64) -> f64 {
        let stop = &self.stop;
        let part = if at <= stop.low {
            0.0
        } else if at >= stop.high {
            1.0
        } else if self.within > f64::MIN_POSITIVE {
            ((phi((at - stop.at) / stop.u) - self.before) / self.within).clamp(0.0, 1.0)
        } else {
            // All of it in one tail: at the end of the gap that is nearer.
            f64::from(u8::from(stop.at < stop.low))
        };
        self.share * part
    }
}

impl<'a> Posterior<'a> {
    /// All hypotheses about a table; `None` where no line can be laid through it.
    fn of(table: &'a Table) -> Option<Self> {
        let found = hypotheses(table);
        let best = found.iter().map(|h| h.weight).fold(f64::NEG_INFINITY, f64::max);
        if !best.is_finite() {
            return None;
        }
        let mut weights: Vec<f64> = found.iter().map(|h| exp(h.weight - best)).collect();
        let all: f64 = weights.iter().sum();
        weights.iter_mut().for_each(|w| *w /= all);
        Some(Self {
            table,
            ln_evidence: best + ln(all),
            weights,
            cuts: found
                .iter()
                .map(|h| h.stops.each_ref().map(|s| s.iter().map(Cut::of).collect()))
                .collect(),
            found,
        })
    }

    /// The row most often held for misread, by its place as given.
    fn likeliest_misread(&self) -> Option<usize> {
        let rows = self.table.rows.iter().enumerate();
        let by_p = rows.map(|(row, r)| (self.probability(|h| h.misread == Some(row)), r.index));
        let (p, index) = by_p.max_by(|a, b| a.0.total_cmp(&b.0))?;
        (p > 0.0).then_some(index)
    }

    /// Whether the readings scatter so widely that more than one may be misread.
    fn is_wide(&self) -> bool {
        let share = self.median_sd() / (2.0 * self.table.half);
        share > WIDE && share * self.table.span > WIDE_STEPS * self.table.step
    }

    fn each(&self) -> impl Iterator<Item = (f64, &Hypothesis)> {
        self.weights.iter().copied().zip(&self.found)
    }

    /// The stops of one side, hypothesis by hypothesis.
    fn cuts_of(&self, side: usize) -> impl Iterator<Item = &[Cut]> {
        self.cuts
            .iter()
            .map(move |cuts| cuts.get(side).map_or(&[][..], Vec::as_slice))
    }

    fn probability(&self, of: impl Fn(&Hypothesis) -> bool) -> f64 {
        self.each().filter(|(_, h)| of(h)).map(|(w, _)| w).sum()
    }

    fn verdict(&self, confidence: f64) -> Verdict {
        let rows = &self.table.rows;
        let misread: Vec<usize> = (0..rows.len())
            .filter(|&row| self.probability(|h| h.misread == Some(row)) > LEFT_OUT)
            .collect();
        let sd = self.median_sd();
        let mut places = self.table.places.clone();
        places.retain(|&place| {
            rows.iter()
                .enumerate()
                .any(|(i, row)| row.drive == place && !misread.contains(&i))
        });
        let tolerance = (SHORT_SPAN * 2.0 * self.table.half).max(SHORT_SD * sd);
        let ends = [false, true].map(|upper| self.end(upper, &places, tolerance, confidence));
        let index = |row: usize| rows.get(row).map(|r| r.index);
        Verdict {
            misread: misread.iter().filter_map(|&row| index(row)).collect(),
            sd,
            motion: self.each().map(|(w, h)| w * h.motion).sum(),
            rises: self.each().map(|(w, h)| w * h.rises).sum::<f64>().clamp(0.0, 1.0),
            moves: self.probability(|h| h.moves),
            bent: self.bent(),
            jump: self.jump(),
            ends,
        }
    }

    fn bent(&self) -> f64 {
        self.probability(|h| matches!(h.bend, Bend::Mild | Bend::Strong | Bend::Arc(_)))
            .min(1.0)
    }

    fn median_sd(&self) -> f64 {
        let mut by_sd: Vec<(f64, f64)> = self.each().map(|(w, h)| (h.sd, w)).collect();
        by_sd.sort_by(|a, b| a.0.total_cmp(&b.0));
        let mut sum = 0.0;
        for &(sd, w) in &by_sd {
            sum += w;
            if sum >= 0.5 {
                return sd;
            }
        }
        by_sd.last().map_or(0.0, |(sd, _)| *sd)
    }

    fn jump(&self) -> Option<Jump> {
        let p = self.probability(|h| matches!(h.bend, Bend::Jump(_)));
        let mut best: Option<(f64, Jump)> = None;
        for pair in self.table.places.windows(2) {
            let &[before, after] = pair else { continue };
            let at = || self.each().filter(move |(_, h)| h.bend == Bend::Jump(before));
            let here: f64 = at().map(|(w, _)| w).sum();
            if here > 0.0 && best.as_ref().is_none_or(|(most, _)| here > *most) {
                let size = at().map(|(w, h)| w * h.jump).sum::<f64>() / here;
                let between = [before, after];
                best = Some((here, Jump { p, between, size }));
            }
        }
        best.map(|(_, jump)| jump)
    }

    fn end(&self, upper: bool, places: &[f64], tolerance: f64, confidence: f64) -> FewEnd {
        let side = usize::from(upper);
        let out = if upper { 1.0 } else { -1.0 };
        // The stop as it is met when driven outwards, so with half the lost motion.
        let past = |drive: f64| {
            self.each()
                .zip(self.cuts_of(side))
                .map(|((w, h), cuts)| {
                    let at = drive - out * (0.5 * h.motion + tolerance);
                    w * if cuts.is_empty() {
                        0.0
                    } else if upper {
                        below(cuts, at)
                    } else {
                        1.0 - below(cuts, at)
                    }
                })
                .sum::<f64>()
        };
        let outwards: Vec<f64> = if upper {
            places.iter().rev().copied().collect()
        } else {
            places.to_vec()
        };
        let chance = outwards.first().map_or(0.0, |&drive| past(drive));
        let k = if chance <= DOUBT {
            0
        } else {
            let inward = outwards.iter().skip(1).position(|&drive| past(drive) <= DOUBT);
            inward.map_or(outwards.len() / 2, |i| i + 1)
        };
        let at = |i: usize| outwards.get(i).copied().unwrap_or(self.table.centre);
        let stop = (k > 0).then(|| self.place(side, confidence));
        let several: f64 = self.probability(|h| h.on.get(side).is_some_and(|on| *on > 1) && has_stop(h, side));
        let widest = places.windows(2).map(|p| match p {
            [a, b] => b - a,
            _ => 0.0,
        });
        let widest = widest.fold(0.0, f64::max);
        // Where a line is surely bent, a few readings cannot tell a stop from a bend or a dead centre.
        let named = several > PLACED && self.bent() < BENT;
        let contact = stop.is_some_and(|s| named && s.interval[1] - s.interval[0] < LONGEST * widest);
        FewEnd {
            follows: at(k),
            short_at: k.checked_sub(1).map(at),
            chance,
            stop,
            several,
            contact,
        }
    }

    /// Where the stop of one side lies, given that there is one.
    fn place(&self, side: usize, confidence: f64) -> Placed {
        let with = || self.each().filter(|(w, h)| *w > NEGLIGIBLE && has_stop(h, side));
        let cuts: Vec<(f64, &[Cut])> = self
            .each()
            .zip(self.cuts_of(side))
            .filter(|((w, _), cuts)| *w > NEGLIGIBLE && !cuts.is_empty())
            .map(|((w, _), cuts)| (w, cuts))
            .collect();
        let all: f64 = with().map(|(w, _)| w).sum();
        // In half spans, as the closeness is.
        let drive = |u: f64| self.table.centre + u * self.table.half;
        let quantile = |p: f64| {
            let beyond = |u: f64| cuts.iter().map(|(w, cuts)| w * below(cuts, drive(u))).sum::<f64>() - p * all;
            drive(crossing((-2.0, -p * all), (2.0, (1.0 - p) * all), CLOSE, &beyond))
        };
        let (mut mean, mut square) = (0.0, 0.0);
        for (w, h) in with() {
            for stop in h.stops.get(side).map_or(&[][..], Vec::as_slice) {
                let (m, v) = moments(stop);
                let share = w / all * exp(stop.share);
                mean += share * m;
                square += share * (v + m * m);
            }
        }
        let rows = with()
            .map(|(w, h)| w * h.on.get(side).copied().unwrap_or(0) as f64)
            .sum::<f64>()
            / all;
        Placed {
            at: quantile(0.5),
            u: (square - mean * mean).max(0.0).sqrt(),
            interval: [quantile(0.5 - 0.5 * confidence), quantile(0.5 + 0.5 * confidence)],
            rows: rows.round() as usize,
        }
    }
}

fn has_stop(h: &Hypothesis, side: usize) -> bool {
    h.stops.get(side).is_some_and(|stops| !stops.is_empty())
}

/// Probability, under a hypothesis, that the stop of one side lies below a drive.
fn below(cuts: &[Cut], at: f64) -> f64 {
    cuts.iter().map(|cut| cut.below(at)).sum()
}

/// Mean and variance of a normal variable cut to the gap.
fn moments(stop: &Stop) -> (f64, f64) {
    let z = |x: f64| (x - stop.at) / stop.u;
    let (a, b) = (z(stop.low), z(stop.high));
    let mass = phi(b) - phi(a);
    if mass < 1e-9 {
        let at = stop.at.clamp(stop.low, stop.high);
        return (at, 0.0);
    }
    let (fa, fb) = (density(a) / mass, density(b) / mass);
    let mean = fa - fb;
    let variance = 1.0 + a * fa - b * fb - mean * mean;
    (stop.at + stop.u * mean, stop.u * stop.u * variance.max(0.0))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn rows(drive: &[f64], measured: &[f64]) -> Vec<Row> {
        let sides = sides_by_order(drive);
        drive
            .iter()
            .zip(measured)
            .zip(&sides)
            .enumerate()
            .map(|(index, ((&drive, &measured), &side))| Row {
                drive,
                measured,
                side,
                weight: 1.0,
                noted: false,
                index,
            })
            .collect()
    }

    #[test]
    fn one_stalled_reading_at_each_end() {
        // Invented; stops at 58 and 122.
        let drive = [50.0, 60.0, 70.0, 80.0, 90.0, 100.0, 110.0, 120.0, 130.0];
        let measured = [-31.0, -30.0, -20.0, -10.0, 0.0, 9.0, 20.0, 30.0, 32.0];
        let verdict = judge(&rows(&drive, &measured), 1.0, false, true, None, &[], 0.95).unwrap();
        std::eprintln!("{verdict:#?}");
        assert_eq!((verdict.ends[0].follows, verdict.ends[0].short_at), (60.0, Some(50.0)));
        assert_eq!(
            (verdict.ends[1].follows, verdict.ends[1].short_at),
            (120.0, Some(130.0))
        );
        assert!(verdict.misread.is_empty());
    }
}
