//! The arithmetic in C, the twin of `trim::apply`, and only the functions that the parts need.
//!
//! Widths that hold on 16-bit and 32-bit `int` alike: a product starts from a `uint32_t`, a
//! narrowed value goes through `TB_U16_`/`TB_I16_`, magnitudes are unsigned, the sign comes last.
use super::{Lines, extra_calls};
use crate::trim::Trim;
use crate::trim::apply::RECIPROCAL_ROOTS;

/// Macros for narrowing, and every function that the trim's parts call.
pub(super) fn functions(out: &mut Lines, trim: &Trim) {
    out.text.push_str(NARROWING);
    if !trim.axes.is_empty() || !trim.triggers.is_empty() {
        out.text.push_str(SCALED);
    }
    if !trim.axes.is_empty() {
        out.text.push_str(AXIAL);
        out.text.push_str(AXIS);
    }
    let shared = extra_calls::needs(trim);
    if shared.flash || !trim.sticks.is_empty() {
        out.text.push_str(FLASH);
    }
    if !trim.sticks.is_empty() {
        table(out);
        out.text.push_str(MAGNITUDE);
        out.text.push_str(COMPONENT);
        if shared.plain_zone {
            out.text.push_str(FACTOR);
        }
    }
    if trim.sticks.iter().any(|s| s.matrix.is_some()) {
        out.text.push_str(MATRIX);
    }
    if !trim.triggers.is_empty() {
        out.text.push_str(TRIGGER);
    }
    if !trim.buttons.is_empty() {
        out.text.push_str(DEBOUNCE);
    }
    extra_calls::shared(out, trim);
}

fn table(out: &mut Lines) {
    out.line("/* 65535 * 2^15 / sqrt(k * 2^25) for k = 32 to 128 */");
    out.line(&format!(
        "static const uint16_t tb_roots_[{}] TB_FLASH_ = {{",
        RECIPROCAL_ROOTS.len()
    ));
    for row in RECIPROCAL_ROOTS.chunks(12) {
        let words: Vec<String> = row.iter().map(|w| format!("{w}u")).collect();
        out.line(&format!("    {},", words.join(", ")));
    }
    out.line("};");
}

const NARROWING: &str = r"
#if defined(__cplusplus)
#define TB_U16_(value) (static_cast<uint16_t>(value))
#define TB_U8_(value) (static_cast<uint8_t>(value))
#define TB_U32_(value) (static_cast<uint32_t>(value))
#define TB_I16_(value) (static_cast<int16_t>(value))
#else
#define TB_U16_(value) ((uint16_t)(value))
#define TB_U8_(value) ((uint8_t)(value))
#define TB_U32_(value) ((uint32_t)(value))
#define TB_I16_(value) ((int16_t)(value))
#endif
";

const SCALED: &str = r"
/* counts * gain without the fraction bits, at most 32767: what leaves */
static inline uint16_t tb_output_(uint16_t counts, uint16_t gain)
{
    uint32_t product = counts;
    product *= gain;
    if (TB_U16_(product >> 16) >= (0x8000u >> (16u - TB_FRAC_BITS))) {
        return TB_U16_(32767u);
    }
    return TB_U16_(product >> TB_FRAC_BITS);
}
";

const AXIAL: &str = r"
/* the sign, last; magnitude at most 32767 */
static inline int16_t tb_signed_(uint16_t magnitude, uint8_t negative)
{
    return negative ? TB_I16_(-TB_I16_(magnitude)) : TB_I16_(magnitude);
}

/* one axis with its own dead zone, output from 0 at its edge */
static inline int16_t tb_axial_(uint16_t raw, uint16_t centre, uint16_t dead,
                                uint16_t gain_neg, uint16_t gain_pos, uint8_t flip)
{
    uint8_t below = raw < centre ? 1u : 0u;
    uint16_t counts = below ? TB_U16_(centre - raw) : TB_U16_(raw - centre);
    if (counts <= dead) {
        return 0;
    }
    counts = tb_output_(TB_U16_(counts - dead), below ? gain_neg : gain_pos);
    return tb_signed_(counts, TB_U8_(below ^ flip));
}
";

const AXIS: &str = r"
/* the constants of one axis in RAM, to be filled from TB_LX_AXIS and the like or from a store */
typedef struct {
    uint16_t centre;
    uint16_t dead;
    uint16_t gain_neg;
    uint16_t gain_pos;
    uint8_t flip;
} tb_axis;

/* one axis with the constants in RAM: what tb_lx and the like give without a curve */
static inline int16_t tb_axis_run(const tb_axis *a, uint16_t raw)
{
    uint16_t counts = a->centre;
    uint16_t gain;
    uint8_t negative = a->flip;
    if (raw < counts) {
        counts = TB_U16_(counts - raw);
        gain = a->gain_neg;
        negative = TB_U8_(negative ^ 1u);
    } else {
        counts = TB_U16_(raw - counts);
        gain = a->gain_pos;
    }
    if (counts <= a->dead) {
        return 0;
    }
    return tb_signed_(tb_output_(TB_U16_(counts - a->dead), gain), negative);
}
";

const FLASH: &str = r"
#if defined(__AVR__)
#include <avr/pgmspace.h>
#define TB_FLASH_ PROGMEM
#define TB_READ_(place) pgm_read_word(place)
#else
#define TB_FLASH_
#define TB_READ_(place) (*(place))
#endif

";

const MAGNITUDE: &str = r"
/* counts * gain without the fraction bits, at most 65535: before a zone */
static inline uint16_t tb_scaled_(uint16_t counts, uint16_t gain)
{
    uint32_t product = counts;
    product *= gain;
    if (TB_U16_(product >> 16) >= (1u << TB_FRAC_BITS)) {
        return TB_U16_(65535u);
    }
    return TB_U16_(product >> TB_FRAC_BITS);
}

