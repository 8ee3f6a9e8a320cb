//! The functions that firmware calls, one a part, and the comment that shows how.
use super::Lines;
use super::macros::trigger_key;
use crate::rig::ZoneForm;
use crate::trim::{AxisTrim, ButtonTrim, StickTrim, TriggerTrim, Trim};

/// How to call what the header holds, in at most ten lines; inside the title's comment.
pub(super) fn how_to(out: &mut Lines, trim: &Trim) {
    out.line(" * How to call it, once a scan, with codes as the converter gives them:");
    if let Some(s) = trim.sticks.first() {
        let [x, y] = s.half.stick().map(|a| a.key());
        out.line(" *   int16_t x, y;");
        out.line(&format!(" *   tb_{}_stick(raw_{x}, raw_{y}, &x, &y);", s.half.key()));
    }
    if let Some(a) = trim.axes.first() {
        let key = a.axis.key();
        out.line(&format!(" *   int16_t alone = tb_{key}(raw_{key});   one axis by itself"));
    }
    if let Some(t) = trim.triggers.first() {
        let key = trigger_key(t.half);
        out.line(&format!(" *   int16_t pull = tb_{key}(raw_{key});"));
        out.line(&format!(" *   pressed = tb_{key}_pressed(raw_{key}, pressed);"));
    }
    if let Some(b) = trim.buttons.first() {
        out.line(" *   static tb_button state;   level: 0 or 1 as the pin reads");
        out.line(&format!(" *   uint8_t down = tb_b{}(&state, level, now_ms);", b.index));
    }
    out.line(
        " * A sketch with thresholds of its own can use TB_..._CENTRE and the like by themselves.",
    );
}

/// One function a part.
pub(super) fn functions(out: &mut Lines, trim: &Trim) {
    trim.axes.iter().for_each(|a| axis(out, a));
    trim.sticks.iter().for_each(|s| stick(out, s));
    trim.triggers.iter().for_each(|t| trigger(out, t));
    trim.buttons.iter().for_each(|b| button(out, b));
    out.blank();
}

fn axis(out: &mut Lines, a: &AxisTrim) {
    let (key, name) = (a.axis.key(), a.axis.key().to_uppercase());
    out.line(&format!(
        "
/* {}: -32767 to 32767, axial zone */
static inline int16_t tb_{key}(uint16_t raw)
{{
    return tb_axial_(raw, TB_{name}_CENTRE, TB_{name}_DEAD,
                     TB_{name}_AXIAL_GAIN_NEG, TB_{name}_AXIAL_GAIN_POS, TB_{name}_FLIP);
}}",
        a.axis.words()
    ));
}

fn stick(out: &mut Lines, s: &StickTrim) {
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
    factor = tb_factor_(x, y, TB_{stick}_INNER_SQUARE, TB_{stick}_SLOPE, TB_{stick}_PULL,
                        TB_{stick}_PAIRS);
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

fn trigger(out: &mut Lines, t: &TriggerTrim) {
    let key = trigger_key(t.half);
    let name = key.to_uppercase();
    out.line(&format!(
        "
/* {}: 0 to 32767 */
static inline int16_t tb_{key}(uint16_t raw)
{{
    return tb_trigger_(raw, TB_{name}_REST, TB_{name}_DEAD, TB_{name}_GAIN, TB_{name}_FALLS);
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
