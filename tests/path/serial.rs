//! The real serial layer on a pseudo-terminal.
