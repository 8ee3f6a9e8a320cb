//! The session file.
