/* What the sensor says: readings, angles, commands, rails. */
#include "check.h"
#include <math.h>

/* What 10 bits read of a potentiometer of 10 kilohm over 200 deg: the textbook's divider, loaded by `load` times its resistance. */
static double divider(double angle, double load) {
    double part = (angle + 30) / 200;
    return floor(1024 * part / (1 + load * part * (1 - part)) + 0.5);
}

/* Readings at joint angles become a joint's feedback: straight, bent, falling. */
static void from_points(double load, int falls) {
    double reading[40], angle[40], knots[2 * ELB_MOST_JOINT_KNOTS], last = 0, told = 0;
    elb_joint_config config = example_config(), kept = config;
    elb_feedback_values values = {-1, -1, {-1, -1}, 0, 0, 0, 0};
    elb_joint *joint = NULL;
    elb_error error;
    size_t i;
    for (i = 0; i < 40; i++) {
        angle[i] = -10 + 3 * (double)i;
        reading[i] = falls ? 1023 - divider(angle[i], load) : divider(angle[i], load);
    }
    config.feedback.adc_bits = kept.feedback.adc_bits = 10;
    config.feedback.pot_ohm = config.feedback.load_ohm = 5;
    OK(elb_fit_feedback(reading, angle, 40, 12, 0, 95, &config, knots, ELB_MOST_JOINT_KNOTS, &values, &error));
    CHECK(values.residual_sd > 0 && values.residual_sd < 0.3 && values.u[0] > 0 && values.u[1] > 0);
    CHECK(config.feedback.angle[0] == 0 && config.feedback.angle[1] == 95 && config.feedback.inverted == (uint32_t)falls);
    CHECK(config.feedback.pot_ohm == 0 && config.feedback.load_ohm == 0 && config.feedback.adc_bits == 10);
    CHECK(config.command[1] == kept.command[1] && config.drive[1] == kept.drive[1] && config.rest == kept.rest);
    if (load == 0) {
        CHECK(config.feedback.knots == NULL && config.feedback.n_knots == 0);
        CHECK(values.straight_sd == values.residual_sd && values.dof == 38 && values.n_left_out == 0 && values.warnings == 0);
    } else {
        CHECK(config.feedback.knots == knots && config.feedback.n_knots > 2 && values.straight_sd > 3 * values.residual_sd);
    }
    OK(elb_joint_new(&config, &joint, &error));
    for (i = 4; i < 35; i++) {
        OK(elb_joint_angle_from_reading(joint, reading[i], &told));
        CHECK(fabs(told - angle[i]) < 0.5 && (i == 4 || told > last));
        last = told;
    }
    elb_joint_free(joint);
}

