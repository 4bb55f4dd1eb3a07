/* Attacks the block calls on a computer: hostile and random images, each exactly as long as its own memory.
 *
 *   attack ROUNDS
 *   attack self-test
 *
 * The library is instrumented by AddressSanitizer, as this program is: a read outside the image ends the run. */
#include <elbowroom.h>

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

/* Splitmix64 (Steele, Lea & Flood 2014). */
static uint64_t state = 1;
static uint64_t draw(void) {
    uint64_t z = state += 0x9e3779b97f4a7c15u;
    z = (z ^ (z >> 30)) * 0xbf58476d1ce4e5b9u;
    z = (z ^ (z >> 27)) * 0x94d049bb133111ebu;
    return z ^ (z >> 31);
}

static void put(uint8_t *at, uint32_t value, int bytes) {
    for (int i = 0; i < bytes; i++) at[i] = (uint8_t)(value >> 8 * i);
}

/* CRC-32 of IEEE 802.3, once more and by another way. */
static uint32_t table[256];
static uint32_t sum_of(const uint8_t *bytes, size_t length) {
    uint32_t sum = 0xffffffff;
    for (size_t i = 0; i < length; i++) sum = sum >> 8 ^ table[(sum ^ bytes[i]) & 255];
    return ~sum;
}

static float float_of(uint64_t bits) {
    uint32_t low = (uint32_t)bits;
    float x;
    memcpy(&x, &low, 4);
    return x;
}

static uint64_t answers, passed, passed_curved;

static void ask_all(const uint8_t *image, size_t length) {
    uint16_t channel = (uint16_t)(draw() % 4), counts;
    float x = float_of(draw()), y;
    elb_block_conversion all;
    if (elb_block_check(image, length) == ELB_STATUS_OK) {
        passed++;
        passed_curved += image[18] != 0;
    }
    answers += elb_block_counts(image, length, channel, x, &counts) == ELB_STATUS_OK;
    answers += elb_block_pulse_us(image, length, channel, x, &y) == ELB_STATUS_OK;
    answers += elb_block_convert(image, length, channel, x, &all) == ELB_STATUS_OK;
    answers += elb_block_step(image, length, channel, x, float_of(draw()), float_of(draw()), &y) == ELB_STATUS_OK;
    answers += elb_block_rest(image, length, channel, &y) == ELB_STATUS_OK;
    answers += elb_block_command_from_reading(image, length, channel, x, &y) == ELB_STATUS_OK;
    answers += elb_block_command_from_counts(image, length, channel, (uint32_t)draw(), &y) == ELB_STATUS_OK;
    answers += elb_block_command_from_pulse_us(image, length, channel, x, &y) == ELB_STATUS_OK;
    answers += elb_block_command_from_drive(image, length, channel, x, &y) == ELB_STATUS_OK;
}

/* ASan has to see what the library does, or the run would prove nothing: `attack self-test` must end with its report. */
static int self_test(void) {
    uint8_t *image = calloc(1, 107);
    if (!image) return 1;
    memcpy(image, "ELBW\1\0\1\0", 8);
    image[12] = 108;
    return elb_block_check(image, 108);
}

static void put_float(uint8_t *at, float x) {
    uint32_t bits;
    memcpy(&bits, &x, 4);
    put(at, bits, 4);
}

/* A joint that every check accepts: command -40 to 60 on drive 37 to 122. */
static void put_good(uint8_t *joint, uint16_t channel) {
    static const float numbers[] = {-40, 60, 37, 122, 37, 122, 0, 180, 500, 2500, 50};
    memset(joint, 0, 88);
    put(joint, channel, 2);
    for (int i = 0; i < 11; i++) put_float(joint + 4 + 4 * i, numbers[i]);
    put(joint + 48, 4096, 4);
    put(joint + 52, 200, 4);
    put(joint + 56, 350, 4);
    put_float(joint + 60, 10);
}

/* The same joint with curves: 3 knots from command to drive, and 3 from reading to joint angle. */
static void put_curves(uint8_t *joint, uint8_t *knots, uint16_t first) {
    static const float numbers[] = {-40, 37, 0.6f, 10, 72, 0.8f, 60, 122, 1.1f, 200, 0, 0.1f, 500, 40, 0.13f, 900, 95, 0.15f};
    for (int i = 0; i < 18; i++) put_float(knots + 12 * first + 4 * i, numbers[i]);
    joint[2] = (uint8_t)(1 + first % 3);
    joint[3] = 4 + 16;
    put(joint + 68, first + 3u, 2);
    put(joint + 70, 3, 2);
    put_float(joint + 76, 0);
    put_float(joint + 80, 95);
    put(joint + 84, first, 2);
    put(joint + 86, 3, 2);
}

