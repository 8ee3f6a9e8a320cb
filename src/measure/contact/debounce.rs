//! Debouncing rules run over recorded changes: what a firmware would have reported, and when.

/// A rule by which a firmware turns contact levels into presses.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Debounce {
    /// Deferred: a change is reported once the level has held for `us`; a change exactly at the end
    /// comes too late to stop it.
    StableInterval {
        /// Time to hold, µs.
        us: u64,
    },
    /// Eager: a change is reported at once, then the input is ignored for `us` and read again.
    LockOut {
        /// Time ignored, µs.
        us: u64,
    },
    /// Sampled: reported when `samples` readings in a row differ from the report.
    Counter {
        /// Sampling interval, µs; the first sample is at time 0.
        every_us: u64,
        /// Readings in a row.
        samples: u32,
    },
    /// Sampled: a counter goes up by one for closed, down for open, between 0 and `most`; its ends
    /// are reported.
    Integrator {
        /// Sampling interval, µs; the first sample is at time 0.
        every_us: u64,
        /// Upper end.
        most: u32,
    },
}

/// What is reported for `changes` of a contact that starts open: (time, closed) in µs, in time order.
///
/// Sampled rules run until `until_us`; an interval of 0 is taken as 1 µs. Cost: linear in the changes,
/// for sampled rules in the samples. Rules: J. Ganssle, "A Guide to Debouncing" (2004); names as used
/// in the trade.
pub fn debounced(rule: Debounce, changes: &[(u64, bool)], until_us: u64) -> Vec<(u64, bool)> {
    match rule {
        Debounce::StableInterval { us } => deferred(us, changes),
        Debounce::LockOut { us } => eager(us, changes),
        Debounce::Counter { every_us, samples } => {
            let mut differing = 0;
            sampled(every_us, changes, until_us, |level, shown| {
                differing = if level == shown { 0 } else { differing + 1 };
                if differing >= samples { level } else { shown }
            })
        }
        Debounce::Integrator { every_us, most } => {
            let mut count = 0u32;
            sampled(every_us, changes, until_us, |level, shown| {
                count = if level { (count + 1).min(most) } else { count.saturating_sub(1) };
                if count == most { true } else { shown && count > 0 }
            })
        }
    }
}

fn deferred(us: u64, changes: &[(u64, bool)]) -> Vec<(u64, bool)> {
    let mut shown = false;
    let mut reports = Vec::new();
    for (k, &(at, closed)) in changes.iter().enumerate() {
        let holds = changes.get(k + 1).is_none_or(|next| next.0 >= at.saturating_add(us));
        if holds && closed != shown {
            shown = closed;
            reports.push((at.saturating_add(us), closed));
        }
    }
    reports
}

fn eager(us: u64, changes: &[(u64, bool)]) -> Vec<(u64, bool)> {
    let mut shown = false;
    let mut reports = Vec::new();
    let mut open_again = 0;
    for (k, &(at, closed)) in changes.iter().enumerate() {
        let next = changes.get(k + 1).map_or(u64::MAX, |c| c.0);
        // The level that stands until `next` is taken when the lock-out is over before that.
        let seen = at.max(open_again);
        if closed != shown && seen < next {
            shown = closed;
            reports.push((seen, closed));
            open_again = seen.saturating_add(us);
        }
    }
    reports
}

fn sampled(
    every_us: u64,
    changes: &[(u64, bool)],
    until_us: u64,
    mut step: impl FnMut(bool, bool) -> bool,
) -> Vec<(u64, bool)> {
    let mut shown = false;
    let mut reports = Vec::new();
    let mut next = 0;
    let mut level = false;
    let mut at = 0u64;
    while at <= until_us {
        while let Some(&(when, closed)) = changes.get(next)
            && when <= at
        {
            level = closed;
            next += 1;
        }
        let now = step(level, shown);
        if now != shown {
            shown = now;
            reports.push((at, now));
        }
        at = at.saturating_add(every_us.max(1));
    }
    reports
}

#[cfg(test)]
mod tests {
    use super::*;

    const TAP: [(u64, bool); 4] = [(1000, true), (1300, false), (1500, true), (9000, false)];

    #[test]
    fn deferred_waits_and_eager_does_not() {
        let late = debounced(Debounce::StableInterval { us: 2000 }, &TAP, 0);
        assert_eq!(late, [(3500, true), (11_000, false)]);
        let soon = debounced(Debounce::LockOut { us: 2000 }, &TAP, 0);
        assert_eq!(soon, [(1000, true), (9000, false)]);
    }

    #[test]
    fn a_release_inside_the_lock_out_is_read_when_it_ends() {
        let short = [(1000, true), (2000, false)];
        let reports = debounced(Debounce::LockOut { us: 5000 }, &short, 0);
        assert_eq!(reports, [(1000, true), (6000, false)]);
    }

    #[test]
    fn sampled_rules_count_readings() {
        let counter = Debounce::Counter { every_us: 1000, samples: 3 };
        // Read closed at 1, 2, 3 ms; open at 9, 10, 11 ms.
        assert_eq!(debounced(counter, &TAP, 20_000), [(3000, true), (11_000, false)]);
        let sum = Debounce::Integrator { every_us: 1000, most: 2 };
        assert_eq!(debounced(sum, &TAP, 20_000), [(2000, true), (10_000, false)]);
    }
}
