/* The calls on a block once more, written by hand in C: what the library is measured against.
 *
 * The same work on the same bytes, with the same answers: the head is looked at, the joint is found by its channel, and the
 * arithmetic of the core's `map`, `pulse` and `curve` is done in the same order, and no more of it than is needed. With CURVED for
 * joints whose transmission and feedback are curves, otherwise for straight ones: an image of the other kind is not asked for. */
#ifndef REFERENCE_H
#define REFERENCE_H

#include "board.h"

#include <float.h>
#include <math.h>
#include <stdbool.h>
#include <string.h>

#if defined(__AVR__)
static inline float float_at(const uint8_t *at) { return pgm_read_float(at); }
static inline uint32_t whole_at(const uint8_t *at) { return pgm_read_dword(at); }
static inline uint16_t half_at(const uint8_t *at) { return pgm_read_word(at); }
static inline uint8_t byte_at(const uint8_t *at) { return pgm_read_byte(at); }
#else
static inline float float_at(const uint8_t *at) { float x; memcpy(&x, at, 4); return x; }
static inline uint32_t whole_at(const uint8_t *at) { uint32_t x; memcpy(&x, at, 4); return x; }
static inline uint16_t half_at(const uint8_t *at) { uint16_t x; memcpy(&x, at, 2); return x; }
static inline uint8_t byte_at(const uint8_t *at) { return *at; }
#endif

/* Where a joint's numbers stand, and bits of its flags. */
enum {
    FLAGS = 3, COMMAND = 4, DRIVE = 12, TRAVEL = 20, ANGLE = 28, PULSE_US = 36, FRAME_HZ = 44, FRAME_COUNTS = 48,
    LOWEST = 52, HIGHEST = 56, RATE_PER_S = 64, READING = 68, SENSED = 76, FIRST_KNOT = 84
};
enum { INVERTED = 1, HAS_RATE = 2, HAS_FEEDBACK = 4, FEEDBACK_INVERTED = 8 };

/* The joint on a channel. */
static elb_status find(const uint8_t *block, size_t length, uint16_t channel, const uint8_t **joint, const uint8_t **knots) {
    if (!block) return ELB_STATUS_NULL_POINTER;
    if (length < 20 || whole_at(block) != 0x57424c45 || byte_at(block + 4) != 1) return ELB_STATUS_BLOCK_BAD_MAGIC;
    uint16_t joints = half_at(block + 6);
    if (whole_at(block + 12) != length || 20 + 88ul * joints + 12ul * half_at(block + 8) != length) return ELB_STATUS_BLOCK_LENGTH;
    const uint8_t *at = block + 16;
    *knots = at + 88 * joints;
    for (; joints; joints--, at += 88) {
        if (half_at(at) == channel) {
            *joint = at;
            return ELB_STATUS_OK;
        }
    }
    return ELB_STATUS_UNKNOWN_CHANNEL;
}

/* The image of x on the line from one pair of ends to another. */
static float straight(float x, const uint8_t *from, const uint8_t *to, bool inverted) {
    float a0 = float_at(from), width = float_at(from + 4) - a0;
    if (isinf(width)) {
        x *= 0.5f;
        a0 *= 0.5f;
        width = float_at(from + 4) * 0.5f - a0;
    }
    float t = (x - a0) / width;
    if (isinf(t)) t = copysignf(FLT_MAX, t);
    float lower = float_at(to), upper = float_at(to + 4);
    float first = inverted ? upper : lower, last = inverted ? lower : upper;
    if (lower <= 0 && upper >= 0) return t * last + (1 - t) * first;
    return t == 1 ? last : first + t * (last - first);
}

#ifdef CURVED
static float held(float x, float lower, float upper) { return x < lower ? lower : x > upper ? upper : x; }

struct knot { float x, y, slope; };

static void knot_at(const uint8_t *at, struct knot *knot) {
    knot->x = float_at(at);
    knot->y = float_at(at + 4);
    knot->slope = float_at(at + 8);
}

