/* Curves, linkages and choices: what is refused, readings between stops and from both sides, dead centres. */
#include "check.h"

static void refusals(void) {
    const double x[] = {10, 20, 30, 40, 50, 60}, y[] = {1, 2, 4, 8, 9, 12}, flat[] = {3, 3, 3, 3, 3, 3};
    const double equal[] = {7, 7, 7, 7, 7, 7}, gap[] = {1, 2, 4, NAN, 9, 12};
    elb_mechanism start = {{40, 92, 31, 0, 0}, ELB_TRANSMISSION_TRIANGLE, ELB_BRANCH_LEFT, 2 + 4, 0};
    elb_curve *curve = NULL;
    elb_linkage *linkage = NULL;
    elb_choice *choice = NULL;
    elb_candidate candidate;
    const char *text = NULL;
    elb_error error;
    EXPECT(ELB_STATUS_TOO_FEW_READINGS, elb_curve_new(x, y, NULL, 4, 6, &curve, &error));
    EXPECT(ELB_STATUS_TOO_FEW_READINGS, elb_curve_new(NULL, NULL, NULL, 0, 6, &curve, &error));
    EXPECT(ELB_STATUS_DRIVE_ANGLES_EQUAL, elb_curve_new(equal, y, NULL, 6, 6, &curve, &error));
    EXPECT(ELB_STATUS_NO_MOTION, elb_curve_new(x, flat, NULL, 6, 6, &curve, &error));
    EXPECT(ELB_STATUS_NOT_FINITE, elb_curve_new(x, gap, NULL, 6, 6, &curve, &error));
    CHECK(error.index == 3 && isnan(error.value));
    EXPECT(ELB_STATUS_OPTION_OUTSIDE, elb_curve_new(x, y, NULL, 6, ELB_MOST_KNOTS + 1, &curve, &error));
    CHECK(strstr(error.message, "most_knots is 13; it must be 2 to 12") != NULL);
    EXPECT(ELB_STATUS_BAD_SIZE, elb_curve_new(x, y, NULL, SIZE_MAX, 6, &curve, &error));

    EXPECT(ELB_STATUS_TOO_FEW_READINGS, elb_linkage_new(x, y, NULL, 4, &start, &linkage, &error));
    EXPECT(ELB_STATUS_NOT_FINITE, elb_linkage_new(x, gap, NULL, 6, &start, &linkage, &error));
    /* Only the ratio of two lengths shapes a triangle. */
    start.free = 1 + 2 + 4;
    EXPECT(ELB_STATUS_NO_AGREEMENT, elb_linkage_new(x, y, NULL, 6, &start, &linkage, &error));
    CHECK(strstr(error.message, "do not determine") != NULL);
    start.free = 8;
    EXPECT(ELB_STATUS_UNKNOWN_VALUE, elb_linkage_new(x, y, NULL, 6, &start, &linkage, &error));
    CHECK(strstr(error.message, "free is 8") != NULL);
    start.free = 2, start.reserved = 1;
    EXPECT(ELB_STATUS_UNKNOWN_VALUE, elb_linkage_new(x, y, NULL, 6, &start, &linkage, &error));
    CHECK(strstr(error.message, "reserved is 1") != NULL);
    start.reserved = 0, start.kind = ELB_TRANSMISSION_CURVE;
    EXPECT(ELB_STATUS_UNKNOWN_VALUE, elb_linkage_new(x, y, NULL, 6, &start, &linkage, &error));
    EXPECT(ELB_STATUS_UNKNOWN_VALUE, elb_choice_new(x, y, NULL, 6, &start, 1, 6, &choice, &error));
    CHECK(strstr(error.message, "kind is 1") != NULL);
    start.kind = ELB_TRANSMISSION_FOUR_BAR, start.branch = 2;
    EXPECT(ELB_STATUS_UNKNOWN_VALUE, elb_linkage_new(x, y, NULL, 6, &start, &linkage, &error));
    start.kind = ELB_TRANSMISSION_SLIDER_CRANK, start.branch = ELB_BRANCH_LEFT;
    start.dimensions[0] = 1, start.dimensions[1] = 2, start.dimensions[2] = 0, start.dimensions[3] = 0;
    EXPECT(ELB_STATUS_TRANSMISSION_INVALID, elb_linkage_new(x, y, NULL, 6, &start, &linkage, &error));
    CHECK(error.index == 2 && error.value == 4 && strstr(error.message, "cannot reach 4") != NULL);
    CHECK(curve == NULL && linkage == NULL && choice == NULL);

    /* Without guesses there are two candidates. */
    OK(elb_choice_new(x, y, NULL, 6, NULL, 0, 6, &choice, NULL));
    EXPECT(ELB_STATUS_ABSENT, elb_choice_candidate(choice, 2, &candidate));
    EXPECT(ELB_STATUS_ABSENT, elb_choice_reason(choice, 99, &text));
    elb_choice_free(choice);
}

