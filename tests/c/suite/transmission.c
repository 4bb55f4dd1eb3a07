/* Curves and linkages: made, read back, refused. */
#include "check.h"
#include <math.h>
#include <stdlib.h>

static elb_joint_config knee(uint32_t transmission) {
    elb_joint_config config = example_config();
    config.command[0] = 0;
    config.command[1] = 60;
    config.rest = 30;
    config.transmission.kind = transmission;
    return config;
}

/* Ends exact, monotone, and the record comes back as it was given. */
static void behaves(const elb_joint_config *config) {
    elb_joint *joint = NULL, *again = NULL;
    elb_joint_config back;
    elb_conversion conversion;
    elb_error error;
    double before = -1, command, lower = 0, upper = 0, copied[6];
    size_t n = 9;
    int i;
    error.message[0] = 0;
    OK(elb_joint_new(config, &joint, &error));
    if (joint == NULL) {
        printf("%s\n", error.message);
        return;
    }
    OK(elb_joint_drive(joint, config->command[0], &conversion));
    CHECK(conversion.value == 37);
    OK(elb_joint_valid_range(joint, &lower, &upper));
    CHECK(lower <= config->command[0] && upper >= config->command[1]);
    /* A curve says nothing beyond its knots; a triangle's dead centres are where its sides lie in one line. */
    if (config->transmission.kind == ELB_TRANSMISSION_CURVE)
        CHECK(lower == config->command[0] && upper == config->command[1]);
    if (config->transmission.kind == ELB_TRANSMISSION_TRIANGLE)
        CHECK(lower == -config->transmission.dimensions[2] && upper == 180 - config->transmission.dimensions[2]);
    OK(elb_joint_drive(joint, config->command[1], &conversion));
    CHECK(conversion.value == 122);
    for (i = 0; i <= 60; i++) {
        OK(elb_joint_drive(joint, i, &conversion));
        CHECK(conversion.value > before);
        before = conversion.value;
        OK(elb_joint_command_from_drive(joint, conversion.value, &command));
        CHECK(fabs(command - i) < 1e-9);
    }
    OK(elb_joint_config_of(joint, &back, sizeof back));
    CHECK(back.transmission.kind == config->transmission.kind && back.transmission.n_knots == config->transmission.n_knots && back.transmission.branch == config->transmission.branch);
    CHECK(back.transmission.slopes == config->transmission.slopes && memcmp(back.transmission.dimensions, config->transmission.dimensions, sizeof back.transmission.dimensions) == 0);
    /* Knots are copied, never pointed to. */
    CHECK(back.transmission.knots == NULL);
    OK(elb_joint_knots(joint, NULL, 0, &n));
    CHECK(n == config->transmission.n_knots && n <= 3);
    OK(elb_joint_knots(joint, copied, 3, &n));
    if (n > 0) {
        CHECK(memcmp(copied, config->transmission.knots, n * 2 * sizeof(double)) == 0);
        copied[0] = 7;
        n = 0;
        TEXT_SAYS(ELB_STATUS_NO_ROOM, elb_joint_knots(joint, copied, 2, &n), "too little room");
        CHECK(copied[0] == 7 && n == 3);
        SAYS(ELB_STATUS_NULL_POINTER, elb_joint_new(&back, &again, &error), error, "config.transmission.knots is NULL");
        OK(elb_joint_knots(joint, copied, 3, NULL));
        back.transmission.knots = copied;
    }
    elb_joint_free(joint);
    OK(elb_joint_new(&back, &again, NULL));
    elb_joint_free(again);
}

void test_transmission(void) {
    static const double knots[] = {0, 37, 20, 70, 60, 122};
    static const double swapped[] = {0, 37, 20, 130, 60, 122};
    elb_joint_config config = knee(ELB_TRANSMISSION_CURVE);
    elb_joint *joint = NULL;
    elb_error error;

    config.transmission.knots = knots;
    config.transmission.n_knots = 3;
    behaves(&config);
    config.transmission.slopes = ELB_SLOPES_MEAN_CHORD;
    behaves(&config);
    config.transmission.slopes = ELB_SLOPES_HARMONIC_CHORD;
    behaves(&config);
    config.transmission.slopes = 3;
    EXPECT(ELB_STATUS_UNKNOWN_VALUE, elb_joint_new(&config, &joint, &error));
    config.transmission.slopes = ELB_SLOPES_PARABOLA;
    config.transmission.knots = swapped;
    CHECK(elb_joint_new(&config, &joint, &error) != ELB_STATUS_OK && strstr(error.message, "transmission") != NULL);
    config.transmission.knots = NULL;
    EXPECT(ELB_STATUS_NULL_POINTER, elb_joint_new(&config, &joint, &error));
    config.transmission.n_knots = SIZE_MAX;
    config.transmission.knots = knots;
    EXPECT(ELB_STATUS_BAD_SIZE, elb_joint_new(&config, &joint, &error));

    config = knee(ELB_TRANSMISSION_TRIANGLE);
    config.transmission.dimensions[0] = 40;
    config.transmission.dimensions[1] = 92;
    config.transmission.dimensions[2] = 31;
    behaves(&config);
    config.transmission.dimensions[0] = -40;
    CHECK(elb_joint_new(&config, &joint, &error) != ELB_STATUS_OK);

    config = knee(ELB_TRANSMISSION_SLIDER_CRANK);
    config.transmission.dimensions[0] = 20;
    config.transmission.dimensions[1] = 60;
    config.transmission.dimensions[2] = 0;
    config.transmission.dimensions[3] = 50;
    config.command[1] = 20;
    config.rest = 10;
    config.command[0] = 0;
    EXPECT(ELB_STATUS_OK, elb_joint_new(&config, &joint, &error));
    elb_joint_free(joint);
    config.transmission.branch = 2;
    EXPECT(ELB_STATUS_UNKNOWN_VALUE, elb_joint_new(&config, &joint, &error));
    CHECK(strstr(error.message, "branch is 2") != NULL);

    config = knee(ELB_TRANSMISSION_FOUR_BAR);
    config.transmission.dimensions[0] = 20;
    config.transmission.dimensions[1] = 50;
    config.transmission.dimensions[2] = 25;
    config.transmission.dimensions[3] = 50;
    config.transmission.dimensions[4] = 60;
    config.transmission.branch = ELB_BRANCH_RIGHT;
    behaves(&config);

    config = knee(ELB_TRANSMISSION_SPOOL);
    config.transmission.dimensions[0] = 10;
    config.transmission.dimensions[1] = 1;
    config.transmission.dimensions[2] = 15;
    behaves(&config);

    config = knee(6);
    EXPECT(ELB_STATUS_UNKNOWN_VALUE, elb_joint_new(&config, &joint, &error));
    CHECK(strstr(error.message, "kind is 6") != NULL);

}
