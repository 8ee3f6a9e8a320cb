//! Filters between the converter and the report: what each takes off the noise and what it costs in
//! delay. The firmware's own integer form of the exponential filter is `trim::apply`'s.
//!
//! Samples are evenly spaced. Noise gain is the ratio of rms after to rms before for white noise;
//! lag is how far the output runs behind a steady ramp.
mod adaptive;
mod local;
mod one_pole;

pub use adaptive::SpeedAdaptive;
pub use local::{MovingMean, hampel, polynomial_weights, running_median, weights_noise_gain};
pub use one_pole::OnePole;
