//! Stretches of readings cut by their own content: the same readings give the same stretches wherever
//! they stand, and a line that is missing changes only the one that held it.
//!
//! A row is the raw codes of all axes and what changed of the buttons. A cut stands before a row whose
//! mixture with the row before it is less than that of any row within reach (a sixteenth of a second),
//! before the first change after a rest as long, and where such a rest has lasted. So a stretch lasts an
//! eighth of a second on average, and every second of shared readings holds whole ones: with a reach of
//! an eighth one second in fifty did not, in 600 000 drawn places.
use crate::rig::AxisId;
use crate::session::Tracks;

/// Frames a second where nothing tells the time.
const USUAL_HZ: f64 = 250.0;
/// Bits of a fingerprint.
const PRINT: u64 = (1 << 48) - 1;
/// Nothing is counted beyond so many bits in a stretch.
const BITS_ENOUGH: f64 = 256.0;
/// After a start boards print the same: filters fill, levels rise. µs.
const START_US: u64 = 1_000_000;

/// One stretch.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Window {
    /// First row, and the row behind its last.
    pub(super) rows: (usize, usize),
    /// 48 bits of its content.
    pub(super) print: u64,
    /// Length of a plain description of its changes, bits: what chance would have to hit.
    pub(super) bits: f64,
    /// It lies within a second of the first row or of a restart.
    pub(super) start: bool,
}

/// Rows of a sixteenth of a second, 2 to 4 096.
pub(super) fn reach(tracks: &Tracks) -> usize {
    let rate_hz = tracks.rate_hz().filter(|hz| hz.is_finite()).unwrap_or(USUAL_HZ);
    (rate_hz / 16.0).round().clamp(2.0, 4096.0) as usize
}

/// The whole stretches of a session. Cost: linear in the rows.
pub(super) fn windows(tracks: &Tracks, reach: usize) -> Vec<Window> {
    let columns: Vec<&[i32]> = AxisId::ALL.iter().filter_map(|a| tracks.axis(*a)).collect();
    let buttons = tracks.buttons.as_deref();
    if columns.is_empty() && buttons.is_none() {
        return Vec::new();
    }
    let rows: Vec<u64> = (0..tracks.rows()).map(|row| content(&columns, buttons, row)).collect();
    let cuts = cuts(&rows, reach);
    let mut starts = tracks.stream.resets.clone();
    starts.insert(0, 0);
    let mut found = Vec::with_capacity(cuts.len());
    for pair in cuts.windows(2) {
        let (first, end) = (pair[0], pair[1]);
        let last_start = starts.partition_point(|start| *start <= first).saturating_sub(1);
        let begun = starts.get(last_start).and_then(|row| tracks.t_us.get(*row));
        let since = tracks.t_us[first].saturating_sub(begun.copied().unwrap_or(0));
        let print = rows[first..end].iter().fold(0, |print, row| mix(print ^ row)) & PRINT;
        let bits = bits(&columns, buttons, first, end);
        found.push(Window { rows: (first, end), print, bits, start: since < START_US });
    }
    found
}

/// Stirs 64 bits (the finaliser of SplitMix64; Steele, Lea and Flood 2014, from memory).
fn mix(value: u64) -> u64 {
    let value = value.wrapping_add(0x9E37_79B9_7F4A_7C15);
    let value = (value ^ value >> 30).wrapping_mul(0xBF58_476D_1CE4_E5B9);
    let value = (value ^ value >> 27).wrapping_mul(0x94D0_49BB_1331_11EB);
    value ^ value >> 31
}

/// A row as a number. Buttons by what changed, so that it does not matter which level is pressed.
fn content(columns: &[&[i32]], buttons: Option<&[u32]>, row: usize) -> u64 {
    let codes = columns.iter().fold(0, |sum, column| mix(sum ^ u64::from(column[row] as u32)));
    mix(codes ^ u64::from(toggled(buttons, row)))
}

fn toggled(buttons: Option<&[u32]>, row: usize) -> u32 {
    let Some(buttons) = buttons.filter(|_| row > 0) else { return 0 };
    buttons[row] ^ buttons[row - 1]
}

/// Rows before which a stretch ends, in order.
fn cuts(rows: &[u64], reach: usize) -> Vec<usize> {
    let pair = |row: usize| mix(rows[row - 1].rotate_left(21) ^ rows[row]);
    let pairs: Vec<u64> = (1..rows.len()).map(pair).collect();
    let mut found = least(&pairs, reach);
    // Rests: no row differs from the one before it.
    let mut still = 0;
    for row in 1..rows.len() {
        if rows[row] == rows[row - 1] {
            still += 1;
            if still == reach {
                found.push(row);
            }
        } else {
            if still >= reach {
                found.push(row);
            }
            still = 0;
        }
    }
    found.sort_unstable();
    found.dedup();
    found
}

