/* Limits from readings, and everything that can be read of a fit. */
#include "check.h"
#include <math.h>
#include <stdlib.h>

static const double drive[] = {10, 20, 30, 40, 50, 60};
static const double measured[] = {12.1, 21.9, 32.0, 42.2, 51.9, 62.0};

static elb_readings six(void) {
    elb_readings readings;
    OK(elb_readings_init(&readings, sizeof readings));
    readings.n = 6;
    readings.drive = drive;
    readings.measured = measured;
    return readings;
}

/* A bend is no stop, and the fit says what fits better. */
static void bend_is_told(void) {
    double bent_drive[25], bent[25];
    elb_readings readings = six();
    elb_fit *fit = NULL;
    const char *text = NULL;
    size_t n = 0, i, told = 0;
    for (i = 0; i < 25; i++) {
        bent_drive[i] = 10 + 4 * (double)i;
        bent[i] = 0.5 * bent_drive[i] + 0.003 * bent_drive[i] * bent_drive[i] + ((double)((i * 7) % 5) - 2) * 0.05;
    }
    readings.n = 25;
    readings.drive = bent_drive;
    readings.measured = bent;
    OK(elb_fit_limits(&readings, NULL, &fit, NULL));
    OK(elb_fit_warning_count(fit, &n));
    for (i = 0; i < n; i++) {
        OK(elb_fit_warning(fit, i, &text));
        told += strstr(text, "nonlinear between the stops") != NULL;
    }
    CHECK(told == 1);
    EXPECT(ELB_STATUS_ABSENT, elb_fit_warning(fit, n, &text));
    elb_fit_free(fit);
}

static void no_stop_met(void) {
    elb_readings readings = six();
    elb_fit *fit = NULL;
    elb_fit_line line;
    elb_fit_end end;
    elb_lost_motion lost = {-1, -1, -1, -1, -1};
    const char *text = NULL;
    double lower = 0, upper = 0, expected = 0;
    size_t n = 9;
    OK(elb_fit_limits(&readings, NULL, &fit, NULL));
    OK(elb_fit_line_of(fit, &line));
    CHECK(fabs(line.slope - 1) < 0.01 && line.u_slope > 0 && line.trend == 1 && line.certainty > 0.99);
    CHECK(fabs(line.intercept - 2) < 0.3 && line.r_squared > 0.99 && line.dof == 4 && line.reserved == 0);
    OK(elb_fit_end_of(fit, ELB_SIDE_LOWER, &end));
    CHECK(end.kind == ELB_END_CLEAR && end.at == 10 && end.travel == 10 && isnan(end.u) && isnan(end.level));
    CHECK(isnan(end.interval[0]) && isnan(end.interval[1]) && isnan(end.u_level) && end.guard == 0 && end.marked == 0);
    OK(elb_fit_end_of(fit, ELB_SIDE_UPPER, &end));
    CHECK(end.kind == ELB_END_CLEAR && end.at == 60);
    EXPECT(ELB_STATUS_UNKNOWN_VALUE, elb_fit_end_of(fit, ELB_SIDE_NONE, &end));
    EXPECT(ELB_STATUS_UNKNOWN_VALUE, elb_fit_end_of(fit, 3, &end));
    OK(elb_fit_travel(fit, &lower, &upper));
    CHECK(lower == 10 && upper == 60);
    OK(elb_fit_expected(fit, 35, &expected));
    CHECK(fabs(expected - 37) < 0.2);
    OK(elb_fit_expected(fit, NAN, &expected));
    CHECK(isnan(expected));
    EXPECT(ELB_STATUS_ABSENT, elb_fit_lost_motion(fit, &lost));
    CHECK(lost.value == -1);
    OK(elb_fit_lost_motion_text(fit, &text));
    CHECK(strstr(text, "is not given; note from which side") != NULL);
    OK(elb_fit_rejected_count(fit, &n));
    CHECK(n == 0);
    elb_fit_free(fit);
    elb_fit_free(NULL);
}

