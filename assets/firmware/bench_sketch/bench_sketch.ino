/*
 * The same prototype as a sketch for boards with an AVR and the Arduino core: two sticks, two
 * triggers, eight buttons, two motors, a light. Works on 32U4 boards (it prints on Serial1, pins 0
 * and 1) and on 328P boards (it prints on Serial, over the board's own USB converter).
 *
 * Put bench_link.h, bench_link.c and process.h into this folder. When there are constants, put
 * the generated header in as trim.h and define BENCH_TRIM here:
 */
/* #define BENCH_TRIM */
/*
 * Pins
 *   sticks, triggers   A0 lx  A1 ly  A2 rx  A3 ry  A4 lt  A5 rt
 *   buttons b0-b7      2 3 4 5 6 7 8 9, each to ground, the chip's pull-up is on
 *   motors             10 motor 0, 11 motor 1 (PWM)
 *   light              the board's own (on from level 128)
 *
 * Before power comes on: a pin drives a motor only through a logic-level transistor, with 10 k from
 * its gate to ground and a diode across the motor (cathode to plus). These boards run at 5 V: a
 * 3.3 V adapter or second board needs a level shifter. Lithium cells only with protection, fuse and
 * a charger made for them, never in parallel with USB.
 */
#include <Arduino.h>

#include "bench_link.h"

#if defined(BENCH_TRIM)
#include "trim.h"
#endif
#include "process.h"

#if defined(HAVE_HWSERIAL1)
#define PORT Serial1
#else
#define PORT Serial
#endif

static const unsigned long BAUD = 500000;
static const uint8_t AXIS_PINS[BENCH_AXES] = {A0, A1, A2, A3, A4, A5};
static const uint8_t FIRST_BUTTON = 2;
static const uint8_t BUTTONS = 8;
static const uint8_t MOTOR_PINS[BENCH_MOTORS] = {10, 11};
static const uint16_t HEADING_EVERY = 1024;

static bench_frame frame;
static bench_receiver receiver;
static bench_edges edges;
static uint8_t options;
static bool edges_wanted;
static uint32_t period_us = 4000;
static uint32_t due_us;
static uint32_t heard_us;

static void put(uint8_t out)
{
    PORT.write(out);
}

static uint16_t pressed()
{
    uint16_t mask = 0;
    for (uint8_t k = 0; k < BUTTONS; ++k) {
        if (digitalRead(static_cast<uint8_t>(FIRST_BUTTON + k)) == LOW) {
            mask = static_cast<uint16_t>(mask | (1u << k));
        }
    }
    return mask;
}

static void drive(uint8_t motor, uint8_t duty)
{
    frame.duty[motor] = duty;
    analogWrite(MOTOR_PINS[motor], duty);
}

/* A duty from the host, past the motor's constants. */
static void drive_raw(uint8_t motor, uint8_t duty)
{
    process_let_go(motor);
    drive(motor, duty);
}

static void obey(bench_command command)
{
    const uint8_t place = static_cast<uint8_t>(receiver.number[0]);
    heard_us = micros();
    switch (command) {
    case BENCH_MOTOR:
        drive_raw(place, static_cast<uint8_t>(receiver.number[1]));
        break;
    case BENCH_STRENGTH:
        if (!process_ask(place, static_cast<uint8_t>(receiver.number[1]))) {
            bench_say("# refused: there are no constants of this motor", options, put);
            return;
        }
        break;
    case BENCH_LIGHT:
        frame.light[0] = static_cast<uint8_t>(receiver.number[1]);
        digitalWrite(LED_BUILTIN, frame.light[0] >= 128 ? HIGH : LOW);
        break;
    case BENCH_RATE:
        period_us = 1000000UL / receiver.number[0];
        due_us = heard_us;
        break;
    case BENCH_SET_PACKED:
        options = static_cast<uint8_t>(place ? options | BENCH_PACKED : options & ~BENCH_PACKED);
        put(0);
        break;
    case BENCH_SET_OUTPUTS:
        options = static_cast<uint8_t>(place ? options | BENCH_OUTPUTS : options & ~BENCH_OUTPUTS);
        break;
    case BENCH_SET_EDGES:
        edges_wanted = place != 0;
        if (edges_wanted) {
            bench_edges_begin(&edges, pressed(), heard_us);
        }
        break;
    case BENCH_IDENTITY:
#if defined(BENCH_TRIM)
        bench_say("# identity bench sketch 1, constants of board " TB_BOARD_ID, options, put);
#else
        bench_say("# identity bench sketch 1, no constants", options, put);
#endif
        return;
    case BENCH_NOTHING:
    case BENCH_REFUSED:
    case BENCH_HEADING:
        break;
    }
    bench_answer(&receiver, command, options, put);
    if (command == BENCH_HEADING || command == BENCH_SET_PACKED || command == BENCH_SET_OUTPUTS) {
        bench_heading(options, put);
    }
}

static void listen()
{
    while (PORT.available() > 0) {
        const bench_command command = bench_take(&receiver, static_cast<uint8_t>(PORT.read()));
        if (command != BENCH_NOTHING) {
            obey(command);
        }
    }
    /* Motors stop when the host has not been heard for a second. */
    if ((frame.duty[0] || frame.duty[1]) && micros() - heard_us > BENCH_KEEP_US) {
        drive_raw(0, 0);
        drive_raw(1, 0);
    }
}

void setup()
{
    for (uint8_t k = 0; k < BUTTONS; ++k) {
        pinMode(static_cast<uint8_t>(FIRST_BUTTON + k), INPUT_PULLUP);
    }
    for (uint8_t k = 0; k < BENCH_MOTORS; ++k) {
        pinMode(MOTOR_PINS[k], OUTPUT);
    }
    pinMode(LED_BUILTIN, OUTPUT);
    PORT.begin(BAUD);
#if defined(BENCH_TRIM)
    options = BENCH_OUTPUTS;
    frame.identity = TB_CRC;
#endif
    put('\n');
    bench_say("# bench sketch 1", options, put);
    due_us = micros();
}

void loop()
{
    listen();
    if (edges_wanted) {
        bench_edge(&edges, pressed(), micros());
    }
    const uint32_t now = micros();
    if (now - due_us >= 0x80000000UL) {
        return;
    }
    due_us += period_us;
    if (now - due_us < 0x80000000UL) {
        due_us = now + period_us; /* after a stall the beat begins anew */
    }
    if ((frame.seq & (HEADING_EVERY - 1)) == 0) {
        bench_heading(options, put);
    }
    frame.t_us = now;
    frame.buttons = pressed();
    for (uint8_t k = 0; k < BENCH_AXES; ++k) {
        frame.axes[k] = static_cast<uint16_t>(analogRead(AXIS_PINS[k]));
    }
    process(&frame);
    process_motors(&frame, drive);
    bench_send(&frame, options, put);
    ++frame.seq;
    if (edges_wanted) {
        bench_say_edges(&edges, 4, options, put);
    }
}
