/* Statuses: their texts, and what each refusal of a joint or a fit says. */
#include "check.h"
#include <math.h>
#include <stdlib.h>

static void texts(void) {
    int number, known = 0;
    const char *other = elb_status_text(ELB_STATUS_OTHER);
    CHECK(strcmp(elb_status_name(ELB_STATUS_OK), "ok") == 0);
    CHECK(strcmp(elb_status_name(ELB_STATUS_NOT_FINITE), "not-finite") == 0);
    CHECK(strcmp(elb_status_text(ELB_STATUS_NOT_FINITE), "A value is NaN or infinite where a number is needed.") == 0);
    for (number = -5; number < 300; number++) {
        const char *name = elb_status_name(number), *text = elb_status_text(number);
        CHECK(name != NULL && text != NULL && strlen(name) > 1 && strlen(text) > 5);
        known += strcmp(text, other) != 0;
    }
    CHECK(known > 40);
    CHECK(elb_status_text(INT32_MAX) == other && elb_status_text(INT32_MIN) == other);
    CHECK(strcmp(elb_clamped_name(ELB_CLAMPED_TO_COMMAND | ELB_CLAMPED_TO_TRAVEL), "clamped-to-both") == 0);
    CHECK(strcmp(elb_clamped_name(0), "not-clamped") == 0);
    CHECK(strcmp(elb_reading_name(ELB_READING_UPPER_RAIL), "upper-rail") == 0);
    CHECK(strcmp(elb_follow_name(ELB_FOLLOW_LAGS), "lags") == 0);
    CHECK(strcmp(elb_end_name(ELB_END_STALLED), "stalled") == 0 && strcmp(elb_end_name(ELB_END_NONE), "none") == 0);
    CHECK(strcmp(elb_reject_name(ELB_REJECT_OFF_THE_STOP), "off-the-stop") == 0);
    CHECK(strcmp(elb_severity_name(ELB_SEVERITY_WARNING), "warning") == 0);
    for (number = 200; number < 300; number++) {
        const uint32_t unknown = (uint32_t)number;
        CHECK(strcmp(elb_reading_name(unknown), "other") == 0 && strcmp(elb_end_name(unknown), "other") == 0);
        CHECK(strcmp(elb_reject_name(unknown), "other") == 0 && strcmp(elb_severity_name(unknown), "other") == 0);
    }
}

/* One refused joint: the status, and the words that must stand in its message. */
static void refused(elb_status status, const elb_joint_config *config, const char *words) {
    elb_joint *joint = NULL;
    elb_error error;
    SAYS(status, elb_joint_new(config, &joint, &error), error, words);
    CHECK(joint == NULL && error.line == 0 && error.column == 0 && error.reserved == 0);
    CHECK(error.index == ELB_NO_INDEX);
    /* Each of them is about a number. */
    CHECK(status == ELB_STATUS_NOT_FINITE || !isnan(error.value));
}

/* What only pointers, sizes and absence can be wrong with. */
static void arguments(void) {
    elb_joint_config config = example_config();
    elb_robot *robot = NULL, *none = NULL;
    elb_joint *joint = NULL;
    elb_session_config plan;
    elb_session *session = NULL;
    const char *text = "format = 1\n";
    elb_error error;
    SAYS(ELB_STATUS_NULL_POINTER, elb_joint_new(NULL, &joint, &error), error, "elb_joint_config is NULL; give a valid pointer");
    config.size = 8;
    SAYS(ELB_STATUS_BAD_SIZE, elb_joint_new(&config, &joint, &error), error, "elb_joint_config.size is 8; it must be");
    CHECK(strstr(error.message, "(call elb_joint_config_init with sizeof, which sets it)") != NULL);
    CHECK(error.value == 8);
    OK(elb_robot_parse(text, strlen(text), &robot, NULL));
    SAYS(ELB_STATUS_UNKNOWN_JOINT, elb_robot_without_joint(robot, "leg", &none, &error), error, "leg");
    elb_robot_free(robot);
    robot = NULL;
    text = "format = 1\n[joint.a]\ncommand = [-40, 60]\ndrive = [37, 122]\nrest = 10\n"
           "servo = { angle = [0, 180], pulse_us = [500, 2500] }\ntimer = { frame_hz = 50, counts_per_frame = 4096 }\n";
    OK(elb_robot_parse(text, strlen(text), &robot, NULL));
    OK(elb_session_config_init(&plan, sizeof plan));
    plan.start = 40;
    OK(elb_session_new(&plan, &session, NULL));
    SAYS(ELB_STATUS_ABSENT, elb_robot_with_session(robot, "a", session, NULL, ELB_MAP_JUDGED, &none, &error), error, "has not found the joint ready");
    CHECK(none == NULL && joint == NULL);
    elb_session_free(session);
    elb_robot_free(robot);
}

