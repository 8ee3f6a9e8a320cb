//! Trimbench: the bench for a self-built game controller.
//!
//! Read the modules in this order to follow a byte to a constant: `wire` frames the bytes that a
//! `link` brings, `session` keeps them as columns, `segment` finds rests, rolls, releases, pulls
//! and presses, `measure` gives readings, `survey` gathers them, `findings` names what is wrong,
//! `trim` chooses the firmware's integers, `proof` judges the flashed board, `emit` writes header,
//! sheet and data; `desk` is the document under work that the two fronts, `cli` and `gui`, share.

pub mod units;
pub mod work;
pub mod limits;
pub mod rig;
// 1 bytes
pub mod wire;
pub mod link;
pub mod virtual_board;
pub mod source;
// 2 columns
pub mod session;
pub mod segment;
// 3 measurements
pub mod measure;
pub mod survey;
pub mod findings;
// 4 constants
pub mod trim;
pub mod proof;
pub mod guide;
// 5 what leaves
pub mod emit;
// the two fronts
pub mod desk;
pub mod cli;
#[cfg(feature = "gui")]
pub mod gui;
