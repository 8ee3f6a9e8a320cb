//! Physical quantities with their units, and how each is written for a person.
use std::fmt;

use serde::{Deserialize, Serialize};

macro_rules! quantity {
    ($(#[$doc:meta])* $name:ident($inner:ty), $unit:expr) => {
        $(#[$doc])*
        #[derive(Clone, Copy, Debug, Default, PartialEq, PartialOrd, Serialize, Deserialize)]
        pub struct $name(pub $inner);

        impl fmt::Display for $name {
            fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
                fmt::Display::fmt(&self.0, f)?;
                f.write_str(concat!("\u{a0}", $unit))
            }
        }
    };
}

quantity!(
    /// Raw converter counts; may be fractional when it is a mean.
    Counts(f64), "counts"
);
quantity!(
    /// Microseconds of the board's own clock, unwrapped to 64 bits.
    BoardMicros(u64), "µs"
);
quantity!(
    /// Microseconds of the host's clock since the session began.
    HostMicros(u64), "µs"
);
quantity!(
    /// Cycles, frames or events a second.
    Hertz(f64), "Hz"
);
quantity!(
    /// Milliseconds.
    Millis(f64), "ms"
);
quantity!(
    /// Degrees of angle, counter-clockwise positive, 0 = right.
    Degrees(f64), "°"
);

/// The unit in which a reading's value and interval are given.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, Serialize, Deserialize)]
pub enum Unit {
    /// Raw converter counts.
    Counts,
    /// Counts a minute (drift).
    CountsPerMinute,
    /// Microseconds.
    Micros,
    /// Milliseconds.
    Millis,
    /// Seconds.
    Seconds,
    /// Hertz.
    Hertz,
    /// Degrees of angle.
    Degrees,
    /// A share of one: 0.05 is shown as 5 %.
    Fraction,
    /// Parts in a million.
    Ppm,
    /// Bits of resolution.
    Bits,
    /// A plain number of things (frames, presses, steps).
    Number,
}

impl Unit {
    /// Machine word: plain letters.
    pub fn machine(self) -> &'static str {
        match self {
            Unit::Counts => "counts",
            Unit::CountsPerMinute => "counts/min",
            Unit::Micros => "us",
            Unit::Millis => "ms",
            Unit::Seconds => "s",
            Unit::Hertz => "Hz",
            Unit::Degrees => "deg",
            Unit::Fraction => "1",
            Unit::Ppm => "ppm",
            Unit::Bits => "bit",
            Unit::Number => "",
        }
    }

    /// What stands behind the number, without the space before it; empty for plain numbers.
    pub fn symbol(self) -> &'static str {
        match self {
            Unit::Counts => "counts",
            Unit::CountsPerMinute => "counts/min",
            Unit::Micros => "µs",
            Unit::Millis => "ms",
            Unit::Seconds => "s",
            Unit::Hertz => "Hz",
            Unit::Degrees => "°",
            Unit::Fraction => "%",
            Unit::Ppm => "ppm",
            Unit::Bits => "bits",
            Unit::Number => "",
        }
    }

    /// The factor from the stored value to the number shown (100 for fractions, else 1).
    pub fn shown_factor(self) -> f64 {
        if self == Unit::Fraction { 100.0 } else { 1.0 }
    }
}
