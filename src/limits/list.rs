//! Every acceptance band with its default, and the ones that a rig asks for instead.
use serde::{Deserialize, Serialize};

use super::{Band, Range, Wish};

/// Writes the list once: the bands with their defaults, and the wishes that may stand in a rig.
macro_rules! bands {
    ($($(#[$doc:meta])* $name:ident: $default:expr;)*) => {
        /// All acceptance bands. Shares are of one; counts are for the raw width that they were
        /// scaled to.
        #[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
        #[serde(deny_unknown_fields, default)]
        pub struct Limits {
            $($(#[$doc])* pub $name: Band,)*
        }

        impl Default for Limits {
            /// Common practice for a 10-bit converter and a circular gate.
            fn default() -> Self {
                Limits { $($name: $default,)* }
            }
        }

        /// Bands that a rig asks for in place of the defaults. Counts are of the rig's own width.
        #[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
        #[serde(deny_unknown_fields, default)]
        pub struct Wishes {
            $($(#[$doc])* #[serde(skip_serializing_if = "Option::is_none")] pub $name: Option<Wish>,)*
        }

        impl Wishes {
            /// The first wish that is no band: its key, and why.
            pub fn unfit(&self) -> Option<(&'static str, String)> {
                let all: &[(&'static str, Option<Wish>)] = &[$((stringify!($name), self.$name),)*];
                all.iter().find_map(|(key, wish)| {
                    let why = wish.as_ref()?.unfit()?;
                    Some((*key, format!("{key} {why}")))
                })
            }
        }

        impl Limits {
            /// These bands with those that a rig asks for in their place.
            pub fn with(self, wishes: &Wishes) -> Limits {
                Limits { $($name: wishes.$name.map_or(self.$name, Wish::band),)* }
            }
        }
    };
}

bands! {
    /// Lost or malformed frames, share of those that should have come.
    loss_share: Band::at_most(0.0, 0.001, 0.001);
    /// 99th percentile of the interval between frames over its median.
    interval_ratio: Band::at_most(1.25, 2.0, 2.0);
    /// Frames a second.
    rate_hz: Band::at_least(200.0, 100.0, 50.0);
    /// Share of repeated tuples of a half.
    stale_share: Band::at_most(0.05, 0.2, 1.0);
    /// Oldest data of a half just before they are renewed, ms.
    remote_age_ms: Band::at_most(10.0, 10.0, 10.0);
    /// RMS noise at rest, counts.
    noise_rms_counts: Band::at_most(1.0, 2.0, 3.0);
    /// Amplitude of any line in the noise, counts.
    line_counts: Band::at_most(1.0, 3.0, 6.0);
    /// Difference of rests after opposite pushes, share of travel.
    hysteresis_share: Band::at_most(0.02, 0.04, 0.06);
    /// Inner dead zone, share of travel.
    dead_zone_share: Band::at_most(0.05, 0.12, 0.15);
    /// Travel from the centre to one side, counts.
    travel_counts: Band::at_least(300.0, 200.0, 150.0);
    /// Travel of one side over that of the other.
    asymmetry: Band {
        good: Range::between(0.85, 1.18),
        marginal: Range::between(0.7, 1.4),
        reject: Range::between(0.7, 1.4),
    };
    /// Distance from the end of travel to the converter's rail, counts.
    clearance_counts: Band::at_least(20.0, 5.0, 0.0);
    /// Share of roll samples at the extreme code.
    clipped_share: Band::at_most(0.02, 0.02, 0.02);
    /// Roundness deviation over mean radius after scaling, for a circular gate.
    roundness: Band::at_most(0.05, 0.08, 0.12);
    /// Departure of the axes from a right angle, degrees either way.
    orthogonality_deg: Band {
        good: Range::between(-3.0, 3.0),
        marginal: Range::between(-6.0, 6.0),
        reject: Range::between(-10.0, 10.0),
    };
    /// Scatter of a trigger's rest, share of span.
    trigger_scatter_share: Band::at_most(0.01, 0.02, 0.02);
    /// Up against down of a trigger, share of span.
    trigger_hysteresis_share: Band::at_most(0.03, 0.06, 0.06);
    /// Largest reversal during a one-way pull, counts.
    trigger_reversal_counts: Band::at_most(2.0, 4.0, 4.0);
    /// Travel of a trigger, share of the converter's full scale.
    trigger_span_share: Band::at_least(0.4, 0.25, 0.125);
    /// Contact bounce, ms.
    bounce_ms: Band::at_most(5.0, 10.0, 15.0);
    /// Double presses, share of presses.
    double_share: Band::at_most(0.0, 1.0 / 59.0, 1.0 / 59.0);
    /// Restarts of the board during a run.
    resets: Band::at_most(0.0, 0.0, 0.0);
    /// Rest level carried off in ten minutes, share of travel.
    drift_share: Band::at_most(0.0125, 0.025, 0.05);
    /// Swing beyond the rest when a stick is let go, share of the way home.
    overshoot_share: Band::at_most(0.10, 0.20, 0.30);
    /// Shift of the rest while the stick's own switch is held, share of travel.
    press_shift_share: Band::at_most(0.02, 0.05, 0.10);
    /// Turn of a stick in its seat, degrees either way.
    rotation_deg: Band {
        good: Range::between(-3.0, 3.0),
        marginal: Range::between(-6.0, 6.0),
        reject: Range::between(-10.0, 10.0),
    };
    /// Shift of a reading while a motor or light is driven, counts.
    driven_shift_counts: Band::at_most(1.0, 3.0, 6.0);
    /// Noise while a motor or light is driven over noise without.
    driven_noise_ratio: Band::at_most(1.3, 2.0, 4.0);
    /// Sag of the supply below its usual level, share of it.
    sag_share: Band::at_most(0.05, 0.10, 0.20);
    /// After the flash: rows at rest with an output, share of them.
    proof_leak_share: Band::at_most(0.0, 0.0, 0.0);
    /// After the flash: least output at an end of an axis or trigger, share of full.
    proof_end_share: Band::at_least(1.0, 1.0, 1.0);
    /// After the flash: least output magnitude of 16 directions, share of full; components are
    /// rounded down, so 32 750 of 32 767 is full.
    proof_reach_share: Band::at_least(32_750.0 / 32_767.0, 0.99, 0.97);
    /// After the flash: output turning back along an axis, in steps of one count.
    proof_reversal_steps: Band::at_most(1.0, 1.0, 1.0);
}

impl Wishes {
    /// True when nothing is asked for.
    pub fn is_empty(&self) -> bool {
        *self == Wishes::default()
    }
}

impl Limits {
    /// The defaults with every band in counts scaled from 10 bits to `raw_bits`.
    pub fn for_bits(raw_bits: u8) -> Limits {
        Limits::default().scaled(2f64.powi(i32::from(raw_bits) - 10))
    }

    fn scaled(self, factor: f64) -> Limits {
        Limits {
            noise_rms_counts: self.noise_rms_counts.scaled(factor),
            line_counts: self.line_counts.scaled(factor),
            travel_counts: self.travel_counts.scaled(factor),
            clearance_counts: self.clearance_counts.scaled(factor),
            trigger_reversal_counts: self.trigger_reversal_counts.scaled(factor),
            driven_shift_counts: self.driven_shift_counts.scaled(factor),
            ..self
        }
    }
}