static void refusals(void) {
    elb_readings readings = six();
    elb_fit_options options;
    elb_fit *fit = NULL;
    elb_error error;
    double bad[] = {12.1, 21.9, NAN, 42.2, 51.9, 62.0};
    double u[] = {0.1, 0.1, 0.1, 0, 0.1, 0.1};
    const int8_t approach[] = {1, 1, 1, -1, -1, 2};
    const uint8_t contact[] = {0, 0, 4, 0, 0, 0};
    OK(elb_fit_options_init(&options, sizeof options));
    CHECK(options.guard == 2 && options.confidence == 0.95 && options.resolution == 0);

    readings.measured = bad;
    EXPECT(ELB_STATUS_NOT_FINITE, elb_fit_limits(&readings, &options, &fit, &error));
    CHECK(error.status == ELB_STATUS_NOT_FINITE && error.index == 2 && isnan(error.value));
    CHECK(strstr(error.message, "measured at index 2 is not a number") != NULL);
    readings = six();
    readings.u = u;
    EXPECT(ELB_STATUS_NOT_POSITIVE, elb_fit_limits(&readings, &options, &fit, &error));
    CHECK(error.index == 3 && error.value == 0);
    readings = six();
    readings.approach = approach;
    EXPECT(ELB_STATUS_UNKNOWN_VALUE, elb_fit_limits(&readings, &options, &fit, &error));
    CHECK(error.index == 5 && strstr(error.message, "readings.approach at index 5 is 2") != NULL);
    readings = six();
    readings.contact = contact;
    EXPECT(ELB_STATUS_UNKNOWN_VALUE, elb_fit_limits(&readings, &options, &fit, &error));
    CHECK(error.index == 2);
    readings = six();
    readings.time = bad;
    EXPECT(ELB_STATUS_NOT_FINITE, elb_fit_limits(&readings, &options, &fit, &error));
    CHECK(error.index == 2 && strstr(error.message, "time at index 2 is not a number") != NULL);
    readings = six();
    options.confidence = 2;
    EXPECT(ELB_STATUS_OPTION_OUTSIDE, elb_fit_limits(&readings, &options, &fit, &error));
    CHECK(error.value == 2 && error.index == ELB_NO_INDEX);
    readings.n = 1;
    EXPECT(ELB_STATUS_TOO_FEW_READINGS, elb_fit_limits(&readings, NULL, &fit, &error));
    readings.n = 0;
    readings.drive = NULL;
    EXPECT(ELB_STATUS_TOO_FEW_READINGS, elb_fit_limits(&readings, NULL, &fit, &error));
    readings.n = SIZE_MAX;
    readings.drive = drive;
    EXPECT(ELB_STATUS_BAD_SIZE, elb_fit_limits(&readings, NULL, &fit, &error));
    CHECK(fit == NULL);
}

/* The same six readings: half a second apart at rest, and within a tenth of a second. */
static void times(void) {
    const double rest[] = {0, 0.5, 1, 1.5, 2, 2.5}, motion[] = {0, 0.02, 0.04, 0.06, 0.08, 0.1};
    elb_readings readings = six();
    elb_fit *fit = NULL;
    elb_error error;
    CHECK(readings.time == NULL);
    readings.time = rest;
    OK(elb_fit_limits(&readings, NULL, &fit, &error));
    elb_fit_free(fit);
    fit = NULL;
    readings.time = motion;
    EXPECT(ELB_STATUS_IN_MOTION, elb_fit_limits(&readings, NULL, &fit, &error));
    CHECK(fit == NULL && strstr(error.message, "the drive moved at 500 drive units per second") != NULL);
}

/* Invented: a wing that meets its upper stop at 100, read up and down on a protractor with half degrees, nothing said of
   either; the sign of one value is wrong. */
enum { WING = 42, SHORT = 20, SLIPPED = 4 };
static double wing_drive[WING], wing_measured[WING];

