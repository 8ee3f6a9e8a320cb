/*
 * The debug stream of a controller under test: frames out, commands in, button edges in between.
 *
 * Portable C99 that also compiles as C++11; integers only, no allocation, no libc. The board gives
 * a function that takes one byte (bench_put) and may wait until there is room.
 *
 * A frame as text, one line with its CRC-16/IBM-3740 behind a star:
 *   17,68000,512,498,507,503,102,99,0x0003,4987,1,0,0,0*5A3C
 * The same packed: COBS up to a 0x00, low bytes first, kind byte before and CRC behind (see
 * bench_packed). A heading names the fields, first after a reset and then every 1024 frames.
 *
 * Commands are lines, `*HH` (XOR of the bytes before the star) may follow; answers begin with "# ":
 *   motor 0 128   light 0 255   rate 250   packed 1   outputs 1   edges 1   identity   heading
 *   strength 0 200   (through the constants of the motor: start, kick, least and greatest duty)
 */
#ifndef BENCH_LINK_H
#define BENCH_LINK_H

#include <stdint.h>

#if defined(__cplusplus)
extern "C" {
#endif

#define BENCH_AXES 6u     /* lx ly rx ry lt rt */
#define BENCH_MOTORS 2u
#define BENCH_LIGHTS 1u
#define BENCH_EDGES 32u   /* edges that can wait; a power of two */
#define BENCH_LINE 40u    /* longest command, bytes */
#define BENCH_KEEP_US 1000000UL /* motors stop when no command has come for so long */

/* What a frame holds besides counter, clock, raw axes and buttons. */
#define BENCH_PACKED 1u   /* packed frames instead of lines */
#define BENCH_OUTPUTS 2u  /* processed axes and buttons, and the constants' CRC */
#define BENCH_REMOTE 4u   /* counter and age of the second half */

typedef void (*bench_put)(uint8_t byte);

typedef struct {
    uint16_t seq;
    uint32_t t_us;
    uint16_t axes[BENCH_AXES];     /* raw codes */
    uint16_t buttons;              /* bit k = button k reads pressed */
    uint16_t vcc_mv;               /* supply estimate; 0 = not measured */
    uint8_t reset_cause;           /* 1 power-on, 2 external, 4 brown-out, 8 watchdog; 0 unknown */
    uint8_t duty[BENCH_MOTORS];
    uint8_t light[BENCH_LIGHTS];
    uint16_t remote_seq;
    uint32_t remote_age;           /* us since the second half's data were read */
    int16_t out_axes[BENCH_AXES];  /* after the constants; 0 where there are none */
    uint16_t out_buttons;          /* after debouncing */
    uint16_t identity;             /* CRC of the constants; 0 = none */
} bench_frame;

/* CRC-16/IBM-3740 of one more byte; begin with 0xFFFF. */
uint16_t bench_crc(uint16_t crc, uint8_t byte);

/* One frame, as a line or packed by the options. */
void bench_send(const bench_frame *frame, uint8_t options, bench_put put);
/* The names of the fields of such frames. */
void bench_heading(uint8_t options, bench_put put);
/* A line of text that is no frame; it should begin with "# ". */
void bench_say(const char *text, uint8_t options, bench_put put);

/* Commands. */
typedef enum {
    BENCH_NOTHING,
    BENCH_REFUSED,  /* a line came and is no command */
    BENCH_MOTOR,    /* number[0] which, number[1] duty 0-255 */
    BENCH_STRENGTH, /* number[0] which, number[1] strength 0-255, for the motor's constants */
    BENCH_LIGHT,    /* number[0] which, number[1] level 0-255 */
    BENCH_RATE,     /* number[0] frames a second, 1-4000 */
    BENCH_SET_PACKED,
    BENCH_SET_OUTPUTS,
    BENCH_SET_EDGES, /* number[0] 0 or 1 */
    BENCH_IDENTITY,
    BENCH_HEADING
} bench_command;

typedef struct {
    uint8_t length;         /* of the begun line; more than BENCH_LINE = too long */
    char line[BENCH_LINE];
    uint16_t number[2];
} bench_receiver;

/* Takes one byte; gives a command when the byte ends its line. */
bench_command bench_take(bench_receiver *receiver, uint8_t byte);
/* Answers the command just taken: "# done motor 0 128". */
void bench_answer(const bench_receiver *receiver, bench_command command, uint8_t options,
                  bench_put put);

/* Edges of the buttons with their time. One side may be an interrupt: the writer moves only
 * `head`, the reader only `tail`. */
typedef struct {
    uint32_t t_us[BENCH_EDGES];
    uint16_t level[BENCH_EDGES];   /* the buttons' mask after the edge */
    uint16_t span_us[BENCH_EDGES]; /* since the look before, which still saw the old mask */
    uint8_t count[BENCH_EDGES];
    volatile uint8_t head;
    volatile uint8_t tail;
    volatile uint8_t lost;         /* edges that found no room, at most 255 */
    uint8_t counted;
    uint16_t last;
    uint32_t looked_us;
} bench_edges;

#define BENCH_SPAN_OPEN 0xFFFFu /* the look before is so long ago, or there was none */

/* The buttons as they are when the log begins; nobody may be writing. */
void bench_edges_begin(bench_edges *edges, uint16_t mask, uint32_t t_us);
/* A look at the buttons: notes the mask if it differs from the last one. */
void bench_edge(bench_edges *edges, uint16_t mask, uint32_t t_us);
/* Says the oldest edges; gives how many. "# edge 17 0x0004 123456 250*5A3C": its number (goes
 * round at 256), the mask after it, when that was seen (us), us since the look before, CRC. */
uint8_t bench_say_edges(bench_edges *edges, uint8_t most, uint8_t options, bench_put put);

/* The record that a second half gives over I2C: counter, age (us, saturated) of its readings when
 * it was asked, three codes, its buttons, CRC; low bytes first. */
#define BENCH_RECORD 14u
#define BENCH_HALF_AXES 3u

typedef struct {
    uint16_t seq;
    uint16_t age_us;
    uint16_t axes[BENCH_HALF_AXES];
    uint16_t buttons;
} bench_half;

void bench_record(const bench_half *half, uint8_t record[BENCH_RECORD]);
/* 1 when the record proves itself. */
uint8_t bench_read_record(const uint8_t record[BENCH_RECORD], bench_half *half);

#if defined(__cplusplus)
}
#endif

#endif