/* A bent joint with a stop: what lies between the stops goes into the curve, the rest does not. */
static void between_stops(void) {
    enum { N = 41 };
    double drive[N], measured[N], x[N], y[N];
    elb_readings readings;
    elb_fit *fit = NULL;
    elb_fit_end upper;
    elb_curve *curve = NULL;
    elb_error error;
    size_t kept = 99, i;
    for (i = 0; i < N; i++) {
        drive[i] = 2.0 * (double)i;
        measured[i] = drive[i] < 70 ? drive[i] + 0.003 * drive[i] * drive[i] : 70 + 0.003 * 70 * 70;
        measured[i] += 0.01 * (double)(i * 7 % 5);
    }
    OK(elb_readings_init(&readings, sizeof readings));
    readings.n = N;
    readings.drive = drive;
    readings.measured = measured;
    OK(elb_fit_limits(&readings, NULL, &fit, NULL));
    OK(elb_fit_end_of(fit, ELB_SIDE_UPPER, &upper));
    CHECK(upper.kind == ELB_END_CONTACT && fabs(upper.at - 70) < 1);
    OK(elb_fit_between_stops(fit, &readings, x, y, NULL, &kept, NULL));
    CHECK(kept > 30 && kept < 36 && x[0] == 0 && x[kept - 1] <= 70);
    OK(elb_curve_new(x, y, NULL, kept, 6, &curve, NULL));
    elb_curve_free(curve);

    EXPECT(ELB_STATUS_NULL_POINTER, elb_fit_between_stops(NULL, &readings, x, y, NULL, &kept, &error));
    EXPECT(ELB_STATUS_NULL_POINTER, elb_fit_between_stops(fit, NULL, x, y, NULL, &kept, &error));
    EXPECT(ELB_STATUS_NULL_POINTER, elb_fit_between_stops(fit, &readings, NULL, y, NULL, &kept, &error));
    EXPECT(ELB_STATUS_NULL_POINTER, elb_fit_between_stops(fit, &readings, x, NULL, NULL, &kept, &error));
    EXPECT(ELB_STATUS_NULL_POINTER, elb_fit_between_stops(fit, &readings, x, y, NULL, NULL, &error));
    readings.n = N - 1;
    kept = 99;
    SAYS(ELB_STATUS_LENGTH_MISMATCH, elb_fit_between_stops(fit, &readings, x, y, NULL, &kept, &error), error,
         "readings has 40 values for 41 readings");
    CHECK(kept == 99);
    elb_fit_free(fit);
}

