//! What stands out: one finding with its evidence, remedy and caution; notes folded to a line.
use egui::{Align2, Frame, Label, Margin, Role, Sense, Stroke, Ui, WidgetInfo, pos2, vec2};

use super::state_mark::State;
use crate::findings::{Finding, Severity};
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
///
/// What is at fault or needs a look is said in full. A note takes one line and unfolds on request,
/// or is unfolded from the start where there is `room` for it.
pub fn finding_ui(ui: &mut Ui, finding: &Finding, room: bool) -> bool {
    match finding.severity {
        Severity::Note => note_ui(ui, finding, room),
        Severity::Fault | Severity::Warning => {
            let p = Palette::of(ui);
            let frame = Frame::new()
                .fill(p.page)
                .stroke(Stroke::new(1.0, p.rule))
                .corner_radius(6)
                .inner_margin(Margin::symmetric(12, 10));
            let drawn = frame.show(ui, |ui| {
                ui.take_available_width();
                ui.spacing_mut().item_spacing.y = 4.0;
                ui.horizontal(|ui| {
                    let state = state_of(finding.severity);
                    let (rect, _) = ui.allocate_exact_size(vec2(20.0, 20.0), Sense::hover());
                    state.paint(ui.painter(), rect.center(), p);
                    let title = title(finding);
                    let label = ui.add(Label::new(Type::Chosen.text(ui, title.as_str())).wrap());
                    label.accessible_name(state.spoken(&title));
                });
                details_ui(ui, finding)
            });
            drawn.inner
        }
    }
}

/// Which findings are said in full from the start: what is no note, and as many notes from the first
/// on as the free height of `ui` holds, with `gap` between two of them and `below` left free.
pub fn unfolded(ui: &Ui, findings: &[&Finding], gap: f32, below: f32) -> Vec<bool> {
    let wide = (ui.available_width() - 40.0).max(80.0);
    let ink = Palette::of(ui).ink;
    let tall = |text: &str| {
        ui.painter().layout(text.to_owned(), Type::Note.font(), ink, wide).size().y + 4.0
    };
    let details = |f: &Finding| {
        let caution = f.caution.as_ref().map_or(0.0, |c| tall(&format!("Caution: {c}")));
        let more = if f.span.is_some() { 24.0 } else { 4.0 };
        tall(&f.evidence) + tall(&f.remedy) + caution + more
    };
    let is_note = |f: &Finding| f.severity == Severity::Note;
    let lines = findings.len() as f32 * (24.0 + gap);
    let others: f32 = findings.iter().filter(|f| !is_note(f)).map(|f| details(f) + 24.0).sum();
    let mut left = ui.available_height() - lines - others - below;
    let fits = |f: &&Finding| {
        if !is_note(f) {
            return true;
        }
        left -= details(f);
        left >= 0.0
    };
    findings.iter().map(fits).collect()
}

/// A note in one line; a click or the space bar unfolds it.
fn note_ui(ui: &mut Ui, finding: &Finding, room: bool) -> bool {
    let p = Palette::of(ui);
    let key = ui.scope_id().with("unfolded");
    let mut open = ui.data(|d| d.get_temp(key).unwrap_or(room));
    let (rect, response) = ui.allocate_exact_size(vec2(ui.available_width(), 24.0), Sense::click());
    let words = title(finding);
    response.widget_info(|| {
        let said = format!("{words}: {}", finding.evidence);
        WidgetInfo::selected(Role::Button, true, open, State::Note.spoken(&said))
    });
    let painter = ui.painter_at(rect);
    if response.hovered() || response.has_focus() {
        painter.rect_filled(rect, 4.0, p.faint);
    }
    if response.has_focus() {
        let frame = Stroke::new(2.0, p.accent);
        painter.rect_stroke(rect, 4.0, frame, egui::StrokeKind::Inside);
    }
    State::Note.paint(&painter, pos2(rect.left() + 10.0, rect.center().y), p);
    let at = pos2(rect.left() + 28.0, rect.center().y);
    painter.text(at, Align2::LEFT_CENTER, words.as_str(), Type::Note.font(), p.ink);
    let sign = if open { "\u{2212}" } else { "+" };
    let at = pos2(rect.right() - 8.0, rect.center().y);
    painter.text(at, Align2::RIGHT_CENTER, sign, Type::Label.font(), p.soft);
    if response.clicked() {
        open = !open;
        ui.data_mut(|d| d.insert_temp(key, open));
    }
    if !open {
        response.on_hover_text(finding.evidence.as_str());
        return false;
    }
    ui.indent("details", |ui| {
        ui.spacing_mut().item_spacing.y = 4.0;
        details_ui(ui, finding)
    })
    .inner
}

/// What it is and where, in words.
pub fn title(finding: &Finding) -> String {
    format!("{}, {}", finding.code.title(), finding.place)
}

/// Evidence, remedy and caution; true when the person wants to see where it came from.
fn details_ui(ui: &mut Ui, finding: &Finding) -> bool {
    ui.add(Label::new(Type::Note.text(ui, finding.evidence.as_str())).wrap());
    ui.add(Label::new(Type::Note.soft(ui, finding.remedy.as_str())).wrap());
    if let Some(caution) = &finding.caution {
        ui.add(Label::new(Type::Note.text(ui, format!("Caution: {caution}"))).wrap());
    }
    finding.span.is_some() && ui.link(Type::Note.text(ui, "Show me")).clicked()
}
