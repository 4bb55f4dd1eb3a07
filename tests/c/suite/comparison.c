/* Two fits compared: a horn put on one tooth further, wires swapped, a stop gone, nothing changed. And a fit put into a
   robot. */
#include "check.h"
#include <math.h>

enum { N = 20 };

static elb_fit *fit_to(double stop, double offset, double slope, int wobble) {
    double drive[N], measured[N];
    elb_readings readings;
    elb_fit *fit = NULL;
    int i;
    for (i = 0; i < N; i++) {
        drive[i] = 4.0 * i;
        measured[i] = slope * (drive[i] < stop ? drive[i] : stop) + offset + ((i + wobble) % 2 ? -0.05 : 0.05);
    }
    OK(elb_readings_init(&readings, sizeof readings));
    readings.n = N;
    readings.drive = drive;
    readings.measured = measured;
    OK(elb_fit_limits(&readings, NULL, &fit, NULL));
    return fit;
}

static elb_fit *fit_of(double offset, double slope, int wobble) { return fit_to(1000, offset, slope, wobble); }

static void diagnoses(void) {
    elb_fit *old = fit_of(0, 1, 0), *same = fit_of(0, 1, 1), *shifted = fit_of(15, 1, 1), *swapped = fit_of(80, -1, 1);
    elb_comparison *found = NULL;
    elb_diagnosis diagnosis;
    elb_change change;
    elb_spline_teeth teeth;
    elb_table_warning warning;
    uint32_t is_changed = 7;
    size_t n = 0;

    OK(elb_fit_compare(old, same, NULL, &found, NULL));
    OK(elb_comparison_diagnosis_count(found, &n));
    OK(elb_comparison_diagnosis(found, 0, &diagnosis));
    CHECK(n == 1 && diagnosis.kind == ELB_DIAGNOSIS_UNCHANGED && strcmp(diagnosis.text, "unchanged") == 0);
    CHECK(isnan(diagnosis.value) && isnan(diagnosis.before) && diagnosis.side == ELB_SIDE_NONE);
    OK(elb_comparison_change(found, ELB_QUANTITY_OFFSET, &change));
    CHECK(change.verdict == ELB_VERDICT_SAME && fabs(change.e_n) < 1 && change.u > 0 && change.at_least == 0);
    CHECK(change.dof > 18 && change.p > 0.05 && change.p_adjusted >= change.p && change.p_adjusted <= 1);
    CHECK(change.smallest == 0.5 && change.detectable > 0.5 && change.detectable < 1);
    OK(elb_comparison_change(found, ELB_QUANTITY_BEND, &change));
    CHECK(change.verdict == ELB_VERDICT_SAME);
    OK(elb_comparison_change(found, ELB_QUANTITY_LOST_MOTION, &change));
    CHECK(change.verdict == ELB_VERDICT_NOT_COMPARABLE && isnan(change.difference) && isnan(change.p));
    EXPECT(ELB_STATUS_UNKNOWN_VALUE, elb_comparison_change(found, 6, &change));
    EXPECT(ELB_STATUS_ABSENT, elb_comparison_diagnosis(found, 1, &diagnosis));
    EXPECT(ELB_STATUS_NULL_POINTER, elb_comparison_change(NULL, 0, &change));
    EXPECT(ELB_STATUS_NULL_POINTER, elb_comparison_change(found, 0, NULL));
    EXPECT(ELB_STATUS_NULL_POINTER, elb_comparison_diagnosis_count(NULL, &n));
    EXPECT(ELB_STATUS_NULL_POINTER, elb_comparison_diagnosis_count(found, NULL));
    EXPECT(ELB_STATUS_NULL_POINTER, elb_comparison_diagnosis(NULL, 0, &diagnosis));
    EXPECT(ELB_STATUS_NULL_POINTER, elb_comparison_diagnosis(found, 0, NULL));
    OK(elb_comparison_is_changed(found, &is_changed));
    CHECK(is_changed == 0);
    EXPECT(ELB_STATUS_NULL_POINTER, elb_comparison_is_changed(NULL, &is_changed));
    EXPECT(ELB_STATUS_NULL_POINTER, elb_comparison_is_changed(found, NULL));
    OK(elb_comparison_teeth_count(found, &n));
    CHECK(n == 0);
    EXPECT(ELB_STATUS_ABSENT, elb_comparison_teeth(found, 0, &teeth));
    EXPECT(ELB_STATUS_NULL_POINTER, elb_comparison_teeth(NULL, 0, &teeth));
    EXPECT(ELB_STATUS_NULL_POINTER, elb_comparison_teeth(found, 0, NULL));
    EXPECT(ELB_STATUS_NULL_POINTER, elb_comparison_teeth_count(NULL, &n));
    EXPECT(ELB_STATUS_NULL_POINTER, elb_comparison_teeth_count(found, NULL));
    EXPECT(ELB_STATUS_NULL_POINTER, elb_comparison_warning(NULL, 0, &warning));
    EXPECT(ELB_STATUS_NULL_POINTER, elb_comparison_warning(found, 0, NULL));
    EXPECT(ELB_STATUS_NULL_POINTER, elb_comparison_warning_count(NULL, &n));
    EXPECT(ELB_STATUS_NULL_POINTER, elb_comparison_warning_count(found, NULL));
    elb_comparison_free(found);
    elb_comparison_free(NULL);

    OK(elb_fit_compare(old, shifted, NULL, &found, NULL));
    OK(elb_comparison_diagnosis(found, 0, &diagnosis));
    CHECK(diagnosis.kind == ELB_DIAGNOSIS_OFFSET_SHIFTED && diagnosis.horn == 24 && diagnosis.teeth == 1);
    CHECK(fabs(diagnosis.value - 15) < 0.2 && diagnosis.u > 0 && strstr(diagnosis.text, "1 tooth of 24 (15 deg)") != NULL);
    OK(elb_comparison_change(found, ELB_QUANTITY_OFFSET, &change));
    CHECK(change.verdict == ELB_VERDICT_CHANGED && change.p_adjusted < 1e-6);
    OK(elb_comparison_is_changed(found, &is_changed));
    CHECK(is_changed == 1 && diagnosis.sensor_possible == 1);
    OK(elb_comparison_teeth_count(found, &n));
    OK(elb_comparison_teeth(found, 0, &teeth));
    CHECK(n == 1 && teeth.horn == 24 && teeth.teeth == 1 && teeth.left == diagnosis.left);
    EXPECT(ELB_STATUS_ABSENT, elb_comparison_teeth(found, 1, &teeth));
    elb_comparison_free(found);

    OK(elb_fit_compare(old, swapped, NULL, &found, NULL));
    OK(elb_comparison_diagnosis(found, 0, &diagnosis));
    CHECK(diagnosis.kind == ELB_DIAGNOSIS_WIRES_SWAPPED);
    elb_comparison_free(found);

    found = NULL;
    EXPECT(ELB_STATUS_NULL_POINTER, elb_fit_compare(NULL, same, NULL, &found, NULL));
    EXPECT(ELB_STATUS_NULL_POINTER, elb_fit_compare(old, NULL, NULL, &found, NULL));
    EXPECT(ELB_STATUS_NULL_POINTER, elb_fit_compare(old, same, NULL, NULL, NULL));
    CHECK(found == NULL);
    elb_fit_free(old);
    elb_fit_free(same);
    elb_fit_free(shifted);
    elb_fit_free(swapped);
}