static elb_readings wing(void) {
    elb_readings readings = six();
    int i;
    for (i = 0; i < WING; i++) {
        wing_drive[i] = i < WING / 2 ? 10 + 5.0 * i : 10 + 5.0 * (WING - 1 - i);
        wing_measured[i] = wing_drive[i] < 100 ? wing_drive[i] : 100;
        /* Two degrees of lost motion. */
        if (i >= WING / 2 && wing_drive[i] < 98) wing_measured[i] += 2;
        wing_measured[i] = floor(2 * (0.9 * wing_measured[i] - 20.3) + 0.5) / 2;
    }
    wing_measured[SLIPPED] = -wing_measured[SLIPPED] - 20;
    wing_measured[SLIPPED + 4] = -wing_measured[SLIPPED + 4];
    readings.n = WING;
    readings.drive = wing_drive;
    readings.measured = wing_measured;
    return readings;
}

static void what_was_inferred(void) {
    elb_readings readings = wing();
    elb_fit_options options;
    elb_fit *fit = NULL;
    int8_t approach[WING];
    double short_drive[SHORT], short_measured[SHORT], resolution = -1;
    uint32_t inferred = 7;
    int i;
    OK(elb_fit_limits(&readings, NULL, &fit, NULL));
    OK(elb_fit_resolution(fit, &resolution, &inferred));
    CHECK(resolution == 0.5 && inferred == 1);
    elb_fit_free(fit);

    /* A short table, up and down: its order tells the sides. */
    for (i = 0; i < SHORT; i++) {
        short_drive[i] = i < SHORT / 2 ? 10 + 10.0 * i : 10 + 10.0 * (SHORT - 1 - i);
        short_measured[i] = floor(2 * (0.9 * (short_drive[i] + (i < SHORT / 2 ? 0 : 2)) - 20.3) + 0.5) / 2;
    }
    readings.n = SHORT;
    readings.drive = short_drive;
    readings.measured = short_measured;
    OK(elb_fit_limits(&readings, NULL, &fit, NULL));
    OK(elb_fit_approach_inferred(fit, &inferred));
    CHECK(inferred == 1);
    elb_fit_free(fit);
    readings = wing();

    /* Given, nothing is inferred. */
    OK(elb_fit_options_init(&options, sizeof options));
    options.resolution = 0.25;
    for (i = 0; i < WING; i++) approach[i] = i < WING / 2 ? ELB_APPROACH_BELOW : ELB_APPROACH_ABOVE;
    readings.approach = approach;
    OK(elb_fit_limits(&readings, &options, &fit, NULL));
    OK(elb_fit_resolution(fit, &resolution, &inferred));
    CHECK(resolution == 0.25 && inferred == 0);
    inferred = 7;
    OK(elb_fit_approach_inferred(fit, &inferred));
    CHECK(inferred == 0);
    elb_fit_free(fit);

    /* Values on no grid. */
    readings = wing();
    for (i = 0; i < WING; i++) wing_measured[i] += 0.01 * sqrt((double)((i * 7) % 11));
    OK(elb_fit_limits(&readings, NULL, &fit, NULL));
    resolution = -1;
    EXPECT(ELB_STATUS_ABSENT, elb_fit_resolution(fit, &resolution, &inferred));
    CHECK(resolution == -1);
    elb_fit_free(fit);
}

