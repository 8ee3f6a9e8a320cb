//! Triggers: their strokes laid over one another; and the travel of every input on one scale.
use super::{Axis, Bar, Bars, Chart, Dash, Ink, Item, Line, On};
use crate::measure::number;
use crate::rig::AxisId;
use crate::segment::Pull;
use crate::survey::{AxisFigures, Survey, TriggerFigures, value};
use crate::trim::Trim;

/// Points drawn of one stroke at most.
const POINTS: usize = 240;

/// One pull of a trigger from rest to full and back: seconds since it began, counts.
pub type Stroke = Vec<[f64; 2]>;

/// The strokes of a trigger's pulls: every so many-th row from the beginning of the pull to its end.
///
/// `codes` and `t_us`: the columns of the session. Pulls outside of them are left out. Cost: O(pulls).
pub fn strokes_of(pulls: &[Pull], codes: &[i32], t_us: &[u64]) -> Vec<Stroke> {
    let of = |pull: &Pull| -> Option<Stroke> {
        let rows = pull.up.first..pull.down.end;
        let (codes, t_us) = (codes.get(rows.clone())?, t_us.get(rows)?);
        let begun = *t_us.first()?;
        let step = codes.len().div_ceil(POINTS).max(1);
        let row =
            |(t, code): (&u64, &i32)| [t.saturating_sub(begun) as f64 * 1e-6, f64::from(*code)];
        Some(t_us.iter().zip(codes).step_by(step).map(row).collect())
    };
    pulls.iter().filter_map(of).collect()
}

/// Strokes laid over one another, with the levels of the trigger and where it counts as pressed.
pub fn strokes(trigger: &TriggerFigures, strokes: &[Stroke], trim: Option<&Trim>) -> Chart {
    let last = strokes.iter().filter_map(|s| s.last()).map(|p| p[0]).fold(0.0, f64::max);
    let levels = [value(&trigger.rest), value(&trigger.full)];
    let codes = strokes.iter().flatten().map(|p| p[1]).chain(levels.into_iter().flatten());
    let codes = codes.filter(|code| code.is_finite());
    let (low, high) =
        codes.fold((f64::INFINITY, 0.0), |(l, h): (f64, f64), c| (l.min(c), h.max(c)));
    let air = (high - low).max(1.0) * 0.06;
    let name = trigger.half.trigger().words();
    let mut chart = Chart::new(
        format!("Strokes, {name}"),
        Axis::new("time", "s", [0.0, last]),
        Axis::new("reading", "counts", [low - air, high + air]),
    );
    chart.words = format!("{} strokes of the {name} laid over one another", strokes.len());
    if strokes.is_empty() {
        chart.missing = Some("no pull was seen");
    }
    let (ink, dash) = (Ink::Trigger, Dash::of(trigger.half));
    for points in strokes.iter().cloned() {
        chart.items.push(Item::Line(Line { points, ink, dash, ..Line::default() }));
    }
    chart.mark(On::Y, levels[0], "", Ink::Soft, Dash::Dotted);
    chart.mark(On::Y, levels[1], "full", Ink::Soft, Dash::Dotted);
    if let Some(solved) = trim.and_then(|trim| trim.trigger(trigger.half)) {
        chart.mark(On::Y, Some(f64::from(solved.on)), "pressed from", Ink::Accent, Dash::Whole);
    }
    chart
}

/// Greatest code of a converter of so many bits.
pub fn full_scale(raw_bits: u8) -> f64 {
    (2f64.powi(i32::from(raw_bits.clamp(1, 31))) - 1.0).max(1.0)
}

/// Every input on the converter's scale, one a row: from its lowest to its highest reach, the dead zone
/// of the axis by itself, the centre or released level, where a trigger counts as pressed.
///
/// Cost: O(inputs).
pub fn travel(survey: &Survey, trim: &Trim) -> Chart {
    let rows = survey.axes.len();
    let row = |k: usize| (rows - k) as f64;
    let names = survey.axes.iter().enumerate().map(|(k, a)| (row(k), a.axis.words().to_owned()));
    let y = Axis { names: names.collect(), ..Axis::new("input", "", [0.4, rows as f64 + 0.6]) };
    let full = full_scale(survey.raw_bits);
    let mut chart =
        Chart::new("Travel of every input", Axis::new("raw code", "counts", [0.0, full]), y);
    for rail in [0.0, full] {
        chart.mark(On::X, Some(rail), "", Ink::Limit, Dash::Dashed);
    }
    for (k, axis) in survey.axes.iter().enumerate() {
        match axis.axis.is_trigger() {
            true => trigger_row(&mut chart, survey, trim, axis.axis, row(k)),
            false => axis_row(&mut chart, trim, axis, row(k)),
        }
    }
    chart
}

/// A bar from one code to another about a row.
fn stretch(chart: &mut Chart, codes: [f64; 2], y: f64, tall: f64, ink: Ink, words: String) {
    let x = [codes[0].min(codes[1]), codes[0].max(codes[1])];
    if x.iter().all(|v| v.is_finite()) {
        let bar = Bar { x, y: [y - tall, y + tall], words };
        chart.items.push(Item::Bars(Bars { bars: vec![bar], ink }));
    }
}

/// A short upright tick in a row.
fn tick(chart: &mut Chart, code: f64, y: f64, tall: f64) {
    let points = vec![[code, y - tall], [code, y + tall]];
    chart.items.push(Item::Line(Line { points, round: true, ..Line::default() }));
}

fn axis_row(chart: &mut Chart, trim: &Trim, axis: &AxisFigures, y: f64) {
    let name = axis.axis.words();
    if let Some((low, high)) = value(&axis.low).zip(value(&axis.high)) {
        let words = format!("{name}: {} to {} counts", number(low, 0), number(high, 0));
        stretch(chart, [low, high], y, 0.1, Ink::of(axis.axis), words);
    }
    if let Some(solved) = trim.axis(axis.axis) {
        let (middle, dead) = (f64::from(solved.centre), f64::from(solved.dead));
        let words = format!("{name}: dead zone {} ± {} counts", solved.centre, solved.dead);
        stretch(chart, [middle - dead, middle + dead], y, 0.17, Ink::Accent, words);
    }
    if let Some(centre) = value(&axis.centre).or(value(&axis.rest)) {
        tick(chart, centre, y, 0.3);
    }
}

fn trigger_row(chart: &mut Chart, survey: &Survey, trim: &Trim, axis: AxisId, y: f64) {
    let Some(trigger) = survey.trigger(axis.half()) else { return };
    let Some((rest, full)) = value(&trigger.rest).zip(value(&trigger.full)) else { return };
    let words = format!("{}: {} to {} counts", axis.words(), number(rest, 0), number(full, 0));
    stretch(chart, [rest, full], y, 0.1, Ink::Trigger, words);
    if let Some(solved) = trim.trigger(axis.half()) {
        let from = f64::from(solved.rest);
        let end = from + f64::from(solved.sign) * f64::from(solved.dead);
        let words = format!("{}: dead zone {} counts", axis.words(), solved.dead);
        stretch(chart, [from, end], y, 0.17, Ink::Accent, words);
        tick(chart, f64::from(solved.on), y, 0.22);
        tick(chart, f64::from(solved.off), y, 0.22);
    }
    tick(chart, rest, y, 0.3);
}
