/* What the C library costs, beside the same written by hand: both sides in one run, as ratios, with limits that end the run as
 * failed where they are broken.
 *
 * Calls: each of the control loop against the same arithmetic in C, behind one call of a shared library (by_hand.c,
 * built by the same compiler with the same flags for the same processor); all joints of a robot in one call against the
 * calls by hand, joint by joint.
 * Batch: f64 to u16, once out of the cache and once out of memory, against a loop by hand with the same instructions
 * (AVX2 where the processor has it): one line, rounded and held to its ends, without a look at what is not finite.
 *
 * Both sides take turns at going first, so that neither always finds the commands fresh in the cache; the medians of
 * the rounds' times and ratios are shown, so that a busy machine disturbs both alike. */
#define _POSIX_C_SOURCE 199309L
#include "by_hand.h"
#include <elbowroom.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <time.h>

enum { N = 1000000, ROUNDS = 41, JOINTS = 17, FRAMES = 40000, CACHED = 1024, REPEATS = 1000 };

static elb_joint *joint;
static elb_robot *robot;
static by_hand_joint hand;
static by_hand_joint hands[JOINTS];
static double command[N];
static uint16_t narrow[2][N];
static uint32_t sum;

static double now(void) {
    struct timespec t;
    /* Processor time, not wall time: what other programs take does not count. */
    clock_gettime(CLOCK_PROCESS_CPUTIME_ID, &t);
    return (double)t.tv_sec + 1e-9 * (double)t.tv_nsec;
}

/* One side of a comparison over all commands: a loop of calls that ends the program should one be refused. */
#define CALLS(name, type, call, value)                    \
    static void name(void) {                              \
        int i;                                            \
        for (i = 0; i < N; i++) {                         \
            type out;                                     \
            if (call) exit(1);                            \
            sum += (uint32_t)(value);                     \
        }                                                 \
    }
CALLS(counts, elb_conversion, elb_joint_counts(joint, command[i], &out), out.value + out.flags)
CALLS(counts_by_hand, by_hand_conversion, by_hand_counts(&hand, command[i], &out), out.value + out.flags)
CALLS(drive, elb_conversion, elb_joint_drive(joint, command[i], &out), out.flags)
CALLS(drive_by_hand, by_hand_conversion, by_hand_drive(&hand, command[i], &out), out.flags)
CALLS(pulse_us, elb_conversion, elb_joint_pulse_us(joint, command[i], &out), out.flags)
CALLS(pulse_us_by_hand, by_hand_conversion, by_hand_pulse_us(&hand, command[i], &out), out.flags)

/* A robot's joints, frame after frame. */
static void robot_counts(void) {
    int frame;
    for (frame = 0; frame < FRAMES; frame++) {
        uint32_t out[JOINTS], flags[JOINTS];
        if (elb_robot_counts(robot, command + frame, JOINTS, out, flags, NULL)) exit(1);
        sum += out[frame % JOINTS] + flags[frame % JOINTS];
    }
}

static void robot_by_hand(void) {
    int frame, i;
    for (frame = 0; frame < FRAMES; frame++) {
        uint32_t out[JOINTS], flags[JOINTS];
        for (i = 0; i < JOINTS; i++) {
            by_hand_conversion one;
            if (by_hand_counts(&hands[i], command[frame + i], &one)) exit(1);
            out[i] = (uint32_t)one.value, flags[i] = one.flags;
        }
        sum += out[frame % JOINTS] + flags[frame % JOINTS];
    }
}

static void batch(void) {
    if (elb_joint_counts_batch(joint, command, N, narrow[0], NULL)) exit(1);
}

static void plain(void) { by_hand_batch(&hand, command, N, narrow[1]); }

static void batch_cached(void) {
    int i;
    for (i = 0; i < REPEATS; i++)
        if (elb_joint_counts_batch(joint, command, CACHED, narrow[0], NULL)) exit(1);
}

static void plain_cached(void) {
    int i;
    for (i = 0; i < REPEATS; i++) by_hand_batch(&hand, command, CACHED, narrow[1]);
}

static double seconds(void (*side)(void)) {
    const double start = now();
    side();
    return now() - start;
}

static int rising(const void *a, const void *b) {
    const double x = *(const double *)a, y = *(const double *)b;
    return (x > y) - (x < y);
}

static double median(double *values) {
    qsort(values, ROUNDS, sizeof *values, rising);
    return values[ROUNDS / 2];
}

