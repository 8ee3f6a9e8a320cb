//! Optional arithmetic in C and the functions that firmware calls for it.
use super::extras::{curve_key, shape};
use super::{Lines, Shared};
use crate::trim::{CurveOf, GuardTrim, MotorTrim, SmoothTrim, Trim};

/// Which widths of curves the parts use: 33 points, 65 points.
fn widths(trim: &Trim) -> impl Iterator<Item = usize> {
    let has = |n| trim.options.curves.iter().any(|c| c.points.len() == n);
    [33, 65].into_iter().filter(move |&n| has(n)).collect::<Vec<_>>().into_iter()
}

/// Tables and shared functions, before the functions of the parts.
pub(super) fn shared(out: &mut Lines, trim: &Trim) {
    for points in widths(trim) {
        out.text.push_str(&between(points));
    }
    for curve in &trim.options.curves {
        let key = curve_key(curve.of);
        out.table(&format!("{key}_curve"), curve.points.len(), &format!("{}_CURVE", upper(key)));
        let points = curve.points.len();
        if matches!(curve.of, CurveOf::Trigger(_)) {
            out.text.push_str(&BENT.replace("{key}", key).replace("{points}", &points.to_string()));
            continue;
        }
        let bent = BENT.to_owned() + BENT_AXIS;
        out.text.push_str(&bent.replace("{key}", key).replace("{points}", &points.to_string()));
    }
    let shapes: Vec<_> =
        trim.sticks.iter().filter_map(|s| Some((s.half.key(), shape(trim, s.half)?))).collect();
    if !shapes.is_empty() {
        out.text.push_str(ROOT);
    }
    if shapes.iter().any(|(_, s)| s.reach.is_some()) {
        out.text.push_str(REACH);
    }
    for (key, shape) in &shapes {
        if let Some(words) = &shape.reach {
            out.table(&format!("{key}_reach"), words.len(), &format!("{}_REACH", upper(key)));
        }
        if let Some(gains) = &shape.gains {
            out.table(
                &format!("{key}_gains"),
                gains.used().len(),
                &format!("{}_GAINS", upper(key)),
            );
        }
        let points = shape.gains.map(|g| g.used().len());
        out.text.push_str(&shaped(key, shape.reach.is_some(), points));
    }
    states(out, trim);
}

/// State and arithmetic of smoothing, guards and motors.
fn states(out: &mut Lines, trim: &Trim) {
    let o = &trim.options;
    if let Some(most) = o.smoothing.iter().map(|s| s.shift).max() {
        let bits = if trim.raw_bits + most <= 16 { "16" } else { "32" };
        out.text.push_str(&SMOOTH.replace("{bits}", bits));
    }
    if !o.guards.is_empty() {
        out.text.push_str(GUARD);
    }
    if !o.motors.is_empty() {
        out.text.push_str(MOTOR);
    }
}

/// One function an input and a motor.
pub(super) fn functions(out: &mut Lines, trim: &Trim) {
    trim.options.smoothing.iter().for_each(|s| smooth(out, s));
    trim.options.guards.iter().for_each(|g| guard(out, g));
    trim.options.motors.iter().for_each(|m| motor(out, m));
}

/// What of the plain arithmetic the optional parts need.
pub(super) fn needs(trim: &Trim) -> Shared {
    Shared {
        flash: !trim.options.curves.is_empty(),
        plain_zone: trim.sticks.iter().any(|s| shape(trim, s.half).is_none()),
    }
}

fn upper(key: &str) -> String {
    key.to_uppercase()
}

fn between(points: usize) -> String {
    let shift = if points == 33 { 10 } else { 9 };
    format!(
        "
/* the straight line between words of a table of {points} that never falls; place below 32767 */
static inline uint16_t tb_between{points}_(const uint16_t *table, uint16_t place)
{{
    uint32_t rise;
    uint16_t here;
    table += place >> {shift};
    here = TB_READ_(table);
    rise = TB_U16_(TB_READ_(table + 1) - here);
    rise *= TB_U16_(place << {});
    return TB_U16_(here + TB_U16_(rise >> 16));
}}
",
        16 - shift
    )
}

const BENT: &str = "
/* output of the curve for a push, both 0 to 32767 */
static inline uint16_t tb_{key}_bent_(uint16_t push)
{
    return push >= 32767u ? TB_U16_(32767u) : tb_between{points}_(tb_{key}_curve_, push);
}
";

const BENT_AXIS: &str = "
/* the curve for an axis by itself */
static inline int16_t tb_{key}_bent_axis_(int16_t push)
{
    return push < 0 ? TB_I16_(-TB_I16_(tb_{key}_bent_(TB_U16_(-push))))
                    : TB_I16_(tb_{key}_bent_(TB_U16_(push)));
}
";

