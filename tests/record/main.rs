//! Estimators against published figures; each input file names its source.
#![expect(clippy::unwrap_used, reason = "a test that cannot read its figures must fail")]

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
mod bounce;
/// Checksums and byte stuffing.
mod codes;
/// Contact bounce and debouncing rules.
mod contact;
/// Jitter, clock skew, serial and USB arithmetic.
mod cadence;
/// Filters: exponential, adaptive, polynomial, median.
mod filters;
/// Converter linearity by code histogram.
mod converter;
/// One row of a coverage table.
mod row;
/// How often intervals hold the truth.
mod coverage;
/// Coverage and robustness of releases and rolls.
mod sticks;
/// Whole boards before and after what real links, hands and tables do.
mod disturbed;
