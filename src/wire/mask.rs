//! A mask's base told by how its values change: hexadecimal and decimal digits look alike.
//!
//! Firmware prints masks without leading zeros and without a prefix, and a run that presses one
//! button at a time shows only 1, 2, 4, 8, 10, 20, 40 in hexadecimal, 1, 2, 4, 8, 16, 32, 64 in
//! decimal. The digits are kept as hexadecimal, which loses nothing, and are judged over all that
//! has come.
use super::Base;

/// Distinct values remembered; later ones say nothing new.
const KEPT: usize = 256;
/// Rows that a value must have stood to count as evidence of the base.
const HELD: u64 = 3;

/// What the values seen so far say of the base, and of the level at which each bit idles.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Evidence {
    /// Distinct values as they are kept, in the order in which they came, and rows of each.
    seen: Vec<(u32, u64)>,
    /// Place of the last value in `seen`, if it was remembered.
    last: Option<(u32, Option<usize>)>,
}

impl Evidence {
    /// Takes more cells. Cost: one comparison a cell that repeats.
    pub fn add(&mut self, cells: &[i32]) {
        for &cell in cells {
            let value = cell as u32;
            let at = match self.last {
                Some((last, at)) if last == value => at,
                _ => self.find(value),
            };
            if let Some(at) = at {
                self.seen[at].1 += 1;
            }
            self.last = Some((value, at));
        }
    }

    fn find(&mut self, value: u32) -> Option<usize> {
        let known = self.seen.iter().position(|s| s.0 == value);
        if known.is_some() || self.seen.len() >= KEPT {
            return known;
        }
        self.seen.push((value, 0));
        Some(self.seen.len() - 1)
    }

    /// The base of digits kept as hexadecimal ([`Base::Unsettled`]): the one that explains the
    /// changes as single bits better; hexadecimal when they are equal.
    pub fn base(&self) -> Base {
        // A value of one or two rows may be a damaged digit.
        let held = || self.seen.iter().filter(|s| s.1 >= HELD).map(|s| s.0);
        if held().any(has_letter) {
            return Base::Hex;
        }
        let (mut hex, mut decimal) = (0_usize, 0_usize);
        // Against the first value, which is the idle one but for a button held from the start.
        if let Some(idle) = held().next() {
            for value in held() {
                hex += usize::from((value ^ idle).count_ones() == 1);
                let change = decimal_from_hex(value) ^ decimal_from_hex(idle);
                decimal += usize::from(change.count_ones() == 1);
            }
        }
        if decimal > hex { Base::Decimal } else { Base::Hex }
    }

    /// Bits that ever were 1, and bits that were 1 most of the time; values go through `settled`
    /// first.
    pub fn levels(&self, settled: impl Fn(u32) -> u32) -> (u32, u32) {
        let rows: u64 = self.seen.iter().map(|s| s.1).sum();
        let mut high = [0_u64; 32];
        let mut ever = 0;
        for &(value, count) in &self.seen {
            let value = settled(value);
            // A value of a few rows in a million is damage, not a button.
            if count * 100_000 >= rows {
                ever |= value;
            }
            for (bit, high) in high.iter_mut().enumerate() {
                *high += u64::from(value >> bit & 1) * count;
            }
        }
        let mostly = high.iter().enumerate().filter(|(_, h)| 2 * **h > rows);
        (ever, mostly.fold(0, |mask, (bit, _)| mask | 1 << bit))
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
    fn levels_follow_the_time_spent() {
        let mut evidence = Evidence::default();
        evidence.add(&[6, 6, 6, 6, 2, 7, 6]);
        assert_eq!(evidence.levels(|v| v), (7, 6));
        assert_eq!(Evidence::default().levels(|v| v), (0, 0));
    }

    #[test]
    fn digits_are_carried_over() {
        assert_eq!(decimal_from_hex(0x32767), 32767);
        assert_eq!(decimal_from_hex(0x1024), 1024);
    }
}
