/*
 * A board on the bench without the board: runs an AVR program on libsimavr, drives its converter
 * and its buttons from a table of pin levels, and serves its serial port.
 *
 *   harness MCU PROGRAM.elf TABLE|- SECONDS (--out FILE | --pty LINK) [--say FILE]
 *           [--uart N] [--pins sketch] [--half SCAN_US [--half-until SECONDS]]
 *
 * TABLE: "pins1\n", row period in us and number of rows (32 bits, low byte first), then rows of
 * six levels (share of the reference, 16 bits) and the pressed buttons (16 bits); the last row
 * stays. SAY: lines "TIME_US text" that are sent to the program. With --pty the program runs in
 * real time and what is written to the terminal reaches it; else flat out. HALF is a second
 * half on I2C, modelled here (simavr's own TWI cannot play both ends): every SCAN_US it reads rx,
 * ry, rt and b7-b14 of the table, and answers with the companion's record until it goes silent.
 *
 * simavr 1.6 is worked around in several places: its converter keeps channels 0-7 only and reads
 * them when the result is read (here a level is latched when the conversion begins), a write to a
 * PORT register raises pins that are held low from outside (here they are held by both means), and
 * its UART prints and sleeps by itself (switched off).
 */
#define _GNU_SOURCE
#include <fcntl.h>
#include <poll.h>
#include <pty.h>
#include <signal.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/ioctl.h>
#include <termios.h>
#include <time.h>
#include <unistd.h>

#include "bench_link.h"

#include <simavr/avr_adc.h>
#include <simavr/avr_ioport.h>
#include <simavr/avr_twi.h>
#include <simavr/avr_uart.h>
#include <simavr/sim_avr.h>
#include <simavr/sim_elf.h>
#include <simavr/sim_io.h>

#define CLOCK_HZ 16000000u
#define BUTTONS 15
#define ROW 14u

struct pin { char port; uint8_t bit; };

/* Button k of the table to the pin of the program's documentation. */
static const struct pin plain[BUTTONS] = {
    {'B', 0}, {'B', 1}, {'B', 2}, {'B', 3}, {'B', 4}, {'C', 6}, {'C', 7}, {'D', 4},
    {'D', 5}, {'D', 6}, {'D', 7}, {'E', 2}, {'E', 6}, {'D', 0}, {'D', 1},
};
/* The sketch's D2-D13, which are other pins on each board. */
static const struct pin on_32u4[BUTTONS] = {
    {'D', 1}, {'D', 0}, {'D', 4}, {'C', 6}, {'D', 7}, {'E', 6}, {'B', 4}, {'B', 5},
};
static const struct pin on_328p[BUTTONS] = {
    {'D', 2}, {'D', 3}, {'D', 4}, {'D', 5}, {'D', 6}, {'D', 7}, {'B', 0}, {'B', 1},
};

static avr_t *avr;
static uint32_t half_scan_us;      /* 0 = there is none */
static double half_until = 1e9;
static const struct pin *pins = plain;
static uint8_t *rows;
static uint32_t row_us = 1000, row_count, row_now;
static uint16_t pressed;
static uint16_t latched;
static FILE *out;
static int master = -1;
static uint8_t waiting[65536];
static uint32_t waiting_head, waiting_tail;
static char *say;
static avr_irq_t *uart_in;
static volatile sig_atomic_t stop;

static uint16_t word(const uint8_t *at)
{
    return (uint16_t)(at[0] | at[1] << 8);
}

static uint32_t long_word(const uint8_t *at)
{
    return word(at) | (uint32_t)word(at + 2) << 16;
}

static void fail(const char *what)
{
    perror(what);
    exit(2);
}

/* ---- converter ---- */

static uint16_t code_of(int axis)
{
    uint32_t code = rows ? (word(rows + row_now * ROW + 2u * (uint32_t)axis) + 32u) >> 6 : 0;
    return (uint16_t)(code > 1023 ? 1023 : code);
}

static const int axis_of_channel[2][8] = {
    {0, 1, -1, -1, 2, 3, 4, 5}, /* ADC0 1 4 5 6 7 are lx ly rx ry lt rt */
    {0, 1, 2, 3, 4, 5, -1, -1}, /* ADC0-ADC5 of the 328P */
};
static int is_328p;
static int is_sketch;

