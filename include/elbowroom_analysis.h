// SPDX-FileCopyrightText: 2026 The elbowroom developers
// SPDX-License-Identifier: MIT

/// @file elbowroom_analysis.h
/// elbowroom_analysis.h: what lies behind a fit, and comparisons of fits, in plain C.
///
/// # I want to ...
///
/// | I want to ...                                       | calls                                                                  |
/// | --------------------------------------------------- | ---------------------------------------------------------------------- |
/// | fit a straight line with uncertainty                | elb_line_new, elb_line_values_of, elb_line_predict, elb_line_inverse, elb_line_free |
/// | fit a curve to a nonlinear joint                    | elb_fit_between_stops, elb_curve_new, elb_curve_joint, elb_curve_free  |
/// | fit the dimensions of a linkage                     | elb_fit_between_stops, elb_linkage_new, elb_linkage_dimension, elb_linkage_joint, elb_linkage_free |
/// | know whether the linkage is assembled the other way | elb_linkage_other_branch, elb_linkage_other_branch_text                |
/// | know whether a stop is a dead centre                | elb_linkage_explains_stops                                             |
/// | choose the transmission that fits the readings best | elb_fit_between_stops, elb_choice_new, elb_choice_best, elb_choice_reason, elb_choice_free |
/// | calibrate a sensor                                  | elb_fit_feedback                                                       |
/// | know what a repair changed                          | elb_compare_options_init, elb_fit_compare, elb_comparison_diagnosis, elb_comparison_change, elb_comparison_free |
/// | evaluate positioning (ISO 230-2, ISO 9283)          | elb_positioning_new, elb_positioning_axis_of, elb_positioning_target_at, elb_positioning_free |
///
/// elbowroom.h, which this header includes, holds the rest; its rules on units, statuses, NaN, pointers and threads apply here
/// too.
///
/// # Outside the ABI promise
///
/// Calls, structs and constants of this header may change with any version while the SONAME stays. Build programs that use
/// it again with each version, or link the static library. elbowroom.h is stable and does not depend on this header.

// This file is generated from bindings/c/src; do not edit it.
#ifndef ELBOWROOM_ANALYSIS_H
#define ELBOWROOM_ANALYSIS_H

#include "elbowroom.h"

// Nothing of this where there are only the elb_block_... calls.
#if !defined(ELB_BLOCKS_ONLY)

/// The most knots that elb_curve_new will use.
#define ELB_MOST_KNOTS 12

/// The most knots that elb_curve_joint writes.
#define ELB_MOST_JOINT_KNOTS 23

/// Warning of a feedback map: at an end of the joint angles the sensor stays level while the joint goes on. These readings are left out;
/// turn the sensor or change its gain until it covers the joint's whole range, or keep the joint where it follows.
#define ELB_FEEDBACK_LEVEL 1

/// Warning of a feedback map: from one reading on all are displaced together. The sensor was set again, slipped or drifted, or has lost
/// motion; fasten it, and take all readings again.
#define ELB_FEEDBACK_DISPLACED 2

/// Warning of a feedback map: the residual SD is more than 4 % of the range of the joint angles. Look for a wrong row, a loose sensor, or a
/// bend that so few readings do not show.
#define ELB_FEEDBACK_SCATTER_WIDE 4

/// Warning of a feedback map: one that this version of the header does not name.
#define ELB_FEEDBACK_OTHER 1073741824

/// Quantity: drive angle by which the joint's position moved, averaged over the common sweep.
#define ELB_QUANTITY_OFFSET 0

/// Quantity: size of the slope, new over old.
#define ELB_QUANTITY_SCALE 1

/// Quantity: contact at the lower end, drive angle.
#define ELB_QUANTITY_LOWER 2

/// Quantity: contact at the upper end, drive angle.
#define ELB_QUANTITY_UPPER 3

/// Quantity: lost motion, in measured units.
#define ELB_QUANTITY_LOST_MOTION 4

/// Quantity: departure from a straight line at the ends of the common sweep, in measured units.
#define ELB_QUANTITY_BEND 5

/// Verdict: no significant difference. Of an end without a stop: clear to the same place, and the numbers are NaN.
#define ELB_VERDICT_SAME 0

/// Verdict: they differ significantly, and by no less than matters.
#define ELB_VERDICT_CHANGED 1

/// Verdict: the earlier table does not have it, or the two are not of the same kind, and the numbers are NaN; or the tables were taken from
/// opposite sides, and lost motion may be all the difference.
#define ELB_VERDICT_NOT_COMPARABLE 2

/// Verdict: they differ significantly, but by less than matters.
#define ELB_VERDICT_NEGLIGIBLE 3

/// Verdict: the earlier table has it, the later did not test it; the numbers are NaN or a bound.
#define ELB_VERDICT_UNTESTED 4

/// Table: the earlier one.
#define ELB_TABLE_EARLIER 0

/// Table: the later one.
#define ELB_TABLE_LATER 1

/// Diagnosis: no quantity differs significantly, and the later table tested all that the earlier one has.
#define ELB_DIAGNOSIS_UNCHANGED 0

/// Diagnosis: the joint sits elsewhere on the servo. `value` is the shift in drive angle, `u` its standard uncertainty;
/// `horn` and `teeth` the whole number of spline teeth that fits best, 0 if none does, and `left` what that leaves;
/// elb_comparison_teeth lists all that agree. `sensor_possible` is 1 if no stop was found in both tables, so that the sensor may
/// have shifted on the joint instead.
#define ELB_DIAGNOSIS_OFFSET_SHIFTED 1

/// Diagnosis: the sensor moved on the joint. `value` is the shift in measured units.
#define ELB_DIAGNOSIS_SENSOR_SHIFTED 2

/// Diagnosis: measured per drive angle changed. `value` is new over old.
#define ELB_DIAGNOSIS_SCALE_CHANGED 3

/// Diagnosis: a stop stands further in than before. `side` is which, `value` by how much in drive angle, `u` its standard uncertainty; more is possible if
/// `at_least` is 1.
#define ELB_DIAGNOSIS_RANGE_SHRUNK 4

