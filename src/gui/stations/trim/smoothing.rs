//! Smoothing: what each shift takes off the noise and what it costs in lag, at the deployed rate.
use crate::measure::DASH;
use egui::{Ui, vec2};

use super::TrimStation;
use crate::desk::{Desk, Results};
use crate::emit::chart::{self, Shift};
use crate::gui::actions::{Action, EditVerb};
use crate::gui::look::Type;
use crate::gui::parts::chart::{Hand, chart_ui};
use crate::gui::parts::choice::choice_ui;
use crate::gui::parts::numbers::number;
use crate::gui::parts::table;
use crate::measure::filter::OnePole;
use crate::measure::noise::is_below_floor;
use crate::rig::{AxisId, Half, Rig, StickPart, TriggerPart};
use crate::wire::Role as FieldRole;

/// Shifts shown: none, then 1 to 6.
const SHIFTS: usize = 7;

/// One shift: noise left and what it costs.
#[derive(Clone, Copy, Debug, PartialEq)]
struct Choice {
    noise: f64,
    lag_ms: f64,
    rise_ms: f64,
    corner_hz: Option<f64>,
    bits: u32,
}

impl TrimStation {
    pub(super) fn smoothing_ui(
        &mut self,
        ui: &mut Ui,
        desk: &Desk,
        results: &Results,
        actions: &mut Vec<Action>,
    ) {
        let trim = &results.solution.trim;
        let Some(axis) = self.input_ui(ui, trim) else { return };
        let Some((rate_hz, whose)) = rate(desk, results) else {
            let words = match results.row_us() {
                None => "The rate is not known yet; a second of frames with a clock tells it",
                Some(_) => {
                    "Nothing tells the time, so lag is not known; state the deployed rate in the parts list, or print the board's µs clock"
                }
            };
            ui.label(Type::Label.soft(ui, words));
            return;
        };
        let noise = results.survey.axis(axis).map(|a| &a.noise_rms);
        let noise = match noise {
            Some(Ok(reading)) => reading.value,
            Some(Err(short)) if is_below_floor(short) => 0.0,
            _ => {
                let words = "The noise is not known yet; keep both hands off for eight seconds";
                ui.label(Type::Label.soft(ui, words));
                return;
            }
        };
        let choices = choices(noise, rate_hz, trim.raw_bits);
        let smooth = trim.options.smoothing.iter().find(|s| s.axis == axis);
        let chosen = smooth.map_or(0, |s| usize::from(s.shift));
        ui.horizontal(|ui| {
            ui.label(Type::Note.soft(ui, format!("shift of {}", part_words(axis))));
            let names: Vec<String> = (0..SHIFTS)
                .map(|k| if k == 0 { "none".to_owned() } else { k.to_string() })
                .collect();
            let names: Vec<&str> = names.iter().map(String::as_str).collect();
            if let Some(k) = choice_ui(ui, &names, chosen) {
                actions.push(Action::Edit(EditVerb::SetRig(Box::new(smoothed(
                    desk, axis, k, rate_hz,
                )))));
            }
        });
        let words = format!("at {} Hz, {whose}; white noise taken", number(rate_hz, 0));
        ui.label(Type::Note.soft(ui, words));
        let wide = ui.available_width();
        let height = ui.available_height() - 8.0;
        if wide < NARROW {
            let table = (choices.len() + 1) as f32 * table::ROW + 16.0;
            picture_ui(ui, axis, &choices, chosen, (height - table).max(100.0));
            table_ui(ui, &choices, chosen);
            return;
        }
        ui.horizontal_top(|ui| {
            let height = height.max(100.0);
            ui.allocate_ui(vec2(wide * 0.37, height), |ui| {
                picture_ui(ui, axis, &choices, chosen, height);
            });
            ui.vertical(|ui| table_ui(ui, &choices, chosen));
        });
    }
}

/// Below this width of the card the table stands below the picture.
const NARROW: f32 = 640.0;

fn table_ui(ui: &mut Ui, choices: &[Choice], chosen: usize) {
    let headings = ["shift", "noise, counts", "lag, ms", "10–90 %, ms", "sum, bits"];
    let rows: Vec<Vec<String>> =
        choices.iter().enumerate().map(|(k, c)| cells(k, k == chosen, c)).collect();
    table::table_ui(ui, &headings, &rows, 96.0);
}

