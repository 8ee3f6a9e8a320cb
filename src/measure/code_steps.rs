//! Codes that a converter gives far too often, looked for on all its channels at once.
use std::ops::Range;

use super::distribution::binomial_tail;
use super::{Estimate, interval};

/// Readings averaged to know where an input stands, to each side.
const SIDE: usize = 4;
/// An input is looked at again when it has moved by so many times its noise, or counts if that is more: looks
/// are then independent, and standing still adds none.
const APART: f64 = 3.0;
/// Share of full scale on each side whose looks tell how many a code should have; a quarter of it round the code
/// is left out, as a wide code takes from its neighbours.
const ROUND_SHARE: usize = 64;
/// Width beyond which a code is called a step, in codes.
const WIDE: f64 = 3.0;
/// Looks that each of two channels must have at the code.
const LOOKS_MIN: u32 = 3;
/// Chance at which so many looks at a code no wider than [`WIDE`] are not believed: there are up to 2¹⁶ codes.
const BY_CHANCE: f64 = 1e-7;
/// A level at which a hand or a rest stays is as broad as its noise; a step of the converter stands alone among
/// so many codes on each side.
const ALONE: usize = 3;

/// A code that is wide on more than one channel.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct WideCode {
    /// Code.
    pub code: i32,
    /// Its width in codes; n = looks at it.
    pub width: Estimate,
}

/// Codes that are wide on two channels or more of a converter, from everything that moves.
///
/// Each channel comes with its noise, counts rms. It is looked at whenever it has moved by three times that since
/// the last look; the width of a code is its share of the looks against that of the codes round it (a 64th of
/// full scale to each side, a quarter of that left out). Interval by Clopper and Pearson. Told are codes wider
/// than three with a chance below 10⁻⁷, three looks on each of two channels and no neighbour half as frequent.
/// `full_scale` is the highest code; others are left out. Cost: linear in the rows.
/// Source: code density test, IEEE Std 1241 (from memory), with a hand instead of a ramp.
pub fn wide_codes(channels: &[(&[i32], f64)], full_scale: i32) -> Vec<WideCode> {
    let codes = usize::try_from(full_scale).map_or(0, |top| top.min(65_535) + 1);
    let mut all = vec![0u32; codes];
    let mut channels_with = vec![0u8; codes];
    for &(column, noise) in channels {
        let mut own = vec![0u32; codes];
        looks(column, noise, |code| {
            if let Some(hits) = usize::try_from(code).ok().and_then(|k| own.get_mut(k)) {
                *hits += 1;
            }
        });
        for ((all, with), own) in all.iter_mut().zip(&mut channels_with).zip(own) {
            *all += own;
            *with += u8::from(own >= LOOKS_MIN);
        }
    }
    let mut sums = vec![0u64; codes + 1];
    for (k, hits) in all.iter().enumerate() {
        sums[k + 1] = sums[k] + u64::from(*hits);
    }
    let within = |range: Range<usize>| sums[range.end] - sums[range.start];
    let side = (codes / ROUND_SHARE).max(16);
    let near = side / 4;
    (side..codes.saturating_sub(side))
        .filter(|&k| channels_with[k] >= 2)
        .filter(|&k| {
            let neighbours = all[k - ALONE..k].iter().chain(&all[k + 1..=k + ALONE]);
            2 * neighbours.copied().max().unwrap_or(0) <= all[k]
        })
        .filter_map(|k| {
            let round = within(k - side..k + side + 1) - within(k - near..k + near + 1);
            width(k as i32, u64::from(all[k]), round, (2 * (side - near)) as f64)
        })
        .collect()
}

/// The width of a code seen `hits` times, with `round` looks at `codes` codes about it.
fn width(code: i32, hits: u64, round: u64, codes: f64) -> Option<WideCode> {
    let looked = hits + round;
    if round == 0 || binomial_tail(hits, looked, WIDE / (WIDE + codes)) > BY_CHANCE {
        return None;
    }
    let share = interval::share(hits as usize, looked as usize).ok()?;
    let width = |share: f64| share / (1.0 - share) * codes;
    let Estimate { value, low, high, .. } = share;
    let width =
        Estimate { value: width(value), low: width(low), high: width(high), n: hits as usize };
    Some(WideCode { code, width })
}

/// Hands over the code at each independent look.
fn looks(column: &[i32], noise: f64, mut look: impl FnMut(i32)) {
    let apart = APART * noise.max(1.0);
    let wide = 2 * SIDE + 1;
    let Some(first) = column.get(..wide) else { return };
    let mut sum: i64 = first.iter().map(|&c| i64::from(c)).sum();
    let mut last = sum as f64 / wide as f64;
    for k in SIDE..column.len() - SIDE {
        if k > SIDE {
            sum += i64::from(column[k + SIDE]) - i64::from(column[k - SIDE - 1]);
        }
        let place = sum as f64 / wide as f64;
        if (place - last).abs() >= apart {
            look(column[k]);
            last = place;
        }
    }
}

#[cfg(test)]
mod tests {
    use rand::{Rng, SeedableRng};
    use rand_chacha::ChaCha8Rng;

    use super::*;

    /// Sweeps to and fro of a 12-bit channel whose code 1536 is `wide`, with noise of six counts.
    fn swept(seed: u64, wide: f64) -> Vec<i32> {
        let mut rng = ChaCha8Rng::seed_from_u64(seed);
        (0..20_000)
            .map(|k| {
                let place = 1_600.0 + 700.0 * f64::sin(f64::from(k) * 0.01 + seed as f64);
                let noise: f64 = (0..12).map(|_| rng.random_range(-0.5..0.5)).sum();
                let seen: f64 = place + 6.0 * noise;
                if (seen - 1_536.0).abs() < 0.5 * wide { 1_536 } else { seen.round() as i32 }
            })
            .collect()
    }

    #[test]
    fn a_wide_code_is_told_with_its_width_and_an_even_converter_has_none() {
        let channels = [swept(1, 20.0), swept(2, 20.0)];
        let channels = channels.each_ref().map(|c| (c.as_slice(), 6.0));
        let found = wide_codes(&channels, 4095);
        assert_eq!(found.len(), 1, "{found:?}");
        let Estimate { low, high, .. } = found[0].width;
        assert!(found[0].code == 1_536 && low < 20.0 && 20.0 < high, "{found:?}");
        assert!(high - low < 12.0, "{found:?}");
        assert_eq!(wide_codes(&channels[..1], 4095), [], "one channel is no converter");
        let even = [swept(1, 1.0), swept(2, 1.0)];
        assert_eq!(wide_codes(&even.each_ref().map(|c| (c.as_slice(), 6.0)), 4095), []);
    }

    #[test]
    fn a_place_where_a_hand_stays_is_no_step() {
        // Half of the time at 1 500 ± 6 after each sweep: many codes round it come often.
        let resting: Vec<i32> = swept(3, 1.0)
            .into_iter()
            .enumerate()
            .map(|(k, c)| if k % 600 < 300 { 1_500 + (k % 13) as i32 - 6 } else { c })
            .collect();
        assert_eq!(wide_codes(&[(&resting, 6.0), (&resting, 6.0)], 4095), []);
        assert_eq!(wide_codes(&[(&[], 1.0)], 4095), []);
        assert_eq!(wide_codes(&[(&[7; 4], 1.0)], -1), []);
    }
}
