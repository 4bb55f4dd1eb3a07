/* Arrays: refusals in the middle, in place, overlap, lengths, both number types. */
#include "check.h"
#include <math.h>
#include <stdlib.h>

enum { MANY = 1000 };

static void a_refused_element_stops_the_call(void) {
    elb_joint *joint = example_joint();
    const double commands[] = {10, -40, NAN, 60};
    const float floats[] = {10, -40, INFINITY, 60};
    uint16_t narrow[] = {7, 7, 7, 7};
    uint32_t wide[] = {7, 7, 7, 7};
    double drive[] = {7, 7, 7, 7};
    elb_tally tally = {5, 5};
    size_t done = 99;
    EXPECT(ELB_STATUS_NOT_FINITE, elb_joint_counts_batch(joint, commands, 4, narrow, &done));
    CHECK(done == 2 && narrow[0] == 283 && narrow[1] == 187 && narrow[2] == 7 && narrow[3] == 7);
    EXPECT(ELB_STATUS_NOT_FINITE, elb_joint_counts_batch_f32_u32(joint, floats, 4, wide, &done));
    CHECK(done == 2 && wide[0] == 283 && wide[1] == 187 && wide[2] == 7 && wide[3] == 7);
    EXPECT(ELB_STATUS_NOT_FINITE, elb_joint_drive_batch(joint, commands, 4, drive, NULL));
    CHECK(drive[0] == 79.5 && drive[1] == 37 && drive[2] == 7 && drive[3] == 7);
    EXPECT(ELB_STATUS_NOT_FINITE, elb_joint_tally(joint, commands, 4, &tally));
    CHECK(tally.clamped_to_command == 5 && tally.clamped_to_travel == 5);
    elb_joint_free(joint);
}

/* Every batch call gives the bits of the single calls, also across the boundaries of inner chunks. */
static void batches_give_the_bits_of_single_calls(void) {
    elb_joint *joint = example_joint();
    static double command[MANY], drive[MANY], pulse[MANY], back[MANY];
    static float command32[MANY];
    static uint16_t narrow[MANY], narrow32[MANY];
    static uint32_t wide[MANY], wide32[MANY];
    elb_conversion conversion;
    double value;
    size_t i, done = 0;
    for (i = 0; i < MANY; i++) {
        command32[i] = (float)i * 0.25f - 100;
        command[i] = command32[i];
    }
    OK(elb_joint_counts_batch(joint, command, MANY, narrow, &done));
    CHECK(done == MANY);
    OK(elb_joint_counts_batch_f32(joint, command32, MANY, narrow32, &done));
    CHECK(done == MANY);
    OK(elb_joint_counts_batch_u32(joint, command, MANY, wide, NULL));
    OK(elb_joint_counts_batch_f32_u32(joint, command32, MANY, wide32, NULL));
    OK(elb_joint_drive_batch(joint, command, MANY, drive, NULL));
    OK(elb_joint_pulse_us_batch(joint, command, MANY, pulse, NULL));
    for (i = 0; i < MANY; i++) {
        OK(elb_joint_counts(joint, command[i], &conversion));
        CHECK(narrow[i] == conversion.value && narrow32[i] == narrow[i] && wide[i] == narrow[i] && wide32[i] == narrow[i]);
        OK(elb_joint_drive(joint, command[i], &conversion));
        CHECK(bits_of(drive[i]) == bits_of(conversion.value));
        OK(elb_joint_pulse_us(joint, command[i], &conversion));
        CHECK(bits_of(pulse[i]) == bits_of(conversion.value));
    }
    OK(elb_joint_command_from_counts_batch(joint, narrow, MANY, back));
    for (i = 0; i < MANY; i++) {
        OK(elb_joint_command_from_counts(joint, narrow[i], &value));
        CHECK(bits_of(back[i]) == bits_of(value));
    }
    OK(elb_joint_command_from_counts_batch_u32(joint, wide, MANY, pulse));
    CHECK(memcmp(pulse, back, sizeof back) == 0);

    OK(elb_joint_drive_batch_f32(joint, command32, MANY, back, &done));
    CHECK(memcmp(drive, back, sizeof back) == 0 && done == MANY);
    OK(elb_joint_pulse_us_batch(joint, command, MANY, pulse, NULL));
    OK(elb_joint_pulse_us_batch_f32(joint, command32, MANY, back, &done));
    CHECK(memcmp(pulse, back, sizeof back) == 0 && done == MANY);
    elb_joint_free(joint);
}

