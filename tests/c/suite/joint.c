/* Joints: the worked example, reading back, versions of the struct. */
#include "check.h"
#include <math.h>

static void worked_example(void) {
    elb_joint_config config = example_config();
    elb_joint *joint = example_joint(), *inverted = NULL;
    elb_conversion conversion;
    double command = 0, lower = 0;

    OK(elb_joint_drive(joint, 10, &conversion));
    CHECK(conversion.value == 79.5 && conversion.flags == 0 && conversion.reserved == 0);
    OK(elb_joint_pulse_us(joint, 10, &conversion));
    CHECK(conversion.value == 1383.3333333333333);
    OK(elb_joint_counts(joint, 10, &conversion));
    CHECK(conversion.value == 283 && conversion.flags == 0 && conversion.reserved == 0);
    OK(elb_joint_command_from_drive(joint, 79.5, &command));
    CHECK(command == 10);
    OK(elb_joint_drive_per_command(joint, 1e9, &command));
    CHECK(command == 85.0 / 100.0);
    OK(elb_joint_valid_range(joint, &lower, &command));
    CHECK(isinf(lower) && lower < 0 && isinf(command) && command > 0);

    config.inverted = 1;
    OK(elb_joint_new(&config, &inverted, NULL));
    OK(elb_joint_drive(inverted, 10, &conversion));
    CHECK(conversion.value == 79.5);
    OK(elb_joint_drive(inverted, -40, &conversion));
    CHECK(conversion.value == 122);
    elb_joint_free(inverted);
    elb_joint_free(joint);
}

static void clamping_is_reported(void) {
    elb_joint_config config = example_config();
    elb_joint *joint = NULL;
    elb_conversion conversion;
    elb_tally tally;
    const double commands[] = {-41, -40, 10, 60, 61};
    config.travel[0] = 40.2;
    config.travel[1] = 119;
    OK(elb_joint_new(&config, &joint, NULL));
    OK(elb_joint_drive(joint, -40, &conversion));
    CHECK(conversion.value == 40.2 && conversion.flags == ELB_CLAMPED_TO_TRAVEL);
    OK(elb_joint_drive(joint, 500, &conversion));
    CHECK(conversion.value == 119 && conversion.flags == (ELB_CLAMPED_TO_COMMAND | ELB_CLAMPED_TO_TRAVEL));
    OK(elb_joint_counts(joint, 500, &conversion));
    CHECK(conversion.value == 373 && conversion.flags == (ELB_CLAMPED_TO_COMMAND | ELB_CLAMPED_TO_TRAVEL));
    OK(elb_joint_tally(joint, commands, 5, &tally));
    CHECK(tally.clamped_to_command == 2 && tally.clamped_to_travel == 4);
    elb_joint_free(joint);
}

static void reads_back_what_was_given(void) {
    elb_joint_config config = example_config(), back;
    elb_joint *joint = NULL, *copy = NULL;
    uint32_t lowest = 0, highest = 0;
    config.max_rate_per_s = 60;
    config.travel[0] = 40.2;
    config.travel[1] = 119;
    config.inverted = 1;
    OK(elb_joint_new(&config, &joint, NULL));
    OK(elb_joint_clone(joint, &copy));
    elb_joint_free(joint);
    OK(elb_joint_config_of(copy, &back, sizeof back));
    CHECK(memcmp(&config, &back, sizeof back) == 0);
    OK(elb_joint_count_range(copy, &lowest, &highest));
    CHECK(lowest == 194 && highest == 373);
    elb_joint_free(copy);
    elb_joint_free(NULL);
}

/* Programs built with an older or a newer header work with this library. */
static void struct_sizes(void) {
    struct {
        elb_joint_config config;
        double later;
    } newer;
    elb_joint_config config = example_config();
    elb_joint *joint = NULL;
    elb_error error;

    memset(&newer, 0xff, sizeof newer);
    OK(elb_joint_config_init(&newer.config, sizeof newer));
    CHECK(newer.later == 0 && newer.config.size == sizeof newer);
    newer.config = config;
    newer.config.size = sizeof newer;
    OK(elb_joint_new(&newer.config, &joint, NULL));
    elb_joint_free(joint);
    newer.later = 1;
    EXPECT(ELB_STATUS_BAD_SIZE, elb_joint_new(&newer.config, &joint, &error));
    CHECK(strstr(error.message, "newer library") != NULL);

    config.reserved = 7;
    EXPECT(ELB_STATUS_UNKNOWN_VALUE, elb_joint_new(&config, &joint, &error));
    CHECK(strstr(error.message, "config.reserved is 7; it must be 0") != NULL);
    config.reserved = 0;
    config.size = sizeof config - 1;
    EXPECT(ELB_STATUS_BAD_SIZE, elb_joint_new(&config, &joint, &error));
    CHECK(strstr(error.message, "elb_joint_config.size is 287") != NULL);
    config.size = (size_t)-1;
    EXPECT(ELB_STATUS_BAD_SIZE, elb_joint_new(&config, &joint, &error));
    config.size = 0;
    EXPECT(ELB_STATUS_BAD_SIZE, elb_joint_new(&config, &joint, &error));
    EXPECT(ELB_STATUS_BAD_SIZE, elb_joint_config_init(&config, 0));
}

static void versions(void) {
    char text[64];
    snprintf(text, sizeof text, "%d.%d.%d", ELB_VERSION_MAJOR, ELB_VERSION_MINOR, ELB_VERSION_PATCH);
    CHECK(strcmp(text, elb_version()) == 0);
    CHECK(elb_version_number() == ELB_VERSION_NUMBER);
}

void test_joint(void) {
    worked_example();
    clamping_is_reported();
    reads_back_what_was_given();
    struct_sizes();
    versions();
}
