/* Straight lines against published values, and many joints at once. */
#include "check.h"
#include <math.h>
#include <stdlib.h>

static int near(double got, double wanted, double relative) { return fabs(got - wanted) <= relative * fabs(wanted); }

/* JCGM 100:2008 (GUM), H.3: corrections of a thermometer, t - 20 deg C; table H.6 and H.3.3 to H.3.4. */
static void thermometer(void) {
    const double x[] = {1.521, 2.012, 2.512, 3.003, 3.507, 3.999, 4.513, 5.002, 5.503, 6.01, 6.511};
    const double y[] = {-0.171, -0.169, -0.166, -0.159, -0.164, -0.165, -0.156, -0.157, -0.159, -0.161, -0.16};
    elb_line *line = NULL;
    elb_line_values values;
    elb_estimate at30;
    double factor;

    OK(elb_line_new(x, y, NULL, NULL, 11, &line, NULL));
    OK(elb_line_values_of(line, &values));
    CHECK(near(values.intercept, -0.17120379013134998, 1e-9) && near(values.u_intercept, 0.0028775978351599537, 1e-9));
    CHECK(near(values.slope, 0.002182697739887278, 1e-9) && near(values.u_slope, 0.0006679387732278317, 1e-9));
    CHECK(near(values.covariance, -1.788340748673916e-06, 1e-9) && near(values.residual_sd, 0.003497563963505284, 1e-9));
    CHECK(near(values.sum_of_squares, 0.00011009658310929713, 1e-9));
    CHECK(values.dof == 9 && values.n == 11 && values.stated_u == 0 && values.reserved == 0);
    OK(elb_line_predict(line, 10, 0, &at30));
    CHECK(near(at30.value, -0.1493768127324772, 1e-9) && near(at30.u, 0.004138595752854948, 1e-9));
    /* Student's t, 9 degrees of freedom, 95 %: GUM table G.2. */
    OK(elb_line_coverage_factor(line, 0.95, &factor));
    CHECK(fabs(factor - 2.26) < 0.005);
    OK(elb_line_coverage_factor(line, 1, &factor));
    CHECK(isnan(factor));
    OK(elb_line_predict(line, NAN, 0, &at30));
    CHECK(isnan(at30.value));
    elb_line_free(line);
}

/* NIST StRD linear regression, Norris: certified values. */
static void norris(void) {
    const double y[] = {0.1,   338.8, 118.1, 888.0, 9.2,   228.1, 668.5, 998.5, 449.1, 778.9, 559.2, 0.3,
                        0.1,   778.1, 668.8, 339.3, 448.9, 10.8,  557.7, 228.3, 998.0, 888.8, 119.6, 0.3,
                        0.6,   557.6, 339.3, 888.0, 998.5, 778.9, 10.2,  117.6, 228.9, 668.4, 449.2, 0.2};
    const double x[] = {0.2,   337.4, 118.2, 884.6, 10.1,  226.5, 666.3, 996.3, 448.6, 777.0, 558.2, 0.4,
                        0.6,   775.5, 666.9, 338.0, 447.5, 11.6,  556.0, 228.1, 995.8, 887.6, 120.2, 0.3,
                        0.3,   556.8, 339.1, 887.2, 999.0, 779.0, 11.1,  118.3, 229.2, 669.1, 448.9, 0.5};
    elb_line *line = NULL;
    elb_line_values values;

    OK(elb_line_new(x, y, NULL, NULL, 36, &line, NULL));
    OK(elb_line_values_of(line, &values));
    CHECK(near(values.intercept, -0.262323073774029, 1e-10) && near(values.slope, 1.00211681802045, 1e-10));
    CHECK(near(values.u_intercept, 0.232818234301152, 1e-10) && near(values.u_slope, 0.000429796848199937, 1e-10));
    CHECK(near(values.residual_sd, 0.884796396144373, 1e-10) && near(values.r_squared, 0.999993745883712, 1e-10));
    elb_line_free(line);
}

