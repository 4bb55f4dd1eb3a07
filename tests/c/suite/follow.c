/* Whether a joint follows: the core's own example, what stays as it was, and every refusal. */
#include "check.h"

static elb_joint *sensed(void) {
    elb_joint_config config = example_config();
    elb_joint *joint = NULL;
    config.feedback.reading[0] = 212, config.feedback.reading[1] = 871;
    config.feedback.angle[0] = -40, config.feedback.angle[1] = 60;
    config.feedback.adc_bits = 10;
    config.max_rate_per_s = 60;
    OK(elb_joint_new(&config, &joint, NULL));
    return joint;
}

/* The doc example of the core's FollowCheck: a wing that something holds at 30 deg, in cycle 18. */
static void held(const elb_joint *wing) {
    elb_ramp *ramp = NULL;
    elb_follow_check *check = NULL;
    elb_following tick = {7, 7, 7, 7};
    double command = 0, position = 10, reading = 0;
    int cycle, found_at = -1;
    OK(elb_ramp_of_joint(wing, 10, 0, 0, 50, &ramp, NULL));
    OK(elb_follow_check_new(10, 2, 4, 5, &check, NULL));
    for (cycle = 0; cycle < 100; cycle++) {
        OK(elb_ramp_follow(ramp, 50, &command));
        position += (command - position) / 3;
        if (position > 30) position = 30;
        OK(elb_joint_reading_from_command(wing, position, &reading));
        OK(elb_follow_check_tick_reading(check, wing, command, floor(reading + 0.5), &tick));
        CHECK(fabs(tick.measured - position) < 0.08 && tick.fault == 0);
        if (cycle == 10) CHECK(tick.state == ELB_FOLLOW_LAGS && tick.beyond == 0);
        if (tick.state == ELB_FOLLOW_DOES_NOT_FOLLOW && found_at < 0) found_at = cycle;
    }
    CHECK(found_at == 27 && tick.beyond < -10);
    /* Readings at the rails and impossible ones are not positions. */
    OK(elb_follow_check_tick_reading(check, wing, 50, 0, &tick));
    CHECK(tick.state == ELB_FOLLOW_SENSOR_FAULT && tick.fault == ELB_READING_LOWER_RAIL && isnan(tick.measured) && tick.beyond == 0);
    OK(elb_follow_check_tick_reading(check, wing, 50, 1023, &tick));
    CHECK(tick.state == ELB_FOLLOW_SENSOR_FAULT && tick.fault == ELB_READING_UPPER_RAIL);
    OK(elb_follow_check_tick_reading(check, wing, 50, NAN, &tick));
    CHECK(tick.state == ELB_FOLLOW_SENSOR_FAULT && tick.fault == ELB_READING_IMPOSSIBLE);
    /* Out of reach: held to 60. */
    OK(elb_follow_check_reset(check, 60));
    OK(elb_follow_check_tick_reading(check, wing, 500, 871, &tick));
    CHECK(tick.state == ELB_FOLLOW_FOLLOWS && tick.measured == 60 && tick.beyond == 0 && tick.fault == 0);
    elb_follow_check_free(check);
    elb_ramp_free(ramp);
}

