//! What a contact's log comes to: bounce by direction, doubles, proposed windows.
use super::{CLOSURE_US, ContactLog, OPEN_LEAST_US, Transfer, WINDOW_MIN_MS};
use crate::measure::{Estimate, Measured, Shortage};

/// Bounce of one direction of transfer.
#[derive(Clone, Debug, PartialEq)]
pub struct BounceFigures {
    /// Median of the bounce as sampled, ms; 0 = in half of the cases nothing was seen in between.
    ///
    /// n = episodes. The interval is that of the median by order statistics (with fewer than six
    /// episodes their range: 94 % for five, 88 % for four) with 2T added above for what lies between
    /// the samples at either end. Pulses shorter than T may be missed altogether.
    pub typical_ms: Measured<Estimate>,
    /// Longest bounce captured, at most, ms: the largest seen + 2T + what no look saw, min(7T, 16 ms). The
    /// interval is the largest as sampled to the value. n = episodes.
    ///
    /// 2T bound an episode whose pulses last T or more. Shorter ones pass between the looks: a look within
    /// the bounce finds the contact at the level that it left in some half of the cases, so that a tail of
    /// seven looks more is overlooked by chance alone in one of 128, and must be an outlier among the
    /// episodes as well. Slow looks overlook less of them than of the bounce: its length limits the tail.
    /// Both numbers are such that drawn buttons exceed them in fewer than 1 of 1 000
    /// (`tests/record/bounce.rs`; 2T alone in 5 of 100).
    pub bound_ms: Measured<Estimate>,
    /// Most changes in one episode, as sampled: at least so many.
    pub edges_max: Measured<usize>,
    /// Longest stretch at the old level after the first change, ms as sampled; a stretch of k rows
    /// lasted longer than k − 1 and less than k + 1 intervals. n = episodes.
    pub longest_wrong_ms: Measured<Estimate>,
    /// Episodes in which nothing was seen in between.
    pub clean: usize,
}

/// What a contact's log comes to.
#[derive(Clone, Debug, PartialEq)]
pub struct ContactFigures {
    /// Presses, those cut by a gap in the stream too.
    pub presses: usize,
    /// Releases, likewise.
    pub releases: usize,
    /// Bounce on closing.
    pub press: BounceFigures,
    /// Bounce on opening.
    pub release: BounceFigures,
    /// Closures within 80 ms after a release episode ended.
    pub doubles: usize,
    /// Openings while held: those that ended within the settle time, and those that no finger makes
    /// ([`ContactLog::held_openings`]).
    pub dropouts: usize,
    /// Closures while released that ended within the settle time.
    pub closures: usize,
    /// One-row changes taken for damage on the line.
    pub blips: usize,
    /// Changes an hour while released that belong to no press: idle chatter.
    pub idle_edges_per_hour: Measured<Estimate>,
    /// Lock-out after an eager press, ms: 1.5 × largest press bounce + 2T, at least 5 ms.
    pub press_window_ms: Measured<Estimate>,
    /// Time that a release must hold before it is believed, ms: by the same rule.
    pub release_window_ms: Measured<Estimate>,
    /// One window for both directions: the longer of the two.
    pub window_ms: Measured<Estimate>,
    /// The line never changed and reads closed.
    pub stuck: bool,
}

/// Reads the figures off a log. Cost: a sort of the episodes.
pub fn figures(log: &ContactLog) -> ContactFigures {
    let press = bounce(log, Transfer::Press);
    let release = bounce(log, Transfer::Release);
    let press_window_ms = window(&press, log.period_us);
    let release_window_ms = window(&release, log.period_us);
    let window_ms = longer(&press_window_ms, &release_window_ms);
    ContactFigures {
        presses: log.count(Transfer::Press),
        releases: log.count(Transfer::Release),
        press,
        release,
        doubles: log.doubles().len(),
        dropouts: log.count(Transfer::Dropout) + log.held_openings(),
        closures: log.count(Transfer::Closure),
        blips: log.blips.len(),
        idle_edges_per_hour: idle_edges(log),
        press_window_ms,
        release_window_ms,
        window_ms,
        stuck: log.stuck(),
    }
}

/// Bounce of the whole episodes of one kind.
fn bounce(log: &ContactLog, transfer: Transfer) -> BounceFigures {
    let mut ms: Vec<f64> = log.whole(transfer).map(|e| e.bounce_us() as f64 * 1e-3).collect();
    ms.sort_by(f64::total_cmp);
    let reach = 2.0 * log.period_us * 1e-3;
    let none = || match log.period_us > TELLS_US {
        true => too_slow("bounce from a second press", log.period_us, TELLS_US),
        false => none_seen(transfer),
    };
    if log.period_us > TELLS_US {
        ms.clear();
    }
    BounceFigures {
        typical_ms: typical(&ms, reach).ok_or_else(none),
        bound_ms: ms
            .last()
            .map(|&most| Estimate {
                value: most + reach + overlooked_ms(log.period_us),
                low: most,
                high: most + reach + overlooked_ms(log.period_us),
                n: ms.len(),
            })
            .ok_or_else(none),
        edges_max: log.whole(transfer).map(|e| e.edges).max().ok_or_else(none),
        longest_wrong_ms: longest_wrong(log, transfer)
            .filter(|_| log.period_us <= TELLS_US)
            .ok_or_else(none),
        clean: ms.iter().filter(|&&b| b == 0.0).count(),
    }
}

