/* The conversion of a command to a count once more, written by hand in C: what the library is measured against.
 *
 * The same work on the same bytes: the head is looked at, the joint is found by its channel, and the arithmetic of the
 * core's `map` and `pulse` is done in the same order. Straight joints only. */
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

static elb_status reference_counts(const uint8_t *block, size_t length, uint16_t channel, float command, uint16_t *out) {
    if (!block || !out) return ELB_STATUS_NULL_POINTER;
    if (length < 20 || whole_at(block) != 0x57424c45 || byte_at(block + 4) != 1) return ELB_STATUS_BLOCK_FOREIGN;
    uint16_t joints = half_at(block + 6), knots = half_at(block + 8);
    if (whole_at(block + 12) != length || 20 + 88ul * joints + 12ul * knots != length) return ELB_STATUS_BLOCK_LENGTH;
    const uint8_t *joint = block + 16;
    for (; joints && half_at(joint) != channel; joints--) joint += 88;
    if (!joints) return ELB_STATUS_UNKNOWN_CHANNEL;
    if (!isfinite(command)) return ELB_STATUS_NOT_FINITE;

    float c0 = float_at(joint + 4), c1 = float_at(joint + 8), d0 = float_at(joint + 12), d1 = float_at(joint + 16);
    if (command < c0) command = c0;
    if (command > c1) command = c1;
    float drive = byte_at(joint + 3) & 1 ? straight(command, c0, c1, d1, d0) : straight(command, c0, c1, d0, d1);
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
