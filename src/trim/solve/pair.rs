//! Both axes of a stick where the radial zone applies: after centre, gains and correction.
//!
//! Points are real-valued here, in output units: the firmware's rounding down only brings them
//! nearer to the centre, so a zone that holds these holds what the firmware computes.
use super::axis::{Released, SolvedAxis};
use super::factors::Factors;
use super::zone::Rests;
use crate::measure::distribution::normal_quantile;
use crate::measure::{Estimate, Shortage};
use crate::rig::Half;
use crate::survey::{StickFigures, short};
use crate::trim::{DriftKnown, FULL_OUTPUT, Matrix2, ZonePlace};

/// Sectors of 72 that a gate profile must show before one radius holds in every direction.
const SECTORS_MIN: usize = 65;

/// The axes of a stick with their correction.
pub(super) struct Pair {
    pub(super) half: Half,
    pub(super) axes: [SolvedAxis; 2],
    pub(super) matrix: Option<Matrix2>,
    pub(super) frac_bits: u8,
}

impl Pair {
    /// Output units for an offset in counts from the whole-count centres.
    fn placed(&self, offset: [f64; 2]) -> [f64; 2] {
        let scaled = [0, 1].map(|i| offset[i] * self.scale(i, offset[i]));
        match self.matrix {
            None => scaled,
            Some(Matrix2(rows)) => rows.map(|row| {
                (f64::from(row[0]) * scaled[0] + f64::from(row[1]) * scaled[1]) / 16384.0
            }),
        }
    }

    /// Output units a count of an axis on the side of an offset.
    fn scale(&self, axis: usize, offset: f64) -> f64 {
        let trim = &self.axes[axis].trim;
        let gain = if offset < 0.0 { trim.gain_neg } else { trim.gain_pos };
        f64::from(gain) / f64::from(1u32 << self.frac_bits)
    }

    /// The larger of both sides' scales.
    fn steeper(&self, axis: usize) -> f64 {
        self.scale(axis, -1.0).max(self.scale(axis, 1.0))
    }

    /// The rests and the other terms of the radial zone, output units.
    pub(super) fn rests(&self, released: &Released) -> Rests {
        let from_centre =
            |at: [f64; 2]| self.placed([0, 1].map(|i| at[i] - f64::from(self.axes[i].trim.centre)));
        let larger =
            |of: fn(&SolvedAxis) -> f64| [0, 1].map(|i| of(&self.axes[i]) * self.steeper(i));
        let [noise_x, noise_y] = larger(|a| a.noise);
        let [drift_x, drift_y] = larger(|a| a.drift.0);
        let measured = self.axes.iter().all(|a| a.drift.1 == DriftKnown::Measured);
        let travel: f64 =
            self.axes.iter().map(|a| 0.5 * f64::from(a.trim.high - a.trim.low)).sum::<f64>() / 2.0;
        let full = f64::from(FULL_OUTPUT);
        Rests {
            place: ZonePlace::Stick(self.half),
            points: released.rests.iter().map(|r| from_centre(r.at)).collect(),
            pushes: released.pushes().collect(),
            noise: noise_x.max(noise_y),
            drift: drift_x.hypot(drift_y),
            drift_known: if measured { DriftKnown::Measured } else { DriftKnown::Unmeasured },
            travel: full,
            counts: travel / full,
            doubt: released.doubt,
        }
    }

    /// Radius that every direction reaches, output units: value = least mean over the sectors,
    /// low = least lower tolerance limit (95 % of the turns, 95 % sure). n = turns.
    pub(super) fn reach(
        &self,
        figures: &StickFigures,
        factors: &mut Factors,
    ) -> Result<Estimate, Shortage> {
        let sectors = self.sectors(figures, factors)?;
        let least = |of: fn(&Sector) -> f64| sectors.iter().map(of).fold(f64::MAX, f64::min);
        let n = figures.outer_reach.as_ref().map_or(1, |r| r.n.max(1));
        let value = least(|s| s.mean);
        Ok(Estimate { value, low: least(|s| s.low), high: value, n })
    }

    /// The gate by direction where the zone applies.
    ///
    /// The turns' scatter is pooled over the sectors; one that scatters more keeps its own.
    pub(super) fn sectors(
        &self,
        figures: &StickFigures,
        factors: &mut Factors,
    ) -> Result<Vec<Sector>, Shortage> {
        let profile = &figures.profile;
        let centre = |i: usize| self.axes[i].fitted - f64::from(self.axes[i].trim.centre);
        let seen: Vec<([f64; 2], f64)> = profile
            .raw_counts
            .iter()
            .enumerate()
            .filter(|(_, counts)| counts.is_finite())
            .map(|(k, &counts)| {
                let (sin, cos) = (5.0 * k as f64).to_radians().sin_cos();
                let place = self.placed([counts * cos + centre(0), counts * sin + centre(1)]);
                (place, profile.spread.get(k).copied().unwrap_or(f64::NAN))
            })
            .collect();
        if seen.len() < SECTORS_MIN {
            let advice = "press outward and roll three slow turns each way, without leaving out a \
                          direction";
            return Err(short("directions of the gate", seen.len(), SECTORS_MIN, advice));
        }
        let turns = figures.outer_reach.as_ref().map_or(1, |r| r.n.max(1));
        let known: Vec<f64> = seen.iter().map(|s| s.1).filter(|s| s.is_finite()).collect();
        let pooled = (known.iter().map(|s| s * s).sum::<f64>() / known.len().max(1) as f64).sqrt();
        let known_scatter = !known.is_empty() && turns > 1;
        let k = factors.one(known.len() * (turns - 1) + 1, 0.95);
        let share = |spread: f64| {
            if !known_scatter {
                return FEW_TURNS_SHARE;
            }
            let own = if spread.is_finite() { normal_quantile(0.95) * spread } else { 0.0 };
            (k * pooled).max(own)
        };
        let sector = |&([x, y], spread): &([f64; 2], f64)| {
            let mean = x.hypot(y);
            Sector { angle: y.atan2(x), mean, low: mean * (1.0 - share(spread)).max(0.0) }
        };
        Ok(seen.iter().map(sector).collect())
    }
}

/// How far one direction goes, output units.
pub(super) struct Sector {
    /// Direction, radians, −π…π, from x above its centre towards y above.
    pub(super) angle: f64,
    /// Mean over the turns.
    pub(super) mean: f64,
    /// Lower tolerance limit: 95 % of the turns, 95 % sure.
    pub(super) low: f64,
}

/// Allowance for the turns' scatter when one turn says nothing about it, share of the reach.
const FEW_TURNS_SHARE: f64 = 0.03;