/* A crank near its dead centre levels the slide as a stop does; told from a stop at 60 by whether the linkage needs it. Invented. */
static void dead_centre(double stop, uint32_t is_stop) {
    enum { N = 40 };
    double drive[N], measured[N], x[N], y[N];
    elb_mechanism start;
    elb_readings readings;
    elb_fit *fit = NULL;
    elb_linkage *linkage = NULL;
    elb_error error;
    elb_fit_end end;
    uint32_t lower = 9, upper = 9;
    size_t n = 0, i;
    for (i = 0; i < N; i++) {
        double crank = (5 + 4 * (double)i) * 3.14159265358979324 / 180, side = 20 * sin(crank) - 2;
        drive[i] = 10 + 4 * (double)i;
        measured[i] = 20 * cos(crank) + sqrt(45 * 45 - side * side);
        measured[i] = (measured[i] < stop ? measured[i] : stop) + 0.05 * ((double)(i * 7 % 5) - 2);
    }
    OK(elb_readings_init(&readings, sizeof readings));
    readings.n = N;
    readings.drive = drive;
    readings.measured = measured;
    memset(&start, 0, sizeof start);
    start.kind = ELB_TRANSMISSION_SLIDER_CRANK;
    start.branch = ELB_BRANCH_RIGHT;
    start.dimensions[0] = 20, start.dimensions[1] = 45, start.dimensions[2] = 2, start.dimensions[3] = -0.5;
    start.free = 8;
    OK(elb_fit_limits(&readings, NULL, &fit, NULL));
    OK(elb_fit_between_stops(fit, &readings, x, y, NULL, &n, NULL));
    OK(elb_linkage_new(x, y, NULL, n, &start, &linkage, NULL));
    OK(elb_linkage_explains_stops(linkage, fit, &readings, &lower, &upper, NULL));
    OK(elb_fit_end_of(fit, ELB_SIDE_LOWER, &end));
    /* A dead centre is no contact, so that there is none to explain; and a stop is not explained. */
    CHECK((end.kind == ELB_END_CONTACT) == (is_stop == 1) && lower == 0 && upper == 0);
    lower = upper = 9;
    EXPECT(ELB_STATUS_NULL_POINTER, elb_linkage_explains_stops(NULL, fit, &readings, &lower, &upper, &error));
    EXPECT(ELB_STATUS_NULL_POINTER, elb_linkage_explains_stops(linkage, NULL, &readings, &lower, &upper, &error));
    EXPECT(ELB_STATUS_NULL_POINTER, elb_linkage_explains_stops(linkage, fit, NULL, &lower, &upper, &error));
    EXPECT(ELB_STATUS_NULL_POINTER, elb_linkage_explains_stops(linkage, fit, &readings, NULL, &upper, &error));
    EXPECT(ELB_STATUS_NULL_POINTER, elb_linkage_explains_stops(linkage, fit, &readings, &lower, NULL, &error));
    readings.n = N - 1;
    SAYS(ELB_STATUS_LENGTH_MISMATCH, elb_linkage_explains_stops(linkage, fit, &readings, &lower, &upper, &error), error,
         "readings has 39 values for 40 readings");
    CHECK(lower == 9 && upper == 9);
    elb_linkage_free(linkage);
    elb_fit_free(fit);
}

#define REFUSED(call) EXPECT(ELB_STATUS_NULL_POINTER, call)

