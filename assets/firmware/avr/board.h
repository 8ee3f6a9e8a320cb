/* What both programs for the ATmega32U4 begin with: pins, the clock on Timer3, the converter.
 * Included once by each; it holds the clock's interrupt. */
#ifndef BENCH_BOARD_H
#define BENCH_BOARD_H

#include <avr/interrupt.h>
#include <avr/io.h>
#include <stdint.h>

/* ---- clock: Timer3 counts half microseconds ---- */

/* Turns of 32 768 us that the clock begins with. It goes over after 131 072 of them, 71.6 min; who
 * wants to see that without waiting builds with -DBENCH_FIRST_TURN=131000. */
#if !defined(BENCH_FIRST_TURN)
#define BENCH_FIRST_TURN 0
#endif

static volatile uint32_t turns = BENCH_FIRST_TURN;

ISR(TIMER3_OVF_vect)
{
    ++turns;
}

/* With interrupts off. */
static uint32_t clock_us(void)
{
    uint16_t count = TCNT3;
    uint32_t whole = turns;
    if ((TIFR3 & (1u << TOV3)) && count < 0x8000u) {
        ++whole; /* it went over just now */
    }
    return (whole << 15) + (count >> 1);
}

/* ---- converter: an interrupt a conversion, 16 MHz / 128 = 125 kHz ---- */

#define REFERENCE (1u << REFS0) /* AVCC */

static void convert(uint8_t mux)
{
    ADMUX = (uint8_t)(REFERENCE | mux);
    ADCSRA = (1u << ADEN) | (1u << ADSC) | (1u << ADIE) | 7u;
}

/* ---- buttons: each to ground, the chip's pull-up is on ---- */

/* PB0 PB1 PB2 PB3 PB4 PC6 PC7 PD4 as bits 0 to 7; a pressed one is 1. */
static uint8_t first_buttons(void)
{
    uint8_t mask = (uint8_t)((uint8_t)~PINB & 0x1Fu);
    mask = (uint8_t)(mask | (((uint8_t)~PINC & 0xC0u) >> 1));
    return (uint8_t)(mask | (((uint8_t)~PIND & 0x10u) << 3));
}

/* Lets go of the debugger's pins, turns on the pull-ups of those buttons, starts the clock. */
static void begin_board(void)
{
    MCUCR = 1u << JTD; /* PF4-PF7 are the debugger's until it is told twice to let go */
    MCUCR = 1u << JTD;
    PORTB = 0x1Fu;
    PORTC = 0xC0u;
    PORTD = 0x10u;
    TCCR3B = 1u << CS31; /* 2 MHz */
    TIMSK3 = 1u << TOIE3;
}

#endif