/* Medians of both sides' ns an element, and of ours over theirs. */
static void compare(void (*ours)(void), void (*theirs)(void), int elements, double medians[3]) {
    static double times[3][ROUNDS];
    int round;
    for (round = 0; round < ROUNDS; round++) {
        if (round % 2) times[1][round] = seconds(theirs);
        times[0][round] = seconds(ours);
        if (round % 2 == 0) times[1][round] = seconds(theirs);
        times[2][round] = times[0][round] / times[1][round];
    }
    medians[0] = median(times[0]) / elements * 1e9;
    medians[1] = median(times[1]) / elements * 1e9;
    medians[2] = median(times[2]);
}

/* Time by ours over that by hand; 1 if it is more than allowed. */
static int call(const char *name, void (*ours)(void), void (*theirs)(void), int elements, double most) {
    double medians[3];
    compare(ours, theirs, elements, medians);
    printf("%-20s %6.2f ns, by hand %6.2f ns; ratio %.2f (%.1f is the most allowed)%s\n", name, medians[0], medians[1], medians[2],
           most, medians[2] > most ? " BROKEN" : "");
    return medians[2] > most;
}

/* Speed of ours over that by hand: 10 bytes an element, 8 read and 2 written; 1 if it is less than allowed. */
static int speed(const char *name, void (*ours)(void), void (*theirs)(void), int elements, double least) {
    double medians[3];
    compare(ours, theirs, elements, medians);
    printf("%-20s %6.2f GB/s, by hand %.2f GB/s (%s); ratio %.2f (%.1f is the least allowed)%s\n", name, 10 / medians[0],
           10 / medians[1], by_hand_instructions(), 1 / medians[2], least, 1 / medians[2] < least ? " BROKEN" : "");
    return 1 / medians[2] < least;
}

/* Whether both sides say the same of a command, to the bit. */
static int same(double x) {
    elb_conversion ours[3];
    by_hand_conversion theirs[3];
    int i, alike = 1;
    if (elb_joint_drive(joint, x, &ours[0]) || by_hand_drive(&hand, x, &theirs[0]) ||
        elb_joint_pulse_us(joint, x, &ours[1]) || by_hand_pulse_us(&hand, x, &theirs[1]) ||
        elb_joint_counts(joint, x, &ours[2]) || by_hand_counts(&hand, x, &theirs[2]))
        return 0;
    for (i = 0; i < 3; i++) alike &= ours[i].value == theirs[i].value && ours[i].flags == theirs[i].flags;
    return alike;
}

/* A robot of so many joints like the one. */
static int make_robot(void) {
    static char text[8192] = "format = 1\ntimer = { frame_hz = 50, counts_per_frame = 4096 }\n"
                             "servo = { angle = [0, 180], pulse_us = [500, 2500] }\n";
    int i;
    for (i = 0; i < JOINTS; i++) {
        sprintf(text + strlen(text), "[joint.j%d]\ncommand = [-40, 60]\ndrive = [37, 122]\nrest = 10\n", i);
        hands[i] = by_hand_example();
    }
    return elb_robot_parse(text, strlen(text), &robot, NULL) != ELB_STATUS_OK;
}

int main(void) {
    elb_joint_config config;
    int differences = 0, broken = 0, i;

    if (elb_joint_config_init(&config, sizeof config)) return 1;
    config.command[0] = -40, config.command[1] = 60;
    config.drive[0] = 37, config.drive[1] = 122;
    config.rest = 10;
    config.servo.pulse_us[0] = 500, config.servo.pulse_us[1] = 2500;
    config.timer.counts_per_frame = 4096;
    if (elb_joint_new(&config, &joint, NULL) || make_robot()) return 1;
    hand = by_hand_example();
    for (i = 0; i < N; i++) command[i] = (double)rand() / RAND_MAX * 120 - 50;
    for (i = 0; i < N; i++) differences += !same(command[i]);
    batch();
    plain();
    for (i = 0; i < N; i++) differences += narrow[0][i] != narrow[1][i];
    printf("same results by both: %s\n", differences == 0 ? "yes" : "NO");

    broken += call("elb_joint_counts", counts, counts_by_hand, N, 1.0);
    broken += call("elb_joint_drive", drive, drive_by_hand, N, 1.0);
    broken += call("elb_joint_pulse_us", pulse_us, pulse_us_by_hand, N, 1.0);
    broken += call("elb_robot_counts", robot_counts, robot_by_hand, FRAMES * JOINTS, 0.9);
    broken += speed("batch in the cache", batch_cached, plain_cached, CACHED * REPEATS, 0.9);
    broken += speed("batch of 10^6", batch, plain, N, 0.9);
    elb_robot_free(robot);
    elb_joint_free(joint);
    return differences != 0 || broken != 0 || sum == 0;
}
