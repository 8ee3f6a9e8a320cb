//! The reciprocal square root without a division: a table of 97 words and a straight line between.
//!
//! For q in \[2^30, 2^32): 65535·2^15/√q, within 1.2e-4 of exact above and 2.4e-4 below (the
//! seven top bits choose the cell, six more the place in it). It never rises with q.

/// 65535·2^15/√(k·2^25) for k = 32…128, rounded to nearest.
pub const TABLE: [u16; 97] = table();

const fn table() -> [u16; 97] {
    let mut words = [0u16; 97];
    let mut i = 0;
    while i < 97 {
        // Twice the value by an integer root, halved with rounding; 4·(65535·2^15)² fits 64 bits.
        let square = (65535u64 * 65535) << 32;
        let twice = (square / ((i as u64 + 32) << 25)).isqrt();
        words[i] = twice.div_ceil(2) as u16;
        i += 1;
    }
    words
}

/// Shifts `q` up by pairs of bits until it is at least 2^30; gives it and the number of pairs.
///
/// `q` must lie in 1…2^32 − 1; 0 gives (0, 15).
pub(super) fn normalised(q: u32) -> (u32, u8) {
    let pairs = q.leading_zeros() / 2;
    let pairs = pairs.min(15);
    (q << (2 * pairs), pairs as u8)
}

/// 65535·2^15/√q for a normalised q (2^30 ≤ q).
pub(super) fn reciprocal_root(q: u32) -> u16 {
    let cell = ((q >> 25) as usize).saturating_sub(32);
    let place = ((q >> 19) & 63) as u16;
    let (here, next) = (TABLE[cell.min(95)], TABLE[cell.min(95) + 1]);
    here - (((here - next) * place) >> 6)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_table_falls_from_full_to_half_in_steps_that_six_bits_can_multiply() {
        assert_eq!((TABLE[0], TABLE[96]), (65535, 32768));
        for pair in TABLE.windows(2) {
            assert!(pair[1] < pair[0]);
            assert!(u32::from(pair[0] - pair[1]) * 63 <= 65535);
        }
    }

    #[test]
    fn it_stays_within_its_stated_error_and_never_rises() {
        let mut last = u16::MAX;
        let mut q = 1u32 << 30;
        loop {
            let exact = 65535.0 * 32768.0 / f64::from(q).sqrt();
            let error = f64::from(reciprocal_root(q)) / exact - 1.0;
            assert!((-3.0e-5..3.6e-4).contains(&error), "q {q}: {error}");
            assert!(reciprocal_root(q) <= last, "q {q}");
            last = reciprocal_root(q);
            match q.checked_add(40_009) {
                Some(next) => q = next,
                None => break,
            }
        }
    }

    #[test]
    fn normalising_keeps_the_value_times_a_power_of_four() {
        for q in [1u32, 3, 4, 255, 4096, 1 << 29, (1 << 30) - 1, 1 << 30, u32::MAX] {
            let (n, pairs) = normalised(q);
            assert!(n >= 1 << 30);
            assert_eq!(n >> (2 * pairs), q);
        }
    }
}
