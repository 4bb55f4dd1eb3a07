/* Soft start and rate limit: the steps of the core's own example, its promises, and every refusal. */
#include "check.h"

static double followed(elb_ramp *ramp, double target) {
    double value = NAN;
    OK(elb_ramp_follow(ramp, target, &value));
    return value;
}

/* Up and back down: no step too long, no change of step too large, exactly there, nowhere beyond. */
static void promises(elb_ramp *ramp, double start, double most_step, double most_change) {
    /* Roundings of the sums of angles below 360. */
    const double slack = 1e-11;
    static const double targets[] = {90, -3.7, 12.25, 179.9};
    double before = start, pace = 0, low = start, high = start, value = 0;
    uint32_t rests = 7;
    size_t k;
    int i;
    for (k = 0; k < 4; k++) {
        if (targets[k] < low) low = targets[k];
        if (targets[k] > high) high = targets[k];
        /* The third target comes while the value still moves. */
        for (i = 0; i < (k == 1 ? 20 : 400); i++) {
            const double now = followed(ramp, targets[k]), step = now - before;
            CHECK(fabs(step) <= most_step + slack && now >= low - slack && now <= high + slack);
            CHECK(most_change == 0 || fabs(step - pace) <= most_change + slack);
            before = now, pace = step;
        }
        OK(elb_ramp_rests_at(ramp, targets[k], &rests));
        CHECK(rests == (k == 1 ? 0u : 1u));
    }
    OK(elb_ramp_value(ramp, &value));
    CHECK(value == targets[3]);
    elb_ramp_free(ramp);
}