/// The longest tail of a bounce that looks pass over, ms: four fifths of the 20 ms that datasheets allow a worn
/// tact switch.
const OVERLOOKED_MAX_MS: f64 = 16.0;

/// How long the end of a bounce may go on between the looks, ms.
fn overlooked_ms(period_us: f64) -> f64 {
    (7.0 * period_us * 1e-3).min(OVERLOOKED_MAX_MS)
}

/// The longest stretch at the level that was left; `None` without an episode.
fn longest_wrong(log: &ContactLog, transfer: Transfer) -> Option<Estimate> {
    let value = log.whole(transfer).map(|e| e.longest_wrong_us).max()? as f64 * 1e-3;
    let interval = log.period_us * 1e-3;
    let n = log.whole(transfer).count();
    Some(Estimate { value, low: (value - interval).max(0.0), high: value + interval, n })
}

/// Median of sorted values with its order-statistics interval, `reach` added above.
fn typical(sorted: &[f64], reach: f64) -> Option<Estimate> {
    let n = sorted.len();
    let value = match n {
        0 => return None,
        _ if n % 2 == 1 => sorted[n / 2],
        _ => 0.5 * (sorted[n / 2 - 1] + sorted[n / 2]),
    };
    let k = median_rank(n);
    Some(Estimate { value, low: sorted[k], high: sorted[n - 1 - k] + reach, n })
}

/// How many values may be left out at each end while the rest still covers the median at 95 %.
///
/// Largest k with P(Bin(n, ½) ≤ k) ≤ 2.5 %; 0 below n = 9. Source: sign test.
fn median_rank(n: usize) -> usize {
    let mut term = 0.5f64.powi(n.min(1000) as i32);
    if n > 1000 {
        // Normal limit; 0.5^n would underflow soon after.
        return ((n as f64 - 1.96 * (n as f64).sqrt()) / 2.0) as usize;
    }
    let mut below = 0.0;
    let mut k = 0usize;
    loop {
        below += term;
        if below > 0.025 {
            return k.saturating_sub(1);
        }
        term *= (n - k) as f64 / (k + 1) as f64;
        k += 1;
    }
}

/// Proposed window: 1.5 × largest bounce seen + 2T, at least 5 ms.
fn window(bounce: &BounceFigures, period_us: f64) -> Measured<Estimate> {
    let reach = 2.0 * period_us * 1e-3;
    bounce.bound_ms.clone().map(|bound| {
        let value = (1.5 * bound.low + reach).max(WINDOW_MIN_MS);
        Estimate {
            value,
            low: bound.low.max(WINDOW_MIN_MS),
            high: value.max(1.5 * bound.high),
            n: bound.n,
        }
    })
}

/// The longer of two windows; the one there is when only one is known.
fn longer(a: &Measured<Estimate>, b: &Measured<Estimate>) -> Measured<Estimate> {
    match (a, b) {
        (Ok(a), Ok(b)) => Ok(if a.value < b.value { *b } else { *a }),
        (Ok(one), Err(_)) | (Err(_), Ok(one)) => Ok(*one),
        (Err(short), Err(_)) => Err(short.clone()),
    }
}

/// Changes an hour in short closures, over the time released; interval by the Poisson law.
fn idle_edges(log: &ContactLog) -> Measured<Estimate> {
    let open_rows = log.rows.saturating_sub(log.held_rows);
    let share = open_rows as f64 / log.rows.max(1) as f64;
    let hours = share * (log.span_us.1 - log.span_us.0) as f64 / 3.6e9;
    if hours <= 0.0 {
        return Err(Shortage {
            what: "time released".to_owned(),
            have: open_rows,
            need: 2,
            advice: "record the controller with this button let go".to_owned(),
        });
    }
    if log.period_us > CLOSURE_US {
        return Err(too_slow("a closure from a tap", log.period_us, CLOSURE_US));
    }
    let edges: usize =
        log.episodes.iter().filter(|e| e.transfer == Transfer::Closure).map(|e| e.edges).sum();
    // Wilson-like Poisson limits (k + 1.92 ± 1.96 √(k + 0.96)); common practice, good to a few per
    // cent from k = 0 on.
    let k = edges as f64;
    let half = 1.96 * (k + 0.96).sqrt();
    let low = (k + 1.92 - half).max(0.0);
    let at = |count: f64| count / hours;
    Ok(Estimate { value: at(k), low: at(low.min(k)), high: at(k + 1.92 + half), n: edges })
}

