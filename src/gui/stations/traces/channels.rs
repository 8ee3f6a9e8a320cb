//! What can be drawn: fields of the stream by role, contacts by bit; and the rows behind each.
use std::ops::Range;

use super::sampling::Rows;
use crate::desk::{Desk, Timebase};
use crate::gui::stations::link::roles;
use crate::rig::{AxisId, Half};
use crate::session::{BLOCK_ROWS, Session, Sums};
use crate::wire::Role;

/// Rows taken in at once: a file read in one piece must not hold up the window.
const ROWS_AT_ONCE: usize = 1 << 16;
/// Cells read one by one for a sum at most, of a field that is kept in another base.
const MOST_READ: usize = 1 << 16;

/// One thing that can be drawn over time.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Channel {
    /// An analog input.
    Axis(AxisId),
    /// A contact.
    Button(u8),
    /// Any other field, by its place in the line.
    Field(usize),
}

impl Channel {
    /// Every channel of the session: analog inputs, contacts, then the other fields.
    pub fn all(desk: &Desk, contacts: &Contacts) -> Vec<Channel> {
        let session = desk.session();
        let mut all: Vec<Channel> = AxisId::ALL
            .into_iter()
            .filter(|a| session.field_of(Role::Axis(*a)).is_some())
            .map(Channel::Axis)
            .collect();
        all.extend((0..contacts.count()).map(|k| Channel::Button(k as u8)));
        let taken = |role: &Role| matches!(role, Role::Axis(_) | Role::Button(_) | Role::Buttons);
        let others = session.roles().iter().enumerate().filter(|(_, r)| !taken(r));
        all.extend(others.map(|(k, _)| Channel::Field(k)));
        all
    }

    /// Its name for a person.
    pub fn name(self, desk: &Desk) -> String {
        match self {
            Channel::Axis(axis) => axis.words().to_owned(),
            Channel::Button(k) => button_name(desk, k),
            Channel::Field(k) => {
                let session = desk.session();
                let role = session.roles().get(k).copied().unwrap_or(Role::Ignore);
                match session.dialect().and_then(|d| d.fields.get(k)) {
                    Some(field) if role == Role::Ignore => field.name.clone(),
                    _ => roles::words(role),
                }
            }
        }
    }

    /// The field of the stream that carries it; `None` for a contact.
    pub fn field(self, session: &Session) -> Option<usize> {
        match self {
            Channel::Axis(axis) => session.field_of(Role::Axis(axis)),
            Channel::Button(_) => None,
            Channel::Field(k) => (k < session.roles().len()).then_some(k),
        }
    }

    /// The analog input that it is; `None` for a contact or another field.
    pub fn axis(self) -> Option<AxisId> {
        match self {
            Channel::Axis(axis) => Some(axis),
            _ => None,
        }
    }

    /// True for the right half, whose lines are dashed.
    pub fn is_right(self) -> bool {
        matches!(self, Channel::Axis(axis) if axis.half() == Half::Right)
    }
}

/// Position name of a button from the rig, else its number.
pub fn button_name(desk: &Desk, k: u8) -> String {
    match desk.rig().buttons.get(usize::from(k)) {
        Some(name) if !name.is_empty() => name.clone(),
        _ => format!("b{k}"),
    }
}

/// The rows of one field.
pub struct FieldRows<'a> {
    /// Where its cells are.
    pub session: &'a Session,
    /// When they came.
    pub timebase: &'a Timebase,
    /// Which field.
    pub field: usize,
}

impl Rows for FieldRows<'_> {
    fn rows(&self) -> usize {
        self.session.rows()
    }

    fn t_us(&self, row: usize) -> u64 {
        self.timebase.time_us(row)
    }

    fn min_max(&self, rows: Range<usize>) -> Option<(i32, i32)> {
        self.session.span_of(self.field, rows)
    }

    fn state(&self) -> Option<u64> {
        Some(self.field as u64)
    }

    fn spans(&self, runs: &[Range<usize>]) -> Vec<Option<(i32, i32)>> {
        self.session.spans_of(self.field, runs)
    }

    fn value(&self, row: usize) -> i32 {
        let block = self.session.blocks().get(row / BLOCK_ROWS);
        let cell = block.and_then(|b| b.column(self.field).get(row % BLOCK_ROWS));
        cell.copied().unwrap_or(0)
    }

    fn row_at(&self, t_us: u64) -> usize {
        self.timebase.row_at(t_us).min(self.session.rows())
    }

    fn row_near(&self, t_us: u64, guess: usize) -> usize {
        self.timebase.row_near(t_us, guess).min(self.session.rows())
    }

    fn entry_near(&self, t_us: u64, guess: usize) -> usize {
        self.timebase.entry_near(t_us, guess).min(self.session.rows())
    }

    fn sums(&self, rows: Range<usize>) -> Option<Sums> {
        if self.session.is_kept_settled(self.field) {
            return self.session.sums_of(self.field, rows);
        }
        (rows.len() <= MOST_READ).then(|| Sums::of(&self.session.column_part(self.field, rows)))
    }

    fn cells(&self, rows: Range<usize>) -> Option<Vec<i32>> {
        Some(self.session.column_part(self.field, rows))
    }
}