/* Commands of a joint: half a minute of a target far outside, then one inside; the motor moves in the first cycle. */
static void of_joint(void) {
    elb_joint_config config = example_config();
    elb_joint *joint = NULL, *narrow = NULL, *calm = example_joint();
    elb_ramp *ramp = NULL, *none = NULL;
    elb_error error;
    elb_conversion step = {7, 7, 7}, before, after;
    uint32_t rests = 7;
    double value = 7;
    int i;
    config.travel[0] = 40.2, config.travel[1] = 119;
    config.max_rate_per_s = 60;
    OK(elb_joint_new(&config, &joint, &error));
    OK(elb_ramp_of_joint(joint, 10, 0, 300, 50, &ramp, &error));
    for (i = 0; i < 1500; i++) OK(elb_ramp_step(ramp, 2000, &step));
    CHECK(step.flags == (ELB_CLAMPED_TO_COMMAND | ELB_CLAMPED_TO_TRAVEL) && step.value < 60 && step.reserved == 0);
    OK(elb_ramp_rests_at(ramp, 2000, &rests));
    CHECK(rests == 1);
    OK(elb_joint_drive(joint, step.value, &before));
    CHECK(fabs(before.value - 119) < 1e-9);
    OK(elb_ramp_step(ramp, 0, &step));
    OK(elb_joint_drive(joint, step.value, &after));
    CHECK(step.flags == 0 && after.value < before.value - 0.05);
    OK(elb_ramp_step(ramp, 58, &step));
    CHECK(step.flags == ELB_CLAMPED_TO_TRAVEL);

    /* Taken up again where the joint stands, also outside. */
    OK(elb_ramp_reset(ramp, 70));
    OK(elb_ramp_value(ramp, &value));
    CHECK(value == 70);
    CHECK(fabs(followed(ramp, 80) - 69.88) < 1e-12);
    EXPECT(ELB_STATUS_NOT_FINITE, elb_ramp_reset(ramp, NAN));
    EXPECT(ELB_STATUS_NOT_FINITE, elb_ramp_step(ramp, INFINITY, &step));
    EXPECT(ELB_STATUS_NULL_POINTER, elb_ramp_reset(NULL, 1));
    EXPECT(ELB_STATUS_NULL_POINTER, elb_ramp_step(NULL, 1, &step));
    EXPECT(ELB_STATUS_NULL_POINTER, elb_ramp_step(ramp, 1, NULL));
    OK(elb_ramp_value(ramp, &value));
    CHECK(fabs(value - 69.88) < 1e-12 && step.flags == ELB_CLAMPED_TO_TRAVEL);
    elb_ramp_free(ramp);

    /* A plain ramp can be taken up again as well, and holds nothing back. */
    OK(elb_ramp_new(10, 60, 0, 50, &ramp, NULL));
    OK(elb_ramp_step(ramp, 2000, &step));
    CHECK(step.value == 11.2 && step.flags == 0);
    OK(elb_ramp_reset(ramp, 20));
    CHECK(followed(ramp, 0) == 18.8);
    elb_ramp_free(ramp);

    /* Slower while it moves, then another travel of the same joint; what is refused changes nothing. */
    OK(elb_ramp_of_joint(joint, 10, 60, 300, 50, &ramp, NULL));
    for (i = 0; i < 20; i++) value = followed(ramp, 40);
    OK(elb_ramp_limit(ramp, 30, 300, 50, &error));
    CHECK(fabs(followed(ramp, 40) - value - 1.08) < 1e-12);
    SAYS(ELB_STATUS_NOT_POSITIVE, elb_ramp_limit(ramp, 0, 0, 50, &error), error, "max_rate_per_s is 0; it must be above zero");
    SAYS(ELB_STATUS_NULL_POINTER, elb_ramp_limit(NULL, 30, 0, 50, &error), error, "ramp");
    config.travel[1] = 62.5;
    OK(elb_joint_new(&config, &narrow, &error));
    SAYS(ELB_STATUS_NOT_POSITIVE, elb_ramp_change_joint(ramp, narrow, -1, 0, 50, &error), error, "max_rate_per_s is -1");
    OK(elb_ramp_change_joint(ramp, narrow, 0, 300, 50, &error));
    for (i = 0; i < 400; i++) OK(elb_ramp_step(ramp, 40, &step));
    CHECK(fabs(step.value - -10) < 1e-9 && step.flags == ELB_CLAMPED_TO_TRAVEL);
    SAYS(ELB_STATUS_NULL_POINTER, elb_ramp_change_joint(ramp, NULL, 0, 0, 50, &error), error, "joint");
    SAYS(ELB_STATUS_NULL_POINTER, elb_ramp_change_joint(NULL, joint, 0, 0, 50, &error), error, "ramp");
    elb_ramp_free(ramp);
    OK(elb_ramp_new(10, 60, 0, 50, &ramp, NULL));
    SAYS(ELB_STATUS_ABSENT, elb_ramp_change_joint(ramp, narrow, 0, 0, 50, &error), error, "not made of a joint");
    OK(elb_ramp_limit(ramp, 0.25, 0, 1, NULL));
    CHECK(followed(ramp, 20) == 10.25);
    elb_ramp_free(ramp);
    elb_joint_free(narrow);

    /* No faster than the joint's own rate; one without a rate takes any. */
    SAYS(ELB_STATUS_OPTION_OUTSIDE, elb_ramp_of_joint(joint, 10, 60.5, 0, 50, &none, &error), error,
         "max_rate_per_s is 60.5; it must be at most 60, the joint's own; lower it, or raise the joint's max_rate_per_s");
    OK(elb_ramp_of_joint(joint, 10, 0, 0, 50, &ramp, NULL));
    EXPECT(ELB_STATUS_OPTION_OUTSIDE, elb_ramp_limit(ramp, 61, 0, 50, NULL));
    EXPECT(ELB_STATUS_OPTION_OUTSIDE, elb_ramp_change_joint(ramp, joint, 61, 0, 50, NULL));
    CHECK(followed(ramp, 20) == 11.2);
    elb_ramp_free(ramp);

    SAYS(ELB_STATUS_MISSING_KEY, elb_ramp_of_joint(calm, 10, 0, 0, 50, &none, &error), error,
         "max_rate_per_s is given neither by the joint nor by the call");
    OK(elb_ramp_of_joint(calm, 10, 60, 0, 50, &ramp, NULL));
    CHECK(followed(ramp, 20) == 11.2);
    elb_ramp_free(ramp);
    EXPECT(ELB_STATUS_NOT_POSITIVE, elb_ramp_of_joint(joint, 10, -1, 0, 50, &none, NULL));
    EXPECT(ELB_STATUS_NOT_FINITE, elb_ramp_of_joint(joint, NAN, 0, 0, 50, &none, NULL));
    EXPECT(ELB_STATUS_NULL_POINTER, elb_ramp_of_joint(NULL, 10, 0, 0, 50, &none, NULL));
    EXPECT(ELB_STATUS_NULL_POINTER, elb_ramp_of_joint(joint, 10, 0, 0, 50, NULL, NULL));
    CHECK(none == NULL);
    elb_joint_free(joint);
    elb_joint_free(calm);
}

