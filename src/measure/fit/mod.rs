//! Fits: lines and polynomials, circles, ellipses.
pub mod line;
pub mod circle;
pub mod ellipse;
pub(in crate::measure) mod dense;