static void on_conversion(struct avr_irq_t *irq, uint32_t value, void *param)
{
    uint8_t mux = avr->data[0x7C] & 0x1F;
    int axis = -1;
    (void)irq; (void)value; (void)param;
    if (!is_328p && (avr->data[0x7B] & 0x20)) {
        mux |= 0x20;
    }
    if (mux == (is_328p ? 0x0E : 0x1E)) {
        latched = 225; /* 1.1 V of 5 V */
        return;
    }
    if (mux < 8) {
        axis = axis_of_channel[is_328p][mux];
        if (is_sketch && !is_328p) {
            /* A0-A5 of that board are ADC7 6 5 4 1 0. */
            static const int sketch[8] = {5, 4, -1, -1, 3, 2, 1, 0};
            axis = sketch[mux];
        }
    }
    latched = axis < 0 ? 0 : code_of(axis);
}

static uint8_t read_low(struct avr_t *a, avr_io_addr_t addr, void *param)
{
    (void)param;
    a->data[addr] = (uint8_t)latched;
    a->data[addr + 1] = (uint8_t)(latched >> 8);
    return a->data[addr];
}

static uint8_t read_high(struct avr_t *a, avr_io_addr_t addr, void *param)
{
    (void)param;
    a->data[addr] = (uint8_t)(latched >> 8);
    return a->data[addr];
}

static void take_converter(void)
{
    avr_irq_register_notify(avr_io_getirq(avr, AVR_IOCTL_ADC_GETIRQ, ADC_IRQ_OUT_TRIGGER),
                            on_conversion, NULL);
    /* Registering over simavr's own callbacks is refused, hence directly. */
    avr->io[AVR_DATA_TO_IO(0x78)].r.c = read_low;
    avr->io[AVR_DATA_TO_IO(0x79)].r.c = read_high;
}

/* ---- buttons ---- */

/* Holds the pins of `count` buttons of one chip. */
static void hold_pins(avr_t *chip, const struct pin *pin, int count, uint16_t down)
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

static void set_pins(void)
{
    hold_pins(avr, pins, half_scan_us ? 7 : BUTTONS, pressed);
}

static avr_cycle_count_t on_row(struct avr_t *a, avr_cycle_count_t when, void *param)
{
    (void)a; (void)param;
    if (rows && row_now + 1 < row_count) {
        ++row_now;
        uint16_t now = word(rows + row_now * ROW + 12);
        if (now != pressed) {
            pressed = now;
            set_pins();
        }
    }
    return when + (avr_cycle_count_t)row_us * (CLOCK_HZ / 1000000u);
}

static void read_table(const char *path)
{
    FILE *file = fopen(path, "rb");
    uint8_t head[14];
    if (!file || fread(head, 1, 14, file) != 14 || memcmp(head, "pins1\n", 6)) {
        fail(path);
    }
    row_us = long_word(head + 6);
    row_count = long_word(head + 10);
    rows = malloc((size_t)row_count * ROW);
    if (!rows || fread(rows, ROW, row_count, file) != row_count) {
        fail(path);
    }
    fclose(file);
    pressed = word(rows + 12);
}

/* ---- serial port ---- */

static void on_byte(struct avr_irq_t *irq, uint32_t value, void *param)
{
    uint8_t byte = (uint8_t)value;
    (void)irq; (void)param;
    if (out) {
        fputc(byte, out);
    } else if (master >= 0) {
        /* Nobody listens, or too slowly: dropped, as a real line would. */
        if (write(master, &byte, 1) < 0) {
            return;
        }
    }
}

/* Lines of the file whose time has come. */
static void take_said(uint64_t now_us)
{
    while (say && *say) {
        char *end = strchr(say, '\n');
        char *text;
        if (!end || strtoull(say, &text, 10) > now_us) {
            return;
        }
        for (++text; text <= end; ++text) {
            waiting[waiting_head++ & 65535] = (uint8_t)*text;
        }
        say = end + 1;
    }
}

