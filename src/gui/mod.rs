//! The window: stations, parts, actions.
