//! The JSON of a solved session, format 1. Keys are added, never renamed.
//!
//! ```text
//! format        1
//! source        file frames duration_s rate_hz
//! stream        lost malformed duplicated resets interval_us{median p01 p99 max p95} clock_ppm
//!               stale{left right} jitter_us half_skew_ms loss_runs{runs longest mean bursts}
//! axes.<axis>   rest centre dead noise_rms noise_pp noise_free_bits lines[{hz amplitude}]
//!               drift_per_min low high clipped effective_bits noise_free_steps
//!               warm_up{rise tau_s} allan[{tau_s deviation low high}] odd_codes[{code width}]
//! sticks.<half> centre[x y] releases scatter hysteresis[x y] inner_dead outer_reach roundness
//!               mzci orthogonality_deg rotation_deg coverage shape{form corners corner_deg level}
//!               deficits[{from_deg to_deg depth}] direction_difference overshoot settling_ms
//!               press_shift[x y]
//! triggers.<t>  rest full rest_scatter reversal hysteresis on off hysteresis_at[¼ ½ ¾]
//!               full_scatter end_plateau rests_high
//! buttons.<b>   presses bounce_press_ms bounce_press_max_ms bounce_release_ms
//!               bounce_release_max_ms doubles window_ms stuck double_share dropouts closures blips
//!               idle_edges_per_hour edges_max[press release] longest_wrong_ms[press release]
//!               press_window_ms release_window_ms
//! coupling      driven[{axis by shift noise_ratio largest}]
//!               followed[{axis by scanned_before share correlation}]
//!               common{left right}{correlation rms cause}
//! intervals     path of a figure → [low, high, n, t0_us, t1_us]; elements of pairs are .0 and .1
//! findings      [{code where severity evidence remedy caution}]
//! trim          the constants, every field
//! mapping       axes, sticks.<half>.{x y least_magnitude}, triggers: distinct missing largest_step
//!               stalls monotonic ends_reached zero_codes[first last]; smoothing.<input>{shift
//!               residue rise_scans}: from the firmware's arithmetic over every raw code
//! tool          name version
//! ```
//! A figure that the data do not support is null, and a finding says what is missing; so is an
//! end of an interval that the method does not give. Parts that the stream does not carry have no
//! key. Levels are raw converter counts, shares are of one, times are unwrapped board time.
use serde_json::{Map, Value, json};

use super::parts::{allan, deficits, loss_runs, odd_codes, shape};
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
    let coupling = figures.coupling(survey);
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
        "mapping": super::mapping::mapping(&solution.trim),
        "coupling": coupling,
        "tool": crate::emit::meta::tool(),
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
pub(super) struct Figures {
    intervals: Map<String, Value>,
}

