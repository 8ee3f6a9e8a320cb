//! The window: stations look and return actions, one place applies them.
pub mod actions;
pub mod look;
pub mod parts;
pub mod stations;
