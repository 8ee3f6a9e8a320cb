//! The JSON of a solved session, format 1. Keys are added, never renamed.
//!
//! ```text
//! format        1
//! source        file sha256 of (file link) bytes inputs frames duration_s time (board arrival stated
//!               none) rate_hz
//! damage        [{kind what line lines byte time_s rows undone}]: damaged places of the recording, and how
//!               many rows each cost; empty for a whole one
//! columns       [{field name role guessed base scale range[low high] processed use (used still runs-on
//!               other-unit leaps further moves) why}]: every column of a line as it was read
//! stream        lost lost_in_file malformed duplicated resets interval_us{median p01 p99 max p95} clock_ppm
//!               stale{left right} jitter_us half_skew_ms loss_runs{runs longest mean bursts}
//!               lines{frame heading blank edge comment reply foreign damaged cut suspect}: every line
//! axes.<axis>   rest centre dead noise_rms noise_with_lines noise_pp noise_free_bits lines[{hz amplitude}]
//!               drift_per_min low high clipped effective_bits noise_free_steps
//!               warm_up{rise tau_s} allan[{tau_s deviation low high}] odd_codes[{code width}]
//! sticks.<half> centre[x y] releases scatter hysteresis[x y] inner_dead outer_reach roundness
//!               mzci orthogonality_deg rotation_deg coverage shape{form corners corner_deg level}
//!               deficits[{from_deg to_deg depth}] direction_difference overshoot settling_ms
//!               press_shift[x y]
//! triggers.<t>  rest full rest_scatter reversal hysteresis on off hysteresis_at[¼ ½ ¾]
//!               full_scatter end_plateau rests_high pulls
//! buttons.<b>   presses bounce_press_ms bounce_press_max_ms bounce_release_ms
//!               bounce_release_max_ms doubles window_ms stuck double_share dropouts closures blips
//!               idle_edges_per_hour edges_max[press release] longest_wrong_ms[press release]
//!               press_window_ms release_window_ms looked_every_ms by_edge_log
//! coupling      driven[{axis by shift noise_ratio largest}]
//!               followed[{axis by scanned_before share correlation}]
//!               common{left right}{correlation rms cause}
//! judgements    path of a figure with a limit → {judgement: good | missed | undecided, more}: more = about
//!               how many more items decide it
//! intervals     path of a figure → [low, high, n, t0_us, t1_us]; elements of pairs are .0 and .1
//! findings      [{code where severity evidence remedy caution}]
//! trim          the constants, every field
//! mapping       axes, sticks.<half>.{x y least_magnitude}, triggers: distinct missing largest_step
//!               stalls monotonic ends_reached zero_codes[first last]; smoothing.<input>{shift
//!               residue rise_scans}: from the firmware's arithmetic over every raw code
//! tool          name version
//! ```
//! Axes, sticks and triggers also carry guessed: which column it is comes from their order alone.
//! A figure that the data do not support is null, and a finding says what is missing; so is an
//! end of an interval that the method does not give. Parts that the stream does not carry have no
//! key. Levels are raw converter counts, shares are of one, times are unwrapped board time.
use serde_json::{Map, Value, json};

use super::parts::{self, allan, deficits, loss_runs, odd_codes, shape};
use crate::emit::Report;
use crate::emit::origin::damage;
use crate::session::TimeSource;
use crate::survey::catalogue::{Entry, Figure, Judgement};
use crate::wire::Role;

/// The whole document, indented, with a line feed at its end. Same input, same bytes.
pub fn solve_json(report: &Report<'_>) -> String {
    let (survey, solution) = (report.survey, report.solution);
    let origin = &report.facts.origin;
    let mut document = json!({
        "format": 1,
        "source": {
            "file": origin.source,
            "sha256": origin.sha256,
            "of": origin.of,
            "bytes": origin.bytes,
            "inputs": origin.inputs,
            "frames": survey.frames,
            "duration_s": survey.duration_s,
            "time": survey.time_source.key(),
        },
        "damage": damage(origin),
        "columns": parts::columns(&report.facts.columns),
        "stream": {},
        "axes": {},
        "sticks": {},
        "triggers": {},
        "buttons": {},
        "intervals": {},
        "judgements": {},
        "findings": findings(report),
        "trim": serde_json::to_value(&solution.trim).unwrap_or(Value::Null),
        "mapping": super::mapping::mapping(&solution.trim),
        "coupling": parts::coupling(survey),
        "tool": crate::emit::meta::tool(),
    });
    // The stretch of a reading is null where nothing tells the time.
    let timed = survey.time_source != TimeSource::Assumed;
    let (mut intervals, mut judgements) = (Map::new(), Map::new());
    for entry in report.entries() {
        put(&mut document, &entry.path, value(&entry));
        // Ends that are not finite become null in JSON.
        if let Some(r) = entry.figure.reading().filter(|r| r.value.is_finite()) {
            let [start, end] = [r.span.start_us, r.span.end_us].map(|us| timed.then_some(us));
            let interval = json!([r.low, r.high, r.n, start, end]);
            intervals.insert(entry.path.clone(), interval);
        }
        if let Some(judged) = &entry.judged {
            judgements.insert(entry.path, judgement(judged.judgement));
        }
    }
    document["intervals"] = Value::Object(intervals);
    document["judgements"] = Value::Object(judgements);
    by_hand(report, &mut document);
    format!("{document:#}\n")
}