/// The rate that the firmware will scan at, and how it is known.
fn rate(desk: &Desk, results: &Results) -> Option<(f64, &'static str)> {
    let deployed =
        desk.rig().deployed_rate_hz.map(|hz| (hz, "the deployed rate of the parts list"));
    let measured = results.survey.stream.rate_hz.as_ref().ok();
    deployed.or(measured.map(|r| (r.value, "the rate of this stream, for want of a deployed one")))
}

fn choices(noise: f64, rate_hz: f64, raw_bits: u8) -> Vec<Choice> {
    (0..SHIFTS as u8)
        .map(|k| {
            let filter = OnePole::of_shift(k);
            Choice {
                noise: noise * filter.noise_gain(),
                lag_ms: filter.lag_ms(rate_hz),
                rise_ms: filter.rise_ms(rate_hz),
                corner_hz: filter.corner_cycles().map(|c| c * rate_hz),
                bits: if raw_bits + k <= 16 { 16 } else { 32 },
            }
        })
        .collect()
}

fn cells(k: usize, chosen: bool, c: &Choice) -> Vec<String> {
    let name = if k == 0 { "none".to_owned() } else { k.to_string() };
    let name = if chosen { format!("{name}, in force") } else { name };
    let sum = if k == 0 { DASH.to_owned() } else { c.bits.to_string() };
    vec![name, number(c.noise, 2), number(c.lag_ms, 1), number(c.rise_ms, 1), sum]
}

/// Whom the parts list smooths: both axes of a stick together, or a trigger.
fn part_words(axis: AxisId) -> String {
    match axis.is_trigger() {
        true => axis.words().to_owned(),
        false => format!("the {} stick", axis.half().key()),
    }
}

/// The parts list with another smoothing of the part.
fn smoothed(desk: &Desk, axis: AxisId, shift: usize, rate_hz: f64) -> Rig {
    let mut rig = desk.rig().clone();
    let there = |axis: AxisId| desk.session().field_of(FieldRole::Axis(axis)).is_some();
    // A list without sticks means those of the stream; one that names a stick names all of them.
    for half in Half::ALL {
        if half.stick().into_iter().all(there) && !rig.sticks.iter().any(|s| s.half == half) {
            rig.sticks.push(StickPart::plain(half));
        }
        if there(half.trigger()) && !rig.triggers.iter().any(|t| t.half == half) {
            rig.triggers.push(TriggerPart::plain(half));
        }
    }
    let time_ms = OnePole::of_shift(shift as u8).time_constant_us(rate_hz) / 1e3;
    let wanted = (shift > 0).then_some((time_ms * 100.0).round() / 100.0);
    let half = axis.half();
    if axis.is_trigger() {
        rig.triggers.iter_mut().filter(|t| t.half == half).for_each(|t| t.smoothing_ms = wanted);
    } else {
        rig.sticks.iter_mut().filter(|s| s.half == half).for_each(|s| s.smoothing_ms = wanted);
    }
    rig
}

/// Noise left over lag, a point a shift.
fn picture_ui(ui: &mut Ui, axis: AxisId, choices: &[Choice], chosen: usize, height: f32) {
    let shifts: Vec<Shift> =
        choices.iter().map(|c| Shift { lag_ms: c.lag_ms, noise: c.noise }).collect();
    let chart = chart::lag(axis, &shifts, chosen);
    chart_ui(ui, &chart, vec2(ui.available_width(), height), Hand::Moves);
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn each_shift_takes_off_noise_and_adds_lag() {
        let choices = choices(2.0, 250.0, 12);
        assert_eq!((choices[0].noise, choices[0].lag_ms), (2.0, 0.0));
        assert!((choices[2].noise - 2.0 * 0.378).abs() < 0.001, "{:?}", choices[2]);
        assert!((choices[2].lag_ms - 12.0).abs() < 1e-9);
        assert_eq!((choices[4].bits, choices[5].bits), (16, 32), "12 bits and the shift");
        assert!(choices.windows(2).all(|w| w[1].noise < w[0].noise && w[1].lag_ms > w[0].lag_ms));
        assert!(choices[3].corner_hz.is_some_and(|hz| (hz - 5.3).abs() < 0.1));
    }
}