static void advice_is_given(void) {
    elb_readings readings = wing();
    elb_fit *fit = NULL;
    elb_advice advice;
    elb_next_reading next;
    size_t i;
    OK(elb_fit_limits(&readings, NULL, &fit, NULL));
    OK(elb_fit_advice(fit, &advice));
    CHECK(advice.side == ELB_SIDE_UPPER && advice.readings > 0 && advice.reserved == 0);
    CHECK(advice.u_before > 0 && advice.u_after > 0 && advice.u_after < advice.u_before);
    for (i = 0; i < advice.readings; i++) {
        OK(elb_fit_next_reading(fit, i, &next));
        CHECK(next.drive > 60 && next.drive <= 110 && next.reserved == 0);
        CHECK(next.approach == ELB_APPROACH_BELOW || next.approach == ELB_APPROACH_ABOVE);
    }
    EXPECT(ELB_STATUS_ABSENT, elb_fit_next_reading(fit, i, &next));
    elb_fit_free(fit);

    /* Both ends proven clear. */
    readings.n = 15;
    wing_measured[SLIPPED] = 0.9 * wing_drive[SLIPPED] - 20.3;
    wing_measured[SLIPPED + 4] = 0.9 * wing_drive[SLIPPED + 4] - 20.3;
    OK(elb_fit_limits(&readings, NULL, &fit, NULL));
    EXPECT(ELB_STATUS_ABSENT, elb_fit_advice(fit, &advice));
    EXPECT(ELB_STATUS_ABSENT, elb_fit_next_reading(fit, 0, &next));
    elb_fit_free(fit);
}

static void slips_are_named(void) {
    elb_readings readings = wing();
    elb_fit *fit = NULL;
    elb_rejected rejected;
    const char *word = NULL;
    size_t n = 0;
    OK(elb_fit_limits(&readings, NULL, &fit, NULL));
    OK(elb_fit_rejected_count(fit, &n));
    CHECK(n == 2);
    OK(elb_fit_rejected(fit, 0, &rejected));
    CHECK(rejected.index == SLIPPED && rejected.cause == ELB_SLIP_NONE && rejected.reason == ELB_REJECT_OFF_THE_LINE);
    EXPECT(ELB_STATUS_ABSENT, elb_fit_rejected_slip(fit, 0, &word));
    CHECK(word == NULL);
    OK(elb_fit_rejected(fit, 1, &rejected));
    CHECK(rejected.index == SLIPPED + 4 && rejected.cause == ELB_SLIP_SIGN);
    OK(elb_fit_rejected_slip(fit, 1, &word));
    CHECK(word != NULL && strcmp(word, "sign") == 0);
    EXPECT(ELB_STATUS_ABSENT, elb_fit_rejected_slip(fit, 2, &word));
    elb_fit_free(fit);
}

/* Whether a fit of these readings warns in these words. */
static int warns(const elb_readings *readings, const char *words) {
    elb_fit *fit = NULL;
    const char *text = NULL;
    size_t n = 0, i;
    int found = 0;
    OK(elb_fit_limits(readings, NULL, &fit, NULL));
    OK(elb_fit_warning_count(fit, &n));
    for (i = 0; i < n; i++) {
        OK(elb_fit_warning(fit, i, &text));
        found |= strstr(text, words) != NULL;
    }
    elb_fit_free(fit);
    return found;
}

/* A skipped tooth, and an end that fell short. */
static void warnings_have_words(void) {
    elb_readings readings = six();
    double x[20], y[20];
    elb_fit *fit = NULL;
    elb_fit_end end;
    int i;
    for (i = 0; i < 20; i++) {
        x[i] = 5.0 * i;
        y[i] = x[i] + ((i * 7) % 5 - 2) * 0.05 + (i > 9 ? 6 : 0);
    }
    readings.n = 20;
    readings.drive = x;
    readings.measured = y;
    CHECK(warns(&readings, "a tooth was skipped"));
    for (i = 0; i < 20; i++) y[i] = x[i] + ((i * 7) % 5 - 2) * 0.05 - (i == 19 ? 3 : 0);
    CHECK(warns(&readings, "short of the line"));
    OK(elb_fit_limits(&readings, NULL, &fit, NULL));
    OK(elb_fit_end_of(fit, ELB_SIDE_UPPER, &end));
    CHECK(end.kind == ELB_END_STALLED && end.at == 90 && end.short_at == 95);
    elb_fit_free(fit);
}

void test_fit(void) {
    what_was_inferred();
    advice_is_given();
    slips_are_named();
    warnings_have_words();
    times();
    bend_is_told();
    no_stop_met();
    refusals();
}