fn judgement(judgement: Judgement) -> Value {
    match judgement {
        Judgement::Undecided { more } => json!({"judgement": judgement.key(), "more": more}),
        Judgement::Good | Judgement::Missed(_) => json!({"judgement": judgement.key()}),
    }
}

/// A figure that the data do not support is null, never 0.
fn value(entry: &Entry<'_>) -> Value {
    match entry.figure {
        Figure::Count(count) => count.ok().into(),
        Figure::Flag(flag) => flag.into(),
        Figure::Code(code) => code.into(),
        other => other.value().filter(|v| v.is_finite()).into(),
    }
}

/// Puts a value at a path; a step of digits is an index into a list.
fn put(document: &mut Value, path: &str, value: Value) {
    let mut at = document;
    for step in path.split('.') {
        let index = step.parse::<usize>().ok().filter(|_| !at.is_object());
        if at.is_null() {
            *at = if index.is_some() { json!([]) } else { json!({}) };
        }
        at = match (at, index) {
            (Value::Array(list), Some(index)) => {
                while list.len() <= index {
                    list.push(Value::Null);
                }
                &mut list[index]
            }
            (Value::Object(map), _) => map.entry(step).or_insert(Value::Null),
            // Two rows cannot want one place: a test of the catalogue holds that.
            _ => return,
        };
    }
    *at = value;
}

/// What is no figure: lists, classes.
fn by_hand(report: &Report<'_>, document: &mut Value) {
    let survey = report.survey;
    document["stream"]["loss_runs"] = loss_runs(&survey.stream);
    document["stream"]["lines"] = parts::lines(survey.frames, &report.facts.lines);
    let guessed = |roles: [Role; 2]| {
        let columns = &report.facts.columns;
        columns.iter().any(|column| column.guessed && roles.contains(&column.role))
    };
    for a in &survey.axes {
        let axis = &mut document["axes"][a.axis.key()];
        axis["guessed"] = guessed([Role::Axis(a.axis); 2]).into();
        let lines = a.lines.iter().map(|l| json!({"hz": l.hz, "amplitude": l.amplitude}));
        axis["lines"] = lines.collect();
        axis["allan"] = a.allan.iter().map(allan).collect();
        axis["odd_codes"] = a.odd_codes.as_ref().ok().map(|codes| odd_codes(codes)).into();
    }
    for s in &survey.sticks {
        let stick = &mut document["sticks"][s.half.key()];
        stick["guessed"] = guessed(s.half.stick().map(Role::Axis)).into();
        stick["shape"] = s.shape.as_ref().ok().map(shape).into();
        stick["deficits"] = s.shape.as_ref().ok().map(|_| deficits(&s.deficits)).into();
    }
    for t in &survey.triggers {
        let trigger = Role::Axis(t.half.trigger());
        document["triggers"][t.half.trigger().key()]["guessed"] = guessed([trigger; 2]).into();
    }
}

fn findings(report: &Report<'_>) -> Vec<Value> {
    report
        .findings
        .iter()
        .map(|f| {
            json!({
                "code": f.code.key(),
                "where": f.place.key(),
                "severity": f.severity.word(),
                "evidence": f.evidence,
                "remedy": f.remedy,
                "caution": f.caution,
            })
        })
        .collect()
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
        ("/source", "file sha256 of bytes inputs frames duration_s time rate_hz"),
        ("/damage/0", "kind what line lines byte time_s rows undone"),
        ("/columns/0", "field name role guessed base scale range processed use why"),
        (
            "/stream",
            "interval_us lost lost_in_file malformed duplicated resets clock_ppm jitter_us stale half_skew_ms \
                 loss_runs lines",
        ),
        ("/stream/lines", "frame heading blank edge comment reply foreign damaged cut suspect"),
        ("/stream/interval_us", "median p01 p95 p99 max"),
        ("/stream/loss_runs", "runs longest mean bursts"),
        ("/stream/stale", "left right"),
        ("/axes", "lx ly rx ry lt rt"),
        (
            "/axes/lx",
            "rest noise_rms noise_with_lines noise_pp noise_free_bits effective_bits noise_free_steps \
                 drift_per_min warm_up low high clipped centre dead guessed lines allan odd_codes",
        ),
        ("/axes/lx/allan/0", "tau_s deviation low high"),
        ("/axes/lx/lines/0", "hz amplitude"),
        (
            "/sticks/left",
            "centre scatter hysteresis outer_reach roundness mzci orthogonality_deg rotation_deg \
                 coverage direction_difference overshoot settling_ms press_shift releases \
                 inner_dead guessed shape deficits",
        ),
        ("/sticks/left/shape", "form corners corner_deg level"),
        (
            "/triggers/lt",
            "rest full rest_scatter reversal hysteresis hysteresis_at full_scatter end_plateau \
                 rests_high pulls on off guessed",
        ),
        ("/coupling", "driven followed common"),
        ("/coupling/driven/0", "axis by shift noise_ratio largest"),
        ("/coupling/followed/0", "axis by scanned_before share correlation"),
        ("/coupling/common/left", "cause correlation rms"),
        (
            "/buttons/b0",
            "presses bounce_press_ms bounce_press_max_ms bounce_release_ms \
                 bounce_release_max_ms doubles double_share dropouts closures blips \
                 idle_edges_per_hour edges_max longest_wrong_ms press_window_ms release_window_ms \
                 window_ms stuck looked_every_ms by_edge_log",
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
            "format source damage columns stream axes sticks triggers buttons intervals judgements findings trim \
             mapping coupling tool"
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
