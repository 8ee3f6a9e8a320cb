/*
 * The second half on an ATmega32U4 at 16 MHz: one stick, one trigger, eight buttons, asked over I2C
 * at address 0x2A. It scans by itself every 2 ms and answers with what it read last, how old that
 * is, and a CRC.
 *
 * Pins: PF0 x  PF1 y  PF4 trigger;  buttons PB0 PB1 PB2 PB3 PB4 PC6 PC7 PD4 (b7 to b14 of the
 * whole), each to ground; PD0 SCL, PD1 SDA with 2.2 k to 4.7 k to the lower of the two supplies.
 * Join the grounds of both boards before anything else.
 */
#include <avr/interrupt.h>
#include <avr/io.h>
#include <avr/sleep.h>

#include "../bench_link.h"
#include "board.h"
#include "twi.h"

#define SCAN_US 2000u

static uint8_t sent[BENCH_RECORD];   /* the record that is being read */
static uint8_t place;
static volatile uint16_t codes[BENCH_HALF_AXES];
static volatile uint32_t scanned_us;
static volatile uint16_t scans;
static volatile uint16_t buttons;
static uint16_t fresh[BENCH_HALF_AXES];
static uint8_t channel;

static const uint8_t channels[BENCH_HALF_AXES] = {0, 1, 4};

ISR(TIMER3_COMPA_vect)
{
    OCR3A = (uint16_t)(OCR3A + 2u * SCAN_US);
    channel = 0;
    convert(channels[0]);
}

/* The readings of a scan become visible all at once. */
ISR(ADC_vect)
{
    uint8_t k;
    fresh[channel] = ADC;
    ++channel;
    if (channel < BENCH_HALF_AXES) {
        convert(channels[channel]);
        return;
    }
    for (k = 0; k < BENCH_HALF_AXES; ++k) {
        codes[k] = fresh[k];
    }
    buttons = first_buttons();
    scanned_us = clock_us();
    scans = (uint16_t)(scans + 1u);
}

static void make_record(void)
{
    bench_half half;
    uint32_t age = clock_us() - scanned_us;
    uint8_t k;
    half.seq = scans;
    half.age_us = age > 0xFFFFu ? 0xFFFFu : (uint16_t)age;
    for (k = 0; k < BENCH_HALF_AXES; ++k) {
        half.axes[k] = codes[k];
    }
    half.buttons = buttons;
    bench_record(&half, sent);
    place = 0;
}

#define LISTEN ((1u << TWINT) | (1u << TWEA) | (1u << TWEN) | (1u << TWIE))

ISR(TWI_vect)
{
    switch (TWSR & 0xF8u) {
    case 0xA8: /* asked to give; the clock is held while the record is made */
        make_record();
        TWDR = sent[place++];
        break;
    case 0xB8: /* a byte was taken, another is wanted */
        TWDR = place < BENCH_RECORD ? sent[place++] : 0xFFu;
        break;
    case 0x00: /* a start or stop out of place */
        TWCR = LISTEN | (1u << TWSTO);
        return;
    default:
        break;
    }
    TWCR = LISTEN;
}

int main(void)
{
    begin_board();
    DIDR0 = 0x13u; /* no digital input stages on the analog pins */
    OCR3A = 2u * SCAN_US;
    TIMSK3 = (1u << TOIE3) | (1u << OCIE3A);
    TWAR = (uint8_t)(RELAY_ADDRESS << 1);
    TWCR = LISTEN;
    sei();
    for (;;) {
        sleep_mode();
    }
}