static void from_points_refused(void) {
    double x[6] = {1, 2, 3, 4, 5, 6}, bent[6] = {0, 1, 4, 9, 16, 25}, still[6] = {5, 5, 5, 5, 5, 5}, gap[6] = {1, NAN, 3, 4, 5, 6};
    double many[30], square[30], knots[2 * ELB_MOST_JOINT_KNOTS] = {7};
    elb_joint_config config = example_config(), before = config, old = config;
    elb_feedback_values values = {-1, -1, {-1, -1}, 0, 0, 0, 0};
    elb_error error;
    size_t i;
    for (i = 0; i < 30; i++) {
        many[i] = 100 + 20 * (double)i;
        square[i] = 0.1 * (double)(i * i);
    }
#define FIT(reading, angle, n, most, lower, upper, config, room) \
    elb_fit_feedback(reading, angle, n, most, lower, upper, config, knots, room, &values, &error)
    SAYS(ELB_STATUS_TOO_FEW_READINGS, FIT(x, bent, 4, 7, 0, 20, &config, 23), error, "4 readings");
    SAYS(ELB_STATUS_NOT_FINITE, FIT(gap, x, 6, 7, 0, 20, &config, 23), error, "reading at index 1");
    SAYS(ELB_STATUS_NOT_FINITE, FIT(x, gap, 6, 7, 0, 20, &config, 23), error, "angle at index 1");
    SAYS(ELB_STATUS_NO_MOTION, FIT(still, x, 6, 7, 0, 20, &config, 23), error, "does not follow it");
    SAYS(ELB_STATUS_OPTION_OUTSIDE, FIT(x, bent, 6, 1, 0, 20, &config, 23), error, "most_knots");
    SAYS(ELB_STATUS_OPTION_OUTSIDE, FIT(x, bent, 6, 7, 20, 0, &config, 23), error, "angle upper");
    SAYS(ELB_STATUS_NO_ROOM, FIT(many, square, 30, 12, 0, 80, &config, 1), error, "knots");
    old.size = offsetof(elb_joint_config, feedback);
    SAYS(ELB_STATUS_BAD_SIZE, FIT(many, square, 30, 12, 0, 80, &old, 23), error, "size");
    EXPECT(ELB_STATUS_NULL_POINTER, FIT(NULL, x, 6, 7, 0, 20, &config, 23));
    EXPECT(ELB_STATUS_NULL_POINTER, FIT(x, NULL, 6, 7, 0, 20, &config, 23));
    EXPECT(ELB_STATUS_NULL_POINTER, FIT(x, bent, 6, 7, 0, 20, NULL, 23));
    EXPECT(ELB_STATUS_TOO_FEW_READINGS, FIT(NULL, NULL, 0, 7, 0, 20, &config, 23));
#undef FIT
    EXPECT(ELB_STATUS_NULL_POINTER, elb_fit_feedback(x, bent, 6, 7, 0, 20, &config, NULL, 23, &values, &error));
    CHECK(values.residual_sd == -1 && knots[0] == 7 && memcmp(&config, &before, sizeof config) == 0);
    /* A straight map needs no room. */
    OK(elb_fit_feedback(x, x, 6, 7, 1, 6, &config, NULL, 0, NULL, &error));
    CHECK(config.feedback.knots == NULL && config.feedback.n_knots == 0);
    /* Nobody needs the values or the error. */
    OK(elb_fit_feedback(many, square, 30, 12, 0, 80, &config, knots, ELB_MOST_JOINT_KNOTS, NULL, NULL));
}

/* Tables that are wrong as a whole: an end that stays level, a sensor set again half-way, one wrong row of five. */
static void from_points_warned(void) {
    double reading[20], angle[20];
    const double few[5] = {200, 270, 380, 410, 480};
    elb_joint_config config = example_config();
    elb_feedback_values values = {0};
    elb_error error;
    size_t i;
    for (i = 0; i < 20; i++) {
        angle[i] = 10 * (double)(i % 10);
        reading[i] = 200 + 7 * angle[i] < 690 ? 200 + 7 * angle[i] : 690;
    }
    OK(elb_fit_feedback(reading, angle, 10, 2, 0, 60, &config, NULL, 0, &values, &error));
    CHECK(values.warnings == ELB_FEEDBACK_LEVEL && values.n_left_out == 3 && values.reserved == 0);
    for (i = 0; i < 20; i++) reading[i] = 200 + 7 * angle[i] + (i < 10 ? 0 : 35);
    OK(elb_fit_feedback(reading, angle, 20, 2, 0, 60, &config, NULL, 0, &values, &error));
    CHECK(values.warnings == ELB_FEEDBACK_DISPLACED && values.n_left_out == 0);
    OK(elb_fit_feedback(few, angle, 5, 2, 0, 40, &config, NULL, 0, &values, &error));
    CHECK(values.warnings == ELB_FEEDBACK_SCATTER_WIDE);
}

