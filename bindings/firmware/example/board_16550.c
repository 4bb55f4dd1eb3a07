/* A 16550 serial line, as QEMU's `virt` machine with RISC-V has it. */
#include "board.h"

static volatile uint8_t *const uart = (volatile uint8_t *)0x10000000;
enum { UART_DATA = 0, UART_STATE = 5 };
enum { UART_FULL_IN = 1, UART_FREE_OUT = 0x20 };

void board_start(void) {}

uint8_t board_read(void) {
    while (!(uart[UART_STATE] & UART_FULL_IN)) {
    }
    return uart[UART_DATA];
}

void board_write(uint8_t byte) {
    while (!(uart[UART_STATE] & UART_FREE_OUT)) {
    }
    uart[UART_DATA] = byte;
}
