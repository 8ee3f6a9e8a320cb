//! Single axes: rest, noise, lines and drift from the quiet rests, reach from the turns.
use super::{AxisFigures, Density, Source, StickFigures, short};
use crate::measure::Measured;
use crate::rig::AxisId;

pub(super) fn figures(_: Source, axis: AxisId, _: Option<&StickFigures>) -> AxisFigures {
    let need: fn() -> Measured = || Err(short("quiet rest", 0, 2000, "not measured yet"));
    AxisFigures {
        axis,
        rest: need(),
        noise_rms: need(),
        noise_pp: need(),
        noise_free_bits: need(),
        lines: Vec::new(),
        density: Density::default(),
        drift_per_min: need(),
        low: need(),
        high: need(),
        clipped: need(),
        centre: need(),
    }
}
