//! Changes of contacts in a mask column, and which of them look like damage on the line.

/// One change of a contact with all that its episode needs of the time column.
///
/// The time column of an hour does not fit into a processor's cache: it is read when the changes are
/// found, in row order, and never again.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct Change {
    /// First row that shows the new level.
    pub row: usize,
    /// Time of that row, µs.
    pub t_us: u64,
    /// True: the contact reads closed from here on.
    pub closed: bool,
    /// More than the settle time lies between this row and the one before it or after it.
    pub by_gap: bool,
}

impl Change {
    /// The change that shows in `row` of the time column.
    pub fn at(row: usize, closed: bool, t_us: &[u64], settle_us: u64) -> Change {
        let now = t_us[row];
        let before = row > 0 && now - t_us[row - 1] > settle_us;
        let after = t_us.get(row + 1).is_some_and(|&next| next - now > settle_us);
        Change { row, t_us: now, closed, by_gap: before || after }
    }
}

/// Rows looked at together: one OR over the block tells whether anything in it changed.
const BLOCK: usize = 256;

/// Rows of a changed block looked at together.
const PART: usize = 16;

/// Every change of each contact, in row order.
///
/// `masks[i]` has bit k set while contact k reads closed at `t_us[i]` (as long); contacts `0..count`
/// are followed (at most 32). One pass over the column, blocks without a change cost one XOR and one
/// OR a row; memory grows with the number of changes only. An empty column gives empty lists.
pub(super) fn changes(
    masks: &[u32],
    t_us: &[u64],
    count: usize,
    settle_us: u64,
) -> Vec<Vec<Change>> {
    let count = count.min(32);
    let mut found = vec![Vec::new(); count];
    let live = if count == 32 { u32::MAX } else { (1 << count) - 1 };
    let mut start = 1;
    while start < masks.len() {
        let end = (start + BLOCK).min(masks.len());
        let (now, before) = (&masks[start..end], &masks[start - 1..end - 1]);
        if changed(now, before) & live != 0 {
            for (part, (now, before)) in now.chunks(PART).zip(before.chunks(PART)).enumerate() {
                if changed(now, before) & live != 0 {
                    for (k, (&a, &b)) in now.iter().zip(before).enumerate() {
                        let row = start + PART * part + k;
                        for bit in bits((a ^ b) & live) {
                            let closed = a >> bit & 1 == 1;
                            found[bit].push(Change { row, t_us: 0, closed, by_gap: false });
                        }
                    }
                }
            }
        }
        start = end;
    }
    // Times in a loop of their own: its waits for memory overlap.
    for change in found.iter_mut().flatten() {
        *change = Change::at(change.row, change.closed, t_us, settle_us);
    }
    found
}

/// Bits that differ anywhere between two stretches.
fn changed(now: &[u32], before: &[u32]) -> u32 {
    now.iter().zip(before).fold(0, |any, (a, b)| any | (a ^ b))
}

/// Numbers of the bits that are set, the lowest first.
fn bits(mut mask: u32) -> impl Iterator<Item = usize> {
    std::iter::from_fn(move || {
        let bit = (mask != 0).then(|| mask.trailing_zeros() as usize)?;
        mask &= mask - 1;
        Some(bit)
    })
}

/// Takes one-row changes that stand alone out of the lists, with what else the same rows changed.
///
/// A row in which a contact differs from the rows before and after it, with no other change of that
/// contact within the settle time, is damage on the line more often than a contact (common
/// practice); other one-row changes in the same row go with it, even inside an episode. The rows
/// taken out are returned for each contact. When the one-row openings of a held contact are far
/// more frequent than one-row changes are elsewhere, they are the contact's own and stay.
///
/// Cost: linear in the number of changes, plus a sort of the suspected rows.
pub(super) fn take_blips(
    lists: &mut [Vec<Change>],
    rows: usize,
    settle_us: u64,
) -> Vec<Vec<usize>> {
    let lone: Vec<Vec<Change>> = lists.iter().map(|list| lone_rows(list, settle_us)).collect();
    if lone.iter().all(Vec::is_empty) {
        return vec![Vec::new(); lists.len()];
    }
    let own = own_dropouts(lists, &lone, rows);
    let mut suspects: Vec<usize> = lone
        .iter()
        .zip(&own)
        .flat_map(|(list, &own)| list.iter().filter(move |e| e.closed || !own))
        .map(|e| e.row)
        .collect();
    suspects.sort_unstable();
    suspects.dedup();
    lists.iter_mut().zip(&own).map(|(list, &own)| remove(list, &suspects, own)).collect()
}

/// First edges of one-row changes that have no neighbour within the settle time.
fn lone_rows(list: &[Change], settle_us: u64) -> Vec<Change> {
    let mut lone = Vec::new();
    for (k, pair) in list.windows(2).enumerate() {
        let one_row = pair[1].row == pair[0].row + 1;
        let quiet_before = k == 0 || pair[0].t_us - list[k - 1].t_us >= settle_us;
        let quiet_after = list.get(k + 2).is_none_or(|next| next.t_us - pair[1].t_us >= settle_us);
        if one_row && quiet_before && quiet_after {
            lone.push(pair[0]);
        }
    }
    lone
}

