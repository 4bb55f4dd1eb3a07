/* The other side of the benchmark. */
#ifndef BY_HAND_H
#define BY_HAND_H
#include <stddef.h>
#include <stdint.h>

/* A straight map between two spans in the careful form of the library (src/map.rs). */
typedef struct by_hand_map {
    double origin, width, first, last;
    int zero_between, halved;
} by_hand_map;

typedef struct by_hand_joint {
    double command[2], travel[2];
    by_hand_map drive, pulse;
    double counts_per_s;
    uint32_t lowest, highest;
} by_hand_joint;

typedef struct by_hand_conversion {
    double value;
    uint32_t flags, reserved;
} by_hand_conversion;

by_hand_joint by_hand_example(void);
/* 0, or 1 for what is not finite. */
int by_hand_drive(const by_hand_joint *joint, double command, by_hand_conversion *out);
int by_hand_pulse_us(const by_hand_joint *joint, double command, by_hand_conversion *out);
int by_hand_counts(const by_hand_joint *joint, double command, by_hand_conversion *out);
/* Many counts, without a look at what is not finite or next to a middle between two counts; and by which instructions. */
void by_hand_batch(const by_hand_joint *joint, const double *in, size_t n, uint16_t *out);
const char *by_hand_instructions(void);
#endif
