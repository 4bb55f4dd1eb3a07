/* What a call costs: the table of the header and of the README.
 *
 *     cc -O2 calls.c $(pkg-config --cflags --libs elbowroom) && ./a.out tests/data/heron.toml
 *
 * Prints the least time of many runs, since anything else that the machine does only adds to it. */
#define _POSIX_C_SOURCE 199309L
#include <elbowroom.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <time.h>

enum { RUNS = 30, VALUES = 1000 };

static double now_ns(void) {
    struct timespec t;
    clock_gettime(CLOCK_MONOTONIC, &t);
    return 1e9 * (double)t.tv_sec + (double)t.tv_nsec;
}

static double command[VALUES], value[VALUES];
static uint16_t counts16[VALUES];
static uint32_t counts32[VALUES];
static volatile double sink;

/* The least time of one run of `body`, divided by `n`. */
#define LEAST(n, body)                                                                     \
    do {                                                                                   \
        double least = INFINITY;                                                           \
        for (int run = 0; run < RUNS; run++) {                                             \
            const double start = now_ns();                                                 \
            body;                                                                          \
            const double spent = now_ns() - start;                                         \
            if (spent < least) least = spent;                                              \
        }                                                                                  \
        took = least / (n);                                                                \
    } while (0)

#define MUST(call)                                                                         \
    do {                                                                                   \
        if ((call) != ELB_STATUS_OK) {                                                     \
            fprintf(stderr, "line %d: %s\n", __LINE__, error.message);                     \
            exit(1);                                                                       \
        }                                                                                  \
    } while (0)

static void say(const char *what, double ns) {
    if (ns < 1e3) printf("%-44s %8.3g ns\n", what, ns);
    else if (ns < 1e6) printf("%-44s %8.3g us\n", what, ns / 1e3);
    else printf("%-44s %8.3g ms\n", what, ns / 1e6);
}

int main(int argc, char **argv) {
    elb_error error = {0};
    elb_robot *robot;
    const elb_joint *wing, *beak;
    elb_ramp *ramp;
    elb_conversion out;
    double took;
    size_t done, n, i;
    if (argc < 2) return 2;
    MUST(elb_robot_load(argv[1], &robot, &error));
    MUST(elb_robot_joint(robot, "wing_left", &wing));
    MUST(elb_robot_joint(robot, "beak", &beak));
    MUST(elb_robot_joint_count(robot, &n));
    for (i = 0; i < VALUES; i++) command[i] = (double)i * 35 / VALUES;

    LEAST(VALUES, for (i = 0; i < VALUES; i++) MUST(elb_joint_counts(wing, command[i], &out)));
    say("elb_joint_counts", took);
    LEAST(VALUES, for (i = 0; i < VALUES; i++) MUST(elb_joint_pulse_us(wing, command[i], &out)));
    say("elb_joint_pulse_us", took);
    LEAST(VALUES, for (i = 0; i < VALUES; i++) MUST(elb_joint_counts(beak, command[i], &out)));
    say("elb_joint_counts, linkage (triangle)", took);
    LEAST(VALUES, for (i = 0; i < VALUES; i++) MUST(elb_joint_command_from_counts(wing, 200 + (uint32_t)i % 170, &value[0])));
    say("elb_joint_command_from_counts", took);
    LEAST(VALUES, for (i = 0; i < VALUES; i++) MUST(elb_joint_command_from_reading(wing, 250 + (double)(i % 500), &value[0])));
    say("elb_joint_command_from_reading", took);
    LEAST(VALUES, MUST(elb_joint_counts_batch(wing, command, VALUES, counts16, &done)));
    say("elb_joint_counts_batch, each of 1000", took);
    for (i = 0; i < n; i++) command[i] = 1;
    LEAST((double)n * 100, for (int k = 0; k < 100; k++) MUST(elb_robot_counts(robot, command, n, counts32, NULL, NULL)));
    say("elb_robot_counts, each of 17 joints", took);
    MUST(elb_ramp_of_joint(wing, 10, 0, 0, 50, &ramp, &error));
    LEAST(VALUES, for (i = 0; i < VALUES; i++) MUST(elb_ramp_follow(ramp, i & 64 ? 20 : 0, &value[0])));
    say("elb_ramp_follow", took);
    {
        elb_joint_config config;
        elb_joint *joint;
        MUST(elb_joint_config_of(wing, &config, sizeof config));
        LEAST(100, for (i = 0; i < 100; i++) {
            MUST(elb_joint_new(&config, &joint, &error));
            elb_joint_free(joint);
        });
        say("elb_joint_new and elb_joint_free", took);
    }
    {
        elb_robot *again;
        elb_findings *findings;
        LEAST(1, {
            MUST(elb_robot_load(argv[1], &again, &error));
            elb_robot_free(again);
        });
        say("elb_robot_load, 17 joints", took);
        LEAST(1, {
            MUST(elb_robot_check(robot, "2026-11-25", &findings, &error));
            elb_findings_free(findings);
        });
        say("elb_robot_check, 17 joints", took);
    }
    {
        static double drive[42], measured[42];
        elb_readings readings;
        elb_fit *fit;
        for (i = 0; i < 42; i++) {
            drive[i] = 10 + (double)(i < 21 ? i : 41 - i) * 4;
            measured[i] = 5 + 1.1 * (drive[i] > 75 ? 75 : drive[i]) + 0.2 * sin(12.9898 * (double)i);
        }
        MUST(elb_readings_init(&readings, sizeof readings));
        readings.n = 42;
        readings.drive = drive;
        readings.measured = measured;
        LEAST(1, {
            MUST(elb_fit_limits(&readings, NULL, &fit, &error));
            elb_fit_free(fit);
        });
        say("elb_fit_limits, 42 readings", took);
    }
    sink = value[0] + out.value + counts16[0] + counts32[0];
    elb_ramp_free(ramp);
    elb_robot_free(robot);
    return 0;
}
