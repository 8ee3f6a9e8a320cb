//! Bytes to fields and back: framer, dialects, recognition, sequence and clock. No I/O.
//!
//! Read in this order: a [`Dialect`] says how a line is built; [`Framer`] turns bytes into frames
//! by it; [`encode`] is the way back; [`recognise`] finds the dialect of bytes that nobody
//! described; `sequence` and `clock` follow wrapping counters.
mod role;
mod dialect;
mod why;
mod number;
mod states;
mod marks;
mod listed;
mod checksum;
mod line;
mod pattern;
mod classify;
pub mod packed;
mod framer;
mod encode;
mod names;
mod words;
mod recognise;
mod second;
mod misfit;
mod account;
mod baud;
pub mod command;
pub mod edge;
pub mod mask;
pub mod sequence;
pub mod clock;

pub use account::{Account, Nearest, RefusedLine};
pub use baud::{RateWatch, at_half_rate, looks_like_baud_mismatch, unprintable};
pub use dialect::{Base, ChecksumForm, ClockUnit, Counts, Dialect, Field, Grammar, Separator};
pub use edge::EdgeLine;
pub use encode::{encode, encode_heading, encode_text};
pub use framer::{Framer, MAX_LINE_BYTES};
pub use misfit::{LineCheck, Misfit, Quoted};
pub use names::{is_further_control, is_other_unit, role_of_name};
pub use recognise::{Unrecognised, recognise};
pub use role::Role;
pub use second::{SecondForm, same_reading};
pub use why::{Place, Remark, Sink, Why};
