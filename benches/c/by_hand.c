/* What one would write in C, with the library's own arithmetic: exact ends, monotone, clamped, counts inside the travel. */
#include "by_hand.h"
#include <float.h>

static by_hand_map map(double a0, double a1, double b0, double b1) {
    by_hand_map m;
    m.halved = 0;
    m.origin = a0;
    m.width = a1 - a0;
    m.first = b0;
    m.last = b1;
    m.zero_between = b0 <= 0 && b1 >= 0;
    return m;
}

by_hand_joint by_hand_example(void) {
    by_hand_joint joint;
    joint.command[0] = -40, joint.command[1] = 60;
    joint.travel[0] = 37, joint.travel[1] = 122;
    joint.drive = map(-40, 60, 37, 122);
    joint.pulse = map(0, 180, 500, 2500);
    joint.counts_per_s = 50 * 4096.0;
    joint.lowest = 187, joint.highest = 380;
    return joint;
}

static inline double apply(const by_hand_map *m, double x) {
    double t = ((m->halved ? x * 0.5 : x) - m->origin) / m->width;
    t = t > DBL_MAX ? DBL_MAX : t < -DBL_MAX ? -DBL_MAX : t;
    if (m->zero_between) return t * m->last + (1 - t) * m->first;
    return t == 1 ? m->last : m->first + t * (m->last - m->first);
}

/* Holds `x` to two ends, and says in `flag` whether it had to. */
static inline double hold(double x, const double ends[2], uint32_t flag, uint32_t *flags) {
    if (x < ends[0]) return *flags |= flag, ends[0];
    if (x > ends[1]) return *flags |= flag, ends[1];
    return x;
}

static inline double drive_of(const by_hand_joint *joint, double command, uint32_t *flags) {
    command = hold(command, joint->command, 1, flags);
    return hold(apply(&joint->drive, command), joint->travel, 2, flags);
}

static inline int fit(const void *joint, const void *out) { return joint != NULL && out != NULL; }

static inline int finite(double x) { return x - x == 0; }

int by_hand_drive(const by_hand_joint *joint, double command, by_hand_conversion *out) {
    uint32_t flags = 0;
    if (!fit(joint, out) || !finite(command)) return 1;
    out->value = drive_of(joint, command, &flags);
    out->flags = flags;
    out->reserved = 0;
    return 0;
}

int by_hand_pulse_us(const by_hand_joint *joint, double command, by_hand_conversion *out) {
    uint32_t flags = 0;
    if (!fit(joint, out) || !finite(command)) return 1;
    out->value = apply(&joint->pulse, drive_of(joint, command, &flags));
    out->flags = flags;
    out->reserved = 0;
    return 0;
}

static inline uint32_t hold_count(const by_hand_joint *joint, uint32_t count) {
    return count < joint->lowest ? joint->lowest : count > joint->highest ? joint->highest : count;
}

int by_hand_counts(const by_hand_joint *joint, double command, by_hand_conversion *out) {
    uint32_t flags = 0, whole;
    double exact;
    if (!fit(joint, out) || !finite(command)) return 1;
    exact = apply(&joint->pulse, drive_of(joint, command, &flags)) * joint->counts_per_s / 1e6;
    whole = (uint32_t)exact;
    whole += exact - whole >= 0.5;
    out->value = hold_count(joint, whole);
    out->flags = flags;
    out->reserved = 0;
    return 0;
}

/* A straight joint is one line from command to count, for whoever does not mind that a count next to a middle between two may
   be the other one. */
static double gain_of(const by_hand_joint *joint) {
    const double per_drive = (joint->pulse.last - joint->pulse.first) / joint->pulse.width * joint->counts_per_s / 1e6;
    return (joint->drive.last - joint->drive.first) / joint->drive.width * per_drive;
}

static double offset_of(const by_hand_joint *joint) {
    const double lowest = apply(&joint->pulse, joint->drive.first) * joint->counts_per_s / 1e6;
    return lowest - joint->drive.origin * gain_of(joint);
}

static uint16_t one_of_line(const by_hand_joint *joint, double gain, double offset, double command) {
    const double y = command * gain + offset;
    const double held = y < joint->lowest ? joint->lowest : y > joint->highest ? joint->highest : y;
    return (uint16_t)(int32_t)(held + 0.5);
}

#if defined(__x86_64__)
#include <immintrin.h>

__attribute__((target("avx2"))) static __m128i four(const double *in, __m256d gain, __m256d offset) {
    return _mm256_cvtpd_epi32(_mm256_add_pd(_mm256_mul_pd(_mm256_loadu_pd(in), gain), offset));
}

/* Eight at a time: the line, rounded by the conversion to 32 bits, packed to 16 bits, held to the ends. */
__attribute__((target("avx2"))) static size_t batch_avx2(const by_hand_joint *joint, const double *in, size_t n, uint16_t *out) {
    const __m256d gain = _mm256_set1_pd(gain_of(joint)), offset = _mm256_set1_pd(offset_of(joint));
    const __m128i lowest = _mm_set1_epi16((short)joint->lowest), highest = _mm_set1_epi16((short)joint->highest);
    size_t i;
    for (i = 0; i + 8 <= n; i += 8) {
        const __m128i packed = _mm_packus_epi32(four(in + i, gain, offset), four(in + i + 4, gain, offset));
        _mm_storeu_si128((__m128i *)(void *)(out + i), _mm_min_epu16(_mm_max_epu16(packed, lowest), highest));
    }
    return i;
}

static int has_avx2(void) { return __builtin_cpu_supports("avx2"); }
#else
static size_t batch_avx2(const by_hand_joint *joint, const double *in, size_t n, uint16_t *out) {
    return (void)joint, (void)in, (void)n, (void)out, (size_t)0;
}
static int has_avx2(void) { return 0; }
#endif

const char *by_hand_instructions(void) { return has_avx2() ? "AVX2" : "no AVX2"; }

void by_hand_batch(const by_hand_joint *joint, const double *in, size_t n, uint16_t *out) {
    const double gain = gain_of(joint), offset = offset_of(joint);
    size_t i = has_avx2() ? batch_avx2(joint, in, n, out) : 0;
    for (; i < n; i++) out[i] = one_of_line(joint, gain, offset, in[i]);
}
