/* What the C library costs, beside the same written by hand: both sides in one run, as ratios.
 *
 * Calls: each of the control loop against the same arithmetic in C, behind one call of a shared library (by_hand.c,
 * built by the same compiler with the same flags for the same processor).
 * Batch: 10^6 commands, f64 to u16, against a plain loop that reads a double and writes a uint16_t, which is as little
 * as such a batch can be.
 *
 * Both sides take turns at going first, so that neither always finds the commands fresh in the cache; the medians of
 * the rounds' times and ratios are shown, so that a busy machine disturbs both alike. */
#define _POSIX_C_SOURCE 199309L
#include "by_hand.h"
#include <elbowroom.h>
#include <stdio.h>
#include <stdlib.h>
#include <time.h>

enum { N = 1000000, ROUNDS = 41 };

static elb_joint *joint;
static by_hand_joint hand;
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
CALLS(counts, elb_conversion, elb_joint_counts(joint, command[i], &out), out.value)
CALLS(counts_by_hand, by_hand_conversion, by_hand_counts(&hand, command[i], &out), out.value)
CALLS(drive, elb_conversion, elb_joint_drive(joint, command[i], &out), out.flags)
CALLS(drive_by_hand, by_hand_conversion, by_hand_drive(&hand, command[i], &out), out.flags)
CALLS(pulse_us, elb_conversion, elb_joint_pulse_us(joint, command[i], &out), out.flags)
CALLS(pulse_us_by_hand, by_hand_conversion, by_hand_pulse_us(&hand, command[i], &out), out.flags)

static void batch(void) {
    if (elb_joint_counts_batch(joint, command, N, narrow[0], NULL)) exit(1);
}

static void plain(void) { by_hand_read_write(command, N, narrow[1]); }

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

/* Medians of both sides' ns an element, and of theirs over ours. */
static void compare(void (*ours)(void), void (*theirs)(void), double medians[3]) {
    static double times[3][ROUNDS];
    int round;
    for (round = 0; round < ROUNDS; round++) {
        if (round % 2) times[1][round] = seconds(theirs);
        times[0][round] = seconds(ours);
        if (round % 2 == 0) times[1][round] = seconds(theirs);
        times[2][round] = times[0][round] / times[1][round];
    }
    medians[0] = median(times[0]) / N * 1e9;
    medians[1] = median(times[1]) / N * 1e9;
    medians[2] = median(times[2]);
}

static void call(const char *name, void (*ours)(void), void (*theirs)(void), const char *remark) {
    double medians[3];
    compare(ours, theirs, medians);
    printf("%-18s %6.2f ns, by hand %6.2f ns; ratio %.2f %s\n", name, medians[0], medians[1], medians[2], remark);
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

int main(void) {
    elb_joint_config config;
    double medians[3];
    int differences = 0, i;

    if (elb_joint_config_init(&config, sizeof config)) return 1;
    config.command[0] = -40, config.command[1] = 60;
    config.drive[0] = 37, config.drive[1] = 122;
    config.rest = 10;
    config.servo_pulse_us[0] = 500, config.servo_pulse_us[1] = 2500;
    config.counts_per_frame = 4096;
    if (elb_joint_new(&config, &joint, NULL)) return 1;
    hand = by_hand_example();
    for (i = 0; i < N; i++) command[i] = (double)rand() / RAND_MAX * 200 - 10;
    for (i = 0; i < N; i++) differences += !same(command[i]);
    printf("same results by both: %s\n", differences == 0 ? "yes" : "NO");

    call("elb_joint_counts", counts, counts_by_hand, "like for like (1.2 is the most allowed)");
    call("elb_joint_drive", drive, drive_by_hand, "like for like");
    call("elb_joint_pulse_us", pulse_us, pulse_us_by_hand, "like for like");
    compare(batch, plain, medians);
    /* 10 bytes an element: 8 read and 2 written. */
    printf("batch of 10^6      %6.2f GB/s, plain read and write %.2f GB/s; ratio %.2f (0.8 is the least allowed)\n",
           10 / medians[0], 10 / medians[1], 1 / medians[2]);
    elb_joint_free(joint);
    return differences != 0 || sum == 0;
}
