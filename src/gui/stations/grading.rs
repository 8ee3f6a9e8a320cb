//! Whether a figure stands out: its band of limits as a state mark.
use crate::findings::Severity;
use crate::gui::parts::finding::state_of;
use crate::gui::parts::state_mark::State;
use crate::limits::Band;
use crate::measure::Measured;

/// The mark of a figure in its band; none where it is good, missing or cannot be told.
pub fn state(band: &Band, figure: &Measured) -> State {
    match figure {
        Ok(r) => interval_state(band, r.low, r.high),
        Err(_) => State::None,
    }
}

/// The same from an interval.
pub fn interval_state(band: &Band, low: f64, high: f64) -> State {
    Severity::of(band.grade(low, high)).map_or(State::None, state_of)
}
