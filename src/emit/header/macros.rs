//! The constants as macros, part by part, with their compile-time checks.
use super::{Lines, extras, quote};
use crate::rig::{Half, ZoneForm};
use crate::trim::apply::Radial;
use crate::trim::{AxisTrim, ButtonTrim, FULL_OUTPUT, StickTrim, TriggerTrim, Trim};

/// All parts of the trim.
pub(super) fn parts(out: &mut Lines, trim: &Trim) {
    trim.axes.iter().for_each(|a| axis(out, a));
    trim.sticks.iter().for_each(|s| stick(out, trim, s));
    trim.triggers.iter().for_each(|t| trigger(out, t));
    if !trim.buttons.is_empty() {
        out.blank();
    }
    trim.buttons.iter().for_each(|b| button(out, b));
}

/// Machine key of a trigger: `lt`, `rt`.
pub(super) fn trigger_key(half: Half) -> &'static str {
    half.trigger().key()
}

fn u(value: impl Into<u32>) -> String {
    format!("{}u", value.into())
}

fn percent(part: u16, whole: u16) -> String {
    format!("{:.1} %", 100.0 * f64::from(part) / f64::from(whole.max(1)))
}

fn axis(out: &mut Lines, a: &AxisTrim) {
    let key = a.axis.key();
    let name = |what: &str| format!("TB_{}_{what}", key.to_uppercase());
    out.blank();
    out.line(&format!("/* {}: raw codes and counts */", a.axis.words()));
    out.define(&name("CENTRE"), u(a.centre), "code at rest");
    out.define(&name("LOW"), u(a.low), "code that every push downwards in codes passes");
    out.define(&name("HIGH"), u(a.high), "code that every push upwards in codes passes");
    let flip = "1 = a rising code gives a falling output";
    out.define(&name("FLIP"), u(u8::from(a.sign < 0)), flip);
    out.define(&name("GAIN_NEG"), u(a.gain_neg), "below the centre, for the radial zone");
    out.define(&name("GAIN_POS"), u(a.gain_pos), "above the centre, for the radial zone");
    let share = percent(a.dead, a.span_neg().min(a.span_pos()));
    let dead = format!("axial dead zone: counts to each side, {share} of the shorter travel");
    out.define(&name("DEAD"), u(a.dead), &dead);
    out.define(&name("AXIAL_GAIN_NEG"), u(a.axial_gain_neg), "below the axial dead zone");
    out.define(&name("AXIAL_GAIN_POS"), u(a.axial_gain_pos), "above the axial dead zone");
    let [low, centre, high, dead] = ["LOW", "CENTRE", "HIGH", "DEAD"].map(name);
    out.check(
        &format!("{key}_order"),
        &format!("1UL * {low} + {dead} < {centre} && 1UL * {centre} + {dead} < {high}"),
    );
    out.check(&format!("{key}_width"), &format!("{high} < (1UL << TB_RAW_BITS)"));
    if !out.macros_only {
        let [flip, neg, pos] = ["FLIP", "AXIAL_GAIN_NEG", "AXIAL_GAIN_POS"].map(name);
        out.line(&format!("#define {} {{{centre}, {dead}, {neg}, {pos}, {flip}}}", name("AXIS")));
    }
    for (side, span) in
        [("NEG", format!("{centre} - {low}")), ("POS", format!("{high} - {centre}"))]
    {
        let (gain, axial) = (name(&format!("GAIN_{side}")), name(&format!("AXIAL_GAIN_{side}")));
        let reaches = format!("(1UL * ({span}) * {gain} >> TB_FRAC_BITS) >= {FULL_OUTPUT}u");
        let axially =
            format!("(1UL * ({span} - {dead}) * {axial} >> TB_FRAC_BITS) >= {FULL_OUTPUT}u");
        out.check(&format!("{key}_reach_{}", side.to_lowercase()), &reaches);
        out.check(&format!("{key}_axial_{}", side.to_lowercase()), &axially);
    }
}

