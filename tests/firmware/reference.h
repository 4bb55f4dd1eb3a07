/* The conversion of a command to a count once more, written by hand in C: what the library is measured against.
 *
 * The same work on the same bytes: the head is looked at, the joint is found by its channel, and the arithmetic of the
 * core's `map` and `pulse` is done in the same order. Straight joints; with CURVED, curved ones only. */
#ifndef REFERENCE_H
#define REFERENCE_H

#include "board.h"

#include <math.h>
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

static float straight(float x, float a0, float a1, float first, float last) {
    float width = a1 - a0;
    if (!isfinite(width)) {
        x *= 0.5f;
        a0 *= 0.5f;
        width = a1 * 0.5f - a0;
    }
    float t = (x - a0) / width;
    if (t > 3.40282347e38f) t = 3.40282347e38f;
    if (t < -3.40282347e38f) t = -3.40282347e38f;
    float low = first < last ? first : last, high = first < last ? last : first;
    if (low <= 0 && high >= 0) return t * last + (1 - t) * first;
    float y = first + t * (last - first);
    if (t == 1) return last;
    if ((t > 1) == (first < last)) return y < last ? last : y;
    return y > last ? last : y;
}

#ifdef CURVED
static float held(float x, float lower, float upper) { return x < lower ? lower : x > upper ? upper : x; }

/* The arithmetic of the core's `curve`, of the one half of a piece that holds x. */
static float curve_at(const uint8_t *left, uint16_t knots, float x) {
    const uint8_t *right = left + 12;
    for (; knots > 2 && float_at(right) <= x; knots--) left = right, right += 12;
    float x0 = float_at(left), y0 = float_at(left + 4), x1 = float_at(right), y1 = float_at(right + 4);
    float width = x1 - x0, rise = y1 - y0, scale = 1 / width, most = 3 * rise;
    float low = most < 0 ? most : 0, high = most < 0 ? 0 : most;
    float p0 = held(float_at(left + 8) * width, low, high), p1 = held(float_at(right + 8) * width, low, high);
    float middle = x0 + width * 0.5f;
    if (!(middle > x0)) middle = x1;
    float middle_y = y0 + (rise * 0.5f + (p0 - p1) * 0.125f);
    middle_y = rise < 0 ? held(middle_y, y1, y0) : held(middle_y, y0, y1);
    float y = y0, out = p0 * 4 / 3, bend = most - p1, cube = (most - p0) / 3;
    if (x >= middle) {
        x0 = x1, y = y1, scale = -scale;
        out = -(p1 * 4 / 3), bend = -(most - p0), cube = -((most - p1) / 3);
    }
    float t = (x - x0) * scale;
    if (t > 0.5f) t = 0.5f;
    float d = 0.5f - t, q = d * d;
    float v = y + ((out * (0.125f - d * q) + bend * (t * (0.25f - q))) + cube * (t * t * t));
    return y < middle_y ? held(v, y, middle_y) : held(v, middle_y, y);
}
#endif

static elb_status reference_counts(const uint8_t *block, size_t length, uint16_t channel, float command, uint16_t *out) {
    if (!block || !out) return ELB_STATUS_NULL_POINTER;
    if (length < 20 || whole_at(block) != 0x57424c45 || byte_at(block + 4) != 1) return ELB_STATUS_BLOCK_FOREIGN;
    uint16_t joints = half_at(block + 6), knots = half_at(block + 8);
    if (whole_at(block + 12) != length || 20 + 88ul * joints + 12ul * knots != length) return ELB_STATUS_BLOCK_LENGTH;
    const uint8_t *joint = block + 16;
#ifdef CURVED
    const uint8_t *knot = joint + 88 * joints;
#endif
    for (; joints && half_at(joint) != channel; joints--) joint += 88;
    if (!joints) return ELB_STATUS_UNKNOWN_CHANNEL;
    if (!isfinite(command)) return ELB_STATUS_NOT_FINITE;

    float c0 = float_at(joint + 4), c1 = float_at(joint + 8), d0 = float_at(joint + 12), d1 = float_at(joint + 16);
    if (command < c0) command = c0;
    if (command > c1) command = c1;
#ifdef CURVED
    float drive = curve_at(knot + 12 * half_at(joint + 84), half_at(joint + 86), command);
    (void)d0, (void)d1;
#else
    float drive = byte_at(joint + 3) & 1 ? straight(command, c0, c1, d1, d0) : straight(command, c0, c1, d0, d1);
#endif
    float lower = float_at(joint + 20), upper = float_at(joint + 24);
    if (drive < lower) drive = lower;
    if (drive > upper) drive = upper;
    float pulse_us = straight(drive, float_at(joint + 28), float_at(joint + 32), float_at(joint + 36), float_at(joint + 40));

    float counts = pulse_us * (float_at(joint + 44) * (float)whole_at(joint + 48)) / 1e6f;
    uint32_t count = counts > 0 ? (uint32_t)counts : 0;
    if (counts - (float)count >= 0.5f) count++;
    uint32_t lowest = whole_at(joint + 52), highest = whole_at(joint + 56);
    if (count < lowest) count = lowest;
    if (count > highest) count = highest;
    if (count > 65535) return ELB_STATUS_COUNT_TOO_WIDE;
    *out = (uint16_t)count;
    return ELB_STATUS_OK;
}

#endif
