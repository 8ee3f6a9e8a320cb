/* The debug stream: see bench_link.h. */
#include "bench_link.h"

#if defined(__AVR__)
#include <avr/pgmspace.h>
#define BENCH_FLASH PROGMEM
#define BENCH_CHAR(place) ((char)pgm_read_byte(place))
#define BENCH_LONG(place) pgm_read_dword(place)
#else
#define BENCH_FLASH
#define BENCH_CHAR(place) (*(place))
#define BENCH_LONG(place) (*(place))
#endif

/* Kinds of packed frames. */
#define KIND_DATA 1u
#define KIND_HEADING 2u
#define KIND_TEXT 3u

/* Payload of the longest packed frame: the heading with all its names, kind and CRC. COBS needs no
 * second code byte below 254. */
#define PACKET 200u

static uint8_t packet[PACKET];
static uint8_t packed_bytes;
static uint16_t line_crc;

uint16_t bench_crc(uint16_t crc, uint8_t byte)
{
    uint8_t x = (uint8_t)((uint8_t)(crc >> 8) ^ byte);
    x = (uint8_t)(x ^ (x >> 4));
    crc = (uint16_t)(crc << 8);
    crc = (uint16_t)(crc ^ (uint16_t)((uint16_t)x << 12));
    crc = (uint16_t)(crc ^ (uint16_t)((uint16_t)x << 5));
    return (uint16_t)(crc ^ x);
}

/* ---- text ---- */

static void text_byte(uint8_t byte, bench_put put)
{
    line_crc = bench_crc(line_crc, byte);
    put(byte);
}

static const uint32_t tens[9] BENCH_FLASH = {
    1000000000UL, 100000000UL, 10000000UL, 1000000UL, 100000UL, 10000UL, 1000UL, 100UL, 10UL,
};

/* Decimal by subtraction: the small cores divide slowly. */
static void decimal(uint32_t value, bench_put put)
{
    uint8_t k;
    uint8_t begun = 0;
    for (k = value < 100000UL ? 5u : 0u; k < 9u; ++k) {
        uint32_t ten = BENCH_LONG(tens + k);
        uint8_t digit = (uint8_t)'0';
        while (value >= ten) {
            value -= ten;
            ++digit;
        }
        if (begun || digit != (uint8_t)'0') {
            begun = 1;
            text_byte(digit, put);
        }
    }
    text_byte((uint8_t)((uint8_t)'0' + (uint8_t)value), put);
}

static uint8_t hex_digit(uint8_t nibble)
{
    nibble &= 15u;
    return (uint8_t)(nibble + (nibble < 10u ? (uint8_t)'0' : (uint8_t)('A' - 10)));
}

static void hex(uint16_t value, bench_put put)
{
    text_byte(hex_digit((uint8_t)(value >> 12)), put);
    text_byte(hex_digit((uint8_t)(value >> 8)), put);
    text_byte(hex_digit((uint8_t)(value >> 4)), put);
    text_byte(hex_digit((uint8_t)value), put);
}

static void field(uint32_t value, bench_put put)
{
    text_byte((uint8_t)',', put);
    decimal(value, put);
}

static void mask_field(uint16_t value, bench_put put)
{
    text_byte((uint8_t)',', put);
    text_byte((uint8_t)'0', put);
    text_byte((uint8_t)'x', put);
    hex(value, put);
}

static void signed_field(int16_t value, bench_put put)
{
    text_byte((uint8_t)',', put);
    if (value < 0) {
        text_byte((uint8_t)'-', put);
        decimal((uint32_t)(-(int32_t)value), put);
    } else {
        decimal((uint32_t)value, put);
    }
}

static void send_text(const bench_frame *f, uint8_t options, bench_put put)
{
    uint8_t k;
    uint16_t crc;
    line_crc = 0xFFFFu;
    decimal(f->seq, put);
    field(f->t_us, put);
    for (k = 0; k < BENCH_AXES; ++k) {
        field(f->axes[k], put);
    }
    mask_field(f->buttons, put);
    field(f->vcc_mv, put);
    field(f->reset_cause, put);
    for (k = 0; k < BENCH_MOTORS; ++k) {
        field(f->duty[k], put);
    }
    for (k = 0; k < BENCH_LIGHTS; ++k) {
        field(f->light[k], put);
    }
    if (options & BENCH_REMOTE) {
        field(f->remote_seq, put);
        field(f->remote_age, put);
    }
    if (options & BENCH_OUTPUTS) {
        for (k = 0; k < BENCH_AXES; ++k) {
            signed_field(f->out_axes[k], put);
        }
        mask_field(f->out_buttons, put);
        field(f->identity, put);
    }
    crc = line_crc;
    put((uint8_t)'*');
    hex(crc, put);
    put((uint8_t)'\n');
}