/// Frames farther apart than this do not tell bounce from a second press, µs: a row seen open may have been
/// two of them long, which is what a finger needs ([`OPEN_LEAST_US`]).
const TELLS_US: f64 = OPEN_LEAST_US as f64 / 2.0;

/// Frames come too far apart to tell one thing from another.
fn too_slow(what: &str, period_us: f64, need_us: f64) -> Shortage {
    Shortage {
        what: format!("frames a second to tell {what}"),
        have: (1e6 / period_us) as usize,
        need: (1e6 / need_us) as usize,
        advice: "print more often, or remove the delay in the loop".to_owned(),
    }
}

/// No episode of this kind.
fn none_seen(transfer: Transfer) -> Shortage {
    let what = if transfer == Transfer::Press { "presses" } else { "releases" };
    Shortage {
        what: format!("{what} of this button"),
        have: 0,
        need: 1,
        advice: "press it five times, once slowly and once off its middle".to_owned(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::measure::contact::Edge;

    /// 4 ms sampling; presses with the given bounces in rows, 25 rows apart.
    fn log_of(bounce_rows: &[usize]) -> ContactLog {
        let mut edges = Vec::new();
        let mut row = 50;
        for &b in bounce_rows {
            edges.push(Edge { row, closed: true });
            if b > 0 {
                edges.push(Edge { row: row + b - 1, closed: false });
                edges.push(Edge { row: row + b, closed: true });
            }
            edges.push(Edge { row: row + 25, closed: false });
            row += 60;
        }
        let t_us: Vec<u64> = (0..row as u64 + 50).map(|i| i * 4000).collect();
        ContactLog::of(&edges, &t_us, 4000.0, false)
    }

    #[test]
    fn typical_bound_and_windows_by_hand() {
        let f = figures(&log_of(&[0, 2, 2, 0, 2]));
        let typical = f.press.typical_ms.expect("five presses");
        assert_eq!((typical.value, typical.low, typical.high, typical.n), (8.0, 0.0, 16.0, 5));
        assert_eq!(f.press.bound_ms.expect("five presses").value, 32.0);
        assert_eq!(f.press.clean, 2);
        assert_eq!(f.press_window_ms.expect("seen").value, 1.5 * 8.0 + 8.0);
        assert_eq!(f.release_window_ms.expect("seen").value, 8.0);
        assert_eq!(f.window_ms.expect("seen").value, 20.0);
        assert_eq!((f.presses, f.releases, f.doubles), (5, 5, 0));
        let wrong = f.press.longest_wrong_ms.expect("five presses");
        assert_eq!((wrong.value, wrong.low, wrong.high, wrong.n), (4.0, 0.0, 8.0, 5));
        assert_eq!((f.press.edges_max, f.release.edges_max), (Ok(3), Ok(1)));
    }

    #[test]
    fn a_button_that_was_never_pressed_has_no_figures_rather_than_zeros() {
        let t_us: Vec<u64> = (0..400).map(|i| i * 1000).collect();
        let f = figures(&ContactLog::of(&[], &t_us, 1000.0, false));
        assert!(f.press.edges_max.is_err() && f.press.longest_wrong_ms.is_err());
        assert!(f.window_ms.is_err());
    }

    #[test]
    fn a_clean_contact_sampled_fast_gets_the_shortest_window() {
        let t_us: Vec<u64> = (0..400).map(|i| i * 1000).collect();
        let edges = [Edge { row: 100, closed: true }, Edge { row: 200, closed: false }];
        let f = figures(&ContactLog::of(&edges, &t_us, 1000.0, false));
        assert_eq!(f.window_ms.expect("seen").value, WINDOW_MIN_MS);
        assert_eq!(f.press.bound_ms.expect("seen").value, 9.0);
    }

    #[test]
    fn ranks_of_the_sign_test() {
        // Published tables of the sign test: n = 10 leaves out 1, n = 20 leaves out 5.
        assert_eq!([5, 8, 9, 10, 20, 25].map(median_rank), [0, 0, 1, 1, 5, 7]);
    }

    #[test]
    fn idle_chatter_is_a_rate_with_an_interval() {
        let t_us: Vec<u64> = (0..=360_000).map(|i| i * 10_000).collect();
        let edges = [Edge { row: 1000, closed: true }, Edge { row: 1001, closed: false }];
        let f = figures(&ContactLog::of(&edges, &t_us, 10_000.0, false));
        let rate = f.idle_edges_per_hour.expect("an hour");
        assert!((rate.value - 2.0).abs() < 0.01 && rate.low < 1.0 && rate.high > 6.0);
    }
}
