/*
 * A controller's prototype on an ATmega32U4 at 16 MHz: two sticks, two triggers, 15 buttons, two
 * motors, a light, perhaps a second half over I2C. Prints its readings on UART1, obeys commands.
 *
 * Built with -DBENCH_TRIM it includes the generated header "trim.h" and sends processed values
 * behind the raw ones; built with -DBENCH_RELAY it asks a second board for its half.
 *
 * Pins (numbers are those of the chip's ports):
 *   sticks, triggers   PF0 lx  PF1 ly  PF4 rx  PF5 ry  PF6 lt  PF7 rt   (ADC 0 1 4 5 6 7)
 *   buttons b0-b14     PB0 PB1 PB2 PB3 PB4 PC6 PC7 PD4 PD5 PD6 PD7 PE2 PE6 PD0 PD1,
 *                      each to ground, the chip's pull-up is on
 *   motors             PB5 motor 0, PB6 motor 1 (PWM, 3.9 kHz)
 *   light              PB7 (PWM)
 *   debug port         PD3 TX, PD2 RX, 500 000 baud, 8N1
 *   I2C (BENCH_RELAY)  PD0 SCL, PD1 SDA; b13 and b14 are then those of the second half
 *
 * Before power comes on:
 *   - A pin never drives a motor. It drives the gate of a logic-level transistor (with 10 k to
 *     ground, so that the motor stays off while the chip resets), and the motor has a diode across
 *     it, cathode to its plus side; without the diode the first stop may kill transistor and chip.
 *   - This board runs at 5 V. A USB-serial adapter or a second board at 3.3 V needs a level shifter
 *     or at least a divider on the 5 V output that it listens to; 5 V on a 3.3 V pin destroys it.
 *     I2C pull-ups go to the lower of the two supplies, 2.2 k to 4.7 k.
 *   - Stick potentiometers are fed from the same supply that is the converter's reference (AVCC),
 *     with 100 nF from AREF to ground; then the supply's level cancels out.
 *   - Lithium cells: only with a protection circuit, a fuse and a charger made for the cell; never
 *     on the bench supply in parallel with USB. Motors take their current from the cell, not from
 *     the board's regulator.
 */
#include <avr/interrupt.h>
#include <avr/io.h>
#include <avr/sleep.h>

#include "../bench_link.h"
#include "board.h"

#if defined(BENCH_RELAY)
#include "twi.h"
#endif
#if defined(BENCH_TRIM)
#include "trim.h"
#endif
#include "../process.h"

#define BAUD_DIVIDER 3u    /* 500 000 baud: 16 MHz / 8 / (3 + 1), double speed */
#define HEADING_EVERY 1024u
#define FIRST_RATE_HZ 250u
#define BANDGAP_EVERY 64u  /* scans between two looks at the supply */
#define BANDGAP_MUX 0x1Eu
#define BANDGAP_MV_CODES 1126400UL /* 1100 mV * 1024 codes */

/* ---- reset cause: read before anything can clear it ---- */

static uint8_t reset_cause __attribute__((section(".noinit")));

void note_reset_cause(void) __attribute__((naked, used, section(".init3")));
void note_reset_cause(void)
{
    reset_cause = MCUSR & 15u;
    MCUSR = 0;
}

/* ---- clock ---- */

static uint32_t now_us(void)
{
    uint32_t now;
    cli();
    now = clock_us();
    sei();
    return now;
}

/* ---- the frame's beat: Timer3 compares, so that scans begin on the microsecond ---- */

static volatile uint32_t period_us = 1000000UL / FIRST_RATE_HZ;
static uint32_t due_us;
static volatile uint32_t begun_us;   /* when the scan at hand began */
static volatile uint8_t scanning;
static volatile uint8_t ready;       /* a scan waits to be sent */

static void begin_scan(void);

ISR(TIMER3_COMPA_vect)
{
    uint32_t now = clock_us();
    /* The compare comes round every 32.8 ms; only one of its turns is the right one. */
    if (now - due_us >= 0x80000000UL) {
        return;
    }
    due_us += period_us;
    if (now - due_us < 0x80000000UL) {
        due_us = now + period_us; /* after a stall the beat begins anew rather than catch up */
    }
    OCR3A = (uint16_t)(due_us << 1);
    /* A loop that is too slow for its rate leaves scans out; the clock shows it. */
    if (!scanning && !ready) {
        begun_us = now;
        begin_scan();
    }
}

static void set_period(uint32_t us)
{
    cli();
    period_us = us;
    due_us = clock_us() + us;
    OCR3A = (uint16_t)(due_us << 1);
    TIFR3 = 1u << OCF3A;
    TIMSK3 |= 1u << OCIE3A;
    sei();
}

/* ---- buttons ---- */