/// Diagnosis: lost motion increased. `value` is now, `before` is before, in measured units.
#define ELB_DIAGNOSIS_LOST_MOTION_INCREASED 5

/// Diagnosis: the measured value now runs the other way. Do not close the loop before the sense is tested.
#define ELB_DIAGNOSIS_WIRES_SWAPPED 6

/// Diagnosis: a stop stands further out than before, or is gone. `side`, `value`, `u` and `at_least` as where it stands further in.
#define ELB_DIAGNOSIS_RANGE_WIDENED 7

/// Diagnosis: lost motion decreased. `value` is now, `before` is before, in measured units.
#define ELB_DIAGNOSIS_LOST_MOTION_DECREASED 8

/// Diagnosis: the bend of the joint changed. `value` is by how much at the ends of the common sweep, in measured
/// units, `u` its standard uncertainty.
#define ELB_DIAGNOSIS_BEND_CHANGED 9

/// Diagnosis: a significant change of `quantity` that is smaller than what matters. `value` is the change, `smallest`
/// what matters. It counts as no change.
#define ELB_DIAGNOSIS_SLIGHT_CHANGE 10

/// Diagnosis: the later table did not test `quantity`. Of an end `before` is where it lay, `value` where the later table
/// ends, both in drive angle; of lost motion `value` is the shift that it may explain, in drive angle, if any. It counts as no change.
#define ELB_DIAGNOSIS_UNTESTED 11

/// Diagnosis: the later table shows `quantity`, lost motion, and the earlier one could not: `value` is what it is now, in measured units.
/// Or `quantity` is the offset between tables from opposite sides, in drive angle, which may be lost motion. `u` is the standard uncertainty
/// of `value`. It counts as no change.
#define ELB_DIAGNOSIS_NOT_COMPARABLE 12

/// Diagnosis: one that this version has no number for; read its text.
#define ELB_DIAGNOSIS_OTHER 255

/// Transmissions tried on the same readings, and which of them to take. Immutable: any number of threads may read it at
/// once.
typedef struct elb_choice elb_choice;

/// The comparison of two fits. Immutable: any number of threads may read it at once.
typedef struct elb_comparison elb_comparison;

/// A monotone curve through readings. Immutable: any number of threads may read it at once.
typedef struct elb_curve elb_curve;

/// A straight line by least squares. Immutable: any number of threads may read it at once.
typedef struct elb_line elb_line;

/// A linkage found from readings. Immutable: any number of threads may read it at once.
typedef struct elb_linkage elb_linkage;

/// Positioning of one axis. Immutable: any number of threads may read it at once.
typedef struct elb_positioning elb_positioning;

/// What a line is, with its standard uncertainties: `y = intercept + slope * x`. Frozen at 88 bytes.
typedef struct elb_line_values {
    /// Change of y per x.
    double slope;
    /// Its standard uncertainty.
    double u_slope;
    /// Value at x = 0.
    double intercept;
    /// Its standard uncertainty.
    double u_intercept;
    /// Covariance of slope and intercept.
    double covariance;
    /// Standard deviation of the points about the line; with stated uncertainties, of the residuals in units of them.
    double residual_sd;
    /// Share of the variance that the line explains.
    double r_squared;
    /// Sum of squared residuals; with stated uncertainties the chi-squared observed.
    double sum_of_squares;
    /// Points less parameters.
    uint64_t dof;
    /// Points.
    uint64_t n;
    /// 1 if the uncertainties come from stated ones, 0 if from the scatter.
    uint32_t stated_u;
    /// Always 0.
    uint32_t reserved;
} elb_line_values;

/// A value with its standard uncertainty. Frozen at 16 bytes.
typedef struct elb_estimate {
    /// The value.
    double value;
    /// Its standard uncertainty, in the value's unit.
    double u;
} elb_estimate;

/// What is known of a fitted curve. Frozen at 40 bytes.
typedef struct elb_curve_values {
    /// Standard deviation of the readings about the curve, free of lost motion, in measured units.
    double residual_sd;
    /// Sum of squared residuals.
    double sum_of_squares;
    /// Readings less knots, and less one where lost motion was measured.
    uint64_t dof;
    /// Knots.
    uint64_t n_knots;
    /// Numbers of knots that were tried.
    uint64_t n_tried;
} elb_curve_values;

/// A knot of a fitted curve. Frozen at 24 bytes.
typedef struct elb_curve_knot {
    /// Its drive angle.
    double drive;
    /// The measured value there.
    double measured;
    /// Standard uncertainty of `measured`.
    double u;
} elb_curve_knot;

/// A linkage, and which of its dimensions are to be found. Frozen at 56 bytes.
typedef struct elb_mechanism {
    /// Its dimensions, in the order that its ELB_TRANSMISSION_... constant states. The others are unused.
    double dimensions[5];
    /// Its kind: one of ELB_TRANSMISSION_..., but no line and no curve.
    uint32_t kind;
    /// The assembly branch: where the crank's pin of a slider-crank or of a four-bar lies: ELB_BRANCH_... Else unused.
    uint32_t branch;
    /// The dimensions to be found: a sum of 1 for the first of `dimensions`, 2 for the second, 4, 8, 16. The others
    /// are kept; keep at least one length, as only ratios of lengths show.
    uint32_t free;
    /// Always 0.
    uint32_t reserved;
} elb_mechanism;

/// What is known of a fitted linkage as a whole: `drive = offset + gain * movement of the servo's side`. Frozen at 96
/// bytes.
typedef struct elb_linkage_values {
    /// Drive angle, deg, at which the servo's side has moved by 0: how the horn sits on its spline.
    double offset;
    /// Its standard uncertainty.
    double u_offset;
    /// Drive angle per movement of the servo's side: deg per deg, or per unit of length for a triangle.
    double gain;
    /// Its standard uncertainty.
    double u_gain;
    /// Lowest and highest drive angle of the readings, deg.
    double drive[2];
    /// Lowest and highest measured value of the readings.
    double measured[2];
    /// Standard deviation of the readings about it, free of lost motion, in measured units.
    double residual_sd;
    /// Sum of squared residuals.
    double sum_of_squares;
    /// Readings less the dimensions found, offset and gain, and less one where lost motion was measured.
    uint64_t dof;
    /// Dimensions found.
    uint64_t n_found;
} elb_linkage_values;

