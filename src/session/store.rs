//! The session: columns by field in shared blocks, roles as a map on top, marks and refusals.
use std::ops::Range;
use std::sync::Arc;
use std::sync::atomic::{AtomicU64, Ordering};

use crate::rig::{Control, HostUs, Mark, Rig, Word};
use crate::wire::mask::{self, Evidence};
use crate::wire::{Base, Dialect, EdgeLine, Field, Role};

use super::block::{BLOCK_ROWS, Block};
use super::envelope::Shelves;
use super::{Chunk, Identity, Refusals};

/// When a mark was set: at a host time, before a row.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Stamp {
    /// Host time.
    pub host: HostUs,
    /// Rows that had been taken in when it was set.
    pub row: usize,
}

/// Bytes that went to the board.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Sent {
    /// Host time, µs.
    pub host_us: u64,
    /// What was sent.
    pub bytes: Vec<u8>,
}

/// Messages to the board that a session keeps; the file keeps all of them.
const KEPT_SENT: usize = 65_536;

/// What a person wrote about a session: the header of its file.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct About {
    /// When the recording began, as text (RFC 3339), handed in by whoever recorded.
    pub created: String,
    /// Free notes.
    pub notes: String,
    /// The parts list that was in force.
    pub rig: Option<Rig>,
    /// The times of the records mean nothing: it was played from a log that tells none.
    pub clockless: bool,
}

/// Everything that came over one link, as columns.
///
/// Cloning shares all full blocks; only the open one is copied, and that only when the clone and
/// the original part ways.
#[derive(Clone, Debug, Default)]
pub struct Session {
    /// What a person wrote about it.
    pub about: About,
    dialect: Option<Arc<Dialect>>,
    roles: Vec<Role>,
    masks: Vec<Option<Evidence>>,
    reading: u64,
    blocks: Vec<Arc<Block>>,
    shelves: Shelves,
    rows: usize,
    timed: bool,
    marks: Vec<Mark<Stamp>>,
    sent: Vec<Sent>,
    edges: Vec<(usize, EdgeLine)>,
    refusals: Refusals,
    second: u64,
    second_more: Vec<String>,
    breaks: Vec<(usize, u64)>,
    bytes: u64,
    identity: Option<Identity>,
}

/// The next reading of a stream.
static READINGS: AtomicU64 = AtomicU64::new(1);

fn is_mask(role: Role) -> bool {
    matches!(role, Role::Buttons | Role::MoreButtons(_) | Role::Button(_) | Role::OutButtons)
}

fn is_unsettled(field: &Field) -> bool {
    field.base == Base::Unsettled
}

impl Session {
    /// An empty session; the dialect comes with the first chunk that has one.
    pub fn new(about: About) -> Session {
        Session { about, ..Session::default() }
    }

    /// Takes in a chunk: cost proportional to the chunk.
    ///
    /// A chunk with another dialect than the one in force starts the columns anew: what came
    /// before has to be read again from the recorded bytes.
    pub fn append(&mut self, chunk: &Chunk) {
        if let Some(dialect) = &chunk.dialect
            && self.dialect.as_ref() != Some(dialect)
        {
            self.begin(dialect);
        }
        self.refusals.merge(&chunk.refusals);
        self.second += chunk.second;
        self.second_more.extend_from_slice(&chunk.second_more);
        self.bytes += chunk.bytes;
        let rows = if chunk.columns.len() == self.roles.len() { chunk.rows() } else { 0 };
        if chunk.identity.is_some() {
            self.identity.clone_from(&chunk.identity);
        }
        for (row, left) in &chunk.breaks {
            let row = self.rows + row;
            match self.breaks.last_mut().filter(|(at, _)| *at == row) {
                Some((_, more)) => *more += left,
                None => self.breaks.push((row, *left)),
            }
        }
        self.edges.extend(chunk.edges.iter().map(|(row, edge)| (self.rows + row, *edge)));
        if rows == 0 {
            return;
        }
        if self.rows == 0 {
            self.timed = chunk.host_us.len() == rows;
        }
        for (evidence, cells) in self.masks.iter_mut().zip(&chunk.columns) {
            if let Some(evidence) = evidence {
                evidence.add(cells);
            }
        }
        let mut from = 0;
        while from < rows {
            if self.blocks.last().is_none_or(|b| b.rows() == BLOCK_ROWS) {
                let before = self.blocks.last().map(|b| b.as_ref());
                self.blocks.push(Arc::new(Block::new(self.roles.len(), before)));
            }
            let at = self.blocks.len().saturating_sub(1);
            let Some(open) = self.blocks.last_mut() else { return };
            let had = open.rows();
            from += Arc::make_mut(open).fill(&chunk.columns, &chunk.host_us, from);
            self.shelves.note(at, open, had);
        }
        self.rows += rows;
    }