static void joints(void) {
    elb_joint_config config;
#define CHANGED(change) (config = example_config(), change, &config)
    refused(ELB_STATUS_NOT_FINITE, CHANGED(config.drive[1] = NAN), "drive is not a number");
    refused(ELB_STATUS_NOT_FINITE, CHANGED(config.travel[0] = -INFINITY), "travel is infinite");
    refused(ELB_STATUS_ENDS_SWAPPED, CHANGED(config.command[0] = 200), "set inverted");
    refused(ELB_STATUS_ZERO_WIDTH, CHANGED(config.drive[0] = 122), "has no width");
    refused(ELB_STATUS_ZERO_WIDTH, CHANGED((config.servo.pulse_us[0] = 0, config.servo.pulse_us[1] = 0)),
            "servo.pulse_us is not given: it is [0, 0]; set servo.pulse_us[0] and servo.pulse_us[1]");
    refused(ELB_STATUS_ZERO_WIDTH, CHANGED((config.command[0] = 0, config.command[1] = 0)), "command is not given");
    refused(ELB_STATUS_ZERO_WIDTH, CHANGED((config.drive[0] = 0, config.drive[1] = 0)), "drive is not given");
    refused(ELB_STATUS_ZERO_WIDTH, CHANGED((config.feedback.reading[1] = 871)), "feedback.angle is not given");
    refused(ELB_STATUS_OUTSIDE_SERVO, CHANGED(config.drive[1] = 181), "outside the servo's 0 to 180 deg");
    refused(ELB_STATUS_REST_OUTSIDE, CHANGED(config.rest = -41), "rest -41 is outside command -40 to 60");
    refused(ELB_STATUS_TRAVEL_DISJOINT, CHANGED((config.travel[0] = 130, config.travel[1] = 140)), "no angle in common");
    refused(ELB_STATUS_TIMER_INVALID, CHANGED(config.timer.counts_per_frame = 0), "timer.counts_per_frame is not given");
    refused(ELB_STATUS_TIMER_INVALID, CHANGED(config.timer.frame_hz = 500), "longer than one frame");
    refused(ELB_STATUS_NO_COUNT_IN_TRAVEL, CHANGED((config.travel[0] = 79.5, config.travel[1] = 79.6)), "no timer count");
    refused(ELB_STATUS_NOT_POSITIVE, CHANGED(config.max_rate_per_s = -1), "max_rate_per_s is -1");
    refused(ELB_STATUS_NOT_POSITIVE, CHANGED(config.servo.pulse_us[0] = 0), "must be above zero");
    refused(ELB_STATUS_UNKNOWN_VALUE, CHANGED(config.inverted = 2), "inverted is 2; it must be 0 or 1");
    refused(ELB_STATUS_TRANSMISSION_INVALID,
            CHANGED((config.transmission.kind = ELB_TRANSMISSION_TRIANGLE, config.transmission.dimensions[0] = 40, config.transmission.dimensions[1] = 92,
                     config.transmission.dimensions[2] = 31)),
            "dead centre");
#undef CHANGED
}

static void fit_refused(elb_status status, const double *drive, const double *measured, size_t n, const char *words) {
    elb_readings readings;
    elb_fit *fit = NULL;
    elb_error error;
    OK(elb_readings_init(&readings, sizeof readings));
    readings.n = n;
    readings.drive = drive;
    readings.measured = measured;
    SAYS(status, elb_fit_limits(&readings, NULL, &fit, &error), error, words);
    CHECK(fit == NULL);
    elb_fit_free(fit);
}

static void fits(void) {
    enum { MOST = 20000 };
    static double drive[MOST], measured[MOST];
    const elb_mechanism triangle = {{40, 92, 31, 0, 0}, ELB_TRANSMISSION_TRIANGLE, ELB_BRANCH_LEFT, 1 + 2 + 4, 0};
    elb_linkage *linkage = NULL;
    elb_error error;
    char line[256];
    size_t n = 0;
    FILE *file;
    static const double equal[] = {7, 7, 7, 7, 7, 7}, rising[] = {1, 2, 3, 4, 5, 6}, flat[] = {3, 3, 3, 3, 3, 3};
    fit_refused(ELB_STATUS_DRIVE_ANGLES_EQUAL, equal, rising, 6, "only 1 different drive angle");
    fit_refused(ELB_STATUS_NO_MOTION, rising, flat, 6, "does not follow it");
    fit_refused(ELB_STATUS_TOO_FEW_READINGS, rising, rising, 2, "too few");
    /* Only the ratio of two lengths shapes a triangle. */
    for (n = 0; n < 31; n++) {
        measured[n] = 3.0 * (double)n;
        drive[n] = 1.5 * sqrt(40.0 * 40 + 92.0 * 92 - 2 * 40 * 92.0 * cos((measured[n] + 31) * 3.14159265358979324 / 180));
    }
    SAYS(ELB_STATUS_NO_AGREEMENT, elb_linkage_new(drive, measured, NULL, n, &triangle, &linkage, &error), error, "arm");
    CHECK(linkage == NULL);
    n = 0;
    /* A servo recorded while it moved. */
    file = open_data("measured", "servo_in_motion_sin_sin.csv");
    CHECK(file != NULL && fgets(line, sizeof line, file) != NULL);
    while (file != NULL && n < MOST && fgets(line, sizeof line, file) != NULL) {
        if (sscanf(line, "%*[^,],%lf,%lf", &drive[n], &measured[n]) == 2) n++;
    }
    if (file != NULL) fclose(file);
    CHECK(n > 100);
    fit_refused(ELB_STATUS_IN_MOTION, drive, measured, n, "measure at rest");
}

void test_status(void) {
    texts();
    arguments();
    joints();
    fits();
}
