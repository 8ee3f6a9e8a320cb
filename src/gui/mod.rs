//! The window: stations look and return actions, one place applies them.
pub mod look;
pub mod parts;
