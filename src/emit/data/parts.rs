//! Parts of the JSON that are lists or classes: form of a gate, odd codes, coupling.
use serde_json::{Map, Value, json};

use crate::measure::coupling::CommonCause;
use crate::measure::curve::OddCode;
use crate::measure::gate::{Deficit, GateShape};
use crate::measure::stability::AllanPoint;
use crate::session::{ColumnRead, LineCounts};
use crate::survey::{StreamFigures, Survey};

/// Every column as it was read.
pub(super) fn columns(columns: &[ColumnRead]) -> Vec<Value> {
    let one = |column: &ColumnRead| {
        json!({
            "field": column.place,
            "name": Some(&column.name).filter(|name| !name.is_empty()),
            "role": column.role.key(),
            "guessed": column.guessed,
            "base": column.base.key(),
            "scale": column.scale(),
            "range": column.range,
            "processed": column.is_processed(),
            "use": column.fate.key(),
            "why": column.fate.words(),
        })
    };
    columns.iter().map(one).collect()
}

/// Every line of the stream, by what it is.
pub(super) fn lines(frames: u64, lines: &LineCounts) -> Value {
    json!({
        "frame": frames,
        "heading": lines.heading,
        "blank": lines.blank,
        "edge": lines.edge,
        "comment": lines.comment,
        "reply": lines.reply,
        "foreign": lines.foreign,
        "damaged": lines.damaged,
        "cut": lines.cut,
        "suspect": lines.suspect,
    })
}

/// Losses: single or in bursts; null where nothing tells them.
pub(super) fn loss_runs(stream: &StreamFigures) -> Value {
    if stream.lost.is_err() {
        return Value::Null;
    }
    let runs = &stream.loss_runs;
    json!({
        "runs": runs.runs,
        "longest": runs.longest,
        "mean": runs.mean,
        "bursts": runs.bursts(),
    })
}

/// One point of an Allan deviation.
pub(super) fn allan(point: &AllanPoint) -> Value {
    let d = point.deviation;
    json!({"tau_s": point.tau_s, "deviation": d.value, "low": d.low, "high": d.high})
}

/// Codes that are wide (in steps of their neighbours) or missing (0).
pub(super) fn odd_codes(codes: &[OddCode]) -> Vec<Value> {
    codes.iter().map(|c| json!({"code": c.code, "width": c.width})).collect()
}

/// Class of a gate: form, corners and where the first is, level of a clip.
pub(super) fn shape(shape: &GateShape) -> Value {
    let (form, corners, corner_deg, level) = match *shape {
        GateShape::Circle => ("circle", None, None, None),
        GateShape::Ellipse => ("ellipse", None, None, None),
        GateShape::Polygon { sides, corner_deg } => {
            ("polygon", Some(sides), Some(corner_deg), None)
        }
        GateShape::AxisClip { level } => ("axis-clip", None, None, Some(level)),
        GateShape::Irregular => ("irregular", None, None, None),
    };
    json!({"form": form, "corners": corners, "corner_deg": corner_deg, "level": level})
}

/// Directions in which the reach falls short.
pub(super) fn deficits(deficits: &[Deficit]) -> Vec<Value> {
    let one = |d: &Deficit| json!({"from_deg": d.from_deg, "to_deg": d.to_deg, "depth": d.depth});
    deficits.iter().map(one).collect()
}

/// Which axis, by what, why: what stands beside the figures of each coupling.
pub(super) fn coupling(survey: &Survey) -> Value {
    let driven = survey.driven.iter().map(|d| json!({"axis": d.axis.key(), "by": d.by.key()}));
    let followed = survey.followed.iter().map(|f| json!({"axis": f.axis.key(), "by": f.by.key()}));
    let common = survey.common.iter().map(|common| {
        let cause = common.correlation.is_ok().then(|| cause(common.cause));
        (common.half.key().to_owned(), json!({"cause": cause}))
    });
    json!({
        "driven": driven.collect::<Vec<_>>(),
        "followed": followed.collect::<Vec<_>>(),
        "common": common.collect::<Map<_, _>>(),
    })
}

fn cause(cause: CommonCause) -> &'static str {
    match cause {
        CommonCause::Reference => "reference",
        CommonCause::Ground => "ground",
        CommonCause::Undecided => "undecided",
    }
}
