//! Where each axis rests, how far it went, how noisy it is: the scale that the finders need.
use super::blocks::Blocks;
use crate::rig::{AxisId, Half};
use crate::session::Tracks;

/// Least travel of a used axis, share of full scale: a third of the eighth below which no gain of 16 bits
/// lifts it (`trim` refuses it), so that one that falls short is still found and named.
const LEAST_TRAVEL: f64 = 0.04;
/// Half of that for a stick's axis that was held out for [`HELD_OUT_S`] in all: somebody who rolls and pushes
/// a stick with hardly any travel does that, a bumped table does not.
const LEAST_TRAVEL_HELD: f64 = 0.02;
/// Beyond half of its travel for so long in all, s: a bench rings at some 10 Hz with a damping near 4 %
/// (structures of wood and steel, from memory) and has come down to 1 % of a blow, ln 100/(0.04·2π·10), by then.
const HELD_OUT_S: f64 = 2.0;
/// Least share of that on each side: a stick that goes both ways spends half on each, a level that drifts off
/// none; half-way between.
const EACH_SIDE: f64 = 0.25;
/// Values looked at for the noise of an axis: the place of a quantile among so many is known to
/// √(0.4·0.6/4096) = 0.8 % of them.
const NOISE_SAMPLE: usize = 4096;
/// Bins over an axis' range in the search for its rest: half a per cent each, a tenth of the dead zone that
/// common practice calls good (5 % of the travel).
const BINS: i32 = 200;
/// Least noise, counts: a converter rounds by up to half a count.
const NOISE_LEAST: f64 = 0.5;
/// Quantile of the blocks' spreads that is taken for noise: below the median, so that it is a still block's
/// even when somebody moves the axis for a little more than half of the time.
const STILL_QUANTILE: [usize; 2] = [2, 5];
/// A block moves when the readings round it span more than one code of 8 bits, the coarsest width that is
/// read,
const MOVES_SHARE: f64 = 1.0 / 256.0;
/// than five σ of its noise (6 in 10 million of a normal law),
const MOVES_NOISE: f64 = 5.0;
/// and than two counts: the absolute accuracy of the converter in an ATmega32U4 (data sheet, from memory).
const MOVES_COUNTS: f64 = 2.0;
/// Least travel of a used axis over its noise: peak to peak is 6.6 σ (converters' data sheets, 1 in 1 000 of a
/// normal law lies outside); nearly twice that on one side is no noise.
const USED_NOISE: f64 = 12.0;

/// The scale of one axis. A means of finding, not a measurement: see `measure` for those.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct AxisLevel {
    /// Where it is most often still, counts.
    pub rest: f64,
    /// Lowest level held for about three blocks, counts.
    pub low: i32,
    /// Highest level held for about three blocks, counts.
    pub high: i32,
    /// Spread from reading to reading while still, about σ, counts; at least 0.5.
    pub noise: f64,
    /// It went far enough from its rest to have been used.
    pub used: bool,
}

impl AxisLevel {
    /// The greater way from rest, counts.
    pub fn travel(&self) -> f64 {
        (f64::from(self.high) - self.rest).max(self.rest - f64::from(self.low))
    }

    /// The extreme on the side of the greater way: where a trigger is fully pulled.
    pub fn full(&self) -> f64 {
        let (up, down) = (f64::from(self.high) - self.rest, self.rest - f64::from(self.low));
        f64::from(if up >= down { self.high } else { self.low })
    }
}

/// The scale of every axis present, in the order of [`AxisId::ALL`].
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Levels {
    axes: [Option<AxisLevel>; 6],
}

impl Levels {
    /// The scale of an axis.
    pub fn axis(&self, axis: AxisId) -> Option<&AxisLevel> {
        self.axes[axis.index()].as_ref()
    }

    /// These levels with an axis replaced.
    pub fn with(mut self, axis: AxisId, level: AxisLevel) -> Levels {
        self.axes[axis.index()] = Some(level);
        self
    }

    /// Scale and motion flags of a session.
    pub(super) fn of(
        tracks: &Tracks,
        blocks: &Blocks,
        known: Option<&Levels>,
    ) -> (Levels, Vec<u8>) {
        let full_scale = f64::from(tracks.full_scale().max(1));
        let mut noises = [NOISE_LEAST; 6];
        let mut limits = [0i32; 6];
        for axis in AxisId::ALL {
            let Some(spread16) = blocks.spread16(axis) else { continue };
            let noise = match known.and_then(|k| k.axis(axis)) {
                Some(level) => level.noise,
                None => noise(spread16),
            };
            noises[axis.index()] = noise;
            limits[axis.index()] = limit(full_scale, noise);
        }
        let moves = blocks.motion(&limits);
        let mut levels = Levels::default();
        for axis in AxisId::ALL {
            let Some(median) = blocks.median(axis) else { continue };
            let mask = part_mask(axis);
            let still = median.iter().zip(&moves).filter(|(_, m)| *m & mask == 0).map(|(v, _)| *v);
            let known = known.and_then(|k| k.axis(axis));
            let noise = noises[axis.index()];
            if let Some(level) = level(axis, blocks, still, noise, known, full_scale) {
                levels.axes[axis.index()] = Some(level);
            }
        }
        (levels, moves)
    }
}

