//! Linearity of a converter or sensor by its codes: DNL, INL, missing and wide codes.
//!
//! Terms and definitions: IEEE Std 1241 (from memory).
use std::ops::Range;

use super::robust::median;
use super::{Measured, Shortage};

/// Differential and integral non-linearity, in steps (LSB).
#[derive(Clone, Debug, PartialEq)]
pub struct Linearity {
    /// Width of each inner code less one: DNL\[k\] belongs to code k + 1. −1 = missing code.
    pub dnl: Vec<f64>,
    /// Place of each transition against the line through the first and the last.
    pub inl: Vec<f64>,
    /// Place of each transition against the least-squares line, in its steps.
    pub inl_best_fit: Vec<f64>,
    /// Slope of that line, steps a code.
    pub gain: f64,
    /// Inner codes that never came, by index into the hits.
    pub missing: Vec<usize>,
}

impl Linearity {
    /// Largest |DNL|.
    pub fn worst_dnl(&self) -> f64 {
        self.dnl.iter().fold(0.0, |most, d| most.max(d.abs()))
    }

    /// Largest |INL| against the end points.
    pub fn worst_inl(&self) -> f64 {
        self.inl.iter().fold(0.0, |most, d| most.max(d.abs()))
    }
}

/// Linearity from hits by code under an even sweep beyond both ends.
///
/// The two end codes take the overflow and are dropped; a step Q is the mean hits of the others.
/// DNL\[k\] = hits/Q − 1; transitions are its running sum. Needs three codes with hits between the
/// ends. Cost: O(codes).
pub fn ramp_linearity(hits: &[u64]) -> Measured<Linearity> {
    let inner = hits.get(1..hits.len().saturating_sub(1)).unwrap_or(&[]);
    let mut at = 0.0;
    let running = inner.iter().map(|&h| {
        at += h as f64;
        at
    });
    let transitions: Vec<f64> = std::iter::once(0.0).chain(running).collect();
    linearity(&transitions, hits)
}

/// Linearity from hits by code under a sine that overdrives both ends.
///
/// Transition k lies at offset − amplitude·cos(π·H/S), H = hits below it, S = all hits; any unit of
/// amplitude. The end codes are dropped. Source: sine histogram test, IEEE Std 1241 (from memory).
pub fn sine_linearity(hits: &[u64], amplitude: f64, offset: f64) -> Measured<Linearity> {
    linearity(&sine_transitions(hits, amplitude, offset), hits)
}

/// Places of the transitions between codes under a sine; one fewer than codes.
pub fn sine_transitions(hits: &[u64], amplitude: f64, offset: f64) -> Vec<f64> {
    let all: u64 = hits.iter().sum();
    let mut below = 0u64;
    hits.iter()
        .take(hits.len().saturating_sub(1))
        .map(|&h| {
            below += h;
            offset - amplitude * (std::f64::consts::PI * below as f64 / all as f64).cos()
        })
        .collect()
}

/// Linearity of ascending transitions.
fn linearity(transitions: &[f64], hits: &[u64]) -> Measured<Linearity> {
    let steps = transitions.len().saturating_sub(1);
    let span = match (transitions.first(), transitions.last()) {
        (Some(first), Some(last)) if steps >= 3 && last > first => last - first,
        _ => {
            return Err(Shortage {
                what: "codes between the ends of the sweep".to_owned(),
                have: steps,
                need: 3.max(steps + 1),
                advice: "sweep slowly and evenly from one end to the other".to_owned(),
            });
        }
    };
    let step = span / steps as f64;
    let place = |k: usize| (transitions[k] - transitions[0]) / step;
    let n = transitions.len() as f64;
    let middle = 0.5 * (n - 1.0);
    let mean = (0..=steps).map(place).sum::<f64>() / n;
    let along = |k: usize| k as f64 - middle;
    let squares: f64 = (0..=steps).map(|k| along(k).powi(2)).sum();
    let gain = (0..=steps).map(|k| along(k) * (place(k) - mean)).sum::<f64>() / squares;
    let inner = 1..hits.len().saturating_sub(1);
    Ok(Linearity {
        dnl: (0..steps).map(|k| place(k + 1) - place(k) - 1.0).collect(),
        inl: (0..=steps).map(|k| place(k) - k as f64).collect(),
        inl_best_fit: (0..=steps).map(|k| (place(k) - mean - gain * along(k)) / gain).collect(),
        gain,
        missing: inner.filter(|&k| hits[k] == 0).collect(),
    })
}

