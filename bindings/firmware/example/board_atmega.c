/* An ATmega at 16 MHz. Register names and bits: data sheets of ATmega328P and ATmega32U4, chapters USART. */
#include "board.h"

#include <avr/interrupt.h>
#include <avr/io.h>
#include <avr/sleep.h>

/* An ATmega32U4 has no USART 0. The bits stand in the same places. */
#if !defined(UDR0)
#define UCSR0A UCSR1A
#define UCSR0B UCSR1B
#define UCSR0C UCSR1C
#define UBRR0 UBRR1
#define UDR0 UDR1
#define U2X0 U2X1
#define UCSZ00 UCSZ10
#define RXEN0 RXEN1
#define TXEN0 TXEN1
#define RXC0 RXC1
#define TXC0 TXC1
#define UDRE0 UDRE1
#endif

void board_start(void) {
    /* 1 Mbit/s: 16 MHz / 8 / (UBRR + 1). */
    UCSR0A = 1 << U2X0;
    UBRR0 = 1;
    UCSR0C = 3 << UCSZ00;
    UCSR0B = (1 << RXEN0) | (1 << TXEN0);
}

uint8_t board_read(void) {
    while (!(UCSR0A & (1 << RXC0))) {
    }
    return UDR0;
}

void board_write(uint8_t byte) {
    while (!(UCSR0A & (1 << UDRE0))) {
    }
    UCSR0A |= 1 << TXC0;
    UDR0 = byte;
}

void board_stop(void) {
    while (!(UCSR0A & (1 << TXC0))) {
    }
    cli();
    sleep_enable();
    for (;;) sleep_cpu();
}
