/* Converts what the serial line brings, bit by bit: the board's side of the shared vectors.
 *
 *   'B' length (2 bytes), image   takes a block into RAM and checks it: status (4)
 *   'F'                           checks the block in flash: status (4)
 *   'J' channel (2)               chooses the joint
 *   'C' command (4)               status (4), drive (4), pulse_us (4), counts (4), flags (4), status and value of the
 *                                 16-bit call (4, 2), pulse_us of the call of that name (4)
 *   'K' counts (4)                the command of them (4)
 *   'W' value (4)                 the command of it as a drive angle (4) and as a pulse width (4)
 *   'S' from, target, seconds     status (4), next command (4)
 *   'M' reading (4)               status (4), command of it (4)
 *   'R'                           status (4), rest (4)
 *   'Q'                           stops
 *
 * Numbers are little-endian, as both boards are. Built for blocks in RAM and, with BLOCK_IN_FLASH, for the one in flash:
 * on an AVR these are different calls, and both would not fit at once. All calls on curves would not fit either: PART is the
 * sum of 1 for commands, 2 for the ways back from the motor and 4 for the rest. */
#include "board.h"

#ifndef PART
#define PART 7
#endif

#ifdef BLOCK_IN_FLASH
#include "heron_block.h"
#define CALL(call, ...) BOARD_BLOCK(call)(heron_block, sizeof heron_block, __VA_ARGS__)
#else
static uint8_t image[700];
static uint16_t length;
#define CALL(call, ...) elb_block_##call(image, length, __VA_ARGS__)
#endif
static uint16_t channel;

static void take(void *to, uint16_t n) {
    uint8_t *bytes = to;
    while (n--) *bytes++ = board_read();
}

static void give(const void *from, uint16_t n) {
    const uint8_t *bytes = from;
    while (n--) board_write(*bytes++);
}

int main(void) {
    board_start();
    for (;;) {
        elb_status status;
        float x[3];
        switch (board_read()) {
#ifdef BLOCK_IN_FLASH
        case 'F':
            status = BOARD_BLOCK(check)(heron_block, sizeof heron_block);
            give(&status, 4);
            break;
#else
        case 'B':
            take(&length, 2);
            take(image, length);
            status = elb_block_check(image, length);
            give(&status, 4);
            break;
#endif
        case 'J':
            take(&channel, 2);
            break;
#if PART & 1
        case 'C': {
            elb_block_conversion all = {0, 0, 0, 0};
            float pulse_us = 0;
            uint16_t counts = 0;
            take(x, 4);
            status = CALL(convert, channel, x[0], &all);
            give(&status, 4);
            give(&all, 16);
            status = CALL(counts, channel, x[0], &counts);
            give(&status, 4);
            give(&counts, 2);
            if (CALL(pulse_us, channel, x[0], &pulse_us)) pulse_us = 0;
            give(&pulse_us, 4);
            break;
        }
#endif
#if PART & 2
        case 'K': {
            uint32_t counts;
            take(&counts, 4);
            if (CALL(command_from_counts, channel, counts, x)) x[0] = -1;
            give(x, 4);
            break;
        }
        case 'W':
            take(x, 4);
            if (CALL(command_from_drive, channel, x[0], &x[1])) x[1] = -1;
            if (CALL(command_from_pulse_us, channel, x[0], &x[2])) x[2] = -1;
            give(&x[1], 8);
            break;
#endif
#if PART & 4
        case 'S': {
            float next = 0;
            take(x, 12);
            status = CALL(step, channel, x[0], x[1], x[2], &next);
            give(&status, 4);
            give(&next, 4);
            break;
        }
        case 'M': {
            float out = 0;
            take(x, 4);
            status = CALL(command_from_reading, channel, x[0], &out);
            give(&status, 4);
            give(&out, 4);
            break;
        }
        case 'R':
            x[0] = 0;
            status = CALL(rest, channel, x);
            give(&status, 4);
            give(x, 4);
            break;
#endif
        default:
            board_stop();
        }
    }
}
