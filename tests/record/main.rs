//! Estimators against published figures; each input file names its source.

/// Reads the published figures.
mod source;
/// NIST Statistical Reference Datasets.
mod strd;
/// Tolerance factors, quantiles, tests, outliers.
mod statistics;
/// Circles, ellipses, roundness.
mod circles;
/// Windows, Welch, quantisation, sine fits.
mod spectrum;
/// Allan deviation.
mod allan;
/// Checksums and byte stuffing.
mod codes;
