//! Link: choose a source · see lines, fields and stream health · connect, send, set roles.
pub mod roles;
