//! Stability over time: Allan deviation and its family, drift, warm-up.
mod allan;
mod drift;
mod family;

pub use allan::{AllanPoint, AllanSums, allan};
pub use drift::{WarmUp, drift_per_min, warm_up};
pub use family::hadamard;

use super::Shortage;

/// Too few samples for what was asked.
fn longer(have: usize, need: usize) -> Shortage {
    Shortage {
        what: "samples in a row".to_owned(),
        have,
        need,
        advice: "record a longer stretch".to_owned(),
    }
}