static uint16_t pressed(void)
{
    uint8_t d = (uint8_t)~PIND;
    uint8_t e = (uint8_t)~PINE;
    uint16_t mask = first_buttons();             /* b0-b7 */
    mask |= (uint16_t)((d & 0xE0u) << 3);        /* b8-b10 */
    if (e & (1u << 2)) {
        mask |= 1u << 11;
    }
    if (e & (1u << 6)) {
        mask |= 1u << 12;
    }
#if !defined(BENCH_RELAY)
    mask |= (uint16_t)((uint16_t)(d & 0x03u) << 13); /* b13 b14 */
#endif
    return mask;
}

static bench_edges edges;

#define EDGES_EVERY 500u /* half us */

/* While the host wants edges. */
ISR(TIMER3_COMPB_vect)
{
    OCR3B = (uint16_t)(OCR3B + EDGES_EVERY);
    bench_edge(&edges, pressed(), clock_us());
}

/* ---- converter: one scan a frame, one channel after the other ---- */

static const uint8_t channels[BENCH_AXES] = {0, 1, 4, 5, 6, 7};
static volatile uint16_t codes[BENCH_AXES];
static volatile uint16_t levels;   /* the buttons at the scan's begin */
static volatile uint16_t bandgap;
static uint8_t channel;            /* 0-5; 6 and 7 look at the bandgap, the first of them settles */
static uint8_t scans;

static void begin_scan(void)
{
    scanning = 1;
    channel = 0;
    levels = pressed();
    convert(channels[0]);
}

ISR(ADC_vect)
{
    uint16_t code = ADC;
    uint8_t last = channel;
    if (last < BENCH_AXES) {
        codes[last] = code;
    } else if (last == 7u) {
        bandgap = code;
    }
    ++last;
    channel = last;
    if (last == BENCH_AXES) {
        scans = (uint8_t)(scans + 1u);
    }
    if (last == 8u || (last == BENCH_AXES && scans != BANDGAP_EVERY)) {
        scanning = 0;
        ready = 1;
        return;
    }
    if (last == 7u) {
        scans = 0;
    }
    convert(last < BENCH_AXES ? channels[last] : BANDGAP_MUX);
}

/* ---- UART1 ---- */

static volatile uint8_t out[256];
static volatile uint8_t out_head; /* next free place */
static volatile uint8_t out_tail; /* next to leave */
static volatile uint8_t in[64];
static volatile uint8_t in_head;
static volatile uint8_t in_tail;

ISR(USART1_UDRE_vect)
{
    uint8_t tail = out_tail;
    UDR1 = out[tail];
    tail = (uint8_t)(tail + 1u);
    out_tail = tail;
    if (tail == out_head) {
        UCSR1B = (1u << RXCIE1) | (1u << RXEN1) | (1u << TXEN1);
    }
}

ISR(USART1_RX_vect)
{
    uint8_t byte = UDR1;
    uint8_t next = (uint8_t)((in_head + 1u) & 63u);
    if (next != in_tail) {
        in[in_head] = byte;
        in_head = next;
    }
}

/* Waits while the ring is full. */
static void put(uint8_t byte)
{
    uint8_t head = out_head;
    uint8_t next = (uint8_t)(head + 1u);
    while (next == out_tail) {
    }
    out[head] = byte;
    cli();
    out_head = next;
    UCSR1B = (1u << RXCIE1) | (1u << UDRIE1) | (1u << RXEN1) | (1u << TXEN1);
    sei();
}

/* ---- what the host asked for ---- */

static bench_receiver receiver;
static bench_frame frame;
static uint8_t options;
static uint8_t edges_wanted;
static uint32_t heard_us;

static void drive(uint8_t motor, uint8_t duty)
{
    uint8_t pin = motor ? (uint8_t)(1u << COM1B1) : (uint8_t)(1u << COM1A1);
    frame.duty[motor] = duty;
    if (motor) {
        OCR1B = duty;
    } else {
        OCR1A = duty;
    }
    /* At 0 the pin leaves the timer: no needle pulses reach the motor. */
    TCCR1A = (uint8_t)(duty ? (TCCR1A | pin) : (TCCR1A & (uint8_t)~pin));
    /* With both motors off nothing switches near the converter. */
    TCCR1B = (uint8_t)(frame.duty[0] || frame.duty[1] ? 1u << CS11 : 0u);
}

/* A duty from the host, past the motor's constants. */
static void drive_raw(uint8_t motor, uint8_t duty)
{
    process_let_go(motor);
    drive(motor, duty);
}