static void ends_and_options(void) {
    elb_fit *stopped = fit_to(50, 0, 1, 0), *freed = fit_of(0, 1, 1), *moved = fit_of(0.3, 1, 1), *old = fit_of(0, 1, 0);
    elb_comparison *found = NULL;
    elb_compare_options options;
    elb_diagnosis diagnosis;
    elb_change change;
    elb_table_warning warning;
    elb_error error;
    uint32_t is_changed = 7;
    size_t n = 0, i;

    OK(elb_compare_options_init(&options, sizeof options));
    CHECK(options.size == sizeof options && options.smallest_drive == 0.5 && options.smallest_share == 0.01);
    EXPECT(ELB_STATUS_NULL_POINTER, elb_compare_options_init(NULL, sizeof options));
    EXPECT(ELB_STATUS_BAD_SIZE, elb_compare_options_init(&options, 8));

    /* A stop that is gone: further out by at least what was swept. */
    OK(elb_fit_compare(stopped, freed, &options, &found, &error));
    OK(elb_comparison_diagnosis(found, 0, &diagnosis));
    CHECK(diagnosis.kind == ELB_DIAGNOSIS_RANGE_WIDENED && diagnosis.side == ELB_SIDE_UPPER && diagnosis.at_least == 1);
    CHECK(fabs(diagnosis.value - 26) < 0.5);
    OK(elb_comparison_change(found, ELB_QUANTITY_UPPER, &change));
    CHECK(change.verdict == ELB_VERDICT_CHANGED && change.at_least == 1);
    elb_comparison_free(found);
    OK(elb_fit_compare(freed, stopped, &options, &found, &error));
    OK(elb_comparison_diagnosis(found, 0, &diagnosis));
    CHECK(diagnosis.kind == ELB_DIAGNOSIS_RANGE_SHRUNK && diagnosis.side == ELB_SIDE_UPPER && diagnosis.at_least == 1);
    /* The warnings of both fits, with their sentences. */
    OK(elb_comparison_warning_count(found, &n));
    for (i = 0; i < n; i++) {
        OK(elb_comparison_warning(found, i, &warning));
        CHECK(strlen(warning.text) > 0 && warning.table <= ELB_TABLE_LATER && warning.reserved == 0);
    }
    EXPECT(ELB_STATUS_ABSENT, elb_comparison_warning(found, n, &warning));
    elb_comparison_free(found);

    /* Sure and small. */
    OK(elb_fit_compare(old, moved, NULL, &found, &error));
    OK(elb_comparison_diagnosis(found, 0, &diagnosis));
    CHECK(diagnosis.kind == ELB_DIAGNOSIS_SLIGHT_CHANGE && diagnosis.quantity == ELB_QUANTITY_OFFSET);
    CHECK(fabs(diagnosis.value - 0.3) < 0.05 && diagnosis.smallest == 0.5);
    OK(elb_comparison_change(found, ELB_QUANTITY_OFFSET, &change));
    CHECK(change.verdict == ELB_VERDICT_NEGLIGIBLE);
    OK(elb_comparison_is_changed(found, &is_changed));
    CHECK(is_changed == 0);
    elb_comparison_free(found);
    options.smallest_drive = 0.1;
    OK(elb_fit_compare(old, moved, &options, &found, &error));
    OK(elb_comparison_is_changed(found, &is_changed));
    CHECK(is_changed == 1);
    elb_comparison_free(found);
    found = NULL;
    options.smallest_drive = -1;
    EXPECT(ELB_STATUS_OPTION_OUTSIDE, elb_fit_compare(old, moved, &options, &found, &error));
    CHECK(found == NULL && strstr(error.message, "smallest_drive") != NULL);
    elb_fit_free(stopped);
    elb_fit_free(freed);
    elb_fit_free(moved);
    elb_fit_free(old);
}