/* Invented: a bent joint read upward and downward, 0.5 deg apart, and a slider-crank slightly out of line. */
static void sides(void) {
    enum { N = 40 };
    double drive[N], measured[N], x[N], y[N], value = 0, from = 0, squares = 0;
    int8_t approach[N], kept[N], wrong[N];
    elb_readings readings;
    elb_fit *fit = NULL;
    elb_curve *curve = NULL, *plain = NULL;
    elb_choice *choice = NULL;
    elb_linkage *linkage = NULL;
    elb_curve_values with, without;
    elb_candidate candidate;
    elb_lost_motion lost, of_choice;
    elb_other_branch other;
    elb_mechanism start = {{20, 44, 2, 0, 0}, ELB_TRANSMISSION_SLIDER_CRANK, ELB_BRANCH_RIGHT, 2, 0};
    elb_error error;
    const char *text = NULL;
    size_t n = 0, i;
    for (i = 0; i < N; i++) {
        drive[i] = 20 + 5 * (double)(i < 20 ? i : 39 - i);
        approach[i] = i < 20 ? ELB_APPROACH_BELOW : ELB_APPROACH_ABOVE;
        measured[i] = 0.3 * drive[i] + 0.002 * drive[i] * drive[i] - 0.25 * approach[i] + 0.03 * ((double)(i * 7 % 5) - 2);
        wrong[i] = 3;
    }
    OK(elb_readings_init(&readings, sizeof readings));
    readings.n = N;
    readings.drive = drive;
    readings.measured = measured;
    readings.approach = approach;
    OK(elb_fit_limits(&readings, NULL, &fit, NULL));
    OK(elb_fit_between_stops(fit, &readings, x, y, kept, &n, NULL));
    CHECK(n == N && memcmp(kept, approach, N) == 0);
    readings.approach = NULL;
    OK(elb_fit_between_stops(fit, &readings, x, y, kept, &n, NULL));
    CHECK(kept[0] == ELB_APPROACH_UNKNOWN && kept[N - 1] == ELB_APPROACH_UNKNOWN);
    elb_fit_free(fit);

    OK(elb_curve_new(drive, measured, approach, N, 6, &curve, NULL));
    OK(elb_curve_new(drive, measured, NULL, N, 6, &plain, NULL));
    OK(elb_curve_values_of(curve, &with));
    OK(elb_curve_values_of(plain, &without));
    CHECK(with.residual_sd < 0.06 && without.residual_sd > 0.2 && with.dof == N - with.n_knots - 1);
    OK(elb_curve_lost_motion(curve, &lost));
    CHECK(fabs(lost.value - 0.5) < 4 * lost.u && lost.reversal == -lost.value && lost.drive > 0 && lost.u_drive > 0);
    EXPECT(ELB_STATUS_ABSENT, elb_curve_lost_motion(plain, &lost));
    for (i = 0; i < N; i++) {
        OK(elb_curve_expected_from(curve, drive[i], approach[i], &from));
        squares += (measured[i] - from) * (measured[i] - from);
    }
    CHECK(fabs(squares - with.sum_of_squares) < 1e-6 * squares);
    OK(elb_curve_expected(curve, 70, &value));
    OK(elb_curve_expected_from(curve, 70, ELB_APPROACH_UNKNOWN, &from));
    CHECK(value == from);
    EXPECT(ELB_STATUS_UNKNOWN_VALUE, elb_curve_expected_from(curve, 70, 2, &from));
    REFUSED(elb_curve_lost_motion(NULL, &lost));
    REFUSED(elb_curve_lost_motion(curve, NULL));
    REFUSED(elb_curve_expected_from(NULL, 1, 0, &from));
    REFUSED(elb_curve_expected_from(curve, 1, 0, NULL));
    SAYS(ELB_STATUS_UNKNOWN_VALUE, elb_curve_new(drive, measured, wrong, N, 6, &plain, &error), error, "approach");

    OK(elb_choice_new(drive, measured, approach, N, NULL, 0, 6, &choice, NULL));
    OK(elb_choice_lost_motion(choice, 1, &of_choice));
    CHECK(memcmp(&lost, &of_choice, sizeof lost) == 0);
    OK(elb_choice_candidate(choice, 0, &candidate));
    CHECK(candidate.parameters == 3);
    OK(elb_choice_lost_motion(choice, 0, &of_choice));
    EXPECT(ELB_STATUS_ABSENT, elb_choice_lost_motion(choice, 2, &of_choice));
    REFUSED(elb_choice_lost_motion(NULL, 0, &of_choice));
    REFUSED(elb_choice_lost_motion(choice, 0, NULL));

    for (i = 0; i < N; i++) {
        double crank = (drive[i] = 20 + 2.2 * (double)(i < 20 ? 2 * i : 79 - 2 * i)) * 3.14159265358979324 / 180;
        double side = 20 * sin(crank) - 2;
        measured[i] = 20 * cos(crank) + sqrt(45 * 45 - side * side) + 0.1 * ((double)(i * 7 % 5) - 2) + 0.3 * approach[i];
    }
    OK(elb_linkage_new(drive, measured, approach, N, &start, &linkage, NULL));
    OK(elb_linkage_lost_motion(linkage, &lost));
    CHECK(fabs(lost.value - 0.6) < 5 * lost.u);
    OK(elb_linkage_expected(linkage, 60, &value));
    OK(elb_linkage_expected_from(linkage, 60, ELB_APPROACH_UNKNOWN, &from));
    CHECK(value == from);
    EXPECT(ELB_STATUS_UNKNOWN_VALUE, elb_linkage_expected_from(linkage, 60, -2, &from));
    OK(elb_linkage_other_branch(linkage, &other));
    CHECK(other.branch == ELB_BRANCH_LEFT && other.apart > 0 && other.residual_sd > 0 && other.fitted_sd > 0 && other.is_better <= 1);
    OK(elb_linkage_other_branch_text(linkage, &text));
    CHECK(text != NULL && strstr(text, "look at the joint") != NULL);
    REFUSED(elb_linkage_lost_motion(NULL, &lost));
    REFUSED(elb_linkage_lost_motion(linkage, NULL));
    REFUSED(elb_linkage_expected_from(NULL, 1, 0, &from));
    REFUSED(elb_linkage_expected_from(linkage, 1, 0, NULL));
    REFUSED(elb_linkage_other_branch(NULL, &other));
    REFUSED(elb_linkage_other_branch(linkage, NULL));
    REFUSED(elb_linkage_other_branch_text(NULL, &text));
    REFUSED(elb_linkage_other_branch_text(linkage, NULL));
    elb_linkage_free(linkage);
    /* Without an offset the two branches are mirror images: one joint. */
    start.dimensions[2] = 0;
    OK(elb_linkage_new(drive, measured, NULL, N, &start, &linkage, NULL));
    EXPECT(ELB_STATUS_ABSENT, elb_linkage_other_branch(linkage, &other));
    EXPECT(ELB_STATUS_ABSENT, elb_linkage_other_branch_text(linkage, &text));
    EXPECT(ELB_STATUS_ABSENT, elb_linkage_lost_motion(linkage, &lost));
    elb_linkage_free(linkage);
    elb_choice_free(choice);
    elb_curve_free(plain);
    elb_curve_free(curve);
}

