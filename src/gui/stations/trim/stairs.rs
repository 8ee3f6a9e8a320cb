//! From raw code to output, as the firmware has it: the whole way, or the steps near the rest.
use egui::Ui;

use super::TrimStation;
use crate::desk::Results;
use crate::gui::look::Type;
use crate::gui::parts::choice::choice_ui;
use crate::gui::parts::staircase::{Staircase, staircase_ui};
use crate::gui::stations::{View, live};
use crate::rig::{AxisId, Half};
use crate::trim::{Trim, apply};

/// Codes on either side of the rest that are shown beyond the dead zone, at least.
const BESIDE: u16 = 12;

/// The inputs that have been solved.
pub(super) fn solved(trim: &Trim) -> Vec<AxisId> {
    let there = |axis: &AxisId| match axis.is_trigger() {
        true => trim.trigger(axis.half()).is_some(),
        false => apply::Stick::of(trim, axis.half()).is_some(),
    };
    AxisId::ALL.into_iter().filter(there).collect()
}

impl TrimStation {
    pub(super) fn stairs_ui(
        &mut self,
        ui: &mut Ui,
        view: &View<'_>,
        results: &Results,
        near_rest: bool,
    ) {
        let trim = &results.solution.trim;
        let Some(axis) = self.input_ui(ui, trim) else { return };
        let Some(run) = arithmetic(trim, axis) else { return };
        let codes = match near_rest {
            false => [0, trim.full_scale()],
            true => near(trim, axis, &run),
        };
        let lowest = if axis.is_trigger() { 0 } else { -32767 };
        let outputs = match near_rest {
            false => [lowest, 32767],
            true => {
                let ends = codes.map(&run);
                [ends[0].min(ends[1]), ends[0].max(ends[1]).max(ends[0].min(ends[1]) + 1)]
            }
        };
        let now = live::reading(view.desk, axis).map(|v| v.clamp(0.0, 65535.0) as u16);
        let dashed = axis.half() == Half::Right;
        let stairs = Staircase { name: axis.words(), codes, outputs, run: &run, now, dashed };
        let height = (ui.available_height() - 32.0).max(100.0);
        staircase_ui(ui, &stairs, height);
    }

    /// Draws the choice of the input.
    pub(super) fn input_ui(&mut self, ui: &mut Ui, trim: &Trim) -> Option<AxisId> {
        let solved = solved(trim);
        let last = solved.len().checked_sub(1);
        let Some(last) = last else {
            let words =
                "No input is solved yet; roll both sticks and let them go, pull both triggers";
            ui.label(Type::Label.soft(ui, words));
            return None;
        };
        let names: Vec<&str> = solved.iter().map(|a| a.words()).collect();
        self.input = self.input.min(last);
        if let Some(k) = choice_ui(ui, &names, self.input) {
            self.input = k;
        }
        Some(solved[self.input])
    }
}

/// The firmware's arithmetic of one input; a stick's other axis stands at its centre.
fn arithmetic(trim: &Trim, axis: AxisId) -> Option<Box<dyn Fn(u16) -> i16>> {
    let half = axis.half();
    if axis.is_trigger() {
        let trigger = apply::Trigger::of(trim, half)?;
        return Some(Box::new(move |raw| trigger.run(raw)));
    }
    let stick = apply::Stick::of(trim, half)?;
    let [x, y] = half.stick();
    let centre = |a| trim.axis(a).map_or(0, |t| t.centre);
    let (rest_x, rest_y) = (centre(x), centre(y));
    Some(if axis == x {
        Box::new(move |raw| stick.run(raw, rest_y).0)
    } else {
        Box::new(move |raw| stick.run(rest_x, raw).1)
    })
}

/// The codes round the rest: the whole dead zone and as much again on either side.
fn near(trim: &Trim, axis: AxisId, run: &dyn Fn(u16) -> i16) -> [u16; 2] {
    let rest = match axis.is_trigger() {
        true => trim.trigger(axis.half()).map_or(0, |t| t.rest),
        false => trim.axis(axis).map_or(0, |t| t.centre),
    };
    let full = trim.full_scale();
    let dead = (0..=full).take_while(|d| {
        run(rest.saturating_sub(*d)) == 0 && run(rest.saturating_add(*d).min(full)) == 0
    });
    let beside = (dead.count() as u16).saturating_mul(2).max(BESIDE);
    [rest.saturating_sub(beside), rest.saturating_add(beside).min(full)]
}
