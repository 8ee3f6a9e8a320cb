//! The document under work and the use cases that both fronts call.
pub mod output;
