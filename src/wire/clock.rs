//! Board clocks that wrap at 32 or at 16 bits.
use super::ClockUnit;

/// Microseconds in one unit of the clock.
pub fn unit_us(unit: ClockUnit) -> u64 {
    match unit {
        ClockUnit::Micros => 1,
        ClockUnit::Millis => 1000,
    }
}

/// Clock units from `from` to `to` going forward over a wrap at `bits`; `None` when it went back.
///
/// More than half of the 32-bit range counts as going back: a silence of 35.8 min on a microsecond
/// clock cannot be told from it.
#[inline]
pub fn forward(from: u32, to: u32, bits: u8) -> Option<u32> {
    let ahead = to.wrapping_sub(from);
    if bits < 32 {
        // A narrow clock turns all the time: it never goes back.
        return Some(ahead & ((1 << bits) - 1));
    }
    (ahead < 1 << 31).then_some(ahead)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_wrap_goes_forward_and_a_restart_goes_back() {
        assert_eq!(forward(u32::MAX - 999, 1000, 32), Some(2000));
        assert_eq!(forward(5_000_000, 1000, 32), None);
        assert_eq!(forward(7, 7, 32), Some(0));
        assert_eq!(forward(65_000, 464, 16), Some(1000));
    }
}