    fn begin(&mut self, dialect: &Arc<Dialect>) {
        self.roles = dialect.fields.iter().map(|f| f.role).collect();
        let watched =
            |f: &Field| (is_mask(f.role) || f.base == Base::Unsettled).then(Evidence::default);
        self.masks = dialect.fields.iter().map(watched).collect();
        self.dialect = Some(Arc::clone(dialect));
        self.reading = READINGS.fetch_add(1, Ordering::Relaxed);
        self.blocks.clear();
        self.shelves.clear();
        self.breaks.clear();
        self.edges.clear();
        self.second = 0;
        self.rows = 0;
        self.obey_labels(dialect);
    }

    /// Gives fields the roles that the parts list says their labels stand for.
    fn obey_labels(&mut self, dialect: &Dialect) {
        let Some(labels) = self.about.rig.as_ref().map(|rig| rig.labels.clone()) else { return };
        for (k, field) in dialect.fields.iter().enumerate() {
            let meant = labels.iter().find(|(label, _)| label.eq_ignore_ascii_case(&field.name));
            match meant {
                Some((_, Control::Axis(axis))) => self.set_role(k, Role::Axis(*axis)),
                Some((_, Control::Button(n))) => self.set_role(k, Role::Button(*n)),
                None => {}
            }
        }
    }

    /// Which reading of a stream the rows are of: those of one reading never change, they only get
    /// more. No two readings of the process share a number; 0 = none yet.
    pub fn reading(&self) -> u64 {
        self.reading
    }

    /// Number of rows.
    pub fn rows(&self) -> usize {
        self.rows
    }

    /// Bytes taken in.
    pub fn bytes(&self) -> u64 {
        self.bytes
    }

    /// The dialect by which the bytes were framed; `None` until it is known.
    pub fn dialect(&self) -> Option<&Arc<Dialect>> {
        self.dialect.as_ref()
    }

    /// The role of each field; starts as the dialect's.
    pub fn roles(&self) -> &[Role] {
        &self.roles
    }

    /// True while the roles are those that the order of the columns gave, and nobody declared others.
    pub fn roles_by_order(&self) -> bool {
        let guess = self.dialect.as_ref().filter(|dialect| dialect.by_order);
        guess.is_some_and(|d| d.fields.iter().map(|f| f.role).eq(self.roles.iter().copied()))
    }

    /// Gives a field another meaning; nothing is framed again.
    ///
    /// A role that may stand only once is taken from the field that had it (which is then
    /// [`Role::Ignore`]).
    pub fn set_role(&mut self, field: usize, role: Role) {
        if field >= self.roles.len() {
            return;
        }
        if role != Role::Ignore {
            for other in self.roles.iter_mut().filter(|r| **r == role) {
                *other = Role::Ignore;
            }
        }
        self.roles[field] = role;
        if is_mask(role) && self.masks[field].is_none() {
            let mut evidence = Evidence::default();
            self.each_part(0..self.rows, |block, part| evidence.add(&block.column(field)[part]));
            self.masks[field] = Some(evidence);
        }
    }