fn stick(out: &mut Lines, trim: &Trim, s: &StickTrim) {
    let key = s.half.key();
    let name = |what: &str| format!("TB_{}_{what}", key.to_uppercase());
    // `checked` has refused radii without a zone.
    let Ok(plain) = Radial::new(s.inner, s.outer) else { return };
    let shape = extras::shape(trim, s.half);
    let by_direction = shape.is_some_and(|s| s.reach.is_some());
    let zone = shape.map_or(plain, |s| s.zone);
    let form = match s.form {
        ZoneForm::Radial => "radial",
        ZoneForm::Axial => "axial",
    };
    out.blank();
    out.line(&format!("/* {key} stick, {form} zone: output units, 32767 = full */"));
    let inner = format!("radial dead zone, {} of the travel", percent(s.inner, FULL_OUTPUT));
    out.define(&name("INNER"), u(s.inner), &inner);
    let outer =
        format!("radius with full output, {} of the axes' reach", percent(s.outer, FULL_OUTPUT));
    out.define(&name("OUTER"), u(s.outer), &outer);
    let square = format!("{}UL", zone.inner_square);
    out.define(&name("INNER_SQUARE"), square, "in squared halves of output units");
    let slope = if by_direction { "1: REACH scales" } else { "32767/(OUTER - INNER)" };
    out.define(&name("SLOPE"), u(zone.slope), &format!("{slope}, 15 fraction bits"));
    out.define(&name("PULL"), u(zone.pull), "SLOPE times INNER, normalised");
    out.define(&name("PAIRS"), u(zone.pairs), "pairs of bits of that normalisation");
    if let Some(matrix) = s.matrix {
        let names = ["XX", "XY", "YX", "YY"];
        for (what, factor) in names.iter().zip(matrix.0.into_iter().flatten()) {
            out.define(&name(what), u(factor.unsigned_abs()), "correction, 14 fraction bits");
            let negative = u(u8::from(factor < 0));
            out.define(&name(&format!("{what}_NEG")), negative, "1 = that factor is negative");
        }
    }
    let [inner, outer, square, slope] = ["INNER", "OUTER", "INNER_SQUARE", "SLOPE"].map(name);
    out.check(&format!("{key}_zone"), &format!("{inner} < {outer} && {outer} <= {FULL_OUTPUT}u"));
    let squared = format!("{square} == 1UL * (({inner} + 1u) / 2u) * (({inner} + 1u) / 2u)");
    out.check(&format!("{key}_square"), &squared);
    let reaches = if by_direction {
        format!("{slope} == 32768u")
    } else {
        format!("1UL * ({outer} - {inner}) * {slope} >= ({FULL_OUTPUT}UL << 15)")
    };
    out.check(&format!("{key}_slope"), &reaches);
}

fn trigger(out: &mut Lines, t: &TriggerTrim) {
    let key = trigger_key(t.half);
    let name = |what: &str| format!("TB_{}_{what}", key.to_uppercase());
    out.blank();
    out.line(&format!("/* {}: raw codes and counts */", t.half.trigger().words()));
    out.define(&name("REST"), u(t.rest), "code when released");
    out.define(&name("FULL"), u(t.full), "code that every full pull passes");
    out.define(&name("FALLS"), u(u8::from(t.sign < 0)), "1 = a pull lowers the code");
    out.define(&name("DEAD"), u(t.dead), "travel that still gives 0, counts");
    out.define(&name("GAIN"), u(t.gain), "past the dead travel");
    out.define(&name("ON"), u(t.on), "code at which it counts as pressed");
    out.define(&name("OFF"), u(t.off), "code at which it counts as released");
    let [rest, full, dead, gain] = ["REST", "FULL", "DEAD", "GAIN"].map(name);
    let [on, off] = ["ON", "OFF"].map(name);
    let (near, far) = if t.sign < 0 { (&full, &rest) } else { (&rest, &full) };
    let span = format!("({far} - {near} - {dead})");
    out.check(&format!("{key}_order"), &format!("1UL * {near} + {dead} < {far}"));
    out.check(&format!("{key}_width"), &format!("{far} < (1UL << TB_RAW_BITS)"));
    let reaches = format!("(1UL * {span} * {gain} >> TB_FRAC_BITS) >= {FULL_OUTPUT}u");
    out.check(&format!("{key}_reach"), &reaches);
    let apart = if t.sign < 0 { format!("{on} < {off}") } else { format!("{off} < {on}") };
    out.check(&format!("{key}_switch"), &apart);
}

fn button(out: &mut Lines, b: &ButtonTrim) {
    let name = |what: &str| format!("TB_B{}_{what}", b.index);
    let place =
        if b.name.is_empty() { String::new() } else { format!(" ({})", quote::comment(&b.name)) };
    let lockout = format!("b{}{place}: after a press, ms", b.index);
    out.define(&name("LOCKOUT_MS"), u(b.press_lockout_ms), &lockout);
    out.define(&name("RELEASE_MS"), u(b.release_ms), "open for this long is a release, ms");
    out.define(&name("ACTIVE_LOW"), u(u8::from(b.active_low)), "1 = pressed reads 0");
}
