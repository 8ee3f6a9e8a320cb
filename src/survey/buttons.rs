//! Contacts: bounce, doubles and the window to debounce with.
use super::{ButtonFigures, Source};
use crate::measure::contact;
use crate::measure::{Estimate, Measured};
use crate::units::Unit;

pub(super) fn figures(source: Source) -> Vec<ButtonFigures> {
    source.segments.buttons.iter().map(|button| of_button(source, button)).collect()
}

fn of_button(source: Source, button: &crate::segment::ButtonTrack) -> ButtonFigures {
    let found = contact::figures(&button.log);
    let span = source.span_of(button.presses.iter().map(|press| press.rows));
    let ms = |figure: Measured<Estimate>| figure.map(|ms| ms.over(span, Unit::Millis));
    ButtonFigures {
        index: button.index,
        presses: button.presses.len(),
        bounce_press_ms: ms(found.press.typical_ms),
        bounce_press_max_ms: ms(found.press.bound_ms),
        bounce_release_ms: ms(found.release.typical_ms),
        bounce_release_max_ms: ms(found.release.bound_ms),
        doubles: found.doubles,
        window_ms: found.window_ms.map(|window| window.value),
        stuck: found.stuck,
    }
}