    /// The field that carries a role.
    pub fn field_of(&self, role: Role) -> Option<usize> {
        self.roles.iter().position(|r| *r == role)
    }

    /// Frames that came as lines of a second form.
    pub fn second(&self) -> u64 {
        self.second
    }

    /// What only lines of the second form hold, and is not read.
    pub fn second_more(&self) -> &[String] {
        &self.second_more
    }

    /// The blocks in order; all but the last are full.
    pub fn blocks(&self) -> &[Arc<Block>] {
        &self.blocks
    }

    /// Extremes of every field in steps from 256 rows on.
    pub(super) fn shelves(&self) -> &Shelves {
        &self.shelves
    }

    /// True when each row has a host time.
    pub fn is_timed(&self) -> bool {
        self.timed
    }

    /// True where the board's clock or the arrival of the lines tells the time.
    pub fn tells_time(&self) -> bool {
        self.timed || self.field_of(Role::Clock).is_some()
    }

    /// The base in which a field's digits are now understood.
    pub fn base_of(&self, field: usize) -> Base {
        let said = self.dialect.as_ref().and_then(|d| d.fields.get(field));
        let masked = self.roles.get(field).is_some_and(|role| is_mask(*role));
        match (said.map(|f| f.base), self.evidence(field)) {
            // Digits alone: only masks are printed as hexadecimal without a sign of it.
            (Some(Base::Unsettled), _) if !masked => Base::Decimal,
            (Some(Base::Unsettled), Some(evidence)) => evidence.base(),
            (Some(base), _) => base,
            (None, _) => Base::Decimal,
        }
    }

    /// True when the cells of a field are kept as they are understood, so that envelope and sums
    /// are those of its values.
    pub fn is_kept_settled(&self, field: usize) -> bool {
        let said = self.dialect.as_ref().and_then(|d| d.fields.get(field)).map(|f| f.base);
        said != Some(Base::Unsettled) || self.base_of(field) != Base::Decimal
    }

    /// What is known of a mask's values; `None` for a field that was never a mask.
    pub(super) fn evidence(&self, field: usize) -> Option<&Evidence> {
        self.masks.get(field)?.as_ref()
    }

    /// A mask's value as the dialect's base, settled by now, understands it.
    pub(super) fn settled(&self, field: usize) -> impl Fn(u32) -> u32 + use<> {
        let carry = !self.is_kept_settled(field);
        move |value| if carry { mask::decimal_from_hex(value) } else { value }
    }

    /// A cell of a field as it was framed, by the base in which its digits are now understood.
    pub fn settled_cell(&self, field: usize, cell: i32) -> i32 {
        self.settled(field)(cell as u32) as i32
    }

    /// All cells of a field (nothing for a field that does not exist).
    pub fn column(&self, field: usize) -> Vec<i32> {
        self.column_part(field, 0..self.rows)
    }

    /// The cells of a field in `rows`; cost proportional to their number.
    pub fn column_part(&self, field: usize, rows: Range<usize>) -> Vec<i32> {
        let mut cells = Vec::with_capacity(rows.len());
        if field < self.roles.len() {
            self.each_part(rows, |block, part| cells.extend_from_slice(&block.column(field)[part]));
        }
        if self.dialect.as_ref().is_some_and(|d| d.fields.get(field).is_some_and(is_unsettled)) {
            let settled = self.settled(field);
            cells.iter_mut().for_each(|c| *c = settled(*c as u32) as i32);
        }
        cells
    }

    /// Host times of `rows`, µs; empty when the source has none.
    pub fn host_part(&self, rows: Range<usize>) -> Vec<u64> {
        let mut times = Vec::with_capacity(if self.timed { rows.len() } else { 0 });
        self.each_part(rows, |block, part| {
            times.extend_from_slice(block.host_us().get(part).unwrap_or(&[]));
        });
        times
    }

