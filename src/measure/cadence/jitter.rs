//! Interarrival jitter as RFC 3550 defines it, in doubles and in the RFC's integers.

/// Interarrival jitter after each packet from the second on.
///
/// D = (R_i − R_{i−1}) − (S_i − S_{i−1}), J += (|D| − J)/16, J = 0 before. Send and receive times in
/// one unit, which is the result's; clocks need not agree. The shorter slice decides; non-finite
/// times give non-finite jitter. Cost: O(n). Source: RFC 3550 (2003), 6.4.1.
pub fn jitter<'a>(send: &'a [f64], receive: &'a [f64]) -> impl Iterator<Item = f64> + 'a {
    let transit = send.iter().zip(receive).map(|(s, r)| r - s);
    let next = transit.clone().skip(1);
    transit.zip(next).scan(0.0, |j, (before, now): (f64, f64)| {
        *j += ((now - before).abs() - *j) / 16.0;
        Some(*j)
    })
}

/// The same in integers, scaled by 16: J += |D| − ((J + 8) >> 4), from whole transit times.
///
/// Yields the scaled value for each packet, the first being 0; what a sender reports is that >> 4.
/// Saturates instead of overflowing. Source: RFC 3550 (2003), A.8.
pub fn jitter_scaled(transit: &[u32]) -> impl Iterator<Item = u32> + '_ {
    let before = transit.first().copied().into_iter().chain(transit.iter().copied());
    transit.iter().zip(before).scan(0u32, |j, (&now, before)| {
        *j = j.saturating_add(now.abs_diff(before)) - (j.saturating_add(8) >> 4);
        Some(*j)
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn steady_transit_has_no_jitter() {
        assert!(jitter(&[0.0, 10.0, 20.0], &[7.0, 17.0, 27.0]).all(|j| j == 0.0));
    }

    #[test]
    fn one_late_packet_by_hand() {
        // D = 16 then −16: J = 1, then 1 + (16 − 1)/16 = 1.9375.
        let j: Vec<f64> = jitter(&[0.0, 10.0, 20.0], &[5.0, 31.0, 25.0]).collect();
        assert_eq!(j, [1.0, 1.9375]);
    }

    #[test]
    fn too_few_packets_have_none() {
        assert_eq!(jitter(&[1.0], &[2.0]).count(), 0);
        assert_eq!(jitter_scaled(&[]).count(), 0);
    }
}
