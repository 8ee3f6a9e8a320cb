//! Blocks of about a second: level, lines and noise of each, and which of them are steady.
use super::Quiet;
use super::stretch::block_length;
use crate::measure::fit::dense::Normal;
use crate::measure::robust;

/// Most blocks looked at, evenly spread over the stretches.
const MOST: usize = 128;

/// A sample is a spike when it lies this many standard deviations off the block's model.
const CUT: f64 = 4.5;

/// One block with its model taken off.
#[derive(Clone, Debug)]
pub(super) struct Block {
    pub(super) in_longest: bool,
    /// Middle of the block, seconds from the start of the first stretch.
    pub(super) t_s: f64,
    /// Level in the middle, counts.
    pub(super) level: f64,
    /// What is left of each sample that is no spike, counts.
    pub(super) residuals: Vec<f64>,
    /// Sum of their squares.
    pub(super) squares: f64,
    /// Residuals less the parameters fitted.
    pub(super) freedom: f64,
}

impl Block {
    fn variance(&self) -> f64 {
        self.squares / self.freedom
    }
}

/// Cuts the stretches into blocks and fits level, slope and the lines at `hz` in each.
pub(super) fn fit(stretches: &[Quiet<'_>], longest: &Quiet<'_>, hz: &[f64]) -> Vec<Block> {
    let length = block_length(&longest.t_us[..longest.len()]);
    let start_us = stretches.iter().filter_map(|q| q.t_us.first()).min().copied().unwrap_or(0);
    let mut cuts: Vec<(&Quiet<'_>, usize)> = Vec::new();
    for quiet in stretches {
        let whole = quiet.len() / length;
        cuts.extend((0..whole).map(|k| (quiet, k * length)));
    }
    let take = cuts.len().min(MOST);
    let picked = (0..take).map(|k| cuts[k * cuts.len() / take]);
    picked
        .filter_map(|(quiet, from)| {
            let codes = &quiet.codes[from..from + length];
            let t_us = &quiet.t_us[from..from + length];
            let mut block = fit_one(codes, t_us, start_us, hz)?;
            block.in_longest = std::ptr::eq(quiet.codes, longest.codes);
            Some(block)
        })
        .collect()
}

fn fit_one(codes: &[i32], t_us: &[u64], start_us: u64, hz: &[f64]) -> Option<Block> {
    let (first, last) = (*t_us.first()?, *t_us.last()?);
    let middle =
        0.5 * (first.saturating_sub(start_us) as f64 + last.saturating_sub(start_us) as f64);
    let half = (0.5 * last.saturating_sub(first) as f64).max(1.0);
    let hz = resolved(hz, 2e-6 * half);
    let width = 2 + 2 * hz.len();
    let mut rows = vec![0.0; width * codes.len()];
    for (row, t) in rows.chunks_exact_mut(width).zip(t_us) {
        let away = t.saturating_sub(start_us) as f64 - middle;
        row[1] = away / half;
        fill(row, away * 1e-6, &hz);
    }
    let mut used = vec![true; codes.len()];
    let mut count = codes.len();
    let mut block = None;
    for round in 0..6 {
        if count < 2 * width {
            return None;
        }
        let mut normal = Normal::new(width);
        for ((row, code), _) in
            rows.chunks_exact(width).zip(codes).zip(&used).filter(|(_, used)| **used)
        {
            normal.add(row, f64::from(*code));
        }
        let c = normal.solve();
        let predicted = |row: &[f64]| row.iter().zip(&c).map(|(x, c)| x * c).sum::<f64>();
        let residuals: Vec<f64> = rows
            .chunks_exact(width)
            .zip(codes)
            .map(|(row, code)| f64::from(*code) - predicted(row))
            .collect();
        let limit = cut_at(&residuals, &used, round);
        let now: Vec<bool> = residuals.iter().map(|e| e.abs() <= limit).collect();
        let settled = now == used;
        count = now.iter().filter(|u| **u).count();
        let kept = residuals.iter().zip(&now).filter(|(_, u)| **u).map(|(e, _)| *e);
        let kept: Vec<f64> = kept.collect();
        block = Some(Block {
            in_longest: false,
            t_s: middle * 1e-6,
            level: c[0],
            squares: kept.iter().map(|e| e * e).sum(),
            freedom: (kept.len() as f64 - width as f64).max(1.0),
            residuals: kept,
        });
        used = now;
        if settled && round > 0 {
            break;
        }
    }
    block
}

/// Level, slope (filled by the caller) and the lines.
fn fill(row: &mut [f64], t_s: f64, hz: &[f64]) {
    row[0] = 1.0;
    for (pair, hz) in row[2..].chunks_exact_mut(2).zip(hz) {
        let (sin, cos) = (std::f64::consts::TAU * hz * t_s).sin_cos();
        pair.copy_from_slice(&[cos, sin]);
    }
}

/// Lines that a block of this length can tell from drift and from each other.
fn resolved(hz: &[f64], length_s: f64) -> Vec<f64> {
    let mut kept: Vec<f64> = Vec::new();
    for f in hz {
        let apart = kept.iter().all(|k| (k - f).abs() * length_s >= 0.75);
        if f * length_s >= 0.75 && apart {
            kept.push(*f);
        }
    }
    kept
}

/// Largest residual that is still noise: first by the median of their sizes, which spikes cannot
/// move, then by their standard deviation.
fn cut_at(residuals: &[f64], used: &[bool], round: usize) -> f64 {
    if round == 0 {
        let mut sizes: Vec<f64> = residuals.iter().map(|e| e.abs()).collect();
        let typical = robust::SIGMA_PER_MAD * robust::quantile_in_place(&mut sizes, 0.5);
        return (6.0 * typical).max(2.5);
    }
    let kept = residuals.iter().zip(used).filter(|(_, u)| **u).map(|(e, _)| e);
    let (sum, n) = kept.fold((0.0, 0.0), |(sum, n), e| (sum + e * e, n + 1.0));
    (CUT * (sum / f64::max(n, 1.0)).sqrt()).max(1.5)
}

/// Blocks whose variance agrees with that of the median block: within five standard errors of a
/// normal sample or four times the spread of all blocks, whichever is wider.
pub(super) fn steady(blocks: &[Block]) -> Vec<&Block> {
    let variances: Vec<f64> = blocks.iter().map(Block::variance).collect();
    let typical = robust::median(&variances);
    let spread = 4.0 * robust::SIGMA_PER_MAD * robust::mad(&variances);
    let within = |b: &&Block| {
        let expected = 5.0 * typical * (2.0 / b.freedom).sqrt();
        (b.variance() - typical).abs() <= expected.max(spread)
    };
    let kept: Vec<&Block> = blocks.iter().filter(within).collect();
    if blocks.len() < 4 || kept.is_empty() { blocks.iter().collect() } else { kept }
}
