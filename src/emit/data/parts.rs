//! Parts of the JSON that are lists or classes: form of a gate, odd codes, coupling.
use serde_json::{Map, Value, json};

use super::json::Figures;
use crate::measure::coupling::CommonCause;
use crate::measure::curve::OddCode;
use crate::measure::gate::{Deficit, GateShape};
use crate::measure::stability::AllanPoint;
use crate::rig::Half;
use crate::survey::{StreamFigures, Survey};

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

impl Figures {
    /// What outputs, other inputs and the supply do to each axis.
    pub(super) fn coupling(&mut self, survey: &Survey) -> Value {
        let driven: Vec<Value> = survey
            .driven
            .iter()
            .enumerate()
            .map(|(k, d)| {
                let path = |name: &str| format!("coupling.driven.{k}.{name}");
                json!({
                    "axis": d.axis.key(),
                    "by": d.by.key(),
                    "shift": self.take(&path("shift"), &d.shift),
                    "noise_ratio": self.take(&path("noise_ratio"), &d.noise_ratio),
                    "largest": d.largest,
                })
            })
            .collect();
        let followed: Vec<Value> = survey
            .followed
            .iter()
            .enumerate()
            .map(|(k, f)| {
                let path = |name: &str| format!("coupling.followed.{k}.{name}");
                json!({
                    "axis": f.axis.key(),
                    "by": f.by.key(),
                    "scanned_before": f.scanned_before,
                    "share": self.take(&path("share"), &f.share),
                    "correlation": self.take(&path("correlation"), &f.correlation),
                })
            })
            .collect();
        let common: Map<String, Value> = Half::ALL
            .into_iter()
            .zip(&survey.common)
            .map(|(half, common)| {
                let path = format!("coupling.common.{}.correlation", half.key());
                let cause = common.correlation.is_ok().then(|| cause(common.cause));
                let figures = json!({
                    "correlation": self.take(&path, &common.correlation),
                    "rms": common.rms,
                    "cause": cause,
                });
                (half.key().to_owned(), figures)
            })
            .collect();
        json!({"driven": driven, "followed": followed, "common": common})
    }
}

fn cause(cause: CommonCause) -> &'static str {
    match cause {
        CommonCause::Reference => "reference",
        CommonCause::Ground => "ground",
        CommonCause::Undecided => "undecided",
    }
}
