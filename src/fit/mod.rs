//! From measured points to limits with evidence, uncertainty and diagnosis.
//!
//! ```
//! use elbowroom::fit::{fit_limits, EndKind, FitOptions, Readings};
//! // A joint told 0 to 80 degrees, read by an inclinometer; it meets a stop near 65.
//! let drive = [0.0, 8.0, 16.0, 24.0, 32.0, 40.0, 48.0, 56.0, 64.0, 72.0, 80.0];
//! let measured = [1.1, 9.0, 16.8, 25.1, 33.0, 41.2, 48.9, 56.8, 65.1, 66.1, 65.9];
//! let fit = fit_limits(&Readings::new(&drive, &measured), &FitOptions::default().with_guard(2.0))?;
//! assert_eq!((fit.lower.kind, fit.upper.kind), (EndKind::Clear, EndKind::Contact));
//! assert!((fit.upper.at - 65.0).abs() < 0.5);
//! let [lower, upper] = fit.travel.unwrap();
//! assert_eq!(lower, 0.0); // no stop found there: no further than the readings went
//! assert!(upper < fit.upper.interval.unwrap()[0] - 1.9); // the interval's inner end less the guard
//! # Ok::<(), elbowroom::fit::FitError>(())
//! ```
//!
//! This is arithmetic, not a safety function: take the load off before a stop is searched, keep a hand on the power
//! switch, and never search a stop under a person's hand.
//!
//! # The model
//!
//! `y = p(clip(x, L, U)) + (h/2)·s + ε`, where `x` is the drive angle, `y` the measured value, `L` and `U` the contacts,
//! `s` = ±1 the side from which the position was reached and `h` the reversal. `p` is a line. Where the readings between
//! the stops are surely no line it is a parabola or cubic, so that the knees do not suffer, and
//! [`Warning::Curved`] points to the curve transmission; [`LimitFit::slope`] is then that of the plain line through the
//! readings between the stops, which is always given as [`LimitFit::line`]. Play before the joint shows between the stops
//! only, and each side meets a stop at its own drive angle; play at the sensor shows everywhere: the readings choose.
//!
//! Outward from the middle no stretch is reached from both sides. Then lost motion shows only as the distance between the lines of the two
//! ways, and a bend looks alike: it is believed of a straight joint, from four of its standard uncertainties on, and each stop is where
//! its way met it.
//!
//! # How it is found
//!
//! 0. Readings are turned so that measured values rise with the drive (`limits/mirror.rs`), and what is found is turned back:
//!    which way round drive and sensor count changes nothing.
//! 1. A robust start (`limits/start.rs`): lines through block medians, with plateaus at either end, by least absolute and
//!    truncated squares. It stands 20 % misreadings anywhere, as the table below shows. A plateau shorter than a block is
//!    sought among the readings that fall short of the line together: a few on a stop count, however many others there are.
//! 2. Least squares over every place of the knees, from running sums (`limits/sums.rs`): each place costs a few additions, and
//!    repeats of one command are one place, however many.
//! 3. Which stops were found (`limits/stops.rs`): each must gain more than chance does, have at least two different commands or
//!    three readings beyond its knee, two of them surely, and be as level as a stop is. One reading alone never proves a
//!    stop; the travel then ends before it, with [`Warning::TooFewBeyond`]. For bent joints the corrected Akaike
//!    criterion chooses (Hurvich and Tsai, Biometrika 76 (1989) 297).
//! 4. Every reading is tried by its externally studentised residual against Bonferroni's limit, those left out by their
//!    prediction error, until none changes its place. A clean set loses a reading once in a hundred sets.
//! 5. A plateau that left-out readings passed is stall or friction: [`Warning::PlateauRefuted`]. Where no stop was found, the
//!    travel ends before a stretch of which more readings fell short of the model and were left out than went on: too
//!    many misreadings on a stop can look like motion past it ([`Warning::LeftOutBeyond`]), and before a stretch at which the
//!    joint hardly moves: a bend can hide a stop ([`Warning::LevelBeyond`]). A stop behind which the
//!    joint surely moves on is fitted as such: [`Warning::Soft`].
//! 6. Readings in the order of a recording whose neighbours are off together (von Neumann ratio) are refused where their
//!    residuals follow the speed of the drive, or do not come again with it: [`FitError::InMotion`]. Where lost motion with
//!    untold sides explains them as well, [`Warning::MaybeInMotion`] says so.
//! 7. Times, where given, take the place of that ratio and tell the sides (`limits/motion.rs`). A reading 0.4 s after the drive moved
//!    is at rest, whatever its neighbours. Of readings in motion the latency is sought: they are refused where they trail
//!    ([`FitError::Moving`]) or go fast in one direction, where nothing could show it. Where lag and lost motion are one
//!    number ([`Warning::LagOrLostMotion`]), or slow motion one way could hide a little lag ([`Warning::MayTrail`]), it is said.
//! 8. All values of a table may be displaced from one row on: a pointer, sensor or horn slipped, or a tooth was skipped
//!    (`limits/slipped.rs`). In a table that goes one way the rows stand in the order of the drive angles; readings of both ways that were
//!    sorted by it are left alone. The row is sought by least squares over every row, beside a line and the
//!    sides. Where a displacement takes away more than four fifths of the sum of squares, the rows before it are brought to those behind
//!    it and fitted again: [`Warning::Slipped`] names row and size, and the travel is narrower by the size at the end towards which a
//!    slipped horn would have brought a stop. At a turn, towards where the drive came from, it is taken for lost motion.
//!    No travel goes past a stop that the rows before the slip, or those behind it, show by themselves (in a table both ways by two
//!    readings), nor to drive angles at which only rows that do not move were read: a drive that falls back behind its stop looks
//!    like a slip.
//! 9. A reading whose drive angle lies more than three spans of all others away from them, and which is not on their line, is left out
//!    before all this (`limits/far_off.rs`): [`RejectReason::DriveFarOff`]. Such a row of totals would make one place of all others.
//! 10. Passes over the same sweep are fitted one by one where the fit of all leaves more than 0.6 % of the measured range
//!     (`limits/passes.rs`). Where they leave less than a third of it, [`Warning::PassesDisagree`] says so, and each end is that of the pass
//!     which shows it furthest inwards: the zero, the scale or a stop moved in between, or the sensor drifts.
//! 11. Residuals of neighbouring places that go together are not scatter (`limits/uneven.rs`): an eccentric gear, a sensor that is not
//!     linear. [`Warning::Uneven`] tells their standard deviation, and the intervals of the stops are wider by the amplitude that it stands
//!     for.
//! 12. A contact noted by hand is believed where no reading went past it. Where some did and follow the line, all are fitted without it,
//!     the travel ends before it, and [`Warning::MarkPassed`] says so (`limits/marks_passed.rs`).
//! 13. Where at most one drive angle lies between two stops, any slope fits it: [`FitError::FewBetweenStops`] (`limits/between.rs`).
//!     Many fine steps one way, without times, could hide a lag, and a plateau at the last count of a converter may be the sensor's:
//!     [`Warning::MayTrailUnseen`] and [`Warning::AtRail`] (`limits/hidden.rs`).
//! 14. Values of one sign that come to zero and leave it by one slope have lost their minus signs: [`FitError::SignsMissing`]
//!     (`limits/signs.rs`).
//!
//! Readings of one side that were all rounded alike, as where the drive goes by whole steps of a protractor, share their rounding error:
//! the lost motion's standard uncertainty keeps what a side has in common (B. Widrow, I. Kollár, Quantization Noise, 2008, chapter 4).
//!
//! The cost is that of sorting; memory grows with the readings; nothing recurses; nothing is random. The same input gives
//! the same bits on however many threads [`fit_many`] runs, and in whatever order the readings come, but for what only their order
//! tells: the sides that nobody noted, a slip, and the passes.
//!
//! Tables of up to 20 readings, as people write them at a bench, are judged by all hypotheses as well (`few/`): how
//! many readings lie on either stop, which one is misread, whether the line is straight, bent, part of a circle (as a
//! ruler or a crank shows a joint) or jumps, whether there is lost motion, and how far readings scatter. Three facts
//! from outside the table decide where few readings do not: the scatter is tied to the resolution, a stop lies
//! anywhere in the gap before the first reading that it holds, and lost motion is never negative. Where the fit has
//! readings enough on a stop, its numbers stand; elsewhere an end is *clear* only if its outermost reading follows the
//! line that the readings further in predict, and *stalled* ([`Warning::FellShort`]) between two drive angles if too
//! few readings fall short to place the stop. The sides, if they are not given, follow from the order of the rows
//! where it tells them. [`LimitFit::advice`] lists the few readings that sharpen the weaker end most, in the order in
//! which to take them.
//!
//! In tables of any length an outermost reading that was left out is not a misreading where it lies short of the line and at no less
//! than the last value that follows it, as a stop would hold it: the end is *stalled*. This does not hold where many readings were left
//! out. A stop that readings of one place alone show is none where the outermost reading went past it. Readings left out that agree
//! on a place further inwards than a contact, half as many as lie on it or more, hold the end as well: of two levels no joint moves past
//! the inner one.
//!
//! # Uncertainty
//!
//! The resolution, if it is not given, is seen from the values (`statistics/resolution.rs`): the coarsest of 1, 2, 2.5 or 5 times a power
//! of ten on which all of them lie, or all but one in eight, or any other step, such as 1/16 or a converter's count in degrees, if chance
//! hardly explains that they lie on it.
//!
//! Standard uncertainties come from the least-squares covariance and the residual scatter (JCGM 100:2008). A known
//! resolution or stated uncertainties bound the scatter from below; a resolution `r` counts as a rectangular
//! distribution, `r²/12` (GUM F.2.2.1), and where readings do not scatter over it, it does not average out. Contact
//! intervals are those of the profile likelihood with Student's t, 5 % wider, since which readings lie on a stop is
//! uncertain as well. They also hold the contacts of stops that give by up to 10 % of the slope, as far as the readings
//! allow it: foam or a bending horn moves a contact inward, and five readings hardly show it. The standard uncertainty of a
//! contact is that of the model named, hard or soft. No contact lies beyond the readings, and no interval reaches beyond
//! them. Travel ends at the inner end of the interval less the guard and half the lost motion, or where the
//! joint was last clear.
//!
//! # What it keeps
//!
//! Counted by `cargo bench --bench simulation` over 2,000 invented joints per row: 42 readings over 80 degrees, up and
//! down, noise in degrees, stops at random places; confidence 0.95, guard margin 0. Misreadings are 5 to 30 degrees off. *Knee
//! rms ratio*: root mean square error of both contacts over that of least squares that is told the true model, the
//! misreadings and the lost motion.
//!
//! | joints | noise | covered | knee rms ratio | stop found | false contact | travel beyond stop, lower / upper | refused | good readings left out |
//! | --- | --- | --- | --- | --- | --- | --- | --- | --- |
//! | both stops | 0.2 | 97.62 % | 1.001 | 99.95 % | - | 0.50 % / 0.35 % | 0.00 % | 0.03 % |
//! | both stops | 0.5 | 97.62 % | 1.001 | 99.95 % | - | 0.40 % / 0.30 % | 0.00 % | 0.03 % |
//! | both stops | 1 | 97.37 % | 1.027 | 99.75 % | - | 0.45 % / 0.70 % | 0.00 % | 0.03 % |
//! | both stops, 1 deg lost motion | 0.2 | 97.52 % | 1.005 | 100.00 % | - | 0.00 % / 0.00 % | 0.00 % | 0.02 % |
//! | both stops, 1 deg lost motion | 0.5 | 97.50 % | 1.016 | 99.98 % | - | 0.05 % / 0.00 % | 0.00 % | 0.03 % |
//! | both stops, 1 deg lost motion | 1 | 97.24 % | 1.027 | 99.75 % | - | 0.25 % / 0.10 % | 0.00 % | 0.03 % |
//! | both stops, 10 % misreadings | 0.2 | 97.67 % | 1.105 | 98.75 % | - | 0.50 % / 0.60 % | 0.00 % | 0.08 % |
//! | both stops, 10 % misreadings | 0.5 | 97.56 % | 1.018 | 98.50 % | - | 0.80 % / 0.80 % | 0.00 % | 0.07 % |
//! | both stops, 10 % misreadings | 1 | 97.49 % | 1.058 | 97.65 % | - | 1.60 % / 1.15 % | 0.00 % | 0.05 % |
//! | both stops, 20 % misreadings | 0.2 | 96.68 % | 1.466 | 94.89 % | - | 1.30 % / 0.75 % | 0.10 % | 0.29 % |
//! | both stops, 20 % misreadings | 0.5 | 96.79 % | 1.107 | 94.22 % | - | 1.90 % / 1.65 % | 0.05 % | 0.22 % |
//! | both stops, 20 % misreadings | 1 | 96.84 % | 1.394 | 91.72 % | - | 4.55 % / 3.90 % | 0.05 % | 0.11 % |
//! | no stop in range | 0.2 | - | - | - | 0.00 % | - / - | 0.00 % | 0.02 % |
//! | no stop in range | 0.5 | - | - | - | 0.00 % | - / - | 0.00 % | 0.02 % |
//! | no stop in range | 1 | - | - | - | 0.10 % | - / - | 0.00 % | 0.02 % |
//! | no stop in range, 10 % misreadings | 0.2 | - | - | - | 0.00 % | - / - | 0.00 % | 0.02 % |
//! | no stop in range, 10 % misreadings | 0.5 | - | - | - | 0.15 % | - / - | 0.00 % | 0.02 % |
//! | no stop in range, 10 % misreadings | 1 | - | - | - | 0.80 % | - / - | 0.00 % | 0.03 % |
//! | upper stop, 4 readings beyond | 0.2 | 97.90 % | - | 99.90 % | 0.00 % | 0.00 % / 0.25 % | 0.00 % | 0.03 % |
//! | upper stop, 4 readings beyond | 0.5 | 97.79 % | - | 99.75 % | 0.00 % | 0.00 % / 0.45 % | 0.00 % | 0.03 % |
//! | upper stop, 4 readings beyond | 1 | 97.57 % | - | 98.95 % | 0.05 % | 0.00 % / 0.70 % | 0.00 % | 0.03 % |
//!
//! Tables as people write them at a bench, counted by `cargo bench --bench workshop`: 2,000 invented tables a kind, most with 6
//! to 14 readings; noise, steps, resolutions, stops and slips at random. *Past a stop*: ends whose travel passes the stop, as it is
//! met in the direction driven, by more than 1 deg and 4 standard deviations of a reading; *silently*: of these, without a warning.
//! What was aimed at: past at most 1 % (2 % without resolution or sides, 4 % with a slip), silently at most 0.5 %, intervals that hold
//! the stop at least 93 % (90 % where stops give), false contacts at most 1 %, good rows left out in at most 3 % of tables, free ends
//! shortened at most 3 % (6 % where bent). What misses it:
//!
//! * Bent joints, lengths read across an arc, dead centres and readings by eye: with few readings a bend and a reading that stalled look
//!   alike. Of an arc of known radius the shell takes angles (`--arc-radius`).
//! * Contacts placed where one reading lies on a stop: one end in 250 gets one, since its neighbour fell short by chance, and one in four
//!   of these misses the stop. Take two readings or more on each stop.
//! * Outward tables with sides, a sticky region, and free ends beside one stalled reading, beside a slip or behind a skipped tooth, narrowly
//!   or by a few percent.
//!
//! | table | past a stop | silently | contacts placed | hold the stop | false contact | good rows left out | free ends shortened | refused |
//! | --- | --- | --- | --- | --- | --- | --- | --- | --- |
//! | one reading on each stop | 0.90 % | 0.03 % | 0.40 % | 75.00 % | - | 0.00 % | - | 0.00 % |
//! | one on each stop, whole degrees, resolution not given | 1.25 % | 0.00 % | 0.33 % | 69.23 % | - | 0.00 % | - | 0.00 % |
//! | one on one stop, other end free | 0.65 % | 0.15 % | 0.55 % | 63.64 % | 0.00 % | 0.00 % | 4.20 % | 0.00 % |
//! | two on one stop, other end free | 0.00 % | 0.00 % | 94.30 % | 98.94 % | 0.00 % | 0.00 % | 3.35 % | 0.00 % |
//! | two or three on each stop | 0.20 % | 0.00 % | 95.70 % | 99.19 % | - | 0.15 % | - | 0.00 % |
//! | two or three on each stop, resolution not given | 0.15 % | 0.00 % | 95.45 % | 98.61 % | - | 0.10 % | - | 0.00 % |
//! | two or three on each stop, stops give 2 to 10 % | 0.60 % | 0.00 % | 93.55 % | 98.61 % | - | 0.05 % | - | 0.00 % |
//! | there and back, sides given | 0.00 % | 0.00 % | 99.97 % | 98.82 % | - | 0.45 % | - | 0.00 % |
//! | there and back, sides not given | 0.00 % | 0.00 % | 99.88 % | 100.00 % | - | 0.25 % | - | 0.00 % |
//! | there and back, whole degrees, nothing given | 0.00 % | 0.00 % | 99.97 % | 100.00 % | - | 0.30 % | - | 0.00 % |
//! | there and back, one command on each stop, sides given | 0.62 % | 0.15 % | 58.27 % | 96.57 % | - | 0.65 % | - | 0.00 % |
//! | there and back, one command on each stop, sides not given | 0.42 % | 0.23 % | 59.55 % | 99.87 % | - | 0.65 % | - | 0.00 % |
//! | there and back, no stop, sides given | - | - | - | - | 0.05 % | 1.55 % | 1.65 % | 0.00 % |
//! | outward from the middle, sides given | 1.35 % | 0.03 % | 0.12 % | 60.00 % | - | 0.00 % | - | 0.00 % |
//! | outward from the middle, sides not given | 1.40 % | 0.05 % | 0.20 % | 100.00 % | - | 0.00 % | - | 0.00 % |
//! | one on each stop, one slip of the pen | 1.48 % | 0.03 % | 0.40 % | 75.00 % | - | 0.00 % | - | 0.15 % |
//! | two or three on each stop, one slip | 0.20 % | 0.00 % | 94.81 % | 98.52 % | - | 0.10 % | - | 0.35 % |
//! | by eye to 5 deg | 1.56 % | 0.15 % | 0.40 % | 75.00 % | 0.00 % | 0.00 % | 2.08 % | 0.00 % |
//! | by eye to 5 deg, resolution not given | 1.56 % | 0.26 % | 0.16 % | 33.33 % | 0.00 % | 0.00 % | 2.69 % | 0.00 % |
//! | one on each stop, slope 0.3 to 3 | 0.80 % | 0.03 % | 0.42 % | 70.59 % | - | 0.00 % | - | 0.00 % |
//! | mm along an arc | 0.77 % | 0.00 % | 0.61 % | 75.00 % | 0.00 % | 0.00 % | 2.35 % | 0.00 % |
//! | mm across an arc, by a straight ruler | 0.93 % | 0.05 % | 1.67 % | 55.88 % | 0.00 % | 0.00 % | 20.28 % | 0.00 % |
//! | one on each stop, bent by 4 % | 2.50 % | 0.00 % | 0.72 % | 37.93 % | - | 0.00 % | - | 0.00 % |
//! | two or three on each stop, bent by 4 % | 0.17 % | 0.00 % | 72.42 % | 93.03 % | - | 0.05 % | - | 0.00 % |
//! | no stop | - | - | - | - | 0.00 % | 0.00 % | 2.83 % | 0.00 % |
//! | no stop, resolution not given | - | - | - | - | 0.00 % | 0.00 % | 2.90 % | 0.00 % |
//! | no stop, one slip | - | - | - | - | 0.33 % | 0.00 % | 6.83 % | 0.50 % |
//! | no stop, bent by 4 % | - | - | - | - | 0.00 % | 0.00 % | 8.05 % | 0.00 % |
//! | no stop, a dead centre at one end | - | - | - | - | 3.75 % | 0.00 % | 16.75 % | 0.00 % |
//! | no stop, a skipped tooth | - | - | - | - | 0.00 % | 0.00 % | 50.43 % | 0.70 % |
//! | a sticky region | 2.26 % | 0.00 % | 85.67 % | 98.56 % | 0.00 % | 0.30 % | 1.78 % | 0.00 % |
//!
//! Of tables with a skipped tooth half the free ends are shortened on purpose: the travel is narrower by the slip at the end towards which
//! a horn that slipped would have brought a stop.
//!
//! Misreadings that are not spread but gather where they do most harm (one in five, all beside or all on the stops, at the
//! far ends, all to one side) are counted in `tests/fit_misreadings.rs`: no travel of 150 ends half a degree past a stop,
//! but for the worst of these, four in ten readings on the stops all off to the same side, where 8 do.
//!
//! Sweeps there and back in steps of 14 to 26 deg, most of whose readings lie on the stops, are counted in `tests/fit_coarse.rs`: of 632
//! ends none lets the travel pass its stop by more than 1 deg and 4 standard deviations, and 616 of 630 intervals hold the stop.
//!
//! Two wrong rows in a table of up to 20 are counted in `tests/fit_wrong_rows.rs`: of 60 tables with two rows misread by 10 to 60 one lets
//! the travel pass a stop by more than 1 deg and 4 standard deviations, and of 60 with two neighbouring values exchanged none.
//!
//! A pointer, sensor or horn that slips by 4 to 15 deg half-way through a table there and back is counted in `tests/fit_slipped.rs`: it is
//! named with row and size in 186 of 240 tables, and the travel passes a stop by more than 1 deg and 4 standard deviations at 20 of 476
//! ends, 3 of them silently. Of sound tables, with and without lost motion, at most 1 in 40 gets this warning.
//!
//! Tables outward from the middle of joints with 1 to 5 deg of lost motion are counted in `tests/fit_outward.rs`: the slope is further off
//! than three of its standard uncertainties in 130 of 800, and 1356 of 1430 contacts hold the drive angle at which the joint reached its stop.
//!
//! A slip of the pen in one of the readings on a stop, with two to four of them, is counted in `tests/fit_slips_on_stops.rs`: of 514
//! tables 10 let the travel pass the stop by more than 1 deg, 2 of these without a warning.
//!
//! Lines through 100 repeated sets, NIST's reference sets and the joints of `tests/data` are checked in `tests/fit_*.rs`.