/// For each contact: are its one-row openings while held its own?
///
/// Damage hits rows at random, so it gives each contact one-row changes in proportion to the rows.
/// All contacts together, without the one-row openings of the contact in question, set the rate; a
/// Poisson count that would exceed it with a probability below 1 in 1 000 is the contact's own.
fn own_dropouts(lists: &[Vec<Change>], lone: &[Vec<Change>], rows: usize) -> Vec<bool> {
    let total: usize = lone.iter().map(Vec::len).sum();
    lists
        .iter()
        .zip(lone)
        .map(|(list, lone)| {
            let openings = lone.iter().filter(|e| !e.closed).count();
            let held = held_rows(list, rows) as f64;
            let elsewhere = (rows * lists.len()) as f64 - held;
            let rate = ((total - openings) as f64 + 0.5) / elsewhere.max(1.0);
            openings >= 3 && poisson_at_least(openings, rate * held) < 1e-3
        })
        .collect()
}

/// Rows in which a contact reads closed.
pub(super) fn held_rows(list: &[Change], rows: usize) -> usize {
    let Some(first) = list.first() else { return 0 };
    let lead = if first.closed { 0 } else { first.row };
    let ends = list.iter().skip(1).map(|e| e.row).chain([rows]);
    let closed = list.iter().zip(ends).filter(|(e, _)| e.closed);
    lead + closed.map(|(e, end)| end.saturating_sub(e.row)).sum::<usize>()
}

/// P(N ≥ k) for a Poisson count of the given mean.
fn poisson_at_least(k: usize, mean: f64) -> f64 {
    let mut term = (-mean).exp();
    let mut below = 0.0;
    for i in 0..k {
        below += term;
        term *= mean / (i + 1) as f64;
    }
    (1.0 - below).max(0.0)
}

/// Removes one-row changes in suspected rows; gives back the rows that went.
fn remove(list: &mut Vec<Change>, suspects: &[usize], keep_openings: bool) -> Vec<usize> {
    let mut kept = Vec::with_capacity(list.len());
    let mut gone = Vec::new();
    let mut k = 0;
    while k < list.len() {
        let one_row = list.get(k + 1).is_some_and(|next| next.row == list[k].row + 1);
        let spare = keep_openings && !list[k].closed;
        if one_row && !spare && suspects.binary_search(&list[k].row).is_ok() {
            gone.push(list[k].row);
            k += 2;
        } else {
            kept.push(list[k]);
            k += 1;
        }
    }
    *list = kept;
    gone
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A row every 4 ms.
    fn times(rows: usize) -> Vec<u64> {
        (0..rows as u64).map(|i| i * 4000).collect()
    }

    fn found(masks: &[u32], count: usize) -> Vec<Vec<Change>> {
        changes(masks, &times(masks.len()), count, 10_000)
    }

    fn change(row: usize, closed: bool) -> Change {
        Change { row, t_us: row as u64 * 4000, closed, by_gap: false }
    }

    fn column(rows: usize, closed: &[(usize, std::ops::Range<usize>)]) -> Vec<u32> {
        let mut masks = vec![0; rows];
        for (bit, range) in closed {
            masks[range.clone()].iter_mut().for_each(|m| *m |= 1 << bit);
        }
        masks
    }

    #[test]
    fn every_change_is_found_across_block_borders() {
        let masks = column(1000, &[(0, 255..256), (3, 256..600), (31, 999..1000)]);
        let found = found(&masks, 32);
        assert_eq!(found[0], [change(255, true), change(256, false)]);
        assert_eq!(found[3], [change(256, true), change(600, false)]);
        assert_eq!(found[31], [change(999, true)]);
        assert_eq!(found.iter().map(Vec::len).sum::<usize>(), 5);
        assert!(changes(&[], &[], 4, 10_000).iter().all(Vec::is_empty));
    }

    #[test]
    fn a_row_next_to_a_gap_in_time_says_so() {
        let t_us = [0, 1000, 2000, 300_000, 301_000, 302_000];
        let by_gap = |row| Change::at(row, true, &t_us, 10_000).by_gap;
        assert_eq!([1, 2, 3, 4, 5].map(by_gap), [false, true, true, false, false]);
    }

    #[test]
    fn contacts_beyond_the_count_are_not_followed() {
        let found = found(&column(10, &[(5, 2..4)]), 5);
        assert!(found.iter().all(Vec::is_empty));
    }

    #[test]
    fn a_lone_row_is_taken_out_with_what_else_changed_in_it() {
        // Contact 0 bounces at rows 100–103; row 102 also flips contact 1, alone: damage.
        let mut masks = column(400, &[(0, 100..200)]);
        masks[102] ^= 0b11;
        let mut found = found(&masks, 2);
        assert_eq!(found[0].len(), 4);
        let blips = take_blips(&mut found, masks.len(), 10_000);
        assert_eq!(blips, [vec![102], vec![102]]);
        assert_eq!(found[0].len(), 2);
        assert!(found[1].is_empty());
    }

    #[test]
    fn frequent_openings_of_a_held_contact_are_its_own() {
        let mut masks = column(5000, &[(0, 1000..2000)]);
        for row in [1100, 1300, 1500, 1700, 1900] {
            masks[row] ^= 1;
        }
        masks[4000] ^= 0b10;
        let mut found = found(&masks, 15);
        let blips = take_blips(&mut found, masks.len(), 10_000);
        assert_eq!(found[0].len(), 12);
        assert_eq!(blips[1], [4000]);
        assert!(found[1].is_empty());
    }

    #[test]
    fn held_rows_count_the_lead_and_the_tail() {
        let list = [change(3, false), change(7, true)];
        assert_eq!(held_rows(&list, 10), 3 + 3);
    }

    #[test]
    fn poisson_tail_by_hand() {
        // P(N ≥ 2), mean 1: 1 − 2/e.
        assert!((poisson_at_least(2, 1.0) - (1.0 - 2.0 / std::f64::consts::E)).abs() < 1e-12);
        assert_eq!(poisson_at_least(0, 3.0), 1.0);
    }
}
