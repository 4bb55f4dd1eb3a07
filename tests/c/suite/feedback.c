/* What the sensor says: readings, angles, commands, rails. */
#include "check.h"
#include <math.h>

void test_feedback(void) {
    static const double knots[] = {212, 0, 500, 40, 871, 95};
    elb_joint_config config = example_config(), back;
    elb_joint *joint = NULL, *without = example_joint();
    elb_error error;
    double value = -1;
    uint32_t state = 99, lower = 98, upper = 97;

    TEXT_SAYS(ELB_STATUS_NO_FEEDBACK, elb_joint_angle_from_reading(without, 500, &value), "no feedback map");
    EXPECT(ELB_STATUS_NO_FEEDBACK, elb_joint_command_from_reading(without, 500, &value));
    EXPECT(ELB_STATUS_NO_FEEDBACK, elb_joint_reading_from_command(without, 90, &value));
    EXPECT(ELB_STATUS_NO_FEEDBACK, elb_joint_reading_at_supply(without, 500, 5, &value));
    EXPECT(ELB_STATUS_NO_FEEDBACK, elb_joint_reading_state(without, 500, &state));
    EXPECT(ELB_STATUS_NO_FEEDBACK, elb_joint_angle_per_reading(without, 500, &value));
    EXPECT(ELB_STATUS_NO_FEEDBACK, elb_joint_sees_rails(without, &lower, &upper));
    CHECK(value == -1 && state == 99 && lower == 98 && upper == 97);
    elb_joint_free(without);

    config.feedback_reading[0] = 212;
    config.feedback_reading[1] = 871;
    config.feedback_angle[1] = 95;
    config.feedback_adc_bits = 10;
    OK(elb_joint_new(&config, &joint, &error));
    OK(elb_joint_angle_from_reading(joint, 541.5, &value));
    CHECK(value == 47.5);
    OK(elb_joint_command_from_reading(joint, 541.5, &value));
    CHECK(value == 90);
    OK(elb_joint_reading_from_command(joint, 90, &value));
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
    CHECK(value == 95.0 / 659);
    OK(elb_joint_angle_per_reading(joint, NAN, &value));
    CHECK(isnan(value));
    OK(elb_joint_sees_rails(joint, &lower, &upper));
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
    config.feedback_reading[0] = 3;
    config.feedback_inverted = 1;
    OK(elb_joint_new(&config, &joint, &error));
    OK(elb_joint_sees_rails(joint, &lower, &upper));
    CHECK(lower == 0 && upper == 1);
    OK(elb_joint_reading_state(joint, 3, &state));
    CHECK(state == ELB_READING_INSIDE);
    OK(elb_joint_angle_per_reading(joint, 500, &value));
    CHECK(value == -95.0 / 868);
    elb_joint_free(joint);
    config.feedback_reading[0] = 212;
    config.feedback_inverted = 0;

    config.feedback_knots = knots;
    config.feedback_n_knots = 3;
    config.feedback_supply_v = 5;
    OK(elb_joint_new(&config, &joint, &error));
    OK(elb_joint_config_of(joint, &back, sizeof back));
    CHECK(back.feedback_n_knots == 3 && memcmp(back.feedback_knots, knots, sizeof knots) == 0);
    CHECK(back.feedback_reading[1] == 871 && back.feedback_angle[1] == 95 && back.feedback_adc_bits == 10);
    OK(elb_joint_reading_at_supply(joint, 400, 4, &value));
    CHECK(value == 500);
    /* Beyond its end a curve goes on as its outermost piece is on average: 55 deg in 371 readings. */
    OK(elb_joint_angle_per_reading(joint, 900, &value));
    CHECK(fabs(value - 55.0 / 371) < 1e-15);
    OK(elb_joint_reading_at_supply(joint, NAN, 4.8, &value));
    CHECK(isnan(value));
    OK(elb_joint_reading_at_supply(joint, 480, 0, &value));
    CHECK(isinf(value));
    CHECK(back.feedback_supply_v == 5 && back.feedback_pot_ohm == 0 && back.feedback_inverted == 0);
    elb_joint_free(joint);

    config.feedback_inverted = 2;
    EXPECT(ELB_STATUS_UNKNOWN_VALUE, elb_joint_new(&config, &joint, &error));
    config.feedback_inverted = 0;
    config.feedback_adc_bits = 300;
    EXPECT(ELB_STATUS_UNKNOWN_VALUE, elb_joint_new(&config, &joint, &error));
    config.feedback_adc_bits = 99;
    SAYS(ELB_STATUS_FEEDBACK_UNFIT, elb_joint_new(&config, &joint, &error), error, "feedback");
    config.feedback_adc_bits = 10;
    config.feedback_knots = NULL;
    EXPECT(ELB_STATUS_NULL_POINTER, elb_joint_new(&config, &joint, &error));
}
