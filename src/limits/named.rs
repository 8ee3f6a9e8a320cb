//! The bands that are shown to a person and may be edited, with their names and units.
use super::{Band, Limits};
use crate::units::Unit;

/// The way to one band.
pub type BandOf = fn(&mut Limits) -> &mut Band;

/// The bands that are shown and may be edited: name, unit, and the way to each.
pub const NAMED: [(&str, Unit, BandOf); 23] = [
    ("lost frames", Unit::Fraction, |l| &mut l.loss_share),
    ("interval, 99th percentile by median", Unit::Number, |l| &mut l.interval_ratio),
    ("frames a second", Unit::Number, |l| &mut l.rate_hz),
    ("repeated readings of a half", Unit::Fraction, |l| &mut l.stale_share),
    ("age of a half's readings", Unit::Millis, |l| &mut l.remote_age_ms),
    ("restarts", Unit::Number, |l| &mut l.resets),
    ("noise rms", Unit::Counts, |l| &mut l.noise_rms_counts),
    ("line in the noise", Unit::Counts, |l| &mut l.line_counts),
    ("drift in ten minutes, of travel", Unit::Fraction, |l| &mut l.drift_share),
    ("inner dead zone, of travel", Unit::Fraction, |l| &mut l.dead_zone_share),
    ("hysteresis at the centre, of travel", Unit::Fraction, |l| &mut l.hysteresis_share),
    ("travel to a side", Unit::Counts, |l| &mut l.travel_counts),
    ("travel above over below", Unit::Number, |l| &mut l.asymmetry),
    ("clearance to the converter's ends", Unit::Counts, |l| &mut l.clearance_counts),
    ("clipped share of a roll", Unit::Fraction, |l| &mut l.clipped_share),
    ("roundness of a round gate", Unit::Fraction, |l| &mut l.roundness),
    ("axes off 90°", Unit::Degrees, |l| &mut l.orthogonality_deg),
    ("trigger travel, of full scale", Unit::Fraction, |l| &mut l.trigger_span_share),
    ("trigger scatter, of travel", Unit::Fraction, |l| &mut l.trigger_scatter_share),
    ("trigger hysteresis, of travel", Unit::Fraction, |l| &mut l.trigger_hysteresis_share),
    ("trigger reversal", Unit::Counts, |l| &mut l.trigger_reversal_counts),
    ("contact bounce", Unit::Millis, |l| &mut l.bounce_ms),
    ("double presses", Unit::Fraction, |l| &mut l.double_share),
];

impl Limits {
    /// The bands that are shown, with their names and units.
    pub fn named(&self) -> Vec<(&'static str, Band, Unit)> {
        let mut limits = self.clone();
        NAMED.iter().map(|(name, unit, of)| (*name, *of(&mut limits), *unit)).collect()
    }
}
