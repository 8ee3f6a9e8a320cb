//! Interarrival jitter as RFC 3550 defines it, in doubles and in the RFC's integers.
use crate::measure::distribution::t_quantile;
use crate::measure::moments::{mean, sd};
use crate::measure::{Estimate, Measured, Shortage};

/// Frames before the filter is taken for settled: ten times its 16.
const LEAD: usize = 160;

/// Blocks that the mean is taken over for its interval.
const BLOCKS: usize = 20;

/// Interarrival jitter of a stream, µs: mean of RFC 3550's J over the frames.
///
/// `board_us` when the board made each frame, `host_us` when it came; both in µs, each never
/// decreasing but at a row of `cuts` (restarts, ascending), where the filter goes on without that
/// step. The first 160 frames, in which J rises from 0, are left out. The interval is t·s/√20 over 20
/// blocks. A [`Shortage`] below 400 frames. Frames that one read brings together share its time, so
/// that a slow reader shows as jitter. Cost: one pass. Source: RFC 3550 (2003), 6.4.1.
pub fn mean_jitter_us(board_us: &[u64], host_us: &[u64], cuts: &[usize]) -> Measured<Estimate> {
    let n = board_us.len().min(host_us.len());
    if n < LEAD + 12 * BLOCKS {
        return Err(Shortage {
            what: "frames with both clocks".to_owned(),
            have: n,
            need: LEAD + 12 * BLOCKS,
            advice: "record a few seconds from a live link".to_owned(),
        });
    }
    let mut cuts = cuts.iter().peekable();
    let mut sums = [0.0; BLOCKS];
    let each = (n - LEAD) / BLOCKS;
    let mut j = 0.0;
    for row in 1..LEAD + each * BLOCKS {
        if cuts.next_if(|&&cut| cut <= row).is_none_or(|&cut| cut != row) {
            let sent = board_us[row].wrapping_sub(board_us[row - 1]) as f64;
            let came = host_us[row].wrapping_sub(host_us[row - 1]) as f64;
            j += ((came - sent).abs() - j) / 16.0;
        }
        if let Some(block) = row.checked_sub(LEAD) {
            sums[block / each] += j;
        }
    }
    let means = sums.map(|sum| sum / each as f64);
    let value = mean(&means);
    let half = t_quantile(0.975, (BLOCKS - 1) as f64) * sd(&means) / (BLOCKS as f64).sqrt();
    Ok(Estimate { value, low: (value - half).max(0.0), high: value + half, n })
}

/// Interarrival jitter after each packet from the second on.
///
/// D = (R_i − R_{i−1}) − (S_i − S_{i−1}), J += (|D| − J)/16, J = 0 before. Send and receive times in
/// one unit, which is the result's; clocks need not agree. The shorter slice decides; non-finite
/// times give non-finite jitter. Cost: O(n). Source: RFC 3550 (2003), 6.4.1.
pub fn jitter<'a>(send: &'a [f64], receive: &'a [f64]) -> impl Iterator<Item = f64> + 'a {
    let transit = send.iter().zip(receive).map(|(s, r)| r - s);
    let next = transit.clone().skip(1);
    transit.zip(next).scan(0.0, |j, (before, now): (f64, f64)| {
        *j += ((now - before).abs() - *j) / 16.0;
        Some(*j)
    })
}

/// The same in integers, scaled by 16: J += |D| − ((J + 8) >> 4), from whole transit times.
///
/// Yields the scaled value for each packet, the first being 0; what a sender reports is that >> 4.
/// Saturates instead of overflowing. Source: RFC 3550 (2003), A.8.
pub fn jitter_scaled(transit: &[u32]) -> impl Iterator<Item = u32> + '_ {
    let before = transit.first().copied().into_iter().chain(transit.iter().copied());
    transit.iter().zip(before).scan(0u32, |j, (&now, before)| {
        *j = j.saturating_add(now.abs_diff(before)) - (j.saturating_add(8) >> 4);
        Some(*j)
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn steady_transit_has_no_jitter() {
        assert!(jitter(&[0.0, 10.0, 20.0], &[7.0, 17.0, 27.0]).all(|j| j == 0.0));
    }

    #[test]
    fn one_late_packet_by_hand() {
        // D = 16 then −16: J = 1, then 1 + (16 − 1)/16 = 1.9375.
        let j: Vec<f64> = jitter(&[0.0, 10.0, 20.0], &[5.0, 31.0, 25.0]).collect();
        assert_eq!(j, [1.0, 1.9375]);
    }

    #[test]
    fn frames_that_come_in_turn_early_and_late_by_hand() {
        // Every other frame comes 300 µs late: |D| = 300 throughout, which J comes to.
        let board: Vec<u64> = (0..4000).map(|k| 4000 * k).collect();
        let mut host: Vec<u64> = (0..4000).map(|k| 4000 * k + k % 2 * 300 + 900).collect();
        let found = mean_jitter_us(&board, &host, &[]).unwrap();
        assert!((found.value - 300.0).abs() < 0.1, "{found:?}");
        // A restart of the board is no jitter.
        host[2000..].iter_mut().for_each(|t| *t += 5_000_000);
        let found = mean_jitter_us(&board, &host, &[2000]).unwrap();
        assert!((found.value - 300.0).abs() < 0.1, "{found:?}");
        assert!(mean_jitter_us(&board[..300], &host, &[]).is_err());
    }

    #[test]
    fn too_few_packets_have_none() {
        assert_eq!(jitter(&[1.0], &[2.0]).count(), 0);
        assert_eq!(jitter_scaled(&[]).count(), 0);
    }
}
