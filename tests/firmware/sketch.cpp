// The header from C++ (gnu++11 without exceptions, as sketches are compiled): every call for the flash of an AVR, and the flags.
#include "board.h"
#include "heron_block.h"

#define IN_BLOCK heron_block, sizeof heron_block

static void say(uint32_t number) {
    char digits[10];
    uint8_t n = 0;
    do {
        digits[n++] = char('0' + number % 10);
        number /= 10;
    } while (number);
    while (n) board_write(uint8_t(digits[--n]));
    board_write('\n');
}

// The bits of a float.
static void say(elb_status status, const float &value) {
    union {
        float value;
        uint32_t bits;
    } as;
    as.value = value;
    say(status == ELB_STATUS_OK ? as.bits : uint32_t(status));
}

int main() {
    board_start();
    float x = 0;
    uint16_t counts = 0;
    elb_block_conversion all = elb_block_conversion();
    say(uint32_t(BOARD_BLOCK(check)(IN_BLOCK)));
    say(uint32_t(BOARD_BLOCK(counts)(IN_BLOCK, 3, 10, &counts)));
    say(counts);
    say(uint32_t(BOARD_BLOCK(convert)(IN_BLOCK, 3, 61, &all)));
    say(all.flags == (ELB_CLAMPED_TO_COMMAND | ELB_CLAMPED_TO_TRAVEL) ? 1 : 0);
    say(BOARD_BLOCK(pulse_us)(IN_BLOCK, 3, 10, &x), x);
    say(BOARD_BLOCK(rest)(IN_BLOCK, 3, &x), x);
    say(BOARD_BLOCK(step)(IN_BLOCK, 3, 10, 60, 0.5f, &x), x);
    say(BOARD_BLOCK(command_from_reading)(IN_BLOCK, 3, 500, &x), x);
    say(BOARD_BLOCK(command_from_counts)(IN_BLOCK, 3, 283, &x), x);
    say(BOARD_BLOCK(command_from_pulse_us)(IN_BLOCK, 3, 1400, &x), x);
    say(BOARD_BLOCK(command_from_drive)(IN_BLOCK, 3, 80, &x), x);
    say(uint32_t(BOARD_BLOCK(rest)(IN_BLOCK, 1, &x)));
    board_stop();
}
