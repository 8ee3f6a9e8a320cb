//! Undulations per turn of both sticks: what form their gates have.
use egui::Ui;

use super::View;
use crate::gui::look::Type;
use crate::gui::parts::bars::bars_ui;
use crate::gui::parts::numbers::number;
use crate::measure::gate::{SECTORS, harmonics};

/// Undulations per turn that are shown.
const UNDULATIONS: usize = 8;

/// Amplitudes of the undulations of both sticks, in per cent of the reach.
pub(super) fn undulations_ui(ui: &mut Ui, view: &View<'_>) {
    let sticks = view.desk.results().map_or(&[][..], |r| &r.survey.sticks);
    let mut drawn = false;
    for stick in sticks {
        let Ok(reach) = <&[f64; SECTORS]>::try_from(stick.profile.reach.as_slice()) else {
            continue;
        };
        if reach.iter().any(|r| !r.is_finite()) {
            continue;
        }
        let found = harmonics(reach, UNDULATIONS);
        let bars: Vec<(f64, String)> =
            found.iter().map(|h| (h.amplitude, h.order.to_string())).collect();
        let most = found.iter().map(|h| h.amplitude).fold(0.0, f64::max);
        let words = format!("{}, up to {} %", stick.half.key(), number(most * 100.0, 1));
        ui.label(Type::Note.soft(ui, words.as_str()));
        bars_ui(ui, &format!("Undulations per turn, {words}"), &bars, 60.0);
        drawn = true;
    }
    let words =
        if drawn { "2 oval, 4 square, 8 octagon" } else { "needs whole turns along the gate" };
    ui.label(Type::Note.soft(ui, words));
}
