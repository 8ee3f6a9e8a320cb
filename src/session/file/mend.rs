//! What checksums can mend: one flipped bit of a head, one wrong byte of a checkpoint.
use super::record::CRC32;

/// The polynomial of CRC-32/ISO-HDLC, reflected.
const POLY: u32 = 0xEDB8_8320;

/// The checksum's register after eight more bits of zeros.
fn over_zeros(register: u32) -> u32 {
    (0..8).fold(register, |r, _| if r & 1 == 1 { r >> 1 ^ POLY } else { r >> 1 })
}

/// Flips the one bit of `text` that makes its checksum `sum`; false where there is none.
///
/// The checksum is linear: what a flipped bit changes in it depends on the distance from the end alone.
/// By chance other damage is taken for one bit in 8·bytes of 2³² cases. Cost: some 64 steps a byte.
pub(super) fn one_bit(text: &mut [u8], sum: u32) -> bool {
    let wanted = CRC32.checksum(text) ^ sum;
    let mut marks: [u32; 8] = std::array::from_fn(|bit| over_zeros(1 << bit));
    for byte in text.iter_mut().rev() {
        if let Some(bit) = marks.iter().position(|mark| *mark == wanted) {
            *byte ^= 1 << bit;
            return true;
        }
        marks.iter_mut().for_each(|mark| *mark = over_zeros(*mark));
    }
    false
}

/// True where the two differ in one byte at most.
pub(super) fn within_a_byte(a: &[u8], b: &[u8]) -> bool {
    a.len() == b.len() && a.iter().zip(b).filter(|(a, b)| a != b).count() <= 1
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_single_bit_comes_back_and_two_do_not() {
        let text = b"(created: \"2026-02-03\", notes: \"\")\n---\n";
        let sum = CRC32.checksum(text);
        for at in 0..text.len() {
            for bit in 0..8 {
                let mut hit = text.to_vec();
                hit[at] ^= 1 << bit;
                assert!(one_bit(&mut hit, sum), "{at} {bit}");
                assert_eq!(hit, text);
            }
        }
        let mut twice = text.to_vec();
        (twice[3], twice[20]) = (b'x', b'y');
        assert!(!one_bit(&mut twice, sum));
    }
}
