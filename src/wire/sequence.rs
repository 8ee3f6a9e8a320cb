//! Frame counters that wrap at 8, 16 or 32 bits.

/// Frames from `from` to `to`, going forward, modulo 2^`bits`.
#[inline]
pub fn steps(from: u32, to: u32, bits: u8) -> u64 {
    let forward = u64::from(to.wrapping_sub(from));
    if bits >= 32 { forward } else { forward & ((1 << bits) - 1) }
}

/// The number of frames that `steps` (modulo 2^`bits`) stands for when a clock counted `expected`.
///
/// The nearest to `expected` among steps, steps + 2^bits, steps + 2·2^bits, …; `steps` itself when
/// `expected` is not finite.
#[inline]
pub fn resolve(steps: u64, bits: u8, expected: f64) -> u64 {
    let turn = (1_u64 << bits.min(32)) as f64;
    let turns = ((expected - steps as f64) / turn).round();
    // Not a number and what is below zero give no turn.
    if turns >= 1.0 { steps + (turns.min(1e6) * turn) as u64 } else { steps }
}

/// The width at which a counter wraps, from its values in the order of the stream.
///
/// 8 only if it was seen to go from 255 to 0 and hardly ever stands above 255 (a digit may be
/// damaged); 32 only if it stands above 65 535. A counter that never wrapped is served by any.
/// Cost: one pass.
pub fn width_of(values: &[i32]) -> u8 {
    let (mut at_8, mut above_8, mut above_16) = (0_usize, 0_usize, 0_usize);
    let mut last = None;
    for &value in values {
        let value = value as u32;
        above_8 += usize::from(value > 0xFF);
        above_16 += usize::from(value > 0xFFFF);
        at_8 += usize::from(value == 0 && last == Some(255));
        last = Some(value);
    }
    let rare = values.len() / 20;
    if at_8 > 0 && above_8 <= rare {
        8
    } else if above_16 > rare {
        32
    } else {
        16
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn steps_go_over_the_wrap() {
        assert_eq!(steps(254, 1, 8), 3);
        assert_eq!(steps(65_535, 0, 16), 1);
        assert_eq!(steps(u32::MAX, 4, 32), 5);
        assert_eq!(steps(7, 7, 8), 0);
    }

    #[test]
    fn the_clock_says_how_many_turns() {
        assert_eq!(resolve(5, 8, 5.2), 5);
        assert_eq!(resolve(5, 8, 260.0), 261);
        assert_eq!(resolve(5, 8, 515.0), 517);
        assert_eq!(resolve(200, 8, 1.0), 200);
        assert_eq!(resolve(5, 8, f64::NAN), 5);
        assert_eq!(resolve(5, 8, f64::INFINITY), 5 + 256_000_000);
    }

    #[test]
    fn the_width_is_seen_at_the_wrap() {
        let run = |from: u64, to: u64, modulus: u64| -> Vec<i32> {
            (from..to).map(|v| (v % modulus) as u32 as i32).collect()
        };
        assert_eq!(width_of(&run(0, 1000, 256)), 8);
        assert_eq!(width_of(&run(65_000, 66_500, 65_536)), 16);
        assert_eq!(width_of(&run(4_294_967_000, 4_294_967_900, 1 << 32)), 32);
        let mut damaged = run(0, 1000, 256);
        damaged[500] = 2440;
        assert_eq!(width_of(&damaged), 8);
        assert_eq!(width_of(&run(0, 200, 256)), 16);
    }
}
