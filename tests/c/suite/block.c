/* The block calls, on an image written here by hand after the layout that src/block.rs documents. */
#include "check.h"
#include <math.h>

enum { HEAD = 16, JOINT = 88, ONE = HEAD + JOINT + 4, TWO = HEAD + 2 * JOINT + 4 };

static void put(uint8_t *at, uint32_t value, int bytes) {
    int i;
    for (i = 0; i < bytes; i++) at[i] = (uint8_t)(value >> (8 * i));
}

static void put_f32(uint8_t *at, float value) {
    uint32_t bits;
    memcpy(&bits, &value, sizeof bits);
    put(at, bits, 4);
}

/* CRC-32 of IEEE 802.3, bit by bit. */
static uint32_t crc32(const uint8_t *bytes, size_t n) {
    uint32_t crc = 0xffffffff;
    size_t i;
    int bit;
    for (i = 0; i < n; i++) {
        crc ^= bytes[i];
        for (bit = 0; bit < 8; bit++) crc = (crc >> 1) ^ (crc & 1 ? 0xedb88320u : 0);
    }
    return ~crc;
}

static void seal(uint8_t *image, size_t length) { put(image + length - 4, crc32(image, length - 4), 4); }

/* The worked example on a channel, with a rate of 60 per second. */
static void put_joint(uint8_t *joint, uint16_t channel) {
    static const float numbers[] = {-40, 60, 37, 122, 37, 122, 0, 180, 500, 2500, 50};
    int i;
    memset(joint, 0, JOINT);
    put(joint, channel, 2);
    joint[3] = 2;
    for (i = 0; i < 11; i++) put_f32(joint + 4 + 4 * i, numbers[i]);
    put(joint + 48, 4096, 4);
    put(joint + 52, 187, 4);
    put(joint + 56, 380, 4);
    put_f32(joint + 60, 10);
    put_f32(joint + 64, 60);
}

static void put_head(uint8_t *image, uint16_t joints, uint32_t length) {
    memset(image, 0, HEAD);
    memcpy(image, "ELBW", 4);
    image[4] = 1;
    put(image + 6, joints, 2);
    put(image + 12, length, 4);
}

static void good(void) {
    /* One byte off, for an image may stand anywhere. */
    uint8_t storage[ONE + 1], *image = storage + 1;
    uint16_t counts = 0;
    int i;
    float value = 0;
    elb_block_conversion conversion;
    CHECK(crc32((const uint8_t *)"123456789", 9) == 0xcbf43926);
    put_head(image, 1, ONE);
    put_joint(image + HEAD, 3);
    seal(image, ONE);
    OK(elb_block_check(image, ONE));
    OK(elb_block_counts(image, ONE, 3, 10, &counts));
    CHECK(counts == 283);
    OK(elb_block_convert(image, ONE, 3, 100, &conversion));
    CHECK(conversion.drive == 122 && conversion.counts == 380 && conversion.flags == ELB_CLAMPED_TO_COMMAND);
    OK(elb_block_pulse_us(image, ONE, 3, -40, &value));
    CHECK(fabs((double)value - 911.1111111) < 1e-3);
    OK(elb_block_rest(image, ONE, 3, &value));
    CHECK(value == 10);
    OK(elb_block_step(image, ONE, 3, 10, 60, 0.5, &value));
    CHECK(value == 40);
    OK(elb_block_command_from_drive(image, ONE, 3, 79.5, &value));
    CHECK(value == 10);
    OK(elb_block_command_from_counts(image, ONE, 3, 283, &value));
    CHECK(fabsf(value - 10) < 0.5f);
    OK(elb_block_command_from_pulse_us(image, ONE, 3, NAN, &value));
    CHECK(isnan(value));
    EXPECT(ELB_STATUS_NO_FEEDBACK, elb_block_command_from_reading(image, ONE, 3, 500, &value));
    counts = 7;
    EXPECT(ELB_STATUS_NOT_FINITE, elb_block_counts(image, ONE, 3, INFINITY, &counts));
    TEXT_SAYS(ELB_STATUS_UNKNOWN_CHANNEL, elb_block_counts(image, ONE, 9, 10, &counts), "no joint of this channel");
    EXPECT(ELB_STATUS_OPTION_OUTSIDE, elb_block_step(image, ONE, 3, 10, 60, -1, &value));
    CHECK(counts == 7);
    /* The travel ends at 109.7 deg, which is command 45.53: the command waits there, and turns back at once. */
    put_f32(image + HEAD + 24, 109.7f);
    put(image + HEAD + 56, 352, 4);
    seal(image, ONE);
    OK(elb_block_check(image, ONE));
    value = 10;
    for (i = 0; i < 100; i++) OK(elb_block_step(image, ONE, 3, value, 60, 0.02f, &value));
    CHECK(fabs((double)value - 45.529) < 1e-3);
    OK(elb_block_step(image, ONE, 3, value, 0, 0.02f, &value));
    CHECK(fabs((double)value - 44.329) < 1e-3);
}