/* The same array for both is fine as long as outputs are not the larger ones. */
static void in_place(void) {
    elb_joint *joint = example_joint();
    static double buffer[MANY], command[MANY], apart[MANY];
    static uint16_t narrow[MANY];
    static uint32_t wide[MANY];
    size_t i, done = 0;
    for (i = 0; i < MANY; i++) command[i] = (double)i * 0.2 - 100;

    OK(elb_joint_drive_batch(joint, command, MANY, apart, NULL));
    memcpy(buffer, command, sizeof buffer);
    OK(elb_joint_drive_batch(joint, buffer, MANY, buffer, &done));
    CHECK(done == MANY && memcmp(buffer, apart, sizeof buffer) == 0);
    OK(elb_joint_command_from_drive_batch(joint, apart, MANY, apart));
    OK(elb_joint_command_from_drive_batch(joint, buffer, MANY, buffer));
    CHECK(memcmp(buffer, apart, sizeof buffer) == 0);

    OK(elb_joint_counts_batch(joint, command, MANY, narrow, NULL));
    memcpy(buffer, command, sizeof buffer);
    OK(elb_joint_counts_batch(joint, buffer, MANY, (uint16_t *)(void *)buffer, &done));
    CHECK(done == MANY && memcmp(buffer, narrow, sizeof narrow) == 0);

    OK(elb_joint_counts_batch_u32(joint, command, MANY, wide, NULL));
    memcpy(buffer, command, sizeof buffer);
    OK(elb_joint_counts_batch_u32(joint, buffer, MANY, (uint32_t *)(void *)buffer, &done));
    CHECK(done == MANY && memcmp(buffer, wide, sizeof wide) == 0);
    elb_joint_free(joint);
}

static void overlap_is_refused(void) {
    elb_joint *joint = example_joint();
    double buffer[20];
    size_t i, done = 99;
    for (i = 0; i < 20; i++) buffer[i] = 10;
    TEXT_SAYS(ELB_STATUS_OVERLAP, elb_joint_drive_batch(joint, buffer, 10, buffer + 1, &done), "overlaps its input");
    EXPECT(ELB_STATUS_OVERLAP, elb_joint_drive_batch(joint, buffer + 9, 10, buffer, &done));
    /* Outputs that are larger would overwrite what is not yet read. */
    EXPECT(ELB_STATUS_OVERLAP, elb_joint_drive_batch_f32(joint, (const float *)(void *)buffer, 10, buffer, &done));
    EXPECT(ELB_STATUS_OVERLAP, elb_joint_command_from_counts_batch(joint, (const uint16_t *)(void *)buffer, 10, buffer));
    for (i = 0; i < 20; i++) CHECK(buffer[i] == 10);
    CHECK(done == 99);
    OK(elb_joint_drive_batch(joint, buffer, 10, buffer + 10, &done));
    CHECK(done == 10);
    elb_joint_free(joint);
}

static void lengths(void) {
    elb_joint *joint = example_joint();
    double one[1] = {10};
    uint16_t out[1] = {7};
    size_t done = 99;
    elb_tally tally;
    OK(elb_joint_counts_batch(joint, NULL, 0, NULL, &done));
    CHECK(done == 0);
    OK(elb_joint_counts_batch(joint, one, 0, out, NULL));
    CHECK(out[0] == 7);
    OK(elb_joint_tally(joint, NULL, 0, &tally));
    CHECK(tally.clamped_to_command == 0 && tally.clamped_to_travel == 0);
    OK(elb_joint_command_from_counts_batch(joint, NULL, 0, NULL));
    EXPECT(ELB_STATUS_BAD_SIZE, elb_joint_counts_batch(joint, one, SIZE_MAX, out, &done));
    EXPECT(ELB_STATUS_BAD_SIZE, elb_joint_counts_batch(joint, one, SIZE_MAX / 8, out, &done));
    EXPECT(ELB_STATUS_BAD_SIZE, elb_joint_counts_batch(joint, one, SIZE_MAX / 16 + 1, out, &done));
    EXPECT(ELB_STATUS_BAD_SIZE, elb_joint_tally(joint, one, SIZE_MAX, &tally));
    CHECK(out[0] == 7);
    elb_joint_free(joint);
}

static void misalignment_is_refused(void) {
    elb_joint *joint = example_joint();
    double storage[4] = {0};
    char *odd = (char *)storage + 1;
    uint16_t out[2];
    double back[2];
    TEXT_SAYS(ELB_STATUS_MISALIGNED, elb_joint_counts_batch(joint, (const double *)(void *)odd, 2, out, NULL), "not aligned");
    EXPECT(ELB_STATUS_MISALIGNED, elb_joint_drive(joint, 10, (elb_conversion *)(void *)odd));
    EXPECT(ELB_STATUS_MISALIGNED, elb_joint_counts(joint, 10, (elb_conversion *)(void *)odd));
    EXPECT(ELB_STATUS_MISALIGNED,
           elb_joint_command_from_counts_batch(joint, (const uint16_t *)(void *)odd, 1, back));
    elb_joint_free(joint);
}

static void wide_counts_need_the_wide_form(void) {
    elb_joint_config config = example_config();
    elb_joint *joint = NULL;
    const double command[] = {10};
    uint16_t narrow[1] = {7};
    uint32_t wide[1] = {0};
    config.timer.counts_per_frame = 2000000;
    OK(elb_joint_new(&config, &joint, NULL));
    TEXT_SAYS(ELB_STATUS_COUNT_TOO_WIDE, elb_joint_counts_batch(joint, command, 1, narrow, NULL), "needs more bits");
    CHECK(narrow[0] == 7);
    OK(elb_joint_counts_batch_u32(joint, command, 1, wide, NULL));
    CHECK(wide[0] == 138333);
    elb_joint_free(joint);
}

void test_batch(void) {
    a_refused_element_stops_the_call();
    batches_give_the_bits_of_single_calls();
    in_place();
    overlap_is_refused();
    lengths();
    misalignment_is_refused();
    wide_counts_need_the_wide_form();
}