void test_ramp(void) {
    elb_ramp *ramp = NULL, *other = NULL, *none = NULL;
    elb_error error;
    double value = 7;
    uint32_t rests = 7;
    int i;

    of_joint();
    /* The doc example of the core's Ramp. */
    OK(elb_ramp_per_cycle(40, 2, 0.5, &ramp, NULL));
    CHECK(followed(ramp, 45) == 40.5 && followed(ramp, 45) == 41.5 && followed(ramp, 45) == 43);
    for (i = 0; i < 10; i++) value = followed(ramp, 45);
    CHECK(value == 45);
    OK(elb_ramp_rests_at(ramp, 45, &rests));
    CHECK(rests == 1);

    /* NaN and infinities are refused, and it stays. */
    EXPECT(ELB_STATUS_NOT_FINITE, elb_ramp_follow(ramp, NAN, &value));
    EXPECT(ELB_STATUS_NOT_FINITE, elb_ramp_follow(ramp, -INFINITY, &value));
    CHECK(value == 45);
    OK(elb_ramp_value(ramp, &value));
    CHECK(value == 45);
    EXPECT(ELB_STATUS_NULL_POINTER, elb_ramp_follow(NULL, 1, &value));
    EXPECT(ELB_STATUS_NULL_POINTER, elb_ramp_follow(ramp, 1, NULL));
    EXPECT(ELB_STATUS_NULL_POINTER, elb_ramp_value(NULL, &value));
    EXPECT(ELB_STATUS_NULL_POINTER, elb_ramp_value(ramp, NULL));
    EXPECT(ELB_STATUS_NULL_POINTER, elb_ramp_rests_at(NULL, 1, &rests));
    EXPECT(ELB_STATUS_NULL_POINTER, elb_ramp_rests_at(ramp, 1, NULL));
    CHECK(value == 45);
    elb_ramp_free(ramp);
    elb_ramp_free(NULL);

    /* 60 units a second at 50 Hz: a rate limit of 1.2 a cycle; with 150 units a second squared steps grow by 0.06. */
    OK(elb_ramp_new(10, 60, 0, 50, &ramp, NULL));
    CHECK(followed(ramp, 20) == 11.2);
    elb_ramp_free(ramp);
    OK(elb_ramp_new(10, 60, 150, 50, &ramp, &error));
    CHECK(fabs(followed(ramp, 20) - 10.06) < 1e-12);
    elb_ramp_free(ramp);
    OK(elb_ramp_new(5, 60, 150, 50, &ramp, NULL));
    promises(ramp, 5, 1.2, 0.06);
    OK(elb_ramp_new(5, 60, 0, 50, &ramp, NULL));
    promises(ramp, 5, 1.2, 0);

    EXPECT(ELB_STATUS_NULL_POINTER, elb_ramp_new(0, 60, 0, 50, NULL, &error));
    EXPECT(ELB_STATUS_NULL_POINTER, elb_ramp_per_cycle(0, 1, 0, NULL, &error));
    EXPECT(ELB_STATUS_NOT_FINITE, elb_ramp_new(NAN, 60, 0, 50, &none, &error));
    CHECK(strstr(error.message, "start is not a number") != NULL);
    EXPECT(ELB_STATUS_NOT_POSITIVE, elb_ramp_new(0, -60, 0, 50, &none, &error));
    EXPECT(ELB_STATUS_NOT_POSITIVE, elb_ramp_new(0, 60, -1, 50, &none, &error));
    EXPECT(ELB_STATUS_NOT_POSITIVE, elb_ramp_new(0, 60, 0, 0, &none, &error));
    CHECK(strstr(error.message, "cycles_hz is 0") != NULL);
    EXPECT(ELB_STATUS_OPTION_OUTSIDE, elb_ramp_per_cycle(0, 1, 1e-6, &none, &error));
    CHECK(none == NULL && other == NULL);
}