/// Every change of every contact, found once a row as the session grows.
#[derive(Clone, Debug, Default)]
pub struct Contacts {
    seen: usize,
    last: u32,
    /// Rows at which a bit changes, by bit.
    changes: Vec<Vec<usize>>,
    /// Level before the first change, by bit.
    first: u32,
    /// Rows at the high level, by bit, up to the last change.
    high_rows: Vec<usize>,
    source: Vec<(usize, u32)>,
}

impl Contacts {
    /// Takes in rows that came since the last call, a limited number a call; starts anew when the
    /// session changed. Gives true when all have been taken in.
    pub fn follow(&mut self, session: &Session) -> bool {
        let source = sources(session);
        if source != self.source || session.rows() < self.seen {
            *self = Contacts { source, ..Contacts::default() };
        }
        if self.source.is_empty() || session.rows() == self.seen {
            return true;
        }
        let rows = self.seen..session.rows().min(self.seen + ROWS_AT_ONCE);
        let mut masks = vec![0_u32; rows.len()];
        for (field, bit) in &self.source {
            let cells = session.column_part(*field, rows.clone());
            for (mask, cell) in masks.iter_mut().zip(cells) {
                *mask |= if *bit == u32::MAX { cell as u32 } else { (cell as u32 & 1) << bit };
            }
        }
        if self.seen == 0 {
            self.first = masks[0];
            self.last = masks[0];
        }
        for (k, mask) in masks.iter().enumerate() {
            let mut changed = mask ^ self.last;
            self.grow(mask | self.first);
            while changed != 0 {
                let bit = changed.trailing_zeros() as usize;
                self.note(bit, rows.start + k, self.last >> bit & 1 == 1);
                changed &= changed - 1;
            }
            self.last = *mask;
        }
        self.seen = rows.end;
        self.seen == session.rows()
    }

    fn grow(&mut self, mask: u32) {
        let bits = match self.source.as_slice() {
            // A mask shows at least as many contacts as its highest bit ever set.
            [(_, u32::MAX)] => (32 - mask.leading_zeros()) as usize,
            fields => fields.iter().map(|(_, bit)| *bit as usize + 1).max().unwrap_or(0),
        };
        if bits > self.changes.len() {
            self.changes.resize(bits, Vec::new());
            self.high_rows.resize(bits, 0);
        }
    }

    fn note(&mut self, bit: usize, row: usize, was_high: bool) {
        if bit >= self.changes.len() {
            self.changes.resize(bit + 1, Vec::new());
            self.high_rows.resize(bit + 1, 0);
        }
        let from = self.changes[bit].last().copied().unwrap_or(0);
        if was_high {
            self.high_rows[bit] += row - from;
        }
        self.changes[bit].push(row);
    }

    /// Number of contacts.
    pub fn count(&self) -> usize {
        self.changes.len()
    }

    /// Rows at which a contact changes, ascending.
    pub fn changes(&self, bit: u8) -> &[usize] {
        self.changes.get(usize::from(bit)).map_or(&[], Vec::as_slice)
    }

    /// True when the contact is at its high level for most of the time: pressed reads 0.
    pub fn idles_high(&self, bit: u8) -> bool {
        let k = usize::from(bit);
        let Some(changes) = self.changes.get(k) else { return false };
        let from = changes.last().copied().unwrap_or(0);
        let tail = if self.last >> k & 1 == 1 { self.seen - from } else { 0 };
        (self.high_rows[k] + tail) * 2 > self.seen
    }

    /// True when the contact is closed at a row.
    pub fn closed_at(&self, bit: u8, row: usize) -> bool {
        let changed = self.changes(bit).partition_point(|c| *c <= row);
        let first_high = self.first >> bit & 1 == 1;
        let high = first_high ^ (changed % 2 == 1);
        high ^ self.idles_high(bit)
    }
}

