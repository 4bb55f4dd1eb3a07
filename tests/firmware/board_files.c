/* In the place of a board's serial line: the files input.bin and output.bin of the computer that simulates it, by semihosting
 * (Arm's "Semihosting for AArch32 and AArch64", and the same operations on RISC-V). A serial line passes byte by byte, which takes
 * the simulator many times as long as the program itself. */
#include "board.h"

#include <string.h>

enum { SYS_OPEN = 0x01, SYS_WRITE = 0x05, SYS_READ = 0x06, SYS_EXIT = 0x18 };
enum { APPLICATION_EXIT = 0x20026 };
enum { MODE_READ_BINARY = 1, MODE_WRITE_BINARY = 5 };

static uintptr_t semihosting(uintptr_t operation, uintptr_t parameters) {
#if defined(__riscv)
    register uintptr_t a0 __asm__("a0") = operation;
    register uintptr_t a1 __asm__("a1") = parameters;
    /* Three whole instructions on one page; the first and last do nothing but mark the call. */
    __asm__ volatile(
        ".option push\n .option norvc\n .balign 16\n"
        "slli x0, x0, 0x1f\n ebreak\n srai x0, x0, 7\n"
        ".option pop\n" : "+r"(a0) : "r"(a1) : "memory");
    return a0;
#else
    register uintptr_t r0 __asm__("r0") = operation;
    register uintptr_t r1 __asm__("r1") = parameters;
    __asm__ volatile("bkpt 0xab" : "+r"(r0) : "r"(r1) : "memory");
    return r0;
#endif
}

static uint8_t in[1024], out[1024];
static uint16_t in_at, in_end, out_end;
static uintptr_t input, output;

static uintptr_t opened(const char *name, uintptr_t mode) {
    uintptr_t parameters[3] = {(uintptr_t)name, mode, strlen(name)};
    return semihosting(SYS_OPEN, (uintptr_t)parameters);
}

static void flush(void) {
    uintptr_t parameters[3] = {output, (uintptr_t)out, out_end};
    if (out_end) semihosting(SYS_WRITE, (uintptr_t)parameters);
    out_end = 0;
}

void board_start(void) {
    input = opened("input.bin", MODE_READ_BINARY);
    output = opened("output.bin", MODE_WRITE_BINARY);
}

uint8_t board_read(void) {
    if (in_at == in_end) {
        uintptr_t parameters[3] = {input, (uintptr_t)in, sizeof in};
        in_at = 0;
        in_end = (uint16_t)(sizeof in - semihosting(SYS_READ, (uintptr_t)parameters));
    }
    return in_at < in_end ? in[in_at++] : 0;
}

void board_write(uint8_t byte) {
    out[out_end++] = byte;
    if (out_end == sizeof out) flush();
}

void board_stop(void) {
    flush();
    semihosting(SYS_EXIT, APPLICATION_EXIT);
    for (;;) {
    }
}
