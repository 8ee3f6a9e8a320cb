//! A response curve: a table of outputs and straight lines between them.
use crate::trim::{CurveTrim, FULL_OUTPUT};

/// Most points of a curve.
pub const MOST_POINTS: usize = 65;

/// Gain 1 with 14 fraction bits.
const ONE: u32 = 1 << 14;

/// A curve ready to run.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Curve {
    points: [u16; MOST_POINTS],
    /// Bits of the place within a cell: 10 for 33 points, 9 for 65.
    shift: u8,
}

impl Curve {
    /// Bits of the place within a cell for that many points; `None` unless 33 or 65.
    pub fn shift_of(points: usize) -> Option<u8> {
        match points {
            33 => Some(10),
            65 => Some(9),
            _ => None,
        }
    }

    /// The curve; `None` unless it has 33 or 65 points that rise strictly from 0 to 32767.
    pub fn new(trim: &CurveTrim) -> Option<Curve> {
        let shift = Curve::shift_of(trim.points.len())?;
        let rises = trim.points.windows(2).all(|w| w[0] < w[1]);
        let ends = (trim.points.first().copied(), trim.points.last().copied());
        if !rises || ends != (Some(0), Some(FULL_OUTPUT)) {
            return None;
        }
        let mut points = [FULL_OUTPUT; MOST_POINTS];
        points[..trim.points.len()].copy_from_slice(&trim.points);
        Some(Curve { points, shift })
    }

    /// Output for a push, both 0…32767; 0 and 32767 are kept exactly, nothing turns back.
    pub fn bent(&self, push: u16) -> u16 {
        if push >= FULL_OUTPUT {
            return FULL_OUTPUT;
        }
        between(&self.points, push, self.shift)
    }

    /// Output over push at the points, 14 fraction bits: what a radius is multiplied by. The first
    /// is that of the second, as in the first cell output is in proportion to push.
    ///
    /// `None` when the gain falls somewhere by more than a unit of output, or exceeds 1: the
    /// components of a stick could then turn back.
    pub fn gains(&self) -> Option<Gains> {
        let cells = 32768usize >> self.shift;
        let mut words = [ONE as u16; MOST_POINTS];
        let mut last = 0;
        for (i, word) in words.iter_mut().enumerate().take(cells).skip(1) {
            let push = (i as u32) << self.shift;
            let gain = |output: u32| (output << 14) / push;
            let point = u32::from(self.points[i]);
            if gain(point + 1) < last || gain(point - 1) > ONE {
                return None;
            }
            last = gain(point).clamp(last, ONE);
            *word = last as u16;
        }
        words[0] = words[1];
        Some(Gains { words, shift: self.shift })
    }
}

/// Gains of a curve, 14 fraction bits, never falling, 1 at the end.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Gains {
    /// At the points of the curve; past its last point 1.
    pub words: [u16; MOST_POINTS],
    /// Bits of the place within a cell.
    pub shift: u8,
}

impl Gains {
    /// `factor` of a zone times the gain at a radius after that zone (below 32767).
    pub(super) fn bent(&self, factor: u16, radius: u16) -> u16 {
        let gain = between(&self.words, radius, self.shift);
        ((u32::from(factor) * u32::from(gain)) >> 14) as u16
    }

    /// The words of the curve's own points.
    pub fn used(&self) -> &[u16] {
        &self.words[..(32768usize >> self.shift) + 1]
    }
}

/// The straight line between two words of a table that never falls, at `place` below 32767.
fn between(table: &[u16; MOST_POINTS], place: u16, shift: u8) -> u16 {
    let cell = usize::from(place >> shift).min(MOST_POINTS - 2);
    let within = place & ((1 << shift) - 1);
    let rise = u32::from(table[cell + 1] - table[cell]) * u32::from(within);
    table[cell] + (rise >> shift) as u16
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::rig::Half;
    use crate::trim::{CurveOf, curve_points};

    fn curve(points: Vec<u16>) -> Option<Curve> {
        Curve::new(&CurveTrim { of: CurveOf::Stick(Half::Left), points })
    }

    #[test]
    fn ends_are_exact_and_nothing_turns_back() {
        for points in [33, 65] {
            for at_half in [0.25, 0.35, 0.5, 0.6, 0.75] {
                let curve = curve(curve_points(at_half, points).expect("allowed")).expect("rises");
                assert_eq!((curve.bent(0), curve.bent(32767)), (0, 32767));
                assert_eq!(curve.gains().is_some(), at_half <= 0.5, "{at_half}");
                let half = f64::from(curve.bent(16384)) / 32767.0;
                assert!((half - at_half).abs() < 1e-3, "{half}");
                for push in 1..=32767u16 {
                    assert!(curve.bent(push) >= curve.bent(push - 1), "{at_half} {push}");
                }
            }
        }
    }

    #[test]
    fn tables_that_do_not_rise_from_end_to_end_are_no_curves() {
        let good = curve_points(0.4, 33).expect("allowed");
        assert!(curve(good.clone()).is_some());
        for change in [(0, 1), (32, 32766), (7, good[8])] {
            let mut bad = good.clone();
            bad[change.0] = change.1;
            assert!(curve(bad).is_none());
        }
        assert!(curve(good[..32].to_vec()).is_none());
    }
}
