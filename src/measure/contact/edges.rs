//! Changes of contacts in a mask column, and which of them look like damage on the line.
use super::Edge;

/// Rows looked at together: one OR over the block tells whether anything in it changed.
const BLOCK: usize = 256;

/// Rows of a changed block looked at together.
const PART: usize = 16;

/// Every change of each contact, in row order.
///
/// `masks[i]` has bit k set while contact k reads closed; contacts `0..count` are followed (at most
/// 32). One pass over the column, blocks without a change cost one XOR and one OR a row; memory
/// grows with the number of changes only. An empty column gives empty lists.
pub fn edges(masks: &[u32], count: usize) -> Vec<Vec<Edge>> {
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
                        push_changes(&mut found, start + PART * part + k, a, (a ^ b) & live);
                    }
                }
            }
        }
        start = end;
    }
    found
}

/// Bits that differ anywhere between two stretches.
fn changed(now: &[u32], before: &[u32]) -> u32 {
    now.iter().zip(before).fold(0, |any, (a, b)| any | (a ^ b))
}

/// Adds the changed bits of one row to their lists.
fn push_changes(found: &mut [Vec<Edge>], row: usize, mask: u32, mut changed: u32) {
    while changed != 0 {
        let bit = changed.trailing_zeros() as usize;
        found[bit].push(Edge { row, closed: mask >> bit & 1 == 1 });
        changed &= changed - 1;
    }
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
pub fn take_blips(edges: &mut [Vec<Edge>], t_us: &[u64], settle_us: u64) -> Vec<Vec<usize>> {
    let lone: Vec<Vec<Edge>> = edges.iter().map(|list| lone_rows(list, t_us, settle_us)).collect();
    let own = own_dropouts(edges, &lone, t_us);
    let mut suspects: Vec<usize> = lone
        .iter()
        .zip(&own)
        .flat_map(|(list, &own)| list.iter().filter(move |e| e.closed || !own))
        .map(|e| e.row)
        .collect();
    suspects.sort_unstable();
    suspects.dedup();
    edges.iter_mut().zip(&own).map(|(list, &own)| remove(list, &suspects, own)).collect()
}

/// First edges of one-row changes that have no neighbour within the settle time.
fn lone_rows(list: &[Edge], t_us: &[u64], settle_us: u64) -> Vec<Edge> {
    let at = |e: &Edge| t_us.get(e.row).copied().unwrap_or(0);
    let mut lone = Vec::new();
    for (k, pair) in list.windows(2).enumerate() {
        let one_row = pair[1].row == pair[0].row + 1;
        let quiet_before = k == 0 || at(&pair[0]) - at(&list[k - 1]) >= settle_us;
        let quiet_after = list.get(k + 2).is_none_or(|next| at(next) - at(&pair[1]) >= settle_us);
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
fn own_dropouts(edges: &[Vec<Edge>], lone: &[Vec<Edge>], t_us: &[u64]) -> Vec<bool> {
    let rows = t_us.len() as f64;
    let total: usize = lone.iter().map(Vec::len).sum();
    edges
        .iter()
        .zip(lone)
        .map(|(list, lone)| {
            let openings = lone.iter().filter(|e| !e.closed).count();
            let held = held_rows(list, t_us.len()) as f64;
            let elsewhere = rows * edges.len() as f64 - held;
            let rate = ((total - openings) as f64 + 0.5) / elsewhere.max(1.0);
            openings >= 3 && poisson_at_least(openings, rate * held) < 1e-3
        })
        .collect()
}

/// Rows in which a contact reads closed.
pub(super) fn held_rows(list: &[Edge], rows: usize) -> usize {
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
fn remove(list: &mut Vec<Edge>, suspects: &[usize], keep_openings: bool) -> Vec<usize> {
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
        let found = edges(&masks, 32);
        assert_eq!(found[0], [Edge { row: 255, closed: true }, Edge { row: 256, closed: false }]);
        assert_eq!(found[3], [Edge { row: 256, closed: true }, Edge { row: 600, closed: false }]);
        assert_eq!(found[31], [Edge { row: 999, closed: true }]);
        assert_eq!(found.iter().map(Vec::len).sum::<usize>(), 5);
        assert!(edges(&[], 4).iter().all(Vec::is_empty));
    }

    #[test]
    fn contacts_beyond_the_count_are_not_followed() {
        let found = edges(&column(10, &[(5, 2..4)]), 5);
        assert!(found.iter().all(Vec::is_empty));
    }

    #[test]
    fn a_lone_row_is_taken_out_with_what_else_changed_in_it() {
        // Contact 0 bounces at rows 100–103; row 102 also flips contact 1, alone: damage.
        let mut masks = column(400, &[(0, 100..200)]);
        masks[102] ^= 0b11;
        let t_us: Vec<u64> = (0..400).map(|i| i * 4000).collect();
        let mut found = edges(&masks, 2);
        assert_eq!(found[0].len(), 4);
        let blips = take_blips(&mut found, &t_us, 10_000);
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
        let t_us: Vec<u64> = (0..5000).map(|i| i * 4000).collect();
        let mut found = edges(&masks, 15);
        let blips = take_blips(&mut found, &t_us, 10_000);
        assert_eq!(found[0].len(), 12);
        assert_eq!(blips[1], [4000]);
        assert!(found[1].is_empty());
    }

    #[test]
    fn held_rows_count_the_lead_and_the_tail() {
        let list = [Edge { row: 3, closed: false }, Edge { row: 7, closed: true }];
        assert_eq!(held_rows(&list, 10), 3 + 3);
    }

    #[test]
    fn poisson_tail_by_hand() {
        // P(N ≥ 2), mean 1: 1 − 2/e.
        assert!((poisson_at_least(2, 1.0) - (1.0 - 2.0 / std::f64::consts::E)).abs() < 1e-12);
        assert_eq!(poisson_at_least(0, 3.0), 1.0);
    }
}
