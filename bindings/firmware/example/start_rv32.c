/* What a 32-bit RISC-V program does between reset and main() on QEMU's `virt` machine, and how it stops. */
#include "board.h"

#include <string.h>

/* The machine's register that ends the simulation. */
static volatile uint32_t *const finisher = (volatile uint32_t *)0x100000;
enum { FINISHER_PASS = 0x5555 };

int main(void);

/* From the linker script: what begins as zero. */
extern uint8_t zero_begin[], zero_end[];

__attribute__((used)) static void reset(void) {
    memset(zero_begin, 0, (size_t)(zero_end - zero_begin));
    main();
    board_stop();
}

/* Weak: the tests put their own in its place. */
__attribute__((weak)) void board_stop(void) {
    *finisher = FINISHER_PASS;
    for (;;) {
    }
}

__asm__(
    ".section .vectors, \"ax\"\n"
    ".global vectors\n"
    "vectors:\n"
    "    la sp, stack_top\n"
    "    j reset\n"
    ".text\n");
