//! Measurements: slices in, readings out. Knows no session, file, clock, thread or randomness.
//!
//! Samples are integer codes (`&[i32]`) or doubles; times are unwrapped board microseconds
//! (`&[u64]`), never decreasing. Non-finite inputs are a caller's error unless a function's doc
//! says otherwise. Intervals are two-sided 95 % unless stated.
mod combine;
mod reading;
mod show;
// statistics
mod quadrature;
pub mod distribution;
pub mod tolerance;
pub mod plane;
pub mod interval;
pub mod compare;
pub mod moments;
pub mod robust;
pub mod histogram;
pub mod fit;
pub mod roundness;
pub mod sine;
pub mod spectrum;
pub mod lines;
pub mod noise;
pub mod stability;
pub mod filter;
// the controller's parts
mod bend;
pub mod far_side;
pub mod cadence;
pub mod contact;
pub mod centre;
pub mod gate;
pub mod trigger;
pub mod code_steps;
pub mod curve;
pub mod coupling;

pub use combine::{difference, ratio};
pub use reading::{Estimate, Measured, Reading, Shortage, Span};
pub use show::{DASH, Words, decimals, number, spaced};