/* A byte to the program now and then, slower than its baud rate. */
static avr_cycle_count_t on_listen(struct avr_t *a, avr_cycle_count_t when, void *param)
{
    uint64_t now_us = a->cycle / (CLOCK_HZ / 1000000u);
    (void)param;
    take_said(now_us);
    if (waiting_tail != waiting_head) {
        avr_raise_irq(uart_in, waiting[waiting_tail++ & 65535]);
    }
    return when + 200 * (CLOCK_HZ / 1000000u);
}

static void open_uart(char name)
{
    uint32_t flags = 0;
    avr_ioctl(avr, AVR_IOCTL_UART_SET_FLAGS(name), &flags);
    avr_irq_register_notify(avr_io_getirq(avr, AVR_IOCTL_UART_GETIRQ(name), UART_IRQ_OUTPUT),
                            on_byte, NULL);
    uart_in = avr_io_getirq(avr, AVR_IOCTL_UART_GETIRQ(name), UART_IRQ_INPUT);
}

static void open_terminal(const char *link)
{
    int slave;
    char name[128];
    struct termios raw;
    if (openpty(&master, &slave, name, NULL, NULL) < 0 || tcgetattr(slave, &raw) < 0) {
        fail("pseudo-terminal");
    }
    cfmakeraw(&raw);
    tcsetattr(slave, TCSANOW, &raw);
    fcntl(master, F_SETFL, O_NONBLOCK);
    unlink(link);
    if (symlink(name, link) < 0) {
        fail(link);
    }
    fprintf(stderr, "ready\n");
}

static void listen_to_terminal(void)
{
    uint8_t bytes[256];
    ssize_t count = read(master, bytes, sizeof bytes);
    for (ssize_t k = 0; k < count; ++k) {
        waiting[waiting_head++ & 65535] = bytes[k];
    }
}

static void on_signal(int signal)
{
    (void)signal;
    stop = 1;
}

/* ---- the second half ---- */

static void no_sleep(avr_t *a, avr_cycle_count_t cycles)
{
    (void)a; (void)cycles;
}

static uint8_t record[BENCH_RECORD];
static unsigned record_at;
static avr_irq_t *bus;
static bench_half scanned;
static uint64_t scanned_us;

static uint64_t now_us(void)
{
    return avr->cycle / (CLOCK_HZ / 1000000u);
}

static avr_cycle_count_t on_half_scan(struct avr_t *a, avr_cycle_count_t when, void *param)
{
    (void)a; (void)param;
    ++scanned.seq;
    scanned.axes[0] = code_of(2);
    scanned.axes[1] = code_of(3);
    scanned.axes[2] = code_of(5);
    scanned.buttons = pressed >> 7;
    scanned_us = now_us();
    return when + (avr_cycle_count_t)half_scan_us * (CLOCK_HZ / 1000000u);
}

/* What the program's bus says; the half answers when it is asked for a record. */
static void on_bus(struct avr_irq_t *irq, uint32_t value, void *param)
{
    avr_twi_msg_irq_t said = {.u.v = value};
    (void)irq; (void)param;
    /* Written as 1, TWINT is to fall until the bus is done; a program that polls it waits for
     * that, and simavr lets it stand unless the interrupt is used. */
    avr->data[0xBC] &= 0x7F;
    if (now_us() > half_until * 1e6 || said.u.twi.addr != (0x2A << 1 | 1)) {
        return;
    }
    if (said.u.twi.msg & TWI_COND_START) {
        uint64_t age = now_us() - scanned_us;
        scanned.age_us = (uint16_t)(age > 0xFFFF ? 0xFFFF : age);
        bench_record(&scanned, record);
        record_at = 0;
        avr_raise_irq(bus, avr_twi_irq_msg(TWI_COND_ACK, said.u.twi.addr, 1));
    }
    if (said.u.twi.msg & TWI_COND_READ) {
        uint8_t byte = record_at < BENCH_RECORD ? record[record_at] : 0xFF;
        ++record_at;
        avr_raise_irq(bus, avr_twi_irq_msg(TWI_COND_READ, said.u.twi.addr, byte));
    }
}

static void open_half(void)
{
    bus = avr_io_getirq(avr, AVR_IOCTL_TWI_GETIRQ(0), TWI_IRQ_INPUT);
    avr_irq_register_notify(avr_io_getirq(avr, AVR_IOCTL_TWI_GETIRQ(0), TWI_IRQ_OUTPUT), on_bus,
                            NULL);
    avr_cycle_timer_register(avr, 1, on_half_scan, NULL);
}