/* ISO/TS 28037:2010, 6.3 (weights, forward and inverse) and 7.4 (both coordinates uncertain). */
static void iso28037(void) {
    const double x[] = {1, 2, 3, 4, 5, 6};
    const double y[] = {3.3, 5.6, 7.1, 9.3, 10.7, 12.1};
    const double u[] = {0.5, 0.5, 0.5, 0.5, 0.5, 0.5};
    const double x2[] = {1.2, 1.9, 2.9, 4.0, 4.7, 5.9}, u_x2[] = {0.2, 0.2, 0.2, 0.2, 0.2, 0.2};
    const double y2[] = {3.4, 4.4, 7.2, 8.5, 10.8, 13.5}, u_y2[] = {0.2, 0.2, 0.2, 0.4, 0.4, 0.4};
    const double zero[] = {0.2, 0.2, 0, 0.2, 0.2, 0.2};
    /* The square of this slope, 1e159, is beyond a double, so that no point has a weight. */
    const double close[] = {1e-60, 2e-60, 3e-60, 4e-60, 5e-60, 6e-60}, far[] = {0, 1e99, 2e99, 3e99, 4e99, 5e99};
    const double seen = 10.5, lost = NAN;
    elb_line *line = NULL;
    elb_line_values values;
    elb_estimate found;
    elb_error error;

    OK(elb_line_new(x, y, NULL, u, 6, &line, &error));
    OK(elb_line_values_of(line, &values));
    CHECK(near(values.slope, 1.7571428571428571, 1e-9) && near(values.intercept, 1.8666666666666667, 1e-9));
    CHECK(near(values.u_slope, 0.11952286093343936, 1e-9) && near(values.u_intercept, 0.4654746681256314, 1e-9));
    CHECK(near(values.covariance, -0.05, 1e-9) && near(values.sum_of_squares, 1.6647619047619047, 1e-9));
    CHECK(values.stated_u == 1 && values.dof == 4);
    OK(elb_line_inverse(line, &seen, 1, 0.5, &found));
    CHECK(near(found.value, 4.913279132791328, 1e-9) && near(found.u, 0.32203556012891005, 1e-9));
    OK(elb_line_predict(line, 3.5, 0.2, &found));
    CHECK(near(found.value, 8.016666666666667, 1e-9) && near(found.u, 0.4064095317324548, 1e-9));

    EXPECT(ELB_STATUS_ABSENT, elb_line_inverse(line, NULL, 0, 0.5, &found));
    EXPECT(ELB_STATUS_ABSENT, elb_line_inverse(line, &lost, 1, 0.5, &found));
    EXPECT(ELB_STATUS_NULL_POINTER, elb_line_inverse(NULL, &seen, 1, 0.5, &found));
    EXPECT(ELB_STATUS_NULL_POINTER, elb_line_inverse(line, NULL, 1, 0.5, &found));
    EXPECT(ELB_STATUS_NULL_POINTER, elb_line_inverse(line, &seen, 1, 0.5, NULL));
    EXPECT(ELB_STATUS_NULL_POINTER, elb_line_predict(NULL, 1, 0, &found));
    EXPECT(ELB_STATUS_NULL_POINTER, elb_line_predict(line, 1, 0, NULL));
    EXPECT(ELB_STATUS_NULL_POINTER, elb_line_values_of(NULL, &values));
    EXPECT(ELB_STATUS_NULL_POINTER, elb_line_values_of(line, NULL));
    EXPECT(ELB_STATUS_NULL_POINTER, elb_line_coverage_factor(NULL, 0.95, &found.u));
    EXPECT(ELB_STATUS_NULL_POINTER, elb_line_coverage_factor(line, 0.95, NULL));
    elb_line_free(line);
    elb_line_free(NULL);

    OK(elb_line_new(x2, y2, u_x2, u_y2, 6, &line, NULL));
    OK(elb_line_values_of(line, &values));
    CHECK(near(values.slope, 2.1596565673992933, 1e-6) && near(values.intercept, 0.5788221221494984, 1e-6));
    CHECK(near(values.sum_of_squares, 2.742676789730967, 1e-6));
    CHECK(near(values.u_slope, 0.1355, 0.02) && near(values.u_intercept, 0.4764, 0.02));
    elb_line_free(line);

    line = NULL;
    EXPECT(ELB_STATUS_NULL_POINTER, elb_line_new(NULL, y, NULL, NULL, 6, &line, &error));
    EXPECT(ELB_STATUS_NULL_POINTER, elb_line_new(x, NULL, NULL, NULL, 6, &line, &error));
    EXPECT(ELB_STATUS_NULL_POINTER, elb_line_new(x, y, u, NULL, 6, &line, &error));
    EXPECT(ELB_STATUS_NULL_POINTER, elb_line_new(x, y, NULL, NULL, 6, NULL, &error));
    EXPECT(ELB_STATUS_TOO_FEW_READINGS, elb_line_new(x, y, NULL, NULL, 2, &line, &error));
    EXPECT(ELB_STATUS_TOO_FEW_READINGS, elb_line_new(NULL, NULL, NULL, NULL, 0, &line, &error));
    EXPECT(ELB_STATUS_DRIVE_ANGLES_EQUAL, elb_line_new(u, y, NULL, NULL, 6, &line, &error));
    EXPECT(ELB_STATUS_NOT_POSITIVE, elb_line_new(x, y, NULL, zero, 6, &line, &error));
    CHECK(error.index == 2 && line == NULL);
    EXPECT(ELB_STATUS_NO_AGREEMENT, elb_line_new(close, far, u, u, 6, &line, &error));
    CHECK(line == NULL && error.status == ELB_STATUS_NO_AGREEMENT);
    CHECK(strstr(error.message, "of 6 readings agree") != NULL);
}

