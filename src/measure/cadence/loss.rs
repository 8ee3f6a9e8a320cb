//! Lost frames in their order: single losses or bursts.

/// Runs of lost frames.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct LossRuns {
    /// Frames lost.
    pub lost: u64,
    /// Places in the stream where frames are missing.
    pub runs: usize,
    /// Longest run, frames.
    pub longest: u64,
    /// Mean length of a run, frames; 0 without loss.
    pub mean: f64,
    /// Mean length that independent losses at the same share would have: 1/(1 − share).
    pub mean_if_independent: f64,
}

impl LossRuns {
    /// Runs are at least twice as long as independent losses would make them: a buffer overran or a
    /// link stopped, rather than single lines being damaged.
    pub fn bursts(&self) -> bool {
        self.lost > 0 && self.mean >= 2.0 * self.mean_if_independent
    }
}

/// Gathers (row, frames lost before it) of a stream in which `received` frames came.
///
/// Entries with 0 lost are ignored. Cost: linear in the number of gaps.
/// Source: run length of a memoryless loss process, geometric with mean 1/(1 − p).
pub fn loss_runs(missing: &[(usize, u64)], received: u64) -> LossRuns {
    let runs = missing.iter().filter(|m| m.1 > 0).count();
    let lost = missing.iter().fold(0u64, |sum, m| sum.saturating_add(m.1));
    let share = lost as f64 / (lost as f64 + received as f64).max(1.0);
    LossRuns {
        lost,
        runs,
        longest: missing.iter().map(|m| m.1).max().unwrap_or(0),
        mean: if runs == 0 { 0.0 } else { lost as f64 / runs as f64 },
        mean_if_independent: 1.0 / (1.0 - share).max(f64::MIN_POSITIVE),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn single_losses_are_no_bursts() {
        let f = loss_runs(&[(10, 1), (50, 1), (51, 0), (90, 1)], 97);
        assert_eq!((f.lost, f.runs, f.longest, f.mean), (3, 3, 1, 1.0));
        assert!((f.mean_if_independent - 100.0 / 97.0).abs() < 1e-12 && !f.bursts());
    }

    #[test]
    fn a_few_long_holes_are_bursts() {
        assert!(loss_runs(&[(10, 20), (50, 30)], 950).bursts());
        assert_eq!(loss_runs(&[], 0), LossRuns { mean_if_independent: 1.0, ..LossRuns::default() });
    }
}
