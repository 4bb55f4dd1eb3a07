/* Two fits compared: a horn put on one tooth further, wires swapped, nothing changed. And a fit put into a robot. */
#include "check.h"
#include <math.h>

enum { N = 20 };

static elb_fit *fit_of(double offset, double slope, int wobble) {
    double drive[N], measured[N];
    elb_readings readings;
    elb_fit *fit = NULL;
    int i;
    for (i = 0; i < N; i++) {
        drive[i] = 4.0 * i;
        measured[i] = slope * drive[i] + offset + ((i + wobble) % 2 ? -0.05 : 0.05);
    }
    OK(elb_readings_init(&readings, sizeof readings));
    readings.n = N;
    readings.drive = drive;
    readings.measured = measured;
    OK(elb_fit_limits(&readings, NULL, &fit, NULL));
    return fit;
}

static void diagnoses(void) {
    elb_fit *old = fit_of(0, 1, 0), *same = fit_of(0, 1, 1), *shifted = fit_of(15, 1, 1), *swapped = fit_of(80, -1, 1);
    elb_comparison *found = NULL;
    elb_diagnosis diagnosis;
    elb_change change;
    size_t n = 0;

    OK(elb_fit_compare(old, same, &found));
    OK(elb_comparison_diagnosis_count(found, &n));
    OK(elb_comparison_diagnosis(found, 0, &diagnosis));
    CHECK(n == 1 && diagnosis.kind == ELB_DIAGNOSIS_UNCHANGED && strcmp(diagnosis.text, "unchanged") == 0);
    OK(elb_comparison_change(found, ELB_QUANTITY_OFFSET, &change));
    CHECK(change.verdict == ELB_VERDICT_SAME && fabs(change.e_n) < 1 && change.u > 0 && change.reserved == 0);
    OK(elb_comparison_change(found, ELB_QUANTITY_LOST_MOTION, &change));
    CHECK(change.verdict == ELB_VERDICT_NOT_COMPARABLE && change.difference == 0);
    EXPECT(ELB_STATUS_UNKNOWN_VALUE, elb_comparison_change(found, 5, &change));
    EXPECT(ELB_STATUS_ABSENT, elb_comparison_diagnosis(found, 1, &diagnosis));
    EXPECT(ELB_STATUS_NULL_POINTER, elb_comparison_change(NULL, 0, &change));
    EXPECT(ELB_STATUS_NULL_POINTER, elb_comparison_change(found, 0, NULL));
    EXPECT(ELB_STATUS_NULL_POINTER, elb_comparison_diagnosis_count(NULL, &n));
    EXPECT(ELB_STATUS_NULL_POINTER, elb_comparison_diagnosis_count(found, NULL));
    EXPECT(ELB_STATUS_NULL_POINTER, elb_comparison_diagnosis(NULL, 0, &diagnosis));
    EXPECT(ELB_STATUS_NULL_POINTER, elb_comparison_diagnosis(found, 0, NULL));
    elb_comparison_free(found);
    elb_comparison_free(NULL);

    OK(elb_fit_compare(old, shifted, &found));
    OK(elb_comparison_diagnosis(found, 0, &diagnosis));
    CHECK(diagnosis.kind == ELB_DIAGNOSIS_OFFSET_SHIFTED && diagnosis.horn == 24 && diagnosis.teeth == 1);
    CHECK(fabs(diagnosis.value - 15) < 0.2 && diagnosis.u > 0 && strstr(diagnosis.text, "24-tooth") != NULL);
    OK(elb_comparison_change(found, ELB_QUANTITY_OFFSET, &change));
    CHECK(change.verdict == ELB_VERDICT_CHANGED);
    elb_comparison_free(found);

    OK(elb_fit_compare(old, swapped, &found));
    OK(elb_comparison_diagnosis(found, 0, &diagnosis));
    CHECK(diagnosis.kind == ELB_DIAGNOSIS_WIRES_SWAPPED);
    elb_comparison_free(found);

    found = NULL;
    EXPECT(ELB_STATUS_NULL_POINTER, elb_fit_compare(NULL, same, &found));
    EXPECT(ELB_STATUS_NULL_POINTER, elb_fit_compare(old, NULL, &found));
    EXPECT(ELB_STATUS_NULL_POINTER, elb_fit_compare(old, same, NULL));
    CHECK(found == NULL);
    elb_fit_free(old);
    elb_fit_free(same);
    elb_fit_free(shifted);
    elb_fit_free(swapped);
}

static void into_a_robot(void) {
    const char *source = "format = 1\n[joint.a]   # neck\ncommand = [-40, 60]\ndrive = [37, 122]\nrest = 10\n"
                         "servo = { angle = [0, 180], pulse_us = [500, 2500] }\ntimer = { frame_hz = 50, counts_per_frame = 4096 }\n";
    elb_robot *robot = NULL, *changed = NULL;
    elb_fit *fit = fit_of(0, 1, 0);
    elb_error error;
    const char *text = NULL;
    OK(elb_robot_parse(source, strlen(source), &robot, &error));
    OK(elb_robot_with_fit(robot, "a", fit, "2026-11-20", &changed, &error));
    OK(elb_robot_text(changed, &text));
    CHECK(strstr(text, "travel = [0, 76]") != NULL && strstr(text, "2026-11-20") != NULL && strstr(text, "# neck") != NULL);
    CHECK(strstr(text, "kind = \"clear\"") != NULL);
    elb_robot_free(changed);
    changed = NULL;
    EXPECT(ELB_STATUS_UNKNOWN_JOINT, elb_robot_with_fit(robot, "b", fit, NULL, &changed, &error));
    EXPECT(ELB_STATUS_WRONG_TYPE, elb_robot_with_fit(robot, "a", fit, "today", &changed, &error));
    EXPECT(ELB_STATUS_NULL_POINTER, elb_robot_with_fit(NULL, "a", fit, NULL, &changed, &error));
    EXPECT(ELB_STATUS_NULL_POINTER, elb_robot_with_fit(robot, NULL, fit, NULL, &changed, &error));
    EXPECT(ELB_STATUS_NULL_POINTER, elb_robot_with_fit(robot, "a", NULL, NULL, &changed, &error));
    EXPECT(ELB_STATUS_NULL_POINTER, elb_robot_with_fit(robot, "a", fit, NULL, NULL, &error));
    CHECK(changed == NULL);
    elb_robot_free(robot);
    elb_fit_free(fit);
}

void test_comparison(void) {
    diagnoses();
    into_a_robot();
}
