//! The readings left out of a fit: why each, which slip of the pen would explain it, and whether there are too many.

use super::assess::Assessment;
use super::model::{Reading, between};
use super::polynomial::polynomial;
use super::turns::MANY_REJECTED;
use crate::fit::outcome::{RejectReason, Rejected};
use crate::fit::slip::{Slip, slip_of};
use crate::fit::warning::Warning;
use std::vec::Vec;

/// Residual standard deviations within which a slip repairs a reading.
const REPAIRED: f64 = 3.0;
/// Misreadings in a row that are worth a warning however long the table is: who misreads does so once in a while.
const MANY_IN_A_ROW: usize = 3;

impl Assessment<'_> {
    /// Whether a reading lies beyond an end that stalled: on no line, but no misreading.
    fn held(&self, i: usize) -> bool {
        let held = self.few.as_ref().and_then(|few| few.held.get(i));
        held.copied().unwrap_or(false) || self.stalled.contains(&i)
    }

    /// What is said where many readings are misread, or several in a row.
    pub(super) fn warn_of_misreadings(&mut self, rejected: &[Rejected]) {
        let runs = misread_runs(rejected);
        let (rejected, readings) = (runs.iter().map(Vec::len).sum(), self.given.drive.len());
        if rejected as f64 > MANY_REJECTED * readings as f64 || runs.iter().any(|run| run.len() >= MANY_IN_A_ROW) {
            self.warnings.push(Warning::ManyRejected { rejected, readings });
        }
    }

    /// The readings left out, in the order given.
    pub(super) fn rejected(&self) -> Vec<Rejected> {
        let model = self.found.model;
        let tolerance = (REPAIRED * self.residual_sd()).max(self.prepared.step);
        let mut out: Vec<Rejected> = self
            .prepared
            .readings
            .iter()
            .zip(&self.found.kept)
            .enumerate()
            .filter(|(i, (_, kept))| !**kept && !self.held(*i))
            .map(|(_, (r, _))| Rejected {
                index: r.index(),
                drive: self.given.drive.get(r.index()).copied().unwrap_or_default(),
                measured: self.given.measured.get(r.index()).copied().unwrap_or_default(),
                residual: r.y - model.expected(r.x, r.s()),
                reason: if between(&model, r) {
                    RejectReason::OffTheLine
                } else {
                    RejectReason::OffTheStop
                },
                cause: self.cause(r, tolerance),
            })
            .collect();
        let at = |of: &[f64], index: usize| of.get(index).copied().unwrap_or_default();
        out.extend(self.not_taken_up.iter().map(|&index| {
            let drive = at(self.given.drive, index);
            let measured = at(self.given.measured, index);
            let x = (drive - self.prepared.centre) / self.prepared.half;
            Rejected {
                index,
                drive,
                measured,
                residual: measured - self.prepared.level - polynomial(model.curve(), x),
                reason: RejectReason::NotTakenUp,
                cause: None,
            }
        }));
        out.sort_by_key(|r| r.index);
        out
    }

    /// The slip that would explain a reading that was left out.
    fn cause(&self, r: &Reading, tolerance: f64) -> Option<Slip> {
        let level = self.prepared.level;
        let expected = |x: f64| level + self.found.model.expected(x, r.s());
        let sorted = &self.prepared.readings;
        let before = sorted.partition_point(|other| other.x < r.x).checked_sub(1);
        let after = sorted.partition_point(|other| other.x <= r.x);
        let at = |place: Option<usize>| place.and_then(|place| sorted.get(place));
        let neighbours = [at(before), at(Some(after))].map(|other| other.map_or(f64::NAN, |other| expected(other.x)));
        let measured = self.given.measured.get(r.index()).copied().unwrap_or_default();
        let inferred = self.options.resolution.is_none();
        let grid = if inferred { self.prepared.step } else { 0.0 };
        slip_of(measured, expected(r.x), tolerance, &neighbours, grid)
    }
}

/// The misreadings among what was left out, in runs that follow each other in the order of the rows. Lost motion that was not taken up is
/// no misreading.
pub(super) fn misread_runs(rejected: &[Rejected]) -> Vec<Vec<&Rejected>> {
    let misread = rejected.iter().filter(|r| r.reason != RejectReason::NotTakenUp);
    let misread: Vec<&Rejected> = misread.collect();
    misread
        .chunk_by(|a, b| a.index + 1 == b.index)
        .map(<[&Rejected]>::to_vec)
        .collect()
}
