//! The rail: stations in the order of the work, each with its state; the guided run's progress below.
use egui::{Align2, CornerRadius, Rect, Role, Sense, Ui, WidgetInfo, pos2, vec2};

use super::state_mark::State;
use crate::gui::look::{Palette, Type};

/// One entry of the rail.
#[derive(Clone, Debug)]
pub struct RailEntry<'a> {
    /// The station's title.
    pub title: &'a str,
    /// Its state.
    pub state: State,
    /// The key that opens it.
    pub key: &'a str,
    /// What to do first, when it has nothing to show yet.
    pub missing: Option<&'a str>,
}

/// Progress of the guided run.
#[derive(Clone, Copy, Debug)]
pub struct RunProgress {
    /// The step in work, counted from one.
    pub step: usize,
    /// Number of steps.
    pub steps: usize,
}

/// Draws the rail; gives the entry that was clicked.
pub fn rail_ui(
    ui: &mut Ui,
    entries: &[RailEntry<'_>],
    chosen: usize,
    run: Option<RunProgress>,
) -> Option<usize> {
    let mut clicked = None;
    // On a low screen the entries move together before any leaves it.
    let run_room = if run.is_some() { 80.0 } else { 0.0 };
    let room = ui.available_height() - 12.0 - run_room;
    let pitch = (room / entries.len().max(1) as f32).clamp(24.0, 46.0);
    let gap = (pitch - 24.0).min(8.0);
    ui.spacing_mut().item_spacing.y = gap;
    ui.add_space(12.0 - gap);
    for (k, entry) in entries.iter().enumerate() {
        if entry_ui(ui, entry, pitch - gap, k == chosen) {
            clicked = Some(k);
        }
    }
    if let Some(run) = run {
        ui.add_space((room + run_room - pitch * entries.len() as f32 - 60.0).clamp(0.0, 20.0));
        run_ui(ui, run);
    }
    clicked
}

fn entry_ui(ui: &mut Ui, entry: &RailEntry<'_>, height: f32, chosen: bool) -> bool {
    let p = Palette::of(ui);
    let (rect, response) =
        ui.allocate_exact_size(vec2(ui.available_width(), height), Sense::click());
    response.widget_info(|| {
        WidgetInfo::selected(Role::Button, true, chosen, entry.state.spoken(entry.title))
    });
    let painter = ui.painter();
    let row = Rect::from_min_max(rect.min + vec2(8.0, 0.0), rect.max - vec2(8.0, 0.0));
    if chosen {
        painter.rect_filled(row, CornerRadius { nw: 0, sw: 0, ne: 6, se: 6 }, p.faint);
        let bar = Rect::from_min_max(row.min, pos2(row.left() + 4.0, row.bottom()));
        painter.rect_filled(bar, 0.0, p.accent);
    } else if response.hovered() {
        painter.rect_filled(row, 6.0, p.page);
    }
    if response.has_focus() {
        let stroke = egui::Stroke::new(2.0, p.accent);
        painter.rect_stroke(row, 6.0, stroke, egui::StrokeKind::Inside);
    }
    entry.state.paint(painter, pos2(row.left() + 26.0, row.center().y), p);
    let (font, ink) = match (chosen, entry.missing.is_some()) {
        (true, _) => (Type::Chosen, p.ink),
        (false, false) => (Type::Label, p.ink),
        (false, true) => (Type::Label, p.soft),
    };
    let at = pos2(row.left() + 48.0, row.center().y);
    painter.text(at, Align2::LEFT_CENTER, entry.title, font.font(), ink);
    let key_at = pos2(row.right() - 10.0, row.center().y);
    painter.text(key_at, Align2::RIGHT_CENTER, entry.key, Type::Note.font(), p.soft);
    let clicked = response.clicked();
    if let Some(missing) = entry.missing {
        response.on_hover_text(missing);
    }
    clicked
}

fn run_ui(ui: &mut Ui, run: RunProgress) {
    let p = Palette::of(ui);
    let (rect, response) = ui.allocate_exact_size(vec2(ui.available_width(), 60.0), Sense::hover());
    let words = format!("step {} of {}", run.step, run.steps);
    response.widget_info(|| {
        WidgetInfo::labeled(Role::ProgressIndicator, true, format!("Guided run, {words}"))
    });
    let painter = ui.painter();
    let at = pos2(rect.left() + 20.0, rect.top() + 8.0);
    painter.text(at, Align2::LEFT_CENTER, "Guided run", Type::Note.font(), p.soft);
    let track = Rect::from_min_max(
        pos2(rect.left() + 16.0, rect.top() + 24.0),
        pos2(rect.right() - 16.0, rect.top() + 32.0),
    );
    painter.rect_filled(track, 4.0, p.faint);
    let share = run.step.saturating_sub(1) as f32 / run.steps.max(1) as f32;
    if share > 0.0 {
        let mut done = track;
        done.set_width(track.width() * share.min(1.0));
        painter.rect_filled(done, 4.0, p.accent);
    }
    let at = pos2(rect.left() + 20.0, rect.top() + 48.0);
    painter.text(at, Align2::LEFT_CENTER, words, Type::Note.font(), p.soft);
}