/* ---- packed ---- */

static void begin_packet(uint8_t kind)
{
    packet[0] = kind;
    packed_bytes = 1;
}

/* Two bytes stay free for the CRC; what does not fit is left out. */
static void pack8(uint8_t byte)
{
    if (packed_bytes < PACKET - 2u) {
        packet[packed_bytes++] = byte;
    }
}

static void pack16(uint16_t value)
{
    pack8((uint8_t)value);
    pack8((uint8_t)(value >> 8));
}

static void pack32(uint32_t value)
{
    pack16((uint16_t)value);
    pack16((uint16_t)(value >> 16));
}

/* CRC, COBS, delimiter. */
static void end_packet(bench_put put)
{
    uint8_t at = 0;
    uint8_t k;
    uint16_t crc = 0xFFFFu;
    for (k = 0; k < packed_bytes; ++k) {
        crc = bench_crc(crc, packet[k]);
    }
    packet[packed_bytes++] = (uint8_t)crc;
    packet[packed_bytes++] = (uint8_t)(crc >> 8);
    while (at <= packed_bytes) {
        uint8_t end = at;
        while (end < packed_bytes && packet[end] != 0u) {
            ++end;
        }
        put((uint8_t)((uint8_t)(end - at) + 1u));
        for (; at < end; ++at) {
            put(packet[at]);
        }
        ++at; /* the zero that the code byte stands for, or the end */
    }
    put(0);
}

static void send_packed(const bench_frame *f, uint8_t options, bench_put put)
{
    uint8_t k;
    begin_packet(KIND_DATA);
    pack16(f->seq);
    pack32(f->t_us);
    for (k = 0; k < BENCH_AXES; ++k) {
        pack16(f->axes[k]);
    }
    pack16(f->buttons);
    pack16(f->vcc_mv);
    pack8(f->reset_cause);
    for (k = 0; k < BENCH_MOTORS; ++k) {
        pack8(f->duty[k]);
    }
    for (k = 0; k < BENCH_LIGHTS; ++k) {
        pack8(f->light[k]);
    }
    if (options & BENCH_REMOTE) {
        pack16(f->remote_seq);
        pack32(f->remote_age);
    }
    if (options & BENCH_OUTPUTS) {
        for (k = 0; k < BENCH_AXES; ++k) {
            pack16((uint16_t)f->out_axes[k]);
        }
        pack16(f->out_buttons);
        pack16(f->identity);
    }
    end_packet(put);
}

void bench_send(const bench_frame *frame, uint8_t options, bench_put put)
{
    if (options & BENCH_PACKED) {
        send_packed(frame, options, put);
    } else {
        send_text(frame, options, put);
    }
}

/* ---- heading and words ---- */

static const char names[] BENCH_FLASH =
    "seq,t_us,lx,ly,rx,ry,lt,rt,buttons,vcc_mv,reset_cause,duty0,duty1,light0";
static const char remote_names[] BENCH_FLASH = ",remote_seq,remote_age";
static const char output_names[] BENCH_FLASH =
    ",out_lx,out_ly,out_rx,out_ry,out_lt,out_rt,out_buttons,identity";

static void flash_text(const char *text, uint8_t options, bench_put put)
{
    char c;
    while ((c = BENCH_CHAR(text)) != 0) {
        if (options & BENCH_PACKED) {
            pack8((uint8_t)c);
        } else {
            put((uint8_t)c);
        }
        ++text;
    }
}

static void begin_words(uint8_t kind, uint8_t options)
{
    if (options & BENCH_PACKED) {
        begin_packet(kind);
    }
}

static void end_words(uint8_t options, bench_put put)
{
    if (options & BENCH_PACKED) {
        end_packet(put);
    } else {
        put((uint8_t)'\n');
    }
}

void bench_heading(uint8_t options, bench_put put)
{
    begin_words(KIND_HEADING, options);
    flash_text(names, options, put);
    if (options & BENCH_REMOTE) {
        flash_text(remote_names, options, put);
    }
    if (options & BENCH_OUTPUTS) {
        flash_text(output_names, options, put);
    }
    end_words(options, put);
}

void bench_say(const char *text, uint8_t options, bench_put put)
{
    begin_words(KIND_TEXT, options);
    for (; *text; ++text) {
        if (options & BENCH_PACKED) {
            pack8((uint8_t)*text);
        } else {
            put((uint8_t)*text);
        }
    }
    end_words(options, put);
}

/* ---- commands ---- */

typedef struct {
    char word[9];
    uint8_t numbers;
    uint16_t least;  /* of the first number */
    uint16_t most;
    uint8_t command;
} command_row;

