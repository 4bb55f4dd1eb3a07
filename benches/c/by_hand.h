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
    /* The line from command to unrounded count, and up to which distance from an integer it decides (src/batch/line.rs). */
    double gain, offset, certain;
} by_hand_joint;

typedef struct by_hand_conversion {
    double value;
    uint32_t flags, reserved;
} by_hand_conversion;

by_hand_joint by_hand_example(void);
/* 0, or 1 for what is not finite. */
int by_hand_drive(const by_hand_joint *joint, double command, by_hand_conversion *out);
int by_hand_pulse_us(const by_hand_joint *joint, double command, by_hand_conversion *out);
/* Along the line where it decides, as the library does; else, and by the other always, with the divisions. */
int by_hand_counts(const by_hand_joint *joint, double command, uint32_t *out);
int by_hand_counts_divided(const by_hand_joint *joint, double command, uint32_t *out);
void by_hand_read_write(const double *in, size_t n, uint16_t *out);
#endif