/// Width of codes as an uneven sweep shows them.
#[derive(Clone, Debug, PartialEq)]
pub struct CodeWidths {
    /// Code of the first entry.
    pub first: i32,
    /// Σ speed of the samples at each code over the passes: 1 = as wide as its neighbours.
    pub width: Vec<f64>,
    /// Samples at each code.
    pub hits: Vec<u32>,
}

/// A code that is wider than its neighbours, or does not come at all.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct OddCode {
    /// Code.
    pub code: i32,
    /// Its width in steps of its neighbours; 0 = missing.
    pub width: f64,
}

/// Rows on each side that the speed is taken over.
const SPEED_ROWS: usize = 20;

/// Codes on each side that a code is compared with.
const NEIGHBOURS: usize = 12;

/// Most codes of a sweep that are looked at (16 bits).
const CODES_MAX: usize = 1 << 16;

/// Widths of codes from hand-made sweeps.
///
/// A code of width w is seen w/|v| times as speed v passes over it, so that the sum of |v| over its
/// samples is w a pass, however unevenly the hand moves; standing still adds nothing. Speed is the
/// slope between the means of twenty rows before and after. Each width is divided by the median of 12
/// neighbours a side. `None` without motion. Cost: linear in the rows. Source: own derivation.
pub fn code_widths(codes: &[i32], sweeps: &[Range<usize>]) -> Option<CodeWidths> {
    let parts = || sweeps.iter().filter_map(|rows| codes.get(rows.clone()));
    let (low, high) = super::histogram::extremes(&parts().flatten().copied().collect::<Vec<_>>())?;
    let range = usize::try_from(i64::from(high) - i64::from(low) + 1).ok()?;
    if !(3..=CODES_MAX).contains(&range) {
        return None;
    }
    let (mut sums, mut hits) = (vec![0.0; range], vec![0u32; range]);
    for part in parts() {
        let mut before: i64 = part.iter().take(SPEED_ROWS).map(|&c| i64::from(c)).sum();
        let mut after: i64 =
            part.iter().skip(SPEED_ROWS + 1).take(SPEED_ROWS).map(|&c| i64::from(c)).sum();
        for k in SPEED_ROWS..part.len().saturating_sub(SPEED_ROWS) {
            if k > SPEED_ROWS {
                before += i64::from(part[k - 1]) - i64::from(part[k - 1 - SPEED_ROWS]);
                after += i64::from(part[k + SPEED_ROWS]) - i64::from(part[k]);
            }
            let speed = (after - before).abs() as f64 / (SPEED_ROWS * (SPEED_ROWS + 1)) as f64;
            let at = (part[k] - low) as usize;
            sums[at] += speed;
            hits[at] += 1;
        }
    }
    let width = (0..range)
        .map(|k| {
            let near: Vec<f64> = (k.saturating_sub(NEIGHBOURS)..(k + NEIGHBOURS + 1).min(range))
                .filter(|&j| j != k)
                .map(|j| sums[j])
                .collect();
            sums[k] / median(&near)
        })
        .collect();
    Some(CodeWidths { first: low, width, hits })
}

/// Fewest samples that neighbours have a code for it to be judged.
const HITS_MIN: f64 = 8.0;

