/* Every pointer of every call NULL in turn. What the header calls nullable works; everything else is refused. */
#include "check.h"

#define REFUSED(call) EXPECT(ELB_STATUS_NULL_POINTER, call)

static void joints(void) {
    elb_joint *joint = example_joint(), *made = NULL;
    elb_joint_config config = example_config();
    elb_error error;
    elb_conversion conversion;
    uint32_t counts = 0, other = 0;
    size_t n = 9;
    double value = 0;
    REFUSED(elb_joint_config_init(NULL, sizeof config));
    REFUSED(elb_joint_new(NULL, &made, &error));
    CHECK(strstr(error.message, "elb_joint_config is NULL") != NULL);
    REFUSED(elb_joint_new(&config, NULL, &error));
    CHECK(strstr(error.message, "out is NULL") != NULL);
    OK(elb_joint_new(&config, &made, NULL));
    elb_joint_free(made);
    made = NULL;
    REFUSED(elb_joint_clone(NULL, &made));
    REFUSED(elb_joint_clone(joint, NULL));
    REFUSED(elb_joint_config_of(NULL, &config, sizeof config));
    REFUSED(elb_joint_config_of(joint, NULL, sizeof config));
    REFUSED(elb_joint_knots(NULL, &value, 1, &n));
    REFUSED(elb_joint_knots(joint, NULL, 1, &n));
    OK(elb_joint_knots(joint, NULL, 0, NULL));
    REFUSED(elb_joint_feedback_knots(NULL, &value, 1, &n));
    REFUSED(elb_joint_feedback_knots(joint, NULL, 1, &n));
    OK(elb_joint_feedback_knots(joint, NULL, 0, NULL));
    REFUSED(elb_joint_count_range(NULL, &counts, &other));
    REFUSED(elb_joint_count_range(joint, NULL, &other));
    REFUSED(elb_joint_count_range(joint, &counts, NULL));
    REFUSED(elb_joint_valid_range(NULL, &value, &value));
    REFUSED(elb_joint_valid_range(joint, NULL, &value));
    REFUSED(elb_joint_valid_range(joint, &value, NULL));
    REFUSED(elb_joint_drive(NULL, 10, &conversion));
    REFUSED(elb_joint_drive(joint, 10, NULL));
    REFUSED(elb_joint_pulse_us(NULL, 10, &conversion));
    REFUSED(elb_joint_pulse_us(joint, 10, NULL));
    REFUSED(elb_joint_counts(NULL, 10, &conversion));
    REFUSED(elb_joint_counts(joint, 10, NULL));
    REFUSED(elb_joint_counts_from_drive(NULL, 10, &conversion, &value));
    REFUSED(elb_joint_counts_from_drive(joint, 10, NULL, &value));
    REFUSED(elb_joint_counts_from_drive(joint, 10, &conversion, NULL));
    REFUSED(elb_joint_drive_per_command(NULL, 10, &value));
    REFUSED(elb_joint_drive_per_command(joint, 10, NULL));
    REFUSED(elb_joint_command_from_drive(NULL, 42, &value));
    REFUSED(elb_joint_command_from_drive(joint, 42, NULL));
    REFUSED(elb_joint_command_from_pulse_us(NULL, 1500, &value));
    REFUSED(elb_joint_command_from_pulse_us(joint, 1500, NULL));
    REFUSED(elb_joint_command_from_counts(NULL, 283, &value));
    REFUSED(elb_joint_command_from_counts(joint, 283, NULL));
    REFUSED(elb_joint_has_feedback(NULL, &counts));
    REFUSED(elb_joint_has_feedback(joint, NULL));
    REFUSED(elb_joint_angle_per_reading(NULL, 500, &value));
    REFUSED(elb_joint_angle_per_reading(joint, 500, NULL));
    REFUSED(elb_joint_detects_wire_faults(NULL, &counts, &other));
    REFUSED(elb_joint_detects_wire_faults(joint, NULL, &other));
    REFUSED(elb_joint_detects_wire_faults(joint, &counts, NULL));
    CHECK(made == NULL && value == 0 && counts == 0 && other == 0 && n == 9);
    elb_joint_free(joint);
}

