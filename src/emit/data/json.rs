//! The JSON of a solved session, format 1. Keys are added, never renamed.
//!
//! ```text
//! format        1
//! source        file frames duration_s rate_hz
//! stream        lost malformed duplicated resets interval_us{median p01 p99 max} clock_ppm
//!               stale{left right}
//! axes.<axis>   rest centre dead noise_rms noise_pp noise_free_bits lines[{hz amplitude}]
//!               drift_per_min low high clipped
//! sticks.<half> centre[x y] releases scatter hysteresis[x y] inner_dead outer_reach roundness
//!               mzci orthogonality_deg rotation_deg coverage
//! triggers.<t>  rest full rest_scatter reversal hysteresis on off
//! buttons.<b>   presses bounce_press_ms bounce_press_max_ms bounce_release_ms
//!               bounce_release_max_ms doubles window_ms stuck
//! intervals     path of a figure → [low, high, n, t0_us, t1_us]; elements of pairs are .0 and .1
//! findings      [{code where severity evidence remedy caution}]
//! trim          the constants, every field
//! ```
//! A figure that the data do not support is null, and a finding says what is missing; so is an
//! end of an interval that the method does not give. Parts that the stream does not carry have no
//! key. Levels are raw converter counts, shares are of one, times are unwrapped board time.
use serde_json::{Map, Value, json};

use crate::emit::Report;
use crate::measure::{Measured, Reading};
use crate::rig::{AxisId, Half};
use crate::survey::{AxisFigures, ButtonFigures, StickFigures, StreamFigures, TriggerFigures};
use crate::trim::{Solution, ZonePlace};

/// The whole document, indented, with a line feed at its end. Same input, same bytes.
pub fn solve_json(report: &Report<'_>) -> String {
    let (survey, solution) = (report.survey, report.solution);
    let mut figures = Figures::default();
    let axes = survey
        .axes
        .iter()
        .map(|axis| (axis.axis.key().to_owned(), figures.axis(axis, solution)))
        .collect::<Map<_, _>>();
    let sticks = survey
        .sticks
        .iter()
        .map(|stick| (stick.half.key().to_owned(), figures.stick(stick, solution)))
        .collect::<Map<_, _>>();
    let triggers = survey
        .triggers
        .iter()
        .map(|t| (t.half.trigger().key().to_owned(), figures.trigger(t, solution)))
        .collect::<Map<_, _>>();
    let buttons = survey
        .buttons
        .iter()
        .map(|button| (format!("b{}", button.index), figures.button(button)))
        .collect::<Map<_, _>>();
    let source = json!({
        "file": report.facts.source,
        "frames": survey.frames,
        "duration_s": survey.duration_s,
        "rate_hz": figures.take("source.rate_hz", &survey.stream.rate_hz),
    });
    let stream = figures.stream(&survey.stream);
    let document = json!({
        "format": 1,
        "source": source,
        "stream": stream,
        "axes": axes,
        "sticks": sticks,
        "triggers": triggers,
        "buttons": buttons,
        "intervals": figures.intervals,
        "findings": findings(report),
        "trim": serde_json::to_value(&solution.trim).unwrap_or(Value::Null),
    });
    format!("{document:#}\n")
}

fn findings(report: &Report<'_>) -> Vec<Value> {
    report
        .findings
        .iter()
        .map(|f| {
            json!({
                "code": f.code,
                "where": f.place,
                "severity": f.severity.word(),
                "evidence": f.evidence,
                "remedy": f.remedy,
                "caution": f.caution,
            })
        })
        .collect()
}

/// Gathers the intervals while the figures are written.
#[derive(Default)]
struct Figures {
    intervals: Map<String, Value>,
}

impl Figures {
    /// The value of a figure or null; its interval goes to the map under `path`.
    fn take(&mut self, path: &str, figure: &Measured<Reading>) -> Value {
        let Ok(r) = figure else { return Value::Null };
        if !r.value.is_finite() {
            return Value::Null;
        }
        // Ends that are not finite become null in JSON.
        let interval = json!([r.low, r.high, r.n, r.span.start_us, r.span.end_us]);
        self.intervals.insert(path.to_owned(), interval);
        json!(r.value)
    }

    fn pair(&mut self, path: &str, figures: &[Measured; 2]) -> Value {
        let [x, y] = figures;
        json!([self.take(&format!("{path}.0"), x), self.take(&format!("{path}.1"), y)])
    }

