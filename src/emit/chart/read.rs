//! What a chart says at a place that is pointed at: the bar, the point or the lines there, in words.
use super::{Bars, Chart, Item, Line, Points};

/// What stands at a place.
#[derive(Clone, Debug, PartialEq)]
pub struct Read {
    /// In words, with units.
    pub words: String,
    /// The values that are meant, x and y; none for a bar.
    pub at: Vec<[f64; 2]>,
}

impl Chart {
    /// What stands at `at` (values of both axes): the bar there, else the point that is nearest within
    /// `near` (along each axis, as places), else the lines at that x. `None` where nothing does.
    ///
    /// Cost: O(items + points + bars + lines · log of their points).
    pub fn read(&self, at: [f64; 2], near: [f64; 2]) -> Option<Read> {
        let uppermost = || self.items.iter().rev();
        let bar = uppermost().find_map(|item| match item {
            Item::Bars(bars) => bar_at(bars, at),
            _ => None,
        });
        let point = || {
            uppermost().find_map(|item| match item {
                Item::Points(points) => self.point_at(points, at, near),
                _ => None,
            })
        };
        bar.or_else(point).or_else(|| self.lines_at(at))
    }

    fn point_at(&self, points: &Points, at: [f64; 2], near: [f64; 2]) -> Option<Read> {
        let away = |p: &[f64; 2]| {
            let x = (self.x.place(p[0]) - self.x.place(at[0])) / near[0];
            let y = (self.y.place(p[1]) - self.y.place(at[1])) / near[1];
            x.hypot(y)
        };
        let near = points.at.iter().enumerate().filter(|(_, p)| away(p) <= 1.0);
        let (k, found) = near.min_by(|a, b| away(a.1).total_cmp(&away(b.1)))?;
        let values = || format!("{}: {}", self.x.text(found[0]), self.y.text(found[1]));
        let words = points.words.get(k).cloned().unwrap_or_else(values);
        Some(Read { words, at: vec![*found] })
    }

    /// Every line that has a name, and the nearest of those that have none.
    fn lines_at(&self, [x, y]: [f64; 2]) -> Option<Read> {
        let lines = self.items.iter().filter_map(|item| match item {
            Item::Line(line) => Some((line, line_at(line, x, &self.x)?)),
            _ => None,
        });
        let (named, plain): (Vec<_>, Vec<_>) = lines.partition(|(line, _)| !line.name.is_empty());
        let away = |at: [f64; 2]| (self.y.place(at[1]) - self.y.place(y)).abs();
        let nearest = plain.into_iter().min_by(|a, b| away(a.1).total_cmp(&away(b.1)));
        let found: Vec<(&Line, [f64; 2])> = nearest.into_iter().chain(named).collect();
        let (_, first) = found.first()?;
        let values: Vec<String> = found
            .iter()
            .map(|(line, at)| match line.name.as_str() {
                "" => self.y.text(at[1]),
                name => format!("{name} {}", self.y.text(at[1])),
            })
            .collect();
        let words = format!("{}: {}", self.x.text(first[0]), values.join(", "));
        Some(Read { words, at: found.iter().map(|(_, at)| *at).collect() })
    }
}

fn bar_at(bars: &Bars, [x, y]: [f64; 2]) -> Option<Read> {
    // Low bars are pointed at above their head as well.
    let over = |bar: &&super::Bar| (bar.x[0]..bar.x[1]).contains(&x);
    let lying = |bar: &&super::Bar| (bar.y[0]..bar.y[1]).contains(&y);
    let one_row = bars.bars.iter().all(|bar| bar.y[0] == 0.0);
    let bar = bars.bars.iter().find(|bar| if one_row { over(bar) } else { lying(bar) })?;
    Some(Read { words: bar.words.clone(), at: Vec::new() })
}

/// The finite point of a line nearest to an x within its ends.
fn line_at(line: &Line, x: f64, axis: &super::Axis) -> Option<[f64; 2]> {
    let (first, last) = (line.points.first()?, line.points.last()?);
    if line.round || !(first[0]..=last[0]).contains(&x) {
        return None;
    }
    let after = line.points.partition_point(|p| p[0] < x);
    let beside = [after.checked_sub(1), Some(after)];
    let nearest =
        beside.into_iter().flatten().filter_map(|k| line.points.get(k)).min_by(|a, b| {
            let away = |p: &[f64; 2]| (axis.place(p[0]) - axis.place(x)).abs();
            away(a).total_cmp(&away(b))
        })?;
    nearest.iter().all(|v| v.is_finite()).then_some(*nearest)
}
