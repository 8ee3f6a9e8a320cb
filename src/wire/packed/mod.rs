//! The packed dialect: a frame is COBS bytes up to 0x00, and proves itself by a CRC-16.
//!
//! | part of the payload | is |
//! |---|---|
//! | kind, 1 byte | [`DATA`], [`HEADING`] or [`TEXT`]; other kinds are left to later versions |
//! | body | data: the fields in order, low byte first, as wide as their base says |
//! | | heading: the names of the fields with commas between, `name:u8` where the width is not usual |
//! | | text: what a text dialect would print as a line of its own (banner, answers), ASCII |
//! | CRC, 2 bytes | CRC-16/IBM-3740 of kind and body, low byte first |
//!
//! The heading comes first after a reset and again every so often, so that a listener who joins
//! late can name the fields: that is how the dialect is recognised without being told.
mod heading;
mod reader;
mod writer;

pub(super) use heading::{dialect_of, heading_text, usual_base};
pub(super) use reader::{PackedReader, Piece, recognise, survey};
pub(super) use writer::{data, text_frame};

/// Ends every packed frame, and stands nowhere else.
pub const DELIMITER: u8 = 0x00;
/// Kind of a frame that holds one reading of everything.
pub(super) const DATA: u8 = 1;
/// Kind of a frame that names the fields.
pub(super) const HEADING: u8 = 2;
/// Kind of a frame that holds a line of text.
pub(super) const TEXT: u8 = 3;
