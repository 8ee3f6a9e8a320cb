//! Where an axis has its ticks and how its values are written; both painters ask here.
use super::{Axis, Scale};
use crate::measure::number;

/// A place along an axis and what is written there; empty = a rule without a number.
#[derive(Clone, Debug, PartialEq)]
pub struct Tick {
    /// Value there.
    pub value: f64,
    /// Its text.
    pub text: String,
}

impl Axis {
    /// Ticks between two values, ascending, at most about `most` of them: names where the axis has any, decades
    /// on a long logarithmic axis, round steps otherwise.
    ///
    /// None when the range is empty or not finite. Cost: O(most).
    pub fn ticks(&self, [low, high]: [f64; 2], most: usize) -> Vec<Tick> {
        if !(low.is_finite() && high.is_finite() && low < high) || most == 0 {
            return Vec::new();
        }
        if !self.names.is_empty() {
            let inside = self.names.iter().filter(|(v, _)| (low..=high).contains(v));
            return inside
                .map(|(value, text)| Tick { value: *value, text: text.clone() })
                .collect();
        }
        if self.scale == Scale::Log && low > 0.0 && high / low >= 10.0 {
            return self.decades(low, high, most);
        }
        let step = round_step(high - low, most as u32);
        let (first, last) =
            ((low / step - 1e-9).ceil() as i64, (high / step + 1e-9).floor() as i64);
        let decimals = decimals_of(step);
        (first..=last)
            .map(|k| {
                let value = k as f64 * step;
                Tick { value, text: self.short(value, decimals) }
            })
            .collect()
    }

    fn decades(&self, low: f64, high: f64, most: usize) -> Vec<Tick> {
        let (first, last) = (low.log10().ceil() as i32, (high.log10() + 1e-9).floor() as i32);
        let every = (last - first + 1).max(1).unsigned_abs().div_ceil(most as u32).max(1);
        let powers = (first..=last).rev().step_by(every as usize);
        let mut ticks: Vec<Tick> = powers
            .map(|power| {
                let value = 10f64.powi(power);
                Tick { value, text: self.short(value, (-power).max(0).unsigned_abs() as usize) }
            })
            .collect();
        ticks.reverse();
        ticks
    }

    /// A number as it stands at a tick: only "%" and "°" are repeated at each, other units stand in the
    /// caption.
    fn short(&self, value: f64, decimals: usize) -> String {
        let text = number(value, decimals);
        match self.unit {
            "%" => format!("{text}\u{a0}%"),
            "°" => format!("{text}°"),
            _ => text,
        }
    }

    /// What is written at a tick by itself, where its neighbours are `step` away.
    pub fn tick_text(&self, value: f64, step: f64) -> String {
        let same = |v: f64| (v - value).abs() <= 1e-6 * value.abs().max(1e-6);
        match self.names.iter().find(|(v, _)| same(*v)) {
            Some((_, name)) => name.clone(),
            None if !self.names.is_empty() => String::new(),
            None if self.scale == Scale::Log => self.short(value, decimals_of(value)),
            None => self.short(value, decimals_of(step)),
        }
    }

    /// A value with its unit, to a quarter of a per cent of the axis (three digits on a logarithmic one); with the
    /// second unit where there is one.
    pub fn text(&self, value: f64) -> String {
        let [low, high] = self.range;
        let fineness = match self.scale {
            Scale::Linear => (high - low) * 2.5e-3,
            _ => value.abs().max(high * 1e-9) * 1e-2,
        };
        let decimals = (-fineness.log10()).ceil().clamp(0.0, 6.0) as usize;
        let first = with_unit(number(value, decimals), self.unit);
        match &self.also {
            Some(also) => {
                let second = number(value * also.factor, 1);
                format!("{first} ({})", with_unit(second, also.unit))
            }
            None => first,
        }
    }
}

fn with_unit(text: String, unit: &str) -> String {
    match unit {
        "" | "°" => text + unit,
        unit => format!("{text}\u{a0}{unit}"),
    }
}

/// Decimals that tell neighbours apart which are `step` away from one another.
fn decimals_of(step: f64) -> usize {
    // What is no number has none.
    (-(step * 1.000_001).log10().floor()).clamp(0.0, 9.0) as usize
}

/// A round step (1, 2 or 5 times a power of ten) that divides `range` into at most `most` parts.
///
/// 1 for ranges that are not above zero and finite.
pub fn round_step(range: f64, most: u32) -> f64 {
    let least = range / f64::from(most.max(1));
    if !(least.is_finite() && least > 0.0) {
        return 1.0;
    }
    let power = 10f64.powf(least.log10().floor());
    let factor = [1.0, 2.0, 5.0].into_iter().find(|f| f * power >= least * (1.0 - 1e-9));
    factor.unwrap_or(10.0) * power
}

#[cfg(test)]
mod tests {
    use super::*;

    fn texts(ticks: &[Tick]) -> Vec<&str> {
        ticks.iter().map(|t| t.text.as_str()).collect()
    }

    #[test]
    fn steps_are_round() {
        assert_eq!(round_step(16.0, 5), 5.0);
        assert_eq!(round_step(125.0, 7), 20.0);
        assert_eq!(round_step(0.3, 4), 0.1);
        assert_eq!(round_step(f64::NAN, 4), 1.0);
    }

    #[test]
    fn ticks_are_round_named_or_decades() {
        let axis = Axis::new("deviation", "%", [-5.0, 5.0]);
        assert_eq!(texts(&axis.ticks(axis.range, 4)), ["\u{2212}5\u{a0}%", "0\u{a0}%", "5\u{a0}%"]);
        let axis = Axis::log("leak", "%", [0.01, 100.0]);
        let found = axis.ticks(axis.range, 6);
        assert_eq!(
            texts(&found),
            ["0.01\u{a0}%", "0.1\u{a0}%", "1\u{a0}%", "10\u{a0}%", "100\u{a0}%"]
        );
        assert_eq!(axis.ticks([2.0, 8.0], 4).len(), 4, "round steps within a decade");
        let axis = Axis { names: vec![(90.0, "up".into())], ..Axis::new("", "°", [0.0, 360.0]) };
        assert_eq!(texts(&axis.ticks(axis.range, 9)), ["up"]);
        assert!(axis.ticks([0.0, f64::NAN], 9).is_empty() && axis.ticks([1.0, 1.0], 9).is_empty());
    }

    #[test]
    fn values_have_digits_and_units() {
        assert_eq!(Axis::new("", "counts", [0.0, 1023.0]).text(512.3), "512\u{a0}counts");
        assert_eq!(Axis::new("", "%", [-5.0, 5.0]).text(-1.236), "\u{2212}1.24\u{a0}%");
        assert_eq!(Axis::log("", "s", [0.001, 10.0]).text(0.012_34), "0.0123\u{a0}s");
        let also = Some(super::super::Also { factor: 0.25, unit: "% of travel" });
        let axis = Axis { also, ..Axis::new("", "counts", [0.0, 40.0]) };
        assert_eq!(axis.text(16.0), "16.0\u{a0}counts (4.0\u{a0}% of travel)");
    }
}
