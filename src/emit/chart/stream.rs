//! The stream: how the intervals between frames spread.
use super::{Axis, Bar, Bars, Chart, Dash, Ink, Item, On};
use crate::measure::{Measured, number};
use crate::survey::{StreamFigures, value};

/// From the 1st to the 99th percentile of the interval with its median and longest, ms; a limit as a
/// ratio to the median. `None` without a clock.
pub fn intervals(stream: &StreamFigures, limit_ratio: Option<f64>) -> Option<Chart> {
    let ms = |figure: &Measured| value(figure).map(|us| us * 1e-3).filter(|ms| ms.is_finite());
    let (median, p01) = (ms(&stream.interval_median_us)?, ms(&stream.interval_p01_us)?);
    let (p99, max) = (ms(&stream.interval_p99_us)?, ms(&stream.interval_max_us)?);
    let limit = limit_ratio.map(|ratio| ratio * median);
    // A single stall of seconds must not shrink the rest to a line.
    let top = (1.6 * median).max(1.2 * p99).max(limit.unwrap_or(0.0) * 1.1);
    if !(top > 0.0 && top.is_finite()) {
        return None;
    }
    let x = Axis::new("interval", "ms", [0.0, top]);
    let mut chart =
        Chart::new("Spread of the interval between frames", x, Axis::new("", "", [0.0, 1.0]));
    let [low, high] = [p01, p99].map(|v| number(v, 3));
    let words = format!("98 of 100 intervals take {low} to {high} ms");
    let bar = Bar { x: [p01, p99.max(p01 + top * 2e-3)], y: [0.4, 0.6], words };
    chart.items.push(Item::Bars(Bars { bars: vec![bar], ink: Ink::Main }));
    chart.mark(On::X, Some(median), "", Ink::Main, Dash::Whole);
    chart.mark(On::X, limit, "limit", Ink::Limit, Dash::Dashed);
    chart.mark(On::X, Some(max).filter(|max| *max <= top), "longest", Ink::Soft, Dash::Dotted);
    if max > top {
        let label = format!("longest {}\u{a0}ms →", number(max, 1));
        chart.mark(On::X, Some(top), &label, Ink::Soft, Dash::Dotted);
    }
    Some(chart)
}