/// A dimension found from readings. Frozen.
typedef struct elb_dimension {
    /// Its name, as in a robot file; lives as long as the linkage.
    const char *name;
    /// Its value, in its own unit.
    double value;
    /// Its standard uncertainty.
    double u;
    /// Which number of `linkage` it is, counted from 0.
    uint32_t number;
    /// Always 0.
    uint32_t reserved;
} elb_dimension;

/// The other way to put a linkage together, where the readings do not tell it from the one fitted. Frozen at 32 bytes.
typedef struct elb_other_branch {
    /// Standard deviation of the readings about it, in measured units.
    double residual_sd;
    /// That of the linkage fitted.
    double fitted_sd;
    /// The most by which the joint angles of the two differ over the drive angles read and a tenth of their range to either side.
    double apart;
    /// Where its pin lies: ELB_BRANCH_...
    uint32_t branch;
    /// 1 if the readings fit it better: it makes them 20 times as likely. Else 0.
    uint32_t is_better;
} elb_other_branch;

/// How well one transmission does. Frozen at 32 bytes.
typedef struct elb_candidate {
    /// Standard deviation of the readings about it, free of lost motion, in measured units; infinite if it could not be fitted.
    double residual_sd;
    /// What candidates are compared by, lower is better; infinite if it could not be fitted.
    double criterion;
    /// Numbers found from the readings, lost motion among them.
    uint64_t parameters;
    /// ELB_TRANSMISSION_...
    uint32_t transmission;
    /// 1 if it could not be fitted; one of the reasons says why. Else 0.
    uint32_t refused;
} elb_candidate;

/// What is known of a fitted feedback map as a whole.
typedef struct elb_feedback_values {
    /// Standard deviation of the angles about the map, deg.
    double residual_sd;
    /// That about the best straight line: how much worse a straight map would be.
    double straight_sd;
    /// Standard uncertainties of the angles at the lowest and the highest reading, deg.
    double u[2];
    /// Readings that were not left out, less the numbers found.
    uint64_t dof;
    /// Readings left out, since they lie far off the map through the others, or at an end where the sensor stays level.
    uint64_t n_left_out;
    /// ELB_FEEDBACK_LEVEL, ELB_FEEDBACK_DISPLACED, ELB_FEEDBACK_SCATTER_WIDE, added up; 0 for none.
    uint32_t warnings;
    /// 0.
    uint32_t reserved;
} elb_feedback_values;

/// The options of a comparison. Begin with elb_compare_options_init. Fields are only ever appended.
typedef struct elb_compare_options {
    /// Bytes of this struct as the caller knows it; set by elb_compare_options_init.
    size_t size;
    /// Smallest change of a position that matters, in drive angle; 0 or more. Default 0.5. Bend and lost motion are judged by as much at
    /// the joint.
    double smallest_drive;
    /// Smallest change of the scale that matters, as a share; 0 or more. Default 0.01.
    double smallest_share;
} elb_compare_options;

/// One quantity, then and now. Frozen at 72 bytes.
///
/// Offset and ends in drive angle, the scale a share, bend and lost motion in measured units.
typedef struct elb_change {
    /// New less old; for the scale the ratio less one.
    double difference;
    /// Its standard uncertainty.
    double u;
    /// Effective degrees of freedom of `u` (Welch-Satterthwaite, GUM G.4.1); NaN where they have no bound.
    double dof;
    /// Normalised error E_n (ISO 13528), with the difference's sign; it decides nothing.
    double e_n;
    /// Probability of a difference at least as large by chance, of this quantity alone; NaN where it was not tested.
    double p;
    /// The same for the comparison as a whole (Holm): significant below 0.05.
    double p_adjusted;
    /// The change that these two tables find with a probability of about 90 %.
    double detectable;
    /// The smallest change that matters.
    double smallest;
    /// ELB_VERDICT_...
    uint32_t verdict;
    /// 1 if the true difference may be larger: one table has no stop there, and counts with how far it was clear.
    uint32_t at_least;
} elb_change;

/// A whole number of spline teeth that explains a shift. Frozen at 16 bytes.
typedef struct elb_spline_teeth {
    /// The part of the shift that the teeth do not explain, in drive angle.
    double left;
    /// Teeth by which the horn moved, with sign.
    int32_t teeth;
    /// Teeth of the horn: 21, 23, 24 or 25.
    uint32_t horn;
} elb_spline_teeth;

/// A warning of one of the two fits. Frozen.
typedef struct elb_table_warning {
    /// The sentence; lives as long as the comparison.
    const char *text;
    /// ELB_TABLE_EARLIER or ELB_TABLE_LATER.
    uint32_t table;
    /// Always 0.
    uint32_t reserved;
} elb_table_warning;

/// A plain reading of the differences. Numbers that its kind does not name are NaN, and whole ones 0. Frozen.
typedef struct elb_diagnosis {
    /// The sentence; lives as long as the comparison.
    const char *text;
    /// See the ELB_DIAGNOSIS_... constants.
    double value;
    /// Standard uncertainty of `value`.
    double u;
    /// The value before.
    double before;
    /// The part of the shift that the teeth do not explain, in drive angle.
    double left;
    /// The smallest change that matters.
    double smallest;
    /// Teeth by which the horn moved, with sign.
    int32_t teeth;
    /// Teeth of the horn: 21, 23, 24 or 25.
    uint32_t horn;
    /// ELB_DIAGNOSIS_...
    uint32_t kind;
    /// ELB_SIDE_...
    uint32_t side;
    /// ELB_QUANTITY_...
    uint32_t quantity;
    /// 1 if `value` is a bound and may be more.
    uint32_t at_least;
    /// 1 if the sensor may have shifted instead.
    uint32_t sensor_possible;
    /// Always 0.
    uint32_t reserved;
} elb_diagnosis;

