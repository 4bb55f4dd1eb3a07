/* ATmega328P at 16 MHz. Register names and bits: ATmega328P data sheet, chapter USART0. */
#include "board.h"

#include <avr/interrupt.h>
#include <avr/io.h>
#include <avr/sleep.h>

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