void test_feedback(void) {
    static const double knots[] = {212, -40, 500, 5, 871, 60};
    elb_joint_config config = example_config(), back;
    elb_joint *joint = NULL, *without = example_joint();
    elb_error error;
    double value = -1;
    double copied[6];
    size_t n = 9;
    uint32_t state = 99, lower = 98, upper = 97;

    OK(elb_joint_has_feedback(without, &state));
    CHECK(state == 0);
    state = 99;
    TEXT_SAYS(ELB_STATUS_NO_FEEDBACK, elb_joint_angle_from_reading(without, 500, &value), "no feedback map");
    EXPECT(ELB_STATUS_NO_FEEDBACK, elb_joint_command_from_reading(without, 500, &value));
    EXPECT(ELB_STATUS_NO_FEEDBACK, elb_joint_reading_from_command(without, 10, &value));
    EXPECT(ELB_STATUS_NO_FEEDBACK, elb_joint_reading_at_supply(without, 500, 5, &value));
    EXPECT(ELB_STATUS_NO_FEEDBACK, elb_joint_reading_state(without, 500, &state));
    EXPECT(ELB_STATUS_NO_FEEDBACK, elb_joint_angle_per_reading(without, 500, &value));
    EXPECT(ELB_STATUS_NO_FEEDBACK, elb_joint_detects_wire_faults(without, &lower, &upper));
    CHECK(value == -1 && state == 99 && lower == 98 && upper == 97);
    elb_joint_free(without);

    config.feedback.reading[0] = 212;
    config.feedback.reading[1] = 871;
    config.feedback.angle[0] = -40, config.feedback.angle[1] = 60;
    config.feedback.adc_bits = 10;
    OK(elb_joint_new(&config, &joint, &error));
    OK(elb_joint_has_feedback(joint, &state));
    CHECK(state == 1);
    OK(elb_joint_angle_from_reading(joint, 541.5, &value));
    CHECK(value == 10);
    OK(elb_joint_command_from_reading(joint, 541.5, &value));
    CHECK(value == 10);
    OK(elb_joint_reading_from_command(joint, 10, &value));
    CHECK(value == 541.5);
    OK(elb_joint_angle_from_reading(joint, NAN, &value));
    CHECK(isnan(value));
    /* A ratiometric sensor reads the same at every supply. */
    OK(elb_joint_reading_at_supply(joint, 400, 4, &value));
    CHECK(value == 400);
    OK(elb_joint_reading_state(joint, 500, &state));
    CHECK(state == ELB_READING_INSIDE);
    OK(elb_joint_reading_state(joint, 900, &state));
    CHECK(state == ELB_READING_OUTSIDE);
    OK(elb_joint_reading_state(joint, 1, &state));
    CHECK(state == ELB_READING_LOWER_RAIL);
    OK(elb_joint_reading_state(joint, 1022, &state));
    CHECK(state == ELB_READING_UPPER_RAIL);
    OK(elb_joint_reading_state(joint, NAN, &state));
    CHECK(state == ELB_READING_IMPOSSIBLE);
    OK(elb_joint_angle_per_reading(joint, 500, &value));
    CHECK(value == 100.0 / 659);
    OK(elb_joint_angle_per_reading(joint, NAN, &value));
    CHECK(isnan(value));
    OK(elb_joint_detects_wire_faults(joint, &lower, &upper));
    CHECK(lower == 1 && upper == 1);
    EXPECT(ELB_STATUS_NULL_POINTER, elb_joint_angle_from_reading(NULL, 1, &value));
    EXPECT(ELB_STATUS_NULL_POINTER, elb_joint_angle_from_reading(joint, 1, NULL));
    EXPECT(ELB_STATUS_NULL_POINTER, elb_joint_command_from_reading(NULL, 1, &value));
    EXPECT(ELB_STATUS_NULL_POINTER, elb_joint_command_from_reading(joint, 1, NULL));
    EXPECT(ELB_STATUS_NULL_POINTER, elb_joint_reading_from_command(NULL, 1, &value));
    EXPECT(ELB_STATUS_NULL_POINTER, elb_joint_reading_from_command(joint, 1, NULL));
    EXPECT(ELB_STATUS_NULL_POINTER, elb_joint_reading_at_supply(NULL, 1, 5, &value));
    EXPECT(ELB_STATUS_NULL_POINTER, elb_joint_reading_at_supply(joint, 1, 5, NULL));
    EXPECT(ELB_STATUS_NULL_POINTER, elb_joint_reading_state(NULL, 1, &state));
    EXPECT(ELB_STATUS_NULL_POINTER, elb_joint_reading_state(joint, 1, NULL));
    elb_joint_free(joint);

    /* A rail is the outermost 1/256, of which a map must keep clear. */
    config.feedback.reading[0] = 3;
    config.feedback.inverted = 1;
    OK(elb_joint_new(&config, &joint, &error));
    OK(elb_joint_detects_wire_faults(joint, &lower, &upper));
    CHECK(lower == 0 && upper == 1);
    OK(elb_joint_reading_state(joint, 3, &state));
    CHECK(state == ELB_READING_INSIDE);
    OK(elb_joint_angle_per_reading(joint, 500, &value));
    CHECK(value == -100.0 / 868);
    elb_joint_free(joint);
    config.feedback.reading[0] = 212;
    config.feedback.inverted = 0;

    config.feedback.knots = knots;
    config.feedback.n_knots = 3;
    config.feedback.supply_v = 5;
    OK(elb_joint_new(&config, &joint, &error));
    OK(elb_joint_config_of(joint, &back, sizeof back));
    CHECK(back.feedback.n_knots == 3 && back.feedback.knots == NULL);
    OK(elb_joint_feedback_knots(joint, copied, 3, &n));
    CHECK(n == 3 && memcmp(copied, knots, sizeof knots) == 0);
    EXPECT(ELB_STATUS_NO_ROOM, elb_joint_feedback_knots(joint, copied, 2, &n));
    OK(elb_joint_knots(joint, copied, 3, &n));
    CHECK(n == 0 && memcmp(copied, knots, sizeof knots) == 0);
    CHECK(back.feedback.reading[1] == 871 && back.feedback.angle[1] == 60 && back.feedback.adc_bits == 10);
    OK(elb_joint_reading_at_supply(joint, 400, 4, &value));
    CHECK(value == 500);
    /* Beyond its end a curve goes on as its outermost piece is on average: 55 deg in 371 readings. */
    OK(elb_joint_angle_per_reading(joint, 900, &value));
    CHECK(fabs(value - 55.0 / 371) < 1e-15);
    OK(elb_joint_reading_at_supply(joint, NAN, 4.8, &value));
    CHECK(isnan(value));
    OK(elb_joint_reading_at_supply(joint, 480, 0, &value));
    CHECK(isinf(value));
    CHECK(back.feedback.supply_v == 5 && back.feedback.pot_ohm == 0 && back.feedback.inverted == 0);
    elb_joint_free(joint);

    config.feedback.inverted = 2;
    EXPECT(ELB_STATUS_UNKNOWN_VALUE, elb_joint_new(&config, &joint, &error));
    config.feedback.inverted = 0;
    config.feedback.adc_bits = 300;
    EXPECT(ELB_STATUS_UNKNOWN_VALUE, elb_joint_new(&config, &joint, &error));
    config.feedback.adc_bits = 99;
    SAYS(ELB_STATUS_FEEDBACK_INVALID, elb_joint_new(&config, &joint, &error), error, "feedback");
    config.feedback.adc_bits = 10;
    config.feedback.knots = NULL;
    EXPECT(ELB_STATUS_NULL_POINTER, elb_joint_new(&config, &joint, &error));
    from_points(0, 0);
    from_points(0, 1);
    from_points(10.0 / 15, 0);
    from_points(10.0 / 15, 1);
    from_points_refused();
    from_points_warned();
}