/// Wide and missing codes: steps of the converter, not of the stick.
///
/// A code is wide at 2.5 times its neighbours when its hits exceed theirs by five Poisson deviations,
/// missing when it never came where theirs would give [`HITS_MIN`] hits. Codes within the outermost
/// 12 of the sweep are not judged. A [`Shortage`] where neighbours have too few hits everywhere.
pub fn odd_codes(widths: &CodeWidths) -> Measured<Vec<OddCode>> {
    let n = widths.hits.len();
    let mut judged = 0;
    let mut most = 0.0f64;
    let mut odd = Vec::new();
    for k in NEIGHBOURS..n.saturating_sub(NEIGHBOURS) {
        let near: Vec<f64> = (k - NEIGHBOURS..=k + NEIGHBOURS)
            .filter(|&j| j != k)
            .map(|j| f64::from(widths.hits[j]))
            .collect();
        let usual = median(&near);
        most = most.max(usual);
        if usual < HITS_MIN {
            continue;
        }
        judged += 1;
        let (width, hits) = (widths.width[k], f64::from(widths.hits[k]));
        let code = widths.first + k as i32;
        if width >= 2.5 && hits >= usual + 5.0 * usual.sqrt() {
            odd.push(OddCode { code, width });
        } else if hits == 0.0 {
            odd.push(OddCode { code, width: 0.0 });
        }
    }
    if judged == 0 {
        return Err(Shortage {
            what: "samples at each code in motion".to_owned(),
            have: most as usize,
            need: HITS_MIN as usize,
            advice: "sweep this axis slowly from end to end several times".to_owned(),
        });
    }
    Ok(odd)
}

#[cfg(test)]
mod tests {
    use rand::{Rng, SeedableRng};
    use rand_chacha::ChaCha8Rng;

    use super::*;

    #[test]
    fn an_even_converter_is_linear_and_a_gap_is_missing() {
        let f = ramp_linearity(&[9, 5, 5, 5, 5, 2]).expect("four codes");
        assert!(f.worst_dnl() < 1e-12 && f.worst_inl() < 1e-12 && (f.gain - 1.0).abs() < 1e-12);
        let f = ramp_linearity(&[9, 5, 0, 10, 5, 2]).expect("four codes");
        assert_eq!((f.missing, f.dnl[1]), (vec![2], -1.0));
        assert!(ramp_linearity(&[1, 2, 3]).is_err() && ramp_linearity(&[]).is_err());
        assert!(sine_linearity(&[0; 8], 1.0, 0.0).is_err());
    }

    /// Sweeps at uneven pace through a converter whose code 300 is 6 wide and 350 never comes.
    fn sweeps(seed: u64) -> (Vec<i32>, Vec<Range<usize>>) {
        let mut rng = ChaCha8Rng::seed_from_u64(seed);
        let (mut codes, mut rows) = (Vec::new(), Vec::new());
        for pass in 0..12 {
            let first = codes.len();
            let mut place = 200.0;
            while place < 420.0 {
                place += 0.4 + 0.3 * f64::sin(place * 0.05 + f64::from(pass));
                let seen: f64 = place + rng.random_range(-0.3..0.3);
                let code = match seen {
                    s if (297.5..303.5).contains(&s) => 300,
                    s if (349.5..350.5).contains(&s) => 351,
                    s => s.round() as i32,
                };
                codes.push(code);
            }
            rows.push(first..codes.len());
        }
        (codes, rows)
    }

    #[test]
    fn wide_and_missing_codes_stand_out_of_uneven_sweeps() {
        let (codes, rows) = sweeps(1);
        let odd = odd_codes(&code_widths(&codes, &rows).expect("motion")).expect("enough");
        let found: Vec<i32> = odd.iter().map(|o| o.code).collect();
        assert!(found.contains(&300) && found.contains(&350), "{odd:?}");
        // Beside the wide code its five neighbours are missing; nothing else is odd.
        assert!(found.iter().all(|c| (298..=303).contains(c) || *c == 350), "{odd:?}");
        let wide = odd.iter().find(|o| o.code == 300).expect("found");
        assert!((wide.width - 6.0).abs() < 1.5, "{wide:?}");
    }

    #[test]
    fn one_quick_sweep_is_a_shortage() {
        let codes: Vec<i32> = (0..400).map(|k| 100 + 2 * k).collect();
        let widths = code_widths(&codes, &[0..200, 200..400]).expect("motion");
        assert!(odd_codes(&widths).is_err());
        assert_eq!(code_widths(&[7; 50], &[0..25, 25..50]), None);
    }
}