static void batches(void) {
    elb_joint *joint = example_joint();
    const double in[] = {90, 90};
    const float in32[] = {90, 90};
    const uint16_t narrow_in[] = {283, 283};
    const uint32_t wide_in[] = {283, 283};
    double out[2] = {7, 7};
    uint16_t narrow[2] = {7, 7};
    uint32_t wide[2] = {7, 7};
    size_t done = 9;
    elb_tally tally = {7, 7};
#define EACH(name, input, output)                           \
    REFUSED(name(NULL, input, 2, output, &done));           \
    REFUSED(name(joint, NULL, 2, output, &done));           \
    REFUSED(name(joint, input, 2, NULL, &done));            \
    CHECK(done == 9 && output[0] == 7 && output[1] == 7);   \
    OK(name(joint, input, 1, output, NULL));                \
    output[0] = 7
    EACH(elb_joint_counts_batch, in, narrow);
    EACH(elb_joint_counts_batch_u32, in, wide);
    EACH(elb_joint_counts_batch_f32, in32, narrow);
    EACH(elb_joint_counts_batch_f32_u32, in32, wide);
    EACH(elb_joint_drive_batch, in, out);
    EACH(elb_joint_drive_batch_f32, in32, out);
    EACH(elb_joint_pulse_us_batch, in, out);
    EACH(elb_joint_pulse_us_batch_f32, in32, out);
#undef EACH
#define EACH(name, input)                    \
    REFUSED(name(NULL, input, 2, out));      \
    REFUSED(name(joint, NULL, 2, out));      \
    REFUSED(name(joint, input, 2, NULL));    \
    CHECK(out[0] == 7 && out[1] == 7)
    EACH(elb_joint_command_from_drive_batch, in);
    EACH(elb_joint_command_from_pulse_us_batch, in);
    EACH(elb_joint_command_from_counts_batch, narrow_in);
    EACH(elb_joint_command_from_counts_batch_u32, wide_in);
#undef EACH
    REFUSED(elb_joint_tally(NULL, in, 2, &tally));
    REFUSED(elb_joint_tally(joint, NULL, 2, &tally));
    REFUSED(elb_joint_tally(joint, in, 2, NULL));
    CHECK(tally.clamped_to_command == 7);
    elb_joint_free(joint);
}

static void fits(void) {
    const double drive[] = {10, 20, 30, 40, 50, 60}, measured[] = {12.1, 21.9, 32.0, 42.2, 51.9, 62.0};
    elb_readings readings;
    elb_fit_options options;
    elb_fit *fit = NULL;
    elb_error error;
    elb_fit_line line;
    elb_fit_end end;
    elb_lost_motion lost;
    elb_rejected rejected;
    elb_advice advice;
    elb_next_reading next;
    uint32_t flag = 0;
    const char *text = NULL;
    double value = 0, other = 0;
    uint64_t dof = 0;
    size_t n = 0;
    REFUSED(elb_readings_init(NULL, sizeof readings));
    REFUSED(elb_fit_options_init(NULL, sizeof options));
    OK(elb_readings_init(&readings, sizeof readings));
    readings.n = 6;
    readings.drive = drive;
    REFUSED(elb_fit_limits(&readings, NULL, &fit, &error));
    CHECK(strstr(error.message, "readings.measured is NULL") != NULL);
    readings.drive = NULL;
    readings.measured = measured;
    REFUSED(elb_fit_limits(&readings, NULL, &fit, &error));
    readings.drive = drive;
    REFUSED(elb_fit_limits(NULL, NULL, &fit, &error));
    REFUSED(elb_fit_limits(&readings, NULL, NULL, &error));
    OK(elb_fit_limits(&readings, NULL, &fit, NULL));
    REFUSED(elb_fit_line_of(NULL, &line));
    REFUSED(elb_fit_line_of(fit, NULL));
    REFUSED(elb_fit_end_of(NULL, ELB_SIDE_LOWER, &end));
    REFUSED(elb_fit_end_of(fit, ELB_SIDE_LOWER, NULL));
    REFUSED(elb_fit_travel(NULL, &value, &other));
    REFUSED(elb_fit_travel(fit, NULL, &other));
    REFUSED(elb_fit_travel(fit, &value, NULL));
    REFUSED(elb_fit_lost_motion(NULL, &lost));
    REFUSED(elb_fit_lost_motion(fit, NULL));
    REFUSED(elb_fit_lost_motion_text(NULL, &text));
    REFUSED(elb_fit_lost_motion_text(fit, NULL));
    REFUSED(elb_fit_repeatability(NULL, &value, &dof));
    REFUSED(elb_fit_repeatability(fit, NULL, &dof));
    REFUSED(elb_fit_repeatability(fit, &value, NULL));
    REFUSED(elb_fit_expected(NULL, 1, &value));
    REFUSED(elb_fit_expected(fit, 1, NULL));
    REFUSED(elb_fit_rejected_count(NULL, &n));
    REFUSED(elb_fit_rejected_count(fit, NULL));
    REFUSED(elb_fit_rejected(NULL, 0, &rejected));
    REFUSED(elb_fit_rejected(fit, 0, NULL));
    REFUSED(elb_fit_rejected_slip(NULL, 0, &text));
    REFUSED(elb_fit_rejected_slip(fit, 0, NULL));
    REFUSED(elb_fit_resolution(NULL, &value, &flag));
    REFUSED(elb_fit_resolution(fit, NULL, &flag));
    REFUSED(elb_fit_resolution(fit, &value, NULL));
    REFUSED(elb_fit_approach_inferred(NULL, &flag));
    REFUSED(elb_fit_approach_inferred(fit, NULL));
    REFUSED(elb_fit_advice(NULL, &advice));
    REFUSED(elb_fit_advice(fit, NULL));
    REFUSED(elb_fit_next_reading(NULL, 0, &next));
    REFUSED(elb_fit_next_reading(fit, 0, NULL));
    REFUSED(elb_fit_warning_count(NULL, &n));
    REFUSED(elb_fit_warning_count(fit, NULL));
    REFUSED(elb_fit_warning(NULL, 0, &text));
    REFUSED(elb_fit_warning(fit, 0, NULL));
    CHECK(value == 0 && other == 0 && flag == 0 && text == NULL);
    elb_fit_free(fit);
}