/* One half of the cubic between two knots, from its knot inwards. */
struct half { float x, y, scale, out, bend, cube, low, high; };

/* What both halves are made of. */
struct frame { float width, most, p0, p1, middle, middle_y; };

static void frame_of(const struct knot *left, const struct knot *right, struct frame *frame) {
    float width = right->x - left->x, rise = right->y - left->y, most = 3 * rise;
    float low = most < 0 ? most : 0, high = most < 0 ? 0 : most;
    frame->width = width;
    frame->most = most;
    frame->p0 = held(left->slope * width, low, high);
    frame->p1 = held(right->slope * width, low, high);
    frame->middle = left->x + width * 0.5f;
    if (!(frame->middle > left->x)) frame->middle = right->x;
    float middle_y = left->y + (rise * 0.5f + (frame->p0 - frame->p1) * 0.125f);
    frame->middle_y = rise < 0 ? held(middle_y, right->y, left->y) : held(middle_y, left->y, right->y);
}

static void half_of(const struct frame *frame, const struct knot *knot, bool is_right, struct half *half) {
    float own = is_right ? frame->p1 : frame->p0, other = is_right ? frame->p0 : frame->p1;
    half->x = knot->x;
    half->y = knot->y;
    half->scale = 1 / frame->width;
    half->out = own * 4 / 3;
    half->bend = frame->most - other;
    half->cube = (frame->most - own) / 3;
    if (is_right) half->scale = -half->scale, half->out = -half->out, half->bend = -half->bend, half->cube = -half->cube;
    bool rises = knot->y < frame->middle_y;
    half->low = rises ? knot->y : frame->middle_y;
    half->high = rises ? frame->middle_y : knot->y;
}

static float height(const struct half *half, float t) {
    float d = 0.5f - t, q = d * d;
    float rise = (half->out * (0.125f - d * q) + half->bend * (t * (0.25f - q))) + half->cube * (t * t * t);
    return held(half->y + rise, half->low, half->high);
}

/* The two knots beside a place, or a value. */
static void beside(const uint8_t *left, uint16_t knots, float value, uint8_t number, struct knot two[2]) {
    const uint8_t *right = left + 12;
    bool falls = number && float_at(left + 4) > float_at(right + 4);
    for (; knots > 2; knots--) {
        float at = float_at(right + number);
        if (!(falls ? at >= value : at <= value)) break;
        left = right;
        right += 12;
    }
    knot_at(left, &two[0]);
    knot_at(right, &two[1]);
}

static float curve_at(const uint8_t *first, uint16_t knots, float x) {
    struct knot two[2];
    struct frame frame;
    struct half half;
    beside(first, knots, x, 0, two);
    if (x < two[0].x || x > two[1].x) {
        const struct knot *near = &two[x > two[1].x];
        return near->y + (x - near->x) * ((two[1].y - two[0].y) / (two[1].x - two[0].x));
    }
    frame_of(&two[0], &two[1], &frame);
    bool is_right = x >= frame.middle;
    half_of(&frame, &two[is_right], is_right, &half);
    float t = (x - half.x) * half.scale;
    return height(&half, t > 0.5f ? 0.5f : t);
}

/* The least place on a half's grid from which on its height passes y, or no longer does. */
static float least_place(const struct half *half, float y, bool rising, bool passing) {
    float low = 0, high = 0.5f;
    while (high - low > FLT_EPSILON) {
        float t = (1 + (low + high) * 0.5f) - 1, v = height(half, t);
        if ((rising ? v >= y : v <= y) == passing) high = t;
        else low = t;
    }
    return high;
}

