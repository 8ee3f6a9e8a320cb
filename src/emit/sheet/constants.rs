//! The constants as the firmware gets them, each with the reading it came from; the refusals.
use super::found::{State, beside, heading, to_do};
use super::table::{Column, Table, interval};
use super::{card, halves, long_card};
use crate::emit::markup::{Html, tag};
use crate::emit::meta::Report;
use crate::measure::{DASH, Reading, number};
use crate::rig::{AxisId, Half, ZoneForm};
use crate::trim::{
    AxisTrim, ButtonTrim, CurveOf, FULL_OUTPUT, MotorTrim, StickTrim, TriggerTrim, Trim,
};

/// The card of constants and, where there are any, the card of refusals.
pub fn write(report: &Report<'_>, out: &mut Html) {
    let trim = &report.solution.trim;
    if !trim.is_empty() {
        long_card(out, "Constants", constants(trim));
    }
    if !trim.refusals.is_empty() {
        let mut body = Html::EMPTY;
        for refusal in &trim.refusals {
            let text = heading(&refusal.what, refusal.code.key())
                .then(tag("p").line(&refusal.why))
                .then(to_do("To do", &refusal.advice));
            body.push(beside(State::Warning, text));
        }
        card(out, "Refused", body);
    }
}

fn constants(trim: &Trim) -> Html {
    let about = format!(
        "Raw width {} bits, {} fraction bits in every gain; axes and sticks give up to \
         ±{FULL_OUTPUT}, triggers 0 to {FULL_OUTPUT}; zones of sticks in output units, other levels \
         in raw counts. The same integers stand in the header.",
        trim.raw_bits, trim.frac_bits
    );
    let mut parts: Vec<Rows> = Half::ALL.iter().map(|&half| of_half(trim, half)).collect();
    for part in buttons_in_two(trim) {
        let mut rows = Rows::new();
        if let Some(first) = part.first() {
            let pressed = if first.active_low { "pressed reads 0" } else { "pressed reads 1" };
            rows.table.part(&format!("Buttons, {pressed}: lock-out / release, ms"));
        }
        for button in part {
            rows.button(button);
        }
        parts.push(rows);
    }
    let motors = &trim.options.motors;
    if !motors.is_empty() {
        let mut rows = Rows::new();
        rows.table.part("Motors: start / stop / most");
        motors.iter().for_each(|m| rows.motor(m));
        parts.push(rows);
    }
    let parts = parts.into_iter().map(|rows| tag("div").line(rows.finish()));
    tag("p").class("small soft").line(about).then(halves(parts))
}

fn of_half(trim: &Trim, half: Half) -> Rows {
    let mut rows = Rows::new();
    if let Some(stick) = trim.stick(half) {
        rows.stick(trim, stick);
    }
    for axis in half.stick().iter().filter_map(|&axis| trim.axis(axis)) {
        rows.axis(axis);
        rows.input(trim, axis.axis);
    }
    if let Some(trigger) = trim.trigger(half) {
        rows.trigger(trigger);
        rows.bent(trim, CurveOf::Trigger(half));
        rows.input(trim, half.trigger());
    }
    rows
}

/// The buttons in two runs of nearly equal length.
fn buttons_in_two(trim: &Trim) -> [&[ButtonTrim]; 2] {
    let (left, right) = trim.buttons.split_at(trim.buttons.len().div_ceil(2));
    [left, right]
}

struct Rows {
    table: Table,
    rows: usize,
}

impl Rows {
    fn new() -> Rows {
        let heads = [
            (Column::Name, ""),
            (Column::Value, "constant"),
            (Column::Words, "from, 95 % interval"),
            (Column::Note, "n"),
        ];
        Rows { table: Table::new("", &heads), rows: 0 }
    }

    /// The table; nothing when no row came.
    fn finish(self) -> Html {
        if self.rows == 0 { Html::EMPTY } else { self.table.finish() }
    }

    /// A constant that a reading gave.
    fn read(&mut self, label: &str, constant: &str, from: &str, reading: Option<&Reading>) {
        let (words, n) = match reading {
            Some(r) => {
                let interval = interval(r);
                let interval =
                    if interval == DASH { String::new() } else { format!(" ({interval})") };
                let text = r.value_text();
                let shown = text.trim_end_matches("\u{a0}counts");
                (format!("{from} {shown}{interval}"), r.n.to_string())
            }
            None => (from.to_owned(), String::new()),
        };
        self.row(label, constant, words, n);
    }

    /// A constant computed from others.
    fn computed(&mut self, label: &str, constant: &str, from: &str) {
        self.row(label, constant, from.to_owned(), String::new());
    }

    fn row(&mut self, label: &str, constant: &str, from: String, n: String) {
        self.rows += 1;
        self.table.row([
            Column::given(label),
            Column::Value.of(constant),
            Column::Words.of(from),
            Column::Note.of(n),
        ]);
    }

