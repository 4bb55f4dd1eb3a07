/* A Cortex-M4 with FPU on Arm's MPS2 board, image AN386 (Arm DAI 0386): what QEMU calls mps2-an386. */
#include "board.h"

#include <string.h>

/* CMSDK UART 0: AN386, memory map; registers: Arm DDI 0479, APB UART. */
static volatile uint32_t *const uart = (volatile uint32_t *)0x40004000;
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

void board_stop(void) {
    /* Semihosting call SYS_EXIT, reason ADP_Stopped_ApplicationExit. A board without a debugger faults here and stays. */
    register uint32_t call __asm__("r0") = 0x18;
    register uint32_t reason __asm__("r1") = 0x20026;
    __asm__ volatile("bkpt 0xab" : : "r"(call), "r"(reason) : "memory");
    for (;;) {
    }
}

int main(void);

/* From the linker script: initialised data and where its values stand, and what begins as zero. */
extern uint8_t data_values[], data_begin[], data_end[], zero_begin[], zero_end[], stack_top[];

static void reset(void) {
    /* Coprocessor Access Control Register: full access to the FPU. Armv7-M ARM, B3.2.20. */
    *(volatile uint32_t *)0xE000ED88 |= 0xFu << 20;
    __asm__ volatile("dsb\n isb" : : : "memory");
    memcpy(data_begin, data_values, (size_t)(data_end - data_begin));
    memset(zero_begin, 0, (size_t)(zero_end - zero_begin));
    main();
    board_stop();
}

static void halt(void) {
    for (;;) {
    }
}

__attribute__((section(".vectors"), used)) static const struct {
    void *stack;
    void (*handlers[15])(void);
} vectors = {stack_top, {reset, halt, halt, halt, halt, halt}};
