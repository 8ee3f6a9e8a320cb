/* The relay between two boards over I2C: the first asks, the second answers with its half. */
#ifndef BENCH_TWI_H
#define BENCH_TWI_H

#include "../bench_link.h"

#define RELAY_ADDRESS 0x2Au

/* The first board: 400 kHz, no pull-ups of the chip (they are too weak). */
void relay_begin(void);
/* Asks the second half and fills rx, ry, rt, its buttons (b7 and up), counter and age. When it does not
 * answer, or with a damaged record, the old values stay and their age grows. At most 1 ms. */
void relay_poll(bench_frame *frame);

#endif
