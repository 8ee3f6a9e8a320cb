//! Triggers: rest, full, reversal and hysteresis from the pulls.
use super::{Source, TriggerFigures, short};
use crate::measure::Measured;
use crate::rig::Half;

pub(super) fn figures(source: Source, half: Half) -> TriggerFigures {
    let need: fn() -> Measured = || Err(short("pulls", 0, 8, "not measured yet"));
    TriggerFigures {
        half,
        rest: need(),
        full: need(),
        rest_scatter: need(),
        reversal: need(),
        hysteresis: need(),
        pulls: source.segments.pulls(half).len(),
    }
}
