/* What the example needs of a board: a serial line, and a place for constants. */
#ifndef BOARD_H
#define BOARD_H

#include <elbowroom.h>

#if defined(__AVR__)
/* An AVR's constants stay in flash only if they are marked PROGMEM, and are read there by calls of their own. */
#include <avr/pgmspace.h>
#define BOARD_FLASH PROGMEM
#define BOARD_BLOCK(call) elb_block_##call##_flash
#else
#define BOARD_FLASH
#define BOARD_BLOCK(call) elb_block_##call
#endif

#ifdef __cplusplus
extern "C" {
#endif

/* Sets up the serial line: 8 data bits, no parity, 1 stop bit. */
void board_start(void);

/* Waits for one byte. */
uint8_t board_read(void);

/* Sends one byte. */
void board_write(uint8_t byte);

/* Sends what is still on its way, and stops. In a simulator this ends the simulation. */
void board_stop(void);

#ifdef __cplusplus
}
#endif

#endif