static void damaged(void) {
    uint8_t image[TWO];
    size_t i;
    int bit;
    put_head(image, 1, ONE);
    put_joint(image + HEAD, 3);
    seal(image, ONE);
    TEXT_SAYS(ELB_STATUS_BLOCK_LENGTH, elb_block_check(image, ONE - 1), "shorter or longer");
    EXPECT(ELB_STATUS_BLOCK_LENGTH, elb_block_check(image, 0));
    EXPECT(ELB_STATUS_BAD_SIZE, elb_block_check(image, SIZE_MAX));
    /* Whatever bit tips over, it is noticed. */
    for (i = 0; i < ONE; i++) {
        for (bit = 0; bit < 8; bit++) {
            image[i] ^= (uint8_t)(1 << bit);
            CHECK(elb_block_check(image, ONE) != ELB_STATUS_OK);
            image[i] ^= (uint8_t)(1 << bit);
        }
    }
    image[0] = 'X';
    TEXT_SAYS(ELB_STATUS_BLOCK_BAD_MAGIC, elb_block_check(image, ONE), "do not begin with those of a block");
    image[0] = 'E';
    image[4] = 2;
    TEXT_SAYS(ELB_STATUS_BLOCK_VERSION, elb_block_check(image, ONE), "version is not known");
    image[4] = 1;
    image[HEAD + 4] ^= 1;
    TEXT_SAYS(ELB_STATUS_BLOCK_CHECKSUM, elb_block_check(image, ONE), "not those that were written");
    image[HEAD + 4] ^= 1;
    image[HEAD + 2] = 77;
    seal(image, ONE);
    TEXT_SAYS(ELB_STATUS_BLOCK_INVALID, elb_block_check(image, ONE), "contradict each other");
    put_head(image, 2, TWO);
    put_joint(image + HEAD, 3);
    put_joint(image + HEAD + JOINT, 3);
    seal(image, TWO);
    TEXT_SAYS(ELB_STATUS_CHANNEL_TWICE, elb_block_check(image, TWO), "share a channel");
}

static void null(void) {
    uint8_t image[ONE] = {0};
    uint16_t counts = 7;
    float value = 7;
    elb_block_conversion conversion;
    EXPECT(ELB_STATUS_NULL_POINTER, elb_block_check(NULL, 16));
    EXPECT(ELB_STATUS_NULL_POINTER, elb_block_counts(NULL, 16, 0, 90, &counts));
    EXPECT(ELB_STATUS_NULL_POINTER, elb_block_counts(image, 16, 0, 90, NULL));
    EXPECT(ELB_STATUS_NULL_POINTER, elb_block_pulse_us(NULL, 16, 0, 90, &value));
    EXPECT(ELB_STATUS_NULL_POINTER, elb_block_pulse_us(image, 16, 0, 90, NULL));
    EXPECT(ELB_STATUS_NULL_POINTER, elb_block_convert(NULL, 16, 0, 90, &conversion));
    EXPECT(ELB_STATUS_NULL_POINTER, elb_block_convert(image, 16, 0, 90, NULL));
    EXPECT(ELB_STATUS_NULL_POINTER, elb_block_step(NULL, 16, 0, 0, 90, 1, &value));
    EXPECT(ELB_STATUS_NULL_POINTER, elb_block_step(image, 16, 0, 0, 90, 1, NULL));
    EXPECT(ELB_STATUS_NULL_POINTER, elb_block_rest(NULL, 16, 0, &value));
    EXPECT(ELB_STATUS_NULL_POINTER, elb_block_rest(image, 16, 0, NULL));
    EXPECT(ELB_STATUS_NULL_POINTER, elb_block_command_from_counts(NULL, 16, 0, 199, &value));
    EXPECT(ELB_STATUS_NULL_POINTER, elb_block_command_from_counts(image, 16, 0, 199, NULL));
    EXPECT(ELB_STATUS_NULL_POINTER, elb_block_command_from_pulse_us(NULL, 16, 0, 1500, &value));
    EXPECT(ELB_STATUS_NULL_POINTER, elb_block_command_from_pulse_us(image, 16, 0, 1500, NULL));
    EXPECT(ELB_STATUS_NULL_POINTER, elb_block_command_from_drive(NULL, 16, 0, 42, &value));
    EXPECT(ELB_STATUS_NULL_POINTER, elb_block_command_from_drive(image, 16, 0, 42, NULL));
    EXPECT(ELB_STATUS_NULL_POINTER, elb_block_command_from_reading(NULL, 16, 0, 500, &value));
    EXPECT(ELB_STATUS_NULL_POINTER, elb_block_command_from_reading(image, 16, 0, 500, NULL));
    CHECK(counts == 7 && value == 7);
}

void test_block(void) {
    good();
    damaged();
    null();
}
