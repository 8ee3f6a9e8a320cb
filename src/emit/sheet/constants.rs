//! The constants as the firmware gets them, each with the reading it came from; the refusals.
use super::card;
use super::table::{Column, Table, interval, value};
use crate::emit::escape::html;
use crate::emit::meta::Report;
use crate::measure::Reading;
use crate::rig::{Half, ZoneForm};
use crate::trim::{AxisTrim, ButtonTrim, FULL_OUTPUT, StickTrim, TriggerTrim, Trim};

/// The card of constants and, where there are any, the card of refusals.
pub fn write(report: &Report<'_>, out: &mut String) {
    let trim = &report.solution.trim;
    if !trim.is_empty() {
        card(out, "Constants", &constants(trim));
    }
    if !trim.refusals.is_empty() {
        let mut body = String::new();
        for refusal in &trim.refusals {
            body.push_str(&format!(
                "<div class=\"found\">{}<div>\n<p><strong>{}</strong> \
                 <span class=\"soft\">{}</span></p>\n<p>{}</p>\n<p class=\"soft\">To do: {}</p>\n\
                 </div></div>\n",
                super::found::state("warning"),
                html(&refusal.what),
                html(&refusal.code),
                html(&refusal.why),
                html(&refusal.advice),
            ));
        }
        card(out, "Refused", &body);
    }
}

fn constants(trim: &Trim) -> String {
    let heads = [
        (Column::Label, ""),
        (Column::Value, "constant"),
        (Column::Words, "from"),
        (Column::Value, "reading"),
        (Column::Note, "95 % interval"),
        (Column::Note, "n"),
    ];
    let caption = format!(
        "Raw width {} bits, {} fraction bits in every gain; axes and sticks give up to \
         ±{FULL_OUTPUT}, triggers 0 to {FULL_OUTPUT}. The same integers stand in the header",
        trim.raw_bits, trim.frac_bits
    );
    let mut rows = Rows(Table::new(&caption, &heads));
    for stick in &trim.sticks {
        rows.stick(stick);
    }
    for axis in &trim.axes {
        rows.axis(axis);
    }
    for trigger in &trim.triggers {
        rows.trigger(trigger);
    }
    if !trim.buttons.is_empty() {
        rows.0.part("Buttons");
        for button in &trim.buttons {
            rows.button(button);
        }
    }
    rows.0.finish()
}

struct Rows(Table);

impl Rows {
    /// A constant that a reading gave.
    fn read(&mut self, label: &str, constant: &str, from: &str, reading: Option<&Reading>) {
        let dash = || "–".to_owned();
        self.0.row(&[
            (Column::Label, html(label)),
            (Column::Value, html(constant)),
            (Column::Words, html(from)),
            (Column::Value, reading.map_or_else(dash, value)),
            (Column::Note, reading.map_or_else(dash, interval)),
            (Column::Note, reading.map_or_else(dash, |r| r.n.to_string())),
        ]);
    }

    /// A constant computed from others.
    fn computed(&mut self, label: &str, constant: &str, from: &str) {
        let none = String::new;
        self.0.row(&[
            (Column::Label, html(label)),
            (Column::Value, html(constant)),
            (Column::Words, html(from)),
            (Column::Value, none()),
            (Column::Note, none()),
            (Column::Note, none()),
        ]);
    }

    fn stick(&mut self, s: &StickTrim) {
        let form = match s.form {
            ZoneForm::Radial => "radial zone in use",
            ZoneForm::Axial => "axial zones in use",
        };
        self.0.part(&format!("{} stick, {form}", title(s.half)));
        let inner = s.from.inner.as_ref();
        self.read("inner zone", &s.inner.to_string(), "releases, output units", inner);
        let outer = s.from.outer.as_ref();
        self.read("outer zone", &s.outer.to_string(), "smallest reach, output units", outer);
        if let Some(matrix) = s.matrix {
            let [[a, b], [c, d]] = matrix.0;
            self.computed("2×2 correction", &format!("{a} {b}; {c} {d}"), "accepted, 2⁻¹⁴ units");
        }
    }

    fn axis(&mut self, a: &AxisTrim) {
        self.0.part(&first_large(a.axis.words()));
        let from = &a.from;
        self.read("centre", &a.centre.to_string(), "releases", from.centre.as_ref());
        self.read("low end", &a.low.to_string(), "reach of every turn", from.low.as_ref());
        self.read("high end", &a.high.to_string(), "reach of every turn", from.high.as_ref());
        let dead = from.dead.as_ref();
        self.read("axial dead zone", &a.dead.to_string(), "releases of this axis", dead);
        let words = |span: u16| format!("travel {span} counts, rounded up");
        let gains = format!("{} / {}", a.gain_neg, a.gain_pos);
        let spans = format!("travel {} / {} counts, rounded up", a.span_neg(), a.span_pos());
        self.computed("gain below / above", &gains, &spans);
        let axial = format!("{} / {}", a.axial_gain_neg, a.axial_gain_pos);
        let left = |span: u16| span.saturating_sub(a.dead);
        let spans = format!("{} / {} counts", left(a.span_neg()), left(a.span_pos()));
        self.computed("axial gain below / above", &axial, &format!("beyond the zone, {spans}"));
        if a.sign < 0 {
            self.computed("sign", "−1", &words(a.span_pos()).replace("rounded up", "inverted"));
        }
    }

    fn trigger(&mut self, t: &TriggerTrim) {
        self.0.part(&first_large(t.half.trigger().words()));
        let from = &t.from;
        self.read("released", &t.rest.to_string(), "released levels", from.rest.as_ref());
        self.read("full", &t.full.to_string(), "level of every pull", from.full.as_ref());
        let scatter = from.rest_scatter.as_ref();
        self.read("dead zone", &t.dead.to_string(), "scatter when released", scatter);
        let noise = from.noise_rms.as_ref();
        self.read("on / off", &format!("{} / {}", t.on, t.off), "scatter and noise", noise);
        let span = format!("travel {} counts beyond the zone", t.span().saturating_sub(t.dead));
        self.computed("gain", &t.gain.to_string(), &span);
        if t.sign < 0 {
            self.computed("sign", "−1", "rests high");
        }
    }

    fn button(&mut self, b: &ButtonTrim) {
        let name = if b.name.is_empty() {
            format!("b{}", b.index)
        } else {
            format!("b{} {}", b.index, b.name)
        };
        let pressed = if b.active_low { "pressed reads 0" } else { "pressed reads 1" };
        let from = &b.from;
        let press = from.bounce_press_max_ms.as_ref();
        let lockout = format!("{}\u{a0}ms", b.press_lockout_ms);
        self.read(&format!("{name}: lock-out"), &lockout, pressed, press);
        let release = from.bounce_release_max_ms.as_ref();
        let window = format!("{}\u{a0}ms", b.release_ms);
        self.read(&format!("{name}: release"), &window, "largest bounce and margin", release);
    }
}

fn title(half: Half) -> &'static str {
    match half {
        Half::Left => "Left",
        Half::Right => "Right",
    }
}

fn first_large(text: &str) -> String {
    let mut chars = text.chars();
    chars.next().map_or(String::new(), |c| format!("{}{}", c.to_uppercase(), chars.as_str()))
}