/// Characteristics of the axis. Those of a side without runs are NaN, and so are those of both sides then. Frozen at 96 bytes.
typedef struct elb_positioning_axis {
    /// From below: repeatability, systematic deviation, accuracy of ISO 230-2 (R, E, A).
    double up[3];
    /// From above: repeatability, systematic deviation, accuracy of ISO 230-2 (R, E, A).
    double down[3];
    /// Reversal value B: the largest size.
    double reversal;
    /// Mean reversal value, with its sign.
    double mean_reversal;
    /// Bidirectional repeatability R.
    double repeatability;
    /// Bidirectional systematic deviation E.
    double systematic;
    /// Mean bidirectional deviation M.
    double mean_deviation;
    /// Bidirectional accuracy A.
    double accuracy;
} elb_positioning_axis;

/// One target from one side. All NaN, and `n` 0, where there were no runs from there.
typedef struct elb_one_sided {
    /// Mean deviation from the target; also the pose accuracy AP of ISO 9283 with its sign.
    double mean;
    /// Standard deviation of the deviations.
    double s;
    /// Unidirectional repeatability of ISO 230-2, 4 s.
    double repeatability;
    /// Pose repeatability RP of ISO 9283, of a position.
    double pose_repeatability;
    /// Pose repeatability of ISO 9283, of an angle: half width 3 S.
    double pose_half_width;
    /// Runs.
    uint64_t n;
} elb_one_sided;

/// What one target shows. Frozen at 128 bytes.
typedef struct elb_positioning_target {
    /// The target.
    double target;
    /// Reached from below; `n` is 0 without runs.
    struct elb_one_sided up;
    /// Reached from above; `n` is 0 without runs.
    struct elb_one_sided down;
    /// Mean of both means; NaN without runs from both sides.
    double mean;
    /// Reversal value: mean from below less mean from above; NaN without runs from both sides.
    double reversal;
    /// Bidirectional repeatability R; NaN without runs from both sides.
    double repeatability;
} elb_positioning_target;