    fn stream(&mut self, s: &StreamFigures) -> Value {
        json!({
            "lost": s.lost.as_ref().ok(),
            "malformed": s.malformed,
            "duplicated": s.duplicated,
            "resets": s.resets,
            "interval_us": {
                "median": self.take("stream.interval_us.median", &s.interval_median_us),
                "p01": self.take("stream.interval_us.p01", &s.interval_p01_us),
                "p99": self.take("stream.interval_us.p99", &s.interval_p99_us),
                "max": self.take("stream.interval_us.max", &s.interval_max_us),
            },
            "clock_ppm": self.take("stream.clock_ppm", &s.clock_ppm),
            "stale": {
                "left": self.take("stream.stale.left", &s.stale[Half::Left as usize]),
                "right": self.take("stream.stale.right", &s.stale[Half::Right as usize]),
            },
        })
    }

    fn axis(&mut self, a: &AxisFigures, solution: &Solution) -> Value {
        let mut take = |name: &str, figure: &Measured| {
            self.take(&format!("axes.{}.{name}", a.axis.key()), figure)
        };
        let lines: Vec<Value> =
            a.lines.iter().map(|l| json!({"hz": l.hz, "amplitude": l.amplitude})).collect();
        json!({
            "rest": take("rest", &a.rest),
            "centre": take("centre", &a.centre),
            "dead": dead(a.axis, solution),
            "noise_rms": take("noise_rms", &a.noise_rms),
            "noise_pp": take("noise_pp", &a.noise_pp),
            "noise_free_bits": take("noise_free_bits", &a.noise_free_bits),
            "lines": lines,
            "drift_per_min": take("drift_per_min", &a.drift_per_min),
            "low": take("low", &a.low),
            "high": take("high", &a.high),
            "clipped": take("clipped", &a.clipped),
        })
    }

    fn stick(&mut self, s: &StickFigures, solution: &Solution) -> Value {
        let path = |name: &str| format!("sticks.{}.{name}", s.half.key());
        let zone = solution.zones.iter().find(|z| z.place == ZonePlace::Stick(s.half));
        json!({
            "centre": self.pair(&path("centre"), &s.centre),
            "releases": s.releases.len(),
            "scatter": self.take(&path("scatter"), &s.scatter),
            "hysteresis": self.pair(&path("hysteresis"), &s.hysteresis),
            "inner_dead": zone.map(|z| z.radius_counts),
            "outer_reach": self.take(&path("outer_reach"), &s.outer_reach),
            "roundness": self.take(&path("roundness"), &s.roundness),
            "mzci": self.take(&path("mzci"), &s.mzci),
            "orthogonality_deg": self.take(&path("orthogonality_deg"), &s.orthogonality_deg),
            "rotation_deg": self.take(&path("rotation_deg"), &s.rotation_deg),
            "coverage": self.take(&path("coverage"), &s.coverage),
        })
    }

    fn trigger(&mut self, t: &TriggerFigures, solution: &Solution) -> Value {
        let mut take = |name: &str, figure: &Measured| {
            self.take(&format!("triggers.{}.{name}", t.half.trigger().key()), figure)
        };
        let solved = solution.trim.trigger(t.half);
        json!({
            "rest": take("rest", &t.rest),
            "full": take("full", &t.full),
            "rest_scatter": take("rest_scatter", &t.rest_scatter),
            "reversal": take("reversal", &t.reversal),
            "hysteresis": take("hysteresis", &t.hysteresis),
            "on": solved.map(|t| t.on),
            "off": solved.map(|t| t.off),
        })
    }

    fn button(&mut self, b: &ButtonFigures) -> Value {
        let mut take = |name: &str, figure: &Measured| {
            self.take(&format!("buttons.b{}.{name}", b.index), figure)
        };
        json!({
            "presses": b.presses,
            "bounce_press_ms": take("bounce_press_ms", &b.bounce_press_ms),
            "bounce_press_max_ms": take("bounce_press_max_ms", &b.bounce_press_max_ms),
            "bounce_release_ms": take("bounce_release_ms", &b.bounce_release_ms),
            "bounce_release_max_ms": take("bounce_release_max_ms", &b.bounce_release_max_ms),
            "doubles": b.doubles,
            "window_ms": b.window_ms.as_ref().ok(),
            "stuck": b.stuck,
        })
    }
}

/// The dead zone of one axis in whole counts, where the constants hold one.
fn dead(axis: AxisId, solution: &Solution) -> Option<u16> {
    if axis.is_trigger() {
        solution.trim.trigger(axis.half()).map(|t| t.dead)
    } else {
        solution.trim.axis(axis).map(|a| a.dead)
    }
}