const ROOT: &str = r"
/* 65535 * 2^15 / sqrt of a square lifted to 2^30 or more, given its upper half */
static inline uint16_t tb_root_(uint16_t top)
{
    const uint16_t *cell = tb_roots_ + TB_U8_(TB_U16_(top >> 9) - 32u);
    uint16_t here = TB_READ_(cell);
    uint16_t next = TB_READ_(cell + 1);
    next = TB_U16_(TB_U16_(here - next) * TB_U16_((top >> 3) & 63u));
    return TB_U16_(here - TB_U16_(next >> 6));
}
";

const REACH: &str = r"
/* factor * the slope at a direction; small = the smaller half, lifted like the root */
static inline uint16_t tb_reach_(uint16_t factor, uint16_t small, uint16_t root,
                                 const uint16_t *words)
{
    uint32_t product = small;
    uint16_t here, next;
    product *= root;
    product = TB_U16_(product >> 16);
    product *= 46341u;
    here = TB_U16_(product >> 16);
    small = here >= 0x4000u ? TB_U16_(65535u)
                            : TB_U16_(TB_U16_(here << 2) | TB_U16_(TB_U16_(product) >> 14));
    words += small >> 14;
    here = TB_READ_(words);
    next = TB_READ_(words + 1);
    small = TB_U16_((small >> 6) & 255u);
    if (next < here) {
        product = TB_U16_(here - next);
        product *= small;
        here = TB_U16_(here - TB_U16_(product >> 8));
    } else {
        product = TB_U16_(next - here);
        product *= small;
        here = TB_U16_(here + TB_U16_(product >> 8));
    }
    product = factor;
    product *= here;
    return TB_U16_(TB_U16_(TB_U16_(product >> 16) << 1) | TB_U16_(TB_U16_(product) >> 15));
}
";

/// The factor of a shaped zone times the gain of its curve.
fn bent(key: &str, points: usize) -> String {
    format!(
        "
    if (pairs != 0u) {{
        other = TB_U16_(top & 0xFFF8u);
        other *= root;
        other = TB_U16_(TB_U16_(other >> 16) >> (pairs - 1u));
        other *= factor;
        top = TB_U16_(other >> 16);
        if (top < 0x2000u) {{
            top = TB_U16_(TB_U16_(top << 2) | TB_U16_(TB_U16_(other) >> 14));
            if (top < 32767u) {{
                other = factor;
                other *= tb_between{points}_(tb_{key}_gains_, top);
                factor = TB_U16_(TB_U16_(TB_U16_(other >> 16) << 2)
                                 | TB_U16_(TB_U16_(other) >> 14));
            }}
        }}
    }}"
    )
}

/// The factor of one stick's shaped zone.
fn shaped(key: &str, reach: bool, points: Option<usize>) -> String {
    let name = upper(key);
    let reached = if reach {
        format!(
            "
    other = x < y ? x : y;
    sides = TB_U8_(sides | (x < y ? 4u : 0u));
    factor = tb_reach_(factor, TB_U16_(TB_U16_(other) << pairs), root,
                       tb_{key}_reach_ + TB_U8_(5u * sides));"
        )
    } else {
        "\n    (void)sides;".to_owned()
    };
    let bent = points.map_or(String::new(), |points| bent(key, points));
    format!(
        "
/* what both components of the {key} stick are multiplied by; 0 inside the zone */
static inline uint16_t tb_{key}_shape_(uint16_t x, uint16_t y, uint8_t sides)
{{
    uint32_t square = 0;
    uint32_t other = 0;
    uint16_t top, root, factor;
    uint8_t pairs = 0u;
    x = TB_U16_(x >> 1);
    y = TB_U16_(y >> 1);
    square = x;
    square *= x;
    other = y;
    other *= y;
    square += other;
    if (square <= TB_{name}_INNER_SQUARE) {{
        return 0;
    }}
    while (square < 0x400000UL) {{
        square <<= 8;
        pairs = TB_U8_(pairs + 4u);
    }}
    while (square < 0x40000000UL) {{
        square <<= 2;
        pairs = TB_U8_(pairs + 1u);
    }}
    top = TB_U16_(square >> 16);
    root = tb_root_(top);
    other = TB_{name}_PULL;
    other *= TB_U16_(root >> (TB_{name}_PAIRS - pairs));
    factor = TB_U16_(other >> 16);
    if (factor >= 0x8000u) {{
        return 0;
    }}
    factor = TB_U16_(TB_U16_(factor << 1) | TB_U16_(TB_U16_(other) >> 15));
    factor = factor < TB_{name}_SLOPE ? TB_U16_(TB_{name}_SLOPE - factor) : TB_U16_(0u);{reached}{bent}
    return factor;
}}
"
    )
}

const SMOOTH: &str = r"
/* state of one smoothed input; all zero = nothing seen */
typedef struct {
    uint{bits}_t sum;
    uint8_t begun;
} tb_smooth;