static void into_a_robot(void) {
    const char *source = "format = 1\n[joint.a]   # neck\ncommand = [-40, 60]\ndrive = [37, 122]\nrest = 10\n"
                         "servo = { angle = [0, 180], pulse_us = [500, 2500] }\ntimer = { frame_hz = 50, counts_per_frame = 4096 }\n";
    elb_robot *robot = NULL, *changed = NULL;
    elb_fit *fit = fit_of(0, 1, 0);
    elb_error error;
    const char *text = NULL;
    OK(elb_robot_parse(source, strlen(source), &robot, &error));
    OK(elb_robot_with_fit(robot, "a", fit, "2026-11-20", ELB_MAP_KEPT, &changed, &error));
    OK(elb_robot_text(changed, &text));
    CHECK(strstr(text, "travel = [0, 76]") != NULL && strstr(text, "2026-11-20") != NULL && strstr(text, "# neck") != NULL);
    CHECK(strstr(text, "kind = \"clear\"") != NULL);
    /* How far the map that was kept is off stays in the file. */
    CHECK(strstr(text, "map_off = ") != NULL);
    elb_robot_free(changed);
    changed = NULL;
    EXPECT(ELB_STATUS_UNKNOWN_JOINT, elb_robot_with_fit(robot, "b", fit, NULL, 0, &changed, &error));
    EXPECT(ELB_STATUS_WRONG_TYPE, elb_robot_with_fit(robot, "a", fit, "today", 0, &changed, &error));
    EXPECT(ELB_STATUS_NULL_POINTER, elb_robot_with_fit(NULL, "a", fit, NULL, 0, &changed, &error));
    EXPECT(ELB_STATUS_NULL_POINTER, elb_robot_with_fit(robot, NULL, fit, NULL, 0, &changed, &error));
    EXPECT(ELB_STATUS_NULL_POINTER, elb_robot_with_fit(robot, "a", NULL, NULL, 0, &changed, &error));
    EXPECT(ELB_STATUS_NULL_POINTER, elb_robot_with_fit(robot, "a", fit, NULL, 0, NULL, &error));
    CHECK(changed == NULL);
    elb_robot_free(robot);
    elb_fit_free(fit);
}

