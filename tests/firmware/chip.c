/*
 * One emulated chip: its program, converter and button pins, for both halves of the harness.
 *
 * simavr 1.6 is worked around: its converter keeps channels 0-7 only and reads them when the result
 * is read (here a level is latched when the conversion begins), a write to a PORT register raises
 * pins that are held low from outside (here they are held by both means), and a chip sleeps by
 * itself (switched off: the harness paces).
 */
#include <stdio.h>
#include <stdlib.h>

#include <simavr/avr_adc.h>
#include <simavr/avr_ioport.h>
#include <simavr/sim_elf.h>
#include <simavr/sim_io.h>

#include "harness.h"

static void no_sleep(avr_t *a, avr_cycle_count_t cycles)
{
    (void)a; (void)cycles;
}

avr_t *new_chip(const char *mcu, const char *path)
{
    elf_firmware_t program = {0};
    avr_t *chip = avr_make_mcu_by_name(mcu);
    if (!chip || elf_read_firmware(path, &program) != 0) {
        fprintf(stderr, "%s with %s: not known to simavr, or no such program\n", mcu, path);
        exit(2);
    }
    avr_init(chip);
    program.frequency = CLOCK_HZ;
    avr_load_firmware(chip, &program);
    chip->frequency = CLOCK_HZ;
    chip->sleep = no_sleep;
    chip->log = LOG_NONE;
    /* A pin that is low and could interrupt by level is polled by simavr every other cycle, even
     * when nobody enabled it; by edges (EICRA) it is not. */
    chip->data[0x69] = 0xAA;
    return chip;
}

static void on_conversion(struct avr_irq_t *irq, uint32_t value, void *param)
{
    struct converter *c = param;
    uint8_t mux = c->avr->data[0x7C] & 0x1F;
    (void)irq; (void)value;
    if (c->bandgap == 0x1E && (c->avr->data[0x7B] & 0x20)) {
        mux |= 0x20; /* the 32U4's channels 8-13 */
    }
    if (mux == c->bandgap) {
        c->latched = 225; /* 1.1 V of 5 V */
        return;
    }
    c->latched = mux < 8 && c->axis[mux] >= 0 ? code_of(c->axis[mux]) : 0;
}

static uint8_t read_low(struct avr_t *a, avr_io_addr_t addr, void *param)
{
    struct converter *c = param;
    a->data[addr] = (uint8_t)c->latched;
    a->data[addr + 1] = (uint8_t)(c->latched >> 8);
    return a->data[addr];
}

static uint8_t read_high(struct avr_t *a, avr_io_addr_t addr, void *param)
{
    struct converter *c = param;
    a->data[addr] = (uint8_t)(c->latched >> 8);
    return a->data[addr];
}

void take_converter(struct converter *c)
{
    avr_irq_register_notify(avr_io_getirq(c->avr, AVR_IOCTL_ADC_GETIRQ, ADC_IRQ_OUT_TRIGGER),
                            on_conversion, c);
    /* Registering over simavr's own callbacks is refused, hence directly. */
    c->avr->io[AVR_DATA_TO_IO(0x78)].r.c = read_low;
    c->avr->io[AVR_DATA_TO_IO(0x78)].r.param = c;
    c->avr->io[AVR_DATA_TO_IO(0x79)].r.c = read_high;
    c->avr->io[AVR_DATA_TO_IO(0x79)].r.param = c;
}

void hold_pins(avr_t *chip, const struct pin *pin, int count, uint16_t down)
{
    char ports[] = "BCDEF";
    for (int p = 0; ports[p]; ++p) {
        avr_ioport_external_t held = {.name = (unsigned)ports[p]};
        for (int k = 0; k < count; ++k) {
            if (pin[k].port == ports[p]) {
                held.mask |= 1u << pin[k].bit;
                held.value |= (down >> k & 1u ? 0u : 1u) << pin[k].bit;
            }
        }
        if (held.mask == 0) {
            continue;
        }
        avr_ioctl(chip, AVR_IOCTL_IOPORT_SET_EXTERNAL(ports[p]), &held);
        for (int bit = 0; bit < 8; ++bit) {
            if (held.mask >> bit & 1u) {
                avr_raise_irq(avr_io_getirq(chip, AVR_IOCTL_IOPORT_GETIRQ(ports[p]), bit),
                              held.value >> bit & 1u);
            }
        }
    }
}
