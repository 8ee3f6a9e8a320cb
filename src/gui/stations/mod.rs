//! The stations: one screen each. They look at a borrowed view and return actions.
pub mod link;
pub mod traces;
