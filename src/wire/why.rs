//! What a framer reports: where, which frame, and why a line gave none.
use super::EdgeLine;

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
    /// The rest of a line that had begun before the link was opened; no error.
    OpenedMidLine,
    /// Cut short: bytes went missing.
    Torn,
    /// The right characters, too many fields: two lines run together.
    FieldCount,
    /// A field is no number, or does not fit its width.
    BadField,
    /// A decimal point: this tool reads raw integer counts.
    DecimalPoint,
    /// The line's checksum does not agree with its bytes.
    Checksum,
    /// No delimiter within 4 096 bytes.
    TooLong,
    /// It stands in a block of a session file whose checksum fails: kept there, not measured.
    Suspect,
    /// The last line of what came has no end: nothing was damaged, it is only not whole.
    CutAtEnd,
}

impl Why {
    /// Every reason, in the order in which counts are kept.
    pub const ALL: [Why; 10] = [
        Why::Foreign,
        Why::OpenedMidLine,
        Why::Torn,
        Why::FieldCount,
        Why::BadField,
        Why::DecimalPoint,
        Why::Checksum,
        Why::TooLong,
        Why::Suspect,
        Why::CutAtEnd,
    ];

    /// Place in [`Why::ALL`].
    pub fn index(self) -> usize {
        self as usize
    }

    /// True for a line that was meant as a frame and was damaged on the way.
    pub fn is_damage(self) -> bool {
        !matches!(self, Why::Foreign | Why::OpenedMidLine | Why::Suspect | Why::CutAtEnd)
    }

    /// A few words for a person.
    pub fn words(self) -> &'static str {
        match self {
            Why::Foreign => "not a frame",
            Why::OpenedMidLine => "opened mid-line",
            Why::Torn => "cut short",
            Why::FieldCount => "too many fields",
            Why::BadField => "a field is no number or too large",
            Why::DecimalPoint => "decimal point in a field of raw counts",
            Why::Checksum => "checksum does not agree",
            Why::TooLong => "no end within 4096 bytes",
            Why::CutAtEnd => "cut by the end of what came",
            Why::Suspect => "in a damaged part of the session file",
        }
    }
}

/// A line that is neither a frame nor a fault.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Remark {
    /// The heading that names the columns, also repeated after a reset.
    Heading,
    /// Nothing but blanks.
    Blank,
    /// A change of the buttons, from the firmware's own log of them.
    Edge(EdgeLine),
}

/// Takes what a framer finds, in the order of the stream.
pub trait Sink {
    /// One good frame; `cells` holds one value a field of the dialect, in order.
    ///
    /// A cell holds the field's 32 bits: counters, clocks and masks are read as `u32`.
    fn frame(&mut self, place: Place, cells: &[i32]);
    /// One line that gave no frame; `bytes` without its delimiter, at most 4 096 of them.
    fn refused(&mut self, place: Place, why: Why, bytes: &[u8]);
    /// The text of a good frame, given just before [`Sink::frame`]; ignored unless overridden.
    fn text(&mut self, _place: Place, _bytes: &[u8]) {}
    /// A heading, a blank line or a line of the edge log; ignored unless overridden.
    fn remark(&mut self, _place: Place, _what: Remark, _bytes: &[u8]) {}
}
