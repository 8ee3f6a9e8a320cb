//! Traces: see any channels over time · read off values and intervals · freeze, zoom, inspect.
pub mod sampling;
pub mod window;
