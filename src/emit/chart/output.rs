//! What the firmware makes of a reading: raw code to output, and noise against lag of a smoothing.
use super::{Axis, Chart, Dash, Ink, Item, Line, Points, Scale};
use crate::measure::number;
use crate::rig::AxisId;
use crate::trim::{Trim, apply};

/// Codes that are run through the firmware's arithmetic at most.
const MOST_CODES: u32 = 1024;
/// Up to so many codes each has a tread of its own.
const TREADS: u32 = 400;

/// One input in a picture of outputs.
pub struct Output {
    /// Which.
    pub axis: AxisId,
    /// The firmware's arithmetic.
    pub run: Box<dyn Fn(u16) -> i16>,
}

impl Output {
    /// The firmware's arithmetic of one input; a stick's other axis stands at its centre. `None` where
    /// the input is not solved.
    pub fn of(trim: &Trim, axis: AxisId) -> Option<Output> {
        let half = axis.half();
        if axis.is_trigger() {
            let trigger = apply::Trigger::of(trim, half)?;
            return Some(Output { axis, run: Box::new(move |raw| trigger.run(raw)) });
        }
        let stick = apply::Stick::of(trim, half)?;
        let [x, y] = half.stick();
        let [rest_x, rest_y] = [x, y].map(|a| trim.axis(a).map_or(0, |t| t.centre));
        let run: Box<dyn Fn(u16) -> i16> = if axis == x {
            Box::new(move |raw| stick.run(raw, rest_y).0)
        } else {
            Box::new(move |raw| stick.run(rest_x, raw).1)
        };
        Some(Output { axis, run })
    }
}

/// Raw code to output over `codes` (first and last), exactly as the firmware computes it.
///
/// Every code of a short range; of a long one equal steps of them, each exact. Cost: at most 1 025 runs
/// of the arithmetic an input.
pub fn output(title: String, inputs: &[Output], codes: [u16; 2]) -> Chart {
    let [first, last] = codes.map(u32::from);
    let step = (last.saturating_sub(first)).div_ceil(MOST_CODES).max(1);
    let mut chart = Chart::new(
        title,
        Axis::new("raw code", "counts", [f64::from(first), f64::from(last)]),
        Axis::new("output", "", [0.0, 1.0]),
    );
    let (mut low, mut high) = (i16::MAX, i16::MIN);
    for input in inputs {
        let all = (first..=last).step_by(step as usize);
        let all = all.chain((!(last - first).is_multiple_of(step)).then_some(last));
        let outputs: Vec<(u32, i16)> = all.map(|code| (code, (input.run)(code as u16))).collect();
        low = outputs.iter().map(|o| o.1).fold(low, i16::min);
        high = outputs.iter().map(|o| o.1).fold(high, i16::max);
        let points = outputs.iter().map(|&(code, out)| [f64::from(code), f64::from(out)]).collect();
        let name = if inputs.len() > 1 { input.axis.words().to_owned() } else { String::new() };
        let ink = if inputs.len() > 1 { Ink::of(input.axis) } else { Ink::Main };
        let dash = Dash::of(input.axis.half());
        let treads = last - first <= TREADS;
        chart.items.push(Item::Line(Line { name, points, ink, dash, treads, round: false }));
    }
    if low <= high {
        chart.y = output_axis(low, high);
    }
    chart
}

/// Round shares of full output for the whole, round numbers near the rest; a little air at both ends.
fn output_axis(low: i16, high: i16) -> Axis {
    let (low, high) = (f64::from(low), f64::from(high).max(f64::from(low) + 1.0));
    let air = (high - low) * 0.03;
    let axis = Axis::new("output", "", [low - air, high + air]);
    if high < 32767.0 {
        return axis;
    }
    let whole = [-32767.0, -16384.0, 0.0, 16384.0, 32767.0];
    Axis { names: whole.map(|v| (v, number(v, 0))).to_vec(), ..axis }
}

/// One strength of smoothing.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Shift {
    /// What it delays, ms.
    pub lag_ms: f64,
    /// Noise that is left, counts rms.
    pub noise: f64,
}

/// Noise left over lag, one point a strength (the first: none), `chosen` among them.
///
/// Lags double from one to the next: they are laid out by their square root. Cost: O(shifts).
pub fn lag(axis: AxisId, shifts: &[Shift], chosen: usize) -> Chart {
    let most = shifts.iter().map(|s| s.noise).filter(|n| n.is_finite()).fold(0.1, f64::max);
    let last = shifts.last().map_or(1.0, |s| s.lag_ms);
    let names = shifts.iter().map(|s| (s.lag_ms, number(s.lag_ms, 0))).collect();
    let x = Axis { scale: Scale::Root, names, ..Axis::new("lag", "ms", [0.0, last * 1.3]) };
    let y = Axis::new("noise", "counts rms", [0.0, most * 1.25]);
    let mut chart = Chart::new(format!("Noise over lag of {}", axis.words()), x, y);
    let now = shifts.get(chosen).or(shifts.last());
    chart.words = now.map_or(chart.title.clone(), |now| {
        let (noise, lag) = (number(now.noise, 2), number(now.lag_ms, 1));
        format!("{}: {noise} counts and {lag} ms now", chart.title)
    });
    let at: Vec<[f64; 2]> = shifts.iter().map(|s| [s.lag_ms, s.noise]).collect();
    let names: Vec<String> =
        (0..at.len()).map(|k| if k == 0 { "none".to_owned() } else { format!("k {k}") }).collect();
    chart.items.push(Item::Line(Line { points: at.clone(), ..Line::default() }));
    let there = at.get(chosen).copied().into_iter().collect();
    chart.items.push(Item::Points(Points { at, names, ..Points::default() }));
    let ink = Ink::Accent;
    chart.items.push(Item::Points(Points { at: there, ink, large: true, ..Points::default() }));
    chart
}
