//! Fits: lines and polynomials, circles, ellipses.
pub mod line;
pub mod circle;
pub mod ellipse;
pub(crate) mod dense;
