//! Fits: lines and polynomials, circles, ellipses.
pub mod circle;
pub(in crate::measure) mod dense;
