//! How the digits of a column are to be read, by their look and by what the column means.
use crate::wire::{Base, marks, number, states};

use super::Column;

impl Column {
    /// How the tokens are read before anything is known of their meaning.
    pub(super) fn digits(&self) -> Base {
        if 2 * self.times > self.count {
            Base::DayTime
        } else if self.is_worded() {
            Base::State
        } else if self.is_marks() {
            Base::Marks
        } else if self.is_pointed() {
            if self.commas { Base::FixedComma(self.places) } else { Base::Fixed(self.places) }
        } else if self.is_hex() {
            Base::Hex
        } else if 2 * self.binaries > self.count {
            Base::Binary
        } else {
            Base::Decimal
        }
    }

    /// The base of a field that is no mask.
    pub(in crate::wire::recognise) fn base(&self) -> Base {
        self.digits()
    }

    /// The base of a reading: no more decimal places than 16 bits hold.
    pub(in crate::wire::recognise) fn reading_base(&self) -> Base {
        let most = self.values.iter().map(|v| v.unsigned_abs()).max().unwrap_or(0);
        let surplus = (0..9).find(|n| most / 10_u64.pow(*n) <= 65_535).unwrap_or(0) as u8;
        match self.base() {
            Base::Fixed(places) => Base::Fixed(places.saturating_sub(surplus)),
            Base::FixedComma(places) => Base::FixedComma(places.saturating_sub(surplus)),
            base => base,
        }
    }

    /// Bits that a mask of this look has room for: as many as it has digits of base 2, else 1, 8 or 16.
    pub(in crate::wire::recognise) fn mask_width(&self) -> u8 {
        let padded_hex = self.is_padded() && self.longest > 2;
        if matches!(self.mask_base(false), Base::Bits | Base::Marks) {
            self.longest as u8
        } else if self.is_flag() {
            1
        } else if padded_hex || self.bits_held() > 8 {
            16
        } else {
            8
        }
    }

    /// The base of a mask, see [`crate::wire::mask`] for the open case.
    /// Where `padded`, zeros in front stand everywhere and say nothing.
    pub(in crate::wire::recognise) fn mask_base(&self, padded: bool) -> Base {
        let letters = |token: &&Vec<u8>| token.iter().any(u8::is_ascii_alphabetic);
        let fixed = self.shortest == self.longest;
        if self.is_worded() {
            return Base::State;
        }
        if self.is_marks() {
            return Base::Marks;
        }
        if 2 * self.binaries > self.count {
            return Base::Binary;
        }
        if self.forced_hex
            || self.prefixed > 0
            || self.distinct.iter().filter(letters).count() >= 2
            || self.letters > 2
        {
            Base::Hex
        } else if fixed && self.longest > 1 && self.binary == self.count {
            match self.longest {
                // As wide as hexadecimal masks are: bits only if more than one moves.
                2 | 4 | 8 if self.moving_positions() < 2 => Base::Hex,
                _ => Base::Bits,
            }
        } else if self.binary == self.count && self.shortest >= 6 || self.is_bare_binary() {
            Base::Binary
        } else if self.zeros > 0 {
            if padded { Base::Unsettled } else { Base::Hex }
        } else if self.longest > 8 {
            Base::Decimal
        } else {
            Base::Unsettled
        }
    }

    /// 0 and 1 alone, without zeros in front, in four values and more besides 0: other bases would have
    /// shown another digit by then.
    fn is_bare_binary(&self) -> bool {
        let values = self.distinct.iter().filter(|token| token.as_slice() != b"0").count();
        self.binary == self.count && self.zeros == 0 && self.longest > 1 && values >= 4
    }

    fn moving_positions(&self) -> usize {
        let Some(first) = self.distinct.first() else { return 0 };
        let moves = |at: &usize| self.distinct.iter().any(|d| d.get(*at) != first.get(*at));
        (0..first.len()).filter(moves).count()
    }
}

/// The value of a token; what is not read whole gives none, but for damage at its end.
pub(super) fn value(token: &[u8], digits: Base) -> Option<i64> {
    let read = match digits {
        Base::Hex => number::hex(token, 0),
        Base::Binary => number::binary(token, 0),
        Base::State => states::state(token, 0),
        Base::Marks => marks::marks(token, 0),
        Base::Fixed(places) => number::fixed(token, 0, b'.', places),
        Base::FixedComma(places) => number::fixed(token, 0, b',', places),
        Base::DayTime => number::whole_day_time(token).map(|micros| (micros, token.len())),
        _ => number::long(token, 0),
    };
    // What no board counts to is no reading; sums and differences stay within 64 bits.
    read.map(|(value, _)| value).filter(|value| value.unsigned_abs() < 1 << 60)
}
