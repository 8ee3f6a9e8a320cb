/* What one call costs: Timer1 counts cycles round a call of `probe`, over a grid of codes, less
 * the same round an empty one. Prints mean, worst (cycles) and number of calls on UART1. */
#include <avr/interrupt.h>
#include <avr/io.h>
#include <avr/sleep.h>
#include <stdint.h>

#include "probe.h"

#ifndef STEP
#define STEP 1u
#endif

static void say(uint32_t value)
{
    uint8_t k;
    for (k = 0; k < 8u; ++k) {
        uint8_t nibble = (uint8_t)(value >> 28);
        while (!(UCSR1A & (1u << UDRE1))) {
        }
        UDR1 = (uint8_t)(nibble < 10u ? '0' + nibble : 'A' - 10 + nibble);
        value <<= 4;
    }
    while (!(UCSR1A & (1u << UDRE1))) {
    }
    UDR1 = '\n';
}

static void __attribute__((noinline)) nothing(uint16_t x, uint16_t y)
{
    __asm__ volatile("" : : "r"(x), "r"(y));
}

static uint16_t cycles(void (*call)(uint16_t, uint16_t), uint16_t x, uint16_t y)
{
    uint16_t from = TCNT1;
    call(x, y);
    return (uint16_t)(TCNT1 - from);
}

int main(void)
{
    void (*volatile empty)(uint16_t, uint16_t) = nothing;
    void (*volatile full)(uint16_t, uint16_t) = probe;
    uint32_t sum = 0;
    uint32_t calls = 0;
    uint16_t worst = 0;
    uint16_t idle;
    uint16_t x;
    uint16_t y;
    UCSR1A = 1u << U2X1;
    UBRR1 = 0;
    UCSR1B = 1u << TXEN1;
    TCCR1B = 1u << CS10;
    idle = cycles(empty, 1, 1);
    for (x = 0; x < 1024u; x = (uint16_t)(x + STEP)) {
        for (y = 0; y < (GRID ? 1024u : 1u); y = (uint16_t)(y + STEP)) {
            uint16_t spent = (uint16_t)(cycles(full, x, GRID ? y : x) - idle);
            sum += spent;
            ++calls;
            if (spent > worst) {
                worst = spent;
            }
        }
    }
    say((sum + calls / 2u) / calls);
    say(worst);
    say(calls);
    while (!(UCSR1A & (1u << TXC1))) {
    }
    cli();
    sleep_enable();
    sleep_cpu();
    return 0;
}
