//! The acceptance bands, each in three ranges: read, changed by hand, set back.
use egui::{DragValue, Grid, Response, ScrollArea, Ui};

use crate::desk::Desk;
use crate::gui::actions::{Action, EditVerb};
use crate::gui::look::Type;
use crate::limits::{Limits, NAMED, Range};
use crate::units::Unit;

/// What the pane keeps to itself.
#[derive(Default)]
pub struct LimitsPane {
    /// It is on screen.
    pub is_shown: bool,
    /// The bands while one of them is being changed.
    draft: Option<Box<Limits>>,
}

impl LimitsPane {
    /// Draws the bands in force; a value that was let go is judged by from then on.
    pub fn ui(&mut self, ui: &mut Ui, desk: &Desk, used: &Limits, actions: &mut Vec<Action>) {
        let own = desk.limits().is_some();
        ui.horizontal_wrapped(|ui| {
            let button = ui.add_enabled(own, egui::Button::new("Usual limits"));
            if button.clicked() {
                self.draft = None;
                actions.push(Action::Edit(EditVerb::SetLimits(None)));
            }
            button
                .on_hover_text("Judge by common practice again")
                .on_disabled_hover_text("The usual limits are in force");
            let words = if own { "changed by hand" } else { "common practice for this raw width" };
            ui.label(Type::Note.soft(ui, words));
        });
        let mut limits = self.draft.as_deref().unwrap_or(used).clone();
        let (mut changed, mut ended) = (false, false);
        ScrollArea::vertical().id_salt("limits").auto_shrink([false, false]).show(ui, |ui| {
            ui.spacing_mut().button_padding.x = 6.0;
            Grid::new("bands").num_columns(4).spacing([8.0, 4.0]).show(ui, |ui| {
                for head in ["", "good", "marginal", "reject"] {
                    ui.label(Type::Note.soft(ui, head));
                }
                ui.end_row();
                for named in NAMED {
                    let (name, unit) = (named.label, named.unit);
                    let label = egui::Label::new(Type::Note.text(ui, with_unit(name, unit)));
                    ui.scope(|ui| {
                        ui.set_width((ui.available_width() * 0.38).clamp(96.0, 148.0));
                        ui.add(label.wrap());
                    });
                    let band = (named.of)(&mut limits);
                    let ranges = [
                        ("good", &mut band.good),
                        ("marginal", &mut band.marginal),
                        ("reject", &mut band.reject),
                    ];
                    for (which, range) in ranges {
                        ui.vertical(|ui| {
                            for response in range_ui(ui, name, which, unit, range) {
                                changed |= response.changed();
                                ended |= response.drag_stopped() || response.lost_focus();
                            }
                        });
                    }
                    ui.end_row();
                }
            });
        });
        if changed {
            self.draft = Some(Box::new(limits));
        }
        if ended && let Some(draft) = self.draft.take() {
            actions.push(Action::Edit(EditVerb::SetLimits(Some(draft))));
        }
    }
}

fn with_unit(name: &str, unit: Unit) -> String {
    match unit.symbol() {
        "" => name.to_owned(),
        symbol => format!("{name}, {symbol}"),
    }
}

/// The ends of a range that are closed, one under the other.
fn range_ui(ui: &mut Ui, name: &str, which: &str, unit: Unit, range: &mut Range) -> Vec<Response> {
    let factor = unit.shown_factor();
    let ends = [("at least", "≥ ", &mut range.low), ("at most", "≤ ", &mut range.high)];
    let mut responses = Vec::new();
    for (words, sign, end) in ends {
        let Some(end) = end else { continue };
        let mut shown = *end * factor;
        let speed = (shown.abs() * 0.01).max(0.01);
        let field = DragValue::new(&mut shown).speed(speed).prefix(sign).max_decimals(3);
        let response = ui.add(field);
        if response.changed() && shown.is_finite() {
            *end = shown / factor;
        }
        responses.push(response.accessible_name(format!("{name}, {which}, {words}")));
    }
    responses
}