mod compare;
mod error;
mod estimate;
mod limits;
mod line;
mod many;
mod many_turns;
mod not_degrees;
mod outcome;
mod positioning;
mod readings;
mod slip;
pub(crate) mod statistics;
mod transmission;
mod warning;

pub use compare::{Change, CompareOptions, Comparison, Diagnosis, Quantity, SplineTeeth, Verdict, compare};
#[cfg(feature = "robot")]
pub(crate) use compare::{ERROR_RATE, Horn, Offset, detectable, holm, splines};
pub use error::FitError;
pub use estimate::Estimate;
pub use line::{LineFit, LineJoint, fit_line, fit_line_both, fit_line_through_zero, fit_line_weighted};
pub use many::fit_many;
pub use many_turns::ManyTurns;
pub use not_degrees::NotDegrees;
pub use outcome::{
    Advice, End, EndKind, Goodness, LimitFit, LostMotion, NextReading, NotDeterminable, RejectReason, Rejected,
    Repeatability, Sense, Side, Trend,
};
pub use positioning::{AxisOneSided, AxisTwoSided, OneSided, Positioning, Run, Target, TwoSided, positioning};
pub use readings::{Approach, BetweenStops, ContactMark, FitOptions, Readings};
pub use slip::Slip;
pub use statistics::monotone::{Step, fit_monotone};
pub use statistics::polynomial::{PolynomialFit, fit_polynomial};
#[cfg(feature = "robot")]
pub(crate) use statistics::quantile::normal_two_sided;
/// For tests against published tables.
#[doc(hidden)]
pub use statistics::quantile::{normal_quantile, t_quantile};
pub use statistics::univariate::{Spread, spread};
pub use transmission::assembly::fit_linkage;
pub use transmission::branch::OtherBranch;
pub use transmission::choose::{Candidate, Choice, Guess, Reason, Tried, choose_transmission};
pub use transmission::curve::{CurveFit, CurveJoint, MOST_JOINT_KNOTS, MOST_KNOTS, fit_curve};
pub use transmission::feedback::{AtRail, FarOff, FeedbackFit, at_rails, fit_feedback};
pub use transmission::linkage::{Dimension, LinkageFit, LinkageJoint};
pub use transmission::sensor::FeedbackWarning;
pub use transmission::sides::BySide;
pub use warning::Warning;

/// Finds how far a joint can go, with the evidence.
///
/// # Errors
/// [`FitError`]: values that are not finite, arrays of different length, too few readings or commands, no motion,
/// readings that agree on nothing or were taken in motion, values on a scale that starts again within the sweep, an option outside its
/// range.
pub fn fit_limits(readings: &Readings<'_>, options: &FitOptions) -> Result<LimitFit, FitError> {
    readings.check()?;
    options.check()?;
    if let Some(leap) = statistics::turn::leap(readings.drive, readings.measured) {
        return Err(leap.error());
    }
    limits::of(readings, options).map_err(|error| of_the_table(error, readings))
}

/// Where only some readings follow any one model, too few of them are no table of too few readings.
fn of_the_table(error: FitError, readings: &Readings<'_>) -> FitError {
    let given = readings.drive.len();
    let agree = match error {
        FitError::TooFewReadings { given: agree, .. } if agree < given => agree,
        FitError::DriveAnglesEqual { lower, upper, .. } if readings.drive.iter().any(|&x| x < lower || x > upper) => {
            readings.drive.iter().filter(|&&x| x == lower).count()
        }
        error => return error,
    };
    FitError::NoAgreement { agree, given }
}