impl Figures {
    /// The value of a figure or null; its interval goes to the map under `path`.
    pub(super) fn take(&mut self, path: &str, figure: &Measured<Reading>) -> Value {
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
                "p95": self.take("stream.interval_us.p95", &s.interval_p95_us),
            },
            "clock_ppm": self.take("stream.clock_ppm", &s.clock_ppm),
            "stale": {
                "left": self.take("stream.stale.left", &s.stale[Half::Left as usize]),
                "right": self.take("stream.stale.right", &s.stale[Half::Right as usize]),
            },
            "jitter_us": self.take("stream.jitter_us", &s.jitter_us),
            "half_skew_ms": self.take("stream.half_skew_ms", &s.half_skew_ms),
            "loss_runs": loss_runs(s),
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
            "effective_bits": take("effective_bits", &a.effective_bits),
            "noise_free_steps": take("noise_free_steps", &a.noise_free_steps),
            "warm_up": {
                "rise": take("warm_up.rise", &a.warm_up_rise),
                "tau_s": take("warm_up.tau_s", &a.warm_up_tau_s),
            },
            "allan": a.allan.iter().map(allan).collect::<Vec<_>>(),
            "odd_codes": a.odd_codes.as_ref().ok().map(|codes| odd_codes(codes)),
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
            "shape": s.shape.as_ref().ok().map(shape),
            "deficits": s.shape.as_ref().ok().map(|_| deficits(&s.deficits)),
            "direction_difference":
                self.take(&path("direction_difference"), &s.direction_difference),
            "overshoot": self.take(&path("overshoot"), &s.overshoot),
            "settling_ms": self.take(&path("settling_ms"), &s.settling_ms),
            "press_shift": self.pair(&path("press_shift"), &s.press_shift),
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
            "hysteresis_at": [
                take("hysteresis_at.0", &t.hysteresis_at[0]),
                take("hysteresis_at.1", &t.hysteresis_at[1]),
                take("hysteresis_at.2", &t.hysteresis_at[2]),
            ],
            "full_scatter": take("full_scatter", &t.full_scatter),
            "end_plateau": take("end_plateau", &t.end_plateau),
            "rests_high": t.rests_high,
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
            "window_ms": take("window_ms", &b.window_ms),
            "stuck": b.stuck,
            "double_share": take("double_share", &b.double_share),
            "dropouts": b.dropouts,
            "closures": b.closures,
            "blips": b.blips,
            "idle_edges_per_hour": take("idle_edges_per_hour", &b.idle_edges_per_hour),
            "edges_max": b.edges_max.each_ref().map(|edges| edges.as_ref().ok()),
            "longest_wrong_ms": [
                take("longest_wrong_ms.0", &b.longest_wrong_ms[0]),
                take("longest_wrong_ms.1", &b.longest_wrong_ms[1]),
            ],
            "press_window_ms": take("press_window_ms", &b.press_window_ms),
            "release_window_ms": take("release_window_ms", &b.release_window_ms),
            "looked_every_ms": b.looked.every_ms,
            "by_edge_log": b.looked.by_log,
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

#[cfg(test)]
mod tests {
    use super::*;
    use crate::emit::built::{HOSTILE, hostile, of, whole};
    use crate::findings::built::{healthy, no};

    fn parsed(text: &str) -> Value {
        serde_json::from_str(text).expect("valid JSON")
    }

    /// Keys of an object, in order.
    fn keys(value: &Value) -> Vec<&str> {
        value.as_object().expect("an object").keys().map(String::as_str).collect()
    }

    /// Where an object stands, and its keys in order.
    const PROMISED: &[(&str, &str)] = &[
        ("/source", "file frames duration_s rate_hz"),
        (
            "/stream",
            "lost malformed duplicated resets interval_us clock_ppm stale jitter_us \
                 half_skew_ms loss_runs",
        ),
        ("/stream/interval_us", "median p01 p99 max p95"),
        ("/stream/loss_runs", "runs longest mean bursts"),
        ("/stream/stale", "left right"),
        ("/axes", "lx ly rx ry lt rt"),
        (
            "/axes/lx",
            "rest centre dead noise_rms noise_pp noise_free_bits lines drift_per_min low high \
                 clipped effective_bits noise_free_steps warm_up allan odd_codes",
        ),
        ("/axes/lx/allan/0", "tau_s deviation low high"),
        ("/axes/lx/lines/0", "hz amplitude"),
        (
            "/sticks/left",
            "centre releases scatter hysteresis inner_dead outer_reach roundness mzci \
                 orthogonality_deg rotation_deg coverage shape deficits direction_difference \
                 overshoot settling_ms press_shift",
        ),
        ("/sticks/left/shape", "form corners corner_deg level"),
        (
            "/triggers/lt",
            "rest full rest_scatter reversal hysteresis on off hysteresis_at full_scatter \
                 end_plateau rests_high",
        ),
        ("/coupling", "driven followed common"),
        ("/coupling/driven/0", "axis by shift noise_ratio largest"),
        ("/coupling/followed/0", "axis by scanned_before share correlation"),
        ("/coupling/common/left", "correlation rms cause"),
        (
            "/buttons/b0",
            "presses bounce_press_ms bounce_press_max_ms bounce_release_ms \
                 bounce_release_max_ms doubles window_ms stuck double_share dropouts closures \
                 blips idle_edges_per_hour edges_max longest_wrong_ms press_window_ms \
                 release_window_ms looked_every_ms by_edge_log",
        ),
        ("/findings/0", "code where severity evidence remedy caution"),
        ("/mapping", "axes sticks triggers smoothing"),
        ("/mapping/sticks/left", "x y least_magnitude"),
        (
            "/mapping/axes/lx",
            "distinct missing largest_step stalls monotonic ends_reached zero_codes",
        ),
    ];