    fn stick(&mut self, trim: &Trim, s: &StickTrim) {
        let form = match s.form {
            ZoneForm::Radial => "radial zone in use",
            ZoneForm::Axial => "axial zones in use",
        };
        self.table.part(&format!("{} stick, {form}", title(s.half)));
        self.bent(trim, CurveOf::Stick(s.half));
        if trim.options.reach(s.half).is_some() {
            self.computed("reach", "by direction", "the gate, 32 directions");
        }
        let inner = s.from.inner.as_ref();
        self.read("inner zone", &s.inner.to_string(), "releases", inner);
        let outer = s.from.outer.as_ref();
        self.read("outer zone", &s.outer.to_string(), "smallest reach", outer);
        if let Some(matrix) = s.matrix {
            let [[a, b], [c, d]] = matrix.0;
            self.computed("2×2 correction", &format!("{a} {b}; {c} {d}"), "accepted, 2⁻¹⁴ units");
        }
    }

    fn axis(&mut self, a: &AxisTrim) {
        self.table.part(&first_large(a.axis.words()));
        let from = &a.from;
        self.read("centre", &a.centre.to_string(), "releases", from.centre.as_ref());
        self.read("low end", &a.low.to_string(), "reach", from.low.as_ref());
        self.read("high end", &a.high.to_string(), "reach", from.high.as_ref());
        let dead = from.dead.as_ref();
        self.read("axial dead zone", &a.dead.to_string(), "releases", dead);
        let travel = |span: u16| format!("travel {span} counts, rounded up");
        self.computed("gain below", &a.gain_neg.to_string(), &travel(a.span_neg()));
        self.computed("gain above", &a.gain_pos.to_string(), &travel(a.span_pos()));
        let beyond = |span: u16| format!("travel {} counts", span.saturating_sub(a.dead));
        let [below, above] = [a.axial_gain_neg, a.axial_gain_pos].map(|gain| gain.to_string());
        self.computed("axial gain below", &below, &beyond(a.span_neg()));
        self.computed("axial gain above", &above, &beyond(a.span_pos()));
        if a.sign < 0 {
            self.computed("sign", "−1", "output falls with the code");
        }
    }

    fn trigger(&mut self, t: &TriggerTrim) {
        self.table.part(&first_large(t.half.trigger().words()));
        let from = &t.from;
        self.read("released", &t.rest.to_string(), "releases", from.rest.as_ref());
        self.read("full", &t.full.to_string(), "pulls", from.full.as_ref());
        let scatter = from.rest_scatter.as_ref();
        self.read("dead zone", &t.dead.to_string(), "scatter when released", scatter);
        let noise = from.noise_rms.as_ref();
        self.read("on / off", &format!("{} / {}", t.on, t.off), "noise", noise);
        let span = format!("travel {} counts beyond the zone", t.span().saturating_sub(t.dead));
        self.computed("gain", &t.gain.to_string(), &span);
        if t.sign < 0 {
            self.computed("sign", "−1", "rests high");
        }
    }

    /// The curve of a part, by its output at half of the push.
    fn bent(&mut self, trim: &Trim, of: CurveOf) {
        let Some(curve) = trim.options.curve(of) else { return };
        let half = curve.points.get(curve.points.len() / 2).copied().unwrap_or(0);
        let share = 100.0 * f64::from(half) / f64::from(FULL_OUTPUT);
        let points = format!("{} points", curve.points.len());
        self.computed("curve", &format!("{share:.0} % at half"), &points);
    }

    /// Smoothing and plausible codes of an input.
    fn input(&mut self, trim: &Trim, axis: AxisId) {
        let o = &trim.options;
        if let Some(s) = o.smoothing.iter().find(|s| s.axis == axis) {
            let ms = f64::from(s.time_constant_us) / 1000.0;
            let from = format!("{ms:.1} ms at {} Hz", o.scan_rate_hz);
            self.computed("smoothing shift", &s.shift.to_string(), &from);
        }
        if let Some(g) = o.guards.iter().find(|g| g.axis == axis) {
            let from = format!("else a fault after {} ms", o.guard_ms);
            self.computed("plausible codes", &format!("{} to {}", g.least, g.most), &from);
        }
    }

    fn motor(&mut self, m: &MotorTrim) {
        let duties = format!("{} / {} / {}", m.start, m.stop, m.most);
        let from = format!("of 255, from the rig; kick {} ms", m.kick_ms);
        self.computed(&format!("motor {}", m.index), &duties, &from);
    }

    fn button(&mut self, b: &ButtonTrim) {
        let name = if b.name.is_empty() {
            format!("b{}", b.index)
        } else {
            format!("b{} {}", b.index, b.name)
        };
        let both = format!("{} / {}", b.press_lockout_ms, b.release_ms);
        let words =
            [("press", &b.from.bounce_press_max_ms), ("release", &b.from.bounce_release_max_ms)]
                .into_iter()
                .filter_map(|(edge, r)| Some(format!("{edge} ≤ {}", number(r.as_ref()?.value, 0))))
                .collect::<Vec<_>>()
                .join(", ");
        let n = b.from.bounce_press_max_ms.map_or(String::new(), |r| r.n.to_string());
        self.row(&name, &both, words, n);
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