#ifdef __cplusplus
extern "C" {
#endif // __cplusplus

/// @name Lines
/// @{

/// Fits a straight line: ordinary least squares (GUM, JCGM 100:2008, H.3), weighted where `u_y` is given (ISO/TS 28037,
/// clause 6), and with both coordinates uncertain where `u_x` is given as well (clause 7).
///
/// - x, y: `n` points, in any unit.
/// - u_x, u_y: `n` standard uncertainties each; `u_x` only together with `u_y`.
/// - out: receives the line; free it with elb_line_free.
/// - error: receives the details when the call fails.
///
/// Nullable: u_x, u_y, error; an array without elements. Errors: ELB_STATUS_TOO_FEW_READINGS,
/// ELB_STATUS_DRIVE_ANGLES_EQUAL, ELB_STATUS_NOT_FINITE, ELB_STATUS_NOT_POSITIVE, ELB_STATUS_NO_AGREEMENT.
ELB_MUST_USE
elb_status elb_line_new(const double *x,
                        const double *y,
                        const double *u_x,
                        const double *u_y,
                        size_t n,
                        struct elb_line **out,
                        elb_error *error)
ELB_NOEXCEPT;

/// Frees a line. It must be freed once, and never while another thread uses it.
///
/// Nullable: line (nothing happens).
void elb_line_free(struct elb_line *line) ELB_NOEXCEPT;

/// Slope, intercept and all that is known of them.
///
/// - out: receives them.
ELB_MUST_USE
elb_status elb_line_values_of(const struct elb_line *line,
                              struct elb_line_values *out)
ELB_NOEXCEPT;

/// The line's value at `x` and its standard uncertainty (GUM H.3.4; ISO/TS 28037, clause 11.2). NaN gives NaN.
///
/// - u_x: standard uncertainty of `x`, 0 if it is exact.
/// - out: receives value and uncertainty.
ELB_MUST_USE
elb_status elb_line_predict(const struct elb_line *line,
                            double x,
                            double u_x,
                            struct elb_estimate *out)
ELB_NOEXCEPT;

/// Reads a line backwards: the `x` at which these observations of y were made (ISO/TS 28037, clause 11.1).
///
/// - observed: `n` observations, all made at that one x.
/// - u_y: standard uncertainty of each; 0 means the line's `residual_sd`.
/// - out: receives value and uncertainty.
///
/// Errors: ELB_STATUS_ABSENT without observations, with one that is not finite, and for a level line.
ELB_MUST_USE
elb_status elb_line_inverse(const struct elb_line *line,
                            const double *observed,
                            size_t n,
                            double u_y,
                            struct elb_estimate *out)
ELB_NOEXCEPT;

/// The factor that turns a standard uncertainty of a line into a coverage interval's half width: Student's t, or the
/// normal distribution's where the uncertainties are stated ones.
///
/// - confidence: coverage probability, above 0 and below 1; else the factor is NaN.
/// - out: receives the factor.
ELB_MUST_USE
elb_status elb_line_coverage_factor(const struct elb_line *line,
                                    double confidence,
                                    double *out)
ELB_NOEXCEPT;

/// @}

/// @name Curves
///
/// For joints that are bent: a strictly monotone cubic through as few knots as the scatter allows. First leave out the
/// readings on a stop, and misreadings: elb_fit_between_stops gives what remains.
/// @{

/// Fits a curve. The number of knots is chosen by the Bayesian information criterion, corrected for few readings.
///
/// - drive, measured: `n` readings, in any order, repeats welcome; at least 5.
/// - approach: from which side each was reached, ELB_APPROACH_...; NULL if it is not known. Where some stretch was reached from
///   both sides, lost motion is found as well and does not count as scatter.
/// - most_knots: the most knots it may have, 2 to ELB_MOST_KNOTS.
/// - out: receives the curve; free it with elb_curve_free.
/// - error: receives the details when the call fails.
///
/// Nullable: approach, error; an array without elements. Errors: ELB_STATUS_TOO_FEW_READINGS,
/// ELB_STATUS_DRIVE_ANGLES_EQUAL, ELB_STATUS_NO_MOTION, ELB_STATUS_NOT_FINITE, ELB_STATUS_OPTION_OUTSIDE,
/// ELB_STATUS_UNKNOWN_VALUE.
ELB_MUST_USE
elb_status elb_curve_new(const double *drive,
                         const double *measured,
                         const int8_t *approach,
                         size_t n,
                         size_t most_knots,
                         struct elb_curve **out,
                         elb_error *error)
ELB_NOEXCEPT;

/// Frees a curve made by elb_curve_new. It must be freed once, and never while another thread uses it.
///
/// Nullable: curve (nothing happens).
void elb_curve_free(struct elb_curve *curve) ELB_NOEXCEPT;

/// What is known of a curve as a whole.
///
/// - out: receives it.
ELB_MUST_USE
elb_status elb_curve_values_of(const struct elb_curve *curve,
                               struct elb_curve_values *out)
ELB_NOEXCEPT;

/// Lost motion found with a curve, which lies midway; `drive` at the curve's mean slope.
///
/// - out: receives it.
///
/// Errors: ELB_STATUS_ABSENT where the readings do not show it: without approach, from one side only, or where no
/// stretch was reached from both.
ELB_MUST_USE
elb_status elb_curve_lost_motion(const struct elb_curve *curve,
                                 elb_lost_motion *out)
ELB_NOEXCEPT;

/// The measured value that a curve expects at a drive angle reached from one side: elb_curve_expected with the lost motion of that
/// side. NaN gives NaN.
///
/// - approach: ELB_APPROACH_...; midway between both sides where it is unknown.
/// - out: receives the value.
///
/// Errors: ELB_STATUS_UNKNOWN_VALUE.
ELB_MUST_USE
elb_status elb_curve_expected_from(const struct elb_curve *curve,
                                   double drive,
                                   int8_t approach,
                                   double *out)
ELB_NOEXCEPT;

/// One knot, drive angles rising.
///
/// - i: 0 to `n_knots` - 1.
/// - out: receives it.
///
/// Errors: ELB_STATUS_ABSENT.
ELB_MUST_USE
elb_status elb_curve_knot_at(const struct elb_curve *curve,
                             size_t i,
                             struct elb_curve_knot *out)
ELB_NOEXCEPT;

/// What the number of knots was chosen by: the one with the lowest value was taken.
///
/// - i: 0 (2 knots) to `n_tried` - 1.
/// - out: receives the value.
///
/// Errors: ELB_STATUS_ABSENT.
ELB_MUST_USE
elb_status elb_curve_criterion(const struct elb_curve *curve,
                               size_t i,
                               double *out)
ELB_NOEXCEPT;

/// The measured value that a curve expects at a drive angle; beyond its first and last knot it continues as a straight line. NaN
/// gives NaN.
///
/// - out: receives the value.
ELB_MUST_USE
elb_status elb_curve_expected(const struct elb_curve *curve,
                              double drive,
                              double *out)
ELB_NOEXCEPT;

/// Puts a curve into what is written down of a joint, for elb_joint_new and elb_robot_with_joint.
///
/// The commands `lower` to `upper` stand for the measured values between the first and the last knot. Of `config` are
/// written `command`, `drive`, `inverted` and `transmission`; all else stays as it is: servo, timer, and a `travel`, a `rest` and a
/// feedback that may have to follow (the ends of `feedback.angle` are the joint angles of the command ends).
///
/// The inverse of a cubic is not the cubic through the inverted knots, so the joint has more knots where the two part.
///
/// - lower, upper: the command range, in the joint's own unit.
/// - config: begun with elb_joint_config_init or elb_joint_config_of. Written only on success.
/// - knots: receives the joint's knots, (n x 2), to which `config` points afterwards: keep them as long as it is used.
/// - room: how many knots (pairs) there is room for; ELB_MOST_JOINT_KNOTS are always enough.
/// - departure: receives the most by which the joint departs from the curve, in measured units.
/// - error: receives the details when the call fails.
///
/// Nullable: departure, error. Errors: ELB_STATUS_OPTION_OUTSIDE if lower and upper are not a range, ELB_STATUS_NO_ROOM.
ELB_MUST_USE
elb_status elb_curve_joint(const struct elb_curve *curve,
                           double lower,
                           double upper,
                           elb_joint_config *config,
                           double *knots,
                           size_t room,
                           double *departure,
                           elb_error *error)
ELB_NOEXCEPT;

/// @}

/// @name Linkages
///
/// For joints whose mechanism is known: its dimensions, measured with a ruler, are improved by readings of the joint
/// angle. Readings on a stop and misreadings are left out first, as for a curve.
///
/// How the horn sits on its spline, gear ratio and screw pitch need not be known: they are found as well.
/// @{

/// Fits the dimensions of a linkage by least squares.
///
/// - drive: `n` drive angles, deg.
/// - measured: `n` joint angles, deg (for a slider-crank places, in the unit of its lengths).
/// - approach: from which side each was reached, ELB_APPROACH_...; NULL if it is not known. Where some stretch was reached from
///   both sides, lost motion is found as well and does not count as scatter.
/// - start: the linkage as measured with a ruler, with the bits of what is to be found.
/// - out: receives the linkage; free it with elb_linkage_free.
/// - error: receives the details when the call fails.
///
/// Nullable: approach, error; an array without elements. Errors: ELB_STATUS_TOO_FEW_READINGS,
/// ELB_STATUS_DRIVE_ANGLES_EQUAL, ELB_STATUS_NOT_FINITE, ELB_STATUS_UNKNOWN_VALUE, ELB_STATUS_TRANSMISSION_INVALID if the start
/// cannot reach a reading, ELB_STATUS_NO_AGREEMENT if the readings do not determine a dimension.
ELB_MUST_USE
elb_status elb_linkage_new(const double *drive,
                           const double *measured,
                           const int8_t *approach,
                           size_t n,
                           const struct elb_mechanism *start,
                           struct elb_linkage **out,
                           elb_error *error)
ELB_NOEXCEPT;

/// Frees a linkage made by elb_linkage_new. It must be freed once, and never while another thread uses it.
///
/// Nullable: linkage (nothing happens).
void elb_linkage_free(struct elb_linkage *linkage) ELB_NOEXCEPT;

/// What is known of a linkage as a whole.
///
/// - out: receives it.
ELB_MUST_USE
elb_status elb_linkage_values_of(const struct elb_linkage *linkage,
                                 struct elb_linkage_values *out)
ELB_NOEXCEPT;

/// The linkage with the dimensions found; `free` has the bits of those.
///
/// - out: receives it.
ELB_MUST_USE
elb_status elb_linkage_mechanism(const struct elb_linkage *linkage,
                                 struct elb_mechanism *out)
ELB_NOEXCEPT;

/// One of the dimensions found, with its uncertainty.
///
/// - i: 0 to `n_found` - 1.
/// - out: receives it.
///
/// Errors: ELB_STATUS_ABSENT.
ELB_MUST_USE
elb_status elb_linkage_dimension(const struct elb_linkage *linkage,
                                 size_t i,
                                 struct elb_dimension *out)
ELB_NOEXCEPT;

/// The measured value that a linkage expects at a drive angle; of several the one nearest to the readings. NaN where it cannot
/// reach, and for NaN.
///
/// - out: receives the value.
ELB_MUST_USE
elb_status elb_linkage_expected(const struct elb_linkage *linkage,
                                double drive,
                                double *out)
ELB_NOEXCEPT;

/// Lost motion found with a linkage, which lies midway; `drive` at its mean slope over the readings.
///
/// - out: receives it.
///
/// Errors: ELB_STATUS_ABSENT where the readings do not show it, as for elb_curve_lost_motion.
ELB_MUST_USE
elb_status elb_linkage_lost_motion(const struct elb_linkage *linkage,
                                   elb_lost_motion *out)
ELB_NOEXCEPT;

/// The measured value that a linkage expects at a drive angle reached from one side: elb_linkage_expected with the lost motion of
/// that side.
///
/// - approach: ELB_APPROACH_...; midway between both sides where it is unknown.
/// - out: receives the value.
///
/// Errors: ELB_STATUS_UNKNOWN_VALUE.
ELB_MUST_USE
elb_status elb_linkage_expected_from(const struct elb_linkage *linkage,
                                     double drive,
                                     int8_t approach,
                                     double *out)
ELB_NOEXCEPT;

/// Whether the other way to put a slider-crank or four-bar together fits the readings as well, or better: then look at the joint.
///
/// - out: receives it.
///
/// Errors: ELB_STATUS_ABSENT where the readings exclude it, or there is none.
ELB_MUST_USE
elb_status elb_linkage_other_branch(const struct elb_linkage *linkage,
                                    struct elb_other_branch *out)
ELB_NOEXCEPT;

/// The sentence of elb_linkage_other_branch.
///
/// - out: receives a text that lives as long as the linkage.
///
/// Errors: as elb_linkage_other_branch.
ELB_MUST_USE
elb_status elb_linkage_other_branch_text(const struct elb_linkage *linkage,
                                         const char **out)
ELB_NOEXCEPT;

/// The drive angle, deg, at which a linkage shows a measured value. NaN where it cannot reach, and for NaN.
///
/// - out: receives the angle.
ELB_MUST_USE
elb_status elb_linkage_drive(const struct elb_linkage *linkage,
                             double measured,
                             double *out)
ELB_NOEXCEPT;

/// The commands that the readings stand for: joint angles at the lowest and at the highest drive angle read, lower first.
///
/// - lower, upper: receive them, deg (for a slider-crank places).
ELB_MUST_USE
elb_status elb_linkage_command(const struct elb_linkage *linkage,
                               double *lower,
                               double *upper)
ELB_NOEXCEPT;

/// Which of the stops that a limit fit found may not be stops: near a dead centre a joint levels off as it does on a stop.
///
/// There the linkage, fitted again with the readings beyond, has a residual SD of at most 1.5 times that without them (an
/// assumption of this library). The travel is not changed by this: look at the joint.
///
/// - linkage: a fit of what elb_fit_between_stops gave of these readings.
/// - fit, readings: the limit fit, and the readings that were fitted.
/// - lower, upper: receive 1 or 0 each; 0 where no stop was found.
/// - error: receives the details when the call fails.
///
/// Nullable: error. Errors: ELB_STATUS_LENGTH_MISMATCH for other readings than were fitted, ELB_STATUS_UNKNOWN_VALUE.
ELB_MUST_USE
elb_status elb_linkage_explains_stops(const struct elb_linkage *linkage,
                                      const elb_fit *fit,
                                      const elb_readings *readings,
                                      uint32_t *lower,
                                      uint32_t *upper,
                                      elb_error *error)
ELB_NOEXCEPT;

/// Puts a linkage into what is written down of a joint, for elb_joint_new and elb_robot_with_joint.
///
/// Its commands are the joint angles that the linkage knows; ends outside elb_linkage_command go beyond the readings. Of
/// `config` are written `command`, `drive`, `inverted`, `transmission`, `branch` and `linkage`; all else stays as it is: servo,
/// timer, and a `travel`, a `rest` and a feedback that may have to follow (the ends of `feedback.angle` are the joint angles of
/// the command ends).
///
/// - lower, upper: the command range, deg (for a slider-crank places).
/// - config: begun with elb_joint_config_init or elb_joint_config_of. Written only on success.
/// - error: receives the details when the call fails.
///
/// Nullable: error. Errors: ELB_STATUS_OPTION_OUTSIDE if lower and upper are not a range, ELB_STATUS_TRANSMISSION_INVALID
/// for a dead centre inside or near and for what is out of reach.
ELB_MUST_USE
elb_status elb_linkage_joint(const struct elb_linkage *linkage,
                             double lower,
                             double upper,
                             elb_joint_config *config,
                             elb_error *error)
ELB_NOEXCEPT;

/// @}

/// @name Which transmission
/// @{

/// Tries a line, a curve and every linkage guessed on the same readings, and says which to take and why. Readings on a
/// stop and misreadings are left out first, as for a curve.
///
/// - drive: `n` drive angles, deg.
/// - measured: `n` joint angles, deg; at least 5.
/// - approach: from which side each was reached, ELB_APPROACH_...; NULL if it is not known. Where some stretch was reached from
///   both sides, lost motion is found as well and does not count as scatter.
/// - guesses: `n_guesses` linkages, with the bits of what is to be found. One that cannot be fitted is not an error.
/// - most_knots: the most knots of the curve, 2 to ELB_MOST_KNOTS.
/// - out: receives the choice; free it with elb_choice_free.
/// - error: receives the details when the call fails.
///
/// Nullable: approach, error; an array without elements. Errors: as elb_curve_new, and ELB_STATUS_UNKNOWN_VALUE for
/// what is not a linkage.
ELB_MUST_USE
elb_status elb_choice_new(const double *drive,
                          const double *measured,
                          const int8_t *approach,
                          size_t n,
                          const struct elb_mechanism *guesses,
                          size_t n_guesses,
                          size_t most_knots,
                          struct elb_choice **out,
                          elb_error *error)
ELB_NOEXCEPT;

/// Frees a choice and all that was taken from it. It must be freed once, and never while another thread uses it.
///
/// Nullable: choice (nothing happens).
void elb_choice_free(struct elb_choice *choice)
ELB_NOEXCEPT;

/// How many transmissions were tried: the line, the curve, then the guesses in their order.
ELB_MUST_USE elb_status elb_choice_count(const struct elb_choice *choice, size_t *out) ELB_NOEXCEPT;

/// Which of them to take.
///
/// - out: receives its index, 0 to elb_choice_count - 1.
ELB_MUST_USE elb_status elb_choice_best(const struct elb_choice *choice, size_t *out) ELB_NOEXCEPT;

/// How well one of them does.
///
/// - i: 0 to elb_choice_count - 1.
/// - out: receives it.
///
/// Errors: ELB_STATUS_ABSENT.
ELB_MUST_USE
elb_status elb_choice_candidate(const struct elb_choice *choice,
                                size_t i,
                                struct elb_candidate *out)
ELB_NOEXCEPT;

/// Lost motion found with one of them, which lies midway: half of `reversal` is added to a line where it was reached from below.
///
/// - i: 0 to elb_choice_count - 1.
/// - out: receives it.
///
/// Errors: ELB_STATUS_ABSENT where the readings do not show it, as for elb_curve_lost_motion, and for another `i`.
ELB_MUST_USE
elb_status elb_choice_lost_motion(const struct elb_choice *choice,
                                  size_t i,
                                  elb_lost_motion *out)
ELB_NOEXCEPT;

/// How many reasons there are.
ELB_MUST_USE elb_status elb_choice_reason_count(const struct elb_choice *choice, size_t *out) ELB_NOEXCEPT;

/// The sentence of one reason, the most important first.
///
/// - i: 0 to elb_choice_reason_count - 1.
/// - out: receives a text that lives as long as the choice.
///
/// Errors: ELB_STATUS_ABSENT.
ELB_MUST_USE
elb_status elb_choice_reason(const struct elb_choice *choice,
                             size_t i,
                             const char **out)
ELB_NOEXCEPT;

/// The line of a choice, for the elb_line_... calls. elb_line_inverse gives the drive angles of a straight joint's ends.
///
/// - i: a candidate that is one.
/// - out: receives the line, which lives as long as the choice.
///
/// Errors: ELB_STATUS_ABSENT for another candidate.
ELB_MUST_USE
elb_status elb_choice_line(const struct elb_choice *choice,
                           size_t i,
                           const struct elb_line **out)
ELB_NOEXCEPT;

/// The curve of a choice, for the elb_curve_... calls.
///
/// - i: a candidate that is one.
/// - out: receives the curve, which lives as long as the choice.
///
/// Errors: ELB_STATUS_ABSENT for another candidate.
ELB_MUST_USE
elb_status elb_choice_curve(const struct elb_choice *choice,
                            size_t i,
                            const struct elb_curve **out)
ELB_NOEXCEPT;

/// A linkage of a choice, for the elb_linkage_... calls.
///
/// - i: a candidate that is one and was fitted.
/// - out: receives the linkage, which lives as long as the choice.
///
/// Errors: ELB_STATUS_ABSENT for another candidate.
ELB_MUST_USE
elb_status elb_choice_linkage(const struct elb_choice *choice,
                              size_t i,
                              const struct elb_linkage **out)
ELB_NOEXCEPT;

/// @}

/// @name A feedback map from measured points
/// @{

/// Fits what a sensor reads at joint angles, and puts the map into what is written down of a joint, for elb_joint_new and
/// elb_robot_with_joint: a straight line unless the readings show a significant bend, else a strictly monotone curve.
///
/// Of `config.feedback` are written `reading`, `angle`, `inverted`, `knots` and `n_knots`, and `pot_ohm` and `load_ohm` become 0,
/// since what was measured holds the load already; all else stays as it is. Beyond the readings the map continues as a straight line.
/// Of 8 readings or more, what lies far off the map through the others is left out, at most one in eight, two neighbours with exchanged
/// angles counted as one; so are readings at an end that stay level while the angles go on. `values` counts them, and tells what the readings as a whole say against the map.
///
/// - reading, angle: `n` readings of the sensor, and the joint angles at them in deg, as a protractor or inclinometer reads them;
///   in any order, repeats welcome; at least 5. Take medians of several where the sensor is noisy.
/// - most_knots: the most knots the curve may have, 2 to ELB_MOST_KNOTS.
/// - lower, upper: the joint angles, deg, that the joint's lower and upper command stand for.
/// - config: begun with elb_joint_config_init or elb_joint_config_of. Written only on success.
/// - knots: receives the map's knots, (n x 2), to which `config` points afterwards unless the map is straight: keep them as long as
///   it is used.
/// - room: how many knots (pairs) there is room for; ELB_MOST_JOINT_KNOTS are always enough.
/// - values: receives how well the map fits.
/// - error: receives the details when the call fails.
///
/// Nullable: values, error; an array without elements, knots without room. Errors: ELB_STATUS_TOO_FEW_READINGS,
/// ELB_STATUS_NO_MOTION if the sensor does not follow, ELB_STATUS_NOT_FINITE, ELB_STATUS_OPTION_OUTSIDE,
/// ELB_STATUS_NO_ROOM.
ELB_MUST_USE
elb_status elb_fit_feedback(const double *reading,
                            const double *angle,
                            size_t n,
                            size_t most_knots,
                            double lower,
                            double upper,
                            elb_joint_config *config,
                            double *knots,
                            size_t room,
                            struct elb_feedback_values *values,
                            elb_error *error)
ELB_NOEXCEPT;

/// @}

/// @name What changed since
/// @{

/// Sets options to their defaults, and notes the struct's size.
///
/// - size: `sizeof(elb_compare_options)`, as the caller's header has it.
ELB_MUST_USE
elb_status elb_compare_options_init(struct elb_compare_options *options,
                                    size_t size)
ELB_NOEXCEPT;

/// Compares an earlier with a later fit of one joint, measured in the same units.
///
/// All quantities are judged together: of unchanged joints at most one in twenty is reported as changed in anything at
/// all (Student's t with the degrees of freedom of both fits; Holm's procedure). What is significant and smaller than the
/// smallest that matters is reported as such. What the later table did not test is never called unchanged.
///
/// - options: the options of the fit; NULL means the defaults.
/// - out: receives the comparison; free it with elb_comparison_free.
/// - error: receives the details when the call fails.
///
/// Nullable: options, error. Errors: ELB_STATUS_OPTION_OUTSIDE.
ELB_MUST_USE
elb_status elb_fit_compare(const elb_fit *old,
                           const elb_fit *new_,
                           const struct elb_compare_options *options,
                           struct elb_comparison **out,
                           elb_error *error)
ELB_NOEXCEPT;

/// Frees a comparison. It must be freed once, and never while another thread uses it.
///
/// Nullable: comparison (nothing happens).
void elb_comparison_free(struct elb_comparison *comparison) ELB_NOEXCEPT;

/// How one quantity changed.
///
/// - quantity: ELB_QUANTITY_...
/// - out: receives it.
///
/// Errors: ELB_STATUS_UNKNOWN_VALUE.
ELB_MUST_USE
elb_status elb_comparison_change(const struct elb_comparison *comparison,
                                 uint32_t quantity,
                                 struct elb_change *out)
ELB_NOEXCEPT;

/// Whether something changed that matters: 1 or 0. Changes smaller than that and quantities that were not tested do not count.
ELB_MUST_USE
elb_status elb_comparison_is_changed(const struct elb_comparison *comparison,
                                     uint32_t *out)
ELB_NOEXCEPT;

/// How many whole numbers of spline teeth agree with a shifted offset, of all horns together; 0 without one.
ELB_MUST_USE
elb_status elb_comparison_teeth_count(const struct elb_comparison *comparison,
                                      size_t *out)
ELB_NOEXCEPT;

/// One of them, the closest first.
///
/// - i: 0 to elb_comparison_teeth_count - 1.
/// - out: receives it.
///
/// Errors: ELB_STATUS_ABSENT.
ELB_MUST_USE
elb_status elb_comparison_teeth(const struct elb_comparison *comparison,
                                size_t i,
                                struct elb_spline_teeth *out)
ELB_NOEXCEPT;

/// How many warnings the two fits carry together.
ELB_MUST_USE
elb_status elb_comparison_warning_count(const struct elb_comparison *comparison,
                                        size_t *out)
ELB_NOEXCEPT;

/// One of them; those of the earlier table come first.
///
/// - i: 0 to elb_comparison_warning_count - 1.
/// - out: receives it.
///
/// Errors: ELB_STATUS_ABSENT.
ELB_MUST_USE
elb_status elb_comparison_warning(const struct elb_comparison *comparison,
                                  size_t i,
                                  struct elb_table_warning *out)
ELB_NOEXCEPT;

/// How many diagnoses a comparison has: at least one, the gravest first.
ELB_MUST_USE
elb_status elb_comparison_diagnosis_count(const struct elb_comparison *comparison,
                                          size_t *out)
ELB_NOEXCEPT;

/// One diagnosis.
///
/// - i: 0 to elb_comparison_diagnosis_count - 1.
/// - out: receives it.
///
/// Errors: ELB_STATUS_ABSENT.
ELB_MUST_USE
elb_status elb_comparison_diagnosis(const struct elb_comparison *comparison,
                                    size_t i,
                                    struct elb_diagnosis *out)
ELB_NOEXCEPT;

/// @}

/// @name Positioning of one axis
/// @{

/// Evaluates runs over the same targets after ISO 230-2 and ISO 9283. The unit is that of the targets throughout.
///
/// - targets: `n_targets` positions that were commanded.
/// - approach: `n_runs` sides, one for each run: ELB_APPROACH_BELOW or ELB_APPROACH_ABOVE.
/// - positions: (n_runs x n_targets) positions attained, run after run.
/// - out: receives the result; free it with elb_positioning_free.
/// - error: receives the details when the call fails.
///
/// Nullable: error; an array without elements. Errors: ELB_STATUS_TOO_FEW_READINGS, ELB_STATUS_NOT_FINITE,
/// ELB_STATUS_APPROACH_UNKNOWN, ELB_STATUS_UNKNOWN_VALUE.
ELB_MUST_USE
elb_status elb_positioning_new(const double *targets,
                               size_t n_targets,
                               const int8_t *approach,
                               size_t n_runs,
                               const double *positions,
                               struct elb_positioning **out,
                               elb_error *error)
ELB_NOEXCEPT;

/// Frees a positioning. It must be freed once, and never while another thread uses it.
///
/// Nullable: positioning (nothing happens).
void elb_positioning_free(struct elb_positioning *positioning) ELB_NOEXCEPT;

/// The characteristics of the axis.
///
/// - out: receives them.
ELB_MUST_USE
elb_status elb_positioning_axis_of(const struct elb_positioning *positioning,
                                   struct elb_positioning_axis *out)
ELB_NOEXCEPT;

/// What one target shows.
///
/// - i: 0 to n_targets - 1, in the order given.
/// - out: receives it.
///
/// Errors: ELB_STATUS_ABSENT.
ELB_MUST_USE
elb_status elb_positioning_target_at(const struct elb_positioning *positioning,
                                     size_t i,
                                     struct elb_positioning_target *out)
ELB_NOEXCEPT;

/// @}

#ifdef __cplusplus
}  // extern "C"
#endif  // __cplusplus

#endif  // ELB_BLOCKS_ONLY
#endif  // ELBOWROOM_ANALYSIS_H