static void nulls(void) {
    const double x[] = {10, 20, 30, 40, 50, 60}, y[] = {1, 2, 4, 8, 9, 12};
    const elb_mechanism start = {{40, 92, 31, 0, 0}, ELB_TRANSMISSION_TRIANGLE, ELB_BRANCH_LEFT, 0, 0};
    elb_joint_config config = example_config();
    elb_curve *curve = NULL, *no_curve = NULL;
    elb_linkage *linkage = NULL, *no_linkage = NULL;
    elb_choice *choice = NULL, *no_choice = NULL;
    elb_curve_values curve_values;
    elb_curve_knot knot;
    elb_linkage_values linkage_values;
    elb_mechanism mechanism;
    elb_dimension dimension;
    elb_candidate candidate;
    const elb_line *line = NULL;
    const elb_curve *of_choice = NULL;
    const elb_linkage *linkage_of = NULL;
    const char *text = NULL;
    elb_error error;
    double value = 0, knots[2 * ELB_MOST_JOINT_KNOTS];
    size_t n = 0;
    REFUSED(elb_curve_new(NULL, y, NULL, 6, 6, &no_curve, &error));
    REFUSED(elb_curve_new(x, NULL, NULL, 6, 6, &no_curve, &error));
    REFUSED(elb_curve_new(x, y, NULL, 6, 6, NULL, &error));
    OK(elb_curve_new(x, y, NULL, 6, 6, &curve, NULL));
    REFUSED(elb_curve_values_of(NULL, &curve_values));
    REFUSED(elb_curve_values_of(curve, NULL));
    REFUSED(elb_curve_knot_at(NULL, 0, &knot));
    REFUSED(elb_curve_knot_at(curve, 0, NULL));
    REFUSED(elb_curve_criterion(NULL, 0, &value));
    REFUSED(elb_curve_criterion(curve, 0, NULL));
    REFUSED(elb_curve_expected(NULL, 1, &value));
    REFUSED(elb_curve_expected(curve, 1, NULL));
    REFUSED(elb_curve_joint(NULL, 0, 1, &config, knots, ELB_MOST_JOINT_KNOTS, &value, &error));
    REFUSED(elb_curve_joint(curve, 0, 1, NULL, knots, ELB_MOST_JOINT_KNOTS, &value, &error));
    REFUSED(elb_curve_joint(curve, 0, 1, &config, NULL, ELB_MOST_JOINT_KNOTS, &value, &error));
    OK(elb_curve_joint(curve, 0, 1, &config, knots, ELB_MOST_JOINT_KNOTS, NULL, NULL));
    REFUSED(elb_linkage_new(NULL, y, NULL, 6, &start, &no_linkage, &error));
    REFUSED(elb_linkage_new(x, NULL, NULL, 6, &start, &no_linkage, &error));
    REFUSED(elb_linkage_new(x, y, NULL, 6, NULL, &no_linkage, &error));
    REFUSED(elb_linkage_new(x, y, NULL, 6, &start, NULL, &error));
    OK(elb_linkage_new(x, y, NULL, 6, &start, &linkage, NULL));
    REFUSED(elb_linkage_values_of(NULL, &linkage_values));
    REFUSED(elb_linkage_values_of(linkage, NULL));
    REFUSED(elb_linkage_mechanism(NULL, &mechanism));
    REFUSED(elb_linkage_mechanism(linkage, NULL));
    REFUSED(elb_linkage_dimension(NULL, 0, &dimension));
    REFUSED(elb_linkage_dimension(linkage, 0, NULL));
    REFUSED(elb_linkage_expected(NULL, 1, &value));
    REFUSED(elb_linkage_expected(linkage, 1, NULL));
    REFUSED(elb_linkage_drive(NULL, 1, &value));
    REFUSED(elb_linkage_drive(linkage, 1, NULL));
    REFUSED(elb_linkage_command(NULL, &value, &value));
    REFUSED(elb_linkage_command(linkage, NULL, &value));
    REFUSED(elb_linkage_command(linkage, &value, NULL));
    REFUSED(elb_linkage_joint(NULL, 0, 1, &config, &error));
    REFUSED(elb_linkage_joint(linkage, 0, 1, NULL, &error));
    OK(elb_linkage_joint(linkage, 0, 1, &config, NULL));
    REFUSED(elb_choice_new(NULL, y, NULL, 6, &start, 1, 6, &no_choice, &error));
    REFUSED(elb_choice_new(x, NULL, NULL, 6, &start, 1, 6, &no_choice, &error));
    REFUSED(elb_choice_new(x, y, NULL, 6, NULL, 1, 6, &no_choice, &error));
    REFUSED(elb_choice_new(x, y, NULL, 6, &start, 1, 6, NULL, &error));
    OK(elb_choice_new(x, y, NULL, 6, &start, 1, 6, &choice, NULL));
    REFUSED(elb_choice_count(NULL, &n));
    REFUSED(elb_choice_count(choice, NULL));
    REFUSED(elb_choice_best(NULL, &n));
    REFUSED(elb_choice_best(choice, NULL));
    REFUSED(elb_choice_candidate(NULL, 0, &candidate));
    REFUSED(elb_choice_candidate(choice, 0, NULL));
    REFUSED(elb_choice_reason_count(NULL, &n));
    REFUSED(elb_choice_reason_count(choice, NULL));
    REFUSED(elb_choice_reason(NULL, 0, &text));
    REFUSED(elb_choice_reason(choice, 0, NULL));
    REFUSED(elb_choice_line(NULL, 0, &line));
    REFUSED(elb_choice_line(choice, 0, NULL));
    REFUSED(elb_choice_curve(NULL, 1, &of_choice));
    REFUSED(elb_choice_curve(choice, 1, NULL));
    REFUSED(elb_choice_linkage(NULL, 2, &linkage_of));
    REFUSED(elb_choice_linkage(choice, 2, NULL));
    CHECK(no_curve == NULL && no_linkage == NULL && no_choice == NULL && value == 0 && n == 0 && text == NULL && line == NULL);
    elb_curve_free(curve);
    elb_curve_free(NULL);
    elb_linkage_free(linkage);
    elb_linkage_free(NULL);
    elb_choice_free(choice);
    elb_choice_free(NULL);
}

void test_fit_sides(void) {
    refusals();
    between_stops();
    sides();
    dead_centre(1e9, 0);
    dead_centre(60, 1);
    nulls();
}
