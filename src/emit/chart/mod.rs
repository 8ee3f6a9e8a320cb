//! Small pictures described once as plain data: axes, items, inks. Painted as SVG or by the window.
//!
//! A [`Chart`] knows no colour, no pixel and no painter. Values are in the units of its axes; what is
//! not finite breaks a line and is never drawn. The functions beside it are pure: what was measured or
//! solved in, a chart out.
mod contact;
mod noise;
mod output;
mod read;
mod stick;
mod stream;
mod svg;
mod ticks;
mod trigger;
mod zone;

pub use contact::{bounce, episodes};
pub use noise::{Density, allan, histogram, in_quiet_rest, spectrum, strongest};
pub use output::{Output, Shift, lag, output};
pub use read::Read;
pub use stick::{outline, reach, rests};
pub use stream::intervals;
pub use svg::svg;
pub use ticks::round_step;
pub use trigger::{Stroke, full_scale, strokes, strokes_of, travel};
pub use zone::{LEAST_LEAK, leak};

use crate::rig::{AxisId, Half};

/// A small picture.
#[derive(Clone, Debug, PartialEq)]
pub struct Chart {
    /// What it shows, of what: "Reach by direction, left stick". No two on a page share it.
    pub title: String,
    /// What it says, for who cannot see it.
    pub words: String,
    /// Horizontal axis, values to the right.
    pub x: Axis,
    /// Vertical axis, values upward.
    pub y: Axis,
    /// Both axes share a unit: one unit is as long in x as in y.
    pub square: bool,
    /// What is drawn, the lowest first.
    pub items: Vec<Item>,
    /// Said in the middle of the picture where there is nothing to draw.
    pub missing: Option<&'static str>,
}

/// One axis of a chart.
#[derive(Clone, Debug, PartialEq)]
pub struct Axis {
    /// What stands on it: "deviation"; empty = no numbers and no caption.
    pub label: String,
    /// Unit: "counts", "%", "°"; empty for plain numbers.
    pub unit: &'static str,
    /// Values at its ends, finite, the lesser first.
    pub range: [f64; 2],
    /// How values are laid along it.
    pub scale: Scale,
    /// Places with names of their own in place of round numbers.
    pub names: Vec<(f64, String)>,
    /// The same places in another unit, which is in proportion.
    pub also: Option<Also>,
}

/// A second unit of an axis.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Also {
    /// What one unit of the axis is in this one.
    pub factor: f64,
    /// "% of travel".
    pub unit: &'static str,
}

/// How values are laid along an axis.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Scale {
    /// Equal steps, equal lengths.
    #[default]
    Linear,
    /// Equal ratios, equal lengths; values above zero only.
    Log,
    /// By the square root, for values that double from one to the next; from zero up.
    Root,
}

/// What a thing means; a painter knows its colour.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Ink {
    /// The main curve.
    #[default]
    Main,
    /// What stands beside it.
    Soft,
    /// A band behind a curve.
    Faint,
    /// What is chosen or proposed.
    Accent,
    /// A limit.
    Limit,
    /// Horizontal axis of a stick.
    X,
    /// Vertical axis of a stick.
    Y,
    /// A trigger.
    Trigger,
}

impl Ink {
    /// The ink of an axis' data.
    pub fn of(axis: AxisId) -> Ink {
        match axis {
            AxisId::Lx | AxisId::Rx => Ink::X,
            AxisId::Ly | AxisId::Ry => Ink::Y,
            AxisId::Lt | AxisId::Rt => Ink::Trigger,
        }
    }
}

/// How a line is drawn.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Dash {
    /// Whole.
    #[default]
    Whole,
    /// In dashes: the right half, or a limit.
    Dashed,
    /// In dots: a floor.
    Dotted,
}

impl Dash {
    /// Halves share their inks: the right one is dashed.
    pub fn of(half: Half) -> Dash {
        match half {
            Half::Left => Dash::Whole,
            Half::Right => Dash::Dashed,
        }
    }
}

/// Something drawn.
#[derive(Clone, Debug, PartialEq)]
pub enum Item {
    /// A line.
    Line(Line),
    /// A filled band.
    Band(Band),
    /// Points.
    Points(Points),
    /// A line across the whole picture.
    Mark(Mark),
    /// Bars, steps of a histogram.
    Bars(Bars),
    /// A circle.
    Circle(Circle),
}

/// A line through points, broken where one is not finite.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Line {
    /// Whose; empty where the chart has one line.
    pub name: String,
    /// x, y; x ascending where the line is to be read off.
    pub points: Vec<[f64; 2]>,
    /// Its ink.
    pub ink: Ink,
    /// How it is drawn.
    pub dash: Dash,
    /// A whole number at each x holds from half a step before to half a step behind.
    pub treads: bool,
    /// x does not ascend: it runs round, and is not read off.
    pub round: bool,
}

/// A band between two heights at each place, broken where one is not finite.
#[derive(Clone, Debug, PartialEq)]
pub struct Band {
    /// x, lower and upper y.
    pub places: Vec<[f64; 3]>,
    /// Its ink.
    pub ink: Ink,
}