    #[test]
    fn the_promised_keys_stand_in_the_promised_order() {
        let doc = parsed(&solve_json(&whole().report()));
        assert_eq!(
            keys(&doc).join(" "),
            "format source stream axes sticks triggers buttons intervals findings trim mapping \
             coupling tool"
        );
        assert_eq!(doc["tool"]["version"], json!(env!("CARGO_PKG_VERSION")));
        for &(place, names) in PROMISED {
            let found = doc.pointer(place).unwrap_or_else(|| panic!("{place} is missing"));
            assert_eq!(keys(found).join(" "), names, "{place}");
        }
        assert_eq!(doc["axes"]["lx"]["dead"], json!(12));
        assert_eq!(doc["sticks"]["left"]["inner_dead"], json!(16.0));
        assert_eq!(doc["triggers"]["lt"]["on"], json!(83));
        assert_eq!(doc["trim"]["axes"][0]["gain_neg"], json!(21_130));
    }

    #[test]
    fn every_interval_belongs_to_a_figure_and_holds_it() {
        let doc = parsed(&solve_json(&whole().report()));
        let intervals = doc["intervals"].as_object().expect("an object");
        assert!(intervals.len() > 60, "{}", intervals.len());
        for (path, row) in intervals {
            let at = format!("/{}", path.replace('.', "/"));
            let value = doc.pointer(&at).and_then(Value::as_f64).expect("a figure at its path");
            let row = row.as_array().expect("a row");
            assert_eq!(row.len(), 5, "{path}");
            assert!(row[0].as_f64() <= Some(value) && Some(value) <= row[1].as_f64(), "{path}");
        }
    }

    #[test]
    fn what_the_data_do_not_support_is_null_and_never_zero() {
        let mut built = healthy();
        built.survey.axes[0].noise_rms = no("rest");
        built.survey.sticks[0].centre[1] = no("releases");
        built.survey.stream.lost = no("counter");
        built.survey.buttons[1].window_ms = no("presses");
        built.survey.stream.clock_ppm = Ok(crate::measure::Reading {
            low: f64::NEG_INFINITY,
            high: f64::INFINITY,
            ..*built.survey.stream.clock_ppm.as_ref().expect("a ratio")
        });
        let mut whole = of(built);
        whole.solution.zones.clear();
        let doc = parsed(&solve_json(&whole.report()));
        for place in [
            "/axes/lx/noise_rms",
            "/sticks/left/centre/1",
            "/sticks/left/inner_dead",
            "/stream/lost",
            "/buttons/b1/window_ms",
            "/sticks/left/rotation_deg",
            "/triggers/rt/on",
            "/axes/rt/dead",
            "/intervals/stream.clock_ppm/0",
        ] {
            assert_eq!(doc.pointer(place), Some(&Value::Null), "{place}");
        }
        assert!(doc["intervals"].get("axes.lx.noise_rms").is_none());
        assert!(doc["stream"]["clock_ppm"].is_number());
    }

    #[test]
    fn hostile_text_stays_text_and_the_bytes_repeat() {
        let whole = hostile();
        let text = solve_json(&whole.report());
        assert_eq!(parsed(&text)["source"]["file"], json!(HOSTILE));
        assert_eq!(text, solve_json(&whole.report()));
        assert!(text.ends_with("}\n"));
    }
}
