//! Bytes to fields and back: framer, dialects, recognition, sequence and clock. No I/O.
mod dialect;
mod role;

pub use dialect::{Base, ChecksumForm, ClockUnit, Dialect, Field, Grammar, Separator};
pub use role::Role;

/// Where something stood in the stream.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, PartialOrd, Ord)]
pub struct Place {
    /// Line number, the first is 1.
    pub line: u64,
    /// Byte offset of the line's first byte, the first is 0.
    pub byte: u64,
}

/// Why a line gave no frame.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum Why {
    /// Not in the dialect at all: a banner or a warning of the firmware.
    Foreign,
    /// Cut short: the port was opened mid-line, or bytes went missing.
    Torn,
    /// The right characters, the wrong number of fields.
    FieldCount,
    /// A field is no number, or does not fit its width.
    BadField,
    /// A decimal point: this tool reads raw integer counts.
    DecimalPoint,
    /// The line's checksum does not agree with its bytes.
    Checksum,
    /// No delimiter within 4 096 bytes.
    TooLong,
}

/// Takes what a framer finds, in the order of the stream.
pub trait Sink {
    /// One good frame; `cells` holds one value a field of the dialect, in order.
    ///
    /// A cell holds the field's 32 bits: counters, clocks and masks are read as `u32`.
    fn frame(&mut self, place: Place, cells: &[i32]);
    /// One line that gave no frame; `bytes` without its delimiter.
    fn refused(&mut self, place: Place, why: Why, bytes: &[u8]);
}
