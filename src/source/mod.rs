//! Addresses to links, replay of a recording, and the recorder thread that owns a link.
mod address;

#[cfg(unix)]
pub mod pty;

pub use address::{Address, BadAddress};
