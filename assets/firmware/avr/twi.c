/* The first board's side of the relay: a master that asks, and never waits for long. */
#include <avr/io.h>

#include "twi.h"

#define TWI_READ_STATUS 0xF8u
#define STARTED 0x08u
#define ADDRESSED_READ 0x40u
#define GOT_AND_MORE 0x50u
#define GOT_LAST 0x58u

/* One byte at 400 kHz takes 22.5 us; a half that holds the clock for some 0.5 ms is given up. */
#define PATIENCE 1000u

static uint16_t last_seq;
static uint32_t last_us;
static uint16_t held_axes[BENCH_HALF_AXES];
static uint16_t held_buttons;
static uint8_t heard;

void relay_begin(void)
{
    TWSR = 0;
    TWBR = 12; /* 16 MHz / (16 + 2 * 12) = 400 kHz */
    TWCR = 1u << TWEN;
}

/* Waits until the bus has done what it was told; gives its status, 0 after too long. */
static uint8_t done(void)
{
    uint16_t left = PATIENCE;
    while (!(TWCR & (1u << TWINT))) {
        if (--left == 0u) {
            return 0;
        }
    }
    return TWSR & TWI_READ_STATUS;
}

static uint8_t read_record(uint8_t record[BENCH_RECORD])
{
    uint8_t k;
    TWCR = (1u << TWINT) | (1u << TWSTA) | (1u << TWEN);
    if (done() != STARTED) {
        return 0;
    }
    TWDR = (uint8_t)((RELAY_ADDRESS << 1) | 1u);
    TWCR = (1u << TWINT) | (1u << TWEN);
    if (done() != ADDRESSED_READ) {
        return 0;
    }
    for (k = 0; k < BENCH_RECORD; ++k) {
        uint8_t more = k + 1u < BENCH_RECORD;
        TWCR = (uint8_t)((1u << TWINT) | (1u << TWEN) | (more ? 1u << TWEA : 0u));
        if (done() != (more ? GOT_AND_MORE : GOT_LAST)) {
            return 0;
        }
        record[k] = TWDR;
    }
    return 1;
}

void relay_poll(bench_frame *frame)
{
    uint8_t record[BENCH_RECORD];
    bench_half half;
    uint8_t k;
    uint8_t whole = read_record(record);
    TWCR = (1u << TWINT) | (1u << TWSTO) | (1u << TWEN);
    if (!whole) {
        TWCR = 0; /* lets go of a bus that hangs */
        TWCR = 1u << TWEN;
    }
    if (whole && bench_read_record(record, &half) && (!heard || half.seq != last_seq)) {
        heard = 1;
        last_seq = half.seq;
        last_us = frame->t_us - half.age_us;
        for (k = 0; k < BENCH_HALF_AXES; ++k) {
            held_axes[k] = half.axes[k];
        }
        held_buttons = half.buttons;
    }
    frame->axes[2] = held_axes[0];
    frame->axes[3] = held_axes[1];
    frame->axes[5] = held_axes[2];
    frame->buttons = (uint16_t)((frame->buttons & 0x7Fu) | (uint16_t)(held_buttons << 7));
    frame->remote_seq = last_seq;
    frame->remote_age = heard ? frame->t_us - last_us : frame->t_us;
}
