/*
 * A board on the bench without the board: runs an AVR program on libsimavr, drives its converter
 * and its buttons from a table of pin levels, and serves its serial port.
 *
 *   harness MCU PROGRAM.elf TABLE|- SECONDS (--out FILE | --pty LINK | --flat LINK) [--say FILE]
 *           [--uart N] [--pins sketch] [--half PROGRAM.elf [--half-until SECONDS]] [--duties FILE]
 *
 * TABLE: "pins1\n", row period in us and number of rows (32 bits, low byte first), then rows of
 * six levels (share of the reference, 16 bits) and the pressed buttons (16 bits); the last row
 * stays. SAY: lines "TIME_US text" that are sent to the program. What is written to the terminal
 * behind LINK reaches the program; --pty runs it in real time, --flat as fast as it is read, from
 * the first byte that comes on. HALF is the program of a second board on I2C (see second_half.c).
 * DUTIES takes down each change of what the motors' pins give, as lines "TIME_US MOTOR DUTY".
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

#include "harness.h"

#include <simavr/avr_uart.h>
#include <simavr/sim_avr.h>

#define BUTTONS 15
#define ROW 14u

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
static int has_half;
static const struct pin *pins = plain;
static uint8_t *rows;
static uint32_t row_us = 1000, row_count, row_now;
static uint16_t pressed;
static FILE *out;
static FILE *duties;
static int master = -1, slave = -1;
static int flat;                   /* as fast as it is read */
static uint8_t leaving[4096];
static size_t leaving_count;
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

void fail(const char *what)
{
    perror(what);
    exit(2);
}

/* ---- converter ---- */

uint16_t code_of(int axis)
{
    uint32_t code = rows ? (word(rows + row_now * ROW + 2u * (uint32_t)axis) + 32u) >> 6 : 0;
    return (uint16_t)(code > 1023 ? 1023 : code);
}

/* Axis of each channel: the plain program's, then the sketch's A0-A5 on either board. */
static const int8_t of_plain[8] = {0, 1, -1, -1, 2, 3, 4, 5};
static const int8_t of_32u4[8] = {5, 4, -1, -1, 3, 2, 1, 0};
static const int8_t of_328p[8] = {0, 1, 2, 3, 4, 5, -1, -1};

static struct converter converter = {.bandgap = 0x1E, .axis = of_plain};

/* ---- buttons ---- */

