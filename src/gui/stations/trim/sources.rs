//! Every constant beside the reading it came from, and the way to that stretch of the session.
use egui::{Label, ScrollArea, Ui};

use crate::gui::actions::{Action, TraceVerb};
use crate::gui::look::Type;
use crate::gui::parts::figures::{Figure, figures_ui};
use crate::gui::parts::table;
use crate::measure::{Reading, Span, spaced};
use crate::trim::Trim;

/// A constant and where it came from.
pub(super) struct Constant {
    label: String,
    value: String,
    from: Option<Reading>,
    /// What the reading is, where the label does not say it.
    of: &'static str,
}

impl Constant {
    fn new(label: String, value: impl ToString, of: &'static str, from: Option<Reading>) -> Self {
        Constant { label, value: value.to_string(), from, of }
    }

    fn span(&self) -> Option<Span> {
        self.from.map(|r| r.span)
    }

    fn source(&self) -> String {
        let Some(r) = &self.from else { return "not from a reading of its own".to_owned() };
        let words = r.words();
        let value = format!("{}{}", words.value, spaced(r.unit));
        let interval = match words.interval.as_str() {
            "" => String::new(),
            interval => format!(" {interval}"),
        };
        format!("from {} {value}{interval}, n = {}", self.of, r.n)
    }
}

/// Every constant of a trim, part by part.
pub(super) fn constants(trim: &Trim) -> Vec<Constant> {
    let mut all = Vec::new();
    for a in &trim.axes {
        let name = |what: &str| format!("{} {what}", a.axis.words());
        let from = &a.from;
        all.push(Constant::new(name("centre"), a.centre, "rests", from.centre));
        all.push(Constant::new(name("low"), a.low, "low reach", from.low));
        all.push(Constant::new(name("high"), a.high, "high reach", from.high));
        all.push(Constant::new(name("dead"), a.dead, "releases", from.dead));
    }
    for s in &trim.sticks {
        let name = |what: &str| format!("{} stick {what}", s.half.key());
        let from = &s.from;
        all.push(Constant::new(name("inner"), s.inner, "releases", from.inner));
        all.push(Constant::new(name("outer"), s.outer, "reach", from.outer));
        if s.matrix.is_some() {
            all.push(Constant::new(name("2×2"), "used", "axes off 90°", from.orthogonality_deg));
        }
    }
    for t in &trim.triggers {
        let name = |what: &str| format!("{} {what}", t.half.trigger().words());
        let from = &t.from;
        all.push(Constant::new(name("rest"), t.rest, "rests", from.rest));
        all.push(Constant::new(name("full"), t.full, "pulls", from.full));
        all.push(Constant::new(name("dead"), t.dead, "scatter", from.rest_scatter));
        all.push(Constant::new(name("on"), t.on, "noise", from.noise_rms));
        all.push(Constant::new(name("off"), t.off, "noise", from.noise_rms));
    }
    for b in &trim.buttons {
        let called = if b.name.is_empty() { format!("b{}", b.index) } else { b.name.clone() };
        let from = &b.from;
        let (press, release) = (from.bounce_press_max_ms, from.bounce_release_max_ms);
        let ms = |ms: u8| format!("{ms}\u{a0}ms");
        let label = format!("{called} lock-out");
        all.push(Constant::new(label, ms(b.press_lockout_ms), "bounce", press));
        let label = format!("{called} release");
        all.push(Constant::new(label, ms(b.release_ms), "bounce", release));
    }
    all
}

/// The same as text, for the clipboard.
pub(super) fn as_text(trim: &Trim) -> String {
    let rows: Vec<Vec<String>> = constants(trim)
        .into_iter()
        .map(|c| vec![c.label.clone(), c.value.clone(), c.source()])
        .collect();
    table::as_text(&["constant", "value", "source"], &rows)
}

/// Draws them; one that was clicked leads to the stretch that its reading came from.
pub(super) fn constants_ui(ui: &mut Ui, trim: &Trim, actions: &mut Vec<Action>) {
    let words = "each beside its reading; choose one to see where in the session that came from";
    ui.add(Label::new(Type::Note.soft(ui, words)).wrap());
    ScrollArea::vertical().id_salt("sources").auto_shrink([false, false]).show(ui, |ui| {
        let constants = constants(trim);
        let rows: Vec<Figure> = constants
            .iter()
            .map(|c| {
                let hint = match c.from {
                    Some(_) => "Show where in the session this came from",
                    None => "Follows from the other constants of its part",
                };
                Figure::plain(&c.label, c.value.clone(), c.source()).hinted(hint)
            })
            .collect();
        for (response, constant) in figures_ui(ui, &rows).into_iter().zip(&constants) {
            if let (true, Some(span)) = (response.clicked(), constant.span()) {
                actions.push(Action::Trace(TraceVerb::Inspect(span)));
            }
        }
    });
}