/* ---- the run ---- */

static double seconds_since(const struct timespec *begun)
{
    struct timespec now;
    clock_gettime(CLOCK_MONOTONIC, &now);
    return (double)(now.tv_sec - begun->tv_sec) + 1e-9 * (double)(now.tv_nsec - begun->tv_nsec);
}

static int run(double seconds)
{
    struct timespec begun;
    avr_cycle_count_t end = (avr_cycle_count_t)(seconds * CLOCK_HZ);
    avr_cycle_count_t paced = 0;
    int state = cpu_Running;
    clock_gettime(CLOCK_MONOTONIC, &begun);
    while (!stop && avr->cycle < end && state != cpu_Done && state != cpu_Crashed) {
        state = avr_run(avr);
        if (master >= 0 && avr->cycle >= paced) {
            double ahead = (double)avr->cycle / CLOCK_HZ - seconds_since(&begun);
            listen_to_terminal();
            if (ahead > 0) {
                usleep((useconds_t)(ahead * 1e6));
            }
            paced = avr->cycle + CLOCK_HZ / 1000;
        }
    }
    fprintf(stderr, "ran %.3f s in %.3f s\n", (double)avr->cycle / CLOCK_HZ,
            seconds_since(&begun));
    return state == cpu_Crashed;
}

static char *whole_file(const char *path)
{
    FILE *file = fopen(path, "rb");
    char *text = calloc(1, 65536);
    if (!file || !text || fread(text, 1, 65535, file) == 0) {
        fail(path);
    }
    fclose(file);
    return text;
}

int main(int argc, char **argv)
{
    static elf_firmware_t program;
    char uart = '1';
    if (argc < 5) {
        fprintf(stderr, "MCU PROGRAM.elf TABLE|- SECONDS (--out FILE | --pty LINK) …\n");
        return 2;
    }
    signal(SIGTERM, on_signal);
    is_328p = !strcmp(argv[1], "atmega328p");
    for (int k = 5; k + 1 < argc; k += 2) {
        if (!strcmp(argv[k], "--out")) {
            out = fopen(argv[k + 1], "wb");
        } else if (!strcmp(argv[k], "--pty")) {
            open_terminal(argv[k + 1]);
        } else if (!strcmp(argv[k], "--say")) {
            say = whole_file(argv[k + 1]);
        } else if (!strcmp(argv[k], "--uart")) {
            uart = argv[k + 1][0];
        } else if (!strcmp(argv[k], "--half")) {
            half_scan_us = (uint32_t)atoi(argv[k + 1]);
        } else if (!strcmp(argv[k], "--half-until")) {
            half_until = atof(argv[k + 1]);
        } else if (!strcmp(argv[k], "--pins")) {
            is_sketch = 1;
            pins = is_328p ? on_328p : on_32u4;
        }
    }
    if (!out && master < 0) {
        fail("where to");
    }
    if (elf_read_firmware(argv[2], &program) != 0) {
        fail(argv[2]);
    }
    avr = avr_make_mcu_by_name(argv[1]);
    if (!avr) {
        fprintf(stderr, "%s is not known to simavr\n", argv[1]);
        return 2;
    }
    avr_init(avr);
    program.frequency = CLOCK_HZ;
    avr_load_firmware(avr, &program);
    avr->frequency = CLOCK_HZ;
    avr->sleep = no_sleep;
    avr->log = LOG_NONE;
    if (strcmp(argv[3], "-")) {
        read_table(argv[3]);
    }
    /* A pin that is low and could interrupt by level is polled by simavr every other cycle, even
     * when nobody enabled it; by edges (EICRA) it is not. */
    avr->data[0x69] = 0xAA;
    take_converter();
    if (half_scan_us) {
        open_half();
    }
    open_uart(uart);
    set_pins();
    avr_cycle_timer_register(avr, 1, on_row, NULL);
    avr_cycle_timer_register(avr, 1, on_listen, NULL);
    int crashed = run(atof(argv[4]));
    if (out) {
        fclose(out);
    }
    return crashed;
}
