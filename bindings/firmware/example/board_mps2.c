/* The serial line of Arm's MPS2 board: images AN385 (Cortex-M3), AN386 (Cortex-M4) and AN505 (Cortex-M33), as QEMU has them. */
#include "board.h"

/* CMSDK UART 0; memory maps: Arm DAI 0385, 0386, 0505 (there its secure alias); registers: Arm DDI 0479, APB UART. */
#if defined(__ARM_ARCH_8M_MAIN__)
static volatile uint32_t *const uart = (volatile uint32_t *)0x50200000;
#else
static volatile uint32_t *const uart = (volatile uint32_t *)0x40004000;
#endif
enum { UART_DATA = 0, UART_STATE = 1, UART_CONTROL = 2, UART_DIVIDER = 4 };
enum { UART_FULL_OUT = 1, UART_FULL_IN = 2 };

void board_start(void) {
    uart[UART_DIVIDER] = 16;
    uart[UART_CONTROL] = 3;
}

uint8_t board_read(void) {
    while (!(uart[UART_STATE] & UART_FULL_IN)) {
    }
    return (uint8_t)uart[UART_DATA];
}

void board_write(uint8_t byte) {
    while (uart[UART_STATE] & UART_FULL_OUT) {
    }
    uart[UART_DATA] = byte;
}