static void obey(bench_command command)
{
    uint8_t place = (uint8_t)receiver.number[0];
    heard_us = now_us();
    switch (command) {
    case BENCH_NOTHING:
    case BENCH_REFUSED:
        break;
    case BENCH_MOTOR:
        drive_raw(place, (uint8_t)receiver.number[1]);
        break;
    case BENCH_STRENGTH:
        if (!process_ask(place, (uint8_t)receiver.number[1])) {
            bench_say("# refused: there are no constants of this motor", options, put);
            return;
        }
        break;
    case BENCH_LIGHT:
        frame.light[0] = (uint8_t)receiver.number[1];
        OCR0A = frame.light[0];
        TCCR0A = (uint8_t)(frame.light[0] ? (1u << COM0A1) | (1u << WGM00) : (1u << WGM00));
        TCCR0B = (uint8_t)(frame.light[0] ? 1u << CS01 : 0u);
        break;
    case BENCH_RATE:
        set_period(1000000UL / receiver.number[0]);
        break;
    case BENCH_SET_PACKED:
        options = (uint8_t)(place ? options | BENCH_PACKED : options & (uint8_t)~BENCH_PACKED);
        put(0); /* ends whatever the listener believes to have begun */
        break;
    case BENCH_SET_OUTPUTS:
        options = (uint8_t)(place ? options | BENCH_OUTPUTS : options & (uint8_t)~BENCH_OUTPUTS);
        break;
    case BENCH_SET_EDGES:
        edges_wanted = place;
        cli();
        if (place) {
            bench_edges_begin(&edges, pressed(), clock_us());
        }
        OCR3B = (uint16_t)(TCNT3 + EDGES_EVERY);
        TIFR3 = 1u << OCF3B;
        TIMSK3 = (uint8_t)((1u << TOIE3) | (1u << OCIE3A) | (place ? 1u << OCIE3B : 0u));
        sei();
        break;
    case BENCH_IDENTITY:
#if defined(BENCH_TRIM)
        bench_say("# identity bench companion 1, constants of board " TB_BOARD_ID, options, put);
#else
        bench_say("# identity bench companion 1, no constants", options, put);
#endif
        return;
    case BENCH_HEADING:
        break;
    }
    bench_answer(&receiver, command, options, put);
    if (command == BENCH_HEADING || command == BENCH_SET_PACKED || command == BENCH_SET_OUTPUTS) {
        bench_heading(options, put);
    }
}

static void listen(void)
{
    while (in_tail != in_head) {
        uint8_t byte = in[in_tail];
        bench_command command;
        in_tail = (uint8_t)((in_tail + 1u) & 63u);
        command = bench_take(&receiver, byte);
        if (command != BENCH_NOTHING) {
            obey(command);
        }
    }
}

/* ---- a frame ---- */

static void read_inputs(void)
{
    uint8_t k;
    uint16_t gap;
    cli();
    frame.t_us = begun_us;
    for (k = 0; k < BENCH_AXES; ++k) {
        frame.axes[k] = codes[k];
    }
    frame.buttons = levels;
    gap = bandgap;
    ready = 0;
    sei();
    /* A supply estimate, good to some 10 %: the bandgap itself is 1.0 to 1.2 V. */
    if (gap && (frame.seq & 255u) == 0u) {
        frame.vcc_mv = (uint16_t)(BANDGAP_MV_CODES / gap);
    }
#if defined(BENCH_RELAY)
    relay_poll(&frame);
#endif
    process(&frame);
    process_motors(&frame, drive);
}

static void setup(void)
{
    begin_board();
    DDRB = (1u << 5) | (1u << 6) | (1u << 7);
#if defined(BENCH_RELAY)
    PORTD = 0xF4u;
    relay_begin();
#else
    PORTD = 0xF7u;
#endif
    PORTE = (1u << 2) | (1u << 6);
    DDRD = 1u << 3;
    DIDR0 = 0xF3u; /* no digital input stages on the analog pins */

    TCCR1A = 1u << WGM10; /* phase-correct PWM of 8 bits: 16 MHz / 8 / 510 = 3.9 kHz when driven */
    TCCR0A = 1u << WGM00;

    UCSR1A = 1u << U2X1;
    UBRR1 = BAUD_DIVIDER;
    UCSR1C = (1u << UCSZ11) | (1u << UCSZ10);
    UCSR1B = (1u << RXCIE1) | (1u << RXEN1) | (1u << TXEN1);

    frame.reset_cause = reset_cause;
#if defined(BENCH_START)
    options = BENCH_START;
#endif
#if defined(BENCH_RELAY)
    options |= BENCH_REMOTE;
#endif
#if defined(BENCH_TRIM)
    options |= BENCH_OUTPUTS;
    frame.identity = TB_CRC;
#endif
    sei();
}

/* Motors stop when the host has not been heard for a second. */
static void watch_motors(void)
{
    if ((frame.duty[0] || frame.duty[1]) && now_us() - heard_us > BENCH_KEEP_US) {
        drive_raw(0, 0);
        drive_raw(1, 0);
    }
}

int main(void)
{
    setup();
    put(options & BENCH_PACKED ? 0u : (uint8_t)'\n');
    bench_say("# bench companion 1", options, put);
    set_period(period_us);
    for (;;) {
        listen();
        watch_motors();
        if (!ready) {
            sleep_mode(); /* idle: any interrupt wakes it */
            continue;
        }
        if ((frame.seq & (HEADING_EVERY - 1u)) == 0u) {
            bench_heading(options, put);
        }
        read_inputs();
        bench_send(&frame, options, put);
        frame.seq = (uint16_t)(frame.seq + 1u);
        if (edges_wanted) {
            (void)bench_say_edges(&edges, 4, options, put);
        }
    }
}
