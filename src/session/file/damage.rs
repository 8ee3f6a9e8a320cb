//! What may be wrong with a session file: where it stands, what was done about it, what it cost.
/// One kind of damage to a session file.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum DamageKind {
    /// The head's checksum does not agree: it was mended, or its texts may be wrong, or it is set aside.
    Header,
    /// The block's checksum does not agree: its lines are kept and not measured.
    Block,
    /// A checkpoint was hit; the lines before it agree with what is left of it.
    Checkpoint,
    /// Lines are missing by the running numbers.
    Lines,
    /// A block stood elsewhere in the file and was put back where its numbers belong.
    Moved,
    /// A block that is there already.
    Doubled,
    /// Another session was joined behind this one.
    Joined,
    /// A line that is no record.
    Record,
    /// Lines behind the last checkpoint: measured, but nothing proves them.
    Unverified,
    /// The file does not end as a recording that was ended does.
    Unended,
    /// Its line ends were changed on the way; undone, and every checksum agrees again.
    LineEnds,
}

impl DamageKind {
    /// Machine word: a promise of the outputs.
    pub fn key(self) -> &'static str {
        match self {
            DamageKind::Header => "head",
            DamageKind::Block => "block",
            DamageKind::Checkpoint => "checkpoint",
            DamageKind::Lines => "missing",
            DamageKind::Moved => "moved",
            DamageKind::Doubled => "doubled",
            DamageKind::Joined => "joined",
            DamageKind::Record => "line",
            DamageKind::Unverified => "unproven",
            DamageKind::Unended => "not-ended",
            DamageKind::LineEnds => "line-ends",
        }
    }
}

/// One piece of damage and where it stands.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Damage {
    /// First line concerned, counted from 1.
    pub line: u64,
    /// Lines concerned.
    pub lines: u64,
    /// Byte of the file at which it begins, counted from 0.
    pub byte: u64,
    /// Host time of the last record before it, µs; `None` before the first.
    pub at_us: Option<u64>,
    /// Records that are not measured because of it.
    pub rows: u64,
    /// What it is.
    pub kind: DamageKind,
    /// In words, with what was done about it.
    pub words: String,
}

impl Damage {
    /// True where the whole recording is there and proven all the same.
    pub fn is_undone(&self) -> bool {
        self.kind == DamageKind::LineEnds
    }
}