static void robots(void) {
    const char *source = "format = 1\n[joint.a]\ncommand = [-40, 60]\ndrive = [37, 122]\nrest = 10\n"
                         "servo = { angle = [0, 180], pulse_us = [500, 2500] }\ntimer = { frame_hz = 50, counts_per_frame = 4096 }\n";
    elb_robot *robot = NULL, *made = NULL;
    elb_findings *findings = NULL;
    elb_finding finding;
    elb_robot_entry entry;
    elb_error error;
    elb_joint_config config = example_config();
    const elb_joint *joint = NULL;
    const char *text = NULL;
    const double command = 10;
    uint32_t counts = 7, flags = 7;
    elb_unit unit;
    size_t n = 0;
    REFUSED(elb_robot_parse(NULL, 5, &robot, &error));
    REFUSED(elb_robot_parse(source, strlen(source), NULL, &error));
    OK(elb_robot_parse(source, strlen(source), &robot, NULL));
    CHECK(elb_robot_parse(NULL, 0, &made, &error) == ELB_STATUS_MISSING_KEY);
    REFUSED(elb_robot_load(NULL, &made, &error));
    REFUSED(elb_robot_load("heron.toml", NULL, &error));
    REFUSED(elb_robot_save(NULL, "heron.toml", &error));
    REFUSED(elb_robot_save(robot, NULL, &error));
    REFUSED(elb_robot_name(NULL, &text));
    REFUSED(elb_robot_name(robot, NULL));
    REFUSED(elb_robot_text(NULL, &text));
    REFUSED(elb_robot_text(robot, NULL));
    REFUSED(elb_robot_joint_count(NULL, &n));
    REFUSED(elb_robot_joint_count(robot, NULL));
    REFUSED(elb_robot_joint(NULL, "a", &joint));
    REFUSED(elb_robot_joint(robot, NULL, &joint));
    REFUSED(elb_robot_joint(robot, "a", NULL));
    REFUSED(elb_robot_find(NULL, "a", &n, &error));
    REFUSED(elb_robot_find(robot, NULL, &n, &error));
    REFUSED(elb_robot_find(robot, "a", NULL, &error));
    CHECK(strstr(error.message, "out is NULL") != NULL);
    REFUSED(elb_robot_unit_at(NULL, 0, &unit));
    REFUSED(elb_robot_unit_at(robot, 0, NULL));
    REFUSED(elb_robot_counts(NULL, &command, 1, &counts, &flags, &n));
    REFUSED(elb_robot_counts(robot, NULL, 1, &counts, &flags, &n));
    REFUSED(elb_robot_counts(robot, &command, 1, NULL, &flags, &n));
    CHECK(counts == 7 && flags == 7);
    OK(elb_robot_counts(robot, &command, 1, &counts, NULL, NULL));
    REFUSED(elb_robot_joint_at(NULL, 0, &joint));
    REFUSED(elb_robot_joint_at(robot, 0, NULL));
    REFUSED(elb_robot_entry_at(NULL, 0, &entry));
    REFUSED(elb_robot_entry_at(robot, 0, NULL));
    REFUSED(elb_robot_with_joint(NULL, "a", &config, &made, &error));
    REFUSED(elb_robot_with_joint(robot, NULL, &config, &made, &error));
    REFUSED(elb_robot_with_joint(robot, "a", NULL, &made, &error));
    REFUSED(elb_robot_with_joint(robot, "a", &config, NULL, &error));
    OK(elb_robot_with_joint(robot, "a", &config, &made, NULL));
    elb_robot_free(made);
    made = NULL;
    REFUSED(elb_robot_without_joint(NULL, "a", &made, &error));
    REFUSED(elb_robot_without_joint(robot, NULL, &made, &error));
    REFUSED(elb_robot_without_joint(robot, "a", NULL, &error));
    REFUSED(elb_robot_check(NULL, NULL, &findings, &error));
    REFUSED(elb_robot_check(robot, NULL, NULL, &error));
    OK(elb_robot_check(robot, NULL, &findings, NULL));
    REFUSED(elb_findings_count(NULL, &n));
    REFUSED(elb_findings_count(findings, NULL));
    REFUSED(elb_findings_at(NULL, 0, &finding));
    REFUSED(elb_findings_at(findings, 0, NULL));
    REFUSED(elb_findings_waived_count(NULL, &n));
    REFUSED(elb_findings_waived_count(findings, NULL));
    REFUSED(elb_findings_waived_at(NULL, 0, &finding));
    REFUSED(elb_findings_waived_at(findings, 0, NULL));
    CHECK(made == NULL && joint == NULL && n == 0);
    elb_findings_free(findings);
    elb_robot_free(robot);
}

void test_null(void) {
    joints();
    batches();
    fits();
    robots();
}