/// A change from block to block by more is motion, counts.
fn limit(full_scale: f64, noise: f64) -> i32 {
    (MOVES_SHARE * full_scale).max(MOVES_NOISE * noise).max(MOVES_COUNTS).round() as i32
}

/// Bits of the axes that must be still together: both of a stick, or the trigger by itself.
pub(super) fn part_mask(axis: AxisId) -> u8 {
    if axis.is_trigger() { 1 << axis.index() } else { stick_mask(axis.half()) }
}

/// Bits of a stick's two axes.
pub(super) fn stick_mask(half: Half) -> u8 {
    half.stick().iter().fold(0, |mask, axis| mask | 1 << axis.index())
}

fn level(
    axis: AxisId,
    blocks: &Blocks,
    still: impl Iterator<Item = i32> + Clone,
    noise: f64,
    known: Option<&AxisLevel>,
    full_scale: f64,
) -> Option<AxisLevel> {
    let median = blocks.median(axis)?;
    let (mut low, mut high) = held_range(median, blocks)?;
    if let Some(known) = known {
        (low, high) = (low.min(known.low), high.max(known.high));
    }
    let rest = match (known, most_often(still, low, high)) {
        (Some(known), _) => known.rest,
        (None, Some(rest)) => rest,
        (None, None) if axis.is_trigger() => f64::from(*median.first()?),
        (None, None) => (f64::from(low) + f64::from(high)) / 2.0,
    };
    let mut level = AxisLevel { rest, low, high, noise, used: false };
    let least = match axis.is_trigger() || !held_out(median, &level, blocks) {
        true => LEAST_TRAVEL,
        false => LEAST_TRAVEL_HELD,
    };
    level.used = level.travel() >= (least * full_scale).max(USED_NOISE * noise);
    Some(level)
}

/// True when the axis was beyond half of its way from rest for two seconds in all, on both sides: a level
/// that drifts off stays on one.
fn held_out(median: &[i32], level: &AxisLevel, blocks: &Blocks) -> bool {
    let out = 0.5 * level.travel();
    let away = |up: bool| {
        let beyond = |m: &&i32| {
            let way = f64::from(**m) - level.rest;
            way.abs() > out && (way > 0.0) == up
        };
        median.iter().filter(beyond).count() as f64 * blocks.block_s()
    };
    let (up, down) = (away(true), away(false));
    up + down >= HELD_OUT_S && up.min(down) >= EACH_SIDE * HELD_OUT_S
}

/// A low quantile of a sample of the spreads, counts.
fn noise(spread16: &[u32]) -> f64 {
    let step = spread16.len().div_ceil(NOISE_SAMPLE).max(1);
    let mut sample: Vec<u32> = spread16.iter().step_by(step).copied().collect();
    if sample.is_empty() {
        return NOISE_LEAST;
    }
    let place = sample.len() * STILL_QUANTILE[0] / STILL_QUANTILE[1];
    let (_, value, _) = sample.select_nth_unstable(place);
    (f64::from(*value) / 16.0).max(NOISE_LEAST)
}

/// Extremes of the running median of three blocks, so that no lone damaged block sets them.
fn held_range(median: &[i32], blocks: &Blocks) -> Option<(i32, i32)> {
    let first = *median.first()?;
    let mut range = (first, first);
    let mut any = false;
    for (b, w) in median.windows(3).enumerate() {
        if blocks.opens_run(b + 1) || blocks.opens_run(b + 2) {
            continue;
        }
        let middle = w[0].max(w[1]).min(w[0].min(w[1]).max(w[2]));
        range = if any { (range.0.min(middle), range.1.max(middle)) } else { (middle, middle) };
        any = true;
    }
    Some(range)
}

/// Mean of the still levels round the fullest place of their histogram; `None` without any.
fn most_often(still: impl Iterator<Item = i32> + Clone, low: i32, high: i32) -> Option<f64> {
    let span = i64::from(high) - i64::from(low);
    let width = (span / i64::from(BINS) + 1).max(1);
    let bin_of = |v: i32| {
        let bin = (i64::from(v) - i64::from(low)).div_euclid(width);
        (0..=i64::from(BINS)).contains(&bin).then_some(bin as usize)
    };
    let mut count = [0u32; BINS as usize + 3];
    let mut sum = [0i64; BINS as usize + 3];
    for v in still {
        if let Some(bin) = bin_of(v) {
            count[bin + 1] += 1;
            sum[bin + 1] += i64::from(v);
        }
    }
    let best = (1..=BINS as usize + 1).max_by_key(|&b| {
        (
            u64::from(count[b - 1]) + 2 * u64::from(count[b]) + u64::from(count[b + 1]),
            usize::MAX - b,
        )
    })?;
    let n: u32 = count[best - 1..=best + 1].iter().sum();
    let total: i64 = sum[best - 1..=best + 1].iter().sum();
    (n > 0).then(|| total as f64 / f64::from(n))
}