/* distance from the centre after the gain of its side, not clamped to 32767 */
static inline uint16_t tb_magnitude_(uint16_t raw, uint16_t centre,
                                     uint16_t gain_neg, uint16_t gain_pos)
{
    return raw < centre ? tb_scaled_(TB_U16_(centre - raw), gain_neg)
                        : tb_scaled_(TB_U16_(raw - centre), gain_pos);
}
";

const COMPONENT: &str = r"
/* magnitude * factor, 15 fraction bits, at most 32767 */
static inline uint16_t tb_component_(uint16_t magnitude, uint16_t factor)
{
    uint32_t product = magnitude;
    uint16_t top;
    product *= factor;
    top = TB_U16_(product >> 16);
    if (top >= 0x4000u) {
        return TB_U16_(32767u);
    }
    return TB_U16_(TB_U16_(top << 1) | TB_U16_(TB_U16_(product) >> 15));
}
";

const FACTOR: &str = r"
/* what both components are multiplied by; 0 inside the zone: SLOPE * (1 - INNER / r) */
static inline uint16_t tb_factor_(uint16_t x, uint16_t y, uint32_t inner_square,
                                  uint16_t slope, uint16_t pull, uint8_t pairs)
{
    uint32_t square = TB_U16_(x >> 1);
    uint32_t other = TB_U16_(y >> 1);
    uint16_t here, next, top;
    uint8_t cell;
    square *= TB_U16_(square);
    other *= TB_U16_(other);
    square += other;
    if (square <= inner_square) {
        return 0;
    }
    while (square < 0x400000UL) {
        square <<= 8;
        pairs = TB_U8_(pairs - 4u);
    }
    while (square < 0x40000000UL) {
        square <<= 2;
        pairs = TB_U8_(pairs - 1u);
    }
    top = TB_U16_(square >> 16);
    cell = TB_U8_(TB_U16_(top >> 9) - 32u);
    here = TB_READ_(tb_roots_ + cell);
    next = TB_READ_(tb_roots_ + cell + 1);
    next = TB_U16_(TB_U16_(here - next) * TB_U16_((top >> 3) & 63u));
    here = TB_U16_(TB_U16_(here - TB_U16_(next >> 6)) >> pairs);
    square = pull;
    square *= here;
    top = TB_U16_(square >> 16);
    if (top >= 0x8000u) {
        return 0;
    }
    top = TB_U16_(TB_U16_(top << 1) | TB_U16_(TB_U16_(square) >> 15));
    return top < slope ? TB_U16_(slope - top) : TB_U16_(0u);
}
";

const MATRIX: &str = r"
/* one row of the 2x2: factors and components as magnitude and sign, 14 fraction bits */
static inline uint16_t tb_row_(uint16_t by_x, uint8_t x_negative, uint16_t by_y,
                               uint8_t y_negative, uint16_t x, uint16_t y, uint8_t *below)
{
    uint32_t from_x = x;
    uint32_t from_y = y;
    uint16_t top;
    from_x *= by_x;
    from_y *= by_y;
    *below = x_negative;
    if (x_negative == y_negative) {
        from_x += from_y;
    } else if (from_x >= from_y) {
        from_x -= from_y;
    } else {
        from_x = from_y - from_x;
        *below = y_negative;
    }
    top = TB_U16_(from_x >> 16);
    if (top >= 0x4000u) {
        return TB_U16_(65535u);
    }
    return TB_U16_(TB_U16_(top << 2) | TB_U16_(TB_U16_(from_x) >> 14));
}
";

const TRIGGER: &str = r"
/* travel past rest and dead travel, 0 to 32767 */
static inline int16_t tb_trigger_(uint16_t raw, uint16_t rest, uint16_t dead, uint16_t gain,
                                  uint8_t falls)
{
    uint16_t low = falls ? raw : rest;
    uint16_t high = falls ? rest : raw;
    uint16_t counts = high > low ? TB_U16_(high - low) : TB_U16_(0u);
    if (counts <= dead) {
        return 0;
    }
    return TB_I16_(tb_output_(TB_U16_(counts - dead), gain));
}

/* 1 while pressed: on from one threshold, off from the other, as before in between */
static inline uint8_t tb_switch_(uint16_t raw, uint16_t on, uint16_t off, uint8_t falls,
                                 uint8_t before)
{
    uint8_t is_on = falls ? raw <= on : raw >= on;
    uint8_t is_off = falls ? raw >= off : raw <= off;
    return (is_on || (before && !is_off)) ? 1u : 0u;
}
";

const DEBOUNCE: &str = r"
/* state of one button; all zero = open */
typedef struct {
    uint16_t pressed_at; /* ms */
    uint16_t closed_at;  /* ms */
    uint8_t pressed;
    uint8_t locked;
} tb_button;

/* eager press with lock-out, deferred release; now_ms may wrap; call at least once a minute */
static inline uint8_t tb_debounce_(tb_button *b, uint8_t closed, uint16_t now_ms,
                                   uint8_t lockout_ms, uint8_t release_ms)
{
    if (!b->pressed) {
        if (closed) {
            b->pressed = 1u;
            b->locked = 1u;
            b->pressed_at = now_ms;
            b->closed_at = now_ms;
        }
        return b->pressed;
    }
    if (closed) {
        b->closed_at = now_ms;
    }
    if (b->locked && TB_U16_(now_ms - b->pressed_at) >= lockout_ms) {
        b->locked = 0u;
    }
    if (!b->locked && !closed && TB_U16_(now_ms - b->closed_at) >= release_ms) {
        b->pressed = 0u;
    }
    return b->pressed;
}
";
