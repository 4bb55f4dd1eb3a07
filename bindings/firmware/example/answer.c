/* Answers commands on the serial line with timer counts.
 *
 *   asks     8 90.5        channel and command, one pair a line
 *   answers  199           the timer count of the pulse
 *            refused 85    a status of elbowroom.h, here ELB_STATUS_UNKNOWN_CHANNEL
 *   asks     .             stop
 *
 * The block stands in flash; `elbowroom firmware` makes it of a robot file. */
#include "board.h"
#include "heron_block.h"

static void say_number(uint32_t number) {
    char digits[10];
    uint8_t n = 0;
    do {
        digits[n++] = (char)('0' + number % 10);
        number /= 10;
    } while (number);
    while (n) board_write((uint8_t)digits[--n]);
}

static void say(const char *text) {
    while (*text) board_write((uint8_t)*text++);
}

/* A decimal number of up to six digits and three places. Exact in 32 bits for halves, quarters and eighths. */
static float number_at(char **text) {
    char *at = *text;
    int8_t negative = 0;
    int32_t value = 0, scale = 1;
    while (*at == ' ') at++;
    if (*at == '-') negative = 1, at++;
    for (; *at >= '0' && *at <= '9'; at++) value = value * 10 + (*at - '0');
    if (*at == '.') {
        for (at++; *at >= '0' && *at <= '9'; at++) value = value * 10 + (*at - '0'), scale *= 10;
    }
    *text = at;
    return (float)(negative ? -value : value) / (float)scale;
}

int main(void) {
    char line[24];
    board_start();
    if (BOARD_BLOCK(check)(heron_block, sizeof heron_block) != ELB_STATUS_OK) {
        say("no good block\n");
        board_stop();
    }
    say("ready\n");
    for (;;) {
        uint8_t n = 0;
        char c;
        while ((c = (char)board_read()) != '\n') {
            if (n < sizeof line - 1) line[n++] = c;
        }
        line[n] = 0;
        if (line[0] == '.') board_stop();

        char *at = line;
        uint16_t channel = (uint16_t)number_at(&at), counts;
        float command = number_at(&at);
        elb_status status = BOARD_BLOCK(counts)(heron_block, sizeof heron_block, channel, command, &counts);
        if (status == ELB_STATUS_OK) {
            say_number(counts);
        } else {
            say("refused ");
            say_number((uint32_t)status);
        }
        say("\n");
    }
}
