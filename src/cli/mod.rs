//! The command line: one file a verb.
pub mod args;
