/* What the two parts of the harness share: the chip, its converter and buttons, the second half. */
#ifndef HARNESS_H
#define HARNESS_H

#include <stdint.h>

#include <simavr/sim_avr.h>

#define CLOCK_HZ 16000000u

struct pin { char port; uint8_t bit; };

/* A converter that latches the table's level when a conversion begins. */
struct converter {
    avr_t *avr;
    uint16_t latched;
    uint8_t bandgap;    /* the channel of the internal reference */
    const int8_t *axis; /* of channels 0-7; -1 = nothing there */
};

void fail(const char *what);
/* A chip that runs the program, paced by whoever calls avr_run. */
avr_t *new_chip(const char *mcu, const char *path);
void take_converter(struct converter *c);
/* The table's code of an axis now. */
uint16_t code_of(int axis);
/* Holds the pins of `count` buttons of one chip. */
void hold_pins(avr_t *chip, const struct pin *pin, int count, uint16_t down);

/* The second half: its program on a chip of its own, on the bus of the first. */
void open_half(avr_t *first, const char *mcu, const char *path, double until_s);
/* Runs it up to the time of the first chip. */
void keep_half_up(void);
/* Its buttons are the table's from b7 on. */
void press_half(uint16_t pressed);
/* Longest that it held the bus, us. */
uint32_t half_held_us(void);

#endif
