//! The functions that firmware calls, one a part, and the comment that shows how.
use super::extras::shape;
use super::macros::trigger_key;
use super::{Lines, extra_calls};
use crate::rig::ZoneForm;
use crate::trim::{AxisTrim, ButtonTrim, StickTrim, TriggerTrim, Trim};

/// How to call what the header holds, in at most ten lines; inside the title's comment.
pub(super) fn how_to(out: &mut Lines, trim: &Trim) {
    out.line(
        " * How to call it, once a scan, with codes as the converter gives them; states static:",
    );
    if let Some(g) = trim.options.guards.first() {
        let key = g.axis.key();
        out.line(&format!(
            " *   raw_{key} = tb_{key}_guard(&g, raw_{key}, now_ms);  first; tb_guard g; g.fault tells"
        ));
    }
    if let Some(s) = trim.options.smoothing.first() {
        let key = s.axis.key();
        out.line(&format!(" *   raw_{key} = tb_{key}_smooth(&s, raw_{key});  then; tb_smooth s"));
    }
    if let Some(s) = trim.sticks.first() {
        let [x, y] = s.half.stick().map(|a| a.key());
        let half = s.half.key();
        out.line(&format!(" *   tb_{half}_stick(raw_{x}, raw_{y}, &x, &y);  int16_t x, y"));
    }
    if let Some(a) = trim.axes.first() {
        let key = a.axis.key();
        out.line(&format!(" *   alone = tb_{key}(raw_{key});  one axis by itself"));
    }
    if let Some(t) = trim.triggers.first() {
        let key = trigger_key(t.half);
        out.line(&format!(
            " *   pull = tb_{key}(raw_{key}); pressed = tb_{key}_pressed(raw_{key}, pressed);"
        ));
    }
    if let Some(b) = trim.buttons.first() {
        let n = b.index;
        out.line(&format!(
            " *   down = tb_b{n}(&state, level, now_ms);  tb_button state; level 0 or 1 as the pin reads"
        ));
    }
    if let Some(m) = trim.options.motors.first() {
        let n = m.index;
        out.line(&format!(
            " *   tb_m{n}_ask(&m, strength, now_ms); duty = tb_m{n}_duty(&m, now_ms);  tb_motor m"
        ));
    }
    out.line(" * A sketch can adopt one axis at a time, or keep its own thresholds and take TB_..._CENTRE,");
    out.line(" * TB_..._ON and the like; whatever is not called costs nothing.");
}

/// How to use constants without the arithmetic; inside the title's comment.
pub(super) fn by_hand(out: &mut Lines) {
    out.line(" * They need nothing else and can replace numbers in a sketch one at a time, e.g.");
    out.line(" *   if (raw > TB_LX_CENTRE + TB_LX_DEAD) ...  or  pressed = raw >= TB_LT_ON (<= when FALLS)");
    out.line(" * Output of an axis by itself, counts = distance from CENTRE, product in 32 bits:");
    out.line(
        " *   counts <= DEAD ? 0 : min(32767, ((counts - DEAD) * AXIAL_GAIN) >> TB_FRAC_BITS)",
    );
    out.line(
        " * NEG below the centre, POS above, the sign last; the other way round when FLIP is 1.",
    );
}

/// One function a part.
pub(super) fn functions(out: &mut Lines, trim: &Trim) {
    trim.axes.iter().for_each(|a| axis(out, trim, a));
    trim.sticks.iter().for_each(|s| stick(out, trim, s));
    trim.triggers.iter().for_each(|t| trigger(out, trim, t));
    trim.buttons.iter().for_each(|b| button(out, b));
    extra_calls::functions(out, trim);
    out.blank();
}

fn axis(out: &mut Lines, trim: &Trim, a: &AxisTrim) {
    let (bent, end) = match trim.curve_of(a.axis) {
        Some(_) => (format!("tb_{}_bent_axis_(", a.axis.half().key()), ")"),
        None => (String::new(), ""),
    };
    let (key, name) = (a.axis.key(), a.axis.key().to_uppercase());
    out.line(&format!(
        "
/* {}: -32767 to 32767, axial zone */
static inline int16_t tb_{key}(uint16_t raw)
{{
    return {bent}tb_axial_(raw, TB_{name}_CENTRE, TB_{name}_DEAD,
                     TB_{name}_AXIAL_GAIN_NEG, TB_{name}_AXIAL_GAIN_POS, TB_{name}_FLIP){end};
}}",
        a.axis.words()
    ));
}

