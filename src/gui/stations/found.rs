//! The column of what stands out, for the parts that a station is about.
use crate::survey::Page;
use egui::{Rect, ScrollArea, Ui};

use super::View;
use crate::findings::Finding;
use crate::gui::actions::{Action, TraceVerb};
use crate::gui::look::Type;
use crate::gui::parts::card::card_at;
use crate::gui::parts::finding::{finding_ui, unfolded};

/// Width of the column.
pub const WIDTH: f32 = 288.0;

/// Said in place of findings under practice.
pub const KEPT_BACK: &str = "kept back until the fault is named in Wiring";

/// Draws the findings that belong on a page of the bench, or all of them.
pub fn found_ui(
    ui: &mut Ui,
    rect: Rect,
    view: &View<'_>,
    page: Option<Page>,
    actions: &mut Vec<Action>,
) {
    card_at(ui, rect, "What stands out", |ui| {
        let Some(results) = view.desk.results() else {
            ui.label(Type::Note.soft(ui, "nothing measured yet"));
            return;
        };
        let found: Vec<_> =
            results.findings.iter().filter(|f| page.is_none_or(|page| f.concerns(page))).collect();
        if view.desk.keeps_back() {
            ui.label(Type::Note.soft(ui, KEPT_BACK));
        } else if found.is_empty() {
            ui.label(Type::Note.soft(ui, "nothing, as far as the data go"));
        }
        list_ui(ui, &found, 8.0, actions);
    });
}

/// Draws findings under one another, `gap` points apart, each with its way to the traces.
pub fn list_ui(ui: &mut Ui, found: &[&Finding], gap: f32, actions: &mut Vec<Action>) {
    let open = unfolded(ui, found, gap, 0.0);
    ScrollArea::vertical().id_salt("found").auto_shrink([false, false]).show(ui, |ui| {
        ui.spacing_mut().item_spacing.y = gap;
        for (k, (finding, room)) in found.iter().zip(open).enumerate() {
            ui.push_id(k, |ui| {
                if finding_ui(ui, finding, room)
                    && let Some(span) = finding.span
                {
                    actions.push(Action::Trace(TraceVerb::Inspect(span)));
                }
            });
        }
    });
}