/// Rows whose pair (of index row − 1) is less than all within reach before it, and not more than any
/// within reach behind it.
fn least(pairs: &[u64], reach: usize) -> Vec<usize> {
    let mut found = Vec::new();
    let mut at = reach;
    while at + reach < pairs.len() {
        let less = |k: &usize| pairs[*k] < pairs[at];
        if let Some(next) = (at + 1..=at + reach).find(less) {
            // Nothing between can be the least: each has a lesser one within reach behind it, or is
            // not less than this one.
            at = next;
        } else {
            if pairs[at - reach..at].iter().all(|before| *before > pairs[at]) {
                found.push(at + 1);
            }
            // All within reach are no less than this one.
            at += reach + 1;
        }
    }
    found
}

/// Length of a plain adaptive description of the changes of a stretch, bits.
///
/// A change is how many rows came since the last one and by how much. One that was seen before behind the
/// same one costs the logarithm of its rarity there; a new one that of all so far, of its size and of its
/// wait. What repeats regularly costs next to nothing.
fn bits(columns: &[&[i32]], buttons: Option<&[u32]>, first: usize, end: usize) -> f64 {
    let mut bits = 0.0;
    for column in columns {
        let change = |row: usize| i64::from(column[row]) - i64::from(column[row - 1]);
        bits += described(first, end, change, |by| 1.0 + (by.unsigned_abs() as f64).log2());
        if bits > BITS_ENOUGH {
            return BITS_ENOUGH;
        }
    }
    bits += described(first, end, |row| i64::from(toggled(buttons, row)), |_| 5.0);
    bits.min(BITS_ENOUGH)
}

fn described(
    first: usize,
    end: usize,
    change: impl Fn(usize) -> i64,
    size: impl Fn(i64) -> f64,
) -> f64 {
    let mut seen: Vec<([(usize, i64); 2], f64)> = Vec::new();
    let (mut bits, mut before, mut last) = (0.0, (0, 0), first);
    for row in first + 1..end {
        let by = change(row);
        if by == 0 {
            continue;
        }
        let wait = row - last;
        last = row;
        let pair = [before, (wait, by)];
        before = pair[1];
        let behind = seen.iter().filter(|(known, _)| known[0] == pair[0]);
        let all: f64 = 1.0 + behind.map(|(_, count)| count).sum::<f64>();
        match seen.iter_mut().find(|(known, _)| *known == pair) {
            Some((_, count)) => {
                bits += (all / *count).log2();
                *count += 1.0;
            }
            None => {
                bits += all.log2() + size(by) + (wait as f64).log2();
                seen.push((pair, 1.0));
            }
        }
        if bits > BITS_ENOUGH {
            break;
        }
    }
    bits
}

#[cfg(test)]
mod tests {
    use super::*;

    fn noise(rows: usize, seed: u64) -> Vec<u64> {
        (0..rows as u64).map(|row| mix(row ^ seed << 32)).collect()
    }

    #[test]
    fn cuts_are_the_same_wherever_a_stretch_stands() {
        let rows = noise(5000, 1);
        let all = cuts(&rows, 16);
        let later: Vec<u64> = noise(777, 2).into_iter().chain(rows[1000..3000].to_vec()).collect();
        let part = cuts(&later, 16);
        let wanted: Vec<usize> =
            all.iter().filter(|c| (1018..2982).contains(*c)).map(|c| c - 1000 + 777).collect();
        assert!(wanted.len() > 20, "{}", wanted.len());
        assert!(wanted.iter().all(|cut| part.contains(cut)), "{wanted:?} {part:?}");
    }

    #[test]
    fn every_second_of_noise_holds_a_whole_stretch() {
        // A second is 250 rows here; those within reach of its ends are decided by others too.
        for seed in 0..40 {
            let cuts = cuts(&noise(4000, seed), 16);
            for from in 0..4000 - 250 {
                let inside = |cut: &&usize| (from + 18..from + 250 - 17).contains(*cut);
                assert!(cuts.iter().filter(inside).count() >= 2, "{seed} {from}");
            }
            let mean = (cuts[cuts.len() - 1] - cuts[0]) as f64 / (cuts.len() - 1) as f64;
            assert!((28.0..40.0).contains(&mean), "{mean}");
        }
    }

    #[test]
    fn what_repeats_regularly_says_next_to_nothing() {
        let flicker: Vec<i32> = (0..60).map(|row| 511 + row % 2).collect();
        assert!(bits(&[&flicker], None, 0, 60) < 16.0, "{}", bits(&[&flicker], None, 0, 60));
        let ramp: Vec<i32> = (0..60).map(|row| 511 + 4 * row).collect();
        assert!(bits(&[&ramp], None, 0, 60) < 16.0);
        let odd: Vec<i32> = noise(60, 3).iter().map(|n| 511 + (n % 2) as i32).collect();
        assert!(bits(&[&odd], None, 0, 60) > 40.0, "{}", bits(&[&odd], None, 0, 60));
        let still = [512; 60];
        assert_eq!(bits(&[&still], None, 0, 60), 0.0);
    }
}