/* The wing of Heron, its sense tested in October; a fit of November leaves that day, and one that falls is refused. */
static void into_a_tested_joint(void) {
    const char *source = "format = 1\n[joint.wing_left]\nunit = \"deg\"\ncommand = [-40, 60]\ndrive = [37, 122]\nrest = 10\n"
                         "servo = { angle = [0, 180], pulse_us = [500, 2500] }\ntimer = { frame_hz = 50, counts_per_frame = 4096 }\n"
                         "evidence = { date = 2026-10-02, sense = \"opposing\" }\n";
    enum { MANY = 12 };
    double drive[MANY], along[MANY], against[MANY];
    elb_robot *robot = NULL, *changed = NULL;
    elb_fit *fit = NULL, *fallen = NULL;
    elb_readings readings;
    elb_fit_options options;
    elb_error error;
    const char *text = NULL;
    for (size_t i = 0; i < MANY; i++) {
        drive[i] = 40 + 7.0 * (double)i;
        along[i] = (drive[i] - 37) / 0.85 - 40 + 0.1 * (double)(i % 3);
        against[i] = 20 - along[i];
    }
    OK(elb_readings_init(&readings, sizeof readings));
    OK(elb_fit_options_init(&options, sizeof options));
    readings.n = MANY;
    readings.drive = drive;
    readings.measured = along;
    OK(elb_fit_limits(&readings, &options, &fit, &error));
    readings.measured = against;
    OK(elb_fit_limits(&readings, &options, &fallen, &error));
    OK(elb_robot_parse(source, strlen(source), &robot, &error));
    OK(elb_robot_with_fit(robot, "wing_left", fit, "2026-11-20", 0, &changed, &error));
    OK(elb_robot_text(changed, &text));
    CHECK(strstr(text, " date = 2026-11-20") != NULL && strstr(text, "sense_date = 2026-10-02") != NULL);
    elb_robot_free(changed);
    changed = NULL;
    SAYS(ELB_STATUS_MAP_CONTRADICTED, elb_robot_with_fit(robot, "wing_left", fallen, NULL, 0, &changed, &error), error, "keep the map");
    CHECK(changed == NULL);
    OK(elb_robot_with_fit(robot, "wing_left", fallen, NULL, ELB_MAP_KEPT, &changed, &error));
    OK(elb_robot_text(changed, &text));
    CHECK(strstr(text, "drive = [37, 122]") != NULL && strstr(text, "inverted") == NULL);
    elb_robot_free(changed);
    changed = NULL;
    OK(elb_robot_with_fit(robot, "wing_left", fallen, NULL, ELB_MAP_ADOPTED, &changed, &error));
    OK(elb_robot_text(changed, &text));
    CHECK(strstr(text, "inverted = true") != NULL);
    elb_robot_free(changed);
    changed = NULL;
    SAYS(ELB_STATUS_UNKNOWN_VALUE, elb_robot_with_fit(robot, "wing_left", fit, NULL, 3, &changed, &error), error, "ELB_MAP_ADOPTED");
    elb_fit_free(fit);
    fit = NULL;
    for (size_t i = 0; i < MANY; i++) along[i] *= 3.14159265358979 / 180;
    readings.measured = along;
    OK(elb_fit_limits(&readings, &options, &fit, &error));
    SAYS(ELB_STATUS_OPTION_OUTSIDE, elb_robot_with_fit(robot, "wing_left", fit, NULL, ELB_MAP_ADOPTED, &changed, &error), error,
         "look like rad");
    elb_robot_free(robot);
    elb_fit_free(fallen);
    elb_fit_free(fit);
}

void test_comparison(void) {
    diagnoses();
    ends_and_options();
    into_a_robot();
    into_a_tested_joint();
}