static float curve_inverse(const uint8_t *first, uint16_t knots, float y) {
    struct knot two[2];
    struct frame frame;
    struct half half;
    beside(first, knots, y, 4, two);
    bool rising = two[0].y < two[1].y;
    bool before = rising ? y < two[0].y : y > two[0].y, after = rising ? y > two[1].y : y < two[1].y;
    if (before || after) {
        const struct knot *near = &two[after];
        return near->x + (y - near->y) / ((two[1].y - two[0].y) / (two[1].x - two[0].x));
    }
    if (y == two[0].y) return two[0].x;
    if (y == two[1].y) return two[1].x;
    if (isnan(y)) return y;
    frame_of(&two[0], &two[1], &frame);
    half_of(&frame, &two[0], false, &half);
    float v = height(&half, 0.5f);
    if (rising ? v >= y : v <= y) {
        float t = least_place(&half, y, rising, true);
        return held(half.x + t * frame.width, half.x, frame.middle);
    }
    half_of(&frame, &two[1], true, &half);
    float t = least_place(&half, y, rising, false) - FLT_EPSILON;
    return held(half.x - t * frame.width, frame.middle, half.x);
}
#endif

static elb_status drive_of(const uint8_t *joint, const uint8_t *knots, float command, float *out, uint8_t *flags) {
    if (!isfinite(command)) return ELB_STATUS_NOT_FINITE;
    float low = float_at(joint + COMMAND), high = float_at(joint + COMMAND + 4);
    uint8_t held_back = 0;
    if (command < low) command = low, held_back = 1;
    else if (command > high) command = high, held_back = 1;
#ifdef CURVED
    float drive = curve_at(knots + 12 * half_at(joint + FIRST_KNOT), half_at(joint + FIRST_KNOT + 2), command);
#else
    (void)knots;
    float drive = straight(command, joint + COMMAND, joint + DRIVE, byte_at(joint + FLAGS) & INVERTED);
#endif
    low = float_at(joint + TRAVEL), high = float_at(joint + TRAVEL + 4);
    if (drive < low) drive = low, held_back |= 2;
    else if (drive > high) drive = high, held_back |= 2;
    *out = drive;
    *flags = held_back;
    return ELB_STATUS_OK;
}

static uint32_t counts_of(const uint8_t *joint, float pulse_us) {
    long counts = lroundf(pulse_us * (float_at(joint + FRAME_HZ) * (float)whole_at(joint + FRAME_COUNTS)) / 1e6f);
    uint32_t lowest = whole_at(joint + LOWEST), highest = whole_at(joint + HIGHEST);
    if (counts < (long)lowest) return lowest;
    return (uint32_t)counts > highest ? highest : (uint32_t)counts;
}

static __attribute__((noinline, unused)) elb_status reference_convert(const uint8_t *block, size_t length, uint16_t channel, float command,
                                                                      elb_block_conversion *out) {
    const uint8_t *joint, *knots;
    uint8_t flags;
    float drive;
    if (!out) return ELB_STATUS_NULL_POINTER;
    elb_status status = find(block, length, channel, &joint, &knots);
    if (status || (status = drive_of(joint, knots, command, &drive, &flags))) return status;
    out->drive = drive;
    out->pulse_us = straight(drive, joint + ANGLE, joint + PULSE_US, false);
    out->counts = counts_of(joint, out->pulse_us);
    out->flags = flags;
    return ELB_STATUS_OK;
}

static __attribute__((noinline, unused)) elb_status reference_pulse_us(const uint8_t *block, size_t length, uint16_t channel, float command,
                                                                       float *out) {
    const uint8_t *joint, *knots;
    uint8_t flags;
    float drive;
    if (!out) return ELB_STATUS_NULL_POINTER;
    elb_status status = find(block, length, channel, &joint, &knots);
    if (status || (status = drive_of(joint, knots, command, &drive, &flags))) return status;
    *out = straight(drive, joint + ANGLE, joint + PULSE_US, false);
    return ELB_STATUS_OK;
}

