//! Fits: lines and polynomials, circles, ellipses.
pub mod circle;
