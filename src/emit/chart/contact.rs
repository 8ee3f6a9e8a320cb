//! A contact: bounce of both edges as sampled and at most; its episodes by length.
use super::{Axis, Bar, Bars, Chart, Dash, Ink, Item, On};
use crate::measure::{Measured, number};
use crate::survey::{ButtonFigures, value};

/// Right end of the bounce of every button, ms: they stand under one another.
pub const BOUNCE_MS: f64 = 25.0;

/// Bounce of press (above) and release, ms: thick as sampled, thin at most; the limit of a good contact.
pub fn bounce(button: &ButtonFigures, limit_ms: Option<f64>) -> Chart {
    let x = Axis::new("bounce", "ms", [0.0, BOUNCE_MS]);
    let mut chart = Chart::new(
        format!("Bounce of press and release, b{}", button.index),
        x,
        Axis::new("press and release", "", [0.0, 2.0]),
    );
    chart.y.names = vec![(1.4, "press".to_owned()), (0.5, "release".to_owned())];
    let edges = [
        ("press", 1.4, &button.bounce_press_ms, &button.bounce_press_max_ms),
        ("release", 0.5, &button.bounce_release_ms, &button.bounce_release_max_ms),
    ];
    let mut bars = Vec::new();
    for (name, row, seen, most) in edges {
        let shown = |m: &Measured| value(m).map_or("–".to_owned(), |ms| number(ms, 2));
        let words = format!("{name}: {} ms as sampled, at most {} ms", shown(seen), shown(most));
        let bar = |figure: &Measured, half: f64| {
            let ms = value(figure).filter(|ms| ms.is_finite())?.clamp(0.0, BOUNCE_MS);
            Some(Bar { x: [0.0, ms], y: [row - half, row + half], words: words.clone() })
        };
        bars.extend(bar(most, 0.06).into_iter().chain(bar(seen, 0.25)));
    }
    chart.items.push(Item::Bars(Bars { bars, ink: Ink::Main }));
    chart.mark(On::X, limit_ms, "", Ink::Limit, Dash::Dashed);
    chart
}

/// Bounce episodes of one button by length as sampled, a bar a millisecond (the last: longer ones too),
/// with the window that is proposed.
///
/// Cost: O(episodes).
pub fn episodes(name: &str, lengths_ms: &[f64], window_ms: Option<f64>) -> Chart {
    let most = lengths_ms.iter().copied().filter(|ms| ms.is_finite()).fold(0.0, f64::max);
    let last = most.ceil().clamp(4.0, 24.0) as usize;
    let mut counts = vec![0u64; last + 1];
    for ms in lengths_ms.iter().filter(|ms| **ms >= 0.0) {
        counts[(*ms as usize).min(last)] += 1;
    }
    let highest = counts.iter().copied().max().unwrap_or(0).max(1);
    let end = (last + 1) as f64;
    let end = window_ms.filter(|w| *w < 2.0 * end).map_or(end, |w| end.max(w * 1.08));
    let x = Axis::new("length as sampled", "ms", [0.0, end]);
    let y = Axis::new("episodes", "", [0.0, highest as f64 * 1.15]);
    let mut chart = Chart::new(format!("Bounce episodes by length in milliseconds, {name}"), x, y);
    let bar = |(k, n): (usize, u64)| {
        let length =
            if k == last { format!("{k} ms or more") } else { format!("{k} to {} ms", k + 1) };
        let x = [k as f64, (k + 1) as f64];
        Bar { x, y: [0.0, n as f64], words: format!("{length}: {n} episodes") }
    };
    let bars = counts.into_iter().enumerate().map(bar).collect();
    chart.items.push(Item::Bars(Bars { bars, ink: Ink::Main }));
    chart.mark(On::X, window_ms.filter(|w| *w <= end), "window", Ink::Accent, Dash::Whole);
    chart
}