static __attribute__((noinline, unused)) elb_status reference_counts(const uint8_t *block, size_t length, uint16_t channel, float command,
                                                                     uint16_t *out) {
    const uint8_t *joint, *knots;
    uint8_t flags;
    float drive;
    if (!out) return ELB_STATUS_NULL_POINTER;
    elb_status status = find(block, length, channel, &joint, &knots);
    if (status || (status = drive_of(joint, knots, command, &drive, &flags))) return status;
    uint32_t counts = counts_of(joint, straight(drive, joint + ANGLE, joint + PULSE_US, false));
    if (counts > 65535) return ELB_STATUS_COUNT_TOO_WIDE;
    *out = (uint16_t)counts;
    return ELB_STATUS_OK;
}

static __attribute__((noinline, unused)) elb_status reference_step(const uint8_t *block, size_t length, uint16_t channel, float from,
                                                                   float target, float seconds, float *out) {
    const uint8_t *joint, *knots;
    if (!out) return ELB_STATUS_NULL_POINTER;
    elb_status status = find(block, length, channel, &joint, &knots);
    if (status) return status;
    if (!isfinite(target) || !isfinite(from) || !isfinite(seconds)) return ELB_STATUS_NOT_FINITE;
    if (seconds < 0) return ELB_STATUS_OPTION_OUTSIDE;
    float low = float_at(joint + COMMAND), high = float_at(joint + COMMAND + 4);
    float drive, end;
    uint8_t flags;
    if ((status = drive_of(joint, knots, target, &drive, &flags))) return status;
    if (flags & 2) {
        /* The command at the end of the travel. */
        float first = float_at(joint + DRIVE), last = float_at(joint + DRIVE + 4);
        end = drive < first ? first : drive > last ? last : drive;
#ifdef CURVED
        target = curve_inverse(knots + 12 * half_at(joint + FIRST_KNOT), half_at(joint + FIRST_KNOT + 2), end);
#else
        target = straight(end, joint + DRIVE, joint + COMMAND, byte_at(joint + FLAGS) & INVERTED);
#endif
    }
    if (target < low) target = low;
    else if (target > high) target = high;
    if (byte_at(joint + FLAGS) & HAS_RATE) {
        float most = float_at(joint + RATE_PER_S) * seconds;
        if (target - from > most) target = from + most;
        else if (from - target > most) target = from - most;
    }
    *out = target;
    return ELB_STATUS_OK;
}

static __attribute__((noinline, unused)) elb_status reference_command_from_counts(const uint8_t *block, size_t length, uint16_t channel,
                                                                                  uint32_t counts, float *out) {
    const uint8_t *joint, *knots;
    if (!out) return ELB_STATUS_NULL_POINTER;
    elb_status status = find(block, length, channel, &joint, &knots);
    if (status) return status;
    float pulse_us = (float)counts * 1e6f / (float_at(joint + FRAME_HZ) * (float)whole_at(joint + FRAME_COUNTS));
    float drive = straight(pulse_us, joint + PULSE_US, joint + ANGLE, false);
#ifdef CURVED
    *out = curve_inverse(knots + 12 * half_at(joint + FIRST_KNOT), half_at(joint + FIRST_KNOT + 2), drive);
#else
    *out = straight(drive, joint + DRIVE, joint + COMMAND, byte_at(joint + FLAGS) & INVERTED);
#endif
    return ELB_STATUS_OK;
}

static __attribute__((noinline, unused)) elb_status reference_command_from_reading(const uint8_t *block, size_t length, uint16_t channel,
                                                                                   float reading, float *out) {
    const uint8_t *joint, *knots;
    if (!out) return ELB_STATUS_NULL_POINTER;
    elb_status status = find(block, length, channel, &joint, &knots);
    if (status) return status;
    if (!(byte_at(joint + FLAGS) & HAS_FEEDBACK)) return ELB_STATUS_NO_FEEDBACK;
#ifdef CURVED
    float angle = curve_at(knots + 12 * half_at(joint + READING), half_at(joint + READING + 2), reading);
#else
    float angle = straight(reading, joint + READING, joint + SENSED, byte_at(joint + FLAGS) & FEEDBACK_INVERTED);
#endif
    *out = straight(angle, joint + SENSED, joint + COMMAND, false);
    return ELB_STATUS_OK;
}

#endif