/* sum += raw - (sum >> shift): held still, it comes to the code itself */
static inline uint16_t tb_smooth_(tb_smooth *s, uint16_t raw, uint8_t shift)
{
    uint{bits}_t sum = s->sum;
    if (!s->begun) {
        s->begun = 1u;
        sum = TB_U{bits}_(TB_U{bits}_(raw) << shift);
    }
    sum = TB_U{bits}_(sum + raw - TB_U{bits}_(sum >> shift));
    s->sum = sum;
    return TB_U16_(sum >> shift);
}
";

const GUARD: &str = r"
/* state of one guarded input; all zero = nothing seen; fault = 1 while it counts as broken */
typedef struct {
    uint16_t since; /* ms */
    uint16_t last;
    uint8_t begun;
    uint8_t fault;
} tb_guard;

/* implausible codes give the last plausible one, after TB_GUARD_MS the rest level and a fault */
static inline uint16_t tb_guard_(tb_guard *g, uint16_t raw, uint16_t now_ms, uint16_t least,
                                 uint16_t most, uint16_t rest)
{
    uint8_t plausible = raw >= least && raw <= most ? 1u : 0u;
    if (!g->begun) {
        g->begun = 1u;
        g->last = rest;
        g->since = now_ms;
    }
    if (plausible != g->fault) {
        g->since = now_ms;
    } else if (TB_U16_(now_ms - g->since) >= TB_GUARD_MS) {
        g->fault = TB_U8_(g->fault ^ 1u);
        g->since = now_ms;
    }
    if (g->fault) {
        g->last = rest;
    } else if (plausible) {
        g->last = raw;
    }
    return g->last;
}
";

const MOTOR: &str = r"
/* state of one motor; all zero = at rest */
typedef struct {
    uint16_t strength;
    uint16_t asked_at; /* ms */
    uint16_t begun_at; /* ms */
    uint8_t running;
    uint8_t kicking;
} tb_motor;

/* duty of 255: a kick when it starts, off when nobody asks; call at least every 5 s */
static inline uint8_t tb_duty_(tb_motor *m, uint16_t now_ms, uint8_t floor, uint8_t most,
                               uint8_t kick_ms, uint16_t off_ms)
{
    uint32_t product;
    if (m->strength != 0u && TB_U16_(now_ms - m->asked_at) >= off_ms) {
        m->strength = 0u;
    }
    if (m->strength == 0u) {
        m->running = 0u;
        return 0u;
    }
    if (!m->running) {
        m->running = 1u;
        m->kicking = kick_ms != 0u ? 1u : 0u;
        m->begun_at = now_ms;
    }
    if (m->kicking) {
        if (TB_U16_(now_ms - m->begun_at) < kick_ms) {
            return most;
        }
        m->kicking = 0u;
    }
    product = m->strength;
    product *= TB_U16_(TB_U16_(most - floor) + 1u);
    return TB_U8_(floor + TB_U8_(product >> 16));
}
";

fn smooth(out: &mut Lines, s: &SmoothTrim) {
    let (key, name) = (s.axis.key(), upper(s.axis.key()));
    out.line(&format!(
        "
/* {}: smoothed code, to be handed on in place of the raw one; once a scan */
static inline uint16_t tb_{key}_smooth(tb_smooth *s, uint16_t raw)
{{
    return tb_smooth_(s, raw, TB_{name}_SHIFT);
}}",
        s.axis.words()
    ));
}

fn guard(out: &mut Lines, g: &GuardTrim) {
    let (key, name) = (g.axis.key(), upper(g.axis.key()));
    let rest = if g.axis.is_trigger() { "REST" } else { "CENTRE" };
    out.line(&format!(
        "
/* {}: plausible code, to be handed on in place of the raw one; g->fault = 1 while broken */
static inline uint16_t tb_{key}_guard(tb_guard *g, uint16_t raw, uint16_t now_ms)
{{
    return tb_guard_(g, raw, now_ms, TB_{name}_LEAST, TB_{name}_MOST, TB_{name}_{rest});
}}",
        g.axis.words()
    ));
}

fn motor(out: &mut Lines, m: &MotorTrim) {
    let n = m.index;
    let floor = if m.kick_ms == 0 { "START" } else { "STOP" };
    out.line(&format!(
        "
/* motor {n}: a strength is asked for, 0 = off, 65535 = all */
static inline void tb_m{n}_ask(tb_motor *m, uint16_t strength, uint16_t now_ms)
{{
    m->strength = strength;
    m->asked_at = now_ms;
}}

/* motor {n}: duty to set now, of 255 */
static inline uint8_t tb_m{n}_duty(tb_motor *m, uint16_t now_ms)
{{
    return tb_duty_(m, now_ms, TB_M{n}_{floor}, TB_M{n}_MOST, TB_M{n}_KICK_MS, TB_M{n}_OFF_MS);
}}"
    ));
}
