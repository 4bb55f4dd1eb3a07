/* What the library costs on a board: time, and stack. Sends lines "name number". */
#include "board.h"
#include "heron_block.h"
#include "reference.h"

enum { ROUNDS = 64, DEPTH = 1000 };

#if defined(__AVR__)
#include <avr/io.h>
/* Timer 1 at an eighth of the processor's clock, so that the longest call does not run over it. */
static void clock_start(void) { TCCR1A = 0; TCCR1B = 1 << CS11; }
static uint16_t clock_now(void) { return TCNT1; }
static uint32_t clock_span(uint16_t from, uint16_t to) { return (uint32_t)(uint16_t)(to - from) * 8; }
typedef uint16_t instant;
#else
/* SysTick (Armv7-M ARM, B3.3), which counts down at 25 MHz. The simulator runs one instruction a nanosecond. */
static volatile uint32_t *const systick = (volatile uint32_t *)0xE000E010;
static void clock_start(void) { systick[1] = 0xFFFFFF; systick[2] = 0; systick[0] = 5; }
static uint32_t clock_now(void) { return systick[2]; }
static uint32_t clock_span(uint32_t from, uint32_t to) { return ((from - to) & 0xFFFFFF) * 40; }
typedef uint32_t instant;
#endif

static void say(const char *name, uint32_t number) {
    char digits[10];
    uint8_t n = 0;
    while (*name) board_write((uint8_t)*name++);
    board_write(' ');
    do {
        digits[n++] = (char)('0' + number % 10);
        number /= 10;
    } while (number);
    while (n) board_write((uint8_t)digits[--n]);
    board_write('\n');
}

/* What is asked for: one call, of the library and of the reference. */
#if defined(CALL_counts)
typedef uint16_t answer;
#define GIVEN command
#elif defined(CALL_pulse_us)
typedef float answer;
#define GIVEN command
#elif defined(CALL_convert)
typedef elb_block_conversion answer;
#define GIVEN command
#elif defined(CALL_step)
typedef float answer;
#define GIVEN 10, command, 0.02f
#elif defined(CALL_command_from_counts)
typedef float answer;
#define GIVEN counts
#elif defined(CALL_command_from_reading)
typedef float answer;
#define GIVEN reading
#endif
#define LIBRARY(call) BOARD_BLOCK(call)
#define REFERENCE_(call) reference_##call
#define REFERENCE(call) REFERENCE_(call)
#define IN_BLOCK heron_block, sizeof heron_block

static volatile float command, reading;
static volatile uint16_t channel;
static volatile uint32_t counts;
static answer own, other;
static elb_status status, other_status;

static void nothing(void) {}
static void by_library(void) { status = LIBRARY(CALL)(IN_BLOCK, channel, GIVEN, &own); }
static void by_reference(void) { other_status = REFERENCE(CALL)(IN_BLOCK, channel, GIVEN, &other); }
static void by_check(void) { status = BOARD_BLOCK(check)(IN_BLOCK); }

/* The first free byte of the stack. */
static inline __attribute__((always_inline)) volatile uint8_t *free_stack(void) {
#if defined(__AVR__)
    return (volatile uint8_t *)SP;
#else
    uintptr_t at;
    __asm__ volatile("mov %0, sp" : "=r"(at));
    return (volatile uint8_t *)(at - 1);
#endif
}

/* The stack below this frame, painted before a call and looked at after it. No interrupts are on. */
static __attribute__((noinline)) uint16_t stack_of(void (*call)(void)) {
    volatile uint8_t *top = free_stack();
    for (uint16_t i = 0; i < DEPTH; i++) top[-(int16_t)i] = 0xA5;
    call();
    uint16_t used = 0;
    for (uint16_t i = 0; i < DEPTH; i++) {
        if (top[-(int16_t)i] != 0xA5) used = i + 1;
    }
    return used;
}

/* A joint, and what it is given: commands, readings and counts over its range and a little beyond. */
static __attribute__((noinline)) void choose(uint8_t round) {
    channel = (uint16_t)(round % 16 * 3);
    command = 1.5f + 2.75f * (float)round;
    reading = 190 + 11.25f * (float)round;
    counts = 110 + 3 * (uint32_t)round;
}

/* The mean over all joints and many commands. */
static void time_of(const char *name, void (*call)(void)) {
    uint32_t whole = 0;
    for (uint8_t round = 0; round < ROUNDS; round++) {
        choose(round);
        instant from = clock_now();
#if defined(__AVR__)
        call();
        whole += clock_span(from, clock_now());
        from = clock_now();
        nothing();
        whole -= clock_span(from, clock_now());
#else
        /* A tick has 40 instructions: many calls, for the mean. */
        for (uint8_t i = 0; i < 200; i++) call();
        whole += clock_span(from, clock_now()) / 200;
#endif
    }
    say(name, (whole + ROUNDS / 2) / ROUNDS);
}

int main(void) {
    board_start();
    clock_start();
    uint16_t different = 0;
    for (uint8_t round = 0; round < ROUNDS; round++) {
        choose(round);
        by_library();
        by_reference();
        different += status != ELB_STATUS_OK || other_status != ELB_STATUS_OK || memcmp(&own, &other, sizeof own);
    }
    say("different", different);
    time_of("library", by_library);
    time_of("reference", by_reference);

    uint16_t frame = stack_of(nothing);
    choose(5);
    say("stack_library", stack_of(by_library) - frame);
    say("stack_reference", stack_of(by_reference) - frame);
#if defined(WITH_CHECK)
    say("stack_check", stack_of(by_check) - frame);
    say("check", (uint32_t)status);
#else
    (void)by_check;
#endif
    board_stop();
}
