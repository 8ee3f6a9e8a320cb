/*
 * The second board of the relay: its program on a chip of its own, joined to the first by I2C.
 *
 * simavr's TWI cannot play the answering end, so the peripheral of the second chip is modelled here
 * after the data sheet: status codes 0xA8, 0xB8 and 0xC0, TWINT raised at each and the bus held
 * until the program writes it back as 1. Its first end is simavr's own, which wants its answer at
 * once: the second chip then runs ahead for as long as it holds the bus (half_held_us), which the
 * first does not notice; both are level again before the next byte.
 */
#include <stddef.h>

#include <simavr/avr_twi.h>
#include <simavr/sim_io.h>

#include "harness.h"

#define TWSR 0xB9
#define TWAR 0xBA
#define TWDR 0xBB
#define TWCR 0xBC
#define TWINT 0x80
#define TWEA 0x40
#define TWSTO 0x10
#define TWEN 0x04
#define TWI_VECTOR 36

/* A program that holds the bus for so long has hung. */
#define GIVE_UP (CLOCK_HZ / 100u)

static const struct pin buttons[8] = {
    {'B', 0}, {'B', 1}, {'B', 2}, {'B', 3}, {'B', 4}, {'C', 6}, {'C', 7}, {'D', 4},
};
/* ADC0, ADC1 and ADC4 are rx, ry, rt of the whole. */
static const int8_t of_half[8] = {2, 3, -1, -1, 5, -1, -1, -1};

static avr_t *first, *half;
static avr_int_vector_t *vector;
static avr_irq_t *bus;
static struct converter converter = {.bandgap = 0x1E, .axis = of_half};
static avr_cycle_count_t until;
static avr_cycle_count_t held;

static int silent(void)
{
    return first->cycle >= until;
}

/* The program writes the control register: TWINT written as 1 falls and lets the bus go on. */
static void on_control(struct avr_t *a, avr_io_addr_t addr, uint8_t value, void *param)
{
    uint8_t raised = (uint8_t)(a->data[addr] & TWINT & (uint8_t)~value);
    (void)param;
    if (value & TWINT) {
        avr_clear_interrupt(a, vector);
    }
    a->data[addr] = (uint8_t)((value & (uint8_t)~(TWINT | TWSTO)) | raised);
}

static void signal_status(uint8_t status)
{
    half->data[TWSR] = (uint8_t)(status | (half->data[TWSR] & 3));
    half->data[TWCR] |= TWINT;
    avr_raise_interrupt(half, vector);
}

/* Runs the program until it lets the bus go on; 0 when it does not. */
static int served(void)
{
    avr_cycle_count_t from = half->cycle;
    while (half->data[TWCR] & TWINT) {
        avr_run(half);
        if (half->cycle - from > GIVE_UP) {
            return 0;
        }
    }
    if (half->cycle - from > held) {
        held = half->cycle - from;
    }
    return 1;
}

static void on_bus(struct avr_irq_t *irq, uint32_t value, void *param)
{
    avr_twi_msg_irq_t said = {.u.v = value};
    uint8_t control = half->data[TWCR];
    (void)irq; (void)param;
    /* Written as 1, TWINT is to fall until the bus is done; a program that polls it waits for
     * that, and simavr lets it stand unless the interrupt is used. */
    first->data[TWCR] &= (uint8_t)~TWINT;
    if (silent() || !(control & TWEN)) {
        return;
    }
    if (said.u.twi.msg & TWI_COND_START) {
        int own = said.u.twi.addr >> 1 == half->data[TWAR] >> 1 && (said.u.twi.addr & 1);
        if (!own || !(control & TWEA)) {
            return;
        }
        keep_half_up();
        signal_status(0xA8);
        if (served()) {
            avr_raise_irq(bus, avr_twi_irq_msg(TWI_COND_ACK, said.u.twi.addr, 1));
        }
    }
    if (said.u.twi.msg & TWI_COND_READ) {
        keep_half_up();
        if (served()) {
            avr_raise_irq(bus, avr_twi_irq_msg(TWI_COND_READ, said.u.twi.addr, half->data[TWDR]));
            signal_status(said.u.twi.msg & TWI_COND_ACK ? 0xB8 : 0xC0);
        }
    }
}

/* So that a sleeping chip does not run far ahead. */
static avr_cycle_count_t on_tick(struct avr_t *a, avr_cycle_count_t when, void *param)
{
    (void)a; (void)param;
    return when + 10 * (CLOCK_HZ / 1000000u);
}

void open_half(avr_t *avr, const char *mcu, const char *path, double until_s)
{
    first = avr;
    half = new_chip(mcu, path);
    until = (avr_cycle_count_t)(until_s * CLOCK_HZ);
    converter.avr = half;
    take_converter(&converter);
    for (int k = 0; k < half->interrupts.vector_count; ++k) {
        if (half->interrupts.vector[k]->vector == TWI_VECTOR) {
            vector = half->interrupts.vector[k];
        }
    }
    if (!vector) {
        fail("no TWI on this chip");
    }
    half->io[AVR_DATA_TO_IO(TWCR)].w.c = on_control;
    avr_cycle_timer_register(half, 1, on_tick, NULL);
    bus = avr_io_getirq(first, AVR_IOCTL_TWI_GETIRQ(0), TWI_IRQ_INPUT);
    avr_irq_register_notify(avr_io_getirq(first, AVR_IOCTL_TWI_GETIRQ(0), TWI_IRQ_OUTPUT), on_bus,
                            NULL);
}

void keep_half_up(void)
{
    while (!silent() && half->cycle < first->cycle) {
        avr_run(half);
    }
}

void press_half(uint16_t pressed)
{
    hold_pins(half, buttons, 8, (uint16_t)(pressed >> 7));
}

uint32_t half_held_us(void)
{
    return (uint32_t)(held / (CLOCK_HZ / 1000000u));
}
