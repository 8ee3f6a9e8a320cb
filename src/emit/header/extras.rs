//! Optional constants as macros: curves, reach by direction, smoothing, guards, motors.
use super::{Lines, quote};
use crate::trim::apply::{Shape, Stick};
use crate::trim::{CurveOf, FULL_OUTPUT, GuardTrim, MotorTrim, SmoothTrim, Trim};

/// Machine key of what a curve bends: `left`, `rt`.
pub(super) fn curve_key(of: CurveOf) -> &'static str {
    match of {
        CurveOf::Stick(half) => half.key(),
        CurveOf::Trigger(half) => half.trigger().key(),
    }
}

/// The shaped zone of a stick, where it has one.
pub(super) fn shape(trim: &Trim, half: crate::rig::Half) -> Option<Shape> {
    // `checked` has refused shapes that do not fit.
    Stick::shape(trim, half).ok().flatten()
}

/// All optional parts of the trim.
pub(super) fn parts(out: &mut Lines, trim: &Trim) {
    let o = &trim.options;
    if o.scan_rate_hz > 0 {
        out.blank();
        out.define("TB_SCAN_RATE_HZ", u(o.scan_rate_hz), "scans a second that smoothing counts on");
    }
    for curve in &o.curves {
        let name = curve_key(curve.of).to_uppercase();
        out.blank();
        let points = curve.points.len();
        out.define(&format!("TB_{name}_CURVE_POINTS"), u(points as u32), "evenly spaced");
        let what = format!("{} curve: output at each point", curve_key(curve.of));
        out.list(&format!("TB_{name}_CURVE"), &curve.points, &what);
    }
    for s in &trim.sticks {
        let Some(shape) = shape(trim, s.half) else { continue };
        let (key, name) = (s.half.key(), s.half.key().to_uppercase());
        out.blank();
        if let Some(gains) = &shape.gains {
            let what = format!("{key} stick: output over radius at each point, 14 fraction bits");
            out.list(&format!("TB_{name}_GAINS"), gains.used(), &what);
        }
        if let Some(words) = &shape.reach {
            let what = format!(
                "{key} stick: {FULL_OUTPUT}/(reach - INNER), 15 fraction bits, axis to diagonal;\n   \
                 row = 1 when x is below + 2 when y is below + 4 when y is the larger"
            );
            out.list(&format!("TB_{name}_REACH"), words, &what);
        }
    }
    if !(o.smoothing.is_empty() && o.guards.is_empty() && o.motors.is_empty()) {
        out.blank();
    }
    o.smoothing.iter().for_each(|s| smooth(out, s));
    if !o.guards.is_empty() {
        out.define("TB_GUARD_MS", u(o.guard_ms), "implausible for this long is a fault, ms");
    }
    o.guards.iter().for_each(|g| guard(out, trim, g));
    o.motors.iter().for_each(|m| motor(out, m));
}

fn u(value: impl Into<u32>) -> String {
    format!("{}u", value.into())
}

fn smooth(out: &mut Lines, s: &SmoothTrim) {
    let ms = f64::from(s.time_constant_us) / 1000.0;
    let what = format!("{}: for a time constant of {ms:.1} ms", s.axis.words());
    out.define(&format!("TB_{}_SHIFT", s.axis.key().to_uppercase()), u(s.shift), &what);
}

fn guard(out: &mut Lines, trim: &Trim, g: &GuardTrim) {
    let name = |what: &str| format!("TB_{}_{what}", g.axis.key().to_uppercase());
    let side = |open: bool, what: &str| {
        let words = g.axis.words();
        if open { format!("{words}: that side cannot be told") } else { format!("{words}: {what}") }
    };
    let [least, most] = ["LEAST", "MOST"].map(name);
    out.define(&least, u(g.least), &side(g.least == 0, "least plausible code"));
    let open = g.most == trim.full_scale();
    out.define(&most, u(g.most), &side(open, "greatest plausible code"));
    let [low, high] = if g.axis.is_trigger() {
        let falls = trim.trigger(g.axis.half()).is_some_and(|t| t.sign < 0);
        if falls { ["FULL", "REST"] } else { ["REST", "FULL"] }
    } else {
        ["LOW", "HIGH"]
    }
    .map(name);
    let holds = format!("{least} <= {low} && {high} <= {most}");
    out.check(&format!("{}_guard", g.axis.key()), &holds);
}

fn motor(out: &mut Lines, m: &MotorTrim) {
    let name = |what: &str| format!("TB_M{}_{what}", m.index);
    let words = |what: &str| quote::comment(&format!("motor {}: {what}", m.index));
    out.define(&name("START"), u(m.start), &words("least duty that starts it, of 255"));
    out.define(&name("STOP"), u(m.stop), &words("least duty that keeps it turning"));
    out.define(&name("MOST"), u(m.most), &words("greatest duty that its voltage allows"));
    out.define(&name("KICK_MS"), u(m.kick_ms), &words("greatest duty when it starts, ms"));
    out.define(&name("OFF_MS"), u(m.off_ms), &words("off when nothing is asked for so long, ms"));
    let [start, stop, most] = ["START", "STOP", "MOST"].map(name);
    let rise = format!("0u < {stop} && {stop} <= {start} && {start} <= {most} && {most} <= 255u");
    out.check(&format!("m{}_duties", m.index), &rise);
}
