/* Positioning of one axis, with a case small enough to be computed by hand. */
#include "check.h"
#include <math.h>
#include <stdlib.h>

static int near(double got, double wanted) { return fabs(got - wanted) < 1e-12; }

void test_positioning(void) {
    const double targets[] = {0, 10};
    const int8_t approach[] = {ELB_APPROACH_BELOW, ELB_APPROACH_BELOW, ELB_APPROACH_ABOVE, ELB_APPROACH_ABOVE};
    const int8_t unknown[] = {ELB_APPROACH_BELOW, ELB_APPROACH_UNKNOWN};
    /* Deviations from below 0 and 2 at both targets, from above -1 and -1. */
    const double positions[] = {0, 10, 2, 12, -1, 9, -1, 9};
    const double bad[] = {0, 10, NAN, 12, -1, 9, -1, 9};
    elb_positioning *found = NULL;
    elb_positioning_axis axis;
    elb_positioning_target target;
    elb_error error;
    const double s = sqrt(2.0);

    OK(elb_positioning_new(targets, 2, approach, 4, positions, &found, &error));
    OK(elb_positioning_target_at(found, 1, &target));
    CHECK(target.target == 10 && target.up.n == 2 && target.down.n == 2);
    CHECK(near(target.up.mean, 1) && near(target.up.s, s) && near(target.up.repeatability, 4 * s));
    CHECK(near(target.up.pose_half_width, 3 * s) && near(target.down.mean, -1) && target.down.s == 0);
    CHECK(near(target.mean, 0) && near(target.reversal, 2));
    /* The largest of 2 s + 2 s + |B|, R up, R down. */
    CHECK(near(target.repeatability, 4 * s > 2 * s + 2 ? 4 * s : 2 * s + 2));
    OK(elb_positioning_axis_of(found, &axis));
    CHECK(near(axis.up[0], 4 * s) && near(axis.up[1], 0));
    CHECK(near(axis.reversal, 2) && near(axis.mean_reversal, 2) && near(axis.systematic, 2));
    CHECK(near(axis.mean_deviation, 0) && near(axis.accuracy, 1 + 2 * s - fmin(1 - 2 * s, -1)));
    EXPECT(ELB_STATUS_ABSENT, elb_positioning_target_at(found, 2, &target));
    EXPECT(ELB_STATUS_NULL_POINTER, elb_positioning_target_at(NULL, 0, &target));
    EXPECT(ELB_STATUS_NULL_POINTER, elb_positioning_target_at(found, 0, NULL));
    EXPECT(ELB_STATUS_NULL_POINTER, elb_positioning_axis_of(NULL, &axis));
    EXPECT(ELB_STATUS_NULL_POINTER, elb_positioning_axis_of(found, NULL));
    elb_positioning_free(found);
    elb_positioning_free(NULL);

    OK(elb_positioning_new(targets, 2, approach, 2, positions, &found, NULL));
    OK(elb_positioning_axis_of(found, &axis));
    CHECK(axis.up[0] >= 0 && isnan(axis.down[0]) && isnan(axis.accuracy) && isnan(axis.reversal));
    OK(elb_positioning_target_at(found, 0, &target));
    CHECK(target.up.n == 2 && target.down.n == 0 && isnan(target.down.mean) && isnan(target.mean));
    elb_positioning_free(found);

    found = NULL;
    EXPECT(ELB_STATUS_NULL_POINTER, elb_positioning_new(NULL, 2, approach, 4, positions, &found, &error));
    EXPECT(ELB_STATUS_NULL_POINTER, elb_positioning_new(targets, 2, NULL, 4, positions, &found, &error));
    EXPECT(ELB_STATUS_NULL_POINTER, elb_positioning_new(targets, 2, approach, 4, NULL, &found, &error));
    EXPECT(ELB_STATUS_NULL_POINTER, elb_positioning_new(targets, 2, approach, 4, positions, NULL, &error));
    EXPECT(ELB_STATUS_TOO_FEW_READINGS, elb_positioning_new(NULL, 0, NULL, 0, NULL, &found, &error));
    EXPECT(ELB_STATUS_TOO_FEW_READINGS, elb_positioning_new(targets, 2, approach, 1, positions, &found, &error));
    EXPECT(ELB_STATUS_NOT_FINITE, elb_positioning_new(targets, 2, approach, 4, bad, &found, &error));
    SAYS(ELB_STATUS_APPROACH_UNKNOWN, elb_positioning_new(targets, 2, unknown, 2, positions, &found, &error), error, "run 1 has no approach");
    CHECK(error.index == 1);
    EXPECT(ELB_STATUS_BAD_SIZE, elb_positioning_new(targets, SIZE_MAX / 2, approach, 4, positions, &found, &error));
    EXPECT(ELB_STATUS_BAD_SIZE, elb_positioning_new(targets, 2, approach, SIZE_MAX / 16, positions, &found, &error));
    CHECK(found == NULL);
}
