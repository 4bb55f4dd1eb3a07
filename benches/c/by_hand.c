/* What one would write in C, with the library's own arithmetic: exact ends, monotone, clamped, counts inside the travel. */
#include "by_hand.h"
#include <float.h>

static by_hand_map map(double a0, double a1, double b0, double b1) {
    by_hand_map m;
    m.scale = 1;
    m.origin = a0;
    m.width = a1 - a0;
    m.first = b0;
    m.last = b1;
    m.zero_between = b0 <= 0 && b1 >= 0;
    return m;
}

by_hand_joint by_hand_example(void) {
    by_hand_joint joint;
    joint.command[0] = 0, joint.command[1] = 180;
    joint.travel[0] = 5, joint.travel[1] = 80;
    joint.drive = map(0, 180, 5, 80);
    joint.pulse = map(0, 180, 500, 2500);
    joint.counts_per_s = 50 * 4096.0;
    joint.lowest = 114, joint.highest = 284;
    return joint;
}

static inline double hold(double x, double lower, double upper) { return x < lower ? lower : x > upper ? upper : x; }

static inline double apply(const by_hand_map *m, double x) {
    const double t = hold((x * m->scale - m->origin) / m->width, -DBL_MAX, DBL_MAX);
    double y;
    int above, wrong;
    if (m->zero_between) return t * m->last + (1 - t) * m->first;
    y = m->first + t * (m->last - m->first);
    above = (t > 1) == (m->first < m->last);
    wrong = above ? y < m->last : y > m->last;
    return t == 1 || wrong ? m->last : y;
}

int by_hand_counts(const by_hand_joint *joint, double command, uint32_t *out) {
    double drive, exact;
    uint32_t whole;
    if (joint == NULL || out == NULL) return 1;
    if (!(command - command == 0)) return 1;
    drive = apply(&joint->drive, hold(command, joint->command[0], joint->command[1]));
    drive = hold(drive, joint->travel[0], joint->travel[1]);
    exact = apply(&joint->pulse, drive) * joint->counts_per_s / 1e6;
    whole = (uint32_t)exact;
    whole += exact - whole >= 0.5;
    *out = whole < joint->lowest ? joint->lowest : whole > joint->highest ? joint->highest : whole;
    return 0;
}

void by_hand_read_write(const double *in, size_t n, uint16_t *out) {
    size_t i;
    for (i = 0; i < n; i++) out[i] = (uint16_t)(int32_t)in[i];
}