static void set_pins(void)
{
    hold_pins(avr, pins, has_half ? 7 : BUTTONS, pressed);
    if (has_half) {
        press_half(pressed);
    }
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

/* Flat out: what has been said waits until it is read. */
static void let_go(void)
{
    size_t gone = 0;
    while (gone < leaving_count) {
        struct pollfd room = {.fd = master, .events = POLLOUT};
        ssize_t n = write(master, leaving + gone, leaving_count - gone);
        if (n > 0) {
            gone += (size_t)n;
        } else if (poll(&room, 1, 10000) <= 0) {
            fprintf(stderr, "nobody reads the terminal\n");
            exit(2);
        }
    }
    leaving_count = 0;
}

static void on_byte(struct avr_irq_t *irq, uint32_t value, void *param)
{
    uint8_t byte = (uint8_t)value;
    (void)irq; (void)param;
    if (out) {
        fputc(byte, out);
    } else if (flat) {
        leaving[leaving_count++] = byte;
        if (leaving_count == sizeof leaving) {
            let_go();
        }
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

/* Closing a terminal throws away what has not been read: that is waited for, 5 s at most. */
static void drain_terminal(void)
{
    int quiet = 0;
    let_go();
    for (int k = 0; k < 500 && quiet < 20; ++k) {
        int left = 0;
        quiet = ioctl(slave, FIONREAD, &left) == 0 && left == 0 ? quiet + 1 : 0;
        usleep(10000);
    }
}

static void on_signal(int signal)
{
    (void)signal;
    stop = 1;
}

/* ---- motors ---- */

/* What a motor's pin gives: the compare value while the pin is the timer's and the timer runs. */
static uint8_t duty_of(int motor)
{
    uint8_t connected = avr->data[0x80] & (motor ? 0x20 : 0x80);
    uint8_t runs = avr->data[0x81] & 7;
    return connected && runs ? avr->data[motor ? 0x8A : 0x88] : 0;
}

static avr_cycle_count_t on_duties(struct avr_t *a, avr_cycle_count_t when, void *param)
{
    static uint8_t last[2];
    (void)param;
    for (int motor = 0; motor < 2; ++motor) {
        uint8_t now = duty_of(motor);
        if (now != last[motor]) {
            last[motor] = now;
            fprintf(duties, "%llu %d %d\n", (unsigned long long)a->cycle / (CLOCK_HZ / 1000000u),
                    motor, now);
        }
    }
    return when + 100 * (CLOCK_HZ / 1000000u);
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
        if (has_half) {
            keep_half_up();
        }
        if (master >= 0 && avr->cycle >= paced) {
            double ahead = (double)avr->cycle / CLOCK_HZ - seconds_since(&begun);
            listen_to_terminal();
            if (flat) {
                let_go();
            } else if (ahead > 0) {
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

/* Flat out, the program begins when somebody has said something: then somebody reads. */
static void wait_for_host(void)
{
    struct pollfd said = {.fd = master, .events = POLLIN};
    if (poll(&said, 1, 30000) <= 0) {
        fprintf(stderr, "nobody has opened the terminal\n");
        exit(2);
    }
}

int main(int argc, char **argv)
{
    const char *half = NULL;
    double half_until = 1e9;
    char uart = '1';
    if (argc < 5) {
        fprintf(stderr, "MCU PROGRAM.elf TABLE|- SECONDS (--out FILE | --pty LINK) …\n");
        return 2;
    }
    signal(SIGTERM, on_signal);
    int is_328p = !strcmp(argv[1], "atmega328p");
    for (int k = 5; k + 1 < argc; k += 2) {
        const char *value = argv[k + 1];
        if (!strcmp(argv[k], "--out")) {
            out = fopen(value, "wb");
        } else if (!strcmp(argv[k], "--pty") || !strcmp(argv[k], "--flat")) {
            flat = !strcmp(argv[k], "--flat");
            open_terminal(value);
        } else if (!strcmp(argv[k], "--say")) {
            say = whole_file(value);
        } else if (!strcmp(argv[k], "--uart")) {
            uart = value[0];
        } else if (!strcmp(argv[k], "--half")) {
            half = value;
        } else if (!strcmp(argv[k], "--half-until")) {
            half_until = atof(value);
        } else if (!strcmp(argv[k], "--duties")) {
            duties = fopen(value, "w");
        } else if (!strcmp(argv[k], "--pins")) {
            pins = is_328p ? on_328p : on_32u4;
            converter.axis = is_328p ? of_328p : of_32u4;
        }
    }
    if (!out && master < 0) {
        fail("where to");
    }
    avr = new_chip(argv[1], argv[2]);
    if (strcmp(argv[3], "-")) {
        read_table(argv[3]);
    }
    converter.avr = avr;
    converter.bandgap = is_328p ? 0x0E : 0x1E;
    take_converter(&converter);
    if (half) {
        has_half = 1;
        open_half(avr, argv[1], half, half_until);
    }
    open_uart(uart);
    set_pins();
    avr_cycle_timer_register(avr, 1, on_row, NULL);
    /* Not before its port is open: what has been sent until then waits. */
    avr_cycle_timer_register(avr, CLOCK_HZ / 20u, on_listen, NULL);
    if (duties) {
        avr_cycle_timer_register(avr, 1, on_duties, NULL);
    }
    if (flat) {
        wait_for_host();
    }
    int crashed = run(atof(argv[4]));
    if (out) {
        fclose(out);
    } else {
        drain_terminal();
    }
    if (duties) {
        fclose(duties);
    }
    if (has_half) {
        fprintf(stderr, "the half held the bus for at most %u us\n", half_held_us());
    }
    return crashed;
}
