//! The controls above the traces: freeze, motion, zoom; forms, shared lanes, the lane's range.
use egui::{DragValue, Ui};

use super::Traces;
use super::lanes::Form;
use super::window::Motion;
use crate::desk::Desk;
use crate::gui::actions::{Action, EditVerb, TraceVerb};
use crate::gui::look::Type;
use crate::gui::parts::choice::{choice_ui, toggle_ui};
use crate::gui::parts::ruler::Ruler;
use crate::gui::stations::action_button;

/// What the pointer does, in words.
const POINTER: &str = "wheel zooms, drag moves, Shift and drag shows that stretch alone; click sets \
                       a cursor, double click clears both; the same wheel, drag and double click \
                       on a lane's name set its range and free it";

/// A line between groups of controls; only a gap where their row may break beside it.
fn divide(ui: &mut Ui) {
    if ui.max_rect().width() < 760.0 {
        ui.add_space(4.0);
    } else {
        ui.separator();
    }
}

impl Traces {
    /// Draws both rows of controls.
    pub(super) fn toolbar_ui(&mut self, ui: &mut Ui, desk: &Desk, actions: &mut Vec<Action>) {
        ui.horizontal_wrapped(|ui| {
            let frozen = self.window.held_at_us.is_some();
            let hint = format!("{} (F)", Action::Trace(TraceVerb::Freeze).hint());
            if toggle_ui(ui, "Freeze", frozen, &hint) {
                actions.push(Action::Trace(TraceVerb::Freeze));
            }
            divide(ui);
            if let Some(k) = choice_ui(ui, &["Scroll", "Sweep"], self.window.motion as usize) {
                self.window.motion = [Motion::Scroll, Motion::Sweep][k];
            }
            divide(ui);
            for action in [false, true].map(|nearer| Action::Trace(TraceVerb::Zoom(nearer))) {
                if action_button(ui, &action, Ok(())) {
                    actions.push(action);
                }
            }
            let span = ui
                .label(Type::Value.text(ui, Ruler::of(desk.row_us()).length(self.window.span_us)));
            span.on_hover_text(POINTER);
            divide(ui);
            let mark = match desk.session().rows() {
                0 => Err("There is no session yet"),
                _ => Ok(()),
            };
            if action_button(ui, &Action::Edit(EditVerb::Mark), mark) {
                actions.push(Action::Edit(EditVerb::Mark));
            }
            let both = self.picture.cursors.a.is_some() && self.picture.cursors.b.is_some();
            let between = match both {
                true => Ok(()),
                false => Err("Set both cursors first: click into the traces, or A and B"),
            };
            let action = Action::Trace(TraceVerb::BetweenCursors);
            if action_button(ui, &action, between) {
                actions.push(action);
            }
        });
        ui.horizontal_wrapped(|ui| self.lanes_ui(ui, desk));
    }

    /// Draws what the lanes are made of and the range of the chosen one.
    fn lanes_ui(&mut self, ui: &mut Ui, desk: &Desk) {
        ui.spacing_mut().item_spacing.x = 4.0;
        for form in Form::ALL {
            let hint = match form {
                Form::Counts => "The converter's codes",
                Form::Travel => "Share of the way from rest to the end that every push passes",
                Form::Output => "Through the trim, by the firmware's own integers, unsmoothed",
            };
            if toggle_ui(ui, form.title(), self.plan.forms[form as usize], hint) {
                self.plan.toggle(form);
            }
        }
        divide(ui);
        if let Some(k) = choice_ui(ui, &["Stacked", "Shared"], usize::from(self.plan.shared)) {
            self.plan.shared = k == 1;
        }
        divide(ui);
        self.range_ui(ui, desk);
        for words in self.missing_words().into_iter().chain(self.unsmoothed_words(desk)) {
            ui.label(Type::Note.soft(ui, words));
        }
    }

    /// Auto or fixed, and between which values.
    fn range_ui(&mut self, ui: &mut Ui, desk: &Desk) {
        let aimed = self.aimed();
        let fixed = !aimed.is_empty() && aimed.iter().all(|key| self.ranges.is_fixed(*key));
        let of = match self.chosen {
            Some(key) => key.channel.name(desk),
            None => "all lanes".to_owned(),
        };
        ui.label(Type::Note.soft(ui, of)).on_hover_text("J and K choose a lane, or its name does");
        if let Some(k) = choice_ui(ui, &["Auto", "Fixed"], usize::from(fixed)) {
            for key in &aimed {
                if k == 1 { self.ranges.fix(*key) } else { self.ranges.free(*key) }
            }
        }
        let Some(key) = self.chosen.filter(|_| fixed) else { return };
        let scale = key.form.scale();
        let before = self.ranges.of(key, None).map(|v| v * scale);
        let mut now = before;
        for (value, name) in now.iter_mut().zip(["Lowest value shown", "Highest value shown"]) {
            let field = DragValue::new(value)
                .speed((before[1] - before[0]) / 200.0)
                .max_decimals(key.form.decimals());
            ui.add(field).on_hover_text(name).accessible_name(name);
        }
        ui.label(Type::Note.soft(ui, key.form.unit()));
        if now != before {
            self.ranges.fix_at(key, now.map(|v| v / scale));
        }
    }

    /// That the outputs drawn are not what a header with smoothing gives.
    fn unsmoothed_words(&self, desk: &Desk) -> Option<String> {
        let smooths = desk.results().is_some_and(|r| !r.solution.trim.options.smoothing.is_empty());
        (smooths && self.plan.forms[Form::Output as usize])
            .then(|| "outputs without the header's smoothing".to_owned())
    }

    /// Why a form that was asked for is not there.
    fn missing_words(&self) -> Option<String> {
        if self.working {
            return Some("working out the rest of this span".to_owned());
        }
        let first = self.missing.iter().next()?;
        Some(match self.missing.len() {
            1 => format!("{} has no constants yet", first.words()),
            n => format!("{n} inputs have no constants yet; the guided run gives them"),
        })
    }
}
