//! Every acceptance band with its default, and the ones that a rig asks for instead.
use serde::{Deserialize, Serialize};

use super::{Band, Range, Wish};
use crate::units::Unit;

/// The way to one band.
pub type BandOf = fn(&mut Limits) -> &mut Band;

/// A band as it is shown to a person and may be edited.
#[derive(Clone, Copy, Debug)]
pub struct Named {
    /// Key in a rig.
    pub key: &'static str,
    /// Its name.
    pub label: &'static str,
    /// Unit of its ends; counts are scaled to the raw width.
    pub unit: Unit,
    /// The way to it.
    pub of: BandOf,
}

/// Writes the list once: the bands with their defaults, and the wishes that may stand in a rig.
macro_rules! bands {
    ($($(#[$doc:meta])* $name:ident, $label:literal, $unit:ident: $default:expr;)*) => {
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

        /// Every band: its key, its name, its unit, and the way to it.
        pub const NAMED: &[Named] = &[$(Named {
            key: stringify!($name),
            label: $label,
            unit: Unit::$unit,
            of: |limits| &mut limits.$name,
        },)*];

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
    loss_share, "lost frames", Fraction: Band::at_most(0.0, 0.001, 0.001);
    /// 99th percentile of the interval between frames over its median.
    interval_ratio, "interval, 99th percentile by median", Number: Band::at_most(1.25, 2.0, 2.0);
    /// Frames a second.
    rate_hz, "frames a second", Number: Band::at_least(200.0, 100.0, 50.0);
    /// Share of repeated tuples of a half.
    stale_share, "repeated readings of a half", Fraction: Band::at_most(0.05, 0.2, 1.0);
    /// Oldest data of a half just before they are renewed, ms.
    remote_age_ms, "age of a half's readings", Millis: Band::at_most(10.0, 10.0, 10.0);
    /// RMS noise at rest, counts.
    noise_rms_counts, "noise rms", Counts: Band::at_most(1.0, 2.0, 3.0);
    /// Amplitude of any line in the noise, counts.
    line_counts, "line in the noise", Counts: Band::at_most(1.0, 3.0, 6.0);
    /// Difference of rests after opposite pushes, share of travel.
    hysteresis_share, "hysteresis at the centre, of travel", Fraction: Band::at_most(0.02, 0.04, 0.06);
    /// Inner dead zone, share of travel.
    dead_zone_share, "dead zone, of travel", Fraction: Band::at_most(0.05, 0.12, 0.15);
    /// Travel from the centre to one side, counts.
    travel_counts, "travel to a side", Counts: Band::at_least(300.0, 200.0, 150.0);
    /// Steps of travel to a side that the converter's widest code leaves. At a hundred and more nobody
    /// feels them, below forty aiming is coarse (common practice, as for noise-free steps); marginal lies
    /// halfway between in ratio.
    converter_steps, "steps that the widest code leaves", Number: Band::at_least(100.0, 63.0, 40.0);
    /// Travel of one side over that of the other.
    asymmetry, "travel above over below", Number: Band {
        good: Range::between(0.85, 1.18),
        marginal: Range::between(0.7, 1.4),
        reject: Range::between(0.7, 1.4),
    };
    /// Distance from the end of travel to the converter's rail, counts.
    clearance_counts, "clearance to the converter's ends", Counts: Band::at_least(20.0, 5.0, 0.0);
    /// Share of roll samples at the extreme code.
    clipped_share, "clipped share of a roll", Fraction: Band::at_most(0.02, 0.02, 0.02);
    /// Roundness deviation over mean radius after scaling, for a circular gate.
    roundness, "roundness of a round gate", Fraction: Band::at_most(0.05, 0.08, 0.12);
    /// Departure of the axes from a right angle, degrees either way.
    orthogonality_deg, "axes off 90°", Degrees: Band {
        good: Range::between(-3.0, 3.0),
        marginal: Range::between(-6.0, 6.0),
        reject: Range::between(-10.0, 10.0),
    };
    /// Scatter of a trigger's rest, share of span.
    trigger_scatter_share, "rest scatter of a trigger, of travel", Fraction: Band::at_most(0.01, 0.02, 0.02);
    /// Largest reversal during a one-way pull, counts.
    trigger_reversal_counts, "reversal of a trigger", Counts: Band::at_most(2.0, 4.0, 4.0);
    /// Travel of a trigger, share of the converter's full scale.
    trigger_span_share, "travel of a trigger, of full scale", Fraction: Band::at_least(0.4, 0.25, 0.125);
    /// Contact bounce, ms.
    bounce_ms, "contact bounce", Millis: Band::at_most(5.0, 10.0, 15.0);
    /// Double presses, share of presses.
    double_share, "double share of a button", Fraction: Band::at_most(0.0, 1.0 / 59.0, 1.0 / 59.0);
    /// Restarts of the board during a run.
    resets, "restarts", Number: Band::at_most(0.0, 0.0, 0.0);
    /// Rest level carried off in ten minutes, share of travel.
    drift_share, "drift in ten minutes, of travel", Fraction: Band::at_most(0.0125, 0.025, 0.05);
    /// Swing beyond the rest when a stick is let go, share of the way home.
    overshoot_share, "overshoot", Fraction: Band::at_most(0.10, 0.20, 0.30);
    /// Shift of the rest while the stick's own switch is held, share of travel.
    press_shift_share, "press shift, of travel", Fraction: Band::at_most(0.02, 0.05, 0.10);
    /// Turn of a stick in its seat, degrees either way.
    rotation_deg, "rotation", Degrees: Band {
        good: Range::between(-3.0, 3.0),
        marginal: Range::between(-6.0, 6.0),
        reject: Range::between(-10.0, 10.0),
    };
    /// Shift of a reading while a motor or light is driven, counts.
    driven_shift_counts, "shift under a motor or light", Counts: Band::at_most(1.0, 3.0, 6.0);
    /// Noise while a motor or light is driven over noise without.
    driven_noise_ratio, "noise under a motor or light, over noise without", Number: Band::at_most(1.3, 2.0, 4.0);
    /// Sag of the supply below its usual level, share of it.
    sag_share, "sag of the supply", Fraction: Band::at_most(0.05, 0.10, 0.20);
    /// After the flash: rows at rest with an output, share of them.
    proof_leak_share, "proof: output at rest, of rows", Fraction: Band::at_most(0.0, 0.0, 0.0);
    /// After the flash: least output at an end of an axis or trigger, share of full.
    proof_end_share, "proof: output at the ends, of full", Fraction: Band::at_least(1.0, 1.0, 1.0);
    /// After the flash: least output magnitude of 16 directions, share of full; components are
    /// rounded down, so 32 750 of 32 767 is full.
    proof_reach_share, "proof: output all round, of full", Fraction: Band::at_least(32_750.0 / 32_767.0, 0.99, 0.97);
    /// After the flash: output turning back along an axis, in steps of one count.
    proof_reversal_steps, "proof: output turning back, steps", Number: Band::at_most(1.0, 1.0, 1.0);
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

    fn scaled(mut self, factor: f64) -> Limits {
        for named in NAMED.iter().filter(|named| named.unit == Unit::Counts) {
            let band = (named.of)(&mut self);
            *band = band.scaled(factor);
        }
        self
    }

    /// Every band with its name and unit.
    pub fn named(&self) -> Vec<(&'static Named, Band)> {
        let mut limits = self.clone();
        NAMED.iter().map(|named| (named, *(named.of)(&mut limits))).collect()
    }
}
