/* One handle of each kind used by eight threads at once: the same bits in each. */
#include "check.h"
#include <pthread.h>
#include <stdlib.h>

enum { THREADS = 8, COMMANDS = 4096, ROUNDS = 50 };

static elb_joint *joint;
static elb_fit *fit;
static double commands[COMMANDS];
static uint16_t wanted[COMMANDS];

static void *work(void *argument) {
    int *differences = (int *)argument;
    uint16_t counts[COMMANDS];
    elb_conversion one;
    size_t round, i;
    elb_fit_line line;
    for (round = 0; round < ROUNDS; round++) {
        elb_robot *robot = NULL;
        elb_error error;
        if (elb_joint_counts_batch(joint, commands, COMMANDS, counts, NULL) != ELB_STATUS_OK) ++*differences;
        *differences += memcmp(counts, wanted, sizeof counts) != 0;
        for (i = 0; i < COMMANDS; i += 64) {
            *differences += elb_joint_counts(joint, commands[i], &one) != ELB_STATUS_OK || one.value != wanted[i];
        }
        *differences += elb_fit_line_of(fit, &line) != ELB_STATUS_OK || line.trend != 1;
        *differences += elb_robot_parse("format = 2", 10, &robot, &error) != ELB_STATUS_FORMAT_TOO_NEW;
        *differences += strstr(error.message, "newer") == NULL;
    }
    return NULL;
}

void test_threads(void) {
    static const double drive[] = {10, 20, 30, 40, 50, 60}, measured[] = {12.1, 21.9, 32.0, 42.2, 51.9, 62.0};
    pthread_t threads[THREADS];
    int differences[THREADS] = {0}, i;
    elb_readings readings;
    OK(elb_readings_init(&readings, sizeof readings));
    readings.n = 6;
    readings.drive = drive;
    readings.measured = measured;
    OK(elb_fit_limits(&readings, NULL, &fit, NULL));
    joint = example_joint();
    for (i = 0; i < COMMANDS; i++) commands[i] = i * 0.05 - 60;
    OK(elb_joint_counts_batch(joint, commands, COMMANDS, wanted, NULL));
    for (i = 0; i < THREADS; i++) CHECK(pthread_create(&threads[i], NULL, work, &differences[i]) == 0);
    for (i = 0; i < THREADS; i++) {
        CHECK(pthread_join(threads[i], NULL) == 0);
        CHECK(differences[i] == 0);
    }
    elb_joint_free(joint);
    elb_fit_free(fit);
}