int main(int argc, char **argv) {
    if (argc > 1 && !strcmp(argv[1], "self-test")) return self_test();
    long rounds = argc > 1 ? atol(argv[1]) : 100000;
    for (uint32_t i = 0; i < 256; i++) {
        table[i] = i;
        for (int bit = 0; bit < 8; bit++) table[i] = table[i] & 1 ? table[i] >> 1 ^ 0xedb88320 : table[i] >> 1;
    }
    if (sum_of((const uint8_t *)"123456789", 9) != 0xcbf43926) return puts("wrong checksum in the test"), 1;

    for (long round = 0; round < rounds; round++) {
        uint64_t kind = draw() % 8;
        uint16_t joints = (uint16_t)(1 + draw() % 3), knots = (uint16_t)(draw() % 3 * (draw() % 5));
        size_t length = 20 + 88u * joints + 12u * knots;
        /* All of them curved, and as good as can be before they are spoilt. */
        int curved = kind > 5 && draw() % 2;
        if (curved) knots = (uint16_t)(6 * joints), length = 20 + 88u * joints + 12u * knots;
        if (kind == 0) length = draw() % 300;
        uint8_t *image = malloc(length ? length : 1);
        if (!image) return 1;
        for (size_t i = 0; i + 8 <= length; i += 8) {
            uint64_t bits = draw();
            memcpy(image + i, &bits, 8);
        }
        for (size_t i = length & ~(size_t)7; i < length; i++) image[i] = (uint8_t)draw();
        if (kind > 0) {
            /* A head that looks right, and joints that can be found: the calls get far. */
            memcpy(image, "ELBW\1\0", 6);
            put(image + 6, joints, 2);
            put(image + 8, knots, 2);
            put(image + 10, 0, 2);
            put(image + 12, (uint32_t)length, 4);
            for (uint16_t i = 0; i < joints; i++) {
                uint8_t *joint = image + 16 + 88 * i;
                put(joint, i, 2);
                joint[2] = (uint8_t)(draw() % 4 ? draw() % 4 : draw());
                joint[3] = (uint8_t)(draw() % 32);
                if (kind > 2) {
                    put(joint + 84, (uint32_t)(draw() % (knots + 2u)), 2);
                    put(joint + 86, (uint32_t)(draw() % (knots + 2u)), 2);
                    put(joint + 68, (uint32_t)(draw() % (knots + 2u)), 2);
                    put(joint + 70, (uint32_t)(draw() % (knots + 2u)), 2);
                }
            }
            if (kind > 5) {
                for (uint16_t i = 0; i < joints; i++) {
                    put_good(image + 16 + 88 * i, i);
                    if (curved) put_curves(image + 16 + 88 * i, image + 16 + 88 * joints, (uint16_t)(6 * i));
                }
                for (uint64_t n = draw() % 4; n; n--) image[16 + draw() % (length - 20)] ^= (uint8_t)draw();
            }
            if (kind == 3) image[draw() % 16] ^= (uint8_t)(1 + draw() % 255);
            if (kind > 3) put(image + length - 4, sum_of(image, length - 4), 4);
        }
        /* A shortened image, too: memory ends where its length says. */
        if (kind == 7) {
            size_t shorter = draw() % (length + 1);
            uint8_t *part = malloc(shorter ? shorter : 1);
            if (!part) return 1;
            memcpy(part, image, shorter);
            ask_all(part, shorter);
            free(part);
        }
        ask_all(image, length);
        free(image);
    }
    /* Nothing answered would mean that nothing was attacked. */
    if (answers < (uint64_t)rounds / 2 || passed_curved < (uint64_t)rounds / 100) return puts("too few answers"), 1;
    printf("%ld images: %llu calls answered, %llu images passed the check, %llu of them curved, no read outside\n", rounds,
           (unsigned long long)answers, (unsigned long long)passed, (unsigned long long)passed_curved);
    return 0;
}
