/* The serial line of an nRF51822 (Cortex-M0), as on the micro:bit of QEMU. Registers: nRF51 Series Reference Manual, UART. */
#include "board.h"

static volatile uint32_t *const uart = (volatile uint32_t *)0x40002000;
/* Offsets in words. */
enum { START_RX = 0x000 / 4, START_TX = 0x008 / 4, RX_READY = 0x108 / 4, TX_READY = 0x11C / 4, ENABLE = 0x500 / 4, RX = 0x518 / 4, TX = 0x51C / 4 };

void board_start(void) {
    uart[ENABLE] = 4;
    uart[START_RX] = 1;
    uart[START_TX] = 1;
}

uint8_t board_read(void) {
    while (!uart[RX_READY]) {
    }
    uart[RX_READY] = 0;
    return (uint8_t)uart[RX];
}

void board_write(uint8_t byte) {
    uart[TX_READY] = 0;
    uart[TX] = byte;
    while (!uart[TX_READY]) {
    }
}
