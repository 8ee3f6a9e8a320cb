//! What the constants do to every raw code, for JSON.
use serde_json::{Map, Value, json};

use crate::trim::Trim;
use crate::trim::check::{Sweep, check};

/// The checks of a trim. Cost: some milliseconds at 16 bits.
pub(super) fn mapping(trim: &Trim) -> Value {
    let check = check(trim);
    let named = |sweeps: &[Sweep]| {
        sweeps.iter().map(|s| (s.input.key().to_owned(), sweep(s))).collect::<Map<_, _>>()
    };
    let sticks: Map<_, _> = check
        .sticks
        .iter()
        .map(|f| {
            let [x, y] = &f.sweeps;
            let least = f.least_magnitude;
            (
                f.half.key().to_owned(),
                json!({"x": sweep(x), "y": sweep(y), "least_magnitude": least}),
            )
        })
        .collect();
    let smoothing: Map<_, _> = check
        .smoothing
        .iter()
        .map(|s| {
            let of = json!({"shift": s.shift, "residue": s.residue, "rise_scans": s.rise_scans});
            (s.input.key().to_owned(), of)
        })
        .collect();
    json!({
        "axes": named(&check.axes),
        "sticks": sticks,
        "triggers": named(&check.triggers),
        "smoothing": smoothing,
    })
}

fn sweep(s: &Sweep) -> Value {
    json!({
        "distinct": s.distinct,
        "missing": s.missing,
        "largest_step": s.largest_step,
        "stalls": s.stalls,
        "monotonic": s.monotonic,
        "ends_reached": s.ends_reached,
        "zero_codes": s.zero_codes.map(|(first, last)| [first, last]),
    })
}
