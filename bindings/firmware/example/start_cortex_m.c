/* What a Cortex-M does between reset and main(), and how it stops. */
#include "board.h"

#include <string.h>

int main(void);

/* From the linker script: initialised data and where its values stand, and what begins as zero. */
extern uint8_t data_values[], data_begin[], data_end[], zero_begin[], zero_end[], stack_top[];

static void reset(void) {
#if defined(__ARM_FP)
    /* Coprocessor Access Control Register: full access to the FPU. Armv7-M ARM, B3.2.20. */
    *(volatile uint32_t *)0xE000ED88 |= 0xFu << 20;
    __asm__ volatile("dsb\n isb" : : : "memory");
#endif
    memcpy(data_begin, data_values, (size_t)(data_end - data_begin));
    memset(zero_begin, 0, (size_t)(zero_end - zero_begin));
    main();
    board_stop();
}

/* Weak: the tests put their own in its place. */
__attribute__((weak)) void board_stop(void) {
    /* Semihosting call SYS_EXIT, reason ADP_Stopped_ApplicationExit. A board without a debugger faults here and stays. */
    register uint32_t call __asm__("r0") = 0x18;
    register uint32_t reason __asm__("r1") = 0x20026;
    __asm__ volatile("bkpt 0xab" : : "r"(call), "r"(reason) : "memory");
    for (;;) {
    }
}

static void halt(void) {
    for (;;) {
    }
}

__attribute__((section(".vectors"), used)) const struct {
    void *stack;
    void (*handlers[15])(void);
} vectors = {stack_top, {reset, halt, halt, halt, halt, halt}};