static const command_row rows[] = {
    {"motor", 2, 0, BENCH_MOTORS - 1u, BENCH_MOTOR},
    {"strength", 2, 0, BENCH_MOTORS - 1u, BENCH_STRENGTH},
    {"light", 2, 0, BENCH_LIGHTS - 1u, BENCH_LIGHT},
    {"rate", 1, 1, 4000, BENCH_RATE},
    {"packed", 1, 0, 1, BENCH_SET_PACKED},
    {"outputs", 1, 0, 1, BENCH_SET_OUTPUTS},
    {"edges", 1, 0, 1, BENCH_SET_EDGES},
    {"identity", 0, 0, 0, BENCH_IDENTITY},
    {"heading", 0, 0, 0, BENCH_HEADING},
};

/* Place behind a checksum that agrees, or the line's own end without one; 255 = it disagrees. */
static uint8_t checked_length(const bench_receiver *r)
{
    uint8_t k;
    uint8_t sum = 0;
    for (k = 0; k < r->length; ++k) {
        if (r->line[k] == '*') {
            if (k + 3u != r->length || hex_digit((uint8_t)(sum >> 4)) != (uint8_t)r->line[k + 1u]
                || hex_digit(sum) != (uint8_t)r->line[k + 2u]) {
                return 255u;
            }
            return k;
        }
        sum = (uint8_t)(sum ^ (uint8_t)r->line[k]);
    }
    return r->length;
}

/* Reads the numbers behind a word; 1 when there are just as many as asked for. */
static uint8_t numbers(bench_receiver *r, uint8_t at, uint8_t end, uint8_t count)
{
    uint8_t k;
    for (k = 0; k < count; ++k) {
        uint16_t value = 0;
        uint8_t first;
        if (at >= end || r->line[at] != ' ') {
            return 0;
        }
        first = ++at;
        while (at < end && r->line[at] >= '0' && r->line[at] <= '9') {
            if (at - first == 4) {
                return 0;
            }
            value = (uint16_t)(value * 10u + (uint16_t)(r->line[at] - '0'));
            ++at;
        }
        if (at == first) {
            return 0;
        }
        r->number[k] = value;
    }
    return at == end;
}

static bench_command command_of(bench_receiver *r)
{
    uint8_t end = checked_length(r);
    uint8_t k;
    if (end == 255u) {
        return BENCH_REFUSED;
    }
    for (k = 0; k < sizeof rows / sizeof rows[0]; ++k) {
        const command_row *row = rows + k;
        uint8_t at = 0;
        while (row->word[at] && at < end && row->word[at] == r->line[at]) {
            ++at;
        }
        if (row->word[at]) {
            continue;
        }
        if (!numbers(r, at, end, row->numbers)) {
            return BENCH_REFUSED;
        }
        if (row->numbers && (r->number[0] < row->least || r->number[0] > row->most)) {
            return BENCH_REFUSED;
        }
        if (row->numbers == 2u && r->number[1] > 255u) {
            return BENCH_REFUSED;
        }
        return (bench_command)row->command;
    }
    return BENCH_REFUSED;
}

bench_command bench_take(bench_receiver *r, uint8_t byte)
{
    bench_command command;
    if (byte == (uint8_t)'\r') {
        return BENCH_NOTHING;
    }
    if (byte != (uint8_t)'\n') {
        if (r->length < BENCH_LINE) {
            r->line[r->length] = (char)byte;
        }
        if (r->length <= BENCH_LINE) {
            ++r->length;
        }
        return BENCH_NOTHING;
    }
    if (r->length == 0u) {
        return BENCH_NOTHING;
    }
    command = r->length > BENCH_LINE ? BENCH_REFUSED : command_of(r);
    r->length = 0;
    return command;
}

static uint8_t add_text(char *to, uint8_t at, const char *text)
{
    while (*text) {
        to[at++] = *text++;
    }
    return at;
}

static uint8_t add_number(char *to, uint8_t at, uint16_t value)
{
    uint16_t ten = 1000;
    uint8_t begun = 0;
    to[at++] = ' ';
    for (; ten; ten = (uint16_t)(ten / 10u)) {
        char digit = '0';
        while (value >= ten) {
            value = (uint16_t)(value - ten);
            ++digit;
        }
        if (begun || digit != '0' || ten == 1u) {
            begun = 1;
            to[at++] = digit;
        }
    }
    return at;
}

void bench_answer(const bench_receiver *r, bench_command command, uint8_t options, bench_put put)
{
    char text[32];
    uint8_t at;
    uint8_t k;
    uint8_t n;
    if (command == BENCH_REFUSED) {
        bench_say("# refused: no such command, or numbers out of range", options, put);
        return;
    }
    at = add_text(text, 0, "# done ");
    for (k = 0; k < sizeof rows / sizeof rows[0]; ++k) {
        if (rows[k].command == (uint8_t)command) {
            at = add_text(text, at, rows[k].word);
            for (n = 0; n < rows[k].numbers; ++n) {
                at = add_number(text, at, r->number[n]);
            }
        }
    }
    text[at] = 0;
    bench_say(text, options, put);
}

