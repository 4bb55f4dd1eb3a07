/* The block calls on damaged and on missing images; those on good ones are tested with the microcontrollers' library. */
#include "check.h"
#include <math.h>

void test_block(void) {
    uint8_t image[16] = {'E', 'L', 'B', 'W', 1};
    uint16_t counts = 7;
    float value = 7;
    elb_block_conversion conversion;
    EXPECT(ELB_STATUS_NULL_POINTER, elb_block_check(NULL, 16));
    EXPECT(ELB_STATUS_BLOCK_LENGTH, elb_block_check(image, 0));
    EXPECT(ELB_STATUS_BLOCK_LENGTH, elb_block_check(image, sizeof image));
    EXPECT(ELB_STATUS_BAD_SIZE, elb_block_check(image, SIZE_MAX));
    image[0] = 'X';
    CHECK(elb_block_check(image, sizeof image) != ELB_STATUS_OK);
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
    CHECK(counts == 7 && value == 7);
}
