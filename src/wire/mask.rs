//! A mask's base told by how its values change: hexadecimal and decimal digits look alike.
//!
//! Firmware prints masks without leading zeros and without a prefix, and a run that presses one
//! button at a time shows only 1, 2, 4, 8, 10, 20, 40 in hexadecimal, 1, 2, 4, 8, 16, 32, 64 in
//! decimal. The digits are kept as hexadecimal, which loses nothing, and are judged over all that
//! has come.
use super::Base;

/// Distinct values remembered; later ones say nothing new.
const KEPT: usize = 256;

/// What the values seen so far say of the base.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Evidence {
    /// Distinct values as hexadecimal, in the order in which they came.
    seen: Vec<u32>,
    last: Option<u32>,
    /// Some digit was above 9, or the value is too long for decimal.
    letters: bool,
}

impl Evidence {
    /// Takes more cells, read as hexadecimal. Cost: one comparison a cell that repeats.
    pub fn add(&mut self, cells: &[i32]) {
        for &cell in cells {
            let value = cell as u32;
            if self.last == Some(value) {
                continue;
            }
            self.last = Some(value);
            if self.seen.len() < KEPT && !self.seen.contains(&value) {
                self.letters |= has_letter(value);
                self.seen.push(value);
            }
        }
    }

    /// The base that explains the changes as single bits better; hexadecimal when they are equal.
    pub fn base(&self) -> Base {
        if self.letters {
            return Base::Hex;
        }
        let (mut hex, mut decimal) = (0_usize, 0_usize);
        // Against the first value, which is the idle one but for a button held from the start.
        if let Some(idle) = self.seen.first() {
            for value in &self.seen {
                hex += usize::from((value ^ idle).count_ones() == 1);
                let change = decimal_from_hex(*value) ^ decimal_from_hex(*idle);
                decimal += usize::from(change.count_ones() == 1);
            }
        }
        if decimal > hex { Base::Decimal } else { Base::Hex }
    }
}

fn has_letter(value: u32) -> bool {
    (0..8).any(|nibble| value >> (4 * nibble) & 0xF > 9)
}

/// The decimal number whose digits are the hexadecimal digits of `value`.
///
/// Digits above 9 count as their value, so that damage never panics.
pub fn decimal_from_hex(value: u32) -> u32 {
    (0..8)
        .rev()
        .fold(0_u32, |sum, nibble| sum.wrapping_mul(10).wrapping_add(value >> (4 * nibble) & 0xF))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn judged(values: &[u32]) -> Base {
        let mut evidence = Evidence::default();
        let cells: Vec<i32> = values.iter().flat_map(|v| [*v as i32; 3]).collect();
        evidence.add(&cells);
        evidence.base()
    }

    #[test]
    fn one_button_at_a_time_tells_the_base() {
        assert_eq!(judged(&[0, 1, 0, 2, 0, 4, 0, 8, 0, 0x10, 0, 0x20, 0, 0x40]), Base::Hex);
        assert_eq!(judged(&[0, 1, 0, 2, 0, 4, 0, 8, 0, 0x16, 0, 0x32, 0, 0x64]), Base::Decimal);
    }

    #[test]
    fn idle_high_masks_are_told_too() {
        assert_eq!(judged(&[0x32767, 0x32766, 0x32767, 0x32759, 0x32751]), Base::Decimal);
        assert_eq!(judged(&[0x7FFF, 0x7FFE]), Base::Hex);
    }

    #[test]
    fn an_idle_mask_stays_hexadecimal() {
        assert_eq!(judged(&[0]), Base::Hex);
        assert_eq!(judged(&[]), Base::Hex);
    }

    #[test]
    fn digits_are_carried_over() {
        assert_eq!(decimal_from_hex(0x32767), 32767);
        assert_eq!(decimal_from_hex(0x1024), 1024);
    }
}