/// The fields that carry contacts: the mask (bit = MAX), or one field a contact.
fn sources(session: &Session) -> Vec<(usize, u32)> {
    if let Some(field) = session.field_of(Role::Buttons) {
        return vec![(field, u32::MAX)];
    }
    let single = |(k, role): (usize, &Role)| match role {
        Role::Button(bit) if *bit < 32 => Some((k, u32::from(*bit))),
        _ => None,
    };
    session.roles().iter().enumerate().filter_map(single).collect()
}

/// The rows of one contact: 1 = closed.
pub struct ContactRows<'a> {
    /// When the rows came.
    pub timebase: &'a Timebase,
    /// The changes.
    pub contacts: &'a Contacts,
    /// Which contact.
    pub bit: u8,
}

impl Rows for ContactRows<'_> {
    fn rows(&self) -> usize {
        self.contacts.seen
    }

    fn t_us(&self, row: usize) -> u64 {
        self.timebase.time_us(row)
    }

    fn min_max(&self, rows: Range<usize>) -> Option<(i32, i32)> {
        let rows = rows.start..rows.end.min(self.contacts.seen);
        if rows.is_empty() {
            return None;
        }
        let changes = self.contacts.changes(self.bit);
        let next = changes.partition_point(|c| *c <= rows.start);
        if changes.get(next).is_some_and(|c| *c < rows.end) {
            return Some((0, 1));
        }
        let level = i32::from(self.contacts.closed_at(self.bit, rows.start));
        Some((level, level))
    }

    /// Rows that are not taken in yet have no level, and which one is closed may turn out otherwise.
    fn state(&self) -> Option<u64> {
        Some(2 * self.contacts.seen as u64 + u64::from(self.contacts.idles_high(self.bit)))
    }

    fn spans(&self, runs: &[Range<usize>]) -> Vec<Option<(i32, i32)>> {
        let contacts = self.contacts;
        let changes = contacts.changes(self.bit);
        let k = usize::from(self.bit);
        let closed_first = (contacts.first >> k & 1 == 1) ^ contacts.idles_high(self.bit);
        // Columns mostly follow one another: the changes before one are before the next.
        let mut passed = 0;
        let of = |rows: &Range<usize>| {
            let rows = rows.start..rows.end.min(contacts.seen);
            if rows.is_empty() {
                return None;
            }
            if passed > 0 && changes[passed - 1] > rows.start {
                passed = 0;
            }
            passed += passed_from(&changes[passed..], rows.start);
            if changes.get(passed).is_some_and(|c| *c < rows.end) {
                return Some((0, 1));
            }
            let level = i32::from(closed_first ^ (passed % 2 == 1));
            Some((level, level))
        };
        runs.iter().map(of).collect()
    }

    fn value(&self, row: usize) -> i32 {
        i32::from(self.contacts.closed_at(self.bit, row))
    }

    fn row_at(&self, t_us: u64) -> usize {
        self.timebase.row_at(t_us).min(self.contacts.seen)
    }
}

/// How many of some ascending rows are not behind `row`; cost 2·log₂ of their number.
fn passed_from(changes: &[usize], row: usize) -> usize {
    let mut step = 1;
    while changes.get(step - 1).is_some_and(|c| *c <= row) {
        step *= 2;
    }
    let (low, high) = (step / 2, (step - 1).min(changes.len()));
    low + changes[low.min(high)..high].partition_point(|c| *c <= row)
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    proptest! {
        #[test]
        fn columns_of_a_contact_are_those_of_its_rows(
            steps in prop::collection::vec(1_usize..40, 0..60),
            first in any::<bool>(),
            runs in prop::collection::vec((0_usize..2_600, 0_usize..60), 0..80),
        ) {
            let changes: Vec<usize> = steps
                .iter()
                .scan(0, |at, step| { *at += step; Some(*at) })
                .collect();
            let contacts = Contacts {
                seen: 2_500,
                first: u32::from(first),
                last: u32::from(first ^ (changes.len() % 2 == 1)),
                changes: vec![changes],
                high_rows: vec![0],
                ..Contacts::default()
            };
            let timebase = Timebase::default();
            let rows = ContactRows { timebase: &timebase, contacts: &contacts, bit: 0 };
            let runs: Vec<Range<usize>> = runs.iter().map(|(at, n)| *at..at + n).collect();
            let want: Vec<_> = runs.iter().map(|r| rows.min_max(r.clone())).collect();
            prop_assert_eq!(rows.spans(&runs), want);
        }
    }
}