/* ---- edges ---- */

static void note_edge(bench_edges *e, uint16_t mask, uint32_t t_us, uint16_t span_us)
{
    uint8_t head = e->head;
    uint8_t next = (uint8_t)((head + 1u) & (BENCH_EDGES - 1u));
    e->last = mask;
    e->counted = (uint8_t)(e->counted + 1u);
    if (next == e->tail) {
        if (e->lost < 255u) {
            e->lost = (uint8_t)(e->lost + 1u);
        }
        return;
    }
    e->t_us[head] = t_us;
    e->level[head] = mask;
    e->span_us[head] = span_us;
    e->count[head] = e->counted;
    e->head = next;
}

void bench_edges_begin(bench_edges *e, uint16_t mask, uint32_t t_us)
{
    e->tail = e->head;
    e->lost = 0;
    e->looked_us = t_us;
    note_edge(e, mask, t_us, BENCH_SPAN_OPEN);
}

void bench_edge(bench_edges *e, uint16_t mask, uint32_t t_us)
{
    uint32_t span_us = t_us - e->looked_us;
    e->looked_us = t_us;
    if (mask != e->last) {
        note_edge(e, mask, t_us, span_us < BENCH_SPAN_OPEN ? (uint16_t)span_us : BENCH_SPAN_OPEN);
    }
}

static void text_or_packed(uint8_t byte)
{
    pack8(byte);
}

static void say_edge(const bench_edges *e, uint8_t place, uint8_t options, bench_put put)
{
    bench_put to = (options & BENCH_PACKED) ? text_or_packed : put;
    const char *word = "# edge ";
    uint16_t crc;
    begin_words(KIND_TEXT, options);
    line_crc = 0xFFFFu;
    for (; *word; ++word) {
        text_byte((uint8_t)*word, to);
    }
    decimal(e->count[place], to);
    text_byte((uint8_t)' ', to);
    text_byte((uint8_t)'0', to);
    text_byte((uint8_t)'x', to);
    hex(e->level[place], to);
    text_byte((uint8_t)' ', to);
    decimal(e->t_us[place], to);
    text_byte((uint8_t)' ', to);
    decimal(e->span_us[place], to);
    crc = line_crc;
    to((uint8_t)'*');
    hex(crc, to);
    end_words(options, put);
}

uint8_t bench_say_edges(bench_edges *e, uint8_t most, uint8_t options, bench_put put)
{
    uint8_t said = 0;
    while (said < most && e->tail != e->head) {
        uint8_t tail = e->tail;
        say_edge(e, tail, options, put);
        e->tail = (uint8_t)((tail + 1u) & (BENCH_EDGES - 1u));
        ++said;
    }
    if (e->lost && said < most) {
        e->lost = 0;
        bench_say("# edges lost: they came faster than they could be said", options, put);
    }
    return said;
}

/* ---- the second half ---- */

void bench_record(const bench_half *half, uint8_t record[BENCH_RECORD])
{
    uint16_t words[(BENCH_RECORD - 2u) / 2u];
    uint16_t crc = 0xFFFFu;
    uint8_t k;
    words[0] = half->seq;
    words[1] = half->age_us;
    for (k = 0; k < BENCH_HALF_AXES; ++k) {
        words[2u + k] = half->axes[k];
    }
    words[5] = half->buttons;
    for (k = 0; k < BENCH_RECORD - 2u; ++k) {
        uint16_t word = words[k >> 1];
        record[k] = (uint8_t)((k & 1u) ? word >> 8 : word & 255u);
        crc = bench_crc(crc, record[k]);
    }
    record[BENCH_RECORD - 2u] = (uint8_t)crc;
    record[BENCH_RECORD - 1u] = (uint8_t)(crc >> 8);
}

static uint16_t word_at(const uint8_t *bytes)
{
    return (uint16_t)(bytes[0] | (uint16_t)((uint16_t)bytes[1] << 8));
}

uint8_t bench_read_record(const uint8_t record[BENCH_RECORD], bench_half *half)
{
    uint16_t crc = 0xFFFFu;
    uint8_t k;
    for (k = 0; k < BENCH_RECORD - 2u; ++k) {
        crc = bench_crc(crc, record[k]);
    }
    if (crc != word_at(record + BENCH_RECORD - 2u)) {
        return 0;
    }
    half->seq = word_at(record);
    half->age_us = word_at(record + 2);
    for (k = 0; k < BENCH_HALF_AXES; ++k) {
        half->axes[k] = word_at(record + 4u + 2u * k);
    }
    half->buttons = word_at(record + 10);
    return 1;
}
