//! From raw code to output, as the firmware has it: the whole way, or the steps near the rest.
use egui::{Ui, vec2};

use super::TrimStation;
use crate::desk::Results;
use crate::emit::chart::{self, Output};
use crate::gui::look::Type;
use crate::gui::parts::chart::{Hand, chart_ui};
use crate::gui::parts::choice::choice_ui;
use crate::gui::parts::numbers::number;
use crate::gui::stations::{View, live};
use crate::rig::AxisId;
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
        let Some(input) = Output::of(trim, axis) else { return };
        let codes = match near_rest {
            false => [0, trim.full_scale()],
            true => near(trim, axis, &*input.run),
        };
        let title = if near_rest { "Output near the rest of" } else { "Output by raw code of" };
        let now = live::reading(view.desk, axis).map(|v| v.clamp(0.0, 65535.0) as u16);
        let height = ui.available_height().max(100.0);
        output_ui(ui, &format!("{title} {}", axis.words()), input, codes, now, height);
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

/// Draws what an input gives for every code, and for the reading now.
pub(in crate::gui::stations) fn output_ui(
    ui: &mut Ui,
    title: &str,
    input: Output,
    codes: [u16; 2],
    now: Option<u16>,
    height: f32,
) {
    let inputs = [input];
    let chart = chart::output(title.to_owned(), &inputs, codes);
    let drawn = chart_ui(ui, &chart, vec2(ui.available_width(), height), Hand::Moves);
    let run = &inputs[0].run;
    if let Some(now) = now.filter(|now| (codes[0]..=codes[1]).contains(now)) {
        let out = f64::from(run(now));
        drawn.now(ui, &chart, [f64::from(now), out]);
        drawn.say(ui, &format!("{now} gives {}", number(out, 0)), run(codes[0]) <= run(codes[1]));
    }
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