    /// Calls `f` with each block that `rows` touches and the part of it.
    fn each_part(&self, rows: Range<usize>, mut f: impl FnMut(&Block, Range<usize>)) {
        let rows = rows.start..rows.end.min(self.rows);
        let mut at = rows.start;
        while at < rows.end {
            let base = at / BLOCK_ROWS * BLOCK_ROWS;
            let end = rows.end.min(base + BLOCK_ROWS);
            f(&self.blocks[at / BLOCK_ROWS], at - base..end - base);
            at = end;
        }
    }

    /// First row whose host time is not before `host_us`; the number of rows if there is none.
    pub fn row_at_host(&self, host_us: u64) -> usize {
        let block =
            self.blocks.partition_point(|b| b.host_us().last().is_some_and(|last| *last < host_us));
        let inside =
            self.blocks.get(block).map_or(0, |b| b.host_us().partition_point(|t| *t < host_us));
        (block * BLOCK_ROWS + inside).min(self.rows)
    }

    /// Marks in the order in which they were set.
    pub fn marks(&self) -> &[Mark<Stamp>] {
        &self.marks
    }

    /// Sets a mark at a host time.
    pub fn mark(&mut self, mark: Mark<HostUs>) {
        let stamp = Stamp { host: mark.at, row: self.rows };
        self.marks.push(mark.set_at(stamp));
    }

    /// Sets a mark before a row, no later than behind the last, at that row's host time where there
    /// is one.
    pub fn mark_row(&mut self, mark: Mark<usize>) {
        let row = mark.at.min(self.rows);
        let host = HostUs(self.host_part(row..row + 1).first().copied().unwrap_or(0));
        self.marks.push(mark.set_at(Stamp { host, row }));
    }

    /// Puts other marks in place of those that are there.
    pub fn set_marks(&mut self, marks: Vec<Mark<Stamp>>) {
        self.marks = marks;
    }

    /// Notes what was sent to the board; the first 65 536 messages are kept.
    pub fn note_sent(&mut self, host_us: u64, bytes: &[u8]) {
        if self.sent.len() < KEPT_SENT {
            self.sent.push(Sent { host_us, bytes: bytes.to_vec() });
        }
    }

    /// What was sent to the board, in order.
    pub fn sent(&self) -> &[Sent] {
        &self.sent
    }

    /// The row before which a mark stands: by host time where there is one.
    pub fn row_of(&self, mark: &Mark<Stamp>) -> usize {
        let Stamp { host, row } = mark.at;
        if self.timed { self.row_at_host(host.0) } else { row.min(self.rows) }
    }

    /// Changes of the buttons by the firmware's own log, each behind so many rows.
    pub fn edges(&self) -> &[(usize, EdgeLine)] {
        &self.edges
    }

    /// Takes over where a later recording is broken and its edge log, `row` rows further on.
    pub(super) fn join_places(&mut self, row: usize, later: &Session) {
        self.breaks.extend(later.breaks.iter().map(|(at, left)| (row + at, *left)));
        self.edges.extend(later.edges.iter().map(|(at, edge)| (row + at, *edge)));
    }

    /// Lines that gave no frame.
    pub fn refusals(&self) -> &Refusals {
        &self.refusals
    }

    /// Rows before which the link had been away, in order.
    pub fn returns(&self) -> Vec<usize> {
        let back = self.marks.iter().filter(|mark| mark.word == Word::Back);
        let mut rows: Vec<usize> = back.map(|mark| self.row_of(mark)).collect();
        rows.sort_unstable();
        rows.dedup();
        rows
    }

    /// Rows before which the record itself is broken, and how many records are left out there.
    pub fn breaks(&self) -> &[(usize, u64)] {
        &self.breaks
    }

    /// Which bytes it came from; `None` for a session that came from none.
    pub fn identity(&self) -> Option<&Identity> {
        self.identity.as_ref()
    }

    /// The file that it came from, as it stands on the disk.
    pub fn set_identity(&mut self, identity: Identity) {
        self.identity = Some(identity);
    }
}
