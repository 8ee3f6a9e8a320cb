//! What stands out: one finding with its evidence, remedy and caution.
use egui::{Frame, Label, Margin, Sense, Stroke, Ui, vec2};

use super::state_mark::State;
use crate::findings::{self, Finding, Severity};
use crate::gui::look::{Palette, Type};

/// The mark of a severity.
pub fn state_of(severity: Severity) -> State {
    match severity {
        Severity::Fault => State::Fault,
        Severity::Warning => State::Warning,
        Severity::Note => State::Note,
    }
}

/// Draws one finding; gives true when the person wants to see where it came from.
pub fn finding_ui(ui: &mut Ui, finding: &Finding) -> bool {
    let p = Palette::of(ui);
    let state = state_of(finding.severity);
    let mut show = false;
    let frame = Frame::new()
        .fill(p.page)
        .stroke(Stroke::new(1.0, p.rule))
        .corner_radius(6)
        .inner_margin(Margin::symmetric(12, 10));
    frame.show(ui, |ui| {
        ui.take_available_width();
        ui.spacing_mut().item_spacing.y = 4.0;
        ui.horizontal(|ui| {
            let (rect, _) = ui.allocate_exact_size(vec2(20.0, 20.0), Sense::hover());
            state.paint(ui.painter(), rect.center(), p);
            let title =
                format!("{}, {}", findings::title(&finding.code), place_words(&finding.place));
            let label = ui.add(Label::new(Type::Chosen.text(ui, title.as_str())).wrap());
            label.accessible_name(state.spoken(&title));
        });
        ui.add(Label::new(Type::Note.text(ui, finding.evidence.as_str())).wrap());
        ui.add(Label::new(Type::Note.soft(ui, finding.remedy.as_str())).wrap());
        if let Some(caution) = &finding.caution {
            ui.add(Label::new(Type::Note.text(ui, format!("Caution: {caution}"))).wrap());
        }
        show = finding.span.is_some() && ui.link(Type::Note.text(ui, "Show me")).clicked();
    });
    show
}

/// A machine place in words: "left x", "right stick", "button b3", "stream".
pub fn place_words(place: &str) -> String {
    use crate::rig::AxisId;
    if let Some(axis) = AxisId::ALL.iter().find(|a| a.key() == place) {
        return axis.words().to_owned();
    }
    match place {
        "left" | "right" => format!("{place} half"),
        b if b.len() > 1 && b.starts_with('b') && b[1..].bytes().all(|c| c.is_ascii_digit()) => {
            format!("button {b}")
        }
        other => other.to_owned(),
    }
}

#[cfg(test)]
mod tests {
    use super::place_words;

    #[test]
    fn places_are_said_in_words() {
        assert_eq!(place_words("lx"), "left x");
        assert_eq!(place_words("rt"), "right trigger");
        assert_eq!(place_words("b3"), "button b3");
        assert_eq!(place_words("left"), "left half");
        assert_eq!(place_words("stream"), "stream");
    }
}
