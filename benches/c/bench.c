/* What the C library costs, beside the same written by hand: both sides in one run, as ratios.
 *
 * Call: elb_joint_counts against the same arithmetic in C, behind one call of a shared library (by_hand.c, built by
 * the same compiler with the same flags for the same processor).
 * Batch: 10^6 commands, f64 to u16, against a plain loop that reads a double and writes a uint16_t, which is as little
 * as such a batch can be.
 *
 * Each round times all sides in turn; the median of the rounds' ratios is shown, so that a busy machine disturbs all
 * sides alike. */
#define _POSIX_C_SOURCE 199309L
#include "by_hand.h"
#include <elbowroom.h>
#include <stdio.h>
#include <stdlib.h>
#include <time.h>

enum { CALLS = 1000000, BATCH = 1000000, ROUNDS = 41 };

static double now(void) {
    struct timespec t;
    /* Processor time, not wall time: what other programs take does not count. */
    clock_gettime(CLOCK_PROCESS_CPUTIME_ID, &t);
    return (double)t.tv_sec + 1e-9 * (double)t.tv_nsec;
}

static int rising(const void *a, const void *b) {
    const double x = *(const double *)a, y = *(const double *)b;
    return (x > y) - (x < y);
}

static double median(double *values) {
    qsort(values, ROUNDS, sizeof *values, rising);
    return values[ROUNDS / 2];
}

int main(void) {
    static double command[BATCH];
    static uint16_t counts[BATCH], plain[BATCH];
    static double call[ROUNDS], call_by_hand[ROUNDS], call_ratio[ROUNDS];
    static double batch[ROUNDS], batch_plain[ROUNDS], batch_ratio[ROUNDS];
    elb_joint_config config;
    elb_joint *joint = NULL;
    by_hand_joint hand = by_hand_example();
    uint32_t differences = 0, sum = 0;
    int i, round;

    if (elb_joint_config_init(&config, sizeof config)) return 1;
    config.command[1] = 180;
    config.drive[0] = 5, config.drive[1] = 80;
    config.rest = 90;
    config.servo_pulse_us[0] = 500, config.servo_pulse_us[1] = 2500;
    config.counts = 4096;
    if (elb_joint_new(&config, &joint, NULL)) return 1;
    for (i = 0; i < BATCH; i++) command[i] = (double)rand() / RAND_MAX * 200 - 10;

    for (i = 0; i < BATCH; i++) {
        uint32_t one = 0, other = 1;
        if (elb_joint_counts(joint, command[i], &one) || by_hand_counts(&hand, command[i], &other)) return 1;
        differences += one != other;
    }
    for (round = 0; round < ROUNDS; round++) {
        double start = now();
        for (i = 0; i < CALLS; i++) {
            uint32_t one = 0;
            if (elb_joint_counts(joint, command[i], &one)) return 1;
            sum += one;
        }
        call[round] = now() - start;
        start = now();
        for (i = 0; i < CALLS; i++) {
            uint32_t one = 0;
            if (by_hand_counts(&hand, command[i], &one)) return 1;
            sum += one;
        }
        call_by_hand[round] = now() - start;
        call_ratio[round] = call[round] / call_by_hand[round];

        start = now();
        if (elb_joint_counts_batch(joint, command, BATCH, counts, NULL)) return 1;
        batch[round] = now() - start;
        start = now();
        by_hand_read_write(command, BATCH, plain);
        batch_plain[round] = now() - start;
        batch_ratio[round] = batch_plain[round] / batch[round];
        sum += counts[round] + plain[round];
    }
    printf("same counts by both: %s\n", differences == 0 ? "yes" : "NO");
    printf("one call: %.2f ns, by hand %.2f ns; ratio %.2f (1.2 is the most allowed)\n", median(call) / CALLS * 1e9,
           median(call_by_hand) / CALLS * 1e9, median(call_ratio));
    printf("batch of 10^6: %.2f GB/s, plain read and write %.2f GB/s; ratio %.2f (0.8 is the least allowed)\n",
           BATCH * 10e-9 / median(batch), BATCH * 10e-9 / median(batch_plain), median(batch_ratio));
    elb_joint_free(joint);
    return differences != 0 || sum == 0;
}