fn stick(out: &mut Lines, trim: &Trim, s: &StickTrim) {
    let (half, stick) = (s.half.key(), s.half.key().to_uppercase());
    let [x, y] = s.half.stick().map(|a| a.key().to_uppercase());
    let below = |raw: &str, axis: &str| format!("{raw} < TB_{axis}_CENTRE ? 1u : 0u");
    let magnitude = |raw: &str, axis: &str| {
        format!("tb_magnitude_({raw}, TB_{axis}_CENTRE, TB_{axis}_GAIN_NEG, TB_{axis}_GAIN_POS)")
    };
    let row = |to: &str, x_factor: &str, y_factor: &str| {
        let negative = |was: &str, factor: &str| format!("TB_U8_({was} ^ TB_{stick}_{factor}_NEG)");
        format!(
            "
    {to} = tb_row_(TB_{stick}_{x_factor}, {}, TB_{stick}_{y_factor}, {},
                x_plain, y_plain, &{to}_below);",
            negative("x_was", x_factor),
            negative("y_was", y_factor)
        )
    };
    let corrected = if s.matrix.is_some() {
        format!(
            "
    uint8_t x_was = x_below;
    uint8_t y_was = y_below;
    uint16_t x_plain = x;
    uint16_t y_plain = y;{}{}",
            row("x", "XX", "XY"),
            row("y", "YX", "YY")
        )
    } else {
        String::new()
    };
    let factor = if shape(trim, s.half).is_some() {
        format!("tb_{half}_shape_(x, y, TB_U8_(x_below | TB_U8_(y_below << 1)))")
    } else {
        format!(
            "tb_factor_(x, y, TB_{stick}_INNER_SQUARE, TB_{stick}_SLOPE, TB_{stick}_PULL,
                        TB_{stick}_PAIRS)"
        )
    };
    let [mx, my] = [magnitude("raw_x", &x), magnitude("raw_y", &y)];
    let [bx, by] = [below("raw_x", &x), below("raw_y", &y)];
    out.line(&format!(
        "
/* {half} stick: -32767 to 32767 each, radial zone */
static inline void tb_{half}_radial(uint16_t raw_x, uint16_t raw_y, int16_t *out_x, int16_t *out_y)
{{
    uint16_t x = {mx};
    uint16_t y = {my};
    uint8_t x_below = {bx};
    uint8_t y_below = {by};
    uint16_t factor;{corrected}
    factor = {factor};
    *out_x = tb_signed_(tb_component_(x, factor), TB_U8_(x_below ^ TB_{x}_FLIP));
    *out_y = tb_signed_(tb_component_(y, factor), TB_U8_(y_below ^ TB_{y}_FLIP));
}}"
    ));
    chosen(out, s);
}

/// The stick with the form of zone that the rig chose.
fn chosen(out: &mut Lines, s: &StickTrim) {
    let half = s.half.key();
    let (form, body) = match s.form {
        ZoneForm::Radial => {
            ("radial", format!("    tb_{half}_radial(raw_x, raw_y, out_x, out_y);"))
        }
        ZoneForm::Axial => {
            let [x, y] = s.half.stick().map(|a| a.key());
            ("axial", format!("    *out_x = tb_{x}(raw_x);\n    *out_y = tb_{y}(raw_y);"))
        }
    };
    out.line(&format!(
        "
/* {half} stick with the zone chosen for it: {form} */
static inline void tb_{half}_stick(uint16_t raw_x, uint16_t raw_y, int16_t *out_x, int16_t *out_y)
{{
{body}
}}"
    ));
}

fn trigger(out: &mut Lines, trim: &Trim, t: &TriggerTrim) {
    let key = trigger_key(t.half);
    let plain = |name: &str| {
        format!("tb_trigger_(raw, TB_{name}_REST, TB_{name}_DEAD, TB_{name}_GAIN, TB_{name}_FALLS)")
    };
    let output = if trim.curve_of(t.half.trigger()).is_some() {
        let plain = plain(&key.to_uppercase());
        format!("TB_I16_(tb_{key}_bent_(TB_U16_({plain})))")
    } else {
        plain(&key.to_uppercase())
    };
    let name = key.to_uppercase();
    out.line(&format!(
        "
/* {}: 0 to 32767 */
static inline int16_t tb_{key}(uint16_t raw)
{{
    return {output};
}}

/* {}: 1 while pressed; before = what it gave at the last scan */
static inline uint8_t tb_{key}_pressed(uint16_t raw, uint8_t before)
{{
    return tb_switch_(raw, TB_{name}_ON, TB_{name}_OFF, TB_{name}_FALLS, before);
}}",
        t.half.trigger().words(),
        t.half.trigger().words()
    ));
}

fn button(out: &mut Lines, b: &ButtonTrim) {
    let n = b.index;
    out.line(&format!(
        "
/* b{n}: 1 while pressed; level = 0 or 1 as the pin reads */
static inline uint8_t tb_b{n}(tb_button *state, uint8_t level, uint16_t now_ms)
{{
    uint8_t closed = TB_U8_((level ? 1u : 0u) ^ TB_B{n}_ACTIVE_LOW);
    return tb_debounce_(state, closed, now_ms, TB_B{n}_LOCKOUT_MS, TB_B{n}_RELEASE_MS);
}}"
    ));
}
