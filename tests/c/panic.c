/* Linked with a library built to fail on demand: whatever call comes next, a panic comes out as a status, and an error of a
 * core newer than its C face as the general one. */
#include "suite/check.h"

int checks_failed = 0;
int checks_made = 0;

void elb_test_panic_next(void);
void elb_test_forget_next(void);

#define FAULT(call)                                  \
    do {                                             \
        elb_test_panic_next();                       \
        EXPECT(ELB_STATUS_INTERNAL_FAULT, call);     \
    } while (0)

int main(void) {
    const double drive[] = {10, 20, 30, 40, 50, 60}, measured[] = {12.1, 21.9, 32.0, 42.2, 51.9, 62.0};
    const int8_t approach[] = {1, 1};
    elb_joint_config config;
    elb_joint *joint = NULL, *none = NULL;
    elb_readings readings;
    elb_fit *fit = NULL;
    elb_curve *curve = NULL;
    elb_linkage *linkage = NULL;
    elb_choice *choice = NULL;
    elb_ramp *ramp = NULL;
    elb_follow_check *check = NULL;
    elb_following tick = {7, 7, 7, 7};
    const elb_mechanism mechanism = {{40, 92, 31, 0, 0}, ELB_TRANSMISSION_TRIANGLE, ELB_BRANCH_LEFT, 0, 0};
    elb_positioning *positioning = NULL;
    elb_robot *robot = NULL;
    elb_error error;
    elb_conversion conversion = {-1, 0, 0};
    uint16_t narrow[6] = {7};
    double value = 7;
    size_t done = 9;

    OK(elb_joint_config_init(&config, sizeof config));
    config.command[0] = -40, config.command[1] = 60;
    config.drive[1] = 122;
    config.servo.pulse_us[0] = 500;
    config.servo.pulse_us[1] = 2500;
    config.timer.counts_per_frame = 4096;
    FAULT(elb_joint_config_init(&config, sizeof config));
    elb_test_panic_next();
    SAYS(ELB_STATUS_INTERNAL_FAULT, elb_joint_new(&config, &none, &error), error,
         "a fault inside the library: injected by a test; please report it");
    /* An error of the core that has no number here yet: it keeps its message. */
    config.rest = 181;
    elb_test_forget_next();
    SAYS(ELB_STATUS_OTHER, elb_joint_new(&config, &none, &error), error, "rest 181 is outside command -40 to 60");
    SAYS(ELB_STATUS_REST_OUTSIDE, elb_joint_new(&config, &none, &error), error, "rest 181 is outside command -40 to 60");
    config.rest = 0;
    CHECK(none == NULL);
    FAULT(elb_joint_new(&config, &none, NULL));
    OK(elb_joint_new(&config, &joint, NULL));

    FAULT(elb_joint_drive(joint, 10, &conversion));
    FAULT(elb_joint_pulse_us(joint, 10, &conversion));
    FAULT(elb_joint_counts(joint, 10, &conversion));
    FAULT(elb_joint_drive_per_command(joint, 10, &value));
    FAULT(elb_joint_command_from_drive(joint, 90, &value));
    FAULT(elb_joint_counts_batch(joint, drive, 6, narrow, &done));
    elb_test_forget_next();
    TEXT_SAYS(ELB_STATUS_OTHER, elb_joint_angle_from_reading(joint, 500, &value), "Anything without a code of its own.");
    CHECK(conversion.value == -1 && value == 7 && narrow[0] == 7 && done == 9);
    /* The handle is as good as before. */
    OK(elb_joint_counts(joint, 10, &conversion));

    OK(elb_readings_init(&readings, sizeof readings));
    readings.n = 6;
    readings.drive = drive;
    readings.measured = measured;
    FAULT(elb_fit_limits(&readings, NULL, &fit, &error));
    FAULT(elb_curve_new(drive, measured, NULL, 6, 6, &curve, &error));
    FAULT(elb_linkage_new(drive, measured, NULL, 6, &mechanism, &linkage, &error));
    FAULT(elb_choice_new(drive, measured, NULL, 6, NULL, 0, 6, &choice, &error));
    CHECK(curve == NULL && linkage == NULL && choice == NULL);
    OK(elb_ramp_per_cycle(40, 2, 0.5, &ramp, NULL));
    FAULT(elb_ramp_follow(ramp, 45, &value));
    CHECK(value == 7);
    /* It stands where it stood. */
    OK(elb_ramp_follow(ramp, 45, &value));
    CHECK(value == 40.5);
    elb_ramp_free(ramp);
    FAULT(elb_follow_check_new(0, 1, 0, 0, &check, &error));
    CHECK(check == NULL);
    OK(elb_follow_check_new(0, 1, 0, 0, &check, NULL));
    FAULT(elb_follow_check_tick(check, 10, 10, &tick));
    FAULT(elb_follow_check_tick_reading(check, joint, 10, 500, &tick));
    FAULT(elb_follow_check_reset(check, 10));
    FAULT(elb_follow_check_expected(check, &value, &value));
    CHECK(tick.state == 7 && value == 40.5);
    elb_follow_check_free(check);
    FAULT(elb_positioning_new(drive, 1, approach, 2, measured, &positioning, &error));
    FAULT(elb_robot_parse("format = 1", 10, &robot, &error));
    FAULT(elb_robot_counts(robot, drive, 0, NULL, NULL, &done));
    FAULT(elb_robot_find(robot, "wing", &done, &error));
    CHECK(done == 9);
    CHECK(fit == NULL && positioning == NULL && robot == NULL);
    elb_joint_free(joint);
    printf("%s - panic (%d checks)\n", checks_failed == 0 ? "ok" : "not ok", checks_made);
    return checks_failed != 0;
}
