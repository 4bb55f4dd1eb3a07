/* Runs a program for an ATmega in simavr, its serial line on standard input and output.
 *
 *   simavr_board PROCESSOR LINE PROGRAM.elf      such as atmega328p 0 program.elf; LINE: which USART
 *
 * Ends when the program sleeps with interrupts off, or when the input has ended and nothing was sent for QUIET_CYCLES: status 0, or
 * 1 if the simulated processor crashed. */
#include <simavr/avr_uart.h>
#include <simavr/sim_avr.h>
#include <simavr/sim_elf.h>

#include <stdarg.h>
#include <stdio.h>
#include <string.h>

/* Two seconds: longer than any program here computes without a word. */
enum { QUIET_CYCLES = 32000000 };

static int line_is_free;
static avr_cycle_count_t last_sent;

static void on_byte(struct avr_irq_t *irq, uint32_t byte, void *avr) {
    (void)irq;
    last_sent = ((avr_t *)avr)->cycle;
    putchar((int)(byte & 255));
}

static void on_free(struct avr_irq_t *irq, uint32_t value, void *unused) {
    (void)irq, (void)value, (void)unused;
    line_is_free = 1;
}

static void on_full(struct avr_irq_t *irq, uint32_t value, void *unused) {
    (void)irq, (void)value, (void)unused;
    line_is_free = 0;
}

/* simavr's own messages would mix with the serial line. */
static void stay_silent(struct avr_t *avr, const int level, const char *format, va_list values) {
    (void)avr;
    if (level <= LOG_ERROR) vfprintf(stderr, format, values);
}

int main(int argc, char **argv) {
    avr_global_logger_set(stay_silent);
    elf_firmware_t program;
    memset(&program, 0, sizeof program);
    if (argc != 4 || elf_read_firmware(argv[3], &program)) {
        fprintf(stderr, "usage: simavr_board PROCESSOR LINE PROGRAM.elf\n");
        return 2;
    }
    const char line = argv[2][0];
    avr_t *avr = avr_make_mcu_by_name(argv[1]);
    if (!avr) return 2;
    avr_init(avr);
    avr_load_firmware(avr, &program);
    avr->frequency = 16000000;

    uint32_t flags = 0;
    avr_ioctl(avr, AVR_IOCTL_UART_GET_FLAGS(line), &flags);
    flags &= ~(uint32_t)(AVR_UART_FLAG_STDIO | AVR_UART_FLAG_POLL_SLEEP);
    avr_ioctl(avr, AVR_IOCTL_UART_SET_FLAGS(line), &flags);
    avr_irq_t *input = avr_io_getirq(avr, AVR_IOCTL_UART_GETIRQ(line), UART_IRQ_INPUT);
    avr_irq_register_notify(avr_io_getirq(avr, AVR_IOCTL_UART_GETIRQ(line), UART_IRQ_OUTPUT), on_byte, avr);
    avr_irq_register_notify(avr_io_getirq(avr, AVR_IOCTL_UART_GETIRQ(line), UART_IRQ_OUT_XON), on_free, NULL);
    avr_irq_register_notify(avr_io_getirq(avr, AVR_IOCTL_UART_GETIRQ(line), UART_IRQ_OUT_XOFF), on_full, NULL);

    int state = cpu_Running, ended = 0;
    while (state != cpu_Done && state != cpu_Crashed) {
        if (line_is_free && !ended) {
            int byte = getchar();
            if (byte == EOF) {
                ended = 1;
                last_sent = avr->cycle;
            } else {
                avr_raise_irq(input, (uint32_t)byte);
            }
        }
        if (ended && avr->cycle - last_sent > QUIET_CYCLES) break;
        /* Some steps at a time: to look for input after each would take most of the time. */
        for (int i = 0; i < 16 && state != cpu_Done && state != cpu_Crashed; i++) state = avr_run(avr);
    }
    fflush(stdout);
    return state == cpu_Crashed ? 1 : 0;
}