/// Points, each for itself.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Points {
    /// x, y.
    pub at: Vec<[f64; 2]>,
    /// A short tail from each, degrees counter-clockwise from the right; empty = none.
    pub tails_deg: Vec<f64>,
    /// What each is called, said when it is pointed at; empty = by its values.
    pub words: Vec<String>,
    /// A name drawn beside each; empty = none.
    pub names: Vec<String>,
    /// Their ink.
    pub ink: Ink,
    /// Larger than usual.
    pub large: bool,
}

/// A line across the whole picture.
#[derive(Clone, Debug, PartialEq)]
pub struct Mark {
    /// On which axis its place is.
    pub on: On,
    /// Where.
    pub at: f64,
    /// What it is: "limit"; empty = nothing is written beside it.
    pub label: String,
    /// Its ink.
    pub ink: Ink,
    /// How it is drawn.
    pub dash: Dash,
}

/// An axis of a chart.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum On {
    /// The horizontal one: the mark stands upright.
    X,
    /// The vertical one: the mark lies.
    Y,
}

/// Filled rectangles.
#[derive(Clone, Debug, PartialEq)]
pub struct Bars {
    /// Each.
    pub bars: Vec<Bar>,
    /// Their ink.
    pub ink: Ink,
}

/// One bar.
#[derive(Clone, Debug, PartialEq)]
pub struct Bar {
    /// Left and right.
    pub x: [f64; 2],
    /// Lower and upper.
    pub y: [f64; 2],
    /// What it says when it is pointed at.
    pub words: String,
}

/// A circle in the unit that both axes share.
#[derive(Clone, Debug, PartialEq)]
pub struct Circle {
    /// Its middle.
    pub centre: [f64; 2],
    /// Its radius.
    pub radius: f64,
    /// Its ink.
    pub ink: Ink,
    /// How its line is drawn.
    pub dash: Dash,
    /// Filled with a wash of its ink.
    pub filled: bool,
}

impl Chart {
    /// An empty chart.
    pub fn new(title: impl Into<String>, x: Axis, y: Axis) -> Chart {
        let title = title.into();
        let words = title.clone();
        Chart { title, words, x, y, square: false, items: Vec::new(), missing: None }
    }

    /// Adds a line across the picture; nothing where its place is not finite.
    pub fn mark(&mut self, on: On, at: Option<f64>, label: &str, ink: Ink, dash: Dash) {
        if let Some(at) = at.filter(|at| at.is_finite()) {
            self.items.push(Item::Mark(Mark { on, at, label: label.to_owned(), ink, dash }));
        }
    }

    /// What its axes show, in one line: "noise, counts rms over lag, ms". A unit that stands at every
    /// tick is not said again.
    pub fn caption(&self) -> String {
        let named = |axis: &Axis| match axis.unit {
            "%" | "°" => axis.label.clone(),
            _ => axis.named(),
        };
        match (self.x.label.as_str(), self.y.label.as_str()) {
            (x, y) if self.square => format!("{x} and {y}, {}", self.x.unit),
            (_, "") => named(&self.x),
            ("", _) => named(&self.y),
            _ => format!("{} over {}", named(&self.y), named(&self.x)),
        }
    }
}

impl Axis {
    /// An axis of equal steps. A range that is empty, turned round or not finite is widened to one that
    /// can be drawn.
    pub fn new(label: &str, unit: &'static str, range: [f64; 2]) -> Axis {
        let [low, high] = range.map(|v| if v.is_finite() { v } else { 0.0 });
        let range = if low < high { [low, high] } else { [low.min(high), low.max(high) + 1.0] };
        let label = label.to_owned();
        Axis { label, unit, range, scale: Scale::Linear, names: Vec::new(), also: None }
    }

    /// An axis of equal ratios; an end that is not above zero becomes a thousandth of the other.
    pub fn log(label: &str, unit: &'static str, [low, high]: [f64; 2]) -> Axis {
        let high = if high.is_finite() && high > 0.0 { high } else { 1.0 };
        let low = if low.is_finite() && low > 0.0 && low < high { low } else { high * 1e-3 };
        Axis { scale: Scale::Log, ..Axis::new(label, unit, [low, high]) }
    }

    /// Where a value lies along the axis; equal lengths are equal differences. Not finite for what the
    /// scale has no place for.
    pub fn place(&self, value: f64) -> f64 {
        match self.scale {
            Scale::Linear => value,
            Scale::Log => value.log10(),
            Scale::Root => value.sqrt(),
        }
    }

    /// The value at a place: the inverse of [`Axis::place`].
    pub fn value(&self, place: f64) -> f64 {
        match self.scale {
            Scale::Linear => place,
            Scale::Log => 10f64.powf(place),
            Scale::Root => place.max(0.0).powi(2),
        }
    }

    /// Places of both ends.
    pub fn ends(&self) -> [f64; 2] {
        self.range.map(|v| self.place(v))
    }

    /// Label and unit: "deviation, %".
    pub fn named(&self) -> String {
        match (self.label.as_str(), self.unit) {
            ("", _) => String::new(),
            (label, "") => label.to_owned(),
            (label, unit) => format!("{label}, {unit}"),
        }
    }
}

#[cfg(test)]
pub(crate) mod tests;