/* Three joints, of which one does not move and one has no readings at all. */
static void many(void) {
    enum { N = 19 };
    double drive[N], met[N], still[N];
    elb_readings given[3];
    const elb_readings *joints[4];
    elb_fit *fits[4] = {NULL, NULL, NULL, NULL}, *alone = NULL;
    elb_status statuses[4];
    elb_error errors[4], error;
    elb_fit_end one, other;
    elb_fit_options options;
    int i;

    for (i = 0; i < N; i++) {
        drive[i] = 5.0 * i;
        met[i] = drive[i] < 21 ? 21 : drive[i];
        still[i] = 3;
    }
    for (i = 0; i < 3; i++) {
        OK(elb_readings_init(&given[i], sizeof given[i]));
        given[i].n = N;
        given[i].drive = drive;
        given[i].measured = i == 1 ? still : met;
        joints[i] = &given[i];
    }
    joints[3] = NULL;
    memset(errors, 0, sizeof errors);
    OK(elb_fit_options_init(&options, sizeof options));
    OK(elb_fit_many(joints, 4, &options, fits, statuses, errors, &error));
    CHECK(statuses[0] == ELB_STATUS_OK && statuses[1] == ELB_STATUS_NO_MOTION);
    CHECK(statuses[2] == ELB_STATUS_OK && statuses[3] == ELB_STATUS_NULL_POINTER);
    CHECK(fits[0] != NULL && fits[1] == NULL && fits[2] != NULL && fits[3] == NULL);
    CHECK(errors[1].message[0] != 0 && errors[0].message[0] == 0);
    OK(elb_fit_limits(&given[0], &options, &alone, NULL));
    OK(elb_fit_end_of(alone, ELB_SIDE_LOWER, &one));
    for (i = 0; i < 4; i++) {
        if (fits[i] != NULL) {
            OK(elb_fit_end_of(fits[i], ELB_SIDE_LOWER, &other));
            CHECK(memcmp(&one, &other, sizeof one) == 0);
            elb_fit_free(fits[i]);
        }
    }
    elb_fit_free(alone);

    OK(elb_fit_many(joints, 1, NULL, fits, statuses, NULL, NULL));
    elb_fit_free(fits[0]);
    OK(elb_fit_many(NULL, 0, NULL, NULL, NULL, NULL, NULL));
    EXPECT(ELB_STATUS_NULL_POINTER, elb_fit_many(NULL, 1, NULL, fits, statuses, errors, &error));
    EXPECT(ELB_STATUS_NULL_POINTER, elb_fit_many(joints, 1, NULL, NULL, statuses, errors, &error));
    EXPECT(ELB_STATUS_NULL_POINTER, elb_fit_many(joints, 1, NULL, fits, NULL, errors, &error));
    options.size = 1;
    EXPECT(ELB_STATUS_BAD_SIZE, elb_fit_many(joints, 1, &options, fits, statuses, errors, &error));
}

void test_line(void) {
    thermometer();
    norris();
    iso28037();
    many();
}