void test_follow(void) {
    elb_joint *wing = sensed(), *without = example_joint();
    elb_follow_check *check = NULL, *none = NULL;
    elb_following tick = {7, 7, 7, 7};
    elb_error error;
    double lower = 7, upper = 7;

    held(wing);
    CHECK(strcmp(elb_follow_name(ELB_FOLLOW_DOES_NOT_FOLLOW), "does-not-follow") == 0);
    CHECK(strcmp(elb_follow_name(4), "other") == 0);

    OK(elb_follow_check_new(0, 1, 0, 2, &check, &error));
    OK(elb_follow_check_tick(check, 10, 12, &tick));
    CHECK(tick.state == ELB_FOLLOW_LAGS && tick.measured == 12 && tick.beyond == 1 && tick.fault == 0);
    OK(elb_follow_check_tick(check, 10, 7, &tick));
    CHECK(tick.state == ELB_FOLLOW_LAGS && tick.beyond == -2);
    OK(elb_follow_check_tick(check, 10, INFINITY, &tick));
    CHECK(tick.state == ELB_FOLLOW_SENSOR_FAULT && tick.fault == ELB_READING_IMPOSSIBLE && isnan(tick.measured) && tick.beyond == 0);

    /* What is refused changes neither the check nor the result: the cycles outside go on from two. */
    tick.state = 7;
    TEXT_SAYS(ELB_STATUS_NOT_FINITE, elb_follow_check_tick(check, NAN, 10, &tick), "NaN or infinite");
    EXPECT(ELB_STATUS_NOT_FINITE, elb_follow_check_tick_reading(check, wing, INFINITY, 500, &tick));
    EXPECT(ELB_STATUS_NO_FEEDBACK, elb_follow_check_tick_reading(check, without, 10, 500, &tick));
    EXPECT(ELB_STATUS_NOT_FINITE, elb_follow_check_reset(check, NAN));
    EXPECT(ELB_STATUS_NULL_POINTER, elb_follow_check_tick(NULL, 10, 10, &tick));
    EXPECT(ELB_STATUS_NULL_POINTER, elb_follow_check_tick(check, 10, 10, NULL));
    EXPECT(ELB_STATUS_NULL_POINTER, elb_follow_check_tick_reading(NULL, wing, 10, 500, &tick));
    EXPECT(ELB_STATUS_NULL_POINTER, elb_follow_check_tick_reading(check, NULL, 10, 500, &tick));
    EXPECT(ELB_STATUS_NULL_POINTER, elb_follow_check_tick_reading(check, wing, 10, 500, NULL));
    EXPECT(ELB_STATUS_NULL_POINTER, elb_follow_check_reset(NULL, 10));
    CHECK(tick.state == 7);
    OK(elb_follow_check_tick(check, 10, 12, &tick));
    CHECK(tick.state == ELB_FOLLOW_DOES_NOT_FOLLOW && tick.beyond == 1);
    OK(elb_follow_check_reset(check, 3));
    OK(elb_follow_check_expected(check, &lower, &upper));
    CHECK(lower == 3 && upper == 3);
    EXPECT(ELB_STATUS_NULL_POINTER, elb_follow_check_expected(NULL, &lower, &upper));
    EXPECT(ELB_STATUS_NULL_POINTER, elb_follow_check_expected(check, NULL, &upper));
    EXPECT(ELB_STATUS_NULL_POINTER, elb_follow_check_expected(check, &lower, NULL));
    OK(elb_follow_check_tick(check, 3, 3.5, &tick));
    CHECK(tick.state == ELB_FOLLOW_FOLLOWS && tick.measured == 3.5 && tick.beyond == 0);
    elb_follow_check_free(check);
    elb_follow_check_free(NULL);

    SAYS(ELB_STATUS_NOT_POSITIVE, elb_follow_check_new(0, 0, 1, 1, &none, &error), error, "tolerance is 0; it must be above zero");
    SAYS(ELB_STATUS_OPTION_OUTSIDE, elb_follow_check_new(0, 1, -1, 1, &none, &error), error, "lag_cycles is -1");
    SAYS(ELB_STATUS_NOT_FINITE, elb_follow_check_new(NAN, 1, 1, 1, &none, &error), error, "start is not a number");
    EXPECT(ELB_STATUS_NOT_FINITE, elb_follow_check_new(0, 1, INFINITY, 1, &none, NULL));
    SAYS(ELB_STATUS_NULL_POINTER, elb_follow_check_new(0, 1, 1, 1, NULL, &error), error, "out");
    CHECK(none == NULL);
    elb_joint_free(wing);
    elb_joint_free(without);
}
